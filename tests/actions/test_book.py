"""The book in memory is true as long as nothing was stored, and read again when something was."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from sqlalchemy import Engine, event

from server.actions.book import current_book
from server.actions.nouns import NOUNS, Refused
from server.actions.records import add_record, change_record
from server.store.audit import data_version
from server.store.failures import StoreUnavailable
from server.store.session import open_engine
from tests.store.databases import GIVEN, store

pytest_plugins = ["tests.store.databases"]

SUPPLIERS = NOUNS["suppliers"]


def test_the_book_is_read_once_while_nothing_changes(demo: Engine) -> None:
    book = current_book(demo)
    sent: list[str] = []

    def note(_connection: Any, _cursor: Any, statement: str, *_rest: Any) -> None:
        if not statement.startswith(("BEGIN", "SET ")):
            sent.append(statement)

    event.listen(demo, "before_cursor_execute", note)
    assert current_book(demo) is book
    event.remove(demo, "before_cursor_execute", note)
    assert len(sent) == 1
    assert book.version == data_version(demo)
    assert len(book.offers) == 40


def test_a_stored_change_is_in_the_next_book(engine: Engine, person: int) -> None:
    store(engine, person, "offers")
    before = current_book(engine)
    given = {**GIVEN["offers"], "lead_days": "61"}
    change_record(engine, NOUNS["offers"], "X01", given, 1, person)
    after = current_book(engine)
    assert (before.offer("X01").lead_days, after.offer("X01").lead_days) == (30, 61)
    assert after.version > before.version


def test_a_refused_change_leaves_the_book(engine: Engine, person: int) -> None:
    store(engine, person, "suppliers")
    book = current_book(engine)
    with pytest.raises(Refused):
        add_record(engine, SUPPLIERS, GIVEN["suppliers"], person)
    assert current_book(engine) is book


def test_a_change_by_another_process_is_seen(engine: Engine, person: int, address: str) -> None:
    assert current_book(engine).suppliers == ()
    other = open_engine(address)
    add_record(other, SUPPLIERS, GIVEN["suppliers"], person)
    assert len(current_book(engine).suppliers) == 1
    assert current_book(other) is not current_book(engine)
    other.dispose()


def test_readers_beside_a_writer_never_get_a_torn_book(engine: Engine, person: int) -> None:
    store(engine, person, "suppliers")

    def write(places: range) -> None:
        for place in places:
            name = f"Supplier {place}"
            add_record(engine, SUPPLIERS, {**GIVEN["suppliers"], "name": name}, person)
            offer = {**GIVEN["offers"], "code": f"X{place}", "supplier": name}
            add_record(engine, NOUNS["offers"], offer, person)

    with ThreadPoolExecutor(5) as pool:
        writer = pool.submit(write, range(40))

        def read(_: int) -> list[int]:
            seen = []
            while not writer.done():
                seen.append(len(current_book(engine).offers))
            return seen

        readers = [pool.submit(read, place) for place in range(4)]
        writer.result()
        for reader in readers:
            seen = reader.result()
            assert seen == sorted(seen)
    assert len(current_book(engine).offers) == 40


def test_without_its_database_the_book_is_refused_plainly() -> None:
    lost = open_engine("postgresql://nobody@127.0.0.1:9/house?connect_timeout=2")
    with pytest.raises(StoreUnavailable, match="Try again"):
        current_book(lost)
