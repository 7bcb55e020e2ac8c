"""A spinning process looked at: what is unusual about it, and what more of one input costs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from server.core.assumptions import AssumptionSet, Kind
from server.core.break_even import Option
from server.core.count_range import CountRange, Curve, count_range
from server.core.should_cost import ShouldCost
from server.core.what_if import WhatIf

TRAVELLER_LIMIT = 45.0  # m/s; Rieter, Alternative spinning systems: limit about 45 m/s
ROTOR_OVER_RING = (7.0, 9.0)  # delivery at one count; common practice, no source
MORE = 0.1  # how much more of an input is looked at [share]
MOVING = (
    "fibre_price", "power_tariff", "wage", "position_hour", "realisation", "efficiency",
    "twist_multiplier", "spindle_rpm", "rotor_rpm", "delivery",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Effect:
    """What one tenth more of an input does to a route.

    value: of the input after, in `unit`; apart: should-cost after less before [¤/kg]
    """

    name: str
    label: str
    unit: str
    value: float
    apart: float


@dataclass(frozen=True, eq=False)
class RoutesCosted:
    """Every route at one count; a route without its assumptions has a reason instead.

    assumptions, routes: with what the request changes; stored: the routes as stored, by name
    currency: of the figures; set_currency: what the set is entered in
    """

    ne: float
    assumptions: AssumptionSet
    routes: tuple[ShouldCost, ...]
    stored: Mapping[str, ShouldCost]
    missing: Mapping[str, str]
    currency: str
    set_currency: str
    what_if: WhatIf

    def over(self, low: float, high: float) -> CountRange:
        """The routes from one count to another [Ne]. Raises BadValue."""
        curves = tuple(Curve(each, self.assumptions) for each in self.routes)
        return count_range(curves, low, high, asked=self.ne)

    @property
    def doubts(self) -> tuple[str, ...]:
        """What is unusual about the speeds at this count."""
        return doubts_of_machines(self.routes)

    @property
    def is_changed(self) -> bool:
        """Whether a value is not as stored."""
        return bool(self.what_if.changed)


def doubt_of_value(kind: Kind, values: Iterable[float]) -> str:
    """A sentence when a value, at any of its counts, is outside the range of the trade, or ""."""
    if kind.usual is None:
        return ""
    low, high = kind.usual
    if all(low <= value <= high for value in values):
        return ""
    return f"unusual: {low:,g} to {high:,g} {kind.unit} is common practice at coarse counts"


def doubts_of_machines(routes: Iterable[ShouldCost]) -> tuple[str, ...]:
    """What is unusual about the speeds of some routes at one count, in sentences."""
    figures = {each.route: each.figures() for each in routes}
    found = []
    ring, rotor = figures.get("ring"), figures.get("OE")
    if ring and ring["traveller_speed"] > TRAVELLER_LIMIT:
        found.append(
            f"Ring: the traveller would run at {ring['traveller_speed']:.1f} m/s; the limit is "
            f"about {TRAVELLER_LIMIT:g} m/s (Rieter, Alternative spinning systems)."
        )
    if rotor and rotor["delivery_speed"] >= rotor["take_up_limit"]:
        found.append(
            f"OE: delivery is held at the take-up limit of {rotor['take_up_limit']:g} m/min; more "
            "rotor speed or less twist brings nothing more."
        )
    if ring and rotor:
        ratio = rotor["delivery_speed"] / ring["delivery_speed"]
        low, high = ROTOR_OVER_RING
        if not low <= ratio <= high:
            found.append(
                f"A rotor would deliver {ratio:.1f} times as fast as a spindle; {low:g} to "
                f"{high:g} times is common practice (no source)."
            )
    return tuple(found)


def effects_of_more(should: ShouldCost) -> tuple[Effect, ...]:
    """What one tenth more of each moving input does to the should-cost, the others kept [¤/kg].

    A realisation or an efficiency reaches 100 % at most.
    """
    option = Option(should.sheet, should.inputs, "should_cost")
    before = float(option.cost({}))
    found = []
    for name in MOVING:
        entry = should.inputs.get(name)
        if entry is None:
            continue
        more = float(entry.value) * (1 + MORE)
        if entry.unit == "share":
            more = min(more, 1.0)
        apart = float(option.cost({name: more})) - before
        found.append(Effect(name, entry.label, entry.unit, more, apart))
    return tuple(found)
