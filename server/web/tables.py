"""A table as a template shows it: columns, rows of cells, exports, pages."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Tone = Literal["", "best", "reference", "muted"]


@dataclass(frozen=True, slots=True)
class Column:
    """A heading with its unit; sortable when it has an address."""

    key: str
    label: str
    unit: str = ""
    numeric: bool = False
    sort_href: str | None = None
    sorted: Literal["ascending", "descending"] | None = None
    help: str = ""


@dataclass(frozen=True, slots=True)
class Cell:
    """A text that may open, carry a note below, a badge, or weight."""

    text: str
    href: str | None = None
    note: str = ""
    badge: str = ""
    strong: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """Cells in the order of the columns."""

    cells: tuple[Cell, ...]
    key: str = ""
    tone: Tone = ""


@dataclass(frozen=True, slots=True)
class Pager:
    """Where in a long table the page is, and the way on."""

    summary: str
    previous_href: str | None
    next_href: str | None


@dataclass(frozen=True, slots=True)
class Table:
    """A whole table. empty: the sentence shown when there are no rows."""

    caption: str
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    empty: str
    exports: tuple[tuple[str, str], ...] = ()
    pager: Pager | None = None
