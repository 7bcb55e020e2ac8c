"""Figures as text: decimals, units switch, currency, true minus."""

from __future__ import annotations

import pytest

from server.web.numbers import Writer, entered, significant


@pytest.mark.parametrize(
    ("value", "unit", "trade", "metric", "inch_pound"),
    [
        (2.857, "¤/m", "2.857 USD/m", "2.857 USD/m", "2.612 USD/yd"),
        (2.681, "¤/kg", "2.681 USD/kg", "2.681 USD/kg", "1.216 USD/lb"),
        (13.78, "oz/yd²", "13.78 oz/yd²", "467.2 g/m²", "13.78 oz/yd²"),
        (61.0, "in", "61.0 in", "154.9 cm", "61.0 in"),
        (67.4, "1/in", "67.4 1/in", "26.5 1/cm", "67.4 1/in"),
        (0.1125, "share", "11.2 %", "11.2 %", "11.2 %"),
        (-0.015, "¤/kg", "−0.015 USD/kg", "−0.015 USD/kg", "−0.007 USD/lb"),
    ],
)
def test_one_switch_moves_every_unit(
    value: float, unit: str, trade: str, metric: str, inch_pound: str
) -> None:
    assert Writer("trade", "USD").full(value, unit) == trade
    assert Writer("metric", "USD").full(value, unit) == metric
    assert Writer("inch-pound", "USD").full(value, unit) == inch_pound


def test_differences_carry_their_sign_and_nothing_has_none() -> None:
    writer = Writer("trade", "USD")
    assert writer.signed(0.153, "¤/m") == "+0.153"
    assert writer.signed(-0.153, "¤/m") == "−0.153"
    assert writer.signed(-0.0001, "¤/m") == "0.000"


def test_figures_of_unknown_units_keep_six_digits() -> None:
    assert significant(1234567.891) == "1.23457e+06"
    assert significant(-0.25) == "−0.25"
    assert Writer("trade", "USD").text(3.14159265, "furlong") == "3.14159"


def test_money_in_a_named_currency_has_the_decimals_of_money() -> None:
    writer = Writer("trade", "EUR")
    assert writer.full(0.0530277, "USD/kg") == "0.053 USD/kg"
    assert writer.full(2535.9, "USD") == "2,535.90 USD"


def test_what_was_typed_is_shown_as_typed() -> None:
    from datetime import date
    from decimal import Decimal

    assert entered(Decimal("46.80")) == "46.80"
    assert entered(None) == ""
    assert entered(True) == "yes"
    assert entered(date(2026, 3, 2)) == "2026-03-02"
