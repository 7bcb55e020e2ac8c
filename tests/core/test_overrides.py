"""A named person accepts a finding: what may be, for which role, how long, and where it shows."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from server.core.compare import compare
from server.core.errors import BadValue
from server.core.gate import (
    ACCEPTABLE,
    ACCEPTED,
    FAIL,
    IMPOSSIBLE,
    POSSIBLE,
    ROLES,
    UNKNOWN,
    UNPROVEN,
    Limit,
    refuse_unacceptable,
)
from server.core.offer import Offer
from server.core.offer_gate import gate_of_offer
from server.core.overrides import ALL_ROLES, Override
from server.export.columns import CELL_COLUMNS, EXCLUDED_COLUMNS, PAIR_COLUMNS, as_record
from tests.builders import (
    assumption_set,
    basis,
    construction,
    offer,
    rate_book,
    slot,
    supplier,
    yarn,
)
from tests.core.test_gate import LIMITS, WARP, finding, held, with_test

REASON = "Trial beam of 3,000 m ran without a break more than usual"


def override(about: str, role: str = ALL_ROLES, **changes: Any) -> Override:
    values: dict[str, Any] = {
        "id": 1,
        "role": role,
        "about": about,
        "reason": REASON,
        "person": "Rosalía Quintero",
        "on": date(2026, 3, 2),
    }
    return Override(**values | changes)


def weak(*overrides: Override) -> Offer:
    return offer(tests={**offer().tests, "tenacity": 10.0}, overrides=overrides)


def test_an_accepted_finding_counts_as_pass_and_keeps_what_was_found() -> None:
    assert held(weak()).state == IMPOSSIBLE
    standing = held(weak(override("tenacity")))
    assert standing.state == POSSIBLE
    assert standing.reasons == ()
    (accepted,) = standing.accepted
    assert (accepted.about, accepted.outcome, accepted.was) == ("tenacity", ACCEPTED, FAIL)
    assert accepted.value == "10 cN/tex"
    assert accepted.limit == "at least 12.5 cN/tex"
    assert accepted.decision == (
        "Tenacity 10 cN/tex, at least 12.5 cN/tex for warp, rope-dyed; accepted by Rosalía "
        f"Quintero on 2026-03-02: {REASON}"
    )


def test_a_decision_holds_in_its_role_only() -> None:
    for_filling = weak(override("tenacity", "filling"))
    assert held(for_filling).state == IMPOSSIBLE
    assert held(for_filling, slot("filling")).state == POSSIBLE
    for_rope = weak(override("tenacity", WARP))
    assert held(for_rope).state == POSSIBLE
    assert held(for_rope, slot("filling")).state == IMPOSSIBLE


@pytest.mark.parametrize(
    ("until", "state"),
    [
        (None, POSSIBLE),
        (date(2026, 3, 2), POSSIBLE),
        (date(2026, 3, 1), IMPOSSIBLE),
    ],
)
def test_a_decision_holds_until_its_day_against_the_as_of_date(
    until: date | None, state: str
) -> None:
    standing = held(weak(override("tenacity", until=until)), basis=basis(as_of=date(2026, 3, 2)))
    assert standing.state == state


def test_one_decision_accepts_one_finding_and_leaves_the_others() -> None:
    met = offer(
        tests={"tenacity": 10.0, "hairiness": 12.0, "evenness": 12.0},
        overrides=(override("tenacity"),),
    )
    standing = held(met)
    assert standing.state == IMPOSSIBLE
    assert standing.reasons == ("Hairiness H 12, at most 10 for warp, rope-dyed",)


def test_an_unknown_value_and_an_origin_file_can_be_accepted() -> None:
    untested = offer(tests={}, overrides=tuple(override(key) for key in ACCEPTABLE))
    standing = held(untested)
    assert standing.state == POSSIBLE
    assert {each.was for each in standing.accepted} == {UNKNOWN}
    pending = offer(supplier=supplier(origin_state="pending"), overrides=(override("origin file"),))
    assert held(pending).state == POSSIBLE


def test_the_deviation_of_the_count_can_be_accepted_and_an_unknown_count_cannot() -> None:
    accepted = (override("average count"),)
    off = held(offer(yarn=yarn(count=6.8), overrides=accepted))
    assert finding(off, "average count").outcome == ACCEPTED
    unknown = offer(yarn=yarn(count_basis="base", effect="slub"), overrides=accepted)
    assert finding(held(unknown), "average count").outcome == UNKNOWN


@pytest.mark.parametrize(
    ("about", "met"),
    [
        ("validity", {"valid_until": date(2026, 3, 1)}),
        ("arrival", {"lead_days": 200}),
        ("question: currency", {"currency": ""}),
    ],
)
def test_what_expired_is_late_or_unsaid_stays_as_it_is(about: str, met: dict[str, Any]) -> None:
    standing = held(offer(**met, overrides=(override(about),)))
    assert standing.state in (IMPOSSIBLE, UNPROVEN)
    assert standing.accepted == ()
    with pytest.raises(BadValue, match="cannot be accepted") as refused:
        refuse_unacceptable(about, ALL_ROLES)
    assert refused.value.remedy


@pytest.mark.parametrize(
    ("about", "role", "field", "remedy"),
    [
        ("validity", ALL_ROLES, "about", "quoted again"),
        ("arrival", ALL_ROLES, "about", "need-by"),
        ("twist", ALL_ROLES, "about", "Change what the construction asks for"),
        ("question: term", ALL_ROLES, "about", "Enter the seller's answer"),
        ("price", ALL_ROLES, "about", "What can be: tenacity"),
        ("tenacity", "weft", "role", "all roles or one of: warp, rope-dyed"),
    ],
)
def test_a_refusal_says_what_to_do_instead(about: str, role: str, field: str, remedy: str) -> None:
    with pytest.raises(BadValue) as refused:
        refuse_unacceptable(about, role)
    assert refused.value.field == field
    assert remedy in refused.value.remedy


def test_every_finding_that_can_be_accepted_is_accepted_by_name() -> None:
    for about in ACCEPTABLE:
        for role in (ALL_ROLES, *ROLES):
            refuse_unacceptable(about, role)


def test_the_narrower_decision_speaks_where_two_hold() -> None:
    both = weak(
        override("tenacity", person="Anyone"), override("tenacity", WARP, person="Warp master")
    )
    (accepted,) = held(both).accepted
    assert accepted.override is not None
    assert accepted.override.person == "Warp master"


def test_a_finding_that_passes_is_not_shown_as_accepted() -> None:
    standing = held(offer(overrides=(override("tenacity"),)))
    assert standing.state == POSSIBLE
    assert standing.accepted == ()


def test_fancy_yarns_are_not_held_to_imperfections() -> None:
    limits = (*LIMITS, Limit(7, WARP, "imperfections", 400.0, "1/km", "trial", "Owner"))
    rough = with_test(imperfections=900.0)
    failed = finding(held(rough, limits=limits), "imperfections")
    assert (failed.outcome, failed.limit, failed.owner) == (FAIL, "at most 400 1/km", "Owner")
    fancy = offer(tests=rough.tests, yarn=yarn(effect="slub"))
    standing = held(fancy, limits=limits)
    assert standing.state == POSSIBLE
    assert not {"evenness", "imperfections"} & {each.about for each in standing.findings}


def test_the_gate_of_an_offer_looks_at_every_role_and_every_slot_it_fits() -> None:
    cloths = (construction(), construction(code="T-2", slots=(slot(ne=12.0), slot("filling"))))
    gate = gate_of_offer(weak(), basis(), rate_book(), cloths, LIMITS)
    assert {role: each.state for role, each in gate.roles.items()} == {
        "warp, rope-dyed": IMPOSSIBLE,
        "warp, slasher-dyed": IMPOSSIBLE,
        "warp, undyed": POSSIBLE,
        "filling": IMPOSSIBLE,
    }
    assert [(each.construction.code, each.slot.name) for each in gate.places] == [
        ("T-1375", "warp"),
        ("T-1375", "filling"),
        ("T-2", "filling"),
    ]
    assert gate.open_to_decision == ("tenacity",)


def test_a_decision_stands_in_every_table_of_a_comparison() -> None:
    def compared(*offers: Offer) -> Any:
        return compare(construction(), basis(), assumption_set(), rate_book(), offers, LIMITS)

    accepted = weak(override("tenacity"))
    comparison = compared(accepted)
    told = as_record(PAIR_COLUMNS, comparison.leader)["accepted"]
    assert told.count("accepted by Rosalía Quintero on 2026-03-02") == 2
    assert "T01 as warp: Tenacity 10 cN/tex" in told
    assert "T01 as filling" in told
    (cell,) = (each for row in comparison.cells for each in row if each.best)
    assert as_record(CELL_COLUMNS, cell)["accepted"] == told
    sound = compared(offer())
    assert as_record(PAIR_COLUMNS, sound.leader)["accepted"] == ""
    half = offer(
        tests={"tenacity": 10.0, "evenness": 12.0, "hairiness": 12.0},
        overrides=(override("tenacity"),),
    )
    excluded = compared(half, offer(code="T02")).excluded
    assert REASON in as_record(EXCLUDED_COLUMNS, excluded[0])["accepted"]
