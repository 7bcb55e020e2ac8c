"""Saved views of lists, and the columns a person keeps: named addresses with their history."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sqlalchemy import literal, union_all
from sqlmodel import Session, col, select

from server.core.errors import BadValue
from server.store.records import Keeper
from server.store.tables import ColumnChoiceRow, SavedViewRow

MOST_VIEWS = 100  # of one page
VIEWS = Keeper(SavedViewRow)


@dataclass(frozen=True, slots=True)
class SavedView:
    """A named address of a list. version: of its last change, to be sent back with another."""

    id: int
    page: str
    name: str
    query: str
    version: int


@dataclass(frozen=True, slots=True)
class Kept:
    """What is kept about a list: its views by name, and the columns a person chose, or ""."""

    views: tuple[SavedView, ...]
    columns: str


def kept_about(session: Session, page: str, person_id: int) -> Kept:
    """The views of a list and a person's columns of it; one statement."""
    view, choice = SavedViewRow, ColumnChoiceRow
    statement: Any = union_all(
        select(
            col(view.id),
            col(view.name),
            col(view.query),
            col(view.row_version),
        ).where(view.page == page),
        select(literal(0), literal(""), col(choice.columns), literal(0)).where(
            choice.page == page, choice.owner_id == person_id
        ),
    )
    views, columns = [], ""
    for number, name, query, version in session.execute(statement).all():
        if number:
            views.append(SavedView(number, page, name, query, version))
        else:
            columns = query
    return Kept(tuple(sorted(views, key=lambda view: view.name.casefold())), columns)


def every_view(session: Session) -> tuple[SavedView, ...]:
    """All saved views, by page and name."""
    rows = session.exec(select(SavedViewRow)).all()
    views = (SavedView(row.id or 0, row.page, row.name, row.query, row.row_version) for row in rows)
    return tuple(sorted(views, key=lambda view: (view.page, view.name.casefold())))


def add_view(session: Session, page: str, name: str, query: str) -> None:
    """Save a view. Raises BadValue when the name is taken."""
    rows = session.exec(select(SavedViewRow).where(SavedViewRow.page == page)).all()
    if len(rows) >= MOST_VIEWS:
        raise BadValue(
            f"This list has {MOST_VIEWS} saved views, the most it can have.",
            field="name",
            value=name,
            remedy="Remove one that is not used.",
        )
    _refuse_twin(session, page, name)
    VIEWS.add(session, {"page": page, "name": name, "query": query})


def rename_view(session: Session, number: str, name: str, version: int) -> str:
    """Give a view another name; gives its page. Raises NotFound, Conflict, BadValue."""
    page = str(VIEWS.one(session, number).values["page"])
    _refuse_twin(session, page, name, but=int(number))
    VIEWS.change(session, number, {"name": name}, version)
    return page


def remove_view(session: Session, number: str) -> str:
    """Take a view away; the audit keeps what it was. Gives its page. Raises NotFound."""
    page = str(VIEWS.one(session, number).values["page"])
    session.delete(session.get(SavedViewRow, int(number)))
    session.flush()
    return page


def keep_columns(session: Session, page: str, columns: str) -> None:
    """Keep the columns a person chose for a list; "" forgets them."""
    person_id = session.info["person_id"]
    row = session.exec(
        select(ColumnChoiceRow).where(
            ColumnChoiceRow.page == page, ColumnChoiceRow.owner_id == person_id
        )
    ).first()
    if row is None and columns:
        session.add(ColumnChoiceRow(owner_id=person_id, page=page, columns=columns))
    elif row is not None and columns:
        row.columns = columns
    elif row is not None:
        session.delete(row)
    session.flush()


def _refuse_twin(session: Session, page: str, name: str, but: int = 0) -> None:
    found = session.exec(
        select(SavedViewRow.id).where(SavedViewRow.page == page, SavedViewRow.name == name)
    ).first()
    if found is not None and found != but:
        raise BadValue(
            f"There is a view “{name}” already.",
            field="name",
            value=name,
            remedy="Choose another name, or remove that view first.",
        )
