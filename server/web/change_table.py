"""The columns of the change desk: before, the plain swap, and what holds weight, cover or cost."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from server.actions.change import Desk
from server.core.change import CAUSES, Alternative
from server.core.costing import Costing
from server.export.change import ChangeRow, change_rows
from server.web.addresses import change_path, ties_path, with_query
from server.web.numbers import Writer

BEFORE = "before"
LineHref = Callable[[str, str], str]


@dataclass(frozen=True, slots=True)
class ColumnView:
    """Heading of a column.

    take_href: the address in which its threads are asked for
    ties_href: where it costs what the construction costs as it stands
    """

    key: str
    label: str
    held: str
    solved: tuple[str, ...]
    yarns: tuple[tuple[str, str, str], ...]
    reason: str
    take_href: str
    ties_href: str


@dataclass(frozen=True, slots=True)
class FigureView:
    """One figure of a column with its difference to before."""

    text: str
    difference: str
    direction: str
    href: str


@dataclass(frozen=True, slots=True)
class RowView:
    """A figure in every column; None where a column could not be reached."""

    label: str
    unit: str
    figures: tuple[FigureView | None, ...]


@dataclass(frozen=True, slots=True)
class GroupView:
    """Rows that belong together."""

    title: str
    rows: tuple[RowView, ...]


@dataclass(frozen=True, slots=True)
class BridgeView:
    """Causes down, alternatives across; each column sums to its last row."""

    unit: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]
    totals: tuple[str, ...]


def columns(desk: Desk, writer: Writer, query: Mapping[str, str]) -> tuple[ColumnView, ...]:
    """The headings, before first."""
    first = ColumnView(BEFORE, "As it stands", "", (), _yarns(desk.before), "", "", "")
    code = desk.before.construction.code
    return (
        first,
        *(_column(each, writer, code, query) for each in desk.changed.alternatives),
    )


def _column(
    alternative: Alternative, writer: Writer, code: str, query: Mapping[str, str]
) -> ColumnView:
    sides = {"first": BEFORE, "second": alternative.key}
    taken = {each.name: f"{each.value:.2f}" for each in alternative.solved}
    return ColumnView(
        alternative.key,
        alternative.label,
        f"holds {alternative.held}" if alternative.held else "nothing else moves",
        tuple(f"{each.label} {writer.full(each.value, each.unit)}" for each in alternative.solved),
        _yarns(alternative.costing) if alternative.costing else (),
        alternative.reason,
        with_query(change_path(code), {**query, **taken}) if taken else "",
        with_query(ties_path(code), {**query, **sides}) if alternative.costing else "",
    )


def _yarns(costing: Costing) -> tuple[tuple[str, str, str], ...]:
    """(name, process, standing) of every yarn; the standing only when it is not possible."""
    return tuple(
        (yarn.name, yarn.process, "" if yarn.state == "possible" else yarn.state)
        for yarn in costing.yarns
    )


def groups(desk: Desk, writer: Writer, href: LineHref) -> tuple[GroupView, ...]:
    """All figures, by group."""
    rows = change_rows(desk.changed)
    titles = dict.fromkeys(row.group for row in rows)
    return tuple(
        GroupView(title, tuple(_row(desk, row, writer, href) for row in rows if row.group == title))
        for title in titles
    )


def _row(desk: Desk, row: ChangeRow, writer: Writer, href: LineHref) -> RowView:
    opens = row.key in desk.before.figures
    before = FigureView(
        writer.text(row.value(desk.before), row.unit),
        "",
        "",
        href(BEFORE, row.key) if opens else "",
    )
    return RowView(
        row.label,
        writer.unit(row.unit),
        (
            before,
            *(
                _figure(desk, row, each, writer, href(each.key, row.key) if opens else "")
                for each in desk.changed.alternatives
            ),
        ),
    )


def _figure(
    desk: Desk, row: ChangeRow, alternative: Alternative, writer: Writer, href: str
) -> FigureView | None:
    costing = alternative.costing
    if costing is None:
        return None
    apart = row.difference(desk.before, costing)
    unit = "share" if row.relative else row.unit
    text = writer.signed(apart, unit)
    direction = "up" if text.startswith("+") else "down" if text.startswith("−") else "same"
    return FigureView(
        writer.text(row.value(costing), row.unit),
        f"{text} %" if row.relative else text,
        direction,
        href,
    )


def bridge_view(desk: Desk, writer: Writer) -> BridgeView:
    """Why each alternative does not cost what it did, cause by cause."""
    walks = [
        (alternative, desk.changed.bridge(costing)) for alternative, costing in desk.changed.reached
    ]
    order = [cause.label for cause in CAUSES]
    met = dict.fromkeys(step.label for _, walk in walks for step in walk.steps)
    causes = sorted(met, key=lambda label: order.index(label) if label in order else len(order))
    amounts = [{step.label: step.amount for step in walk.steps} for _, walk in walks]
    return BridgeView(
        writer.unit("¤/m"),
        tuple(alternative.label for alternative, _ in walks),
        tuple(
            (
                cause,
                tuple(
                    writer.signed(each[cause], "¤/m") if cause in each else "–" for each in amounts
                ),
            )
            for cause in causes
        ),
        tuple(writer.signed(walk.after - walk.before, "¤/m") for _, walk in walks),
    )
