"""Migrations: up, down, up again, with rows in every table, on both databases."""

from __future__ import annotations

import re
import subprocess
import sys
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import pytest
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Column, Connection, Engine, func, insert, inspect, select
from sqlmodel import SQLModel

from seed_demo.load import load_demo
from server.places import MIGRATIONS
from server.store import tables
from server.store.exact import Exact, Moment
from server.store.migrating import configuration, is_current, migrate
from server.store.people import add_person
from server.store.session import open_engine, writing
from tests.store.databases import store

ONE = Decimal(1)
KEPT = {table.name for table in SQLModel.metadata.sorted_tables}


def tables_of(engine: Engine) -> set[str]:
    return set(inspect(engine).get_table_names()) - {"alembic_version"}


def counts(engine: Engine) -> dict[str, int]:
    return rows_of(engine, KEPT)


def rows_of(engine: Engine, names: set[str]) -> dict[str, int]:
    """How many rows each of these tables has."""
    with engine.connect() as connection:
        return {
            table.name: connection.execute(select(func.count()).select_from(table)).scalar_one()
            for table in SQLModel.metadata.sorted_tables
            if table.name in names
        }


def test_upgrade_makes_every_table_and_says_it_is_current(bare_engine: Engine) -> None:
    assert not is_current(bare_engine)
    migrate(bare_engine)
    assert tables_of(bare_engine) == KEPT
    assert is_current(bare_engine)


@pytest.fixture
def full(demo: Engine) -> Engine:
    """The demonstration with a row in each table that it leaves empty."""
    for table in SQLModel.metadata.sorted_tables:
        if counts(demo)[table.name]:
            continue
        with demo.begin() as connection:
            row = {column.name: _some_value(connection, column) for column in table.columns}
            connection.execute(insert(table).values({**row, "id": 1}))
    assert all(counts(demo).values())
    return demo


def _some_value(connection: Connection, column: Column[Any]) -> Any:
    """A value of the column's type; a reference points to the first row of its table."""
    for key in column.foreign_keys:
        return connection.execute(select(func.min(key.column))).scalar_one()
    if column.nullable:
        return None
    if isinstance(column.type, Moment):
        return datetime(2026, 3, 2, tzinfo=UTC)
    if isinstance(column.type, Exact):
        return ONE
    made = {int: 1, date: date(2026, 3, 2), bytes: b"x", dict: {}, bool: False, float: 1.0}
    return made.get(column.type.python_type, "x")


def test_running_twice_is_harmless(demo: Engine) -> None:
    before = counts(demo)
    migrate(demo)
    migrate(demo)
    assert counts(demo) == before
    assert is_current(demo)


def test_every_migration_goes_down_and_up_with_rows_in_every_table(full: Engine) -> None:
    steps = len(list(ScriptDirectory(str(MIGRATIONS)).walk_revisions()))
    before = rows_of(full, KEPT)
    for step in range(1, steps + 1):
        command.downgrade(configuration(full), "-1")
        assert not is_current(full)
        kept = tables_of(full)
        assert rows_of(full, kept) == {name: before[name] for name in kept}
        if step < steps:
            command.upgrade(configuration(full), "+1")
            assert rows_of(full, kept) == {name: before[name] for name in kept}
            command.downgrade(configuration(full), "-1")
    assert tables_of(full) == set()


def test_down_to_nothing_and_up_again_gives_a_house_that_works(demo: Engine) -> None:
    command.downgrade(configuration(demo), "base")
    assert tables_of(demo) == set()
    migrate(demo)
    assert set(counts(demo).values()) == {0}
    load_demo(demo)
    assert counts(demo)["offer"] == 40


def test_the_migrated_database_is_what_the_tables_say(engine: Engine) -> None:
    with engine.connect() as connection:
        context = MigrationContext.configure(
            connection, opts={"compare_type": True, "compare_server_default": True}
        )
        differences = compare_metadata(context, SQLModel.metadata)
    assert differences == []


def test_unique_rules_and_references_stand_in_the_database(engine: Engine) -> None:
    seen = inspect(engine)
    for table in SQLModel.metadata.sorted_tables:
        wanted = {
            (tuple(key.column_keys), key.referred_table.name)
            for key in table.foreign_key_constraints
        }
        found = {
            (tuple(key["constrained_columns"]), key["referred_table"])
            for key in seen.get_foreign_keys(table.name)
        }
        assert found == wanted, table.name
    assert [rule["column_names"] for rule in seen.get_unique_constraints("gate_limit")] == [
        ["role", "property"]
    ]


def test_connections_check_references_after_a_migration(engine: Engine) -> None:
    question, checked = {
        "sqlite": ("PRAGMA foreign_keys", 1),
        "postgresql": ("SHOW session_replication_role", "origin"),
    }[engine.dialect.name]
    with engine.connect() as one, engine.connect() as two:
        for connection in (one, two):
            assert connection.exec_driver_sql(question).scalar_one() == checked


def test_a_row_that_refers_to_nothing_is_refused_after_a_migration(engine: Engine) -> None:
    person = add_person(engine, name="Teodoro Ancira")
    lost = tables.PriceBreakRow(owner_id=person, offer_id=999, from_tonnes=ONE, price=ONE)
    with (
        pytest.raises(Exception, match=r"(?i)foreign key"),
        writing(engine, person) as session,
    ):
        session.add(lost)


def test_two_programs_that_start_at_once_both_find_a_migrated_database(address: str) -> None:
    program = (
        "import sys; from server.store.session import open_engine; "
        "from server.store.migrating import migrate; migrate(open_engine(sys.argv[1]))"
    )
    running = [
        subprocess.Popen(
            [sys.executable, "-c", program, address], stderr=subprocess.PIPE, text=True
        )
        for _ in range(2)
    ]
    ends = [(process.communicate(timeout=60)[1], process.returncode) for process in running]
    assert [code for _, code in ends] == [0, 0], ends
    engine = open_engine(address)
    assert is_current(engine)
    store(engine, add_person(engine, name="Maren Holloway"), "offers")
    engine.dispose()


def test_a_migration_that_fails_leaves_the_database_as_it_was(
    demo: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = counts(demo)

    def fail(*_given: object, **_named: object) -> None:
        raise RuntimeError("the power went")

    monkeypatch.setattr("alembic.op.drop_table", fail)
    with pytest.raises(RuntimeError, match="power"):
        command.downgrade(configuration(demo), "base")
    monkeypatch.undo()
    assert counts(demo) == before
    assert is_current(demo)
    assert tables_of(demo) == KEPT


def test_migration_files_are_named_by_their_day_and_form_one_line() -> None:
    files = list((MIGRATIONS / "versions").glob("*.py"))
    assert files
    for file in files:
        assert re.fullmatch(r"\d{4}-\d{2}-\d{2}-\d{4}_[a-z0-9_]+\.py", file.name), file.name
    script = ScriptDirectory(str(MIGRATIONS))
    assert len(script.get_heads()) == 1
    line = [revision.path for revision in script.walk_revisions()]
    assert [str(file) for file in sorted(files, reverse=True)] == line
