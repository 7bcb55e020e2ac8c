"""The people of the house."""

from __future__ import annotations

from sqlalchemy import Engine
from sqlmodel import Session, col, select

from server.store.failures import speaking_plainly
from server.store.session import reading
from server.store.tables import Person


def add_person(engine: Engine, *, name: str, email: str = "", role: str = "editor") -> int:
    """Enter a person and give the id. role: owner, editor or viewer."""
    with speaking_plainly(), Session(engine.execution_options(writes=True)) as session:
        person = Person(name=name, email=email, role=role)
        session.add(person)
        session.flush()
        person_id = person.id or 0
        session.commit()
        return person_id


def first_person(engine: Engine) -> int | None:
    """Id of the person entered first, or None in an empty house."""
    with reading(engine) as session:
        return session.exec(select(Person.id).order_by(col(Person.id))).first()
