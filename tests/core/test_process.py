"""Doubts about a process, and what more of one input costs."""

from __future__ import annotations

import math

import pytest

from server.core.assumptions import KINDS
from server.core.process import doubt_of_value, doubts_of_machines, effects_of_more
from server.core.should_cost import ROUTES, ShouldCost, should_cost_of
from tests.builders import demo_book
from tests.core.test_count_range import SETS, changed, demo


def routes(**values: float) -> tuple[ShouldCost, ...]:
    return tuple(should_cost_of(route, 7.0, demo(**values)) for route in ROUTES)


@pytest.mark.parametrize(
    ("key", "usual"),
    [
        ("ring.twist_multiplier", (4.0, 4.6)),
        ("OE.twist_multiplier", (4.4, 5.0)),
        ("ring.spindle_rpm", (8_000, 11_000)),
        ("OE.rotor_rpm", (60_000, 90_000)),
    ],
)
def test_the_ranges_are_those_of_the_trade_guide(key: str, usual: tuple[float, float]) -> None:
    """Trade guide, section 4, common practice without a source."""
    kind = KINDS[key]
    assert kind.usual == usual
    assert doubt_of_value(kind, usual) == ""
    for value in (usual[0] * 0.99, usual[1] * 1.01):
        assert "common practice" in doubt_of_value(kind, [usual[0], value])


def test_a_value_without_a_range_raises_no_doubt() -> None:
    assert doubt_of_value(KINDS["ring.packing"], [99.0]) == ""


def test_the_demo_speeds_raise_no_doubt_at_ne_7() -> None:
    assert doubts_of_machines(routes()) == ()


def test_a_traveller_beyond_its_limit_is_named_with_its_speed() -> None:
    rpm = 45 / (math.pi * 0.045) * 60  # the traveller at 45 m/s on a 45 mm ring: 19,099 rpm
    assert not any("traveller" in d for d in doubts_of_machines(routes(ring__spindle_rpm=rpm - 1)))
    (doubt,) = [d for d in doubts_of_machines(routes(ring__spindle_rpm=rpm * 1.1)) if "Ring" in d]
    assert "49.5 m/s" in doubt
    assert "Rieter" in doubt


@pytest.mark.parametrize(("rpm", "said"), [(60_000, "6.1 times"), (95_000, "9.7 times")])
def test_a_rotor_too_slow_or_too_fast_for_the_spindle_is_named(rpm: float, said: str) -> None:
    (doubt,) = doubts_of_machines(routes(OE__rotor_rpm=rpm))
    assert said in doubt
    assert "no source" in doubt


def test_a_rotor_held_by_its_take_up_is_named() -> None:
    found = doubts_of_machines(routes(OE__take_up_limit=150.0))
    assert any("take-up limit of 150 m/min" in doubt for doubt in found)


def test_routes_alone_raise_no_doubt_about_their_ratio() -> None:
    ring, rotor, _ = routes(OE__rotor_rpm=60_000)
    assert doubts_of_machines([ring]) == ()
    assert doubts_of_machines([rotor]) == ()


def test_one_tenth_more_is_the_difference_of_two_evaluations() -> None:
    assumptions = demo_book().assumption_set(SETS[1])
    ring = should_cost_of("ring", 7.0, assumptions)
    before = ring.figures()["should_cost"]
    apart = {each.name: each.apart for each in effects_of_more(ring)}
    for name, key in (("wage", "ring__wage"), ("twist_multiplier", "ring__twist_multiplier")):
        value = float(ring.inputs[name].value)
        more = should_cost_of("ring", 7.0, changed(assumptions, **{key: value * 1.1}))
        assert apart[name] == pytest.approx(more.figures()["should_cost"] - before, abs=1e-14)
    assert apart["fibre_price"] == pytest.approx(0.178 / 0.88, abs=1e-14)
    assert apart["spindle_rpm"] < 0 < apart["power_tariff"]
    assert "position_hour" not in apart


def test_an_efficiency_reaches_all_of_the_hour_and_no_more() -> None:
    _, rotor, _ = routes(OE__efficiency=0.98)
    _, full, _ = routes(OE__efficiency=1.0)
    apart = {each.name: each.apart for each in effects_of_more(rotor)}
    whole = full.figures()["should_cost"] - rotor.figures()["should_cost"]
    assert apart["efficiency"] == pytest.approx(whole, abs=1e-14)
