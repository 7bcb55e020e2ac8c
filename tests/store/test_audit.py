"""Every change leaves its event with person, before and after; no event is ever touched again."""

from __future__ import annotations

import re
from concurrent.futures import ThreadPoolExecutor, wait
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Engine, func, select
from sqlmodel import Session, SQLModel

import server
from server.actions.nouns import NOUNS
from server.core.errors import CreelbookError
from server.store import tables
from server.store.audit import data_version, history, recent
from server.store.people import add_person
from server.store.records import replace_parts
from server.store.session import reading, writing
from tests.store.databases import EDITS, EVERY_NOUN, GIVEN, entry_of, events, store

every_noun = pytest.mark.parametrize("path", EVERY_NOUN)
PROGRAM = sorted(Path(str(server.__file__)).parent.rglob("*.py"))


def table_of(path: str) -> str:
    return str(NOUNS[path].keeper.table.__tablename__)


def change(engine: Engine, person: int, path: str, key: str, version: int, **typed: Any) -> None:
    with writing(engine, person) as session:
        NOUNS[path].keeper.change(session, key, entry_of(path, **typed), version)


@every_noun
def test_a_new_record_leaves_an_event_with_all_that_was_entered(
    engine: Engine, person: int, path: str
) -> None:
    store(engine, person, path)
    (event,) = (each for each in events(engine) if each.table_name == table_of(path))
    assert (event.action, event.person_id) == ("add", person)
    assert abs((datetime.now(UTC) - event.at).total_seconds()) < 60
    entered = {
        name: value
        for name, value in entry_of(path).items()
        if name in NOUNS[path].keeper.fields and value not in (None, "")
    }
    kept = {name: after for name, (before, after) in event.changes.items() if before is None}
    assert {name: kept[name] for name in entered} == {
        name: str(value) for name, value in entered.items()
    }


@every_noun
def test_an_edit_leaves_who_made_it_and_each_field_before_and_after(
    engine: Engine, person: int, path: str
) -> None:
    key = store(engine, person, path)
    other = add_person(engine, name="Teodoro Ancira")
    seen = len(events(engine))
    change(engine, other, path, key, 1, **EDITS[path])
    new = events(engine)[seen:]
    before, after = entry_of(path), entry_of(path, **EDITS[path])
    assert {event.person_id for event in new} == {other}
    (own,) = (event.changes for event in new if event.table_name == table_of(path))
    assert own == {
        name: [
            None if before[name] is None else str(before[name]),
            None if after[name] is None else str(after[name]),
        ]
        for name in NOUNS[path].keeper.fields
        if name in EDITS[path]
    }


@pytest.mark.parametrize(
    ("path", "part", "expected"),
    [
        (
            "offers",
            "test_value",
            [("remove", "value", ["19.8", None]), ("change", "value", ["14.60", "13.9"])],
        ),
        ("constructions", "slot", [("change", "ne", ["6", "6.2"])]),
        ("bases", "house_regain", [("remove", "regain_percent", ["8.0", None])]),
    ],
)
def test_an_edit_of_a_part_is_recorded_with_the_part(
    engine: Engine,
    person: int,
    path: str,
    part: str,
    expected: list[tuple[str, str, list[str | None]]],
) -> None:
    key = store(engine, person, path)
    seen = len(events(engine))
    change(engine, person, path, key, 1, **EDITS[path])
    new = [event for event in events(engine)[seen:] if event.table_name == part]
    assert len(new) == len(expected)
    for action, field, values in expected:
        assert any(each.action == action and each.changes.get(field) == values for each in new)


def test_a_price_break_taken_out_is_recorded(engine: Engine, person: int) -> None:
    store(engine, person, "offers")
    seen = len(events(engine))
    left = [{"from_tonnes": Decimal("40"), "price": Decimal("2250.00")}]
    with writing(engine, person) as session:
        replace_parts(session, tables.PriceBreakRow, {"offer_id": 1}, left, ("from_tonnes",))
    (removed,) = events(engine)[seen:]
    assert (removed.action, removed.table_name) == ("remove", "price_break")
    assert removed.changes["from_tonnes"] == ["100.50", None]
    assert removed.changes["price"] == ["2190", None]


def test_every_part_of_a_new_record_is_recorded(engine: Engine, person: int) -> None:
    for path in ("offers", "constructions", "bases"):
        store(engine, person, path)
    with reading(engine) as session:
        for table in SQLModel.metadata.sorted_tables:
            if "row_version" not in table.columns:
                continue
            ids = set(session.connection().execute(select(table.c.id)).scalars())
            added = {
                each.row_id
                for each in events(engine)
                if each.table_name == table.name and each.action == "add"
            }
            assert added == ids, table.name


def test_saving_without_a_change_leaves_no_event(engine: Engine, person: int) -> None:
    for path in EVERY_NOUN:
        if path != "suppliers":
            key = store(engine, person, path)
            seen = data_version(engine)
            change(engine, person, path, key, 1)
            assert data_version(engine) == seen, path


def test_a_removed_row_leaves_all_its_values(engine: Engine, person: int) -> None:
    store(engine, person, "gate")
    with writing(engine, person) as session:
        row = session.get(tables.GateLimitRow, 1)
        assert row is not None
        session.delete(row)
    last = events(engine)[-1]
    assert (last.action, last.table_name, last.row_id) == ("remove", "gate_limit", 1)
    assert last.changes["value"] == ["11.50", None]
    assert last.changes["role"] == ["filling", None]


def test_the_history_of_a_record_has_the_newest_first(engine: Engine, person: int) -> None:
    other = add_person(engine, name="Teodoro Ancira")
    key = store(engine, person, "suppliers")
    store(engine, person, "suppliers", name="Somebody else")
    for version, notes in enumerate(("one", "two", "three"), start=1):
        change(engine, other, "suppliers", key, version, notes=notes)
    with reading(engine) as session:
        told = history(session, "supplier", 1)
        newest = recent(session, ["supplier"], limit=2)
        assert recent(session, ["offer"]) == ()
    assert [each.action for each in told] == ["change", "change", "change", "add"]
    assert [each.person for each in told] == [*["Teodoro Ancira"] * 3, "Rosalía Quintero"]
    assert [each.changes for each in told[:2]] == [
        (("notes", "two", "three"),),
        (("notes", "one", "two"),),
    ]
    assert all(each.row_id == 1 and each.at.tzinfo is not None for each in told)
    assert [each.at for each in told] == sorted((each.at for each in told), reverse=True)
    assert newest == told[:2]


def test_the_data_version_grows_with_each_change(engine: Engine, person: int) -> None:
    seen = [data_version(engine)]
    assert seen == [0]
    for path in EVERY_NOUN:
        if path == "suppliers":
            continue
        key = store(engine, person, path)
        seen.append(data_version(engine))
        change(engine, person, path, key, 1, **EDITS[path])
        seen.append(data_version(engine))
    assert seen == sorted(set(seen))


def test_a_change_rolled_back_leaves_no_event(engine: Engine, person: int) -> None:
    store(engine, person, "suppliers")
    before = [event.id for event in events(engine)]

    def fail_late() -> None:
        with writing(engine, person) as session:
            NOUNS["suppliers"].keeper.add(session, entry_of("suppliers", name="Never"))
            NOUNS["suppliers"].keeper.change(
                session, GIVEN["suppliers"]["name"], entry_of("suppliers", notes="never"), 1
            )
            raise ValueError("the power went")

    with pytest.raises(ValueError, match="power"):
        fail_late()
    assert [event.id for event in events(engine)] == before


def test_a_part_rolled_back_leaves_no_event_and_the_rest_does(engine: Engine, person: int) -> None:
    keeper = NOUNS["suppliers"].keeper

    def add_and_fail(session: Session) -> None:
        with session.begin_nested():
            keeper.add(session, entry_of("suppliers", name="Second"))
            raise CreelbookError("not this one")

    with writing(engine, person) as session:
        keeper.add(session, entry_of("suppliers", name="First"))
        with pytest.raises(CreelbookError):
            add_and_fail(session)
        keeper.add(session, entry_of("suppliers", name="Third"))
    assert [event.changes["name"][1] for event in events(engine)] == ["First", "Third"]


def test_events_get_their_numbers_in_the_order_in_which_they_can_be_seen(
    engine: Engine, person: int
) -> None:
    """Else a reader who saw number 2 would never notice number 1 when it is stored later."""
    with ThreadPoolExecutor(1) as pool:
        with writing(engine, person) as session:
            NOUNS["suppliers"].keeper.add(session, entry_of("suppliers", name="Slow"))
            quick = pool.submit(store, engine, person, "suppliers", name="Quick")
            wait([quick], timeout=0.3)
            assert data_version(engine) == 0
        quick.result(timeout=10)
    assert [event.changes["name"][1] for event in events(engine)] == ["Slow", "Quick"]


def test_the_demonstration_leaves_an_event_for_every_row(demo: Engine) -> None:
    with demo.connect() as connection:
        records = sum(
            connection.execute(select(func.count()).select_from(table)).scalar_one()
            for table in SQLModel.metadata.sorted_tables
            if "row_version" in table.columns
        )
    told = events(demo)
    added = [event for event in told if event.action == "add"]
    assert len(added) == records
    (read,) = [event for event in told if event.action != "add"]  # the mail that was read
    assert (read.table_name, read.changes) == ("intake", {"state": ["new", "read"]})


def test_no_line_of_the_program_updates_or_deletes_an_event() -> None:
    touching = re.compile(
        r"(?:update|delete)\(\s*AuditEvent|session\.delete\([^)]*(?:event|audit)"
        r"|(?:update|delete from|truncate(?: table)?)\s+audit_event",
        re.IGNORECASE,
    )
    naming = [file for file in PROGRAM if "AuditEvent" in file.read_text(encoding="utf-8")]
    assert [file.name for file in naming] == ["audit.py", "tables.py"]
    for file in PROGRAM:
        assert not touching.search(file.read_text(encoding="utf-8")), file.name


@pytest.mark.parametrize("attempt", ["change", "delete"])
def test_an_attempt_on_an_event_is_refused(engine: Engine, person: int, attempt: str) -> None:
    store(engine, person, "suppliers")
    before = [event.model_dump() for event in events(engine)]

    def touch() -> None:
        with writing(engine, person) as session:
            row = session.get(tables.AuditEvent, before[0]["id"])
            assert row is not None
            if attempt == "delete":
                session.delete(row)
            else:
                row.action = "nothing"

    with pytest.raises(RuntimeError, match="never touched"):
        touch()
    assert [event.model_dump() for event in events(engine)] == before


def test_all_that_people_do_leaves_earlier_events_as_they_were(engine: Engine, person: int) -> None:
    for path in EVERY_NOUN:
        if path != "suppliers":
            store(engine, person, path)
    before = [event.model_dump() for event in events(engine)]
    for path in EVERY_NOUN:
        key = GIVEN[path].get(NOUNS[path].key, "1")
        change(engine, person, path, key, 1, **EDITS[path])
    assert [event.model_dump() for event in events(engine)][: len(before)] == before
