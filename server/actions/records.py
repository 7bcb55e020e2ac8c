"""Adding, changing and importing what people enter, for every noun alike."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from server.actions.nouns import NOUNS, FieldError, Noun, Refused, read_entry, refusal
from server.core.cells import unguarded
from server.core.errors import CreelbookError, NotFound
from server.store import audit
from server.store.audit import Change
from server.store.records import Kept
from server.store.session import Engine, reading, writing

LONGEST_FILE = 10_000_000  # characters
MOST_ROWS = 20_000
PIECE = 500  # records read at a time where all are wanted


@dataclass(frozen=True, slots=True)
class FaultyRow:
    """A row of an import that cannot be stored. line: in the file, the heading is line 1."""

    line: int
    errors: tuple[FieldError, ...]


@dataclass(frozen=True, slots=True)
class Imported:
    """What an import did. stored: keys of the records added or changed."""

    stored: tuple[str, ...]
    faulty: tuple[FaultyRow, ...]


def list_records(engine: Engine, noun: Noun) -> list[Kept]:
    """Every record of a noun."""
    with reading(engine) as session:
        return noun.keeper.all(session)


def some_records(engine: Engine, noun: Noun, after: int, limit: int) -> list[Kept]:
    """The next records of a noun in the order entered, from the one behind this id on."""
    with reading(engine) as session:
        return noun.keeper.part(session, after, limit)


def every_record(engine: Engine, noun: Noun) -> Iterator[Kept]:
    """Every record of a noun, read a piece at a time; the first piece at once."""
    first = some_records(engine, noun, 0, PIECE)

    def rest() -> Iterator[Kept]:
        part = first
        while part:
            yield from part
            part = some_records(engine, noun, part[-1].id, PIECE) if len(part) == PIECE else []

    return rest()


def one_record(engine: Engine, noun: Noun, key: str) -> Kept:
    """One record. Raises NotFound."""
    with reading(engine) as session:
        return noun.keeper.one(session, key)


def record_of_form(engine: Engine, noun: Noun, key: str, record_id: str) -> Kept:
    """The record a form was filled from, also when somebody renamed it since. Raises NotFound.

    record_id: the id the form carries, as text
    """
    with reading(engine) as session:
        if record_id.isdecimal() and len(record_id) < 10:
            key = noun.keeper.key_of(session, int(record_id))
        return noun.keeper.one(session, key)


def add_record(engine: Engine, noun: Noun, given: Mapping[str, Any], person_id: int) -> str:
    """Validate and store a new record; gives its key. Raises Refused."""
    values = read_entry(noun, given)
    with _one_message(noun), writing(engine, person_id) as session:
        return noun.keeper.add(session, values)


def change_record(
    engine: Engine, noun: Noun, key: str, given: Mapping[str, Any], version: int, person_id: int
) -> str:
    """Validate and change a record read at `version`. Raises Refused, Conflict, NotFound."""
    values = read_entry(noun, given)
    with _one_message(noun), writing(engine, person_id) as session:
        return noun.keeper.change(session, key, values, version)


def history_of(engine: Engine, noun: Noun, record_id: int) -> tuple[Change, ...]:
    """All changes of one record and its parts, in the words of its entry, the newest first."""
    with reading(engine) as session:
        return noun.keeper.history(session, record_id)


@dataclass(frozen=True, slots=True)
class NamedChange:
    """A change with the noun and the key of its record. fields: what was changed."""

    at: datetime
    person: str
    action: str
    noun: str
    key: str
    fields: tuple[str, ...]


def recent_changes(engine: Engine, limit: int = 12) -> tuple[NamedChange, ...]:
    """The newest changes of records people know by name; their parts are left out."""
    nouns = {str(noun.keeper.table.__tablename__): noun for noun in NOUNS.values()}
    with reading(engine) as session:
        changes = audit.recent(session, tuple(nouns), limit)
        return tuple(
            NamedChange(
                change.at,
                change.person,
                change.action,
                nouns[change.table].one,
                nouns[change.table].keeper.key_of(session, change.row_id),
                tuple(field for field, _, _ in change.changes),
            )
            for change in changes
        )


def import_csv(
    engine: Engine, noun: Noun, text: str, person_id: int, *, keep_good: bool
) -> Imported:
    """Store the rows of a CSV file whose columns are the noun's fields.

    keep_good: store the good rows even when others are faulty; else all or nothing
    A row whose key exists already changes that record, and a column the file does not have keeps
    what it holds. A row of a noun without a key that is stored already is left as it is. Raises
    Refused when the file as a whole cannot be read.
    """
    good, faulty = read_csv(engine, noun, text)
    if faulty and not keep_good:
        return Imported((), tuple(faulty))
    return _store(engine, noun, good, faulty, person_id, keep_good=keep_good)


def read_csv(
    engine: Engine, noun: Noun, text: str
) -> tuple[list[tuple[int, dict[str, Any]]], list[FaultyRow]]:
    """The rows of a CSV file as (line, values), and the faulty ones; nothing is stored.

    Raises Refused when the file as a whole cannot be read.
    """
    good, faulty = [], []
    for line, given in _completed(engine, noun, list(_rows(noun, text))):
        try:
            good.append((line, read_entry(noun, given)))
        except Refused as refused:
            faulty.append(FaultyRow(line, refused.errors))
    return good, faulty


def _completed(
    engine: Engine, noun: Noun, rows: list[tuple[int, dict[str, Any]]]
) -> list[tuple[int, dict[str, Any]]]:
    """The rows, those of known records with what is stored in the columns the file lacks."""
    if noun.key == "id" or all(len(given) == len(noun.fields) for _, given in rows):
        return rows
    known = {kept.key: kept.values for kept in list_records(engine, noun)}
    return [
        (line, {**known.get(str(given.get(noun.key, "")).strip(), {}), **given})
        for line, given in rows
    ]


class _Undone(Exception):
    """Rolls an import back after all its rows were tried."""


def _store(
    engine: Engine,
    noun: Noun,
    good: list[tuple[int, dict[str, Any]]],
    faulty: list[FaultyRow],
    person_id: int,
    *,
    keep_good: bool,
) -> Imported:
    stored: list[str] = []
    faulty = list(faulty)
    try:
        with writing(engine, person_id) as session:
            twins = {_typed(kept.values): kept.key for kept in _keyless(session, noun)}
            for line, values in good:
                twin = twins.get(_typed(values)) if twins else None
                if twin is not None:
                    stored.append(twin)
                    continue
                try:
                    with session.begin_nested():
                        stored.append(_add_or_change(session, noun, values))
                except CreelbookError as wrong:
                    faulty.append(FaultyRow(line, (refusal(noun, wrong),)))
            if faulty and not keep_good:
                raise _Undone
    except _Undone:
        stored = []
    return Imported(tuple(stored), tuple(sorted(faulty, key=lambda row: row.line)))


def _keyless(session: Any, noun: Noun) -> list[Kept]:
    return noun.keeper.all(session) if noun.key == "id" else []


def _typed(values: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
    return tuple(sorted((name, str(value)) for name, value in values.items()))


def _add_or_change(session: Any, noun: Noun, values: Mapping[str, Any]) -> str:
    if noun.key != "id":
        try:
            kept = noun.keeper.one(session, str(values[noun.key]))
        except NotFound:
            return noun.keeper.add(session, values)
        return noun.keeper.change(session, kept.key, values, kept.version)
    return noun.keeper.add(session, values)


def _rows(noun: Noun, text: str) -> Iterable[tuple[int, dict[str, str]]]:
    if len(text) > LONGEST_FILE:
        raise Refused(
            [
                FieldError(
                    "file",
                    "File",
                    f"has {len(text)} characters; at most "
                    f"{LONGEST_FILE} are read. Split it into parts.",
                )
            ]
        )
    reader = csv.reader(io.StringIO(text.lstrip("﻿")), strict=True)
    try:
        heading = [name.strip() for name in next(reader, [])]
        unknown = [name for name in heading if name not in noun.fields]
        if not heading or unknown:
            what = f"has a column “{unknown[0][:40]}” unknown here" if unknown else "is empty"
            raise Refused(
                [FieldError("file", "File", f"{what}; the columns are: {', '.join(noun.fields)}.")]
            )
        twice = {name for name in heading if heading.count(name) > 1}
        if twice:
            raise Refused([FieldError("file", "File", f"names the column {min(twice)} twice.")])
        count, next_line = 0, reader.line_num + 1
        for cells in reader:
            line, next_line = next_line, reader.line_num + 1
            if not any(cell.strip() for cell in cells):
                continue
            count += 1
            if count > MOST_ROWS:
                raise Refused([FieldError("file", "File", f"has more than {MOST_ROWS} rows.")])
            given = dict(zip(heading, map(unguarded, cells), strict=False))
            if len(cells) > len(heading):
                given["cells beyond the heading"] = ", ".join(cells[len(heading) :])
            yield line, given
    except csv.Error as broken:
        raise Refused(
            [
                FieldError(
                    "file",
                    "File",
                    f"is not a CSV file with commas: {broken}. Save it as CSV (comma, UTF-8).",
                )
            ]
        ) from broken


class _one_message:
    """Turns a store's refusal into one beside its field."""

    def __init__(self, noun: Noun) -> None:
        self.noun = noun

    def __enter__(self) -> None:
        return None

    def __exit__(self, kind: Any, wrong: BaseException | None, trace: Any) -> None:
        if isinstance(wrong, CreelbookError) and wrong.code == "bad_value":
            raise Refused([refusal(self.noun, wrong)]) from wrong
