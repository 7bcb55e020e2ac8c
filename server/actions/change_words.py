"""A change of a construction in words: what, from which value to which."""

from __future__ import annotations

from decimal import Decimal

from server.actions.asked_change import AskedChange
from server.actions.change import Desk
from server.actions.nouns import NOUNS, unit_of
from server.core.assumptions import KINDS, Kind
from server.core.sheet import Input


def change_words(desk: Desk, asked: AskedChange) -> tuple[str, ...]:
    """A change in words, part by part."""
    said = []
    for name, text in asked.fields.items():
        info = NOUNS["constructions"].fields[name]
        stored, unit = desk.stored.get(name), unit_of(info).partition(" ")[0]
        now = f"{stored:f}" if isinstance(stored, Decimal) else str(stored or "none")
        said.append(f"{info.title or name} {now} → {text} {unit}".rstrip())
    for name, text in asked.yarns.items():
        slot = name.removesuffix("_yarn")
        was = next((yarn.name for yarn in desk.before.yarns if yarn.slot.name == slot), "")
        said.append(f"{slot_named(slot)} yarn {was} → {text}")
    for key, text in asked.assumptions.items():
        if key not in KINDS:
            said.append(f"{key.removeprefix('every.').replace('_', ' ')} of every route {text}")
            continue
        points = desk.comparison.assumptions.values.get(key, ())
        now = value_now(KINDS[key], points) if points else "none"
        said.append(f"{KINDS[key].label} {now} → {text} {typed_unit(KINDS[key], '¤')}")
    return tuple(said)


def slot_named(slot: str) -> str:
    """What the yarn of a place is called."""
    return {"warp2": "Second warp", "filling2": "Second filling"}.get(slot, slot.capitalize())


def typed_unit(kind: Kind, currency: str) -> str:
    """The unit people enter an assumption in."""
    return "%" if kind.unit == "share" else kind.unit.replace("¤", currency)


def value_now(kind: Kind, points: tuple[tuple[float | None, Input], ...]) -> str:
    """An assumption as it stands, or its range over the counts."""
    factor = 100 if kind.unit.startswith("share") else 1
    values = [f"{float(entry.value) * factor:,.6g}".replace("-", "−") for _, entry in points]
    return values[0] if len(values) == 1 else f"{values[0]} to {values[-1]}"
