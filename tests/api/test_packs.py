"""Meeting packs through the API: the same digits as the pages, every bad body refused."""

from __future__ import annotations

import json
from typing import Any

import pytest
from sqlalchemy import Engine
from starlette.testclient import TestClient

from server.actions.packs import stored_pack
from server.core.buyer_view import OPEN_BOOK, PRICE_AND_WEIGHT
from tests.entered import counts
from tests.web.meetings import frozen_pack

BASE = "/api/v1/meetings"
BODY: dict[str, Any] = {
    "title": "Spring denim",
    "buyer": "Tarn & Fell",
    "meeting": "2026-03-12",
    "notes": "ours alone",
    "words": "Good morning",
    "cloths": [{"construction": "DN-1375", "pairs": ["Q14/Q14"]}, {"construction": "DN-1250"}],
}


def made(client: TestClient, **changes: Any) -> dict[str, Any]:
    answer = client.post(BASE, json=BODY | changes)
    assert answer.status_code == 201, answer.text
    found: dict[str, Any] = answer.json()
    return found


def frozen(client: TestClient) -> dict[str, Any]:
    record = made(client)
    answer = client.post(
        f"{BASE}/{record['reference']}/freeze", json={"version": record["version"]}
    )
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def test_the_whole_life_of_a_pack(client: TestClient) -> None:
    record = made(client)
    path = f"{BASE}/{record['reference']}"
    assert record["state"] == "draft"
    changed = BODY | {"version": record["version"], "title": "Summer denim"}
    record = client.put(path, json=changed).json()
    assert (record["title"], record["version"]) == ("Summer denim", 2)
    record = client.post(f"{path}/freeze", json={"version": record["version"]}).json()
    assert (record["state"], len(record["digest"])) == ("frozen", 64)
    again = client.get(f"{path}/again").json()
    assert again["same"] is True
    assert again["differs"] == []
    record = client.put(
        f"{path}/shown", json={"version": record["version"], "shown": [*PRICE_AND_WEIGHT]}
    ).json()
    assert record["shown"] == [*PRICE_AND_WEIGHT]
    link = client.post(f"{path}/shares", json={"days": 2, "whom": "Anna"}).json()["path"]
    assert client.get(link).status_code == 200
    (kept,) = client.get(f"{path}/shares").json()
    assert set(kept) == {"id", "whom", "shown", "made_at", "expires_at", "revoked_at"}
    assert client.delete(f"{path}/shares/{kept['id']}").status_code == 204
    assert client.get(link).status_code == 404
    second = client.post(f"{path}/follow").json()
    assert (second["state"], second["follows"]) == ("draft", record["reference"])
    assert client.delete(f"{BASE}/{second['reference']}").status_code == 204
    assert [each["reference"] for each in client.get(BASE).json()] == [record["reference"]]


def test_page_table_data_and_api_hold_the_same_digits(client: TestClient) -> None:
    reference = frozen(client)["reference"]
    through_api = client.get(f"{BASE}/{reference}").json()["content"]
    assert through_api == client.get(f"/meetings/{reference}.json").json()
    table = client.get(f"/meetings/{reference}.csv").text
    for cloth in through_api["cloths"]:
        for pair in cloth["pairs"]:
            assert repr(pair["figures"]["fabric_cost"]) in table


@pytest.mark.parametrize("shown", [PRICE_AND_WEIGHT, OPEN_BOOK])
def test_the_buyers_view_is_the_shared_one_and_has_nothing_around_it(
    client: TestClient, shown: tuple[str, ...]
) -> None:
    record = frozen(client)
    path = f"{BASE}/{record['reference']}"
    client.put(f"{path}/shown", json={"version": record["version"], "shown": [*shown]})
    answer = client.get(path, params={"view": "buyer"}).json()
    assert set(answer) == {"content"}
    assert answer["content"]["view"] == "buyer"
    assert "ours alone" not in json.dumps(answer)
    link = client.post(f"{path}/shares", json={}).json()["path"]
    assert client.get(f"{link}.json").json() == answer["content"]
    for name in ("workbook.xlsx", "handout.pdf"):
        ours = client.get(f"{path}/files/{name}", params={"view": "buyer"}).content
        assert ours == client.get(f"{link}/files/{name}").content
        assert ours != client.get(f"{path}/files/{name}").content


BAD_BODIES: list[tuple[dict[str, Any], int, str]] = [
    ({"title": ""}, 422, "title"),
    ({"title": None}, 422, "title"),
    ({"title": "x" * 401}, 422, "title"),
    ({"title": "a\0b"}, 422, "title"),
    ({"meeting": "soon"}, 422, "meeting"),
    ({"meeting": ""}, 422, "meeting"),
    ({"notes": "a\x07"}, 422, "notes"),
    ({"unknown": 1}, 422, "unknown"),
    ({"cloths": [{"construction": "DN-9999"}]}, 404, "construction"),
    ({"cloths": [{"construction": "DN-1375", "variant": "none"}]}, 404, "variant"),
    ({"cloths": [{"construction": ""}]}, 404, "construction"),
    ({"cloths": [{"pairs": []}]}, 422, "cloths.0.construction"),
    ({"cloths": [{"construction": "DN-1375", "pairs": [5]}]}, 422, "cloths.0.pairs.0"),
    ({"basis": "no such"}, 404, "basis"),
    ({"basis_changes": {"currency": "ZZZ"}}, 422, "currency"),
    ({"basis_changes": {"colour": "blue"}}, 422, "basis_changes"),
    ({"basis_changes": {"rates_on": "soon"}}, 422, "rates_on"),
]


@pytest.mark.parametrize(("wrong", "status", "field"), BAD_BODIES)
def test_a_draft_that_cannot_be_is_refused_and_nothing_is_stored(
    client: TestClient, house_engine: Engine, wrong: dict[str, Any], status: int, field: str
) -> None:
    seen = counts(house_engine)
    answer = client.post(BASE, json=BODY | wrong)
    assert answer.status_code == status, answer.text
    told = answer.json()
    assert field in told["field"]
    assert told["message"]
    assert told["remedy"] or "Write" in told["message"]
    assert counts(house_engine) == seen


@pytest.mark.parametrize("version", [0, -1, 7, 2**31, "1", None, 1.5])
def test_a_version_that_is_not_the_one_read_changes_nothing(
    client: TestClient, house_engine: Engine, version: Any
) -> None:
    record = made(client)
    path, seen = f"{BASE}/{record['reference']}", counts(house_engine)
    for answer in (
        client.put(path, json=BODY | {"version": version, "title": "Other"}),
        client.post(f"{path}/freeze", json={"version": version}),
        client.put(f"{path}/shown", json={"version": version, "shown": ["weight"]}),
    ):
        if version == "1":
            continue  # read as the number it is
        assert answer.status_code == (409 if version == 7 else 422), answer.text
        assert counts(house_engine) == seen


@pytest.mark.parametrize(
    ("shown", "field"),
    [
        (["price", "cost"], "shown"),
        (["margin"], "shown"),
        (["x"] * 41, "shown"),
        ("weight", "shown"),
    ],
)
def test_a_choice_that_is_not_sound_is_refused(
    client: TestClient, house_engine: Engine, shown: Any, field: str
) -> None:
    record = frozen(client)
    path, seen = f"{BASE}/{record['reference']}", counts(house_engine)
    answer = client.put(f"{path}/shown", json={"version": record["version"], "shown": shown})
    assert answer.status_code == 422
    assert answer.json()["field"] == field
    assert counts(house_engine) == seen


def test_a_frozen_pack_is_not_changed(client: TestClient, house_engine: Engine) -> None:
    record = frozen(client)
    path, seen = f"{BASE}/{record['reference']}", counts(house_engine)
    for answer in (
        client.put(path, json=BODY | {"version": record["version"]}),
        client.delete(path),
        client.post(f"{path}/freeze", json={"version": record["version"]}),
    ):
        assert answer.status_code == 409
        assert counts(house_engine) == seen


def test_what_is_not_there_is_404_or_422_with_what_to_do(client: TestClient) -> None:
    reference = frozen(client)["reference"]
    for path, status in (
        ("none", 404), ("none/again", 404), ("none/pack", 404), ("none/shares", 404),
        ("none/files/workbook.xlsx", 404), (f"{reference}/files/none.txt", 404),
        (f"{reference}?view=secret", 422), ("none?view=buyer", 404),
    ):  # fmt: skip
        answer = client.get(f"{BASE}/{path}")
        assert answer.status_code == status, path
        assert answer.json()["remedy"], path
    assert client.delete(f"{BASE}/{reference}/shares/99").status_code == 404
    assert client.delete(f"{BASE}/{reference}/shares/x").status_code == 422


def test_the_description_names_every_path_and_its_errors(client: TestClient) -> None:
    paths = client.get("/api/v1/openapi.json").json()["paths"]
    mine = {path: each for path, each in paths.items() if path.startswith(BASE)}
    assert len(mine) >= 10
    for path, methods in mine.items():
        for method, about in methods.items():
            assert about["summary"], path
            assert "503" in about["responses"], (path, method)


def test_an_export_goes_in_elsewhere_through_the_api(
    client: TestClient, house_engine: Engine
) -> None:
    reference = frozen_pack(house_engine, "Spring denim", ("DN-1375",))
    kept = stored_pack(house_engine, reference)
    document = client.get(f"{BASE}/{reference}/pack").json()
    with house_engine.begin() as database:
        for table in ("pack_content", "pack_cloth"):
            database.exec_driver_sql(f"DELETE FROM {table} WHERE pack_id = {kept.id}")  # noqa: S608
        database.exec_driver_sql(f"DELETE FROM meeting_pack WHERE id = {kept.id}")  # noqa: S608
    answer = client.post(f"{BASE}/take-in", json=document)
    assert answer.status_code == 201, answer.text
    assert answer.json()["digest"] == kept.digest
    assert client.post(f"{BASE}/take-in", json=document).status_code == 422
    assert client.get(f"{BASE}/{reference}/pack").json() == document
