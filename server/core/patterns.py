"""The pattern of a slub or multi-count yarn: lengths along the yarn and how heavy each is.

A person types `30 x1, 4 x1.7, 22 x1, 6 x2.0`: 30 cm of base yarn, then 4 cm that are 1.7 times as
heavy, and so on; after the last segment the pattern repeats. A length may be a range (`25-35 x1`);
its middle counts. The steps of a multi-count yarn may be typed as counts (`120 Ne 8, 80 Ne 7`);
the finest of them is then the base.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property
from typing import Annotated, Any

from server.core.errors import BadValue, shorten
from server.core.formula import formula
from server.core.quantities import (
    Centimetre,
    Ne,
    PerMetre,
    Pieces,
    PositiveFactor,
    Quantity,
    SignedShare,
)
from server.core.sheet import Input, Line
from server.core.yarn import slub_average_ne, slub_base_ne, slub_length_share

UNIT = "cm and × of the base"
NOTATION = "30 x1, 4 x1.7, 22 x1, 6 x2.0"
IN_COUNTS = "120 Ne 8, 80 Ne 7"
MOST_SEGMENTS = 40
LONGEST_TEXT = 500
SEGMENT_CM = (Decimal("0.5"), Decimal(5_000))
REPEAT_CM = Decimal(10_000)
MULTIPLIERS = (Decimal("0.2"), Decimal(10))
COUNTS_NE = (Decimal(1), Decimal(200))
SOURCE = "definition (Uster application note on slub yarn, 2007: multiplier on base mass)"
RANGES = "uniform lengths have their mean in the middle; definition"

_NUMBER = r"\d{1,6}(?:\.\d{1,4})?"
_SEGMENT = re.compile(
    rf"({_NUMBER})(?:\s*[-–]\s*({_NUMBER}))?\s*(?:cm\b)?\s*(?:[xX×]\s*({_NUMBER})|Ne\s*({_NUMBER}))"
)
_DECIMAL_COMMA = re.compile(r"\d,\d")

PositiveCentimetre = Annotated[Any, Quantity("cm", above=0.0)]


@formula(source=RANGES)
def middle_length(*, shortest_cm: Centimetre, longest_cm: Centimetre) -> Centimetre:
    """Length of a segment that is stated as a range.

    shortest_cm: shortest length stated [cm]
    longest_cm: longest length stated [cm]
    """
    return (shortest_cm + longest_cm) / 2


@formula(source="definition: a step of a multi-count yarn on its base")
def step_multiplier(*, base_ne: Ne, step_ne: Ne) -> PositiveFactor:
    """Linear density of a step of a multi-count yarn over that of the base.

    base_ne: count of the base [Ne]
    step_ne: count of the step [Ne]
    """
    return base_ne / step_ne


@formula(source=SOURCE)
def length_as_base(*, segment_length_cm: Centimetre, multiplier: PositiveFactor) -> Centimetre:
    """Length of base yarn that is as heavy as a segment.

    segment_length_cm: length of the segment [cm]
    multiplier: linear density of the segment over that of the base [×]
    """
    return segment_length_cm * multiplier


@formula(source="definition: lengths along one yarn add")
def sum_of_lengths(*, first_length_cm: Centimetre, second_length_cm: Centimetre) -> Centimetre:
    """Two lengths along one yarn together.

    first_length_cm: one length [cm]
    second_length_cm: the other [cm]
    """
    return first_length_cm + second_length_cm


@formula(source=SOURCE)
def average_multiplier(
    *, repeat_as_base_cm: Centimetre, repeat_cm: PositiveCentimetre
) -> PositiveFactor:
    """Average linear density of a patterned yarn over that of its base.

    repeat_as_base_cm: length of base yarn as heavy as one repeat [cm]
    repeat_cm: length of one repeat of the pattern [cm]
    """
    return repeat_as_base_cm / repeat_cm


@formula(source=SOURCE)
def added_mass_of_pattern(*, average_multiplier: PositiveFactor) -> SignedShare:
    """Mass a pattern adds, on the mass of as much base yarn.

    average_multiplier: average linear density over that of the base [×]
    """
    return average_multiplier - 1


@formula(source="definition: pieces over length")
def thick_places_per_metre(*, thick_places: Pieces, repeat_cm: PositiveCentimetre) -> PerMetre:
    """Slubs, or heavier steps, in a metre of yarn.

    thick_places: segments of one repeat that are heavier than the base [pieces]
    repeat_cm: length of one repeat of the pattern [cm]
    """
    return thick_places * 100 / repeat_cm


@dataclass(frozen=True, slots=True)
class Segment:
    """One length of a pattern. figure: multiplier on the base, or a count in Ne."""

    shortest_cm: Decimal
    longest_cm: Decimal
    figure: Decimal

    @property
    def middle_cm(self) -> float:
        """The length that counts [cm]."""
        if self.shortest_cm == self.longest_cm:
            return float(self.shortest_cm)
        return float(
            middle_length(shortest_cm=float(self.shortest_cm), longest_cm=float(self.longest_cm))
        )

    @property
    def length_text(self) -> str:
        """The length as typed."""
        if self.shortest_cm == self.longest_cm:
            return f"{self.shortest_cm:f}"
        return f"{self.shortest_cm:f}-{self.longest_cm:f}"


@dataclass(frozen=True)
class Pattern:
    """Segments that repeat along the yarn. in_counts: their figures are counts in Ne."""

    segments: tuple[Segment, ...]
    in_counts: bool = False

    @property
    def text(self) -> str:
        """The pattern as a person types it; reading it again gives the same pattern."""
        mark = " Ne " if self.in_counts else " x"
        return ", ".join(f"{each.length_text}{mark}{each.figure:f}" for each in self.segments)

    @property
    def finest_ne(self) -> float | None:
        """Count of the finest step, the base of steps typed as counts [Ne]."""
        return float(max(each.figure for each in self.segments)) if self.in_counts else None

    def multiplier(self, segment: Segment) -> float:
        """Linear density of a segment over that of the base [×]."""
        if self.finest_ne is None:
            return float(segment.figure)
        return float(step_multiplier(base_ne=self.finest_ne, step_ne=float(segment.figure)))

    @cached_property
    def lengths(self) -> tuple[tuple[float, float], ...]:
        """(length [cm], multiplier [×]) of each segment, ranges at their middle."""
        return tuple((each.middle_cm, self.multiplier(each)) for each in self.segments)

    @cached_property
    def figures(self) -> dict[str, float]:
        """What follows from the pattern alone: repeat, average multiplier, added mass …"""
        repeat = as_base = 0.0
        for length, times in self.lengths:
            repeat = sum_of_lengths(first_length_cm=repeat, second_length_cm=length)
            heavy = length_as_base(segment_length_cm=length, multiplier=times)
            as_base = sum_of_lengths(first_length_cm=as_base, second_length_cm=heavy)
        average = average_multiplier(repeat_as_base_cm=as_base, repeat_cm=repeat)
        return {
            "repeat": repeat,
            "average_multiplier": average,
            "added_mass": added_mass_of_pattern(average_multiplier=average),
        }

    @property
    def added_mass(self) -> float:
        """Mass the pattern adds, on base mass [share]."""
        return self.figures["added_mass"]

    @property
    def thick(self) -> tuple[Segment, ...]:
        """The segments heavier than the base."""
        return tuple(each for each in self.segments if self.multiplier(each) > 1)

    def lines(self, at: str, known: str) -> list[Line]:
        """The lines from the segments to what the pattern adds, and to the other count.

        at: beginning of the keys; known: "average" or "base", the count that `<at>.quoted_ne` is
        """
        found: list[Line] = []
        so_far: dict[str, str] = {}
        for place, segment in enumerate(self.segments, start=1):
            found += self._segment_lines(at, place, segment)
            for total, part in (("repeat", "length"), ("as_base", "heavy")):
                key = f"{at}.{part}{place}"
                if total in so_far:
                    last = place == len(self.segments)
                    summed = f"{at}.{total}" if last else f"{at}.{total}{place}"
                    feeds = {"first_length_cm": so_far[total], "second_length_cm": key}
                    label = _TOTALS[total] + ("" if last else f", {place} segments of it")
                    found.append(Line(summed, sum_of_lengths, feeds, label))
                    key = summed
                so_far[total] = key
        repeat = {"repeat_cm": f"{at}.repeat"}
        found += [
            Line(
                f"{at}.average_multiplier",
                average_multiplier,
                {"repeat_as_base_cm": f"{at}.as_base", **repeat},
            ),
            Line(
                f"{at}.added_mass",
                added_mass_of_pattern,
                {"average_multiplier": f"{at}.average_multiplier"},
                "Mass the pattern adds, on base mass",
            ),
            Line(
                f"{at}.thick_per_metre",
                thick_places_per_metre,
                {"thick_places": f"{at}.thick_places", **repeat},
                "Thick places in a metre",
            ),
            Line(
                f"{at}.thick_share",
                slub_length_share,
                {"slub_length_cm": f"{at}.thick_cm", "base_length_cm": f"{at}.thin_cm"},
                "Part of the length that is thick",
            ),
        ]
        added = {"slub_added_mass": f"{at}.added_mass"}
        if known == "base":
            feeds = {"base_ne": f"{at}.quoted_ne", **added}
            found.append(Line(f"{at}.average_ne", slub_average_ne, feeds, _FROM_PATTERN))
        elif known == "average":
            feeds = {"average_ne": f"{at}.quoted_ne", **added}
            found.append(Line(f"{at}.base_ne", slub_base_ne, feeds, "Base count, by the pattern"))
        return found

    def _segment_lines(self, at: str, place: int, segment: Segment) -> Iterator[Line]:
        length = f"{at}.length{place}"
        if segment.shortest_cm != segment.longest_cm:
            feeds = {
                "shortest_cm": f"{at}.shortest{place}",
                "longest_cm": f"{at}.longest{place}",
            }
            yield Line(length, middle_length, feeds, f"Length of segment {place}, the middle")
        times = f"{at}.times{place}"
        if self.in_counts:
            feeds = {"base_ne": f"{at}.finest_ne", "step_ne": f"{at}.step{place}_ne"}
            yield Line(times, step_multiplier, feeds, f"Multiplier of step {place}")
        feeds = {"segment_length_cm": length, "multiplier": times}
        yield Line(f"{at}.heavy{place}", length_as_base, feeds, f"Segment {place} as base yarn")

    def inputs(self, at: str, source: str, where: str) -> dict[str, Input]:
        """What feeds the lines, the quoted count left out."""

        def typed(value: float, label: str, unit: str) -> Input:
            return Input(value, label, unit, source, None, self.text, where)

        found: dict[str, Input] = {}
        for place, each in enumerate(self.segments, start=1):
            if each.shortest_cm == each.longest_cm:
                label = f"Length of segment {place}"
                found[f"{at}.length{place}"] = typed(each.middle_cm, label, "cm")
            else:
                for name, value in (("shortest", each.shortest_cm), ("longest", each.longest_cm)):
                    label = f"{name.capitalize()} length of segment {place}"
                    found[f"{at}.{name}{place}"] = typed(float(value), label, "cm")
            if self.in_counts:
                label = f"Count of step {place}"
                found[f"{at}.step{place}_ne"] = typed(float(each.figure), label, "Ne")
            else:
                label = f"Multiplier of segment {place}"
                found[f"{at}.times{place}"] = typed(float(each.figure), label, "×")
        if self.finest_ne is not None:
            found[f"{at}.finest_ne"] = typed(self.finest_ne, "Finest step, the base", "Ne")
        thick = self.thick
        found[f"{at}.thick_places"] = typed(float(len(thick)), "Thick places of a repeat", "pieces")
        thick_cm = sum(each.middle_cm for each in thick)
        found[f"{at}.thick_cm"] = typed(thick_cm, "Length of the thick places of a repeat", "cm")
        thin_cm = self.figures["repeat"] - thick_cm
        found[f"{at}.thin_cm"] = typed(thin_cm, "Length of the rest of a repeat", "cm")
        return found


_TOTALS = {"repeat": "One repeat", "as_base": "One repeat, as base yarn"}
_FROM_PATTERN = "Average count, derived from the pattern"


def read_pattern(text: str) -> Pattern:
    """A pattern from what a person typed. Raises BadValue that says where and what to write."""
    typed = text.strip().rstrip(",;").rstrip()
    if _DECIMAL_COMMA.search(typed):
        raise _refusal(
            text,
            "a comma stands between two digits; a comma parts segments here",
            f"Write decimals with a point and a space after each comma: {NOTATION}.",
        )
    pieces = [piece.strip() for piece in re.split("[,;]", typed)]
    if len(pieces) > MOST_SEGMENTS:
        raise _refusal(
            text,
            f"it has {len(pieces)} segments, at most {MOST_SEGMENTS} can be kept",
            "Enter one repeat of the pattern.",
        )
    read = [_read_segment(piece, place) for place, piece in enumerate(pieces, start=1)]
    in_counts = {counted for _, counted in read}
    if len(in_counts) > 1:
        raise _refusal(
            text,
            "some segments have a multiplier and some a count",
            f"Write all as {NOTATION}, or all as {IN_COUNTS}.",
        )
    pattern = Pattern(tuple(segment for segment, _ in read), in_counts.pop())
    if len({each.figure for each in pattern.segments}) < 2:
        raise _refusal(
            text,
            "every segment is as heavy as the others, so nothing repeats",
            f"Write base and thick segments: {NOTATION}.",
        )
    if len(pattern.text) > LONGEST_TEXT:
        raise _refusal(
            text,
            f"written out it has {len(pattern.text)} characters, at most {LONGEST_TEXT} are kept",
            "Round the lengths, or enter fewer segments.",
        )
    if sum(each.longest_cm for each in pattern.segments) > REPEAT_CM:
        raise _refusal(
            text,
            f"one repeat is longer than {REPEAT_CM / 100:g} m",
            "Enter lengths in centimetres, and one repeat only.",
        )
    return pattern


def _read_segment(piece: str, place: int) -> tuple[Segment, bool]:
    """One segment, and whether it states a count."""
    found = _SEGMENT.fullmatch(piece)
    if not found:
        met = f"“{shorten(piece, 24)}” is" if piece else "is empty:"
        raise _refusal(
            piece,
            f"segment {place} {met} not a length with a multiplier",
            f"Write the length in cm and the multiplier of each segment: {NOTATION}.",
        )
    shortest = Decimal(found[1])
    longest = Decimal(found[2] or found[1])
    low, high = SEGMENT_CM
    if longest < shortest or not low <= shortest <= longest <= high:
        raise _refusal(
            piece,
            f"segment {place} has a length outside {low} to {high} cm, or a range that falls",
            "Write the shorter length first, in centimetres: 25-35 x1.",
        )
    figure = Decimal(found[3] or found[4])
    (low, high), unit = (COUNTS_NE, "Ne") if found[4] else (MULTIPLIERS, "×")
    if not low <= figure <= high:
        raise _refusal(
            piece,
            f"segment {place} has {figure:f} {unit}, outside {low:f} to {high:f} {unit}",
            "Write how many times as heavy as the base it is: 1.7 for 70 % more."
            if unit == "×"
            else "Write the count of the step in Ne.",
        )
    return Segment(shortest, longest, figure), bool(found[4])


def _refusal(met: str, fault: str, remedy: str) -> BadValue:
    return BadValue(
        f"The pattern cannot be read: {fault}.",
        field="pattern",
        value=met,
        unit=UNIT,
        remedy=remedy,
    )
