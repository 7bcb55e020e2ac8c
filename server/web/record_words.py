"""What records are called, and the unit of a figure whose unit another field of it names."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from server.actions.nouns import Noun, unit_of
from server.core.assumptions import KINDS
from server.core.duty import yarns_of_line
from server.core.offer import TEST_PROPERTIES
from server.core.rates import CHARGES
from server.store.records import Kept
from server.web import addresses
from server.web.numbers import entered

PROPERTIES = TEST_PROPERTIES | {"count_deviation": ("Deviation of the count", "%")}


def record_path(noun: Noun, key: str) -> str:
    """Where the page of a record is."""
    return f"/{noun.path}/{addresses.part(key)}"


def section_of(noun: Noun) -> str:
    """The entry of the navigation a noun belongs to."""
    return noun.path.split("/")[0]


def list_path(noun: Noun) -> str:
    """The page that lists a noun."""
    return f"/{section_of(noun)}"


def name_of(noun: Noun, kept: Kept) -> str:
    """What people call a record."""
    values = {name: entered(value) for name, value in kept.values.items()}
    if noun.path == "rates/exchange":
        return f"{values['base']} in {values['quote']}, from {values['valid_from']}"
    if noun.path == "rates/lanes":
        return f"{values['country']}, {values['route']}, from {values['valid_from']}"
    if noun.path == "rates/duties":
        line = f", line {values['tariff_line']}" if values["tariff_line"] else ""
        return f"{values['country']}{line}, from {values['valid_from']}"
    if noun.path == "rates/charges":
        return f"{CHARGES[values['key']][0]}, from {values['valid_from']}"
    if noun.path == "assumptions":
        at = f" at Ne {values['at_ne']}" if values["at_ne"] else ""
        kind = KINDS[values["key"]]
        return f"{kind.group}, {kind.label}{at}, {values['set_name']}"
    if noun.path == "pieces":
        return f"{values['label']} of {values['construction']}"
    if noun.path == "gate":
        return f"{PROPERTIES[values['property']][0]}, {values['role']}"
    return kept.key


def duty_words(kept: Kept) -> str:
    """The yarns a stored duty rate is for, its count limits in Ne as well."""
    values = kept.values
    low, high = values["dtex_from"], values["dtex_below"]
    return yarns_of_line(
        None if low is None else float(low),
        None if high is None else float(high),
        (values["preparation"], values["ply"], values["fibre_mix"]),
    )


def label_of(noun: Noun, field: str) -> str:
    """The label of a field; a name that is no field stands for itself."""
    info = noun.fields.get(field)
    return (info.title if info else "") or field


def field_unit(noun: Noun, field: str, values: Mapping[str, Any]) -> str:
    """The unit of a figure of a record, with what the record says of it."""
    unit = unit_of(noun.fields[field])
    if noun.path == "assumptions" and field in ("value", "low", "high"):
        return _in_words(KINDS[values["key"]].unit, values["currency"])
    if noun.path == "rates/charges" and field == "value":
        return _in_words(CHARGES[values["key"]][1], values["currency"])
    if noun.path == "rates/exchange" and field == "rate":
        return f"{values['quote']} for 1 {values['base']}"
    if noun.path == "rates/lanes" and field in ("freight", "inland"):
        return unit.replace("currency", str(values["currency"]))
    if noun.path == "gate" and field == "value":
        return PROPERTIES[values["property"]][1]
    if noun.path == "offers" and (field == "price" or field.endswith("_price")):
        return f"{values['currency']} for 1 {values['price_unit']}"
    if noun.path == "offers" and field == "count":
        return str(values["count_system"])
    return "" if unit == "date" else unit


def _in_words(unit: str, currency: str) -> str:
    if unit in ("share", "share/a"):
        return "%" if unit == "share" else "% a year"
    return unit.replace("¤", currency)
