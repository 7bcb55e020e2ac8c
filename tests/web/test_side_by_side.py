"""Offers side by side: the same figures as each offer's own page, step by step."""

from __future__ import annotations

import csv
import html
import io
import re
from typing import Any

import httpx
import pytest
from starlette.testclient import TestClient

from server.core.landed import LEGS

PATH = "/offers/side-by-side"
FOUR = "offer=Q05&offer=Q08&offer=Q18&offer=Q33"


def text_of(answer: httpx.Response) -> str:
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", answer.text)))


def columns(client: TestClient, query: str = FOUR) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = client.get(f"{PATH}.json?{query}").json()["offers"]
    return found


def test_every_figure_is_that_of_the_offers_own_page(client: TestClient) -> None:
    for column in columns(client, f"{FOUR}&currency=EUR"):
        own = client.get(f"/offers/{column['offer']}.json?currency=EUR").json()["figures"]
        for step in (*column["steps"], *column["totals"]):
            assert step["value"] == own.get(f"offer.{step['key']}"), step["key"]


def test_the_steps_add_up_and_the_cheapest_has_no_difference(client: TestClient) -> None:
    found = columns(client)
    assert [step["key"] for step in found[0]["steps"]] == list(LEGS)
    for column in found:
        landed = column["totals"][0]["value"]
        assert column["steps"][-1]["so_far"] == pytest.approx(landed, rel=1e-12)
    for place in range(len(LEGS)):
        apart = [column["steps"][place]["above_the_cheapest"] for column in found]
        assert min(apart) == 0
        sums = [column["steps"][place]["so_far"] for column in found]
        assert apart == [each - min(sums) for each in sums]
    best = min(found, key=lambda column: column["totals"][1]["value"])
    assert best["totals"][1]["above_the_cheapest"] == 0
    assert best["offer"] == "Q18"


def test_a_leg_inside_the_sellers_price_says_so(client: TestClient) -> None:
    delivered = next(column for column in columns(client) if column["offer"] == "Q08")
    inside = [step["key"] for step in delivered["steps"] if step["inside_the_sellers_price"]]
    assert inside == ["origin_haulage", "freight", "insurance", "inland"]
    assert text_of(client.get(f"{PATH}?{FOUR}")).count("in the seller's price") >= 4


def test_the_page_shows_what_was_said_as_it_was_said_and_figures_open(client: TestClient) -> None:
    page = client.get(f"{PATH}?{FOUR}&meeting=2026-03-10")
    told = text_of(page)
    for part in ('112 USc/lb "FOB mill"', "46.80 MXN/kg", "15900 CNY/t", "Tax inside the price",
                 "13 %", "59 tex", "Tenacity cN/tex 11.8 11 11.6 15.2",
                 "Same-basis price 2.681 +0.049"):  # fmt: skip
        assert part in told, part
    href = "/offers/Q05/offer.freight?meeting=2026-03-10"
    assert f'href="{href}"' in page.text
    assert client.get(href).status_code == 200


def test_only_facts_that_one_of_them_said_have_a_row(client: TestClient) -> None:
    told = text_of(client.get(f"{PATH}?{FOUR}"))
    assert "Price breaks" not in told.split("Copy as table")[0]
    assert "from 40 t 1.80; from 80 t 1.77 (all units)" in text_of(
        client.get(f"{PATH}?offer=Q18&offer=Q19")
    )


def test_questions_and_doubts_stand_under_their_offer(client: TestClient) -> None:
    found = columns(client, "offer=Q17&offer=Q23")
    assert any("The description says ring" in doubt for doubt in found[0]["doubts"])
    assert found[0]["open_questions"] == []
    assert any("base between the slubs" in doubt for doubt in found[1]["doubts"])
    told = text_of(client.get(f"{PATH}?offer=Q17&offer=Q23"))
    assert "The description says ring" in told


def test_an_offer_that_cannot_be_landed_says_why(client: TestClient) -> None:
    entry = client.get("/api/v1/offers/Q05").json()["entry"]
    client.post("/api/v1/offers", json={**entry, "code": "N1", "payment": ""})
    query = "offer=Q05&offer=N1"
    told = text_of(client.get(f"{PATH}?{query}"))
    assert "The payment is not said" in told
    found = columns(client, query)
    assert found[1]["steps"][0]["value"] is None
    assert found[1]["steps"][0]["above_the_cheapest"] is None
    assert found[0]["totals"][1]["above_the_cheapest"] == 0


def test_the_csv_holds_the_same_table_with_all_digits(client: TestClient) -> None:
    text = client.get(f"{PATH}.csv?{FOUR}").text.lstrip("\ufeff")
    rows = {row["row"]: row for row in csv.DictReader(io.StringIO(text))}
    assert list(rows["Goods"])[:3] == ["part", "row", "unit"]
    landed = {column["offer"]: column["totals"][0]["value"] for column in columns(client)}
    assert {code: float(rows["Landed price at the mill"][code]) for code in landed} == landed
    assert rows["Main carriage"]["Q08"] == "in the seller's price"
    assert rows["Landed price at the mill"]["unit"] == "USD/kg"


def test_the_table_to_be_pasted_has_tabs_between_its_cells(client: TestClient) -> None:
    page = client.get(f"{PATH}?{FOUR}").text
    text = html.unescape(page.split('id="table-text"')[1].split(">", 1)[1].split("</textarea")[0])
    lines = [line.split("\t") for line in text.strip("\n").split("\n")]
    assert lines[0] == ["part", "row", "unit", "Q05", "Q08", "Q18", "Q33"]
    assert {len(line) for line in lines} == {7}


@pytest.mark.parametrize(
    ("query", "status", "told"),
    [
        ("offer=Q05", 422, "One offer alone"),
        ("offer=Q05&offer=Q05", 422, "One offer alone"),
        ("&".join(f"offer=Q0{number}" for number in range(1, 8)), 422, "7 offers cannot"),
        ("offer=Q05&offer=none", 404, "There is no offer"),
        ("offer=Q05&offer=%00", 404, "There is no offer"),
        ("offer=Q05&offer=Q08&meeting=2026-02-30", 422, "is not a date"),
        ("offer=Q05&offer=Q08&currency=XXX", 422, "is not a currency code"),
    ],
)
def test_what_cannot_stand_side_by_side_is_answered(
    client: TestClient, query: str, status: int, told: str
) -> None:
    for address in (f"{PATH}?{query}", f"{PATH}.json?{query}", f"{PATH}.csv?{query}"):
        answer = client.get(address)
        assert (answer.status_code, told in html.unescape(answer.text)) == (status, True), address


def test_without_offers_a_form_asks_for_them(client: TestClient) -> None:
    page = client.get(PATH)
    assert page.status_code == 200
    assert page.text.count('name="offer"') == 2
