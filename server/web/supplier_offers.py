"""The offers of one supplier, beside the supplier."""

from __future__ import annotations

from fastapi import Request

from server.actions.book import current_book
from server.actions.compare import sound_basis_change
from server.actions.offers import Landed, landed_offer
from server.core.errors import CreelbookError
from server.core.offer import Offer
from server.request import house_of
from server.web import addresses
from server.web.numbers import Writer
from server.web.render import units_of
from server.web.tables import Cell, Column, Row, Table


def offers_of(request: Request, supplier: str) -> Table:
    """Every offer of a supplier, the newest quote first, with its price on the house basis."""
    engine = house_of(request).engine
    book = current_book(engine)
    writer = Writer(units_of(request), book.bases[0].currency if book.bases else "")
    offers = [offer for offer in book.offers if offer.supplier.name == supplier]
    offers.sort(key=lambda offer: (offer.quoted_on, offer.code), reverse=True)

    def landed(offer: Offer) -> Landed | None:
        try:
            return landed_offer(engine, offer.code, sound_basis_change({}))
        except CreelbookError:  # no basis yet: the quote stands alone
            return None

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
        rows=tuple(_row(offer, landed(offer), writer) for offer in offers),
        empty="This supplier has made no offer yet.",
    )


def _row(offer: Offer, landed: Landed | None, writer: Writer) -> Row:
    price = landed.same_basis_price if landed else None
    replaced = landed.replaced_by if landed else ""
    return Row(
        (
            Cell(
                offer.code,
                href=addresses.offer_path(offer.code),
                note=f"replaced by {replaced}" if replaced else "",
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
        tone="muted" if replaced else "",
    )
