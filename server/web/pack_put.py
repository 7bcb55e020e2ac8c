"""Putting a comparison, a pair or a variant into a meeting pack, a new one or a draft."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from server.actions.compare import compare_construction, sound_basis_change
from server.actions.packs import DRAFT, ClothAsked, new_pack, packs, put_into
from server.core.compare import Comparison
from server.core.errors import BadValue
from server.core.freeze import MOST_PAIRS
from server.request import house_of
from server.web import addresses
from server.web.forms import SentForm
from server.web.numbers import Writer
from server.web.render import render, units_of

router = APIRouter()


@dataclass(frozen=True, slots=True)
class PairChoice:
    """A pair that may be taken. words: combination, cost, weight and standing"""

    key: str
    words: str
    ticked: bool


@dataclass(frozen=True, slots=True)
class PutPage:
    """The form. hidden: what the pack takes besides what is typed; drafts: (reference, title)"""

    title: str
    back_href: str
    what: str
    pairs: tuple[PairChoice, ...]
    drafts: tuple[tuple[str, str], ...]
    typed: Mapping[str, str]
    hidden: tuple[tuple[str, str], ...]
    basis_note: str
    error: str
    error_field: str


@router.get("/meetings/put")
def put_page(request: Request) -> HTMLResponse:
    """The form that puts something into a pack."""
    return _page(request, dict(request.query_params), {})


@router.post("/meetings/put")
def put(request: Request, sent: SentForm) -> Response:
    """Put it into a draft, or into a new pack."""
    house, fields = house_of(request), sent.fields
    code, variant = fields.get("construction", ""), fields.get("variant", "")
    pairs = tuple(name.removeprefix("pair_") for name in fields if name.startswith("pair_"))
    cloths = (ClothAsked(code, variant, () if variant else pairs),) if code else ()
    try:
        if fields.get("pack"):
            reference = fields["pack"]
            put_into(house.engine, reference, house.person_id, cloths)
        else:
            changes = {
                name: text for name, text in addresses.basis_query(fields).items()
                if name not in ("basis", "meeting")
            }  # fmt: skip
            if fields.get("basis_meeting"):
                changes["meeting"] = fields["basis_meeting"]
            reference = new_pack(
                house.engine, house.person_id, fields, cloths, changes, fields.get("basis", "")
            )
    except BadValue as wrong:
        return _page(request, dict(fields), dict(fields), wrong)
    return RedirectResponse(f"{addresses.pack_path(reference)}?notice=added", 303)


def _page(
    request: Request,
    asked: Mapping[str, str],
    typed: Mapping[str, str],
    wrong: BadValue | None = None,
) -> HTMLResponse:
    engine = house_of(request).engine
    code, variant = asked.get("construction", ""), asked.get("variant", "")
    basis = addresses.basis_query(asked)
    if typed:  # the day of the meeting in the form is that of the pack
        basis = {name: text for name, text in basis.items() if name != "meeting"}
        if typed.get("basis_meeting"):
            basis["meeting"] = typed["basis_meeting"]
    comparison = (
        compare_construction(engine, code, sound_basis_change(basis), basis.get("basis", ""))
        if code
        else None
    )
    meeting = comparison.basis.meeting if comparison else datetime.now(UTC).date()
    hidden = {name: text for name, text in basis.items() if name != "meeting"}
    hidden |= {"construction": code, "variant": variant}
    hidden["basis_meeting"] = basis.get("meeting", "")
    page = PutPage(
        title="Put into a meeting pack" if code else "New meeting pack",
        back_href=addresses.compare_path(code) if code else "/meetings",
        what=f"{code}, variant “{variant}”" if variant else code,
        pairs=_choices(request, comparison, asked) if comparison and not variant else (),
        drafts=tuple(
            (each.reference, f"{each.title}, {each.meeting}")
            for each in packs(engine)
            if each.state == DRAFT
        ),
        typed={"meeting": meeting.isoformat(), **typed},
        hidden=tuple((name, text) for name, text in hidden.items() if text),
        basis_note=_basis_note(comparison),
        error=str(wrong) if wrong else "",
        error_field=wrong.field if wrong else "",
    )
    status = 422 if wrong else 200
    return render(request, "packs/put.html", page, section="meetings", status=status)


def _basis_note(comparison: Comparison | None) -> str:
    if comparison is None:
        return ""
    basis = comparison.basis
    return (
        f"A new pack takes the basis of this comparison: {basis.currency}, rates of "
        f"{basis.rates_on}, as of {basis.as_of}, assumptions “{basis.assumption_set}”. A pack has "
        "one basis; what is put into a draft is compared on the draft’s."
    )


def _choices(
    request: Request, comparison: Comparison, asked: Mapping[str, str]
) -> tuple[PairChoice, ...]:
    writer = Writer(units_of(request), comparison.basis.currency)
    ticked = {asked.get("pair", "")} | {
        name.removeprefix("pair_") for name in asked if name.startswith("pair_")
    }
    pairs = {pair.key: pair for pair in comparison.pairs(MOST_PAIRS)}
    for key in ticked:
        warp, _, filling = key.partition("/")
        found = comparison.find(warp, filling)
        if found is not None:
            pairs[key] = found
    return tuple(
        PairChoice(
            pair.key,
            ", ".join(
                (
                    pair.process,
                    writer.full(pair.figures["fabric_cost"], "¤/m"),
                    writer.full(pair.figures["ounces"], "oz/yd²"),
                    pair.state,
                )
            ),
            pair.key in ticked,
        )
        for pair in pairs.values()
    )
