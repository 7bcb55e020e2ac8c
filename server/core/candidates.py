"""Offers looked at for a place in the cloth, each with its price and its standing."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from server.core.assumptions import AssumptionSet
from server.core.construction import Basis, Construction, Slot
from server.core.errors import CreelbookError, Missing
from server.core.gate import POSSIBLE, Limit, Standing, examine
from server.core.grid import Floats
from server.core.landing import Landing, land
from server.core.loom_behaviour import stops_of
from server.core.offer import SPINNING_SYSTEMS, Offer
from server.core.pair import costing_ne, tonnes_needed
from server.core.rates import RateBook
from server.core.sheet import Input

COUNT_WINDOW = 0.05  # an offer is looked at when its count is this near the wanted one [share]
ROUNDING = 1e-12  # of a share of counts, so that exactly at the limit is within it


@dataclass(frozen=True)
class Candidate:
    """An offer in one place of the cloth, with its price and whether it may stand there.

    stops: in 100,000 picks, where loom efficiency comes from stops
    """

    offer: Offer
    slot: Slot
    standing: Standing
    landing: Landing
    price: float
    ne: Input
    stops: Input | None = None

    @property
    def system(self) -> str:
        """Spinning system, the unit of the comparison matrix."""
        return self.offer.yarn.spinning


class Landings:
    """Offers of one book brought to the mill on one basis, each once for a place in the cloth.

    Where price breaks meet a quantity the price is another for every need, and none is kept.
    """

    def __init__(self, basis: Basis, rates: RateBook) -> None:
        self.basis = basis
        self.rates = rates
        self._kept: dict[tuple[str, str], tuple[Landing, float]] = {}

    def of(self, offer: Offer, place: str, tonnes: float | None) -> tuple[Landing, float]:
        """The landed sheet of an offer as the yarn of a place, and its same-basis price [¤/kg].

        tonnes: yarn needed, for price breaks [t]; None takes the first price
        Raises Missing when a rate or an answer of the seller is not there.
        """
        if tonnes is not None and offer.breaks:
            return self._landed(offer, place, tonnes)
        known = (offer.code, place)
        if known not in self._kept:
            self._kept[known] = self._landed(offer, place, None)
        return self._kept[known]

    def _landed(self, offer: Offer, place: str, tonnes: float | None) -> tuple[Landing, float]:
        landing = land(offer, self.basis, self.rates, prefix=place, tonnes=tonnes)
        figures = landing.sheet.evaluate(
            {name: float(entry.value) for name, entry in landing.inputs.items()}
        )
        return landing, float(figures[landing.key("same_basis_price")])


@dataclass(frozen=True)
class Unpriced:
    """An offer that cannot be priced yet, and what is missing."""

    offer: Offer
    slot: Slot
    reason: str


@dataclass(frozen=True)
class Direction:
    """The candidates of one direction, and the offers that fill its further slots.

    companions: the best possible (or pinned) offer of each slot after the first
    """

    name: str
    slots: tuple[Slot, ...]
    candidates: tuple[Candidate, ...]
    companions: tuple[Candidate, ...]
    unpriced: tuple[Unpriced, ...]

    @cached_property
    def usable(self) -> NDArray[np.bool_]:
        """Which candidates may be ranked; none when a companion may not stand."""
        together = all(each.standing.state == POSSIBLE for each in self.companions)
        return np.array(
            [together and each.standing.state == POSSIBLE for each in self.candidates], dtype=bool
        )

    @cached_property
    def systems(self) -> tuple[str, ...]:
        """Spinning systems met, in the order of the matrix."""
        met = {candidate.system for candidate in self.candidates}
        return tuple(system for system in SPINNING_SYSTEMS if system in met)

    def arrays(self) -> dict[str, Floats]:
        """What the candidates and companions feed into the fabric sheet."""
        main = self.slots[0].name
        fed = {
            f"{main}.same_basis_price": np.array([each.price for each in self.candidates]),
            f"{main}.costing_ne": np.array([float(each.ne.value) for each in self.candidates]),
        }
        for each in self.companions:
            if each.stops is not None:
                fed[f"{each.slot.name}.stops"] = np.array([float(each.stops.value)])
        stops = [float(each.stops.value) for each in self.candidates if each.stops is not None]
        if stops:
            fed[f"{main}.stops"] = np.array(stops)
        for companion in self.companions:
            fed[f"{companion.slot.name}.same_basis_price"] = np.array([companion.price])
            fed[f"{companion.slot.name}.costing_ne"] = np.array([float(companion.ne.value)])
        return fed


def fits(offer: Offer, slot: Slot) -> bool:
    """Whether an offer is looked at for a slot: pinned, or of its core and near its count."""
    if slot.pinned_offer:
        return offer.code == slot.pinned_offer
    if offer.yarn.core != slot.core:
        return False
    counts = (offer.yarn.quoted_ne, offer.yarn.average_ne)
    return any(ne is not None and abs(ne / slot.ne - 1) <= COUNT_WINDOW + ROUNDING for ne in counts)


def direction_of(
    name: str,
    construction: Construction,
    basis: Basis,
    rates: RateBook,
    offers: tuple[Offer, ...],
    limits: tuple[Limit, ...],
    landings: Landings | None = None,
) -> Direction:
    """The candidates of one direction. Raises Missing when it has no yarn or no companion fits.

    landings: offers landed before on the same basis and rates, when there are any
    """
    landings = landings or Landings(basis, rates)
    slots = construction.slots_of(name)
    if not slots:
        raise Missing(
            f"Construction {construction.code} has no {name} yarn.",
            field=f"{name}.ne",
            unit="Ne",
            remedy="Enter the yarn wanted on the construction.",
        )
    tonnes = [tonnes_needed(slot, construction, basis.metres_of(construction)) for slot in slots]
    found: list[list[Candidate]] = []
    unpriced: list[Unpriced] = []
    for slot, need in zip(slots, tonnes, strict=True):
        of_slot = []
        for offer in offers:
            if not fits(offer, slot):
                continue
            try:
                of_slot.append(_candidate(offer, slot, construction, landings, limits, need))
            except CreelbookError as missing:
                unpriced.append(Unpriced(offer, slot, str(missing)))
        found.append(of_slot)
    companions = []
    for slot, of_slot in zip(slots[1:], found[1:], strict=True):
        if not of_slot:
            raise Missing(
                f"No offer fits the {slot.name} of {construction.code}.",
                field=f"{slot.name}.ne",
                value=slot.ne,
                unit="Ne",
                remedy="Enter an offer near this count, or pin one.",
            )
        companions.append(
            min(of_slot, key=lambda each: (each.standing.state != POSSIBLE, each.price))
        )
    return Direction(name, slots, tuple(found[0]), tuple(companions), tuple(unpriced))


def with_stops(direction: Direction, assumptions: AssumptionSet) -> Direction:
    """The direction with the stops of each yarn; an offer without them cannot be priced.

    Raises Missing when a further yarn of the direction has none.
    """
    found: list[Candidate] = []
    unpriced = list(direction.unpriced)
    for each in direction.candidates:
        try:
            stops = stops_of(each.slot, each.system, each.offer, assumptions)
        except Missing as missing:
            unpriced.append(Unpriced(each.offer, each.slot, str(missing)))
        else:
            found.append(replace(each, stops=stops))
    companions = tuple(
        replace(each, stops=stops_of(each.slot, each.system, each.offer, assumptions))
        for each in direction.companions
    )
    return replace(
        direction, candidates=tuple(found), companions=companions, unpriced=tuple(unpriced)
    )


def _candidate(
    offer: Offer,
    slot: Slot,
    construction: Construction,
    landings: Landings,
    limits: tuple[Limit, ...],
    tonnes: float | None,
) -> Candidate:
    basis, rates = landings.basis, landings.rates
    landing, price = landings.of(offer, slot.name, tonnes)
    standing = examine(
        offer, slot, construction, basis, rates.lane(offer.country, basis.rates_on), limits
    )
    return Candidate(offer, slot, standing, landing, price, costing_ne(slot, offer, basis))
