"""The gate of one offer as JSON: what was looked at in every role, and decisions that accept it."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Body, Path, Request
from starlette.responses import Response

from server.actions.overrides import OVERRIDE, accept_finding, gate_of, withdraw_override
from server.api.compare import Asked
from server.api.records import WRONG
from server.export.documents import gate_document
from server.request import house_of

router = APIRouter(tags=["gate"])
_SCHEMA = OVERRIDE.entry.model_json_schema()
_BODY = Body(
    title=_SCHEMA["title"],
    description=str(OVERRIDE.entry.__doc__),
    json_schema_extra=_SCHEMA,
)
Decision = Annotated[int, Path(description="Number of the decision", ge=1, le=2_000_000_000)]


@router.get("/offers/{code}/gate", responses={404: WRONG[404], 422: WRONG[422]})
def one_gate(code: str, asked: Asked) -> dict[str, Any]:
    """The standing of an offer in every role and slot, each finding with value, limit, source."""
    return gate_document(gate_of(asked.engine, code, asked.change, asked.basis))


@router.post(
    "/offers/{code}/gate",
    status_code=201,
    summary="Accept a finding of the gate",
    responses={code: WRONG[code] for code in (400, 404, 413, 422, 503)},
)
def accept(request: Request, code: str, given: dict[str, Any] = _BODY) -> dict[str, Any]:
    """Record that you accept one finding of one offer, with the reason. Gives the decision."""
    house = house_of(request)
    number = accept_finding(house.engine, code, given, house.person_id)
    return {"id": number, "offer": code}


@router.delete(
    "/offers/{code}/gate/{decision}",
    status_code=204,
    summary="Withdraw a decision",
    responses={code: WRONG[code] for code in (404, 422, 503)},
)
def withdraw(request: Request, code: str, decision: Decision) -> Response:
    """Withdraw a decision about an offer; the history of the offer keeps it."""
    house = house_of(request)
    withdraw_override(house.engine, code, decision, house.person_id)
    return Response(status_code=204)
