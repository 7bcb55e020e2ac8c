"""Keeping records as people enter them: one keeper per noun, all with the same five verbs.

A keeper turns a flat entry (field -> value, the columns of the form, the CSV and the API) into rows
and back. Nouns whose entry is one row need no code of their own.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import UniqueConstraint, inspect
from sqlalchemy.exc import IntegrityError
from sqlmodel import Session, col, select

from server.core.errors import BadValue, Conflict, NotFound
from server.store import audit
from server.store.audit import Change
from server.store.tables import Person, Record

Values = dict[str, Any]
Told = dict[str, tuple[str | None, str | None]]


@dataclass(frozen=True, slots=True)
class Kept:
    """A stored record as it was entered.

    version: number of the record's last change, to be sent back with an edit
    key: what its address shows (a code or name, or the id)
    """

    id: int
    key: str
    version: int
    owner: str
    changed_at: datetime
    values: Values


class Keeper:
    """Reads and writes the records of one table whose entry is one row.

    table: the table
    fields: names of the columns that people enter
    key: the column shown in addresses; unique
    parts: tables whose rows hang on a record, each with the column that names the record
    """

    parts: tuple[tuple[type[Record], str], ...] = ()

    def __init__(self, table: type[Record], key: str = "id") -> None:
        self.table = table
        self.key = key
        self.what = str(table.__tablename__).replace("_", " ")
        self.fields = tuple(name for name in table.model_fields if name not in Record.model_fields)
        self.unique = [
            tuple(column.name for column in rule.columns)
            for rule in inspect(table).local_table.constraints
            if isinstance(rule, UniqueConstraint)
        ]

    def all(self, session: Session) -> list[Kept]:
        """Every record, in the order entered."""
        rows = session.exec(select(self.table).order_by(col(self.table.id))).all()
        return self._kept(session, rows)

    def part(self, session: Session, after: int, limit: int) -> list[Kept]:
        """The next records in the order entered, from the one behind this id on."""
        statement = select(self.table).where(col(self.table.id) > after)
        rows = session.exec(statement.order_by(col(self.table.id)).limit(limit)).all()
        return self._kept(session, rows)

    def one(self, session: Session, key: str) -> Kept:
        """The record with this key. Raises NotFound."""
        return self._kept(session, [self._row(session, key)])[0]

    def key_of(self, session: Session, row_id: int) -> str:
        """The key of a record by its id; the id itself when it is gone."""
        row = session.get(self.table, row_id)
        return str(row_id) if row is None else str(getattr(row, self.key))

    def add(self, session: Session, values: Mapping[str, Any]) -> str:
        """Store a new record and give its key. Raises BadValue when the key is taken."""
        self._refuse_taken(session, values, None)
        with self._refusing_twins():
            row = self.table(owner_id=session.info["person_id"], **self.row_values(session, values))
            session.add(row)
            session.flush()
            self.write_parts(session, row, values)
            session.flush()
        return str(getattr(row, self.key))

    def change(self, session: Session, key: str, values: Mapping[str, Any], version: int) -> str:
        """Change a record, if nobody else has since `version`. Raises Conflict, NotFound."""
        row = self._row(session, key)
        if row.row_version != version:
            raise Conflict(
                f"Somebody else changed this record since you opened it (version {version}, now "
                f"{row.row_version}); nothing was stored.",
                field=self.key,
                value=key,
                remedy="Open it again, compare, and repeat your change.",
            )
        self._refuse_taken(session, values, row.id)
        with self._refusing_twins():
            for name, value in self.row_values(session, values).items():
                setattr(row, name, value)
            row.changed_at = datetime.now(UTC)  # a changed part is a change of its record
            session.flush()
            self.write_parts(session, row, values)
            session.flush()
        return str(getattr(row, self.key))

    def history(self, session: Session, row_id: int) -> tuple[Change, ...]:
        """All changes of a record and its parts, in the words of the entry, the newest first."""
        table = str(self.table.__tablename__)
        told: dict[tuple[datetime, str], tuple[str, Told]] = {}
        for change in reversed(audit.history(session, table, row_id)):
            _, fields = told.setdefault((change.at, change.person), (change.action, {}))
            for field, before, after in change.changes:
                fields.update(self.in_words(session, field, before, after))
        for part, owner in self.parts:
            for change, held in audit.part_changes(session, part, owner, row_id):
                _, fields = told.setdefault((change.at, change.person), ("change", {}))
                for field, before, after in change.changes:
                    name = self.part_field(part, change.action, held, field)
                    if name:
                        fields.setdefault(name, (before, after))
        return tuple(
            Change(
                at,
                person,
                action,
                table,
                row_id,
                tuple((name, *fields[name]) for name in sorted(fields)),
            )
            for (at, person), (action, fields) in sorted(told.items(), reverse=True)
        )

    def in_words(self, session: Session, field: str, before: str | None, after: str | None) -> Told:
        """A changed column as fields of the entry; a link to another row is spelled out."""
        return {} if field == "owner_id" else {field: (before, after)}

    def part_field(
        self, part: type[Record], action: str, held: Mapping[str, str | None], field: str
    ) -> str:
        """The field of the entry that a column of a part is, or "" when it is none.

        held: what the row of the part holds
        """
        return ""

    def row_values(self, session: Session, values: Mapping[str, Any]) -> Values:
        """The columns of the main row."""
        return {name: values[name] for name in self.fields if name in values}

    def write_parts(self, session: Session, row: Any, values: Mapping[str, Any]) -> None:
        """Write the rows that hang on the main row; nothing for a plain record."""

    def entries(self, session: Session, rows: Sequence[Any]) -> list[Values]:
        """The entry of each row."""
        return [{name: getattr(row, name) for name in self.fields} for row in rows]

    def _kept(self, session: Session, rows: Sequence[Record]) -> list[Kept]:
        owners = dict(session.exec(select(Person.id, Person.name)).all())
        return [
            Kept(
                row.id or 0,
                str(getattr(row, self.key)),
                row.row_version,
                owners.get(row.owner_id, ""),
                row.changed_at,
                entry,
            )
            for row, entry in zip(rows, self.entries(session, rows), strict=True)
        ]

    def _row(self, session: Session, key: str) -> Any:
        if "\0" in key or (self.key == "id" and not (key.isdecimal() and len(key) < 10)):
            found = None
        else:
            wanted: Any = int(key) if self.key == "id" else key
            found = session.exec(
                select(self.table).where(getattr(self.table, self.key) == wanted)
            ).first()
        if found is None:
            raise NotFound(
                f"There is no {self.what} “{key[:40]}”.",
                field=self.key,
                value=key,
                remedy="Check the address or the list.",
            )
        return found

    def _refuse_taken(self, session: Session, values: Mapping[str, Any], own: int | None) -> None:
        for names in self.unique:
            if not all(name in values for name in names):
                continue
            statement = select(self.table.id)
            for name in names:
                statement = statement.where(getattr(self.table, name) == values[name])
            taken = session.exec(statement).first()
            if taken is not None and taken != own:
                what = " with ".join(f"{name} “{values[name]}”" for name in names)
                raise BadValue(
                    f"{what[0].upper()}{what[1:]} is already used.",
                    field=names[-1],
                    value=values[names[-1]],
                    remedy="Choose another, or edit that one.",
                )

    @contextmanager
    def _refusing_twins(self) -> Iterator[None]:
        try:
            yield
        except IntegrityError as broken:
            raise BadValue(
                f"This {self.what} holds something twice that may stand only once.",
                field=self.key,
                remedy="Look for the same entry among its fields and in the list.",
            ) from broken


def named(session: Session, table: type[Record], row_id: str | None, name: str) -> str | None:
    """What people call the row that an audit event links to by number; None without one."""
    row = session.get(table, int(row_id)) if row_id else None
    return row_id if row is None else str(getattr(row, name))


def replace_parts(
    session: Session,
    table: type[Record],
    owned_by: Mapping[str, Any],
    wanted: Sequence[Values],
    same: Sequence[str],
) -> None:
    """Make the rows of `table` that belong to a record equal to `wanted`.

    owned_by: column -> value that ties the parts to their record
    same: columns that tell which stored part a wanted one is
    """
    statement = select(table)
    for name, value in owned_by.items():
        statement = statement.where(getattr(table, name) == value)
    stored = {tuple(getattr(row, name) for name in same): row for row in session.exec(statement)}
    for part in wanted:
        row = stored.pop(tuple(part[name] for name in same), None)
        if row is None:
            session.add(table(owner_id=session.info["person_id"], **owned_by, **part))
            continue
        for name, value in part.items():
            setattr(row, name, value)
    for row in stored.values():
        session.delete(row)
