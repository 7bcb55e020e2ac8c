"""The negotiation sheet: page, JSON, CSV and API hold the same figures, all internal."""

from __future__ import annotations

import csv
import html
import io
import re
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import quote

import httpx
import pytest
from sqlalchemy import Engine
from starlette.testclient import TestClient

from server.actions.nouns import NOUNS
from server.actions.records import add_record, one_record
from server.app import create_app
from server.export.negotiation import COLUMNS
from server.settings import Settings
from tests.actions.test_price_history import requote

SELLER = "/suppliers/Marrow%20Creek%20Spinning"
SHEET = f"{SELLER}/negotiation"


def text_of(answer: httpx.Response) -> str:
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", answer.text)))


def add_like(engine: Engine, code: str, like: str = "Q05", **typed: str) -> None:
    entry = one_record(engine, NOUNS["offers"], like).values
    add_record(engine, NOUNS["offers"], {**entry, "code": code, **typed}, 1)


def test_the_sheet_shows_an_offer_from_its_words_to_the_price_to_beat(client: TestClient) -> None:
    page = client.get(SHEET)
    told = text_of(page)
    assert "Internal: not for the seller" in told
    assert "5 current offers of Marrow Creek Spinning. What can be used stands first." in told
    assert 'OE, carded; Ne 6/1; 112 USc/lb "FOB mill"' in told
    assert "Minimum order 10.0 t" in told
    assert "DN-1450 as filling possible Q01/Q05 ring slub/OE, 3.185 USD/m" in told
    assert "+0.100 97.10 −13.3 % on 112.00 the same" in told  # trade guide 7.13, story 8
    assert "Main carriage 0.174" in told
    assert "Should-cost, OE at Ne 6.00, before margin 2.015 USD/kg" in told
    assert "Target: quoted price that meets the should-cost 81.58 −27.2 % on 112.00" in told
    assert "50/50 polyester/cotton is not modelled, only cotton yarn without a core" in told
    assert "No earlier quote of this yarn" in told
    assert page.text.count('class="negotiation-offer"') == 5


def test_page_json_csv_and_api_hold_the_same_figures(client: TestClient) -> None:
    data = client.get(f"{SHEET}.json").json()
    assert data == client.get(f"/api/v1{SHEET}").json()
    assert data["internal"] == "Internal: not for the seller."
    rows = list(csv.DictReader(io.StringIO(client.get(f"{SHEET}.csv").text[1:])))
    assert len({column.titled("USD") for column in COLUMNS}) == len(COLUMNS)
    assert {row["For whom"] for row in rows} == {"Internal: not for the seller"}
    flat = [(o, p) for o in data["offers"] for p in o["prices_to_beat"]]
    assert len(rows) == len(flat)
    page = client.get(SHEET).text
    for row, (offer, price) in zip(rows, flat, strict=True):
        leader = price["against_leader"]
        assert row["Offer"] == offer["offer"]
        assert row["As"] == price["as"]
        assert float(row["Cost with it [USD/m]"]) == price["cost"]
        assert float(row["Price to beat, in the quoted unit"]) == leader["price_to_beat"]
        assert row["Unit of the quoted price"] == price["unit"] == "USc/lb"
        assert f"<b>{leader['price_to_beat']:.2f}</b>" in page
    gaps = {o["offer"]: o["held_to_cost"] for o in data["offers"]}
    assert gaps["Q32"] is None
    assert f"{gaps['Q05']['gap']:+.3f}" in page


def test_a_price_to_beat_is_that_of_the_break_evens(client: TestClient) -> None:
    data = client.get(f"{SHEET}.json?offer=Q05").json()
    (price,) = data["offers"][0]["prices_to_beat"]
    asked = {"first": price["against_leader"]["pair"], "second": price["pair"]}
    ties = client.get("/constructions/DN-1450/break-even.json", params=asked).json()["ties"]
    tie = next(each for each in ties if each["key"] == "quoted_price:Q05")
    assert tie["price_to_beat"] == pytest.approx(price["against_leader"]["price_to_beat"])
    assert tie["cost_of_both"] == pytest.approx(price["against_leader"]["cost_of_both_there"])


def test_every_figure_of_the_sheet_opens(client: TestClient) -> None:
    page = client.get(f"{SHEET}?currency=EUR")
    opened = {
        html.unescape(each) for each in re.findall(r'class="opens" href="([^"#]+)"', page.text)
    }
    assert len(opened) > 60
    assert all("currency=EUR" in each for each in opened)
    for each in sorted(opened):
        answer = client.get(each)
        assert answer.status_code == 200, each
        assert "EUR" in answer.text, each


def test_both_costs_at_a_price_to_beat_are_equal_and_opened(client: TestClient) -> None:
    page = client.get(f"{SHEET}/Q05/beat/DN-1450/filling/leader").text
    assert "Both cost 3.085 USD/m when Q05 is quoted at 97.10 USc/lb: −13.3 % on 112.00." in page
    sections = page.split('class="negotiation-opened"')[1:]
    tops = [re.search(r"<b>([\d.]+)</b>", each) for each in sections]
    assert [each and each[1] for each in tops] == [tops[0] and tops[0][1]] * 2
    assert "at the tie" in page
    assert "Internal: not for the seller" in page


def test_the_target_opens_to_the_should_cost(client: TestClient) -> None:
    page = text_of(client.get(f"{SHEET}/Q05/target"))
    assert "Same-basis price: offer Q05 at 81.58 USc/lb" in page
    assert "at the target" in page
    assert "today 112" in page


def test_earlier_quotes_say_how_the_price_went(client: TestClient, house_engine: Engine) -> None:
    requote(house_engine, "Q05", "Q05b", price="109", quoted_on="2026-03-01")
    told = text_of(client.get(f"{SHEET}?offer=Q05b"))
    assert "2026-02-26 Q05 112 USc/lb −2.7 2.681 −2.5" in told
    assert "All 2 quotes of this yarn" in told
    assert client.get(f"{SHEET}/Q05/offer.same_basis_price").status_code == 200


@pytest.mark.parametrize(
    ("path", "text"),
    [
        (f"{SHEET}?offer=Q07", "has no current offer “Q07”"),
        ("/suppliers/Nobody/negotiation", "There is no supplier “Nobody”"),
        (f"{SHEET}/Q05/beauty", "has no figure “beauty”"),
        (f"{SHEET}/Q05/beat/DN-1450/warp/leader", "has no price to beat as warp of DN-1450"),
        (f"{SHEET}/Q05/beat/DN-1450/filling/beauty", "no possible pair without this offer"),
    ],
)
def test_what_is_not_there_is_named(client: TestClient, path: str, text: str) -> None:
    answer = client.get(path)
    assert answer.status_code == 404
    assert text in html.unescape(answer.text)


def test_a_basis_that_cannot_be_is_said_beside_its_field(client: TestClient) -> None:
    for query, told in (
        ("currency=QQ", "is not a currency code"),
        ("need_by=2026-01-01", "is before the meeting"),
        ("quantity=metres", "needs the metres"),
    ):
        page = client.get(f"{SHEET}?{query}")
        assert page.status_code == 422
        assert told in page.text
        assert 'aria-invalid="true"' in page.text
        assert client.get(f"{SHEET}.json?{query}").status_code == 422
        assert client.get(f"/api/v1{SHEET}?{query}").status_code == 422


def test_a_supplier_without_offers_has_nothing_to_negotiate(
    client: TestClient, house_engine: Engine
) -> None:
    add_record(house_engine, NOUNS["suppliers"], {"name": "A/B Thread", "country": "Farland"}, 1)
    path = "/suppliers/A%2FB%20Thread/negotiation"
    page = client.get(path)
    assert "has no current offer, so there is nothing to negotiate yet" in page.text
    assert "Paste or upload its offers" in page.text
    assert client.get(f"{path}.json").json()["offers"] == []
    assert len(client.get(f"{path}.csv").text.splitlines()) == 1


def test_all_offers_expired_is_said_before_anything_else(client: TestClient) -> None:
    page = client.get("/suppliers/Darmeena%20Textile/negotiation")
    told = text_of(page)
    assert "Every offer expired before the meeting on 2026-03-12: ask for new quotations" in told
    assert "/fresh/requotes?supplier=Darmeena+Textile" in page.text
    assert "would lead if it were possible" not in told
    assert "What is your price for this yarn today, valid until 2026-03-12 at least?" in told


def test_an_unpriced_offer_says_what_is_missing(client: TestClient, house_engine: Engine) -> None:
    add_like(house_engine, "Q90", payment="", currency="")
    told = text_of(client.get(f"{SHEET}?offer=Q90"))
    assert "112 ?/lb" in told
    assert "Not landed yet: The currency is not said." in told
    assert "In which currency is the price?" in told
    assert "Enter the answers about Q90" in told


def test_a_yarn_nobody_wants_says_so(client: TestClient, house_engine: Engine) -> None:
    add_like(house_engine, "Q91", count="30")
    told = text_of(client.get(f"{SHEET}?offer=Q91"))
    assert "No construction wants this yarn" in told
    assert "None of these offers is a candidate anywhere" in told


def test_a_leader_that_expired_is_not_called_the_leader(client: TestClient) -> None:
    told = text_of(client.get("/suppliers/Qinghetun%20Effect%20Yarn/negotiation?offer=Q04"))
    assert "would lead if it were possible" in told


def test_many_offers_come_a_dozen_at_a_time(client: TestClient, house_engine: Engine) -> None:
    for number in range(20):
        add_like(house_engine, f"M{number:02}", "Q15", price=f"{100 + number}")
    page = client.get(SHEET)
    assert "Offers 1 to 12 of 25" in page.text
    assert page.text.count('class="negotiation-offer"') == 12
    last = client.get(f"{SHEET}?page=3").text
    assert "Offers 25 to 25 of 25" in last
    assert len(client.get(f"{SHEET}.json").json()["offers"]) == 25


def test_the_ways_to_the_sheet(client: TestClient) -> None:
    assert f'href="{SHEET}"' in client.get(SELLER).text
    assert f'href="{SHEET}"' in client.get("/suppliers").text
    assert f'href="{SHEET}?offer=Q05"' in client.get("/offers/Q05").text
    asked = client.get("/fresh/requotes").text
    assert 'href="/suppliers/Darmeena%20Textile/negotiation"' in asked
    back = client.get(f"{SHEET}?offer=Q05")
    assert "One of 5 current offers" in back.text
    assert ">All its offers</a>" in back.text


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[TestClient]:
    app = create_app(Settings(database_url=f"sqlite:///{tmp_path / 'new.sqlite'}"))
    with TestClient(app) as visitor:
        yield visitor


def test_before_there_is_a_basis_the_words_and_questions_stand(empty: TestClient) -> None:
    name = "Vayuna Cotton Spinners"
    for path, fields in (
        ("/suppliers", {"name": name, "country": "India"}),
        ("/offers", {
            "code": "V1", "supplier": name, "as_quoted": "7/1 OE 2.10 USD/kg FOB", "price": "2.10",
            "currency": "USD", "price_unit": "kg", "term": "FOB", "payment": "LC sight",
            "quoted_on": "2026-02-20", "count": "7", "count_system": "Ne", "spinning": "OE",
        }),
    ):  # fmt: skip
        assert empty.post(f"{path}/new", data=fields, follow_redirects=False).status_code == 303
    page = empty.get(f"/suppliers/{quote(name)}/negotiation")
    told = text_of(page)
    assert page.status_code == 200
    assert "There is no basis yet" in told
    assert "7/1 OE 2.10 USD/kg FOB" in told
    assert "How many days pass" in told or "lead time" in told.casefold()
    data = empty.get(f"/suppliers/{quote(name)}/negotiation.json").json()
    assert data["basis"] is None
    assert data["offers"][0]["held_to_cost"] is None
    assert empty.get(f"/suppliers/{quote(name)}/negotiation.csv").status_code == 200
    assert empty.get(f"/suppliers/{quote(name)}/negotiation/V1/gap").status_code == 404


def test_another_basis_by_its_name_holds_for_every_page_that_opens(
    client: TestClient, house_engine: Engine
) -> None:
    entry = one_record(house_engine, NOUNS["bases"], "Aldercote meeting").values
    other = {**entry, "name": "In euros", "currency": "EUR"}
    add_record(house_engine, NOUNS["bases"], other, 1)
    query = {"basis": "In euros", "offer": "Q05"}
    (sheet,) = client.get(f"{SHEET}.json", params=query).json()["offers"]
    offer = client.get("/offers/Q05.json", params={"basis": "In euros"}).json()
    assert sheet["landed"] == offer["figures"]
    assert "EUR" in client.get("/offers/Q05", params={"basis": "In euros"}).text
    assert "Landed cost, EUR/kg" in client.get(
        "/charts/offers/Q05/landed.svg", params={"basis": "In euros"}
    ).text.replace("&#160;", " ")
