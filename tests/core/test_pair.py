"""The sheet of a pair against hand arithmetic, also with several yarns in a direction."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from server.core.construction import Construction
from server.core.pair import (
    NOT_IN_ROUTE,
    cloth_sheet,
    costing_ne,
    fabric_inputs,
    fabric_sheet,
    tonnes_needed,
)
from server.core.units import TEX_NE
from tests.builders import assumption_set, basis, construction, offer, slot, yarn


def figures_of(cloth: Construction, **fed: float) -> dict[str, float]:
    """The fabric sheet of a construction; fed: `warp_ne=…`, `warp_price=…` for each yarn."""
    inputs: dict[str, Any] = {
        name: entry.value for name, entry in fabric_inputs(cloth, assumption_set()).items()
    }
    for place in cloth.slots:
        inputs[f"{place.name}.costing_ne"] = fed.get(f"{place.name}_ne", place.ne)
        inputs[f"{place.name}.same_basis_price"] = fed[f"{place.name}_price"]
    return fabric_sheet(cloth).evaluate(inputs)


def test_a_plain_pair_is_worked_out_by_hand() -> None:
    figures = figures_of(construction(), warp_price=2.785, filling_price=2.234)
    warp = 4110 * 1.11 / 0.87 * (TEX_NE / 7) / 1000
    filling = 41 / 0.0254 / 0.87 * 65.5 * 0.0254 * (TEX_NE / 7) / 1000
    buy_warp, buy_filling = warp / 0.955, filling / 0.965
    yarn_cost = buy_warp / 1000 * 2.785 + buy_filling / 1000 * 2.234
    weaving = 3.6 / (620 * 60 * 0.88 / (41 / 0.0254)) / 0.87
    preparation = buy_warp / 1000 * 0.90
    overhead = (preparation + weaving + 0.17 + 0.03) * 0.07
    made = yarn_cost + preparation + weaving + 0.17 + 0.03 + overhead
    expected = {
        "warp.mass": warp,
        "filling.mass": filling,
        "warp.buy": buy_warp,
        "filling.buy": buy_filling,
        "mass_per_area": (warp + filling) * 1.03 / (61 * 0.0254),
        "ounces": (warp + filling) * 1.03 / (61 * 0.0254) / 33.9057474748823,
        "finished_epi": 4110 / 61,
        "finished_ppi": 41 / 0.87,
        "reed_epi": 4110 / 65.5,
        "width_contraction": 1 - 61 / 65.5,
        "warp_cover": 4110 / 61 / 7**0.5,
        "filling_cover": 41 / 0.87 / 7**0.5,
        "yarn_cost": yarn_cost,
        "warp_preparation": preparation,
        "weaving": weaving,
        "overhead": overhead,
        "cost_before_seconds": made,
        "fabric_cost": made / 0.97,
        "price_at_margin": made / 0.97 / 0.88,
        "yarn_per_yard": yarn_cost * 0.9144,
        "yarn_per_area": yarn_cost / (59.5 * 0.0254),
        "fabric_per_kg": made / 0.97 / ((warp + filling) * 1.03) * 1000,
        "warp_season_tonnes": 140_000 * buy_warp / 1e6,
        "filling_season_tonnes": 140_000 * buy_filling / 1e6,
    }
    assert {key: figures[key] for key in expected} == pytest.approx(expected, rel=1e-13)


def test_two_warp_yarns_and_alternating_picks_are_worked_out_by_hand() -> None:
    """Warp of 3 ends Ne 6.5 to 1 end Ne 8.5; picks rigid Ne 10 and stretch Ne 14 by turns."""
    cloth = construction(
        total_ends=4000.0,
        reed_width_in=70.0,
        loom_ppi=42.0,
        tail_in=2.0,
        length_shrink=0.12,
        finished_width_in=56.0,
        net_finish=0.02,
        slots=(
            slot("warp", ne=6.5, share_of_threads=0.75, crimp=0.11, waste=0.045),
            slot("warp", position=2, ne=8.5, share_of_threads=0.25, crimp=0.14, waste=0.05),
            slot("filling", ne=10.0, share_of_threads=0.5, waste=0.035),
            slot("filling", position=2, ne=14.0, share_of_threads=0.5, waste=0.06, core="elastane"),
        ),
    )
    prices = {"warp": 3.03, "warp2": 3.13, "filling": 2.60, "filling2": 5.32}
    figures = figures_of(cloth, **{f"{name}_price": price for name, price in prices.items()})
    metres_of_picks = 42 / 0.0254 / 0.88 * (70 + 2) * 0.0254
    mass = {
        "warp": 3000 * 1.11 / 0.88 * (TEX_NE / 6.5) / 1000,
        "warp2": 1000 * 1.14 / 0.88 * (TEX_NE / 8.5) / 1000,
        "filling": metres_of_picks / 2 * (TEX_NE / 10) / 1000,
        "filling2": metres_of_picks / 2 * (TEX_NE / 14) / 1000,
    }
    waste = {"warp": 0.045, "warp2": 0.05, "filling": 0.035, "filling2": 0.06}
    buy = {name: mass[name] / (1 - waste[name]) for name in mass}
    cost = {name: buy[name] / 1000 * prices[name] for name in mass}
    for name in mass:
        assert figures[f"{name}.mass"] == pytest.approx(mass[name], rel=1e-13)
        assert figures[f"{name}.buy"] == pytest.approx(buy[name], rel=1e-13)
        assert figures[f"{name}.cost"] == pytest.approx(cost[name], rel=1e-13)
    warp_buy = buy["warp"] + buy["warp2"]
    preparation = warp_buy / 1000 * 0.90
    weaving = 3.6 / (620 * 60 * 0.88 / (42 / 0.0254)) / 0.88
    made = (
        sum(cost.values())
        + preparation
        + weaving
        + 0.17
        + 0.03
        + (preparation + weaving + 0.17 + 0.03) * 0.07
    )
    expected = {
        "warp_mass": mass["warp"] + mass["warp2"],
        "filling_mass": mass["filling"] + mass["filling2"],
        "warp_buy": warp_buy,
        "filling_buy": buy["filling"] + buy["filling2"],
        "mass_per_area": sum(mass.values()) * 1.02 / (56 * 0.0254),
        "yarn_cost": sum(cost.values()),
        "warp_preparation": preparation,
        "weaving": weaving,
        "fabric_cost": made / 0.97,
        "warp_season_tonnes": 140_000 * warp_buy / 1e6,
    }
    assert {key: figures[key] for key in expected} == pytest.approx(expected, rel=1e-13)


def test_three_yarns_of_a_direction_add_two_at_a_time() -> None:
    thirds = tuple(
        slot("filling", position=place, ne=ne, share_of_threads=share)
        for place, ne, share in ((1, 8.0, 0.5), (2, 10.0, 0.25), (3, 20.0, 0.25))
    )
    cloth = construction(slots=(slot("warp"), *thirds))
    figures = figures_of(
        cloth, warp_price=3.0, filling_price=2.0, filling2_price=2.5, filling3_price=4.0
    )
    masses = [figures[f"{each.name}.mass"] for each in thirds]
    assert figures["filling_mass_2"] == pytest.approx(sum(masses[:2]), rel=1e-14)
    assert figures["filling_mass"] == pytest.approx(sum(masses), rel=1e-14)
    assert masses[0] / masses[1] == pytest.approx(0.5 / 8 / (0.25 / 10), rel=1e-13)
    costs = [figures[f"{each.name}.cost"] for each in thirds]
    assert figures["yarn_cost"] == pytest.approx(figures["warp.cost"] + sum(costs), rel=1e-14)


def test_a_pair_is_weighed_with_its_own_counts() -> None:
    plain = figures_of(construction(), warp_price=3.0, filling_price=3.0)
    finer = figures_of(construction(), warp_price=3.0, filling_price=3.0, filling_ne=7.7)
    assert finer["filling.mass"] == pytest.approx(plain["filling.mass"] / 1.1, rel=1e-13)
    assert finer["warp.mass"] == plain["warp.mass"]
    assert finer["ounces"] < plain["ounces"]


@pytest.mark.parametrize(("route", "rate"), [("rope", 0.90), ("slasher", 0.79), ("none", 0.17)])
def test_only_the_stages_of_the_dyeing_route_are_charged(route: str, rate: float) -> None:
    cloth = construction(dyeing_route=route)
    figures = figures_of(cloth, warp_price=3.0, filling_price=3.0)
    assert figures["warp_preparation_rate"] == pytest.approx(rate, rel=1e-14)
    inputs = fabric_inputs(cloth, assumption_set())
    assert inputs[NOT_IN_ROUTE].value == 0
    assert ("ball_warping" in inputs) == (route == "rope")


def test_heat_setting_is_charged_on_stretch_cloth_only() -> None:
    rigid = figures_of(construction(), warp_price=3.0, filling_price=3.0)
    stretch = figures_of(construction(heat_set=True), warp_price=3.0, filling_price=3.0)
    assert rigid["finishing"] == 0.17
    assert stretch["finishing"] == pytest.approx(0.22, rel=1e-14)
    assert "heat_setting" not in fabric_inputs(construction(), assumption_set())


def test_seconds_that_fetch_a_price_cost_less() -> None:
    inputs = {
        n: e.value
        for n, e in fabric_inputs(
            construction(), assumption_set(fabric__seconds_price_ratio=0.6)
        ).items()
    }
    fed = {
        f"{d}.{what}": value
        for d in ("warp", "filling")
        for what, value in (("costing_ne", 7.0), ("same_basis_price", 3.0))
    }
    figures = fabric_sheet(construction()).evaluate(inputs | fed)
    assert figures["fabric_cost"] == pytest.approx(
        figures["cost_before_seconds"] / (1 - 0.03 * 0.4), rel=1e-13
    )


def test_garment_lines_come_only_with_a_garment() -> None:
    cloth = construction(garment_metres=1.3, garment_width_in=59.0)
    figures = figures_of(cloth, warp_price=3.0, filling_price=3.0)
    length = 1.3 * 59 / 59.5
    assert figures["garment_length"] == pytest.approx(length, rel=1e-14)
    assert figures["garment_yarn"] == pytest.approx(length * figures["yarn_cost"], rel=1e-14)
    assert figures["garment_fabric"] == pytest.approx(length * figures["fabric_cost"], rel=1e-14)
    for less in ({}, {"garment_metres": 1.3}, {"garment_width_in": 59.0}):
        assert "garment_length" not in fabric_sheet(construction(**less)).by_key
    assert "warp_season_tonnes" not in cloth_sheet(construction(season_metres=None)).by_key


@pytest.mark.parametrize(
    ("count", "used"), [("7", 7.0), ("7.02", 7.0), ("7.03", 7.03), ("6.98", 7.0), ("6.9", 6.9)]
)
def test_an_offers_own_count_replaces_the_wanted_one_beyond_the_threshold(
    count: str, used: float
) -> None:
    found = costing_ne(slot(ne=7.0), offer(yarn=yarn(count=Decimal(count))), basis())
    assert found.value == used
    assert found.unit == "Ne"
    assert ("offer T01" in found.source) == (used != 7.0)


def test_the_wanted_count_stands_in_while_the_average_is_not_known() -> None:
    unknown = offer(yarn=yarn(count=Decimal("7.6"), count_basis="unknown"))
    found = costing_ne(slot(ne=7.0), unknown, basis())
    assert (found.value, found.source, found.as_entered) == (7.0, "the construction", "")


def test_the_tonnes_needed_are_those_of_the_sheet() -> None:
    cloth = construction()
    figures = figures_of(cloth, warp_price=3.0, filling_price=3.0)
    warp, filling = (cloth.slots_of(each)[0] for each in ("warp", "filling"))
    assert tonnes_needed(warp, cloth, 140_000.0) == figures["warp_season_tonnes"]
    assert tonnes_needed(filling, cloth, 140_000.0) == figures["filling_season_tonnes"]
    assert tonnes_needed(warp, cloth, None) is None
    assert tonnes_needed(warp, cloth, 0.0) == 0.0


def test_the_tonnes_of_a_shared_direction_follow_the_share() -> None:
    whole = construction()
    half = construction(slots=(slot("warp", share_of_threads=0.5), slot("filling")))
    assert tonnes_needed(half.slots[0], half, 1000.0) == pytest.approx(
        0.5 * (tonnes_needed(whole.slots[0], whole, 1000.0) or 0.0), rel=1e-14
    )


def test_slots_of_a_direction_come_in_order_of_position() -> None:
    first, second = slot("warp"), slot("warp", position=2)
    cloth = construction(slots=(second, slot("filling"), first))
    assert cloth.slots_of("warp") == (first, second)
    assert [each.name for each in cloth.slots] == ["warp2", "filling", "warp"]


@pytest.mark.parametrize(
    ("route", "role"),
    [
        ("rope", "warp, rope-dyed"),
        ("slasher", "warp, slasher-dyed"),
        ("none", "warp, undyed"),
    ],
)
def test_the_dyeing_route_names_the_role_of_the_warp(route: str, role: str) -> None:
    assert construction(dyeing_route=route).role_of_warp == role


def test_a_basis_counts_days_and_metres() -> None:
    on = basis()
    assert on.days_to_need == 85
    assert on.metres_of(construction()) is None
    assert replace(on, quantity="season").metres_of(construction()) == 140_000
    assert replace(on, quantity="metres", metres=500.0).metres_of(construction()) == 500.0
    assert replace(on, need_by=date(2026, 3, 1)).days_to_need == -11
