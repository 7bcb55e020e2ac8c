"""Charts as Vega-Lite specifications: plain figures in, a dictionary out, nothing drawn here.

Each chart keeps to the same rules. Its size is fixed before it is drawn, so a page can reserve the
room. Every figure stands beside its mark as text, and stacked parts carry a number that the key
repeats, so colour is never the only carrier. Names are shortened, never trusted: they travel as
data and cannot become an expression. No specification names an address to load.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from server.core.errors import BadValue

Spec = dict[str, Any]
Steps = Sequence[tuple[str, float]]

WIDE_PX = 640
NARROW_PX = 343  # what a 375 px screen leaves between its margins

_FONT = "DejaVu Sans, Verdana, sans-serif"
_SCHEMA = "https://vega.github.io/schema/vega-lite/v5.json"
_TEXT_PX = 12
_LETTER_PX = 7.7  # a digit of the font at 12 px; most letters are narrower
_THIN_LETTER_PX = 4
_LINE_PX = 14
_AXIS_PX = 48
_EDGE_PX = 10
_SIDE_PX = 24  # half a label of the axis
_GAP_PX = 6
_FALL_ROW_PX = 32
_STACK_ROW_PX = 72
_STACK_NAME_PX = 22
_STACK_BAR_PX = 36
_RUNG_PX = 48
_KEY_LINE_PX = 20
_KEY_LEFT_PX = 12 - _SIDE_PX  # left of the plot's own edge
_KEY_NAME_PX = 40


@dataclass(frozen=True, slots=True)
class ChartSize:
    """Outer size of a chart, for the width and height of its picture."""

    width_px: int
    height_px: int


@dataclass(frozen=True, slots=True)
class Theme:
    """Colours of a chart.

    background: None leaves the page, or the paper, as it is
    parts: colours of stacked parts, dark beside pale, so that neighbours differ in grey too
    """

    background: str | None
    ink: str
    quiet: str
    grid: str
    adds: str
    lowers: str
    total: str
    parts: tuple[str, ...]


THEMES: Mapping[str, Theme] = {
    "light": Theme(
        background=None,
        ink="#1c2340",
        quiet="#4d5470",
        grid="#d9d4c7",
        adds="#34408f",
        lowers="#0f766e",
        total="#1c2340",
        parts=(
            *("#332e8a", "#ddcc77", "#117a6b", "#88ccee", "#882255"),
            *("#c9c5b5", "#117733", "#e58a92", "#5c6178", "#bdb76b"),
        ),
    ),
    "dark": Theme(
        background="#141a30",
        ink="#f2ecdd",
        quiet="#bdbfd0",
        grid="#343c5c",
        adds="#93a4f5",
        lowers="#4fc9b8",
        total="#f2ecdd",
        parts=(
            *("#7c83e8", "#efe0a0", "#2f9c8a", "#a9dcf5", "#b8558a"),
            *("#dcd8c8", "#3f9a55", "#f2b0b6", "#8a8fa8", "#d8d48c"),
        ),
    ),
}


@dataclass(frozen=True, slots=True)
class _Plot:
    """The area between the paddings, and the figures its left and right edge stand for."""

    width_px: int
    height_px: int
    low: float
    high: float
    left_px: int = _SIDE_PX
    below_px: int = _AXIS_PX

    def length_px(self, start: float, end: float) -> float:
        """Length of a bar between two figures."""
        return abs(end - start) / (self.high - self.low) * self.width_px


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
    colours = _theme(theme)
    _check([*steps, (total_label, total)], width_px)
    _check_sum(steps, total)
    name_px = _name_px(width_px)
    rows = _fall(steps, total_label=total_label, total=total, colours=colours, name_px=name_px)
    plot = _plot_from_zero(
        [row[edge] for row in rows for edge in ("start", "end")],
        width_px=width_px - name_px - _SIDE_PX,
        height_px=_FALL_ROW_PX * len(rows),
        label_px=_width_px(row["text"] for row in rows),
        left_px=name_px,
    )
    x = _Axis(plot, (f"Landed cost, {_plain(unit)}",))
    joints = [
        {"end": above["end"], "top": above["bottom"], "bottom": below["top"]}
        for above, below in pairwise(rows)
    ]
    layers = [
        _zero_line(plot, x, colours),
        _rules(joints, x=x("end"), y="top", y2="bottom", colour=colours.quiet, dash=[2, 2]),
        _bars(rows, x, colours),
    ]
    for some, bold in ((rows[:-1], False), (rows[-1:], True)):
        layers += _names(some, plot, colours, bold=bold)
        layers.append(_texts(some, "text", x=x("right"), colour=colours.ink, dx=_GAP_PX, bold=bold))
    return _spec(plot, layers, colours, f"Landed cost step by step in {_plain(unit)}")


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
    colours = _theme(theme)
    _check(steps, width_px)
    name_px = _name_px(width_px)
    rungs = _rungs(steps, name_px)
    rises = [_rise(below, above) for below, above in pairwise(rungs)]
    plot = _plot_around(
        [rung["end"] for rung in rungs],
        width_px=width_px - name_px - _SIDE_PX,
        height_px=_RUNG_PX * len(rungs),
        label_px=_width_px(rung["text"] for rung in rungs),
        left_px=name_px,
    )
    x = _Axis(plot, (f"Cost, {_plain(unit)}", "(axis does not start at 0)"))
    layers = [
        _rules(rises, x=x("from"), y="top", y2="bottom", colour=colours.quiet),
        _rules(rises, x=x("from"), x2="to", y="bottom", colour=colours.quiet),
        _dots(rungs, x, colours),
        _texts(rises, "text", x=x("from"), colour=colours.quiet, dx=_GAP_PX),
        _texts(rungs, "text", x=x("end"), colour=colours.ink, dx=2 * _GAP_PX, bold=True),
        *_names(rungs, plot, colours),
    ]
    return _spec(plot, layers, colours, f"From the cheapest to the dearest in {_plain(unit)}")


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
                "name": _lines(name, name_px),
                "text": _figure(figure, signed=True),
                "start": reached,
                "end": reached + figure,
                "colour": colours.adds if figure >= 0 else colours.lowers,
            }
        )
        reached += figure
    rows.append(
        {
            "name": _lines(total_label, name_px),
            "text": _figure(total),
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
            "name": _lines(name, name_px),
            "text": _figure(figure),
            "end": figure,
            "middle": row * _RUNG_PX + _RUNG_PX // 2,
        }
        for row, (name, figure) in enumerate(sorted(steps, key=lambda step: step[1]))
    ]


def _rise(below: Spec, above: Spec) -> Spec:
    """What lies between two rungs, cheaper and dearer."""
    return {
        "text": _figure(above["end"] - below["end"], signed=True),
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
    colours = _theme(theme)
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
    plot = _plot_from_zero(
        [segment[edge] for segment in segments for edge in ("start", "end")],
        width_px=width_px - 2 * _SIDE_PX,
        height_px=_STACK_ROW_PX * len(stacks),
        label_px=_width_px(bar["text"] for bar in bars) + _GAP_PX,
        below_px=_AXIS_PX + (len(names) + 2) * _KEY_LINE_PX,
    )
    heads = [mark or name for mark, (name, _) in zip(marks, stacks, strict=True)]
    columns = list(zip(heads, sums, strict=True))
    return _spec(
        plot,
        [
            *_stack_layers(segments, bars, _Axis(plot, (f"{title}, {_plain(unit)}",)), colours),
            *_key(names, columns=columns, plot=plot, colours=colours, unit=_plain(unit)),
        ],
        colours,
        f"{title} in {_plain(unit)}, part by part",
    )


def _stack_layers(
    segments: Sequence[Spec], bars: Sequence[Spec], x: _Axis, colours: Theme
) -> list[Spec]:
    """The segments with their numbers, and name and total of each bar."""
    ink, edge = colours.ink, x.plot.width_px
    return [
        _bars(segments, x, colours),
        _rules(bars, x=x("zero"), y="above", y2="below", colour=ink),
        *_inside(segments, x),
        _texts(bars, "text", x=x("right"), colour=ink, dx=_GAP_PX, bold=True),
        _texts(
            bars, "name", x=_pixel("left"), y="top", colour=ink, dy=-11, bold=True, limit_px=edge
        ),
    ]


def _bar_tops(count: int) -> list[int]:
    """Upper edge of each bar [px]; its name stands above it."""
    return [row * _STACK_ROW_PX + _STACK_NAME_PX for row in range(count)]


def _bar(mark: str, name: str, parts: Mapping[str, float], top: int) -> Spec:
    """Name and total of one bar, and where they stand."""
    full_name = f"{mark}: {_plain(name)}" if mark else _plain(name)
    return {
        "name": _shortened(full_name, WIDE_PX),
        "text": _figure(math.fsum(parts.values())),
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
                    "text": _figure(figure),
                    "start": start,
                    "end": end,
                    "centre": (start + end) / 2,
                    "colour": _part_colour(number, colours),
                }
            )
    return segments


def _inside(segments: Sequence[Spec], x: _Axis) -> list[Spec]:
    """Number and figure inside each segment that is long enough to hold them."""
    layers = []
    for colour in dict.fromkeys(segment["colour"] for segment in segments):
        same = [segment for segment in segments if segment["colour"] == colour]
        figured = [one for one in same if _holds(one, "text", x.plot)]
        numbered = [one for one in same if _holds(one, "number", x.plot)]
        for rows, field, dy in ((figured, "text", 26), (numbered, "number", 11)):
            layers.append(
                _texts(
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


def _holds(segment: Spec, field: str, plot: _Plot) -> bool:
    """Whether a segment is long enough for the text in a field."""
    return plot.length_px(segment["start"], segment["end"]) >= _width_px([segment[field]]) - 6


def _key(
    names: Sequence[str],
    *,
    columns: Sequence[tuple[str, Mapping[str, float]]],
    plot: _Plot,
    colours: Theme,
    unit: str,
) -> list[Spec]:
    """The key below the axis: colour, number and name of each part, its figure in each stack.

    The figures are left out when there are more stacks than columns find room.
    """
    column_px = _width_px([*_figures(columns), "00.000"]) + _GAP_PX
    room_px = plot.width_px - 2 * _KEY_LEFT_PX - _KEY_NAME_PX
    shown = columns if column_px * len(columns) <= room_px - 80 else []
    name_px = min(_width_px(map(_plain, names)), room_px - column_px * len(shown))
    top_px = plot.height_px + _AXIS_PX
    rows = [_key_row(number, name, top_px, colours) for number, name in enumerate(names, start=1)]
    heads, cells = [], []
    for column, (head, parts) in enumerate(shown, start=1):
        right = _KEY_LEFT_PX + _KEY_NAME_PX + name_px + column_px * column
        text = _shortened(_plain(head) if len(shown) > 1 else unit, column_px)
        heads.append({"text": text, "right": right, "middle": top_px + _KEY_LINE_PX / 2})
        for name, row in zip(names, rows, strict=True):
            text = _figure(parts[name]) if name in parts else "–"
            cells.append({"text": text, "right": right, "middle": row["middle"]})
    ink, edge = colours.ink, _pixel("right")
    return [
        _swatches(rows, colours),
        _texts(rows, "number", x=_pixel("number_right"), colour=ink, align="right"),
        _texts(rows, "name", x=_pixel("name_left"), colour=ink, limit_px=name_px - 4),
        _texts(cells, "text", x=edge, colour=ink, align="right"),
        _texts(heads, "text", x=edge, colour=colours.quiet, align="right", limit_px=column_px - 2),
    ]


def _key_row(number: int, name: str, top_px: int, colours: Theme) -> Spec:
    """Colour, number and name of one part, and where they stand."""
    middle = top_px + _KEY_LINE_PX * (number + 0.5)
    return {
        "colour": _part_colour(number, colours),
        "number": str(number),
        "name": _shortened(_plain(name), WIDE_PX),
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
    return [_figure(figure) for _, parts in columns for figure in parts.values()]


def _marks(names: Sequence[str]) -> list[str]:
    """A letter for each stack where the names are too long to head a column, else nothing."""
    if len(names) == 1 or all(len(_plain(name)) <= 8 for name in names):
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


# Marks: each takes its own rows; heights are pixels, lengths follow the axis


@dataclass(frozen=True, slots=True)
class _Axis:
    """Encodes a field along the figure axis, the same way in every layer."""

    plot: _Plot
    title: tuple[str, ...]

    def __call__(self, field: str) -> Spec:
        """The field as a position on the axis."""
        return {
            "field": field,
            "type": "quantitative",
            "scale": {"domain": [self.plot.low, self.plot.high], "nice": False, "zero": False},
            "axis": {
                "title": [_shortened(line, self.plot.width_px) for line in self.title],
                "titleLimit": self.plot.width_px + 2 * _SIDE_PX - 8,
                "format": ",.2f" if self.plot.high - self.plot.low > 0.1 else ",.3f",
                "tickCount": max(2, self.plot.width_px // 90),
                "labelOverlap": "parity",
                "labelFlush": False,
            },
        }


def _pixel(field: str) -> Spec:
    """The field as a position in pixels."""
    return {"field": field, "type": "quantitative", "scale": None}


def _layer(rows: Sequence[Spec], mark: Spec, encoding: Spec) -> Spec:
    return {"data": {"values": list(rows)}, "mark": {**mark, "aria": False}, "encoding": encoding}


def _bars(rows: Sequence[Spec], x: _Axis, colours: Theme) -> Spec:
    """Bars from "start" to "end", outlined so that a pale one still shows."""
    return _layer(
        rows,
        {"type": "rect", "stroke": colours.ink, "strokeWidth": 0.8},
        {
            "x": x("start"),
            "x2": {"field": "end"},
            "y": _pixel("top"),
            "y2": {"field": "bottom"},
            "color": {"field": "colour", "type": "nominal", "scale": None, "legend": None},
        },
    )


def _swatches(rows: Sequence[Spec], colours: Theme) -> Spec:
    """Squares of the key."""
    return _layer(
        rows,
        {"type": "rect", "stroke": colours.ink, "strokeWidth": 0.8},
        {
            "x": _pixel("swatch_left"),
            "x2": {"field": "swatch_right"},
            "y": _pixel("top"),
            "y2": {"field": "bottom"},
            "color": {"field": "colour", "type": "nominal", "scale": None, "legend": None},
        },
    )


def _dots(rows: Sequence[Spec], x: _Axis, colours: Theme) -> Spec:
    """A dot at each "end"."""
    return _layer(
        rows,
        {"type": "point", "filled": True, "size": 130, "color": colours.adds, "opacity": 1},
        {"x": x("end"), "y": _pixel("middle")},
    )


def _rules(
    rows: Sequence[Spec],
    *,
    x: Spec,
    y: str,
    colour: str,
    x2: str = "",
    y2: str = "",
    dash: Sequence[int] = (),
) -> Spec:
    """Thin lines from x, y to x2 or y2."""
    encoding: Spec = {"x": x, "y": _pixel(y)}
    if x2:
        encoding["x2"] = {"field": x2}
    if y2:
        encoding["y2"] = {"field": y2}
    mark: Spec = {"type": "rule", "color": colour, "strokeWidth": 1.2}
    return _layer(rows, {**mark, "strokeDash": list(dash)} if dash else mark, encoding)


def _zero_line(plot: _Plot, x: _Axis, colours: Theme) -> Spec:
    """The line all bars start from."""
    row = {"zero": 0.0, "top": 0, "bottom": plot.height_px}
    return _rules([row], x=x("zero"), y="top", y2="bottom", colour=colours.ink)


def _texts(
    rows: Sequence[Spec],
    field: str,
    *,
    x: Spec,
    colour: str,
    y: str = "middle",
    dx: float = 0,
    dy: float = 0,
    align: str = "left",
    bold: bool = False,
    limit_px: float = 0,
) -> Spec:
    """The field of each row as text."""
    mark: Spec = {
        "type": "text",
        "align": align,
        "baseline": "middle",
        "color": colour,
        "dx": dx,
        "dy": dy,
        "fontWeight": "bold" if bold else "normal",
        "lineHeight": _LINE_PX,
    }
    if limit_px:
        mark["limit"] = limit_px
    return _layer(rows, mark, {"x": x, "y": _pixel(y), "text": {"field": field, "type": "nominal"}})


def _names(rows: Sequence[Spec], plot: _Plot, colours: Theme, *, bold: bool = False) -> list[Spec]:
    """Names left of the plot, in one line or two."""
    layers = []
    for count in (1, 2):
        placed = [
            {
                "name": row["name"],
                "edge": -10,
                "middle": row["middle"] - (count - 1) * _LINE_PX / 2,
            }
            for row in rows
            if len(row["name"]) == count
        ]
        layers.append(
            _texts(
                placed,
                "name",
                x=_pixel("edge"),
                colour=colours.ink,
                align="right",
                bold=bold,
                limit_px=plot.left_px - 14,
            )
        )
    return layers


# Room and scale


def _plot_from_zero(
    figures: Iterable[float],
    *,
    width_px: int,
    height_px: int,
    label_px: float,
    left_px: int = _SIDE_PX,
    below_px: int = _AXIS_PX,
) -> _Plot:
    """A plot that holds zero and all figures, with room for a label right of the largest."""
    every = [0.0, *figures]
    low, high = min(every), max(every)
    span = (high - low) or 1.0
    label_px = min(label_px, width_px / 2)
    room = span * label_px / (width_px - label_px)
    return _Plot(width_px, height_px, low, low + span + room, left_px, below_px)


def _plot_around(
    figures: Sequence[float], *, width_px: int, height_px: int, label_px: float, left_px: int
) -> _Plot:
    """A plot that holds all figures without zero, with room for a label right of the largest."""
    low, high = min(figures), max(figures)
    span = max(high - low, 0.01)
    low -= 0.08 * span
    label_px = min(label_px + 2 * _GAP_PX, width_px / 2)
    room = span * label_px / (width_px - label_px)
    high = low + 1.08 * span + room
    return _Plot(width_px, height_px, low, high, left_px, _AXIS_PX + _LINE_PX)


def _name_px(width_px: int) -> int:
    """Room for names left of the plot [px]."""
    return 176 if width_px >= 500 else 116


def _width_px(texts: Iterable[str]) -> float:
    """Room that the longest of some figures takes, with a gap before it [px]."""
    return max(len(text) for text in texts) * _LETTER_PX + 2 * _GAP_PX


# Text


def _plain(name: str) -> str:
    """The name as one line of printable text."""
    printable = "".join(sign if sign.isprintable() else " " for sign in name)
    return " ".join(printable.split())


def _shortened(name: str, room_px: float) -> str:
    """The name without the letters that surely find no room; the drawing cuts to the pixel."""
    letters = max(1, int(room_px / _THIN_LETTER_PX))
    return name if len(name) <= letters else name[:letters].rstrip() + "…"


def _lines(name: str, room_px: int) -> list[str]:
    """The name in one line or two, cut if two do not hold it."""
    letters = int((room_px - 14) / (_LETTER_PX - 0.6))
    lines = textwrap.wrap(_plain(name), letters) or [""]
    if len(lines) > 2:
        lines = [lines[0], lines[1][: letters - 1].rstrip() + "…"]
    return lines


def _figure(value: float, *, signed: bool = False) -> str:
    """The figure to 3 decimals, with a true minus sign."""
    rounded = round(value, 3) or 0.0
    text = f"{rounded:+,.3f}" if signed and rounded else f"{rounded:,.3f}"
    return text.replace("-", "−")


# Colour


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours as WCAG 2 defines it, 1 to 21."""
    dark, bright = sorted((_luminance(one), _luminance(other)))
    return (bright + 0.05) / (dark + 0.05)


def readable_on(colour: str) -> str:
    """Black or white, whichever reads better on the colour."""
    return max("#000000", "#ffffff", key=lambda ink: contrast(ink, colour))


def _luminance(colour: str) -> float:
    """Relative luminance of #rrggbb, 0 to 1."""
    channels = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in channels
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


# The frame


def _spec(plot: _Plot, layers: Sequence[Spec], colours: Theme, description: str) -> Spec:
    """The whole specification; layers that hold nothing are left out."""
    return {
        "$schema": _SCHEMA,
        "description": description,
        "width": plot.width_px,
        "height": plot.height_px,
        "padding": {
            "left": plot.left_px,
            "right": _SIDE_PX,
            "top": _EDGE_PX,
            "bottom": plot.below_px,
        },
        "autosize": "none",
        "background": colours.background,
        "config": _config(colours),
        "layer": [layer for layer in layers if layer["data"]["values"]],
    }


def _config(colours: Theme) -> Spec:
    """Fonts and colours that all charts of a theme share."""
    return {
        "font": _FONT,
        "view": {"stroke": None},
        "text": {"font": _FONT, "fontSize": _TEXT_PX},
        "axis": {
            "aria": False,
            "domain": False,
            "gridColor": colours.grid,
            "labelColor": colours.quiet,
            "labelFontSize": 11,
            "tickColor": colours.grid,
            "titleColor": colours.ink,
            "titleFontSize": _TEXT_PX,
            "titleFontWeight": "normal",
            "titlePadding": 6,
        },
        "axisY": {"domain": False, "grid": False, "labels": False, "ticks": False, "title": None},
    }


# What cannot be drawn


def _theme(theme: str) -> Theme:
    """The colours of a theme, by its name."""
    if theme not in THEMES:
        raise BadValue(
            f"There is no chart theme {theme!r}.",
            field="theme",
            value=theme,
            remedy=f"Choose {' or '.join(THEMES)}.",
        )
    return THEMES[theme]


def _check(steps: Steps, width_px: int) -> None:
    """Refuse a chart of nothing, in no room, or of figures that are not numbers."""
    if width_px < NARROW_PX:
        raise BadValue(
            "The chart is too narrow to be read.",
            field="width_px",
            value=width_px,
            unit="px",
            remedy=f"Give it at least {NARROW_PX} px.",
        )
    if not steps:
        raise BadValue("A chart needs at least one figure.", field="steps", remedy="Enter one.")
    for name, figure in steps:
        if not math.isfinite(figure):
            raise BadValue(
                f"{_plain(name)} cannot be drawn: {figure} is not a finite number.",
                field=_plain(name),
                value=figure,
                remedy="Check the figures it is computed from.",
            )


def _check_sum(steps: Steps, total: float) -> None:
    """Refuse steps that do not add up; each figure may be rounded to 3 decimals."""
    added = math.fsum(figure for _, figure in steps)
    if not math.isclose(added, total, rel_tol=1e-6, abs_tol=0.0005 * (len(steps) + 1)):
        raise BadValue(
            f"The steps add up to {_figure(added)}, not to the total of {_figure(total)}.",
            field="total",
            value=total,
            remedy="Draw the steps and the total of one and the same calculation.",
        )
