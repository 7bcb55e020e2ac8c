"""Reed, loom, greige, finished, washed: a figure of its own state, a loss on the one before."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.core.calibration import figures_of_cloth
from server.core.cloth_states import starting_crimp
from tests.builders import construction

often = settings(max_examples=200, deadline=None)


@often
@given(greige=st.floats(61, 65), length=st.floats(0, 0.1), width=st.floats(0, 0.3))
def test_the_width_chain_closes_and_no_end_is_lost(
    greige: float, length: float, width: float
) -> None:
    cloth = construction(greige_width_in=greige, residual_length=length, residual_width=width)
    figures = figures_of_cloth(cloth)
    left = (1 - figures["greige_loss"]) * (1 - figures["finishing_loss"])
    assert left == pytest.approx(1 - figures["width_contraction"], rel=1e-12)
    for ends, inches in (
        (figures["reed_epi"], cloth.reed_width_in),
        (figures["greige_epi"], greige),
        (figures["finished_epi"], cloth.finished_width_in),
        (figures["washed_epi"], figures["washed_width"]),
    ):
        assert ends * inches == pytest.approx(cloth.total_ends, rel=1e-12)
    assert figures["washed_ppi"] * (1 - length) == pytest.approx(figures["finished_ppi"])


@often
@given(length=st.floats(0, 0.1), width=st.floats(0, 0.3), mass=st.floats(-0.2, 0.1))
def test_the_mass_of_a_cloth_survives_the_wash(length: float, width: float, mass: float) -> None:
    cloth = construction(residual_length=length, residual_width=width, wash_mass_change=mass)
    figures = figures_of_cloth(cloth)
    area = (1 - length) * (1 - width)
    kept = figures["washed_mass_per_area"] * area / figures["mass_per_area"]
    assert kept == pytest.approx(1 + mass, rel=1e-12)


def test_a_cloth_that_says_nothing_of_a_state_has_no_figure_of_it() -> None:
    figures = figures_of_cloth(construction())
    assert not [key for key in figures if key.startswith(("washed", "greige"))]


def test_the_starting_crimp_is_taylors_rule() -> None:
    """Trade guide, section 2: intersections × 4 ÷ weft count; 3/1: picks ÷ 2, 2/1: picks × 2/3."""
    assert starting_crimp(weave="3/1 twill", loom_ppi=40, filling_ne=8) == pytest.approx(0.10)
    assert starting_crimp(weave="2/1 twill", loom_ppi=42, filling_ne=14) == pytest.approx(0.08)
    satin = starting_crimp(weave="4/1 satin", loom_ppi=180, filling_ne=70)
    assert satin == pytest.approx(0.0411, abs=5e-5)  # Taylor's own example, printed as 4 %
