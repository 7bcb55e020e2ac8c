"""The book of everything the house knows, read again only when something was changed."""

from __future__ import annotations

import gc
from threading import Lock
from weakref import WeakKeyDictionary

from server.store.audit import data_version
from server.store.book import Book, load_book
from server.store.session import Engine, reading

_books: WeakKeyDictionary[Engine, Book] = WeakKeyDictionary()
_lock = Lock()
MANY_OFFERS = 2_000


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
    if len(book.offers) >= MANY_OFFERS:
        gc.collect()
        gc.freeze()  # the collector need not walk a large book again while a person waits
    return book
