"""The page of the map: sentence, chart, figures, and what a question may get wrong."""

from __future__ import annotations

import csv
import io
import re
from html import unescape
from urllib.parse import urlencode

import pytest
from starlette.testclient import TestClient

PARTS = "Rinconada 2026, hours in parts"


def address(ending: str = "", code: str = "DN-1375", **query: str) -> str:
    return f"/compare/{code}/map{ending}?{urlencode({'assumption_set': PARTS, **query})}"


def test_the_page_says_which_is_cheapest_and_until_when(client: TestClient) -> None:
    page = client.get(address()).text
    assert "Today own OE/own OE is the cheapest at 2.440 USD/m." in page
    assert "It stays the cheapest until Cotton of every route passes 1.985 USD/kg (+11.5 %" in page
    assert "Offers are held as quoted" in page


def test_cotton_and_power_are_the_sides_where_the_set_has_them(client: TestClient) -> None:
    data = client.get(address(".json")).json()
    assert (data["x"]["key"], data["y"]["key"]) == ("cotton", "power")
    assert data["x"]["from"] == pytest.approx(1.78 * 0.7)
    assert data["x"]["to"] == pytest.approx(1.78 * 1.3)
    plain = client.get(address(".json", assumption_set="Rinconada 2026")).json()
    assert plain["x"]["key"] == "cotton"
    assert plain["y"]["key"] != "power"


def test_the_table_and_the_csv_and_the_data_agree(client: TestClient) -> None:
    data = client.get(address(".json")).json()
    text = client.get(address(".csv")).text.lstrip("\ufeff")
    rows = list(csv.DictReader(io.StringIO(text)))
    assert len(rows) == len(data["points"]) == 25
    for row, point in zip(rows, data["points"], strict=True):
        assert row["option"] == point["option"]
        assert float(row["cost"]) == point["cost"] <= point["next_cost"]
    page = client.get(address()).text
    shown = re.findall(r'at_x=[^"]+">([\d.]+)</a><small>([^<]+)</small>', page)
    assert [name for _, name in shown] == [each["option"] for each in data["points"]]
    assert sum(each["share_of_map"] for each in data["options"]) == pytest.approx(1.0)


def test_a_cost_of_the_map_opens_with_what_moved(client: TestClient) -> None:
    page = client.get(address()).text
    first = next(each for each in re.findall(r'href="([^"]+map-cost[^"]+at_x=0\.7[^"]*)"', page))
    opened = client.get(unescape(first))
    assert opened.status_code == 200
    assert "at this point of the map" in opened.text
    assert "today 1.6" in opened.text


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("width", ["", "narrow"])
def test_the_chart_is_drawn(client: TestClient, theme: str, width: str) -> None:
    path = address().replace("/compare/", "/charts/compare/").replace("/map?", "/map.svg?")
    answer = client.get(f"{path}&theme={theme}&width={width}")
    assert answer.status_code == 200
    assert "own OE/own OE" in answer.text
    assert "today" in answer.text


def test_ranges_and_options_may_be_chosen(client: TestClient) -> None:
    data = client.get(
        address(".json", x="ring.fibre_price", x_from="1", x_to="2", options="own")
    ).json()
    assert data["x"]["from"] == pytest.approx(1.0)
    assert data["x"]["to"] == pytest.approx(2.0)
    assert all(each["option"].startswith("own") for each in data["options"])
    outside = client.get(address(x="cotton", x_from="2", x_to="3")).text
    assert "lies outside this map" in outside


def test_a_range_goes_with_the_side_it_was_typed_for(client: TestClient) -> None:
    answer = client.get(address(".json", x="power", x_of="cotton", x_from="2", x_to="3"))
    assert answer.status_code == 200
    assert answer.json()["x"]["from"] == pytest.approx(0.11 * 0.7)


def test_a_share_is_typed_in_percent(client: TestClient) -> None:
    data = client.get(address(".json", x="loom_efficiency", x_from="80", x_to="90")).json()
    assert data["x"]["from"] == pytest.approx(0.80)
    assert data["x"]["to"] == pytest.approx(0.90)


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ({"x": "beauty"}, "nothing that moves here"),
        ({"x": "cotton", "y": "cotton"}, "Both sides hold the same"),
        ({"x": "cotton", "x_from": "a"}, "outside what is looked at"),
        ({"x": "cotton", "x_from": "2", "x_to": "1.5"}, "ends before it begins"),
        ({"x": "loom_efficiency", "x_to": "140"}, "between 8.8 and 100"),
        ({"options": "all of them"}, "is none of"),
        ({"figure": "beauty"}, "no figure in which"),
        ({"rates_on": "never"}, "is not a date"),
    ],
)
def test_bad_questions_are_answered_beside_their_field(
    client: TestClient, query: dict[str, str], said: str
) -> None:
    answer = client.get(address(**query))
    assert answer.status_code == 422
    assert said in answer.text
    assert client.get(address(".json", **query)).status_code == 422


def test_compare_and_should_cost_lead_here(client: TestClient) -> None:
    assert "/compare/DN-1375/map" in client.get("/compare/DN-1375").text
    page = client.get(f"/should-cost?set={PARTS}").text
    assert "/compare/DN-1375/map?assumption_set=Rinconada+2026%2C+hours+in+parts" in page
