"""What is still alive: every current offer against the days, and the winner without the dead."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cached_property

from server.actions.book import current_book
from server.actions.compare import BasisChange, changed_basis, compare_construction
from server.actions.memory import Memory, question
from server.core.construction import Basis, Construction
from server.core.errors import BadValue, CreelbookError
from server.core.freshness import ENDED, Fresh, RateUse, Winner, fresh_offers, winner_of
from server.store.session import Engine, reading
from server.store.waiting import waiting_intakes

_kept: Memory[Freshness] = Memory(8)
_winners: Memory[tuple[Won, ...]] = Memory(8)


@dataclass(frozen=True, eq=False)
class Freshness:
    """Every current offer on one basis for one order day; nothing before there is a basis."""

    basis: Basis | None
    order: date | None
    offers: tuple[Fresh, ...]

    @cached_property
    def counts(self) -> Mapping[str, int]:
        """Offers in each state."""
        return Counter(each.state for each in self.offers)

    @cached_property
    def ended(self) -> tuple[Fresh, ...]:
        """Offers that nobody is bound to on the meeting or order day, the longest dead first."""
        over = (each for each in self.offers if each.state in ENDED)
        return tuple(sorted(over, key=lambda each: (each.days_left or 0, each.offer.code)))

    @cached_property
    def asking(self) -> tuple[Fresh, ...]:
        """Offers with something the seller has not said."""
        return tuple(each for each in self.offers if each.question_count)

    @cached_property
    def old_rates(self) -> tuple[RateUse, ...]:
        """Rows in use that are older than they should be, the oldest first."""
        used = {use: None for each in self.offers for use in each.old_rates}
        return tuple(sorted(used, key=lambda use: (-use.age_days, use.kind, use.name)))


@dataclass(frozen=True)
class Won:
    """A construction with its two winners, or the reason why it cannot be compared."""

    construction: Construction
    winner: Winner | None
    missing: str


def read_order(asked: Mapping[str, str], basis: Basis) -> date:
    """The day the order is placed: the meeting unless the address says another. Raises BadValue."""
    text = asked.get("order", "").strip()
    if not text:
        return basis.meeting
    try:
        order = date.fromisoformat(text)
    except ValueError:
        raise BadValue(
            f"“{text[:20]}” is not a date.",
            field="order",
            value=text,
            remedy="Write the order day as 2026-03-12.",
        ) from None
    if order < basis.as_of:
        raise BadValue(
            f"The order day {order} is before the as-of day {basis.as_of}.",
            field="order",
            value=text,
            remedy="Change one of the dates.",
        )
    return order


def freshness(
    engine: Engine, change: BasisChange, asked: Mapping[str, str], basis_name: str = ""
) -> Freshness:
    """Every current offer against the days that matter. asked: may hold `order`."""
    book = current_book(engine)
    if not book.bases:
        return Freshness(None, None, ())
    basis = changed_basis(book, basis_name, change)
    order = read_order(asked, basis)

    def work_out() -> Freshness:
        offers = fresh_offers(book.current_offers, basis, book.rates, order)
        return Freshness(basis, order, offers)

    about = question(engine, book, change.changes, basis_name, order.isoformat())
    return _kept.recall(about, work_out)


def winners(engine: Engine, change: BasisChange, basis_name: str = "") -> tuple[Won, ...]:
    """Every construction: the winner if expired offers still held, and the winner without them."""
    book = current_book(engine)

    def work_out() -> tuple[Won, ...]:
        found = []
        for construction in book.constructions:
            try:
                comparison = compare_construction(engine, construction.code, change, basis_name)
                found.append(Won(construction, winner_of(comparison), ""))
            except CreelbookError as missing:
                found.append(Won(construction, None, str(missing)))
        return tuple(found)

    if not book.bases:
        return ()
    changed_basis(book, basis_name, change)
    return _winners.recall(question(engine, book, change.changes, basis_name), work_out)


def intakes_waiting(engine: Engine) -> int:
    """How many pastes and files were read and are not stored yet."""
    with reading(engine) as session:
        return waiting_intakes(session)
