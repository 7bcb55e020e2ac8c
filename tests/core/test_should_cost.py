"""Should-cost by route, worked out by hand arithmetic beside the sheet."""

from __future__ import annotations

import math

import pytest

from server.core.errors import Missing
from server.core.should_cost import NO_STAGE, PUBLISHED_BANDS, ROUTES, STAGES, should_cost_of
from tests.builders import assumption_set

TEX_NE = 0.45359237e6 / (840 * 0.9144)
RING = {
    "ring__fibre_price": 1.78,
    "ring__realisation": 0.88,
    "ring__waste_credit": 0.04,
    "ring__preparation": 0.16,
    "ring__roving": 0.07,
    "ring__position_hour": 0.0115,
    "ring__twist_multiplier": 4.3,
    "ring__spindle_rpm": 9200.0,
    "ring__ring_diameter": 45.0,
    "ring__efficiency": 0.92,
    "ring__winding": 0.075,
    "ring__packing": 0.03,
    "ring__overhead_rate": 0.06,
}
ROTOR = {
    "OE__fibre_price": 1.6,
    "OE__realisation": 0.9,
    "OE__waste_credit": 0.035,
    "OE__preparation": 0.15,
    "OE__position_hour": 0.065,
    "OE__twist_multiplier": 4.6,
    "OE__rotor_rpm": 72_000.0,
    "OE__take_up_limit": 200.0,
    "OE__efficiency": 0.94,
    "OE__packing": 0.03,
    "OE__overhead_rate": 0.06,
}
AIR_JET = {
    "air_jet__fibre_price": 1.72,
    "air_jet__realisation": 0.87,
    "air_jet__waste_credit": 0.04,
    "air_jet__preparation": 0.19,
    "air_jet__position_hour": 0.21,
    "air_jet__delivery": 380.0,
    "air_jet__efficiency": 0.92,
    "air_jet__packing": 0.03,
    "air_jet__overhead_rate": 0.06,
}
PARTS = {
    "ring__position_price": 120.0,
    "ring__position_salvage": 12.0,
    "ring__position_life": 10.0,
    "ring__interest": 0.08,
    "ring__hours_per_year": 8000.0,
    "ring__position_power": 0.035,
    "ring__power_tariff": 0.09,
    "ring__wage": 4.0,
    "ring__operatives_per_position": 0.0004,
    "ring__maintenance": 0.0006,
}


def test_ring_yarn_is_the_sum_of_its_stages() -> None:
    figures = should_cost_of("ring", 7.0, assumption_set(**RING)).figures()
    twist = 4.3 * math.sqrt(7) / 0.0254
    output = 9200 / twist * (TEX_NE / 7) * 60 / 1000 * 0.92
    spinning = 0.0115 / output * 1000
    stages = 0.16 + 0.07 + spinning + 0.075 + 0.03
    assert figures["output"] == pytest.approx(output, rel=1e-13)
    assert figures["output"] == pytest.approx(95.65, abs=0.005)
    assert figures["fibre"] == pytest.approx(1.78 / 0.88 - 0.04, rel=1e-13)
    assert figures["conversion"] == pytest.approx(stages * 1.06, rel=1e-13)
    assert figures["should_cost"] == pytest.approx(1.78 / 0.88 - 0.04 + stages * 1.06, rel=1e-13)
    assert figures["traveller_speed"] == pytest.approx(math.pi * 0.045 * 9200 / 60, rel=1e-13)
    assert "price" not in figures


def test_rotor_yarn_has_no_roving_and_no_winding() -> None:
    rotor = should_cost_of("OE", 7.0, assumption_set(**ROTOR))
    figures = rotor.figures()
    output = 72_000 / (4.6 * math.sqrt(7) / 0.0254) * (TEX_NE / 7) * 60 / 1000 * 0.94
    assert figures["output"] == pytest.approx(output, rel=1e-13)
    assert figures["output"] == pytest.approx(714.97, abs=0.005)
    assert rotor.stages == ("fibre", "preparation", "spinning", "packing", "overhead")
    assert rotor.inputs[NO_STAGE].value == 0
    stages = 0.15 + 0.065 / output * 1000 + 0.03
    assert figures["conversion"] == pytest.approx(stages * 1.06, rel=1e-13)


def test_a_rotor_delivers_no_more_than_the_take_up_allows() -> None:
    slow = should_cost_of("OE", 4.0, assumption_set(**ROTOR | {"OE__take_up_limit": 150.0}))
    free = should_cost_of("OE", 4.0, assumption_set(**ROTOR | {"OE__take_up_limit": 1000.0}))
    assert slow.figures()["delivery_speed"] == 150.0
    assert free.figures()["delivery_speed"] == pytest.approx(72_000 / (4.6 * 2 / 0.0254))
    assert slow.figures()["should_cost"] > free.figures()["should_cost"]


def test_air_jet_delivery_is_as_set() -> None:
    air_jet = should_cost_of("air-jet", 10.0, assumption_set(**AIR_JET))
    figures = air_jet.figures()
    assert figures["delivery_speed"] == 380.0
    output = 380 * TEX_NE / 10 * 60 / 1000 * 0.92
    assert figures["spinning"] == pytest.approx(0.21 / output * 1000, rel=1e-13)
    assert "turns_per_metre" not in figures
    assert air_jet.stages == ("fibre", "preparation", "spinning", "packing", "overhead")


def test_a_position_hour_may_come_from_its_parts() -> None:
    figures = should_cost_of("ring", 7.0, assumption_set(**RING | PARTS)).figures()
    recovery = 0.08 * 1.08**10 / (1.08**10 - 1)
    capital = ((120 - 12) * recovery + 12 * 0.08) / 8000
    hour = capital + 0.035 * 0.09 + 4.0 * 0.0004 + 0.0006
    assert figures["position_hour"] == pytest.approx(hour, rel=1e-13)
    assert figures["spinning"] == pytest.approx(hour / figures["output"] * 1000, rel=1e-13)


@pytest.mark.parametrize("absent", list(PARTS))
def test_parts_count_only_when_all_are_there(absent: str) -> None:
    some = {key: value for key, value in PARTS.items() if key != absent}
    figures = should_cost_of("ring", 7.0, assumption_set(**RING | some)).figures()
    assert figures["position_hour"] == 0.0115


def test_a_fair_margin_makes_a_price() -> None:
    figures = should_cost_of(
        "ring", 7.0, assumption_set(**RING, ring__margin_on_price=0.1)
    ).figures()
    assert figures["price"] == pytest.approx(figures["should_cost"] / 0.9, rel=1e-13)


@pytest.mark.parametrize("absent", [key for key in RING if key != "ring__position_hour"])
def test_a_missing_assumption_is_named(absent: str) -> None:
    some = {key: value for key, value in RING.items() if key != absent}
    with pytest.raises(Missing) as missing:
        should_cost_of("ring", 7.0, assumption_set(**some))
    assert missing.value.field == absent.replace("__", ".")


def test_every_route_names_its_stages_in_order() -> None:
    for route in ROUTES:
        stages = should_cost_of(route, 8.0, assumption_set(**RING, **ROTOR, **AIR_JET)).stages
        assert stages[0] == "fibre"
        assert stages[-1] == "overhead"
        assert [stage for stage in STAGES if stage in stages] == list(stages)


def test_published_bands_state_lowest_mean_and_highest_with_their_source() -> None:
    for route, _ne, low, mean, high, source in PUBLISHED_BANDS:
        assert route in ROUTES
        assert low < mean < high
        assert source


@pytest.mark.parametrize("parts", [{}, PARTS])
@pytest.mark.parametrize(
    ("route", "assumed"), [("ring", RING), ("OE", ROTOR), ("air-jet", AIR_JET)]
)
def test_the_factors_sum_to_the_should_cost(
    route: str, assumed: dict[str, float], parts: dict[str, float]
) -> None:
    own = {key.replace("ring__", f"{route.replace('-', '_')}__"): v for key, v in parts.items()}
    found = should_cost_of(route, 8.0, assumption_set(**assumed | own))
    figures = {name: entry.value for name, entry in found.inputs.items()} | found.figures()
    split = [figures[key] for key, _ in found.factors]
    assert sum(split) == pytest.approx(figures["should_cost"], rel=1e-13)
    labels = [label for _, label in found.factors]
    assert len(set(labels)) == len(labels)
    assert ("Spinning, not split" in labels) == (not parts)
