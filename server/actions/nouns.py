"""The nouns people enter: entry, keeper and addresses of each, in one list.

Forms, CSV import and export and the API work from this list, so that a field added to an entry
appears everywhere with the same name, unit and limits.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Any, get_args

from pydantic import ValidationError
from pydantic.fields import FieldInfo

from server.actions import cloth_entries, entries
from server.actions.fields import Entry
from server.core.errors import CreelbookError, shorten
from server.store.assumptions import AssumptionKeeper
from server.store.bases import BasisKeeper
from server.store.constructions import ConstructionKeeper
from server.store.offers import OfferKeeper
from server.store.pieces import PieceKeeper
from server.store.records import Keeper
from server.store.tables import (
    ChargeRow,
    DutyRateRow,
    ExchangeRateRow,
    FreightLaneRow,
    GateLimitRow,
    SupplierRow,
)


@dataclass(frozen=True)
class Noun:
    """A thing people enter.

    one, many: what it is called
    path: where its pages are; the API and CSV use the same word
    """

    one: str
    many: str
    path: str
    entry: type[Entry]
    keeper: Keeper

    @property
    def key(self) -> str:
        """Name of the field its address shows."""
        return self.keeper.key

    @cached_property
    def fields(self) -> Mapping[str, FieldInfo]:
        """Fields in the order of the form."""
        return dict(self.entry.model_fields)

    @cached_property
    def strict(self) -> Mapping[str, FieldInfo]:
        """Days and whole numbers, which the validator reads too kindly."""
        return {
            name: info
            for name, info in self.fields.items()
            if holds(info, date) or holds(info, int)
        }


NOUNS: Mapping[str, Noun] = {
    noun.path: noun
    for noun in (
        Noun(
            "supplier", "suppliers", "suppliers", entries.SupplierEntry, Keeper(SupplierRow, "name")
        ),
        Noun("offer", "offers", "offers", entries.OfferEntry, OfferKeeper()),
        Noun(
            "construction",
            "constructions",
            "constructions",
            cloth_entries.ConstructionEntry,
            ConstructionKeeper(),
        ),
        Noun(
            "exchange rate",
            "exchange rates",
            "rates/exchange",
            entries.ExchangeRateEntry,
            Keeper(ExchangeRateRow),
        ),
        Noun(
            "freight lane",
            "freight lanes",
            "rates/lanes",
            entries.FreightLaneEntry,
            Keeper(FreightLaneRow),
        ),
        Noun("duty rate", "duty rates", "rates/duties", entries.DutyRateEntry, Keeper(DutyRateRow)),
        Noun("charge", "charges", "rates/charges", entries.ChargeEntry, Keeper(ChargeRow)),
        Noun(
            "assumption", "assumptions", "assumptions", entries.AssumptionEntry, AssumptionKeeper()
        ),
        Noun("gate limit", "gate limits", "gate", entries.GateLimitEntry, Keeper(GateLimitRow)),
        Noun(
            "measured piece",
            "measured pieces",
            "pieces",
            cloth_entries.MeasuredPieceEntry,
            PieceKeeper(),
        ),
        Noun("basis", "bases", "bases", entries.BasisEntry, BasisKeeper()),
    )
}


_DAY = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_NO_DAY = "is not a day of the calendar; write it as 2026-03-12"
_SAID = {
    "date_": _NO_DAY,
    "decimal_type": "must be a number; write digits with a decimal point",
    "decimal_parsing": "must be a number; write digits with a decimal point",
    "int_": "must be a whole number",
    "bool_": "must be yes or no",
    "string_type": "must be text",
    "string_unicode": "holds a character that is no text; write it again",
}
_TAKEN = {"new", "edit", "import", "history", "edit-many", "side-by-side", "how-close", ".", ".."}


@dataclass(frozen=True, slots=True)
class FieldError:
    """What is wrong with one field, in a sentence that says what to do."""

    field: str
    label: str
    message: str
    value: str = ""
    unit: str = ""


class Refused(Exception):
    """An entry that cannot be stored, with every faulty field."""

    def __init__(self, errors: Sequence[FieldError]) -> None:
        super().__init__("; ".join(f"{error.label}: {error.message}" for error in errors))
        self.errors = tuple(errors)


def holds(info: FieldInfo, kind: type) -> bool:
    """Whether a field holds values of a type, or none."""
    return info.annotation is kind or kind in get_args(info.annotation)


def unit_of(info: FieldInfo) -> str:
    """Unit of a field, as shown to people."""
    extra = info.json_schema_extra
    return str(extra.get("unit") or "") if isinstance(extra, dict) else ""


def read_entry(noun: Noun, given: Mapping[str, Any]) -> dict[str, Any]:
    """Validate what was typed and give the values to store. Raises Refused.

    given: field -> text (or number); an absent or blank optional field takes its default
    """
    typed = {name: value for name, value in given.items() if not _blank(value)}
    misfits = _misfits(noun, typed)
    try:
        values = noun.entry.model_validate(typed).model_dump()
    except ValidationError as wrong:
        told = {error.field for error in misfits}
        errors = [_field_error(noun, error) for error in wrong.errors()]
        raise Refused([*misfits, *(e for e in errors if e.field not in told)]) from wrong
    if misfits:
        raise Refused(misfits)
    fault = _address_fault(noun, str(values.get(noun.key, "")))
    if fault:
        label = noun.fields[noun.key].title or noun.key
        value = shorten(values[noun.key])
        raise Refused([FieldError(noun.key, label, f"“{value}” {fault}", value)])
    return values


def refusal(noun: Noun, wrong: CreelbookError) -> FieldError:
    """An error of the house as a message beside its field."""
    info = noun.fields.get(wrong.field)
    label = (info.title if info else "") or wrong.field
    return FieldError(wrong.field, label, str(wrong), wrong.value, wrong.unit)


def _misfits(noun: Noun, typed: Mapping[str, Any]) -> list[FieldError]:
    """Values the validator would read as something that nobody meant."""
    faults = []
    for name, info in noun.strict.items():
        value = typed.get(name)
        message = _misfit(info, value) if value is not None else ""
        if message:
            met, unit = _met(value), unit_of(info)
            faults.append(FieldError(name, info.title or name, f"“{met}” {message}", met, unit))
    return faults


def _misfit(info: FieldInfo, value: Any) -> str:
    if holds(info, date) and not isinstance(value, date):
        is_day = isinstance(value, str) and _DAY.fullmatch(value.strip())
        return "" if is_day else _NO_DAY
    if holds(info, int) and (isinstance(value, bool) or (isinstance(value, str) and "_" in value)):
        return _SAID["int_"]
    return ""


def _address_fault(noun: Noun, key: str) -> str:
    """Why a key could not stand in the address of its record, or ""."""
    if "/" in key and noun.path in ("offers", "constructions"):
        return "must not contain a slash, it stands in addresses; write a dash"
    if key.endswith((".csv", ".json")) or _TAKEN & set(key.lower().split("/")):
        return "has a meaning of its own in addresses; choose another"
    return ""


def _blank(value: Any) -> bool:
    return value is None or (isinstance(value, str) and not value.strip())


def _field_error(noun: Noun, error: Any) -> FieldError:
    field = str(error["loc"][0]) if error["loc"] else ""
    message = str(error["msg"]).removeprefix("Value error, ")
    if not field and ": " in message:
        field, _, message = message.partition(": ")
    info = noun.fields.get(field)
    label, unit = (info.title or field, unit_of(info)) if info else (field, "")
    if error["type"] == "missing":
        message = "is needed; enter it" + (f" in {unit}" if unit and unit != "date" else "")
    elif error["type"] == "extra_forbidden":
        message = f"is not a column of {noun.many}; remove it"
    value = "" if error["type"] == "missing" else _met(error.get("input", ""))
    if error["loc"] and error["type"] not in ("missing", "extra_forbidden"):
        message = f"“{value}” {_plain(error['type'], message)}"
        message += f" [{unit}]" if unit and unit != "date" else ""
    return FieldError(field, label, message, value, unit)


def _met(value: Any) -> str:
    """The value met, as text; a list or an object by its kind, for it may be of any depth."""
    if isinstance(value, (list, tuple)):
        return "a list"
    return "an object" if isinstance(value, Mapping) else shorten(value)


def _plain(kind: str, message: str) -> str:
    """The validator's message as a remedy that continues the sentence."""
    for beginning, said in _SAID.items():
        if kind.startswith(beginning):
            return said
    return (
        message.replace("Input should be", "must be")
        .replace("Decimal input should", "must")
        .replace("String should have", "must have")
        .replace("Input should", "must")
    )


def doubts(noun: Noun, values: Mapping[str, Any]) -> dict[str, str]:
    """Values outside the usual range of the trade: accepted, but worth a second look."""
    found = {}
    for name, info in noun.fields.items():
        extra = info.json_schema_extra
        usual = extra.get("usual") if isinstance(extra, dict) else None
        value = values.get(name)
        if isinstance(usual, list) and value is not None:
            low, high = (float(str(bound)) for bound in usual)
            if not low <= float(value) <= high:
                found[name] = f"unusual: {low:g} to {high:g} {unit_of(info)} is common".strip()
    return found
