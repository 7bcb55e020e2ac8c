"""Two options of a construction held against each other, each named as an address names it.

`before` and the alternatives of the change in the address by their keys; a pair `Q09/Q14`, where a
yarn may be own spinning (`own ring/own OE`); `variant:NAME`; a pair in another construction,
`DN-1375:Q09/Q14`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from itertools import product

from server.actions.asked_change import AskedChange
from server.actions.book import current_book
from server.actions.change import Desk, work_out
from server.actions.compare import BasisChange
from server.actions.variants import asked_by, variant_named, variants_of
from server.core.compare import Comparison
from server.core.construction import DIRECTIONS
from server.core.costing import OWN_YARNS
from server.core.errors import BadValue, CreelbookError, NotFound
from server.core.movements import Contender, SetMoney
from server.core.offer import Offer
from server.core.quantities import Number
from server.core.sheet import Explanation, Input
from server.core.ties import FIGURES, Contest, Tie, contest
from server.store.session import Engine

VARIANT = "variant:"
TODAY = "today"  # the address of both costs as they are


@dataclass(frozen=True)
class AskedTies:
    """What is held against each other, as typed; "" stands for the nearest at hand."""

    first: str = ""
    second: str = ""
    figure: str = ""
    change: AskedChange = field(default_factory=AskedChange)


@dataclass(frozen=True, eq=False)
class Ties:
    """A contest, and what the page about it needs.

    choices: options to choose from, name and label
    offers: those whose own figures can move, by code
    errors: what was wrong with the question
    """

    desk: Desk
    contest: Contest
    choices: tuple[tuple[str, str], ...]
    offers: Mapping[str, Offer]
    errors: dict[str, str]

    def refuse_errors(self) -> None:
        """Where a fault cannot be shown beside its field. Raises BadValue with the first."""
        for name, wrong in self.errors.items():
            raise BadValue(f"{name.replace('_', ' ')}: {wrong}", field=name)


def ties(
    engine: Engine,
    code: str,
    asked: AskedTies,
    basis_change: BasisChange,
    basis_name: str = "",
) -> Ties:
    """Every tie of two options. Options and figures that are none are named and left out.

    Raises NotFound, and Missing when the construction has no pair.
    """
    desk = work_out(engine, code, asked.change, basis_change, basis_name)
    errors = dict(desk.errors)
    look = _Look(engine, code, desk, basis_change, basis_name)
    usual = _usual(desk, asked.second)
    found: dict[str, Contender] = {}
    for place, wanted in (("first", asked.first), ("second", asked.second)):
        try:
            found[place] = look.contender(wanted or usual[place])
        except CreelbookError as wrong:
            errors[place] = str(wrong)
            found[place] = look.contender(usual[place])
    figure = asked.figure or FIGURES[0]
    try:
        refuse_figure(figure)
        held = contest(found["first"], found["second"], figure, money=set_money(desk.comparison))
    except BadValue as wrong:
        errors["figure"] = str(wrong)
        held = contest(found["first"], found["second"], money=set_money(desk.comparison))
    book = current_book(engine)
    offers = {each.offer: book.offer(each.offer) for each in held.movements if each.offer}
    return Ties(desk, held, _choices(look, held), offers, errors)


def refuse_figure(figure: str) -> None:
    """Raises BadValue when options cannot tie in a figure of this name."""
    if figure not in FIGURES:
        raise BadValue(
            f"“{figure[:40]}” is no figure in which two options can tie.",
            field="figure",
            value=figure,
            remedy=f"Choose one of {', '.join(FIGURES)}.",
        )


def _usual(desk: Desk, second: str) -> dict[str, str]:
    """The change against what stands now; without a change the two cheapest combinations."""
    if not desk.asked.is_empty:
        return {"first": "before", "second": "swap"}
    ladder = [pair.key for pair in desk.comparison.ladder]
    others = [key for key in ladder if key != desk.before.key]
    other = others[0] if others else "own ring/own OE"
    return {"first": other if second == desk.before.key else "before", "second": other}


@dataclass(frozen=True)
class _Look:
    """Where options are looked up."""

    engine: Engine
    code: str
    desk: Desk
    basis_change: BasisChange
    basis_name: str

    def contender(self, name: str) -> Contender:
        """An option by its name. Raises NotFound, Missing."""
        if name in ("before", *(each.key for each in self.desk.changed.alternatives)):
            costing = self.desk.costing_of(name)
            label = self.desk.label_of(name)
            return Contender(name, f"{label[0].upper()}{label[1:]} ({costing.key})", costing)
        if name.startswith(VARIANT):
            variant = variant_named(self.engine, self.code, name.removeprefix(VARIANT))
            costing = self._worked(self.code, asked_by(variant)).changed.swap
            return Contender(name, f"{variant.name} ({costing.key})", costing)
        code, pair = self._place(name)
        if len(pair.split("/")) != len(DIRECTIONS):
            raise NotFound(
                f"“{name[:60]}” is no option.",
                field="option",
                value=name,
                remedy="Write a warp and a filling, such as Q09/Q14 or own ring/own OE.",
            )
        costing = self._worked(code, AskedChange(pair=pair)).before
        return Contender(name, name if code == self.code else f"{costing.key} in {code}", costing)

    def _place(self, name: str) -> tuple[str, str]:
        code, colon, pair = name.partition(":")
        codes = {each.code for each in current_book(self.engine).constructions}
        return (code, pair) if colon and code in codes else (self.code, name)

    def _worked(self, code: str, asked: AskedChange) -> Desk:
        desk = work_out(self.engine, code, asked, self.basis_change, self.basis_name)
        for wrong in desk.errors.values():
            raise NotFound(wrong, field="option", remedy="Choose one of the list.")
        return desk


def _choices(look: _Look, held: Contest) -> tuple[tuple[str, str], ...]:
    """Options to choose from: the change, the best pairs, own spinning, variants."""
    found = {"before": f"As it stands ({look.desk.before.key})"}
    if not look.desk.asked.is_empty:
        found |= {each.key: each.label for each, _ in look.desk.changed.reached}
    found |= {pair.key: f"{pair.key} ({pair.process})" for pair in look.desk.comparison.ladder}
    found |= {"/".join(pair): "/".join(pair) for pair in product(OWN_YARNS, repeat=2)}
    found |= {
        f"{VARIANT}{each.name}": f"Variant {each.name}"
        for each in variants_of(look.engine, look.code)
    }
    for each in (held.first, held.second):
        found.setdefault(each.name, each.label)
    return tuple(found.items())


def set_money(comparison: Comparison) -> SetMoney | None:
    """The currency of the assumptions, when it is not the reporting currency."""
    currency, basis = comparison.assumption_currency, comparison.basis
    if currency in ("", basis.currency):
        return None
    rate, inverse = comparison.rates.exchange(currency, basis.currency, basis.rates_on)
    return SetMoney(currency, rate, inverse)


def both_opened(found: Ties, key: str) -> tuple[Tie | None, tuple[Explanation, Explanation]]:
    """The two costs at a tie, or as they are today, opened. Raises NotFound."""
    held = found.contest
    tie = held.tie_in(key)
    if tie is None and key != TODAY:
        raise NotFound(
            f"These two do not tie in “{key[:60]}”.",
            field="movement",
            value=key,
            remedy="Open a tie from the page of break-evens.",
        )
    return tie, opened_at(held.first, held.second, held.figure, tie)


def opened_at(
    first: Contender, second: Contender, figure: str, tie: Tie | None
) -> tuple[Explanation, Explanation]:
    """A figure of two options opened, at a tie or as it is today."""
    opened = []
    for place, each in enumerate((first, second)):
        moved = each.moved(place, (tie.movement, tie.factor)) if tie else {}
        inputs = {name: _moved(entry, moved.get(name)) for name, entry in each.inputs.items()}
        opened.append(each.costing.sheet.explain(figure, inputs))
    return opened[0], opened[1]


def _moved(entry: Input, value: Number | None) -> Input:
    if value is None or value == entry.value:
        return entry
    return replace(
        entry, value=float(value), source="at the tie", as_entered=f"today {entry.value:g}"
    )
