"""What tests enter, and what the database then holds."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

from sqlalchemy import Engine, func, select
from sqlmodel import SQLModel

from server.actions.nouns import NOUNS
from server.actions.records import list_records, one_record
from server.store.offers import QUOTED
from server.web.numbers import entered
from tests.store.databases import GIVEN


def counts(engine: Engine) -> dict[str, int]:
    """Rows of every table, the audit too."""
    with engine.connect() as connection:
        return {
            table.name: connection.execute(select(func.count()).select_from(table)).scalar_one()
            for table in SQLModel.metadata.sorted_tables
        }


def key_of(engine: Engine, path: str) -> str:
    """Key of the first record of a noun."""
    return list_records(engine, NOUNS[path])[0].key


def page_of(path: str, key: str) -> str:
    """Address of a record's page."""
    return f"/{path}/{quote(key, safe='')}"


def as_form(values: dict[str, Any]) -> dict[str, str]:
    """Stored values as a browser would send them: an unticked box is not sent."""
    return {
        name: entered(value)
        for name, value in values.items()
        if not (isinstance(value, bool) and not value)
    }


def stored_form(engine: Engine, path: str, key: str) -> dict[str, str]:
    """What the edit form of a record sends when nothing was typed."""
    kept = one_record(engine, NOUNS[path], key)
    sent = as_form(kept.values) | {"version": str(kept.version)}
    return {n: v for n, v in sent.items() if path != "offers" or n not in QUOTED}


def fresh(path: str) -> dict[str, str]:
    """A full entry that the demonstration does not hold."""
    given = {name: str(value) for name, value in GIVEN[path].items()}
    changed = {
        "suppliers": {"name": "Larchmoor Spinning ễ"},
        "gate": {"property": "elongation"},
        "assumptions": {"at_ne": "99"},
        "bases": {"assumption_set": "Rinconada 2026"},
        "pieces": {"construction": "DN-1375", "label": "Roll 99"},
    }
    return given | changed.get(path, {})
