"""A bridge has no rest: its steps sum to the difference, and every changed input has a cause."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings

from server.core.bridge import Cause, bridge
from server.core.change import CAUSES
from server.core.costing import Costing
from tests.builders import construction
from tests.core.costings import costing, costings, yarn_of

often = settings(max_examples=200, deadline=None)
FIGURES = ("fabric_cost", "ounces", "loom_output", "fabric_per_area")


@often
@given(before=costings(), after=costings())
def test_the_steps_sum_to_the_difference(before: Costing, after: Costing) -> None:
    for figure in FIGURES:
        walk = bridge(after.fabric, figure, before.fabric_values, after.fabric_values, CAUSES)
        assert walk.before == pytest.approx(before.figures[figure], rel=1e-14)
        assert walk.after == pytest.approx(after.figures[figure], rel=1e-14)
        together = sum(step.amount for step in walk.steps)
        assert together == pytest.approx(walk.after - walk.before, rel=1e-10, abs=1e-12)
        running = [walk.before, *(step.total for step in walk.steps)]
        assert running[-1] == walk.after


@often
@given(before=costings(), after=costings())
def test_every_changed_input_stands_in_one_step_and_no_other_does(
    before: Costing, after: Costing
) -> None:
    walk = bridge(after.fabric, "fabric_cost", before.fabric_values, after.fabric_values, CAUSES)
    told = [name for step in walk.steps for name in step.inputs]
    changed = {
        name
        for name in after.fabric.input_names
        if before.fabric_values[name].value != after.fabric_values[name].value
    }
    assert sorted(told) == sorted(changed)


def two() -> tuple[Costing, Costing]:
    before = costing(construction(), yarn_of(7.0, "W"), yarn_of(7.0, "F"))
    cloth = replace(before.construction, loom_ppi=38.0, net_finish=0.05)
    return before, replace(before, construction=cloth)


def test_nothing_changed_is_a_bridge_without_steps() -> None:
    before, _ = two()
    walk = bridge(before.fabric, "fabric_cost", before.fabric_values, before.fabric_values, CAUSES)
    assert walk.steps == ()
    assert walk.before == walk.after


def test_causes_come_in_the_stated_order_and_the_unnamed_by_their_label() -> None:
    before, after = two()
    walk = bridge(after.fabric, "ounces", before.fabric_values, after.fabric_values, CAUSES)
    assert [step.label for step in walk.steps] == ["Picks", "Net finish on yarn mass"]


def test_the_common_part_of_two_causes_falls_to_the_later_one() -> None:
    before, after = two()
    picks, finish = Cause("Picks", ("loom_ppi",)), Cause("Finish", ("net_finish",))
    first, second = (
        bridge(after.fabric, "ounces", before.fabric_values, after.fabric_values, order)
        for order in ((picks, finish), (finish, picks))
    )
    moved = {step.label: step.amount for step in first.steps}
    other = {step.label: step.amount for step in second.steps}
    assert moved["Picks"] != other["Picks"]
    assert sum(moved.values()) == pytest.approx(sum(other.values()), rel=1e-12)
