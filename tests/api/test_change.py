"""Changes and variants through the API: the numbers of the desk, and refusals with their field."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy import Engine
from starlette.testclient import TestClient

from tests.entered import counts

PATH = "/api/v1/constructions/DN-1250"
BODY = {"pair": "Q14/Q20", "change": {"filling_ne": "7"}}


def test_a_change_has_the_numbers_of_the_desk(client: TestClient) -> None:
    page = client.get("/constructions/DN-1250/change.json?pair=Q14/Q20&filling_ne=7").json()
    answer = client.post(f"{PATH}/change", json=BODY)
    assert answer.status_code == 200
    assert answer.json() == page
    by_key = {each["key"]: each for each in page["alternatives"]}
    assert by_key["weight-picks"]["solved"]["loom_ppi"] == pytest.approx(35.0, rel=1e-12)
    for each in by_key.values():
        steps = sum(step["amount"] for step in each["bridge"])
        assert steps == pytest.approx(each["differences"]["fabric_cost"], abs=1e-12)


def test_the_basis_is_changed_in_the_query(client: TestClient) -> None:
    euro = client.post(f"{PATH}/change?currency=EUR", json=BODY).json()
    assert euro["before"]["figures"]["fabric_cost"]["unit"] == "EUR/m"


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({"change": {"filling_ne": "0"}}, "filling_ne"),
        ({"change": {"weft": "7"}}, "weft"),
        ({"change": {"fabric.loom_rpm": "-1"}}, "fabric.loom_rpm"),
        ({"change": {"filling_yarn": "Q99"}}, "filling_yarn"),
        ({"pair": "Q99/Q20"}, "pair"),
    ],
)
def test_a_refusal_names_its_field(client: TestClient, body: dict[str, Any], field: str) -> None:
    answer = client.post(f"{PATH}/change", json=body)
    assert answer.status_code == 422
    told = answer.json()
    assert told["field"] == field
    assert told["message"]


def test_a_variant_is_kept_listed_promoted_and_removed(
    client: TestClient, house_engine: Engine
) -> None:
    made = client.post(f"{PATH}/variants", json=BODY | {"name": "Ne 7", "notes": "one count"})
    assert made.status_code == 201
    number = made.json()["id"]
    assert made.json()["yarns"] == "Q14/Q14"
    assert client.get(f"{PATH}/variants").json() == [made.json()]
    twice = client.post(f"{PATH}/variants", json=BODY | {"name": "Ne 7"})
    assert twice.status_code == 422
    assert "has a variant “Ne 7” already" in twice.text
    stale = client.post(f"{PATH}/variants/{number}/promote", json={"version": 9})
    assert stale.status_code == 409
    version = client.get(PATH).json()["version"]
    done = client.post(f"{PATH}/variants/{number}/promote", json={"version": version})
    assert done.json() == {"construction": "DN-1250", "version": version + 1}
    assert client.get(PATH).json()["entry"]["filling_ne"] == "7"
    assert client.delete(f"{PATH}/variants/{number}").status_code == 204
    assert client.delete(f"{PATH}/variants/{number}").status_code == 404
    assert client.get(f"{PATH}/variants").json() == []


def test_nothing_is_stored_by_looking_or_by_a_refusal(
    client: TestClient, house_engine: Engine
) -> None:
    before = counts(house_engine)
    client.post(f"{PATH}/change", json=BODY)
    for body in ({"name": "x"}, BODY | {"name": ""}, BODY | {"name": "x", "other": 1}):
        assert client.post(f"{PATH}/variants", json=body).status_code == 422
    assert client.post("/api/v1/constructions/none/change", json=BODY).status_code == 404
    assert counts(house_engine) == before
