"""Accepting and withdrawing findings through the actions, on the demonstration."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy import Engine

from server.actions.compare import BasisChange, compare_construction
from server.actions.nouns import Refused
from server.actions.overrides import accept_finding, gate_of, withdraw_override
from server.core.errors import NotFound
from tests.entered import counts

REASON = "Chain of custody seen at the gin in February"
AS_IT_IS = BasisChange({}, {})


def accept(engine: Engine, code: str, **given: str) -> int:
    return accept_finding(
        engine, code, {"about": "origin file", "reason": REASON, **given}, person_id=1
    )


def state_of(engine: Engine, code: str) -> str:
    comparison = compare_construction(engine, "DN-1375", AS_IT_IS)
    return next(c.standing.state for c in comparison.warp.candidates if c.offer.code == code)


def test_an_accepted_offer_is_ranked_and_a_withdrawn_one_is_not(house_engine: Engine) -> None:
    assert state_of(house_engine, "Q11") == "unproven"
    number = accept(house_engine, "Q11")
    assert state_of(house_engine, "Q11") == "possible"
    (decision,) = gate_of(house_engine, "Q11", AS_IT_IS).offer.overrides
    assert (decision.id, decision.person) == (number, "Rosalía Quintero")
    withdraw_override(house_engine, "Q11", number, 1)
    assert state_of(house_engine, "Q11") == "unproven"


@pytest.mark.parametrize(
    ("given", "field", "told"),
    [
        ({"reason": "because"}, "reason", "at least 10"),
        ({"reason": "          "}, "reason", "is needed"),
        ({"about": "validity"}, "about", "quoted again"),
        ({"about": "question: currency"}, "about", "seller's answer"),
        ({"about": "tenacity"}, "about", "neither fails nor is unknown"),
        ({"about": "<b>"}, "about", "must not contain"),
        ({"about": ""}, "about", "is needed"),
        ({"role": "weft"}, "role", "must be"),
        ({"until": "2026-02-01"}, "until", "would never hold"),
        ({"until": "soon"}, "until", "not a day of the calendar"),
        ({"person": "somebody else"}, "person", "not a column"),
    ],
)
def test_a_decision_that_cannot_be_is_refused_beside_its_field(
    house_engine: Engine, given: dict[str, Any], field: str, told: str
) -> None:
    seen = counts(house_engine)
    with pytest.raises(Refused) as refused:
        accept(house_engine, "Q11", **given)
    (error,) = refused.value.errors
    assert error.field == field
    assert told in error.message
    assert counts(house_engine) == seen


def test_a_decision_needs_an_offer(house_engine: Engine) -> None:
    with pytest.raises(NotFound):
        accept(house_engine, "Q99")
    with pytest.raises(NotFound):
        withdraw_override(house_engine, "Q11", 1, 1)


def test_a_decision_made_twice_is_refused(house_engine: Engine) -> None:
    accept(house_engine, "Q11", role="filling")
    with pytest.raises(Refused, match="already"):
        accept(house_engine, "Q11", role="filling")


def test_a_re_quote_starts_without_the_decision(house_engine: Engine) -> None:
    from server.actions.nouns import NOUNS
    from server.actions.records import add_record, one_record

    accept(house_engine, "Q11")
    old = one_record(house_engine, NOUNS["offers"], "Q11")
    again = {**old.values, "code": "Q11B", "replaces": "Q11", "price": "2.30"}
    add_record(house_engine, NOUNS["offers"], again, 1)
    assert gate_of(house_engine, "Q11B", AS_IT_IS).offer.overrides == ()
    assert state_of(house_engine, "Q11B") == "unproven"
