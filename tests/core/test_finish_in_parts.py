"""Net finish as one figure or in its parts, and the computed weight beside a real piece."""

from __future__ import annotations

from dataclasses import replace

import pytest

from server.actions.constructions import computed
from server.core.fabric import finished_mass_from_parts, finished_mass_per_area
from tests.builders import construction

METRE = {"warp_mass": 442.4, "filling_mass": 260.4, "finished_width_in": 61.0}


def test_no_part_is_no_net_finish() -> None:
    plain = finished_mass_per_area(**METRE, net_finish=0.0)
    assert finished_mass_from_parts(
        **METRE, warp_retained=0.0, scouring_loss=0.0, coating_g_per_m2=0.0
    ) == pytest.approx(plain, rel=1e-15)


def test_ten_percent_on_the_warp_weighs_what_the_rulings_model_says() -> None:
    """Customs ruling NY D88408, model M2: 10 % of the warp kept adds 5.2 to 6.6 % of the cloth."""
    bare = finished_mass_per_area(**METRE, net_finish=0.0)
    kept = finished_mass_from_parts(
        **METRE, warp_retained=0.10, scouring_loss=0.0, coating_g_per_m2=0.0
    )
    assert 0.052 <= kept / bare - 1 <= 0.066


def test_loss_takes_from_all_the_yarn_and_a_coating_lies_on_top() -> None:
    by_hand = (442.4 * 1.08 + 260.4) * 0.95 / (61 * 0.0254) + 50
    assert finished_mass_from_parts(
        **METRE, warp_retained=0.08, scouring_loss=0.05, coating_g_per_m2=50.0
    ) == pytest.approx(by_hand, rel=1e-14)


def test_a_construction_with_its_finish_in_parts_is_weighed_by_them() -> None:
    one_figure = computed(construction(net_finish=0.0))
    parts = computed(
        construction(net_finish=0.0, finish_in_parts=True, warp_retained=0.1,
                     coating_g_per_m2=20.0)
    )  # fmt: skip
    warp = one_figure.figures["warp.mass"] * 0.1 / (parts.construction.finished_width_in * 0.0254)
    assert parts.figures["mass_per_area"] == pytest.approx(
        one_figure.figures["mass_per_area"] + warp + 20.0, rel=1e-12
    )


def test_the_computed_weight_stands_beside_a_real_piece() -> None:
    cloth = computed(construction())
    beside = computed(replace(cloth.construction, measured_oz=cloth.figures["ounces"] / 1.02))
    assert beside.figures["weight_deviation"] == pytest.approx(0.02, rel=1e-9)
