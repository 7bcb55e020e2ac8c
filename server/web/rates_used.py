"""The table “Rates used”: what a comparison rests on, from which day, and what is old."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from server.core.rates_used import LONGEST_AGE_DAYS, UsedRate
from server.web.numbers import Writer, significant
from server.web.tables import Cell, Column, Row, Table


@dataclass(frozen=True, slots=True)
class RatesView:
    """The table, and a sentence when something in it is old."""

    table: Table
    warning: str
    limits: str


def rates_view(
    rates: Sequence[UsedRate],
    *,
    rates_on: date,
    as_of: date,
    writer: Writer,
    exports: tuple[tuple[str, str], ...] = (),
) -> RatesView:
    """The rates used on a rates day, with their ages on an as-of day."""
    old = [each for each in rates if each.is_old(as_of)]
    named = "; ".join(f"{each.label} ({each.age_days(as_of)} days)" for each in old[:6])
    more = f" and {len(old) - 6} more" if len(old) > 6 else ""
    return RatesView(
        Table(
            caption=f"Rates used: the newest that hold on {rates_on}, ages on {as_of}",
            columns=(
                Column("rate", "Rate"),
                Column("kind", "Kind"),
                Column("value", "Value"),
                Column("valid_from", "Valid from"),
                Column("age", "Age", "days", numeric=True),
                Column("source", "Source"),
            ),
            rows=tuple(_row(each, as_of, writer) for each in rates),
            empty="No stored rate was needed.",
            exports=exports,
        ),
        f"Old at the as-of date {as_of}: {named}{more}. Ask for new ones before deciding."
        if old
        else "",
        "Warned of when older than "
        + ", ".join(f"{days} days ({kind})" for kind, days in LONGEST_AGE_DAYS.items())
        + "; limits of ours, common practice, no source.",
    )


def _row(rate: UsedRate, as_of: date, writer: Writer) -> Row:
    figures = [f"{significant_in(each.value, each.unit, writer)}" for each in rate.figures]
    if len(figures) > 1:
        figures = [
            f"{each.label.partition(',')[0]} {text}"
            for each, text in zip(rate.figures, figures, strict=True)
        ]
    age = rate.age_days(as_of)
    return Row(
        (
            Cell(rate.label, href=rate.where, strong=True),
            Cell(rate.kind),
            Cell("; ".join(figures), note=rate.why),
            Cell(str(rate.valid_from or "")),
            Cell("" if age is None else str(age), badge="old" if rate.is_old(as_of) else ""),
            Cell(rate.source),
        ),
        key=f"{rate.kind}-{rate.label}",
        tone="",
    )


def significant_in(value: float, unit: str, writer: Writer) -> str:
    """A rate as it was entered: all its digits, shares in percent."""
    if unit in ("share", "share/a"):
        return f"{significant(value * 100)} {'%' if unit == 'share' else '% a year'}"
    return f"{significant(value)} {unit.replace('¤', writer.currency)}".strip()
