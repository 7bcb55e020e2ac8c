"""Cost against the count: one curve for each route, today's count and the counts where they meet.

Places are worked out in pixels here, as in `history_chart`. A curve is dashed where its speeds are
held at the nearest entered value. Each curve carries its name at its right end and marks of its
own shape, so colour is never the only carrier.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

from server.core.errors import BadValue
from server.export.chart_marks import (
    Plot,
    pixel_field,
    plain_text,
    rule_marks,
    text_marks,
    text_width_px,
    whole_spec,
)
from server.export.chart_themes import Spec, Theme, contrast, theme_named
from server.export.charts import WIDE_PX, refuse_narrow
from server.export.history_chart import price_ticks

_HEIGHT_PX = 300
_HEAD_PX = 36  # room above the curves for the labels of today and of the crossings
_BELOW_PX = 42
_LINE_PX = 18
_LABEL_PX = 14  # least distance of two names at the right end
_TICK_PX = 36  # room of a count below the axis
_PAPER = "#ffffff"
_SHAPES = ("circle", "square", "triangle-up", "diamond")
_WORDS = (
    "{unit}, by count in Ne; neither axis starts at 0",
    "dashed: speeds held beyond the counts entered; open circle: two routes meet",
)


@dataclass(frozen=True, slots=True)
class CountCurve:
    """One route: its cost at each count.

    points: (count, cost), the counts ascending
    entered: the counts between which its speeds are entered
    """

    name: str
    points: tuple[tuple[float, float], ...]
    entered: tuple[float, float]


@dataclass(frozen=True, slots=True)
class CountMark:
    """A count where two curves meet. text: what stands beside the mark"""

    ne: float
    cost: float
    text: str


def cost_over_counts(
    *,
    curves: Sequence[CountCurve],
    crossings: Sequence[CountMark],
    today: float | None,
    unit: str,
    theme: str,
    width_px: int = WIDE_PX,
) -> Spec:
    """Cost of a kilogram of yarn against its count, one curve for each route.

    today: count to mark, or None [Ne]; unit: of the costs
    """
    colours = theme_named(theme)
    _check(curves, width_px)
    costs = [cost for curve in curves for _, cost in curve.points]
    ticks = price_ticks(costs)
    texts = [_number(tick, ticks[1] - ticks[0]) for tick in ticks]
    left, right = int(text_width_px(texts)) + 8, int(text_width_px(c.name for c in curves)) + 4
    words = [text.format(unit=plain_text(unit)) for text in _WORDS]
    said = [line for text in words for line in _wrapped(text, width_px)]
    plot = Plot(
        width_px - left - right - 16,
        _HEIGHT_PX,
        ticks[0],
        ticks[-1],
        left,
        _BELOW_PX + _LINE_PX * len(said),
    )
    place = _Place(plot, curves[0].points[0][0], curves[0].points[-1][0])
    layers = [
        *_grid(ticks, texts, place, colours),
        *_counts(place, colours),
        *(_today(today, place, colours) if today is not None else ()),
        *(
            layer
            for number, curve in enumerate(curves)
            for layer in _curve(curve, number, place, colours)
        ),
        *_names(curves, place, colours),
        *_crossings(crossings, place, colours),
        *_said(said, plot, colours),
    ]
    spec = whole_spec(plot, layers, colours, f"Cost against the count in {plain_text(unit)}")
    spec["padding"]["right"] = right + 16
    return spec


@dataclass(frozen=True, slots=True)
class _Place:
    """Where a count and a cost stand in the plot. low, high: the counts at its edges [Ne]"""

    plot: Plot
    low: float
    high: float

    def x(self, ne: float) -> float:
        """Pixels from the left."""
        return round((ne - self.low) / (self.high - self.low) * self.plot.width_px, 2)

    def y(self, cost: float) -> float:
        """Pixels from the top."""
        share = (cost - self.plot.low) / (self.plot.high - self.plot.low)
        return round(self.plot.height_px - share * (self.plot.height_px - _HEAD_PX), 2)


def curve_colours(colours: Theme) -> tuple[str, ...]:
    """Colours of the curves, in order; names and shapes tell them apart as well."""
    behind = colours.background or _PAPER
    third = max(colours.parts[4], colours.parts[7], key=lambda colour: contrast(colour, behind))
    return (colours.adds, colours.lowers, third, colours.quiet)


def _curve(curve: CountCurve, number: int, place: _Place, colours: Theme) -> list[Spec]:
    colour = curve_colours(colours)[number % 4]
    first, last = curve.entered
    parts = (
        ([point for point in curve.points if point[0] <= first], True),
        ([point for point in curve.points if first <= point[0] <= last], False),
        ([point for point in curve.points if point[0] >= last], True),
    )
    rows = [{"x": place.x(ne), "y": place.y(cost), "name": curve.name} for ne, cost in curve.points]
    return [
        *(_line(part, place, colour, dashed=dashed) for part, dashed in parts if len(part) > 1),
        {
            "data": {"values": rows[:: max(1, len(rows) // 8)]},
            "mark": {
                "type": "point", "filled": True, "shape": _SHAPES[number % 4], "size": 42,
                "color": colour, "opacity": 1, "aria": False,
            },
            "encoding": {"x": pixel_field("x"), "y": pixel_field("y")},
        },
    ]  # fmt: skip


def _line(
    points: Sequence[tuple[float, float]], place: _Place, colour: str, *, dashed: bool
) -> Spec:
    mark: Spec = {"type": "line", "color": colour, "strokeWidth": 2.2, "aria": False}
    return {
        "data": {"values": [{"x": place.x(ne), "y": place.y(cost)} for ne, cost in points]},
        "mark": {**mark, "strokeDash": [6, 4]} if dashed else mark,
        "encoding": {
            "x": pixel_field("x"),
            "y": pixel_field("y"),
            "order": {"field": "x", "type": "quantitative"},
        },
    }


def _names(curves: Sequence[CountCurve], place: _Place, colours: Theme) -> list[Spec]:
    """Names at the right ends, moved apart where the curves end close together."""
    ends = sorted((place.y(curve.points[-1][1]), curve.name) for curve in curves)
    rows: list[Spec] = []
    for y, name in ends:
        at = max(y, rows[-1]["y"] + _LABEL_PX) if rows else y
        rows.append({"name": plain_text(name), "y": at, "x": place.plot.width_px + 10})
    floor = place.plot.height_px - 4.0
    for row in reversed(rows):  # from the bottom up, where the lowest was pushed out of the plot
        row["y"] = min(row["y"], floor)
        floor = row["y"] - _LABEL_PX
    return [
        text_marks(
            [row for row in rows if row["name"] == plain_text(curve.name)],
            "name",
            x=pixel_field("x"),
            y="y",
            colour=curve_colours(colours)[number % 4],
            bold=True,
        )
        for number, curve in enumerate(curves)
    ]


def _crossings(crossings: Sequence[CountMark], place: _Place, colours: Theme) -> list[Spec]:
    """A ring at each crossing; its words above it, where they do not cover those before."""
    rows, labels = [], []
    taken: list[tuple[float, float, float]] = []
    for each in crossings:
        x, y = place.x(each.ne), place.y(each.cost)
        rows.append({"x": x, "y": y})
        half = text_width_px([plain_text(each.text)]) / 2
        at = min(max(x, half - 8), place.plot.width_px - half + 8)
        for label_y in (y - 16, y + 18, y - 32, y + 34):
            free = all(
                abs(at - other) > half + wide or abs(label_y - high) > 13
                for other, high, wide in taken
            )
            if free and 6 < label_y < place.plot.height_px - 4:
                taken.append((at, label_y, half))
                labels.append({"text": plain_text(each.text), "x": at, "y": label_y})
                break
    ring = {
        "data": {"values": rows},
        "mark": {
            "type": "point", "filled": False, "size": 150, "strokeWidth": 2, "opacity": 1,
            "color": colours.ink, "aria": False,
        },
        "encoding": {"x": pixel_field("x"), "y": pixel_field("y")},
    }  # fmt: skip
    return [
        ring,
        text_marks(labels, "text", x=pixel_field("x"), y="y", colour=colours.ink, align="center"),
    ]


def _today(ne: float, place: _Place, colours: Theme) -> list[Spec]:
    x, text = place.x(ne), f"Ne {ne:g}"
    half = text_width_px([text]) / 2
    row = {
        "x": x, "y": 16, "y2": place.plot.height_px, "text": text, "label_y": 8,
        "label_x": min(max(x, half - 8), place.plot.width_px - half + 8),
    }  # fmt: skip
    return [
        rule_marks([row], x=pixel_field("x"), y="y", y2="y2", colour=colours.quiet, dash=[2, 3]),
        text_marks(
            [row], "text", x=pixel_field("label_x"), y="label_y", colour=colours.ink,
            align="center", bold=True,
        ),
    ]  # fmt: skip


def _grid(
    ticks: Sequence[float], texts: Sequence[str], place: _Place, colours: Theme
) -> list[Spec]:
    rows = [
        {"x": 0, "x2": place.plot.width_px, "y": place.y(tick), "text": text, "edge": -8}
        for tick, text in zip(ticks, texts, strict=True)
    ]
    return [
        rule_marks(rows, x=pixel_field("x"), x2="x2", y="y", colour=colours.grid),
        text_marks(rows, "text", x=pixel_field("edge"), y="y", colour=colours.quiet, align="right"),
    ]


def _counts(place: _Place, colours: Theme) -> list[Spec]:
    """Round counts below the axis."""
    most = max(2, int(place.plot.width_px // _TICK_PX))
    rough = (place.high - place.low) / most
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * each for each in (1, 2, 5, 10) if power * each >= rough * (1 - 1e-9))
    first, last = math.ceil(place.low / step), math.floor(place.high / step)
    height = place.plot.height_px
    rows = [
        {
            "x": place.x(number * step), "y": height, "y2": height + 5, "label_y": height + 15,
            "text": f"{number * step:g}",
        }
        for number in range(first, last + 1)
    ]  # fmt: skip
    base = [{"x": 0, "x2": place.plot.width_px, "y": height}]
    return [
        rule_marks(base, x=pixel_field("x"), x2="x2", y="y", colour=colours.quiet),
        rule_marks(rows, x=pixel_field("x"), y="y", y2="y2", colour=colours.quiet),
        text_marks(
            rows, "text", x=pixel_field("x"), y="label_y", colour=colours.quiet, align="center"
        ),
    ]


def _number(tick: float, step: float) -> str:
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    return f"{tick:,.{decimals}f}".replace("-", "−")


def _wrapped(text: str, width_px: int) -> list[str]:
    return textwrap.wrap(text, int((width_px - 16) / 7.3))


def _said(lines: Sequence[str], plot: Plot, colours: Theme) -> list[Spec]:
    rows = [
        {"text": text, "x": 8 - plot.left_px, "y": plot.height_px + 38 + _LINE_PX * place}
        for place, text in enumerate(lines)
    ]
    return [text_marks(rows, "text", x=pixel_field("x"), y="y", colour=colours.ink)]


def _check(curves: Sequence[CountCurve], width_px: int) -> None:
    refuse_narrow(width_px)
    if not curves or any(len(curve.points) < 2 for curve in curves):
        raise BadValue(
            "A chart over counts needs a route and two counts.",
            field="curves",
            remedy="Enter the assumptions of a route, and a range of counts.",
        )
    for curve in curves:
        for ne, cost in curve.points:
            if not math.isfinite(cost):
                raise BadValue(
                    f"{plain_text(curve.name)} cannot be drawn at Ne {ne:g}: its cost is no "
                    "finite number.",
                    field=plain_text(curve.name),
                    value=cost,
                    remedy="Check the figures it is computed from.",
                )
