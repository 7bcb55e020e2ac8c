"""What the columns of a sheet hold: proposed by memory or by headings, settled by a person."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from server.actions.intakes import must_be, one_intake, original, read_lines, refused
from server.actions.jobs import Job
from server.core.errors import BadValue, shorten
from server.core.headings import COLUMN_FIELDS, find_heading_line, match_heading
from server.core.quote_row import date_order_of, marks_of
from server.intake.sheets import Cell, Opened, look_into, rows_of
from server.store import intakes
from server.store.session import Engine, reading, writing

FIRST_ROWS = 40  # rows looked at to find the heading and to show samples


@dataclass(frozen=True, slots=True)
class Matched:
    """One column: its heading, first cells, and the field it is taken for."""

    number: int
    heading: str
    samples: tuple[str, ...]
    field: str


@dataclass(frozen=True)
class Matching:
    """How a file would be read.

    remembered: True when a sheet with the same headings of this supplier was read before
    """

    opened: Opened
    sheet: str
    heading_line: int
    columns: tuple[Matched, ...]
    date_order: str
    decimal_mark: str
    remembered: bool

    @property
    def headings(self) -> tuple[str, ...]:
        """The headings, by the number of their column."""
        return tuple(column.heading for column in self.columns)


def match_columns(
    engine: Engine,
    intake_id: int,
    *,
    sheet: str = "",
    encoding: str = "",
    separator: str = "",
    heading_line: int = -1,
) -> Matching:
    """Propose how a file is read: by the supplier's last one, else by its headings.

    heading_line: number of the line, 0 for none; -1 finds it
    Raises Unreadable, EncodingUnclear.
    """
    intake = one_intake(engine, intake_id)
    if intake.kind == "lines":
        raise BadValue(
            f"Intake {intake_id} holds lines of words; they have no columns.",
            field="columns",
            remedy="Paste it again as a table with a heading, or answer its lines.",
        )
    name, content = original(engine, intake_id)
    opened = look_into(name, content, encoding=encoding, separator=separator)
    chosen = sheet or max(opened.sheets, key=lambda each: each.rows * each.columns).name
    first = list(
        rows_of(
            name, content, sheet=chosen, encoding=encoding, separator=separator, most=FIRST_ROWS
        )
    )
    rows = [(number, tuple(cell.text for cell in cells)) for number, cells in first]
    line = heading_line if heading_line >= 0 else find_heading_line(rows)
    heading = next((cells for number, cells in rows if number == line), ())
    below = [cells for number, cells in first if number > line]
    width = max((len(cells) for cells in (heading, *below)), default=0)
    headings = [heading[n] if n < len(heading) else "" for n in range(width)]
    with reading(engine) as session:
        known = intakes.layout_of(session, intake.supplier, _joined(headings))
    fields = _fields(headings, below) if known is None else dict(known.columns)
    texts = {n: [cells[n].text for cells in below if n < len(cells)] for n in range(width)}
    return Matching(
        opened,
        chosen,
        line,
        tuple(
            Matched(n, headings[n], tuple(texts[n][:4]), fields.get(str(n), ""))
            for n in range(width)
        ),
        known.date_order if known else date_order_of([t for each in texts.values() for t in each]),
        known.decimal_mark if known else marks_of(texts),
        known is not None,
    )


def _joined(headings: Sequence[str]) -> str:
    return "\x1f".join(" ".join(heading.split()).casefold() for heading in headings)[:2000]


def _fields(headings: Sequence[str], below: Sequence[Sequence[Cell]]) -> dict[str, str]:
    """Fields by the words of the headings; a field is taken once. One bare column is free text."""
    met: dict[str, str] = {}
    for number, heading in enumerate(headings):
        field = match_heading(heading).field
        met[str(number)] = "" if field in met.values() else field
    if not any(met.values()) and below:
        longest = max(range(len(headings)), key=lambda n: _length(below, n))
        met[str(longest)] = "quote"
    return met


def _length(rows: Sequence[Sequence[Cell]], number: int) -> int:
    return sum(len(cells[number].text) for cells in rows if number < len(cells))


def settle_columns(engine: Engine, intake_id: int, given: Mapping[str, Any], person_id: int) -> Job:
    """Store how the file is read, and read its lines.

    given: sheet, encoding, separator, heading_line, columns (number -> field), date_order,
        decimal_mark, answers (field -> value for every line), headings
    """
    taken = [field for field in given["columns"].values() if field]
    twice = {field for field in taken if taken.count(field) > 1}
    if twice:
        label = COLUMN_FIELDS[min(twice)]
        raise refused("columns", label, "is chosen for two columns; leave one of them out")
    if not {"price", "quote"} & set(taken):
        raise refused("columns", "Price", "no column holds the price; choose one, or free text")
    unknown = set(taken) - set(COLUMN_FIELDS)
    if unknown:
        raise refused("columns", "Column", f"“{shorten(min(unknown))}” is no field of an offer")
    with writing(engine, person_id) as session:
        row = intakes.intake_row(session, intake_id)
        must_be(row.state, "new", "read")
        for name in ("sheet", "encoding", "separator", "heading_line", "date_order",
                     "decimal_mark", "answers"):  # fmt: skip
            setattr(row, name, given[name])
        row.columns = {str(number): field for number, field in given["columns"].items() if field}
        supplier = intakes.one(session, intake_id).supplier
        if supplier:
            intakes.remember_layout(
                session, supplier, _joined(given["headings"]), row.columns, row.date_order,
                row.decimal_mark,
            )  # fmt: skip
    return read_lines(engine, intake_id, person_id)
