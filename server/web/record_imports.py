"""Importing a CSV file: its columns described, every faulty row told by line, field and value."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fastapi import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from server.actions.nouns import FieldError, Noun, Refused, unit_of
from server.actions.records import FaultyRow, Imported, import_csv, read_csv
from server.actions.what_moves import RATES
from server.request import house_of
from server.web.forms import Sent, help_of, is_yes, limits_of
from server.web.record_words import list_path, section_of
from server.web.render import render
from server.web.tables import Cell, Column, Row, Table
from server.web.what_moves import MovesView, bases_of, moves_view

SHOWN_FAULTS = 500
LONGEST_SHOWN = 200_000  # characters of a pasted text that the page gives back


@dataclass(frozen=True, slots=True)
class ImportPage:
    """Everything the import template shows.

    outcome: what was stored, after rows were refused
    errors: what is wrong with the file as a whole: (field, label, message)
    preview: where the form goes to see what the rows would move, of rates; bases: those to see
        it on; moves: what they would move
    """

    title: str
    cancel_href: str
    example_href: str
    text: str
    keep_good: bool
    outcome: str
    errors: tuple[tuple[str, str, str], ...]
    faults: Table | None
    columns: Table
    preview: str
    bases: tuple[str, ...]
    moves: MovesView | None


def import_page(request: Request, noun: Noun) -> HTMLResponse:
    """The empty page."""
    return _answer(request, noun, "", keep_good=False)


def import_sent(request: Request, noun: Noun, sent: Sent) -> Response:
    """Store the rows that were uploaded or pasted, or say what is wrong with them."""
    house = house_of(request)
    keep_good = is_yes(sent.fields.get("keep_good"))
    text = sent.fields.get("text", "")
    try:
        text = _text_of(sent)
        imported = import_csv(house.engine, noun, text, house.person_id, keep_good=keep_good)
    except Refused as refused:
        return _answer(request, noun, text, keep_good=keep_good, errors=refused.errors)
    if imported.faulty:
        return _answer(request, noun, text, keep_good=keep_good, imported=imported)
    return RedirectResponse(f"{list_path(noun)}?notice=added", 303)


def preview_sent(request: Request, noun: Noun, sent: Sent) -> HTMLResponse:
    """What the good rows would move, or what is wrong with the others; nothing is stored."""
    keep_good = is_yes(sent.fields.get("keep_good"))
    text = sent.fields.get("text", "")
    try:
        text = _text_of(sent)
        good, faulty = read_csv(house_of(request).engine, noun, text)
    except Refused as refused:
        return _answer(request, noun, text, keep_good=keep_good, errors=refused.errors)
    imported = Imported((), tuple(faulty)) if faulty else None
    moves = None
    if keep_good or not faulty:
        entries = [(None, values) for _, values in good]
        moves = moves_view(request, noun, entries, sent.fields.get("on_basis", ""))
    return _answer(request, noun, text, keep_good=keep_good, imported=imported, moves=moves)


def _text_of(sent: Sent) -> str:
    """The uploaded file, else what was pasted. Raises Refused."""
    file = sent.files.get("file", b"")
    if not file:
        return sent.fields.get("text", "")
    try:
        return file.decode("utf-8-sig")
    except UnicodeDecodeError as wrong:
        message = f"is not UTF-8 text (byte {wrong.start + 1}); save it as CSV UTF-8"
        raise Refused([FieldError("file", "File", message)]) from wrong


def _answer(
    request: Request,
    noun: Noun,
    text: str,
    *,
    keep_good: bool,
    errors: Sequence[FieldError] = (),
    imported: Imported | None = None,
    moves: MovesView | None = None,
) -> HTMLResponse:
    stored = len(imported.stored) if imported else 0
    page = ImportPage(
        title=f"Import {noun.many}",
        cancel_href=list_path(noun),
        example_href=f"/{noun.path}/export.csv"
        if noun.path in ("offers", "constructions")
        else f"/{noun.path}.csv",
        text=text if len(text) <= LONGEST_SHOWN else "",
        keep_good=keep_good,
        outcome="" if imported is None else _outcome(stored, len(imported.faulty)),
        errors=tuple((error.field, error.label, error.message) for error in errors),
        faults=_faults(imported.faulty) if imported else None,
        columns=_columns(noun),
        preview=f"/{noun.path}/import/what-moves" if noun.path in RATES else "",
        bases=bases_of(request) if noun.path in RATES else (),
        moves=moves,
    )
    status = 422 if errors or (imported is not None and not stored) else 200
    return render(request, "records/import.html", page, section=section_of(noun), status=status)


def _outcome(stored: int, faulty: int) -> str:
    rows = "1 row is faulty" if faulty == 1 else f"{faulty} rows are faulty"
    if not stored:
        return f"{rows}; nothing was stored."
    kept = "1 good row is" if stored == 1 else f"{stored} good rows are"
    return f"{kept} stored; {rows} and not stored."


def _faults(faulty: Sequence[FaultyRow]) -> Table:
    rows = [
        Row(
            (
                Cell(str(row.line), strong=True),
                Cell(error.label or error.field or "Row", note=error.field),
                Cell(error.value),
                Cell(error.message),
            ),
            key=f"{row.line}-{error.field}",
        )
        for row in faulty[:SHOWN_FAULTS]
        for error in row.errors
    ]
    more = len(faulty) - SHOWN_FAULTS
    return Table(
        caption="Faulty rows" + (f", the first {SHOWN_FAULTS}; {more} more" if more > 0 else ""),
        columns=(
            Column("line", "Line"),
            Column("column", "Column"),
            Column("value", "Value"),
            Column("message", "What is wrong"),
        ),
        rows=tuple(rows),
        empty="",
    )


def _columns(noun: Noun) -> Table:
    return Table(
        caption=f"Columns of {noun.many}; the first line of the file names those it has",
        columns=(
            Column("name", "Column"),
            Column("label", "Meaning"),
            Column("unit", "Unit"),
            Column("needed", "Needed"),
            Column("limits", "Limits"),
        ),
        rows=tuple(
            Row(
                (
                    Cell(name, strong=True),
                    Cell(info.title or name, note=help_of(info)),
                    Cell(unit_of(info)),
                    Cell("yes" if info.is_required() else "no"),
                    Cell(limits_of(info)),
                ),
                key=name,
            )
            for name, info in noun.fields.items()
        ),
        empty="",
    )
