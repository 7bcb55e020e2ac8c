"""A table as the child hands it on, and the limits that tables and the child keep to."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from server.intake.archive import Refused

MAX_ROWS = 20_050  # twenty thousand offers, and the lines above their heading
MAX_COLUMNS = 200
MAX_CELL_CHARACTERS = 32_767  # as many as a spreadsheet program keeps
MAX_ROW_CHARACTERS = 1_000_000
MAX_SHEETS = 200
MAX_COMPUTING_S = 10
SEPARATORS = (",", ";", "\t", "|")

Row = tuple[int, list[str], str]
"""Line number, texts, and of each text one letter: t text, n number, d date, b blank."""


class TooLarge(Refused):
    """A table with more rows or columns than are read; counted as far as it went."""

    def __init__(self, what: str, rows: int, columns: int) -> None:
        super().__init__(what, "Delete what you do not need, or split the table into files.")
        self.rows = rows
        self.columns = columns


@dataclass(frozen=True)
class Table:
    """A sheet or a text. read: its rows, blank ones included, or TooLarge before the first."""

    name: str
    read: Callable[[], Iterable[Row]]

    def rows(self) -> Iterator[Row]:
        """The rows that are not blank, without trailing blanks, within the limits."""
        for line, texts, kinds in self.read():
            kinds = kinds.rstrip("b")
            if kinds:
                _check(line, texts, kinds)
                yield line, texts[: len(kinds)], kinds

    def size(self) -> tuple[int, int]:
        """Line of the last row that is not blank, and the most columns of any row."""
        last = columns = 0
        for line, _, kinds in self.rows():
            last, columns = line, max(columns, len(kinds))
        return last, columns


def too_large(where: str, rows: int, columns: int) -> TooLarge | None:
    """The refusal of a table of that size, None if it may be read. where: "" or "in sheet x "."""
    if columns > MAX_COLUMNS:
        what = f"has {columns:,} columns{where}; at most {MAX_COLUMNS} are read."
    elif rows > MAX_ROWS:
        what = f"has {rows:,} rows{where}; at most {MAX_ROWS:,} are read."
    else:
        return None
    return TooLarge(what, rows, columns)


def _check(line: int, texts: list[str], kinds: str) -> None:
    longest = max(texts, key=len)
    if len(longest) > MAX_CELL_CHARACTERS:
        raise Refused(
            f"has a cell of {len(longest):,} characters (row {line:,}, column "
            f"{texts.index(longest) + 1}); at most {MAX_CELL_CHARACTERS:,} are read.",
            "Shorten that cell, and look there for a quotation mark too few or too many.",
        )
    if sum(map(len, texts)) > MAX_ROW_CHARACTERS:
        raise Refused(
            f"has a row of more than {MAX_ROW_CHARACTERS:,} characters (row {line:,}).",
            "Shorten the texts in that row.",
        )
    refusal = too_large(f" in row {line:,}", 0, len(kinds))
    if refusal is not None:
        raise refusal
