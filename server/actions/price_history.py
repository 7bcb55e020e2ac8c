"""What a supplier asked for each of its yarns over time, and how it answers."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from server.actions.book import current_book
from server.actions.compare import BasisChange
from server.actions.offers import Landed, landed_some
from server.core.errors import NotFound
from server.core.offer import Offer, Yarn
from server.store.book import Book
from server.store.session import Engine


@dataclass(frozen=True, slots=True)
class SupplierFigures:
    """How a supplier answers. lead_days: average of the offers that hold and say one [d].

    offers: all; current: those no later one replaces; questions: open ones of the current offers
    """

    offers: int
    current: int
    lead_days: float | None
    questions: int
    last_quote: date | None


@dataclass(frozen=True, slots=True)
class Quote:
    """One offer of a yarn on the basis. replaces, replaced_by: codes, or ""."""

    landed: Landed
    replaces: str
    replaced_by: str

    @property
    def offer(self) -> Offer:
        """The offer itself."""
        return self.landed.offer

    @property
    def unit(self) -> str:
        """Currency and unit the seller quoted in, as quoted."""
        return f"{self.offer.currency or '?'}/{self.offer.price_unit or '?'}"


@dataclass(frozen=True, slots=True)
class YarnOffers:
    """The offers of one yarn of a supplier, the newest first. key: names it in an address."""

    key: str
    name: str
    offers: tuple[Offer, ...]


def supplier_figures(engine: Engine, supplier: str) -> SupplierFigures:
    """How a supplier answers, over all its offers."""
    book = current_book(engine)
    offers = _offers(book, supplier)
    current = [offer for offer in offers if offer.code not in book.replaced]
    days = [offer.lead_days for offer in current if offer.lead_days is not None]
    return SupplierFigures(
        offers=len(offers),
        current=len(current),
        lead_days=sum(days) / len(days) if days else None,
        questions=sum(len(offer.open_questions) for offer in current),
        last_quote=offers[0].quoted_on if offers else None,
    )


def supplier_offers(engine: Engine, supplier: str) -> tuple[Offer, ...]:
    """Every offer of a supplier, the newest quote first."""
    return tuple(_offers(current_book(engine), supplier))


def yarns_of(engine: Engine, supplier: str) -> tuple[YarnOffers, ...]:
    """The yarns of a supplier with their offers, the one quoted last first."""
    found: dict[str, list[Offer]] = {}
    for offer in _offers(current_book(engine), supplier):
        found.setdefault(yarn_key(offer.yarn), []).append(offer)
    return tuple(
        YarnOffers(key, yarn_name(offers[0].yarn), tuple(offers)) for key, offers in found.items()
    )


def yarn_of(engine: Engine, supplier: str, key: str) -> YarnOffers:
    """One yarn of a supplier with its offers. Raises NotFound."""
    for each in yarns_of(engine, supplier):
        if each.key == key:
            return each
    raise NotFound(
        f"{supplier[:60]} has offered no such yarn.",
        field="yarn",
        value=key,
        remedy="Open it from the page of the supplier.",
    )


def quotes_of(
    engine: Engine, offers: Sequence[Offer], change: BasisChange, basis_name: str = ""
) -> tuple[Quote, ...]:
    """These offers on a basis, each with what it replaces and what replaces it."""
    replaced = current_book(engine).replaced
    wanted = {offer.code for offer in offers}
    earlier = {later: code for code, later in replaced.items() if later in wanted}
    return tuple(
        Quote(landed, earlier.get(landed.offer.code, ""), landed.replaced_by)
        for landed in landed_some(engine, offers, change, basis_name)
    )


def usual_unit(quotes: Sequence[Quote]) -> str:
    """The seller's own unit of the newest quote: what a chart in it can show."""
    return quotes[0].unit if quotes else ""


def yarn_name(yarn: Yarn) -> str:
    """What tells one yarn of a supplier from another, in words."""
    average = yarn.average_ne
    count = f"Ne {average:.2f}" if average else yarn.count_text
    ply = f"{yarn.ply}-ply" if yarn.ply > 1 else ""
    twist = "" if yarn.twist == "unknown" else f"{yarn.twist}-twist"
    cores = "; ".join(f"{core.denier:g} den × {core.draft:g}" for core in yarn.cores)
    parts = (f"{count} {yarn.process}", ply, yarn.preparation, twist, cores, yarn.fibre_mix)
    return ", ".join(part for part in parts if part)


def yarn_key(yarn: Yarn) -> str:
    """The yarn in an address."""
    return hashlib.sha256(yarn_name(yarn).encode()).hexdigest()[:12]


def _offers(book: Book, supplier: str) -> list[Offer]:
    found = [offer for offer in book.offers if offer.supplier.name == supplier]
    found.sort(key=lambda offer: (offer.quoted_on, offer.id), reverse=True)
    return found


def chain(quotes: Sequence[Quote]) -> Mapping[str, str]:
    """Code -> code of the quote before it, where both are among these."""
    codes = {quote.offer.code for quote in quotes}
    return {q.offer.code: q.replaces for q in quotes if q.replaces in codes}
