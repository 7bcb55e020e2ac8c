"""A pack as a workbook with live formulas: every figure follows the cells of its inputs.

The workbook is made from the pack alone: formulas as the pack holds them, each argument written as
the cell of the line that feeds it, or as the name of the input. Results stand beside their formulas
as the pack has them, so that a program that does not compute shows them too.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import UTC, datetime, time
from typing import Any, BinaryIO

from xlsxwriter import Workbook
from xlsxwriter.worksheet import Worksheet

from server.core.pack import Cloth, Pack
from server.export.workbook_cloth import ClothSheet, write_band, write_cloth
from server.export.workbook_inputs import InputRow, Inputs
from server.export.workbook_lines import ClothRows
from server.export.workbook_names import Names, plain, quoted
from server.export.workbook_styles import Styles, make_room, unit_text
from server.export.workbook_summary import write_notes, write_summary

SUMMARY, NOTES, INPUTS = "Summary", "Notes", "Inputs"
A4 = 9  # paper, as the file format counts
_VALUE, _FROZEN = 2, 4  # columns that formulas name: C and E
_Column = tuple[str, int, Callable[[Pack, InputRow], str]]
_COLUMNS: tuple[_Column, ...] = (
    ("Name", 36, lambda pack, row: row.name),
    ("What it is", 46, lambda pack, row: row.label),
    ("Value", 14, lambda pack, row: ""),
    ("Unit", 14, lambda pack, row: unit_text(row.entry.unit, pack.basis.currency)),
    ("As frozen", 14, lambda pack, row: ""),
    ("As entered", 28, lambda pack, row: row.entry.as_entered),
    ("Source", 36, lambda pack, row: row.entry.source),
    ("Of", 12, lambda pack, row: row.entry.on.isoformat() if row.entry.on else ""),
    ("Used in", 36, lambda pack, row: _used_in(pack, row.held)),
)
_ALWAYS = 5  # columns that are there even when they say nothing
_HEAD = 3  # row of the headings on the sheet of inputs, from 0
_MOST_USED = 6  # constructions or pairs named in “Used in”


class _Page(Worksheet):  # type: ignore[misc]  # the library says nothing of its types
    """A sheet whose formulas are in the names of the file format already.

    The library looks into each for sixty functions that we do not write, half of the time a large
    pack takes. Should it stop calling this, it is only slower.
    """

    def _prepare_formula(self, formula: str, expand_future_functions: bool = False) -> str:
        return formula.removeprefix("=")


def nothing_told(done: int) -> None:
    """Tells nobody."""


def write_workbook(
    pack: Pack, file: BinaryIO, told: Callable[[int], object] = nothing_told
) -> None:
    """Writes the workbook of a pack.

    file: open for writing; told: called with how many cloths are done
    Memory holds one row of one sheet; sheets wait in temporary files until the end.
    """
    inputs = Inputs(pack)
    sheets = sheets_of(pack, inputs)
    options = {
        "constant_memory": True,
        "strings_to_formulas": False,
        "strings_to_urls": False,
        "strings_to_numbers": False,
    }
    with Workbook(file, options) as book:
        styles = Styles(book)
        book.set_properties(
            {"title": plain(pack.title), "author": "Creelbook", "created": _made_at(pack)}
        )
        summary, notes = _page(book, SUMMARY, pack), _page(book, NOTES, pack)
        write_summary(pack, sheets, _changed(inputs), summary, styles)
        write_notes(pack, sheets, notes, styles)
        for done, sheet in enumerate(sheets, 1):
            write_cloth(sheet, _page(book, sheet.name, pack), styles)
            told(done)
        _write_inputs(pack, inputs, book, styles)
        summary.activate()


def sheets_of(pack: Pack, inputs: Inputs) -> list[ClothSheet]:
    """The sheet of every cloth, laid out and not written yet."""
    names = Names({SUMMARY.lower(), NOTES.lower(), INPUTS.lower()})
    return [
        ClothSheet(pack, cloth, ClothRows(pack, at, inputs), names.sheet(*_wanted(cloth)))
        for at, cloth in enumerate(pack.cloths)
    ]


def _wanted(cloth: Cloth) -> tuple[str, ...]:
    """Sheet names in the order they are liked."""
    short = f"{cloth.code} {cloth.variant}".strip()
    return (cloth.title, short, cloth.code if not cloth.variant else short)


def _made_at(pack: Pack) -> datetime:
    """When the file says it was made: never the clock, so that a pack gives the same bytes."""
    if pack.made_at is None:
        return datetime.combine(pack.meeting, time())
    made = pack.made_at
    return made.astimezone(UTC).replace(tzinfo=None) if made.tzinfo else made


def _page(book: Any, name: str, pack: Pack) -> Any:
    """An empty sheet, landscape A4 with title and reference on every page."""
    page = book.add_worksheet(name, worksheet_class=_Page)
    page.set_landscape()
    page.set_paper(A4)
    page.set_margins(left=0.4, right=0.4, top=0.7, bottom=0.6)
    page.set_header(f"&L{_in_header(pack.title)}&R{_in_header(pack.reference)}")
    page.set_footer("&L&A&RPage &P of &N")
    page.hide_gridlines(2)
    return page


def _in_header(text: str) -> str:
    """A text between the codes of a page header, where & begins a code."""
    told = plain(text).replace("\n", " ")[:80].replace("&", "&&")
    return " " + told.replace("&&G", "&& G").replace("&&[", "&& [")


def _rows_of(inputs: Inputs) -> tuple[int, int]:
    """First and last row of the inputs, as formulas count."""
    headings = len({row.heading for row in inputs.rows})
    return _HEAD + 2, _HEAD + 1 + max(1, headings + len(inputs.rows))


def _changed(inputs: Inputs) -> str:
    first, last = _rows_of(inputs)
    sheet = quoted(INPUTS)
    counted = f"SUMPRODUCT(--({sheet}!$C${first}:$C${last}<>{sheet}!$E${first}:$E${last}))"
    return f'=IF({counted}=0,"All inputs are as frozen.","Inputs changed: "&{counted})'


def _write_inputs(pack: Pack, inputs: Inputs, book: Any, styles: Styles) -> None:
    """The sheet of inputs: the cells to change, with their names."""
    page = _page(book, INPUTS, pack)
    page.set_row(0, 24)
    page.write_string(0, 0, "Inputs", styles.title)
    text = "Change the blue figures; whatever rests on them follows in every sheet."
    page.write_string(1, 0, text, styles.faint)
    columns = _columns_of(pack, inputs)
    for place, (heading, width, _) in enumerate(columns):
        behind = styles.head_behind if place > _VALUE else styles.head
        style = styles.head_of_numbers if place in (_VALUE, _FROZEN) else behind
        page.write_string(_HEAD, place, heading, style)
        page.set_column(place, place, width)
    at = _HEAD
    for heading, rows in inputs.grouped():
        at += 1
        write_band(page, styles, at, plain(heading), len(columns))
        for row in rows:
            at += 1
            book.define_name(row.name, f"={quoted(INPUTS)}!$C${at + 1}")
            _write_input(columns, pack, row, page, styles, at)
    first, last = _rows_of(inputs)
    page.conditional_format(
        f"C{first}:C{last}",
        {"type": "formula", "criteria": f"=$C{first}<>$E{first}", "format": styles.changed},
    )
    page.freeze_panes(_HEAD + 1, 1)
    page.repeat_rows(_HEAD)
    page.fit_to_pages(1, 0)
    page.print_area(0, 0, max(at, _HEAD), len(columns) - 1)


def _columns_of(pack: Pack, inputs: Inputs) -> tuple[_Column, ...]:
    """The columns of the inputs, without those that say nothing of any."""
    return tuple(
        column
        for place, column in enumerate(_COLUMNS)
        if place < _ALWAYS or any(column[2](pack, row) for row in inputs.rows)
    )


def _write_input(
    columns: Sequence[_Column], pack: Pack, row: InputRow, page: Any, styles: Styles, at: int
) -> None:
    entry = row.entry
    make_room(page, at, (row.label, columns[1][1]))
    for place, (_, _, says) in enumerate(columns):
        if place == _VALUE:
            style = styles.entered(entry.unit, entry.value, may_change=row.may_change)
            page.write_number(at, place, entry.value, style)
        elif place == _FROZEN:
            page.write_number(at, place, entry.value, styles.frozen(entry.unit, entry.value))
        else:
            style = (styles.faint_label, styles.label)[place] if place < 2 else styles.unit
            page.write_string(at, place, plain(says(pack, row)), style)


def _used_in(pack: Pack, held: dict[int, dict[str, None]]) -> str:
    """The constructions that rest on an input, or the pairs of the only one."""
    if len(held) == len(pack.cloths) > 1:
        return "all"
    if len(held) > 1:
        return _some([pack.cloths[at].code for at in held])
    at, pairs = next(iter(held.items()))
    cloth = pack.cloths[at]
    if len(pairs) == len(cloth.pairs):
        return cloth.title
    return f"{cloth.code}: {_some(list(pairs))}"


def _some(names: list[str]) -> str:
    more = len(names) - _MOST_USED
    return ", ".join(names[:_MOST_USED]) + (f" and {more} more" if more > 0 else "")
