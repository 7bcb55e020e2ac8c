"""The negotiation sheet of a supplier: its current offers, each with all that a talk needs."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from server.actions.book import current_book
from server.actions.compare import (
    BasisChange,
    changed_basis,
    compare_construction,
    landings_on,
)
from server.actions.doubts import doubts_in
from server.actions.offers import Landed, landed_some
from server.actions.price_history import yarn_key, yarn_name
from server.actions.ties import opened_at
from server.core.assumptions import AssumptionSet
from server.core.construction import Basis
from server.core.errors import CreelbookError, NotFound
from server.core.held_to_cost import TARGET, HeldToCost, held_to_cost, should_cost_for
from server.core.negotiation import (
    ALIKE,
    FIGURE,
    LEADER,
    Against,
    PriceToBeat,
    Rivals,
)
from server.core.negotiation_sheet import (
    STATES,
    Negotiation,
    OfferSheet,
    best_state,
    earlier_quote,
)
from server.core.offer import Offer, Supplier
from server.core.offer_gate import OfferGate, Place, gate_of_offer
from server.core.sheet import Explanation
from server.core.to_ask import to_ask
from server.store.book import Book
from server.store.session import Engine


def negotiation(
    engine: Engine,
    supplier: str,
    change: BasisChange,
    basis_name: str = "",
    *,
    only: str = "",
    part: Callable[[Sequence[Offer]], Sequence[Offer]] = tuple,
) -> Negotiation:
    """The sheet of a supplier, the offers that can be used first.

    only: code of the one offer wanted, or ""; part: gives those wanted of all, in their order
    Raises NotFound, BadValue.
    """
    book = current_book(engine)
    found = _supplier(book, supplier)
    basis = changed_basis(book, basis_name, change) if book.bases else None
    offers = tuple(each for each in book.current_offers if each.supplier.id == found.id)
    expired = sum(
        basis is not None and each.valid_until is not None and each.valid_until < basis.meeting
        for each in offers
    )
    gates = {each.code: _gate(book, each, basis) for each in offers if only in ("", each.code)}
    if only and only not in gates:
        raise _no_offer(found.name, only)
    wanted = sorted(
        (each for each in offers if each.code in gates),
        key=lambda each: (STATES.index(best_state(gates[each.code])), each.code, each.id),
    )
    look = _Look(engine, book, basis, change, basis_name)
    sheets = look.sheets(part(wanted), gates)
    return Negotiation(found, basis, sheets, len(wanted), len(offers), expired)


def _supplier(book: Book, name: str) -> Supplier:
    for each in book.suppliers:
        if each.name == name:
            return each
    raise NotFound(
        f"There is no supplier “{name[:60]}”.",
        field="supplier",
        value=name,
        remedy="Choose one from the list of suppliers.",
    )


def _no_offer(supplier: str, code: str) -> NotFound:
    return NotFound(
        f"{supplier[:60]} has no current offer “{code[:40]}”.",
        field="offer",
        value=code,
        remedy="Open it from the sheet; a replaced offer stands under the one after it.",
    )


def _gate(book: Book, offer: Offer, basis: Basis | None) -> tuple[Place, ...]:
    if basis is None:
        return ()
    gate: OfferGate = gate_of_offer(offer, basis, book.rates, book.constructions, book.limits)
    return gate.places


@dataclass(frozen=True)
class _Look:
    """Where the sheets of some offers are made."""

    engine: Engine
    book: Book
    basis: Basis | None
    change: BasisChange
    basis_name: str

    def sheets(
        self, offers: Sequence[Offer], gates: Mapping[str, tuple[Place, ...]]
    ) -> tuple[OfferSheet, ...]:
        """The sheets of some offers, the comparisons behind them made once for all."""
        codes = dict.fromkeys(
            place.construction.code for offer in offers for place in gates[offer.code]
        )
        rivals: dict[str, Rivals | str] = {code: self._rivals(code) for code in codes}
        quotes = self._quotes(offers)
        assumptions = self._assumptions()
        return tuple(
            self._sheet(offer, gates[offer.code], rivals, quotes, assumptions) for offer in offers
        )

    def _rivals(self, code: str) -> Rivals | str:
        """The comparison of a construction, or why there is none."""
        try:
            comparison = compare_construction(self.engine, code, self.change, self.basis_name)
        except CreelbookError as missing:
            return str(missing)
        landings = landings_on(
            self.engine, self.book, comparison.basis, self.change, self.basis_name
        )
        return Rivals(comparison, self.book.current_offers, self.book.limits, landings)

    def _assumptions(self) -> AssumptionSet | str:
        if self.basis is None:
            return "No should-cost before there is a basis."
        try:
            found = self.book.assumption_set(self.basis.assumption_set)
            return found.in_currency(self.basis.currency, self.book.rates, self.basis.rates_on)
        except CreelbookError as missing:
            return str(missing)

    def _quotes(self, offers: Iterable[Offer]) -> dict[str, tuple[Landed, ...]]:
        """Every quote of the yarns of some offers of one seller, the newest first, by yarn."""
        wanted = {yarn_key(each.yarn): each.supplier.id for each in offers}
        sellers = set(wanted.values())
        alike = [
            each
            for each in self.book.offers
            if each.supplier.id in sellers and yarn_key(each.yarn) in wanted
        ]
        alike.sort(key=lambda each: (each.quoted_on, each.id), reverse=True)
        found: dict[str, tuple[Landed, ...]] = {}
        for landed in landed_some(self.engine, alike, self.change, self.basis_name):
            key = yarn_key(landed.offer.yarn)
            found[key] = (*found.get(key, ()), landed)
        return found

    def _sheet(
        self,
        offer: Offer,
        places: tuple[Place, ...],
        rivals: Mapping[str, Rivals | str],
        quotes: Mapping[str, tuple[Landed, ...]],
        assumptions: AssumptionSet | str,
    ) -> OfferSheet:
        of_yarn = quotes[yarn_key(offer.yarn)]
        at = next(place for place, each in enumerate(of_yarn) if each.offer is offer)
        landed = of_yarn[at]
        prices: list[PriceToBeat] = []
        unpriced: dict[str, str] = {}
        for code in dict.fromkeys(place.construction.code for place in places):
            others = rivals[code]
            found = () if isinstance(others, str) else others.prices_to_beat(offer)
            prices += found
            if not found:
                unpriced[code] = (
                    others if isinstance(others, str) else landed.missing or others.why_none(offer)
                )
        doubts = doubts_in(self.engine, self.book, landed, self.change, self.basis_name)
        held, no_cost = _held(landed, assumptions)
        return OfferSheet(
            offer,
            yarn_name(offer.yarn),
            yarn_key(offer.yarn),
            landed.landing,
            landed.figures,
            landed.missing,
            places,
            tuple(prices),
            unpriced,
            held,
            no_cost,
            tuple(
                earlier_quote(offer, landed.same_basis_price, each.offer, each.same_basis_price)
                for each in of_yarn[at + 1 :]
            ),
            doubts,
            to_ask(offer, self.basis, places, doubts, transit_days=self._transit(offer)),
        )

    def _transit(self, offer: Offer) -> int | None:
        if self.basis is None:
            return None
        try:
            return self.book.rates.lane(offer.country, self.basis.rates_on).transit_days
        except CreelbookError:
            return None


def _held(landed: Landed, assumptions: AssumptionSet | str) -> tuple[HeldToCost | None, str]:
    """The offer beside its should-cost, or why it is not."""
    if landed.landing is None:
        return None, f"No gap while it cannot be landed: {landed.missing}"
    if isinstance(assumptions, str):
        return None, assumptions
    try:
        return held_to_cost(landed.landing, should_cost_for(landed.offer, assumptions)), ""
    except CreelbookError as missing:
        return None, str(missing)


def one_offer(
    engine: Engine, supplier: str, code: str, change: BasisChange, basis_name: str = ""
) -> OfferSheet:
    """One offer of the sheet, current or an earlier quote. Raises NotFound."""
    book = current_book(engine)
    seller = _supplier(book, supplier)
    offer = next((e for e in book.offers if e.code == code and e.supplier.id == seller.id), None)
    if offer is None:
        raise _no_offer(seller.name, code)
    basis = changed_basis(book, basis_name, change) if book.bases else None
    look = _Look(engine, book, basis, change, basis_name)
    return look.sheets([offer], {code: _gate(book, offer, basis)})[0]


def explain_figure(found: OfferSheet, figure: str) -> Explanation:
    """One figure of an offer on the sheet, opened. Raises NotFound, Missing.

    figure: a line of the landed sheet, of the should-cost, `gap`, `gap_share`, or TARGET
    """
    held, landing = found.held, found.landing
    if figure == TARGET and held is not None:
        return held.at_target()
    if held is not None and figure in held.sheet.by_key:
        return held.sheet.explain(figure, held.inputs)
    if landing is not None and figure in landing.sheet.by_key:
        return landing.sheet.explain(figure, landing.inputs)
    raise NotFound(
        f"Offer {found.offer.code} has no figure “{figure[:40]}” on the negotiation sheet.",
        field="figure",
        value=figure,
        remedy="Open a figure from the sheet.",
    )


def price_at(found: OfferSheet, construction: str, place: str) -> PriceToBeat:
    """The price to beat of an offer in one place. Raises NotFound."""
    for each in found.prices:
        if each.construction.code == construction and each.place == place:
            return each
    raise NotFound(
        f"Offer {found.offer.code} has no price to beat as {place[:30]} of {construction[:40]}.",
        field="place",
        value=place,
        remedy="Open a price from the sheet.",
    )


def opened_price(price: PriceToBeat, which: str) -> tuple[Against, tuple[Explanation, ...]]:
    """The cost of both pairs at the price to beat, or today where none is in reach, opened.

    which: `leader` or `alike`
    The pair without the offer comes first. Raises NotFound where there is none.
    """
    against = price.against(which)
    if which not in (LEADER, ALIKE) or against is None:
        raise NotFound(
            "There is no possible pair without this offer to hold it against.",
            field="against",
            value=which,
            remedy="Open a price from the sheet.",
        )
    return against, opened_at(against.other, against.with_it, FIGURE, against.tie)
