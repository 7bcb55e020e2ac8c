"""CSV that spreadsheets open without surprises: UTF-8 with BOM, no cell that runs as a formula."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from decimal import Decimal
from itertools import islice
from typing import Any

from server.core.cells import guarded

PIECE = 200  # rows


def as_csv(headings: Sequence[str], rows: Iterable[Sequence[Any]]) -> str:
    """The table as CSV text; numbers stay numbers with all their digits."""
    out = io.StringIO()
    out.write("\ufeff")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([safe_cell(heading) for heading in headings])
    for row in rows:
        writer.writerow([safe_cell(value) for value in row])
    return out.getvalue()


def safe_cell(value: Any) -> str:
    """A value as a cell: a text that a spreadsheet would run gets an apostrophe in front."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, Decimal)):
        return str(value)
    if isinstance(value, float):
        return repr(value)
    if isinstance(value, date):
        return value.isoformat()
    return guarded(str(value))


def csv_pieces(headings: Sequence[str], rows: Iterable[Sequence[Any]]) -> Iterator[str]:
    """The same text as `as_csv`, a piece at a time, for tables too long to hold."""
    rest = iter(rows)
    piece = as_csv(headings, islice(rest, PIECE))
    while piece:
        yield piece
        some = list(islice(rest, PIECE))
        piece = as_csv(some[0], some[1:]).removeprefix("\ufeff") if some else ""


def as_tsv(headings: Sequence[str], rows: Iterable[Sequence[Any]]) -> str:
    """The table as tab-separated text, ready to be pasted into a spreadsheet."""
    lines = ([safe_cell(value) for value in row] for row in (headings, *rows))
    return "".join("\t".join(" ".join(cell.split()) for cell in line) + "\n" for line in lines)
