"""A patch of the face of a cloth: floats of the warp, slope of its fibres, line of the twill."""

from __future__ import annotations

from dataclasses import dataclass

from server.core.construction import WEAVES
from server.core.twill import HAND_OF, SLOPES, TwistOnTwill, warp_up

CELL = 14
MOST_ACROSS = 12
GAP = 1.5  # between two threads
STROKE = 3.5  # half the width of a fibre's stroke


@dataclass(frozen=True, slots=True)
class TwillView:
    """A drawn patch with its sentence.

    ends: (x, y, width, height) of each float of the warp; fibres: path of the strokes on them
    line: path of the twill line, "" when there is none
    tag: opposed, same, or ""
    """

    words: str
    sentence: str
    tag: str
    size: int
    ends: tuple[tuple[float, float, float, float], ...]
    picks: tuple[float, ...]
    pick_height: float
    fibres: str
    line: str


def twill_view(about: TwistOnTwill) -> TwillView:
    """The patch of one weave, hand and twist."""
    repeat = WEAVES[about.weave][0]
    count = repeat * (MOST_ACROSS // repeat)
    size = count * CELL
    floats = [
        (end, first, last)
        for end in range(count)
        for first, last in _floats(about, end, count)
    ]  # fmt: skip
    return TwillView(
        words=_in_words(about),
        sentence=about.sentence,
        tag=about.relation,
        size=size,
        ends=tuple(
            (
                end * CELL + GAP,
                size - (last + 1) * CELL + GAP,
                CELL - 2 * GAP,
                (last - first + 1) * CELL - 2 * GAP,
            )
            for end, first, last in floats
        ),
        picks=tuple(pick * CELL + GAP for pick in range(count)),
        pick_height=CELL - 2 * GAP,
        fibres=_fibres(about, floats, size),
        line=_line(about, size),
    )


def _floats(about: TwistOnTwill, end: int, count: int) -> list[tuple[int, int]]:
    """First and last pick, from below, of each float of an end on the face."""
    found: list[tuple[int, int]] = []
    for pick in range(count):
        if not warp_up(about.weave, about.hand, end, pick):
            continue
        if found and found[-1][1] == pick - 1:
            found[-1] = (found[-1][0], pick)
        else:
            found.append((pick, pick))
    return found


def _fibres(about: TwistOnTwill, floats: list[tuple[int, int, int]], size: int) -> str:
    if about.twist not in SLOPES:
        return ""
    lean = STROKE if about.twist == "Z" else -STROKE
    strokes = []
    for end, first, last in floats:
        x = (end + 0.5) * CELL
        for pick in range(first, last + 1):
            y = size - (pick + 0.5) * CELL
            strokes.append(f"M{x - lean:g} {y + STROKE:g}L{x + lean:g} {y - STROKE:g}")
    return "".join(strokes)


def _line(about: TwistOnTwill, size: int) -> str:
    """The line of the twill through the middle of the patch, rising to its hand."""
    if not about.has_line:
        return ""
    return f"M0 {size}L{size} 0" if about.hand == "right" else f"M0 0L{size} {size}"


def _in_words(about: TwistOnTwill) -> str:
    line = (
        f"the line of the twill rises to the {about.hand}, as “{HAND_OF[about.hand]}”"
        if about.has_line
        else "there is no single twill line"
    )
    slope = (
        f"the fibres of its {about.twist}-twist warp slope as “{SLOPES[about.twist]}”"
        if about.twist in SLOPES
        else "the slope of the warp fibres is not known"
    )
    return f"Face of a {about.weave}: {line}; {slope}."
