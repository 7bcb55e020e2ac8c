"""The offers of one supplier beside the supplier: how it answers, and its prices over time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from fastapi import Request

from server.actions import price_history as history
from server.actions.price_history import Quote
from server.request import house_of
from server.web import addresses
from server.web.listing import Listing
from server.web.numbers import Writer
from server.web.price_history import YarnView, newest_view, on_basis, price_views
from server.web.render import units_of
from server.web.tables import Cell, Column, Pager, Row, Table

ROWS_A_PAGE = 50
YARNS_A_PAGE = 4


@dataclass(frozen=True, slots=True)
class SupplierView:
    """What stands below a supplier. facts: (label, value); views: (label, href, current)."""

    facts: tuple[tuple[str, str], ...]
    offers: Table
    yarns: tuple[YarnView, ...]
    views: tuple[tuple[str, str, bool], ...]
    pager: Pager | None


def supplier_view(request: Request, supplier: str) -> SupplierView:
    """How a supplier answers, a page of its offers, and its yarns with their prices."""
    engine, query = house_of(request).engine, dict(request.query_params)
    path = f"/suppliers/{addresses.part(supplier)}"
    yarns = history.yarns_of(engine, supplier)
    listing = Listing(path, {**query, "page": query.get("yarns", "")}, YARNS_A_PAGE, "#prices")
    return SupplierView(
        facts=_facts(history.supplier_figures(engine, supplier)),
        offers=_offers_table(request, supplier, Listing(path, query, ROWS_A_PAGE, "#offers")),
        yarns=tuple(newest_view(request, supplier, yarn) for yarn in listing.part(yarns)),
        views=price_views(request, path, "#prices") if yarns else (),
        pager=_pager(listing, len(yarns), path, query),
    )


def _pager(listing: Listing, count: int, path: str, query: Mapping[str, str]) -> Pager | None:
    """The way to the other yarns; the offers above stay at their page."""
    pager, number = listing.pager(count), listing.page_of(count)
    if pager is None:
        return None

    def at(page: int) -> str:
        return addresses.with_query(path, {**query, "yarns": str(page)}) + "#prices"

    return Pager(
        f"Yarns {pager.summary}",
        at(number - 1) if pager.previous_href else None,
        at(number + 1) if pager.next_href else None,
    )


def _facts(figures: history.SupplierFigures) -> tuple[tuple[str, str], ...]:
    lead = figures.lead_days
    return (
        ("Offers", f"{figures.offers}, {figures.current} of them not replaced"),
        ("Average lead time", "not said" if lead is None else f"{lead:.0f} d"),
        ("Open questions", str(figures.questions)),
        ("Last quote", str(figures.last_quote or "none yet")),
    )


def _offers_table(request: Request, supplier: str, listing: Listing) -> Table:
    """Offers of a supplier, the newest quote first, with their price on the house basis."""
    offers = history.supplier_offers(house_of(request).engine, supplier)
    quotes = on_basis(request, listing.part(offers))
    writer = Writer(units_of(request), quotes[0].landed.currency if quotes else "")
    return Table(
        caption=f"{len(offers)} offers of {supplier}",
        columns=(
            Column("code", "Offer"),
            Column("process", "Process"),
            Column("count", "Count as quoted"),
            Column("price", "Price as quoted"),
            Column("term", "Term"),
            Column("same_basis", "Same basis", writer.unit("¤/kg"), numeric=True),
            Column("quoted_on", "Quoted on"),
            Column("valid_until", "Valid until"),
        ),
        rows=tuple(_offer_row(quote, writer) for quote in quotes),
        empty="This supplier has made no offer yet.",
        pager=listing.pager(len(offers)),
    )


def _offer_row(quote: Quote, writer: Writer) -> Row:
    offer, price = quote.offer, quote.landed.same_basis_price
    return Row(
        (
            Cell(
                offer.code,
                href=addresses.offer_path(offer.code),
                note=f"replaced by {quote.replaced_by}" if quote.replaced_by else "",
                strong=True,
            ),
            Cell(offer.yarn.process),
            Cell(offer.yarn.count_text),
            Cell(offer.price_text),
            Cell(f"{offer.term} {offer.place}".strip()),
            Cell("" if price is None else writer.text(price, "¤/kg"), strong=True),
            Cell(offer.quoted_on.isoformat()),
            Cell(str(offer.valid_until or "not said")),
        ),
        key=offer.code,
        tone="muted" if quote.replaced_by else "",
    )
