"""Which of several options is the cheapest while two things move: a map with today's point.

The options are the best bought pair of every spinning combination and the house's own spinning.
Each option's sheet is evaluated once, on the whole map.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import product

import numpy as np
from numpy.typing import NDArray

from server.core.break_even import SCAN_POINTS, roots
from server.core.candidates import Candidate
from server.core.compare import Comparison
from server.core.construction import DIRECTIONS, Slot
from server.core.costing import OWN, ChosenYarn, Costing, bought, own_spun
from server.core.errors import Missing
from server.core.grid import Floats
from server.core.movements import Contender, Movement
from server.core.quantities import Number
from server.core.should_cost import ROUTE_OF, ROUTES

POINTS = 121  # of the map along each side
COARSE = 5  # points of the table along each side
USUAL_REACH = 0.3  # how far the map goes from today when nothing is asked [share]
OPTIONS = ("all", "bought", "own")


@dataclass(frozen=True, eq=False)
class Side:
    """One side of the map. least, most: factors on today's value"""

    movement: Movement
    least: float
    most: float

    @cached_property
    def factors(self) -> Floats:
        """The points along the side."""
        return np.linspace(self.least, self.most, POINTS)

    @property
    def holds_today(self) -> bool:
        """Whether today's value lies on the map."""
        return self.least <= 1.0 <= self.most


@dataclass(frozen=True)
class Stays:
    """How far one thing may move alone before another option is the cheapest.

    down, up: factors on today's value; None where nothing changes within reach
    then_down, then_up: places of the options that are cheapest beyond
    """

    down: float | None
    up: float | None
    then_down: int | None
    then_up: int | None


@dataclass(frozen=True, eq=False)
class CostMap:
    """The map. costs: option by y by x"""

    contenders: tuple[Contender, ...]
    figure: str
    x: Side
    y: Side
    costs: NDArray[np.float64]

    @cached_property
    def winners(self) -> NDArray[np.intp]:
        """Place of the cheapest option at each point, y by x."""
        winners: NDArray[np.intp] = self.costs.argmin(axis=0)
        return winners

    @cached_property
    def shares(self) -> tuple[float, ...]:
        """Share of the map that each option wins."""
        won = np.bincount(self.winners.ravel(), minlength=len(self.contenders))
        return tuple(float(each) for each in won / self.winners.size)

    @cached_property
    def present(self) -> tuple[float, ...]:
        """What each option costs today."""
        return tuple(
            float(each.cost(self.figure, place)) for place, each in enumerate(self.contenders)
        )

    @property
    def leader(self) -> int:
        """Place of the cheapest option today."""
        return int(np.argmin(self.present))

    @cached_property
    def coarse(self) -> tuple[int, ...]:
        """Places along a side that the table shows."""
        return tuple(int(each) for each in np.linspace(0, POINTS - 1, COARSE))

    def cost_at(self, place: int, x: float, y: float) -> float:
        """What an option costs at two factors."""
        moves = ((self.x.movement, x), (self.y.movement, y))
        return float(self.contenders[place].cost(self.figure, place, *moves))

    def stays(self, side: Side) -> Stays:
        """How far the leader of today stays the cheapest along one side."""
        return stays(self.contenders, self.figure, self.leader, side.movement)


def cost_map(contenders: Sequence[Contender], figure: str, x: Side, y: Side) -> CostMap:
    """Every option at every point of the map."""
    along, up = x.factors[np.newaxis, :], y.factors[:, np.newaxis]
    costs = np.stack(
        [
            np.broadcast_to(
                each.cost(figure, place, (x.movement, along), (y.movement, up)), (POINTS, POINTS)
            )
            for place, each in enumerate(contenders)
        ]
    )
    return CostMap(tuple(contenders), figure, x, y, costs)


def stays(contenders: Sequence[Contender], figure: str, leader: int, movement: Movement) -> Stays:
    """How far one movement may go before the leader is no longer the cheapest."""

    def ahead(factor: Number) -> Number:
        return _best_of_others(contenders, figure, leader, movement, factor) - contenders[
            leader
        ].cost(figure, leader, (movement, factor))

    found: dict[str, float | None] = {}
    for way, low, high in (("down", movement.least, 1.0), ("up", 1.0, movement.most)):
        found[way] = None
        if low < high:
            ends = (root for root in roots(ahead, low, high, near=1.0) if root != 1.0)
            found[way] = next(ends, None)
    beyond = {
        way: None if end is None else _cheapest_past(contenders, figure, movement, end)
        for way, end in found.items()
    }
    return Stays(found["down"], found["up"], beyond["down"], beyond["up"])


def _best_of_others(
    contenders: Sequence[Contender], figure: str, leader: int, movement: Movement, factor: Number
) -> Number:
    others = [
        each.cost(figure, place, (movement, factor))
        for place, each in enumerate(contenders)
        if place != leader
    ]
    best = others[0]
    for cost in others[1:]:
        best = np.minimum(best, cost)
    return best


def _cheapest_past(
    contenders: Sequence[Contender], figure: str, movement: Movement, end: float
) -> int:
    past = end + (1e-6 if end > 1 else -1e-6)
    costs = [
        float(each.cost(figure, place, (movement, past))) for place, each in enumerate(contenders)
    ]
    return int(np.argmin(costs))


def nearest_two(
    contenders: Sequence[Contender], figure: str, movements: Sequence[Movement]
) -> tuple[Movement, ...]:
    """The two movements that make another option the cheapest after the shortest way.

    Found on the points of a scan, which is near enough for a choice.
    """
    leader = int(np.argmin([float(e.cost(figure, at)) for at, e in enumerate(contenders)]))
    far = []
    for movement in movements:
        points = np.linspace(movement.least, movement.most, SCAN_POINTS)
        best = _best_of_others(contenders, figure, leader, movement, points)
        ours = contenders[leader].cost(figure, leader, (movement, points))
        lost = np.flatnonzero(np.broadcast_to(best - ours, points.shape) < 0)
        far.append(float(np.abs(points[lost] - 1).min()) if len(lost) else np.inf)
    order = sorted(range(len(far)), key=lambda place: (far[place], place))
    return tuple(movements[place] for place in order[:2])


def options_of(comparison: Comparison, which: str = "all") -> tuple[Contender, ...]:
    """The best pair of every combination, and own spinning where the set holds all it needs.

    which: one of OPTIONS
    """
    found = []
    if which != "own":
        for pair in comparison.ladder:
            yarns = tuple(bought(each, each.slot) for each in pair.members)
            found.append(_contender(comparison, yarns, pair.key, f"{pair.key} ({pair.process})"))
    if which != "bought":
        found += _own(comparison)
    return tuple(found)


def _own(comparison: Comparison) -> Iterator[Contender]:
    """Own spinning of warp and filling by every route; a yarn that cannot be own is bought."""
    slots = comparison.construction.slots
    routes = {
        name: tuple(
            route
            for route in ROUTES
            if all(can_be_own(slot, route) for slot in slots if slot.direction == name)
        )
        for name in DIRECTIONS
    }
    if not any(routes.values()):
        return
    for chosen in product(*(routes[name] or ("",) for name in DIRECTIONS)):
        by_direction = dict(zip(DIRECTIONS, chosen, strict=True))
        try:
            yarns = tuple(_yarn(comparison, slot, by_direction[slot.direction]) for slot in slots)
        except Missing:
            continue
        named = {yarn.slot.name: yarn.name for yarn in yarns}
        key = "/".join(named[name] for name in DIRECTIONS)
        yield _contender(comparison, yarns, key, key)


def _yarn(comparison: Comparison, slot: Slot, route: str) -> ChosenYarn:
    if route:
        return own_spun(slot, route, comparison.assumptions)
    if comparison.leader is None:
        raise Missing(
            "No offer for a yarn that is not spun here.", field=slot.name, remedy="Enter one."
        )
    found: dict[str, Candidate] = {each.slot.name: each for each in comparison.leader.members}
    return bought(found[slot.name], slot)


def can_be_own(slot: Slot, route: str) -> bool:
    """Whether the should-cost of a route is of the yarn wanted: cotton without a core."""
    spun = slot.spinning == "any" or ROUTE_OF.get(slot.spinning) == route
    return slot.core == "none" and slot.fibre_mix in ("any", "cotton") and spun


def _contender(
    comparison: Comparison, yarns: tuple[ChosenYarn, ...], name: str, label: str
) -> Contender:
    costing = Costing(comparison.construction, comparison.basis, comparison.assumptions, yarns)
    return Contender(name, label, costing)


def is_own(contender: Contender) -> bool:
    """Whether a yarn of it is spun in the house."""
    return any(yarn.name.startswith(OWN) for yarn in contender.costing.yarns)
