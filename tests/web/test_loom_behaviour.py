"""Loom behaviour on the pages: off in one line, on with every figure opened, never half."""

from __future__ import annotations

import csv
import io
import re

import pytest
from sqlalchemy import Engine
from sqlmodel import col, select
from starlette.testclient import TestClient

from server.store.session import writing
from server.store.tables import AssumptionRow
from tests.web.test_records import text_of

ON = "loom_rule=from+stops"
PAIR = "/compare/DN-1250/Q14/Q21"


def section(page: str) -> str:
    start = page.index('id="loom-behaviour"')
    return page[start : page.index("<h2", start + 10)]


def test_off_the_pair_says_so_in_one_line_and_offers_the_other_rule(client: TestClient) -> None:
    page = client.get(PAIR).text
    told = section(page)
    assert "Loom efficiency is as assumed, 88.0 %" in told
    assert "<table" not in told
    link = re.search(r'href="([^"]+)">Work it out from stops', told)
    assert link is not None
    followed = client.get(link[1].replace("&amp;", "&"))
    assert "from its stops" in section(followed.text)
    assert "loom efficiency from stops" in followed.text
    assert "loom efficiency from stops" not in page


def test_off_nothing_moves(client: TestClient) -> None:
    plain = client.get("/compare/DN-1375.json").json()
    asked = client.get("/compare/DN-1375.json?loom_rule=as+assumed").json()
    assert plain == asked
    assert plain["basis"]["loom_rule"] == "as assumed"
    figures = client.get("/compare/DN-1375/Q14/Q14.json").json()["figures"]
    assert not any("stops" in key or "servicing" in key for key in figures)


def test_on_the_pair_says_what_its_stops_cost(client: TestClient) -> None:
    told = section(client.get(f"{PAIR}?{ON}").text)
    assert "69.0 %, against 88.0 % as assumed: +0.060 USD/m of finished cloth" in told
    assert "Q21’s 12.00 filling stops cost 0.059 USD/m more than the 1.50 of Q20" in told
    assert "stops counted on our looms (demo value)" in told
    assert "1.7 in the set" in told
    assert "No published stops of denim in 100,000 picks" in told
    assert "they do not predict strength" in told


def test_every_figure_of_the_section_opens(client: TestClient) -> None:
    told = section(client.get(f"{PAIR}?{ON}").text)
    links = [each.replace("&amp;", "&") for each in re.findall(r'href="(/compare/[^"]+)"', told)]
    lines = [each for each in links if "#" not in each]
    assert len(lines) >= 13
    for link in lines:
        assert client.get(link).status_code == 200, link
    opened = text_of(client.get(f"{PAIR}/loom_efficiency?{ON}"))
    assert "Running share of a loom" in opened
    assert "Erlang loss (Looms of one weaver − 1; 1 ÷ (Servicing factor of a loom))" in opened
    assert "Benson and D. R. Cox" in opened
    assert "2.9 × 2.87 + 12 × 1.2 + 0.4 × 3" in opened
    assert "Haque et al." in opened


def test_the_best_yarn_is_told_that_none_has_fewer(client: TestClient) -> None:
    told = section(client.get(f"/compare/DN-1250/Q09/Q20?{ON}").text)
    assert "Q20’s 1.50 filling stops: no possible filling yarn has fewer." in told
    assert "Q09’s 2.40 warp stops: no possible warp yarn has fewer." in told


def test_the_chip_changes_the_rule_in_place_and_keeps_it(client: TestClient) -> None:
    page = client.get("/compare/DN-1250").text
    assert re.search(r'<select name="loom_rule">\s*<option selected>as assumed</option>', page)
    page = client.get(f"/compare/DN-1250?{ON}").text
    assert "<option selected>from stops</option>" in page
    assert f"/compare/DN-1250/Q14/Q20?{ON}" in page
    assert "loom efficiency from stops" in page
    assert "No published stops of denim in 100,000 picks" in page
    document = client.get(f"/compare/DN-1250.json?{ON}").json()
    assert document["basis"]["loom_rule"] == "from stops"
    told = {each["offer"]: each for each in document["excluded"]}
    off = {each["offer"]: each for each in client.get("/compare/DN-1250.json").json()["excluded"]}
    saving = next(name for name in told["Q21"] if name.startswith("saving"))
    assert (round(off["Q21"][saving], 3), round(told["Q21"][saving], 3)) == (0.04, -0.019)


def test_page_table_and_api_hold_the_same_figures(client: TestClient) -> None:
    data = client.get(f"{PAIR}.json?{ON}").json()
    api = client.get(f"/api/v1{PAIR}?{ON}").json()
    rows = {row["key"]: row for row in csv.DictReader(
        io.StringIO(client.get(f"{PAIR}.csv?{ON}").text.lstrip("\ufeff")))}  # fmt: skip
    for key in ("stops", "servicing_factor", "loom_efficiency", "cost_against_assumed"):
        value = data["figures"][key]["value"]
        assert api["figures"][key]["value"] == value
        assert float(rows[key]["value"]) == value
    assert data["inputs"]["filling.stops"]["value"] == 12
    assert data["inputs"]["filling.stops"]["source"].startswith("supplier's sheet; stops counted")
    pairs = client.get(f"/compare/DN-1250.json?{ON}").json()["pairs"]
    same = next(each for each in pairs if each["pair"] == "Q14/Q21")
    assert same["fabric_cost"] == data["figures"]["fabric_cost"]["value"]


def test_a_rule_that_is_none_is_answered_beside_its_chip(client: TestClient) -> None:
    page = client.get("/compare/DN-1250?loom_rule=by+guess")
    assert page.status_code == 422
    assert (
        "“by guess” is no rule for loom efficiency. Choose as assumed or from stops." in page.text
    )
    assert 'aria-describedby="error-loom_rule"' in page.text
    answer = client.get("/api/v1/compare/DN-1250?loom_rule=by+guess")
    assert answer.status_code == 422
    assert answer.json()["field"] == "loom_rule"


@pytest.fixture
def without_looms(house_engine: Engine) -> None:
    """The sets of the demonstration without two values of the rule."""
    keys = ("fabric.looms_per_weaver", "fabric.filling_stops.OE")
    with writing(house_engine, 1) as session:
        for row in session.exec(select(AssumptionRow).where(col(AssumptionRow.key).in_(keys))):
            session.delete(row)


@pytest.mark.usefixtures("without_looms")
def test_what_is_missing_is_named_beside_the_chip_and_on_the_pair(client: TestClient) -> None:
    page = client.get(f"/compare/DN-1250?{ON}")
    assert page.status_code == 422
    assert "has no value for: Looms of one weaver (fabric.looms_per_weaver)" in page.text
    assert "Cheapest possible: OE/OE, Q14/Q20" in page.text  # on the stored rule
    told = section(client.get("/compare/DN-1250/Q14/Q19").text)
    assert (
        "“Rinconada 2026” lacks: Looms of one weaver; Filling stops in 100,000 picks, OE yarn."
        in told
    )
    assert "Work it out from stops" not in told
    answer = client.get(f"/api/v1/compare/DN-1250?{ON}")
    assert answer.status_code == 422
    assert answer.json()["field"] == "fabric.looms_per_weaver"


def test_the_change_desk_takes_the_rule_and_shows_its_values_only_then(client: TestClient) -> None:
    off = client.get("/constructions/DN-1250/change").text
    on = client.get(f"/constructions/DN-1250/change?{ON}").text
    assert "fabric.looms_per_weaver" not in off
    assert 'name="fabric.looms_per_weaver"' in on
    cost = client.get(f"/compare/DN-1250/Q14/Q20.json?{ON}").json()["figures"]["fabric_cost"]
    document = client.get(f"/constructions/DN-1250/change.json?{ON}").json()
    assert repr(cost["value"]) in repr(document)
    busier = client.get(
        f"/constructions/DN-1250/change.json?{ON}&fabric.looms_per_weaver=12"
    ).json()
    assert busier != document


def test_measured_stops_are_entered_as_a_test_value(client: TestClient) -> None:
    new = {"property": "warp_stops", "value": "5.5", "method": "our looms", "lot": "L-3",
           "tested_on": "2026-02-25", "attachment_id": ""}  # fmt: skip
    assert client.post("/offers/Q14/tests", data=new, follow_redirects=False).status_code == 303
    data = client.get(f"/compare/DN-1250/Q14/Q20.json?{ON}").json()
    entry = data["inputs"]["warp.stops"]
    assert (entry["value"], entry["source"], entry["on"]) == (
        5.5, "our looms, lot L-3", "2026-02-25"
    )  # fmt: skip
    assert "Warp stops in 100,000 picks, on our looms" in client.get("/offers/Q14").text
