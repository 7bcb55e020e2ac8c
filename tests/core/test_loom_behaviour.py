"""Loom efficiency from stops: against the chain, a simulation, the assumed rule and a story."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.core.assumptions import STOPS_KINDS
from server.core.candidates import with_stops
from server.core.costing import Costing, bought, own_spun
from server.core.errors import Missing
from server.core.loom_behaviour import (
    FROM_STOPS,
    interference,
    lacking,
    running_share,
    stops_of,
    weaver_load,
)
from server.core.movements import Contender
from server.core.pair import fabric_inputs, fabric_sheet
from server.core.stops_compared import stops_compared
from server.core.ties import contest
from server.core.weaving import efficiency_from_stops
from tests.builders import (
    DAY,
    assumption_set,
    construction,
    offer,
    slot,
    yarn,
)
from tests.core.loom import STOPS, chain, compared, demo, figures, filling, known, simulated

often = settings(max_examples=150, deadline=None)
looms = st.integers(1, 40)
factors = st.floats(1e-6, 50.0)


@pytest.mark.parametrize("machines", [1, 2, 3, 6, 8, 12, 20])
@pytest.mark.parametrize("factor", [0.001, 0.03, 0.07, 0.15, 0.5, 2.0])
def test_the_shares_are_those_of_the_birth_and_death_chain(machines: int, factor: float) -> None:
    running, load, waiting = chain(machines, factor)
    at = {"looms_per_weaver": float(machines), "servicing_factor": factor}
    ours = running_share(**at)
    assert ours == pytest.approx(running, rel=1e-9)
    assert weaver_load(**at) == pytest.approx(load, rel=1e-9)
    assert interference(running_share=ours, servicing_factor=factor) == pytest.approx(
        waiting, abs=1e-12
    )
    assert ours * machines * factor == pytest.approx(weaver_load(**at), rel=1e-12)


def test_a_simulation_gives_the_same_and_equal_repairs_give_more() -> None:
    """H. Ashcroft 1950 takes every repair as equally long; that is another model."""
    machines, factor = 8, 0.1
    ours = running_share(looms_per_weaver=float(machines), servicing_factor=factor)
    at_random = simulated(machines, factor, lambda chance: chance.expovariate(1.0), 200_000)
    equal = simulated(machines, factor, lambda _: 1.0, 200_000)
    assert at_random == pytest.approx(ours, abs=0.003)
    assert ours + 0.01 < equal < ours + 0.05


@often
@given(machines=looms, factor=factors, more=st.floats(1.001, 3.0))
def test_the_running_share_falls_with_stops_repairs_and_looms(
    machines: int, factor: float, more: float
) -> None:
    here = running_share(looms_per_weaver=float(machines), servicing_factor=factor)
    assert 0 < here < 1
    assert running_share(looms_per_weaver=float(machines), servicing_factor=factor * more) < here
    another = running_share(looms_per_weaver=float(machines + 1), servicing_factor=factor)
    assert another < here or here - another < 1e-12 < 1 - here < 1e-4
    assert here <= 1 / (1 + factor) * (1 + 1e-12)
    assert weaver_load(looms_per_weaver=float(machines), servicing_factor=factor) <= 1


@often
@given(machines=looms, many=st.lists(factors, min_size=1, max_size=8))
def test_arrays_give_the_bits_of_numbers(machines: int, many: list[float]) -> None:
    for share in (running_share, weaver_load):
        one_by_one = [share(looms_per_weaver=float(machines), servicing_factor=f) for f in many]
        together = share(looms_per_weaver=float(machines), servicing_factor=np.array(many))
        assert together.tolist() == one_by_one


def test_one_loom_and_a_loom_without_stops_are_simple() -> None:
    assert running_share(looms_per_weaver=1.0, servicing_factor=0.25) == 0.8
    assert running_share(looms_per_weaver=12.0, servicing_factor=0.0) == 1.0
    assert weaver_load(looms_per_weaver=12.0, servicing_factor=0.0) == 0.0
    nearly = running_share(looms_per_weaver=8.0, servicing_factor=1e-15)
    assert nearly == pytest.approx(1 - 1e-15, abs=1e-15)
    busy = running_share(looms_per_weaver=8.0, servicing_factor=1e6)
    assert busy == pytest.approx(1 / 8e6, rel=1e-6)


def test_a_loom_with_its_own_weaver_has_the_efficiency_of_its_stopped_time() -> None:
    found = figures(
        compared(
            (offer(code="W"), filling("F", "2.10")),
            assumptions=known(fabric__looms_per_weaver=1.0, fabric__planned_stops=0.0),
        ),
        "W",
        "F",
    )
    by_time = efficiency_from_stops(
        loom_rpm=620.0,
        stops_in_100000_picks=found["stops"],
        minutes_of_stop=found["mean_repair"],
    )
    assert found["loom_efficiency"] == pytest.approx(by_time, rel=1e-12)


def test_the_efficiency_of_a_pair_by_hand() -> None:
    """2.4 + 1.7 + 0.4 stops; 6.888 + 2.04 + 1.2 = 10.128 min; 620 a minute: 0.0627936."""
    found = figures(compared((offer(code="W"), filling("F", "2.10"))), "W", "F")
    assert found["stops"] == pytest.approx(4.5, rel=1e-12)
    assert found["repair_work"] == pytest.approx(10.128, rel=1e-12)
    assert found["mean_repair"] == pytest.approx(2.250667, rel=1e-6)
    assert found["stops_per_hour"] == pytest.approx(1.674, rel=1e-12)
    assert found["servicing_factor"] == pytest.approx(0.0627936, rel=1e-9)
    running, load, waiting = chain(8, 0.0627936)
    assert found["running_share"] == pytest.approx(running, rel=1e-9)
    assert found["weaver_load"] == pytest.approx(load, rel=1e-9)
    assert found["interference"] == pytest.approx(waiting, rel=1e-7)
    assert found["loom_efficiency"] == pytest.approx(0.98 * running, rel=1e-9)


def test_off_is_the_sheet_of_before_to_the_last_line_and_digit() -> None:
    offers = (offer(code="W"), filling("F", "2.10", tests={"filling_stops": 9.0}))
    cloth = construction(slots=(slot("warp", spinning="ring"), slot("filling")))
    off = compared(offers, "as assumed")
    bare = compared(offers, "as assumed", assumptions=assumption_set())
    assert fabric_sheet(cloth, "as assumed").lines == fabric_sheet(cloth).lines
    assert not any("stops" in name for name in fabric_sheet(cloth).input_names)
    assert fabric_inputs(cloth, known()).keys() == fabric_inputs(cloth, assumption_set()).keys()
    assert off.grid.fabric_cost.tolist() == bare.grid.fabric_cost.tolist()
    assert all(each.stops is None for each in (*off.warp.candidates, *off.filling.candidates))
    assert off.leader is not None
    assert stops_compared(off, off.leader) == ()


def test_the_cost_against_the_assumed_efficiency_is_the_difference_of_the_two_rules() -> None:
    for code in ("DN-1250", "DN-1050S"):
        on, off = demo(code, FROM_STOPS), demo(code, "as assumed")
        assert on.leader is not None
        warp, weft = on.leader.key.split("/")
        stops, assumed = figures(on, warp, weft), figures(off, warp, weft)
        apart = stops["fabric_cost"] - assumed["fabric_cost"]
        assert stops["cost_against_assumed"] == pytest.approx(apart, abs=1e-12)
        assert stops["assumed_weaving"] == assumed["weaving"]
        assert stops["yarn_cost"] == assumed["yarn_cost"]


@often
@given(
    at=st.sampled_from(["warp_stops__ring", "filling_stops__OE", "other_stops", "warp_repair",
                        "filling_repair", "other_repair", "looms_per_weaver", "planned_stops"]),
    more=st.integers(1, 12),
)  # fmt: skip
def test_every_figure_of_the_rule_lowers_the_efficiency(at: str, more: int) -> None:
    offers = (offer(code="W"), filling("F", "2.10"))
    step = 0.02 if at == "planned_stops" else 1.0
    name = f"fabric__{at}"
    worse = known(**{name: STOPS[name] + more * step})
    before = figures(compared(offers), "W", "F")
    after = figures(compared(offers, assumptions=worse), "W", "F")
    assert 0 < after["loom_efficiency"] < before["loom_efficiency"] < 1
    assert after["fabric_cost"] > before["fabric_cost"]


def test_the_grid_of_all_pairs_has_the_bits_of_each_pair_alone() -> None:
    fillings = tuple(
        filling(f"F{place}", f"2.{place:02d}", tests={"filling_stops": 0.7 * place})
        for place in range(12)
    )
    warps = tuple(
        offer(code=f"W{place}", tests={"average_ne": 7.0, "warp_stops": 1.1 * place})
        for place in range(9)
    )
    found = compared((*warps, *fillings), cloth=construction())
    assert found.grid.fabric_cost.shape == (21, 21)
    for row, one in enumerate(found.warp.candidates):
        for column, other in enumerate(found.filling.candidates):
            alone = figures(found, one.offer.code, other.offer.code)["fabric_cost"]
            assert found.grid.fabric_cost[row, column] == alone


def test_measured_stops_stand_in_place_of_the_sets_and_say_where_they_come_from() -> None:
    measured = filling("F", "2.10", tests={"filling_stops": 5.5})
    measured = replace(measured, test_sources={"filling_stops": ("loom count, lot 7", DAY)})
    found = stops_of(slot("filling"), "OE", measured, known())
    assert (found.value, found.source, found.on) == (5.5, "loom count, lot 7", DAY)
    assert found.as_entered == "measured, 1.7 in the set"
    assert found.where == "/offers/F"
    assert stops_of(slot("warp"), "OE", measured, known()).value == 2.9
    assert stops_of(slot("filling"), "OE", measured, assumption_set()).as_entered == "measured"


@pytest.mark.parametrize(
    ("spinning", "stops"), [("ring", 2.4), ("compact ring", 2.4), ("OE", 2.9), ("air-jet", 2.6)]
)
def test_compact_yarn_stops_the_loom_as_ring_yarn_does(spinning: str, stops: float) -> None:
    assert stops_of(slot("warp"), spinning, None, known()).value == stops


def test_what_the_set_lacks_is_named_in_one_message() -> None:
    offers = (offer(code="W"), filling("F", "2.10"))
    with pytest.raises(Missing, match=r"Other stops in 100,000 picks .*Looms of one weaver"):
        compared(offers, assumptions=assumption_set())
    names = lacking(assumption_set(), [("warp", "ring"), ("filling", "OE"), ("warp", "")])
    assert len(names) == 8
    assert names[-2:] == (
        "Warp stops in 100,000 picks, ring yarn",
        "Filling stops in 100,000 picks, OE yarn",
    )
    assert lacking(known(), [("warp", "ring")]) == ()


def test_an_offer_whose_stops_nobody_knows_is_named_and_not_ranked() -> None:
    some = {name: value for name, value in STOPS.items() if name != "fabric__filling_stops__OE"}
    offers = (
        offer(code="W"),
        filling("F", "2.10"),
        filling("G", "2.20", tests={"filling_stops": 2.0}),
    )
    found = compared(offers, assumptions=assumption_set(**some))
    reasons = {each.offer.code: each.reason for each in found.unpriced}
    assert "Filling stops in 100,000 picks, OE yarn" in reasons["F"]
    assert found.leader is not None
    assert found.leader.filling.offer.code == "G"
    unknown = replace(filling("H", "2.00"), yarn=yarn(spinning=""))
    with pytest.raises(Missing, match="How H is spun is not known"):
        stops_of(slot("filling"), "", unknown, known())


def test_a_further_yarn_without_stops_is_refused() -> None:
    cloth = construction(
        slots=(slot("warp"), slot("filling"), replace(slot("filling"), position=2))
    )
    some = {name: value for name, value in STOPS.items() if "filling_stops" not in name}
    off = compared((offer(code="W"),), "as assumed", cloth)
    with pytest.raises(Missing, match="Filling stops in 100,000 picks, ring yarn"):
        with_stops(off.filling, assumption_set(**some))


def test_a_costing_has_the_efficiency_of_its_own_yarns() -> None:
    found = demo("DN-1250", FROM_STOPS)
    assert found.leader is not None
    yarns = tuple(bought(each, each.slot) for each in found.leader.members)
    made = Costing(found.construction, found.basis, found.assumptions, yarns)
    assert made.figures["fabric_cost"] == found.leader.figures["fabric_cost"]
    own = tuple(own_spun(each, "ring", found.assumptions) for each in found.construction.slots)
    ring = Costing(found.construction, found.basis, found.assumptions, own)
    assert ring.figures["stops"] == pytest.approx(2.4 + 1.6 + 0.4, rel=1e-12)
    assert ring.inputs["warp.stops"].source.startswith("demo value")


def test_ties_of_stops_put_back_give_nothing_and_looms_do_not_move() -> None:
    found = demo("DN-1250", FROM_STOPS)

    def contender(warp: str, weft: str) -> Contender:
        pair = found.find(warp, weft)
        assert pair is not None
        yarns = tuple(bought(each, each.slot) for each in pair.members)
        made = Costing(found.construction, found.basis, found.assumptions, yarns)
        return Contender(pair.key, pair.key, made)

    held = contest(contender("Q14", "Q20"), contender("Q14", "Q21"))
    keys = {each.key: each for each in held.movements}
    assert {"filling_stops:Q21", "filling_stops:Q20", "fabric.warp_stops.OE"} <= keys.keys()
    assert "looms_per_weaver" not in keys
    assert keys["filling_stops:Q21"].offer == "Q21"
    tie = held.tie_in("filling_stops:Q21")
    assert tie is not None
    assert 1.7 < tie.value < 12
    first, second = held.costs((tie.movement, tie.factor))
    assert first == pytest.approx(second, rel=1e-9)


def test_every_value_of_the_rule_is_in_the_catalogue_with_limits() -> None:
    assert len(STOPS_KINDS) == 12
    assert {kind.key for kind in STOPS_KINDS} == {
        name.replace("__", ".").replace("air_jet", "air-jet") for name in STOPS
    }
    assert all(kind.group == "fabric" and kind.most for kind in STOPS_KINDS)
    assert [kind.key for kind in STOPS_KINDS if kind.whole] == ["fabric.looms_per_weaver"]
