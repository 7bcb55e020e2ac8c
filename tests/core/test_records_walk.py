"""A construction walked on its records: exact, each cause by itself, re-quotes and gaps."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings

from server.core.loom_behaviour import FROM_STOPS
from server.core.offer import PriceBreak
from server.core.pack import PRICE as PRICE_LINE
from server.core.rates import ExchangeRate
from server.core.sheet import Input
from server.core.walk import (
    BASIS,
    CAUSES,
    CLOTH,
    EXCHANGE,
    FORMULAS,
    FREIGHT,
    MIX,
    PRICE,
    PROCESS,
    Step,
    Walk,
)
from server.core.what_changed import what_changed
from tests.builders import assumption_set, charges, duty_rate, lane, slot
from tests.core.days import (
    ALONE,
    DAY,
    EUR_DEAR,
    STOPS,
    WOVEN,
    Day,
    days,
    filling,
    two_fillings,
    warp,
)

often = settings(max_examples=120, deadline=None)


def walked(before: Day, after: Day, **asked: Any) -> Walk:
    """The walk of the first construction between two days; its steps sum without a rest."""
    found = what_changed(before.frozen("2026-03-02"), after.frozen("2026-03-12"), **asked)
    change = found.cloths[0]
    assert change.walk is not None, change.reason
    walk = change.walk
    total = sum(step.amount for step in walk.steps)
    assert total == pytest.approx(walk.difference, abs=1e-12 * abs(walk.before))
    assert walk.steps[-1].total == pytest.approx(walk.after, rel=1e-12)
    return walk


def step_of(walk: Walk, cause: str) -> Step:
    step = walk.step(cause)
    assert step is not None
    return step


def moved(walk: Walk, cause: str) -> list[str]:
    return [each.name for each in step_of(walk, cause).moved]


def test_nothing_changes_between_a_day_and_itself() -> None:
    walk = walked(DAY, DAY)
    assert [step.amount for step in walk.steps] == [0.0] * 7
    assert not any(step.moved or step.notes for step in walk.steps)


def test_the_order_is_the_one_that_is_told() -> None:
    walk = walked(DAY, DAY)
    assert [step.cause for step in walk.steps] == [PRICE, EXCHANGE, FREIGHT, BASIS, CLOTH, PROCESS,
                                                   MIX]  # fmt: skip
    assert [*CAUSES] == [*(step.cause for step in walk.steps), FORMULAS]


@pytest.mark.parametrize("about", ALONE)
def test_one_change_moves_one_step_alone(about: str) -> None:
    cause, before, after = ALONE[about]
    walk = walked(before, after)
    amounts = {step.cause: step.amount for step in walk.steps}
    assert amounts.pop(cause) == pytest.approx(walk.difference, rel=1e-9)
    assert walk.difference != 0
    assert set(amounts.values()) == {0.0}
    assert [step.cause for step in walk.steps if step.moved or step.notes] == [cause]


def test_what_no_input_tells_is_told_in_words() -> None:
    _, before, after = ALONE["the base of a duty"]
    step = step_of(walked(before, after), FREIGHT)
    assert step.notes == ("Duty from Farland on CIF before, on FOB after.",)
    _, before, after = ALONE["a term"]
    assert step_of(walked(before, after), PRICE).notes == ("Warp: term FOB before, CIF after.",)


@pytest.mark.parametrize("about", ALONE)
def test_a_change_taken_back_is_its_negative(about: str) -> None:
    """With one cause there is no common part that could fall to one side."""
    cause, before, after = ALONE[about]
    there, back = walked(before, after), walked(after, before)
    assert step_of(there, cause).amount == pytest.approx(-step_of(back, cause).amount, rel=1e-9)


@pytest.mark.parametrize("figure", ["fabric_cost", PRICE_LINE])
def test_every_change_at_once_leaves_no_rest(figure: str) -> None:
    after = (
        DAY.with_offers(
            warp(price=Decimal("118.5"), currency="USc", price_unit="lb", term="CFR"),
            filling(price=Decimal("2.05"), payment="TT 30/70"),
            filling("F2", price=Decimal("1.30")),
        )
        .with_rates(
            exchange_rates=EUR_DEAR,
            lanes=(lane(freight=3900.0, currency="MXN"),),
            duties=(duty_rate(rate=0.08, base="FOB"),),
            charges=charges(cost_of_money=0.11),
        )
        .with_cloth(loom_ppi=43.0, total_ends=4300.0)
        .with_basis(house_regain={"cotton": 0.08}, loom_rule=FROM_STOPS)
        .but(assumptions=assumption_set(fabric__margin_on_price=0.15, **STOPS))
    )
    walk = walked(DAY.but(assumptions=assumption_set(**STOPS)), after, figure=figure)
    assert all(step.amount for step in walk.steps)


def test_a_margin_moves_the_price_and_not_the_cost() -> None:
    after = DAY.but(assumptions=assumption_set(fabric__margin_on_price=0.2))
    assert walked(DAY, after).difference == 0.0
    walk = walked(DAY, after, figure=PRICE_LINE)
    assert step_of(walk, PROCESS).amount == pytest.approx(walk.difference)
    assert moved(walk, PROCESS) == ["margin_on_price"]


def test_a_requote_is_the_same_yarn_in_another_unit_currency_and_term() -> None:
    requoted = warp("W9", price=Decimal("90"), currency="USc", price_unit="lb", term="EXW",
                    payment="TT advance")  # fmt: skip
    after = DAY.with_offers(requoted).but(replaced=(("W1", "W9"),))
    walk = walked(DAY, after)
    price, mix = step_of(walk, PRICE), step_of(walk, MIX)
    assert price.amount == pytest.approx(walk.difference)
    assert (mix.amount, mix.notes) == (0.0, ())
    assert price.names == ("W1 (now W9)",)
    assert price.notes == (
        "Warp: W1 was quoted anew as W9.",
        "Warp: term FOB before, EXW after.",
        "Warp: payment LC sight before, TT advance after.",
    )
    quoted = next(each for each in price.moved if each.name == "warp.quoted_price")
    assert quoted.before is not None
    assert quoted.after is not None
    assert (quoted.before.unit, quoted.after.unit) == ("USD/kg", "USc/lb")
    assert "exw_origin_charge" in moved(walk, PRICE)


def test_a_requote_that_costs_too_much_is_priced_first_and_exchanged_then() -> None:
    """The yarn of before is brought to the later day, and only then given up."""
    before = DAY.with_offers(warp("W2", price=Decimal("2.60")))
    after = before.with_offers(warp("W3", price=Decimal("3.00"))).but(replaced=(("W1", "W3"),))
    walk = walked(before, after)
    assert step_of(walk, PRICE).amount > 0
    assert step_of(walk, MIX).amount < 0
    assert step_of(walk, MIX).names == ("W2 in place of W3",)


def test_an_offer_that_expired_keeps_its_quote_and_the_mix_says_why() -> None:
    before = DAY.with_offers(warp("W2", price=Decimal("2.90")))
    after = before.with_offers(warp(valid_until=date(2026, 3, 5)))
    walk = walked(before, after)
    assert step_of(walk, PRICE).amount == 0
    mix = step_of(walk, MIX)
    assert mix.amount == pytest.approx(walk.difference)
    assert mix.amount > 0
    assert "W2 (Larchmoor Spinning) is taken in place of W1" in mix.notes[0]
    assert "W1 is no longer ranked: " in mix.notes[0]
    assert "2026-03-05" in mix.notes[0]


def test_an_offer_that_is_gone_keeps_its_old_quote_until_the_mix() -> None:
    before = DAY.with_offers(warp("W2", price=Decimal("2.90")))
    after = before.but(offers=tuple(each for each in before.offers if each.code != "W1"))
    walk = walked(before, after)
    assert step_of(walk, PRICE).amount == 0
    assert step_of(walk, PRICE).notes == (
        "Warp: W1 is not among the offers looked at on the later day; its old quote stands here.",
    )
    assert (
        step_of(walk, MIX)
        .notes[0]
        .endswith("W1 is not among the offers looked at on the later day.")
    )


def test_an_offer_that_was_not_ranked_before_says_so() -> None:
    late = warp("W2", price=Decimal("2.20"), lead_days=90)
    before, after = DAY.with_offers(late), DAY.with_offers(replace(late, lead_days=20))
    note = step_of(walked(before, after), MIX).notes[0]
    assert "W2 was not ranked before: " in note
    assert "135 days from order to mill" in note


def test_a_price_break_reached_by_more_picks_belongs_to_the_construction() -> None:
    cheaper = (PriceBreak(Decimal("30"), Decimal("2.30")),)
    season = DAY.with_basis(quantity="season").with_offers(warp(breaks=cheaper))
    few, many = (
        season.with_cloth(season_metres=60_000.0),
        season.with_cloth(season_metres=160_000.0),
    )
    walk = walked(few, many)
    assert step_of(walk, CLOTH).amount == pytest.approx(walk.difference)
    assert moved(walk, CLOTH) == ["warp.quoted_price"]


def test_another_quantity_of_the_basis_is_named() -> None:
    cheaper = (PriceBreak(Decimal("30"), Decimal("2.30")),)
    first = DAY.with_offers(warp(breaks=cheaper))
    walk = walked(first, first.with_basis(quantity="season"))
    step = step_of(walk, BASIS)
    assert step.amount == pytest.approx(walk.difference)
    assert step.notes == ("Quantity: first price before, season after.",)


def test_a_count_away_from_every_offer_holds_the_price_until_the_mix() -> None:
    finer = replace(WOVEN, slots=(slot("warp", ne=8.0), WOVEN.slots[1]))
    other = warp("W8", price=Decimal("2.75"))
    other = replace(other, yarn=replace(other.yarn, count=Decimal("8")),
                    tests={**other.tests, "average_ne": 8.0})  # fmt: skip
    walk = walked(DAY, DAY.with_offers(other).but(cloths=(finer,)))
    cloth, mix = step_of(walk, CLOTH), step_of(walk, MIX)
    assert moved(walk, CLOTH) == ["warp.costing_ne"]
    assert cloth.amount < 0
    assert "W1 is not near the count wanted now" in cloth.notes[0]
    assert "warp.quoted_price" in moved(walk, MIX)
    assert mix.notes[0].endswith("W1 is not near what the warp wants now.")


def test_a_yarn_added_or_taken_away_belongs_to_the_construction() -> None:
    twofold = DAY.but(cloths=(two_fillings(),))
    added, removed = walked(DAY, twofold), walked(twofold, DAY)
    for walk, note in ((added, "Filling2 is added."), (removed, "Filling2 is taken away.")):
        step = step_of(walk, CLOTH)
        assert step.amount == pytest.approx(walk.difference)
        assert step.notes == (note,)
        assert [each.cause for each in walk.steps if each.amount] == [CLOTH]


def test_the_yarn_of_a_further_slot_is_exchanged_in_the_mix() -> None:
    before = DAY.but(cloths=(two_fillings(),))
    after = before.with_offers(warp("W2", price=Decimal("2.20"), lead_days=29))
    step = step_of(walked(before, after), MIX)
    assert len(step.notes) == 2  # warp and filling2 take the same new offer
    assert step.notes[1].startswith("Filling2: W2")


def test_money_of_the_assumptions_moves_with_its_rate() -> None:
    pesos = replace(assumption_set(fabric__loom_hour=62.0), currency="MXN")
    before = DAY.but(assumptions=pesos)
    dear = (
        *DAY.rates.exchange_rates[:1],
        ExchangeRate(2, "USD", "MXN", 16.0, date(2026, 2, 1), "b"),
    )
    walk = walked(before, before.with_rates(exchange_rates=dear))
    assert step_of(walk, EXCHANGE).amount == pytest.approx(walk.difference)
    assert "loom_hour" in moved(walk, EXCHANGE)


def test_days_alone_are_no_cause() -> None:
    later = DAY.with_basis(as_of=date(2026, 3, 10), rates_on=date(2026, 3, 10),
                           meeting=date(2026, 3, 20), need_by=date(2026, 6, 20))  # fmt: skip
    walk = walked(DAY, later)
    assert walk.difference == 0.0
    assert not any(step.moved for step in walk.steps)


def test_an_earlier_day_of_rates_finds_the_rates_of_the_later_pack() -> None:
    """Held against a pack whose rates are of an earlier day, nothing is looked up too early."""
    early = DAY.with_basis(rates_on=date(2026, 1, 15))
    late = DAY.with_rates(exchange_rates=EUR_DEAR)
    for first, last in ((early, late), (late, early)):
        assert step_of(walked(first, last), EXCHANGE).amount != 0


def test_every_moved_input_opens_to_its_record() -> None:
    after = (
        DAY.with_offers(warp(price=Decimal("2.70")))
        .with_rates(exchange_rates=EUR_DEAR, lanes=(lane(id=7, freight=3500.0),))
        .with_cloth(loom_ppi=42.0)
    )
    walk = walked(DAY, after)
    where = {each.entry.where for step in walk.steps for each in step.moved}
    assert where == {"/offers/W1", "/rates/exchange/3", "/rates/lanes/7", "/constructions/T-1375"}


@often
@given(before=days(), after=days())
def test_the_steps_of_any_two_days_sum_to_the_difference(before: Day, after: Day) -> None:
    walk = walked(before, after)
    assert FORMULAS not in walk.amounts
    assert walk.before == pytest.approx(walk.start.value(walk.figure), rel=1e-12)


def test_an_input_is_moved_when_its_unit_is_another() -> None:
    entry = Input(2.0, "Price as quoted", "USD/kg")
    walk = walked(DAY, DAY.with_offers(filling(currency="USD")))
    quoted = next(each for each in step_of(walk, PRICE).moved if each.name.endswith("quoted_price"))
    assert quoted.before is not None
    assert quoted.before.value == quoted.entry.value
    assert quoted.entry.unit == entry.unit
