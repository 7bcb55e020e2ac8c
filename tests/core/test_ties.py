"""Ties put back give zero, for any two costings; what moves both moves both."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from server.core.assumptions import AssumptionSet
from server.core.change import change
from server.core.costing import Costing, bought, landed_again, own_spun
from server.core.errors import BadValue
from server.core.movements import Contender, SetMoney, movements_of
from server.core.offer import PriceBreak
from server.core.should_cost import ROUTES
from server.core.ties import FIGURES, Contest, contest
from tests.builders import basis, construction, demo_book, demo_comparison, is_printed_as, slot
from tests.core.costings import RATES, costing, costings, yarn_of

often = settings(max_examples=60, deadline=None)
BREAKS = (PriceBreak(Decimal(40), Decimal("1.90")), PriceBreak(Decimal(80), Decimal("1.80")))


def held(first: Costing, second: Costing, figure: str = "fabric_cost") -> Contest:
    second = replace(second, basis=first.basis)
    return contest(
        Contender("first", "first", first), Contender("second", "second", second), figure
    )


def put_back(found: Contest) -> None:
    """Every tie of a contest, put back into both sheets by hand."""
    for tie in found.ties:
        costs = []
        for place, each in enumerate((found.first, found.second)):
            values = {name: float(entry.value) for name, entry in each.inputs.items()}
            for name, power in tie.movement.moved[place].items():
                values[name] *= tie.factor**power
            if each.costing.basis.quantity == "first price":
                costs.append(float(each.costing.sheet.evaluate(values)[found.figure]))
            else:
                costs.append(float(woven_anew(each.costing, values).figures[found.figure]))
        assert costs[1] == pytest.approx(costs[0], rel=1e-10), tie.movement.key
        assert tie.cost == pytest.approx(costs[0], rel=1e-10)


def woven_anew(was: Costing, values: dict[str, float]) -> Costing:
    """A costing made again from the start: other cloth, other prices, other assumptions."""
    cloth = was.construction
    whole = ("total_ends", "reed_width_in", "loom_ppi", "length_shrink", "tail_in",
             "finished_width_in", "cuttable_width_in", "net_finish")  # fmt: skip
    slots = tuple(
        replace(each, crimp=values[f"{each.name}.crimp"], waste=values[f"{each.name}.waste"])
        for each in cloth.slots
    )
    moved: dict[str, Any] = {name: values[name] for name in whole}
    changed = replace(cloth, slots=slots, **moved)
    by_breaks = landed_again(was, changed, RATES)
    yarns = []
    for yarn in by_breaks.yarns:
        inputs = {}
        for name, entry in yarn.inputs.items():
            other = values[name] != float(was.inputs[name].value)
            inputs[name] = replace(entry, value=values[name]) if other else entry
        yarns.append(replace(yarn, inputs=inputs))
    assumed = {}
    for key, points in was.assumptions.values.items():
        name = {"finishing": "finishing_rate", "inspection": "inspection_rate"}.get(
            key.removeprefix("fabric."), key.removeprefix("fabric.")
        )
        assumed[key] = tuple(
            (ne, replace(entry, value=values.get(name, entry.value))) for ne, entry in points
        )
    return replace(
        by_breaks, yarns=tuple(yarns), assumptions=replace(was.assumptions, values=assumed)
    )


@often
@given(first=costings(), second=costings(), figure=st.sampled_from(FIGURES))
def test_a_tie_put_back_gives_zero(first: Costing, second: Costing, figure: str) -> None:
    found = held(first, second, figure)
    assume(not found.even)
    put_back(found)
    distances = [abs(tie.distance) for tie in found.ties]
    assert distances == sorted(distances)
    assert all(each <= 0.9 for each in distances)
    assert len(found.ties) + len(found.untied) == len(found.movements)


@often
@given(before=costings(), swap=costings(), place=st.integers(0, 4))
def test_ties_of_neutral_alternatives_put_back(before: Costing, swap: Costing, place: int) -> None:
    reached = change(before, replace(swap, basis=before.basis), RATES).reached
    put_back(held(before, reached[place % len(reached)][1]))


@often
@given(
    routes=st.tuples(*[st.sampled_from(ROUTES)] * 4),
    ne=st.tuples(st.floats(6, 10), st.floats(6, 10)),
    hours_in_parts=st.booleans(),
)
def test_ties_of_own_spinning_put_back(
    routes: tuple[str, ...], ne: tuple[float, float], hours_in_parts: bool
) -> None:
    cloth = construction(slots=(slot("warp", ne=ne[0]), slot("filling", ne=ne[1])))
    first, second = (own(cloth, pair, parts=hours_in_parts) for pair in (routes[:2], routes[2:]))
    found = held(first, second)
    assume(routes[:2] != routes[2:])
    put_back(found)


def own(cloth: object, routes: tuple[str, ...], *, parts: bool = False) -> Costing:
    book = demo_book()
    assumptions = book.assumption_set(f"Rinconada 2026{', hours in parts' if parts else ''}")
    yarns = (own_spun(s, r, assumptions) for s, r in zip(cloth.slots, routes, strict=True))  # type: ignore[attr-defined]
    return Costing(cloth, book.basis(), assumptions, tuple(yarns))  # type: ignore[arg-type]


@often
@given(
    metres=st.floats(50_000, 900_000),
    ends=st.floats(3500, 4500),
    incremental=st.booleans(),
    price=st.decimals("1.50", "2.50", places=2),
)
def test_ties_hold_when_the_quantity_moves_an_offer_over_a_price_break(
    metres: float, ends: float, incremental: bool, price: Decimal
) -> None:
    """Ends and picks ask for more yarn, and more yarn has another price."""
    on = basis(quantity="metres", metres=metres)
    kind = "incremental" if incremental else "all units"
    broken = yarn_of(7.0, "B", price=Decimal("2.10"), breaks=BREAKS, break_kind=kind)
    plain = yarn_of(7.0, "P", price=price)
    first = costing(construction(total_ends=ends), broken, plain, on=on)
    second = costing(construction(total_ends=ends), plain, broken, on=on)
    found = held(first, second)
    assume(not found.even)
    put_back(found)


def test_a_jump_over_a_price_break_is_no_tie() -> None:
    on = basis(quantity="metres", metres=300_000.0)
    broken = yarn_of(
        7.0, "B", price=Decimal("2.40"), breaks=(PriceBreak(Decimal(150), Decimal("1.20")),)
    )
    plain = yarn_of(7.0, "P", price=Decimal("2.00"))
    first = costing(construction(), broken, plain, on=on)
    second = costing(construction(), plain, yarn_of(7.0, "P2", price=Decimal("2.00")), on=on)
    found = held(first, second)
    jumps = {each.movement.key for each in found.untied if each.jump}
    assert "total_ends" in jumps
    put_back(found)


def test_the_world_moves_both_and_an_offer_moves_where_it_is_used() -> None:
    pesos = yarn_of(7.0, "M", price=Decimal("45.00"), currency="MXN")
    dollars, shared = yarn_of(7.0, "D"), yarn_of(7.0, "S")
    cloth = construction()
    found = held(costing(cloth, pesos, shared), costing(cloth, dollars, shared))
    movers = {each.key: each.movers for each in found.movements}
    assert movers["exchange_rate.MXN"] == (0,)
    assert movers["loom_rpm"] == (0, 1)
    assert movers["quoted_price:M"] == (0,)
    assert movers["quoted_price:D"] == (1,)
    assert movers["quoted_price:S"] == (0, 1)
    assert movers["loom_ppi"] == (0, 1)
    assert movers["first:loom_ppi"] == (0,)
    assert movers["second:loom_ppi"] == (1,)


def test_one_offer_in_warp_and_filling_moves_in_both_places() -> None:
    both, other = yarn_of(7.0, "B"), yarn_of(7.0, "O", price=Decimal("2.9"))
    found = held(costing(construction(), both, both), costing(construction(), both, other))
    moved = next(each for each in found.movements if each.key == "quoted_price:B").moved
    assert set(moved[0]) == {"warp.quoted_price", "filling.quoted_price"}
    assert set(moved[1]) == {"warp.quoted_price"}


def test_what_goes_in_steps_and_what_is_zero_does_not_move() -> None:
    found = held(
        costing(construction(), yarn_of(7.0, "A"), yarn_of(7.0, "B")),
        costing(construction(), yarn_of(7.0, "C"), yarn_of(7.0, "D")),
    )
    for each in found.movements:
        assert each.input.unit not in ("d", "d/a", "kg"), each.key
        assert each.present != 0
        assert "repeat" not in each.key
    keys = {each.key for each in found.movements}
    assert not keys & {"exchange_rate.USD", "in_the_price", "not_in_route", "season_metres"}


def test_cotton_of_every_route_moves_in_proportion() -> None:
    cloth = construction()
    found = held(own(cloth, ("ring", "OE")), own(cloth, ("OE", "OE")))
    cotton = next(each for each in found.movements if each.key == "cotton")
    assert dict(cotton.moved[0]) == {"ring.fibre_price": 1, "OE.fibre_price": 1}
    assert dict(cotton.moved[1]) == {"OE.fibre_price": 1}
    assert cotton.present == 1.78
    assert cotton.along == ("OE 1.6 ¤/kg",)
    moved = found.first.moved(0, (cotton, 2.0))
    assert moved == {"ring.fibre_price": 3.56, "OE.fibre_price": 3.2}


def test_a_speed_by_count_moves_wherever_the_route_spins() -> None:
    cloth = construction(slots=(slot("warp", ne=7.0), slot("filling", ne=10.0)))
    found = held(own(cloth, ("ring", "ring")), own(cloth, ("ring", "OE")))
    speed = next(each for each in found.movements if each.key == "ring.spindle_rpm")
    assert set(speed.moved[0]) == {"warp.own.spindle_rpm", "filling.own.spindle_rpm"}
    assert set(speed.moved[1]) == {"warp.own.spindle_rpm"}
    assert speed.along == ("11000 rpm",)


def test_a_changed_assumption_moves_in_its_own_option_alone() -> None:
    offers = (yarn_of(7.0, "A"), yarn_of(7.0, "B"))
    first = costing(construction(), *offers)
    second = replace(first, assumptions=with_value(first.assumptions, "fabric.loom_rpm", 700.0))
    keys = {each.key for each in held(first, second).movements}
    assert {"first:loom_rpm", "second:loom_rpm"} <= keys
    assert "loom_rpm" not in keys


def with_value(assumptions: AssumptionSet, key: str, value: float) -> AssumptionSet:
    points = tuple((ne, replace(e, value=value)) for ne, e in assumptions.values[key])
    return replace(assumptions, values={**assumptions.values, key: points})


@pytest.mark.parametrize("inverse", [True, False])
def test_the_rate_of_the_sets_currency_moves_the_money_of_the_set(inverse: bool) -> None:
    """As if the rate were entered anew: the set's money at the new rate, the offers as quoted."""
    book = demo_book()
    reporting, of_set = ("USD", "MXN") if inverse else ("MXN", "USD")
    on = replace(book.basis(), currency=reporting)
    rate, found_inverse = book.rates.exchange(of_set, reporting, on.rates_on)
    assert found_inverse == inverse
    there = replace(book.assumption_set("Rinconada 2026"), currency=of_set)

    def spun(routes: tuple[str, ...], at: float) -> Costing:
        factor = 1 / at if inverse else at
        entries = {
            key: tuple(
                (ne, replace(e, value=e.value * factor if e.unit.startswith("¤") else e.value))
                for ne, e in points
            )
            for key, points in there.values.items()
        }
        assumptions = replace(there, currency=reporting, values=entries)
        cloth = book.construction("DN-1375")
        yarns = (
            own_spun(each, route, assumptions)
            for each, route in zip(cloth.slots, routes, strict=True)
        )
        return Costing(cloth, on, assumptions, tuple(yarns))

    compared = demo_comparison("DN-1375")
    assert compared.leader is not None
    first = spun(("ring", "OE"), float(rate.value))
    money = SetMoney(of_set, rate, found_inverse)
    contenders = [Contender("a", "a", first)]
    movement = next(
        each
        for each in movements_of(contenders, "fabric_cost", money=money)
        if each.key == f"exchange_rate.{of_set}"
    )
    moved = float(contenders[0].cost("fabric_cost", 0, (movement, 1.25)))
    entered = spun(("ring", "OE"), float(rate.value) * 1.25)
    assert moved == pytest.approx(entered.figures["fabric_cost"], rel=1e-12)
    assert moved != pytest.approx(first.figures["fabric_cost"], rel=1e-3)


def test_efficiency_does_not_pass_one_and_a_width_keeps_its_place() -> None:
    found = held(
        costing(construction(), yarn_of(7.0, "A"), yarn_of(7.0, "B")),
        costing(construction(), yarn_of(7.0, "C"), yarn_of(7.0, "D")),
        "fabric_per_area",
    )
    most = {each.key: each.present * each.most for each in found.movements}
    least = {each.key: each.present * each.least for each in found.movements}
    cloth = construction()
    assert most["loom_efficiency"] == pytest.approx(1.0)
    assert most["first:cuttable_width_in"] == pytest.approx(cloth.finished_width_in)
    assert least["first:reed_width_in"] == pytest.approx(cloth.finished_width_in)


def test_two_alike_are_even_and_have_no_ties() -> None:
    one = costing(construction(), yarn_of(7.0, "A"), yarn_of(7.0, "B"))
    found = held(one, one)
    assert found.even
    assert found.ties == ()


def test_a_figure_that_one_of_them_lacks_is_refused() -> None:
    offers = (yarn_of(7.0, "A"), yarn_of(7.0, "B"))
    bare = costing(construction(garment_metres=None, garment_width_in=None), *offers)
    other = costing(construction(garment_metres=None, garment_width_in=None), *reversed(offers))
    with pytest.raises(BadValue, match="no such figure"):
        held(bare, other, "garment_fabric")


def demo_pair(code: str, key: str) -> Contender:
    compared = demo_comparison(code)
    pair = compared.find(*key.split("/"))
    assert pair is not None
    yarns = tuple(bought(each, each.slot) for each in pair.members)
    return Contender(
        key, key, Costing(compared.construction, compared.basis, compared.assumptions, yarns)
    )


def test_story_06_peso_decides() -> None:
    """Trade guide 7.13: Q25 against Q22 for DN-1200S tie at 17.00 MXN/USD; demo rate 17.20."""
    found = contest(demo_pair("DN-1200S", "Q25/Q35"), demo_pair("DN-1200S", "Q22/Q35"))
    tie = found.tie_in("exchange_rate.MXN")
    assert tie is not None
    assert is_printed_as(tie.value, "17.00")
    assert tie.movement.present == 17.2
    first, second = found.costs((tie.movement, 16.9 / 17.2))
    assert first > second


@pytest.mark.parametrize(
    ("code", "first", "second", "offer", "printed"),
    [
        ("DN-1200S", "Q25/Q35", "Q22/Q35", "Q22", "2.547"),
        ("DN-1375", "Q14/Q10", "Q14/Q12", "Q12", "51.09"),
        ("DN-1450", "Q01/Q07", "Q01/Q05", "Q05", "97.10"),
    ],
)
def test_story_08_price_to_beat(
    code: str, first: str, second: str, offer: str, printed: str
) -> None:
    """Trade guide 7.13, in the seller's own unit and currency."""
    found = contest(demo_pair(code, first), demo_pair(code, second))
    tie = found.tie_in(f"quoted_price:{offer}")
    assert tie is not None
    assert is_printed_as(tie.value, printed)
