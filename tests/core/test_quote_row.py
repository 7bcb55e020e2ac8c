"""Rows of supplier sheets: cells by what their column holds, in the sheet's own way of writing."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.headings import match_heading
from server.core.quote_draft import Habits
from server.core.quote_reading import Reading
from server.core.quote_row import CellText, Layout, date_order_of, marks_of, read_row

DAY = date(2026, 3, 2)


def row(cells: dict[str, str | float], decimal_mark: str = "", date_order: str = "") -> Reading:
    headings = list(cells)
    layout = Layout.of(
        {n: match_heading(heading).field for n, heading in enumerate(headings)},
        headings,
        decimal_mark=decimal_mark,
        date_order=date_order,
    )
    texts = [
        CellText(str(cell), "text" if isinstance(cell, str) else "number")
        for cell in cells.values()
    ]
    return read_row(texts, layout, received_on=DAY, habits=Habits())


def asked(reading: Reading) -> set[str]:
    return {question.field for question in reading.questions}


def test_a_number_keeps_its_digits_and_the_heading_gives_its_unit() -> None:
    met = row({"Count (Ne)": 6.5, "Price USD/lb": "1.120", "Lead time (weeks)": 4}).values
    assert (met["count"], met["count_system"]) == ("6.5", "Ne")
    assert (met["price"], met["currency"], met["price_unit"]) == ("1.120", "USD", "lb")
    assert met["lead_days"] == "28"


def test_a_cell_says_more_than_its_heading_and_wins() -> None:
    met = row({"Count": "Nm 11/1", "Price": "EUR 3,05/kg", "Delivery": "FCA Biella"}).values
    assert (met["count"], met["count_system"], met["ply"]) == ("11", "Nm", "1")
    assert (met["price"], met["currency"], met["price_unit"]) == ("3.05", "EUR", "kg")
    assert (met["term"], met["place"]) == ("FCA", "Biella")


def test_free_text_fills_what_no_column_says() -> None:
    met = row({"Description": "OE carded 8/1, LC sight", "Price USD/kg": 1.9, "Payment": "CAD"})
    assert met.values["payment"] == "CAD"
    assert (met.values["count"], met.values["spinning"]) == ("8", "OE")
    assert met.values["description"] == "OE carded 8/1, LC sight"


def test_what_two_readings_allow_is_asked_and_left_empty() -> None:
    met = row({"Count": "8/1", "Price": "2,310", "Valid until": "03/04/2026", "MOQ": "18,000"})
    assert {"price", "valid_until"} <= asked(met)
    assert "price" not in met.values
    settled = row({"Count": "8/1", "Price": "2,310", "Valid until": "03/04/2026"}, ",", "MDY")
    assert settled.values["price"] == "2.310"
    assert settled.values["valid_until"] == "2026-03-04"


def test_eighteen_thousand_kilograms_are_eighteen_tonnes_however_they_are_written() -> None:
    for text in ("18,000", "18.000", "18 000", "18000"):
        assert row({"MOQ (kg)": text}).values["moq_tonnes"] == "18"


def test_fob_mill_in_a_cell_is_asked_as_in_a_line() -> None:
    met = row({"Price USD/kg": 1.9, "Delivery": "FOB mill"})
    assert "term" in asked(met)
    assert "term" not in met.values


def test_the_row_stands_whole_in_its_text_with_every_cell_marked() -> None:
    met = row({"Count": "7/1", "Colour": "raw white", "Price": "2.46 USD/kg"})
    assert met.text == "Count: 7/1; Colour: raw white; Price: 2.46 USD/kg"
    assert [met.text[piece.start : piece.end] for piece in met.pieces] == [
        "7/1", "raw white", "2.46 USD/kg",
    ]  # fmt: skip
    assert met.pieces[1].taken_for == "left out"


@pytest.mark.parametrize(
    ("texts", "mark"),
    [
        (["2,46", "3,1"], ","), (["2.46", "1,234.5"], "."), (["1.234,56"], ","),
        (["2,310", "1,950"], ""), (["2,46", "2.46"], ""), (["7", "8"], ""),
    ],
)  # fmt: skip
def test_the_decimal_mark_is_told_only_when_the_column_agrees(texts: list[str], mark: str) -> None:
    assert marks_of({0: texts}) == mark


@pytest.mark.parametrize(
    ("texts", "order"),
    [
        (["03/04/2026", "28/03/2026"], "DMY"), (["03/04/2026", "03/28/2026"], "MDY"),
        (["03/04/2026"], ""), (["28/03/2026", "03/28/2026"], ""),
    ],
)  # fmt: skip
def test_the_order_of_a_day_is_told_only_when_the_column_agrees(
    texts: list[str], order: str
) -> None:
    assert date_order_of(texts) == order


@given(st.lists(st.text(max_size=40), max_size=12))
def test_any_cells_are_read_without_a_fault(texts: list[str]) -> None:
    headings = [
        "Count", "Price USD/kg", "Delivery", "Payment", "Lead time", "MOQ (kg)",
        "Valid until", "Twist", "Process", "Description", "Currency", "Price unit",
    ]  # fmt: skip
    layout = Layout.of({n: match_heading(h).field for n, h in enumerate(headings)}, headings)
    reading = read_row([CellText(text) for text in texts], layout, received_on=DAY, habits=Habits())
    assert all(piece.end <= len(reading.text) for piece in reading.pieces)
