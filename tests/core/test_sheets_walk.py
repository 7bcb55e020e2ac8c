"""A column of a variant walked on frozen sheets: the same steps as on records, where both can."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings

from server.core.given import Frozen
from server.core.pack import FrozenFormula
from server.core.walk import CLOTH, MIX, PRICE, Walk
from server.core.what_changed import WhatChanged, what_changed
from tests.core.days import ALONE, DAY, Day, days, two_fillings, warp


def as_variant(frozen: Frozen, **changes: Any) -> Frozen:
    """The cloths of a pack as if they were variants, for which no records are kept."""
    cloths = tuple(replace(each, variant="Finer", **changes) for each in frozen.pack.cloths)
    return replace(frozen, pack=replace(frozen.pack, cloths=cloths))


def found(before: Day, after: Day) -> WhatChanged:
    return what_changed(as_variant(before.frozen("2026-03-02")), as_variant(after.frozen()))


def walked(before: Day, after: Day) -> Walk:
    change = found(before, after).cloths[0]
    assert change.walk is not None, change.reason
    return change.walk


def on_records(before: Day, after: Day) -> Walk:
    change = what_changed(before.frozen(), after.frozen()).cloths[0]
    assert change.walk is not None, change.reason
    return change.walk


@pytest.mark.parametrize("about", ALONE)
def test_sheets_walk_as_records_do(about: str) -> None:
    cause, before, after = ALONE[about]
    walk = walked(before, after)
    assert walk.amounts == pytest.approx(on_records(before, after).amounts, rel=1e-9, abs=1e-13)
    assert [step.cause for step in walk.steps if step.amount] == [cause]


@settings(max_examples=120, deadline=None)
@given(before=days(), after=days())
def test_the_steps_of_any_two_days_sum_to_the_difference(before: Day, after: Day) -> None:
    walk = walked(before, after)
    total = sum(step.amount for step in walk.steps)
    assert total == pytest.approx(walk.difference, abs=1e-12 * abs(walk.before))
    assert walk.steps[-1].total == pytest.approx(walk.after, rel=1e-12)


def test_a_yarn_added_or_taken_away_belongs_to_the_construction() -> None:
    twofold = DAY.but(cloths=(two_fillings(),))
    for before, after in ((DAY, twofold), (twofold, DAY)):
        walk = walked(before, after)
        assert walk.amounts[CLOTH] == pytest.approx(walk.difference)
        assert walk.amounts == pytest.approx(on_records(before, after).amounts, abs=1e-12)


def test_a_requote_is_a_price_and_another_yarn_the_mix() -> None:
    dearer = warp("W9", price=Decimal("2.80"))
    requoted = DAY.with_offers(dearer).but(replaced=(("W1", "W9"),))
    walk = walked(DAY, requoted)
    assert walk.amounts[PRICE] == pytest.approx(walk.difference)
    other = walked(DAY, DAY.with_offers(warp("W2", price=Decimal("2.20"))))
    assert other.amounts[MIX] == pytest.approx(other.difference)
    mix = other.step(MIX)
    assert mix is not None
    assert mix.names == ("W2 in place of W1",)


def test_a_formula_that_is_gone_is_told_and_nothing_is_guessed() -> None:
    before = as_variant(DAY.frozen("2026-03-02"))
    pack = before.pack
    old = pack.formulas["yarn_cost"]
    lines = tuple(
        replace(line, formula="yarn_cost_of_old") if line.formula == "yarn_cost" else line
        for line in pack.lines
    )
    formulas: dict[str, FrozenFormula] = {**pack.formulas, "yarn_cost_of_old": old}
    older = replace(before, pack=replace(pack, lines=lines, formulas=formulas))
    change = what_changed(older, as_variant(DAY.frozen())).cloths[0]
    assert change.walk is None
    assert "is no longer what it was in 2026-03-02" in change.reason


def test_a_variant_is_shown_by_the_column_that_makes_its_changes() -> None:
    day = DAY.with_offers(warp("W2", price=Decimal("2.90"))).frozen()
    pack = day.pack
    stands, swapped = pack.cloths[0].pairs[:2]
    pairs = (replace(stands, key="before"), replace(swapped, key="swap"))
    cloth = replace(pack.cloths[0], variant="Finer", pairs=pairs)
    varied = replace(day, pack=replace(pack, cloths=(cloth,)))
    change = what_changed(varied, varied).cloths[0]
    assert change.before is not None
    assert change.before.pair is not None
    assert change.before.pair.key == "swap"


def test_a_variant_counts_in_the_season_only_in_place_of_its_construction() -> None:
    frozen = DAY.frozen()
    cloth = frozen.pack.cloths[0]
    both = replace(frozen.pack, cloths=(replace(cloth, variant="Finer"), cloth))
    together = what_changed(replace(frozen, pack=both), replace(frozen, pack=both)).totals
    assert (together.cloths, together.metres) == (1, 140_000.0)
    assert found(DAY, DAY).totals.cloths == 1
