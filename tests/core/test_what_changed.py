"""What changed between two packs: cloths that come and go, the season, what is refused."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import settings

from server.core.errors import BadValue
from server.core.pack import PRICE as PRICE_LINE
from server.core.walk import (
    FORMULAS,
    MIX,
    PRICE,
    PROCESS,
)
from server.core.what_changed import COME, GONE, Choice, what_changed
from tests.builders import demo_book, rate_book
from tests.core.days import (
    DAY,
    WOVEN,
    Day,
    filling,
    warp,
)

often = settings(max_examples=120, deadline=None)


def test_the_headline_of_the_later_pack_is_compared() -> None:
    found = what_changed(DAY.frozen(), DAY.frozen(headline=PRICE_LINE))
    assert found.figure == PRICE_LINE


def test_formulas_of_another_program_are_a_step_of_their_own() -> None:
    before, after = DAY.frozen(), DAY.frozen()
    pack = before.pack
    cloth = pack.cloths[0]
    lines = [line.key for line in pack.lines_of(cloth.pairs[0])]
    figures = list(cloth.pairs[0].figures)
    figures[lines.index("fabric_cost")] -= 0.25
    pair = replace(cloth.pairs[0], figures=tuple(figures))
    older = replace(pack, cloths=(replace(cloth, pairs=(pair, *cloth.pairs[1:])),))
    found = what_changed(replace(before, pack=older), after)
    walk = found.cloths[0].walk
    assert walk is not None
    assert walk.difference == pytest.approx(0.25)
    assert walk.amounts[FORMULAS] == pytest.approx(0.25)
    assert [cause.key for cause in found.causes][-1] == FORMULAS
    assert walk.steps[0].stage is None


def test_cloths_come_and_go() -> None:
    first, second = replace(WOVEN, code="T-1"), replace(WOVEN, code="T-2")
    third = replace(WOVEN, code="T-3")
    found = what_changed(
        DAY.but(cloths=(first, second)).frozen(), DAY.but(cloths=(second, third)).frozen()
    )
    assert [(each.name, each.state) for each in found.cloths] == [
        ("T-2", "both"), ("T-3", COME), ("T-1", GONE),
    ]  # fmt: skip
    assert len(found.walked) == 1


def test_a_cloth_without_a_possible_pair_is_not_walked_and_says_so() -> None:
    dead = DAY.with_offers(warp(valid_until=date(2026, 3, 3)))
    found = what_changed(DAY.frozen("2026-03-02"), dead.frozen("2026-03-12"))
    assert found.cloths[0].walk is None
    assert found.cloths[0].reason == "No pair was possible in 2026-03-12."


def test_a_rate_that_is_not_there_is_told_and_nothing_is_guessed() -> None:
    home = warp("W2", price=Decimal("2.40"), ships_from="Homeland")
    at_home = filling("F2", currency="USD", ships_from="Homeland")
    before = DAY
    after = DAY.but(offers=(home, at_home)).with_rates(lanes=rate_book().lanes[1:])
    found = what_changed(before.frozen(), after.frozen())
    assert found.cloths[0].walk is None
    assert "freight lane from Farland" in found.cloths[0].reason


def test_the_season_weighs_every_cloth_by_its_later_metres() -> None:
    first, second = replace(WOVEN, code="T-1"), replace(WOVEN, code="T-2", season_metres=None)
    after = DAY.but(cloths=(replace(first, season_metres=200_000.0), second))
    found = what_changed(
        DAY.but(cloths=(first, second)).frozen(),
        after.with_offers(warp(price=Decimal("2.70"))).frozen(),
    )
    totals, walk = found.totals, found.walked[0][1]
    assert (totals.cloths, totals.left_out, totals.metres) == (1, 1, 200_000.0)
    assert totals.amounts[PRICE] == pytest.approx(walk.amounts[PRICE] * 200_000)
    assert sum(totals.amounts.values()) == pytest.approx(totals.after - totals.before)


def test_two_currencies_are_refused() -> None:
    euros = DAY.with_basis(currency="EUR").frozen()
    with pytest.raises(BadValue) as refused:
        what_changed(DAY.frozen(), euros)
    assert refused.value.field == "against"
    assert "Freeze one of them again" in refused.value.remedy


def test_a_pair_may_be_chosen_in_each_pack() -> None:
    day = DAY.with_offers(warp("W2", price=Decimal("2.90")))
    found = what_changed(
        day.frozen(), day.frozen(), choice=Choice("T-1375", before="W1/F1", after="W2/F1")
    )
    walk = found.cloths[0].walk
    assert walk is not None
    assert walk.amounts[MIX] == pytest.approx(walk.difference)
    assert walk.difference > 0


@pytest.mark.parametrize(
    ("choice", "field"),
    [
        (Choice("T-9"), "cloth"),
        (Choice("T-1375", variant="None such"), "cloth"),
        (Choice("T-1375", before="W7/F1"), "before"),
        (Choice("T-1375", after="W7/F1"), "after"),
    ],
)
def test_what_neither_pack_holds_is_refused(choice: Choice, field: str) -> None:
    with pytest.raises(BadValue) as refused:
        what_changed(DAY.frozen(), DAY.frozen(), choice=choice)
    assert refused.value.field == field
    assert refused.value.remedy


def test_the_demonstration_walks_without_a_rest() -> None:
    """Every construction of the demonstration, everything moved at once."""
    book = demo_book()
    basis = book.basis()
    before = Day(book.current_offers, book.rates, basis, book.constructions,
                 book.assumption_set(basis.assumption_set))  # fmt: skip
    values = {
        key: tuple((ne, replace(entry, value=float(entry.value) * 1.01)) for ne, entry in points)
        for key, points in before.assumptions.values.items()
        if key.startswith("fabric.")
    }
    rates = tuple(replace(each, rate=each.rate * 1.02) for each in book.rates.exchange_rates)
    lanes = tuple(replace(each, freight=each.freight * 1.1) for each in book.rates.lanes)
    after = before.but(
        offers=tuple(replace(o, price=o.price * Decimal("1.03")) for o in book.current_offers),
        rates=replace(book.rates, exchange_rates=rates, lanes=lanes),
        cloths=tuple(replace(each, loom_ppi=each.loom_ppi + 1) for each in book.constructions),
        assumptions=replace(before.assumptions, values={**before.assumptions.values, **values}),
    )
    found = what_changed(before.frozen(), after.frozen())
    assert len(found.walked) == 8
    for each, walk in found.walked:
        rest = sum(step.amount for step in walk.steps) - walk.difference
        assert abs(rest) <= 1e-12 * walk.before, each.name
        assert walk.amounts[PRICE] > 0
        assert walk.amounts[PROCESS] > 0
    totals = found.totals
    assert sum(totals.amounts.values()) == pytest.approx(totals.after - totals.before, rel=1e-9)
