"""The value of one input at which two options cost the same; put back, the difference is zero."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from server.core.compare import Comparison, Pair
from server.core.sheet import Input, Sheet

SCAN_STEPS = 96
NEAR = 0.5  # break-evens further than this from today's value are not shown [share]


def solve(difference: Callable[[float], float], low: float, high: float) -> float | None:
    """A root of `difference` between low and high, or None when there is no change of sign.

    The interval is scanned for the sign change nearest its middle, which is then halved until the
    two ends are neighbouring floats.
    """
    points = [low + (high - low) * step / SCAN_STEPS for step in range(SCAN_STEPS + 1)]
    values = [difference(point) for point in points]
    spans = [
        place
        for place in range(SCAN_STEPS)
        if values[place] == 0 or (values[place] < 0) != (values[place + 1] < 0)
    ]
    if not spans:
        return None
    place = min(spans, key=lambda each: abs(each + 0.5 - SCAN_STEPS / 2))
    left, right, at_left = points[place], points[place + 1], values[place]
    if at_left == 0:
        return left
    while True:
        middle = (left + right) / 2
        if middle in (left, right):
            return min((left, right), key=lambda each: abs(difference(each)))
        at_middle = difference(middle)
        if at_middle == 0:
            return middle
        if (at_middle < 0) == (at_left < 0):
            left = middle
        else:
            right = middle


@dataclass(frozen=True)
class Option:
    """A sheet with its inputs and the figure that is compared."""

    sheet: Sheet
    inputs: Mapping[str, Input]
    figure: str

    def cost(self, changed: Mapping[str, float]) -> float:
        """The figure with some inputs changed."""
        values = {name: float(entry.value) for name, entry in self.inputs.items()}
        values.update({name: value for name, value in changed.items() if name in values})
        return float(self.sheet.evaluate(values, (self.figure,))[self.figure])


@dataclass(frozen=True)
class BreakEven:
    """Where a leader and a rival tie in one input.

    name: the input; `input` its value today; value: where they tie
    of: code of the offer whose own figure it is, or "" for a shared input such as a rate
    """

    leader: Pair
    rival: Pair
    name: str
    input: Input
    value: float
    of: str

    @property
    def distance(self) -> float:
        """How far the tie is from today's value [share of today's value]."""
        return self.value / float(self.input.value) - 1


def break_even(
    first: Option,
    second: Option,
    name: str,
    *,
    in_second_only: bool = False,
    reach: float = NEAR,
) -> float | None:
    """Value of an input at which two options cost the same, within `reach` of today's value.

    name: the input that moves; in both options unless in_second_only
    reach: how far to look, as a share of today's value
    """
    entry = second.inputs.get(name) or first.inputs.get(name)
    if entry is None or float(entry.value) == 0:
        return None
    today = float(entry.value)
    fixed = first.cost({})

    def difference(value: float) -> float:
        ours = fixed if in_second_only else first.cost({name: value})
        return second.cost({name: value}) - ours

    low, high = sorted((today * (1 - reach), today * (1 + reach)))
    return solve(difference, low, high)


def price_to_beat(leader: Option, rival: Option, name: str, *, reach: float = 0.9) -> float | None:
    """Quoted price, in the seller's own unit and currency, at which the rival ties the leader."""
    return break_even(leader, rival, name, in_second_only=True, reach=reach)


def break_evens_of(comparison: Comparison, rivals: Iterable[Pair]) -> tuple[BreakEven, ...]:
    """Where the leader stops being the cheapest, input by input, the nearest first."""
    leader = comparison.leader
    if leader is None:
        return ()
    found = [
        each
        for rival in rivals
        if rival.key != leader.key
        for each in _against(comparison, leader, rival)
    ]
    return tuple(sorted(found, key=lambda each: abs(each.distance)))


def _against(comparison: Comparison, leader: Pair, rival: Pair) -> Iterable[BreakEven]:
    first, second = (Option(*comparison.sheet_of(pair), "fabric_cost") for pair in (leader, rival))
    for name in {**first.inputs, **second.inputs}:
        if name.startswith(("exchange_rate.", "lane.")) and not name.endswith("load_mass_kg"):
            value = break_even(first, second, name)
            if value is not None:
                entry = second.inputs.get(name) or first.inputs[name]
                yield BreakEven(leader, rival, name, entry, value, "")
    for member, held in zip(rival.members, leader.members, strict=True):
        name = f"{member.slot.name}.quoted_price"
        if member.offer.code != held.offer.code:
            value = price_to_beat(first, second, name, reach=NEAR)
            if value is not None:
                yield BreakEven(leader, rival, name, second.inputs[name], value, member.offer.code)
