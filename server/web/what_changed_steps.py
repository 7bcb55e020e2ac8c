"""One cloth step by step: the running total, and what moved in each step."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from server.core.sheet import Input
from server.core.walk import CAUSES, FORMULAS, Moved, Step, Walk
from server.core.what_changed import ClothChange, Side, Touched, WhatChanged
from server.export.what_changed import place_of
from server.web.numbers import Writer, significant
from server.web.tables import Cell, Column, Row, Table
from server.web.what_changed_words import PER_METRE, ends_of, relative, signed

LineHref = Callable[[ClothChange, str], str]  # a cloth and a cause -> the running total opened
TouchedBy = Mapping[str, Touched]


@dataclass(frozen=True, slots=True)
class StepView:
    """One step opened to the inputs that moved. summary: what it is, before it is opened"""

    key: str
    label: str
    summary: str
    about: str
    notes: tuple[str, ...]
    moved: Table


def steps_table(
    each: ClothChange, walked: Walk, found: WhatChanged, writer: Writer, href: LineHref
) -> Table:
    """The steps of one cloth with the running total."""
    first, last = ends_of(found)
    rows = [
        Row(
            (
                Cell(f"Before, {first}", note=_pair(each.before)),
                Cell(""),
                Cell(""),
                Cell(writer.text(walked.before, PER_METRE), href=href(each, "start")),
                Cell(""),
            ),
            key="before",
        )
    ]
    named = {cause.key for cause in found.causes}
    for step in walked.steps:
        if step.cause not in named and not step.moved:
            continue
        opened = href(each, step.cause) if step.stage is not None else None
        rows.append(
            Row(
                (
                    Cell(CAUSES[step.cause].label, note=", ".join(step.names)),
                    Cell(signed(step.amount, PER_METRE, writer), strong=True),
                    Cell(relative(step.amount, walked.before) if step.amount else "–"),
                    Cell(writer.text(step.total, PER_METRE), href=opened),
                    Cell(_count(step)),
                ),
                key=step.cause,
            )
        )
    rows.append(
        Row(
            (
                Cell(f"After, {last}", note=_pair(each.after), strong=True),
                Cell(writer.signed(walked.difference, PER_METRE), strong=True),
                Cell(relative(walked.difference, walked.before)),
                Cell(writer.text(walked.after, PER_METRE), strong=True),
                Cell(""),
            ),
            key="after",
        )
    )
    return Table(
        caption=f"{each.name}: what each cause makes; each running total opens",
        columns=(
            Column("cause", "Cause"),
            Column("amount", "Amount", writer.unit(PER_METRE), numeric=True),
            Column("share", "Of before", "%", numeric=True),
            Column("total", "Running total", writer.unit(PER_METRE), numeric=True),
            Column("moved", "Inputs that moved", numeric=True),
        ),
        rows=tuple(rows),
        empty="",
    )


def _pair(side: Side | None) -> str:
    return side.pair.label if side and side.pair else ""


def _count(step: Step) -> str:
    return str(len(step.moved)) if step.moved else "–"


def step_views(
    name: str, walked: Walk, found: WhatChanged, writer: Writer, touched: TouchedBy
) -> tuple[StepView, ...]:
    """The steps in which an input moved, or of which something is to be said."""
    views = []
    for step in walked.steps:
        if not step.moved and not step.notes and step.cause != FORMULAS:
            continue
        cause = CAUSES[step.cause]
        amount = signed(step.amount, PER_METRE, writer)
        notes = step.notes
        if step.cause == FORMULAS:
            notes = (
                f"Frozen with version {found.before.engine} and {found.after.engine}; computed "
                "here with the formulas of today.",
            )
        views.append(
            StepView(
                step.cause,
                cause.label,
                f"{cause.label} {amount} {writer.unit(PER_METRE)}: {_moved_count(step)}",
                cause.about,
                notes,
                _moved_table(name, step, found, writer, touched),
            )
        )
    return tuple(views)


def _moved_count(step: Step) -> str:
    count = len(step.moved)
    return "nothing entered moved" if not count else f"{count} input{'s'[: count != 1]} moved"


def _moved_table(
    name: str, step: Step, found: WhatChanged, writer: Writer, touched: TouchedBy
) -> Table:
    who = (Column("who", "Last touched"),) if found.until_today else ()
    return Table(
        caption=f"{name}, {CAUSES[step.cause].label.lower()}: inputs that moved",
        columns=(
            Column("input", "Input"),
            Column("before", "Before"),
            Column("after", "After"),
            Column("source", "Source"),
            *who,
        ),
        rows=tuple(
            Row(
                (
                    Cell(moved.entry.label, note=place_of(moved)),
                    _entry_cell(moved.before, moved.after, writer),
                    _entry_cell(moved.after, None, writer),
                    Cell(
                        moved.entry.source or "source not given",
                        href=moved.entry.where or None,
                        note=_day(moved.entry),
                    ),
                    *((_who_cell(moved, touched),) if found.until_today else ()),
                ),
                key=moved.name,
            )
            for moved in step.moved
        ),
        empty="No input moved.",
    )


def _day(entry: Input) -> str:
    return entry.on.isoformat() if entry.on else ""


def _entry_cell(entry: Input | None, other: Input | None, writer: Writer) -> Cell:
    """A value with what was entered; the earlier one with its source where that is another."""
    if entry is None:
        return Cell("not in it")
    value = float(entry.value)
    if entry.unit in ("share", "share/a"):
        text = f"{significant(value * 100)} %{' a year' if entry.unit == 'share/a' else ''}"
    else:
        unit = entry.unit.replace("¤q", "quoted currency").replace("¤", writer.currency)
        text = f"{significant(value)} {unit}".strip()
    entered = "" if entry.as_entered == text else entry.as_entered
    is_other = other is not None and other.source != entry.source
    return Cell(text, note="; ".join(each for each in (entered, entry.source) if each)
                if is_other else entered)  # fmt: skip


def _who_cell(moved: Moved, touched: TouchedBy) -> Cell:
    found = touched.get(moved.after.where) if moved.after else None
    if found is None:
        return Cell("")
    what = "entered" if found.entered else "changed"
    return Cell(found.person, note=f"{what} {found.at:%Y-%m-%d %H:%M} UTC")
