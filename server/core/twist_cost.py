"""What asking for a direction of twist costs: the best pair with it against the best without.

Both are possible pairs of the same spinning combination, so that the price of the twist is not
mixed with the price of the process. Where the construction asks for the twist, the comparison is
made once more without asking.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from server.core.candidates import Direction
from server.core.compare import Comparison, Pair
from server.core.construction import DIRECTIONS, Construction
from server.core.grid import best_of_blocks
from server.core.twill import HAND_OF, SLOPES, TWILLS, clear_twist, other

BOTH = ("warp", "filling")


@dataclass(frozen=True)
class TwistCost:
    """One twist asked for in the warp, the filling, or both.

    asked: whether the construction asks for it
    pair: best possible pair with it; without: the same combination without it
    """

    twist: str
    places: tuple[str, ...]
    asked: bool
    pair: Pair | None
    without: Pair | None
    reason: str = ""

    @property
    def key(self) -> str:
        """`S warp and filling`."""
        return f"{self.twist} {' and '.join(self.places)}"

    def more(self, figure: str) -> float | None:
        """What it costs more than without it, in a figure of the pair [¤/m]; None without both."""
        if self.pair is None or self.without is None:
            return None
        return float(self.pair.figures[figure] - self.without.figures[figure])


def asked_twists(construction: Construction) -> dict[str, str]:
    """Direction -> twist that its main yarn asks for."""
    found = {}
    for direction in DIRECTIONS:
        slots = construction.slots_of(direction)
        if slots and slots[0].twist in SLOPES:
            found[direction] = slots[0].twist
    return found


def without_asking(construction: Construction) -> Construction:
    """The same construction that leaves the twist of its main yarns open."""
    asked = asked_twists(construction)
    slots = tuple(
        replace(slot, twist="any") if slot.position == 1 and slot.direction in asked else slot
        for slot in construction.slots
    )
    return replace(construction, slots=slots)


def twist_questions(construction: Construction) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """(twist, places) worth costing: what is asked, else both twists of a twill with a hand."""
    asked = asked_twists(construction)
    if asked:
        twists = dict.fromkeys(asked.values())
        return tuple((t, tuple(d for d in DIRECTIONS if asked.get(d) == t)) for t in twists)
    if construction.weave not in TWILLS or construction.twill_hand not in HAND_OF:
        return ()
    clear = clear_twist(construction.twill_hand)
    return tuple(product((clear, other(clear)), (("warp",), BOTH)))


def twist_costs(construction: Construction, open_to_all: Comparison) -> tuple[TwistCost, ...]:
    """What each twist costs.

    construction: as it asks; open_to_all: its comparison `without_asking`
    """
    questions = twist_questions(construction)
    if not questions:
        return ()
    asked = bool(asked_twists(construction))
    best = best_of_blocks(
        open_to_all.grid.fabric_cost, _groups(open_to_all.warp), _groups(open_to_all.filling)
    )
    return tuple(_cost(open_to_all, best, *each, asked=asked) for each in questions)


Best = dict[tuple[str, str], tuple[int, int]]


def _groups(direction: Direction) -> dict[str, NDArray[np.intp]]:
    """Usable candidates by spinning system and twist, such as `ring S`."""
    named = np.array([f"{c.system} {c.offer.yarn.twist}" for c in direction.candidates], dtype=str)
    usable = direction.usable
    return {name: np.flatnonzero(usable & (named == name)) for name in dict.fromkeys(named)}


def _cost(
    comparison: Comparison, best: Best, twist: str, places: tuple[str, ...], *, asked: bool
) -> TwistCost:
    found = _cheapest(comparison, best, twist, places, with_it=True)
    if found is None:
        return TwistCost(twist, places, asked, None, None, _why(comparison, twist, places))
    systems = (found.warp.system, found.filling.system)
    against = _cheapest(comparison, best, twist, places, with_it=False, systems=systems)
    reason = "" if against else f"no possible {found.combination} pair without it"
    return TwistCost(twist, places, asked, found, against, reason)


def _cheapest(
    comparison: Comparison,
    best: Best,
    twist: str,
    places: tuple[str, ...],
    *,
    with_it: bool,
    systems: tuple[str, str] | None = None,
) -> Pair | None:
    """The cheapest possible pair whose yarns in some places all have the twist, or all have not."""

    def fits(names: tuple[str, str]) -> bool:
        said = [name.rpartition(" ") for name in names]
        if systems is not None and tuple(each[0] for each in said) != systems:
            return False
        of = dict(zip(DIRECTIONS, (each[2] for each in said), strict=True))
        return all((of[place] == twist) == with_it for place in places)

    cost = comparison.grid.fabric_cost
    met: Iterator[tuple[int, int]] = (at for names, at in best.items() if fits(names))
    place = min(met, key=lambda at: (cost[at], at), default=None)
    return None if place is None else comparison.pair(*place)


def _why(comparison: Comparison, twist: str, places: tuple[str, ...]) -> str:
    """Why no possible pair has a twist."""
    for direction in (comparison.warp, comparison.filling):
        if direction.name not in places:
            continue
        wanted = direction.slots[0]
        wound = [each for each in direction.candidates if each.offer.yarn.twist == twist]
        if not wound:
            return f"no {twist}-twist offer near Ne {wanted.ne:g} for the {direction.name}"
        met = next((each for each in wound if each.standing.reasons), None)
        if met and all(each.standing.reasons for each in wound):
            why = f"{met.offer.code} {met.standing.state}: {met.standing.reasons[0]}"
            return f"{direction.name} {why}"
    return "no possible pair has it"
