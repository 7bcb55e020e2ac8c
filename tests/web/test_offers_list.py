"""The page of offers: its address says all of it, and everything works without a script."""

from __future__ import annotations

import csv
import io
import json
import re
from html import unescape
from urllib.parse import parse_qsl, urlsplit

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import Engine
from starlette.datastructures import QueryParams
from starlette.testclient import TestClient

from server.actions.book import current_book
from server.actions.nouns import NOUNS
from server.actions.offer_list import SORTS, Place
from server.actions.records import add_record, one_record
from server.export.csv_file import as_tsv
from server.store.audit import recent
from server.store.session import reading
from server.web.offer_address import OfferAddress, read_address
from server.web.offer_columns import OFFER_COLUMNS
from tests.list_addresses import VALUES, WANTED, statements
from tests.many_offers import add_many

KEYS = [column.key for column in OFFER_COLUMNS]
ADDRESSES = st.builds(
    OfferAddress,
    wanted=WANTED,
    columns=st.lists(st.sampled_from(KEYS[1:]), max_size=6, unique=True).map(
        lambda names: ("offer", *names) if names else ()
    ),
    carried=st.sampled_from(
        ((), (("currency", "EUR"), ("units", "metric")), (("meeting", "2026-03-19"),))
    ),
)


@given(ADDRESSES, st.data())
def test_an_address_is_read_back_from_what_it_writes(
    address: OfferAddress, data: st.DataObject
) -> None:
    sort = SORTS[address.wanted.sort]
    place = Place(data.draw(VALUES[sort.kind]), data.draw(st.integers(0, 10**8)))
    for each in (address, address.behind(place), address.ahead_of(place)):
        query = urlsplit(each.href()).query
        again = read_address(QueryParams(query))
        assert again == each
        assert again.href() == each.href()


def codes_of(page: str) -> list[str]:
    """Codes of the rows, in order."""
    return re.findall(r'name="offer" value="([^"]+)"', page)


def link(page: str, words: str) -> str:
    """Where a link leads."""
    found = re.search(rf'<a[^>]*href="([^"]+)"[^>]*>{re.escape(words)}</a>', page)
    assert found, words
    return unescape(found[1])


def test_the_pages_lead_from_one_to_the_next_and_back(
    client: TestClient, house_engine: Engine
) -> None:
    add_many(house_engine, 200)
    pages, address = [], "/offers?sort=-landed_price&q=m0"
    for summary in ("1 to 100 of 200", "101 to 200 of 200"):
        pages.append(client.get(address).text)
        assert summary in pages[-1]
        address = link(pages[-1], "Next") if "Next</a>" in pages[-1] else ""
    assert address == ""
    seen = [*codes_of(pages[0]), *codes_of(pages[1])]
    assert len(seen) == len(set(seen)) == 200
    back = client.get(link(pages[1], "Previous")).text
    assert codes_of(back) == codes_of(pages[0])
    assert "Previous</a>" not in back
    listed = [each["offer"] for each in client.get("/offers.json?sort=-landed_price&q=m0").json()]
    assert listed == seen


def test_a_heading_sorts_up_and_then_down_and_keeps_the_filters(client: TestClient) -> None:
    page = client.get("/offers?spinning=ring&after=q05~5").text
    up = link(page, "Landed")
    assert dict(parse_qsl(urlsplit(up).query)) == {"spinning": "ring", "sort": "landed_price"}
    sorted_ = client.get(up).text
    assert 'aria-sort="ascending"' in sorted_
    assert link(sorted_, "Landed").endswith("sort=-landed_price")
    assert codes_of(client.get(link(sorted_, "Landed")).text)[:-1] != codes_of(sorted_)[:-1]


def test_page_json_csv_and_text_hold_the_same_offers(client: TestClient) -> None:
    query = "?state=open&sort=valid_until&country=India"
    codes = codes_of(client.get(f"/offers{query}").text)
    assert len(codes) > 3
    assert [each["offer"] for each in client.get(f"/offers.json{query}").json()] == codes
    answer = client.get(f"/offers.csv{query}")
    assert answer.headers["content-disposition"] == "attachment; filename*=UTF-8''offers.csv"
    rows = list(csv.DictReader(io.StringIO(answer.text.removeprefix("\ufeff"))))
    assert [row["Offer"] for row in rows] == codes
    assert "Why unproven" in rows[0]
    lines = client.get(f"/offers.tsv{query}").text.splitlines()
    assert [line.split("\t")[0] for line in lines] == ["Offer", *codes]


def test_what_is_taken_away_has_the_columns_of_the_address(client: TestClient) -> None:
    query = "?columns=offer,lead_days,questions"
    assert client.get(f"/offers.json{query}").json()[0] == {
        "offer": "Q01", "lead_days": 30, "questions": 0
    }  # fmt: skip
    assert client.get(f"/offers.csv{query}").text.splitlines()[0] == (
        "\ufeffOffer,Lead time [d],Questions open"
    )


def test_long_tables_are_written_a_piece_at_a_time(
    client: TestClient, house_engine: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    add_many(house_engine, 90)
    whole = client.get("/offers.csv").text, client.get("/offers.json").text
    monkeypatch.setattr("server.actions.offer_list.PIECE", 25)
    monkeypatch.setattr("server.export.csv_file.PIECE", 7)
    assert (client.get("/offers.csv").text, client.get("/offers.json").text) == whole
    assert len(json.loads(whole[1])) == 130
    assert whole[0].count("\ufeff") == 1


def test_a_cell_that_a_spreadsheet_would_run_is_guarded(
    client: TestClient, house_engine: Engine
) -> None:
    given = one_record(house_engine, NOUNS["offers"], "Q01").values
    add_record(house_engine, NOUNS["offers"], {**given, "code": "=1+1"}, 1)
    line = next(
        line for line in client.get("/offers.tsv?q=%3D1").text.splitlines() if "=1+1" in line
    )
    assert line.startswith("'=1+1\t")
    assert line.count("\t") == len(KEYS) - 1
    assert as_tsv(["A"], [["x\ty\nz"], [None], [1.5]]) == "A\nx y z\n\n1.5\n"


def test_the_chosen_columns_stand_in_the_address_and_are_kept_for_the_person(
    client: TestClient, house_engine: Engine
) -> None:
    page = client.get("/offers").text
    assert page.count('scope="col"') == len(KEYS)
    few = client.get("/offers?column=offer&column=landed_price&column=supplier&q=Q0")
    assert few.text.count('scope="col"') == 3
    assert 'name="columns" value="offer,landed_price,supplier"' in few.text
    sent = {"page": "offers", "columns": "offer,landed_price,supplier", "query": "q=Q0"}
    answer = client.post("/saved-views/columns", data=sent, follow_redirects=False)
    assert answer.headers["location"] == "/offers?q=Q0&notice=changed"
    assert client.get("/offers").text.count('scope="col"') == 3
    assert client.get("/offers?columns=offer,state").text.count('scope="col"') == 2
    assert client.get("/offers.tsv").text.splitlines()[0] == "Offer\tLanded [USD/kg]\tSupplier"
    with reading(house_engine) as session:
        told = recent(session, ("column_choice",))[0].changes
    assert ("columns", None, "offer,landed_price,supplier") in told
    client.post("/saved-views/columns", data={"page": "offers"})
    assert client.get("/offers").text.count('scope="col"') == len(KEYS)


def test_a_view_is_saved_opened_renamed_and_removed(
    client: TestClient, house_engine: Engine
) -> None:
    page = client.get("/offers?spinning=ring&sort=-landed_price&columns=offer,landed_price").text
    query = unescape(re.findall(r'name="query" value="([^"]*)"', page)[-1])
    sent = {"page": "offers", "name": "Ring,  dearest first", "query": query}
    answer = client.post("/saved-views", data=sent, follow_redirects=False)
    assert answer.status_code == 303
    opened = client.get("/offers").text
    view = link(opened, "Ring, dearest first")
    assert dict(parse_qsl(urlsplit(view).query)) == {
        "spinning": "ring", "sort": "-landed_price", "columns": "offer,landed_price"
    }  # fmt: skip
    assert 'aria-current="true">Ring, dearest first' in client.get(view).text
    assert codes_of(client.get(view).text) == codes_of(page)
    assert client.post("/saved-views", data=sent).status_code == 422  # the name is taken
    manage = client.get("/saved-views").text
    action = re.findall(r'action="(/saved-views/\d+)"', manage)[0]
    renamed = client.post(action, data={"name": "Ring yarns", "version": "1"})
    assert "Ring yarns" in renamed.text
    assert client.post(action, data={"name": "Late", "version": "1"}).status_code == 409
    assert client.post(action, data={"name": "Late", "version": "x"}).status_code == 422
    gone = client.post(f"{action}/remove")
    assert "No view is saved yet" in gone.text
    assert client.post(f"{action}/remove").status_code == 404
    with reading(house_engine) as session:
        actions = [change.action for change in recent(session, ("saved_view",))]
    assert actions == ["remove", "change", "add"]


def test_a_saved_view_keeps_only_what_the_list_knows_and_begins_at_its_first_page(
    client: TestClient,
) -> None:
    sent = {"page": "offers", "name": "Mine", "query": "q=a&bogus=1&after=q05~5&currency=EUR"}
    client.post("/saved-views", data=sent)
    assert link(client.get("/offers").text, "Mine") == "/offers?q=a&currency=EUR"


@pytest.mark.parametrize(
    "wrong",
    [
        {"name": ""},
        {"name": "   "},
        {"name": "x" * 81},
        {"name": "<b>"},
        {"page": "elsewhere"},
        {"query": "sort=bogus"},
        {"query": "q=" + "x" * 300},
        {},
    ],
)
def test_a_view_that_cannot_be_right_is_not_saved(
    client: TestClient, wrong: dict[str, str]
) -> None:
    given = {"page": "offers", "name": "Good", "query": "q=a"}
    sent = {**given, **wrong} if wrong else {}
    assert client.post("/saved-views", data=sent).status_code == 422
    assert "No view is saved yet" in client.get("/saved-views").text


@pytest.mark.parametrize(
    "query",
    [
        "sort=bogus", "state=bogus", "columns=bogus", "after=bogus", "before=x~y", "intake=x",
        "quoted_from=2026-13-01", "q=" + "x" * 201, "currency=dollars", "meeting=x",
    ],
)  # fmt: skip
def test_an_address_that_cannot_be_right_says_so(client: TestClient, query: str) -> None:
    for ending in ("", ".json", ".csv", ".tsv"):
        answer = client.get(f"/offers{ending}?{query}")
        assert answer.status_code == 422, ending
    told = client.get(f"/offers.json?{query}").json()
    assert told["message"].endswith(".")
    assert told["field"] == query.partition("=")[0]


@pytest.mark.parametrize("query", ["q=%00", "supplier=%00", "q=%ff", "country=%F0%9F%98%80", "x=1"])
def test_an_odd_address_has_an_answer(client: TestClient, query: str) -> None:
    assert client.get(f"/offers?{query}").status_code == 200


def test_no_offer_one_offer_and_long_names(client: TestClient, house_engine: Engine) -> None:
    none = client.get("/offers?q=zzzz").text
    assert "No offer matches. Clear the filters" in none
    assert "0 offers" in none
    one = client.get("/offers?q=Q05").text
    assert "1 offer<" in one
    assert "all that match (1)" in one
    name = "Hilatura " * 22
    add_record(house_engine, NOUNS["suppliers"], {"name": name, "country": "Mexico"}, 1)
    given = one_record(house_engine, NOUNS["offers"], "Q01").values
    add_record(
        house_engine, NOUNS["offers"], {**given, "code": "L" * 40, "supplier": name.strip()}, 1
    )
    page = client.get("/offers", params={"supplier": name.strip()}).text
    assert codes_of(page) == ["L" * 40]


def test_an_unproven_offer_shows_the_first_open_question_and_how_many_there_are(
    client: TestClient, house_engine: Engine
) -> None:
    given = one_record(house_engine, NOUNS["offers"], "Q01").values
    left_out = {"code": "U1", "currency": "", "lead_days": None, "as_quoted": "only a number"}
    add_record(house_engine, NOUNS["offers"], {**given, **left_out}, 1)
    page = client.get("/offers?state=unproven").text
    assert codes_of(page) == ["U1"]
    assert "<small>The currency is not said. Ask: in which currency is the price?</small>" in page
    assert link(page, "2") == "/offers/U1/questions"


def test_several_offers_are_chosen_by_boxes_or_all_that_match(client: TestClient) -> None:
    page = client.get("/offers?spinning=ring&currency=EUR&columns=offer&sort=-offer").text
    form = page[page.index('<form id="several"') :]
    form = form[: form.index("</form>")]
    assert 'method="get" action="/offers/edit-many"' in form
    assert 'formaction="/offers/side-by-side">Side by side</button>' in form
    hidden = re.findall(r'type="hidden" name="([^"]+)" value="([^"]+)"', form)
    assert hidden == [("spinning", "ring"), ("currency", "EUR")]
    assert 'name="all" value="yes"' in form
    assert page.count('form="several"') == len(codes_of(page))


def test_the_keys_are_listed_on_the_page(client: TestClient) -> None:
    page = client.get("/offers").text
    keys = page[page.index('id="keys"') :]
    for key in ("j", "k", "Enter", "x", "/", "?"):
        assert f"<kbd>{key}</kbd>" in keys


def test_the_page_reads_no_book_and_few_statements(
    client: TestClient, house_engine: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    def never(*_given: object) -> None:
        raise AssertionError("the whole book is read")

    add_many(house_engine, 300)
    client.get("/offers")
    monkeypatch.setattr("server.store.book.load_book", never)
    monkeypatch.setattr("server.actions.book.load_book", never)
    add_many(house_engine, 1)
    assert client.get("/offers").status_code == 200
    for query in ("", "?sort=-landed_price&q=ring&state=open", "?after=q30~30", "?before=q30~30"):
        with statements(house_engine) as seen:
            assert client.get(f"/offers{query}").status_code == 200
        assert len(seen) <= 10, query
    monkeypatch.undo()
    assert len(current_book(house_engine).offers) == 341
