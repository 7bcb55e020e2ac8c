"""Scenarios: the form, what differs, constructions under two sets, and what to do without two."""

from __future__ import annotations

import csv
import html
import io
import re
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from sqlalchemy import Engine
from starlette.testclient import TestClient

from server.app import create_app
from server.settings import Settings
from server.web.numbers import Writer
from tests.entered import counts

OF = "Rinconada 2026"
BOTH = "/scenarios?first=Rinconada+2026&second=Dear+dye"


def text_of(answer: httpx.Response) -> str:
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", answer.text)))


def rows_of(answer: httpx.Response) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(answer.text[1:])))


def store(client: TestClient, name: str, **fields: str) -> httpx.Response:
    data = {"of": OF, "name": name, **fields}
    answer: httpx.Response = client.post("/scenarios/new", data=data, follow_redirects=False)
    return answer


@pytest.fixture
def dear(client: TestClient) -> TestClient:
    """A visitor of a house with a second set in which dyeing costs half as much again."""
    store(client, "Dear dye")
    (kept,) = (
        each
        for each in client.get("/assumptions.json").json()
        if each["entry"]["set_name"] == "Dear dye" and each["entry"]["key"] == "fabric.dyeing"
    )
    edited = {k: v for k, v in kept["entry"].items() if v is not None} | {"value": "0.93"}
    answer = client.post(
        f"/assumptions/{kept['key']}/edit",
        data=edited | {"version": str(kept["version"])},
        follow_redirects=False,
    )
    assert answer.status_code == 303
    return client


def test_a_set_is_cloned_from_its_section_of_the_assumptions(client: TestClient) -> None:
    page = client.get("/assumptions").text
    link = re.search(r'href="(/scenarios/new\?of=Rinconada\+2026)"', page)
    assert link
    form = text_of(client.get(link[1]))
    assert "Every value of “Rinconada 2026” is copied with its source, range and day." in form
    answer = store(client, "Winter tariff")
    assert answer.status_code == 303
    shown = client.get(answer.headers["location"])
    assert "Stored." in shown.text
    assert "The two sets hold the same values." in text_of(shown)
    assert "Winter tariff" in client.get("/should-cost").text


def test_what_ifs_become_a_scenario_with_their_source(client: TestClient) -> None:
    page = client.get("/should-cost?OE.rotor_rpm=%2B10%25&ring.efficiency=90").text
    link = re.search(r'href="(/scenarios/new\?[^"]+)">Store these changes', page)
    assert link
    form = client.get(html.unescape(link[1]))
    assert "Rotor speed, OE: 68000 → 74800 at Ne 6" in text_of(form)
    assert "Efficiency, ring: 92 → 90 %" in text_of(form)
    query = re.search(r'name="query" value="([^"]*)"', form.text)
    assert query
    answer = store(client, "Fast", query=html.unescape(query[1]), source="a maker’s letter")
    told = text_of(client.get(answer.headers["location"]))
    assert "5 values differ, in OE, ring." in told
    assert "bought yarn is landed as it was quoted under both" in told
    assert "as in Rinconada 2026, changed from 72000: a maker’s letter" in told


BAD = (
    ({"name": OF}, "There is an assumption set “Rinconada 2026” already"),
    ({"name": "RINCONADA 2026"}, "already. Choose another name"),
    ({"name": ""}, "Write 1 to 120 characters"),
    ({"name": "<script>"}, "plain words"),
    ({"name": "x" * 121}, "120 characters"),
    ({"query": "OE.rotor_rpm=0"}, "at least 1000"),
    ({"query": "every.fibre_price=2"}, "the routes hold"),
    ({"query": "OE.rotor_rpm=80000", "source": "x" * 121}, "at most 120 characters"),
    ({"notes": "x" * 2001}, "at most 2000 characters"),
)


@pytest.mark.parametrize(("fields", "said"), BAD)
def test_a_refused_scenario_comes_back_with_what_was_typed(
    client: TestClient, house_engine: Engine, fields: dict[str, str], said: str
) -> None:
    before = counts(house_engine)
    answer = store(client, **{"name": "Trial", **fields})
    assert answer.status_code == 422
    assert said in text_of(answer)
    assert "<script>" not in answer.text.replace("<script src", "")
    assert f'value="{OF}"' in answer.text
    assert counts(house_engine) == before


def test_a_set_that_is_not_there_is_not_found(client: TestClient) -> None:
    assert store(client, "Copy", of="None such").status_code == 404
    for path in ("/scenarios/new?of=None", "/scenarios?first=None", "/scenarios.json?second=None",
                 f"{BOTH}&construction=DN-0", "/scenarios/combinations.csv"):  # fmt: skip
        assert client.get(path).status_code == 404, path


def test_constructions_under_both_have_the_figures_of_their_comparisons(dear: TestClient) -> None:
    document = dear.get(BOTH.replace("scenarios?", "scenarios.json?")).json()
    rows = rows_of(dear.get(BOTH.replace("scenarios?", "scenarios.csv?")))
    page, writer = dear.get(BOTH).text, Writer("trade", "USD")
    assert len(document["constructions"]) == len(rows) == 8
    for each, row in zip(document["constructions"], rows, strict=True):
        for place, name in (("first", "Rinconada+2026"), ("second", "Dear+dye")):
            path = f"/compare/{each['construction']}.json?assumption_set={name}"
            leader = dear.get(path).json()["leader"]
            assert each[f"{place}_pair"] == leader["pair"]
            assert each[f"{place}_cost"] == leader["fabric_cost"]
            assert writer.text(leader["fabric_cost"], "¤/m") in page
        assert float(row["Difference [USD/m]"]) == each["difference"]
        assert each["difference"] > 0
        assert f"<b>{writer.signed(each['difference'], '¤/m')}</b>" in page


def test_what_differs_stands_value_by_value_with_its_unit(dear: TestClient) -> None:
    (row,) = rows_of(dear.get(BOTH.replace("scenarios?", "scenarios/values.csv?")))
    assert (row["key"], row["first"], row["second"]) == ("fabric.dyeing", "0.62", "0.93")
    assert row["first_unit"] == "USD/kg"
    assert float(row["difference"]) == pytest.approx(0.31)
    told = text_of(dear.get(BOTH))
    assert "One value differs, in fabric." in told
    assert "Indigo dyeing, on warp put in fabric 0.62 0.93 USD/kg +0.31 +50.0 %" in told


def test_one_construction_shows_bought_and_own_combinations(dear: TestClient) -> None:
    path = f"{BOTH}&construction=DN-1375"
    document = dear.get(path.replace("scenarios?", "scenarios.json?")).json()
    rows = rows_of(dear.get(path.replace("scenarios?", "scenarios/combinations.csv?")))
    assert [row["yarn"] for row in rows] == ["bought"] * 4 + ["own"] * 9
    assert [each["combination"] for each in document["combinations"]] == [
        row["combination"] for row in rows
    ]
    page = dear.get(path)
    assert "DN-1375: own yarn, warp route / filling route" in page.text
    ladder = dear.get("/compare/DN-1375.json?assumption_set=Dear+dye").json()["matrix"]
    best = {cell["combination"]: cell["fabric_cost"] for line in ladder for cell in line}
    for row in rows[:4]:
        assert float(row["second_cost"]) == best[row["combination"]]


def test_every_cost_opens_to_its_own_figure(dear: TestClient) -> None:
    page = dear.get(f"{BOTH}&construction=DN-1375").text
    found = re.findall(r'<a class="opens" href="([^"]+fabric_cost[^"]*)">([\d.]+)<', page)
    assert len(found) > 40
    for href, shown in found[::7]:
        opened = dear.get(html.unescape(href))
        assert opened.status_code == 200, href
        assert f"<strong>{shown} USD/m</strong>" in opened.text, href


def test_the_basis_can_be_changed_and_a_wrong_one_is_answered(dear: TestClient) -> None:
    euro = dear.get(f"{BOTH}&currency=EUR")
    assert "EUR/m" in euro.text
    wrong = dear.get(f"{BOTH}&meeting=2026-02-30")
    assert wrong.status_code == 422
    assert "“2026-02-30” is not a date" in wrong.text
    assert dear.get(f"{BOTH}&need_by=2026-01-01").status_code == 422
    assert dear.get(BOTH.replace("scenarios?", "scenarios.json?") + "&metres=x").status_code == 422


@pytest.fixture
def new_house(tmp_path: Path) -> Iterator[TestClient]:
    """An empty house."""
    app = create_app(Settings(database_url=f"sqlite:///{tmp_path / 'new.sqlite'}"))
    with TestClient(app) as client:
        yield client


def test_without_two_sets_the_page_says_what_to_do(new_house: TestClient) -> None:
    assert "There are no assumptions yet. Enter a first set" in new_house.get("/scenarios").text
    for path in ("/scenarios.json", "/scenarios.csv", "/scenarios/new", "/scenarios/values.csv"):
        assert new_house.get(path).status_code == 404
    entry = {"set_name": "First", "currency": "USD", "key": "ring.roving", "value": "0.07",
             "source": "own", "noted_on": "2026-01-01"}  # fmt: skip
    new_house.post("/assumptions/new", data=entry, follow_redirects=False)
    told = new_house.get("/scenarios")
    assert "There is one assumption set, “First”. Clone it under a new name" in text_of(told)
    assert "/scenarios/new?of=First" in told.text
    answer = new_house.post(
        "/scenarios/new", data={"of": "First", "name": "Second"}, follow_redirects=False
    )
    assert answer.status_code == 303
    shown = text_of(new_house.get(answer.headers["location"]))
    assert "There is nothing to compare yet" in shown
