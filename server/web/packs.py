"""Meetings: packs put together, frozen, shown to the house."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from server.actions.pack_exchange import pack_file
from server.actions.packs import (
    DRAFT,
    StoredPack,
    choose_shown,
    edit_pack,
    follow_up,
    freeze,
    history_of_pack,
    remove_draft,
    shown_pack,
    stored_pack,
)
from server.actions.shares import revoke, share, shares_of
from server.core.errors import BadValue, Conflict, shorten
from server.core.pack import Pack
from server.request import download, house_of
from server.web import addresses
from server.web.forms import SentForm
from server.web.pack_answers import (
    Around,
    data_answer,
    file_answer,
    file_links,
    pair_answer,
    table_answer,
    writer_of,
)
from server.web.pack_choice import ChoiceView, ShareView, choice_view, share_views
from server.web.pack_view import PackView, made_line, pack_view
from server.web.render import render
from server.web.tables import Cell, Column, Row, Table

router = APIRouter()


@dataclass(frozen=True, slots=True)
class PackPage:
    """Everything the page of a pack shows."""

    title: str
    reference: str
    state: str
    version: int
    path: str
    pack: PackView
    words: str
    problems: tuple[tuple[str, str], ...]
    superseded_href: str
    follows_href: str
    files: tuple[tuple[str, str], ...]
    choice: ChoiceView
    shares: tuple[ShareView, ...]
    history: Table
    secret: str


@dataclass(frozen=True, slots=True)
class EditPage:
    """The form of a draft. cloths: (number, title, pairs as text; None of a variant)"""

    title: str
    path: str
    version: int
    typed: Mapping[str, str]
    cloths: tuple[tuple[int, str, str | None], ...]
    error: str
    error_field: str


@router.get("/meetings/{reference}.json")
def pack_json(request: Request, reference: str) -> Response:
    """A pack in the internal view as data."""
    return data_answer(_shown(request, reference)[0])


@router.get("/meetings/{reference}.csv")
def pack_csv(request: Request, reference: str) -> Response:
    """Every pair of a pack as CSV, internal view."""
    return table_answer(_shown(request, reference)[0])


@router.get("/meetings/{reference}")
def pack_page(request: Request, reference: str) -> HTMLResponse:
    """A pack in the internal view, with everything that can be done with it."""
    return _pack_page(request, reference)


def _shown(request: Request, reference: str) -> tuple[Pack, StoredPack]:
    engine = house_of(request).engine
    stored = stored_pack(engine, reference)
    return shown_pack(engine, stored)[0], stored


def _pack_page(request: Request, reference: str, secret: str = "") -> HTMLResponse:
    engine = house_of(request).engine
    stored = stored_pack(engine, reference)
    pack, problems = shown_pack(engine, stored)
    path = addresses.pack_path(reference)
    page = PackPage(
        title=stored.title,
        reference=reference,
        state=stored.state,
        version=stored.version,
        path=path,
        pack=pack_view(pack, writer_of(request, pack), path),
        words=stored.words,
        problems=tuple(
            (f"{asked.code}{', ' if asked.variant else ''}{asked.variant}", why)
            for asked, why in problems
        ),
        superseded_href=addresses.pack_path(stored.superseded_by) if stored.superseded_by else "",
        follows_href=addresses.pack_path(stored.follows) if stored.follows else "",
        files=file_links(path),
        choice=choice_view(pack, stored.shown),
        shares=share_views(shares_of(engine, reference), path),
        history=_history(request, reference),
        secret=f"{str(request.base_url).rstrip('/')}/shared/{secret}" if secret else "",
    )
    return render(request, "packs/pack.html", page, section="meetings", printed=made_line(pack))


def _history(request: Request, reference: str) -> Table:
    changes = history_of_pack(house_of(request).engine, reference)
    rows = tuple(
        Row(
            (
                Cell(f"{change.at:%Y-%m-%d %H:%M}"),
                Cell(change.person),
                Cell(name.replace("_", " ")),
                Cell("" if change.action == "add" else shorten(before or "nothing")),
                Cell(shorten(after or "nothing")),
            )
        )
        for change in changes
        for name, before, after in change.changes
        if name not in ("owner_id", "digest")
    )
    return Table(
        caption=f"{len(rows)} changes of its title, words, state and what a buyer may see",
        columns=(
            Column("at", "When", "UTC"),
            Column("person", "Who"),
            Column("what", "What"),
            Column("before", "Before"),
            Column("after", "After"),
        ),
        rows=rows,
        empty="Nothing was changed.",
    )


@router.get("/meetings/{reference}/edit")
def edit_page(request: Request, reference: str) -> HTMLResponse:
    """The form of a draft."""
    stored = stored_pack(house_of(request).engine, reference)
    if stored.state != DRAFT:
        raise Conflict(
            f"This pack is {stored.state}; it never changes.",
            field="pack",
            value=reference,
            remedy="Make a new draft that follows it.",
        )
    return _edit_page(request, stored, stored.typed)


def _edit_page(
    request: Request,
    stored: StoredPack,
    typed: Mapping[str, str],
    wrong: BadValue | None = None,
) -> HTMLResponse:
    path = addresses.pack_path(stored.reference)
    page = EditPage(
        title=f"Change {stored.title}",
        path=path,
        version=stored.version,
        typed=typed,
        cloths=tuple(
            (
                place,
                f"{each.code}, {each.variant}" if each.variant else each.code,
                None if each.variant else typed.get(f"pairs{place}", ", ".join(each.pairs)),
            )
            for place, each in enumerate(stored.cloths, 1)
        ),
        error=str(wrong) if wrong else "",
        error_field=wrong.field if wrong else "",
    )
    return render(
        request, "packs/edit.html", page, section="meetings", status=422 if wrong else 200
    )


@router.post("/meetings/{reference}")
def edit(request: Request, reference: str, sent: SentForm) -> Response:
    """Change a draft."""
    house, fields = house_of(request), sent.fields
    stored = stored_pack(house.engine, reference)
    cloths = []
    for place, each in enumerate(stored.cloths, 1):
        if fields.get(f"out{place}") == "yes":
            continue
        typed = fields.get(f"pairs{place}")
        cloths.append(each if typed is None else replace(each, pairs=_pairs(typed)))
    try:
        edit_pack(house.engine, reference, house.person_id, fields, cloths, _version(sent.fields))
    except BadValue as wrong:
        return _edit_page(request, stored, fields, wrong)
    return RedirectResponse(f"{addresses.pack_path(reference)}?notice=changed", 303)


def _pairs(text: str) -> tuple[str, ...]:
    return tuple(part for part in re.split(r"[\s,;]+", text) if part)[:2000]


def _version(fields: Mapping[str, str]) -> int:
    text = fields.get("version", "")
    if text.isdecimal() and text.isascii() and len(text) < 10:
        return int(text)
    raise BadValue(
        "The form did not say which version of the pack it was filled from.",
        field="version",
        value=text,
        remedy="Open the pack again and repeat.",
    )


@router.post("/meetings/{reference}/freeze")
def freeze_pack(request: Request, reference: str, sent: SentForm) -> Response:
    """Freeze a draft for ever."""
    house = house_of(request)
    freeze(house.engine, reference, house.person_id, _version(sent.fields))
    return RedirectResponse(f"{addresses.pack_path(reference)}?notice=frozen", 303)


@router.post("/meetings/{reference}/remove")
def remove(request: Request, reference: str) -> Response:
    """Remove a draft."""
    house = house_of(request)
    remove_draft(house.engine, reference, house.person_id)
    return RedirectResponse("/meetings?notice=removed", 303)


@router.post("/meetings/{reference}/follow")
def follow(request: Request, reference: str) -> Response:
    """Make a draft that follows a frozen pack."""
    house = house_of(request)
    made = follow_up(house.engine, reference, house.person_id)
    return RedirectResponse(f"{addresses.pack_path(made)}?notice=added", 303)


@router.post("/meetings/{reference}/shown")
def choose(request: Request, reference: str, sent: SentForm) -> Response:
    """Choose what a buyer may see."""
    house = house_of(request)
    shown = [name.removeprefix("show_") for name in sent.fields if name.startswith("show_")]
    choose_shown(house.engine, reference, house.person_id, shown, _version(sent.fields))
    return RedirectResponse(f"{addresses.pack_path(reference)}?notice=changed#buyer", 303)


@router.post("/meetings/{reference}/shares")
def share_pack(request: Request, reference: str, sent: SentForm) -> HTMLResponse:
    """Make a link; its secret is shown on this answer and never again."""
    house, fields = house_of(request), sent.fields
    token = share(
        house.engine,
        reference,
        house.person_id,
        days=fields.get("days", ""),
        whom=fields.get("whom", ""),
    )
    return _pack_page(request, reference, token)


@router.post("/meetings/{reference}/shares/{number}/revoke")
def revoke_share(request: Request, reference: str, number: int) -> Response:
    """End a link."""
    house = house_of(request)
    revoke(house.engine, reference, number, house.person_id)
    return RedirectResponse(f"{addresses.pack_path(reference)}?notice=changed#links", 303)


@router.get("/meetings/{reference}/pack")
def export_pack(request: Request, reference: str) -> Response:
    """A frozen pack as a file for another house."""
    return download(f"{reference}.pack.json", pack_file(house_of(request).engine, reference))


@router.get("/meetings/{reference}/pairs/{place}/{key:path}")
def pair_page(request: Request, reference: str, place: int, key: str) -> HTMLResponse:
    """One pair of a pack, every figure with its formula."""
    around = Around(addresses.pack_path(reference), bare=False)
    return pair_answer(request, _shown(request, reference)[0], around, place, key)


@router.get("/meetings/{reference}/files/{name}")
def file(request: Request, reference: str, name: str) -> Response:
    """The internal workbook or handout."""
    around = Around(addresses.pack_path(reference), bare=False)
    return file_answer(request, _shown(request, reference)[0], around, name)
