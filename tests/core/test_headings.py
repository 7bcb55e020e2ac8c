"""Headings of supplier sheets in six languages, and what they settle for every line."""

from __future__ import annotations

import pytest

from server.actions.entries import OfferEntry
from server.core.headings import (
    COLUMN_FIELDS,
    IGNORED,
    QUOTE,
    find_heading_line,
    match_heading,
)


@pytest.mark.parametrize(
    ("heading", "field"),
    [
        ("Count (Ne)", "count"), ("Título", "count"), ("Titolo Nm", "count"), ("Numara", "count"),
        ("Price USD/kg", "price"), ("Precio", "price"), ("Prezzo €/kg", "price"),
        ("Preço R$/kg", "price"), ("Fiyat", "price"), ("Prix", "price"),
        ("Currency", "currency"), ("Moneda", "currency"), ("Para birimi", "currency"),
        ("Incoterm", "term"), ("Resa", "term"), ("Delivery", "term"),
        ("Delivery time (weeks)", "lead_days"), ("Plazo de entrega", "lead_days"),
        ("Consegna", "lead_days"), ("Teslim süresi", "lead_days"), ("Délai", "lead_days"),
        ("Payment terms", "payment"), ("Pago", "payment"), ("Ödeme", "payment"),
        ("Valid until", "valid_until"), ("Vigencia", "valid_until"), ("Geçerlilik", "valid_until"),
        ("MOQ (kg)", "moq_tonnes"), ("Lotto minimo", "moq_tonnes"),
        ("Tenacity RKM", "tenacity"), ("CVm %", "evenness"), ("Hairiness H", "hairiness"),
        ("Count CV", "count_cv"), ("Twist", "twist"), ("TM", "twist_multiplier"),
        ("Description", QUOTE), ("Descripción", QUOTE), ("Yarn", QUOTE),
        ("Supplier", "supplier"), ("Proveedor", "supplier"), ("Ref. no", "code"),
        ("Lot", "test_lot"), ("Remarks", "notes"),
        ("quoted_regain_percent", "quoted_regain_percent"),
        ("", IGNORED), ("Colour of the cone", IGNORED),
    ],
)  # fmt: skip
def test_a_heading_is_taken_for_its_field(heading: str, field: str) -> None:
    assert match_heading(heading).field == field


@pytest.mark.parametrize(
    ("heading", "says"),
    [
        ("Price USD/kg", {"currency": "USD", "price_unit": "kg"}),
        ("Price (USD per lb) FOB", {"currency": "USD", "price_unit": "lb", "term": "FOB"}),
        ("Prezzo €/kg", {"currency": "EUR", "price_unit": "kg"}),
        ("PKR/10 lbs price", {"currency": "PKR", "price_unit": "10 lb"}),
        ("Price R$ / t", {"currency": "BRL", "price_unit": "t"}),
        ("Price", {}),
        ("Price $", {}),  # which dollar is not said
        ("Count Nm", {"count_system": "Nm"}),
        ("Count tex", {"count_system": "tex"}),
    ],
)
def test_units_in_a_heading_hold_for_every_line(heading: str, says: dict[str, str]) -> None:
    assert match_heading(heading).says == says


@pytest.mark.parametrize(
    ("heading", "scale"),
    [
        ("Lead time (weeks)", "7"), ("Plazo (semanas)", "7"), ("Lead time (days)", "1"),
        ("MOQ kg", "0.001"), ("MOQ (t)", "1"), ("U %", "1.25"), ("Tenacity RKM", "0.980665"),
        ("Tenacity cN/tex", "1"),
    ],
)  # fmt: skip
def test_the_unit_of_a_heading_becomes_a_factor(heading: str, scale: str) -> None:
    """CVm = 1.25 U and RKM in gf/tex: trade guide 1.1; standard gravity 9.80665 m/s²."""
    assert match_heading(heading).scale == scale


def test_the_heading_is_found_below_merged_titles_and_above_figures() -> None:
    rows = [
        (1, ("Price list", "", "")),
        (2, ("Spring 2026, all prices subject to confirmation", "", "")),
        (4, ("Count", "Price", "Valid until")),
        (5, ("7/1", "2.46", "2026-03-20")),
    ]
    assert find_heading_line(rows) == 4
    assert find_heading_line(rows[3:]) == 0
    assert find_heading_line([]) == 0


def test_every_field_a_column_may_hold_is_a_field_of_an_offer() -> None:
    assert set(COLUMN_FIELDS) - {QUOTE} <= set(OfferEntry.model_fields)
