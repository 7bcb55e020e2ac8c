"""What the stops of a yarn cost a finished metre, against the yarn with the fewest stops."""

from __future__ import annotations

from dataclasses import dataclass

from server.core.break_even import Option
from server.core.candidates import Candidate
from server.core.compare import Comparison, Pair
from server.core.sheet import Input


@dataclass(frozen=True)
class StopsCompared:
    """The stops of one yarn of a pair.

    fewest: the possible offer for its place with the fewest stops, itself perhaps; None when it is
        a further yarn of its direction, whose place has one candidate
    more: what its stops cost beyond the fewest, all else equal [¤/m]
    """

    candidate: Candidate
    stops: Input
    fewest: Candidate | None
    more: float


def stops_compared(comparison: Comparison, pair: Pair) -> tuple[StopsCompared, ...]:
    """Every yarn of a pair against the fewest stops; nothing where the rule is off."""
    whole = Option(*comparison.sheet_of(pair), "fabric_cost")
    found = []
    for member in pair.members:
        if member.stops is None:
            continue
        fewest, more = _fewest(comparison, member), 0.0
        if fewest is not None and fewest.stops is not None:
            name = f"{member.slot.name}.stops"
            more = float(whole.cost({})) - float(whole.cost({name: float(fewest.stops.value)}))
        found.append(StopsCompared(member, member.stops, fewest, more))
    return tuple(found)


def _fewest(comparison: Comparison, member: Candidate) -> Candidate | None:
    direction = comparison.warp if member.slot.direction == "warp" else comparison.filling
    if member.slot.name != direction.slots[0].name:
        return None
    usable = [each for each, may in zip(direction.candidates, direction.usable, strict=True) if may]
    return min(
        usable or direction.candidates,
        key=lambda each: (float(each.stops.value) if each.stops else 0.0, each.offer.code),
    )
