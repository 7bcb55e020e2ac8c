"""Changing many rows at once and taking it back, on both databases."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy import Engine
from sqlmodel import col, select

from server.core.errors import Conflict, NotFound
from server.store.audit import moment_of
from server.store.bulk import RowChange, add_rows, change_rows, in_pieces
from server.store.session import reading, writing
from server.store.tables import OfferRow, PriceBreakRow, SlotRow, SupplierRow, YarnRow
from server.store.undo import CannotUndo, Undone, moment_told, recent_moments, undo_moment
from tests.store.databases import events, store


def offer(engine: Engine, code: str) -> OfferRow:
    with reading(engine) as session:
        return session.exec(select(OfferRow).where(OfferRow.code == code)).one()


def two_offers(engine: Engine, person: int) -> list[OfferRow]:
    store(engine, person, "offers")
    store(engine, person, "offers", code="X02", lead_days="30")
    return [offer(engine, "X01"), offer(engine, "X02")]


def change(
    engine: Engine, person: int, rows: list[OfferRow], values: Mapping[str, Any]
) -> tuple[datetime, int]:
    """Change these offers alike; gives the moment and how many differ."""
    with writing(engine, person) as session:
        count = change_rows(
            session,
            OfferRow,
            (RowChange(row.id or 0, row.row_version, values) for row in rows),
        )
        return moment_of(session), count


def test_many_rows_change_with_a_new_version_and_an_event_each_at_one_moment(
    engine: Engine, person: int
) -> None:
    rows = two_offers(engine, person)
    before = len(events(engine))
    values = {"lead_days": 44, "moq_tonnes": Decimal("12.50"), "valid_until": date(2026, 4, 1)}
    at, count = change(engine, person, rows, values)
    assert count == 2
    for row in rows:
        now = offer(engine, row.code)
        assert (now.lead_days, str(now.moq_tonnes), now.valid_until) == (
            44, "12.50", date(2026, 4, 1),
        )  # fmt: skip
        assert now.row_version == row.row_version + 1
        assert now.changed_at > row.changed_at
    told = events(engine)[before:]
    assert [(each.table_name, each.row_id, each.action) for each in told] == [
        ("offer", row.id, "change") for row in rows
    ]
    assert {each.at for each in told} == {at}
    assert told[0].changes["moq_tonnes"] == ["20", "12.50"]


def test_a_row_that_holds_the_values_already_is_left_alone(engine: Engine, person: int) -> None:
    rows = two_offers(engine, person)
    before = len(events(engine))
    _, count = change(engine, person, rows, {"lead_days": 30, "notes": "quoted by telephone"})
    assert count == 0
    assert offer(engine, "X01").row_version == rows[0].row_version
    assert len(events(engine)) == before


def test_equal_numbers_written_otherwise_are_a_change(engine: Engine, person: int) -> None:
    rows = two_offers(engine, person)
    assert change(engine, person, rows[:1], {"moq_tonnes": Decimal("20.0")})[1] == 1
    assert str(offer(engine, "X01").moq_tonnes) == "20.0"


def test_one_stale_row_stores_nothing_and_is_named(engine: Engine, person: int) -> None:
    rows = two_offers(engine, person)
    change(engine, person, rows[1:], {"lead_days": 31})
    before = len(events(engine))
    with pytest.raises(Conflict, match="offer X02"):
        change(engine, person, rows, {"lead_days": 44})
    assert offer(engine, "X01").lead_days == 30
    assert len(events(engine)) == before


def test_a_row_that_is_gone_is_a_conflict(engine: Engine, person: int) -> None:
    rows = two_offers(engine, person)
    gone = RowChange(9999, 1, {"lead_days": 1})
    with pytest.raises(Conflict, match="is gone"), writing(engine, person) as session:
        change_rows(session, OfferRow, [RowChange(rows[0].id or 0, 1, {"lead_days": 1}), gone])
    assert offer(engine, "X01").lead_days == 30


def test_what_is_taken_back_is_as_it_was_to_the_digit(engine: Engine, person: int) -> None:
    rows = two_offers(engine, person)
    wanted = {"lead_days": None, "moq_tonnes": Decimal("7"), "notes": "", "valid_until": None,
              "ships_from": "Mexico", "count_tolerance_percent": None}  # fmt: skip
    at, _ = change(engine, person, rows, wanted)
    with writing(engine, person) as session:
        assert undo_moment(session, at, person) == Undone(changed=2, removed=0)
    for row in rows:
        now = offer(engine, row.code)
        for name in wanted:
            assert str(getattr(now, name)) == str(getattr(row, name)), name
        assert now.row_version == row.row_version + 2
    assert events(engine)[-1].changes["moq_tonnes"] == ["7", "20"]


def test_a_row_changed_twice_in_one_moment_goes_back_to_the_first_value(
    engine: Engine, person: int
) -> None:
    row = two_offers(engine, person)[0]
    with writing(engine, person) as session:
        change_rows(session, OfferRow, [RowChange(row.id or 0, 1, {"lead_days": 40})])
        change_rows(session, OfferRow, [RowChange(row.id or 0, 2, {"lead_days": 50})])
        at = moment_of(session)
    with writing(engine, person) as session:
        undo_moment(session, at, person)
    assert offer(engine, "X01").lead_days == 30


def test_a_row_changed_since_refuses_the_whole_and_is_named(engine: Engine, person: int) -> None:
    rows = two_offers(engine, person)
    at, _ = change(engine, person, rows, {"lead_days": 44})
    change(engine, person, [offer(engine, "X02")], {"notes": "asked again"})
    with pytest.raises(CannotUndo) as refused, writing(engine, person) as session:
        undo_moment(session, at, person)
    assert len(refused.value.reasons) == 1
    assert refused.value.reasons[0].startswith("offer X02 was changed since, on ")
    assert offer(engine, "X01").lead_days == 44


def test_an_undo_cannot_be_done_twice_but_can_be_undone(engine: Engine, person: int) -> None:
    rows = two_offers(engine, person)
    at, _ = change(engine, person, rows, {"lead_days": 44})
    with writing(engine, person) as session:
        undo_moment(session, at, person)
        undone_at = moment_of(session)
    with pytest.raises(CannotUndo), writing(engine, person) as session:
        undo_moment(session, at, person)
    with writing(engine, person) as session:
        undo_moment(session, undone_at, person)
    assert offer(engine, "X02").lead_days == 44


def test_added_rows_go_with_what_hangs_on_them_and_a_yarn_stays(
    engine: Engine, person: int
) -> None:
    store(engine, person, "suppliers", name="Larchmoor Spinning")
    kept = len(events(engine))
    store(engine, person, "offers", supplier="Larchmoor Spinning", code="X09")
    told = events(engine)[kept:]
    assert {each.table_name for each in told} >= {"offer", "yarn", "price_break", "test_value"}
    with writing(engine, person) as session:
        undone = undo_moment(session, told[-1].at, person)
    assert undone.removed == len(told) - 1
    with reading(engine) as session:
        assert session.exec(select(OfferRow)).all() == []
        assert session.exec(select(PriceBreakRow)).all() == []
        assert len(session.exec(select(YarnRow)).all()) == 1
        assert len(session.exec(select(SupplierRow)).all()) >= 1
    removed = [each for each in events(engine) if each.action == "remove"]
    assert {each.changes["code"][0] for each in removed if each.table_name == "offer"} == {"X09"}


def test_offers_that_replace_each_other_within_the_moment_are_taken_back(
    engine: Engine, person: int
) -> None:
    first = two_offers(engine, person)[0]
    whole = first.model_dump(exclude={"id", "row_version", "owner_id", "changed_at"})
    with writing(engine, person) as session:
        (one,) = add_rows(session, OfferRow, [{**whole, "code": "Y1"}])
        add_rows(session, OfferRow, [{**whole, "code": "Y2", "replaces_id": one}])
        at = moment_of(session)
    with writing(engine, person) as session:
        assert undo_moment(session, at, person).removed == 2
    told = [e for e in events(engine) if e.action == "remove" and e.changes["code"][0] == "Y2"]
    assert told[0].changes["replaces_id"] == [str(one), None]


def test_an_added_offer_that_something_uses_by_now_stays_with_the_reason(
    engine: Engine, person: int
) -> None:
    store(engine, person, "offers")
    at = events(engine)[-1].at
    store(engine, person, "offers", code="X02", replaces="X01")
    with (
        pytest.raises(CannotUndo, match=r"offer X02 uses offer X01"),
        writing(engine, person) as session,
    ):
        undo_moment(session, at, person, stays=("yarn", "supplier"))
    assert offer(engine, "X01").code == "X01"


def test_an_offer_that_a_construction_is_pinned_to_stays(engine: Engine, person: int) -> None:
    store(engine, person, "offers")
    at = events(engine)[-1].at
    store(engine, person, "constructions", warp_pinned_offer="X01")
    with (
        pytest.raises(CannotUndo, match=r"slot .* uses offer X01"),
        writing(engine, person) as session,
    ):
        undo_moment(session, at, person, stays=("yarn", "supplier"))
    with reading(engine) as session:
        assert session.exec(select(SlotRow).where(col(SlotRow.pinned_offer) == "X01")).first()


def test_a_moment_that_removed_something_is_not_brought_back(engine: Engine, person: int) -> None:
    store(engine, person, "offers")
    with writing(engine, person) as session:
        session.delete(session.exec(select(PriceBreakRow)).first())
        session.flush()
        at = moment_of(session)
    with (
        pytest.raises(CannotUndo, match="removed 1 of price break"),
        writing(engine, person) as session,
    ):
        undo_moment(session, at, person)


def test_a_moment_nobody_had_is_not_found(engine: Engine, person: int) -> None:
    with pytest.raises(NotFound), writing(engine, person) as session:
        undo_moment(session, datetime(2020, 1, 1, tzinfo=UTC), person)


def test_moments_are_told_with_what_they_did_the_newest_first(engine: Engine, person: int) -> None:
    rows = two_offers(engine, person)
    first, _ = change(engine, person, rows, {"lead_days": 44})
    change(engine, person, [offer(engine, "X01")], {"lead_days": 45})  # one is not many
    last, _ = change(engine, person, [offer(engine, each.code) for each in rows], {"notes": "n"})
    with reading(engine) as session:
        found = recent_moments(session, "offer")
        assert [each.at for each in found] == [last, first]
        assert found[0].counts == {("offer", "change"): 2}
        assert moment_told(session, first, person).person == "Rosalía Quintero"


def test_pieces_hold_everything_in_order() -> None:
    assert list(in_pieces(range(7), 3)) == [[0, 1, 2], [3, 4, 5], [6]]
    assert list(in_pieces([], 3)) == []
