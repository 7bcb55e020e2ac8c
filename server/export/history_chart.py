"""Prices over the days they were quoted: a dot for each quote, a line where one replaces another.

Places are worked out in pixels here, so that the picture is the same wherever it is drawn.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from server.core.errors import BadValue
from server.export.chart_marks import (
    Plot,
    pixel_field,
    plain_text,
    rule_marks,
    shortened,
    text_marks,
    text_width_px,
    whole_spec,
)
from server.export.chart_themes import Spec, Theme, theme_named
from server.export.charts import WIDE_PX, refuse_narrow

_HEIGHT_PX = 200
_RIGHT_PX = 24
_BELOW_PX = 40
_LINE_PX = 18
_HEAD_PX = 34  # room for the label of the highest dot
_DAY_PX = 84  # room of a day's label
_MOST_TICKS = 6


@dataclass(frozen=True, slots=True)
class PricePoint:
    """One quote. text: the price as it is written; after: name of the quote it replaces, or "".

    holds: whether it holds still: not expired and not replaced
    """

    name: str
    day: date
    price: float
    text: str
    after: str
    holds: bool


def price_history(
    *, points: Sequence[PricePoint], unit: str, theme: str, width_px: int = WIDE_PX
) -> Spec:
    """Prices over time, in one unit.

    points: in any order, all in `unit`
    """
    colours = theme_named(theme)
    _check(points, width_px)
    ordered = sorted(points, key=lambda point: (point.day, point.name))
    ticks = price_ticks([point.price for point in ordered])
    tick_texts = [_tick_text(tick, ticks) for tick in ticks]
    left = int(text_width_px(tick_texts)) + 8
    lines = _lines(plain_text(unit), width_px)
    below = _BELOW_PX + _LINE_PX * len(lines)
    plot = Plot(width_px - left - _RIGHT_PX, _HEIGHT_PX, ticks[0], ticks[-1], left, below)
    rows = _placed(ordered, plot)
    layers = [
        *_grid(ticks, tick_texts, plot, colours),
        *_days(ordered, plot, colours),
        rule_marks(
            _joints(rows), x=pixel_field("x"), x2="x2", y="y", y2="y2", colour=colours.adds
        ),
        *_dots(rows, colours),
        text_marks(
            _labelled(rows, plot), "text", x=pixel_field("label_x"), y="label_y",
            colour=colours.ink, align="center",
        ),
        *_words(lines, plot, colours),
    ]  # fmt: skip
    return whole_spec(plot, layers, colours, f"Price by day of the quote in {plain_text(unit)}")


def price_ticks(prices: Sequence[float]) -> list[float]:
    """Round figures from below the lowest to above the highest price."""
    low, high = min(prices), max(prices)
    span = (high - low) or abs(high) * 0.1 or 1.0
    rough = span / (_MOST_TICKS - 2)
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * each for each in (1, 2, 5, 10) if power * each >= rough * (1 - 1e-9))
    first = math.floor((low - 0.05 * span) / step)
    last = math.ceil((high + 0.05 * span) / step)
    return [number * step for number in range(first, last + 1)]


def _tick_text(tick: float, ticks: Sequence[float]) -> str:
    step = ticks[1] - ticks[0]
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    return f"{tick:,.{decimals}f}".replace("-", "−")


def _placed(points: Sequence[PricePoint], plot: Plot) -> list[Spec]:
    return [
        {
            "name": point.name,
            "text": shortened(plain_text(point.text), 120),
            "after": point.after,
            "holds": point.holds,
            "x": _x(point.day, points, plot),
            "y": _y(point.price, plot),
        }
        for point in points
    ]


def _x(day: date, points: Sequence[PricePoint], plot: Plot) -> float:
    first, last = points[0].day, points[-1].day
    if first == last:
        return plot.width_px / 2
    return round(12 + (day - first).days / (last - first).days * (plot.width_px - 24), 2)


def _y(price: float, plot: Plot) -> float:
    room = plot.height_px - _HEAD_PX
    share = (price - plot.low) / (plot.high - plot.low)
    return round(plot.height_px - share * room, 2)


def _grid(ticks: Sequence[float], texts: Sequence[str], plot: Plot, colours: Theme) -> list[Spec]:
    rows = [
        {"x": 0, "x2": plot.width_px, "y": _y(tick, plot), "text": text, "edge": -8}
        for tick, text in zip(ticks, texts, strict=True)
    ]
    return [
        rule_marks(rows, x=pixel_field("x"), x2="x2", y="y", colour=colours.grid),
        text_marks(rows, "text", x=pixel_field("edge"), y="y", colour=colours.quiet, align="right"),
    ]


def _days(points: Sequence[PricePoint], plot: Plot, colours: Theme) -> list[Spec]:
    """Days below the axis: the first and the last, and even ones between where there is room."""
    first, last = points[0].day, points[-1].day
    count = 1 if first == last else max(2, min(5, int(plot.width_px // _DAY_PX)))
    days = dict.fromkeys(
        first + timedelta(days=round((last - first).days * place / max(1, count - 1)))
        for place in range(count)
    )
    rows = []
    for day in days:
        x = _x(day, points, plot)
        rows.append(
            {
                "text": day.isoformat(), "x": x, "y": plot.height_px, "y2": plot.height_px + 5,
                "label_x": min(max(x, 24), plot.width_px - 24), "label_y": plot.height_px + 15,
            }
        )  # fmt: skip
    base = [{"x": 0, "x2": plot.width_px, "y": plot.height_px}]
    return [
        rule_marks(base, x=pixel_field("x"), x2="x2", y="y", colour=colours.quiet),
        rule_marks(rows, x=pixel_field("x"), y="y", y2="y2", colour=colours.quiet),
        text_marks(
            rows, "text", x=pixel_field("label_x"), y="label_y", colour=colours.quiet,
            align="center",
        ),
    ]  # fmt: skip


def _joints(rows: Sequence[Spec]) -> list[Spec]:
    """A line from each quote to the one that replaces it."""
    named = {row["name"]: row for row in rows}
    return [
        {"x": named[row["after"]]["x"], "y": named[row["after"]]["y"], "x2": row["x"],
         "y2": row["y"]}
        for row in rows
        if row["after"] in named
    ]  # fmt: skip


def _dots(rows: Sequence[Spec], colours: Theme) -> list[Spec]:
    """Full where the quote holds, hollow where it is expired or replaced."""
    return [
        {
            "data": {"values": [row for row in rows if row["holds"] is holds]},
            "mark": {
                "type": "point", "filled": holds, "size": 90, "color": colours.adds,
                "strokeWidth": 2, "opacity": 1, "aria": False,
            },
            "encoding": {"x": pixel_field("x"), "y": pixel_field("y")},
        }
        for holds in (False, True)
    ]  # fmt: skip


def _labelled(rows: Sequence[Spec], plot: Plot) -> list[Spec]:
    """The dots whose price finds room above or below them, the newest first; the table has all."""
    taken = [(row["x"], row["y"], 8.0) for row in rows]
    labelled = []
    for row in reversed(rows):
        half = text_width_px([row["text"]]) / 2 - 2
        x = min(max(row["x"], half - 12), plot.width_px - half + 18)
        own = (row["x"], row["y"], 8.0)
        for y in (row["y"] - 13, row["y"] + 15):
            if y < plot.height_px and all(
                abs(x - other[0]) > half + other[2] or abs(y - other[1]) > 12
                for other in taken
                if other != own
            ):
                taken.append((x, y, half))
                labelled.append({"text": row["text"], "label_x": x, "label_y": y})
                break
    return labelled


def _lines(unit: str, width_px: int) -> list[str]:
    """Below the days: the unit, and what the dots and lines mean."""
    said = (
        f"{unit}, by day of the quote; the axis does not start at 0",
        "full dot: holds; hollow: expired or replaced; line: re-quote",
    )
    return [line for text in said for line in textwrap.wrap(text, int((width_px - 16) / 7.3))]


def _words(lines: Sequence[str], plot: Plot, colours: Theme) -> list[Spec]:
    rows = [
        {"text": text, "x": 8 - plot.left_px, "y": plot.height_px + 37 + _LINE_PX * place}
        for place, text in enumerate(lines)
    ]
    return [text_marks(rows, "text", x=pixel_field("x"), y="y", colour=colours.ink)]


def _check(points: Sequence[PricePoint], width_px: int) -> None:
    refuse_narrow(width_px)
    if not points:
        raise BadValue("A chart needs at least one price.", field="points", remedy="Enter one.")
    for point in points:
        if not math.isfinite(point.price):
            raise BadValue(
                f"{plain_text(point.name)} cannot be drawn: its price is no finite number.",
                field=plain_text(point.name),
                value=point.price,
                remedy="Check the figures it is computed from.",
            )
