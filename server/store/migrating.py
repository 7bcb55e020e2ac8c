"""Bringing a database to the present form, and telling whether it is there."""

from __future__ import annotations

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Engine

from server.places import MIGRATIONS


def configuration(engine: Engine) -> Config:
    """Alembic's settings for one database, from a checkout or an installed wheel."""
    settings = Config()
    settings.set_main_option("script_location", str(MIGRATIONS))
    settings.attributes["engine"] = engine.execution_options(writes=True)
    return settings


def migrate(engine: Engine) -> None:
    """Apply every migration that has not been applied yet."""
    command.upgrade(configuration(engine), "head")
    engine.dispose()  # a migration's connection has foreign keys off; none of them is used again


def is_current(engine: Engine) -> bool:
    """Whether the database has every migration."""
    newest = ScriptDirectory(str(MIGRATIONS)).get_current_head()
    with engine.connect() as connection:
        return MigrationContext.configure(connection).get_current_revision() == newest
