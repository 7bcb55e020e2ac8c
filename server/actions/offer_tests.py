"""Test values of an offer, lot by lot."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from server.actions.nouns import NOUNS, FieldError, Refused, doubts
from server.actions.some_fields import read_some
from server.core.errors import BadValue
from server.core.offer import TEST_PROPERTIES
from server.store.offer_tests import (
    TestValue,
    add_test_value,
    remove_test_value,
    test_values,
)
from server.store.session import Engine, reading, writing

FIELDS = ("property", "value", "method", "lot", "tested_on", "attachment_id")
_OF_ENTRY = {"method": "test_method", "lot": "test_lot", "tested_on": "tested_on"}
_LABELS = {"property": "Property", "value": "Value", "attachment_id": "Source file"}


def tests_of(engine: Engine, code: str) -> tuple[TestValue, ...]:
    """Every test value of an offer, by property, the one that counts first. Raises NotFound."""
    with reading(engine) as session:
        return test_values(session, code)


def add_test(engine: Engine, code: str, given: Mapping[str, Any], person_id: int) -> int:
    """Store a test value of a lot; gives its id. Raises Refused, NotFound.

    given: FIELDS as typed; attachment_id: number of a file of the offer, or blank
    """
    values = _read(given)
    try:
        with writing(engine, person_id) as session:
            return add_test_value(session, code, values)
    except BadValue as wrong:
        label = _label(wrong.field)
        raise Refused([FieldError(wrong.field, label, str(wrong), wrong.value)]) from wrong


def remove_test(engine: Engine, code: str, value_id: int, person_id: int) -> None:
    """Take a test value away; the history keeps it. Raises NotFound."""
    with writing(engine, person_id) as session:
        remove_test_value(session, code, value_id)


def doubt_about(value: TestValue) -> str:
    """Why a value is worth a second look, or ""."""
    return doubts(NOUNS["offers"], {value.property: value.value}).get(value.property, "")


def _read(given: Mapping[str, Any]) -> dict[str, Any]:
    about = str(given.get("property") or "")
    unknown = [name for name in given if name not in FIELDS]
    if unknown:
        told = f"is no field of a test value; the fields are: {', '.join(FIELDS)}"
        raise Refused([FieldError(str(unknown[0])[:40], str(unknown[0])[:40], told)])
    if about not in TEST_PROPERTIES:
        told = f"must be one of: {', '.join(TEST_PROPERTIES)}"
        raise Refused([FieldError("property", "Property", told, about[:60])])
    if given.get("value") is None or not str(given["value"]).strip():
        unit = TEST_PROPERTIES[about][1]
        told = f"is needed; enter it{f' in {unit}' if unit else ''}"
        raise Refused([FieldError("value", "Value", told, "", unit)])
    asked = {about: given["value"]} | {entry: given.get(name) for name, entry in _OF_ENTRY.items()}
    try:
        read = read_some("offers", asked)
    except Refused as refused:
        back = {entry: name for name, entry in _OF_ENTRY.items()} | {about: "value"}
        raise Refused(
            [
                FieldError(back.get(e.field, e.field), e.label, e.message, e.value, e.unit)
                for e in refused.errors
            ]
        ) from refused
    return {
        "property": about,
        "value": read[about],
        "attachment_id": _number(given.get("attachment_id")),
        **{name: read[entry] for name, entry in _OF_ENTRY.items()},
    }


def _number(given: Any) -> int | None:
    if given is None or (isinstance(given, str) and not given.strip()):
        return None
    text = str(given).strip()
    if isinstance(given, bool) or not (text.isascii() and text.isdecimal() and len(text) < 10):
        told = "must be the number of a file of the offer"
        raise Refused([FieldError("attachment_id", "Source file", told, text[:60])])
    return int(text)


def _label(name: str) -> str:
    entry = NOUNS["offers"].fields.get(_OF_ENTRY.get(name, name))
    return _LABELS.get(name) or (entry.title if entry else "") or name
