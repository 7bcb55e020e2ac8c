"""Measured pieces of a construction and what they say; how close computed weights come."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated, Any

from fastapi import APIRouter, Body, Request
from pydantic import BaseModel, ConfigDict, Field

from server.actions.calibration import calibration_of, remove_piece, take_calibration
from server.core.calibration import ESTIMATES
from server.core.how_close import foretold, held_cloths, scores
from server.export.calibration import calibration_document
from server.export.how_close import how_close_document
from server.request import house_of

router = APIRouter(tags=["measured pieces"])


class Taken(BaseModel):
    """Estimates to take into a construction, and the version of it that was read."""

    model_config = ConfigDict(extra="forbid")
    take: list[str] = Field(
        description=f"Keys of the estimates: {', '.join(ESTIMATES)}",
        max_length=len(ESTIMATES),
        examples=[["warp_crimp", "net_finish"]],
    )
    version: int = Field(ge=1, le=2**31 - 1, strict=True)


@router.get("/how-close")
def how_close() -> dict[str, Any]:
    """Real cloths of public customs rulings: computed beside stated weight, median and worst."""
    return how_close_document(held_cloths(), scores(), foretold())


@router.get("/constructions/{code}/calibration")
def calibration(request: Request, code: str) -> dict[str, Any]:
    """The measured pieces of a construction, what they say, and its sister cloths."""
    return _document(request, code)


@router.post("/constructions/{code}/calibration")
def take(request: Request, code: str, sent: Annotated[Taken, Body()]) -> dict[str, Any]:
    """Store estimates in the construction; the answer is the calibration afterwards."""
    house, today = house_of(request), datetime.now(UTC).date()
    take_calibration(house.engine, code, sent.take, house.person_id, version=sent.version, on=today)
    return _document(request, code)


@router.delete("/constructions/{code}/calibration/{number}")
def remove(request: Request, code: str, number: int) -> dict[str, Any]:
    """Remove a measured piece; the history keeps it."""
    house = house_of(request)
    remove_piece(house.engine, code, number, house.person_id)
    return _document(request, code)


def _document(request: Request, code: str) -> dict[str, Any]:
    found = calibration_of(house_of(request).engine, code)
    document = calibration_document(found.calibration, found.sisters)
    return {**document, "version": found.version}
