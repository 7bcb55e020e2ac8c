"""The map of the cheapest option: areas named by a letter and their name, and today's point.

Places are worked out in pixels here; a border between two areas stands where their costs meet
between two points of the map, not at the nearer point.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from string import ascii_uppercase

import numpy as np
from numpy.typing import NDArray

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
from server.export.chart_themes import Spec, Theme, readable_on, theme_named
from server.export.charts import WIDE_PX, refuse_narrow

_RIGHT_PX = 24
_HEAD_PX = 26  # room above the map for the name of the upright side
_LINE_PX = 18
_TICK_PX = 22
_KEY_PX = 20
_TICKS = 6  # at most, along each side
_FINER = 2  # rows drawn for each row of the map
_LETTER_PX = 16  # room a lone letter wants


@dataclass(frozen=True, slots=True)
class MapSide:
    """One side of the map: its name with unit, and the values at its ends and today."""

    name: str
    least: float
    most: float
    today: float


def letters_of(shares: Sequence[float]) -> list[str]:
    """A letter for each option that wins a part of the map, in order; "" for the others."""
    letters = iter(ascii_uppercase + ascii_uppercase.lower())
    return [next(letters) if share > 0 else "" for share in shares]


def cheapest_map(
    *,
    names: Sequence[str],
    costs: NDArray[np.float64],
    x: MapSide,
    y: MapSide,
    theme: str,
    width_px: int = WIDE_PX,
) -> Spec:
    """Which option is the cheapest at each point.

    names: of the options; costs: option by y by x, all in one unit
    """
    colours = theme_named(theme)
    _check(costs, width_px)
    winners = costs.argmin(axis=0)
    won = np.bincount(winners.ravel(), minlength=len(names)) / winners.size
    letters = letters_of([float(each) for each in won])
    y_ticks = _ticks(y)
    left = int(text_width_px([text for _, text in y_ticks])) + 8
    lines = textwrap.wrap(plain_text(x.name), int((width_px - 16) / 7.3))
    key = [place for place, letter in enumerate(letters) if letter]
    below = _TICK_PX + _LINE_PX * len(lines) + 10 + _KEY_PX * len(key)
    high = 320 if width_px >= WIDE_PX else 260
    plot = Plot(width_px - left - _RIGHT_PX, high + _HEAD_PX, x.least, x.most, left, below)
    fills = [_colour(letter, colours) for letter in letters]
    areas = _areas(_finer(costs), plot, fills)
    layers = [
        _filled(areas),
        *_axes(x, y, y_ticks, lines, plot, colours),
        *_labels(winners, names, letters, fills, plot, _today(x, y, plot)),
        *_today_marks(x, y, winners, fills, plot, colours),
        *_key(key, names, letters, won, fills, lines, plot, colours),
    ]
    return whole_spec(plot, layers, colours, "Which option is the cheapest")


def _colour(letter: str, colours: Theme) -> str:
    number = (ascii_uppercase + ascii_uppercase.lower()).index(letter) if letter else 0
    return colours.parts[number % len(colours.parts)]


def _across(plot: Plot, share: float) -> float:
    return share * plot.width_px


def _up(plot: Plot, share: float) -> float:
    return plot.height_px - share * (plot.height_px - _HEAD_PX)


def _finer(costs: NDArray[np.float64]) -> NDArray[np.float64]:
    """More rows between those of the map, in proportion, so that a slanting border is no stair."""
    rows = costs.shape[1]
    at = np.linspace(0, rows - 1, (rows - 1) * _FINER + 1)
    low = np.minimum(at.astype(int), rows - 2)
    part = (at - low)[:, np.newaxis]
    between: NDArray[np.float64] = costs[:, low, :] * (1 - part) + costs[:, low + 1, :] * part
    return between


def _areas(costs: NDArray[np.float64], plot: Plot, fills: Sequence[str]) -> list[Spec]:
    """Stretches of one winner, row by row; equal ones one above the other are one."""
    winners = costs.argmin(axis=0)
    rows, columns = winners.shape
    open_rows: dict[tuple[float, float, str], Spec] = {}
    areas = []
    for row in range(rows):
        top = _up(plot, min(1.0, (row + 0.5) / (rows - 1)))
        bottom = _up(plot, max(0.0, (row - 0.5) / (rows - 1)))
        now = {}
        for start, end, winner in _stretches(costs[:, row, :], winners[row]):
            left, right = (round(_across(plot, each / (columns - 1)), 1) for each in (start, end))
            mark = (left, right, fills[winner])
            area = open_rows.get(mark)
            if area is None:
                area = {"x": left, "x2": right, "y2": round(bottom, 1), "colour": fills[winner]}
                areas.append(area)
            area["y"] = round(top, 1)
            now[mark] = area
        open_rows = now
    return areas


def _stretches(
    costs: NDArray[np.float64], winners: NDArray[np.intp]
) -> list[tuple[float, float, int]]:
    """Where each winner of a row begins and ends, in steps of the map."""
    found: list[tuple[float, float, int]] = []
    start = 0.0
    for at in np.flatnonzero(winners[1:] != winners[:-1]):
        here, there = int(winners[at]), int(winners[at + 1])
        ahead = float(costs[there, at] - costs[here, at])
        behind = float(costs[here, at + 1] - costs[there, at + 1])
        end = float(at) + (ahead / (ahead + behind) if ahead + behind > 0 else 0.5)
        found.append((start, end, here))
        start = end
    found.append((start, float(len(winners) - 1), int(winners[-1])))
    return found


def _filled(areas: Sequence[Spec]) -> Spec:
    return {
        "data": {"values": list(areas)},
        "mark": {"type": "rect", "strokeWidth": 0.6, "aria": False},
        "encoding": {
            "x": pixel_field("x"),
            "x2": {"field": "x2"},
            "y": pixel_field("y"),
            "y2": {"field": "y2"},
            "color": {"field": "colour", "type": "nominal", "scale": None, "legend": None},
            "stroke": {"field": "colour", "type": "nominal", "scale": None, "legend": None},
        },
    }


def _ticks(side: MapSide) -> list[tuple[float, str]]:
    """Round values within a side: how far along they stand, and their text."""
    rough = (side.most - side.least) / _TICKS
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * each for each in (1, 2, 5, 10) if power * each >= rough * (1 - 1e-9))
    first, last = math.ceil(side.least / step - 1e-9), math.floor(side.most / step + 1e-9)
    ticks = [number * step for number in range(first, last + 1)]
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    return [
        (
            (tick - side.least) / (side.most - side.least),
            f"{tick:,.{decimals}f}".replace("-", "−"),
        )
        for tick in ticks
    ]


def _axes(
    x: MapSide,
    y: MapSide,
    y_ticks: Sequence[tuple[float, str]],
    lines: Sequence[str],
    plot: Plot,
    colours: Theme,
) -> list[Spec]:
    upright = [
        {"text": text, "x": -5, "x2": 0, "edge": -8, "y": _up(plot, share)}
        for share, text in y_ticks
    ]
    x_ticks, room = _ticks(x), 0.0
    along = []
    for share, text in x_ticks:
        at, half = _across(plot, share), text_width_px([text]) / 2
        if at - half >= room - 8:
            room = at + half
            along.append(
                {"text": text, "x": at, "y": plot.height_px, "y2": plot.height_px + 5,
                 "label_y": plot.height_px + 14}
            )  # fmt: skip
    names = [{"text": plain_text(y.name), "x": 6 - plot.left_px, "y": 10}]
    names += [
        {"text": line, "x": 6 - plot.left_px,
         "y": plot.height_px + _TICK_PX + _LINE_PX * (place + 0.5)}
        for place, line in enumerate(lines)
    ]  # fmt: skip
    quiet = colours.quiet
    return [
        rule_marks(upright, x=pixel_field("x"), x2="x2", y="y", colour=quiet),
        text_marks(upright, "text", x=pixel_field("edge"), y="y", colour=quiet, align="right"),
        rule_marks(along, x=pixel_field("x"), y="y", y2="y2", colour=quiet),
        text_marks(along, "text", x=pixel_field("x"), y="label_y", colour=quiet, align="center"),
        text_marks(
            names, "text", x=pixel_field("x"), y="y", colour=colours.ink,
            limit_px=plot.width_px + plot.left_px,
        ),
    ]  # fmt: skip


def _today(x: MapSide, y: MapSide, plot: Plot) -> tuple[float, float] | None:
    """Where today's point stands, or None when it lies outside."""
    shares = [(side.today - side.least) / (side.most - side.least) for side in (x, y)]
    if any(not -1e-9 <= share <= 1 + 1e-9 for share in shares):
        return None
    return _across(plot, shares[0]), _up(plot, shares[1])


def _today_marks(
    x: MapSide,
    y: MapSide,
    winners: NDArray[np.intp],
    fills: Sequence[str],
    plot: Plot,
    colours: Theme,
) -> list[Spec]:
    """A ringed dot with the word beside it."""
    at = _today(x, y, plot)
    if at is None:
        return []
    right = at[0] + 70 < plot.width_px
    word_x = at[0] + (11 if right else -11)
    word = {"text": "today", "x": word_x, "y": at[1]}
    ink = readable_on(_fill_at(word_x + (20 if right else -20), at[1], winners, fills, plot))
    dots = [
        {
            "data": {"values": [{"x": at[0], "y": at[1]}]},
            "mark": {"type": "point", "filled": True, "size": size, "color": colour,
                     "opacity": 1, "aria": False},
            "encoding": {"x": pixel_field("x"), "y": pixel_field("y")},
        }
        for size, colour in ((190, "#000000"), (120, "#ffffff"), (36, "#000000"))
    ]  # fmt: skip
    return [
        *dots,
        text_marks(
            [word], "text", x=pixel_field("x"), y="y", colour=ink,
            align="left" if right else "right", bold=True,
        ),
    ]  # fmt: skip


def _fill_at(
    x: float, y: float, winners: NDArray[np.intp], fills: Sequence[str], plot: Plot
) -> str:
    rows, columns = winners.shape
    column = round(x / plot.width_px * (columns - 1))
    row = round((plot.height_px - y) / (plot.height_px - _HEAD_PX) * (rows - 1))
    winner = int(winners[min(max(row, 0), rows - 1), min(max(column, 0), columns - 1)])
    return fills[winner]


def _labels(
    winners: NDArray[np.intp],
    names: Sequence[str],
    letters: Sequence[str],
    fills: Sequence[str],
    plot: Plot,
    today: tuple[float, float] | None,
) -> list[Spec]:
    """The letter of each area, with its name where there is room for it."""
    layers = []
    for place, letter in enumerate(letters):
        text = f"{letter} {plain_text(names[place])}"
        want = text_width_px([text])
        spot = _spot(winners == place, want, plot, today) if letter else None
        if spot is None:
            continue
        x, y, room = spot
        if want > room:
            text = letter
        layers.append(
            text_marks(
                [{"text": text, "x": x, "y": y}], "text", x=pixel_field("x"), y="y",
                colour=readable_on(fills[place]), align="center", bold=True,
            )
        )  # fmt: skip
    return layers


def _spot(
    mask: NDArray[np.bool_], want_px: float, plot: Plot, today: tuple[float, float] | None
) -> tuple[float, float, float] | None:
    """Where an area has room for a text: x, y and the room across, in pixels.

    The widest place counts up to the room wanted; of equal ones the one nearest its middle.
    """
    rows, columns = mask.shape
    across = plot.width_px / (columns - 1)
    upward = (plot.height_px - _HEAD_PX) / (rows - 1)
    half = max(1, round(9 / upward))  # rows that a line of text covers, to each side
    middle = float(np.flatnonzero(mask.any(axis=1)).mean()) if mask.any() else 0.0
    best: tuple[float, float, float] | None = None
    score = -math.inf
    for row in range(half, rows - half, 2):
        y = plot.height_px - row * upward
        if today is not None and abs(y - today[1]) < 24:
            continue
        free = mask[row - half : row + half + 1].all(axis=0)
        edges = np.flatnonzero(np.diff(np.concatenate(([0], free.view(np.int8), [0]))))
        for start, end in zip(edges[::2], edges[1::2], strict=True):
            room = float(end - 1 - start) * across
            worth = min(room, want_px + 8) - 0.1 * abs(row - middle)
            if room >= _LETTER_PX and worth > score:
                best, score = (float(start + end - 1) / 2 * across, y, room), worth
    return best


def _key(
    key: Sequence[int],
    names: Sequence[str],
    letters: Sequence[str],
    won: NDArray[np.float64],
    fills: Sequence[str],
    lines: Sequence[str],
    plot: Plot,
    colours: Theme,
) -> list[Spec]:
    """Below the map: colour, letter, name and share of each area."""
    top = plot.height_px + _TICK_PX + _LINE_PX * len(lines) + 8
    left = 6 - plot.left_px
    rows: list[Spec] = []
    for line, place in enumerate(key):
        middle = top + _KEY_PX * (line + 0.5)
        rows.append(
            {
                "colour": fills[place], "x": left, "x2": left + 14, "y": middle - 6,
                "y2": middle + 6, "middle": middle, "letter_x": left + 20, "name_x": left + 38,
                "letter": letters[place],
                "text": f"{shortened(plain_text(names[place]), plot.width_px)}, "
                f"{_percent(float(won[place]))} of the map",
            }
        )  # fmt: skip
    swatches = _filled(rows)
    swatches["mark"] = {"type": "rect", "strokeWidth": 0.8, "aria": False}
    swatches["encoding"]["stroke"] = {"value": colours.ink}
    return [
        swatches,
        text_marks(rows, "letter", x=pixel_field("letter_x"), colour=colours.ink, bold=True),
        text_marks(
            rows, "text", x=pixel_field("name_x"), colour=colours.ink,
            limit_px=plot.width_px + plot.left_px - 40,
        ),
    ]  # fmt: skip


def _percent(share: float) -> str:
    return f"{share * 100:.0f} %" if share >= 0.01 else "under 1 %"


def _check(costs: NDArray[np.float64], width_px: int) -> None:
    refuse_narrow(width_px)
    if not costs.size or not np.isfinite(costs).all():
        raise BadValue(
            "A cost on this map is not a finite number.",
            field="map",
            remedy="Choose a smaller range.",
        )
