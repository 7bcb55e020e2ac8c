"""What changed between a meeting pack and another one, or the house as it is today."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

from server.actions.nouns import NOUNS, Noun
from server.actions.packs import DRAFT, frozen_of, frozen_today, packs, stored_pack
from server.core.errors import BadValue, NotFound
from server.core.given import Frozen
from server.core.sheet import Input
from server.core.what_changed import EVERYTHING, Choice, Touched, WhatChanged, what_changed
from server.store.audit import Change
from server.store.session import Engine, reading

TODAY = "today"
LONGEST = 200  # characters of a part of the address


@dataclass(frozen=True, slots=True)
class AskedChanges:
    """What an address asks for. against: reference of another pack, “today”, or "" for either."""

    against: str = ""
    choice: Choice = EVERYTHING


@dataclass(frozen=True)
class Changes:
    """Two packs held against each other, and who touched the records behind it.

    reference, against: as asked for; against is “today” or the reference of the other pack
    touched: address of a record -> who; only up to today, and only where the audit tells
    """

    reference: str
    against: str
    found: WhatChanged
    touched: Mapping[str, Touched] = field(default_factory=dict)


def read_asked(query: Mapping[str, str]) -> AskedChanges:
    """What a query asks for. Raises BadValue for what is too long or does not belong together."""
    asked = {
        name: query.get(name, "").strip()
        for name in ("against", "cloth", "variant", "before", "after")
    }
    for name, text in asked.items():
        if len(text) > LONGEST or not text.isprintable():
            raise BadValue(
                f"“{text[:40]}…” is no {name}.",
                field=name,
                value=text,
                unit="characters",
                remedy=f"Write at most {LONGEST} characters in one line.",
            )
        if name not in ("against", "cloth") and text and not asked["cloth"]:
            raise BadValue(
                f"It is not said of which cloth {text[:40]} is the {name}.",
                field="cloth",
                remedy="Say the code of the construction, too.",
            )
    return AskedChanges(
        asked["against"],
        Choice(asked["cloth"], asked["variant"], asked["before"], asked["after"]),
    )


def changes_of(engine: Engine, reference: str, asked: AskedChanges) -> Changes:
    """What changed between a pack and what it is held against, the earlier one first.

    Raises NotFound for an unknown pack, BadValue for two that cannot be held against each other.
    """
    against = asked.against or usual_other(engine, reference)
    if against == reference:
        raise BadValue(
            f"Nothing changes between {reference} and itself.",
            field="against",
            value=against,
            remedy=f"Choose another pack, or {TODAY}.",
        )
    own = frozen_of(engine, reference)
    headline = own.pack.headline
    if against == TODAY:
        later = frozen_today(engine, own)
        found = what_changed(own, later, figure=headline, until_today=True, choice=asked.choice)
        return Changes(reference, against, found, _touched(engine, found))
    both = sorted((frozen_of(engine, against), own), key=_moment)  # of equal ones own is the later
    found = what_changed(both[0], both[1], figure=headline, choice=asked.choice)
    return Changes(reference, against, found)


def usual_other(engine: Engine, reference: str) -> str:
    """What a pack is held against when nothing is said: the pack it follows, else today."""
    return stored_pack(engine, reference).follows or TODAY


def others(engine: Engine, reference: str) -> tuple[tuple[str, str], ...]:
    """What a pack can be held against: (name in the address, label)."""
    return (
        (TODAY, "Today's offers, rates and cloths"),
        *(
            (each.reference, f"{each.reference} {each.title}")
            for each in packs(engine)
            if each.reference != reference and each.state != DRAFT
        ),
    )


def _moment(frozen: Frozen) -> datetime:
    return frozen.pack.made_at or datetime.max.replace(tzinfo=UTC)


def _touched(engine: Engine, found: WhatChanged) -> dict[str, Touched]:
    """Who last touched the records whose figures moved."""
    moved = [
        moved.after
        for _, walked in found.walked
        for step in walked.steps
        for moved in step.moved
        if moved.after and moved.after.where
    ]
    told: dict[str, Touched] = {}
    with reading(engine) as session:
        for where, entries in _by_record(moved).items():
            change = _change_of(session, where, entries)
            if change is not None:
                told[where] = Touched(change.person, change.at, change.action == "add")
    return told


def _by_record(moved: Iterable[Input]) -> dict[str, list[Input]]:
    records: dict[str, list[Input]] = {}
    for entry in moved:
        records.setdefault(entry.where, []).append(entry)
    return records


def _change_of(session: Any, where: str, entries: Iterable[Input]) -> Change | None:
    """The newest change of a record that set one of these values, else its newest change."""
    noun, key = _record(where)
    if noun is None:
        return None
    try:
        kept = noun.keeper.one(session, key)
    except NotFound:
        return None
    history = noun.keeper.history(session, kept.id)
    values = [float(entry.value) for entry in entries]
    setting = (change for change in history if _sets(change, values))
    return next(setting, history[0] if history else None)


def _record(where: str) -> tuple[Noun | None, str]:
    path, _, key = where.strip("/").rpartition("/")
    return NOUNS.get(path), key


def _sets(change: Change, values: Iterable[float]) -> bool:
    """Whether a change put one of the values, as it stands or in percent."""
    put = [_number(after) for _, _, after in change.changes]
    return any(
        number is not None and (_near(number, value) or _near(number / 100, value))
        for number in put
        for value in values
    )


def _number(text: str | None) -> float | None:
    try:
        return float(text or "")
    except ValueError:
        return None


def _near(first: float, second: float) -> bool:
    return abs(first - second) <= 1e-9 * max(abs(first), abs(second))
