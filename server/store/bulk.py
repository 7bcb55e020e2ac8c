"""Changing and adding many rows at once.

The one module that writes past the session's own bookkeeping, so it checks versions and writes the
audit events itself. Everything happens in the caller's transaction (`writing`), in pieces, so that
memory stays small; an error anywhere leaves nothing behind. `store/undo.py` takes such a change
back.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import islice
from typing import Any, TypeVar

from sqlalchemy import Table, bindparam, delete, insert, select, update
from sqlmodel import Session, SQLModel

from server.core.errors import Conflict
from server.store.audit import as_text, whole_row, write_events
from server.store.tables import Record

PIECE = 500  # rows read and written at a time

Item = TypeVar("Item")


@dataclass(frozen=True, slots=True)
class RowChange:
    """New values of some columns of one row.

    version: the row's version at which the change was decided
    touched: give the row a new version even if no column differs, for something of it did change
    """

    row_id: int
    version: int
    values: Mapping[str, Any]
    touched: bool = False


def in_pieces(items: Iterable[Item], size: int = PIECE) -> Iterator[list[Item]]:
    """The items, some at a time."""
    rest = iter(items)
    while piece := list(islice(rest, size)):
        yield piece


def change_rows(session: Session, table: type[Record], changes: Iterable[RowChange]) -> int:
    """Change many rows of a table; gives how many differ now. Raises Conflict, naming the row.

    A row that holds the wanted values already is left alone.
    """
    rows = table_named(str(table.__tablename__))
    changed = sum(change_piece(session, rows, piece) for piece in in_pieces(changes))
    session.expire_all()
    return changed


def add_rows(session: Session, table: type[Record], rows: Sequence[Mapping[str, Any]]) -> list[int]:
    """Add many rows with their audit events; gives their ids in the same order."""
    if not rows:
        return []
    stored = table_named(str(table.__tablename__))
    owned = {
        "owner_id": session.info["person_id"], "row_version": 1, "changed_at": datetime.now(UTC)
    }  # fmt: skip
    whole = [{**owned, **row} for row in rows]
    added = insert(stored).returning(stored.c.id, sort_by_parameter_order=True)
    ids = list(session.execute(added, whole).scalars())
    write_events(
        session,
        [
            (stored.name, row_id, "add", whole_row(row, removed=False))
            for row_id, row in zip(ids, whole, strict=True)
        ],
    )
    return ids


def remove_rows(session: Session, table: Table, ids: Sequence[int]) -> None:
    """Remove many rows of a table with their audit events. A link among them is cut first."""
    own_links = [key.parent.name for key in table.foreign_keys if key.column.table is table]
    for piece in in_pieces(ids):  # told first, so that the events hold the links too
        rows = session.execute(select(table).where(table.c.id.in_(piece))).mappings().all()
        write_events(
            session,
            [(table.name, row["id"], "remove", whole_row(dict(row), removed=True)) for row in rows],
        )
        for name in own_links:
            session.execute(update(table).where(table.c.id.in_(piece)).values({name: None}))
    for piece in in_pieces(ids):
        session.execute(delete(table).where(table.c.id.in_(piece)))


def name_of(session: Session, table: str, row_id: int) -> str:
    """What people call a row: by its code or name, else by the offer it belongs to."""
    what, columns = table.replace("_", " "), table_named(table).c
    for label in ("code", "name"):
        if label in columns:
            text = session.execute(select(columns[label]).where(columns.id == row_id)).scalar()
            return f"{what} {row_id if text is None else text}"
    if "offer_id" in columns:
        offer = session.execute(select(columns.offer_id).where(columns.id == row_id)).scalar()
        if offer is not None:
            return f"{what} of {name_of(session, 'offer', offer)}"
    return f"{what} {row_id}"


def table_named(name: str) -> Table:
    """A table by its name."""
    return SQLModel.metadata.tables[name]


def change_piece(session: Session, table: Table, piece: Sequence[RowChange]) -> int:
    """Change some rows of a table; see `change_rows`."""
    names = sorted({name for change in piece for name in change.values})
    columns = [table.c.id, table.c.row_version, *(table.c[name] for name in names)]
    wanted = table.c.id.in_([change.row_id for change in piece])
    held = {row["id"]: row for row in session.execute(select(*columns).where(wanted)).mappings()}
    events, rows = [], []
    for change in piece:
        row = held.get(change.row_id)
        if row is None or row["row_version"] != change.version:
            raise _conflict(session, table, change, row)
        told = {
            name: [as_text(row[name]), as_text(value)]
            for name, value in change.values.items()
            if as_text(row[name]) != as_text(value)
        }
        if told or change.touched:
            values = {name: change.values.get(name, row[name]) for name in names}
            rows.append({"_id": change.row_id, "_version": change.version, **_new(values)})
        if told:
            events.append((table.name, change.row_id, "change", told))
    _write(session, table, names, rows)
    write_events(session, events)
    return len(rows)


def _write(
    session: Session, table: Table, names: Sequence[str], rows: Sequence[Mapping[str, Any]]
) -> None:
    """Update rows that are still at their version; all of them, or Conflict."""
    if not rows:
        return
    statement = (
        update(table)
        .where(table.c.id == bindparam("_id"), table.c.row_version == bindparam("_version"))
        .values(
            row_version=table.c.row_version + 1,
            changed_at=datetime.now(UTC),
            **{name: bindparam(f"new_{name}") for name in names},
        )
    )
    written: Any = session.connection().execute(statement, list(rows))
    if written.rowcount != len(rows):
        raise Conflict(
            f"Somebody else changed a {table.name} meanwhile; nothing was stored.",
            field=table.name,
            remedy="Look at the preview again, and repeat the change.",
        )


def _new(values: Mapping[str, Any]) -> dict[str, Any]:
    return {f"new_{name}": value for name, value in values.items()}


def _conflict(session: Session, table: Table, change: RowChange, row: Any) -> Conflict:
    name = name_of(session, table.name, change.row_id)
    now = "is gone" if row is None else f"is at version {row['row_version']} now"
    return Conflict(
        f"Somebody else changed {name} since the preview (it was at version {change.version} and "
        f"{now}); nothing was stored.",
        field=table.name,
        value=name,
        remedy="Look at the preview again, and repeat the change.",
    )
