"""The buyer's view of a pack: previewed in the house, and behind a link without the house."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, Response

from server.actions.packs import buyer_pack, stored_pack
from server.actions.shares import shared_pack
from server.core.pack import Pack
from server.request import house_of
from server.web import addresses
from server.web.pack_answers import (
    Around,
    buyer_answer,
    data_answer,
    file_answer,
    pair_answer,
    table_answer,
)

router = APIRouter()
SEALED = {
    "cache-control": "no-store",
    "referrer-policy": "no-referrer",
    "x-robots-tag": "noindex, nofollow",
}


def _preview(request: Request, reference: str) -> tuple[Pack, Around]:
    engine = house_of(request).engine
    path = addresses.pack_path(reference)
    pack = buyer_pack(engine, stored_pack(engine, reference))
    return pack, Around(f"{path}/buyer", bare=True, preview=f"{path}#buyer")


def _shared(request: Request, token: str) -> tuple[Pack, Around]:
    pack = shared_pack(house_of(request).engine, token)
    return pack, Around(f"/shared/{addresses.part(token)}", bare=True)


def _sealed(answer: Response) -> Response:
    """What lies behind a link is not kept by browsers or found by search engines."""
    answer.headers.update(SEALED)
    return answer


@router.get("/meetings/{reference}/buyer.json")
def preview_json(request: Request, reference: str) -> Response:
    """What a buyer would get, as data."""
    return data_answer(_preview(request, reference)[0])


@router.get("/meetings/{reference}/buyer.csv")
def preview_csv(request: Request, reference: str) -> Response:
    """What a buyer would get, as CSV."""
    return table_answer(_preview(request, reference)[0])


@router.get("/meetings/{reference}/buyer")
def preview_page(request: Request, reference: str) -> HTMLResponse:
    """What a buyer would see."""
    return buyer_answer(request, *_preview(request, reference))


@router.get("/meetings/{reference}/buyer/pairs/{place}/{key:path}")
def preview_pair(request: Request, reference: str, place: int, key: str) -> HTMLResponse:
    """One pair as a buyer would see it."""
    return pair_answer(request, *_preview(request, reference), place, key)


@router.get("/meetings/{reference}/buyer/files/{name}")
def preview_file(request: Request, reference: str, name: str) -> Response:
    """The buyer's workbook or handout."""
    return file_answer(request, *_preview(request, reference), name)


@router.get("/shared/{token}.json")
def shared_json(request: Request, token: str) -> Response:
    """A shared pack as data."""
    return _sealed(data_answer(_shared(request, token)[0]))


@router.get("/shared/{token}.csv")
def shared_csv(request: Request, token: str) -> Response:
    """A shared pack as CSV."""
    return _sealed(table_answer(_shared(request, token)[0]))


@router.get("/shared/{token}")
def shared_page(request: Request, token: str) -> Response:
    """A shared pack."""
    return _sealed(buyer_answer(request, *_shared(request, token)))


@router.get("/shared/{token}/pairs/{place}/{key:path}")
def shared_pair(request: Request, token: str, place: int, key: str) -> Response:
    """One pair of a shared pack."""
    return _sealed(pair_answer(request, *_shared(request, token), place, key))


@router.get("/shared/{token}/files/{name}")
def shared_file(request: Request, token: str, name: str) -> Response:
    """A workbook or handout of a shared pack."""
    return _sealed(file_answer(request, *_shared(request, token), name))
