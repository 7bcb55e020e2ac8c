"""From what a cloth was to what it is, cause by cause: a waterfall between two dots.

The axis does not start at zero, since causes are small beside a cost; so the two ends are dots and
not bars, and the axis says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from server.core.errors import BadValue
from server.export.chart_marks import (
    GAP_PX,
    SIDE_PX,
    Axis,
    bar_marks,
    dot_marks,
    figure_text,
    lines_of,
    name_marks,
    plain_text,
    plot_around,
    room_for_names_px,
    rule_marks,
    text_marks,
    text_width_px,
    whole_spec,
)
from server.export.chart_themes import Spec, Theme, theme_named
from server.export.charts import WIDE_PX, refuse_narrow

End = tuple[str, float]  # name and figure
_ROW_PX = 32
_BAR_PX = 18


def changed_waterfall(
    *,
    before: End,
    steps: Sequence[tuple[str, float]],
    after: End,
    unit: str,
    theme: str,
    width_px: int = WIDE_PX,
) -> Spec:
    """A figure before, what each cause moved it by, and the figure after.

    steps: name and signed amount [unit], in order; a sum that is not the difference is refused
    """
    colours = theme_named(theme)
    refuse_narrow(width_px)
    _check_sum(before, steps, after)
    name_px = room_for_names_px(width_px)
    rows = _rows(before, steps, after, colours, name_px)
    plot = plot_around(
        [row[edge] for row in rows for edge in ("start", "end")],
        width_px=width_px - name_px - SIDE_PX,
        height_px=_ROW_PX * len(rows),
        label_px=text_width_px(row["text"] for row in rows) + GAP_PX,
        left_px=name_px,
    )
    x = Axis(plot, (f"For a metre, {plain_text(unit)}", "(axis does not start at 0)"))
    joints = [
        {"end": above["end"], "top": above["bottom"], "bottom": below["top"]}
        for above, below in pairwise(rows)
    ]
    ends, bars = [rows[0], rows[-1]], rows[1:-1]
    layers = [
        rule_marks(joints, x=x("end"), y="top", y2="bottom", colour=colours.quiet, dash=[2, 2]),
        bar_marks(bars, x, colours),
        dot_marks(ends, x, colours),
    ]
    for some, bold in ((bars, False), (ends, True)):
        layers += name_marks(some, plot, colours, bold=bold)
        layers.append(
            text_marks(some, "text", x=x("right"), colour=colours.ink, dx=2 * GAP_PX, bold=bold)
        )
    return whole_spec(plot, layers, colours, f"What changed, step by step in {plain_text(unit)}")


def _rows(
    before: End, steps: Sequence[tuple[str, float]], after: End, colours: Theme, name_px: int
) -> list[Spec]:
    """A row for each end and each step, from where the one above ended."""
    reached = before[1]
    rows: list[Spec] = [_row(before[0], reached, reached, figure_text(reached), colours, name_px)]
    for name, amount in steps:
        text = figure_text(amount, signed=True)
        rows.append(_row(name, reached, reached + amount, text, colours, name_px))
        reached += amount
    rows.append(_row(after[0], after[1], after[1], figure_text(after[1]), colours, name_px))
    for place, row in enumerate(rows):
        middle = place * _ROW_PX + _ROW_PX // 2
        half = _BAR_PX // 2
        row |= {"middle": middle, "top": middle - half, "bottom": middle + half}
    return rows


def _row(name: str, start: float, end: float, text: str, colours: Theme, name_px: int) -> Spec:
    return {
        "name": lines_of(name, name_px),
        "text": text,
        "start": start,
        "end": end,
        "right": max(start, end),
        "colour": colours.adds if end >= start else colours.lowers,
    }


def _check_sum(before: End, steps: Sequence[tuple[str, float]], after: End) -> None:
    apart = before[1] + sum(amount for _, amount in steps) - after[1]
    if abs(apart) > 1e-9 * max(1.0, abs(before[1]), abs(after[1])):
        raise BadValue(
            "The steps do not lead from the one figure to the other.",
            field="steps",
            value=apart,
            remedy="Take all causes of the walk.",
        )
