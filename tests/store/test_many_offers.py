"""Changing the fields of many offers, yarn and lot included, on both databases."""

from __future__ import annotations

from sqlalchemy import Engine

from server.actions import bulk
from server.actions.nouns import NOUNS
from server.store.many_offers import offers_by_code, offers_by_id
from server.store.session import reading
from tests.many_offers import add_many

OFFERS = NOUNS["offers"].keeper


def entries(engine: Engine, codes: list[str]) -> dict[str, dict[str, str]]:
    with reading(engine) as session:
        found = {code: OFFERS.one(session, code).values for code in codes}
    return {code: {k: str(v) for k, v in values.items()} for code, values in found.items()}


def test_hundreds_of_offers_change_in_one_moment_and_come_back(demo: Engine) -> None:
    codes = [*add_many(demo, 700), "Q01", "Q32"]
    before = entries(demo, [*codes[::70], "Q01", "Q32"])
    wanted = bulk.read_wanted(
        {"to_lead_days": "77", "to_twist": "S", "to_preparation": "combed", "to_term": "FOB",
         "to_test_lot": "L-1", "to_count_basis": "total", "to_valid_until": "2026-06-30"}
    )  # fmt: skip
    found = bulk.preview(demo, codes, wanted)
    stored = bulk.store_change(demo, wanted, found.seen, 1)
    assert (stored.offers, stored.changes) == (len(found.seen), found.changes)
    for values in entries(demo, list(before)).values():
        assert (values["lead_days"], values["twist"], values["valid_until"]) == (
            "77", "S", "2026-06-30",
        )  # fmt: skip
    assert not bulk.preview(demo, codes, wanted).changes
    bulk.undo_change(demo, stored.at, stored.person_id, 1)
    assert entries(demo, list(before)) == before
    again = bulk.preview(demo, codes, wanted)
    assert (again.changes, again.refused) == (found.changes, found.refused)


def test_offers_are_read_in_the_order_asked_for_and_unknown_ones_left_out(demo: Engine) -> None:
    fields = ("lead_days", "twist", "test_method")
    with reading(demo) as session:
        (piece,) = offers_by_code(session, ["Q05", "none", "Q01"], fields)
        assert [each.code for each in piece] == ["Q05", "Q01"]
        assert dict(piece[1].values) == {
            "lead_days": 30, "twist": "Z", "test_method": "supplier's sheet", "test_lot": "",
            "tested_on": None,
        }  # fmt: skip
        assert piece[1].tests == 5
        (by_id,) = offers_by_id(session, [piece[0].id, 999_999], fields)
        assert [each.code for each in by_id] == ["Q05"]
