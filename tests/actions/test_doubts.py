"""Doubts of stored offers: each by itself, and its price beside the house and the others."""

from __future__ import annotations

from sqlalchemy import Engine

from server.actions.compare import BasisChange, sound_basis_change
from server.actions.doubts import doubts_of
from server.actions.nouns import NOUNS
from server.actions.offers import landed_offer
from server.actions.records import add_record, one_record
from server.core.doubts import Doubt
from tests.entered import as_form

STORED = BasisChange({}, {})


def test_doubts_of_an_offer_are_its_own_and_those_of_its_price(house_engine: Engine) -> None:
    def keys(code: str, **asked: str) -> list[str]:
        change = sound_basis_change(asked)
        landed = landed_offer(house_engine, code, change)
        return [doubt.key for doubt in doubts_of(house_engine, landed, change)]

    found = {f"Q{n:02d}": keys(f"Q{n:02d}") for n in range(1, 41)}
    assert {code: each for code, each in found.items() if each} == {
        "Q04": ["ring in name only"],
        "Q08": ["count tolerance"],
        "Q17": ["ring in name only"],
        "Q21": ["below fibre"],
        "Q23": ["base count"],
    }
    assert keys("Q21", currency="EUR") == ["below fibre"]


def test_a_price_far_from_the_others_and_one_with_tax_inside(house_engine: Engine) -> None:
    values = as_form(one_record(house_engine, NOUNS["offers"], "Q09").values)
    for code, price in (("D1", "4.20"), ("D2", "2.96")):  # 2.62 × 1.13 = 2.9606
        add_record(house_engine, NOUNS["offers"], values | {"code": code, "price": price}, 1)

    def found(code: str) -> tuple[Doubt, ...]:
        return doubts_of(house_engine, landed_offer(house_engine, code, STORED), STORED)

    (far,) = found("D1")
    assert far.key == "far from others"
    assert "above the median of 6 other offers" in far.sentence  # Q09 to Q13 and D2
    assert [doubt.key for doubt in found("D2")] == ["tax inside"]
    assert found("Q10") == ()
