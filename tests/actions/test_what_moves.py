"""What a rate would move is what it does move once it is stored; the look stores nothing."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from sqlalchemy import Engine

from server.actions import what_moves as module
from server.actions.compare import BasisChange, compare_construction
from server.actions.nouns import NOUNS, read_entry
from server.actions.records import add_record, change_record, list_records, one_record
from server.actions.what_moves import Move, WhatMoves, what_moves
from server.core.errors import CreelbookError, NotFound
from tests.builders import construction
from tests.entered import counts

SEA = {
    "country": "India",
    "route": "Mundra–Veracruz",
    "currency": "USD",
    "freight": "5200",
    "load_mass_kg": "20000",
    "inland": "0.09",
    "transit_days": "45",
    "valid_from": "2026-03-01",
    "source": "a forwarder",
}


def look(engine: Engine, path: str, typed: dict[str, Any], key: str = "") -> WhatMoves:
    noun = NOUNS[path]
    changed = one_record(engine, noun, key).id if key else None
    return what_moves(engine, noun, [(changed, read_entry(noun, typed))])


def leader(engine: Engine, code: str) -> tuple[str, float | None]:
    try:
        pair = compare_construction(engine, code, BasisChange({}, {})).leader
    except CreelbookError:
        return "", None
    return (pair.key, pair.figures["fabric_cost"]) if pair else ("", None)


def by_code(found: WhatMoves) -> dict[str, Move]:
    return {move.construction.code: move for move in found.moves}


STORING: tuple[tuple[str, dict[str, Any]], ...] = (
    ("rates/lanes", SEA),
    ("rates/lanes", SEA | {"transit_days": "80"}),
    ("rates/exchange", {"base": "USD", "quote": "MXN", "rate": "15.9",
                        "valid_from": "2026-03-02", "source": "a bank"}),
    ("rates/duties", {"country": "Viet Nam", "rate_percent": "12", "valid_from": "2026-02-01",
                      "source": "a tariff", "preparation": "carded"}),
    ("rates/charges", {"key": "clearance_rate", "value": "2.5", "valid_from": "2026-02-01",
                       "source": "a broker"}),
)  # fmt: skip


@pytest.mark.parametrize(("path", "typed"), STORING)
def test_what_is_foreseen_is_what_storing_does(
    house_engine: Engine, path: str, typed: dict[str, Any]
) -> None:
    seen = counts(house_engine)
    found = look(house_engine, path, typed)
    assert counts(house_engine) == seen
    assert any(move.moves for move in found.moves)
    before = {code: leader(house_engine, code) for code in by_code(found)}
    add_record(house_engine, NOUNS[path], typed, 1)
    for code, move in by_code(found).items():
        assert (move.before.pair, move.before.cost) == before[code]
        assert (move.after.pair, move.after.cost) == leader(house_engine, code)


def test_a_changed_record_is_foreseen_in_its_place(house_engine: Engine) -> None:
    noun = NOUNS["rates/exchange"]
    kept = next(k for k in list_records(house_engine, noun) if k.values["quote"] == "MXN")
    typed = {**kept.values, "rate": "14"}
    found = look(house_engine, "rates/exchange", typed, kept.key)
    change_record(house_engine, noun, kept.key, typed, kept.version, 1)
    for code, move in by_code(found).items():
        assert (move.after.pair, move.after.cost) == leader(house_engine, code)


def test_offers_that_move_are_counted_with_the_one_that_moves_most(house_engine: Engine) -> None:
    moves = by_code(look(house_engine, "rates/lanes", SEA))
    move = moves["DN-1450"]
    assert move.offers == 2
    assert move.largest is not None
    code, change = move.largest
    assert code in ("Q01", "Q07")
    assert change == pytest.approx(2000 / 20_000 * 1.113, rel=0.01)  # freight bears duty and fees
    assert move.change is not None
    assert move.change > 0
    assert moves["DN-1375"].offers == 0
    assert not moves["DN-0800S"].leader_changes


def test_an_offer_that_could_no_longer_be_priced_is_named_with_the_question(
    house_engine: Engine,
) -> None:
    duty = {"country": "Viet Nam", "rate_percent": "12", "valid_from": "2026-02-01",
            "source": "a tariff", "preparation": "combed"}  # fmt: skip
    move = by_code(look(house_engine, "rates/duties", duty))["DN-0800S"]
    assert move.after.missing == "no possible pair"
    ((code, reason),) = move.lost
    assert code == "Q40"
    assert "Ask: carded or combed?" in reason


def test_a_rate_that_does_not_hold_yet_says_from_when(house_engine: Engine) -> None:
    found = look(house_engine, "rates/lanes", SEA | {"valid_from": "2026-03-03"})
    assert str(found.held_from) == "2026-03-03"
    assert not any(move.moves for move in found.moves)
    assert look(house_engine, "rates/lanes", SEA).held_from is None


def test_two_duties_between_which_nothing_decides_are_a_doubt(house_engine: Engine) -> None:
    duty = {"country": "India", "rate_percent": "12", "valid_from": "2026-02-01",
            "source": "a tariff", "preparation": "carded"}  # fmt: skip
    assert look(house_engine, "rates/duties", duty).doubts == ()
    add_record(house_engine, NOUNS["rates/duties"], duty, 1)
    by_ply = {**duty, "rate_percent": "8", "preparation": "any", "ply": "single"}
    found = look(house_engine, "rates/duties", by_ply)
    (doubt,) = found.doubts
    assert doubt.startswith("8 % for single and 12 % for carded")
    assert any("Two duty rates" in reason for move in found.moves for _, reason in move.lost)


def test_the_basis_is_the_one_asked_for(house_engine: Engine) -> None:
    bases = NOUNS["bases"]
    first = list_records(house_engine, bases)[0]
    later = {**first.values, "name": "In euros", "currency": "EUR"}
    add_record(house_engine, bases, later, 1)
    noun = NOUNS["rates/lanes"]
    entries = [(None, read_entry(noun, SEA))]
    found = what_moves(house_engine, noun, entries, "In euros")
    assert found.basis.currency == "EUR"
    move = by_code(found)["DN-1450"]
    dollars = by_code(what_moves(house_engine, noun, entries))["DN-1450"]
    assert move.before.cost == pytest.approx((dollars.before.cost or 0) / 1.186)
    with pytest.raises(NotFound):
        what_moves(house_engine, noun, entries, "none")


@pytest.mark.parametrize("bound", ["count", "time"])
def test_the_work_is_bounded_and_says_what_it_left_out(
    house_engine: Engine, monkeypatch: pytest.MonkeyPatch, bound: str
) -> None:
    if bound == "count":
        monkeypatch.setattr(module, "MOST_CONSTRUCTIONS", 3)
    else:
        ticks = iter(range(0, 1000, 4))
        monkeypatch.setattr(module, "monotonic", lambda: next(ticks))
    found = look(house_engine, "rates/lanes", SEA)
    assert (len(found.moves), found.not_looked_at) == ((3, 5) if bound == "count" else (2, 6))


def test_a_move_tells_leader_and_combination_apart() -> None:
    side = module.Side("Q14/Q14", "OE/OE", 2.0, "")

    def made(after: module.Side) -> Move:
        return Move(construction(), side, after, 0, None, (), 0)

    same = made(side)
    assert not same.leader_changes
    assert not same.combination_changes
    assert not same.moves
    other = made(replace(side, pair="Q15/Q15", cost=2.5))
    assert other.leader_changes
    assert not other.combination_changes
    assert made(replace(side, pair="Q09/Q14", combination="ring/OE")).combination_changes
    assert made(module.Side("", "", None, "no rate")).change is None
