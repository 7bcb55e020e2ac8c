"""The sheets of a workbook as tables. Only the child process imports this module."""

from __future__ import annotations

import datetime
import io
import re
from collections.abc import Callable, Iterator
from decimal import Decimal
from typing import Any

from python_calamine import CalamineSheet, CalamineWorkbook, SheetTypeEnum, SheetVisibleEnum

from server.core.errors import shorten
from server.intake.archive import Refused
from server.intake.repack import repacked
from server.intake.tables import MAX_SHEETS, Row, Table, too_large
from server.intake.xls_records import Errors, error_cells

_SHOWN_DIGITS = ".15g"  # a spreadsheet program shows no more; the rest is rounding noise
_ISO_LENGTH = re.compile(r"PT(\d{1,6})H(\d\d)M(\d\d)(?:[.,]\d+)?S")


def workbook_tables(content: bytes, kind: str) -> list[Table]:
    """Its worksheets in order, hidden ones last; they are read when asked for."""
    errors = error_cells(content) if kind == "xls" else []
    if kind != "xls":
        content = repacked(content)
    book = CalamineWorkbook.from_filelike(io.BytesIO(content))
    sheets = [
        (each.visible != SheetVisibleEnum.Visible, number, each.name)
        for number, each in enumerate(book.sheets_metadata)
        if each.typ == SheetTypeEnum.WorkSheet
    ]
    if len(sheets) > MAX_SHEETS:
        raise Refused(
            f"has {len(sheets):,} sheets; at most {MAX_SHEETS} are read.",
            "Send only the sheets that matter.",
        )
    return [
        _table(book, number, name, errors[number] if number < len(errors) else {})
        for _, number, name in sorted(sheets)
    ]


def _table(book: CalamineWorkbook, number: int, name: str, errors: Errors) -> Table:
    return Table(name, lambda: _rows(book.get_sheet_by_index(number), name, errors))


def _rows(sheet: CalamineSheet, name: str, errors: Errors) -> Iterator[Row]:
    """All rows of one sheet. errors: what its cells with errors show, where the reader does not."""
    if sheet.start is None or sheet.end is None:
        return
    where = f" in sheet {shorten(name, 31)} (those that only look empty count too)"
    refusal = too_large(where, sheet.end[0] + 1, sheet.end[1] + 1)
    if refusal is not None:
        raise refusal
    before = [""] * sheet.start[1]  # blank columns that the reader leaves out
    for line, values in enumerate(sheet.iter_rows(), 1):
        cells = [_AS_CELL[type(value)](value) for value in (*before, *values)]
        for column, text in errors.get(line - 1, {}).items():
            cells[column] = text, "t"
        yield line, [text for text, _ in cells], "".join(kind for _, kind in cells)


def _text(value: str) -> tuple[str, str]:
    length = _ISO_LENGTH.fullmatch(value)  # of time, as .ods files write it
    if length:
        return ":".join(length.groups()), "t"
    return (value, "t") if value.strip() else ("", "b")


def _number(value: float) -> tuple[str, str]:
    """Plain decimals without exponent, as many digits as a spreadsheet program shows."""
    text = format(value, _SHOWN_DIGITS)
    if "n" in text:
        return text, "t"  # nan or inf
    if "e" in text:
        text = format(Decimal(text), "f")
    return ("0" if text == "-0" else text), "n"


def _moment(value: datetime.datetime) -> tuple[str, str]:
    """Day, and time of day unless it is midnight; seconds only where there are any."""
    if value.microsecond >= 500_000:
        value += datetime.timedelta(seconds=1)
    value = value.replace(microsecond=0)
    if value.time() == datetime.time():
        return value.date().isoformat(), "d"
    return value.isoformat(" ", "seconds" if value.second else "minutes"), "d"


def _duration(value: datetime.timedelta) -> tuple[str, str]:
    """A length of time as hours, minutes and seconds."""
    seconds = round(value.total_seconds())
    minutes, hours = abs(seconds) // 60, abs(seconds) // 3600
    sign = "-" if seconds < 0 else ""
    return f"{sign}{hours:02}:{minutes % 60:02}:{abs(seconds) % 60:02}", "t"


_AS_CELL: dict[type, Callable[[Any], tuple[str, str]]] = {
    str: _text,
    float: _number,
    int: lambda value: (str(value), "n"),
    bool: lambda value: ("yes" if value else "no", "t"),
    datetime.datetime: _moment,
    datetime.date: lambda value: (value.isoformat(), "d"),
    datetime.time: lambda value: (value.strftime("%H:%M:%S"), "t"),
    datetime.timedelta: _duration,
}
