"""A set copied under a new name, on both databases."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from sqlalchemy import Engine
from sqlmodel import select

from server.core.errors import BadValue, NotFound
from server.store import scenarios
from server.store.scenarios import NewValue, clone_set, person_name
from server.store.session import reading, writing
from server.store.tables import AssumptionRow, AssumptionSetRow
from tests.store.databases import events, store

ON = date(2026, 3, 2)


@pytest.fixture
def value_id(engine: Engine, person: int) -> int:
    """A set “House 2026” of two values; the id of the first."""
    key = store(engine, person, "assumptions")
    store(engine, person, "assumptions", key="ring.efficiency", at_ne="", value="92.50",
          low="", high="", source="the ring mill ễ")  # fmt: skip
    return int(key)


def clone(engine: Engine, person: int, name: str, changed: dict[int, NewValue]) -> int:
    with writing(engine, person) as session:
        return clone_set(session, "House 2026", name, notes="“on trial” ễ", changed=changed, on=ON)


def rows(engine: Engine, set_id: int) -> list[AssumptionRow]:
    with reading(engine) as session:
        found = select(AssumptionRow).where(AssumptionRow.set_id == set_id)
        return sorted(session.exec(found).all(), key=lambda row: row.key)


def test_every_value_is_copied_to_the_digit(engine: Engine, person: int, value_id: int) -> None:
    number = clone(engine, person, "Copy", {})
    efficiency, speed = rows(engine, number)
    assert str(efficiency.value) == "92.50"
    assert efficiency.source == "the ring mill ễ"
    assert (str(speed.value), str(speed.at_ne), str(speed.high)) == ("9500", "7", "10000.0")
    assert speed.noted_on == date(2026, 2, 27)
    with reading(engine) as session:
        new = session.get(AssumptionSetRow, number)
        assert new is not None
        assert (new.name, new.currency, new.notes) == ("Copy", "USD", "“on trial” ễ")


def test_changed_values_carry_their_own_source_and_day_and_a_range_that_holds_them(
    engine: Engine, person: int, value_id: int
) -> None:
    number = clone(
        engine, person, "Fast", {value_id: NewValue(Decimal("10450.0"), "as in House 2026")}
    )
    _, speed = rows(engine, number)
    assert str(speed.value) == "10450.0"
    assert (speed.source, speed.noted_on) == ("as in House 2026", ON)
    assert (str(speed.low), speed.high) == ("9000", None)
    with reading(engine) as session:
        old = session.get(AssumptionRow, value_id)
        assert old is not None
        assert str(old.value) == "9500"


def test_the_audit_holds_the_set_and_every_value_of_one_moment(
    engine: Engine, person: int, value_id: int
) -> None:
    before = len(events(engine))
    number = clone(engine, person, "Copy", {})
    made = events(engine)[before:]
    assert [(event.table_name, event.action) for event in made] == [
        ("assumption_set", "add"), ("assumption", "add"), ("assumption", "add")
    ]  # fmt: skip
    assert len({event.at for event in made}) == 1
    assert made[0].row_id == number
    assert made[0].changes["name"] == [None, "Copy"]
    assert {event.changes["set_id"][1] for event in made[1:]} == {str(number)}


@pytest.mark.parametrize("name", ["House 2026", "house 2026", "HOUSE 2026"])
def test_a_name_is_taken_whatever_its_capitals(
    engine: Engine, person: int, value_id: int, name: str
) -> None:
    before = len(events(engine))
    with pytest.raises(BadValue, match="There is an assumption set “House 2026” already"):
        clone(engine, person, name, {})
    assert len(events(engine)) == before


def test_there_are_so_many_sets_at_most(
    engine: Engine, person: int, value_id: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(scenarios, "MOST_SETS", 2)
    clone(engine, person, "Second", {})
    with pytest.raises(BadValue, match="the most it can have"):
        clone(engine, person, "Third", {})


def test_a_set_that_is_not_there_is_not_copied(engine: Engine, person: int) -> None:
    with pytest.raises(NotFound), writing(engine, person) as session:
        clone_set(session, "None", "Copy", notes="", changed={}, on=ON)
    assert events(engine) == []


def test_who_writes_is_known_by_name(engine: Engine, person: int) -> None:
    with writing(engine, person) as session:
        assert person_name(session) == "Rosalía Quintero"
