"""Doubts are questions: each names what looks odd, and a plain offer has none."""

from __future__ import annotations

from decimal import Decimal

import pytest

from server.core.doubts import doubts_about
from server.core.offer import Core, PriceBreak
from tests.builders import offer, yarn

BREAKS = (PriceBreak(Decimal(40), Decimal("1.80")),)


def test_a_plain_offer_raises_no_doubt() -> None:
    assert doubts_about(offer()) == ()


@pytest.mark.parametrize(
    ("changes", "asked"),
    [
        ({"yarn": yarn(spinning="OE", description="Ring-look")}, "on which machine is it spun"),
        ({"yarn": yarn(spinning="OE", twist="S")}, "is the direction seen on the yarn"),
        ({"tests": {"tenacity": 11.0, "hairiness": 6.0}}, "look like a rotor yarn"),
        (
            {"yarn": yarn(effect="slub", count_basis="base", slub_added_mass=0.05), "tests": {}},
            "what is the measured average",
        ),
        (
            {
                "yarn": yarn(core="elastane", count_basis="average", cores=(Core(70, 3.5),)),
                "tests": {},
            },
            "whole yarn or of the sheath",
        ),
        ({"tests": {"average_ne": 6.9}}, "which one will be invoiced"),
    ],
)
def test_an_odd_offer_raises_one_question(changes: dict[str, object], asked: str) -> None:
    (doubt,) = doubts_about(offer(**changes))
    assert asked in doubt
    assert doubt.endswith("?")
    assert "Ask: " in doubt


@pytest.mark.parametrize(
    "changes",
    [
        {"yarn": yarn(spinning="ring", description="ring-spun")},
        {"yarn": yarn(twist="S")},
        {"tests": {"tenacity": 11.0, "hairiness": 8.0}},
        {"tests": {"tenacity": 14.0, "hairiness": 6.0}},
        {"tests": {"average_ne": 7.05}},
        {"breaks": BREAKS},
        {
            "yarn": yarn(core="elastane", count_basis="total", cores=(Core(70, 3.5),)),
            "tests": {"tenacity": 11.0, "hairiness": 6.0},
        },
    ],
)
def test_what_is_not_odd_raises_no_question(changes: dict[str, object]) -> None:
    assert doubts_about(offer(**changes)) == ()
