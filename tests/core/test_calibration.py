"""Pieces calibrate what they measure; put back, the computed weight is the measured one."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from statistics import fmean
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.core.calibration import (
    CRIMP,
    FINISH,
    SHRINK,
    Piece,
    calibrate,
    figures_of_cloth,
    sister_of,
    straight_mass,
    with_estimates,
)
from server.core.fabric import area_mass_from_ounces
from tests.builders import construction, slot

often = settings(max_examples=200, deadline=None)


def piece(label: str = "R1", **measured: Any) -> Piece:
    state = measured.pop("state", "finished")
    return Piece(1, label, date(2026, 2, 1), "a laboratory", state, **measured)


shares = st.floats(0.05, 0.2)


@st.composite
def measured_pieces(draw: st.DrawFn) -> list[Piece]:
    """One to five finished pieces with weight, crimp and both lengths."""
    return [
        piece(
            f"R{place}",
            ounces=draw(st.floats(8, 18)),
            warp_crimp=draw(shares),
            loom_metres=100.0,
            finished_metres=100 * (1 - draw(shares)),
        )
        for place in range(draw(st.integers(1, 5)))
    ]


@often
@given(pieces=measured_pieces())
def test_every_estimate_taken_the_computed_weight_is_the_mean_measured(
    pieces: list[Piece],
) -> None:
    cloth = construction()
    found = calibrate(cloth, pieces)
    assert [each.key for each in found.estimates] == [CRIMP, SHRINK, FINISH]
    weights = [float(area_mass_from_ounces(ounces_per_square_yard=p.ounces)) for p in pieces]
    assert found.measured == pytest.approx(fmean(weights), rel=1e-12)
    assert found.becomes == pytest.approx(found.measured, rel=1e-12)
    taken = with_estimates(cloth, {each.key: each.mean for each in found.estimates})
    assert figures_of_cloth(taken)["mass_per_area"] == pytest.approx(found.measured, rel=1e-12)


def test_means_and_spreads_are_those_of_the_pieces() -> None:
    found = calibrate(
        construction(),
        [piece("a", warp_crimp=0.10), piece("b", warp_crimp=0.11), piece("c", warp_crimp=0.12)],
    )
    (crimp,) = found.estimates
    assert crimp.mean == pytest.approx(0.11, rel=1e-12)
    assert crimp.spread == pytest.approx(0.01, rel=1e-12)
    assert (crimp.low, crimp.high) == (0.10, 0.12)
    assert crimp.in_use == 0.11


def test_one_piece_claims_no_spread() -> None:
    (crimp,) = calibrate(construction(), [piece(warp_crimp=0.10)]).estimates
    assert crimp.spread is None


def test_a_piece_left_out_is_seen_and_not_used() -> None:
    odd = replace(piece("odd", ounces=20.0, warp_crimp=0.3), left_out=True, notes="wet")
    found = calibrate(construction(), [piece("a", ounces=13.0, warp_crimp=0.1), odd])
    assert [each.piece.label for each in found.beside] == ["a", "odd"]
    assert [label for label, _ in found.estimates[0].values] == ["a"]
    assert found.measured == pytest.approx(
        float(area_mass_from_ounces(ounces_per_square_yard=13.0)), rel=1e-12
    )


def test_a_weight_is_held_against_its_own_state() -> None:
    washing = construction(residual_length=0.03, residual_width=0.08, wash_mass_change=-0.04)
    figures = figures_of_cloth(washing)
    ounces = figures["washed_ounces"]
    pieces = [piece("w", state="washed", ounces=ounces), piece("g", state="greige", ounces=14.0)]
    found = calibrate(washing, pieces)
    washed, greige = found.beside
    assert washed.deviation == pytest.approx(0.0, abs=1e-12)
    assert greige.deviation is None
    assert found.measured is None
    assert found.estimates == ()


def test_net_finish_in_parts_is_not_calibrated_as_one_figure() -> None:
    parts = construction(finish_in_parts=True, net_finish=0.0, warp_retained=0.1)
    found = calibrate(parts, [piece(ounces=14.0)])
    assert found.in_parts
    (finish,) = found.estimates
    assert finish.why_not == "the net finish of this construction stands in its parts"
    assert found.chosen == ()
    assert found.becomes == found.computed


def test_nothing_measured_says_nothing() -> None:
    found = calibrate(construction(), [])
    assert (found.estimates, found.beside, found.measured) == ((), (), None)
    assert found.becomes == found.computed


def test_a_sister_of_the_same_cloth_says_its_own_weight() -> None:
    cloth = construction()
    sister = sister_of(cloth, replace(cloth, id=2, code="T-2"), 470.0, 3)
    assert sister.predicted == pytest.approx(470.0, rel=1e-12)
    assert sister.ratio == pytest.approx(470.0 / straight_mass(cloth), rel=1e-12)


def test_sister_cloths_of_one_customs_ruling_agree_within_one_per_cent() -> None:
    """NY 885739 (1993): 7 x 6 at 491 g/m² and 9 x 9 at 356 g/m², same threads, 27.9 x 16.5/cm."""
    heavy, light = (
        construction(
            total_ends=27.9 * 2.54 * 60.0,
            loom_ppi=16.5 * 2.54 * 0.87,
            finished_width_in=60.0,
            cuttable_width_in=58.5,
            slots=(slot("warp", ne=warp), slot("filling", ne=filling)),
        )
        for warp, filling in ((7.0, 6.0), (9.0, 9.0))
    )
    predicted = sister_of(heavy, light, 356.0, 1).predicted
    assert predicted / 491.0 - 1 == pytest.approx(-0.010, abs=5e-4)


def test_straight_yarn_counts_every_yarn_of_a_direction() -> None:
    mixed = construction(
        slots=(
            slot("warp", ne=6.0, share_of_threads=0.5),
            slot("warp", ne=8.0, share_of_threads=0.5, position=2),
            slot("filling"),
        )
    )
    alone = [construction(slots=(slot("warp", ne=ne), slot("filling"))) for ne in (6.0, 8.0)]
    assert straight_mass(mixed) == pytest.approx(fmean(map(straight_mass, alone)), rel=1e-12)
