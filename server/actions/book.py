"""The book of everything the house knows, read again only when something was changed."""

from __future__ import annotations

from threading import Lock
from weakref import WeakKeyDictionary

from server.store.audit import data_version
from server.store.book import Book, load_book
from server.store.session import Engine, reading

_books: WeakKeyDictionary[Engine, Book] = WeakKeyDictionary()
_lock = Lock()


def current_book(engine: Engine) -> Book:
    """The book at the present data version: one short query when nothing was changed."""
    version = data_version(engine)
    known = _books.get(engine)
    if known is not None and known.version == version:
        return known
    with reading(engine) as session:
        book = load_book(session, version)
    with _lock:
        _books[engine] = book
    return book
