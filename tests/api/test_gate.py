"""The gate of an offer, decisions about it and what a rate would move, through the API."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy import Engine
from starlette.testclient import TestClient

from tests.entered import counts
from tests.store.databases import GIVEN

REASON = "Chain of custody seen at the gin in February"
DECISION = {"about": "origin file", "reason": REASON}


def test_a_decision_is_made_read_and_withdrawn(client: TestClient) -> None:
    before = client.get("/api/v1/offers/Q11/gate").json()
    assert before["open_to_decision"] == ["origin file"]
    assert before["roles"]["filling"]["state"] == "unproven"
    made = client.post("/api/v1/offers/Q11/gate", json=DECISION)
    assert made.status_code == 201
    number = made.json()["id"]
    after = client.get("/api/v1/offers/Q11/gate").json()
    assert after["roles"]["filling"]["state"] == "possible"
    (decision,) = after["decisions"]
    assert decision["id"] == number
    assert (decision["person"], decision["reason"]) == ("Rosalía Quintero", REASON)
    found = next(
        each for each in after["roles"]["filling"]["findings"] if each["about"] == "origin file"
    )
    assert (found["outcome"], found["was"]) == ("accepted", "unknown")
    assert REASON in found["accepted"]
    assert client.delete(f"/api/v1/offers/Q11/gate/{number}").status_code == 204
    assert client.get("/api/v1/offers/Q11/gate").json() == before
    assert client.delete(f"/api/v1/offers/Q11/gate/{number}").status_code == 404


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"reason": "no"}, "reason"),
        ({"about": "validity"}, "about"),
        ({"role": "weft"}, "role"),
        ({"until": "2020-01-01"}, "until"),
        ({"reason": None}, "reason"),
        ({"reason": ["x" * 20]}, "reason"),
    ],
)
def test_a_refused_decision_names_its_field(
    client: TestClient, house_engine: Engine, changed: dict[str, Any], field: str
) -> None:
    seen = counts(house_engine)
    answer = client.post("/api/v1/offers/Q11/gate", json=DECISION | changed)
    assert answer.status_code == 422
    (error,) = answer.json()["errors"]
    assert error["field"] == field
    assert error["message"]
    assert counts(house_engine) == seen


def test_the_gate_is_asked_on_another_basis(client: TestClient) -> None:
    late = client.get("/api/v1/offers/Q11/gate?meeting=2026-03-25").json()
    assert late["roles"]["filling"]["state"] == "impossible"
    assert client.get("/api/v1/offers/Q11/gate?meeting=soon").status_code == 422
    assert client.get("/api/v1/offers/none/gate").status_code == 404


@pytest.mark.parametrize("path", ["rates/exchange", "rates/lanes", "rates/duties", "rates/charges"])
def test_what_a_rate_would_move_is_answered_and_not_stored(
    client: TestClient, house_engine: Engine, path: str
) -> None:
    seen = counts(house_engine)
    answer = client.post(f"/api/v1/{path}/what-moves", json=GIVEN[path])
    assert answer.status_code == 200, answer.text
    document = answer.json()
    assert document["basis"] == "Aldercote meeting"
    assert len(document["moves"]) == 8
    assert counts(house_engine) == seen


def test_a_changed_rate_is_named_by_its_key(client: TestClient) -> None:
    peso = {"base": "USD", "quote": "MXN", "rate": "14", "valid_from": "2026-03-02", "source": "x"}
    document = client.post("/api/v1/rates/exchange/what-moves?key=2", json=peso).json()
    moves = {each["construction"]: each for each in document["moves"]}
    assert moves["DN-1375"]["largest"]["offer"] == "Q12"
    assert moves["DN-1375"]["offers_moved"] == 1
    assert document["units"]["largest"] == "USD/kg"
    url = "/api/v1/rates/exchange/what-moves"
    assert client.post(f"{url}?key=999", json=peso).status_code == 404
    assert client.post(f"{url}?basis=none", json=peso).status_code == 404
    faulty = client.post(url, json=peso | {"rate": "x"})
    assert faulty.status_code == 422
    assert faulty.json()["errors"][0]["field"] == "rate"
