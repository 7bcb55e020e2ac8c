"""A meeting pack: comparisons as they stood when they were frozen, complete in themselves.

A pack holds the lines of every sheet, the formulas as text, the inputs with their sources and the
figures, so that page, workbook, handout and explanation are made from it alone, whatever becomes of
the offers, the rates and the engine. Nothing here refers to another thing the house keeps.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from functools import cached_property
from typing import Literal

INTERNAL: Literal["internal"] = "internal"
BUYER: Literal["buyer"] = "buyer"
COST, PRICE = "fabric_cost", "price_at_margin"  # the lines a pack can put first


@dataclass(frozen=True, slots=True)
class FrozenFormula:
    """A formula as it was written when the pack was frozen.

    name: its name in the register
    words, cells: the formula as people and as spreadsheets write it, each argument as `{argument}`
    """

    name: str
    title: str
    unit: str
    source: str
    notes: str
    words: str
    cells: str


@dataclass(frozen=True, slots=True)
class FrozenLine:
    """One line of a sheet: a formula and, for each argument, the line or input that feeds it."""

    key: str
    label: str
    unit: str
    formula: str
    feeds: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class FrozenSheet:
    """Ordered lines, as their places in the pack, and the names of the inputs they need."""

    lines: tuple[int, ...]
    inputs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FrozenInput:
    """A figure somebody entered, as `server.core.sheet.Input`."""

    value: float
    label: str
    unit: str
    source: str
    on: date | None
    as_entered: str
    where: str


@dataclass(frozen=True, slots=True)
class FrozenYarn:
    """The yarn in one place of a pair.

    slot: `warp`, `filling`, `warp2`; its lines in the sheet start with it
    code: of the offer, “own ring”, or “Q20’s price”
    count: as quoted, such as `Ne 7 average`; ne: the count the cloth is weighed with [Ne]
    process: spinning with its effect, such as `ring slub`
    state, reasons, accepted: its standing when the pack was frozen
    """

    slot: str
    direction: str
    code: str
    supplier: str
    country: str
    count: str
    ne: float
    spinning: str
    process: str
    twist: str
    fibre_mix: str
    state: str
    reasons: tuple[str, ...]
    accepted: tuple[str, ...]
    valid_until: date | None


@dataclass(frozen=True, slots=True)
class FrozenPair:
    """One choice of yarns in a cloth, with its sheet and every figure of it.

    key: `Q09/Q14`, or a column of a variant such as `swap`; unique in its cloth
    label: what it is called: `Q09/Q14`, “Plain swap”
    sheet: place of its sheet in the pack
    inputs: places of its inputs in the pack, in the order of the names in its sheet
    figures: values of the lines, in the order of its sheet
    """

    key: str
    label: str
    yarns: tuple[FrozenYarn, ...]
    combination: str
    state: str
    sheet: int
    inputs: tuple[int, ...]
    figures: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class FrozenCell:
    """One spinning combination: its best possible pair (key; "" when there is none) or why not."""

    warp: str
    filling: str
    best: str
    pairs: int
    possible: int
    reason: str


@dataclass(frozen=True, slots=True)
class FrozenExcluded:
    """An offer that was not ranked. saving: what its best pair would have saved [¤/m]"""

    code: str
    supplier: str
    slot: str
    state: str
    reasons: tuple[str, ...]
    saving: float | None


@dataclass(frozen=True, slots=True)
class FrozenTie:
    """Where the leader and a rival tied in one input. today, value: in `unit`"""

    leader: str
    rival: str
    label: str
    unit: str
    today: float
    value: float


@dataclass(frozen=True, slots=True)
class Fact:
    """Something about a cloth that is no line of its sheet. label and text are for reading."""

    label: str
    text: str


@dataclass(frozen=True, slots=True)
class Cloth:
    """A construction in a pack, or a variant of one.

    variant: name of the variant, "" for the construction as it stands
    change: what the variant changes, in words
    pairs: in ranked order, the leader first; of a variant: as it stands, then its columns
    cells: the matrix, warp down and filling across; empty for a variant
    ladder: keys of the best pair of each combination, cheapest first
    pair_count, possible_count: all pairs compared, and those possible
    """

    code: str
    name: str
    variant: str
    change: str
    facts: tuple[Fact, ...]
    pairs: tuple[FrozenPair, ...]
    cells: tuple[tuple[FrozenCell, ...], ...]
    ladder: tuple[str, ...]
    excluded: tuple[FrozenExcluded, ...]
    ties: tuple[FrozenTie, ...]
    pair_count: int
    possible_count: int

    @property
    def title(self) -> str:
        """`DN-1375 Larkspur`, with the variant behind a comma."""
        plain = f"{self.code} {self.name}".strip()
        return f"{plain}, {self.variant}" if self.variant else plain

    @property
    def leader(self) -> FrozenPair | None:
        """The first pair, when it may be woven."""
        first = self.pairs[0] if self.pairs else None
        return first if first and (first.state == "possible" or self.variant) else None

    @property
    def foremost(self) -> FrozenPair | None:
        """The pair a summary shows: the leader, or of a variant its plain swap."""
        return self.pairs[1] if self.variant and len(self.pairs) > 1 else self.leader

    def pair(self, key: str) -> FrozenPair | None:
        """A pair by its key."""
        return next((pair for pair in self.pairs if pair.key == key), None)


@dataclass(frozen=True, slots=True)
class FrozenBasis:
    """On what the pack's offers were compared; as `server.core.construction.Basis`."""

    name: str
    currency: str
    rates_on: date
    delivery_point: str
    as_of: date
    meeting: date
    need_by: date
    quantity: str
    metres: float | None
    assumption_set: str
    loom_rule: str


@dataclass(frozen=True)
class Pack:
    """What a meeting pack shows, in the internal or the buyer's view.

    engine: version of the program whose formulas these are
    buyer: whom the meeting is with
    notes: words above the figures; internal notes are never in the buyer's view
    made_at: when it was frozen; None for a draft
    headline: the line that is compared: COST or PRICE, or "" when neither is shown
    """

    view: str
    engine: str
    reference: str
    title: str
    buyer: str
    meeting: date
    notes: str
    made_at: datetime | None
    headline: str
    basis: FrozenBasis
    cloths: tuple[Cloth, ...]
    formulas: Mapping[str, FrozenFormula]
    lines: tuple[FrozenLine, ...]
    sheets: tuple[FrozenSheet, ...]
    inputs: tuple[FrozenInput, ...]

    def lines_of(self, pair: FrozenPair) -> tuple[FrozenLine, ...]:
        """The lines of a pair's sheet, in order."""
        return self._lines_of_sheets[pair.sheet]

    @cached_property
    def _lines_of_sheets(self) -> tuple[tuple[FrozenLine, ...], ...]:
        return tuple(tuple(self.lines[at] for at in sheet.lines) for sheet in self.sheets)

    def figures_of(self, pair: FrozenPair) -> dict[str, float]:
        """Line -> value."""
        lines = self.lines_of(pair)
        return {line.key: value for line, value in zip(lines, pair.figures, strict=True)}

    def inputs_of(self, pair: FrozenPair) -> dict[str, FrozenInput]:
        """Input name -> input."""
        names = self.sheets[pair.sheet].inputs
        return {name: self.inputs[place] for name, place in zip(names, pair.inputs, strict=True)}

    def value_of(self, pair: FrozenPair, key: str) -> float | None:
        """A figure or an input of a pair by its key; None when the pack does not have it."""
        for line, value in zip(self.lines_of(pair), pair.figures, strict=True):
            if line.key == key:
                return value
        entry = self.inputs_of(pair).get(key)
        return None if entry is None else entry.value

    def in_words(self, pair: FrozenPair, line: FrozenLine) -> str:
        """A line's formula with the names of what feeds it."""
        titles = {each.key: each.label for each in self.lines_of(pair)}
        titles |= {name: entry.label for name, entry in self.inputs_of(pair).items()}
        fed = {argument: titles[source] for argument, source in line.feeds}
        return self.formulas[line.formula].words.format_map(fed)
