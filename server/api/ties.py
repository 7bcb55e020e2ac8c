"""Break-evens of two options, and the map of the cheapest one, as JSON."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Path, Query, Request

from server.actions.asked_change import read_change
from server.actions.cost_map import AskedMap, mapped
from server.actions.ties import AskedTies, ties
from server.api.compare import Asked
from server.api.records import WRONG
from server.core.cost_map import OPTIONS
from server.core.ties import FIGURES
from server.export.cost_map import map_document
from server.export.ties import ties_document

router = APIRouter(tags=["constructions"])
Code = Annotated[str, Path(description="Code of the construction", max_length=200)]
Option = Annotated[
    str,
    Query(
        max_length=200,
        description="before, an alternative of the change (swap, weight-picks, weight-ends, cover, "
        "firmness, cost), a pair Q09/Q14 whose yarns may be own ring, own OE or own air-jet, "
        "variant:NAME, or a pair in another construction, CODE:Q09/Q14",
    ),
]
Figure = Annotated[str, Query(max_length=40, description=f"One of {', '.join(FIGURES)}")]
Moves = Annotated[
    str, Query(max_length=200, description="Key of what moves, as the break-evens list it")
]
_READ: dict[int | str, dict[str, Any]] = {code: WRONG[code] for code in (404, 422, 503)}


@router.get("/constructions/{code}/break-even", responses=_READ)
def break_even_of_two(
    request: Request,
    code: Code,
    asked: Asked,
    first: Option = "",
    second: Option = "",
    figure: Figure = "",
) -> dict[str, Any]:
    """Where two options tie, in everything that can move; prices in the seller's own unit.

    A change is given by the names of the change desk in the same query, such as filling_ne=7.
    """
    wanted = AskedTies(first, second, figure, read_change(request.query_params))
    found = ties(asked.engine, code, wanted, asked.change, asked.basis)
    found.refuse_errors()
    return ties_document(code, found.contest, found.offers, found.desk.asked.query)


@router.get("/compare/{code}/map", responses=_READ)
def cheapest_on_a_map(
    code: Code,
    asked: Asked,
    x: Moves = "",
    y: Moves = "",
    options: Annotated[str, Query(max_length=20, description=f"One of {', '.join(OPTIONS)}")] = "",
    figure: Figure = "",
) -> dict[str, Any]:
    """Which option is the cheapest while two things move, from 30 % below to 30 % above today."""
    found = mapped(
        asked.engine,
        code,
        AskedMap(x, y, options=options, figure=figure),
        asked.change,
        asked.basis,
    )
    found.refuse_errors()
    held = found.map
    return map_document(held, (held.stays(held.x), held.stays(held.y)))
