"""The negotiation sheet of a supplier as JSON."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Path, Query

from server.actions.negotiation import negotiation
from server.api.compare import Asked
from server.api.records import WRONG
from server.export.negotiation import negotiation_document

router = APIRouter(tags=["suppliers"])
_READ: dict[int | str, dict[str, Any]] = {code: WRONG[code] for code in (404, 422, 503)}


@router.get("/suppliers/{supplier:path}/negotiation", responses=_READ)
def negotiation_sheet(
    supplier: Annotated[str, Path(description="Name of the supplier", max_length=200)],
    asked: Asked,
    offer: Annotated[str, Query(max_length=200, description="Code of one offer only")] = "",
) -> dict[str, Any]:
    """Current offers of a supplier: landed, against should-cost, prices to beat, what to ask.

    Prices to beat and targets are in the unit and currency of each quote. Internal: it names
    offers of other sellers.
    """
    found = negotiation(asked.engine, supplier, asked.change, asked.basis, only=offer)
    return negotiation_document(found)
