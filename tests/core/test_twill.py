"""Twist against twill hand: what is said, what is not, and the cloth that is drawn."""

from __future__ import annotations

from itertools import pairwise

import pytest

from server.core.construction import WEAVES
from server.core.twill import twist_on_twill, twist_wanted_on, warp_up
from tests.builders import construction, slot


@pytest.mark.parametrize(
    ("hand", "twist", "relation", "line"),
    [
        ("left", "Z", "opposed", "a clearer line"),
        ("right", "S", "opposed", "a clearer line"),
        ("right", "Z", "same", "a flatter line"),
        ("left", "S", "same", "a flatter line"),
    ],
)
def test_opposed_gives_a_clearer_line_and_the_same_way_a_flatter_one(
    hand: str, twist: str, relation: str, line: str
) -> None:
    about = twist_on_twill("3/1 twill", hand, twist)
    assert about.relation == relation
    assert line in about.sentence
    assert "J. T. Taylor" in about.sentence
    assert "Confirm on a hand-loom; no claim about softness." in about.sentence
    assert about.has_line


@pytest.mark.parametrize(
    ("weave", "hand", "twist", "says"),
    [
        ("broken twill", "right", "Z", "its direction alternates"),
        ("plain", "none", "S", "A plain weave has no twill line"),
        ("4/1 satin", "none", "Z", "A 4/1 satin weave has no twill line"),
        ("3/1 twill", "none", "Z", "The hand of the twill is not said"),
        ("3/1 twill", "right", "unknown", "is not known: S-twist would be opposed"),
        ("2/1 twill", "left", "any", "is left open: Z-twist would be opposed"),
    ],
)
def test_where_nothing_can_be_opposed_that_is_said(
    weave: str, hand: str, twist: str, says: str
) -> None:
    about = twist_on_twill(weave, hand, twist)
    assert about.relation == ""
    assert says in about.sentence
    assert "softer" not in about.sentence


def test_the_construction_is_asked_for_the_twist_of_its_main_warp() -> None:
    left = construction(twill_hand="left", slots=(slot(twist="S"), slot("filling", twist="Z")))
    assert twist_wanted_on(left).relation == "same"
    assert twist_wanted_on(construction(slots=())).twist == ""


def covered(weave: str, hand: str = "right") -> list[list[bool]]:
    """The weave over two repeats both ways: ends across, picks from below."""
    size = 2 * WEAVES[weave][0]
    return [[warp_up(weave, hand, end, pick) for end in range(size)] for pick in range(size)]


@pytest.mark.parametrize(
    ("weave", "share"),
    [("3/1 twill", 3 / 4), ("2/1 twill", 2 / 3), ("2/2 twill", 1 / 2), ("plain", 1 / 2),
     ("4/1 satin", 4 / 5), ("broken twill", 3 / 4)],
)  # fmt: skip
def test_a_weave_shows_as_much_warp_as_its_name_says_in_every_end_and_pick(
    weave: str, share: float
) -> None:
    face = covered(weave)
    rows, columns = face, [list(column) for column in zip(*face, strict=True)]
    for thread in (*rows, *columns):
        assert sum(thread) == pytest.approx(len(thread) * share)


@pytest.mark.parametrize("weave", ["3/1 twill", "2/1 twill", "2/2 twill"])
def test_the_line_rises_to_the_hand_of_the_twill(weave: str) -> None:
    for end in range(8):
        for pick in range(8):
            right = warp_up(weave, "right", end, pick)
            assert warp_up(weave, "right", end + 1, pick + 1) == right
            assert warp_up(weave, "left", end + 1, pick) == warp_up(weave, "left", end, pick + 1)


def test_a_broken_twill_has_no_line_that_goes_on() -> None:
    points = [next(p for p in range(4) if not warp_up("broken twill", "right", e, p))
              for e in range(4)]  # fmt: skip
    steps = {(second - first) % 4 for first, second in pairwise(points)}
    assert sorted(points) == [0, 1, 2, 3]
    assert len(steps) > 1
