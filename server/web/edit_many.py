"""Changing several offers at once: fields and values, what would change, storing it, undoing it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from server.actions import bulk
from server.actions.bulk import Line, Preview
from server.actions.nouns import NOUNS, FieldError, Refused, doubts, unit_of
from server.core.errors import BadValue, Conflict
from server.export import cautions
from server.export.csv_file import as_csv
from server.request import house_of
from server.store.undo import CannotUndo, WholeChange
from server.web import addresses
from server.web.edit_fields import ChoiceGroups, choice_groups
from server.web.forms import NOT_SAID, SentForm
from server.web.listing import Listing
from server.web.numbers import entered
from server.web.render import csv_answer, render
from server.web.tables import Cell, Column, Row, Table

router = APIRouter()
OFFERS = NOUNS["offers"]
PATH = "/offers/edit-many"
PREVIEW = f"{PATH}/preview"
ROWS_A_PAGE = 100
SHOWN_CODES = 12


@dataclass(frozen=True, slots=True)
class EditManyPage:
    """Everything the page of choosing fields shows. hidden: what says which offers are meant."""

    title: str
    chosen: str
    codes: str
    hidden: tuple[tuple[str, str], ...]
    groups: ChoiceGroups
    errors: tuple[tuple[str, str, str], ...]
    recent: Table


@dataclass(frozen=True, slots=True)
class PreviewPage:
    """Everything the preview shows. hidden: what goes back with the order to store."""

    title: str
    summary: str
    notice: str
    notes: tuple[str, ...]
    table: Table
    back_href: str
    views: tuple[tuple[str, str, bool], ...]
    action: str
    hidden: tuple[tuple[str, str], ...]
    submit: str
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DonePage:
    """Everything the page of a stored change shows."""

    title: str
    summary: str
    refused: tuple[str, ...]
    moment: str
    person: str


@dataclass(frozen=True)
class _Pages(Listing):
    """The pages of the preview; an address may name many offers."""

    pairs: tuple[tuple[str, str], ...] = ()

    def address(self, **changed: str) -> str:
        """The preview with a part of its query changed, on its first page."""
        kept = [(name, text) for name, text in self.pairs if name not in {"page", *changed}]
        asked = [*kept, *((name, text) for name, text in changed.items() if text)]
        return f"{self.path}?{urlencode(asked)}"


@router.get(PATH)
def choose_page(request: Request) -> HTMLResponse:
    """Which fields, which values."""
    return _choose(request)


@router.get(f"{PREVIEW}.csv")
def preview_csv(request: Request) -> Response:
    """Every line of the preview as CSV."""
    text = as_csv(
        ["offer", "field", "from", "to", "refused because"],
        (
            [line.code, line.field, line.before, line.after, line.refused]
            for line in bulk.every_line(house_of(request).engine, _codes(request), _wanted(request))
        ),
    )
    return csv_answer("change-of-offers", text)


@router.get(f"{PREVIEW}.json")
def preview_json(request: Request) -> Response:
    """Every line of the preview as data."""
    lines = bulk.every_line(house_of(request).engine, _codes(request), _wanted(request))
    return JSONResponse(
        [
            {
                "offer": line.code,
                "field": line.field,
                "from": entered(line.before),
                "to": entered(line.after),
                "refused_because": line.refused,
            }
            for line in lines
        ]
    )


@router.get(PREVIEW)
def preview_page(request: Request) -> HTMLResponse:
    """What would change, line by line; nothing is stored yet."""
    try:
        wanted = _wanted(request)
    except Refused as refused:
        return _choose(request, refused.errors)
    if not wanted:
        told = FieldError(bulk.FIELDS[0], "New values", "are needed; fill in at least one field")
        return _choose(request, [told])
    return _preview(request, wanted)


@router.post(f"{PATH}/store")
def store(request: Request, sent: SentForm) -> Response:
    """Store what the preview showed, all of it or nothing."""
    house = house_of(request)
    wanted = bulk.read_wanted(sent.fields)
    seen = bulk.read_seen(sent.fields.get("seen", ""))
    try:
        stored = bulk.store_change(house.engine, wanted, seen, house.person_id)
    except Conflict as conflict:
        return _preview(request, bulk.read_wanted(request.query_params), str(conflict), status=409)
    return RedirectResponse(_done_path(stored.at, stored.person_id), 303)


@router.get(f"{PATH}/done")
def done_page(request: Request) -> HTMLResponse:
    """What was stored, and the way back."""
    at, person_id = _moment(request.query_params)
    return _done(request, bulk.change_told(house_of(request).engine, at, person_id))


@router.post(f"{PATH}/undo")
def undo(request: Request, sent: SentForm) -> Response:
    """Take a stored change back as a whole."""
    house = house_of(request)
    at, person_id = _moment(sent.fields)
    try:
        bulk.undo_change(house.engine, at, person_id, house.person_id)
    except CannotUndo as refused:
        told = bulk.change_told(house.engine, at, person_id)
        return _done(request, told, refused.reasons, status=409)
    return RedirectResponse(f"{PATH}?notice=undone", 303)


def _choose(request: Request, errors: Sequence[FieldError] = ()) -> HTMLResponse:
    query = request.query_params
    codes = _codes(request)
    shown = ", ".join(codes[:SHOWN_CODES])
    more = f" and {len(codes) - SHOWN_CODES} more" if len(codes) > SHOWN_CODES else ""
    page = EditManyPage(
        title="Change several offers",
        chosen=_count(len(codes), "offer") if codes else "",
        codes=f"{shown}{more}",
        hidden=tuple(
            (name, text)
            for name, text in query.multi_items()
            if text and not name.startswith(("to_", "clear_")) and name not in ("page", "show")
        ),
        groups=choice_groups(query, errors),
        errors=tuple((f"to_{e.field}", e.label, e.message) for e in errors),
        recent=_recent(bulk.recent_changes_of_many(house_of(request).engine)),
    )
    status = 422 if errors else 200
    return render(request, "edit_many/choose.html", page, section="offers", status=status)


def _preview(
    request: Request, wanted: Mapping[str, Any], notice: str = "", status: int = 200
) -> HTMLResponse:
    query, codes = request.query_params, _codes(request)
    pairs = tuple((name, text) for name, text in query.multi_items() if text)
    pages = _Pages(PREVIEW, dict(query), ROWS_A_PAGE, pairs=pairs)
    only_refused = query.get("show") == "refused"
    found = _page_of(request, codes, wanted, pages, only_refused)
    lines = found.refused if only_refused else found.changes + found.refused
    table = Table(
        caption=f"{_count(lines, 'line')} of the preview",
        columns=(
            Column("offer", "Offer"),
            Column("field", "Field"),
            Column("from", "From"),
            Column("to", "To"),
            Column("refused", "Refused because"),
        ),
        rows=tuple(_row(line) for line in found.lines),
        empty="Nothing would change: these offers hold the new values already.",
        exports=(
            ("CSV", f"{PREVIEW}.csv?{urlencode(pairs)}"),
            ("JSON", f"{PREVIEW}.json?{urlencode(pairs)}"),
        ),
        pager=pages.pager(lines),
    )
    page = PreviewPage(
        title="Preview: change several offers",
        summary=_summary(found),
        notice=notice,
        notes=_notes(wanted),
        table=table,
        back_href=f"{PATH}?{urlencode(pairs)}",
        views=(
            ("All lines", pages.address(show=""), not only_refused),
            (f"Refused only ({found.refused})", pages.address(show="refused"), only_refused),
        ),
        action=f"{PATH}/store?{urlencode(pairs)}",
        hidden=(
            ("seen", bulk.seen_as_text(found.seen)),
            *((n, t) for n, t in query.items() if n.startswith(("to_", "clear_")) and t),
        ),
        submit=f"Store {_count(found.changes, 'change')} in {_count(len(found.seen), 'offer')}"
        if found.seen
        else "",
        cautions=(cautions.TESTS,) if "test_method" in wanted else (),
    )
    return render(request, "edit_many/preview.html", page, section="offers", status=status)


def _page_of(
    request: Request,
    codes: Sequence[str],
    wanted: Mapping[str, Any],
    pages: Listing,
    only_refused: bool,
) -> Preview:
    """The preview with the lines of the page asked for; a page behind the last is the last."""
    asked = pages.page_of(len(codes) * max(1, len(wanted)))
    engine = house_of(request).engine
    while True:
        found = bulk.preview(
            engine,
            codes,
            wanted,
            first=(asked - 1) * ROWS_A_PAGE,
            count=ROWS_A_PAGE,
            only_refused=only_refused,
        )
        lines = found.refused if only_refused else found.changes + found.refused
        last = pages.page_of(lines)
        if last >= asked:
            return found
        asked = last


def _row(line: Line) -> Row:
    info = OFFERS.fields[line.field]
    unit = unit_of(info)
    label = info.title or line.field
    return Row(
        (
            Cell(line.code, href=addresses.offer_path(line.code)),
            Cell(f"{label} [{unit}]" if unit and unit != "date" else label),
            Cell(entered(line.before) or NOT_SAID),
            Cell(entered(line.after) or NOT_SAID, strong=not line.refused),
            Cell(line.refused),
        ),
        key=f"{line.code} {line.field}",
        tone="muted" if line.refused else "",
    )


def _summary(found: Preview) -> str:
    parts = [f"{_count(found.changes, 'change')} in {_count(len(found.seen), 'offer')}"]
    if found.refused:
        parts.append(f"{found.refused} refused, those stay as they are")
    if found.unchanged:
        parts.append(f"{_count(found.unchanged, 'offer')} with these values already")
    return f"Of {_count(found.offers, 'offer')}: {'; '.join(parts)}. Nothing is stored yet."


def _notes(wanted: Mapping[str, Any]) -> tuple[str, ...]:
    """Values outside the usual range of the trade."""
    numbers = {name: value for name, value in wanted.items() if value is not None}
    return tuple(
        f"{OFFERS.fields[name].title} {entered(numbers[name])}: {doubt}"
        for name, doubt in doubts(OFFERS, numbers).items()
    )


def _recent(found: Iterable[WholeChange]) -> Table:
    return Table(
        caption="The last changes of several offers",
        columns=(
            Column("at", "When", "UTC"), Column("person", "Who"),
            Column("offers", "Offers", numeric=True),
        ),
        rows=tuple(
            Row(
                (
                    Cell(f"{each.at:%Y-%m-%d %H:%M:%S}", href=_done_path(each.at, each.person_id)),
                    Cell(each.person),
                    Cell(str(each.counts.get(("offer", "change"), 0))),
                )
            )
            for each in found
        ),
        empty="Nobody has changed several offers at once yet.",
    )  # fmt: skip


def _done(
    request: Request, told: WholeChange, refused: Sequence[str] = (), status: int = 200
) -> HTMLResponse:
    offers = told.counts.get(("offer", "change"), 0)
    values = told.counts.get(("test_value", "change"), 0)
    parts = [_count(offers, "offer")] if offers else []
    parts += [_count(values, "test value")] if values else []
    page = DonePage(
        title="Several offers changed",
        summary=f"{' and '.join(parts)} changed by {told.person} on "
        f"{told.at:%Y-%m-%d %H:%M:%S} UTC.",
        refused=tuple(refused),
        moment=told.at.isoformat(),
        person=str(told.person_id),
    )
    return render(request, "edit_many/done.html", page, section="offers", status=status)


def _done_path(at: datetime, person_id: int) -> str:
    query = {"moment": at.isoformat(), "person": str(person_id)}
    return addresses.with_query(f"{PATH}/done", query)


def _moment(given: Mapping[str, str]) -> tuple[datetime, int]:
    text, person = given.get("moment", ""), given.get("person", "")
    try:
        at = datetime.fromisoformat(text).astimezone(UTC)
    except (ValueError, OverflowError):
        at = None
    if at is None or not (person.isascii() and person.isdecimal() and len(person) < 10):
        raise BadValue(
            "This does not say which change is meant.",
            field="moment",
            value=text,
            remedy="Open it from the list of changes.",
        )
    return at, int(person)


def _codes(request: Request) -> tuple[str, ...]:
    query = request.query_params
    return bulk.selected_codes(house_of(request).engine, query.getlist("offer"), query)


def _wanted(request: Request) -> dict[str, Any]:
    return bulk.read_wanted(request.query_params)


def _count(number: int, noun: str) -> str:
    return f"{number:,} {noun}{'' if number == 1 else 's'}"
