"""Names of effects: where the slub lies says what the cloth is called."""

from __future__ import annotations

import pytest

from server.core.effect_names import effect_in_cloth
from tests.builders import demo_comparison


@pytest.mark.parametrize(
    ("warp", "filling", "name"),
    [
        ("plain", "plain", ""),
        ("slub", "plain", "warp slub"),
        ("plain", "slub", "filling slub"),
        ("slub", "slub", "crosshatch"),
        ("multi-count", "plain", "multi-count warp"),
        ("plain", "multi-count", "multi-count filling"),
        ("multi-count", "multi-count", "multi-count warp and filling"),
        ("multi-count slub", "plain", "warp slub, multi-count warp"),
        ("multi-count slub", "slub", "crosshatch, multi-count warp"),
        ("multi-count", "slub", "filling slub, multi-count warp"),
    ],
)
def test_an_effect_is_named_by_where_its_yarns_lie(warp: str, filling: str, name: str) -> None:
    assert effect_in_cloth([("warp", warp), ("filling", filling)]) == name


def test_one_slub_yarn_among_several_of_a_direction_is_enough() -> None:
    yarns = [("warp", "plain"), ("warp", "slub"), ("filling", "plain"), ("filling", "slub")]
    assert effect_in_cloth(yarns) == "crosshatch"


def test_pairs_of_the_demonstration_carry_their_name() -> None:
    names = {
        code: {pair.effect for pair in demo_comparison(code).pairs()}
        for code in ("DN-1450", "DN-1375", "DN-1200S")
    }
    assert names["DN-1375"] == {""}
    assert "warp slub" in names["DN-1200S"]
    assert "warp slub, multi-count warp" in names["DN-1450"]
