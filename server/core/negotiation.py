"""The prices that others leave a seller: for an offer in every place of a construction that it
could take, the quoted price at which it costs the same as the best possible pair without it.

Nothing is solved here: a price to beat is a tie (`ties`) in the price of the offer.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from server.core.candidates import Candidate, Direction, Landings, fits
from server.core.compare import Comparison, Pair, compare
from server.core.construction import DIRECTIONS, Construction, Slot
from server.core.costing import Costing, bought
from server.core.errors import CreelbookError
from server.core.gate import POSSIBLE, Limit
from server.core.movements import Contender, movements_of
from server.core.offer import Offer
from server.core.sheet import Input
from server.core.ties import NoTie, Tie, tie_of

Places = NDArray[np.intp]  # of candidates in their direction

FIGURE = "fabric_cost"  # both pairs are held against each other by a metre of finished cloth
LEADER, ALIKE = "leader", "alike"
BOTH = " and ".join(DIRECTIONS)  # the place of an offer that is warp and filling of one pair


@dataclass(frozen=True, eq=False)
class Against:
    """A pair that holds the offer against a possible one that does without it.

    found: the quoted price at which both cost the same, or that none is in reach
    """

    other: Contender
    with_it: Contender
    found: Tie | NoTie | None

    @cached_property
    def cost(self) -> float:
        """A metre of the pair without the offer, today [¤/m]."""
        return float(self.other.cost(FIGURE, 0))

    @cached_property
    def difference(self) -> float:
        """What the pair with the offer costs more [¤/m]."""
        return float(self.with_it.cost(FIGURE, 1)) - self.cost

    @property
    def tie(self) -> Tie | None:
        """The tie, when one is in reach."""
        return self.found if isinstance(self.found, Tie) else None


@dataclass(frozen=True, eq=False)
class PriceToBeat:
    """An offer in one place of a construction, with the prices that others leave it.

    place: `warp`, `filling`, `warp2`, or BOTH
    with_it: the offer there with its best possible partners
    leader: against the cheapest possible pair without it; None when there is none
    alike: against the cheapest possible one of the same spinning combination; may be the leader
    """

    construction: Construction
    place: str
    pair: Pair
    with_it: Contender
    leader: Against | None
    alike: Against | None

    @cached_property
    def cost(self) -> float:
        """A metre with the offer, today [¤/m]."""
        return float(self.with_it.cost(FIGURE, 1))

    @property
    def leads(self) -> bool:
        """Whether the pair with the offer is the cheapest today, its standing aside."""
        return self.leader is not None and self.leader.difference <= 0

    @property
    def quoted(self) -> Input:
        """The price as quoted, for the quantity needed there, in the seller's own unit."""
        at = DIRECTIONS[0] if self.place == BOTH else self.place
        return self.with_it.inputs[f"{at}.quoted_price"]

    def against(self, which: str) -> Against | None:
        """One of the two pairs it is held against. which: `leader` or `alike`"""
        return self.leader if which == LEADER else self.alike


class Rivals:
    """A comparison against which one offer after another is held.

    offers, limits, landings: what the comparison was made from, for further yarns of a direction
    """

    def __init__(
        self,
        comparison: Comparison,
        offers: tuple[Offer, ...],
        limits: tuple[Limit, ...],
        landings: Landings | None = None,
    ) -> None:
        self.comparison = comparison
        self._offers, self._limits, self._landings = offers, limits, landings
        directions = (comparison.warp, comparison.filling)
        self._places = tuple(
            {each.offer.code: at for at, each in enumerate(direction.candidates)}
            for direction in directions
        )
        self._contenders: dict[str, Contender] = {}
        self._leaders: dict[str, tuple[Comparison, Pair] | None] = {}

    def prices_to_beat(self, offer: Offer) -> tuple[PriceToBeat, ...]:
        """The offer in every place of the construction that it is a candidate for.

        An offer that cannot be priced, or finds no possible partner, has none.
        """
        code, found = offer.code, []
        for place, comparison, pair in self._with(offer):
            with_it = self._contender(comparison, pair)
            others = (self._rival(code), self._rival(code, like=pair))
            leader = _against(code, others[0], with_it)
            alike = leader if others[1] is others[0] else _against(code, others[1], with_it)
            cloth = self.comparison.construction
            found.append(PriceToBeat(cloth, place, pair, with_it, leader, alike))
        return tuple(found)

    def _rival(self, code: str, like: Pair | None = None) -> Contender | None:
        """The best possible pair without an offer; of the spinning of `like` where it is given."""
        without = self._without(code)
        if without is None:
            return None
        comparison, pair = without
        if like is not None and pair.combination != like.combination:
            found = _cheapest(
                comparison,
                _others(comparison.warp, code, like.warp.system),
                _others(comparison.filling, code, like.filling.system),
            )
            if found is None:
                return None
            pair = found
        return self._contender(comparison, pair)

    def why_none(self, offer: Offer) -> str:
        """Why an offer that could be priced has no price to beat here."""
        for each in self.comparison.unpriced:
            if each.offer.code == offer.code:
                return each.reason
        return "no possible partner in the other direction"

    def _without(self, code: str) -> tuple[Comparison, Pair] | None:
        """The cheapest possible pair that does not hold an offer, with its comparison."""
        if code not in self._leaders:
            self._leaders[code] = self._leader_without(code)
        return self._leaders[code]

    def _leader_without(self, code: str) -> tuple[Comparison, Pair] | None:
        comparison = self.comparison
        if any(each.offer.code == code for each in _companions(comparison)):
            others = tuple(each for each in self._offers if each.code != code)
            try:
                comparison = self._again(comparison.construction, others)
            except CreelbookError:  # no other offer fits the further yarn
                return None
        leader = comparison.leader
        if leader is not None and any(each.offer.code == code for each in leader.members):
            leader = _cheapest(
                comparison, _others(comparison.warp, code), _others(comparison.filling, code)
            )
        return None if leader is None else (comparison, leader)

    def _with(self, offer: Offer) -> Iterator[tuple[str, Comparison, Pair]]:
        """The offer in each place it fits, with the cheapest possible partners that are others."""
        comparison, code = self.comparison, offer.code
        row, column = (places.get(code) for places in self._places)
        if row is not None:
            pair = _cheapest(comparison, np.array([row]), _others(comparison.filling, code))
            if pair is not None:
                yield DIRECTIONS[0], comparison, pair
        if column is not None:
            pair = _cheapest(comparison, _others(comparison.warp, code), np.array([column]))
            if pair is not None:
                yield DIRECTIONS[1], comparison, pair
        if row is not None and column is not None:
            yield BOTH, comparison, comparison.pair(row, column)
        for slot in comparison.construction.slots:
            if slot.position > 1 and fits(offer, slot):
                yield from self._as_companion(slot, code)

    def _as_companion(self, slot: Slot, code: str) -> Iterator[tuple[str, Comparison, Pair]]:
        """The offer as a further yarn of its direction."""
        whole = self.comparison.construction
        slots = tuple(
            replace(each, pinned_offer=code) if each is slot else each for each in whole.slots
        )
        try:
            comparison = self._again(replace(whole, slots=slots), self._offers)
        except CreelbookError:  # it cannot be priced
            return
        main = (_possible(each, code) for each in (comparison.warp, comparison.filling))
        pair = _cheapest(comparison, *main)
        if pair is not None:
            yield slot.name, comparison, pair

    def _again(self, construction: Construction, offers: tuple[Offer, ...]) -> Comparison:
        was = self.comparison
        return compare(
            construction,
            was.basis,
            was.assumptions,
            was.rates,
            offers,
            self._limits,
            self._landings,
        )

    def _contender(self, comparison: Comparison, pair: Pair) -> Contender:
        """The pair as an option, made once."""
        key = "/".join(each.offer.code for each in pair.members)
        if key not in self._contenders:
            self._contenders[key] = contender_of(comparison, pair)
        return self._contenders[key]


def contender_of(comparison: Comparison, pair: Pair) -> Contender:
    """A pair of a comparison as an option of ties."""
    found = {each.slot.name: each for each in pair.members}
    yarns = tuple(bought(found[slot.name], slot) for slot in comparison.construction.slots)
    costing = Costing(comparison.construction, comparison.basis, comparison.assumptions, yarns)
    return Contender(pair.key, f"{costing.key} ({pair.process})", costing)


def _companions(comparison: Comparison) -> tuple[Candidate, ...]:
    return (*comparison.warp.companions, *comparison.filling.companions)


def _others(direction: Direction, code: str, system: str = "") -> Places:
    """Places of the possible candidates but one offer; of one spinning system where it is named."""
    return np.array(
        [
            at
            for at in np.flatnonzero(direction.usable)
            if direction.candidates[at].offer.code != code
            and system in ("", direction.candidates[at].system)
        ],
        dtype=np.intp,
    )


def _possible(direction: Direction, code: str) -> Places:
    """The same, whatever the standing of the further yarns."""
    return np.array(
        [
            at
            for at, each in enumerate(direction.candidates)
            if each.standing.state == POSSIBLE and each.offer.code != code
        ],
        dtype=np.intp,
    )


def _cheapest(comparison: Comparison, rows: Places, columns: Places) -> Pair | None:
    """The cheapest pair of some warp offers with some filling offers, by their places."""
    if not len(rows) or not len(columns):
        return None
    block = comparison.grid.fabric_cost[np.ix_(rows, columns)]
    row, column = divmod(int(block.argmin()), len(columns))
    return comparison.pair(int(rows[row]), int(columns[column]))


def _against(code: str, other: Contender | None, with_it: Contender) -> Against | None:
    """Two pairs and where the quoted price of the offer that one of them holds makes them tie."""
    if other is None:
        return None
    key = f"quoted_price:{code}"
    movements = movements_of((other, with_it), FIGURE)
    movement = next((each for each in movements if each.key == key), None)
    found = tie_of(other, with_it, FIGURE, movement) if movement else None
    return Against(other, with_it, found)
