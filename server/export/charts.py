"""Charts as Vega-Lite specifications: plain figures in, a dictionary out, nothing drawn here.

Each chart keeps to the same rules. Its size is fixed before it is drawn, so a page can reserve the
room. Every figure stands beside its mark as text, and stacked parts carry a number that the key
repeats, so colour is never the only carrier. Names are shortened, never trusted: they travel as
data and cannot become an expression. No specification names an address to load.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from server.core.errors import BadValue
from server.export.chart_marks import (
    AXIS_PX,
    GAP_PX,
    SIDE_PX,
    Axis,
    Plot,
    bar_marks,
    dot_marks,
    figure_text,
    lines_of,
    name_marks,
    pixel_field,
    plain_text,
    plot_around,
    plot_from_zero,
    room_for_names_px,
    rule_marks,
    shortened,
    swatch_marks,
    text_marks,
    text_width_px,
    whole_spec,
    zero_line,
)
from server.export.chart_themes import Spec, Theme, readable_on, theme_named

Steps = Sequence[tuple[str, float]]
WIDE_PX = 640
NARROW_PX = 343  # what a 375 px screen leaves between its margins
_FALL_ROW_PX = 32
_STACK_ROW_PX = 72
_STACK_NAME_PX = 22
_STACK_BAR_PX = 36
_RUNG_PX = 48
_KEY_LINE_PX = 20
_KEY_LEFT_PX = 12 - SIDE_PX  # left of the plot's own edge
_KEY_NAME_PX = 40


@dataclass(frozen=True, slots=True)
class ChartSize:
    """Outer size of a chart, for the width and height of its picture."""

    width_px: int
    height_px: int


def landed_waterfall(
    *,
    steps: Steps,
    total_label: str,
    total: float,
    unit: str,
    theme: str,
    width_px: int = WIDE_PX,
) -> Spec:
    """How an offer's price becomes its landed cost, one bar for each step and one for the sum.

    steps: name and signed figure [unit], in the order they are added
    total: their sum [unit]; a sum that differs by more than rounding is refused
    """
    colours = theme_named(theme)
    _check([*steps, (total_label, total)], width_px)
    _check_sum(steps, total)
    name_px = room_for_names_px(width_px)
    rows = _fall(steps, total_label=total_label, total=total, colours=colours, name_px=name_px)
    plot = plot_from_zero(
        [row[edge] for row in rows for edge in ("start", "end")],
        width_px=width_px - name_px - SIDE_PX,
        height_px=_FALL_ROW_PX * len(rows),
        label_px=text_width_px(row["text"] for row in rows),
        left_px=name_px,
    )
    x = Axis(plot, (f"Landed cost, {plain_text(unit)}",))
    joints = [
        {"end": above["end"], "top": above["bottom"], "bottom": below["top"]}
        for above, below in pairwise(rows)
    ]
    layers = [
        zero_line(plot, x, colours),
        rule_marks(joints, x=x("end"), y="top", y2="bottom", colour=colours.quiet, dash=[2, 2]),
        bar_marks(rows, x, colours),
    ]
    for some, bold in ((rows[:-1], False), (rows[-1:], True)):
        layers += name_marks(some, plot, colours, bold=bold)
        layers.append(
            text_marks(some, "text", x=x("right"), colour=colours.ink, dx=GAP_PX, bold=bold)
        )
    return whole_spec(plot, layers, colours, f"Landed cost step by step in {plain_text(unit)}")


def cost_stack(
    *,
    stacks: Sequence[tuple[str, Steps]],
    unit: str,
    theme: str,
    width_px: int = WIDE_PX,
) -> Spec:
    """What a cost is made of: one bar for each stack, its parts side by side, a key below.

    stacks: name of each stack with its parts, each a name and a figure [unit]
    """
    return _stacked(stacks, title="Cost", unit=unit, theme=theme, width_px=width_px)


def routes(
    *,
    routes: Sequence[tuple[str, Steps]],
    unit: str,
    theme: str,
    width_px: int = WIDE_PX,
) -> Spec:
    """What a yarn costs by each spinning route, stage by stage, one route under the other.

    routes: name of each route with its stages, each a name and a figure [unit]
    """
    return _stacked(routes, title="Cost by stage", unit=unit, theme=theme, width_px=width_px)


def ladder(*, steps: Steps, unit: str, theme: str, width_px: int = WIDE_PX) -> Spec:
    """Combinations from the cheapest to the dearest, and what each step up costs.

    steps: name and figure [unit], in any order
    """
    colours = theme_named(theme)
    _check(steps, width_px)
    name_px = room_for_names_px(width_px)
    rungs = _rungs(steps, name_px)
    rises = [_rise(below, above) for below, above in pairwise(rungs)]
    plot = plot_around(
        [rung["end"] for rung in rungs],
        width_px=width_px - name_px - SIDE_PX,
        height_px=_RUNG_PX * len(rungs),
        label_px=text_width_px(rung["text"] for rung in rungs),
        left_px=name_px,
    )
    x = Axis(plot, (f"Cost, {plain_text(unit)}", "(axis does not start at 0)"))
    layers = [
        rule_marks(rises, x=x("from"), y="top", y2="bottom", colour=colours.quiet),
        rule_marks(rises, x=x("from"), x2="to", y="bottom", colour=colours.quiet),
        dot_marks(rungs, x, colours),
        text_marks(rises, "text", x=x("from"), colour=colours.quiet, dx=GAP_PX),
        text_marks(rungs, "text", x=x("end"), colour=colours.ink, dx=2 * GAP_PX, bold=True),
        *name_marks(rungs, plot, colours),
    ]
    return whole_spec(
        plot, layers, colours, f"From the cheapest to the dearest in {plain_text(unit)}"
    )


def size_of(spec: Spec) -> ChartSize:
    """The outer size a chart will have when it is drawn."""
    padding = spec["padding"]
    return ChartSize(
        width_px=spec["width"] + padding["left"] + padding["right"],
        height_px=spec["height"] + padding["top"] + padding["bottom"],
    )


# Rows of the waterfall and of the ladder


def _fall(
    steps: Steps, *, total_label: str, total: float, colours: Theme, name_px: int
) -> list[Spec]:
    """A bar for each step from where the one above ended, and the total from zero."""
    rows: list[Spec] = []
    reached = 0.0
    for name, figure in steps:
        rows.append(
            {
                "name": lines_of(name, name_px),
                "text": figure_text(figure, signed=True),
                "start": reached,
                "end": reached + figure,
                "colour": colours.adds if figure >= 0 else colours.lowers,
            }
        )
        reached += figure
    rows.append(
        {
            "name": lines_of(total_label, name_px),
            "text": figure_text(total),
            "start": 0.0,
            "end": total,
            "colour": colours.total,
        }
    )
    for row, bar in enumerate(rows):
        middle = row * _FALL_ROW_PX + _FALL_ROW_PX // 2
        bar |= {"middle": middle, "top": middle - 9, "bottom": middle + 9}
        bar["right"] = max(bar["start"], bar["end"])
    return rows


def _rungs(steps: Steps, name_px: int) -> list[Spec]:
    """The steps in ascending order."""
    return [
        {
            "name": lines_of(name, name_px),
            "text": figure_text(figure),
            "end": figure,
            "middle": row * _RUNG_PX + _RUNG_PX // 2,
        }
        for row, (name, figure) in enumerate(sorted(steps, key=lambda step: step[1]))
    ]


def _rise(below: Spec, above: Spec) -> Spec:
    """What lies between two rungs, cheaper and dearer."""
    return {
        "text": figure_text(above["end"] - below["end"], signed=True),
        "from": below["end"],
        "to": above["end"],
        "top": below["middle"],
        "middle": (below["middle"] + above["middle"]) / 2,
        "bottom": above["middle"],
    }


# Stacked bars


def _stacked(
    stacks: Sequence[tuple[str, Steps]], *, title: str, unit: str, theme: str, width_px: int
) -> Spec:
    """Stacked bars one under the other; parts numbered as in the key below them."""
    colours = theme_named(theme)
    _check([part for _, parts in stacks for part in parts], width_px)
    names = list(dict.fromkeys(name for _, parts in stacks for name, _ in parts))
    sums = [_by_name(parts) for _, parts in stacks]
    segments = [
        {**segment, "top": top, "bottom": top + _STACK_BAR_PX}
        for top, parts in zip(_bar_tops(len(stacks)), sums, strict=True)
        for segment in _segments(parts, names, colours)
    ]
    marks = _marks([name for name, _ in stacks])
    bars = [
        _bar(mark, name, parts, top)
        for mark, (name, _), parts, top in zip(
            marks, stacks, sums, _bar_tops(len(stacks)), strict=True
        )
    ]
    plot = plot_from_zero(
        [segment[edge] for segment in segments for edge in ("start", "end")],
        width_px=width_px - 2 * SIDE_PX,
        height_px=_STACK_ROW_PX * len(stacks),
        label_px=text_width_px(bar["text"] for bar in bars) + GAP_PX,
        below_px=AXIS_PX + (len(names) + 2) * _KEY_LINE_PX,
    )
    heads = [mark or name for mark, (name, _) in zip(marks, stacks, strict=True)]
    columns = list(zip(heads, sums, strict=True))
    return whole_spec(
        plot,
        [
            *_stack_layers(segments, bars, Axis(plot, (f"{title}, {plain_text(unit)}",)), colours),
            *_key(names, columns=columns, plot=plot, colours=colours, unit=plain_text(unit)),
        ],
        colours,
        f"{title} in {plain_text(unit)}, part by part",
    )


def _stack_layers(
    segments: Sequence[Spec], bars: Sequence[Spec], x: Axis, colours: Theme
) -> list[Spec]:
    """The segments with their numbers, and name and total of each bar."""
    ink, edge = colours.ink, x.plot.width_px
    return [
        bar_marks(segments, x, colours),
        rule_marks(bars, x=x("zero"), y="above", y2="below", colour=ink),
        *_inside(segments, x),
        text_marks(bars, "text", x=x("right"), colour=ink, dx=GAP_PX, bold=True),
        text_marks(
            bars,
            "name",
            x=pixel_field("left"),
            y="top",
            colour=ink,
            dy=-11,
            bold=True,
            limit_px=edge,
        ),
    ]


def _bar_tops(count: int) -> list[int]:
    """Upper edge of each bar [px]; its name stands above it."""
    return [row * _STACK_ROW_PX + _STACK_NAME_PX for row in range(count)]


def _bar(mark: str, name: str, parts: Mapping[str, float], top: int) -> Spec:
    """Name and total of one bar, and where they stand."""
    full_name = f"{mark}: {plain_text(name)}" if mark else plain_text(name)
    return {
        "name": shortened(full_name, WIDE_PX),
        "text": figure_text(math.fsum(parts.values())),
        "right": math.fsum(figure for figure in parts.values() if figure > 0),
        "zero": 0.0,
        "left": 0,
        "top": top,
        "middle": top + _STACK_BAR_PX // 2,
        "above": top - 2,
        "below": top + _STACK_BAR_PX + 6,
    }


def _segments(parts: Mapping[str, float], names: Sequence[str], colours: Theme) -> list[Spec]:
    """The parts of one stack end to end: costs to the right of zero, credits to the left."""
    segments = []
    right = left = 0.0
    for number, name in enumerate(names, start=1):
        figure = parts.get(name, 0.0)
        start = right if figure >= 0 else left
        end = start + figure
        right, left = (end, left) if figure >= 0 else (right, end)
        if figure:
            segments.append(
                {
                    "number": str(number),
                    "text": figure_text(figure),
                    "start": start,
                    "end": end,
                    "centre": (start + end) / 2,
                    "colour": _part_colour(number, colours),
                }
            )
    return segments


def _inside(segments: Sequence[Spec], x: Axis) -> list[Spec]:
    """Number and figure inside each segment that is long enough to hold them."""
    layers = []
    for colour in dict.fromkeys(segment["colour"] for segment in segments):
        same = [segment for segment in segments if segment["colour"] == colour]
        figured = [one for one in same if _holds(one, "text", x.plot)]
        numbered = [one for one in same if _holds(one, "number", x.plot)]
        for rows, field, dy in ((figured, "text", 26), (numbered, "number", 11)):
            layers.append(
                text_marks(
                    rows,
                    field,
                    x=x("centre"),
                    y="top",
                    dy=dy,
                    colour=readable_on(colour),
                    align="center",
                    bold=field == "number",
                )
            )
    return layers


def _holds(segment: Spec, field: str, plot: Plot) -> bool:
    """Whether a segment is long enough for the text in a field."""
    return plot.length_px(segment["start"], segment["end"]) >= text_width_px([segment[field]]) - 6


def _key(
    names: Sequence[str],
    *,
    columns: Sequence[tuple[str, Mapping[str, float]]],
    plot: Plot,
    colours: Theme,
    unit: str,
) -> list[Spec]:
    """The key below the axis: colour, number and name of each part, its figure in each stack.

    The figures are left out when there are more stacks than columns find room.
    """
    column_px = text_width_px([*_figures(columns), "00.000"]) + GAP_PX
    room_px = plot.width_px - 2 * _KEY_LEFT_PX - _KEY_NAME_PX
    shown = columns if column_px * len(columns) <= room_px - 80 else []
    name_px = min(text_width_px(map(plain_text, names)), room_px - column_px * len(shown))
    top_px = plot.height_px + AXIS_PX
    rows = [_key_row(number, name, top_px, colours) for number, name in enumerate(names, start=1)]
    heads, cells = [], []
    for column, (head, parts) in enumerate(shown, start=1):
        right = _KEY_LEFT_PX + _KEY_NAME_PX + name_px + column_px * column
        text = shortened(plain_text(head) if len(shown) > 1 else unit, column_px)
        heads.append({"text": text, "right": right, "middle": top_px + _KEY_LINE_PX / 2})
        for name, row in zip(names, rows, strict=True):
            text = figure_text(parts[name]) if name in parts else "–"
            cells.append({"text": text, "right": right, "middle": row["middle"]})
    ink, edge = colours.ink, pixel_field("right")
    return [
        swatch_marks(rows, colours),
        text_marks(rows, "number", x=pixel_field("number_right"), colour=ink, align="right"),
        text_marks(rows, "name", x=pixel_field("name_left"), colour=ink, limit_px=name_px - 4),
        text_marks(cells, "text", x=edge, colour=ink, align="right"),
        text_marks(
            heads, "text", x=edge, colour=colours.quiet, align="right", limit_px=column_px - 2
        ),
    ]


def _key_row(number: int, name: str, top_px: int, colours: Theme) -> Spec:
    """Colour, number and name of one part, and where they stand."""
    middle = top_px + _KEY_LINE_PX * (number + 0.5)
    return {
        "colour": _part_colour(number, colours),
        "number": str(number),
        "name": shortened(plain_text(name), WIDE_PX),
        "swatch_left": _KEY_LEFT_PX,
        "swatch_right": _KEY_LEFT_PX + 12,
        "number_right": _KEY_LEFT_PX + 32,
        "name_left": _KEY_LEFT_PX + _KEY_NAME_PX,
        "top": middle - 6,
        "middle": middle,
        "bottom": middle + 6,
    }


def _figures(columns: Sequence[tuple[str, Mapping[str, float]]]) -> list[str]:
    """All figures of some stacks as text."""
    return [figure_text(figure) for _, parts in columns for figure in parts.values()]


def _marks(names: Sequence[str]) -> list[str]:
    """A letter for each stack where the names are too long to head a column, else nothing."""
    if len(names) == 1 or all(len(plain_text(name)) <= 8 for name in names):
        return [""] * len(names)
    return [chr(ord("A") + row % 26) for row in range(len(names))]


def _by_name(parts: Steps) -> dict[str, float]:
    """Parts by their name; parts of one name count together."""
    sums: dict[str, float] = {}
    for name, figure in parts:
        sums[name] = sums.get(name, 0.0) + figure
    return sums


def _part_colour(number: int, colours: Theme) -> str:
    """Colour of the part with this number in the key; colours repeat, numbers do not."""
    return colours.parts[(number - 1) % len(colours.parts)]


# What cannot be drawn


def refuse_narrow(width_px: int) -> None:
    """Raises BadValue for a width at which no chart can be read [px]."""
    if width_px < NARROW_PX:
        raise BadValue(
            "The chart is too narrow to be read.",
            field="width_px",
            value=width_px,
            unit="px",
            remedy=f"Give it at least {NARROW_PX} px.",
        )


def _check(steps: Steps, width_px: int) -> None:
    """Refuse a chart of nothing, in no room, or of figures that are not numbers."""
    refuse_narrow(width_px)
    if not steps:
        raise BadValue("A chart needs at least one figure.", field="steps", remedy="Enter one.")
    for name, figure in steps:
        if not math.isfinite(figure):
            raise BadValue(
                f"{plain_text(name)} cannot be drawn: {figure} is not a finite number.",
                field=plain_text(name),
                value=figure,
                remedy="Check the figures it is computed from.",
            )


def _check_sum(steps: Steps, total: float) -> None:
    """Refuse steps that do not add up; each figure may be rounded to 3 decimals."""
    added = math.fsum(figure for _, figure in steps)
    if not math.isclose(added, total, rel_tol=1e-6, abs_tol=0.0005 * (len(steps) + 1)):
        raise BadValue(
            f"The steps add up to {figure_text(added)}, not to the total of {figure_text(total)}.",
            field="total",
            value=total,
            remedy="Draw the steps and the total of one and the same calculation.",
        )
