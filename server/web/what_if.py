"""The fields of a what-if: what is stored beside what is typed, grouped by route."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from server.actions.what_if import EVERY, SHARED, used_keys, values_of_set
from server.core.assumptions import KINDS, AssumptionSet, Kind
from server.core.process import RoutesCosted
from server.core.should_cost import ROUTES
from server.core.what_if import ChangedValue
from server.export.should_cost import entered_unit
from server.store.records import Kept
from server.store.session import Engine
from server.web.numbers import Writer, entered

FIRST = (
    "spindle_rpm", "rotor_rpm", "delivery", "twist_multiplier", "efficiency", "fibre_price",
    "realisation", "position_hour", "power_tariff", "wage",
)  # fmt: skip
NO_PARTS = (
    "This set gives the cost of a position-hour as one figure, so power and wages cannot be moved "
    "by themselves; choose a set that has the hour in its parts."
)
HELP = (
    "A number is the new value; +10 % or −5 % changes what is stored. Where a value depends on the "
    "count, a number holds at every count and a change moves the value at each count. Prices that "
    "differ by route are moved together by a change in %, since one price for all would wipe out "
    "what tells them apart. A route’s own field counts before the field for every route."
)


@dataclass(frozen=True, slots=True)
class WhatIfField:
    """One field. stored: what is stored, as entered; value: what is typed"""

    name: str
    id: str
    label: str
    unit: str
    stored: str
    value: str
    error: str
    doubt: str


@dataclass(frozen=True, slots=True)
class WhatIfGroup:
    """Fields of one route, or of every route. rest: those asked for less often"""

    key: str
    title: str
    fields: tuple[WhatIfField, ...]
    rest: tuple[WhatIfField, ...]
    rest_open: bool

    @property
    def all(self) -> tuple[WhatIfField, ...]:
        """All fields."""
        return (*self.fields, *self.rest)


@dataclass(frozen=True, slots=True)
class WhatIfForm:
    """The whole what-if. open: whether it is shown unfolded"""

    groups: tuple[WhatIfGroup, ...]
    open: bool
    help: str
    note: str


def what_if_form(
    engine: Engine, stored: AssumptionSet, costs: RoutesCosted, writer: Writer
) -> WhatIfForm:
    """The form for a set. stored: as it is stored, in its own currency"""
    rows: dict[str, list[Kept]] = {}
    for kept in values_of_set(engine, stored.name):
        rows.setdefault(kept.values["key"], []).append(kept)
    used, typed = used_keys(stored), costs.what_if.typed
    held = dict.fromkeys(key for keys in used.values() for key in keys)

    def field(name: str, kind: Kind, label: str, told: str) -> WhatIfField:
        return WhatIfField(
            name,
            name.replace(".", "-"),
            label,
            entered_unit(kind.unit, stored.currency or "¤"),
            told,
            typed.get(name, ""),
            costs.what_if.errors.get(name, ""),
            costs.what_if.doubts.get(name, ""),
        )

    def own(key: str) -> WhatIfField:
        return field(key, KINDS[key], KINDS[key].label, _stored(key, rows[key], costs, writer))

    groups = []
    shared = [name for name in SHARED if any(f"{route}.{name}" in held for route in ROUTES)]
    if shared:
        fields = tuple(
            field(
                f"{EVERY}{name}", *_shared(name, [k for k in held if k.endswith(f".{name}")], rows)
            )
            for name in shared
        )
        groups.append(WhatIfGroup("every", "Every route", fields, (), False))
    for route in ROUTES:
        if not used[route]:
            continue
        keys = sorted(used[route], key=_place)
        first = tuple(own(key) for key in keys if key.partition(".")[2] in FIRST)
        rest = tuple(own(key) for key in keys if key.partition(".")[2] not in FIRST)
        groups.append(WhatIfGroup(route, route, first, rest, any(each.value for each in rest)))
    parts = any(f"{route}.power_tariff" in held for route in ROUTES)
    return WhatIfForm(tuple(groups), bool(typed), HELP, "" if parts or not held else NO_PARTS)


def _place(key: str) -> int:
    name = key.partition(".")[2]
    return FIRST.index(name) if name in FIRST else len(FIRST) + list(KINDS).index(key)


def _shared(
    name: str, keys: Sequence[str], rows: Mapping[str, list[Kept]]
) -> tuple[Kind, str, str]:
    """Kind, label and stored values of what every route has."""
    kind = KINDS[keys[0]]
    values = {key.partition(".")[0]: entered(rows[key][0].values["value"]) for key in keys}
    if len({Decimal(value) for value in values.values()}) == 1:
        return kind, kind.label, f"{next(iter(values.values()))} at each"
    return kind, kind.label, ", ".join(f"{route} {value}" for route, value in values.items())


def _stored(key: str, rows: Sequence[Kept], costs: RoutesCosted, writer: Writer) -> str:
    values = [entered(kept.values["value"]) for kept in rows]
    if not KINDS[key].by_count:
        return values[0]
    route, _, name = key.partition(".")
    entry = costs.stored[route].inputs[name]
    at = f"{writer.text(float(entry.value), entry.unit)} at Ne {costs.ne:g}"
    in_order = sorted(rows, key=lambda kept: kept.values["at_ne"])
    low, high = (entered(in_order[place].values["value"]) for place in (0, -1))
    return at if low == high else f"{at}; {low} to {high} over the counts"


def changed_words(changed: Sequence[ChangedValue], currency: str) -> tuple[str, ...]:
    """What is changed, from which value to which, one sentence for each assumption."""
    found: dict[str, list[ChangedValue]] = {}
    for each in changed:
        found.setdefault(each.kind.key, []).append(each)
    said = []
    for values in found.values():
        kind = values[0].kind
        steps = ", ".join(
            f"{entered(each.before)} → {entered(each.after)}"
            + (f" at Ne {entered(each.at_ne)}" if each.at_ne is not None else "")
            for each in values
        )
        said.append(f"{kind.label}, {kind.group}: {steps} {entered_unit(kind.unit, currency)}")
    return tuple(said)
