"""What differs between two sets, value by value."""

from __future__ import annotations

from dataclasses import replace

import pytest

from server.core.scenarios import groups_apart, values_apart
from tests.core.test_count_range import changed, demo


def test_a_set_does_not_differ_from_itself_even_by_its_sources() -> None:
    ours = demo()
    theirs = replace(
        ours,
        values={
            key: tuple((ne, replace(entry, source="another")) for ne, entry in points)
            for key, points in ours.values.items()
        },
    )
    assert values_apart(ours, theirs) == ()


def test_values_that_differ_are_named_with_count_difference_and_share() -> None:
    ours = demo()
    theirs = changed(ours, ring__efficiency=0.94, fabric__loom_rpm=682)
    found = {each.kind.key: each for each in values_apart(ours, theirs)}
    assert set(found) == {"ring.efficiency", "fabric.loom_rpm"}
    assert found["ring.efficiency"].difference == pytest.approx(0.02)
    assert found["fabric.loom_rpm"].relative == pytest.approx(0.1)
    assert groups_apart(tuple(found.values())) == {"ring", "fabric"}


def test_a_count_only_one_set_has_stands_with_a_gap() -> None:
    ours = demo(OE__rotor_rpm=((6, 68_000), (7, 72_000)))
    theirs = demo(OE__rotor_rpm=((6, 68_000), (8, 76_000)))
    found = [(e.at_ne, e.first is None, e.second is None) for e in values_apart(ours, theirs)]
    assert found == [(7.0, False, True), (8.0, True, False)]
    assert all(each.difference is None for each in values_apart(ours, theirs))


def test_money_of_two_currencies_differs_and_is_not_subtracted() -> None:
    ours = demo()
    found = values_apart(replace(ours, currency="USD"), replace(ours, currency="MXN"))
    assert found
    assert all("¤" in each.kind.unit for each in found)
    assert all(each.difference is None and each.relative is None for each in found)


def test_nothing_is_divided_by_zero() -> None:
    ours = demo()
    (found,) = values_apart(ours, changed(ours, fabric__seconds_price_ratio=0.4))
    assert found.difference == 0.4
    assert found.relative is None
