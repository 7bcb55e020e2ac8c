"""Intake: paste or upload, match the columns, look at every line, answer, store, take back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any
from urllib.parse import quote

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from server.actions import intake_columns
from server.actions import intakes as actions
from server.actions.jobs import forget_job, job_of
from server.actions.nouns import NOUNS, FieldError, Refused
from server.actions.records import list_records
from server.core.errors import BadValue
from server.core.headings import COLUMN_FIELDS
from server.core.questions import NOT_SAID
from server.intake.sheets import EncodingUnclear, Unreadable
from server.request import house_of
from server.store.intakes import Intake
from server.web import cautions
from server.web.forms import SentForm, is_yes
from server.web.intake_lines import LinesPage, faulty_csv, lines_view, said_of
from server.web.render import csv_answer, render
from server.web.tables import Cell, Column, Pager, Row, Table

router = APIRouter(prefix="/intake")
INTAKES_A_PAGE = 50
SECTION = "intake"
_STATES = {
    "new": "columns to be matched",
    "read": "lines to be looked at",
    "stored": "stored",
    "undone": "taken back",
}


@dataclass(frozen=True, slots=True)
class ListPage:
    """What the list of intakes shows."""

    title: str
    table: Table


@dataclass(frozen=True, slots=True)
class NewPage:
    """What the page to paste or upload shows. errors: (field, label, message)."""

    title: str
    suppliers: tuple[str, ...]
    supplier: str
    received_on: str
    text: str
    as_table: bool
    errors: tuple[tuple[str, str, str], ...]
    cautions: tuple[str, ...]


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


@dataclass(frozen=True, slots=True)
class WorkingPage:
    """What is shown while a long file is worked on. refresh: seconds until the page asks again."""

    title: str
    what: str
    done: int
    total: int
    percent: int
    error: str
    again_href: str


@router.get("")
def list_page(request: Request) -> HTMLResponse:
    """Every intake, the newest first."""
    before = request.query_params.get("before", "")
    number = int(before) if before.isdecimal() and len(before) < 10 else None
    found = actions.newest_intakes(house_of(request).engine, number, INTAKES_A_PAGE + 1)
    shown = found[:INTAKES_A_PAGE]
    more = f"/intake?before={shown[-1].id}" if len(found) > INTAKES_A_PAGE else None
    table = Table(
        caption="Intakes, the newest first",
        columns=(
            Column("intake", "Intake"),
            Column("received", "Received on"),
            Column("supplier", "Supplier"),
            Column("name", "What came in"),
            Column("state", "Where it stands"),
            Column("owner", "By"),
        ),
        rows=tuple(_list_row(each) for each in shown),
        empty="Nothing has come in yet. Paste a mail, or upload a sheet.",
        pager=Pager(f"{len(shown)} shown", "/intake" if number else None, more)
        if more or number
        else None,
    )
    return render(request, "intake/list.html", ListPage("Intake", table), section=SECTION)


def _list_row(intake: Intake) -> Row:
    return Row(
        (
            Cell(f"Intake {intake.id}", href=f"/intake/{intake.id}", strong=True),
            Cell(intake.received_on.isoformat()),
            Cell(intake.supplier or "named in the lines"),
            Cell(intake.name, note=f"{intake.kind}, {intake.size:,} bytes"),
            Cell(_STATES[intake.state]),
            Cell(intake.owner),
        ),
        key=str(intake.id),
        tone="muted" if intake.state in ("stored", "undone") else "",
    )


@router.get("/new")
def new_page(request: Request) -> HTMLResponse:
    """Paste or upload."""
    query = request.query_params
    return _new(request, supplier=query.get("supplier", ""), received_on=_today().isoformat())


def _today() -> date:
    return datetime.now(UTC).date()


def _new(
    request: Request,
    *,
    supplier: str,
    received_on: str,
    text: str = "",
    as_table: bool = False,
    errors: Sequence[FieldError] = (),
) -> HTMLResponse:
    page = NewPage(
        title="Paste or upload offers",
        suppliers=_supplier_names(request),
        supplier=supplier,
        received_on=received_on,
        text=text,
        as_table=as_table,
        errors=tuple((each.field, each.label, each.message) for each in errors),
        cautions=(cautions.TERMS, cautions.TESTS),
    )
    return render(request, "intake/new.html", page, section=SECTION, status=422 if errors else 200)


def _supplier_names(request: Request) -> tuple[str, ...]:
    kept = list_records(house_of(request).engine, NOUNS["suppliers"])
    return tuple(sorted((each.key for each in kept), key=str.casefold))


@router.post("/new")
def receive(request: Request, sent: SentForm) -> Response:
    """Keep what was pasted or uploaded, and go on to its columns or lines."""
    house, fields = house_of(request), sent.fields
    text, as_table = fields.get("text", ""), fields.get("shape") == "table"
    supplier, received_on = fields.get("supplier", "").strip(), fields.get("received_on", "")
    try:
        day = _day(received_on)
        content, name = sent.files.get("file", b""), sent.names.get("file", "")
        if name and not content:
            raise BadValue(
                f"“{name[:60]}” is empty.", field="file", value=name, remedy="Send it again."
            )
        if content:
            number = actions.receive_file(
                house.engine, name, content, supplier=supplier, received_on=day,
                person_id=house.person_id,
            )  # fmt: skip
        else:
            number = actions.receive_text(
                house.engine, text, supplier=supplier, received_on=day, table=as_table,
                person_id=house.person_id,
            )  # fmt: skip
        intake = actions.one_intake(house.engine, number)
        if intake.kind == "lines":
            actions.read_lines(house.engine, number, house.person_id)
    except Refused as refused:
        errors: Sequence[FieldError] = refused.errors
    except Unreadable as unreadable:
        errors = [FieldError("file", "File", str(unreadable))]
    except BadValue as bad:
        errors = [FieldError(bad.field, bad.field.replace("_", " ").capitalize(), str(bad))]
    else:
        return RedirectResponse(f"/intake/{number}", 303)
    return _new(
        request,
        supplier=supplier,
        received_on=received_on,
        text=text if len(text) < 200_000 else "",
        as_table=as_table,
        errors=errors,
    )


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as wrong:
        raise BadValue(
            f"Received on: “{text[:40]}” is not a day of the calendar.",
            field="received_on",
            value=text,
            remedy="Write it as 2026-03-12.",
        ) from wrong


@router.get("/{number}")
def intake_page(request: Request, number: int) -> Response:
    """Where an intake stands: its columns, the work on it, or its lines."""
    house = house_of(request)
    intake = actions.one_intake(house.engine, number)
    job = job_of(house.engine, actions.key_of(number))
    if job is not None and (not job.finished or job.error):
        page = WorkingPage(
            title=f"Intake {number}: {job.what}",
            what=job.what,
            done=job.done,
            total=job.total,
            percent=job.percent,
            error=job.error if job.finished else "",
            again_href=f"/intake/{number}",
        )
        if job.finished:
            forget_job(house.engine, actions.key_of(number))
        return render(request, "intake/working.html", page, section=SECTION)
    if intake.state == "new" and intake.kind != "lines":
        return RedirectResponse(f"/intake/{number}/columns", 303)
    return _lines(request, intake)


def _lines(
    request: Request, intake: Intake, errors: Sequence[FieldError] = (), status: int = 200
) -> HTMLResponse:
    page: LinesPage = lines_view(request, intake, _supplier_names(request), errors)
    return render(request, "intake/lines.html", page, section=SECTION, status=status)


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
    intake = actions.one_intake(engine, number)
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
        return _ask_encoding(request, intake, unclear)
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


def _ask_encoding(request: Request, intake: Intake, unclear: EncodingUnclear) -> HTMLResponse:
    return _no_columns(request, intake, unclear.previews, ())


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


@router.post("/{number}/lines")
def answer(request: Request, number: int, sent: SentForm) -> Response:
    """Take answers and decisions of the lines shown."""
    house = house_of(request)
    intake = actions.one_intake(house.engine, number)
    try:
        actions.answer(house.engine, number, said_of(sent.fields), house.person_id)
    except Refused as refused:
        return _lines(request, intake, refused.errors, 422)
    back = {name: request.query_params.get(name, "") for name in ("outcome", "after")}
    query = "&".join(f"{name}={quote(value)}" for name, value in back.items() if value)
    return RedirectResponse(f"/intake/{number}?{query}".rstrip("?"), 303)


@router.post("/{number}/store")
def store(request: Request, number: int, sent: SentForm) -> Response:
    """Make offers of the lines: all of them in one transaction, or none."""
    house = house_of(request)
    try:
        actions.store_intake(
            house.engine,
            number,
            house.person_id,
            leave_out_faulty=is_yes(sent.fields.get("leave_out_faulty")),
        )
    except Refused as refused:
        intake = actions.one_intake(house.engine, number)
        return _lines(request, intake, refused.errors, 422)
    return RedirectResponse(f"/intake/{number}", 303)


@router.post("/{number}/undo")
def undo(request: Request, number: int) -> Response:
    """Take back every offer of an intake."""
    house = house_of(request)
    try:
        actions.undo_intake(house.engine, number, house.person_id)
    except BadValue as bad:
        intake = actions.one_intake(house.engine, number)
        return _lines(request, intake, [FieldError(bad.field, "Offer", str(bad))], 422)
    return RedirectResponse(f"/intake/{number}", 303)


@router.post("/{number}/reopen")
def reopen(request: Request, number: int) -> Response:
    """Look at the lines of an undone intake again."""
    house = house_of(request)
    actions.reopen_intake(house.engine, number, house.person_id)
    return RedirectResponse(f"/intake/{number}", 303)


@router.get("/{number}/file")
def original_file(request: Request, number: int) -> Response:
    """The file as received, to be saved and not to be run by the browser."""
    name, content = actions.original(house_of(request).engine, number)
    shown = name if "." in name else f"{name}.txt"
    disposition = f"attachment; filename*=UTF-8''{quote(shown, safe='')}"
    return Response(
        content,
        media_type="application/octet-stream",
        headers={"content-disposition": disposition},
    )


@router.get("/{number}/faulty.csv")
def faulty_lines(request: Request, number: int) -> Response:
    """The faulty lines with what is wrong, to be put right and sent again."""
    return csv_answer(f"intake-{number}-faulty", faulty_csv(house_of(request).engine, number))
