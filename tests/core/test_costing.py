"""One costing for bought, held and own yarn; it agrees with the comparison to the last bit."""

from __future__ import annotations

import pytest

from server.core.break_even import break_even
from server.core.costing import OWN_YARNS, Costing, bought, own_spun, price_held
from server.core.errors import Missing
from server.core.should_cost import ROUTES, should_cost_of
from tests.builders import (
    assumption_set,
    construction,
    demo_book,
    demo_comparison,
    is_printed_as,
    slot,
)
from tests.core.costings import costing, yarn_of

DEMO_FABRICS = ("DN-1450", "DN-1375", "DN-1250", "DN-1200S", "DN-1100A", "DN-0975")


@pytest.mark.parametrize("code", DEMO_FABRICS)
def test_a_costing_has_the_figures_of_the_comparison(code: str) -> None:
    compared = demo_comparison(code)
    pair = compared.leader
    assert pair is not None
    yarns = tuple(bought(member, member.slot) for member in pair.members)
    made = Costing(compared.construction, compared.basis, compared.assumptions, yarns)
    for figure in ("fabric_cost", "yarn_cost", "ounces", "mass_per_area"):
        assert made.figures[figure] == pair.figures[figure]
    whole = made.sheet.evaluate({name: entry.value for name, entry in made.inputs.items()})
    assert whole["fabric_cost"] == made.figures["fabric_cost"]


@pytest.mark.parametrize(("route", "ne", "printed"), [("ring", 7.0, "2.465"), ("OE", 8.0, "2.045")])
def test_own_yarn_costs_its_should_cost(route: str, ne: float, printed: str) -> None:
    """Trade guide 7.11, should-cost before margin."""
    book = demo_book()
    assumptions = book.assumption_set(book.basis().assumption_set)
    own = own_spun(slot("filling", ne=ne), route, assumptions)
    assert is_printed_as(own.price, printed)
    assert own.price == should_cost_of(route, ne, assumptions).figures()["should_cost"]
    assert own.name in OWN_YARNS


def demo_own(*routes: str) -> Costing:
    compared = demo_comparison("DN-1375")
    yarns = tuple(
        own_spun(each, route, compared.assumptions)
        for each, route in zip(compared.construction.slots, routes, strict=True)
    )
    return Costing(compared.construction, compared.basis, compared.assumptions, yarns)


def test_warp_and_filling_of_one_route_share_their_assumptions() -> None:
    both = demo_own("ring", "ring")
    cost = both.option().cost
    dearer = cost({"ring.fibre_price": 2.0})
    assert "ring.fibre_price" in both.inputs
    assert dearer > cost({})
    mixed = demo_own("ring", "OE")
    assert {"ring.fibre_price", "OE.fibre_price"} <= set(mixed.inputs)


def test_speeds_that_follow_the_count_stay_with_their_slot() -> None:
    names = set(demo_own("ring", "OE").inputs)
    assert {"warp.own.spindle_rpm", "filling.own.rotor_rpm"} <= names


def test_own_ring_and_own_rotor_tie_where_the_break_even_says() -> None:
    ring, rotor = demo_own("ring", "OE").option(), demo_own("OE", "OE").option()
    tie = break_even(ring, rotor, "OE.fibre_price", reach=0.9)
    assert tie is not None
    apart = float(ring.cost({"OE.fibre_price": tie})) - float(rotor.cost({"OE.fibre_price": tie}))
    assert apart == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("route", ROUTES)
def test_a_route_without_its_assumptions_names_them(route: str) -> None:
    with pytest.raises(Missing, match="has no value for"):
        own_spun(slot("filling"), route, assumption_set())


def test_a_held_price_keeps_the_price_and_takes_the_count() -> None:
    made = costing(construction(), yarn_of(7.0, "W"), yarn_of(7.0, "F"))
    held = price_held(made.yarns[1], slot("filling", ne=8.4))
    assert held.price == made.yarns[1].price
    assert float(held.ne.value) == 8.4
    assert held.name == "F’s price"
    assert price_held(held, slot("filling", ne=9.0)).name == "F’s price"
