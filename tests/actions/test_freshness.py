"""Freshness of a stored house: days in the address, memory, refusals, what waits."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from sqlalchemy import Engine

from server.actions.compare import BasisChange, sound_basis_change
from server.actions.freshness import freshness, intakes_waiting, winners
from server.actions.nouns import NOUNS
from server.actions.records import add_record, one_record
from server.core.errors import BadValue
from server.store.intakes import add_file, add_intake
from server.store.session import writing
from tests.entered import as_form

STORED = BasisChange({}, {})


def requoted(engine: Engine, code: str, new: str, person: int = 1, **changes: Any) -> None:
    """A later offer that replaces one, with a few fields changed."""
    kept = as_form(one_record(engine, NOUNS["offers"], code).values)
    add_record(engine, NOUNS["offers"], kept | {"code": new, "replaces": code} | changes, person)


def test_the_order_day_is_the_meeting_unless_it_is_said(house_engine: Engine) -> None:
    found = freshness(house_engine, STORED, {})
    assert found.order == date(2026, 3, 12)
    assert found.counts["open"] == 34
    later = freshness(house_engine, STORED, {"order": "2026-03-19"})
    assert later.counts["expires before the order"] == 17
    moved = freshness(house_engine, sound_basis_change({"meeting": "2026-03-19"}), {})
    assert moved.order == date(2026, 3, 19)
    assert [each.offer.code for each in found.ended] == ["Q06", "Q04", "Q17", "Q27"]


@pytest.mark.parametrize("order", ["x", "2026-02-30", "2026-03-01"])
def test_an_order_day_that_is_none_is_refused(house_engine: Engine, order: str) -> None:
    with pytest.raises(BadValue) as refused:
        freshness(house_engine, STORED, {"order": order})
    assert refused.value.field == "order"
    assert refused.value.remedy


def test_the_same_question_is_answered_from_memory_until_something_changes(
    house_engine: Engine,
) -> None:
    before, won = freshness(house_engine, STORED, {}), winners(house_engine, STORED)
    assert freshness(house_engine, STORED, {}) is before
    assert winners(house_engine, STORED) is won
    requoted(house_engine, "Q06", "Q06b", valid_until="2026-04-30", price="2350")
    after = freshness(house_engine, STORED, {})
    assert len(after.offers) == 40  # the replaced one is gone, the new one is there
    assert "Q06b" not in {each.offer.code for each in after.ended}
    basalt = winners(house_engine, STORED)[0].winner
    assert basalt is not None
    assert basalt.lost == ()
    assert basalt.valid is not None
    assert basalt.valid.key == "Q01/Q06b"


def test_a_construction_that_cannot_be_compared_says_why(house_engine: Engine) -> None:
    won = winners(house_engine, sound_basis_change({"rates_on": "2020-01-01"}))
    assert len(won) == 8
    assert all(each.winner is None or each.winner.valid is None for each in won)


def test_old_rates_are_those_in_use(house_engine: Engine) -> None:
    assert freshness(house_engine, STORED, {}).old_rates == ()
    late = freshness(house_engine, sound_basis_change({"as_of": "2026-03-12"}), {})
    assert {use.kind for use in late.old_rates} == {"exchange rate"}
    assert len(late.old_rates) == 5  # nobody quotes in rupees of India
    assert all(use.age_days == 10 for use in late.old_rates)


def test_an_intake_that_was_read_waits_until_it_is_stored(house_engine: Engine) -> None:
    assert intakes_waiting(house_engine) == 1  # the morning's mail of the demonstration
    with writing(house_engine, 1) as session:
        file_id = add_file(session, "paste.txt", b"6/1 OE 1.88 USD/kg FOB")
        for state in ("read", "read", "stored", "undone"):
            add_intake(
                session,
                supplier="Nilabagh Spinning",
                file_id=file_id,
                kind="paste",
                received_on=date(2026, 3, 2),
                state=state,
            )
    assert intakes_waiting(house_engine) == 3
