"""Where two costings tie: for each thing that can move, the value at which they cost the same."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from server.core.break_even import SCAN_POINTS, roots
from server.core.errors import BadValue
from server.core.movements import Contender, Movement, SetMoney, movements_of
from server.core.quantities import Number

FIGURES = ("fabric_cost", "fabric_per_area", "fabric_per_kg", "garment_fabric", "yarn_cost")
"""What a tie may be of: cost of a metre, a cuttable m², a kg of cloth, a garment; yarn alone."""
ROUNDING = 1e-9  # of the cost; further apart is a jump between two prices, not a tie [share]


@dataclass(frozen=True, eq=False)
class Tie:
    """The value of a movement at which both cost the same.

    factor: on today's value; cost: of both, there
    """

    movement: Movement
    factor: float
    cost: float

    @property
    def value(self) -> float:
        """The value there, in the unit of the movement's input."""
        return self.movement.present * self.factor

    @property
    def distance(self) -> float:
        """How far that is from today's value [share of it]."""
        return self.factor - 1


@dataclass(frozen=True, eq=False)
class NoTie:
    """A movement without a tie in reach.

    alike: it moves both by the same
    nearest: factor on today's value at which they are least apart; apart: second less first, there
    jump: the sign changes in a jump from one price of an offer to the next
    """

    movement: Movement
    alike: bool
    nearest: float
    apart: float
    jump: bool = False


@dataclass(frozen=True, eq=False)
class Contest:
    """Two costings held against each other in one figure.

    even: they cost the same today, so that a tie says nothing
    ties: the nearest first; untied: what can move without bringing them together
    """

    first: Contender
    second: Contender
    figure: str
    money: SetMoney | None
    even: bool
    movements: tuple[Movement, ...]
    ties: tuple[Tie, ...]
    untied: tuple[NoTie, ...]

    def costs(self, *moves: tuple[Movement, float]) -> tuple[float, float]:
        """The figure of both when something moves."""
        first, second = (
            float(each.cost(self.figure, place, *moves))
            for place, each in enumerate((self.first, self.second))
        )
        return first, second

    @property
    def difference(self) -> float:
        """Second less first, today."""
        first, second = self.costs()
        return second - first

    @property
    def leader(self) -> Contender:
        """The cheaper of the two today."""
        return self.first if self.difference >= 0 else self.second

    @property
    def rival(self) -> Contender:
        """The other one."""
        return self.second if self.leader is self.first else self.first

    def tie_in(self, key: str) -> Tie | None:
        """The tie in one movement."""
        return next((each for each in self.ties if each.movement.key == key), None)


def contest(
    first: Contender,
    second: Contender,
    figure: str = "fabric_cost",
    *,
    money: SetMoney | None = None,
) -> Contest:
    """All ties of two costings on one basis. Raises BadValue when one has no such figure."""
    for each in (first, second):
        if figure not in each.costing.sheet.by_key:
            raise BadValue(
                f"{each.label} has no such figure.",
                field="figure",
                value=figure,
                remedy="Choose another figure; a garment needs its cloth on the construction.",
            )
    movements = movements_of((first, second), figure, alone=True, money=money)
    costs = [float(each.cost(figure, place)) for place, each in enumerate((first, second))]
    even = abs(costs[1] - costs[0]) <= ROUNDING * abs(costs[0])
    found = [tie_of(first, second, figure, movement) for movement in (() if even else movements)]
    return Contest(
        first,
        second,
        figure,
        money,
        even,
        movements,
        tuple(
            sorted(
                (each for each in found if isinstance(each, Tie)),
                key=lambda tie: abs(tie.distance),
            )
        ),
        tuple(each for each in found if isinstance(each, NoTie)),
    )


def tie_of(first: Contender, second: Contender, figure: str, movement: Movement) -> Tie | NoTie:
    """The tie in one movement that is nearest to today's value."""

    def apart(factor: Number) -> Number:
        moves = (movement, factor)
        return second.cost(figure, 1, moves) - first.cost(figure, 0, moves)

    points = np.linspace(movement.least, movement.most, SCAN_POINTS)
    values = np.broadcast_to(apart(points), points.shape)
    rounding = ROUNDING * abs(float(first.cost(figure, 0)))
    if float(np.ptp(values)) <= rounding:
        return NoTie(movement, True, 1.0, float(values[0]))
    jump = False
    for factor in roots(apart, movement.least, movement.most, near=1.0):
        if abs(float(apart(factor))) <= rounding:
            return Tie(movement, factor, float(second.cost(figure, 1, (movement, factor))))
        jump = True
    at = int(np.abs(values).argmin())
    return NoTie(movement, False, float(points[at]), float(values[at]), jump)
