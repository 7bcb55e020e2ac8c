"""Everything odd about one offer: by itself, and its price beside the house and the others."""

from __future__ import annotations

from server.actions.book import current_book
from server.actions.compare import BasisChange
from server.actions.memory import Memory, question
from server.actions.offers import PREFIX, Landed
from server.core.assumptions import AssumptionSet
from server.core.construction import Basis
from server.core.doubts import Doubt
from server.core.errors import CreelbookError
from server.core.landing import land
from server.core.offer import Offer
from server.core.price_doubts import Beside, of_one_kind, price_doubts
from server.store.book import Book
from server.store.session import Engine

_Prices = tuple[tuple[Offer, float], ...]
_kept: Memory[_Prices] = Memory(32)


def doubts_of(
    engine: Engine, landed: Landed, change: BasisChange, basis_name: str = ""
) -> tuple[Doubt, ...]:
    """Every doubt about an offer; without a basis only those about the offer by itself."""
    return doubts_in(engine, current_book(engine), landed, change, basis_name)


def doubts_in(
    engine: Engine, book: Book, landed: Landed, change: BasisChange, basis_name: str = ""
) -> tuple[Doubt, ...]:
    """The same for one of many offers of a book that was looked at before."""
    offer, basis = landed.offer, landed.basis
    if basis is None:
        return landed.doubts

    def work_out() -> _Prices:
        return _prices_like(book, offer, basis)

    yarn = offer.yarn
    kind = (yarn.process, yarn.fibre_mix, str(yarn.average_ne))
    prices = _kept.recall(question(engine, book, change.changes, basis_name, *kind), work_out)
    beside = Beside(
        basis=basis,
        rates=book.rates,
        assumptions=_assumptions(book, basis),
        own=tuple(
            each
            for each in book.current_offers
            if each.supplier.id == offer.supplier.id and each.code != offer.code
        ),
        others=tuple(price for each, price in prices if each.code != offer.code),
        price=landed.same_basis_price,
    )
    return (*landed.doubts, *price_doubts(offer, beside))


def _assumptions(book: Book, basis: Basis) -> AssumptionSet | None:
    try:
        found = book.assumption_set(basis.assumption_set)
        return found.in_currency(basis.currency, book.rates, basis.rates_on)
    except CreelbookError:
        return None


def _prices_like(book: Book, offer: Offer, basis: Basis) -> _Prices:
    """Current offers for the same kind of yarn with their same-basis prices [¤/kg]."""
    found = []
    for each in book.current_offers:
        if not of_one_kind(each, offer):
            continue
        try:
            landing = land(each, basis, book.rates, prefix=PREFIX)
            values = {name: float(entry.value) for name, entry in landing.inputs.items()}
            figures = landing.sheet.evaluate(values)
        except CreelbookError:
            continue
        found.append((each, float(figures[landing.key("same_basis_price")])))
    return tuple(found)
