"""Process assumptions changed in an address only: read, checked and laid over a stored set."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from server.actions.nouns import NOUNS, Refused, read_entry
from server.core.assumptions import KINDS, AssumptionSet
from server.core.sheet import Input
from server.store.book import share

CHANGED_HERE = "changed here, not stored"
_REST = {"set_name": "here", "currency": "USD", "source": "here", "noted_on": "2026-01-01"}


@dataclass(frozen=True)
class Assumed:
    """Assumptions as typed: key -> number in the unit people enter; key -> sentence when wrong."""

    values: Mapping[str, Decimal]
    errors: Mapping[str, str]


def read_assumed(typed: Mapping[str, str]) -> Assumed:
    """Check typed values against the limits of their kinds, as a stored assumption would be.

    typed: key of a kind -> text; shares in percent; names that are no kind are passed over
    """
    values: dict[str, Decimal] = {}
    errors: dict[str, str] = {}
    for key, text in typed.items():
        if key not in KINDS or not text.strip():
            continue
        at_ne = "10" if KINDS[key].by_count else ""
        try:
            entry = {**_REST, "key": key, "value": text, "at_ne": at_ne}
            values[key] = read_entry(NOUNS["assumptions"], entry)["value"]
        except Refused as refused:
            errors[key] = "; ".join(error.message for error in refused.errors)
    return Assumed(values, errors)


def with_assumed(assumptions: AssumptionSet, values: Mapping[str, Decimal]) -> AssumptionSet:
    """A set with some values changed, its money still in its own currency.

    A value that depends on the count is taken for every count.
    """
    changed = dict(assumptions.values)
    for key, value in values.items():
        kind, points = KINDS[key], assumptions.values.get(key, ())
        before = ", ".join(f"{entry.value:g}" for _, entry in points) or "nothing"
        number = share(value) if kind.unit.startswith("share") else float(value)
        entry = Input(
            number, kind.label, kind.unit, CHANGED_HERE, None, f"“{assumptions.name}” has {before}"
        )
        changed[key] = ((None, entry),)
    return replace(assumptions, values=changed)
