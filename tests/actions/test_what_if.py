"""What people type into a what-if: numbers, changes, nonsense; and a figure worked out by hand."""

from __future__ import annotations

import math
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import Engine

from server.actions.should_cost import should_costs
from server.actions.what_if import NAMES, typed_what_if, used_keys, what_if
from server.core.errors import BadValue
from server.store.records import Kept
from tests.builders import DAY, demo_book
from tests.entered import counts

PARTS = "Rinconada 2026, hours in parts"


def cost(engine: Engine, route: str, set_name: str = "", **typed: str) -> float:
    named = {name.replace("__", ".").replace("air_jet", "air-jet"): t for name, t in typed.items()}
    costs = should_costs(engine, 7.0, set_name, named)
    assert costs.what_if.errors == {}
    return next(each for each in costs.routes if each.route == route).figures()["should_cost"]


def errors(engine: Engine, set_name: str = "", **typed: str) -> dict[str, str]:
    named = {name.replace("__", "."): text for name, text in typed.items()}
    return dict(should_costs(engine, 7.0, set_name, named).what_if.errors)


def test_a_rotor_at_80000_costs_what_hand_arithmetic_says(house_engine: Engine) -> None:
    """Ne 7, TM 4.6, 80,000 rpm, 94 %, 0.065 USD per rotor-hour; trade guide 7.11 for the rest.

    twist     4.6 × √7 ÷ 0.0254        = 479.15 turns/m
    delivery  80,000 ÷ 479.15          = 166.96 m/min
    output    166.96 × 84.363 tex × 60 ÷ 1000 × 0.94 = 794.42 g/h
    spinning  0.065 ÷ 794.42 × 1000    = 0.08182 USD/kg
    conversion (0.15 + 0.08182 + 0.03) × 1.06 = 0.27753 USD/kg
    fibre     1.60 ÷ 0.90 − 0.035      = 1.74278 USD/kg
    together                             2.02031 USD/kg, against 2.030 at 72,000 rpm
    """
    assert cost(house_engine, "OE", OE__rotor_rpm="80000") == pytest.approx(2.02031, abs=5e-6)
    assert round(cost(house_engine, "OE"), 3) == 2.030
    twist = 4.6 * math.sqrt(7) / 0.0254
    output = 80_000 / twist * (590.5412367 / 7) * 0.06 * 0.94
    by_hand = 1.60 / 0.90 - 0.035 + (0.15 + 65 / output + 0.03) * 1.06
    assert cost(house_engine, "OE", OE__rotor_rpm="80000") == pytest.approx(by_hand, rel=1e-9)


def test_a_change_moves_the_value_at_every_count_and_a_number_holds_it(
    house_engine: Engine,
) -> None:
    moved = should_costs(house_engine, 7.0, "", {"OE.rotor_rpm": "+10 %"})
    held = should_costs(house_engine, 7.0, "", {"OE.rotor_rpm": "79200"})
    points = moved.assumptions.values["OE.rotor_rpm"]
    assert [(ne, entry.value) for ne, entry in points] == [
        (6, 74_800), (7, 79_200), (8, 83_600), (10, 90_200)
    ]  # fmt: skip
    assert points[1][1].as_entered == "stored: 72000"
    assert points[1][1].source == "changed here, not stored"
    assert {entry.value for _, entry in held.assumptions.values["OE.rotor_rpm"]} == {79_200}
    at_7 = [each.routes[1].figures()["should_cost"] for each in (moved, held)]
    assert at_7[0] == at_7[1]


@pytest.mark.parametrize(
    ("text", "value"),
    [("+10%", "1.958"), ("-5 %", "1.691"), ("−5%", "1.691"), ("2", "2"), ("1.780", "1.78")],
)
def test_a_price_is_a_number_or_a_change(house_engine: Engine, text: str, value: str) -> None:
    costs = should_costs(house_engine, 7.0, "", {"ring.fibre_price": text})
    ring = costs.routes[0].inputs["fibre_price"]
    assert ring.value == float(value)
    assert bool(costs.what_if.changed) == (Decimal(value) != Decimal("1.78"))


def test_a_share_is_typed_in_percent(house_engine: Engine) -> None:
    for text in ("95", "95 %", "95%"):
        costs = should_costs(house_engine, 7.0, "", {"ring.efficiency": text})
        assert costs.routes[0].inputs["efficiency"].value == 0.95
        assert costs.routes[0].inputs["efficiency"].as_entered == "stored: 92 %"


def test_cotton_moves_every_route_by_a_change(house_engine: Engine) -> None:
    for route, price, realisation in (("ring", 1.78, 0.88), ("OE", 1.60, 0.90)):
        apart = cost(house_engine, route, every__fibre_price="+5%") - cost(house_engine, route)
        assert apart == pytest.approx(0.05 * price / realisation, rel=1e-9)


def test_one_price_for_all_is_refused_where_the_routes_hold_several(house_engine: Engine) -> None:
    told = errors(house_engine, every__fibre_price="1.9")["every.fibre_price"]
    assert "the routes hold 1.78, 1.60, 1.72" in told
    assert "+5 %" in told


def test_one_tariff_for_all_is_taken_where_they_hold_the_same(house_engine: Engine) -> None:
    costs = should_costs(house_engine, 7.0, PARTS, {"every.power_tariff": "0.22"})
    assert costs.what_if.errors == {}
    assert [each.inputs["power_tariff"].value for each in costs.routes] == [0.22] * 3
    for each in costs.routes:
        power = each.figures()["spinning_power"]
        assert power == pytest.approx(2 * costs.stored[each.route].figures()["spinning_power"])


def test_a_routes_own_field_counts_before_the_one_for_every_route(house_engine: Engine) -> None:
    costs = should_costs(house_engine, 7.0, PARTS, {"every.wage": "+10%", "OE.wage": "4.50"})
    wages = [each.inputs["wage"].value for each in costs.routes]
    assert wages == pytest.approx([4.62, 4.5, 4.62])


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("OE.rotor_rpm", "0", "at least 1000"),
        ("OE.rotor_rpm", "fast", "must be a number"),
        ("OE.rotor_rpm", "8,000", "decimal point"),
        ("OE.rotor_rpm", "1e999", "18 digits"),
        ("OE.rotor_rpm", "nan", "must be a"),
        ("OE.rotor_rpm", "-80000", "+10 %"),
        ("OE.rotor_rpm", "+80000", "+10 %"),
        ("OE.rotor_rpm", "10%", "with its sign"),
        ("OE.rotor_rpm", "-99%", "at least 1000"),
        ("OE.rotor_rpm", "+9999%", "at most 250000"),
        ("OE.rotor_rpm", "9" * 41, "too many characters"),
        ("ring.efficiency", "101", "at most 100 %"),
        ("ring.efficiency", "+2%", "two ways"),
        ("ring.realisation", "0", "at least 5"),
        ("ring.packing", "-0.1", "+10 %"),
        ("ring.capacity", "9", "moves nothing here"),
        ("every.wage", "5", "moves nothing here"),
        ("ring.position_price", "5", "moves nothing here"),
        ("air-jet.delivery", "<b>", "must be a number"),
    ],
)
def test_nonsense_is_named_and_left_out(
    house_engine: Engine, name: str, text: str, said: str
) -> None:
    before = counts(house_engine)
    costs = should_costs(house_engine, 7.0, "", {name: text})
    assert said in costs.what_if.errors[name]
    assert not costs.what_if.changed
    assert costs.routes[1].figures() == costs.stored["OE"].figures()
    with pytest.raises(BadValue) as refused:
        costs.what_if.refuse_errors()
    assert refused.value.field == name
    assert counts(house_engine) == before


def test_the_unusual_is_taken_with_a_doubt(house_engine: Engine) -> None:
    doubts = should_costs(
        house_engine, 7.0, "",
        {"ring.twist_multiplier": "5", "OE.rotor_rpm": "+10%", "ring.fibre_price": "1.9",
         "every.fibre_price": "+10%", "air-jet.delivery": "600"},
    ).what_if.doubts  # fmt: skip
    assert "4 to 4.6 αe is common practice" in doubts["ring.twist_multiplier"]
    assert "outside the range entered, 4.0 to 4.6" in doubts["ring.twist_multiplier"]
    assert "60,000 to 90,000 rpm" in doubts["OE.rotor_rpm"]  # 90,200 at Ne 10
    assert doubts["ring.fibre_price"] == "outside the range entered, 1.691 to 1.869"
    assert "outside the range entered of OE" in doubts["every.fibre_price"]
    assert "air-jet.delivery" not in doubts


def test_a_query_is_read_by_its_names_and_blanks_ask_for_nothing() -> None:
    query = {"OE.rotor_rpm": " 80000 ", "ring.wage": " ", "fabric.loom_rpm": "9", "x": "1"}
    assert typed_what_if(query) == {"OE.rotor_rpm": "80000"}
    assert "every.fibre_price" in NAMES
    assert not any(name.startswith("fabric.") for name in NAMES)


@settings(deadline=None)
@given(
    percent=st.decimals(Decimal("0.01"), Decimal("300"), places=2),
    sign=st.sampled_from("+-−"),
)
def test_any_change_is_within_the_limits_or_named(percent: Decimal, sign: str) -> None:
    values: dict[str, Any] = {
        "set_name": "S", "currency": "USD", "key": "OE.take_up_limit", "at_ne": None,
        "value": Decimal(200), "low": None, "high": None, "source": "trial", "noted_on": DAY,
    }  # fmt: skip
    row = Kept(7, "7", 1, "", DAY, values)  # type: ignore[arg-type]
    used = used_keys(demo_book().assumption_set("Rinconada 2026"))
    found = what_if([row], used, {"OE.take_up_limit": f"{sign}{percent} %"})
    wanted = 200 * (1 + float(percent) / (100 if sign == "+" else -100))
    if 1 <= wanted <= 1000:
        assert float(found.changed[0].after) == pytest.approx(wanted, rel=1e-11)
    else:
        assert "must be" in found.errors["OE.take_up_limit"] or "+10 %" in str(found.errors)
