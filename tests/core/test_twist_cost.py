"""What asking for a twist costs: pairs of one combination, with the twist and without."""

from __future__ import annotations

from dataclasses import replace

import pytest

from server.core.compare import Comparison, compare
from server.core.construction import Construction, Slot
from server.core.offer import Offer
from server.core.twist_cost import (
    TwistCost,
    asked_twists,
    twist_costs,
    twist_questions,
    without_asking,
)
from tests.builders import (
    assumption_set,
    basis,
    construction,
    demo_comparison,
    offer,
    rate_book,
    slot,
    yarn,
)

S_RING = offer(code="S", price=3, yarn=yarn(twist="S"))
Z_RING = offer(code="Z", price=2, yarn=yarn(twist="Z"))
Z_ROTOR = offer(code="R", price=1, yarn=yarn(twist="Z", spinning="OE"))


def compared(cloth: Construction, *offers: Offer) -> Comparison:
    return compare(cloth, basis(), assumption_set(), rate_book(), offers, ())


def of(costs: tuple[TwistCost, ...]) -> dict[str, TwistCost]:
    return {each.key: each for each in costs}


def asking(twist: str, *directions: str) -> Construction:
    slots: list[Slot] = [
        slot(name, twist=twist if name in directions else "any") for name in ("warp", "filling")
    ]
    return construction(slots=tuple(slots))


def test_a_right_hand_twill_is_costed_for_s_and_for_z() -> None:
    right = construction(twill_hand="right")
    keys = [f"{t} {'+'.join(p)}" for t, p in twist_questions(right)]
    assert keys == ["S warp", "S warp+filling", "Z warp", "Z warp+filling"]
    assert twist_questions(construction(twill_hand="left"))[0] == ("Z", ("warp",))


@pytest.mark.parametrize(
    "changes", [{"twill_hand": "none"}, {"weave": "plain"}, {"weave": "broken twill"}]
)
def test_where_no_line_can_be_opposed_and_nothing_is_asked_nothing_is_costed(
    changes: dict[str, str],
) -> None:
    cloth = construction(**changes)
    assert twist_questions(cloth) == ()
    assert twist_costs(cloth, compared(cloth, S_RING, Z_RING)) == ()


def test_the_price_of_a_twist_is_not_mixed_with_the_price_of_a_process() -> None:
    cloth = construction(twill_hand="right")
    costs = of(twist_costs(cloth, compared(cloth, S_RING, Z_RING, Z_ROTOR)))
    warp = costs["S warp"]
    assert warp.pair is not None
    assert warp.without is not None
    assert (warp.pair.key, warp.without.key) == ("S/R", "Z/R")
    both = costs["S warp and filling"]
    assert both.pair is not None
    assert both.without is not None
    assert (both.pair.key, both.without.key) == ("S/S", "Z/Z")
    more = both.pair.figures["yarn_cost"] - both.without.figures["yarn_cost"]
    assert both.more("yarn_cost") == pytest.approx(more)
    assert not both.asked


def test_asking_for_the_cheaper_twist_costs_less_than_nothing() -> None:
    cloth = construction(twill_hand="right")
    costs = of(twist_costs(cloth, compared(cloth, S_RING, Z_RING)))
    more = costs["Z warp"].more("fabric_cost")
    assert more is not None
    assert more < 0


def test_what_a_construction_asks_for_is_costed_without_asking() -> None:
    cloth = asking("S", "warp")
    assert asked_twists(cloth) == {"warp": "S"}
    asked = compared(cloth, S_RING, Z_RING)
    assert asked.leader is not None
    assert asked.leader.warp.offer.code == "S"
    free = without_asking(cloth)
    assert asked_twists(free) == {}
    costs = twist_costs(cloth, compared(free, S_RING, Z_RING))
    assert [each.key for each in costs] == ["S warp"]
    assert costs[0].asked
    assert costs[0].pair is not None
    assert costs[0].without is not None
    assert costs[0].pair.figures["fabric_cost"] == asked.leader.figures["fabric_cost"]
    assert costs[0].without.warp.offer.code == "Z"


def test_different_twists_in_warp_and_filling_are_two_questions() -> None:
    cloth = construction(slots=(slot(twist="Z"), slot("filling", twist="S")))
    assert twist_questions(cloth) == (("Z", ("warp",)), ("S", ("filling",)))


def test_a_twist_nobody_offers_says_so() -> None:
    cloth = construction(twill_hand="right")
    costs = of(twist_costs(cloth, compared(cloth, Z_RING)))
    assert costs["S warp"].pair is None
    assert costs["S warp"].reason == "no S-twist offer near Ne 7 for the warp"
    assert costs["Z warp"].reason == "no possible ring/ring pair without it"
    assert costs["Z warp"].more("fabric_cost") is None


def test_an_offer_that_cannot_stand_is_named_with_its_reason() -> None:
    dead = replace(S_RING, valid_until=basis().as_of)
    cloth = construction(twill_hand="right")
    costs = of(twist_costs(cloth, compared(cloth, dead, Z_RING)))
    assert costs["S warp"].reason.startswith("warp S impossible: expired on")


def test_all_pairs_agree_with_looking_at_every_pair_one_by_one() -> None:
    comparison = demo_comparison("DN-1375")
    pairs = [pair for pair in comparison.pairs() if pair.state == "possible"]
    for cost in twist_costs(comparison.construction, comparison):
        with_it = [
            pair
            for pair in pairs
            if all(getattr(pair, place).offer.yarn.twist == cost.twist for place in cost.places)
        ]
        cheapest = min(with_it, key=lambda pair: pair.figures["fabric_cost"])
        assert cost.pair is not None
        assert cost.pair.key == cheapest.key
