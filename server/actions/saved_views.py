"""Saving, renaming and removing views of a list, and keeping a person's columns."""

from __future__ import annotations

from server.core.errors import BadValue
from server.store import saved_views as store
from server.store.saved_views import Kept, SavedView
from server.store.session import Engine, reading, writing

__all__ = ["Kept", "SavedView"]

LONGEST_NAME = 80  # characters
_LONGEST_QUERY = 2000


def kept_about(engine: Engine, page: str, person_id: int) -> Kept:
    """The views of a list, and the columns a person keeps of it."""
    with reading(engine) as session:
        return store.kept_about(session, page, person_id)


def every_view(engine: Engine) -> tuple[SavedView, ...]:
    """All saved views, by page and name."""
    with reading(engine) as session:
        return store.every_view(session)


def save_view(engine: Engine, person_id: int, page: str, name: str, query: str) -> None:
    """Save an address under a name. Raises BadValue."""
    if len(query) > _LONGEST_QUERY:
        raise BadValue(
            "The address of this view is too long to be saved.",
            field="query",
            value=query,
            unit="characters",
            remedy="Use fewer filters.",
        )
    sound = _name(name)
    with writing(engine, person_id) as session:
        store.add_view(session, page, sound, query)


def rename_view(engine: Engine, person_id: int, number: str, name: str, version: int) -> str:
    """Give a view another name; gives its page. Raises BadValue, Conflict, NotFound."""
    sound = _name(name)
    with writing(engine, person_id) as session:
        return store.rename_view(session, number, sound, version)


def remove_view(engine: Engine, person_id: int, number: str) -> str:
    """Remove a view; gives its page. Raises NotFound."""
    with writing(engine, person_id) as session:
        return store.remove_view(session, number)


def keep_columns(engine: Engine, person_id: int, page: str, columns: str) -> None:
    """Keep the columns a person chose for a list; "" forgets them."""
    with writing(engine, person_id) as session:
        store.keep_columns(session, page, columns)


def _name(text: str) -> str:
    name = " ".join(text.split())
    wrong = [sign for sign in name if sign in "<>" or ord(sign) < 32]
    if not name or len(name) > LONGEST_NAME or wrong:
        raise BadValue(
            "A saved view needs a name of plain words.",
            field="name",
            value=text,
            unit="characters",
            remedy=f"Write 1 to {LONGEST_NAME} characters, without < and >.",
        )
    return name
