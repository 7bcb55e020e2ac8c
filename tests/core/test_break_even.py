"""Break-evens: put back, the difference is zero; where there is none, none is shown."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.core.break_even import Option, break_even, break_evens_of, price_to_beat, solve
from server.core.compare import compare
from server.core.landing import land
from server.core.quantities import Number
from server.core.rates import ExchangeRate, RateBook
from tests.builders import assumption_set, basis, construction, offer, rate_book, supplier, yarn

often = settings(max_examples=200, deadline=None)


def option(prefix: str = "at", **changes: object) -> Option:
    landing = land(offer(**changes), basis(), rate_book(), prefix=prefix)
    return Option(landing.sheet, landing.inputs, f"{prefix}.same_basis_price")


@often
@given(root=st.floats(0.1, 9.9), slope=st.floats(0.01, 100), bend=st.floats(0, 5))
def test_a_root_between_the_ends_is_found(root: float, slope: float, bend: float) -> None:
    def difference(value: Number) -> Number:
        return slope * (value - root) * (1 + bend * value * value)

    found = solve(difference, 0.0, 10.0)
    assert found == pytest.approx(root, rel=1e-13)


def test_no_change_of_sign_gives_no_root() -> None:
    assert solve(lambda x: x * x + 1, -5.0, 5.0) is None
    assert solve(lambda x: x * 0 + 1, -5.0, 5.0) is None
    assert solve(lambda x: x * 0, -5.0, 5.0) is None


def test_a_root_on_a_point_of_the_scan_is_taken_as_it_is() -> None:
    assert solve(lambda x: x, -1.0, 1.0) == 0.0
    assert solve(lambda x: x - 1.0, -1.0, 1.0) == 1.0


def test_of_two_roots_the_nearer_to_the_middle_is_taken() -> None:
    found = solve(lambda x: (x - 0.45) * (x - 0.95), 0.0, 1.0)
    assert found == pytest.approx(0.45, rel=1e-13)


def test_a_steep_function_is_closed_in_on() -> None:
    found = solve(lambda x: np.exp(40 * (x - 0.3)) - 1, -1.0, 1.0)
    assert found == pytest.approx(0.3, rel=1e-12)


@often
@given(
    price=st.decimals("1.00", "6.00", places=2),
    term=st.sampled_from(["EXW", "FOB", "CFR", "CIF", "DAP"]),
    leader_price=st.decimals("1.50", "4.00", places=2),
)
def test_a_price_to_beat_put_back_ties(price: Decimal, term: str, leader_price: Decimal) -> None:
    leader, rival = option(price=leader_price), option(price=price, term=term)
    found = price_to_beat(leader, rival, "at.quoted_price", reach=0.9)
    target = float(leader.cost({}))
    if found is None:
        low, high = (float(rival.cost({"at.quoted_price": float(price) * f})) for f in (0.1, 1.9))
        assert not low <= target <= high
        return
    tied = float(rival.cost({"at.quoted_price": found}))
    assert abs(tied - target) / target < 1e-12


@often
@given(pesos=st.decimals("30.00", "70.00", places=2), dollars=st.decimals("2.00", "3.50", places=2))
def test_an_exchange_rate_put_back_ties(pesos: Decimal, dollars: Decimal) -> None:
    first = option(price=dollars)
    second = option(price=pesos, currency="MXN")
    found = break_even(first, second, "exchange_rate.MXN")
    if found is None:
        at = [
            float(second.cost({"exchange_rate.MXN": 17.2 * f}) - first.cost({})) for f in (0.5, 1.5)
        ]
        assert (at[0] < 0) == (at[1] < 0)
        return
    ours, theirs = (float(each.cost({"exchange_rate.MXN": found})) for each in (first, second))
    assert abs(ours - theirs) / ours < 1e-12


def test_a_tie_in_an_exchange_rate_is_a_tie_when_that_rate_is_entered() -> None:
    """Pesos are reported; the first offer and its freight are in dollars."""
    on = basis(currency="MXN")
    home = {"term": "DAP", "supplier": supplier(country="Homeland")}

    def options(rates: RateBook) -> list[Option]:
        landings = [
            land(met, on, rates, prefix="at")
            for met in (
                offer(price=Decimal("2.30")),
                offer(price=Decimal("55.00"), currency="MXN", **home),
            )
        ]
        return [Option(each.sheet, each.inputs, "at.same_basis_price") for each in landings]

    first, second = options(rate_book())
    tie = break_even(first, second, "exchange_rate.USD")
    assert tie is not None
    entered = ExchangeRate(1, "USD", "MXN", tie, date(2026, 1, 1), "trial")
    first, second = options(rate_book(exchange_rates=(entered,)))
    assert float(first.cost({})) == pytest.approx(float(second.cost({})), rel=1e-12)


def test_an_input_that_moves_both_alike_has_no_break_even() -> None:
    assert break_even(option(), option(price=Decimal("2.6")), "lane.Farland.freight") is None


def test_an_input_nobody_has_or_that_is_zero_has_no_break_even() -> None:
    assert break_even(option(), option(), "no_such_input") is None
    assert break_even(option(), option(), "at.tax_inside") is None


def test_a_tie_too_far_away_is_not_shown() -> None:
    cheap, dear = option(price=Decimal("1.00")), option(price=Decimal("4.00"))
    assert price_to_beat(cheap, dear, "at.quoted_price", reach=0.5) is None
    assert price_to_beat(cheap, dear, "at.quoted_price", reach=0.9) == pytest.approx(1.0, rel=1e-12)


def test_break_evens_of_a_comparison_tie_when_put_back_nearest_first() -> None:
    rotor = yarn(spinning="OE")
    comparison = compare(
        construction(),
        basis(),
        assumption_set(),
        rate_book(),
        [
            offer(code="R1", price=Decimal("2.50")),
            offer(code="R2", price=Decimal("43.50"), currency="MXN"),
            offer(code="O1", price=Decimal("2.40"), yarn=rotor),
            offer(code="O2", price=Decimal("2.05"), currency="EUR", yarn=rotor),
        ],
        (),
    )
    found = break_evens_of(comparison)
    assert found
    distances = [abs(each.distance) for each in found]
    assert distances == sorted(distances)
    assert {"exchange_rate.MXN", "exchange_rate.EUR"} <= {each.name for each in found}
    assert any(each.of for each in found)
    for each in found:
        options = [
            Option(*comparison.sheet_of(pair), "fabric_cost") for pair in (each.leader, each.rival)
        ]
        moved = {each.name: each.value}
        leader = options[0].cost({} if each.of else moved)
        rival = options[1].cost(moved)
        assert abs(float(leader) - float(rival)) / float(leader) < 1e-12, each.name
        assert each.distance == each.value / float(each.input.value) - 1
        assert abs(each.distance) <= 0.5


def test_nothing_is_compared_without_a_leader() -> None:
    empty = compare(construction(), basis(), assumption_set(), rate_book(), [], ())
    assert break_evens_of(empty) == ()
