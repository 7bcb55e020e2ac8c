"""What stops cost against the yarn with the fewest: a weak cheap yarn loses its lead."""

from __future__ import annotations

from dataclasses import replace

import pytest

from server.core.loom_behaviour import FROM_STOPS
from server.core.stops_compared import stops_compared
from tests.builders import construction, offer, slot
from tests.core.loom import compared, demo, figures, filling


def test_a_weak_cheap_yarn_loses_its_lead() -> None:
    """0.13 USD/kg cheaper, and twelve filling stops where the other has the 1.7 of its kind."""
    offers = (
        offer(code="W"),
        filling("WEAK", "1.97", tests={"filling_stops": 12.0}),
        filling("SOUND", "2.10"),
    )
    off, on = compared(offers, "as assumed"), compared(offers)
    assert off.leader is not None
    assert on.leader is not None
    assert (off.leader.key, on.leader.key) == ("W/WEAK", "W/SOUND")
    weak = on.find("W", "WEAK")
    assert weak is not None
    warp, weft = stops_compared(on, weak)
    assert warp.more == 0
    assert weft.fewest is not None
    assert (weft.stops.value, weft.fewest.offer.code) == (12.0, "SOUND")
    here = figures(on, "W", "WEAK")["fabric_cost"]
    sound = figures(on, "W", "SOUND")["fabric_cost"]
    yarn_alone = figures(on, "W", "SOUND")["yarn_cost"] - figures(on, "W", "WEAK")["yarn_cost"]
    assert weft.more == pytest.approx(here - sound + yarn_alone / 0.97, rel=1e-9)
    assert weft.more > yarn_alone / 0.97 > 0


def test_the_demonstrations_cheap_weak_filling_saves_nothing_on_the_loom() -> None:
    """Q21 would have saved 4.0 c/m in DN-1250; with its 12 filling stops it costs 1.9 c/m more."""

    def saving(rule: str) -> float:
        found = {each.candidate.offer.code: each for each in demo("DN-1250", rule).excluded}
        assert found["Q21"].saving is not None
        return found["Q21"].saving

    assert round(saving("as assumed"), 3) == 0.040
    assert round(saving(FROM_STOPS), 3) == -0.019


def test_two_yarns_of_a_direction_stop_the_loom_by_their_share_of_the_threads() -> None:
    first, second = slot("warp", share_of_threads=0.75), slot("warp", share_of_threads=0.25)
    cloth = construction(
        slots=(
            replace(first, pinned_offer="W"),
            replace(second, position=2, pinned_offer="V"),
            replace(slot("filling"), pinned_offer="F"),
        )
    )
    offers = (
        offer(code="W"),
        filling("V", "2.30", tests={"warp_stops": 6.0}),
        filling("F", "2.10"),
    )
    found = compared(offers, cloth=cloth)
    values = figures(found, "W", "F")
    assert values["warp_stops"] == pytest.approx(0.75 * 2.4 + 0.25 * 6.0, rel=1e-12)
    assert values["stops"] == pytest.approx(values["warp_stops"] + 1.7 + 0.4, rel=1e-12)
    assert found.grid.fabric_cost[0, 0] == values["fabric_cost"]
    assert found.leader is not None
    assert [each.fewest is None for each in stops_compared(found, found.leader)] == [
        False,
        False,
        True,
    ]
