"""Who changed what, when, from which value to which: written with the change itself."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import Engine, event, func, insert, inspect, or_
from sqlmodel import Session, col, select
from sqlmodel.sql.expression import SelectOfScalar

from server.store.failures import speaking_plainly
from server.store.tables import AuditEvent, Person, Record

_BOOKKEEPING = {"id", "row_version", "changed_at"}
Event = tuple[str, Any, str, Mapping[str, Any]]  # table, id of the row, action, changes


@dataclass(frozen=True, slots=True)
class Change:
    """One audit event as people read it. changes: (field, before, after)."""

    at: datetime
    person: str
    action: str
    table: str
    row_id: int
    changes: tuple[tuple[str, str | None, str | None], ...]


@contextmanager
def recorded(session: Session, person_id: int) -> Iterator[None]:
    """While open, every flush of the session leaves audit events in the person's name.

    All events of one transaction carry one moment, so that a record and its parts read as one.
    """

    def before_flush(flushed: Session, _context: Any, _instances: Any) -> None:
        if any(isinstance(row, AuditEvent) for row in (*flushed.dirty, *flushed.deleted)):
            raise RuntimeError("An audit event is written once and never touched again.")
        for row in flushed.dirty:
            if isinstance(row, Record) and flushed.is_modified(row):
                row.changed_at = datetime.now(UTC)
        flushed.info["audit"] = [
            *((row, "change", _changes(row)) for row in flushed.dirty if _counts(flushed, row)),
            *(
                (row, "remove", changes_of(row, removed=True))
                for row in flushed.deleted
                if isinstance(row, Record)
            ),
            *((row, "add", None) for row in flushed.new if isinstance(row, Record)),
        ]

    def after_flush(flushed: Session, _context: Any) -> None:
        write_events(
            flushed,
            [
                (
                    str(row.__tablename__),
                    row.id,
                    action,
                    changes if changes is not None else changes_of(row, removed=False),
                )
                for row, action, changes in flushed.info.pop("audit", ())
                if changes != {}
            ],
        )

    session.info["person_id"] = person_id
    session.info.pop("moment", None)
    event.listen(session, "before_flush", before_flush)
    event.listen(session, "after_flush", after_flush)
    try:
        yield
    finally:
        event.remove(session, "before_flush", before_flush)
        event.remove(session, "after_flush", after_flush)


def write_events(session: Session, events: Iterable[Event]) -> None:
    """Store audit events in the name of the session's person, at the one moment of its work."""
    rows = [
        {
            "at": moment_of(session),
            "person_id": session.info["person_id"],
            "table_name": table,
            "row_id": row_id,
            "action": action,
            "changes": changes,
        }
        for table, row_id, action, changes in events
    ]
    if rows:
        session.execute(insert(AuditEvent), rows)


def moment_of(session: Session) -> datetime:
    """The moment that every audit event of this transaction carries."""
    moment: datetime = session.info.setdefault("moment", datetime.now(UTC))
    return moment


def _counts(session: Session, row: object) -> bool:
    return isinstance(row, Record) and session.is_modified(row)


def _changes(row: Record) -> dict[str, list[str | None]]:
    changes = {}
    for attribute in inspect(row).attrs:
        history = attribute.history
        if attribute.key not in _BOOKKEEPING and history.has_changes():
            before = history.deleted[0] if history.deleted else None
            changes[attribute.key] = [as_text(before), as_text(attribute.value)]
    return changes


def changes_of(row: Record, *, removed: bool) -> dict[str, list[str | None]]:
    """What the audit keeps of a row that was added or removed: every value it held."""
    return whole_row(row.model_dump(), removed=removed)


def whole_row(values: Mapping[str, Any], *, removed: bool) -> dict[str, list[str | None]]:
    """Everything a row that is added or removed holds, as the changes of its event."""
    texts = {
        key: as_text(value)
        for key, value in values.items()
        if key not in _BOOKKEEPING and value not in (None, "")
    }
    return {key: [text, None] if removed else [None, text] for key, text in texts.items()}


def as_text(value: object) -> str | None:
    """A value as an audit event keeps it."""
    if value is None:
        return None
    return value.isoformat() if isinstance(value, (date, datetime)) else str(value)


def data_version(engine: Engine) -> int:
    """A number that grows with every recorded change: what was computed before it is still true."""
    with speaking_plainly(), engine.connect() as connection:
        return connection.exec_driver_sql("SELECT max(id) FROM audit_event").scalar() or 0


def newest() -> Any:
    """The number `data_version` gives, for use inside a statement; null in an empty house."""
    return select(func.max(col(AuditEvent.id))).scalar_subquery()


def counted_since(session: Session, since: int) -> dict[str, int]:
    """How many events of each table came after one."""
    name = col(AuditEvent.table_name)
    counted = select(name, func.count()).where(col(AuditEvent.id) > since).group_by(name)
    return dict(session.exec(counted).all())


def events_since(session: Session, since: int, tables: Collection[str]) -> Sequence[AuditEvent]:
    """The events of some tables that came after one."""
    statement = select(AuditEvent).where(col(AuditEvent.id) > since)
    return session.exec(statement.where(col(AuditEvent.table_name).in_(tables))).all()


def history(session: Session, table: str, row_id: int) -> tuple[Change, ...]:
    """All changes of one row, the newest first."""
    found = session.exec(
        _newest_first()
        .where(col(AuditEvent.table_name) == table)
        .where(col(AuditEvent.row_id) == row_id)
    )
    return tuple(_change(row, name) for row, name in found)


def part_changes(
    session: Session, table: type[Record], owner: str, owner_id: int
) -> list[tuple[Change, dict[str, str | None]]]:
    """Changes of the rows that hang on a record, the oldest first, each with what its row held.

    owner: the column of `table` that names the record
    """
    name, own = str(table.__tablename__), str(owner_id)
    present = select(table.id).where(getattr(table, owner) == owner_id)
    removed = (
        select(AuditEvent.row_id)
        .where(col(AuditEvent.table_name) == name)
        .where(col(AuditEvent.action) == "remove")
        .where(col(AuditEvent.changes)[(owner, 0)].as_string() == own)
    )
    found = session.exec(
        _newest_first()
        .where(col(AuditEvent.table_name) == name)
        .where(or_(col(AuditEvent.row_id).in_(present), col(AuditEvent.row_id).in_(removed)))
    ).all()
    held: dict[int, dict[str, str | None]] = {}
    told = []
    for row, person in reversed(found):
        change = _change(row, person)
        values = {} if change.action == "add" else held.get(change.row_id, {})
        values |= {
            field: before if change.action == "remove" else after
            for field, before, after in change.changes
        }
        held[change.row_id] = values
        if values.get(owner) == own:  # a number may have belonged to another record before
            told.append((change, dict(values)))
    return told


def recent(session: Session, tables: Collection[str], limit: int = 20) -> tuple[Change, ...]:
    """The newest changes of some tables."""
    found = session.exec(_newest_first().where(col(AuditEvent.table_name).in_(tables)).limit(limit))
    return tuple(_change(row, name) for row, name in found)


def _newest_first() -> SelectOfScalar[tuple[AuditEvent, str]]:
    return (
        select(AuditEvent, Person.name)  # type: ignore[return-value]
        .join(Person, col(Person.id) == col(AuditEvent.person_id))
        .order_by(col(AuditEvent.id).desc())
    )


def _change(row: AuditEvent, name: str) -> Change:
    return Change(
        row.at,
        name,
        row.action,
        row.table_name,
        row.row_id,
        tuple((field, before, after) for field, (before, after) in sorted(row.changes.items())),
    )


def rows_changed(table: str) -> SelectOfScalar[int]:
    """Ids of the rows of a table that were changed since they were added."""
    return select(AuditEvent.row_id).where(
        col(AuditEvent.table_name) == table, col(AuditEvent.action) == "change"
    )
