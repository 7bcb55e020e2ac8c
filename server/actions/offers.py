"""Offers on the house basis: landed, same-basis price, standing, doubts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

from server.actions.book import current_book
from server.actions.compare import BasisChange, changed_basis
from server.actions.memory import Memory, question
from server.core.construction import Basis
from server.core.doubts import Doubt, doubts_about
from server.core.errors import CreelbookError, NotFound
from server.core.landing import Landing, land
from server.core.offer import Offer
from server.core.sheet import Explanation
from server.store.book import Book
from server.store.session import Engine

PREFIX = "offer"
NO_BASIS = "There is no basis yet; enter one to put prices side by side."


@dataclass(frozen=True)
class Landed:
    """An offer with its landed sheet, or the reason why it has none yet."""

    offer: Offer
    basis: Basis | None
    landing: Landing | None
    figures: Mapping[str, float]
    missing: str
    replaced_by: str

    @cached_property
    def doubts(self) -> tuple[Doubt, ...]:
        """What looks odd about the offer by itself; `actions.doubts` adds its price."""
        return doubts_about(self.offer)

    @property
    def currency(self) -> str:
        """The reporting currency; "" without a basis."""
        return self.basis.currency if self.basis else ""

    @property
    def same_basis_price(self) -> float | None:
        """Landed price on the house weight basis [¤/kg]."""
        return self.figures.get(f"{PREFIX}.same_basis_price")

    @property
    def goods_price(self) -> float | None:
        """Goods in the reporting currency [¤/kg]."""
        return self.figures.get(f"{PREFIX}.goods_price")

    @property
    def expired(self) -> bool:
        """Whether the offer is no longer valid on the meeting day."""
        last = self.offer.valid_until
        return self.basis is not None and last is not None and last < self.basis.meeting


_kept: Memory[tuple[Landed, ...]] = Memory(8)


def landed_offers(engine: Engine, change: BasisChange, basis_name: str = "") -> tuple[Landed, ...]:
    """Every offer, current or replaced, on one basis."""
    book = current_book(engine)

    if not book.bases:
        return tuple(
            Landed(
                offer,
                None,
                None,
                {},
                NO_BASIS,
                book.replaced.get(offer.code, ""),
            )
            for offer in book.offers
        )

    def work_out() -> tuple[Landed, ...]:
        basis = changed_basis(book, basis_name, change)
        return tuple(_landed(book, offer, basis) for offer in book.offers)

    return _kept.recall(question(engine, book, change.changes, basis_name), work_out)


def landed_offer(engine: Engine, code: str, change: BasisChange, basis_name: str = "") -> Landed:
    """One offer on a basis. Raises NotFound."""
    book = current_book(engine)
    if not book.bases:
        offer = book.offer(code)
        return next(each for each in landed_offers(engine, change) if each.offer is offer)
    return _landed(book, book.offer(code), changed_basis(book, basis_name, change))


def landed_some(
    engine: Engine, offers: Iterable[Offer], change: BasisChange, basis_name: str = ""
) -> tuple[Landed, ...]:
    """Some offers of the present book on one basis, with one look at the book for all."""
    book = current_book(engine)
    if not book.bases:
        return tuple(
            Landed(each, None, None, {}, NO_BASIS, book.replaced.get(each.code, ""))
            for each in offers
        )
    basis = changed_basis(book, basis_name, change)
    return tuple(_landed(book, each, basis) for each in offers)


def _landed(book: Book, offer: Offer, basis: Basis) -> Landed:
    landing, figures, missing = None, {}, ""
    try:
        landing = land(offer, basis, book.rates, prefix=PREFIX)
        values = {name: float(entry.value) for name, entry in landing.inputs.items()}
        figures = {
            key: float(value)
            for key, value in landing.sheet.evaluate(values).items()
            if key in landing.sheet.by_key
        }
    except CreelbookError as absent:
        missing = str(absent)
    return Landed(
        offer,
        basis,
        landing,
        figures,
        missing,
        book.replaced.get(offer.code, ""),
    )


def explain_leg(landed: Landed, line: str) -> Explanation:
    """One figure of an offer, opened. Raises NotFound."""
    if landed.landing is None or line not in landed.landing.sheet.by_key:
        raise NotFound(
            f"Offer {landed.offer.code} has no figure “{line[:40]}”.",
            field="line",
            value=line,
            remedy="Open a figure from the offer's page.",
        )
    return landed.landing.sheet.explain(line, landed.landing.inputs)
