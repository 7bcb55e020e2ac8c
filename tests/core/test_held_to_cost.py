"""An offer beside its should-cost: the gap, and the target that closes it when it is quoted."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from server.core.errors import Missing
from server.core.held_to_cost import held_to_cost, should_cost_for
from server.core.landing import land
from server.core.offer import Core, Offer
from server.core.sheet import Explanation, Input
from tests.builders import assumption_set, basis, offer, rate_book, yarn

RING = {
    "ring__fibre_price": 1.78, "ring__realisation": 0.88, "ring__waste_credit": 0.04,
    "ring__preparation": 0.16, "ring__roving": 0.07, "ring__position_hour": 0.0115,
    "ring__twist_multiplier": 4.3, "ring__efficiency": 0.92, "ring__winding": 0.075,
    "ring__packing": 0.03, "ring__overhead_rate": 0.06, "ring__spindle_rpm": 9200.0,
    "ring__ring_diameter": 48.0,
}  # fmt: skip
SET = assumption_set(**RING)


def held(given: Offer) -> Any:
    landing = land(given, basis(), rate_book(), prefix="offer")
    return held_to_cost(landing, should_cost_for(given, SET))


@pytest.mark.parametrize(
    "said",
    [
        {},
        {"price": Decimal(52), "currency": "MXN", "term": "DAP"},
        {"price": Decimal(140), "currency": "USc", "price_unit": "lb", "payment": "TT 30/70"},
        {"price": Decimal("2.9"), "currency": "EUR", "tax_inside": 0.16, "term": "EXW"},
        {"quoted_regain": 0.07, "term": "CIF", "payment": "LC 90"},
    ],
)
def test_a_target_put_into_the_offer_brings_the_should_cost(said: dict[str, Any]) -> None:
    given = offer(**said)
    found = held(given)
    assert found.target is not None
    again = held(replace(given, price=Decimal(repr(found.target))))
    assert again.figures[again.price_key] == pytest.approx(again.should_cost, rel=1e-9)
    assert again.gap == pytest.approx(0, abs=1e-9)
    assert found.distance == pytest.approx(found.target / float(given.price) - 1)


def test_the_gap_is_same_basis_less_should_cost_and_opens() -> None:
    found = held(offer())
    assert found.gap == found.figures[found.price_key] - found.should_cost
    assert found.gap_share == pytest.approx(found.gap / found.should_cost)
    opened = found.sheet.explain("gap_share", found.inputs)
    assert [name for name, _ in opened.parts] == ["offer.same_basis_price", "should_cost"]


def test_the_target_opens_to_the_price_that_is_not_the_quoted_one() -> None:
    found = held(offer())
    node = found.at_target()
    assert node.value == pytest.approx(found.should_cost, rel=1e-9)
    inputs: dict[str, Input] = {}

    def walk(each: Explanation | Input, name: str) -> None:
        if isinstance(each, Input):
            inputs[name] = each
        else:
            for part, below in each.parts:
                walk(below, part)

    walk(node, node.key)
    assert inputs["offer.quoted_price"].source == "at the target"
    assert inputs["offer.quoted_price"].as_entered == "today 2.5"


def test_a_target_out_of_reach_is_none() -> None:
    found = held(offer(price=Decimal("60.00")))
    assert found.target is None
    assert found.distance is None
    with pytest.raises(Missing, match="No quoted price within 90 %"):
        found.at_target()


@pytest.mark.parametrize(
    ("spun", "why"),
    [
        ({"core": "elastane", "cores": (Core(70, 3.5),)}, r"yarn with a core \(elastane\)"),
        ({"fibre_mix": "50/50 polyester/cotton"}, "50/50 polyester/cotton is not modelled"),
        ({"count_basis": "unknown"}, "average count is not known"),
        ({"spinning": ""}, "spinning system is not known"),
        ({"spinning": "OE"}, "OE"),
    ],
)
def test_why_there_is_no_should_cost(spun: dict[str, Any], why: str) -> None:
    with pytest.raises(Missing, match=why):
        should_cost_for(offer(yarn=yarn(**spun)), SET)
