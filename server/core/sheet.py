"""The cost sheet: ordered lines that bind formulas to inputs.

From the one list the engine evaluates a case, evaluates arrays of cases, explains a figure and
writes spreadsheet formulas; no figure is ever computed from a second copy of its formula.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from typing import Any

from server.core.errors import Missing
from server.core.formula import described
from server.core.quantities import Number
from server.core.tracing import PAGE, Style, name, write

Step = tuple[str, Callable[..., Any], tuple[tuple[str, str], ...]]


@dataclass(frozen=True, slots=True)
class Input:
    """A figure that somebody entered, with everything needed to stand behind it.

    value: the number the engine uses, in `unit`
    label: what it is
    unit: its unit; ¤ stands for the reporting currency
    source: who says so
    on: the day it holds from
    as_entered: the figure as it was typed or quoted, if that differs
    where: address of the record inside the app
    """

    value: Number
    label: str
    unit: str
    source: str = ""
    on: date | None = None
    as_entered: str = ""
    where: str = ""


@dataclass(frozen=True)
class Line:
    """One line of a sheet.

    key: name of the figure, unique in its sheet
    formula: a registered formula function
    feeds: for each argument of the formula, the line or input that feeds it; an argument that is
        not named here is fed by the line or input of its own name
    label: what this figure is here; the formula's title when empty
    """

    key: str
    formula: Callable[..., Any]
    feeds: Mapping[str, str] = field(default_factory=dict)
    label: str = ""

    @cached_property
    def sources(self) -> dict[str, str]:
        """Argument name -> line or input that feeds it, complete and in order."""
        return {
            argument.name: self.feeds.get(argument.name, argument.name)
            for argument in described(self.formula).arguments
        }

    @property
    def title(self) -> str:
        """What this figure is."""
        return self.label or described(self.formula).title

    @property
    def unit(self) -> str:
        """Unit of this figure."""
        return described(self.formula).unit


@dataclass(frozen=True)
class Explanation:
    """A figure opened up: its formula in names and in numbers, and what feeds it.

    parts: explanations of other lines, or inputs, in the order of the formula
    """

    key: str
    label: str
    unit: str
    value: float
    in_words: str
    in_numbers: str
    source: str
    notes: str
    parts: tuple[tuple[str, Explanation | Input], ...]


@dataclass(frozen=True)
class Sheet:
    """Ordered lines; each may use inputs and the lines before it."""

    lines: tuple[Line, ...]

    @cached_property
    def by_key(self) -> dict[str, Line]:
        """The lines by their key."""
        return {line.key: line for line in self.lines}

    @cached_property
    def input_names(self) -> tuple[str, ...]:
        """Names of all inputs the lines need, in order of first use."""
        names: dict[str, None] = {}
        for line in self.lines:
            names.update(
                (source, None) for source in line.sources.values() if source not in self.by_key
            )
        return tuple(names)

    def with_lines(self, *lines: Line) -> Sheet:
        """A longer sheet."""
        return Sheet(self.lines + lines)

    def needed_for(self, wanted: Collection[str]) -> tuple[Line, ...]:
        """The lines that the wanted figures rest on, themselves included, in order."""
        needed = set(wanted)
        for line in reversed(self.lines):
            if line.key in needed:
                needed.update(line.sources.values())
        return tuple(line for line in self.lines if line.key in needed)

    def plan(self, wanted: Collection[str] = ()) -> tuple[Step, ...]:
        """The steps to the wanted figures (all when none are named), worked out once."""
        asked = frozenset(wanted)
        if asked not in self._plans:
            lines = self.needed_for(asked) if asked else self.lines
            self._plans[asked] = tuple(
                (line.key, line.formula, tuple(line.sources.items())) for line in lines
            )
        return self._plans[asked]

    @cached_property
    def _plans(self) -> dict[frozenset[str], tuple[Step, ...]]:
        return {}

    def evaluate(
        self, inputs: Mapping[str, Number], wanted: Collection[str] = ()
    ) -> dict[str, Number]:
        """All figures of the sheet (or only those wanted and what they rest on).

        inputs: a number or an array for every input name
        Raises Missing when an input is not there.
        """
        figures: dict[str, Number] = dict(inputs)
        for key, formula, sources in self.plan(wanted):
            try:
                arguments = {argument: figures[source] for argument, source in sources}
            except KeyError as absent:
                raise Missing(
                    f"{self.by_key[key].title} needs {absent.args[0]}.",
                    field=str(absent.args[0]),
                    remedy="Enter the missing figure.",
                ) from absent
            figures[key] = formula(**arguments)
        return figures

    def after(
        self, figures: Mapping[str, Number], changed: Mapping[str, Number], wanted: str
    ) -> Number:
        """One figure after some inputs change; only the lines that rest on them are worked out.

        figures: inputs and figures before, as `evaluate` gave them
        changed: a number or an array for each input that is not as before
        """
        names = frozenset(changed)
        if (names, wanted) not in self._reworked:
            moved, steps = set(names), []
            for step in self.plan((wanted,)):
                if any(source in moved for _, source in step[2]):
                    moved.add(step[0])
                    steps.append(step)
            self._reworked[names, wanted] = tuple(steps)
        now: dict[str, Number] = {**figures, **changed}
        for key, formula, sources in self._reworked[names, wanted]:
            now[key] = formula(**{argument: now[source] for argument, source in sources})
        return now[wanted]

    @cached_property
    def _reworked(self) -> dict[tuple[frozenset[str], str], tuple[Step, ...]]:
        return {}

    def explain(self, key: str, inputs: Mapping[str, Input]) -> Explanation:
        """Walk back from one figure to everything it rests on."""
        figures = self.evaluate({each: entry.value for each, entry in inputs.items()}, (key,))
        return self._explain(key, inputs, figures)

    def _explain(
        self, key: str, inputs: Mapping[str, Input], figures: Mapping[str, Number]
    ) -> Explanation:
        line = self.by_key[key]
        about = described(line.formula)
        parts = tuple(
            (
                source,
                self._explain(source, inputs, figures) if source in self.by_key else inputs[source],
            )
            for source in line.sources.values()
        )
        return Explanation(
            key=key,
            label=line.title,
            unit=line.unit,
            value=float(figures[key]),
            in_words=self.write(
                key,
                PAGE,
                {source: self.title_of(source, inputs) for source in line.sources.values()},
            ),
            in_numbers=self.write(
                key,
                PAGE,
                {source: PAGE.number(float(figures[source])) for source in line.sources.values()},
            ),
            source=about.source,
            notes=about.notes,
            parts=parts,
        )

    def title_of(self, key: str, inputs: Mapping[str, Input]) -> str:
        """What a line or an input is called."""
        return self.by_key[key].title if key in self.by_key else inputs[key].label

    def write(self, key: str, style: Style, names: Mapping[str, str]) -> str:
        """One line's formula as text, with each feeding line or input written as `names` says."""
        line = self.by_key[key]
        traced = {argument: name(names[source]) for argument, source in line.sources.items()}
        return write(line.formula(**traced), style)
