"""A strip of patterned yarn, drawn to scale along its length: slubs, steps, repeat.

Left to right as the yarn runs; its thickness goes with the square root of its linear density, as
the diameter of yarns of one density does. Lengths that are ranges are drawn at their middle.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, sqrt

from server.core.patterns import Pattern, Segment
from server.web.numbers import Writer

WIDE, EDGE = 720, 10
LEAST_CM = 200.0  # drawn, on two lines
LINES = 2
BASE_HALF = 5.5  # half the thickness of the base
TAPER_PX = 6.0  # a thick place grows over this length, or over a third of its own
MOST_MARKS = 60
BARS_CM = (10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0)
BAR_PX = 60.0  # the scale bar is at least this long


@dataclass(frozen=True, slots=True)
class StripLine:
    """One line of the strip. outline: path of the yarn; marks: where a repeat begins [px]."""

    outline: str
    marks: tuple[float, ...]
    top: float
    bottom: float


@dataclass(frozen=True, slots=True)
class StripView:
    """A drawn strip. bar: (from, to, height) of the scale bar [px]; words: the same as text."""

    words: str
    width: int
    height: int
    lines: tuple[StripLine, ...]
    bar: tuple[float, float, float]
    notes: str


def strip_view(pattern: Pattern, writer: Writer) -> StripView:
    """The strip of a pattern: two metres on two lines, more when one repeat is longer."""
    repeat = pattern.figures["repeat"]
    drawn = max(LEAST_CM, ceil(repeat / LINES / 10) * 10.0 * LINES)
    line_cm = drawn / LINES
    scale = (WIDE - 2 * EDGE) / line_cm
    outline = _outline(pattern, drawn, TAPER_PX / scale)
    most = BASE_HALF * sqrt(max(times for _, times in pattern.lengths))
    high = 2 * most + 24
    bar_cm = next((cm for cm in BARS_CM if cm * scale >= BAR_PX), BARS_CM[-1])
    lines = []
    for place in range(LINES):
        centre = high * (place + 0.5)
        start = place * line_cm
        part = _part(outline, start, start + line_cm)
        points = [(EDGE + (cm - start) * scale, half) for cm, half in part]
        over = [(x, centre - half) for x, half in points]
        under = [(x, centre + half) for x, half in reversed(points)]
        lines.append(
            StripLine(
                "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in (*over, *under)) + "Z",
                tuple(EDGE + (cm - start) * scale for cm in _marks(repeat, start, start + line_cm)),
                centre - most - 6,
                centre + most + 6,
            )
        )
    bottom = high * LINES + 6
    return StripView(
        words=pattern_in_words(pattern, writer),
        width=WIDE,
        height=round(bottom + 8),
        lines=tuple(lines),
        bar=(EDGE, EDGE + bar_cm * scale, bottom),
        notes=f"{writer.full(drawn / 100, 'm')} of yarn on {LINES} lines; the bar is "
        f"{writer.full(bar_cm, 'cm')}; dashed marks where the pattern repeats. Thickness goes with "
        "the square root of the linear density and is not on the scale of the length; ends are "
        "drawn tapered.",
    )


def pattern_in_words(pattern: Pattern, writer: Writer) -> str:
    """What the drawing shows: repeat, each segment, thickness."""
    segments = "; ".join(_segment_in_words(pattern, each) for each in pattern.segments)
    repeat = writer.full(pattern.figures["repeat"], "cm")
    return f"Yarn that repeats after {repeat}: {segments}."


def _segment_in_words(pattern: Pattern, segment: Segment) -> str:
    """A segment as it was typed, in centimetres whatever units are shown."""
    length = f"{segment.length_text.replace('-', ' to ')} cm"
    if pattern.in_counts:
        return f"{length} of Ne {segment.figure:f}"
    times = pattern.multiplier(segment)
    return f"{length} of base" if times == 1 else f"{length}, {segment.figure:f} times as heavy"


def _outline(pattern: Pattern, until: float, taper: float) -> list[tuple[float, float]]:
    """(place along the yarn [cm], half thickness [px]) of the corners of the outline."""
    corners: list[tuple[float, float]] = []
    at = 0.0
    while at < until:
        for length, times in pattern.lengths:
            edge, half = min(taper, length / 3), BASE_HALF * sqrt(times)
            corners += [(at + edge, half), (at + length - edge, half)]
            at += length
    return corners


def _part(
    corners: list[tuple[float, float]], start: float, end: float
) -> list[tuple[float, float]]:
    """The corners between two places, with the thickness at both places themselves."""
    inside = [corner for corner in corners if start < corner[0] < end]
    return [(start, _half_at(corners, start)), *inside, (end, _half_at(corners, end))]


def _half_at(corners: list[tuple[float, float]], place: float) -> float:
    before = next((each for each in reversed(corners) if each[0] <= place), corners[0])
    after = next((each for each in corners if each[0] >= place), corners[-1])
    apart = after[0] - before[0]
    part = (place - before[0]) / apart if apart > 0 else 0.0
    return before[1] + (after[1] - before[1]) * part


def _marks(repeat: float, start: float, end: float) -> list[float]:
    """Places where a repeat begins; none when there would be too many to tell apart."""
    if (end - start) / repeat > MOST_MARKS:
        return []
    first = ceil(start / repeat - 1e-9)
    places = [number * repeat for number in range(first, first + MOST_MARKS + 2)]
    return [place for place in places if start <= place <= end]
