"""A frozen pack computed again by the engine of today."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse

from server.actions.packs import (
    computed_again,
    stored_pack,
)
from server.request import house_of
from server.web import addresses
from server.web.numbers import Writer
from server.web.render import render
from server.web.tables import Cell, Column, Row, Table

router = APIRouter()


@dataclass(frozen=True, slots=True)
class AgainPage:
    """A frozen pack computed again."""

    title: str
    path: str
    verdict: str
    same: bool
    table: Table


@router.get("/meetings/{reference}/again")
def again_page(request: Request, reference: str) -> HTMLResponse:
    """A frozen pack computed again by the engine of today; the pack stays as it is."""
    engine = house_of(request).engine
    stored, again = stored_pack(engine, reference), computed_again(engine, reference)
    writer = Writer("trade", "¤")

    def told(value: float | str, unit: str) -> str:
        return value if isinstance(value, str) else f"{value!r} {writer.unit(unit)}"

    table = Table(
        caption=f"{len(again.differs)} of {again.looked_at:,} figures would be others today",
        columns=(
            Column("cloth", "Construction"),
            Column("pair", "Pair"),
            Column("what", "What"),
            Column("frozen", "In the pack", numeric=True),
            Column("now", "Computed today", numeric=True),
        ),
        rows=tuple(
            Row(
                (
                    Cell(each.cloth),
                    Cell(each.pair),
                    Cell(each.label),
                    Cell(told(each.frozen, each.unit)),
                    Cell(told(each.now, each.unit)),
                )
            )
            for each in again.differs[:2000]
        ),
        empty=f"All {again.looked_at:,} figures come out as they were frozen.",
    )
    verdict = (
        "Computed again from the stored inputs, the pack gives the same numbers."
        if again.is_same
        else "The engine of today would give other numbers. The pack keeps its own."
    )
    page = AgainPage(
        f"{stored.title}, computed again",
        addresses.pack_path(reference),
        verdict,
        again.is_same,
        table,
    )
    return render(request, "packs/again.html", page, section="meetings")
