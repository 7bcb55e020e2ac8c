"""Taking back what one moment changed, from its audit events.

The contract of `undo_moment`: it takes back every audit event of one moment and person, or nothing.
Changed rows get the values they had before, added rows are removed, and both leave audit events of
their own. It is refused, with reasons, when a row of the moment was changed or removed since, when
something that the moment did not add refers to a row it added, and when the moment removed a row.
What hangs on an added row and was added in the same moment goes with it; an added yarn stays, for
the history of offers tells by its row what it was. Tables without an audit
(files, lines of an intake) are the caller's to look after, in the same transaction.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import Boolean, Column, ColumnElement, Date, Integer, String, Table, func, select
from sqlmodel import Session, SQLModel, col
from sqlmodel.sql.sqltypes import AutoString

from server.core.errors import Conflict, NotFound
from server.store.bulk import (
    PIECE,
    RowChange,
    change_piece,
    in_pieces,
    name_of,
    remove_rows,
    table_named,
)
from server.store.exact import Exact, Moment
from server.store.tables import Person

MOST_REASONS = 20
STAYS = ("yarn",)  # the history of offers tells by its row what a yarn was
_NAMED_LINKS = (("slot", "pinned_offer", "offer", "code"),)  # by name, not by number
_EVENT: Table = SQLModel.metadata.tables["audit_event"]


@dataclass(frozen=True, slots=True)
class Undone:
    """What an undo did, in rows."""

    changed: int
    removed: int


@dataclass(frozen=True, slots=True)
class WholeChange:
    """What one transaction did. counts: (table, action) -> events."""

    at: datetime
    person_id: int
    person: str
    counts: Mapping[tuple[str, str], int]


class CannotUndo(Conflict):
    """A moment that cannot be taken back, with every reason that was looked for."""

    def __init__(self, reasons: Sequence[str]) -> None:
        super().__init__(
            f"This change cannot be taken back: {'; '.join(reasons)}.",
            field="moment",
            remedy="Nothing was changed. Correct what is named, one by one.",
        )
        self.reasons = tuple(reasons)


def moment_told(session: Session, at: datetime, person_id: int) -> WholeChange:
    """What one moment of a person did. Raises NotFound."""
    event = _EVENT.c
    found = session.execute(
        select(event.table_name, event.action, func.count())
        .where(*_of(at, person_id))
        .group_by(event.table_name, event.action)
    ).all()
    if not found:
        raise NotFound(
            f"Nothing was changed at {at.isoformat()}.",
            field="moment",
            value=at.isoformat(),
            remedy="Choose a change from the list.",
        )
    name = session.execute(select(col(Person.name)).where(col(Person.id) == person_id)).scalar()
    counts = {(table, action): count for table, action, count in found}
    return WholeChange(at, person_id, name or "", counts)


def recent_moments(session: Session, table: str, limit: int = 10) -> tuple[WholeChange, ...]:
    """The newest moments that changed several rows of a table, the newest first."""
    event = _EVENT.c
    found = session.execute(
        select(event.at, event.person_id)
        .where(event.table_name == table, event.action == "change")
        .group_by(event.at, event.person_id)
        .having(func.count() > 1)
        .order_by(func.max(event.id).desc())
        .limit(limit)
    ).all()
    return tuple(moment_told(session, at, person_id) for at, person_id in found)


def undo_moment(
    session: Session,
    at: datetime,
    person_id: int,
    *,
    stays: Collection[str] = STAYS,
) -> Undone:
    """Take back what `person_id` did at the moment `at`; see the contract above.

    at: the moment of its audit events, as `audit.moment_of` gave it
    stays: tables whose added rows are left where they are
    Raises NotFound for a moment without events, and CannotUndo.
    """
    told = moment_told(session, at, person_id)
    reasons = [
        f"it removed {count} of {table.replace('_', ' ')}, which is not brought back"
        for (table, action), count in told.counts.items()
        if action == "remove"
    ]
    reasons += _changed_since(session, at, person_id)
    if reasons:
        raise CannotUndo(reasons)
    order = [table.name for table in SQLModel.metadata.sorted_tables]
    changed = sum(
        _change_back(session, table_named(name), at, person_id)
        for name in order
        if (name, "change") in told.counts
    )
    removed = sum(
        _take_away(session, table_named(name), at, person_id)
        for name in reversed(order)
        if (name, "add") in told.counts and name not in stays
    )
    session.expire_all()
    return Undone(changed, removed)


def _of(at: datetime, person_id: int) -> tuple[ColumnElement[bool], ...]:
    return (_EVENT.c.at == at, _EVENT.c.person_id == person_id)


def _added(table: str, at: datetime, person_id: int) -> Any:
    """Ids of the rows of a table that a moment added."""
    return select(_EVENT.c.row_id).where(
        *_of(at, person_id), _EVENT.c.table_name == table, _EVENT.c.action == "add"
    )


def _changed_since(session: Session, at: datetime, person_id: int) -> list[str]:
    """Reasons: rows of the moment that a later event is about, the newest first."""
    event = _EVENT.c
    about: set[tuple[str, int]] = set()
    last = 0
    for event_id, table, row_id in session.execute(
        select(event.id, event.table_name, event.row_id).where(*_of(at, person_id))
    ):
        about.add((table, row_id))
        last = max(last, event_id)
    later = select(event.table_name, event.row_id, event.at).where(event.id > last)
    found: dict[tuple[str, int], datetime] = {}
    for table, row_id, when in session.execute(
        later.order_by(event.id.desc()), execution_options={"yield_per": PIECE}
    ):
        if (table, row_id) in about and len(found) < MOST_REASONS:
            found.setdefault((table, row_id), when)
    return [
        f"{name_of(session, table, row_id)} was changed since, on {when:%Y-%m-%d %H:%M} UTC"
        for (table, row_id), when in found.items()
    ]


def _change_back(session: Session, table: Table, at: datetime, person_id: int) -> int:
    """Give the rows that a moment changed, and did not add, the values from before."""
    added = set(session.execute(_added(table.name, at, person_id)).scalars())
    about = session.execute(
        select(_EVENT.c.id, _EVENT.c.row_id)
        .where(*_of(at, person_id))
        .where(_EVENT.c.table_name == table.name, _EVENT.c.action == "change")
    )
    events: dict[int, list[int]] = {}
    for event_id, row_id in about:
        if row_id not in added:
            events.setdefault(row_id, []).append(event_id)
    return sum(
        _piece_back(session, table, ids, [each for row_id in ids for each in events[row_id]])
        for ids in in_pieces(events)
    )


def _piece_back(
    session: Session, table: Table, ids: Sequence[int], event_ids: Sequence[int]
) -> int:
    found = session.execute(
        select(_EVENT.c.row_id, _EVENT.c.changes)
        .where(_EVENT.c.id.in_(event_ids))
        .order_by(_EVENT.c.id.desc())
    ).all()
    before: dict[int, dict[str, Any]] = {row_id: {} for row_id in ids}
    for row_id, changes in found:  # the oldest event of a row comes last and has the last word
        before[row_id] |= {name: _value(table.c[name], texts[0]) for name, texts in changes.items()}
    rows = session.execute(select(table.c.id, table.c.row_version).where(table.c.id.in_(ids)))
    versions = {row.id: row.row_version for row in rows}
    return change_piece(
        session,
        table,
        [RowChange(row_id, versions.get(row_id, 0), before[row_id]) for row_id in ids],
    )


def _value(column: Column[Any], text: str | None) -> Any:
    """A value back from the text an audit event keeps of it."""
    readers: tuple[tuple[type, Callable[[str], Any]], ...] = (
        (Exact, Decimal), (Moment, datetime.fromisoformat), (AutoString, str), (String, str),
        (Boolean, lambda said: said == "True"), (Integer, int), (Date, date.fromisoformat),
    )  # fmt: skip
    reader = next((reader for kind, reader in readers if isinstance(column.type, kind)), None)
    if text is None:
        return "" if reader is str and not column.nullable else None
    if reader is None:
        what = f"{column.name.replace('_', ' ')} of {column.table.name}"
        raise CannotUndo([f"what {what} held before is not kept in a form that can be read back"])
    return reader(text)


def _take_away(session: Session, table: Table, at: datetime, person_id: int) -> int:
    """Remove the rows of a table that a moment added, unless something else refers to one."""
    added = _added(table.name, at, person_id)
    used = _used(session, table, added)
    if used:
        raise CannotUndo(used)
    ids = list(session.execute(added).scalars())
    remove_rows(session, table, ids)
    return len(ids)


def _used(session: Session, table: Table, added: Any) -> list[str]:
    """Reasons: what refers to the rows added, and was not added with them."""
    found: list[tuple[str, int, int]] = []
    for child, name in _links_to(table):
        links = select(child.c.id, child.c[name]).where(child.c[name].in_(added))
        if child is table:
            links = links.where(child.c.id.not_in(added))
        rows = session.execute(links.order_by(child.c.id).limit(MOST_REASONS))
        found += ((child.name, child_id, row_id) for child_id, row_id in rows)
    for child_name, name, parent, label in _NAMED_LINKS:
        if parent == table.name:
            child = table_named(child_name)
            named = (
                select(child.c.id, table.c.id)
                .join(child, child.c[name] == table.c[label])
                .where(table.c.id.in_(added))
                .limit(MOST_REASONS)
            )
            found += ((child_name, *pair) for pair in session.execute(named))
    return [
        f"{name_of(session, child, child_id)} uses {name_of(session, table.name, row_id)}"
        for child, child_id, row_id in found[:MOST_REASONS]
    ]


def _links_to(table: Table) -> list[tuple[Table, str]]:
    """Columns that refer to rows of this table, without those whose rows go with it anyway."""
    return [
        (child, key.parent.name)
        for child in SQLModel.metadata.sorted_tables
        for key in child.foreign_keys
        if key.column.table is table and key.ondelete != "CASCADE"
    ]
