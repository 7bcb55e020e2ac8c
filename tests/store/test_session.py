"""Connections as the design says, and faults: nothing half stored, and a clear sentence."""

from __future__ import annotations

import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Thread
from typing import Any

import pytest
from sqlalchemy import Engine, event
from sqlalchemy.exc import IntegrityError, ProgrammingError

from server.actions.nouns import NOUNS
from server.store import session as store_session
from server.store import tables
from server.store.audit import data_version
from server.store.migrating import migrate
from server.store.people import add_person
from server.store.session import (
    POOL_SIZE,
    StoreUnavailable,
    is_alive,
    open_engine,
    reading,
    sqlite_version,
    wal_is_sound,
    writing,
)
from tests.store.databases import entry_of, events, store

KILLS = 20


@pytest.fixture
def sqlite_file(tmp_path: Path) -> Path:
    return tmp_path / "house.sqlite"


@pytest.fixture
def sqlite_engine(sqlite_file: Path) -> Engine:
    engine = open_engine(f"sqlite:///{sqlite_file}")
    migrate(engine)
    return engine


def names(engine: Engine) -> list[str]:
    with reading(engine) as session:
        return [kept.key for kept in NOUNS["suppliers"].keeper.all(session)]


def refusal_of(work: Callable[[], Any]) -> StoreUnavailable:
    """The clear sentence that `work` ends with."""
    with pytest.raises(StoreUnavailable) as refused:
        work()
    said = str(refused.value)
    assert "nothing was stored" in said
    assert "Try again" in said
    assert not any(word in said.lower() for word in ("sql", "locked", "traceback", "psycopg"))
    return refused.value


# --- connections ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("pragma", "value"), [("synchronous", 2), ("foreign_keys", 1), ("busy_timeout", 5000)]
)
def test_every_sqlite_connection_is_set_as_the_design_says(
    sqlite_engine: Engine, pragma: str, value: int
) -> None:
    opened = [sqlite_engine.connect() for _ in range(POOL_SIZE)]
    for connection in opened:
        assert connection.exec_driver_sql(f"PRAGMA {pragma}").scalar_one() == value
        connection.close()


@pytest.mark.parametrize("sound", [True, False])
def test_the_journal_is_a_write_ahead_log_only_where_that_is_sound(
    sqlite_file: Path, monkeypatch: pytest.MonkeyPatch, sound: bool
) -> None:
    monkeypatch.setattr(store_session, "wal_is_sound", lambda version: sound)
    engine = open_engine(f"sqlite:///{sqlite_file}")
    migrate(engine)
    with engine.connect() as connection:
        journal = connection.exec_driver_sql("PRAGMA journal_mode").scalar_one()
    assert journal == ("wal" if sound else "delete")
    store(engine, add_person(engine, name="Rosalía Quintero"), "offers")
    assert names(engine) == ["Yelkıran İplik"]
    engine.dispose()


@pytest.mark.parametrize(
    ("version", "sound"),
    [
        ((3, 53, 4), True),
        ((3, 51, 3), True),
        ((4, 0, 0), True),
        ((3, 51, 2), False),
        ((3, 50, 7), True),
        ((3, 50, 6), False),
        ((3, 50, 8), False),
        ((3, 44, 6), True),
        ((3, 44, 5), False),
        ((3, 40, 1), False),
        ((3, 7, 0), False),
    ],
)
def test_a_write_ahead_log_is_sound_from_the_releases_that_mended_it(
    version: tuple[int, int, int], sound: bool
) -> None:
    assert wal_is_sound(version) is sound


def test_the_sqlite_in_use_tells_its_version(sqlite_engine: Engine) -> None:
    with sqlite_engine.connect() as connection:
        said = connection.exec_driver_sql("SELECT sqlite_version()").scalar_one()
    assert said == ".".join(map(str, sqlite_version()))


def test_without_its_own_sqlite_the_program_takes_that_of_python(
    sqlite_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "pysqlite3", None)
    assert sqlite_version() == sqlite3.sqlite_version_info
    engine = open_engine(f"sqlite:///{sqlite_file}")
    migrate(engine)
    store(engine, add_person(engine, name="Rosalía Quintero"), "offers")
    with engine.connect() as connection:
        journal = connection.exec_driver_sql("PRAGMA journal_mode").scalar_one()
    assert journal == ("wal" if wal_is_sound(sqlite3.sqlite_version_info) else "delete")
    engine.dispose()


def test_writers_begin_immediately_and_readers_do_not(sqlite_engine: Engine) -> None:
    begun: list[str] = []

    def note(_connection: Any, _cursor: Any, statement: str, *_rest: Any) -> None:
        if statement.startswith("BEGIN"):
            begun.append(statement)

    event.listen(sqlite_engine, "before_cursor_execute", note)
    person = add_person(sqlite_engine, name="Rosalía Quintero")
    store(sqlite_engine, person, "suppliers")
    assert begun == ["BEGIN IMMEDIATE"] * 2
    begun.clear()
    names(sqlite_engine)
    data_version(sqlite_engine)
    assert begun == ["BEGIN"] * 2


def test_readers_go_on_while_somebody_writes(engine: Engine, person: int) -> None:
    store(engine, person, "suppliers")
    with writing(engine, person) as session:
        NOUNS["suppliers"].keeper.add(session, entry_of("suppliers", name="Second"))
        started = time.monotonic()
        assert names(engine) == ["Yelkıran İplik"]
        assert time.monotonic() - started < 1
    assert len(names(engine)) == 2


def test_more_people_than_connections_wait_for_each_other(engine: Engine, person: int) -> None:
    store(engine, person, "suppliers")
    with ThreadPoolExecutor(POOL_SIZE * 2) as pool:
        read = list(pool.map(lambda _: names(engine), range(POOL_SIZE * 8)))
    assert read == [["Yelkıran İplik"]] * (POOL_SIZE * 8)


# --- faults --------------------------------------------------------------------------------------


def test_with_all_connections_in_use_the_next_one_is_told_so(
    engine: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(engine.pool, "_timeout", 0.1)
    opened = [engine.connect() for _ in range(POOL_SIZE)]
    assert "in use" in refusal_of(lambda: names(engine)).message
    for connection in opened:
        connection.close()
    assert names(engine) == []


def test_a_writer_who_waits_too_long_is_told_so(engine: Engine, person: int) -> None:
    if engine.dialect.name == "sqlite":
        hurry = "PRAGMA busy_timeout=100"
        event.listen(engine, "checkout", lambda raw, *_: raw.execute(hurry))
    with writing(engine, person) as session:
        NOUNS["suppliers"].keeper.add(session, entry_of("suppliers", name="First"))
        session.flush()
        refusal_of(lambda: store(engine, person, "suppliers", name="Second"))
    assert names(engine) == ["First"]
    store(engine, person, "suppliers", name="Third")
    assert names(engine) == ["First", "Third"]


def test_a_full_disk_stores_nothing_and_says_so(sqlite_engine: Engine, sqlite_file: Path) -> None:
    person = add_person(sqlite_engine, name="Rosalía Quintero")
    store(sqlite_engine, person, "suppliers")
    with sqlite_engine.connect() as connection:
        pages = connection.exec_driver_sql("PRAGMA page_count").scalar_one()
    for spare in range(12):
        full = open_engine(f"sqlite:///{sqlite_file}")
        limit = f"PRAGMA max_page_count={pages + spare}"
        event.listen(full, "connect", lambda raw, _, limit=limit: raw.execute(limit))

        def add_many(full: Engine = full) -> None:
            with writing(full, person) as session:
                for place in range(200):
                    NOUNS["suppliers"].keeper.add(
                        session, entry_of("suppliers", name=f"S{place}", notes="n" * 3000)
                    )

        seen = data_version(sqlite_engine)
        assert "disk space" in refusal_of(add_many).remedy
        assert names(full) == names(sqlite_engine) == ["Yelkıran İplik"]
        assert data_version(full) == seen
        full.dispose()
    store(sqlite_engine, person, "suppliers", name="Second")
    assert len(names(sqlite_engine)) == 2
    assert sound(sqlite_file)


def test_a_file_that_is_no_database_is_not_alive(tmp_path: Path) -> None:
    broken = tmp_path / "house.sqlite"
    broken.write_bytes(b"not a database, but long enough to look like a file" * 40)
    assert not is_alive(open_engine(f"sqlite:///{broken}"))
    assert not is_alive(open_engine(f"sqlite:///{tmp_path / 'no' / 'house.sqlite'}"))


def test_a_file_that_cannot_be_written_is_told_plainly(tmp_path: Path) -> None:
    lost = open_engine(f"sqlite:///{tmp_path / 'no' / 'house.sqlite'}")
    refusal_of(lambda: names(lost))
    refusal_of(lambda: data_version(lost))
    refusal_of(lambda: store(lost, 1, "suppliers"))
    refusal_of(lambda: add_person(lost, name="Nobody"))


def test_a_server_that_is_not_there_is_told_plainly() -> None:
    lost = open_engine("postgresql://nobody@127.0.0.1:9/house?connect_timeout=2")
    assert not is_alive(lost)
    refusal_of(lambda: names(lost))
    refusal_of(lambda: data_version(lost))
    refusal_of(lambda: store(lost, 1, "suppliers"))


def test_a_database_that_answers_is_alive(engine: Engine) -> None:
    assert is_alive(engine)


def hang_up(engine: Engine, process: int) -> None:
    """End a PostgreSQL connection from another one."""
    with engine.connect() as other:
        other.exec_driver_sql(f"SELECT pg_terminate_backend({process})")


@pytest.mark.parametrize("address", ["postgresql"], indirect=True)
@pytest.mark.parametrize("moment", ["before the flush", "after the flush", "at the commit"])
def test_a_connection_lost_in_the_middle_stores_nothing_and_says_so(
    engine: Engine, person: int, moment: str
) -> None:
    store(engine, person, "suppliers")
    keeper = NOUNS["suppliers"].keeper

    def lose() -> None:
        with writing(engine, person) as session:
            process = session.connection().exec_driver_sql("SELECT pg_backend_pid()").scalar_one()
            if moment == "before the flush":
                hang_up(engine, process)
            keeper.add(session, entry_of("suppliers", name="Second"))
            if moment == "after the flush":
                hang_up(engine, process)
            keeper.add(session, entry_of("suppliers", name="Third"))
            if moment == "at the commit":
                hang_up(engine, process)

    refusal_of(lose)
    assert names(engine) == ["Yelkıran İplik"]
    assert len(events(engine)) == 1
    store(engine, person, "suppliers", name="Second")
    assert len(names(engine)) == 2


@pytest.mark.parametrize("address", ["postgresql"], indirect=True)
def test_connections_lost_while_idle_are_not_noticed(engine: Engine, person: int) -> None:
    store(engine, person, "suppliers")
    opened = [engine.connect() for _ in range(4)]
    idle = [each.exec_driver_sql("SELECT pg_backend_pid()").scalar_one() for each in opened]
    keeper = engine.connect()
    for each in opened:
        each.close()
    for process in idle:
        keeper.exec_driver_sql(f"SELECT pg_terminate_backend({process})")
    keeper.close()
    assert [names(engine) for _ in range(5)] == [["Yelkıran İplik"]] * 5


def test_a_fault_of_the_program_is_not_hidden(engine: Engine, person: int) -> None:
    with pytest.raises(ZeroDivisionError), writing(engine, person):
        _ = 1 / 0
    with pytest.raises(IntegrityError), writing(engine, person) as session:
        session.add(tables.SupplierRow(owner_id=999, name="Nobody's", country="Egypt"))
    if engine.dialect.name == "postgresql":
        with pytest.raises(ProgrammingError), reading(engine) as session:
            session.connection().exec_driver_sql("SELECT nothing FROM nowhere")
    assert names(engine) == []


# --- kill ----------------------------------------------------------------------------------------

WRITER = """
import sys
from server.actions.nouns import NOUNS
from server.store.session import open_engine, writing
from tests.store.databases import entry_of

engine, run = open_engine(sys.argv[1]), sys.argv[2]
keeper = NOUNS["suppliers"].keeper
for batch in range(100000):
    with writing(engine, 1) as session:
        for place in range(5):
            keeper.add(session, entry_of("suppliers", name=f"{run}-{batch}-{place}"))
    print(f"{run}-{batch}", flush=True)
"""


def sound(file: Path) -> bool:
    """Whether SQLite finds nothing wrong with a file."""
    engine = open_engine(f"sqlite:///{file}")
    with engine.connect() as connection:
        whole = connection.exec_driver_sql("PRAGMA integrity_check").scalar_one()
        dangling = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
    engine.dispose()
    return bool(whole == "ok" and not dangling)


def killed_writer(file: Path, run: int, after: float) -> list[str]:
    """The batches that a writing process said are stored before it was killed."""
    process = subprocess.Popen(
        [sys.executable, "-c", WRITER, f"sqlite:///{file}", str(run)],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": os.getcwd()},
    )
    assert process.stdout is not None
    said = [process.stdout.readline().strip()]

    def listen(lines: Any) -> None:
        said.extend(line.strip() for line in lines if line.endswith("\n"))

    listener = Thread(target=listen, args=(process.stdout,))
    listener.start()
    time.sleep(after)
    process.send_signal(signal.SIGKILL)
    process.wait(20)
    listener.join(20)
    process.stdout.close()
    return said


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="this system has no SIGKILL")
def test_a_writer_killed_at_any_moment_leaves_whole_transactions_only(
    sqlite_engine: Engine, sqlite_file: Path
) -> None:
    add_person(sqlite_engine, name="Rosalía Quintero")
    chance = random.Random(2310)
    acknowledged: list[str] = []
    with ThreadPoolExecutor(2) as pool:
        runs = [
            pool.submit(killed_writer, sqlite_file, run, chance.uniform(0.0, 0.4))
            for run in range(KILLS)
        ]
        for run in runs:
            acknowledged.extend(run.result(timeout=60))
    assert sound(sqlite_file)
    batches: dict[str, int] = {}
    stored = names(sqlite_engine)
    for name in stored:
        batch = name.rpartition("-")[0]
        batches[batch] = batches.get(batch, 0) + 1
    assert set(batches.values()) == {5}
    assert len(acknowledged) >= KILLS
    assert set(acknowledged) <= set(batches)
    assert len(batches) - len(acknowledged) <= KILLS
    assert [each.changes["name"][1] for each in events(sqlite_engine)] == stored
