"""Bringing a database to the present form, and telling whether it is there."""

from __future__ import annotations

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Engine

from server.places import MIGRATIONS
from server.store.session import sqlite_module


def configuration(engine: Engine) -> Config:
    """Alembic's settings for one database, from a checkout or an installed wheel."""
    settings = Config()
    settings.set_main_option("script_location", str(MIGRATIONS))
    settings.attributes["engine"] = engine.execution_options(writes=True)
    return settings


def migrate(engine: Engine) -> None:
    """Apply every migration that has not been applied yet.

    A SQLite file that holds data is copied beside itself first, through the database's own backup.
    """
    if not is_current(engine):
        _back_up(engine)
    command.upgrade(configuration(engine), "head")
    engine.dispose()  # a migration's connection has foreign keys off; none of them is used again


def _back_up(engine: Engine) -> None:
    revision, file = current_revision(engine), engine.url.database
    if engine.dialect.name != "sqlite" or revision is None or file in (None, "", ":memory:"):
        return
    module = sqlite_module()
    source, copy = module.connect(file), module.connect(f"{file}.before-{revision}.backup")
    try:
        source.backup(copy)
    finally:
        copy.close()
        source.close()


def current_revision(engine: Engine) -> str | None:
    """The last migration applied, or None in an empty database."""
    with engine.connect() as connection:
        return MigrationContext.configure(connection).get_current_revision()


def is_current(engine: Engine) -> bool:
    """Whether the database has every migration."""
    return current_revision(engine) == ScriptDirectory(str(MIGRATIONS)).get_current_head()
