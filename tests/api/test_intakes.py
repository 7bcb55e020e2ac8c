"""Offers over the API as they arrive: lines, a file, answers, store, undo."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import Engine

from server.actions.book import current_book
from tests.intake.making import xlsx
from tests.store.test_migrations import counts

API = "/api/v1/intakes"
LINE = (
    "Ne 8/1 OE Rs 2310/10 lbs FOB Karachi, LC sight, regain 8.5%, delivery 30 days, valid 10 days"
)


def pasted(client: TestClient, text: str = LINE, **changed: Any) -> dict[str, Any]:
    body = {"text": text, "received_on": "2026-03-02", "supplier": "Nilabagh Spinning"} | changed
    answer = client.post(API, json=body)
    assert answer.status_code == 201, answer.text
    made: dict[str, Any] = answer.json()
    return made


def test_a_line_is_read_answered_stored_and_taken_back(
    client: TestClient, house_engine: Engine
) -> None:
    made = pasted(client)
    assert made["state"] == "read"
    assert made["lines"] == {"accepted": 0, "asked": 1, "doubtful": 0, "faulty": 0}
    number = made["intake"]
    (line,) = client.get(f"{API}/{number}/lines").json()
    assert line["values"]["price"] == "2310"
    assert line["values"]["price_unit"] == "10 lb"
    assert "currency" not in line["values"]
    (question,) = line["questions"]
    assert {choice["value"] for choice in question["choices"]} == {"PKR", "INR", "LKR"}
    piece = next(each for each in line["pieces"] if each["field"] == "count")
    assert line["text"][piece["start"] : piece["end"]] == "Ne 8/1"

    answered = client.post(f"{API}/{number}/answers", json={"values": {"1": {"currency": "PKR"}}})
    assert answered.json()["lines"]["accepted"] == 1
    stored = client.post(f"{API}/{number}/store", json={})
    assert stored.json()["state"] == "stored"
    offer = current_book(house_engine).offer(f"I{number}-1")
    assert (offer.price_text, offer.open_questions) == ("2310 PKR/10 lb", ())
    assert client.post(f"{API}/{number}/undo").json()["state"] == "undone"
    assert client.get(f"/api/v1/offers/I{number}-1").status_code == 404


def test_a_file_comes_back_with_its_columns_proposed(client: TestClient) -> None:
    content = xlsx({"A": [["Count (Ne)", "Price USD/kg"], ["8/1", 1.9], ["10/1", "on request"]]})
    made = client.put(
        f"{API}/files/prices.xlsx",
        content=content,
        params={"received_on": "2026-03-02", "supplier": "Nilabagh Spinning"},
    )
    assert made.status_code == 201, made.text
    assert [each["field"] for each in made.json()["columns"]] == ["count", "price"]
    number = made.json()["intake"]
    settled = client.post(
        f"{API}/{number}/columns", json={"columns": {"0": "count", "1": "price"}}
    ).json()
    assert settled["lines"] == {"accepted": 0, "asked": 1, "doubtful": 0, "faulty": 1}
    refused = client.post(f"{API}/{number}/store", json={})
    assert refused.status_code == 422
    assert "1 line is no offer yet" in refused.text
    done = client.post(f"{API}/{number}/store", json={"leave_out_faulty": True})
    assert done.json()["state"] == "stored"


@pytest.mark.parametrize(
    ("method", "path", "body"),
    [
        ("post", "", {"text": "", "received_on": "2026-03-02"}),
        ("post", "", {"text": LINE, "received_on": "2026-02-30"}),
        ("post", "", {"text": LINE, "received_on": "2026-03-02", "supplier": "Nobody"}),
        ("post", "", {"text": LINE, "received_on": "2026-03-02", "colour": "blue"}),
        ("get", "/9999", None),
        ("get", "/0", None),
        ("post", "/9999/store", {}),
        ("post", "/9999/undo", None),
        ("post", "/9999/answers", {"values": {"1": {"price": "1"}}}),
        ("post", "/1/answers", {"decisions": {"1": "perhaps"}}),
        ("post", "/1/columns", {"columns": {"0": "price"}}),
    ],
)
def test_what_cannot_be_is_a_4xx_with_a_readable_body(
    client: TestClient, house_engine: Engine, method: str, path: str, body: Any
) -> None:
    before = counts(house_engine)
    answer = client.request(method, f"{API}{path}", json=body)
    assert 400 <= answer.status_code < 500, answer.text
    assert {"code", "message", "field", "value", "unit", "remedy"} <= set(answer.json())
    assert counts(house_engine) == before


def test_a_hostile_file_is_a_4xx_and_nothing_is_kept(
    client: TestClient, house_engine: Engine
) -> None:
    before = counts(house_engine)
    for content in (b"", b"%PDF-1.7", b"PK\x03\x04", bytes(range(256)) * 9, b"\0" * 99):
        answer = client.put(
            f"{API}/files/a.xlsx", content=content, params={"received_on": "2026-03-02"}
        )
        assert 400 <= answer.status_code < 500, answer.text
        assert answer.json()["message"]
    assert counts(house_engine) == before


def test_an_answer_that_is_no_value_makes_the_line_faulty_and_says_why(client: TestClient) -> None:
    number = pasted(client)["intake"]
    client.post(f"{API}/{number}/answers", json={"values": {"1": {"currency": "XXQ"}}})
    (line,) = client.get(f"{API}/{number}/lines", params={"outcome": "faulty"}).json()
    assert line["faults"][0]["field"] == "currency"
    assert "is not a currency code" in line["faults"][0]["message"]
