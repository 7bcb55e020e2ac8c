"""Prices to beat: put back into the offer, both pairs cost the same."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from decimal import Decimal

import pytest

from server.core.compare import Comparison, compare
from server.core.construction import Basis, Construction
from server.core.negotiation import ALIKE, BOTH, FIGURE, LEADER, Rivals
from server.core.offer import Offer, PriceBreak
from server.core.sheet import Sheet
from tests.builders import assumption_set, basis, construction, offer, rate_book, slot, yarn

RATES = rate_book()
ASSUMED = assumption_set()


def of(code: str, price: str, ne: str = "7", **changes: object) -> Offer:
    spun = yarn(count=Decimal(ne), spinning=changes.pop("spinning", "ring"))
    values = {"code": code, "yarn": spun, "price": Decimal(price), "id": int(code[1:]), **changes}
    return offer(**values)


def compared(offers: Iterable[Offer], cloth: Construction, on: Basis) -> Comparison:
    return compare(cloth, on, ASSUMED, RATES, tuple(offers), ())


def field_of(
    offers: tuple[Offer, ...], cloth: Construction | None = None, on: Basis | None = None
) -> Rivals:
    made = compared(offers, cloth or construction(), on or basis())
    return Rivals(made, offers, ())


def cost_in(comparison: Comparison, key: str) -> float:
    """Cost of a metre of a pair, worked out from the quoted price on."""
    pair = comparison.find(*key.split("/"))
    assert pair is not None
    sheet, inputs = comparison.sheet_of(pair)
    assert isinstance(sheet, Sheet)
    return float(sheet.evaluate({n: float(e.value) for n, e in inputs.items()})[FIGURE])


OFFERS = (
    of("T1", "2.50"),
    of("T2", "52.00", currency="MXN", term="DAP", place="mill"),
    of("T3", "120", currency="EUR", price_unit="100 lb", payment="OA 60"),
    of("T4", "2.10", spinning="OE"),
)


@pytest.mark.parametrize("code", ["T1", "T2", "T3", "T4"])
@pytest.mark.parametrize("which", [LEADER, ALIKE])
def test_a_price_to_beat_put_into_the_offer_makes_both_cost_the_same(code: str, which: str) -> None:
    field = field_of(OFFERS)
    wanted = next(each for each in OFFERS if each.code == code)
    found = field.prices_to_beat(wanted)
    assert [each.place for each in found] == ["warp", "filling", BOTH]
    met = 0
    for price in found:
        against = price.against(which)
        if against is None or against.tie is None:
            continue
        met += 1
        moved = tuple(
            replace(each, price=Decimal(repr(against.tie.value))) if each.code == code else each
            for each in OFFERS
        )
        again = compared(moved, construction(), basis())
        with_it, without = cost_in(again, price.pair.key), cost_in(again, against.other.name)
        assert with_it == pytest.approx(without, rel=1e-9)
        assert with_it == pytest.approx(against.tie.cost, rel=1e-9)
        assert code not in against.other.name.split("/")
    assert met >= 2 or (code, which) == ("T4", ALIKE)


def test_the_leader_is_told_how_much_room_it_has_before_another_takes_over() -> None:
    field = field_of(OFFERS)
    assert field.comparison.leader is not None
    assert field.comparison.leader.key == "T4/T4"
    for price in field.prices_to_beat(OFFERS[3]):
        assert price.leads
        assert price.leader is not None
        assert price.leader.tie is not None
        assert price.leader.tie.distance > 0
        assert "T4" not in price.leader.other.name
    both = field.prices_to_beat(OFFERS[3])[2]
    assert both.leader is not None
    dearer = replace(OFFERS[3], price=Decimal(repr(both.leader.tie.value * 1.001)))  # type: ignore[union-attr]
    again = compared((*OFFERS[:3], dearer), construction(), basis())
    assert again.leader is not None
    assert again.leader.key == both.leader.other.name


def test_the_best_of_the_same_spinning_is_another_pair_than_the_leader() -> None:
    warp = field_of(OFFERS).prices_to_beat(OFFERS[1])[0]
    assert warp.leader is not None
    assert warp.alike is not None
    assert warp.leader.other.name == "T4/T4"
    assert warp.alike.other.costing.yarns[0].spinning == "ring"
    assert warp.alike.difference < warp.leader.difference


def test_alone_in_the_cloth_there_is_nothing_to_beat() -> None:
    (only,) = field_of((OFFERS[0],)).prices_to_beat(OFFERS[0])
    assert only.place == BOTH  # no other partner in either direction
    assert only.leader is None
    assert only.alike is None
    assert not only.leads


def test_an_expired_offer_is_held_against_the_possible_ones() -> None:
    dead = replace(OFFERS[0], valid_until=basis().as_of)
    found = field_of((dead, *OFFERS[1:])).prices_to_beat(dead)
    assert {each.pair.state for each in found} == {"impossible"}
    assert all(each.leader is not None and each.leader.tie is not None for each in found)


def test_no_possible_partner_says_so() -> None:
    dead = replace(OFFERS[0], valid_until=basis().as_of)
    cloth = construction(slots=(slot("warp"), slot("filling", ne=10.0)))
    field = field_of((OFFERS[1],), cloth)
    assert field.prices_to_beat(OFFERS[1]) == ()
    assert field.why_none(OFFERS[1]) == "no possible partner in the other direction"
    assert field_of((dead,)).comparison.leader is None


def test_a_price_with_breaks_is_that_of_the_quantity_needed() -> None:
    on = basis(quantity="season")
    broken = of("T5", "2.70", breaks=(PriceBreak(Decimal(10), Decimal("2.60")),))
    found = field_of((*OFFERS, broken), on=on).prices_to_beat(broken)
    assert {float(each.quoted.value) for each in found} == {2.60}


def test_a_second_warp_yarn_has_its_own_price_to_beat() -> None:
    """The offer as the further yarn of a direction, and the leader without the one that is it."""
    slots = (
        slot("warp", share_of_threads=0.5),
        slot("warp", position=2, ne=8.0, share_of_threads=0.5),
        slot("filling"),
    )
    cloth = construction(slots=slots)
    cheap, dear = of("T6", "2.00", ne="8"), of("T7", "2.20", ne="8")
    offers = (*OFFERS, cheap, dear)
    field = field_of(offers, cloth)
    for wanted in (cheap, dear):
        (found,) = field.prices_to_beat(wanted)
        assert found.place == "warp2"
        against = found.leader
        assert against is not None
        assert against.tie is not None
        other = dear if wanted is cheap else cheap
        assert against.other.costing.key.split("/")[1] == other.code
        assert found.leads is (wanted is cheap)
        assert against.tie.value == pytest.approx(float(other.price), rel=1e-9)
        assert float(found.quoted.value) == float(wanted.price)


def test_as_a_further_yarn_it_stands_beside_others_not_beside_itself() -> None:
    """An offer that is near the count of both warp yarns and of the filling."""
    slots = (
        slot("warp", share_of_threads=0.5),
        slot("warp", position=2, ne=7.1, share_of_threads=0.5),
        slot("filling"),
    )
    cheapest = of("T8", "1.50")
    field = field_of((*OFFERS, cheapest), construction(slots=slots))
    found = {each.place: each for each in field.prices_to_beat(cheapest)}
    assert set(found) == {"warp", "filling", BOTH, "warp2"}
    names = [yarn.name for yarn in found["warp2"].with_it.costing.yarns]
    assert names[1] == "T8"
    assert "T8" not in (names[0], names[2])
    for each in found.values():
        assert each.leader is not None
        assert "T8" not in [yarn.name for yarn in each.leader.other.costing.yarns]
