"""The list of offers: a page of it, filtered and sorted by its address, and all of it to take."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, PlainTextResponse, Response, StreamingResponse

from server.actions.compare import sound_basis_change
from server.actions.offer_list import (
    NOT_SAID,
    STATES,
    Listed,
    ListedOffer,
    every_offer,
    list_offers,
)
from server.actions.offers import Landed
from server.actions.saved_views import kept_about
from server.core.construction import Basis
from server.core.offer import EFFECTS, SPINNING_SYSTEMS
from server.export import cautions
from server.export.columns import Column as ExportColumn
from server.export.columns import as_record
from server.export.csv_file import as_tsv, csv_pieces
from server.request import house_of
from server.web import addresses
from server.web.numbers import Writer
from server.web.offer_address import OfferAddress, basis_texts, read_address
from server.web.offer_columns import (
    DECISION_COLUMN,
    NOTE_COLUMN,
    OFFER_COLUMNS,
    chosen,
    kept_columns,
)
from server.web.render import render, units_of
from server.web.saved_views import ViewsBox, views_box
from server.web.tables import Cell, Column, Pager, Row, Table

__all__ = ["OFFER_COLUMNS", "router", "state_of"]

router = APIRouter()
PAGE_ROWS = 100
_SORTED = frozenset(
    ("offer", "supplier", "country", "process", "average_ne", "goods_price", "landed_price",
     "same_basis_price", "quoted_on", "valid_until", "lead_days")
)  # fmt: skip
_DAYS = (
    ("quoted_from", "Quoted from"),
    ("quoted_to", "Quoted to"),
    ("valid_from", "Valid until, from"),
    ("valid_to", "Valid until, to"),
)


def state_of(each: Landed) -> str:
    """How an offer stands on its basis: open, expired, unproven or replaced."""
    if each.replaced_by:
        return "replaced"
    if each.missing or each.offer.open_questions:
        return "unproven"
    return "expired" if each.expired else "open"


@dataclass(frozen=True, slots=True)
class Filter:
    """A choice above the list."""

    name: str
    label: str
    value: str
    options: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class DayFilter:
    """A day above the list."""

    name: str
    label: str
    value: str


@dataclass(frozen=True, slots=True)
class ColumnBox:
    """One column in the chooser."""

    key: str
    label: str
    shown: bool


@dataclass(frozen=True, slots=True)
class OffersPage:
    """Everything the list template shows.

    more: whether a filter of the second row is in use
    kept, columns_kept: what else the forms of the filters and of the columns keep in the address
    asked: the whole query, for what is done to all that match
    shown_columns: keys of the shown columns, as an address writes them
    """

    title: str
    basis: str
    behind: bool
    search: str
    filters: tuple[Filter, ...]
    days: tuple[DayFilter, ...]
    intake: str
    more: bool
    kept: tuple[tuple[str, str], ...]
    clear_href: str
    asked: tuple[tuple[str, str], ...]
    views: ViewsBox
    columns: tuple[ColumnBox, ...]
    shown_columns: str
    own_columns: bool
    columns_kept: tuple[tuple[str, str], ...]
    tsv_href: str
    count: int
    table: Table
    cautions: tuple[str, ...]


@router.get("/offers.json")
def offers_json(request: Request) -> Response:
    """The offers on the basis as data."""
    _, columns, rows = _taken(request)
    return StreamingResponse(_json_pieces(columns, rows), media_type="application/json")


@router.get("/offers.csv")
def offers_csv(request: Request) -> Response:
    """The offers on the basis as CSV."""
    basis, columns, rows = _taken(request)
    text = csv_pieces(_headings(columns, basis), _values(columns, rows))
    headers = {"content-disposition": f"attachment; filename*=UTF-8''{quote('offers')}.csv"}
    return StreamingResponse(text, media_type="text/csv; charset=utf-8", headers=headers)


@router.get("/offers.tsv")
def offers_tsv(request: Request) -> Response:
    """The rows of the page as tab-separated text, to be copied from here."""
    address = read_address(request.query_params)
    listed = _listed(request, address)
    columns = chosen(_shown(request, address))
    headings = _headings(columns, listed.basis)
    return PlainTextResponse(as_tsv(headings, _values(columns, listed.part.rows)))


@router.get("/offers")
def offers_page(request: Request) -> HTMLResponse:
    """A page of the offers, filtered and sorted by the address."""
    house, address = house_of(request), read_address(request.query_params)
    listed = _listed(request, address)
    kept = kept_about(house.engine, "offers", house.person_id)
    keys = address.columns or kept_columns(kept.columns)
    columns, texts = chosen(keys), address.view.texts()
    basis, writer = listed.basis, Writer(units_of(request), listed.currency)
    page = OffersPage(
        title="Offers",
        basis=f"Same-basis prices in {basis.currency}, rates of {basis.rates_on}, meeting "
        f"{basis.meeting}."
        if basis
        else "",
        behind=listed.behind,
        search=texts.get("q", ""),
        filters=_filters(listed, texts),
        days=tuple(DayFilter(name, label, texts.get(name, "")) for name, label in _DAYS),
        intake=texts.get("intake", ""),
        more=any(texts.get(name) for name in ("intake", *(name for name, _ in _DAYS))),
        kept=_but(texts, "q", "spinning", "effect", "supplier", "country", "state", "intake",
                  *(name for name, _ in _DAYS)),
        clear_href=addresses.with_query(
            "/offers", {**basis_texts(address), "columns": texts.get("columns", "")}
        ),
        asked=tuple(texts.items()),
        views=views_box("offers", kept.views, texts),
        columns=tuple(
            ColumnBox(column.key, column.heading, column in columns) for column in OFFER_COLUMNS
        ),
        shown_columns=",".join(column.key for column in columns),
        own_columns=bool(kept.columns),
        columns_kept=_but(texts, "columns"),
        tsv_href=address.href(".tsv"),
        count=listed.part.count,
        table=_table(listed, address, columns, writer),
        cautions=(cautions.DUTY, cautions.TERMS, cautions.TESTS, cautions.RATES),
    )  # fmt: skip
    return render(request, "offers/list.html", page, section="offers")


def _but(texts: dict[str, str], *names: str) -> tuple[tuple[str, str], ...]:
    """The query without some names, for the hidden fields of a form."""
    return tuple((name, text) for name, text in texts.items() if name not in names)


def _listed(request: Request, address: OfferAddress) -> Listed:
    query = request.query_params
    return list_offers(
        house_of(request).engine,
        address.wanted,
        sound_basis_change(query),
        query.get("basis", ""),
        rows=PAGE_ROWS,
        after=address.after,
        before=address.before,
    )


def _shown(request: Request, address: OfferAddress) -> tuple[str, ...]:
    """Keys of the shown columns: those of the address, else those the person keeps, else all."""
    house = house_of(request)
    if address.columns:
        return address.columns
    return kept_columns(kept_about(house.engine, "offers", house.person_id).columns)


def _taken(
    request: Request,
) -> tuple[Basis | None, tuple[ExportColumn[ListedOffer], ...], Iterator[ListedOffer]]:
    """All that matches, with the columns of the address, or every one and the note."""
    query = request.query_params
    address = read_address(query)
    basis, rows = every_offer(
        house_of(request).engine,
        address.wanted,
        sound_basis_change(query),
        query.get("basis", ""),
    )
    columns = chosen(address.columns)
    more = () if address.columns else (NOTE_COLUMN, DECISION_COLUMN)
    return basis, (*columns, *more), rows


def _headings(columns: Iterable[ExportColumn[Any]], basis: Basis | None) -> list[str]:
    return [column.titled(basis.currency if basis else "") for column in columns]


def _values(
    columns: tuple[ExportColumn[ListedOffer], ...], rows: Iterable[ListedOffer]
) -> Iterator[list[Any]]:
    return ([column.value(each) for column in columns] for each in rows)


def _json_pieces(
    columns: tuple[ExportColumn[ListedOffer], ...], rows: Iterable[ListedOffer]
) -> Iterator[str]:
    mark = "["
    for each in rows:
        record = as_record(columns, each)
        yield mark + json.dumps(record, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
        mark = ","
    yield "]" if mark == "," else "[]"


def _filters(listed: Listed, texts: dict[str, str]) -> tuple[Filter, ...]:
    def choice(name: str, label: str, values: Iterable[str]) -> Filter:
        chosen_one = texts.get(name, "")
        known = tuple(values)
        if chosen_one and chosen_one not in known:
            known = (*known, chosen_one)
        options = (("", "all"), *((value, value) for value in known))
        return Filter(name, label, chosen_one, options)

    return (
        choice("spinning", "Spinning", (*SPINNING_SYSTEMS, NOT_SAID)),
        choice("effect", "Effect", EFFECTS),
        choice("supplier", "Supplier", listed.suppliers),
        choice("country", "Country", listed.countries),
        choice("state", "State", STATES),
    )


def _table(
    listed: Listed,
    address: OfferAddress,
    columns: tuple[ExportColumn[ListedOffer], ...],
    writer: Writer,
) -> Table:
    count = listed.part.count
    none = "No offer matches. Clear the filters, or record an offer."
    return Table(
        caption=f"{count:,} offer{'' if count == 1 else 's'}",
        columns=tuple(_heading(column, address, writer) for column in columns),
        rows=tuple(_row(each, columns, writer) for each in listed.part.rows),
        empty=none if not count else "No offer stands behind this one. Go back to the first page.",
        exports=(
            ("CSV", address.view.href(".csv")),
            ("JSON", address.view.href(".json")),
            ("All fields, CSV", "/offers/export.csv"),
        ),
        pager=_pager(listed, address),
    )


def _heading(column: ExportColumn[Any], address: OfferAddress, writer: Writer) -> Column:
    """A heading; pressed it sorts ascending, pressed again descending."""
    sorted_ = {column.key: "ascending", f"-{column.key}": "descending"}.get(address.sort)
    return Column(
        column.key,
        column.heading,
        writer.unit(column.unit),
        numeric=bool(column.unit),
        sort_href=address.sorted_by(column.key).href() if column.key in _SORTED else None,
        sorted=sorted_,  # type: ignore[arg-type]
    )


def _pager(listed: Listed, address: OfferAddress) -> Pager | None:
    part = listed.part
    if not part.before and not part.further:
        return None
    if not part.rows:
        return Pager(f"none of {part.count:,}", address.view.href(), None)
    first, last = part.rows[0].place, part.rows[-1].place
    return Pager(
        f"{part.before + 1:,} to {part.before + len(part.rows):,} of {part.count:,}",
        address.ahead_of(first).href() if part.before else None,
        address.behind(last).href() if part.further else None,
    )


def _row(each: ListedOffer, columns: tuple[ExportColumn[ListedOffer], ...], writer: Writer) -> Row:
    return Row(
        tuple(_cell(each, column, writer) for column in columns),
        key=each.code,
        tone="muted" if each.state != "open" else "",
    )


def _cell(each: ListedOffer, column: ExportColumn[ListedOffer], writer: Writer) -> Cell:
    value = column.value(each)
    if column.key == "offer":
        path = addresses.offer_path(value)
        return Cell(value, href=path, strong=True, note=each.decisions)
    if column.key == "state":
        plain = value in ("open", "replaced")
        return Cell(value if plain else "", badge="" if plain else value, note=each.note)
    if column.key == "questions":
        path = f"{addresses.offer_path(each.code)}/questions"
        return Cell(str(value), href=path) if value else Cell("")
    if column.key == "intake":
        return Cell("") if value is None else Cell(str(value), href=f"/intake/{value}")
    if column.unit:
        strong = column.key == "same_basis_price"
        return Cell("" if value is None else writer.text(value, column.unit), strong=strong)
    return Cell(str(value))
