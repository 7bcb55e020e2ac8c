"""Constructions made of own yarn: the change desk's figures, and who has none."""

from __future__ import annotations

import pytest

from server.core.costing import Costing, own_spun
from server.core.own_yarn import own_costs
from server.core.should_cost import ROUTES
from tests.builders import basis, construction, demo_book, slot
from tests.core.test_count_range import SETS, demo


@pytest.mark.parametrize("code", ["DN-1375", "DN-0975"])
def test_every_pair_of_routes_has_the_bits_of_its_own_costing(code: str) -> None:
    book = demo_book()
    cloth, assumptions = book.construction(code), book.assumption_set(SETS[0])
    found = own_costs(cloth, book.basis(), assumptions)
    assert len(found.costs) == 9
    for warp in ROUTES:
        for filling in ROUTES:
            yarns = tuple(
                own_spun(each, warp if each.direction == "warp" else filling, assumptions)
                for each in cloth.slots
            )
            alone = Costing(cloth, book.basis(), assumptions, yarns).figures["fabric_cost"]
            assert found.costs[f"{warp}/{filling}"] == alone
    assert found.cheapest == min(found.costs.items(), key=lambda each: each[1])


def test_two_yarns_of_a_direction_are_spun_by_one_route() -> None:
    cloth = construction(
        slots=(
            slot("warp", share_of_threads=0.5),
            slot("warp", position=2, ne=9.0, share_of_threads=0.5),
            slot("filling"),
        )
    )
    found = own_costs(cloth, basis(), demo())
    yarns = tuple(
        own_spun(each, "ring" if each.direction == "warp" else "OE", demo()) for each in cloth.slots
    )
    alone = Costing(cloth, basis(), demo(), yarns).figures["fabric_cost"]
    assert found.costs["ring/OE"] == alone


def test_a_wanted_spinning_leaves_the_other_routes_out() -> None:
    cloth = construction(slots=(slot("warp", spinning="compact ring"), slot("filling")))
    assert {name.partition("/")[0] for name in own_costs(cloth, basis(), demo()).costs} == {"ring"}


@pytest.mark.parametrize(
    ("wanted", "said"), [({"core": "elastane"}, "elastane"), ({"fibre_mix": "wool"}, "wool")]
)
def test_yarn_that_is_not_modelled_says_so(wanted: dict[str, str], said: str) -> None:
    cloth = construction(slots=(slot("warp"), slot("filling", **wanted)))
    found = own_costs(cloth, basis(), demo())
    assert found.costs == {}
    assert found.cheapest is None
    assert said in found.missing


def test_a_route_without_its_assumptions_is_left_out() -> None:
    bare = demo()
    some = {key: points for key, points in bare.values.items() if not key.startswith("air-jet.")}
    found = own_costs(construction(), basis(), type(bare)(1, "Some", some))
    assert set(found.costs) == {"ring/ring", "ring/OE", "OE/ring", "OE/OE"}
    none = {key: points for key, points in some.items() if key.startswith("fabric.")}
    assert "no value for" in own_costs(construction(), basis(), type(bare)(1, "No", none)).missing
