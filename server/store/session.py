"""Engine and sessions: one transaction per request, committed once, at the edge."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from sqlalchemy import Engine as Engine
from sqlalchemy import create_engine, event, text
from sqlalchemy.exc import DBAPIError
from sqlalchemy.orm.exc import StaleDataError
from sqlmodel import Session

from server.core.errors import Conflict
from server.store import audit
from server.store.failures import StoreUnavailable, speaking_plainly

__all__ = [
    "StoreUnavailable",
    "is_alive",
    "open_engine",
    "reading",
    "sqlite_version",
    "wal_is_sound",
    "writing",
]

POOL_SIZE = 16
_SOUND_SQLITE = (3, 51, 3)  # first release without the write-ahead-log reset fault
_SOUND_BRANCHES = {(3, 44, 6), (3, 50, 7)}
_ONE_WRITER = 2_310_468  # number of the lock that PostgreSQL's writers take in turn


def sqlite_module() -> Any:
    """The SQLite driver in use: the one with a newer SQLite when it is installed."""
    try:
        from pysqlite3 import dbapi2
    except ImportError:
        return sqlite3
    return dbapi2


def wal_is_sound(version: tuple[int, int, int]) -> bool:
    """Whether this SQLite may use a write-ahead log without risk to the file."""
    return version >= _SOUND_SQLITE or version in _SOUND_BRANCHES


def sqlite_version() -> tuple[int, int, int]:
    """Version of the SQLite in use."""
    version: tuple[int, int, int] = sqlite_module().sqlite_version_info
    return version


def open_engine(url: str) -> Engine:
    """An engine for a database address.

    url: `sqlite:///path/to/file.sqlite` or `postgresql://…` (psycopg 3)
    """
    if not url.startswith("sqlite"):
        address = url.replace("postgresql://", "postgresql+psycopg://", 1)
        engine = create_engine(
            address, pool_size=POOL_SIZE, max_overflow=0, pool_timeout=5, pool_pre_ping=True
        )
        event.listen(engine, "begin", _begin_on_postgresql)
        return engine
    module = sqlite_module()
    engine = create_engine(
        url,
        module=module,
        pool_size=POOL_SIZE,
        max_overflow=0,
        pool_timeout=5,
        connect_args={"check_same_thread": False, "isolation_level": None},
    )
    journal = "WAL" if wal_is_sound(sqlite_version()) else "DELETE"

    @event.listens_for(engine, "connect")
    def prepare(connection: Any, _record: Any) -> None:
        for pragma in (
            f"journal_mode={journal}",
            "synchronous=FULL",
            "foreign_keys=ON",
            "busy_timeout=5000",
        ):
            connection.execute(f"PRAGMA {pragma}")

    @event.listens_for(engine, "begin")
    def begin(connection: Any) -> None:
        writes = connection.get_execution_options().get("writes")
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


def _begin_on_postgresql(connection: Any) -> None:
    """Writers one after another, as on SQLite, so that audit numbers appear in order.

    A reader sees one moment in all its statements.
    """
    if connection.get_execution_options().get("writes"):
        connection.exec_driver_sql("SET LOCAL lock_timeout = '5s'")
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_ONE_WRITER})")
    else:
        connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ")


@contextmanager
def reading(engine: Engine) -> Iterator[Session]:
    """A session that only reads."""
    with speaking_plainly(), Session(engine, autoflush=False) as session:
        yield session


@contextmanager
def writing(engine: Engine, person_id: int) -> Iterator[Session]:
    """A session that writes for a person: committed at the end, or nothing is stored.

    Raises Conflict when somebody else changed a row since it was read.
    """
    with (
        speaking_plainly(),
        Session(engine.execution_options(writes=True)) as session,
        audit.recorded(session, person_id),
    ):
        try:
            yield session
            session.commit()
        except StaleDataError as stale:
            raise Conflict(
                "Somebody else changed this record since you opened it; nothing was stored.",
                remedy="Open it again, compare, and repeat your change.",
            ) from stale


def is_alive(engine: Engine) -> bool:
    """Whether the database answers."""
    try:
        with engine.connect() as connection:
            connection.execute(text("SELECT 1"))
    except DBAPIError:
        return False
    return True
