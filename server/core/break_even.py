"""The value of one input at which two options cost the same; put back, the difference is zero."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from server.core.compare import Comparison, Pair
from server.core.quantities import Number
from server.core.sheet import Input, Sheet

SCAN_POINTS = 33
NEAR = 0.5  # break-evens further than this from today's value are not shown [share]


def solve(difference: Callable[[Number], Number], low: float, high: float) -> float | None:
    """A root of `difference` between low and high, or None when there is no change of sign.

    difference: works on floats and on arrays; the array scan finds the sign change nearest the
        middle of the interval, which is then closed in on by false position with halved ends
        (the Illinois rule), or by halving where that is slow
    """
    return next(roots(difference, low, high), None)


def roots(
    difference: Callable[[Number], Number], low: float, high: float, *, near: float | None = None
) -> Iterator[float]:
    """The roots that a scan finds, the nearest to `near` (else to the middle) first.

    A jump from below zero to above it is closed in on like a root; who may meet one has to look
    at the difference there.
    """
    middle = (low + high) / 2 if near is None else near
    points = np.linspace(low, high, SCAN_POINTS)
    values = np.broadcast_to(difference(points), points.shape)
    if not values.any():
        return
    found = [(abs(float(points[at]) - middle), int(at), True) for at in np.flatnonzero(values == 0)]
    crossed = (values[:-1] * values[1:] < 0).nonzero()[0]
    found += [
        (abs(float(points[at] + points[at + 1]) / 2 - middle), int(at), False) for at in crossed
    ]
    for _, at, exact in sorted(found):
        if exact:
            yield float(points[at])
        else:
            yield _close_in(difference, float(points[at]), float(points[at + 1]))


def _close_in(difference: Callable[[Number], Number], left: float, right: float) -> float:
    at_left, at_right = float(difference(left)), float(difference(right))
    kept = ""
    for step in range(200):
        guess = right - at_right * (right - left) / (at_right - at_left)
        if step % 4 == 3 or not left < guess < right:
            guess = (left + right) / 2
        if guess in (left, right):
            break
        at_guess = float(difference(guess))
        if at_guess == 0:
            return guess
        if (at_guess < 0) == (at_left < 0):
            left, at_left = guess, at_guess
            at_right = at_right / 2 if kept == "right" else at_right
            kept = "right"
        else:
            right, at_right = guess, at_guess
            at_left = at_left / 2 if kept == "left" else at_left
            kept = "left"
    return min((left, right), key=lambda end: abs(float(difference(end))))


@dataclass(frozen=True)
class Option:
    """A sheet with its inputs and the figure that is compared."""

    sheet: Sheet
    inputs: Mapping[str, Input]
    figure: str

    @cached_property
    def _today(self) -> dict[str, Number]:
        values = {name: float(entry.value) for name, entry in self.inputs.items()}
        return self.sheet.evaluate(values, (self.figure,))

    def cost(self, changed: Mapping[str, Number]) -> Number:
        """The figure with some inputs changed, to a number or to an array of numbers."""
        known = {name: value for name, value in changed.items() if name in self.inputs}
        return self.sheet.after(self._today, known, self.figure)


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

    def difference(value: Number) -> Number:
        ours = fixed if in_second_only else first.cost({name: value})
        return second.cost({name: value}) - ours

    low, high = sorted((today * (1 - reach), today * (1 + reach)))
    return solve(difference, low, high)


def price_to_beat(leader: Option, rival: Option, name: str, *, reach: float = 0.9) -> float | None:
    """Quoted price, in the seller's own unit and currency, at which the rival ties the leader."""
    return break_even(leader, rival, name, in_second_only=True, reach=reach)


def break_evens_of(comparison: Comparison) -> tuple[BreakEven, ...]:
    """Where the cheapest pair stops being the cheapest, input by input, the nearest first.

    The leader is held against the best pair of every other combination, and the best pair of each
    combination against its own runner-up.
    """
    leader = comparison.leader
    if leader is None:
        return ()
    contests = [(leader, rival) for rival in comparison.ladder if rival.key != leader.key]
    for cell in (cell for row in comparison.cells for cell in row):
        rival = comparison.runner_up_in(cell)
        if cell.best is not None and rival is not None:
            contests.append((cell.best, rival))
    found = [each for first, second in contests for each in _between(comparison, first, second)]
    return tuple(sorted(found, key=lambda each: abs(each.distance)))


_MOVING = ("exchange_rate.", "lane.", "duty_rate.")
_NOT_MOVING = (".load_mass_kg", ".transit_days")


def _between(comparison: Comparison, leader: Pair, rival: Pair) -> Iterable[BreakEven]:
    first, second = (Option(*comparison.sheet_of(pair), "fabric_cost") for pair in (leader, rival))
    # The assumptions' money is moved outside the sheet, so a rate of its currency moves more than
    # the sheet knows; the reporting currency has no rate.
    unsure = {
        f"exchange_rate.{currency}"
        for currency in (comparison.basis.currency, comparison.assumption_currency)
    }
    for name in {**first.inputs, **second.inputs}:
        if name not in unsure and name.startswith(_MOVING) and not name.endswith(_NOT_MOVING):
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
