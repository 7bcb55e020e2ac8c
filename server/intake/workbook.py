"""The sheets of a workbook as tables. Only the child process imports this module."""

from __future__ import annotations

import datetime
import io
import math
import re
from collections.abc import Iterator
from decimal import Decimal

from python_calamine import CalamineSheet, CalamineWorkbook, SheetTypeEnum, SheetVisibleEnum

from server.core.errors import shorten
from server.intake.archive import Refused
from server.intake.repack import repacked
from server.intake.tables import MAX_SHEETS, Row, Table, too_large
from server.intake.xls_records import Errors, error_cells

_SHOWN_DIGITS = 15  # a spreadsheet program shows no more; what follows is noise of its arithmetic
_ISO_LENGTH = re.compile(r"PT(\d{1,6})H(\d\d)M(\d\d)(?:[.,]\d+)?S")
_MIDNIGHT = datetime.time()
Value = int | float | str | bool | datetime.date | datetime.time | datetime.timedelta


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
        cells = [cell_of(value) for value in (*before, *values)]
        for column, text in errors.get(line - 1, {}).items():
            cells[column] = text, "t"
        yield line, [text for text, _ in cells], "".join(kind for _, kind in cells)


def cell_of(value: Value) -> tuple[str, str]:
    """Text and kind letter of one value."""
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, bool):
        return ("yes" if value else "no"), "t"
    if isinstance(value, int | float):
        return number_text(value), "n" if math.isfinite(value) else "t"
    if isinstance(value, datetime.datetime):
        return _moment(value), "d"
    if isinstance(value, datetime.date):
        return value.isoformat(), "d"
    return _duration(value), "t"


def _text(value: str) -> tuple[str, str]:
    length = _ISO_LENGTH.fullmatch(value)  # of time, as .ods files write it
    if length:
        return ":".join(length.groups()), "t"
    return (value, "t") if value.strip() else ("", "b")


def _duration(value: datetime.time | datetime.timedelta) -> str:
    """A time of day or a length of time as hours, minutes and seconds."""
    if isinstance(value, datetime.time):
        return value.strftime("%H:%M:%S")
    seconds = round(value.total_seconds())
    minutes, hours = abs(seconds) // 60, abs(seconds) // 3600
    return f"{'-' if seconds < 0 else ''}{hours:02}:{minutes % 60:02}:{abs(seconds) % 60:02}"


def number_text(value: float) -> str:
    """Plain decimals without exponent, as many digits as a spreadsheet program shows."""
    if isinstance(value, int):
        return str(value)
    text = format(value, f".{_SHOWN_DIGITS}g")
    if "e" in text:
        text = format(Decimal(text), "f")
    return "0" if text == "-0" else text


def _moment(value: datetime.datetime) -> str:
    """Day, and time of day unless it is midnight; seconds only where there are any."""
    if value.microsecond >= 500_000:
        value += datetime.timedelta(seconds=1)
    value = value.replace(microsecond=0)
    if value.time() == _MIDNIGHT:
        return value.date().isoformat()
    return value.isoformat(" ", "seconds" if value.second else "minutes")
