"""Several lots of a property: which counts, and what the flat entry shows and edits."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from alembic import command
from sqlalchemy import Engine, text
from sqlalchemy.exc import IntegrityError
from sqlmodel import select

from server.actions.nouns import NOUNS
from server.core.errors import BadValue, Conflict, NotFound
from server.store import offer_tests
from server.store.audit import data_version
from server.store.book import load_book
from server.store.migrating import configuration
from server.store.session import reading, writing
from server.store.tables import TestValueRow as ValueRow
from tests.store.databases import entry_of, store

OFFERS = NOUNS["offers"].keeper


def add(engine: Engine, person: int, value: str, **changes: Any) -> int:
    given = {"property": "tenacity", "value": Decimal(value), "method": "our laboratory",
             "lot": "", "tested_on": None, "attachment_id": None}  # fmt: skip
    with writing(engine, person) as session:
        return offer_tests.add_test_value(session, "X01", {**given, **changes})


def counting(engine: Engine) -> float:
    with reading(engine) as session:
        return load_book(session, data_version(engine)).offer("X01").tests["tenacity"]


def flat(engine: Engine) -> dict[str, Any]:
    with reading(engine) as session:
        return OFFERS.one(session, "X01").values


def test_the_newest_dated_value_counts_whatever_was_entered_last(
    engine: Engine, person: int
) -> None:
    store(engine, person, "offers")  # tenacity 14.60, lot L-7 of 2026-02-20
    add(engine, person, "13.0", lot="L-8", tested_on=date(2026, 3, 1))
    add(engine, person, "12.0", lot="L-5", tested_on=date(2026, 1, 10))
    add(engine, person, "11.0", lot="L-9")
    assert counting(engine) == 13.0
    with reading(engine) as session:
        told = offer_tests.test_values(session, "X01")
    values = [(str(each.value), each.counts) for each in told if each.property == "tenacity"]
    assert values == [("13.0", True), ("14.60", False), ("12.0", False), ("11.0", False)]


def test_of_one_day_and_of_no_day_the_last_entered_counts(engine: Engine, person: int) -> None:
    store(engine, person, "offers", tested_on="")
    add(engine, person, "13.0", lot="L-8")
    assert counting(engine) == 13.0
    add(engine, person, "12.5", lot="A", tested_on=date(2026, 1, 1))
    add(engine, person, "12.6", lot="B", tested_on=date(2026, 1, 1))
    assert counting(engine) == 12.6


def test_the_flat_entry_shows_and_edits_the_newest_lot_alone(engine: Engine, person: int) -> None:
    store(engine, person, "offers")
    add(engine, person, "13.0", lot="L-8", tested_on=date(2026, 3, 1))
    values = flat(engine)
    assert (str(values["tenacity"]), values["test_lot"]) == ("13.0", "L-8")
    assert values["evenness"] is None  # measured on L-7: it must not move to L-8's day
    changed = entry_of("offers", tenacity="13.4", evenness="18.2", test_lot="L-8b",
                       test_method="our laboratory", tested_on="2026-03-02",
                       average_ne="")  # fmt: skip
    with writing(engine, person) as session:
        OFFERS.change(session, "X01", changed, OFFERS.one(session, "X01").version)
    with reading(engine) as session:
        rows = session.exec(select(ValueRow).order_by(ValueRow.property, ValueRow.lot)).all()
    assert [(row.property, str(row.value), row.lot) for row in rows] == [
        ("average_ne", "6.50", "L-7"),
        ("evenness", "19.8", "L-7"),
        ("evenness", "18.2", "L-8b"),
        ("tenacity", "14.60", "L-7"),
        ("tenacity", "13.4", "L-8b"),
    ]


def test_the_newest_lot_cannot_be_renamed_to_one_that_is_there(engine: Engine, person: int) -> None:
    store(engine, person, "offers", tested_on="")
    add(engine, person, "13.0", lot="L-8")
    taken = entry_of("offers", test_lot="L-7", tested_on="", tenacity="13.0", evenness="",
                     average_ne="")  # fmt: skip
    with (
        pytest.raises(BadValue, match="same method, lot and day"),
        writing(engine, person) as session,
    ):
        OFFERS.change(session, "X01", taken, OFFERS.one(session, "X01").version)
    assert str(flat(engine)["tenacity"]) == "13.0"


def test_the_same_lot_of_a_property_is_refused_twice_also_without_a_day(
    engine: Engine, person: int
) -> None:
    store(engine, person, "offers")
    for day in (None, date(2026, 3, 1)):
        add(engine, person, "13.0", lot="L-8", tested_on=day)
        with pytest.raises(BadValue, match="same method, lot and day"):
            add(engine, person, "14.0", lot="L-8", tested_on=day)
    add(engine, person, "12.0", property="evenness", lot="L-8")


def test_the_database_itself_refuses_twins_of_one_day(engine: Engine, person: int) -> None:
    store(engine, person, "offers")
    with reading(engine) as session:
        one = session.exec(select(ValueRow)).first()
        assert one is not None
        twin = one.model_dump(exclude={"id"})
    with pytest.raises(IntegrityError), writing(engine, person) as session:
        session.add(ValueRow(**twin))


def test_a_value_added_makes_a_form_opened_before_stale(engine: Engine, person: int) -> None:
    store(engine, person, "offers")
    with reading(engine) as session:
        version = OFFERS.one(session, "X01").version
    add(engine, person, "13.0", lot="L-8")
    with pytest.raises(Conflict), writing(engine, person) as session:
        OFFERS.change(session, "X01", entry_of("offers"), version)


def test_a_removed_value_lets_the_one_before_count_and_stays_in_the_history(
    engine: Engine, person: int
) -> None:
    store(engine, person, "offers")
    number = add(engine, person, "13.0", lot="L-8", tested_on=date(2026, 3, 1))
    with writing(engine, person) as session:
        offer_tests.remove_test_value(session, "X01", number)
    assert counting(engine) == 14.6
    with reading(engine) as session:
        history = OFFERS.history(session, OFFERS.one(session, "X01").id)
    assert ("tenacity", "13.0", None) in history[0].changes
    with pytest.raises(NotFound), writing(engine, person) as session:
        offer_tests.remove_test_value(session, "X01", number)


def test_a_value_of_another_offer_is_not_found_here(engine: Engine, person: int) -> None:
    store(engine, person, "offers")
    number = add(engine, person, "13.0", lot="L-8")
    store(engine, person, "offers", code="X02")
    with pytest.raises(NotFound), writing(engine, person) as session:
        offer_tests.remove_test_value(session, "X02", number)


def test_a_source_file_must_be_attached_to_the_same_offer(engine: Engine, person: int) -> None:
    store(engine, person, "offers")
    with pytest.raises(BadValue, match="not attached"):
        add(engine, person, "13.0", lot="L-8", attachment_id=7)


def test_going_back_to_one_lot_keeps_the_value_that_counts(engine: Engine, person: int) -> None:
    store(engine, person, "offers")
    add(engine, person, "13.0", lot="L-8", tested_on=date(2026, 3, 1))
    add(engine, person, "12.0", lot="L-9")
    command.downgrade(configuration(engine), "455534114e3f")
    with engine.connect() as connection:
        kept = connection.execute(
            text("SELECT value FROM test_value WHERE property = 'tenacity'")
        ).scalars()
        assert list(kept) == ["13.0"]
    command.upgrade(configuration(engine), "head")
    assert counting(engine) == 13.0
