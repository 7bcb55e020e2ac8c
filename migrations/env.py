"""Runs migrations on the engine the program hands over, or on CREELBOOK_DATABASE_URL."""

from __future__ import annotations

import os

from alembic import context
from sqlalchemy import text
from sqlmodel import SQLModel

from server.store import tables  # noqa: F401  (fills the metadata)
from server.store.session import open_engine

engine = context.config.attributes.get("engine") or open_engine(
    os.environ.get("CREELBOOK_DATABASE_URL", "sqlite:///creelbook.sqlite")
)
on_sqlite = engine.dialect.name == "sqlite"

with engine.connect() as connection:
    if on_sqlite:
        # A rebuild of a parent table with foreign keys on would delete the children.
        connection.exec_driver_sql("ROLLBACK")
        connection.exec_driver_sql("PRAGMA foreign_keys=OFF")
        connection.exec_driver_sql("BEGIN IMMEDIATE")
    context.configure(
        connection=connection,
        target_metadata=SQLModel.metadata,
        render_as_batch=True,
        compare_type=True,
    )
    with context.begin_transaction():
        context.run_migrations()
    if on_sqlite:
        broken = connection.execute(text("PRAGMA foreign_key_check")).all()
        if broken:
            connection.rollback()
            raise RuntimeError(f"migration left dangling references: {broken[:5]}")
    connection.commit()
