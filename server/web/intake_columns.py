"""Matching the columns of a file that came in: proposed, shown with their first cells, settled."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from server.actions import intake_columns
from server.actions.intakes import one_intake
from server.actions.nouns import NOUNS, FieldError, Refused
from server.core.headings import COLUMN_FIELDS
from server.core.questions import NOT_SAID
from server.intake.sheets import EncodingUnclear, Unreadable
from server.request import house_of
from server.store.intakes import Intake
from server.web.forms import SentForm
from server.web.render import render

router = APIRouter(prefix="/intake")
SECTION = "intake"


@dataclass(frozen=True, slots=True)
class ColumnView:
    """One column to be matched."""

    number: int
    heading: str
    samples: tuple[str, ...]
    field: str


@dataclass(frozen=True, slots=True)
class ColumnsPage:
    """What the matching page shows.

    encodings: (name, first words decoded so) when the encoding has to be chosen
    defaults: (field, label, unit, value) that may hold for every line
    """

    title: str
    name: str
    back_href: str
    encodings: tuple[tuple[str, str], ...]
    encoding: str
    sheets: tuple[tuple[str, str], ...]
    sheet: str
    separator: str
    heading_line: int
    columns: tuple[ColumnView, ...]
    fields: tuple[tuple[str, str], ...]
    date_order: str
    decimal_mark: str
    remembered: bool
    defaults: tuple[tuple[str, str, str, str], ...]
    errors: tuple[tuple[str, str, str], ...]


@router.get("/{number}/columns")
def columns_page(request: Request, number: int) -> HTMLResponse:
    """Match the columns of a file."""
    return _columns(request, number, dict(request.query_params))


def _columns(
    request: Request,
    number: int,
    chosen: Mapping[str, str],
    errors: Sequence[FieldError] = (),
) -> HTMLResponse:
    engine = house_of(request).engine
    intake = one_intake(engine, number)
    line = chosen.get("heading_line", "")
    try:
        matching = intake_columns.match_columns(
            engine,
            number,
            sheet=chosen.get("sheet", intake.sheet),
            encoding=chosen.get("encoding", intake.encoding),
            separator=_separator(chosen.get("separator", intake.separator)),
            heading_line=int(line) if line.isdecimal() and len(line) < 7 else -1,
        )
    except EncodingUnclear as unclear:
        return _no_columns(request, intake, unclear.previews, ())
    except Unreadable as unreadable:
        fault = FieldError("file", "File", str(unreadable))
        return _no_columns(request, intake, (), [fault])
    said = {int(key[1:]): value for key, value in chosen.items() if _is_column(key)}
    page = ColumnsPage(
        title=f"Intake {number}: what the columns hold",
        name=intake.name,
        back_href="/intake",
        encodings=(),
        encoding=chosen.get("encoding", matching.opened.encoding),
        sheets=tuple(
            (each.name, f"{each.name or 'the file'}: {each.rows} rows, {each.columns} columns")
            for each in matching.opened.sheets
        ),
        sheet=matching.sheet,
        separator=matching.opened.separator,
        heading_line=matching.heading_line,
        columns=tuple(
            ColumnView(each.number, each.heading, each.samples, said.get(each.number, each.field))
            for each in matching.columns
        ),
        fields=(("", "leave out"), *COLUMN_FIELDS.items()),
        date_order=chosen.get("date_order", matching.date_order),
        decimal_mark=chosen.get("decimal_mark", matching.decimal_mark),
        remembered=matching.remembered,
        defaults=_defaults(intake, chosen),
        errors=tuple((each.field, each.label, each.message) for each in errors),
    )
    status = 422 if errors else 200
    return render(request, "intake/columns.html", page, section=SECTION, status=status)


def _is_column(key: str) -> bool:
    return key[:1] == "c" and key[1:].isdecimal() and len(key) < 6


def _separator(chosen: str) -> str:
    return "\t" if chosen == "tab" else chosen


def _no_columns(
    request: Request,
    intake: Intake,
    encodings: tuple[tuple[str, str], ...],
    errors: Sequence[FieldError],
) -> HTMLResponse:
    page = ColumnsPage(
        title=f"Intake {intake.id}: how the file is written",
        name=intake.name,
        back_href="/intake",
        encodings=encodings,
        encoding="",
        sheets=(),
        sheet="",
        separator="",
        heading_line=0,
        columns=(),
        fields=(),
        date_order="",
        decimal_mark="",
        remembered=False,
        defaults=(),
        errors=tuple((each.field, each.label, each.message) for each in errors),
    )
    status = 422 if errors else 200
    return render(request, "intake/columns.html", page, section=SECTION, status=status)


def _defaults(intake: Intake, chosen: Mapping[str, str]) -> tuple[tuple[str, str, str, str], ...]:
    offers = NOUNS["offers"].fields
    return tuple(
        (
            name,
            offers[name].title or name,
            question.unit,
            chosen.get(f"all.{name}", intake.answers.get(name, "")),
        )
        for name, question in NOT_SAID.items()
        if name not in ("count_basis", "break_kind")
    )


@router.post("/{number}/columns")
def settle(request: Request, number: int, sent: SentForm) -> Response:
    """Store how the file is read, and read it."""
    house, fields = house_of(request), sent.fields
    if not any(_is_column(key) for key in fields):  # only the encoding or the sheet was chosen
        return _columns(request, number, fields)
    try:
        given = _given(request, number, fields)
        intake_columns.settle_columns(house.engine, number, given, house.person_id)
    except Refused as refused:
        return _columns(request, number, fields, refused.errors)
    except Unreadable as unreadable:
        return _columns(request, number, fields, [FieldError("file", "File", str(unreadable))])
    return RedirectResponse(f"/intake/{number}", 303)


def _given(request: Request, number: int, fields: Mapping[str, str]) -> dict[str, Any]:
    line = fields.get("heading_line", "0")
    heading_line = int(line) if line.isdecimal() and len(line) < 7 else 0
    if fields.get("date_order", "") not in ("", "DMY", "MDY", "YMD"):
        raise Refused([FieldError("date_order", "Order of days", "is none of the choices")])
    if fields.get("decimal_mark", "") not in ("", ".", ","):
        raise Refused([FieldError("decimal_mark", "Decimal mark", "is none of the choices")])
    matching = intake_columns.match_columns(
        house_of(request).engine,
        number,
        sheet=fields.get("sheet", ""),
        encoding=fields.get("encoding", ""),
        separator=_separator(fields.get("separator", "")),
        heading_line=heading_line,
    )
    return {
        "sheet": matching.sheet,
        "encoding": fields.get("encoding", ""),
        "separator": _separator(fields.get("separator", "")),
        "heading_line": heading_line,
        "columns": {int(key[1:]): value for key, value in fields.items() if _is_column(key)},
        "date_order": fields.get("date_order", ""),
        "decimal_mark": fields.get("decimal_mark", ""),
        "headings": matching.headings,
        "answers": {
            key[4:]: value.strip()
            for key, value in fields.items()
            if key.startswith("all.") and value.strip()
        },
    }
