"""A frozen pack computed again by the engine of today: the same, or where it differs.

Twice: every line from the inputs stored with the pack, and every comparison from the records behind
it, so that landed prices, standings and the ranking are looked at as well. Nothing is changed.
"""

from __future__ import annotations

from dataclasses import dataclass

from server.core.errors import CreelbookError
from server.core.formula import FORMULAS
from server.core.freeze import Pool, freeze_comparison
from server.core.given import Frozen
from server.core.pack import Cloth, FrozenPair, Pack
from server.core.sheet import Line, Sheet

_WRONG = (CreelbookError, ArithmeticError, LookupError, TypeError, ValueError, AssertionError)
NEAR = 1e-12  # of a figure; less apart is the same figure on another machine [share]


@dataclass(frozen=True, slots=True)
class Differs:
    """One figure, or one statement, that would be another today.

    unit: of the figures; "" where frozen and now are words
    """

    cloth: str
    pair: str
    label: str
    unit: str
    frozen: float | str
    now: float | str


@dataclass(frozen=True, slots=True)
class Again:
    """What computing a pack again gave. looked_at: figures computed, in both ways."""

    looked_at: int
    differs: tuple[Differs, ...]

    @property
    def is_same(self) -> bool:
        """Whether every figure and every statement is as it was frozen."""
        return not self.differs


def compute_again(frozen: Frozen) -> Again:
    """Compute a frozen pack again."""
    looked_at = 0
    differs: list[Differs] = []
    for cloth in frozen.pack.cloths:
        for pair in cloth.pairs:
            looked_at += len(pair.figures)
            differs += _lines_again(frozen.pack, cloth, pair)
        if not cloth.variant:
            found, count = _comparison_again(frozen, cloth)
            looked_at += count
            differs += found
    return Again(looked_at, tuple(dict.fromkeys(differs)))


def _lines_again(pack: Pack, cloth: Cloth, pair: FrozenPair) -> list[Differs]:
    """Every line from the stored inputs, by the formulas of today."""
    values = {name: entry.value for name, entry in pack.inputs_of(pair).items()}
    found = []
    for line, was in zip(pack.lines_of(pair), pair.figures, strict=True):
        known = FORMULAS.get(line.formula)
        now: float | str
        if known is None:
            now = "this formula is no longer there"
        else:
            one = Sheet((Line(line.key, known.function, dict(line.feeds), line.label),))
            try:
                now = float(one.evaluate(values)[line.key])
            except (*_WRONG, AttributeError) as wrong:
                now = f"cannot be computed: {wrong}"
        values[line.key] = was  # each line is judged alone
        if isinstance(now, str) or not _same(was, now):
            found.append(Differs(cloth.title, pair.label, line.label, line.unit, was, now))
    return found


def _comparison_again(frozen: Frozen, cloth: Cloth) -> tuple[list[Differs], int]:
    """The comparison from the records behind it: figures, standings and who leads."""
    construction = frozen.given.construction(cloth.code)
    if construction is None:
        return [Differs(cloth.title, "", "Construction", "", cloth.code, "is not in the pack")], 0
    pool, keys = Pool(), [pair.key for pair in cloth.pairs]
    try:
        now = freeze_comparison(frozen.given.compare(construction), pool, chosen=keys)
    except _WRONG as wrong:
        return [Differs(cloth.title, "", "Comparison", "", "", f"cannot be made: {wrong}")], 0
    lines = tuple(pool.lines)
    sheets = tuple(pool.sheets)
    found: list[Differs] = []
    count = 0
    for was in cloth.pairs:
        pair = now.pair(was.key)
        if pair is None:
            found.append(Differs(cloth.title, was.label, "Pair", "", "compared", "no pair"))
            continue
        if pair.state != was.state:
            found.append(Differs(cloth.title, was.label, "Standing", "", was.state, pair.state))
        figures = frozen.pack.figures_of(was)
        for at, value in zip(sheets[pair.sheet].lines, pair.figures, strict=True):
            line = lines[at]
            count += 1
            before = figures.get(line.key)
            if before is not None and not _same(before, value):
                found.append(Differs(cloth.title, was.label, line.label, line.unit, before, value))
    led, leads = (each.leader.key if each.leader else "none" for each in (cloth, now))
    if led != leads:
        found.append(Differs(cloth.title, "", "Leading pair", "", led, leads))
    return found, count


def _same(was: float, now: float) -> bool:
    return abs(was - now) <= NEAR * max(abs(was), abs(now))
