"""Files of an offer: attaching, taking away as a download, removing.

A file is always given as a download of a neutral kind, so that nothing in it runs in the browser.
"""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from server.actions.attachments import KIND_LABELS, attach, detach, file_of, files_of
from server.core.errors import CreelbookError, NotFound
from server.request import House, download, house_of
from server.web import addresses
from server.web.forms import SentForm
from server.web.render import render

router = APIRouter()


@dataclass(frozen=True, slots=True)
class FileView:
    """One file of an offer."""

    name: str
    href: str
    kind: str
    note: str
    size: str
    said: str
    values: str
    remove: str


@dataclass(frozen=True, slots=True)
class FilesView:
    """The files of an offer and the form for one more. kinds: (value, label)."""

    files: tuple[FileView, ...]
    action: str
    kinds: tuple[tuple[str, str], ...]
    kind: str
    note: str
    error: str
    field: str


@dataclass(frozen=True, slots=True)
class FilesPage:
    """Everything the page of the files of one offer shows."""

    title: str
    code: str
    back_href: str
    files: FilesView


def files_view(
    house: House,
    code: str,
    *,
    kind: str = "TDS",
    note: str = "",
    error: CreelbookError | None = None,
) -> FilesView:
    """The files of an offer, with what was typed and why it was refused."""
    path = addresses.offer_path(code)
    return FilesView(
        files=tuple(
            FileView(
                name=each.name,
                href=f"{path}/files/{each.id}",
                kind=each.kind,
                note=each.note,
                size=size_text(each.size),
                said=f"{each.person}, {each.at:%Y-%m-%d}",
                values="test values were read in it" if each.values else "",
                remove=f"{path}/files/{each.id}/remove",
            )
            for each in files_of(house.engine, code)
        ),
        action=f"{path}/files",
        kinds=tuple(KIND_LABELS.items()),
        kind=kind,
        note=note,
        error=str(error) if error else "",
        field=error.field if error else "",
    )


def size_text(size: int) -> str:
    """A size in bytes as people read it."""
    return f"{size / 1e6:,.1f} MB" if size >= 1e6 else f"{max(1, round(size / 1e3)):,} kB"


def number_of(text: str, code: str) -> int:
    """The number of a part of an offer, from an address. Raises NotFound."""
    if not (text.isascii() and text.isdecimal() and len(text) < 10):
        raise NotFound(
            f"Offer {code[:40]} has no part “{text[:20]}”.",
            field="id",
            value=text,
            remedy="Open it from the page of the offer.",
        )
    return int(text)


@router.get("/offers/{code}/files")
def files_page(request: Request, code: str) -> HTMLResponse:
    """The files of one offer."""
    return _page(request, code, files_view(house_of(request), code))


@router.post("/offers/{code}/files")
def attach_file(request: Request, code: str, sent: SentForm) -> Response:
    """Attach a file."""
    house = house_of(request)
    kind, note = sent.fields.get("kind", ""), sent.fields.get("note", "")
    try:
        attach(
            house.engine,
            code,
            name=sent.names.get("file", ""),
            content=sent.files.get("file", b""),
            kind=kind,
            note=note,
            person_id=house.person_id,
        )
    except CreelbookError as wrong:
        if wrong.code not in ("bad_value", "unreadable_file"):
            raise
        view = files_view(house, code, kind=kind, note=note, error=wrong)
        return _page(request, code, view, status=422)
    return RedirectResponse(f"{addresses.offer_path(code)}?notice=added#files", 303)


@router.get("/offers/{code}/files/{file_id}")
def file_download(request: Request, code: str, file_id: str) -> Response:
    """One file, as it came."""
    return download(*file_of(house_of(request).engine, code, number_of(file_id, code)))


@router.post("/offers/{code}/files/{file_id}/remove")
def remove_file(request: Request, code: str, file_id: str) -> Response:
    """Remove a file; the history keeps that it was there."""
    house = house_of(request)
    detach(house.engine, code, number_of(file_id, code), house.person_id)
    return RedirectResponse(f"{addresses.offer_path(code)}?notice=changed#files", 303)


def _page(request: Request, code: str, view: FilesView, status: int = 200) -> HTMLResponse:
    page = FilesPage(f"Files of offer {code}", code, addresses.offer_path(code), view)
    return render(request, "offers/files.html", page, section="offers", status=status)
