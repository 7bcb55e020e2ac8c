"""Dated rates: the newest that holds on the day, either way round, or a clear refusal."""

from __future__ import annotations

from datetime import date

import pytest

from server.core.errors import Missing
from server.core.rates import CHARGES, ExchangeRate
from tests.builders import DAY, charges, duty_rate, lane, rate_book, yarn

OLD, NEW, LATER = date(2026, 1, 1), date(2026, 2, 1), date(2026, 4, 1)


def test_the_newest_rate_that_holds_on_the_day_is_taken() -> None:
    rates = rate_book(
        exchange_rates=tuple(
            ExchangeRate(place, "EUR", "USD", rate, day, "trial")
            for place, (rate, day) in enumerate([(1.1, OLD), (1.2, NEW), (1.3, LATER)], start=1)
        )
    )
    assert rates.exchange("EUR", "USD", DAY)[0].value == 1.2
    assert rates.exchange("EUR", "USD", date(2026, 1, 15))[0].value == 1.1
    assert rates.exchange("EUR", "USD", NEW)[0].value == 1.2
    with pytest.raises(Missing) as missing:
        rates.exchange("EUR", "USD", date(2025, 12, 31))
    assert (missing.value.field, missing.value.value) == ("currency", "EUR")


def test_of_two_rates_of_one_day_the_later_entered_holds() -> None:
    twice = (lane(id=1, freight=3200.0), lane(id=9, freight=3300.0))
    assert rate_book(lanes=twice).lane("Farland", DAY).freight == 3300.0
    assert rate_book(lanes=twice[::-1]).lane("Farland", DAY).freight == 3300.0


def test_a_rate_quoted_the_other_way_is_said_to_be_inverse() -> None:
    rates = rate_book()
    euro, euro_inverse = rates.exchange("EUR", "USD", DAY)
    peso, peso_inverse = rates.exchange("MXN", "USD", DAY)
    assert (euro.value, euro_inverse) == (1.186, False)
    assert (peso.value, peso_inverse) == (17.2, True)
    assert peso.as_entered == "1 USD = 17.2 MXN"
    assert rates.factor("MXN", "USD", DAY).value == pytest.approx(1 / 17.2, rel=1e-15)
    assert rates.factor("EUR", "USD", DAY).value == 1.186
    assert rates.exchange("USD", "USD", DAY)[0].value == 1.0


def test_of_two_ways_round_the_newer_rate_holds() -> None:
    rates = rate_book(
        exchange_rates=(
            ExchangeRate(1, "EUR", "USD", 1.10, OLD, "trial"),
            ExchangeRate(2, "USD", "EUR", 0.80, NEW, "trial"),
        )
    )
    assert rates.factor("EUR", "USD", DAY).value == pytest.approx(1.25)


def test_a_cross_rate_goes_by_way_of_a_third_currency() -> None:
    found, inverse = rate_book().exchange("EUR", "MXN", DAY)
    assert found.value == pytest.approx(1.186 * 17.2, rel=1e-14)
    assert not inverse
    assert "by way of USD" in found.label
    assert found.as_entered == "1 EUR = 1.186 USD; 1 USD = 17.2 MXN"
    back, _ = rate_book().exchange("MXN", "EUR", DAY)
    assert back.value == pytest.approx(1 / (1.186 * 17.2), rel=1e-14)


def test_an_unknown_currency_is_refused_with_a_remedy() -> None:
    with pytest.raises(Missing, match="No exchange rate between CHF and USD on 2026-03-02") as m:
        rate_book().exchange("CHF", "USD", DAY)
    assert "Rates page" in m.value.remedy


def test_a_missing_lane_duty_or_charge_is_named() -> None:
    with pytest.raises(Missing, match="no freight lane from Nowhere"):
        rate_book().lane("Nowhere", DAY)
    with pytest.raises(Missing, match="no duty rate for Nowhere"):
        rate_book().duty("Nowhere", DAY, yarn())
    with pytest.raises(Missing, match="Cost of money"):
        rate_book(charges=()).charge("cost_of_money", DAY)
    with pytest.raises(Missing):
        rate_book(duties=(duty_rate(valid_from=LATER),)).duty("Farland", DAY, yarn())


def test_a_charge_in_money_keeps_the_currency_it_was_entered_in() -> None:
    rates = rate_book()
    charge = rates.charge("exw_origin_charge", DAY)
    assert (charge.value, charge.unit) == (0.05, "USD/kg")
    assert rates.charge_currency("exw_origin_charge", DAY) == "USD"
    assert rates.charge_currency("cost_of_money", DAY) == ""


def test_every_charge_says_what_it_is() -> None:
    rates = rate_book(charges=charges())
    for key, (label, unit) in CHARGES.items():
        found = rates.charge(key, DAY)
        shown = unit.replace("¤", rates.charge_currency(key, DAY) or "¤")
        assert (found.label, found.unit, found.source) == (label, shown, "trial")
        assert found.on == date(2026, 1, 1)
        assert found.where.startswith("/rates/charges/")
