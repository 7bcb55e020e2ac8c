"""Measured pieces: the odd one, removing with history, what is taken, and the same over the API."""

from __future__ import annotations

import html
import re
from decimal import Decimal
from typing import Any

import httpx
import pytest
from sqlalchemy import Engine
from starlette.testclient import TestClient

from server.actions.book import current_book
from server.actions.nouns import NOUNS
from server.actions.records import one_record
from tests.entered import counts

PATH = "/constructions/DN-1250/calibration"
API = f"/api/v1{PATH}"


def told(client: TestClient, path: str) -> str:
    text = html.unescape(re.sub(r"<[^>]+>", " ", client.get(path).text))
    return re.sub(r"\s+", " ", text)


def version(engine: Engine, code: str = "DN-1250") -> int:
    return one_record(engine, NOUNS["constructions"], code).version


def post(client: TestClient, address: str, data: dict[str, str]) -> httpx.Response:
    answer: httpx.Response = client.post(address, data=data, follow_redirects=False)
    return answer


def change(client: TestClient, code: str, **fields: Any) -> None:
    kept = client.get(f"/api/v1/constructions/{code}").json()
    entry = {**kept["entry"], **fields, "version": kept["version"]}
    answer = client.put(f"/api/v1/constructions/{code}", json=entry)
    assert answer.status_code == 200, answer.text


def test_the_odd_piece_is_seen_beside_the_others(client: TestClient) -> None:
    assert "13.40 stands apart: +6.2 % from the other pieces" in told(client, PATH)
    pieces = client.get(f"{PATH}.json").json()["pieces"]
    apart = [each["apart_from_others_share"] for each in pieces]
    assert apart[:3] == [None] * 3
    assert apart[3] == pytest.approx(13.4 / ((12.62 + 12.55 + 12.7) / 3) - 1)


def test_a_removed_piece_stays_in_the_history(client: TestClient, house_engine: Engine) -> None:
    number = client.get(f"{PATH}.json").json()["pieces"][3]["id"]
    answer = post(client, f"{PATH}/{number}/remove", {})
    assert answer.headers["location"] == f"{PATH}?notice=removed"
    assert len(client.get(f"{PATH}.json").json()["pieces"]) == 3
    assert "Roll 4161 removed" in told(client, PATH).partition("History of the pieces")[2]
    before = counts(house_engine)
    for wrong in (number, 99999, "x", "9" * 30):
        assert post(client, f"{PATH}/{wrong}/remove", {}).status_code == 404
    assert counts(house_engine) == before


def test_a_piece_of_another_construction_is_not_removed_here(
    client: TestClient, house_engine: Engine
) -> None:
    other = client.get("/constructions/DN-1375/calibration.json").json()["pieces"][0]["id"]
    before = counts(house_engine)
    assert post(client, f"{PATH}/{other}/remove", {}).status_code == 404
    assert counts(house_engine) == before


def test_a_changed_piece_says_from_what_to_what(client: TestClient) -> None:
    number = client.get(f"{PATH}.json").json()["pieces"][0]["id"]
    kept = client.get(f"/api/v1/pieces/{number}").json()
    answer = client.put(
        f"/api/v1/pieces/{number}",
        json={**kept["entry"], "ounces": "12.61", "version": kept["version"]},
    )
    assert answer.status_code == 200
    assert "Rosalía Quintero: Roll 4117, ounces 12.62 → 12.61" in told(client, PATH)


def test_taking_nothing_is_answered_on_the_page(client: TestClient, house_engine: Engine) -> None:
    before = counts(house_engine)
    answer = post(client, PATH, {"version": str(version(house_engine))})
    assert answer.status_code == 422
    assert "Nothing is ticked, so there is nothing to take." in html.unescape(answer.text)
    assert counts(house_engine) == before


def test_net_finish_alone_still_meets_the_measured_weight(
    client: TestClient, house_engine: Engine
) -> None:
    data = {"net_finish": "yes", "version": str(version(house_engine))}
    assert post(client, PATH, data).status_code == 303
    found = client.get(f"{PATH}.json").json()
    assert found["computed_g_m2"] == pytest.approx(found["measured_g_m2"], rel=1e-4)


def test_what_was_calibrated_earlier_keeps_its_note(
    client: TestClient, house_engine: Engine
) -> None:
    for name in ("warp_crimp", "length_shrink"):
        post(client, PATH, {name: "yes", "version": str(version(house_engine))})
    page = told(client, "/constructions/DN-1250")
    assert "Calibrated warp crimp 10.40 % (3 pieces, " in page
    assert "; length shrink 13.20 % (3 pieces, " in page
    slot = current_book(house_engine).construction("DN-1250").slots_of("warp")[0]
    assert slot.crimp_from == "calibrated"
    opened = told(client, "/constructions/DN-1250/warp.mass")
    assert "calibrated on 3 pieces" in opened


def test_a_figure_changed_by_hand_is_no_longer_called_calibrated(
    client: TestClient, house_engine: Engine
) -> None:
    post(client, PATH, {"warp_crimp": "yes", "version": str(version(house_engine))})
    change(client, "DN-1250", warp_crimp_percent="11")
    assert "calibrated on" not in told(client, "/constructions/DN-1250")
    slot = current_book(house_engine).construction("DN-1250").slots_of("warp")[0]
    assert slot.crimp_from == "crimp"


def test_a_crimp_can_be_taken_back(client: TestClient, house_engine: Engine) -> None:
    change(client, "DN-1250", warp_crimp_percent=None)
    slot = current_book(house_engine).construction("DN-1250").slots_of("warp")[0]
    assert slot.crimp_from == "starting value"
    assert slot.crimp == pytest.approx(40 / 2 * 4 / 8 / 100)


def test_a_core_in_the_filling_is_stretch_cloth_as_well(client: TestClient) -> None:
    kept = client.get("/api/v1/constructions/DN-1250").json()
    entry = {**kept["entry"], "warp_crimp_percent": None, "filling_core": "elastane"}
    answer = client.put("/api/v1/constructions/DN-1250", json={**entry, "version": kept["version"]})
    assert answer.status_code == 422
    assert answer.json()["field"] == "warp_crimp_percent"


def test_the_api_takes_and_removes_as_the_page_does(
    client: TestClient, house_engine: Engine
) -> None:
    found = client.get(API).json()
    page = client.get(f"{PATH}.json").json()
    assert {name: found[name] for name in page} == page
    sent = {"take": ["warp_crimp"], "version": found["version"]}
    after = client.post(API, json=sent)
    assert after.status_code == 200
    kept = one_record(house_engine, NOUNS["constructions"], "DN-1250")
    assert kept.values["warp_crimp_percent"] == Decimal("10.40")
    assert client.post(API, json=sent).status_code == 409
    before = counts(house_engine)
    refused: tuple[dict[str, Any], ...] = (
        {"take": []}, {"take": ["x"]}, {"take": ["warp_crimp"], "version": 0}, {},
    )  # fmt: skip
    for wrong in refused:
        assert client.post(API, json={"version": kept.version, **wrong}).status_code == 422
    assert counts(house_engine) == before
    number = found["pieces"][0]["id"]
    assert client.delete(f"{API}/{number}").status_code == 200
    assert client.delete(f"{API}/{number}").status_code == 404


def test_a_construction_file_without_the_new_columns_is_imported(client: TestClient) -> None:
    """Files written before these fields existed keep working."""
    header = (
        "code,name,weave,twill_hand,dyeing_route,total_ends,reed_width_in,loom_ppi,"
        "length_shrink_percent,finished_width_in,cuttable_width_in,net_finish_percent,warp_ne,"
        "warp_crimp_percent,warp_waste_percent,filling_ne,filling_waste_percent\n"
    )
    row = "OLD-1,Old,3/1 twill,right,rope,3900,66,40,13,61,59,3,7,11,4.5,7,3.5\n"
    files = {"file": ("old.csv", (header + row).encode(), "text/csv")}
    answer = client.post("/constructions/import", files=files, follow_redirects=False)
    assert answer.status_code in (200, 303), answer.text
    entry = client.get("/api/v1/constructions/OLD-1").json()["entry"]
    assert entry["greige_width_in"] is None
    assert entry["target_state"] == entry["measured_state"] == "finished"
