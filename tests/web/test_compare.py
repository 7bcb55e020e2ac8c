"""The comparison page: chips, matrix, ladder, filters, break-evens, what was left out."""

from __future__ import annotations

import re

import pytest
from starlette.testclient import TestClient


def test_the_page_opens_with_the_cheapest_possible_pair(client: TestClient) -> None:
    page = client.get("/compare/DN-1375").text
    assert "Cheapest possible: OE/OE, Q14/Q14, at 2.594 USD/m" in page
    assert "yarn 1.638 USD/m" in page
    assert "13.78 oz/yd²" in page


def test_the_ladder_shows_what_each_step_costs(client: TestClient) -> None:
    page = client.get("/compare/DN-1375").text
    ladder = page[page.index('class="ladder"') : page.index('id="pairs"')]
    assert re.findall(r">(\w+/\w+)</a>", ladder) == ["OE/OE", "OE/ring", "ring/OE", "ring/ring"]
    assert "yarn +0.148" in ladder


def test_a_reference_chosen_in_the_address_moves_the_differences(client: TestClient) -> None:
    page = client.get("/compare/DN-1375?reference=ring/ring").text
    assert "Differences are to ring/ring (Q09/Q09)" in page
    assert "−0.416 to the reference" in page


def test_an_excluded_offer_says_why_and_what_it_would_have_saved(client: TestClient) -> None:
    page = client.get("/compare/DN-1450").text
    excluded = page[page.index('id="excluded"') :]
    assert "expired on 2026-02-20, before the meeting on 2026-03-12" in excluded
    assert "Tenacity 10.9 cN/tex, at least 12.5 cN/tex for warp, rope-dyed" in excluded


def test_an_empty_cell_says_why(client: TestClient) -> None:
    page = client.get("/compare/DN-1450").text
    assert "warp Q04 impossible: expired on 2026-03-08" in page


def test_the_break_even_of_the_peso_stands_as_a_sentence(client: TestClient) -> None:
    page = client.get("/compare/DN-1200S").text
    assert "until 1 USD = 17.00 MXN (today 17.20, −1.2 %)" in page
    assert "until Q22 is quoted at 2.547 USD/kg (quoted 2.580" in page


def test_a_rate_by_way_of_a_third_currency_names_both_currencies(client: TestClient) -> None:
    page = client.get("/compare/DN-1200S?currency=EUR").text
    assert "until 1 MXN = 0.04" in page
    assert "EUR (today 0.04" in page
    assert "¤" not in page[page.index('id="break-evens"') : page.index('id="excluded"')]


def test_filters_and_sorting_live_in_the_address(client: TestClient) -> None:
    page = client.get("/compare/DN-1375?warp=ring&filling=OE&sort=-fabric_cost").text
    pairs = page[page.index('id="pairs"') : page.index('id="break-evens"')]
    possible = pairs[: pairs.index("is-muted")]
    costs = [float(cost) for cost in re.findall(r"<td><b>([\d.]+)</b>", possible)]
    assert len(costs) == 8
    assert costs == sorted(costs, reverse=True)
    assert "Q14/Q14" not in pairs
    assert 'aria-sort="descending"' in pairs


def test_season_quantity_reaches_the_price_break(client: TestClient) -> None:
    first = client.get("/compare/DN-1250/Q14/Q19.json").json()["figures"]
    season = client.get("/compare/DN-1250/Q14/Q19.json?quantity=season").json()
    assert first["filling.goods_price"]["value"] == pytest.approx(1.84)
    assert season["figures"]["filling.goods_price"]["value"] == pytest.approx(1.77)
    assert season["inputs"]["filling.quoted_price"]["as_entered"] == "1.77 USD/kg"


@pytest.mark.parametrize("code", ["DN-1450", "DN-1375", "DN-1050S"])
def test_another_reporting_currency_is_the_same_cost(client: TestClient, code: str) -> None:
    dollars = {each["pair"]: each for each in client.get(f"/compare/{code}.json").json()["pairs"]}
    euros = client.get(f"/compare/{code}.json?currency=EUR").json()["pairs"]
    for pair in euros:
        assert pair["fabric_cost"] * 1.186 == pytest.approx(
            dollars[pair["pair"]]["fabric_cost"], rel=1e-12
        )


@pytest.mark.parametrize(
    ("query", "sentence"),
    [
        ("meeting=2026-02-30", "“2026-02-30” is not a date. Write it as 2026-03-12."),
        ("currency=XYZ", "“XYZ” is not a currency code of ISO 4217."),
        ("metres=-4", "“-4” is not a length."),
        ("quantity=some", "“some” is no quantity rule."),
        ("need_by=2026-03-01", "Need-by 2026-03-01 is before the meeting 2026-03-12."),
        ("quantity=metres", "Quantity “metres” needs the metres."),
    ],
)
def test_a_wrong_basis_is_answered_in_a_sentence(
    client: TestClient, query: str, sentence: str
) -> None:
    page = client.get(f"/compare/DN-1375?{query}")
    assert page.status_code == 422
    assert sentence in page.text
    document = client.get(f"/compare/DN-1375.json?{query}")
    assert document.status_code == 422
    assert sentence.split(".")[0] in document.json()["message"]


def test_an_unknown_construction_is_not_found(client: TestClient) -> None:
    assert client.get("/compare/none").status_code == 404
    assert client.get("/compare/DN-1375/Q09/Q99").status_code == 404
    assert client.get("/compare/DN-1375/Q09/Q14/none").status_code == 404


def test_every_figure_of_a_pair_opens(client: TestClient) -> None:
    figures = client.get("/compare/DN-1200S/Q25/Q35.json").json()["figures"]
    assert len(figures) > 50
    for key in figures:
        opened = client.get(f"/api/v1/compare/DN-1200S/Q25/Q35/{key}")
        assert opened.status_code == 200, key
        assert opened.json()["value"] == figures[key]["value"]


def test_charts_stand_at_their_own_addresses(client: TestClient) -> None:
    for path in (
        "/charts/compare/DN-1375/ladder.svg",
        "/charts/compare/DN-1375/Q09/Q14/stack.svg?theme=dark",
        "/charts/offers/Q05/landed.svg?units=inch-pound",
        "/charts/should-cost/routes.svg?ne=8.5",
    ):
        answer = client.get(path)
        assert answer.status_code == 200
        assert answer.headers["content-type"] == "image/svg+xml"
    assert client.get("/charts/offers/Q05/landed.svg?theme=pink").status_code == 422
