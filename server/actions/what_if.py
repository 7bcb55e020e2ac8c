"""What if: values of an assumption set changed in the address only, nothing stored.

A number is the new value; `+10 %` or `−5 %` changes what is stored. A number for a value that
depends on the count holds at every count, a change moves the value at each count. What stands
under `every.` moves all routes: as a number where they hold the same, else as a change. A route's
own field counts before it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from decimal import Context, Decimal

from server.actions.book import current_book
from server.actions.memory import Memory, question
from server.actions.nouns import NOUNS, Refused, read_entry, unit_of
from server.actions.records import list_records
from server.core.assumptions import KINDS, AssumptionSet
from server.core.errors import BadValue, CreelbookError
from server.core.process import doubt_of_value
from server.core.sheet import Input
from server.core.should_cost import ROUTES, key_of, should_cost_of
from server.core.what_if import ChangedValue, WhatIf
from server.store.book import share
from server.store.records import Kept
from server.store.session import Engine

CHANGED_HERE = "changed here, not stored"
EVERY = "every."
SHARED = ("fibre_price", "power_tariff", "wage")
NAMES = (
    *(f"{EVERY}{name}" for name in SHARED),
    *(kind.key for kind in KINDS.values() if kind.group in ROUTES),
)
"""What the should-cost page may change, shared values first."""
EVERY_NAME = (*(f"{EVERY}{name}" for name in SHARED), *KINDS)
"""What any page may change."""

LONGEST = 40  # characters of a typed value
_CHANGE = re.compile(r"([+\-−])\s*(\d{1,4}(?:\.\d{1,6})?)\s*%", re.ASCII)
_ROUND = Context(prec=12)
_ANY_UNIT = f" [{unit_of(NOUNS['assumptions'].fields['value'])}]"  # the field shows its own
_kept: Memory[tuple[Kept, ...]] = Memory(16)


def laid_over(assumptions: AssumptionSet, changed: Iterable[ChangedValue]) -> AssumptionSet:
    """A stored set with changed values, its money still in its own currency."""
    after = {f"/assumptions/{each.row_id}": each for each in changed}
    values = dict(assumptions.values)
    for key in {each.kind.key for each in after.values()}:
        values[key] = tuple(
            (ne, _changed_input(entry, after[entry.where]) if entry.where in after else entry)
            for ne, entry in values[key]
        )
    return replace(assumptions, values=values)


def _changed_input(entry: Input, change: ChangedValue) -> Input:
    in_percent = change.kind.unit.startswith("share")
    stored = f"{change.before:f} %" if in_percent else f"{change.before:f}"
    return replace(
        entry,
        value=share(change.after) if in_percent else float(change.after),
        source=CHANGED_HERE,
        on=None,
        as_entered=f"stored: {stored}",
    )


def typed_what_if(query: Mapping[str, str], names: Sequence[str] = NAMES) -> dict[str, str]:
    """The part of a query that changes assumptions; blank fields ask for nothing."""
    return {name: query[name].strip() for name in names if query.get(name, "").strip()}


def values_of_set(engine: Engine, name: str) -> tuple[Kept, ...]:
    """The stored values of a set, as entered."""

    def read() -> tuple[Kept, ...]:
        records = list_records(engine, NOUNS["assumptions"])
        return tuple(kept for kept in records if kept.values["set_name"] == name)

    return _kept.recall(question(engine, current_book(engine), {}, name), read)


def used_keys(assumptions: AssumptionSet) -> dict[str, tuple[str, ...]]:
    """Route -> keys of the assumptions its should-cost rests on; a route without all has none."""
    found: dict[str, tuple[str, ...]] = {}
    for route in ROUTES:
        try:
            inputs = should_cost_of(route, 7.0, assumptions).inputs
        except CreelbookError:
            found[route] = ()
            continue
        keys = (key_of(route, name) for name in inputs)
        found[route] = tuple(key for key in keys if key in KINDS)
    return found


def what_if(
    records: Iterable[Kept], used: Mapping[str, tuple[str, ...]], typed: Mapping[str, str]
) -> WhatIf:
    """Read what was typed against the stored values of a set.

    records: its values; used: as `used_keys` gives them
    """
    typed = typed_what_if(typed, EVERY_NAME)
    stored: dict[str, list[Kept]] = {}
    for kept in records:
        stored.setdefault(kept.values["key"], []).append(kept)
    moving = {key for keys in used.values() for key in keys}
    changed: list[ChangedValue] = []
    errors: dict[str, str] = {}
    doubts: dict[str, str] = {}
    for name, text in typed.items():
        keys = _keys_of(name, moving, typed)
        rows = [kept for key in keys for kept in stored.get(key, ())]
        try:
            if not rows:
                raise BadValue("moves nothing here with this set; leave it empty")
            found = _changes(name, text, rows)
        except BadValue as wrong:
            errors[name] = str(wrong)
            continue
        changed += [each for each in found if each.after != each.before]
        doubt = _doubt(found, rows)
        if doubt:
            doubts[name] = doubt
    return WhatIf(typed, tuple(changed), errors, doubts)


def _keys_of(name: str, moving: set[str], typed: Mapping[str, str]) -> list[str]:
    if not name.startswith(EVERY):
        return [name] if name in moving else []
    keys = (f"{route}.{name.removeprefix(EVERY)}" for route in ROUTES)
    return [key for key in keys if key in moving and key not in typed]


def _changes(name: str, text: str, rows: Sequence[Kept]) -> list[ChangedValue]:
    """What a typed text makes of some stored values. Raises BadValue."""
    if len(text) > LONGEST:
        raise BadValue("has too many characters for a number")
    kind = KINDS[rows[0].values["key"]]
    in_percent = kind.unit.startswith("share")
    change = _CHANGE.fullmatch(text)
    if change and in_percent:
        raise BadValue(
            "is a share already: a change in % can be read two ways. Write the new value, such "
            f"as {rows[0].values['value']:f}"
        )
    if not change and text[0] in "+-−":
        raise BadValue("write +10 % or −10 % to change what is stored, or the new value alone")
    if change:
        factor = 1 + Decimal(change[2]) / (100 if change[1] == "+" else -100)
        return [_checked(kept, _plain(kept.values["value"] * factor)) for kept in rows]
    number = text.removesuffix("%").strip() if in_percent else text
    if number.endswith("%"):
        raise BadValue("write +10 % or −10 % with its sign to change what is stored")
    held = dict.fromkeys(f"{kept.values['value']:f}" for kept in rows)
    if name.startswith(EVERY) and len({Decimal(value) for value in held}) > 1:
        raise BadValue(
            f"the routes hold {', '.join(held)}: write a change such as +5 %, or the new value at "
            "one route"
        )
    return [_checked(kept, number) for kept in rows]


def _plain(number: Decimal) -> str:
    return f"{_ROUND.plus(number).normalize():f}"


def _checked(kept: Kept, number: str) -> ChangedValue:
    """The new value within the limits a stored one would be held to. Raises BadValue."""
    entry = {**kept.values, "value": number, "low": None, "high": None}
    try:
        after = read_entry(NOUNS["assumptions"], entry)["value"]
    except Refused as refused:
        told = "; ".join(error.message for error in refused.errors)
        raise BadValue(told.removesuffix(_ANY_UNIT)) from refused
    values = kept.values
    return ChangedValue(kept.id, KINDS[values["key"]], values["at_ne"], values["value"], after)


def _doubt(found: Sequence[ChangedValue], rows: Sequence[Kept]) -> str:
    said = [doubt_of_value(found[0].kind, [float(each.after) for each in found])]
    ranges = {kept.id: (kept.values["low"], kept.values["high"]) for kept in rows}
    for each in found:
        low, high = ranges[each.row_id]
        if (low is not None and each.after < low) or (high is not None and each.after > high):
            at = f" at Ne {each.at_ne:f}" if each.at_ne is not None else ""
            of = f" of {each.kind.group}" if len(found) > 1 and not at else ""
            bounds = f"{'…' if low is None else low} to {'…' if high is None else high}"
            said.append(f"outside the range entered{of}{at}, {bounds}")
            break
    return "; ".join(text for text in said if text)
