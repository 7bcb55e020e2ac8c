"""The negotiation sheet of one supplier: its offers, each with all that a talk needs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from server.core.construction import Basis
from server.core.doubts import Doubt
from server.core.gate import IMPOSSIBLE, POSSIBLE, UNPROVEN
from server.core.held_to_cost import HeldToCost
from server.core.landing import Landing
from server.core.negotiation import PriceToBeat
from server.core.offer import Offer, Supplier
from server.core.offer_gate import Place
from server.core.to_ask import ToAsk

STATES = (POSSIBLE, UNPROVEN, IMPOSSIBLE, "")
"""Standings, the best first; "" is of an offer that is looked at nowhere."""


def best_state(places: Iterable[Place]) -> str:
    """The best standing in some places; "" when there are none."""
    states = {each.standing.state for each in places}
    return next((state for state in STATES if state in states), "")


@dataclass(frozen=True)
class Earlier:
    """An earlier quote of the same yarn.

    same_basis_price: on the basis of today [¤/kg]; None while it cannot be landed
    price_change, same_basis_change: from it to the offer [share]; None where the units differ or
        a price is missing
    """

    offer: Offer
    same_basis_price: float | None
    price_change: float | None
    same_basis_change: float | None


def earlier_quote(
    now: Offer, price: float | None, before: Offer, price_before: float | None
) -> Earlier:
    """An earlier quote beside the present one; both prices on the same basis [¤/kg]."""
    units = [(each.currency, each.price_unit, each.tax_inside) for each in (now, before)]
    asked = None
    if units[0] == units[1] and all(units[0][:2]) and before.price:
        asked = float(now.price) / float(before.price) - 1
    landed = price / price_before - 1 if price is not None and price_before else None
    return Earlier(before, price_before, asked, landed)


@dataclass(frozen=True, eq=False)
class OfferSheet:
    """One offer on the sheet.

    yarn: its yarn in words; yarn_key: the yarn in an address
    landing, figures: its landed sheet; missing: why there is none
    places: where it is looked at, with its standing
    prices: what it would have to cost there; unpriced: construction -> why there is no such price
    held: beside its should-cost; no_cost: why it is not
    earlier: quotes of the same yarn before it, the newest first
    """

    offer: Offer
    yarn: str
    yarn_key: str
    landing: Landing | None
    figures: Mapping[str, float]
    missing: str
    places: tuple[Place, ...]
    prices: tuple[PriceToBeat, ...]
    unpriced: Mapping[str, str]
    held: HeldToCost | None
    no_cost: str
    earlier: tuple[Earlier, ...]
    doubts: tuple[Doubt, ...]
    questions: tuple[ToAsk, ...]

    @property
    def unit(self) -> str:
        """Currency and unit of the seller's own price."""
        return f"{self.offer.currency or '?'}/{self.offer.price_unit or '?'}"

    @property
    def same_basis_price(self) -> float | None:
        """Landed price on the house weight basis [¤/kg]."""
        return self.figures[self.landing.key("same_basis_price")] if self.landing else None

    @property
    def state(self) -> str:
        """Its best standing anywhere; "" when it is looked at nowhere."""
        return best_state(self.places)

    @property
    def nearest(self) -> PriceToBeat | None:
        """Of its prices to beat the one that asks least of the seller."""
        tied = [each for each in self.prices if each.leader and each.leader.tie]
        return max(tied, key=_factor, default=None)

    def standing_in(self, price: PriceToBeat) -> tuple[str, tuple[str, ...]]:
        """Standing in the place of a price, the worse one of two, and why it is not possible."""
        names = price.place.split(" and ")
        met = [
            each.standing
            for each in self.places
            if each.construction.code == price.construction.code and each.slot.name in names
        ]
        worst = max(met, key=lambda each: STATES.index(each.state))
        return worst.state, worst.reasons


def _factor(price: PriceToBeat) -> float:
    tie = price.leader.tie if price.leader else None
    return tie.factor if tie else 0.0


@dataclass(frozen=True, eq=False)
class Negotiation:
    """The sheet of one supplier. basis: None before there is one

    offers: those of the part asked for; wanted: how many there are to part; count: all current ones
    expired: of all, those that do not hold on the meeting day
    """

    supplier: Supplier
    basis: Basis | None
    offers: tuple[OfferSheet, ...]
    wanted: int
    count: int
    expired: int

    @property
    def currency(self) -> str:
        """The reporting currency; "" without a basis."""
        return self.basis.currency if self.basis else ""
