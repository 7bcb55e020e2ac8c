"""What is taken, what it rests on afterwards, which piece stands apart, and the greige weight."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.core.calibration import (
    CRIMP,
    FINISH,
    SHRINK,
    WIDTH_CRIMP,
    Piece,
    calibrate,
    calibrated_in_use,
    figures_of_cloth,
    with_estimates,
)
from server.core.cloth_states import calibrated_on, calibration_notes
from server.core.fabric import loom_ppi_from_finished, reed_width_from_finished
from tests.builders import construction

often = settings(max_examples=200, deadline=None)
NOTE = "warp crimp 10.40 % (3 pieces, 2026-03-01); length shrink 13.10 % (1 piece, 2026-03-02)"


def piece(number: int, **measured: Any) -> Piece:
    state = measured.pop("state", "finished")
    return Piece(number, f"R{number}", date(2026, 2, 1), "a laboratory", state, **measured)


@often
@given(
    ounces=st.floats(9, 16),
    crimp=st.floats(0.06, 0.16),
    shrunk=st.floats(0.05, 0.2),
    chosen=st.sets(st.sampled_from((CRIMP, SHRINK))),
)
def test_whatever_is_ticked_the_net_finish_meets_the_measured_weight(
    ounces: float, crimp: float, shrunk: float, chosen: set[str]
) -> None:
    measured = piece(
        1, ounces=ounces, warp_crimp=crimp, loom_metres=100.0, finished_metres=100 * (1 - shrunk)
    )
    found = calibrate(construction(), [measured], {*chosen, FINISH})
    assert set(found.chosen) == {*chosen, FINISH}
    assert found.becomes == pytest.approx(measured.mass_per_area, rel=1e-12)
    assert [each.becomes is not None for each in found.estimates] == [
        each.key in found.chosen for each in found.estimates
    ]


def test_the_weight_then_is_worked_out_estimate_by_estimate() -> None:
    found = calibrate(construction(), [piece(1, ounces=14.0, warp_crimp=0.13)])
    crimp, finish = found.estimates
    alone = with_estimates(construction(), {CRIMP: 0.13})
    assert crimp.becomes == figures_of_cloth(alone)["mass_per_area"]
    assert finish.becomes == found.becomes


def entered_finished() -> Any:
    """A cloth described in its finished state; its loom figures follow."""
    return construction(
        entered_state="finished",
        finished_epi=66.0,
        finished_ppi=46.0,
        filling_crimp=0.06,
        length_shrink=0.13,
        total_ends=66.0 * 61,
        finished_width_in=61.0,
        loom_ppi=float(loom_ppi_from_finished(finished_ppi=46.0, length_shrink=0.13)),
        reed_width_in=float(reed_width_from_finished(finished_width_in=61.0, filling_crimp=0.06)),
    )


def test_a_cloth_entered_finished_keeps_its_finished_threads() -> None:
    pieces = [piece(1, filling_crimp=0.08, loom_metres=100.0, finished_metres=85.0)]
    cloth = entered_finished()
    found = calibrate(cloth, pieces)
    assert found.chosen == (WIDTH_CRIMP, SHRINK)
    taken = with_estimates(cloth, {each.key: each.mean for each in found.estimates})
    figures = figures_of_cloth(taken)
    assert figures["finished_ppi"] == pytest.approx(46.0, rel=1e-12)
    assert figures["finished_epi"] == pytest.approx(66.0, rel=1e-12)
    assert taken.loom_ppi == pytest.approx(46.0 * 0.85, rel=1e-12)
    assert taken.reed_width_in == pytest.approx(61.0 * 1.08, rel=1e-12)


def test_an_entered_reed_width_is_not_moved_by_a_filling_crimp() -> None:
    (told,) = calibrate(construction(), [piece(1, filling_crimp=0.08)]).estimates
    assert "the reed width was entered" in told.why_not
    assert told.becomes is None


def test_a_piece_far_from_the_others_stands_apart() -> None:
    near = [piece(place, ounces=12.5 + place / 100) for place in (1, 2, 3)]
    found = calibrate(construction(), [*near, piece(4, ounces=13.4)])
    *others, odd = found.beside
    assert odd.apart == pytest.approx(13.4 / 12.52 - 1, rel=1e-9)
    assert [each.apart for each in calibrate(construction(), near).beside] == [None] * 3
    assert len(others) == 3


def test_two_pieces_are_too_few_to_call_one_odd() -> None:
    found = calibrate(construction(), [piece(1, ounces=12.0), piece(2, ounces=14.0)])
    assert [each.apart for each in found.beside] == [None, None]


def test_pieces_of_another_state_are_not_compared() -> None:
    near = [piece(place, ounces=12.5 + place / 100) for place in (1, 2, 3)]
    washed = piece(4, ounces=13.9, state="washed")
    assert calibrate(construction(), [*near, washed]).beside[-1].apart is None


def test_a_value_changed_after_calibrating_no_longer_says_so() -> None:
    assert list(calibration_notes(NOTE)) == ["warp crimp", "length shrink"]
    assert calibrated_on(NOTE, "length shrink", 0.131) == "1 piece, 2026-03-02"
    assert calibrated_on(NOTE, "warp crimp", 0.104) == "3 pieces, 2026-03-01"
    assert calibrated_on(NOTE, "warp crimp", 0.11) == ""
    assert calibrated_on("", "warp crimp", 0.104) == ""
    cloth = construction(calibration=NOTE, length_shrink=0.131)
    assert calibrated_in_use(cloth) == ("length shrink 13.10 % (1 piece, 2026-03-02)",)
    assert calibrated_in_use(replace(cloth, length_shrink=0.12)) == ()


@often
@given(add_on=st.floats(0, 0.3), width=st.floats(61, 65))
def test_the_greige_weight_is_that_of_its_yarn_and_size(add_on: float, width: float) -> None:
    cloth = construction(greige_width_in=width, greige_add_on=add_on)
    figures = figures_of_cloth(cloth)
    metre = figures["greige_mass_per_area"] * width * 0.0254
    yarn = figures["warp.mass"] * (1 + add_on) + figures["filling.mass"]
    assert metre == pytest.approx(yarn * (1 - cloth.length_shrink), rel=1e-12)


def test_a_measured_weight_is_held_against_its_own_state() -> None:
    washing = {"residual_length": 0.03, "residual_width": 0.02, "measured_oz": 12.0}
    cloth = construction(measured_state="washed", **washing)
    figures = figures_of_cloth(cloth)
    assert figures["weight_deviation"] == pytest.approx(figures["washed_ounces"] / 12.0 - 1)
    without = construction(measured_state="greige", measured_oz=12.0)
    assert "weight_deviation" not in figures_of_cloth(without)
