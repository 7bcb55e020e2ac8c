"""Routes over a range of counts: the scalar's bits, and crossings that are crossings."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from server.core.assumptions import KINDS, AssumptionSet
from server.core.count_range import CountRange, Curve, count_range, step_of
from server.core.errors import BadValue
from server.core.sheet import Input
from server.core.should_cost import ROUTES, should_cost_of
from tests.builders import demo_book

SETS = ("Rinconada 2026", "Rinconada 2026, hours in parts")
COUNTS = np.array([0.5, 3.99, 4, 6, 6.5, 6.75, 7, 8.5, 9.3, 10, 13.7, 14, 30, 200])


def changed(assumptions: AssumptionSet, **values: Any) -> AssumptionSet:
    """A set with values of our own: `OE__rotor_rpm=((6, 70000), (12, 90000))` or a number."""
    found = dict(assumptions.values)
    for name, value in values.items():
        key = name.replace("__", ".").replace("air_jet", "air-jet")
        points = value if isinstance(value, tuple) else ((None, value),)
        kind = KINDS[key]
        found[key] = tuple(
            (ne, Input(float(number), kind.label, kind.unit, "trial")) for ne, number in points
        )
    return replace(assumptions, values=found)


def demo(**values: Any) -> AssumptionSet:
    return changed(demo_book().assumption_set(SETS[0]), **values)


def curves(assumptions: AssumptionSet, routes: tuple[str, ...] = ROUTES) -> tuple[Curve, ...]:
    return tuple(Curve(should_cost_of(route, 7.0, assumptions), assumptions) for route in routes)


def over(assumptions: AssumptionSet, low: float = 4, high: float = 30) -> CountRange:
    return count_range(curves(assumptions), low, high, asked=7)


@pytest.mark.parametrize("name", SETS)
@pytest.mark.parametrize("route", ROUTES)
def test_an_array_of_counts_has_the_bits_of_each_count_alone(name: str, route: str) -> None:
    assumptions = demo_book().assumption_set(name)
    curve = Curve(should_cost_of(route, 7.0, assumptions), assumptions)
    figures = curve.figures(COUNTS)
    for place, ne in enumerate(COUNTS):
        alone = should_cost_of(route, float(ne), assumptions).figures()
        for key in curve.should.sheet.by_key:
            at = np.broadcast_to(figures[key], COUNTS.shape)[place]
            assert float(at) == alone[key], (key, ne)
        assert float(curve.cost(float(ne))) == alone["should_cost"]


@given(
    counts=st.lists(st.floats(0.5, 200), min_size=1, max_size=20),
    points=st.dictionaries(st.floats(1, 60), st.floats(1000, 200_000), min_size=1, max_size=6),
)
def test_a_value_over_counts_is_interpolated_as_for_one_count(
    counts: list[float], points: dict[float, float]
) -> None:
    assumptions = demo(OE__rotor_rpm=tuple(sorted(points.items())))
    counts += points  # and at the very counts it is entered at
    found = assumptions.values_at("OE.rotor_rpm", np.array(counts))
    assert [float(value) for value in found] == [
        assumptions.input("OE.rotor_rpm", ne=ne).value for ne in counts
    ]


def test_a_value_given_once_holds_at_every_count() -> None:
    found = demo(OE__rotor_rpm=80_000).values_at("OE.rotor_rpm", np.array([4.0, 30.0]))
    assert found.tolist() == [80_000, 80_000]


@pytest.mark.parametrize("name", SETS)
def test_rotor_beats_ring_everywhere_and_meets_air_jet_once(name: str) -> None:
    found = count_range(curves(demo_book().assumption_set(name)), 4, 30, asked=7)
    (crossing,) = found.crossings
    assert {crossing.first, crossing.second} == {"OE", "air-jet"}
    assert 28 < crossing.ne < 29
    assert (crossing.cheaper_below, crossing.cheaper_above) == ("OE", "air-jet")
    assert found.cheaper_of("ring", "OE") == "OE"
    assert [(each.route, each.low) for each in found.cheapest] == [
        ("OE", 4), ("air-jet", crossing.ne)
    ]  # fmt: skip
    assert found.cheapest[-1].high == 30


def test_the_crossing_is_where_hand_arithmetic_puts_it() -> None:
    """Beyond Ne 14 all speeds are held, so that rotor and air-jet are formulas of the count alone.

    Rotor: fibre 1.60/0.90 − 0.035; (0.15 + s + 0.03) × 1.06 with
    s = 0.065 ÷ (82,000 ÷ (4.6 √Ne ÷ 0.0254) × K ÷ Ne × 0.06 × 0.94) × 1000.
    Air-jet: fibre 1.72/0.87 − 0.040; (0.19 + a + 0.03) × 1.06 with
    a = 0.21 ÷ (420 × K ÷ Ne × 0.06 × 0.92) × 1000.
    """
    k = 590.5412367
    rotor = 0.065 * 1000 / (82_000 * 0.0254 / 4.6 * k * 0.06 * 0.94)  # times Ne^1.5
    jet = 0.21 * 1000 / (420 * k * 0.06 * 0.92)  # times Ne

    def apart(ne: float) -> float:
        fibre = (1.72 / 0.87 - 0.040) - (1.60 / 0.90 - 0.035)
        return fibre + 1.06 * (0.19 - 0.15 + jet * ne - rotor * math.pow(ne, 1.5))

    low, high = 14.0, 30.0
    while high - low > 1e-10:
        middle = (low + high) / 2
        low, high = (middle, high) if apart(middle) > 0 else (low, middle)
    (crossing,) = over(demo()).crossings
    assert crossing.ne == pytest.approx(low, abs=1e-6)


def test_bent_curves_meet_as_often_as_they_cross() -> None:
    """A rotor that is slow between Ne 10 and 12 alone is dearer than air-jet there alone."""
    bent = demo(OE__rotor_rpm=((9, 80_000), (10, 25_000), (12, 25_000), (13, 80_000)))
    found = over(bent, 4, 20)
    met = found.crossings_of("air-jet", "OE")
    assert len(met) == 2
    assert [each.cheaper_below for each in met] == ["OE", "air-jet"]
    assert [each.cheaper_above for each in met] == ["air-jet", "OE"]
    assert 9 < met[0].ne < 10
    assert 12 < met[1].ne < 13


def test_a_narrow_dip_between_two_counts_is_not_overlooked() -> None:
    dip = demo(
        OE__rotor_rpm=((4, 82_000), (20, 82_000), (20.02, 2_000), (20.04, 82_000), (30, 82_000))
    )
    met = over(dip).crossings_of("OE", "ring")
    assert len(met) == 2
    assert all(20 < each.ne < 20.04 for each in met)


@settings(max_examples=60, deadline=None)
@given(
    rotor=st.floats(20_000, 120_000),
    jet=st.floats(150, 500),
    tariff=st.floats(0.02, 0.6),
    bend=st.floats(5, 25),
    low=st.floats(1, 8),
    high=st.floats(12, 60),
)
def test_a_crossing_put_back_gives_zero_and_the_cheaper_is_the_cheaper(
    rotor: float, jet: float, tariff: float, bend: float, low: float, high: float
) -> None:
    assumptions = changed(
        demo_book().assumption_set(SETS[1]),
        OE__rotor_rpm=((4, rotor), (bend, rotor * 1.4)),
        air_jet__delivery=jet,
        OE__power_tariff=tariff,
    )
    found = over(assumptions, low, high)
    by_route = {curve.route: curve for curve in found.curves}
    for each in found.crossings:
        costs = [float(by_route[route].cost(each.ne)) for route in (each.first, each.second)]
        assert costs[0] == pytest.approx(costs[1], rel=1e-12)
        assert each.cost == costs[0]
        assert low < each.ne < high
    for stretch in found.cheapest:
        middle = (stretch.low + stretch.high) / 2
        costs_there = {route: float(curve.cost(middle)) for route, curve in by_route.items()}
        assert costs_there[stretch.route] == min(costs_there.values())
    assert found.cheapest[0].low == low
    assert found.cheapest[-1].high == high


@settings(max_examples=40, deadline=None)
@given(rotor=st.floats(20_000, 120_000), jet=st.floats(150, 500))
def test_between_two_crossings_no_sign_changes(rotor: float, jet: float) -> None:
    found = over(demo(OE__rotor_rpm=rotor, air_jet__delivery=jet))
    one, other = (curve for curve in found.curves if curve.route != "ring")
    edges = [found.low, *(each.ne for each in found.crossings_of("OE", "air-jet")), found.high]
    assume(all(b - a > 1e-6 for a, b in pairwise(edges)))
    for left, right in pairwise(edges):
        inner = np.linspace(left, right, 403)[1:-1]
        signs = np.sign(one.cost(inner) - other.cost(inner))
        assert len(set(signs.tolist()) - {0.0}) == 1


def test_routes_of_one_cost_meet_nowhere_and_none_is_cheaper() -> None:
    assumptions = demo()
    twin = curves(assumptions, ("OE",))[0]
    found = CountRange((twin, twin), 4, 30, 7)
    assert found.crossings == ()
    assert found.cheaper_of("OE", "OE") == ""


def test_shown_counts_hold_the_ends_the_one_asked_corners_and_crossings() -> None:
    found = count_range(curves(demo()), 4.2, 29.5, asked=7.25)
    shown = found.counts.tolist()
    assert shown == sorted(set(shown))
    assert {4.2, 29.5, 7.25, 6.5, 8.5, 14.0, 20.0} <= set(shown)
    assert found.crossings[0].ne in shown
    assert min(shown) == 4.2
    assert max(shown) == 29.5
    assert all(len(costs) == len(shown) for costs in found.costs.values())


@pytest.mark.parametrize(("low", "high"), [(4, 30), (0.5, 200), (7, 7.1), (3.3, 11.7)])
def test_a_table_of_counts_stays_short(low: float, high: float) -> None:
    assert 5 <= (high - low) / step_of(low, high) <= 31
    assert len(count_range(curves(demo()), low, high, asked=7).counts) <= 31 + 12


def test_speeds_are_entered_between_the_counts_all_of_them_have() -> None:
    spans = {curve.route: curve.entered_from_to() for curve in over(demo()).curves}
    assert spans == {"ring": (6.5, 10.0), "OE": (6.0, 10.0), "air-jet": (7.0, 14.0)}
    (rotor,) = curves(demo(OE__rotor_rpm=80_000), ("OE",))
    assert rotor.entered_from_to() == (0.0, math.inf)


@pytest.mark.parametrize(
    ("low", "high", "field"),
    [(0.4, 30, "from_ne"), (4, 201, "to_ne"), (9, 9, "to_ne"), (9, 4, "to_ne"), (9, 9.05, "to_ne")],
)
def test_a_range_that_is_none_is_refused_by_its_field(low: float, high: float, field: str) -> None:
    with pytest.raises(BadValue) as refused:
        over(demo(), low, high)
    assert refused.value.field == field
    assert refused.value.unit == "Ne"
