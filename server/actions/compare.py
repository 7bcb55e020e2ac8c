"""Comparing a construction on a basis that may be changed in place."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from server.actions.book import current_book
from server.actions.memory import Memory, question
from server.core.break_even import BreakEven, break_evens_of
from server.core.candidates import Landings
from server.core.compare import Comparison, Pair, compare
from server.core.construction import Basis, Construction
from server.core.currencies import CURRENCIES
from server.core.errors import BadValue, CreelbookError, NotFound
from server.core.loom_behaviour import LOOM_RULES
from server.core.rates_used import UsedRate, rates_of_comparison
from server.store.book import Bases, Book
from server.store.session import Engine

_kept: Memory[Comparison] = Memory(64)
_landings: Memory[Landings] = Memory(8)


@dataclass(frozen=True)
class BasisChange:
    """What a request changes on the stored basis, and what it got wrong.

    changes: field of Basis -> value; errors: field -> sentence
    """

    changes: Mapping[str, Any]
    errors: Mapping[str, str]


DATES = ("rates_on", "as_of", "meeting", "need_by")


def read_basis_change(asked: Mapping[str, str]) -> BasisChange:
    """Read the changeable parts of a basis from texts, such as a query string."""
    changes: dict[str, Any] = {}
    errors: dict[str, str] = {}
    for name, reader in _READERS.items():
        text = asked.get(name, "").strip()
        if not text:
            continue
        try:
            changes[name] = reader(text)
        except CreelbookError as wrong:
            errors[name] = str(wrong)
    return BasisChange(changes, errors)


def sound_basis_change(asked: Mapping[str, str]) -> BasisChange:
    """The same, where a wrong part cannot be shown beside its field. Raises BadValue."""
    change = read_basis_change(asked)
    for name, wrong in change.errors.items():
        raise BadValue(wrong, field=name)
    return change


def refuse_unknown_parts(asked: Iterable[str]) -> None:
    """Raises BadValue for a name that is no changeable part of a basis."""
    for name in asked:
        if name not in _READERS:
            raise BadValue(
                f"“{name[:40]}” is no part of a basis that can be changed.",
                field="basis_changes",
                value=name,
                remedy=f"Choose among: {', '.join(_READERS)}.",
            )


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise BadValue(
            f"“{text[:20]}” is not a date.",
            field="date",
            value=text,
            remedy="Write it as 2026-03-12.",
        ) from None


def _currency(text: str) -> str:
    if text not in CURRENCIES:
        raise BadValue(
            f"“{text[:20]}” is not a currency code of ISO 4217.",
            field="currency",
            value=text,
            remedy="Write for example USD or EUR.",
        )
    return text


def _quantity(text: str) -> str:
    if text not in ("first price", "season", "metres"):
        raise BadValue(
            f"“{text[:20]}” is no quantity rule.",
            field="quantity",
            value=text,
            remedy="Choose first price, season or metres.",
        )
    return text


def _loom_rule(text: str) -> str:
    if text not in LOOM_RULES:
        raise BadValue(
            f"“{text[:20]}” is no rule for loom efficiency.",
            field="loom_rule",
            value=text,
            remedy="Choose as assumed or from stops.",
        )
    return text


def _metres(text: str) -> float:
    try:
        metres = float(text)
    except ValueError:
        metres = 0.0
    if not 0 < metres < 1e9:
        raise BadValue(
            f"“{text[:20]}” is not a length.",
            field="metres",
            value=text,
            unit="m",
            remedy="Enter metres above zero, digits only.",
        )
    return metres


_READERS: Mapping[str, Callable[[str], Any]] = {
    **dict.fromkeys(DATES, _day),
    "currency": _currency,
    "quantity": _quantity,
    "metres": _metres,
    "loom_rule": _loom_rule,
    "assumption_set": str,
}


def changed_basis(book: Book | Bases, name: str, change: BasisChange) -> Basis:
    """The stored basis with the asked changes. Raises BadValue when they contradict."""
    basis = book.basis(name)
    changed = replace(basis, **change.changes)
    if changed.quantity == "metres" and changed.metres is None:
        raise BadValue(
            "Quantity “metres” needs the metres.",
            field="metres",
            unit="m",
            remedy="Enter the metres to buy yarn for.",
        )
    if changed.need_by < changed.meeting:
        raise BadValue(
            f"Need-by {changed.need_by} is before the meeting {changed.meeting}.",
            field="need_by",
            value=changed.need_by,
            remedy="Change one of the dates.",
        )
    return changed


def compare_construction(
    engine: Engine, code: str, change: BasisChange, basis_name: str = ""
) -> Comparison:
    """The comparison of one construction; the same question asked again is answered from memory."""
    book = current_book(engine)

    def work_out() -> Comparison:
        basis = changed_basis(book, basis_name, change)
        return compare(
            book.construction(code),
            basis,
            book.assumption_set(basis.assumption_set),
            book.rates,
            book.current_offers,
            book.limits,
            landings_on(engine, book, basis, change, basis_name),
        )

    return _kept.recall(question(engine, book, change.changes, code, basis_name), work_out)


def landings_on(
    engine: Engine, book: Book, basis: Basis, change: BasisChange, basis_name: str
) -> Landings:
    """The offers landed so far on a basis, for every construction that asks."""
    asked = question(engine, book, change.changes, basis_name)
    return _landings.recall(asked, lambda: Landings(basis, book.rates))


def pair_of(comparison: Comparison, warp: str, filling: str) -> Pair:
    """One pair of a comparison. Raises NotFound."""
    pair = comparison.find(warp, filling)
    if pair is None:
        raise NotFound(
            f"{warp[:40]} and {filling[:40]} are no pair of {comparison.construction.code}.",
            field="pair",
            value=f"{warp}/{filling}",
            remedy="Choose a pair from the comparison page.",
        )
    return pair


def figures_of(comparison: Comparison, pair: Pair) -> dict[str, float]:
    """Every figure of one pair, from quoted prices to the price of a finished metre."""
    sheet, inputs = comparison.sheet_of(pair)
    values = {name: float(entry.value) for name, entry in inputs.items()}
    return {key: float(value) for key, value in sheet.evaluate(values).items()}


def break_evens(comparison: Comparison) -> tuple[BreakEven, ...]:
    """Break-evens of a comparison, worked out once."""
    found: tuple[BreakEven, ...] | None = comparison.__dict__.get("_break_evens")
    if found is None:
        found = break_evens_of(comparison)
        comparison.__dict__["_break_evens"] = found
    return found


def rates_used(comparison: Comparison) -> tuple[UsedRate, ...]:
    """The dated rates behind a comparison, gathered once."""
    found: tuple[UsedRate, ...] | None = comparison.__dict__.get("_rates_used")
    if found is None:
        found = rates_of_comparison(comparison)
        comparison.__dict__["_rates_used"] = found
    return found


@dataclass(frozen=True)
class Leading:
    """A construction with its comparison, or the reason why it cannot be compared."""

    construction: Construction
    comparison: Comparison | None
    missing: str

    @property
    def pair(self) -> Pair | None:
        """The cheapest possible pair."""
        return self.comparison.leader if self.comparison else None


def leaders(engine: Engine) -> tuple[Leading, ...]:
    """Every construction on the stored basis with its cheapest possible pair."""
    found = []
    for construction in current_book(engine).constructions:
        try:
            comparison = compare_construction(engine, construction.code, BasisChange({}, {}))
            found.append(Leading(construction, comparison, ""))
        except CreelbookError as missing:
            found.append(Leading(construction, None, str(missing)))
    return tuple(found)
