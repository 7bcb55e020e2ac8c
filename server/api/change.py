"""Changes of a construction, and its variants, as JSON."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Body, Path, Request
from pydantic import BaseModel, ConfigDict, Field
from starlette.responses import Response

from server.actions.asked_change import FIELDS, YARNS, AskedChange, read_change
from server.actions.change import work_out
from server.actions.compare import BasisChange
from server.actions.variants import look_at, promote, remove_variant, save_variant
from server.actions.what_if import EVERY_NAME
from server.api.compare import Asked
from server.api.records import WRONG
from server.core.errors import BadValue
from server.export.change import change_document
from server.export.variants import variant_record
from server.request import house_of

router = APIRouter(tags=["constructions"])
Code = Annotated[str, Path(description="Code of the construction", max_length=200)]
Number = Annotated[int, Path(description="Number of the variant", ge=1, le=2**31 - 1)]
_READ: dict[int | str, dict[str, Any]] = {code: WRONG[code] for code in (404, 422, 503)}
_SENT: dict[int | str, dict[str, Any]] = {code: WRONG[code] for code in (400, 404, 413, 422, 503)}


class ChangeBody(BaseModel):
    """A change of a construction. Nothing is stored."""

    model_config = ConfigDict(extra="forbid")
    pair: str = Field(
        "", max_length=120, description="Yarns as it stands, Q14/Q20; else the cheapest pair"
    )
    change: dict[str, str] = Field(
        default_factory=dict,
        description="What changes, as text: fields of the construction in its loom state "
        f"({', '.join(FIELDS)}), the yarn of a place ({', '.join(YARNS)}: an offer code, “own "
        "ring”, “own OE” or “own air-jet”), or the key of an assumption such as fabric.loom_rpm",
    )


class VariantBody(ChangeBody):
    """A change to be kept by name."""

    name: str = Field(max_length=200, description="Name of the variant, unlike its others")
    notes: str = Field("", max_length=2000)
    replace: bool = Field(False, description="In place of the variant of this name")


class PromoteBody(BaseModel):
    """The version of the construction that was looked at."""

    model_config = ConfigDict(extra="forbid")
    version: int = Field(ge=1, le=2**31 - 1)


def _asked(body: ChangeBody) -> AskedChange:
    known = {*FIELDS, *YARNS, *EVERY_NAME}
    for name in body.change:
        if name not in known:
            raise BadValue(
                f"“{name[:40]}” is nothing the change desk changes.",
                field=name,
                value=body.change[name],
                remedy="Use a field of a construction in loom state, a yarn, or an assumption.",
            )
    return read_change({**body.change, "pair": body.pair})


@router.post("/constructions/{code}/change", responses=_SENT)
def cost_a_change(code: Code, asked: Asked, body: Annotated[ChangeBody, Body()]) -> dict[str, Any]:
    """A change costed: plain swap, and the alternatives of equal weight, cover and cost."""
    desk = work_out(asked.engine, code, _asked(body), asked.change, asked.basis)
    desk.refuse_errors()
    return change_document(desk.changed, desk.asked.query)


@router.get("/constructions/{code}/variants", responses=_READ)
def list_variants(code: Code, asked: Asked) -> list[dict[str, Any]]:
    """The variants of a construction with what they cost today."""
    return [
        variant_record(each.variant, each.changed, each.missing)
        for each in look_at(asked.engine, code, asked.change, asked.basis)
    ]


@router.post("/constructions/{code}/variants", status_code=201, responses=_SENT)
def add_variant(
    request: Request, code: Code, body: Annotated[VariantBody, Body()]
) -> dict[str, Any]:
    """Keep a change by name."""
    house = house_of(request)
    number = save_variant(
        house.engine,
        code,
        _asked(body),
        house.person_id,
        name=body.name,
        notes=body.notes,
        replace=body.replace,
    )
    found = look_at(house.engine, code, BasisChange({}, {}))
    each = next(each for each in found if each.variant.id == number)
    return variant_record(each.variant, each.changed, each.missing)


@router.delete("/constructions/{code}/variants/{number}", status_code=204, responses=_READ)
def delete_variant(request: Request, code: Code, number: Number) -> Response:
    """Remove a variant; the audit keeps what it was."""
    house = house_of(request)
    remove_variant(house.engine, code, number, house.person_id)
    return Response(status_code=204)


@router.post(
    "/constructions/{code}/variants/{number}/promote", responses={**_SENT, 409: WRONG[409]}
)
def promote_variant(
    request: Request, code: Code, number: Number, body: Annotated[PromoteBody, Body()]
) -> dict[str, Any]:
    """Make a variant the next version of its construction."""
    house = house_of(request)
    version = promote(house.engine, code, number, house.person_id, version=body.version)
    return {"construction": code, "version": version}
