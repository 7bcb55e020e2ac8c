"""Should-cost over a range of counts: each route as a curve, and the counts at which routes meet.

The sheet of a route is evaluated on arrays of counts; a value entered at several counts is
interpolated between them and held at the nearest one beyond. Curves therefore have corners at the
counts entered, and routes are looked at between one corner and the next.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations, pairwise

import numpy as np
from numpy.typing import NDArray

from server.core.assumptions import KINDS, AssumptionSet
from server.core.break_even import solve
from server.core.errors import BadValue
from server.core.quantities import Number
from server.core.should_cost import ShouldCost, key_of

LOWEST_NE, HIGHEST_NE = 0.5, 200.0  # counts a range may reach [Ne]
SHORTEST = 0.1  # range [Ne]
MOST_STEPS = 30  # rows of a table of counts, about
SCAN_POINTS = 129  # looked at between one corner and the next


@dataclass(frozen=True, eq=False)
class Curve:
    """One route over counts.

    should: the route bound at one count, whose sheet is evaluated
    assumptions: what its values at the other counts come from
    """

    should: ShouldCost
    assumptions: AssumptionSet

    @property
    def route(self) -> str:
        """The route."""
        return self.should.route

    @cached_property
    def _fixed(self) -> dict[str, Number]:
        return {name: entry.value for name, entry in self.should.inputs.items()}

    @cached_property
    def by_count(self) -> Mapping[str, str]:
        """Inputs of the sheet that depend on the count, each with the key of its assumption."""
        named = {name: key_of(self.route, name) for name in self.should.inputs if name != "ne"}
        return {name: key for name, key in named.items() if key in KINDS and KINDS[key].by_count}

    def figures(self, counts: Number, *wanted: str) -> dict[str, Number]:
        """Figures of the sheet at one count or at an array of counts, bit for bit the same.

        counts: average count [Ne]; wanted: all figures when none is named
        """
        moved = {
            name: self.assumptions.values_at(key, counts) for name, key in self.by_count.items()
        }
        return self.should.sheet.evaluate({**self._fixed, **moved, "ne": counts}, wanted)

    def cost(self, counts: Number) -> Number:
        """Should-cost before margin [¤/kg]."""
        return self.figures(counts, "should_cost")["should_cost"]

    @property
    def corners(self) -> tuple[float, ...]:
        """Counts at which a value was entered [Ne]."""
        found = {ne for key in self.by_count.values() for ne in self.assumptions.counts_of(key)}
        return tuple(sorted(found))

    def entered_from_to(self) -> tuple[float, float]:
        """The counts between which every value is entered or interpolated [Ne].

        A value that is given once, for every count, sets no limit.
        """
        spans = [self.assumptions.counts_of(key) for key in self.by_count.values()]
        return (
            max((span[0] for span in spans if span), default=0.0),
            min((span[-1] for span in spans if span), default=math.inf),
        )


@dataclass(frozen=True, slots=True)
class Crossing:
    """A count at which two routes cost the same. cheaper_below, cheaper_above: which is cheaper."""

    ne: float
    cost: float
    first: str
    second: str
    cheaper_below: str
    cheaper_above: str


@dataclass(frozen=True, slots=True)
class Stretch:
    """Counts over which one of two routes, or of all, is the cheapest."""

    route: str
    low: float
    high: float


@dataclass(frozen=True, eq=False)
class CountRange:
    """Every route from one count to another.

    asked: the count asked for on the page, marked where it lies in the range [Ne]
    """

    curves: tuple[Curve, ...]
    low: float
    high: float
    asked: float

    @cached_property
    def crossings(self) -> tuple[Crossing, ...]:
        """Where two routes meet, the lowest count first."""
        found = [
            crossing
            for first, second in combinations(self.curves, 2)
            for crossing in self._crossings_of(first, second)
        ]
        return tuple(sorted(found, key=lambda each: each.ne))

    def _crossings_of(self, first: Curve, second: Curve) -> list[Crossing]:
        def apart(counts: Number) -> Number:
            return second.cost(counts) - first.cost(counts)

        inside = {ne for ne in (*first.corners, *second.corners) if self.low < ne < self.high}
        edges = sorted({self.low, self.high, *inside})
        met = _roots(apart, edges)
        between = [self.low, *met, self.high]
        cheaper = [
            _cheaper(first.route, second.route, float(apart((left + right) / 2)))
            for left, right in pairwise(between)
        ]
        return [
            Crossing(ne, float(first.cost(ne)), first.route, second.route, below, above)
            for ne, (below, above) in zip(met, pairwise(cheaper), strict=True)
            if self.low < ne < self.high
        ]

    @cached_property
    def cheapest(self) -> tuple[Stretch, ...]:
        """Which route is the cheapest of all, stretch by stretch."""
        edges = sorted({self.low, self.high, *(each.ne for each in self.crossings)})
        found: list[Stretch] = []
        for left, right in pairwise(edges):
            middle = (left + right) / 2
            best = min(self.curves, key=lambda curve: float(curve.cost(middle))).route
            if found and found[-1].route == best:
                left = found.pop().low
            found.append(Stretch(best, left, right))
        return tuple(found)

    def crossings_of(self, first: str, second: str) -> tuple[Crossing, ...]:
        """Where two routes meet, by their names in either order."""
        return tuple(
            each for each in self.crossings if {each.first, each.second} == {first, second}
        )

    def cheaper_of(self, first: str, second: str) -> str:
        """The cheaper of two routes that do not meet in the range; "" when they cost the same."""
        costs = {curve.route: curve.cost((self.low + self.high) / 2) for curve in self.curves}
        return _cheaper(first, second, float(costs[second] - costs[first]))

    @cached_property
    def counts(self) -> NDArray[np.float64]:
        """Counts to show: even steps, the one asked, the corners and the crossings [Ne]."""
        step = step_of(self.low, self.high)
        even = np.arange(math.ceil(self.low / step), math.floor(self.high / step) + 1) * step
        corners = (ne for curve in self.curves for ne in curve.corners)
        more = [self.low, self.high, self.asked, *corners, *(each.ne for each in self.crossings)]
        inside = {round(float(ne), 10) for ne in even} | set(more)
        return np.array(sorted(ne for ne in inside if self.low <= ne <= self.high))

    @cached_property
    def costs(self) -> Mapping[str, NDArray[np.float64]]:
        """Should-cost of each route at `counts` [¤/kg]."""
        return {curve.route: curve.cost(self.counts) for curve in self.curves}


def _roots(apart: Callable[[Number], Number], edges: Sequence[float]) -> list[float]:
    """Where a difference is zero, ascending; of a stretch of zeros only its ends."""
    points = np.unique([np.linspace(left, right, SCAN_POINTS) for left, right in pairwise(edges)])
    values = apart(points)
    zero = np.concatenate(([True], values == 0, [True]))
    exact = points[zero[1:-1] & ~(zero[:-2] & zero[2:])]
    crossed = np.flatnonzero(values[:-1] * values[1:] < 0)
    solved = (solve(apart, float(points[at]), float(points[at + 1])) for at in crossed)
    return sorted([*map(float, exact), *(ne for ne in solved if ne is not None)])


def _cheaper(first: str, second: str, second_less_first: float) -> str:
    if second_less_first == 0:
        return ""
    return first if second_less_first > 0 else second


def step_of(low: float, high: float) -> float:
    """A round step between counts, so that a table stays short [Ne]."""
    rough = (high - low) / MOST_STEPS
    power = 10.0 ** math.floor(math.log10(rough))
    return next(power * each for each in (1, 2, 2.5, 5, 10) if power * each >= rough * (1 - 1e-9))


def count_range(curves: tuple[Curve, ...], low: float, high: float, *, asked: float) -> CountRange:
    """A range of counts for some routes. Raises BadValue when it is none.

    low, high: from, to [Ne]
    """
    for field, ne in (("from_ne", low), ("to_ne", high)):
        if not LOWEST_NE <= ne <= HIGHEST_NE:
            raise BadValue(
                f"{ne:g} is not a count.",
                field=field,
                value=ne,
                unit="Ne",
                remedy=f"Enter a count in Ne between {LOWEST_NE:g} and {HIGHEST_NE:g}.",
            )
    if round(high - low, 9) < SHORTEST:
        raise BadValue(
            f"The range from {low:g} to {high:g} is shorter than {SHORTEST:g}.",
            field="to_ne",
            value=high,
            unit="Ne",
            remedy=f"Enter a count of {low + SHORTEST:g} or more.",
        )
    return CountRange(curves, low, high, asked)
