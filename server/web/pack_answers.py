"""A pack in one view as page, data, table and files; the same for the house and for a link."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from fastapi import Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from server.actions.pack_files import Making, file_of
from server.core.errors import NotFound
from server.core.pack import Pack
from server.export.pack_files import FILES
from server.export.packs import digest_of, pack_document, pairs_csv
from server.request import house_of
from server.web.numbers import Writer
from server.web.pack_pair import PackPairView, pair_view
from server.web.pack_view import PackView, made_line, pack_view
from server.web.render import csv_answer, render, units_of


@dataclass(frozen=True, slots=True)
class Around:
    """Where a view of a pack stands.

    base: its address; bare: without the house's navigation; preview: address to go back to from a
    preview, or ""
    """

    base: str
    bare: bool
    preview: str = ""


@dataclass(frozen=True, slots=True)
class BuyerPage:
    """A pack as a buyer sees it."""

    title: str
    around: Around
    pack: PackView
    files: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class PackPairPage:
    """One pair of a pack, opened."""

    title: str
    around: Around
    pair: PackPairView


@dataclass(frozen=True, slots=True)
class MakingPage:
    """How far the work on a file is."""

    title: str
    around: Around
    done: int
    total: int
    percent: int
    error: str
    href: str


def writer_of(request: Request, pack: Pack) -> Writer:
    """Writes the figures of a pack in the units of a request."""
    return Writer(units_of(request), pack.basis.currency)


def file_links(base: str) -> tuple[tuple[str, str], ...]:
    """What can be taken away."""
    return (
        ("Workbook with live formulas (XLSX)", f"{base}/files/workbook.xlsx"),
        ("Handout (PDF)", f"{base}/files/handout.pdf"),
        ("Pairs (CSV)", f"{base}.csv"),
        ("Data (JSON)", f"{base}.json"),
    )


def buyer_answer(request: Request, pack: Pack, around: Around) -> HTMLResponse:
    """The page of a buyer's view."""
    page = BuyerPage(
        pack.title,
        around,
        pack_view(pack, writer_of(request, pack), around.base),
        file_links(around.base),
    )
    return render(request, "packs/buyer.html", page, section="meetings", printed=made_line(pack))


def pair_answer(request: Request, pack: Pack, around: Around, place: int, key: str) -> HTMLResponse:
    """The page of one pair. Raises NotFound."""
    cloth = pack.cloths[place - 1] if 1 <= place <= len(pack.cloths) else None
    pair = cloth.pair(key) if cloth else None
    if pair is None:
        raise NotFound(
            f"This pack has no pair {key[:40]} there.",
            field="pair",
            value=key,
            remedy="Open a pair from the pack.",
        )
    view = pair_view(pack, place, pair, writer_of(request, pack), around.base)
    page = PackPairPage(view.title, around, view)
    return render(request, "packs/pair.html", page, section="meetings", printed=made_line(pack))


def data_answer(pack: Pack) -> Response:
    """The whole pack as data."""
    return JSONResponse(pack_document(pack))


def table_answer(pack: Pack) -> Response:
    """Every pair of the pack as CSV."""
    return csv_answer(f"{pack.reference}-{pack.view}", pairs_csv(pack))


def file_answer(
    request: Request, pack: Pack, around: Around, name: str, *, wait: bool = False
) -> Response:
    """A file of the pack, or the page that shows how far the work on it is. Raises NotFound."""
    if name not in FILES:
        raise NotFound(
            f"A pack has no file “{name[:40]}”.",
            field="file",
            value=name,
            remedy=f"Choose {' or '.join(FILES)}.",
        )
    write, kind = FILES[name]
    making = file_of(house_of(request).engine, pack, name, digest_of(pack), write, wait=wait)
    if making.content is None:
        return _still_making(request, pack, around, name, making)
    if "making" in request.query_params:
        return RedirectResponse(f"{around.base}/files/{name}", 303)
    file_name = f"{pack.reference}-{pack.view}-{name}"
    headers = {"content-disposition": f'attachment; filename="{file_name}"'}
    return Response(making.content, media_type=kind, headers=headers)


def _still_making(
    request: Request, pack: Pack, around: Around, name: str, making: Making
) -> Response:
    href: Any = f"{around.base}/files/{name}?making=yes"
    if "making" not in request.query_params:
        return RedirectResponse(href, 303)
    page = MakingPage(
        f"Writing {name}",
        around,
        making.done,
        making.total,
        100 * making.done // making.total if making.total else 0,
        making.error,
        href,
    )
    return render(request, "packs/making.html", page, section="meetings")
