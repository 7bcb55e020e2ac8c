"""Decisions about findings of the gate, on both databases."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from sqlalchemy import Engine

from server.actions.nouns import NOUNS
from server.core.errors import BadValue, NotFound
from server.store.audit import data_version
from server.store.book import Book, load_book
from server.store.overrides import add_override, remove_override
from server.store.session import reading, writing
from tests.store.databases import events, store

OFFERS = NOUNS["offers"].keeper
GIVEN: dict[str, Any] = {
    "role": "filling",
    "about": "tenacity",
    "reason": "Air-jet trial of “L-7” ran at 98 %",
    "until": date(2026, 6, 5),
}


@pytest.fixture
def offer(engine: Engine, person: int) -> str:
    """Code of a stored offer."""
    return store(engine, person, "offers")


def made(engine: Engine, person: int, code: str, **changes: Any) -> int:
    with writing(engine, person) as session:
        return add_override(session, code, GIVEN | changes)


def book_of(engine: Engine) -> Book:
    with reading(engine) as session:
        return load_book(session, data_version(engine))


def test_a_decision_is_read_with_its_offer_its_person_and_its_day(
    engine: Engine, person: int, offer: str
) -> None:
    number = made(engine, person, offer)
    (found,) = book_of(engine).offer(offer).overrides
    assert (found.id, found.role, found.about) == (number, "filling", "tenacity")
    assert (found.reason, found.until) == (GIVEN["reason"], GIVEN["until"])
    assert found.person == "Rosalía Quintero"
    assert found.on == events(engine)[-1].at.date()


def test_the_same_thing_is_decided_once_for_a_role(engine: Engine, person: int, offer: str) -> None:
    made(engine, person, offer)
    with pytest.raises(BadValue, match="has a decision for filling already") as twice:
        made(engine, person, offer)
    assert twice.value.field == "about"
    made(engine, person, offer, role="all roles", until=None)
    assert len(book_of(engine).offer(offer).overrides) == 2


def test_withdrawing_leaves_the_decision_in_the_history_only(
    engine: Engine, person: int, offer: str
) -> None:
    number = made(engine, person, offer)
    with writing(engine, person) as session:
        remove_override(session, offer, number)
    assert book_of(engine).offer(offer).overrides == ()
    with reading(engine) as session:
        history = OFFERS.history(session, OFFERS.one(session, offer).id)
    told = [change.changes for change in history if change.changes and change.action == "change"]
    assert told == [
        (("Accepted tenacity, filling", GIVEN["reason"], None),),
        (("Accepted tenacity, filling", None, GIVEN["reason"]),),
    ]
    made(engine, person, offer)


def test_a_decision_of_another_offer_is_not_withdrawn(
    engine: Engine, person: int, offer: str
) -> None:
    number = made(engine, person, offer)
    other = store(engine, person, "offers", code="X02")
    for code, decision in ((other, number), (offer, number + 1), ("none", number), ("a\0", 1)):
        with pytest.raises(NotFound), writing(engine, person) as session:
            remove_override(session, code, decision)
    with pytest.raises(NotFound, match="no offer “none”"):
        made(engine, person, "none")
    assert len(book_of(engine).offer(offer).overrides) == 1


def test_editing_an_offer_keeps_what_was_decided_about_it(
    engine: Engine, person: int, offer: str
) -> None:
    made(engine, person, offer)
    with writing(engine, person) as session:
        kept = OFFERS.one(session, offer)
        OFFERS.change(session, offer, {**kept.values, "notes": "seen again"}, kept.version)
    assert len(book_of(engine).offer(offer).overrides) == 1
