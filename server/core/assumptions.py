"""Process assumptions: the catalogue of what can be assumed, and a named set of values.

The catalogue holds names, units and limits; the values, with range, source, owner and date, are
data of the set.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from server.core.errors import Missing
from server.core.quantities import Number
from server.core.rates import RateBook
from server.core.sheet import Input


@dataclass(frozen=True, slots=True)
class Kind:
    """One thing that can be assumed.

    unit: ¤ stands for the reporting currency
    least, most: hard limits
    by_count: True when the value may be given at several counts and is interpolated between them
    usual: range of the trade at coarse counts; common practice, no source
    whole: True when only whole numbers make sense
    """

    key: str
    group: str
    label: str
    unit: str
    least: float = 0.0
    most: float | None = None
    by_count: bool = False
    usual: tuple[float, float] | None = None
    whole: bool = False


YARNS_OF_STOPS = ("ring", "OE", "air-jet")  # yarns told apart on the loom; compact counts as ring


def _stops() -> list[Kind]:
    """What loom efficiency is worked out from where the basis says “from stops”."""
    return [
        *(
            Kind(
                f"fabric.{direction}_stops.{yarn}",
                "fabric",
                f"{direction.capitalize()} stops in 100,000 picks, {yarn} yarn",
                "stops",
                most=1000.0,
            )
            for direction in ("warp", "filling")
            for yarn in YARNS_OF_STOPS
        ),
        Kind("fabric.other_stops", "fabric", "Other stops in 100,000 picks", "stops", most=1000.0),
        *(
            Kind(
                f"fabric.{what}_repair",
                "fabric",
                f"Repair of {said} stop, walk included",
                "min",
                most=480.0,
            )
            for what, said in (("warp", "a warp"), ("filling", "a filling"), ("other", "any other"))
        ),
        Kind(
            "fabric.looms_per_weaver",
            "fabric",
            "Looms of one weaver",
            "looms",
            1.0,
            200.0,
            whole=True,
        ),
        Kind(
            "fabric.planned_stops", "fabric", "Planned stops, in all loom time", "share", 0.0, 0.9
        ),
    ]


STOPS_KINDS = tuple(_stops())


def _stages(route: str, position: str) -> list[Kind]:
    return [
        Kind(f"{route}.fibre_price", route, "Fibre delivered to the mill", "¤/kg"),
        Kind(
            f"{route}.realisation",
            route,
            "Realisation (yarn out over fibre in)",
            "share",
            0.05,
            1.0,
        ),
        Kind(f"{route}.waste_credit", route, "Waste credit for a kilogram of yarn", "¤/kg"),
        Kind(f"{route}.preparation", route, "Preparation: blowroom, card, drawing", "¤/kg"),
        Kind(f"{route}.position_hour", route, f"Cost of one {position} for one hour", "¤/h"),
        Kind(f"{route}.efficiency", route, "Efficiency", "share", 0.01, 1.0),
        Kind(f"{route}.packing", route, "Packing", "¤/kg"),
        Kind(f"{route}.overhead_rate", route, "Overhead on conversion", "share", 0.0, 5.0),
        Kind(f"{route}.margin_on_price", route, "Margin on price", "share", 0.0, 0.9),
        Kind(f"{route}.position_price", route, f"Price of one {position}, installed", "¤"),
        Kind(f"{route}.position_salvage", route, f"Value of one {position} at the end", "¤"),
        Kind(f"{route}.position_life", route, "Life", "a", 0.5, 60.0),
        Kind(f"{route}.interest", route, "Interest on capital", "share/a", 0.0001, 5.0),
        Kind(f"{route}.hours_per_year", route, "Hours run in a year", "h/a", 1.0, 8784.0),
        Kind(f"{route}.position_power", route, f"Power drawn for one {position}", "kW"),
        Kind(f"{route}.power_tariff", route, "Price of electricity", "¤/kWh"),
        Kind(f"{route}.wage", route, "Wage with charges", "¤/h"),
        Kind(f"{route}.operatives_per_position", route, f"Operatives for one {position}", "×"),
        Kind(f"{route}.maintenance", route, "Maintenance and spares", "¤/h"),
        Kind(f"{route}.capacity", route, "Own capacity in the season", "t"),
    ]


_KINDS = [
    *_stages("ring", "spindle"),
    Kind("ring.roving", "ring", "Roving", "¤/kg"),
    Kind("ring.winding", "ring", "Winding", "¤/kg"),
    Kind("ring.twist_multiplier", "ring", "Twist multiplier", "αe", 0.5, 10.0, usual=(4.0, 4.6)),
    Kind(
        "ring.spindle_rpm",
        "ring",
        "Spindle speed",
        "rpm",
        100.0,
        40000.0,
        by_count=True,
        usual=(8_000.0, 11_000.0),
    ),
    Kind("ring.ring_diameter", "ring", "Ring diameter", "mm", 10.0, 200.0),
    *_stages("OE", "rotor"),
    Kind("OE.twist_multiplier", "OE", "Twist multiplier", "αe", 0.5, 10.0, usual=(4.4, 5.0)),
    Kind(
        "OE.rotor_rpm",
        "OE",
        "Rotor speed",
        "rpm",
        1000.0,
        250000.0,
        by_count=True,
        usual=(60_000.0, 90_000.0),
    ),
    Kind("OE.take_up_limit", "OE", "Take-up limit of the machine", "m/min", 1.0, 1000.0),
    *_stages("air-jet", "spinning unit"),
    Kind("air-jet.delivery", "air-jet", "Delivery speed", "m/min", 1.0, 1000.0, by_count=True),
    Kind("core.elastane_price", "core", "Elastane filament, as fed", "¤/kg"),
    Kind("core.second_filament_price", "core", "Second filament of a dual core, as fed", "¤/kg"),
    Kind("fabric.ball_warping", "fabric", "Ball warping, on warp put in", "¤/kg"),
    Kind("fabric.dyeing", "fabric", "Indigo dyeing, on warp put in", "¤/kg"),
    Kind("fabric.re_beaming", "fabric", "Re-beaming, on warp put in", "¤/kg"),
    Kind("fabric.sizing", "fabric", "Sizing, on warp put in", "¤/kg"),
    Kind("fabric.loom_rpm", "fabric", "Loom speed", "rpm", 1.0, 3000.0),
    Kind("fabric.loom_efficiency", "fabric", "Loom efficiency", "share", 0.01, 1.0),
    Kind("fabric.loom_hour", "fabric", "Cost of one loom for one hour", "¤/h"),
    Kind("fabric.finishing", "fabric", "Finishing", "¤/m"),
    Kind("fabric.heat_setting", "fabric", "Heat setting of stretch cloth, on top", "¤/m"),
    Kind("fabric.inspection", "fabric", "Inspection and packing", "¤/m"),
    Kind("fabric.overhead_rate", "fabric", "Overhead on conversion", "share", 0.0, 5.0),
    Kind("fabric.seconds_share", "fabric", "Seconds in the metres made", "share", 0.0, 0.9),
    Kind("fabric.seconds_price_ratio", "fabric", "Price of seconds over firsts", "share", 0.0, 1.0),
    Kind("fabric.margin_on_price", "fabric", "Target margin on price", "share", 0.0, 0.9),
    *STOPS_KINDS,
]
KINDS: Mapping[str, Kind] = {kind.key: kind for kind in _KINDS}


@dataclass(frozen=True)
class AssumptionSet:
    """A named set of values.

    values: key -> ((count in Ne or None, input), …), the counts ascending
    currency: what its money is in; "" when that is the reporting currency
    """

    id: int
    name: str
    values: Mapping[str, tuple[tuple[float | None, Input], ...]]
    notes: str = ""
    currency: str = ""

    def in_currency(self, reporting: str, rates: RateBook, on: date) -> AssumptionSet:
        """The same set with its money in the reporting currency at the rate of a day."""
        if self.currency in ("", reporting):
            return self
        rate = rates.factor(self.currency, reporting, on)
        return replace(
            self,
            currency=reporting,
            values={
                key: tuple((ne, _moved(entry, rate, self.currency)) for ne, entry in points)
                for key, points in self.values.items()
            },
        )

    def has(self, key: str) -> bool:
        """Whether the set holds a value for the key."""
        return bool(self.values.get(key))

    def need(self, keys: Iterable[str]) -> None:
        """Raise one Missing that names every value the set lacks."""
        absent = [key for key in keys if not self.has(key)]
        if absent:
            names = ", ".join(f"{KINDS[key].label} ({key})" for key in absent)
            raise Missing(
                f"The assumption set “{self.name}” has no value for: {names}.",
                field=absent[0],
                unit=KINDS[absent[0]].unit,
                remedy="Enter them on the Assumptions page, each with its source.",
            )

    def input(self, key: str, *, ne: float | None = None) -> Input:
        """The value of one assumption, interpolated to a count where it depends on one.

        ne: count [Ne]; outside the given counts the nearest given value holds
        Raises Missing when the set has no such value.
        """
        points = self.values.get(key, ())
        if not points:
            raise Missing(
                f"The assumption set “{self.name}” has no value for “{KINDS[key].label}” ({key}).",
                field=key,
                unit=KINDS[key].unit,
                remedy="Enter it on the Assumptions page, with its source.",
            )
        at_counts = [(count, entry) for count, entry in points if count is not None]
        if ne is None or not at_counts:
            return points[0][1]
        return _interpolated(at_counts, ne)

    def values_at(self, key: str, counts: Number) -> Number:
        """The value of an assumption at one count or at an array of counts.

        counts: [Ne]; the figures are those of `input`, bit for bit
        Raises Missing when the set has no such value.
        """
        if not isinstance(counts, np.ndarray):
            return self.input(key, ne=counts).value
        first = self.input(key).value
        entered = self.counts_of(key)
        if not entered:
            return np.full(counts.shape, first)
        at = np.array(entered)
        values = np.array([float(entry.value) for ne, entry in self.values[key] if ne is not None])
        last = len(at) - 1
        above = np.minimum(np.searchsorted(at, counts, side="left"), last)
        below = np.maximum(np.searchsorted(at, counts, side="right") - 1, 0)
        apart = at[above] - at[below]
        inside = apart > 0
        part = np.divide(counts - at[below], apart, out=np.zeros(counts.shape), where=inside)
        return values[below] + (values[above] - values[below]) * part

    def counts_of(self, key: str) -> tuple[float, ...]:
        """The counts a value is entered at, ascending; none when it holds for every count [Ne]."""
        return tuple(ne for ne, _ in self.values.get(key, ()) if ne is not None)


def _moved(entry: Input, rate: Input, currency: str) -> Input:
    if not entry.unit.startswith("¤"):
        return entry
    entered = f"{entry.value:g} {entry.unit.replace('¤', currency)} at {rate.as_entered}"
    return replace(entry, value=entry.value * rate.value, as_entered=entered)


def _interpolated(points: list[tuple[float, Input]], ne: float) -> Input:
    below = [point for point in points if point[0] <= ne] or points[:1]
    above = [point for point in points if point[0] >= ne] or points[-1:]
    (low_ne, low), (high_ne, high) = below[-1], above[0]
    if low_ne == high_ne:
        return low
    part = (ne - low_ne) / (high_ne - low_ne)
    return Input(
        low.value + (high.value - low.value) * part,
        low.label,
        low.unit,
        low.source,
        low.on,
        f"between {low.value:g} at Ne {low_ne:g} and {high.value:g} at Ne {high_ne:g}",
        low.where,
    )
