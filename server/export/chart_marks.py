"""Marks of the charts: each takes its own rows; heights are pixels, lengths follow the axis."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from server.export.chart_themes import Spec, Theme, theme_config

_SCHEMA = "https://vega.github.io/schema/vega-lite/v5.json"
_LETTER_PX = 7.7  # a digit of the font at 12 px; most letters are narrower
_THIN_LETTER_PX = 4
_LINE_PX = 14
AXIS_PX = 48
_EDGE_PX = 10
SIDE_PX = 24  # half a label of the axis
GAP_PX = 6


@dataclass(frozen=True, slots=True)
class Plot:
    """The area between the paddings, and the figures its left and right edge stand for."""

    width_px: int
    height_px: int
    low: float
    high: float
    left_px: int = SIDE_PX
    below_px: int = AXIS_PX

    def length_px(self, start: float, end: float) -> float:
        """Length of a bar between two figures."""
        return abs(end - start) / (self.high - self.low) * self.width_px


@dataclass(frozen=True, slots=True)
class Axis:
    """Encodes a field along the figure axis, the same way in every layer."""

    plot: Plot
    title: tuple[str, ...]

    def __call__(self, field: str) -> Spec:
        """The field as a position on the axis."""
        return {
            "field": field,
            "type": "quantitative",
            "scale": {"domain": [self.plot.low, self.plot.high], "nice": False, "zero": False},
            "axis": {
                "title": [shortened(line, self.plot.width_px) for line in self.title],
                "titleLimit": self.plot.width_px + 2 * SIDE_PX - 8,
                "format": ",.2f" if self.plot.high - self.plot.low > 0.1 else ",.3f",
                "tickCount": max(2, self.plot.width_px // 90),
                "labelOverlap": "parity",
                "labelFlush": False,
            },
        }


def pixel_field(field: str) -> Spec:
    """The field as a position in pixels."""
    return {"field": field, "type": "quantitative", "scale": None}


def _layer(rows: Sequence[Spec], mark: Spec, encoding: Spec) -> Spec:
    return {"data": {"values": list(rows)}, "mark": {**mark, "aria": False}, "encoding": encoding}


def bar_marks(rows: Sequence[Spec], x: Axis, colours: Theme) -> Spec:
    """Bars from "start" to "end", outlined so that a pale one still shows."""
    return _layer(
        rows,
        {"type": "rect", "stroke": colours.ink, "strokeWidth": 0.8},
        {
            "x": x("start"),
            "x2": {"field": "end"},
            "y": pixel_field("top"),
            "y2": {"field": "bottom"},
            "color": {"field": "colour", "type": "nominal", "scale": None, "legend": None},
        },
    )


def swatch_marks(rows: Sequence[Spec], colours: Theme) -> Spec:
    """Squares of the key."""
    return _layer(
        rows,
        {"type": "rect", "stroke": colours.ink, "strokeWidth": 0.8},
        {
            "x": pixel_field("swatch_left"),
            "x2": {"field": "swatch_right"},
            "y": pixel_field("top"),
            "y2": {"field": "bottom"},
            "color": {"field": "colour", "type": "nominal", "scale": None, "legend": None},
        },
    )


def dot_marks(rows: Sequence[Spec], x: Axis, colours: Theme) -> Spec:
    """A dot at each "end"."""
    return _layer(
        rows,
        {"type": "point", "filled": True, "size": 130, "color": colours.adds, "opacity": 1},
        {"x": x("end"), "y": pixel_field("middle")},
    )


def rule_marks(
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
    encoding: Spec = {"x": x, "y": pixel_field(y)}
    if x2:
        encoding["x2"] = {"field": x2}
    if y2:
        encoding["y2"] = {"field": y2}
    mark: Spec = {"type": "rule", "color": colour, "strokeWidth": 1.2}
    return _layer(rows, {**mark, "strokeDash": list(dash)} if dash else mark, encoding)


def zero_line(plot: Plot, x: Axis, colours: Theme) -> Spec:
    """The line all bars start from."""
    row = {"zero": 0.0, "top": 0, "bottom": plot.height_px}
    return rule_marks([row], x=x("zero"), y="top", y2="bottom", colour=colours.ink)


def text_marks(
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
    return _layer(
        rows, mark, {"x": x, "y": pixel_field(y), "text": {"field": field, "type": "nominal"}}
    )


def name_marks(
    rows: Sequence[Spec], plot: Plot, colours: Theme, *, bold: bool = False
) -> list[Spec]:
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
            text_marks(
                placed,
                "name",
                x=pixel_field("edge"),
                colour=colours.ink,
                align="right",
                bold=bold,
                limit_px=plot.left_px - 14,
            )
        )
    return layers


# Room and scale


def plot_from_zero(
    figures: Iterable[float],
    *,
    width_px: int,
    height_px: int,
    label_px: float,
    left_px: int = SIDE_PX,
    below_px: int = AXIS_PX,
) -> Plot:
    """A plot that holds zero and all figures, with room for a label right of the largest."""
    every = [0.0, *figures]
    low, high = min(every), max(every)
    span = (high - low) or 1.0
    label_px = min(label_px, width_px / 2)
    room = span * label_px / (width_px - label_px)
    return Plot(width_px, height_px, low, low + span + room, left_px, below_px)


def plot_around(
    figures: Sequence[float], *, width_px: int, height_px: int, label_px: float, left_px: int
) -> Plot:
    """A plot that holds all figures without zero, with room for a label right of the largest."""
    low, high = min(figures), max(figures)
    span = max(high - low, 0.01)
    low -= 0.08 * span
    label_px = min(label_px + 2 * GAP_PX, width_px / 2)
    room = span * label_px / (width_px - label_px)
    high = low + 1.08 * span + room
    return Plot(width_px, height_px, low, high, left_px, AXIS_PX + _LINE_PX)


def room_for_names_px(width_px: int) -> int:
    """Room for names left of the plot [px]."""
    return 176 if width_px >= 500 else 116


def text_width_px(texts: Iterable[str]) -> float:
    """Room that the longest of some figures takes, with a gap before it [px]."""
    return max(len(text) for text in texts) * _LETTER_PX + 2 * GAP_PX


# Text


def plain_text(name: str) -> str:
    """The name as one line of printable text."""
    printable = "".join(sign if sign.isprintable() else " " for sign in name)
    return " ".join(printable.split())


def shortened(name: str, room_px: float) -> str:
    """The name without the letters that surely find no room; the drawing cuts to the pixel."""
    letters = max(1, int(room_px / _THIN_LETTER_PX))
    return name if len(name) <= letters else name[:letters].rstrip() + "…"


def lines_of(name: str, room_px: int) -> list[str]:
    """The name in one line or two, cut if two do not hold it."""
    letters = int((room_px - 14) / (_LETTER_PX - 0.6))
    lines = textwrap.wrap(plain_text(name), letters) or [""]
    if len(lines) > 2:
        lines = [lines[0], lines[1][: letters - 1].rstrip() + "…"]
    return lines


def figure_text(value: float, *, signed: bool = False) -> str:
    """The figure to 3 decimals, with a true minus sign."""
    rounded = round(value, 3) or 0.0
    text = f"{rounded:+,.3f}" if signed and rounded else f"{rounded:,.3f}"
    return text.replace("-", "−")


# The frame


def whole_spec(plot: Plot, layers: Sequence[Spec], colours: Theme, description: str) -> Spec:
    """The whole specification; layers that hold nothing are left out."""
    return {
        "$schema": _SCHEMA,
        "description": description,
        "width": plot.width_px,
        "height": plot.height_px,
        "padding": {
            "left": plot.left_px,
            "right": SIDE_PX,
            "top": _EDGE_PX,
            "bottom": plot.below_px,
        },
        "autosize": "none",
        "background": colours.background,
        "config": theme_config(colours),
        "layer": [layer for layer in layers if layer["data"]["values"]],
    }
