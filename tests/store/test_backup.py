"""A file that holds data is copied before it is migrated."""

from __future__ import annotations

from pathlib import Path

import pytest
from alembic import command
from alembic.util import CommandError
from sqlmodel import Session

from server.store.migrating import configuration, current_revision, migrate
from server.store.session import open_engine, sqlite_module
from server.store.tables import Person


def test_a_new_file_needs_no_copy(tmp_path: Path) -> None:
    migrate(open_engine(f"sqlite:///{tmp_path / 'new.sqlite'}"))
    assert not list(tmp_path.glob("*.backup"))


def test_a_file_with_missing_migrations_is_copied_first(tmp_path: Path) -> None:
    engine = open_engine(f"sqlite:///{tmp_path / 'old.sqlite'}")
    migrate(engine)
    with Session(engine) as session:
        session.add(Person(name="Rosalía Quintero"))
        session.commit()
    first = current_revision(engine)
    with engine.begin() as connection:
        connection.exec_driver_sql("UPDATE alembic_version SET version_num = 'earlier'")
    engine.dispose()
    with pytest.raises(CommandError, match="earlier"):
        migrate(engine)
    copies = list(tmp_path.glob("old.sqlite.before-earlier.backup"))
    assert len(copies) == 1
    kept = sqlite_module().connect(str(copies[0]))
    assert kept.execute("SELECT name FROM person").fetchall() == [("Rosalía Quintero",)]
    kept.close()
    command.stamp(configuration(engine), first or "head", purge=True)
    migrate(engine)
    assert current_revision(engine) == first
