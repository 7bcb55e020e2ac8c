"""The list of offers, filtered and sorted by its address."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from server.actions.compare import sound_basis_change
from server.actions.offers import (
    PREFIX,
    Landed,
    landed_offers,
)
from server.export.columns import Column as ExportColumn
from server.export.columns import as_record
from server.export.csv_file import as_csv
from server.request import house_of
from server.web import addresses, cautions
from server.web.listing import Listing
from server.web.numbers import Writer
from server.web.render import csv_answer, render, units_of
from server.web.tables import Cell, Row, Table

router = APIRouter()
PAGE_ROWS = 100

OFFER_COLUMNS: tuple[ExportColumn[Landed], ...] = (
    ExportColumn("offer", "Offer", "", lambda each: each.offer.code),
    ExportColumn("supplier", "Supplier", "", lambda each: each.offer.supplier.name),
    ExportColumn("country", "Country", "", lambda each: each.offer.country),
    ExportColumn("process", "Process", "", lambda each: each.offer.yarn.process),
    ExportColumn("count", "Count as quoted", "", lambda each: each.offer.yarn.count_text),
    ExportColumn("average_ne", "Average count", "Ne", lambda each: each.offer.yarn.average_ne),
    ExportColumn("price", "Price as quoted", "", lambda each: each.offer.price_text),
    ExportColumn("term", "Term", "", lambda each: f"{each.offer.term} {each.offer.place}".strip()),
    ExportColumn("payment", "Payment", "", lambda each: each.offer.payment),
    ExportColumn("goods_price", "Goods", "¤/kg", lambda each: each.goods_price),
    ExportColumn("landed_price", "Landed", "¤/kg",
                 lambda each: each.figures.get(f"{PREFIX}.landed_price")),
    ExportColumn("same_basis_price", "Same basis", "¤/kg", lambda each: each.same_basis_price),
    ExportColumn("valid_until", "Valid until", "",
                 lambda each: str(each.offer.valid_until or "not said")),
    ExportColumn("state", "State", "", lambda each: state_of(each)),
)  # fmt: skip


def state_of(each: Landed) -> str:
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
class OffersPage:
    """Everything the list template shows."""

    title: str
    basis: str
    search: str
    filters: tuple[Filter, ...]
    table: Table
    cautions: tuple[str, ...]


@router.get("/offers.json")
def offers_json(request: Request) -> Response:
    """The offers on the basis as data."""
    found, _ = _found(request)
    return JSONResponse([as_record(OFFER_COLUMNS, each) for each in found])


@router.get("/offers.csv")
def offers_csv(request: Request) -> Response:
    """The offers on the basis as CSV."""
    found, currency = _found(request)
    text = as_csv(
        [column.titled(currency) for column in OFFER_COLUMNS],
        ([column.value(each) for column in OFFER_COLUMNS] for each in found),
    )
    return csv_answer("offers", text)


@router.get("/offers")
def offers_page(request: Request) -> HTMLResponse:
    """All offers, filtered and sorted by the address."""
    query = dict(request.query_params)
    found, currency = _found(request)
    writer = Writer(units_of(request), currency)
    everything = _everything(request)
    basis = everything[0].basis if everything else None
    page = OffersPage(
        title="Offers",
        basis=f"Same-basis prices in {currency}, rates of {basis.rates_on}, meeting "
        f"{basis.meeting}."
        if basis
        else "",
        search=query.get("q", ""),
        filters=_filters(everything, query),
        table=_table(found, Listing("/offers", query, PAGE_ROWS), writer),
        cautions=(cautions.DUTY, cautions.TERMS, cautions.TESTS, cautions.RATES),
    )
    return render(request, "offers/list.html", page, section="offers")


def _everything(request: Request) -> tuple[Landed, ...]:
    query = request.query_params
    return landed_offers(
        house_of(request).engine, sound_basis_change(query), query.get("basis", "")
    )


def _found(request: Request) -> tuple[list[Landed], str]:
    query = request.query_params
    everything = _everything(request)
    basis = everything[0].basis if everything else None
    currency = basis.currency if basis else ""
    wanted = [each for each in everything if _matches(each, query)]
    sort = query.get("sort", "offer")
    values = {column.key: column.value for column in OFFER_COLUMNS}
    key = sort.removeprefix("-")
    if key in values:
        wanted.sort(key=lambda each: _sortable(values[key](each)), reverse=sort.startswith("-"))
    return wanted, currency


def _sortable(value: Any) -> tuple[int, float, str]:
    if value is None:
        return (2, 0.0, "")
    return (0, value, "") if isinstance(value, float) else (1, 0.0, str(value).casefold())


def _matches(each: Landed, query: Mapping[str, str]) -> bool:
    offer = each.offer
    words = query.get("q", "").casefold().split()
    text = " ".join(
        (
            offer.code,
            offer.supplier.name,
            offer.country,
            offer.yarn.process,
            offer.yarn.count_text,
            offer.as_quoted,
        )
    ).casefold()
    return (
        all(word in text for word in words)
        and query.get("spinning", "") in ("", offer.yarn.spinning)
        and query.get("effect", "") in ("", offer.yarn.effect)
        and query.get("supplier", "") in ("", offer.supplier.name)
        and query.get("country", "") in ("", offer.country)
        and query.get("state", "") in ("", state_of(each))
    )


def _filters(everything: tuple[Landed, ...], query: Mapping[str, str]) -> tuple[Filter, ...]:
    def choices(pick: Callable[[Landed], str]) -> tuple[tuple[str, str], ...]:
        values = sorted({pick(each) for each in everything})
        return (("", "all"), *((value, value) for value in values))

    return tuple(
        Filter(name, label, query.get(name, ""), choices(pick))
        for name, label, pick in (
            ("spinning", "Spinning", lambda each: each.offer.yarn.spinning),
            ("effect", "Effect", lambda each: each.offer.yarn.effect),
            ("supplier", "Supplier", lambda each: each.offer.supplier.name),
            ("country", "Country", lambda each: each.offer.country),
            ("state", "State", state_of),
        )
    )


def _table(found: list[Landed], listing: Listing, writer: Writer) -> Table:
    return Table(
        caption=f"{len(found)} offers",
        columns=listing.columns(OFFER_COLUMNS, writer),
        rows=tuple(_row(each, writer) for each in listing.part(found)),
        empty="No offer matches. Clear the filters, or record an offer.",
        exports=(
            ("CSV", addresses.with_query("/offers.csv", listing.query)),
            ("JSON", addresses.with_query("/offers.json", listing.query)),
            ("All fields, CSV", "/offers/export.csv"),
        ),
        pager=listing.pager(len(found)),
    )


def _row(each: Landed, writer: Writer) -> Row:
    cells = []
    for column in OFFER_COLUMNS:
        value = column.value(each)
        if column.key == "offer":
            cells.append(Cell(value, href=addresses.offer_path(value), strong=True))
        elif column.key == "state":
            cells.append(
                Cell(
                    value if value in ("open", "replaced") else "",
                    badge=value if value in ("expired", "unproven") else "",
                    note=each.missing,
                )
            )
        elif column.unit:
            cells.append(
                Cell(
                    "" if value is None else writer.text(value, column.unit),
                    strong=column.key == "same_basis_price",
                )
            )
        else:
            cells.append(Cell(str(value)))
    return Row(tuple(cells), key=each.offer.code, tone="muted" if state_of(each) != "open" else "")
