"""Patterns of slub and multi-count yarns: typed, read, refused, and what follows from them."""

from __future__ import annotations

from decimal import Decimal
from math import fsum

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.errors import BadValue
from server.core.patterns import MOST_SEGMENTS, Pattern, Segment, read_pattern
from server.core.sheet import Input, Sheet
from server.core.yarn import slub_added_mass, slub_added_mass_of_two
from tests.builders import yarn

SLUB = "30 x1, 4 x1.7, 22 x1, 6 x2.0"


def evaluated(pattern: Pattern, known: str, ne: float) -> dict[str, float]:
    """The lines of a pattern, fed as an offer feeds them."""
    inputs = pattern.inputs("p", "trial", "")
    if known:
        inputs["p.quoted_ne"] = Input(ne, "Count", "Ne")
    figures = Sheet(tuple(pattern.lines("p", known))).evaluate(
        {name: entry.value for name, entry in inputs.items()}
    )
    return {key: float(value) for key, value in figures.items()}


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        (SLUB, SLUB),
        ("  30x1, 4 x1.7 , 22 cm x 1; 6 ×2.0, ", SLUB),
        ("25-35 x1, 4 x1.6", "25-35 x1, 4 x1.6"),
        ("25 – 35cm X1, 4 x1.6", "25-35 x1, 4 x1.6"),
        ("120 Ne 8, 80 Ne7.25", "120 Ne 8, 80 Ne 7.25"),
    ],
)
def test_a_person_types_a_pattern_in_many_ways_and_one_is_kept(typed: str, kept: str) -> None:
    pattern = read_pattern(typed)
    assert pattern.text == kept
    assert read_pattern(pattern.text) == pattern


@pytest.mark.parametrize(
    ("typed", "says", "remedy"),
    [
        ("30 x1,5, 4 x2", "a comma stands between two digits", "decimals with a point"),
        ("30 x1,4 x2", "a comma stands between two digits", "a space after each comma"),
        ("30 x1, 4", "segment 2 “4” is not a length with a multiplier", "length in cm and the"),
        ("30 x1, , 4 x2", "segment 2 is empty", "length in cm and the"),
        ("", "segment 1 is empty", "length in cm and the"),
        ("30 x1, 5 x1", "as heavy as the others", "base and thick segments"),
        ("30 x1, 4 Ne 7", "some a count", "or all as 120 Ne 8"),
        ("30 x1, 4 x11", "11 ×, outside 0.2 to 10 ×", "1.7 for 70 % more"),
        ("30 Ne 8, 4 Ne 0.5", "0.5 Ne, outside 1 to 200 Ne", "in Ne"),
        ("0.1 x1, 4 x2", "length outside 0.5 to 5000 cm", "25-35 x1"),
        ("35-25 x1, 4 x2", "a range that falls", "the shorter length first"),
        ("5000 x1, 5000 x2, 4 x1", "longer than 100 m", "one repeat only"),
        ("9" * 400 + " x1, 4 x2", "segment 1", "length in cm"),
        (", ".join(["1 x1", "1 x2"] * MOST_SEGMENTS), "at most 40", "one repeat"),
        (
            ";".join(f"{10 + place}.1234x{1 + place % 3}.1234" for place in range(33)),
            "written out it has 559 characters",
            "fewer segments",
        ),
    ],
)
def test_what_is_no_pattern_is_refused_with_field_value_unit_and_remedy(
    typed: str, says: str, remedy: str
) -> None:
    with pytest.raises(BadValue) as refused:
        read_pattern(typed)
    assert says in refused.value.message
    assert remedy in refused.value.remedy
    assert refused.value.field == "pattern"
    assert refused.value.unit == "cm and × of the base"


def test_one_pattern_adds_the_mass_of_the_published_definition() -> None:
    """YL-D1: base Ne 10, slubs of 6 cm 1.8 times as heavy, 24 cm between."""
    figures = evaluated(read_pattern("24 x1, 6 x1.8"), "base", 10)
    assert figures["p.added_mass"] == pytest.approx(0.16)
    assert figures["p.average_ne"] == pytest.approx(8.6207, abs=5e-5)
    assert figures["p.thick_share"] == pytest.approx(0.2)
    assert figures["p.thick_per_metre"] == pytest.approx(100 / 30)
    back = evaluated(read_pattern("24 x1, 6 x1.8"), "average", figures["p.average_ne"])
    assert back["p.base_ne"] == pytest.approx(10)


def test_three_patterns_in_a_row_are_the_published_mixture_of_three() -> None:
    """YL-D2: 148.4 over 132 cm, and the same by joining the patterns two at a time."""
    pattern = read_pattern("20 x1, 4 x1.6, 35 x1, 8 x2.0, 50 x1, 15 x1.4")
    figures = evaluated(pattern, "base", 7)
    assert figures["p.repeat"] == 132
    assert figures["p.as_base"] == pytest.approx(148.4)
    assert figures["p.average_ne"] == pytest.approx(6.2264, abs=5e-5)
    single = [
        slub_added_mass(slub_length_cm=s, base_length_cm=p, slub_multiplier=m)
        for m, s, p in ((1.6, 4, 20), (2.0, 8, 35), (1.4, 15, 50))
    ]
    two = slub_added_mass_of_two(
        first_added_mass=single[0], first_length_cm=24,
        second_added_mass=single[1], second_length_cm=43,
    )  # fmt: skip
    three = slub_added_mass_of_two(
        first_added_mass=two, first_length_cm=67, second_added_mass=single[2], second_length_cm=65
    )
    assert pattern.added_mass == pytest.approx(three, rel=1e-12)


def test_steps_typed_as_counts_average_as_lengths_of_those_counts_do() -> None:
    pattern = read_pattern("120 Ne 8, 80 Ne 7, 20 Ne 6")
    assert pattern.finest_ne == 8
    average = 220 / (120 / 8 + 80 / 7 + 20 / 6)
    figures = evaluated(pattern, "base", 8)
    assert figures["p.average_ne"] == pytest.approx(average, rel=1e-12)
    assert figures["p.times2"] == pytest.approx(8 / 7)


def test_of_a_range_the_middle_counts() -> None:
    ranged, middle = read_pattern("20-40 x1, 3-5 x1.7"), read_pattern("30 x1, 4 x1.7")
    assert ranged.added_mass == middle.added_mass
    assert evaluated(ranged, "base", 8) | {} != {}
    assert (
        evaluated(ranged, "base", 8)["p.average_ne"] == evaluated(middle, "base", 8)["p.average_ne"]
    )


NUMBERS = st.decimals(1, 900, places=1).map(lambda number: number.normalize())
TIMES = st.decimals(Decimal("0.2"), 10, places=2).map(lambda number: number.normalize())


@st.composite
def patterns(draw: st.DrawFn) -> Pattern:
    """Any pattern within the limits."""
    in_counts = draw(st.booleans())
    figures = st.decimals(4, 40, places=1) if in_counts else TIMES
    segments = []
    for _ in range(draw(st.integers(2, 9))):
        shortest, longest = sorted((draw(NUMBERS), draw(NUMBERS)))
        segments.append(Segment(shortest, longest, draw(figures)))
    return Pattern(tuple(segments), in_counts)


@given(patterns())
def test_any_pattern_is_read_back_from_its_text(pattern: Pattern) -> None:
    differs = len({each.figure for each in pattern.segments}) > 1
    if differs and sum(each.longest_cm for each in pattern.segments) <= 10_000:
        assert read_pattern(pattern.text) == pattern


@given(patterns(), st.floats(2, 60))
def test_mass_balances_and_base_and_average_lead_back_to_each_other(
    pattern: Pattern, ne: float
) -> None:
    length = fsum(length for length, _ in pattern.lengths)
    mass = fsum(length * times for length, times in pattern.lengths)
    assert 1 + pattern.added_mass == pytest.approx(mass / length, rel=1e-9)
    average = evaluated(pattern, "base", ne)["p.average_ne"]
    assert evaluated(pattern, "average", average)["p.base_ne"] == pytest.approx(ne, rel=1e-9)
    assert evaluated(pattern, "", ne)["p.added_mass"] == pattern.added_mass


def test_the_average_follows_from_the_pattern_when_no_added_mass_is_stated() -> None:
    base = {"count": Decimal("8.5"), "count_basis": "base", "effect": "slub"}
    assert yarn(**base).average_ne is None
    derived = yarn(**base, pattern=read_pattern("24 x1, 6 x1.8"))
    assert derived.average_ne == pytest.approx(8.5 / 1.16)
    stated = yarn(**base, pattern=read_pattern("24 x1, 6 x1.8"), slub_added_mass=0.10)
    assert stated.average_ne == pytest.approx(8.5 / 1.10), "what is stated counts"
    average = yarn(pattern=read_pattern("24 x1, 6 x1.8"), effect="slub")
    assert average.average_ne == 7, "an average that is quoted stays"
