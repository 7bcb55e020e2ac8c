"""Meetings: every pack of the house, and taking one in from elsewhere."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from server.actions.pack_exchange import take_in
from server.actions.packs import (
    packs,
)
from server.core.errors import BadValue
from server.export.csv_file import as_csv
from server.export.packs import PACK_COLUMNS, pack_record
from server.request import house_of
from server.web import addresses
from server.web.forms import SentForm
from server.web.render import csv_answer, render
from server.web.tables import Cell, Column, Row, Table

router = APIRouter()


@dataclass(frozen=True, slots=True)
class MeetingsPage:
    """Every pack of the house."""

    title: str
    table: Table


@router.get("/meetings")
def meetings_page(request: Request) -> HTMLResponse:
    """Every pack, the latest meeting first."""
    rows = tuple(
        Row(
            (
                Cell(each.title, href=addresses.pack_path(each.reference)),
                Cell(each.buyer),
                Cell(each.meeting.isoformat()),
                Cell("", badge=each.state),
                Cell(str(len(each.cloths))),
                Cell(f"{each.frozen_at:%Y-%m-%d %H:%M}" if each.frozen_at else ""),
                Cell(each.engine),
                Cell(each.owner),
                Cell(each.reference),
            ),
            key=each.reference,
        )
        for each in packs(house_of(request).engine)
    )
    table = Table(
        caption=f"{len(rows)} meeting packs" if len(rows) != 1 else "1 meeting pack",
        columns=(
            Column("title", "Pack"),
            Column("buyer", "Buyer"),
            Column("meeting", "Meeting"),
            Column("state", "State"),
            Column("cloths", "Constructions", numeric=True),
            Column("frozen", "Frozen", "UTC"),
            Column("engine", "Engine"),
            Column("owner", "By"),
            Column("reference", "Reference"),
        ),
        rows=rows,
        empty="No pack yet. Open a comparison and choose “Put into a meeting pack”.",
        exports=(("CSV", "/meetings.csv"), ("JSON", "/meetings.json")),
    )
    return render(request, "packs/list.html", MeetingsPage("Meetings", table), section="meetings")


@router.get("/meetings.json")
def meetings_json(request: Request) -> Response:
    """Every pack as data, without its content."""
    return JSONResponse([pack_record(each) for each in packs(house_of(request).engine)])


@router.get("/meetings.csv")
def meetings_csv(request: Request) -> Response:
    """Every pack as CSV."""
    records = [pack_record(each) for each in packs(house_of(request).engine)]
    rows = ([str(each[name]) for name in PACK_COLUMNS] for each in records)
    return csv_answer("meetings", as_csv(list(PACK_COLUMNS), rows))


@router.post("/meetings/take-in")
def take_in_pack(request: Request, sent: SentForm) -> Response:
    """Take in a pack that was frozen elsewhere."""
    house = house_of(request)
    content = sent.files.get("file", b"")
    if not content:
        raise BadValue("No file was sent.", field="file", remedy="Choose an exported pack.")
    reference = take_in(house.engine, content, house.person_id)
    return RedirectResponse(f"{addresses.pack_path(reference)}?notice=added", 303)
