"""Two frozen packs of the demonstration, with what changed between them and until today."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from sqlalchemy import Engine

from server.actions.nouns import NOUNS
from server.actions.packs import ClothAsked, freeze, new_pack, stored_pack
from server.actions.records import add_record, change_record, list_records, one_record
from tests.entered import as_form

BOTH = ("DN-1375", "DN-1250")


def frozen_pack(
    engine: Engine,
    title: str,
    cloths: Iterable[ClothAsked | str],
    basis: dict[str, str] | None = None,
) -> str:
    """A pack of some constructions, frozen now; gives its reference."""
    typed = {"title": title, "buyer": "Tarn & Fell", "meeting": "2026-03-12"}
    asked = [ClothAsked(each) if isinstance(each, str) else each for each in cloths]
    reference = new_pack(engine, 1, typed, asked, basis)
    freeze(engine, reference, 1, stored_pack(engine, reference).version)
    return reference


def entry_of(engine: Engine, path: str, key: str) -> dict[str, str]:
    """What a stored record holds, as text."""
    return as_form(one_record(engine, NOUNS[path], key).values)


def changed(engine: Engine, path: str, key: str, **values: str) -> None:
    """Change a stored record."""
    kept = one_record(engine, NOUNS[path], key)
    given = as_form(kept.values) | values
    change_record(engine, NOUNS[path], key, given, kept.version, 1)


def key_with(engine: Engine, path: str, **values: Any) -> str:
    """Key of the first record that holds these values."""
    for kept in list_records(engine, NOUNS[path]):
        if all(str(kept.values[name]) == value for name, value in values.items()):
            return kept.key
    raise LookupError(f"{path} {values}")


def requoted(engine: Engine, code: str, new: str, **values: str) -> None:
    """Enter an offer that replaces another one."""
    entry = entry_of(engine, "offers", code)
    add_record(engine, NOUNS["offers"], entry | {"code": new, "replaces": code} | values, 1)


def a_week_later(engine: Engine) -> None:
    """A dearer Q14 in another unit and term, one pick more in DN-1375, a dearer loom hour."""
    requoted(
        engine,
        "Q14",
        "Q61",
        price="97.50",
        currency="USc",
        price_unit="lb",
        term="FOB",
        as_quoted="97.50 USc/lb FOB",
    )
    changed(engine, "constructions", "DN-1375", loom_ppi="42")
    changed(engine, "assumptions", key_with(engine, "assumptions", key="fabric.loom_hour"),
            value="3.8")  # fmt: skip
