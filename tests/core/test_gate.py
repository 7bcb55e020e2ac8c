"""The gate: pass, fail or unknown, each with the value met and the limit it was held to."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from server.core.construction import Basis, Construction, Slot
from server.core.gate import (
    FAIL,
    IMPOSSIBLE,
    PASS,
    POSSIBLE,
    UNKNOWN,
    UNPROVEN,
    Finding,
    Limit,
    Standing,
    examine,
)
from server.core.offer import Offer
from server.core.rates import Lane
from tests.builders import basis, construction, demo_book, lane, offer, slot, supplier, yarn

WARP = "warp, rope-dyed"
LIMITS = (
    Limit(1, WARP, "tenacity", 12.5, "cN/tex", "trial"),
    Limit(2, WARP, "evenness", 13.5, "%", "trial"),
    Limit(3, WARP, "hairiness", 10.0, "", "trial"),
    Limit(4, WARP, "count_deviation", 0.015, "share", "trial"),
    Limit(5, "filling", "tenacity", 11.0, "cN/tex", "trial"),
    Limit(6, "warp, slasher-dyed", "tenacity", 11.5, "cN/tex", "trial"),
)


def held(met: Offer, place: Slot | None = None, **changes: Any) -> Standing:
    """An offer held to the trial limits as rope warp unless something else is said."""
    cloth: Construction = changes.pop("construction", construction())
    on: Basis = changes.pop("basis", basis())
    way: Lane | None = changes.pop("lane", lane())
    return examine(met, place or slot(), cloth, on, way, changes.pop("limits", LIMITS))


def finding(standing: Standing, about: str) -> Finding:
    return next(each for each in standing.findings if each.about == about)


def with_test(**values: float) -> Offer:
    return offer(tests={**offer().tests, **values})


def test_a_sound_offer_is_possible_and_has_no_reasons_against_it() -> None:
    standing = held(offer())
    assert standing.state == POSSIBLE
    assert standing.reasons == ()
    assert {each.outcome for each in standing.findings} == {PASS}


@pytest.mark.parametrize(
    ("until", "outcome"),
    [(date(2026, 3, 12), PASS), (date(2026, 3, 11), FAIL), (date(2026, 12, 31), PASS)],
)
def test_an_offer_must_be_valid_on_the_day_of_the_meeting(until: date, outcome: str) -> None:
    standing = held(offer(valid_until=until))
    assert finding(standing, "validity").outcome == outcome
    if outcome == FAIL:
        assert standing.reasons == (f"expired on {until}, before the meeting on 2026-03-12",)


@pytest.mark.parametrize(("lead", "outcome"), [(40, PASS), (41, FAIL)])
def test_lead_and_transit_must_fit_before_the_day_of_need(lead: int, outcome: str) -> None:
    standing = held(offer(lead_days=lead))
    assert finding(standing, "arrival").outcome == outcome
    assert finding(standing, "arrival").value == f"{lead + 45} d"
    assert finding(standing, "arrival").limit == "at most 85 d"


def test_without_a_lane_the_arrival_is_unknown() -> None:
    standing = held(offer(), lane=None)
    assert finding(standing, "arrival").outcome == UNKNOWN
    assert standing.state == UNPROVEN
    assert standing.reasons == ("no freight lane from Farland: arrival unknown",)


@pytest.mark.parametrize(
    ("state", "outcome", "standing"),
    [
        ("complete", PASS, POSSIBLE),
        ("partly documented", UNKNOWN, UNPROVEN),
        ("invoice chain only", UNKNOWN, UNPROVEN),
        ("pending", FAIL, IMPOSSIBLE),
        ("incomplete", FAIL, IMPOSSIBLE),
        ("missing", FAIL, IMPOSSIBLE),
    ],
)
def test_the_origin_file_decides(state: str, outcome: str, standing: str) -> None:
    found = held(offer(supplier=supplier(origin_state=state)))
    assert finding(found, "origin file").outcome == outcome
    assert found.state == standing


@pytest.mark.parametrize(
    ("ne", "outcome"), [(7.0, PASS), (7.105, PASS), (6.895, PASS), (7.11, FAIL), (6.89, FAIL)]
)
def test_the_average_count_stays_within_its_tolerance(ne: float, outcome: str) -> None:
    standing = held(offer(), slot(ne=7.0), limits=LIMITS)
    assert finding(standing, "average count").outcome == PASS
    other = finding(held(offer(yarn=yarn(count=ne)), slot(ne=7.0)), "average count")
    assert other.outcome == outcome
    assert (other.value, other.limit) == (f"Ne {ne:.2f}", "Ne 7 ± 1.5 %")
    if outcome == FAIL:
        apart = "1.6 % from the wanted Ne 7 (at most 1.5 %)"
        assert other.sentence == f"average count Ne {ne:.2f} is {apart}"


def test_a_count_whose_basis_is_not_said_is_a_question() -> None:
    standing = held(offer(yarn=yarn(count_basis="unknown", effect="slub")))
    assert finding(standing, "question: count_basis").outcome == UNKNOWN
    assert "average or base count, total or sheath?" in standing.reasons[0]


@pytest.mark.parametrize(
    ("key", "at_limit", "beyond"),
    [("tenacity", 12.5, 12.4), ("evenness", 13.5, 13.6), ("hairiness", 10.0, 10.1)],
)
def test_a_test_value_passes_at_its_limit_and_fails_beyond(
    key: str, at_limit: float, beyond: float
) -> None:
    assert finding(held(with_test(**{key: at_limit})), key).outcome == PASS
    failed = held(with_test(**{key: beyond}))
    assert finding(failed, key).outcome == FAIL
    assert f"{beyond:g}" in failed.reasons[0]
    assert WARP in failed.reasons[0]
    assert finding(failed, key).source == "trial"


def test_a_missing_test_value_is_unknown_and_never_a_pass() -> None:
    standing = held(offer(tests={}))
    assert standing.state == UNPROVEN
    assert finding(standing, "tenacity").outcome == UNKNOWN
    assert "Tenacity: no test value (at least 12.5 cN/tex)" in standing.reasons


def test_fancy_yarns_are_not_held_to_evenness() -> None:
    fancy = replace(with_test(evenness=21.0), yarn=yarn(effect="slub"))
    standing = held(fancy)
    assert standing.state == POSSIBLE
    assert "evenness" not in {each.about for each in standing.findings}


def test_each_role_has_its_own_limits() -> None:
    weak = with_test(tenacity=11.8)
    assert held(weak).state == IMPOSSIBLE
    assert held(weak, construction=construction(dyeing_route="slasher")).state == POSSIBLE
    assert held(weak, slot("filling")).state == POSSIBLE
    assert held(with_test(tenacity=10.9), slot("filling")).state == IMPOSSIBLE
    undyed = held(with_test(tenacity=1.0), construction=construction(dyeing_route="none"))
    assert undyed.state == POSSIBLE


@pytest.mark.parametrize(
    ("wanted", "met", "outcome"),
    [
        ({"twist": "Z"}, {"twist": "Z"}, PASS),
        ({"twist": "Z"}, {"twist": "S"}, FAIL),
        ({"twist": "Z"}, {"twist": "unknown"}, UNKNOWN),
        ({"spinning": "ring"}, {"spinning": "OE"}, FAIL),
        ({"fibre_mix": "cotton"}, {"fibre_mix": "50/50 polyester/cotton"}, FAIL),
        ({"effect": "slub"}, {"effect": "multi-count"}, PASS),
        ({"effect": "slub"}, {"effect": "multi-count slub"}, PASS),
        ({"effect": "slub"}, {"effect": "plain"}, FAIL),
        ({"effect": "plain"}, {"effect": "slub"}, FAIL),
    ],
)
def test_what_the_construction_wants_is_held_against_what_is_offered(
    wanted: dict[str, str], met: dict[str, str], outcome: str
) -> None:
    standing = held(offer(yarn=yarn(**met)), slot(**wanted))
    (key,) = wanted
    assert finding(standing, key.replace("_", " ")).outcome == outcome


def test_failures_come_before_questions() -> None:
    standing = held(
        offer(tests={}, valid_until=date(2026, 1, 1), supplier=supplier(origin_state="pending"))
    )
    assert standing.state == IMPOSSIBLE
    assert standing.reasons[0].startswith("expired")
    assert standing.reasons[1].startswith("cotton-origin file pending")
    assert all("no test value" in reason for reason in standing.reasons[2:])


def test_the_demo_gate_gives_the_expected_outcomes() -> None:
    book = demo_book()
    on = book.basis()

    def state(code: str, fabric: str, direction: str) -> Standing:
        cloth = book.construction(fabric)
        place = replace(cloth.slots_of(direction)[0], effect="any")
        met = book.offer(code)
        way = book.rates.lane(met.country, on.rates_on)
        return examine(met, place, cloth, on, way, book.limits)

    assert finding(state("Q04", "DN-1450", "warp"), "tenacity").outcome == FAIL
    assert finding(state("Q17", "DN-1375", "warp"), "tenacity").outcome == FAIL
    assert finding(state("Q21", "DN-1250", "filling"), "tenacity").outcome == FAIL
    assert finding(state("Q16", "DN-1375", "warp"), "arrival").value == "95 d"
    assert finding(state("Q37", "DN-1050S", "filling"), "arrival").value == "90 d"
    in_time = state("Q27", "DN-1200S", "warp")
    assert finding(in_time, "arrival").outcome == PASS
    assert finding(in_time, "arrival").value == "83 d"
    assert finding(in_time, "validity").outcome == FAIL
    for code, fabric, direction in (
        ("Q06", "DN-1450", "filling"),
        ("Q04", "DN-1450", "warp"),
        ("Q17", "DN-1375", "warp"),
    ):
        assert finding(state(code, fabric, direction), "validity").outcome == FAIL
    assert state("Q11", "DN-1375", "warp").state == UNPROVEN
    assert state("Q28", "DN-0975", "warp").state == UNPROVEN
