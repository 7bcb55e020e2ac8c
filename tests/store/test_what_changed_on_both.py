"""What changed, on each database: the same digits, and who touched the records."""

from __future__ import annotations

import pytest
from sqlalchemy import Engine

from server.actions.compare import BasisChange, compare_construction
from server.actions.what_changed import AskedChanges, changes_of
from server.core.walk import CLOTH, PRICE, PROCESS
from tests.web.meetings import BOTH, a_week_later, frozen_pack


def cost_of(engine: Engine, code: str) -> float:
    """What a finished metre of the leader costs now, as the comparison has it."""
    leader = compare_construction(engine, code, BasisChange({}, {})).leader
    assert leader is not None
    return leader.figures["fabric_cost"]


def test_what_changed_until_today_with_who_did_it(demo: Engine) -> None:
    reference, was = frozen_pack(demo, "First talk", BOTH), cost_of(demo, "DN-1375")
    a_week_later(demo)
    changes = changes_of(demo, reference, AskedChanges("today"))
    walks = {each.cloth.code: walked for each, walked in changes.found.walked}
    walk = walks["DN-1375"]
    amounts = {cause: amount for cause, amount in walk.amounts.items() if amount}
    assert [*amounts] == [PRICE, CLOTH, PROCESS]
    assert sum(amounts.values()) == pytest.approx(walk.difference, rel=1e-12)
    assert walk.difference == pytest.approx(cost_of(demo, "DN-1375") - was, rel=1e-12)
    assert {where: each.entered for where, each in changes.touched.items() if "Q61" in where} == {
        "/offers/Q61": True
    }
    assert changes.touched["/constructions/DN-1375"].person == "Rosalía Quintero"


def test_two_packs_as_they_are_kept(demo: Engine) -> None:
    """Both are read back from the database; held against each other nothing is computed anew."""
    first = frozen_pack(demo, "First talk", BOTH)
    a_week_later(demo)
    second = frozen_pack(demo, "Second talk", BOTH)
    until_today = changes_of(demo, first, AskedChanges("today")).found
    between = changes_of(demo, second, AskedChanges(first)).found
    assert [walked.amounts for _, walked in between.walked] == [
        walked.amounts for _, walked in until_today.walked
    ]
