"""Prices of a supplier over time: page, chart, CSV and JSON hold the same figures."""

from __future__ import annotations

import csv
import html
import io
import re
from typing import Any

import httpx
import pytest
from sqlalchemy import Engine
from starlette.testclient import TestClient

from server.actions.book import current_book
from tests.actions.test_price_history import requote
from tests.many_offers import add_many

SUPPLIER = "/suppliers/Marrow%20Creek%20Spinning"


def text_of(answer: httpx.Response) -> str:
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", answer.text)))


def chain(engine: Engine) -> None:
    requote(engine, "Q05", "Q05b", price="110", quoted_on="2026-03-01", valid_until="2026-03-05")
    requote(engine, "Q05b", "Q05c", price="109", quoted_on="2026-03-04",
            valid_until="2026-03-28")  # fmt: skip


def charts(page: httpx.Response) -> list[str]:
    found = (html.unescape(src) for src in re.findall(r'<img src="([^"]+)"', page.text))
    return [src for src in found if src.startswith("/charts/suppliers/prices.svg")]


def key_of(page: httpx.Response) -> str:
    return str(re.findall(r"yarn=([0-9a-f]{12})", page.text)[0])


def test_the_supplier_shows_how_it_answers_and_its_prices(
    client: TestClient, house_engine: Engine
) -> None:
    chain(house_engine)
    page = client.get(SUPPLIER)
    told = text_of(page)
    assert re.search(r"Average lead time \d+ d", told)
    assert "Last quote 2026-03-04" in told
    assert re.search(r"Offers \d+, \d+ of them not replaced", told)
    row = told[told.index("Quotes of Ne 6.00 OE") :]
    assert "2026-03-04 Q05c replaces Q05b 109 USc/lb" in row
    assert "2026-03-01 Q05b replaces Q05, replaced by Q05c 110 USc/lb" in row
    assert "expired 2026-03-05" in row
    assert "price over time, seller's own unit in USc/lb" in told


def test_the_chart_says_which_prices_it_draws(client: TestClient, house_engine: Engine) -> None:
    chain(house_engine)
    for query, unit, figure in (
        ("", "USc/lb", "109"),
        ("?prices=same-basis", "USD/kg, same basis", "2."),
        ("?prices=same-basis&currency=EUR", "EUR/kg, same basis", "2."),
    ):
        page = client.get(f"{SUPPLIER}{query}")
        drawing = client.get(charts(page)[0])
        assert drawing.headers["content-type"] == "image/svg+xml"
        words = html.unescape(re.sub(r"<[^>]+>", " ", drawing.text))
        assert unit in words, query
        assert figure in words
        assert "2026-03-04" in words


def test_quotes_in_another_unit_are_left_out_and_said(
    client: TestClient, house_engine: Engine
) -> None:
    requote(house_engine, "Q05", "Q05b", price="2.40", currency="USD", price_unit="kg",
            quoted_on="2026-03-01")  # fmt: skip
    told = text_of(client.get(SUPPLIER))
    assert "1 of these quotes is in other units, so the chart leaves them out." in told
    same = text_of(client.get(f"{SUPPLIER}?prices=same-basis"))
    assert "so the chart leaves them out" not in same


def test_all_quotes_of_a_yarn_are_taken_away(client: TestClient, house_engine: Engine) -> None:
    chain(house_engine)
    key = key_of(client.get(SUPPLIER))
    data: dict[str, Any] = client.get(f"{SUPPLIER}/prices.json?yarn={key}").json()
    assert [(q["offer"], q["price"], q["state"]) for q in data["quotes"]] == [
        ("Q05c", "109", "open"), ("Q05b", "110", "replaced"), ("Q05", "112", "replaced"),
    ]  # fmt: skip
    text = client.get(f"{SUPPLIER}/prices.csv?yarn={key}").text.lstrip("\ufeff")
    rows = list(csv.DictReader(io.StringIO(text)))
    assert [row["replaces"] for row in rows] == ["Q05b", "Q05", ""]
    assert [float(row["same basis [USD/kg]"]) for row in rows] == [
        quote["same_basis_price"] for quote in data["quotes"]
    ]
    own = client.get("/offers/Q05c.json").json()["figures"]["offer.same_basis_price"]
    assert data["quotes"][0]["same_basis_price"] == own


def test_many_offers_and_yarns_stand_on_pages(client: TestClient, house_engine: Engine) -> None:
    add_many(house_engine, 1_500)
    offers = current_book(house_engine).offers
    names = [offer.supplier.name for offer in offers]
    busiest = max(set(names), key=names.count)
    count = names.count(busiest)
    page = client.get("/suppliers/" + busiest.replace(" ", "%20"))
    told = text_of(page)
    assert f"1 to 50 of {count}" in told
    assert "Yarns 1 to 4 of" in told
    assert len(charts(page)) <= 8  # light and dark of four yarns
    second = text_of(client.get("/suppliers/" + busiest.replace(" ", "%20") + "?yarns=2&page=2"))
    assert "Yarns 5 to 8 of" in second
    assert f"51 to {min(100, count)} of {count}" in second


def test_a_long_history_is_cut_on_the_page_and_whole_behind_its_link(
    client: TestClient, house_engine: Engine
) -> None:
    code = "Q05"
    for number in range(60):
        requote(house_engine, code, f"R{number:02}", price=str(100 + number),
                quoted_on=f"2026-03-{number % 9 + 1:02}", valid_until="2026-04-30")  # fmt: skip
        code = f"R{number:02}"
    page = client.get(SUPPLIER)
    assert "All 61 quotes" in text_of(page)
    whole = client.get(f"{SUPPLIER}/prices?yarn={key_of(page)}&page=2")
    assert "51 to 61 of 61" in text_of(whole)
    assert client.get(charts(whole)[0]).status_code == 200


@pytest.mark.parametrize(
    ("address", "status"),
    [
        (f"{SUPPLIER}?prices=best", 422),
        (f"{SUPPLIER}/prices?yarn=none", 404),
        (f"{SUPPLIER}/prices.csv", 404),
        ("/suppliers/none/prices?yarn=x", 404),
        ("/charts/suppliers/prices.svg", 404),
        (f"{SUPPLIER}?currency=XXX", 422),
    ],
)
def test_what_cannot_be_shown_is_answered(client: TestClient, address: str, status: int) -> None:
    assert client.get(address).status_code == status


def test_a_supplier_without_offers_has_its_page(client: TestClient) -> None:
    client.post("/api/v1/suppliers", json={"name": "Larchmoor Spinning", "country": "Farland"})
    told = text_of(client.get("/suppliers/Larchmoor%20Spinning"))
    assert "This supplier has made no offer yet." in told
    assert "Average lead time not said" in told
