"""The dated rates that a comparison rests on, each with its age at the as-of date of the basis."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from server.core.compare import Comparison, Pair
from server.core.sheet import Input

EXCHANGE, LANE, DUTY, CHARGE = "exchange rate", "freight lane", "duty", "charge"
LONGEST_AGE_DAYS: Mapping[str, int] = {EXCHANGE: 7, LANE: 30, DUTY: 365, CHARGE: 365}
"""A rate older than this is warned of; limits of ours, common practice, no source."""
_KINDS = {
    "/rates/lanes/": LANE,
    "/rates/duties/": DUTY,
    "/rates/charges/": CHARGE,
    "/rates": EXCHANGE,
}


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure of a rate. ¤ in the unit stands for the reporting currency."""

    label: str
    value: float
    unit: str


@dataclass(frozen=True)
class UsedRate:
    """One stored rate, with the figures taken from it.

    why: how it was come by, where there was something to choose or to multiply
    where: address of its record
    """

    kind: str
    label: str
    figures: tuple[Figure, ...]
    valid_from: date | None
    source: str
    why: str
    where: str

    def age_days(self, as_of: date) -> int | None:
        """Days from the day it holds from to the as-of date; negative when it is newer."""
        return None if self.valid_from is None else (as_of - self.valid_from).days

    def is_old(self, as_of: date) -> bool:
        """Whether it is older than LONGEST_AGE_DAYS allows for its kind."""
        age = self.age_days(as_of)
        return age is not None and age > LONGEST_AGE_DAYS[self.kind]


def rates_of_comparison(comparison: Comparison) -> tuple[UsedRate, ...]:
    """The rates behind every offer looked at, whether it may be ranked or not."""
    directions = (comparison.warp, comparison.filling)
    members = [
        each for direction in directions for each in (*direction.candidates, *direction.companions)
    ]
    return used([_of_assumptions(comparison), *(each.landing.inputs for each in members)])


def rates_of_pair(comparison: Comparison, pair: Pair) -> tuple[UsedRate, ...]:
    """The rates behind one pair."""
    return used([_of_assumptions(comparison), *(member.landing.inputs for member in pair.members)])


def used(bound: Iterable[Mapping[str, Input]]) -> tuple[UsedRate, ...]:
    """The stored rates among some inputs, each once, in the order of the kinds."""
    parts: dict[str, dict[str, tuple[str, Input]]] = {}
    for inputs in bound:
        for name, entry in inputs.items():
            if entry.where.startswith("/rates"):
                key = name if entry.where == "/rates" else entry.where
                parts.setdefault(key, {}).setdefault(entry.label, (name, entry))
    found = [_used(list(each.values())) for each in parts.values()]
    order = list(LONGEST_AGE_DAYS)
    return tuple(sorted(found, key=lambda each: (order.index(each.kind), each.label)))


def _used(entries: list[tuple[str, Input]]) -> UsedRate:
    name, first = entries[0]
    kind = next(kind for beginning, kind in _KINDS.items() if first.where.startswith(beginning))
    label = first.label
    if kind == LANE:
        label = f"Lane from {name.partition('.')[2].rpartition('.')[0]}"
    return UsedRate(
        kind,
        label,
        tuple(Figure(each.label, float(each.value), each.unit) for _, each in entries),
        first.on,
        first.source,
        first.as_entered,
        first.where,
    )


def _of_assumptions(comparison: Comparison) -> dict[str, Input]:
    """The rate that moves the assumptions' money, where it is in another currency."""
    currency, basis = comparison.assumption_currency, comparison.basis
    if currency in ("", basis.currency):
        return {}
    entry, _ = comparison.rates.exchange(currency, basis.currency, basis.rates_on)
    return {f"exchange_rate.{currency}": entry}
