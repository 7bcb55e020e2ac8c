"""A cloth walked from one day to another, cause by cause, in a stated order and without a rest.

A walk goes through stages. Each stage is a whole cost sheet with its inputs; from one to the next
only what belongs to one cause is exchanged. A step is what the figure moved by between two stages,
so the steps sum to the difference whatever happens. Causes that multiply one another share their
common part by order: it falls to the later one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from server.core.landed import IN_THE_PRICE
from server.core.pair import NOT_IN_ROUTE
from server.core.sheet import Input, Sheet

ROUNDING = 1e-12  # two figures this near are the same sum added in another order [share]
PRICE, EXCHANGE, FREIGHT, BASIS, CLOTH, PROCESS, MIX, FORMULAS = (
    "price", "exchange", "freight", "basis", "cloth", "process", "mix", "formulas",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Cause:
    """Why a figure moves.

    words: in a sentence; about: what belongs to it
    usual: whether it is named where nothing moved, too
    """

    key: str
    label: str
    words: str
    about: str
    usual: bool = True


CAUSES: Mapping[str, Cause] = {
    cause.key: cause
    for cause in (
        Cause(
            PRICE,
            "Price",
            "price",
            "the same offers, or those that replaced them, as they are quoted now: price, break, "
            "tax inside, unit, currency, term, payment, lead time, regain",
        ),
        Cause(EXCHANGE, "Exchange rates", "exchange rates", "every rate between currencies"),
        Cause(
            FREIGHT,
            "Freight and duty",
            "freight, duty and charges",
            "lanes, inland, insurance, clearance, duty, days of payment terms, cost of money",
        ),
        Cause(
            BASIS,
            "Basis",
            "the basis",
            "the quantity prices are taken for, house regain, when an own count counts",
            usual=False,
        ),
        Cause(
            CLOTH,
            "Count and construction",
            "count and construction",
            "counts, ends, picks, crimp, widths, shrink, waste, finish, weave, route, yarns added "
            "or taken away, and the price break its quantity reaches",
        ),
        Cause(
            PROCESS,
            "Process assumptions",
            "process assumptions",
            "preparation, loom, finishing, overhead, seconds, margin, own spinning, loom rule",
        ),
        Cause(MIX, "Mix", "mix", "another warp or filling yarn is taken than before"),
        Cause(
            FORMULAS,
            "Formulas",
            "formulas of the program",
            "the program computes a frozen figure otherwise than the one that froze it",
            usual=False,
        ),
    )
}
"""The order of a walk."""

_CONSTANT = {IN_THE_PRICE, NOT_IN_ROUTE}  # always zero
_DEFINITION = "definition"  # source of the rate of a currency in itself


@dataclass(frozen=True, eq=False)
class Stage:
    """A whole cost sheet with its inputs at one point of a walk."""

    sheet: Sheet
    inputs: Mapping[str, Input]

    def value(self, figure: str) -> float:
        """One figure."""
        values = {name: entry.value for name, entry in self.inputs.items()}
        return float(self.sheet.evaluate(values, (figure,))[figure])

    def resting_on(self, figure: str) -> dict[str, Input]:
        """The inputs that a figure rests on, in the order of the sheet."""
        lines = Sheet(self.sheet.needed_for((figure,)))
        return {name: self.inputs[name] for name in lines.input_names}


@dataclass(frozen=True, eq=False)
class Turn:
    """A stage with the cause that led to it, and what is to be said about it.

    names: slot -> what is named in a sentence when an input of the slot moved
    """

    cause: str
    stage: Stage
    notes: tuple[str, ...] = ()
    names: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Moved:
    """An input before and after a step; None where the sheet does not have it."""

    name: str
    before: Input | None
    after: Input | None

    @property
    def entry(self) -> Input:
        """The later of the two, which names it."""
        found = self.after or self.before
        assert found is not None
        return found


@dataclass(frozen=True, eq=False)
class Step:
    """What one cause moved the figure by.

    amount, total: in the unit of the figure; total is the figure after this step
    moved: the inputs that changed and that the figure rests on
    names: the offers it is about
    stage: the sheet after this step; None where a frozen figure stands against its formulas
    """

    cause: str
    amount: float
    total: float
    moved: tuple[Moved, ...]
    notes: tuple[str, ...]
    names: tuple[str, ...]
    stage: Stage | None


@dataclass(frozen=True, eq=False)
class Walk:
    """A figure before and after, and the steps between, in order."""

    figure: str
    before: float
    after: float
    start: Stage
    steps: tuple[Step, ...]

    @property
    def difference(self) -> float:
        """After less before."""
        return self.after - self.before

    @cached_property
    def amounts(self) -> dict[str, float]:
        """Cause -> what it moved the figure by."""
        found: dict[str, float] = {}
        for step in self.steps:
            found[step.cause] = found.get(step.cause, 0.0) + step.amount
        return found

    def step(self, cause: str) -> Step | None:
        """The step of a cause."""
        return next((step for step in self.steps if step.cause == cause), None)


def walk(figure: str, before: float, after: float, start: Stage, turns: Sequence[Turn]) -> Walk:
    """The walk of a figure through some stages.

    before, after: as they were frozen. Where the formulas of today give another figure for the
        first or the last stage, that is a step of its own.
    """
    so_far, at = start.value(figure), start
    steps = []
    if not is_same(so_far, before):
        steps.append(Step(FORMULAS, so_far - before, so_far, (), (), (), None))
    for turn in turns:
        total = turn.stage.value(figure)
        moved = moved_between(at.resting_on(figure), turn.stage.resting_on(figure))
        names = _named(turn.names, moved)
        notes = turn.notes or (() if moved else _other_lines(figure, at, turn.stage))
        steps.append(Step(turn.cause, total - so_far, total, moved, notes, names, turn.stage))
        so_far, at = total, turn.stage
    if not is_same(so_far, after):
        steps.append(Step(FORMULAS, after - so_far, after, (), (), (), None))
    return Walk(figure, before, after, start, tuple(steps))


def _named(names: Mapping[str, str], moved: Sequence[Moved]) -> tuple[str, ...]:
    slots = {each.name.partition(".")[0] for each in moved}
    return tuple(dict.fromkeys(name for slot, name in names.items() if slot in slots))


def _other_lines(figure: str, before: Stage, after: Stage) -> tuple[str, ...]:
    """What is told of a step in which no input moved and yet the sheet did."""
    was, now = (
        {line.key: line.title for line in stage.sheet.needed_for((figure,))}
        for stage in (before, after)
    )
    notes = []
    for said, lines in (
        ("Worked out in addition", [title for key, title in now.items() if key not in was]),
        ("No longer worked out", [title for key, title in was.items() if key not in now]),
    ):
        if lines:
            notes.append(f"{said}: {', '.join(dict.fromkeys(lines))}.")
    return tuple(notes)


def is_same(first: float, second: float) -> bool:
    """Whether two figures differ by rounding at most."""
    return abs(first - second) <= ROUNDING * max(abs(first), abs(second))


def moved_between(before: Mapping[str, Input], after: Mapping[str, Input]) -> tuple[Moved, ...]:
    """Inputs that differ in value or unit, or that only one of the two has."""
    found = []
    for name in dict.fromkeys((*before, *after)):
        was, now = before.get(name), after.get(name)
        entries = [each for each in (was, now) if each is not None]
        said = {(each.value, each.unit) for each in entries}
        fixed = name in _CONSTANT or any(each.source == _DEFINITION for each in entries)
        if len(said) > 1 or (len(entries) == 1 and not fixed):
            found.append(Moved(name, was, now))
    return tuple(found)
