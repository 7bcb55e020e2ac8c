"""Sheets and rows of honest files, and what becomes of a child that fails."""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest
import xlsxwriter
import xlwt

from server.intake.files import EncodingUnclear, Unreadable
from server.intake.sheets import Cell, SheetInfo, look_into, rows_of
from tests.intake.making import (
    OFFERS,
    SHEET,
    Rows,
    ods,
    ods_cell,
    ods_of,
    text,
    texts,
    unzipped,
    with_parts,
    with_sheet,
    xls,
    xlsx,
    zipped,
)

MAKERS: dict[str, Callable[[dict[str, Rows]], bytes]] = {"xlsx": xlsx, "xls": xls, "ods": ods}
every_workbook = pytest.mark.parametrize("kind", list(MAKERS))
BLANK = Cell("", "blank")


def only_row(name: str, content: bytes) -> tuple[Cell, ...]:
    ((_, cells),) = rows_of(name, content)
    return cells


# Workbooks


@every_workbook
def test_cells_come_with_their_text_and_kind(kind: str) -> None:
    content = MAKERS[kind]({"Offers": OFFERS})
    opened = look_into(f"a.{kind}", content)
    assert (opened.kind, opened.encoding, opened.separator) == (kind, "", "")
    assert opened.sheets == (SheetInfo("Offers", 3, 6),)
    rows = dict(rows_of(f"a.{kind}", content))
    assert rows[1] == tuple(Cell(heading, "text") for heading in OFFERS[0])
    assert rows[2] == (
        Cell("Garuda Spinners", "text"),
        Cell("Ring carded", "text"),
        Cell("Ne 7/1", "text"),
        Cell("2.46", "number"),
        Cell("15900", "number"),
        Cell("2026-03-12", "date"),
    )


@every_workbook
def test_blank_rows_are_left_out_and_the_others_keep_their_line(kind: str) -> None:
    rows: Rows = [[], [], [None, "x"], [], [None, None, "y", None, " "]]
    content = MAKERS[kind]({"A": rows})
    assert look_into(f"a.{kind}", content).sheets == (SheetInfo("A", 5, 3),)
    assert texts(f"a.{kind}", content) == [(3, ["", "x"]), (5, ["", "", "y"])]


@every_workbook
def test_each_sheet_is_read_by_its_name_whatever_the_script(kind: str) -> None:
    names = ["Offers", "قائمة الأسعار", "🧶 yarn", "价格 & <b>"]
    content = MAKERS[kind]({name: [[name, "🧵 ‏שלום", "İplik"]] for name in names})
    opened = look_into(f"a.{kind}", content)
    assert [sheet.name for sheet in opened.sheets] == names
    for name in names:
        assert texts(f"a.{kind}", content, sheet=name) == [(1, [name, "🧵 ‏שלום", "İplik"])]
    assert texts(f"a.{kind}", content) == texts(f"a.{kind}", content, sheet="Offers")
    with pytest.raises(Unreadable, match="has no sheet named Nothing") as refusal:
        texts(f"a.{kind}", content, sheet="Nothing")
    assert "Choose one" in refusal.value.remedy


@every_workbook
@pytest.mark.parametrize(
    ("number", "shown"),
    [
        (2.46, "2.46"),
        (15900, "15900"),
        (0.1 + 0.2, "0.3"),
        (2.46 * 1.05, "2.583"),
        (1 / 3, "0.333333333333333"),
        (-0.0, "0"),
        (-4.5, "-4.5"),
        (1e-9, "0.000000001"),
        (1e21, "1" + "0" * 21),
        (123456789012345, "123456789012345"),
        (1.7e308, "17" + "0" * 307),
    ],
)
def test_a_number_is_plain_decimals(kind: str, number: float, shown: str) -> None:
    content = MAKERS[kind]({"A": [[number]]})
    assert only_row(f"a.{kind}", content) == (Cell(shown, "number"),)


def test_a_number_stored_with_all_its_binary_digits_is_shown_short() -> None:
    content = with_sheet('<row r="1"><c r="A1"><v>2.4600000000000001</v></c></row>')
    assert only_row("a.xlsx", content) == (Cell("2.46", "number"),)


@pytest.mark.parametrize("value", ["NaN", "inf", "1e999"])
def test_what_is_no_number_is_not_called_one(value: str) -> None:
    content = with_sheet(f'<row r="1"><c r="A1"><v>{value}</v></c></row>')
    assert only_row("a.xlsx", content)[0].kind == "text"


@pytest.mark.parametrize("kind", ["xlsx", "ods"])
def test_a_moment_keeps_its_time_unless_it_is_midnight(kind: str) -> None:
    moments = [
        datetime.fromisoformat(f"2026-03-12T{time}") for time in ("00:00", "14:30", "07:05:09")
    ]
    content = MAKERS[kind]({"A": [moments]})
    shown = ["2026-03-12", "2026-03-12 14:30", "2026-03-12 07:05:09"]
    assert only_row(f"a.{kind}", content) == tuple(Cell(each, "date") for each in shown)


def test_lengths_of_time_and_times_of_day_are_text() -> None:
    def change(book: xlsxwriter.Workbook) -> None:
        sheet = book.add_worksheet("A")
        hours = book.add_format({"num_format": "[h]:mm:ss"})
        sheet.write_datetime(0, 0, timedelta(hours=36, minutes=5), hours)
        sheet.write_number(0, 1, 0.5, book.add_format({"num_format": "hh:mm"}))

    length = 'office:value-type="time" office:time-value="PT36H05M00S"'
    for name, content in (
        ("a.xlsx", xlsx({}, change=change)),
        ("a.ods", ods_of(
            '<table:table table:name="A"><table:table-row>'
            f"<table:table-cell {length}><text:p>x</text:p></table:table-cell>"
            f'<table:table-cell {length.replace("36H05", "12H00")}/>'
            "</table:table-row></table:table>")),
    ):  # fmt: skip
        assert only_row(name, content) == (Cell("36:05:00", "text"), Cell("12:00:00", "text"))


@every_workbook
def test_a_truth_is_yes_or_no(kind: str) -> None:
    content = MAKERS[kind]({"A": [[True, False]]})
    assert only_row(f"a.{kind}", content) == (Cell("yes", "text"), Cell("no", "text"))


def test_a_formula_gives_its_kept_value_and_without_one_a_blank() -> None:
    def change(book: xlsxwriter.Workbook) -> None:
        sheet = book.add_worksheet("A")
        for column, kept in enumerate((2.46, "Ne 7", True, "", "#DIV/0!")):
            sheet.write_formula(0, column, "=B9", None, kept)

    assert only_row("a.xlsx", xlsx({}, change=change)) == (
        Cell("2.46", "number"),
        Cell("Ne 7", "text"),
        Cell("yes", "text"),
        BLANK,
        Cell("#DIV/0!", "text"),
    )
    bare = with_sheet('<row r="1"><c r="A1"><f>B1*2</f></c><c r="B1"><v>5</v></c></row>')
    assert only_row("a.xlsx", bare) == (BLANK, Cell("5", "number"))


def test_an_error_is_shown_as_the_file_shows_it() -> None:
    errors = ["#REF!", "#DIV/0!", "#NAME?", "#VALUE!", "#NUM!"]
    shown = tuple(Cell(each, "text") for each in errors)
    cells = "".join(
        f'<c r="{c}1" t="e"><v>{e}</v></c>' for c, e in zip("ABCDE", errors, strict=True)
    )
    assert only_row("a.xlsx", with_sheet(f'<row r="1">{cells}</row>')) == shown
    more = 'office:string-value="" calcext:value-type="error"'
    row = "".join(ods_cell(each, more) for each in errors)
    table = f'<table:table table:name="A"><table:table-row>{row}</table:table-row></table:table>'
    assert only_row("a.ods", ods_of(table)) == shown


@pytest.mark.parametrize("rows", [1, 5_000])
def test_an_error_in_an_old_workbook_is_shown_too(tmp_path: Path, rows: int) -> None:
    book = xlwt.Workbook()
    for name in ("A", "B"):
        sheet = book.add_sheet(name)
        for row in range(rows):
            sheet.row(row).set_cell_error(2, "#REF!" if name == "A" else "#NUM!")
            sheet.write(row, 3, f"yarn {row}")
    book.save(str(tmp_path / "a.xls"))
    content = (tmp_path / "a.xls").read_bytes()
    for name, shown in (("A", "#REF!"), ("B", "#NUM!")):
        found = texts("a.xls", content, sheet=name)
        assert found == [(row + 1, ["", "", shown, f"yarn {row}"]) for row in range(rows)]


def test_merged_title_rows_stand_in_their_first_cell() -> None:
    def change(book: xlsxwriter.Workbook) -> None:
        sheet = book.worksheets()[0]
        sheet.merge_range("A1:F1", "Garuda Spinners – price list")
        sheet.merge_range("A2:A3", "valid in March")

    content = xlsx({"A": [[], [], [], *OFFERS]}, change=change)
    assert texts("a.xlsx", content)[:3] == [
        (1, ["Garuda Spinners – price list"]),
        (2, ["valid in March"]),
        (4, list(OFFERS[0])),
    ]


def test_hidden_sheets_come_last_and_charts_are_no_sheets() -> None:
    def change(book: xlsxwriter.Workbook) -> None:
        first, second, _ = book.worksheets()
        second.activate()
        first.hide()
        chart = book.add_chart({"type": "line"})
        chart.add_series({"values": "=B!$A$1:$A$2"})
        book.add_chartsheet("Chart").set_chart(chart)

    content = xlsx({"Hidden": [["h"]], "B": [["b"]], "C": []}, change=change)
    assert [sheet.name for sheet in look_into("a.xlsx", content).sheets] == ["B", "C", "Hidden"]
    assert texts("a.xlsx", content) == [(1, ["b"])]
    assert texts("a.xlsx", content, sheet="Hidden") == [(1, ["h"])]
    assert texts("a.xlsx", content, sheet="C") == []


def test_one_sheet_too_many_rows_leaves_the_others_readable() -> None:
    content = xlsx({"Archive": [["x"]] * 20_051, "Offers": OFFERS})
    opened = look_into("a.xlsx", content)
    assert opened.sheets == (SheetInfo("Archive", 20_051, 1), SheetInfo("Offers", 3, 6))
    assert len(texts("a.xlsx", content, sheet="Offers")) == 3
    with pytest.raises(Unreadable, match="has 20,051 rows in sheet Archive"):
        texts("a.xlsx", content, sheet="Archive")


def test_repeated_cells_and_rows_are_all_there() -> None:
    twice = ods_cell(5, 'table:number-columns-repeated="2"')
    rest = ods_cell(None, 'table:number-columns-repeated="16000"')
    table = (
        '<table:table table:name="A"><table:table-row table:number-rows-repeated="3">'
        f'{twice}{rest}</table:table-row><table:table-row table:number-rows-repeated="1000000">'
        f"{rest}</table:table-row></table:table>"
    )
    assert texts("a.ods", ods_of(table)) == [(line, ["5", "5"]) for line in (1, 2, 3)]


def test_parts_named_with_backslashes_are_found() -> None:
    parts = unzipped(xlsx({"A": [["x", 2.46]]}))
    content = zipped({name.replace("/", "\\"): part for name, part in parts.items()})
    assert texts("a.xlsx", content) == [(1, ["x", "2.46"])]


def test_a_stated_size_or_ten_thousand_styles_mean_nothing() -> None:
    content = xlsx({"A": OFFERS})
    sheet = '<dimension ref="A1:XFD1048576"/><sheetData>'
    styles = "<styleSheet><cellXfs>" + "<xf/>" * 10_000 + "</cellXfs></styleSheet>"
    parts = {
        "xl/worksheets/sheet1.xml": b'<worksheet xmlns="x">' + sheet.encode()
        + b'<row r="1"><c r="A1"><v>1</v></c><c r="XFD1" s="9999"/></row></sheetData></worksheet>',
        "xl/styles.xml": styles.encode(),
    }  # fmt: skip
    assert look_into("a.xlsx", with_parts(content, parts)).sheets == (SheetInfo("A", 1, 1),)


# Text


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_a_text_table_is_read_whatever_cuts_it(separator: str, encoding: str) -> None:
    content = text(OFFERS, separator).encode(encoding)
    opened = look_into("a.csv", content)
    assert (opened.kind, opened.separator) == ("text", separator)
    assert opened.encoding == encoding.removesuffix("-sig")
    assert opened.sheets == (SheetInfo("", 3, 6),)
    assert texts("a.csv", content) == [
        (line, [str(cell) for cell in row]) for line, row in enumerate(OFFERS, 1)
    ]
    kinds = {cell.kind for _, cells in rows_of("a.csv", content) for cell in cells}
    assert kinds == {"text"}


@pytest.mark.parametrize(
    ("content", "separator"),
    [
        (
            "Preisliste, gültig ab 1.3.\nMeyer & Söhne, Ulm\n\nGarn;Preis\nNe 7;2,46\nNe 8;2,50\n",
            ";",
        ),
        ("Garn;Preis\nNe 7;2,46\nNe 8;2,50\n", ";"),
        ("Garn\tPreis\nNe 7\t2,46\nNe 8\t2,50\n", "\t"),
        ('name,remark\n"A","x;y;z"\n"B","p;q;r"\n', ","),
        ("1;2,46;3,5\n2;2,47;3,6\n", ";"),
        ("Name;City\nMeyer, Karl;Ulm\nMüller, Eva;Bonn\n", ";"),
        ("a|b|c\n1|2.4|x, y\n2|2.5|y, z\n", "|"),
        ("Garn\nNe 7\nNe 8\n", ""),
        ("sep=;\na,b;c\n", ";"),
        ("sep=\t\r\na,b;c;d\n", "\t"),
        ("sep=x\na;b\n", ";"),
        ("a\t\t\nb\t1\t\n", "\t"),
    ],
)
def test_the_separator_is_found(content: str, separator: str) -> None:
    assert look_into("", content.encode()).separator == separator


def test_a_separator_may_be_chosen_and_a_strange_one_is_refused() -> None:
    content = b"2,46\n2,50\n"
    assert texts("a.csv", content, separator=";") == [(1, ["2,46"]), (2, ["2,50"])]
    with pytest.raises(Unreadable, match="between its cells") as refusal:
        look_into("a.csv", content, separator="x")
    assert "semicolon" in refusal.value.remedy


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_lines_are_counted_as_an_editor_counts_them(end: str) -> None:
    lines = ["sep=;", "Garn;Preis", "", ";;", '"Ne 7', '""slub""";2,46', "Ne 8; ;2,50 ; "]
    content = end.join(lines).encode()
    assert texts("a.csv", content) == [
        (2, ["Garn", "Preis"]),
        (5, [f'Ne 7{end}"slub"', "2,46"]),
        (7, ["Ne 8", "", "2,50 "]),
    ]
    assert look_into("a.csv", content).sheets == (SheetInfo("", 7, 3),)


def test_letters_in_doubt_are_asked_for_and_then_read() -> None:
    content = "İplik;Fiyat\nŞantuk;2,46\n".encode("cp1254")
    with pytest.raises(EncodingUnclear):
        look_into("a.csv", content)
    opened = look_into("a.csv", content, encoding="CP1254")
    assert (opened.encoding, opened.separator) == ("cp1254", ";")
    again = texts("a.csv", content, encoding=opened.encoding, separator=opened.separator)
    assert again == [(1, ["İplik", "Fiyat"]), (2, ["Şantuk", "2,46"])]


def test_unmarked_utf_16_is_read_when_somebody_says_so() -> None:
    content = "Garn;Preis\nNe 7;2,46\n".encode("utf-16-be")
    assert texts("a.csv", content, encoding="utf-16-be") == [
        (1, ["Garn", "Preis"]),
        (2, ["Ne 7", "2,46"]),
    ]


@pytest.mark.parametrize("name", ["a.xlsx", "a.csv"])
def test_reading_may_begin_and_end_anywhere(name: str) -> None:
    rows = [[f"row {number}", number] for number in range(1, 101)]
    content = xlsx({"A": rows}) if name == "a.xlsx" else text(rows).encode()
    assert [line for line, _ in texts(name, content, first=98)] == [98, 99, 100]
    assert texts(name, content, first=7, most=2) == [(7, ["row 7", "7"]), (8, ["row 8", "8"])]
    assert texts(name, content, most=0) == []
    assert texts(name, content, first=101) == []


def test_a_day_before_1900_or_beyond_the_calendar_does_not_end_the_reader() -> None:
    content = with_sheet(
        '<row r="1"><c r="A1" s="1"><v>99999999</v></c><c r="B1"><v>-1</v></c></row>'
    )
    styled = xlsx({"A": [[date(2026, 3, 12)]]})
    parts = {SHEET: unzipped(content)[SHEET]}
    (first, second) = only_row("a.xlsx", with_parts(styled, parts))
    assert first.text
    assert second == Cell("-1", "number")


# Speed


def test_the_largest_tables_are_read_in_a_few_seconds() -> None:
    rows = [[f"yarn {row}", *(row + column / 7 for column in range(23))] for row in range(20_000)]
    for name, content in (("a.xlsx", xlsx({"A": rows})), ("a.csv", text(rows, ";").encode())):
        started = time.monotonic()
        assert look_into(name, content).sheets[0].rows == 20_000
        assert sum(1 for _ in rows_of(name, content)) == 20_000
        assert time.monotonic() - started < 15, name
