"""Changing several offers at once through the pages."""

from __future__ import annotations

import csv
import html
import io
import re

import httpx
import pytest
from starlette.testclient import TestClient

PATH = "/offers/edit-many"
THREE = "offer=Q01&offer=Q02&offer=Q05"


def text_of(answer: httpx.Response) -> str:
    bare = re.sub(r"<[^>]+>", " ", answer.text)
    return re.sub(r"\s+", " ", html.unescape(bare))


def hidden(answer: httpx.Response, form: str) -> dict[str, str]:
    """The hidden fields of the form that goes to an address."""
    body = next(
        part for part in answer.text.split("<form")[1:] if f'action="{form}' in part.split(">")[0]
    )
    found = re.findall(r'name="([^"]+)" value="([^"]*)"', body.split("</form")[0])
    return {name: html.unescape(value) for name, value in found}


def stored(client: TestClient, query: str) -> str:
    """Preview and store; gives the address of the page that tells of it."""
    seen = hidden(client.get(f"{PATH}/preview?{query}"), f"{PATH}/store")
    answer = client.post(f"{PATH}/store?{query}", data=seen, follow_redirects=False)
    assert answer.status_code == 303, text_of(answer)
    return str(answer.headers["location"])


def test_without_a_choice_the_page_says_where_to_choose(client: TestClient) -> None:
    told = text_of(client.get(PATH))
    assert "No offer is chosen" in told
    assert "Nobody has changed several offers at once yet." in told


def test_the_form_names_the_offers_and_only_fields_that_may_change(client: TestClient) -> None:
    page = client.get(f"{PATH}?{THREE}")
    assert "3 offers: Q01, Q02, Q05" in text_of(page)
    assert 'name="to_lead_days"' in page.text
    assert 'name="to_price"' not in page.text
    assert 'name="to_as_quoted"' not in page.text
    assert page.text.count('type="hidden" name="offer"') == 3
    assert "no change" in page.text


def test_previewed_stored_and_undone(client: TestClient) -> None:
    query = f"{THREE}&to_lead_days=44&to_currency=EUR"
    preview = client.get(f"{PATH}/preview?{query}")
    told = text_of(preview)
    assert "Of 3 offers: 3 changes in 3 offers; 3 refused, those stay as they are." in told
    assert "Lead time [d] 30 44" in told
    assert "kept as quoted; record a re-quote" in told
    assert client.get("/offers/Q01.json").json()["offer"]["lead_days"] == "30"
    done = stored(client, query)
    assert client.get("/offers/Q01.json").json()["offer"]["lead_days"] == "44"
    page = client.get(done)
    assert "3 offers changed by Rosalía Quintero" in text_of(page)
    assert done.replace("&", "&amp;") in client.get(PATH).text
    back = client.post(f"{PATH}/undo", data=hidden(page, f"{PATH}/undo"))
    assert "The whole change is taken back" in text_of(back)
    assert client.get("/offers/Q01.json").json()["offer"]["lead_days"] == "30"


def test_a_conflict_names_the_offer_and_shows_the_preview_of_now(client: TestClient) -> None:
    query = f"{THREE}&to_lead_days=44"
    seen = hidden(client.get(f"{PATH}/preview?{query}"), f"{PATH}/store")
    stored(client, "offer=Q05&to_notes=meanwhile")
    answer = client.post(f"{PATH}/store?{query}", data=seen)
    assert answer.status_code == 409
    assert "Somebody else changed offer Q05 since the preview" in text_of(answer)
    assert client.get("/offers/Q01.json").json()["offer"]["lead_days"] == "30"
    again = client.post(f"{PATH}/store?{query}", data=hidden(answer, f"{PATH}/store"))
    assert again.status_code == 200
    assert client.get("/offers/Q05.json").json()["offer"]["lead_days"] == "44"


def test_an_undo_that_would_lose_later_work_is_refused_with_reasons(client: TestClient) -> None:
    page = client.get(stored(client, f"{THREE}&to_lead_days=44"))
    stored(client, "offer=Q05&to_lead_days=45")
    answer = client.post(f"{PATH}/undo", data=hidden(page, f"{PATH}/undo"))
    assert answer.status_code == 409
    assert "offer Q05 was changed since" in text_of(answer)
    assert client.get("/offers/Q01.json").json()["offer"]["lead_days"] == "44"


def test_everything_the_filter_leaves_is_meant(client: TestClient) -> None:
    told = text_of(client.get(f"{PATH}?all=yes&spinning=air-jet"))
    assert "2 offers: Q32, Q33" in told
    lines = client.get(f"{PATH}/preview.json?all=yes&spinning=air-jet&to_lead_days=99").json()
    assert [line["offer"] for line in lines] == ["Q32", "Q33"]


def test_the_preview_is_taken_away_whole_and_shown_in_pages(client: TestClient) -> None:
    query = "all=yes&to_lead_days=99&to_notes=x&to_twist=S"
    rows = list(
        csv.DictReader(io.StringIO(client.get(f"{PATH}/preview.csv?{query}").text.lstrip("\ufeff")))
    )
    assert len(rows) > 100
    assert set(rows[0]) == {"offer", "field", "from", "to", "refused because"}
    first = client.get(f"{PATH}/preview?{query}")
    assert f"1 to 100 of {len(rows)}" in text_of(first)
    last = client.get(f"{PATH}/preview?{query}&page=9")
    assert f"to {len(rows)} of {len(rows)}" in text_of(last)


def test_the_refused_can_be_looked_at_alone(client: TestClient) -> None:
    told = text_of(
        client.get(f"{PATH}/preview?{THREE}&to_currency=EUR&to_lead_days=44&show=refused")
    )
    assert "3 lines of the preview" in told
    assert "Lead time [d]" not in told


@pytest.mark.parametrize("address", [f"{PATH}/preview", f"{PATH}/preview.csv"])
def test_a_wrong_value_comes_back_beside_its_field(client: TestClient, address: str) -> None:
    answer = client.get(f"{address}?{THREE}&to_lead_days=soon")
    assert answer.status_code == 422
    assert "must be a whole number" in html.unescape(answer.text)
    if address.endswith("preview"):
        assert 'name="to_lead_days" type="text"' in answer.text
        assert 'value="soon"' in answer.text


def test_nothing_filled_in_is_said(client: TestClient) -> None:
    answer = client.get(f"{PATH}/preview?{THREE}")
    assert answer.status_code == 422
    assert "fill in at least one field" in text_of(answer)


def test_an_unusual_value_is_pointed_out(client: TestClient) -> None:
    assert "unusual" in text_of(client.get(f"{PATH}/preview?{THREE}&to_moq_tonnes=900"))


@pytest.mark.parametrize(
    ("path", "form"),
    [
        ("store", {"to_lead_days": "4", "seen": "x"}),
        ("store", {"seen": "1.1"}),
        ("undo", {"moment": "yesterday", "person": "1"}),
        ("undo", {"moment": "0001-01-01T00:00:00+14:00", "person": "1"}),
        ("undo", {"moment": "2026-01-01T00:00:00+00:00", "person": "x"}),
    ],
)
def test_a_damaged_form_is_refused(client: TestClient, path: str, form: dict[str, str]) -> None:
    assert client.post(f"{PATH}/{path}", data=form).status_code == 422


def test_an_offer_cannot_be_named_like_the_page(client: TestClient) -> None:
    entry = client.get("/api/v1/offers/Q01").json()["entry"]
    answer = client.post("/api/v1/offers", json={**entry, "code": "edit-many"})
    assert answer.status_code == 422
