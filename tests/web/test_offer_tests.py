"""Test values of an offer, lot by lot, through the pages and the API."""

from __future__ import annotations

import html
import json
import re
from typing import Any

import httpx
import pytest
from starlette.testclient import TestClient

from tests.store.test_attachments import PDF

NEW = {"property": "tenacity", "value": "10.20", "method": "our laboratory", "lot": "L-9",
       "tested_on": "2026-03-01"}  # fmt: skip


def text_of(answer: httpx.Response) -> str:
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", answer.text)))


def post(client: TestClient, **changes: str) -> Any:
    return client.post("/offers/Q01/tests", data={**NEW, **changes}, follow_redirects=False)


def test_all_lots_stand_on_the_page_and_the_newest_dated_one_counts(client: TestClient) -> None:
    assert post(client).status_code == 303
    told = text_of(client.get("/offers/Q01"))
    assert "Tenacity 10.20 cN/tex counts our laboratory L-9 2026-03-01" in told
    assert "Tenacity 14.6 cN/tex older supplier's sheet – not dated" in told
    assert "tenacity (empty) → 10.20" in told


def test_the_gate_takes_the_value_that_counts(client: TestClient) -> None:
    """Q01 is the cheapest warp of DN-1450 until a lot of it breaks too easily for the warp."""
    before = client.get("/compare/DN-1450.json").json()["leader"]["pair"]
    assert before.startswith("Q01/")
    post(client)
    after = client.get("/compare/DN-1450.json").json()["leader"]["pair"]
    assert not after.startswith("Q01/")


def test_a_value_names_the_file_it_was_read_in(client: TestClient) -> None:
    client.post("/offers/Q01/files", data={"kind": "TDS"}, files={"file": ("lot 9.pdf", PDF)})
    assert post(client, attachment_id="1").status_code == 303
    page = client.get("/offers/Q01")
    assert '<a href="/offers/Q01/files/1">lot 9.pdf</a>' in page.text
    assert post(client, lot="L-10", attachment_id="7").status_code == 422


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"property": "colour"}, "must be one of: average_ne"),
        ({"property": ""}, "must be one of: average_ne"),
        ({"value": ""}, "is needed; enter it in cN/tex"),
        ({"value": "strong"}, "must be a number"),
        ({"value": "0"}, "must be greater than 0"),
        ({"value": "1,4"}, "decimal point"),
        ({"tested_on": "2026-02-30"}, "is not a day of the calendar"),
        ({"lot": "x" * 81}, "at most 80 characters"),
        ({"attachment_id": "x"}, "must be the number of a file"),
        ({"method": "<b>"}, "must not contain <"),
    ],
)
def test_a_faulty_value_is_answered_and_kept_in_the_form(
    client: TestClient, changes: dict[str, str], told: str
) -> None:
    answer = post(client, **changes)
    assert answer.status_code == 422
    assert told in text_of(answer)
    assert "L-9" in answer.text or "lot" in changes
    assert len(client.get("/api/v1/offers/Q01/tests").json()) == 5


def test_an_unusual_value_is_kept_with_a_doubt(client: TestClient) -> None:
    post(client, value="60")
    assert "unusual: 8 to 25 cN/tex is common" in text_of(client.get("/offers/Q01/tests"))


def test_the_same_lot_twice_is_refused(client: TestClient) -> None:
    post(client)
    again = post(client, value="11")
    assert (again.status_code, "same method, lot and day" in text_of(again)) == (422, True)


def test_a_removed_value_lets_the_older_one_count(client: TestClient) -> None:
    post(client)
    tests = client.get("/api/v1/offers/Q01/tests").json()
    number = next(each["id"] for each in tests if each["lot"] == "L-9")
    client.post(f"/offers/Q01/tests/{number}/remove")
    assert client.get("/offers/Q01.json").json()["offer"]["tenacity"] == "14.6"
    assert client.post(f"/offers/Q02/tests/{tests[0]['id']}/remove").status_code == 404


def test_the_api_lists_adds_and_removes_with_every_digit(client: TestClient) -> None:
    added = client.post("/api/v1/offers/Q01/tests", json=NEW)
    assert added.status_code == 201
    assert added.json() | {"id": 0} == {
        "id": 0, **NEW, "unit": "cN/tex", "attachment_id": None, "file": "", "counts": True,
    }  # fmt: skip
    path = f"/api/v1/offers/Q01/tests/{added.json()['id']}"
    assert client.delete(path).status_code == 204
    assert client.delete(path).status_code == 404
    for body in ({}, {**NEW, "value": [1]}, {**NEW, "colour": "x"}, {**NEW, "value": "nan"},
                 {**NEW, "attachment_id": True}, {**NEW, "lot": "\ud800"}):  # fmt: skip
        answer = client.post("/api/v1/offers/Q01/tests", content=json.dumps(body))
        assert answer.status_code == 422, body
    assert client.get("/api/v1/offers/none/tests").status_code == 404


def test_the_form_of_the_offer_edits_the_newest_lot(client: TestClient) -> None:
    post(client)
    form = client.get("/offers/Q01/edit").text
    assert 'name="test_lot" type="text" value="L-9"' in form
    assert 'value="10.20"' in form
