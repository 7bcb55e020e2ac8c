"""What a rate that is about to be stored would move: every construction under both rate books.

Nothing is stored. The work is bounded: constructions after MOST_CONSTRUCTIONS, or after LONGEST_S
seconds, are counted and not looked at.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from time import monotonic
from typing import Any

from server.actions.book import current_book
from server.actions.compare import BasisChange, compare_construction
from server.actions.nouns import Noun
from server.core.candidates import Candidate
from server.core.compare import Comparison, compare
from server.core.construction import Basis, Construction
from server.core.duty import DutyRate, rivals_of
from server.core.errors import CreelbookError
from server.core.rates import RateBook
from server.store.book import Book
from server.store.rates import with_entries
from server.store.session import Engine

RATES = ("rates/exchange", "rates/lanes", "rates/duties", "rates/charges")
MOST_CONSTRUCTIONS = 200
LONGEST_S = 8.0
SAME = 1e-9  # prices nearer than this are the same [share]

Entries = Sequence[tuple[int | None, Mapping[str, Any]]]


@dataclass(frozen=True, slots=True)
class Side:
    """The cheapest possible pair of a construction, or why there is none. cost: [¤/m]"""

    pair: str
    combination: str
    cost: float | None
    missing: str


@dataclass(frozen=True, slots=True)
class Move:
    """One construction before and after.

    offers: how many have another landed price, or gain or lose one
    largest: the offer whose same-basis price moves most, and by how much [¤/kg]
    lost: offers that could no longer be priced, each with why
    restanding: how many offers become possible or stop being so
    """

    construction: Construction
    before: Side
    after: Side
    offers: int
    largest: tuple[str, float] | None
    lost: tuple[tuple[str, str], ...]
    restanding: int

    @property
    def change(self) -> float | None:
        """Cost after less cost before [¤/m]; None where one of them is not there."""
        if self.before.cost is None or self.after.cost is None:
            return None
        return self.after.cost - self.before.cost

    @property
    def leader_changes(self) -> bool:
        """Whether another pair leads."""
        return self.before.pair != self.after.pair

    @property
    def combination_changes(self) -> bool:
        """Whether another spinning combination leads."""
        return self.before.combination != self.after.combination

    @property
    def moves(self) -> bool:
        """Whether anything is otherwise."""
        return bool(
            self.offers
            or self.restanding
            or self.leader_changes
            or self.change
            or self.before.missing != self.after.missing
        )


@dataclass(frozen=True)
class WhatMoves:
    """What entries of rates would move on a basis.

    held_from: the day of the newest entry, when none holds yet on the rates day of the basis
    doubts: duty rows between which nothing would decide
    not_looked_at: constructions left out to keep the work bounded
    """

    basis: Basis
    moves: tuple[Move, ...]
    held_from: date | None
    doubts: tuple[str, ...]
    not_looked_at: int


def what_moves(engine: Engine, noun: Noun, entries: Entries, basis_name: str = "") -> WhatMoves:
    """Compare every construction on a basis with these entries stored, and without.

    noun: one of RATES; entries: (id of the record changed, or None; its validated values)
    Raises NotFound when there is no such basis.
    """
    book = current_book(engine)
    basis = book.basis(basis_name)
    changed = with_entries(book.rates, noun.keeper.table, entries)
    begun, moves = monotonic(), []
    for construction in book.constructions[:MOST_CONSTRUCTIONS]:
        if monotonic() - begun > LONGEST_S:
            break
        moves.append(_move(engine, book, construction, basis, changed))
    days = [values["valid_from"] for _, values in entries]
    return WhatMoves(
        basis,
        tuple(moves),
        min(days) if days and min(days) > basis.rates_on else None,
        _doubts(book.rates, changed),
        len(book.constructions) - len(moves),
    )


def _move(
    engine: Engine, book: Book, construction: Construction, basis: Basis, changed: RateBook
) -> Move:
    before, without = None, ""
    try:
        nothing = BasisChange({}, {})
        before = compare_construction(engine, construction.code, nothing, basis.name)
    except CreelbookError as missing:
        without = str(missing)
    after, then_without = None, ""
    try:
        after = compare(
            construction,
            basis,
            book.assumption_set(basis.assumption_set),
            changed,
            book.current_offers,
            book.limits,
        )
    except CreelbookError as missing:
        then_without = str(missing)
    was, becomes = _candidates(before), _candidates(after)
    moved: dict[str, float | None] = {}
    restanding = set()
    for place in {**was, **becomes}:
        old, new = was.get(place), becomes.get(place)
        if old is None or new is None:
            moved.setdefault(place[1], None)
            continue
        if abs(new.price - old.price) > SAME * abs(old.price):
            moved[place[1]] = new.price - old.price
        if new.standing.state != old.standing.state:
            restanding.add(place[1])
    unpriced = {each.offer.code: each.reason for each in after.unpriced} if after else {}
    priced = {code for _, code in was} - {code for _, code in becomes}
    changes = [(code, change) for code, change in moved.items() if change is not None]
    return Move(
        construction,
        _side(before, without),
        _side(after, then_without),
        len(moved),
        max(changes, key=lambda each: (abs(each[1]), each[0]), default=None),
        tuple((code, unpriced[code]) for code in sorted(priced & set(unpriced))),
        len(restanding),
    )


def _candidates(comparison: Comparison | None) -> dict[tuple[str, str], Candidate]:
    if comparison is None:
        return {}
    return {
        (each.slot.name, each.offer.code): each
        for direction in (comparison.warp, comparison.filling)
        for each in (*direction.candidates, *direction.companions)
    }


def _side(comparison: Comparison | None, missing: str) -> Side:
    leader = comparison.leader if comparison else None
    if leader is None:
        return Side("", "", None, missing or "no possible pair")
    return Side(leader.key, leader.combination, leader.figures["fabric_cost"], "")


def duty_doubts(rows: Iterable[DutyRate], all_rows: Sequence[DutyRate]) -> tuple[str, ...]:
    """Where another row of the same day is for some of the same yarns and says another duty."""
    return tuple(
        f"{row.rate * 100:g} % for {row.words} and {rival.rate * 100:g} % for {rival.words} "
        f"(rate {rival.id}) both hold from {row.valid_from} for some yarn of {row.country}, and "
        "neither asks for more; offers of such a yarn could not be priced."
        for row in rows
        for rival in rivals_of(row, all_rows)
    )


def _doubts(stored: RateBook, changed: RateBook) -> tuple[str, ...]:
    known = set(stored.duties)
    return duty_doubts((row for row in changed.duties if row not in known), changed.duties)


def doubts_of_duty(engine: Engine, duty_id: int) -> tuple[str, ...]:
    """The doubts about one stored duty rate."""
    duties = current_book(engine).rates.duties
    return duty_doubts((row for row in duties if row.id == duty_id), duties)
