"""Neutral alternatives are neutral, for any cloth; where one cannot be reached it says so."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from server.core.change import Alternative, Changed, change, doubts_of
from server.core.construction import WEAVES
from server.core.costing import Costing, landed_again
from server.core.offer import PriceBreak
from tests.builders import basis, construction, rate_book, slot
from tests.core.costings import RATES, costing, costings, yarn_of

often = settings(max_examples=200, deadline=None)


def reached(changed: Changed) -> dict[str, Costing]:
    return {each.key: costing for each, costing in changed.reached}


@often
@given(before=costings(), swap=costings())
def test_what_an_alternative_holds_is_as_before(before: Costing, swap: Costing) -> None:
    """Whatever is changed at once: counts, threads, widths, weave, losses, prices, loom."""
    swap = replace(swap, basis=before.basis)
    found = reached(change(before, swap, RATES))
    held = {
        "weight-picks": ("mass_per_area", "ounces"),
        "weight-ends": ("mass_per_area", "ounces"),
        "cover": ("warp_cover", "filling_cover"),
        "firmness": ("warp_firmness", "filling_firmness"),
        "cost": ("fabric_per_area",),
    }
    for key, figures in held.items():
        for figure in figures if key in found else ():
            now, was = found[key].figures[figure], before.figures[figure]
            assert now == pytest.approx(was, rel=1e-11), (key, figure)


@often
@given(before=costings(), swap=costings())
def test_only_threads_tell_an_alternative_from_the_plain_swap(
    before: Costing, swap: Costing
) -> None:
    for key, other in reached(change(before, swap, RATES)).items():
        picks_and_ends: dict[str, Any] = {
            "loom_ppi": swap.construction.loom_ppi,
            "total_ends": swap.construction.total_ends,
        }
        assert replace(other.construction, **picks_and_ends) == swap.construction, key


@often
@given(before=costings())
def test_no_change_changes_nothing(before: Costing) -> None:
    for key, other in reached(change(before, before, RATES)).items():
        assert other.figures["fabric_cost"] == pytest.approx(
            before.figures["fabric_cost"], rel=1e-12
        ), key


@often
@given(before=costings())
def test_equal_width_makes_cost_neutral_of_area_and_of_metre_one(before: Costing) -> None:
    finer = replace(
        before,
        construction=replace(before.construction, loom_ppi=before.construction.loom_ppi * 1.1),
    )
    found = reached(change(before, finer, RATES))
    assume("cost" in found)
    assert found["cost"].figures["fabric_cost"] == pytest.approx(
        before.figures["fabric_cost"], rel=1e-11
    )
    assert found["cost"].construction.loom_ppi == pytest.approx(before.construction.loom_ppi)


def trial(ne: float = 7.0, **cloth: object) -> Costing:
    made = construction(slots=(slot("warp"), slot("filling", ne=ne)), **cloth)
    return costing(made, yarn_of(7.0, "W"), yarn_of(ne, "F"))


def test_picks_follow_the_count_for_weight_and_its_root_for_cover() -> None:
    """Trade guide, section 2 (construction change): picks × Ne new/old, and its square root."""
    found = reached(change(trial(8.0), trial(7.0), RATES))
    assert found["weight-picks"].construction.loom_ppi == pytest.approx(41.0 * 7 / 8, rel=1e-12)
    assert found["cover"].construction.loom_ppi == pytest.approx(41.0 * (7 / 8) ** 0.5, rel=1e-12)
    faster = found["weight-picks"].figures["loom_output"] / trial(8.0).figures["loom_output"]
    assert faster == pytest.approx(8 / 7, rel=1e-12)


def test_a_new_weave_of_equal_firmness_follows_taylor() -> None:
    """J. T. Taylor 1909: plain at 103 to 2/2 twill, same yarn, 103 × 8/6 = 137 1/3."""
    plain, twill = trial(weave="plain"), trial(weave="2/2 twill")
    found = reached(change(plain, twill, RATES))
    firm = found["firmness"].construction
    assert firm.loom_ppi / plain.construction.loom_ppi == pytest.approx(8 / 6, rel=1e-12)
    assert firm.total_ends / plain.construction.total_ends == pytest.approx(8 / 6, rel=1e-12)


def test_weaves_of_one_firmness_have_no_column_of_firmness() -> None:
    assert WEAVES["3/1 twill"] == WEAVES["2/2 twill"]
    found = reached(change(trial(weave="3/1 twill"), trial(weave="2/2 twill"), RATES))
    assert "firmness" not in found


def test_a_weight_out_of_reach_says_so() -> None:
    light = trial(7.0)
    heavy = replace(light, construction=replace(light.construction, net_finish=0.9))
    changed = change(
        replace(light, construction=replace(light.construction, loom_ppi=3.0)), heavy, RATES
    )
    picks = next(each for each in changed.alternatives if each.key == "weight-picks")
    assert picks.costing is None
    assert picks.reason == "Not reached within 80% of the picks of the swap."
    assert "weight-picks" not in reached(changed)


def with_breaks(ne: float, ppi: float, breaks: tuple[PriceBreak, ...]) -> Costing:
    made = construction(slots=(slot("warp"), slot("filling", ne=ne)), loom_ppi=ppi)
    return costing(
        made,
        yarn_of(7.0, "W"),
        yarn_of(ne, "F", price=Decimal("2.00"), breaks=breaks),
        on=basis(quantity="season"),
    )


def test_a_price_break_is_priced_at_the_quantity_of_each_alternative() -> None:
    """At 41 picks the season needs 37.8 t, at 30 picks 27.6 t: a break at 30 t lies between."""
    breaks = (PriceBreak(Decimal(30), Decimal("1.80")),)
    before = with_breaks(7.0, 41.0, breaks)
    fewer = landed_again(before, replace(before.construction, loom_ppi=30.0), rate_book())
    assert before.yarns[1].price < fewer.yarns[1].price
    assert fewer.figures["filling_season_tonnes"] < 30 < before.figures["filling_season_tonnes"]


def test_cost_neutral_picks_pay_the_price_of_their_own_quantity() -> None:
    """Fewer picks drop below the break: the neutral picks are found at the dearer price."""
    breaks = (PriceBreak(Decimal("37.0"), Decimal("1.95")),)
    swap = with_breaks(7.0, 41.0, breaks)
    target = landed_again(swap, replace(swap.construction, loom_ppi=37.0), RATES)
    cost = neutral(target, swap).costing
    assert cost is not None
    assert cost.construction.loom_ppi == pytest.approx(37.0, rel=1e-9)
    assert cost.yarns[1].price > swap.yarns[1].price


def neutral(before: Costing, swap: Costing) -> Alternative:
    return next(each for each in change(before, swap, RATES).alternatives if each.key == "cost")


@often
@given(target_ppi=st.floats(25, 60), step=st.decimals("1.60", "1.99", places=2))
def test_with_any_price_step_the_neutral_cost_is_met_or_refused(
    target_ppi: float, step: Decimal
) -> None:
    swap = with_breaks(7.0, 41.0, (PriceBreak(Decimal("36.0"), step),))
    before = landed_again(swap, replace(swap.construction, loom_ppi=target_ppi), RATES)
    found = neutral(before, swap)
    if found.costing is None:
        assert "price break" in found.reason
        return
    assert found.costing.figures["fabric_per_area"] == pytest.approx(
        before.figures["fabric_per_area"], rel=1e-9
    )
    tonnes = found.costing.figures["filling_season_tonnes"]
    own = swap.yarns[1].price if tonnes >= 36.0 else with_breaks(7.0, 41.0, ()).yarns[1].price
    assert found.costing.yarns[1].price == pytest.approx(own, rel=1e-12)


def test_a_denser_cloth_is_doubted_and_an_equal_one_is_not() -> None:
    before = trial(7.0)
    assert doubts_of(before, before) == ()
    denser = replace(before, construction=replace(before.construction, loom_ppi=44.0))
    assert doubts_of(before, denser) == (
        "The filling is 7% firmer than in the cloth as it is woven now; weave a trial before it "
        "is sold.",
    )
    jammed = replace(before, construction=replace(before.construction, total_ends=5000.0))
    assert any("lie side by side (Peirce)" in doubt for doubt in doubts_of(before, jammed))
