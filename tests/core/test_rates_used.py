"""Every dated rate behind a comparison, once, with its age at the as-of date."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from server.core.compare import Comparison, compare
from server.core.offer import Offer
from server.core.rates_used import (
    CHARGE,
    DUTY,
    EXCHANGE,
    LANE,
    LONGEST_AGE_DAYS,
    UsedRate,
    rates_of_comparison,
    rates_of_pair,
)
from tests.builders import assumption_set, basis, construction, demo_comparison, offer, rate_book


def compared(*offers: Offer) -> Comparison:
    return compare(construction(), basis(), assumption_set(), rate_book(), offers, ())


def test_a_comparison_names_each_rate_it_used_and_no_other() -> None:
    found = rates_of_comparison(compared(offer(), offer(code="T02", currency="EUR")))
    labels = {each.label: each.kind for each in found}
    assert labels["USD for one EUR"] == EXCHANGE
    assert labels["Lane from Farland"] == LANE
    assert labels["Duty, Farland"] == DUTY
    assert labels["Cost of money"] == CHARGE
    assert "MXN for one USD" not in labels
    assert "Origin haulage and export clearance, EXW" not in labels
    assert len(labels) == len(found)
    assert [each.kind for each in found] == sorted(
        (each.kind for each in found), key=list(LONGEST_AGE_DAYS).index
    )


def test_a_lane_stands_once_with_all_its_figures() -> None:
    (lane,) = (each for each in rates_of_comparison(compared(offer())) if each.kind == LANE)
    assert [(each.value, each.unit) for each in lane.figures] == [
        (3200.0, "¤"), (20_000.0, "kg"), (0.09, "¤/kg"), (45.0, "d"),
    ]  # fmt: skip
    assert (lane.valid_from, lane.where) == (date(2026, 1, 1), "/rates/lanes/1")


@pytest.mark.parametrize(
    ("kind", "days", "old"),
    [
        (EXCHANGE, 7, False), (EXCHANGE, 8, True), (LANE, 30, False), (LANE, 31, True),
        (DUTY, 365, False), (DUTY, 366, True), (CHARGE, 366, True), (EXCHANGE, -3, False),
    ],
)  # fmt: skip
def test_a_rate_is_old_when_it_is_older_than_its_kind_allows(
    kind: str, days: int, old: bool
) -> None:
    as_of = date(2026, 3, 2)
    from_day = date.fromordinal(as_of.toordinal() - days)
    rate = UsedRate(kind, "x", (), from_day, "trial", "", "/rates")
    assert (rate.age_days(as_of), rate.is_old(as_of)) == (days, old)


def test_a_pair_names_only_its_own_rates() -> None:
    comparison = demo_comparison("DN-1375")
    pair = comparison.find("Q09", "Q14")
    assert pair is not None
    labels = {each.label for each in rates_of_pair(comparison, pair)}
    assert "Lane from Viet Nam" in labels
    assert "MXN for one USD" not in labels
    everything = {each.label for each in rates_of_comparison(comparison)}
    assert labels < everything
    assert {"MXN for one USD", "Lane from India"} <= everything


def test_the_rate_of_the_assumptions_currency_is_named_too() -> None:
    foreign = replace(assumption_set(), currency="EUR")
    comparison = compare(construction(), basis(), foreign, rate_book(), (offer(),), ())
    assert "USD for one EUR" in {each.label for each in rates_of_comparison(comparison)}


def test_a_rate_by_way_of_a_third_currency_says_both_parts() -> None:
    met = offer(currency="EUR", price=Decimal("2.3"))
    on = basis(currency="MXN")
    comparison = compare(construction(), on, assumption_set(), rate_book(), (met,), ())
    (crossed,) = (each for each in rates_of_comparison(comparison) if "by way of USD" in each.label)
    assert crossed.why == "1 EUR = 1.186 USD; 1 USD = 17.2 MXN"
