"""The freshness page, its filters, JSON and CSV; what home says of it; doubts on an offer."""

from __future__ import annotations

import csv
import io
import re
from html import unescape

import pytest
from sqlalchemy import Engine
from starlette.testclient import TestClient

from server.store.intakes import add_file, add_intake
from server.store.session import writing
from tests.builders import DAY
from tests.store.test_book import counted


def rows_of(client: TestClient, address: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(client.get(address).text[1:])))


def test_the_page_says_what_can_be_used_and_counts_the_rest(client: TestClient) -> None:
    page = unescape(client.get("/fresh").text)
    assert "<h1>What is still alive</h1>" in page
    assert "34 of 40 offers can be used" in page
    assert 'href="/fresh" aria-current="page">Freshness' in page
    for state, count in (
        ("expired", 1),
        ("expires before the meeting", 3),
        ("arrives too late", 2),
    ):
        assert re.search(rf'{state}</span> <span class="chip-value">{count}<', page)
    assert "arrives too late" in page
    assert 'href="/fresh/requotes"' in page


def test_story_02_stands_in_the_table_of_winners(client: TestClient) -> None:
    page = client.get("/fresh").text
    assert "filling: Q06 at 2.318 USD/kg, Q07 at 2.354 USD/kg in its place" in page
    assert 'href="/compare/DN-1450/Q01/Q06"' in page
    basalt = client.get("/fresh.json").json()["winners"][0]
    assert (basalt["with_expired"], basalt["valid"], basalt["expired"]) == (
        "Q01/Q06",
        "Q01/Q07",
        "Q06",
    )
    assert basalt["difference"] == pytest.approx(basalt["valid_cost"] - basalt["with_expired_cost"])
    (place,) = basalt["places"]
    assert place["expired_price"] == pytest.approx(2.318, abs=5e-4)
    assert place["instead_price"] == pytest.approx(2.354, abs=5e-4)


def test_the_address_filters_sorts_and_moves_the_days(client: TestClient) -> None:
    def codes(query: str) -> list[str]:
        return [each["offer"] for each in client.get(f"/fresh.json?{query}").json()["offers"]]

    assert codes("state=arrives+too+late&sort=offer") == ["Q16", "Q37"]
    assert codes("supplier=Nilabagh+Spinning&sort=offer") == ["Q06", "Q19"]
    assert codes("country=Pakistan&spinning=ring") == ["Q27"]
    assert codes("q=marrow+7/1&sort=-offer") == ["Q15", "Q13"]
    assert codes("rates=old") == codes("questions=open") == []
    assert len(codes("rates=old&as_of=2026-03-12")) == 9  # MXN, EUR, PKR, BRL, CNY
    assert codes("sort=days_left")[:4] == ["Q06", "Q04", "Q17", "Q27"]
    assert codes("order=2026-03-31&state=open") == ["Q03"]
    page = client.get("/fresh?state=arrives+too+late").text
    assert ">Q16<" in page
    assert ">Q15<" not in page.partition('id="winners"')[0]


def test_the_csv_holds_the_days_and_the_ages_of_rates(client: TestClient) -> None:
    rows = rows_of(client, "/fresh.csv?sort=offer")
    assert len(rows) == 40
    late = rows[15]
    assert (late["Offer"], late["State"]) == ("Q16", "arrives too late")
    assert (late["Arrives"], late["Last order day"]) == ("2026-06-15", "2026-03-02")
    ages = [late[f"{name} [d]"] for name in ("Days left", "Age of freight", "Age of duty")]
    assert ages == ["15", "14", "60"]
    assert rows[4]["Age of exchange rate [d]"] == ""  # in cents of the reporting currency
    assert rows[5]["Age of exchange rate [d]"] == "0"


@pytest.mark.parametrize(
    "query",
    ["order=2026-02-30", "order=2026-03-01", "meeting=x", "need_by=2026-01-01", "days=x",
     "language=xx"],
)  # fmt: skip
def test_a_wrong_day_is_refused_with_what_to_do(client: TestClient, query: str) -> None:
    path = "/fresh/requotes" if query.startswith(("days", "language")) else "/fresh"
    for suffix in ("", ".json", ".csv"):
        answer = client.get(f"{path}{suffix}?{query}")
        assert answer.status_code == 422, suffix
    assert client.get("/fresh/requotes?supplier=Nobody").status_code == 404


def test_home_leads_to_what_ends_and_to_what_was_received(
    client: TestClient, house_engine: Engine
) -> None:
    page = client.get("/").text
    assert "Q06 Nilabagh Spinning: valid until 2026-02-20" in page
    assert "1 received and read, not stored yet" in page  # the morning's mail
    assert "All rates in use are recent." in page
    assert "No seller has left anything open." in page
    with writing(house_engine, 1) as session:
        file_id = add_file(session, "paste.txt", b"6/1 OE")
        add_intake(
            session, supplier="Nilabagh Spinning", file_id=file_id, kind="paste",
            received_on=DAY, state="read",
        )  # fmt: skip
    page = client.get("/").text
    assert '<a href="/intake">2 received and read, not stored yet</a>' in page


def _offer(client: TestClient, code: str, **changes: str) -> None:
    sent = {
        "code": code, "supplier": "Nilabagh Spinning", "as_quoted": f"{code} 6/1 OE",
        "price": "1.88", "currency": "USD", "price_unit": "kg", "term": "FOB",
        "payment": "LC sight", "lead_days": "20", "quoted_on": "2026-02-01",
        "valid_until": "2026-02-20", "count": "6",
        "count_system": "Ne", "spinning": "OE", "quoted_regain_percent": "8.5",
    } | changes  # fmt: skip
    answer = client.post("/offers/new", data=sent, follow_redirects=False)
    assert answer.status_code == 303, answer.text


def test_an_offer_with_open_questions_is_found_from_home(client: TestClient) -> None:
    _offer(client, "A1", valid_until="", payment="")
    home = client.get("/").text
    assert "A1 Nilabagh Spinning: The payment is not said." in home
    assert (
        client.get("/fresh.json?questions=open").json()["offers"][0]["state"] == "validity not said"
    )
    (asked,) = [e for e in client.get("/fresh/requotes.json").json() if "A1" in e["ask"]]
    assert "What are the payment terms?" in asked["text"]


def test_more_offers_send_no_more_statements_and_fill_pages(
    client: TestClient, house_engine: Engine
) -> None:
    sent: dict[tuple[str, int], int] = {}
    for upto in (30, 110):
        have = len(sent) and 30
        for number in range(have, upto):
            _offer(client, f"A{number}")
        for path in ("/", "/fresh", "/fresh/requotes"):
            client.get(path)  # the book is read and kept
            with counted(house_engine) as statements:
                client.get(path)
            sent[path, upto] = len(statements)
    for path in ("/", "/fresh", "/fresh/requotes"):
        assert sent[path, 30] == sent[path, 110]
    page = client.get("/fresh").text
    assert "1 to 100 of 150" in page
    assert "and 108 more" in client.get("/").text


def test_an_odd_offer_shows_question_figures_and_source(client: TestClient) -> None:
    page = unescape(client.get("/offers/Q21").text)
    assert "is below the fibre in it, 1.778 USD/kg" in page
    assert "Ask: which fibre and which quality is it spun from?" in page
    assert "Compared: goods, without tax 1.62 USD/kg; fibre in a kilogram of yarn 1.778" in page
    document = client.get("/offers/Q21.json").json()
    assert document["doubts"] == [
        "The price of 1.620 USD/kg is below the fibre in it, 1.778 USD/kg at the house's "
        "assumptions. Ask: which fibre and which quality is it spun from?"
    ]
    (full,) = document["doubts_in_full"]
    assert (full["key"], full["figures"][0]["unit"]) == ("below fibre", "USD/kg")
    last = rows_of(client, "/offers/Q21.csv")[-1]
    assert last["key"] == "doubt.below fibre"
    assert document["doubts"][0] == last["figure"]
    assert client.get("/offers/Q09.json").json()["doubts"] == []
    assert "Doubts" not in client.get("/offers/Q09").text
