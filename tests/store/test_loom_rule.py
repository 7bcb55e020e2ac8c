"""The rule for loom efficiency and measured stops, kept on both databases."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from sqlalchemy import Engine

from server.actions.compare import read_basis_change, sound_basis_change
from server.actions.nouns import NOUNS, Refused, read_entry
from server.core.errors import BadValue
from server.store import offer_tests
from server.store.audit import data_version
from server.store.book import Book, load_book
from server.store.session import reading, writing
from tests.store.databases import entry_of, events, store


def book(engine: Engine) -> Book:
    with reading(engine) as session:
        return load_book(session, data_version(engine))


def test_a_basis_keeps_its_rule_and_says_as_assumed_when_nobody_asks(
    engine: Engine, person: int
) -> None:
    store(engine, person, "bases")
    assert book(engine).basis().loom_rule == "as assumed"
    noun = NOUNS["bases"]
    with writing(engine, person) as session:
        kept = noun.keeper.one(session, "Meeting")
        values = read_entry(noun, entry_of("bases") | {"loom_rule": "from stops"})
        noun.keeper.change(session, "Meeting", values, kept.version)
    assert book(engine).basis().loom_rule == "from stops"
    assert events(engine)[-1].changes["loom_rule"] == ["as assumed", "from stops"]


def test_a_rule_that_is_none_is_refused_with_what_may_stand_there() -> None:
    with pytest.raises(Refused) as refused:
        read_entry(NOUNS["bases"], entry_of("bases") | {"loom_rule": "by guess"})
    assert [each.field for each in refused.value.errors] == ["loom_rule"]
    asked = read_basis_change({"loom_rule": "by guess"})
    assert "as assumed or from stops" in asked.errors["loom_rule"]
    assert asked.changes == {}
    with pytest.raises(BadValue, match="no rule for loom efficiency"):
        sound_basis_change({"loom_rule": "by guess"})
    assert sound_basis_change({"loom_rule": "from stops"}).changes == {"loom_rule": "from stops"}


def test_the_stops_that_count_are_read_with_method_lot_and_day(engine: Engine, person: int) -> None:
    store(engine, person, "offers")
    for value, lot, day in (("9.25", "L-8", date(2026, 3, 1)), ("4", "L-5", date(2026, 1, 10))):
        with writing(engine, person) as session:
            offer_tests.add_test_value(
                session,
                "X01",
                {"property": "filling_stops", "value": Decimal(value), "method": "our looms ễ",
                 "lot": lot, "tested_on": day, "attachment_id": None},
            )  # fmt: skip
    offer = book(engine).offer("X01")
    assert offer.tests["filling_stops"] == 9.25
    assert offer.test_sources["filling_stops"] == ("our looms ễ, lot L-8", date(2026, 3, 1))
    assert "warp_stops" not in offer.tests


@pytest.mark.parametrize(
    ("key", "value", "told"),
    [
        ("fabric.looms_per_weaver", "7.5", "whole number of looms"),
        ("fabric.looms_per_weaver", "0", "at least 1"),
        ("fabric.warp_stops.OE", "1001", "at most 1000 stops"),
        ("fabric.planned_stops", "95", "at most 90 %"),
        ("fabric.warp_repair", "-1", "0"),
    ],
)
def test_values_of_the_rule_keep_their_limits(key: str, value: str, told: str) -> None:
    given = entry_of("assumptions") | {
        "key": key,
        "value": value,
        "at_ne": "",
        "low": "",
        "high": "",
    }
    with pytest.raises(Refused) as refused:
        read_entry(NOUNS["assumptions"], given)
    assert told in refused.value.errors[0].message
    assert refused.value.errors[0].field == "value"
