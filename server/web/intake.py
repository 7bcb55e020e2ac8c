"""Intake: paste or upload, match the columns, look at every line, answer, store, take back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from urllib.parse import quote

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from server.actions import intakes as actions
from server.actions.jobs import forget_job, job_of
from server.actions.nouns import NOUNS, FieldError, Refused
from server.actions.records import list_records
from server.core.errors import BadValue
from server.export import cautions
from server.intake.sheets import Unreadable
from server.request import house_of
from server.store.intakes import Intake
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
