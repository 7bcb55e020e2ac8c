"""Which duty holds for a yarn: tariff lines break by origin, count, combing, ply and fibre.

The row that asks for most of what the yarn is holds, and of two such rows the newer one. What the
seller did not say is asked when the answer changes the duty, and never guessed.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property

from server.core.errors import Missing
from server.core.offer import Yarn
from server.core.units import dtex_from_tex, ne_from_tex, tex_from_dtex, tex_from_ne

ANY = "any"
PREPARATIONS = ("carded", "combed")
PLIES = ("single", "plied")
BASES = ("CIF", "FOB")
DTEX_DECIMALS = 2  # tariffs print hundredths: Nm 14 is 714.2857 dtex and counts as 714.29


@dataclass(frozen=True)
class DutyRate:
    """Import duty for an origin, for all yarn or for the yarns of one tariff line.

    base: `CIF` or `FOB`, as customs law values the goods
    dtex_from, dtex_below: count of the single yarn, from the one up to under the other [dtex];
        None where the line is open
    preparation, ply, fibre_mix: "any" where the line does not ask
    tariff_line: number of the line in the tariff, or ""
    """

    id: int
    country: str
    rate: float
    base: str
    valid_from: date
    source: str
    dtex_from: float | None = None
    dtex_below: float | None = None
    preparation: str = ANY
    ply: str = ANY
    fibre_mix: str = ANY
    tariff_line: str = ""

    @property
    def by_count(self) -> bool:
        """Whether the count matters to it."""
        return self.dtex_from is not None or self.dtex_below is not None

    @cached_property
    def conditions(self) -> int:
        """How much it asks of a yarn: 0 for all yarn, up to 4."""
        asked = (self.preparation, self.ply, self.fibre_mix)
        return self.by_count + sum(each != ANY for each in asked)

    @property
    def name(self) -> str:
        """Origin, and the tariff line where it is for one."""
        if not self.conditions:
            return self.country
        return f"{self.country}, {f'line {self.tariff_line}' if self.tariff_line else self.words}"

    @property
    def words(self) -> str:
        """The yarns it is for: `232.56 to under 714.29 dtex (Ne 25.4 to 8.27), carded, single`."""
        return yarns_of_line(
            self.dtex_from, self.dtex_below, (self.preparation, self.ply, self.fibre_mix)
        )

    def is_for(self, goods: Goods) -> bool:
        """Whether it is for goods of which everything is known."""
        return (
            self.preparation in (ANY, goods.preparation)
            and self.ply in (ANY, goods.ply)
            and self.fibre_mix in (ANY, goods.fibre_mix)
            and (not self.by_count or self._holds_count(goods.dtex))
        )

    def _holds_count(self, dtex: float | None) -> bool:
        low, high = self.dtex_from, self.dtex_below
        return dtex is not None and (low is None or dtex >= low) and (high is None or dtex < high)


def yarns_of_line(low: float | None, high: float | None, asked: Iterable[str]) -> str:
    """The yarns a tariff line is for, in words.

    low, high: count of the single yarn, from the one up to under the other [dtex]
    asked: preparation, ply and fibre mix, "any" where it does not ask
    """
    words = [each for each in asked if each != ANY]
    if low is not None and high is not None:
        finest = _ne(high).removeprefix("Ne ")
        words.insert(0, f"{low:g} to under {high:g} dtex ({_ne(low)} to {finest})")
    elif high is not None:
        words.insert(0, f"under {high:g} dtex (finer than {_ne(high)})")
    elif low is not None:
        words.insert(0, f"{low:g} dtex and more ({_ne(low)} and coarser)")
    return ", ".join(words) or "all yarn"


@dataclass(frozen=True, slots=True)
class Goods:
    """What customs looks at in a yarn.

    dtex: average count of the single yarn [dtex]; None while it is not known
    preparation: carded or combed, "" while it is not known
    """

    dtex: float | None
    preparation: str
    ply: str
    fibre_mix: str


def goods_of(yarn: Yarn) -> Goods:
    """What customs looks at in a yarn."""
    average = yarn.average_ne
    dtex = None
    if average is not None:
        together = float(dtex_from_tex(tex=tex_from_ne(ne=average)))
        dtex = round(together / yarn.ply, DTEX_DECIMALS)
    return Goods(
        dtex,
        preparation_of(yarn.preparation),
        "single" if yarn.ply == 1 else "plied",
        yarn.fibre_mix,
    )


def preparation_of(words: str) -> str:
    """Carded or combed, from the words of an offer; "" when they say neither or both."""
    text = words.casefold()
    carded = re.search(r"\bcarded\b|\b(?:un|not |non-?)combed\b", text) is not None
    combed = re.search(r"(?<!not )(?<!non-)(?<!semi-)\bcombed\b", text) is not None
    return "" if carded == combed else "carded" if carded else "combed"


@dataclass(frozen=True, slots=True)
class ChosenDuty:
    """The row that holds, of how many that are for the goods; alone: the origin has no other."""

    rate: DutyRate
    of: int
    alone: bool

    @property
    def why(self) -> str:
        """Why this row was taken; "" where there was nothing to choose."""
        if self.alone:
            return ""
        said = f"{self.rate.rate * 100:g} % for {self.rate.words}"
        if not self.rate.conditions:
            return f"{said}; no tariff line entered is for this yarn"
        others = "the only row" if self.of == 1 else f"the most particular of {self.of} rows"
        return f"{said}; {others} for this yarn"


def choose_duty(rows: Iterable[DutyRate], goods: Goods, country: str, on: date) -> ChosenDuty:
    """The duty on goods from a country, as of a day.

    Raises Missing when no row is for it, when two rows contradict each other, or when something
    the seller did not say decides.
    """
    held = [row for row in rows if row.country == country and row.valid_from <= on]
    if not any(row.conditions for row in held):
        newest = max(held, key=lambda row: (row.valid_from, row.id), default=None)
        if newest is None:
            raise _none_for(country, on, "")
        return ChosenDuty(newest, 1, True)
    found = [(each, _holding(held, each)) for each in _completions(goods, held)]
    first = min(
        (row for _, row in found if row is not None),
        key=lambda row: (row.conditions, row.id),
        default=None,
    )
    if first is None:
        raise _none_for(country, on, f" that is for {_said(goods)}")
    if len({_what_is_paid(row) for _, row in found}) > 1:
        raise _question(goods, found, country)
    of = sum(row.is_for(found[0][0]) for row in held)
    return ChosenDuty(first, of, False)


def rivals_of(row: DutyRate, rows: Iterable[DutyRate]) -> tuple[DutyRate, ...]:
    """Rows of the same day that ask for as much, are for some of the same yarns and say another
    duty: nothing decides between them and `row`."""
    return tuple(
        other
        for other in rows
        if other.id != row.id
        and (other.country, other.valid_from) == (row.country, row.valid_from)
        and other.conditions == row.conditions > 0
        and _what_is_paid(other) != _what_is_paid(row)
        and _overlap(row, other)
    )


def _overlap(first: DutyRate, second: DutyRate) -> bool:
    """Whether some yarn is for both."""
    for name in ("preparation", "ply", "fibre_mix"):
        asked = {getattr(first, name), getattr(second, name)} - {ANY}
        if len(asked) > 1:
            return False
    low = max(first.dtex_from or 0.0, second.dtex_from or 0.0)
    return all(row.dtex_below is None or low < row.dtex_below for row in (first, second))


def _holding(rows: Sequence[DutyRate], goods: Goods) -> DutyRate | None:
    """The row that holds for goods of which everything is known. Raises Missing for two."""
    fitting = [row for row in rows if row.is_for(goods)]
    if not fitting:
        return None
    most = max((row.conditions, row.valid_from) for row in fitting)
    best = sorted(
        (row for row in fitting if (row.conditions, row.valid_from) == most),
        key=lambda row: row.id,
    )
    last = best[-1]
    rival = next((row for row in best if _what_is_paid(row) != _what_is_paid(last)), None)
    if rival is not None and last.conditions:
        raise Missing(
            f"Two duty rates for {last.country} from {last.valid_from} fit a yarn equally well: "
            f"{_told(rival)} and {_told(last)}.",
            field="rates",
            value=last.country,
            remedy="Make one of them ask for more, or correct it on the Rates page.",
        )
    return last


def _completions(goods: Goods, rows: Sequence[DutyRate]) -> list[Goods]:
    """The goods with each answer that the seller may still give, as far as any row asks."""
    preparations: tuple[str, ...] = (goods.preparation,)
    if not goods.preparation and any(row.preparation != ANY for row in rows):
        preparations = PREPARATIONS
    counts: list[float | None] = [goods.dtex]
    limits = sorted(
        {each for row in rows for each in (row.dtex_from, row.dtex_below) if each is not None}
    )
    if goods.dtex is None and limits:
        counts = [limits[0] / 2, *limits]  # one count in each stretch between the limits
    return [
        replace(goods, preparation=preparation, dtex=dtex)
        for dtex in counts
        for preparation in preparations
    ]


def _question(
    goods: Goods, found: Sequence[tuple[Goods, DutyRate | None]], country: str
) -> Missing:
    """What to ask the seller, since the answer changes the duty."""
    paid = {each: _what_is_paid(row) for each, row in found}
    by_preparation = not goods.preparation and any(
        paid[each] != paid.get(replace(each, preparation=other), paid[each])
        for each in paid
        for other in PREPARATIONS
    )
    rates = sorted({row.rate for _, row in found if row is not None})
    span = " or ".join(f"{rate * 100:g} %" for rate in rates) if len(rates) < 4 else (
        f"{rates[0] * 100:g} to {rates[-1] * 100:g} %"
    )  # fmt: skip
    by_count = goods.dtex is None and len({(each.preparation, paid[each]) for each in paid}) > len(
        {each.preparation for each in paid}
    )
    asked = " and ".join(
        text
        for text, wanted in (
            ("carded or combed", by_preparation),
            ("which average count", by_count),
        )
        if wanted
    )
    return Missing(
        f"The duty on yarn from {country} differs ({span}). Ask: {asked}?",
        field="preparation" if by_preparation else "count_basis",
        value=country,
        unit="" if by_preparation else "Ne",
        remedy="Enter the answer on the offer.",
    )


def _what_is_paid(row: DutyRate | None) -> tuple[float, str] | None:
    return None if row is None else (row.rate, row.base)


def _none_for(country: str, on: date, what: str) -> Missing:
    return Missing(
        f"There is no duty rate for {country} on {on.isoformat()}{what}.",
        field="rates",
        value=country,
        remedy="Enter it on the Rates page, with its day and source.",
    )


def _said(goods: Goods) -> str:
    count = "a count not known" if goods.dtex is None else f"{goods.dtex:g} dtex"
    return ", ".join(
        each for each in (count, goods.preparation, goods.ply, goods.fibre_mix) if each
    )


def _told(row: DutyRate) -> str:
    line = f"line {row.tariff_line}: " if row.tariff_line else ""
    return f"{row.rate * 100:g} % of {row.base} ({line}{row.words}; rate {row.id})"


def _ne(dtex: float) -> str:
    return f"Ne {float(ne_from_tex(tex=tex_from_dtex(dtex=dtex))):.3g}"
