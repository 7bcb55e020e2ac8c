"""What-ifs and scenarios through the API: the numbers of the pages; refusals with their field."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy import Engine
from starlette.testclient import TestClient

from tests.entered import counts

WHAT_IF = "/api/v1/should-cost/what-if"
SCENARIOS = "/api/v1/scenarios"


def test_a_what_if_has_the_numbers_of_the_page(client: TestClient) -> None:
    body = {"ne": "7", "change": {"OE.rotor_rpm": "80000", "every.fibre_price": "+5%"}}
    answer = client.post(WHAT_IF, json=body).json()
    page = client.get("/should-cost.json?ne=7&OE.rotor_rpm=80000&every.fibre_price=%2B5%25").json()
    assert {name: page[name] for name in answer} == answer
    assert answer["routes"]["OE"]["should_cost"] != answer["stored"]["OE"]["should_cost"]


def test_a_scenario_is_stored_and_compared(client: TestClient) -> None:
    body = {
        "of": "Rinconada 2026", "name": "Fast", "change": {"OE.rotor_rpm": "80000"},
        "source": "trial", "notes": "first try",
    }  # fmt: skip
    made = client.post(SCENARIOS, json=body)
    assert made.status_code == 201
    entries = [each["entry"] for each in client.get("/api/v1/assumptions").json()]
    assert made.json()["values"] == sum(e["set_name"] == "Rinconada 2026" for e in entries)
    assert [each["value"] for each in made.json()["changed"]] == ["80000"] * 4
    assert made.json()["notes"].endswith("first try")
    query = {"first": "Rinconada 2026", "second": "Fast", "construction": "DN-1375"}
    found = client.get(SCENARIOS, params=query).json()
    assert found == client.get("/scenarios.json", params=query).json()
    assert len(found["values_apart"]) == 4
    assert len(found["combinations"]) == 13
    assert client.post(SCENARIOS, json=body).status_code == 422


@pytest.mark.parametrize(
    ("path", "body", "field", "status"),
    [
        (WHAT_IF, {"ne": "x"}, "ne", 422),
        (WHAT_IF, {"to_ne": "2"}, "to_ne", 422),
        (WHAT_IF, {"change": {"OE.rotor_rpm": "fast"}}, "OE.rotor_rpm", 422),
        (WHAT_IF, {"change": {"fabric.loom_rpm": "600"}}, "fabric.loom_rpm", 422),
        (WHAT_IF, {"set": "none"}, "assumption set", 404),
        (SCENARIOS, {"of": "none", "name": "x"}, "assumption set", 404),
        (SCENARIOS, {"of": "Rinconada 2026", "name": "Rinconada 2026"}, "name", 422),
        (SCENARIOS, {"of": "Rinconada 2026", "name": "x", "change": {"every.wage": "5"}},
         "every.wage", 422),
        (SCENARIOS, {"of": "Rinconada 2026"}, "name", 422),
    ],
)  # fmt: skip
def test_a_refusal_names_its_field_and_stores_nothing(
    client: TestClient, house_engine: Engine, path: str, body: dict[str, Any], field: str,
    status: int,
) -> None:  # fmt: skip
    before = counts(house_engine)
    answer = client.post(path, json=body)
    assert answer.status_code == status
    assert answer.json()["field"] == field
    assert counts(house_engine) == before
