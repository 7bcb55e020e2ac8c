"""Meeting packs as JSON: put together, frozen, computed again, shared, taken elsewhere."""

from __future__ import annotations

import json
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Body, Query, Request
from pydantic import BaseModel, ConfigDict, Field
from starlette.responses import Response

from server.actions.pack_exchange import pack_file, take_in
from server.actions.pack_files import file_of
from server.actions.packs import (
    ClothAsked,
    buyer_pack,
    choose_shown,
    computed_again,
    edit_pack,
    follow_up,
    freeze,
    new_pack,
    packs,
    remove_draft,
    shown_pack,
    stored_pack,
)
from server.actions.shares import revoke, share, shares_of
from server.api.records import WRONG
from server.core.buyer_view import FIELDS
from server.core.errors import Missing, NotFound
from server.core.pack import Pack
from server.export.pack_files import FILES
from server.export.packs import digest_of, pack_document, pack_record
from server.request import House, house_of

router = APIRouter(tags=["meetings"])
_READ: dict[int | str, dict[str, Any]] = {code: WRONG[code] for code in (404, 409, 422, 503)}
_SENT: dict[int | str, dict[str, Any]] = {
    code: WRONG[code] for code in (400, 404, 409, 413, 422, 503)
}
View = Annotated[
    Literal["internal", "buyer"],
    Query(description="internal, or buyer: what is chosen to be shown, and nothing else"),
]
Name = Annotated[str, Field(max_length=120)]


class ClothBody(BaseModel):
    """A construction of a pack, or a variant of one."""

    model_config = ConfigDict(extra="forbid")
    construction: str = Field(max_length=60, description="Code of the construction")
    variant: str = Field("", max_length=80, description="Name of a variant; empty: as it stands")
    pairs: list[Name] = Field(
        default_factory=list, max_length=2000, description="Such as Q14/Q20; none: the first 20"
    )


class PackBody(BaseModel):
    """What a person writes over a pack, and what it takes."""

    model_config = ConfigDict(extra="forbid")
    title: str = Field(max_length=400)
    buyer: str = Field("", max_length=400)
    meeting: str = Field(max_length=40, description="Day of the meeting, 2026-03-12")
    notes: str = Field("", max_length=8000, description="Internal; never in the buyer's view")
    words: str = Field("", max_length=8000, description="For the buyer, above the figures")
    cloths: list[ClothBody] = Field(default_factory=list, max_length=500)


class NewPackBody(PackBody):
    """A new draft. The basis holds for the whole pack."""

    basis: str = Field("", max_length=120, description="Name of a stored basis; the first if empty")
    basis_changes: dict[str, Name] = Field(
        default_factory=dict, description="Such as currency, rates_on, as_of, quantity, loom_rule"
    )


class ChangedPackBody(PackBody):
    """A draft as it shall be. version: of the pack that was read"""

    version: int = Field(ge=1, lt=2**31)


class VersionBody(BaseModel):
    """The version of the pack that was read."""

    model_config = ConfigDict(extra="forbid")
    version: int = Field(ge=1, lt=2**31)


class ShownBody(VersionBody):
    """What a buyer may see."""

    shown: list[Name] = Field(
        max_length=40, description=f"Among: {', '.join(each.key for each in FIELDS)}"
    )


class ShareBody(BaseModel):
    """A link to be made."""

    model_config = ConfigDict(extra="forbid")
    days: int = Field(14, ge=1, le=366, description="How long it holds [d]")
    whom: str = Field("", max_length=400, description="A note of yours")


def _cloths(body: PackBody) -> list[ClothAsked]:
    return [ClothAsked(each.construction, each.variant, tuple(each.pairs)) for each in body.cloths]


def _typed(body: PackBody) -> dict[str, str]:
    return {name: getattr(body, name) for name in ("title", "buyer", "meeting", "notes", "words")}


def _record(house: House, reference: str) -> dict[str, Any]:
    stored = stored_pack(house.engine, reference)
    return {**pack_record(stored), "version": stored.version, "shown": list(stored.shown)}


def _pack(house: House, reference: str, view: str) -> Pack:
    stored = stored_pack(house.engine, reference)
    return buyer_pack(house.engine, stored) if view == "buyer" else shown_pack(
        house.engine, stored
    )[0]  # fmt: skip


@router.get("/meetings", responses={503: WRONG[503]})
def list_packs(request: Request) -> list[dict[str, Any]]:
    """Every pack, the latest meeting first, without its content."""
    return [pack_record(each) for each in packs(house_of(request).engine)]


@router.post("/meetings", status_code=201, responses=_SENT)
def add_pack(request: Request, body: Annotated[NewPackBody, Body()]) -> dict[str, Any]:
    """Make a draft."""
    house = house_of(request)
    made = new_pack(
        house.engine, house.person_id, _typed(body), _cloths(body), body.basis_changes, body.basis
    )
    return _record(house, made)


@router.post("/meetings/take-in", status_code=201, responses=_SENT)
def take_in_pack(
    request: Request,
    body: Annotated[dict[str, Any], Body(description="A pack as GET …/pack gave it")],
) -> dict[str, Any]:
    """Take in a pack that was frozen elsewhere; its digits stay as they are."""
    house = house_of(request)
    content = json.dumps(body).encode()
    return _record(house, take_in(house.engine, content, house.person_id))


@router.get("/meetings/{reference}", responses=_READ)
def read_pack(request: Request, reference: str, view: View = "internal") -> dict[str, Any]:
    """A pack with its content, in one view."""
    house = house_of(request)
    record = _record(house, reference) if view == "internal" else {}
    return {**record, "content": pack_document(_pack(house, reference, view))}


@router.put("/meetings/{reference}", responses=_SENT)
def change_pack(
    request: Request, reference: str, body: Annotated[ChangedPackBody, Body()]
) -> dict[str, Any]:
    """Change a draft."""
    house = house_of(request)
    edit_pack(house.engine, reference, house.person_id, _typed(body), _cloths(body), body.version)
    return _record(house, reference)


@router.delete("/meetings/{reference}", status_code=204, responses=_READ)
def remove_pack(request: Request, reference: str) -> None:
    """Remove a draft; a frozen pack stays."""
    house = house_of(request)
    remove_draft(house.engine, reference, house.person_id)


@router.post("/meetings/{reference}/freeze", responses=_SENT)
def freeze_pack(
    request: Request, reference: str, body: Annotated[VersionBody, Body()]
) -> dict[str, Any]:
    """Freeze a draft for ever."""
    house = house_of(request)
    freeze(house.engine, reference, house.person_id, body.version)
    return _record(house, reference)


@router.post("/meetings/{reference}/follow", status_code=201, responses=_READ)
def follow_pack(request: Request, reference: str) -> dict[str, Any]:
    """A draft that supersedes a frozen pack once it is frozen itself."""
    house = house_of(request)
    return _record(house, follow_up(house.engine, reference, house.person_id))


@router.put("/meetings/{reference}/shown", responses=_SENT)
def choose(request: Request, reference: str, body: Annotated[ShownBody, Body()]) -> dict[str, Any]:
    """Choose what a buyer may see."""
    house = house_of(request)
    choose_shown(house.engine, reference, house.person_id, body.shown, body.version)
    return _record(house, reference)


@router.get("/meetings/{reference}/again", responses=_READ)
def compute_again(request: Request, reference: str) -> dict[str, Any]:
    """A frozen pack computed again by the engine of today; it stays as it is."""
    again = computed_again(house_of(request).engine, reference)
    return {
        "looked_at": again.looked_at,
        "same": again.is_same,
        "differs": [
            {
                "cloth": each.cloth,
                "pair": each.pair,
                "label": each.label,
                "unit": each.unit,
                "frozen": each.frozen,
                "now": each.now,
            }
            for each in again.differs
        ],
    }


@router.get("/meetings/{reference}/pack", responses=_READ)
def export_pack(request: Request, reference: str) -> Response:
    """A frozen pack for another house, to be sent to its take-in."""
    return Response(pack_file(house_of(request).engine, reference), media_type="application/json")


@router.get("/meetings/{reference}/files/{name}", responses=_READ)
def file(request: Request, reference: str, name: str, view: View = "internal") -> Response:
    """workbook.xlsx or handout.pdf, in one view; waits until it is written."""
    house = house_of(request)
    if name not in FILES:
        raise NotFound(
            f"A pack has no file “{name[:40]}”.",
            field="file",
            value=name,
            remedy=f"Ask for {' or '.join(FILES)}.",
        )
    write, kind = FILES[name]
    pack = _pack(house, reference, view)
    making = file_of(house.engine, pack, name, digest_of(pack), write, wait=True)
    if making.content is None:
        raise Missing(
            making.error or "The file is being written by another request.",
            field="file",
            value=name,
            remedy="Ask again in a few seconds.",
        )
    return Response(making.content, media_type=kind)


@router.get("/meetings/{reference}/shares", responses=_READ)
def list_shares(request: Request, reference: str) -> list[dict[str, Any]]:
    """The links of a pack, without their secrets."""
    engine = house_of(request).engine
    stored_pack(engine, reference)
    return [
        {
            "id": each.id,
            "whom": each.whom,
            "shown": list(each.shown),
            "made_at": each.made_at.isoformat(),
            "expires_at": each.expires_at.isoformat(),
            "revoked_at": each.revoked_at.isoformat() if each.revoked_at else None,
        }
        for each in shares_of(engine, reference)
    ]


@router.post("/meetings/{reference}/shares", status_code=201, responses=_SENT)
def add_share(
    request: Request, reference: str, body: Annotated[ShareBody, Body()]
) -> dict[str, str]:
    """Make a link; its secret is told this once."""
    house = house_of(request)
    token = share(house.engine, reference, house.person_id, days=str(body.days), whom=body.whom)
    return {"path": f"/shared/{token}"}


@router.delete("/meetings/{reference}/shares/{number}", status_code=204, responses=_READ)
def end_share(request: Request, reference: str, number: int) -> None:
    """Take a link back."""
    house = house_of(request)
    revoke(house.engine, reference, number, house.person_id)
