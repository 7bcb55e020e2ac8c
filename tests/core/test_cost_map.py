"""The map of the cheapest option is what each option's own sheet says at each point."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from server.core.compare import Comparison, compare
from server.core.cost_map import (
    COARSE,
    POINTS,
    CostMap,
    Side,
    can_be_own,
    cost_map,
    nearest_two,
    options_of,
)
from server.core.movements import movements_of
from server.core.should_cost import ROUTES
from tests.builders import demo_book, slot

PARTS = "Rinconada 2026, hours in parts"
FIGURE = "fabric_cost"


def compared(code: str = "DN-1375", set_name: str = PARTS, **changes: object) -> Comparison:
    book = demo_book()
    on = replace(book.basis(), assumption_set=set_name, **changes)  # type: ignore[arg-type]
    return compare(
        book.construction(code),
        on,
        book.assumption_set(set_name),
        book.rates,
        book.current_offers,
        book.limits,
    )


def made(which: str = "all", x: str = "cotton", y: str = "power", **on: object) -> CostMap:
    options = options_of(compared(**on), which)  # type: ignore[arg-type]
    by_key = {each.key: each for each in movements_of(options, FIGURE)}
    return cost_map(options, FIGURE, Side(by_key[x], 0.7, 1.3), Side(by_key[y], 0.7, 1.3))


def test_every_point_is_what_the_sheets_say_there() -> None:
    held = made()
    for row, column in ((0, 0), (60, 60), (17, 99), (120, 3)):
        x, y = held.x.factors[column], held.y.factors[row]
        costs = []
        for option in held.contenders:
            values = {name: float(entry.value) for name, entry in option.inputs.items()}
            for name in values:
                values[name] *= x if name.endswith(".fibre_price") else 1
                values[name] *= y if name.endswith(".power_tariff") else 1
            costs.append(float(option.costing.sheet.evaluate(values)[FIGURE]))
        assert held.costs[:, row, column] == pytest.approx(costs, rel=1e-12)
        assert held.winners[row, column] == int(np.argmin(costs))


def test_the_middle_of_the_usual_map_is_today_and_shares_sum_to_one() -> None:
    held = made()
    middle = POINTS // 2
    assert held.costs[:, middle, middle] == pytest.approx(held.present, rel=1e-12)
    assert sum(held.shares) == pytest.approx(1.0)
    assert held.coarse[0] == 0
    assert held.coarse[-1] == POINTS - 1
    assert len(held.coarse) == COARSE


def test_where_the_cheapest_changes_both_cost_the_same() -> None:
    held = made()
    stays = held.stays(held.x)
    assert held.contenders[held.leader].name == "own OE/own OE"
    assert stays.down is None
    assert stays.up is not None
    assert stays.then_up is not None
    assert held.contenders[stays.then_up].name == "Q14/Q14"
    ours, theirs = (held.cost_at(place, stays.up, 1.0) for place in (held.leader, stays.then_up))
    assert ours == pytest.approx(theirs, rel=1e-12)


def test_offers_do_not_follow_cotton() -> None:
    held = made("bought", x="quoted_price:Q14", y="quoted_price:Q09")
    assert not any("fibre_price" in name for each in held.contenders for name in each.inputs)
    whole = made()
    bought = [place for place, each in enumerate(whole.contenders) if "own" not in each.name]
    for place in bought:
        assert np.ptp(whole.costs[place]) == 0.0


def test_the_same_thing_on_both_sides_multiplies() -> None:
    held = made("own", x="cotton", y="ring.fibre_price")
    place = next(i for i, each in enumerate(held.contenders) if each.name == "own ring/own ring")
    ring = held.contenders[place]
    alone = ring.option(FIGURE).cost({"ring.fibre_price": 1.78 * 1.2 * 1.1})
    assert held.cost_at(place, 1.2, 1.1) == pytest.approx(float(alone), rel=1e-12)


def test_the_options_are_the_best_pairs_and_own_spinning_of_every_route() -> None:
    comparison = compared()
    names = [each.name for each in options_of(comparison)]
    assert names[: len(comparison.ladder)] == [pair.key for pair in comparison.ladder]
    assert len(names) == len(comparison.ladder) + len(ROUTES) ** 2


def test_a_yarn_that_cannot_be_spun_here_is_bought() -> None:
    """The filling of DN-1200S has a core, which no should-cost holds."""
    own = [each.name for each in options_of(compared("DN-1200S"), "own")]
    assert own == ["own ring/Q35", "own OE/Q35", "own air-jet/Q35"]
    assert not can_be_own(slot("filling", core="elastane"), "ring")
    assert not can_be_own(slot("warp", spinning="ring"), "OE")
    assert can_be_own(slot("warp", spinning="compact ring"), "ring")


def test_the_nearest_two_are_those_that_turn_the_order_first() -> None:
    options = options_of(compared(), "bought")
    given = tuple(each for each in movements_of(options, FIGURE) if each.is_given)
    first, second = nearest_two(options, FIGURE, given)
    assert first.key == "quoted_price:Q09"
    assert second.key != first.key
