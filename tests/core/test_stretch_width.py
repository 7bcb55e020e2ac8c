"""The width a stretch cloth loses, held against a rigid cloth: per cuttable area and garment."""

from __future__ import annotations

import pytest

from server.core.effects import effects_of
from server.core.errors import BadValue
from server.core.stretch_width import (
    RigidWidth,
    is_rigid,
    refuse_too_narrow,
    rigid_width,
)
from server.core.whole_pair import WholePair
from tests.builders import construction, demo_book, demo_comparison, slot


def whole(code: str, warp: str, filling: str, typed: str = "") -> WholePair:
    comparison = demo_comparison(code)
    pair = comparison.find(warp, filling)
    assert pair is not None
    rigid = rigid_width(demo_book().constructions, typed)
    return WholePair.of(comparison, pair, effects_of(comparison, pair, rigid))


def test_the_reference_is_the_median_of_the_rigid_cloths_of_the_house() -> None:
    rigid = rigid_width(demo_book().constructions)
    assert rigid.loss == pytest.approx(1 - 61 / 65.5), "DN-1375 is in the middle of five"
    assert rigid.source.startswith("median of 5 rigid constructions of the house")
    assert "DN-1050S" not in rigid.source


def test_a_house_without_a_rigid_cloth_has_no_reference_of_its_own() -> None:
    stretch = construction(slots=(slot(), slot("filling", core="elastane")))
    assert not is_rigid(stretch)
    assert not is_rigid(construction(heat_set=True))
    assert rigid_width([stretch]).loss is None
    assert rigid_width([stretch], "7").loss == pytest.approx(0.07)


@pytest.mark.parametrize("typed", ["x", "-1", "61", "nan", "inf", "1_0", "7,5", "9" * 30])
def test_a_width_loss_that_is_none_is_refused_with_its_remedy(typed: str) -> None:
    with pytest.raises(BadValue) as refused:
        rigid_width((), typed)
    assert (refused.value.field, refused.value.unit) == ("rigid_loss", "%")
    assert "such as 6.9" in refused.value.remedy


def test_a_loss_that_leaves_nothing_to_cut_is_refused() -> None:
    narrow = construction(reed_width_in=4.0, finished_width_in=3.5, cuttable_width_in=1.0)
    with pytest.raises(BadValue, match="leaves nothing to cut"):
        refuse_too_narrow(narrow, RigidWidth(0.5, "typed in the address", "50"))
    refuse_too_narrow(narrow, RigidWidth(None, ""))


def test_the_same_metre_over_a_rigid_width_costs_less_by_the_width_taken() -> None:
    figures = whole("DN-1050S", "Q30", "Q36").figures
    wide = 75 * (61 / 65.5) - 2
    assert figures["width.rigid_cuttable"] == pytest.approx(wide)
    for of in ("yarn", "fabric"):
        area = figures[f"{of}_cost"] / (52 * 0.0254) - figures[f"{of}_cost"] / (wide * 0.0254)
        assert figures[f"width.{of}_area_cost"] == pytest.approx(area, rel=1e-12)
        garment = figures[f"garment_{of}"] * (1 - 52 / wide)
        assert figures[f"width.garment_{of}_cost"] == pytest.approx(garment, rel=1e-12)
    assert figures["width.paid_for"] == pytest.approx(1 - 52 / wide)
    metre = figures["ounces"] * 54
    assert figures["width.rigid_ounces"] * (wide + 2) == pytest.approx(metre, rel=1e-12)


def test_at_its_own_loss_a_cloth_pays_for_no_width() -> None:
    own = whole("DN-1050S", "Q30", "Q36", typed="28").figures
    assert own["width_contraction"] == pytest.approx(0.28)
    for key in ("width.paid_for", "width.yarn_area_cost", "width.garment_fabric_cost"):
        assert own[key] == pytest.approx(0, abs=1e-12)


def test_a_rigid_cloth_is_not_asked_what_its_width_costs() -> None:
    rigid = whole("DN-1375", "Q09", "Q14")
    assert rigid.effects.rigid is None
    assert not any(key.startswith("width.") for key in rigid.figures)
