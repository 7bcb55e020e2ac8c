"""A frozen pack computed again: the same, or every difference told with its figures."""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from server.core.again import Differs, compute_again
from server.core.errors import BadValue
from server.core.formula import FORMULAS
from server.core.given import Frozen, given_for
from server.core.pack import Pack
from tests.builders import demo_book, demo_comparison, demo_comparisons, pack_of
from tests.random_packs import own_spun_pack


def frozen_demo(*codes: str) -> Frozen:
    book = demo_book()
    found = [demo_comparison(code) for code in codes] if codes else list(demo_comparisons())
    assumptions = book.assumption_set(book.basis().assumption_set)
    return Frozen(pack_of(*found), given_for(found, assumptions, book.limits, book.replaced))


@pytest.fixture
def frozen() -> Frozen:
    return frozen_demo("DN-1375")


def changed_formula(
    monkeypatch: pytest.MonkeyPatch, name: str, function: Callable[..., Any]
) -> None:
    """A later program whose formula of this name gives something else."""
    later = functools.wraps(FORMULAS[name].function)(function)
    monkeypatch.setitem(FORMULAS, name, replace(FORMULAS[name], function=later))


def formula_of(pack: Pack, key: str) -> str:
    return next(line.formula for line in pack.lines if line.key == key)


def test_the_whole_demo_comes_out_the_same() -> None:
    frozen = frozen_demo()
    again = compute_again(frozen)
    assert again.differs == ()
    assert again.is_same
    figures = sum(len(pair.figures) for cloth in frozen.pack.cloths for pair in cloth.pairs)
    assert again.looked_at == 2 * figures, "each figure once by its line and once by its records"


def test_a_formula_with_another_result_is_told_with_both_figures(
    frozen: Frozen, monkeypatch: pytest.MonkeyPatch
) -> None:
    name = formula_of(frozen.pack, "season_cost")
    was = FORMULAS[name].function
    changed_formula(monkeypatch, name, lambda **given: 1.01 * was(**given))
    before = frozen.pack
    again = compute_again(frozen)
    told = [each for each in again.differs if each.label == "Cloth of the season"]
    assert len(told) == len(again.differs) == len(frozen.pack.cloths[0].pairs)
    assert not again.is_same
    first = told[0]
    assert isinstance(first.frozen, float)
    assert first.now == pytest.approx(1.01 * first.frozen, rel=1e-12)
    assert (first.cloth, first.pair) == ("DN-1375 Larkspur", frozen.pack.cloths[0].pairs[0].label)
    assert first.unit == "¤"
    assert frozen.pack is before
    assert frozen.pack == frozen_demo("DN-1375").pack


def test_each_line_is_judged_alone(frozen: Frozen, monkeypatch: pytest.MonkeyPatch) -> None:
    """A line early in the sheet that changed does not put those behind it in doubt as well."""
    name = formula_of(frozen.pack, "weaving")
    was = FORMULAS[name].function
    changed_formula(monkeypatch, name, lambda **given: was(**given) + 0.1)
    assert {each.label for each in compute_again(frozen).differs} == {"Weaving"}


def test_less_than_a_million_millionth_apart_is_the_same(
    frozen: Frozen, monkeypatch: pytest.MonkeyPatch
) -> None:
    name = formula_of(frozen.pack, "season_cost")
    was = FORMULAS[name].function
    changed_formula(monkeypatch, name, lambda **given: was(**given) * (1 + 1e-14))
    assert compute_again(frozen).is_same
    changed_formula(monkeypatch, name, lambda **given: was(**given) * (1 + 1e-9))
    assert not compute_again(frozen).is_same


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        (BadValue("It is too wide.", field="x"), "too wide"),
        (ZeroDivisionError("division by zero"), "division by zero"),
        (TypeError("unexpected keyword"), "unexpected keyword"),
        (OverflowError("too large"), "too large"),
    ],
)
def test_a_formula_that_cannot_take_the_stored_inputs_says_so(
    frozen: Frozen, monkeypatch: pytest.MonkeyPatch, wrong: Exception, told: str
) -> None:
    def fails(**_given: float) -> float:
        raise wrong

    changed_formula(monkeypatch, formula_of(frozen.pack, "season_cost"), fails)
    found = compute_again(frozen).differs
    assert {each.label for each in found} == {"Cloth of the season"}
    assert all(told in str(each.now) for each in found)


def test_a_formula_that_is_gone_is_named(frozen: Frozen, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delitem(FORMULAS, formula_of(frozen.pack, "season_cost"))
    found = compute_again(frozen).differs
    told = [each for each in found if each.label == "Cloth of the season"]
    assert len(told) == len(frozen.pack.cloths[0].pairs)
    assert {each.now for each in told} == {"this formula is no longer there"}
    assert all(isinstance(each.frozen, float) for each in told)
    assert {each.label for each in found} <= {"Cloth of the season", "Comparison"}


def test_a_record_that_changed_behind_the_pack_moves_figures_and_the_leader(frozen: Frozen) -> None:
    leader = frozen.pack.cloths[0].pairs[0]
    code = leader.yarns[0].code
    offers = tuple(
        replace(each, price=each.price + Decimal(1)) if each.code == code else each
        for each in frozen.given.offers
    )
    again = compute_again(Frozen(frozen.pack, replace(frozen.given, offers=offers)))
    cost = next(
        e for e in again.differs if (e.pair, e.label) == (leader.label, "Cost of a finished metre")
    )
    assert isinstance(cost.now, float)
    assert isinstance(cost.frozen, float)
    assert cost.now > cost.frozen
    leads = next(each for each in again.differs if each.label == "Leading pair")
    assert leads.frozen == leader.key
    assert leads.now not in ("none", leader.key)


def test_a_standing_that_would_be_another_is_told(frozen: Frozen) -> None:
    leader = frozen.pack.cloths[0].pairs[0]
    code = leader.yarns[0].code
    offers = tuple(
        replace(each, supplier=replace(each.supplier, origin_state="missing"))
        if each.code == code
        else each
        for each in frozen.given.offers
    )
    again = compute_again(Frozen(frozen.pack, replace(frozen.given, offers=offers)))
    standing = next(e for e in again.differs if (e.pair, e.label) == (leader.label, "Standing"))
    assert (standing.frozen, standing.now) == ("possible", "impossible")


def test_an_offer_or_a_construction_that_is_not_behind_the_pack_is_told(frozen: Frozen) -> None:
    leader = frozen.pack.cloths[0].pairs[0]
    without = tuple(e for e in frozen.given.offers if e.code != leader.yarns[0].code)
    again = compute_again(Frozen(frozen.pack, replace(frozen.given, offers=without)))
    assert (
        Differs("DN-1375 Larkspur", leader.label, "Pair", "", "compared", "no pair")
        in again.differs
    )
    none = compute_again(Frozen(frozen.pack, replace(frozen.given, constructions=())))
    assert [(each.label, each.now) for each in none.differs] == [
        ("Construction", "is not in the pack")
    ]


def test_a_rate_that_is_not_behind_the_pack_is_told_and_nothing_breaks(frozen: Frozen) -> None:
    empty = replace(frozen.given.rates, exchange_rates=(), lanes=(), charges=(), duties=())
    again = compute_again(Frozen(frozen.pack, replace(frozen.given, rates=empty)))
    assert not again.is_same


def test_an_altered_figure_is_told(frozen: Frozen) -> None:
    cloth = frozen.pack.cloths[0]
    pair = cloth.pairs[0]
    lines = [line.key for line in frozen.pack.lines_of(pair)]
    figures = list(pair.figures)
    figures[lines.index("season_cost")] *= 0.99
    altered = replace(cloth, pairs=(replace(pair, figures=tuple(figures)), *cloth.pairs[1:]))
    again = compute_again(Frozen(replace(frozen.pack, cloths=(altered,)), frozen.given))
    assert {each.label for each in again.differs} == {"Cloth of the season"}
    assert len(again.differs) == 1, "told once, though found in both ways"


def test_a_variant_of_own_yarns_is_computed_again_line_by_line(frozen: Frozen) -> None:
    made = own_spun_pack()
    again = compute_again(Frozen(made.pack, frozen.given))
    assert again.is_same
    assert again.looked_at == sum(
        len(pair.figures) for cloth in made.pack.cloths for pair in cloth.pairs
    )
