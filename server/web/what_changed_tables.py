"""What changed in the whole pack as tables: constructions down, causes across, and the season."""

from __future__ import annotations

from collections.abc import Callable

from server.core.walk import Walk
from server.core.what_changed import COME, GONE, ClothChange, Side, WhatChanged
from server.web.numbers import Writer
from server.web.tables import Cell, Column, Row, Table
from server.web.what_changed_words import PER_METRE, ends_of, relative, signed

TOGETHER = "All, by season metres"


def summary_table(
    found: WhatChanged, writer: Writer, href: Callable[[ClothChange], str],
    exports: tuple[tuple[str, str], ...],
) -> Table:  # fmt: skip
    """Constructions down, causes across, for a metre."""
    first, last = ends_of(found)
    unit = writer.unit(PER_METRE)
    rows = [
        Row(
            (
                Cell(each.name, href=href(each), note=each.cloth.name),
                *_values(walked, found, writer),
                Cell(relative(walked.difference, walked.before)),
            ),
            key=each.name,
        )
        for each, walked in found.walked
    ]
    totals = found.totals
    if totals.cloths > 1:
        metres = totals.metres
        rows.append(
            Row(
                (
                    Cell(TOGETHER, strong=True),
                    Cell(writer.text(totals.before / metres, PER_METRE)),
                    *(
                        Cell(signed(totals.amounts[cause.key] / metres, PER_METRE, writer))
                        for cause in found.causes
                    ),
                    Cell(writer.text(totals.after / metres, PER_METRE)),
                    Cell(
                        signed((totals.after - totals.before) / metres, PER_METRE, writer),
                        strong=True,
                    ),
                    Cell(relative(totals.after - totals.before, totals.before)),
                ),
                key="all",
            )
        )
    return Table(
        caption=f"For a metre, from {first} to {last}",
        columns=(
            Column("cloth", "Construction"),
            *_cause_columns(found, first, last, unit),
            Column("share", "Difference", "%", numeric=True),
        ),
        rows=tuple(rows),
        empty="No construction is in both.",
        exports=exports,
    )


def _values(walked: Walk, found: WhatChanged, writer: Writer) -> tuple[Cell, ...]:
    return (
        Cell(writer.text(walked.before, PER_METRE)),
        *(Cell(signed(walked.amounts.get(cause.key), PER_METRE, writer)) for cause in found.causes),
        Cell(writer.text(walked.after, PER_METRE)),
        Cell(writer.signed(walked.difference, PER_METRE), strong=True),
    )


def _cause_columns(found: WhatChanged, first: str, last: str, unit: str) -> tuple[Column, ...]:
    return (
        Column("before", first.capitalize(), unit, numeric=True),
        *(
            Column(cause.key, cause.label, unit, numeric=True, help=cause.about)
            for cause in found.causes
        ),
        Column("after", last.capitalize(), unit, numeric=True),
        Column("difference", "Difference", unit, numeric=True),
    )


def season_table(found: WhatChanged, writer: Writer) -> Table | None:
    """The same in money of the season, with totals; None where no metres are known."""
    totals = found.totals
    if not totals.cloths:
        return None
    first, last = ends_of(found)
    rows = [
        Row(
            (
                Cell(each.name),
                Cell(writer.text(metres, "m")),
                Cell(writer.text(walked.before * metres, "¤")),
                *(
                    Cell(signed(_times(walked.amounts.get(cause.key), metres), "¤", writer))
                    for cause in found.causes
                ),
                Cell(writer.text(walked.after * metres, "¤")),
                Cell(writer.signed(walked.difference * metres, "¤"), strong=True),
            ),
            key=each.name,
        )
        for each, walked in found.walked
        if (metres := each.metres) and found.counts(each)
    ]
    rows.append(
        Row(
            (
                Cell("Total", strong=True),
                Cell(writer.text(totals.metres, "m"), strong=True),
                Cell(writer.text(totals.before, "¤"), strong=True),
                *(
                    Cell(signed(totals.amounts[cause.key], "¤", writer), strong=True)
                    for cause in found.causes
                ),
                Cell(writer.text(totals.after, "¤"), strong=True),
                Cell(writer.signed(totals.after - totals.before, "¤"), strong=True),
            ),
            key="total",
        )
    )
    return Table(
        caption="For the season, at the later season metres; a variant counts in place of its "
        "construction, not beside it",
        columns=(
            Column("cloth", "Construction"),
            Column("metres", "Season", writer.unit("m"), numeric=True),
            *_cause_columns(found, first, last, writer.currency),
        ),
        rows=tuple(rows),
        empty="",
    )


def _times(amount: float | None, metres: float) -> float | None:
    return None if amount is None else amount * metres


def others_table(found: WhatChanged, writer: Writer) -> Table:
    """Cloths that came or went, and those that could not be walked."""
    first, last = ends_of(found)
    rows = []
    for each in found.cloths:
        if each.walk is None:
            what = each.reason or {
                COME: "only in the later one",
                GONE: "cannot be compared today"
                if found.until_today
                else "only in the earlier one",
            }.get(each.state, "")
            rows.append(
                Row(
                    (
                        Cell(each.name, note=each.cloth.name),
                        Cell("come in" if each.state == COME else each.state),
                        Cell(_value(each.before, writer)),
                        Cell(_value(each.after, writer)),
                        Cell(what),
                    ),
                    key=each.name,
                )
            )
    return Table(
        caption="Come in, gone, or not to be explained",
        columns=(
            Column("cloth", "Construction"),
            Column("state", "State"),
            Column("before", first.capitalize(), writer.unit(PER_METRE), numeric=True),
            Column("after", last.capitalize(), writer.unit(PER_METRE), numeric=True),
            Column("why", "Why"),
        ),
        rows=tuple(rows),
        empty="",
    )


def _value(side: Side | None, writer: Writer) -> str:
    return "–" if side is None or side.value is None else writer.text(side.value, PER_METRE)
