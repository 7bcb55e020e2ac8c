"""Lists of the API a page at a time, by key, beside the whole list that older clients ask for."""

from __future__ import annotations

import re
from urllib.parse import parse_qs, urlsplit

import pytest
from sqlalchemy import Engine
from starlette.testclient import TestClient

from tests.many_offers import add_many
from tests.store.databases import EVERY_NOUN

OFFERS = "/api/v1/offers"


def test_pages_hold_every_record_once_and_in_the_order_of_the_whole_list(
    client: TestClient, house_engine: Engine
) -> None:
    add_many(house_engine, 60)
    whole = client.get(OFFERS).json()
    pages, address = [], f"{OFFERS}?limit=30"
    while address:
        answer = client.get(address)
        pages.append(answer.json())
        found = re.fullmatch(r'<([^>]+)>; rel="next"', answer.headers.get("link", ""))
        address = found[1] if found else ""
        if address:
            assert parse_qs(urlsplit(address).query)["limit"] == ["30"]
        if len(pages) == 1:
            add_many(house_engine, 5, seed=2)  # what is added stands at the end
    assert [len(page) for page in pages] == [30, 30, 30, 15]
    records = [record for page in pages for record in page]
    assert records[:100] == whole
    assert len({record["key"] for record in records}) == 105


@pytest.mark.parametrize("path", EVERY_NOUN)
def test_every_noun_has_pages(client: TestClient, path: str) -> None:
    whole = client.get(f"/api/v1/{path}").json()
    first = client.get(f"/api/v1/{path}?limit=1")
    assert first.json() == whole[:1]
    assert ("link" in first.headers) == (len(whole) > 1)


def test_the_whole_list_is_read_a_piece_at_a_time(
    client: TestClient, house_engine: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    add_many(house_engine, 30)
    whole = client.get(OFFERS).json()
    monkeypatch.setattr("server.actions.records.PIECE", 7)
    assert client.get(OFFERS).json() == whole
    assert len(whole) == 70


@pytest.mark.parametrize("query", ["limit=0", "limit=501", "limit=x", "after=-1", "after=x",
                                   "after=99999999999999999999"])  # fmt: skip
def test_a_page_that_cannot_be_is_refused(client: TestClient, query: str) -> None:
    answer = client.get(f"{OFFERS}?{query}")
    assert answer.status_code == 422
    assert answer.json()["field"] == query.partition("=")[0]


def test_behind_the_last_record_there_is_nothing(client: TestClient) -> None:
    answer = client.get(f"{OFFERS}?after=1000000")
    assert (answer.json(), answer.headers.get("link")) == ([], None)
