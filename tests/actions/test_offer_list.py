"""What the list of offers is asked: filters, order and places as texts, and all that matches."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import Engine

from server.actions import offer_list
from server.actions.compare import BasisChange
from server.actions.offer_list import (
    SORTS,
    Place,
    Wanted,
    every_offer,
    list_offers,
    matching_codes,
    place_text,
    read_place,
    read_wanted,
    wanted_texts,
)
from server.core.errors import BadValue, NotFound
from tests.list_addresses import VALUES, WANTED
from tests.many_offers import add_many

SAME = BasisChange({}, {})


@given(WANTED)
def test_what_is_wanted_is_read_back_from_its_texts(wanted: Wanted) -> None:
    assert read_wanted(wanted_texts(wanted)) == wanted


@given(st.data())
def test_a_place_is_read_back_from_its_text(data: st.DataObject) -> None:
    key = data.draw(st.sampled_from(tuple(SORTS)))
    sort = SORTS[key]
    kinds = VALUES[sort.kind] | st.none() if sort.optional else VALUES[sort.kind]
    place = Place(data.draw(kinds), data.draw(st.integers(0, 999_999_999)))
    assert read_place("after", place_text(place), Wanted(sort=key)) == place


def test_a_place_can_be_read_by_people() -> None:
    assert place_text(Place(2.415, 123)) == "2.415~123"
    assert place_text(Place(date(2026, 3, 12), 7)) == "2026-03-12~7"
    assert place_text(Place(None, 7)) == "~7"


@pytest.mark.parametrize(
    ("asked", "field", "remedy"),
    [
        ({"sort": "price"}, "sort", "Sort by one of offer, supplier"),
        ({"state": "asleep"}, "state", "open, expired, unproven or replaced"),
        ({"quoted_from": "12.3.2026"}, "quoted_from", "2026-03-12"),
        ({"valid_to": "2026-02-30"}, "valid_to", "2026-03-12"),
        ({"intake": "-1"}, "intake", "from the intake's page"),
        ({"intake": "9999999999"}, "intake", "from the intake's page"),
        ({"q": "x" * 201}, "q", "at most 200 characters"),
        ({"supplier": "x" * 201}, "supplier", "at most 200 characters"),
    ],
)
def test_what_cannot_be_asked_is_refused_with_a_remedy(
    asked: dict[str, str], field: str, remedy: str
) -> None:
    with pytest.raises(BadValue) as refused:
        read_wanted(asked)
    assert refused.value.field == field
    assert remedy in refused.value.remedy


@pytest.mark.parametrize(
    "text", ["x", "~", "~x", "nan~1", "inf~1", "2.5", "2.5~9999999999", "1~-1", "a~1", "١~1"]
)
def test_a_place_that_is_none_is_refused(text: str) -> None:
    if text == "١~1":  # a digit of another script is a number all the same
        assert read_place("after", text, Wanted(sort="landed_price")) == Place(1.0, 1)
        return
    with pytest.raises(BadValue, match="no place in a list sorted by landed_price"):
        read_place("after", text, Wanted(sort="landed_price"))


def test_all_that_matches_is_read_a_piece_at_a_time_in_one_order(
    house_engine: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    add_many(house_engine, 150)
    monkeypatch.setattr(offer_list, "PIECE", 40)
    for wanted in (Wanted(), Wanted(sort="landed_price", descending=True), Wanted(state="open")):
        basis, rows = every_offer(house_engine, wanted, SAME)
        codes = [each.code for each in rows]
        listed = list_offers(house_engine, wanted, SAME, rows=500)
        assert basis == listed.basis
        assert codes == [each.code for each in listed.part.rows]
        assert matching_codes(house_engine, wanted, SAME) == tuple(codes)
        assert len(codes) == len(set(codes)) > 40


def test_the_basis_may_be_named_and_changed(house_engine: Engine) -> None:
    dollars = list_offers(house_engine, Wanted(), SAME, rows=5)
    euros = list_offers(house_engine, Wanted(), BasisChange({"currency": "EUR"}, {}), rows=5)
    assert (dollars.currency, euros.currency) == ("USD", "EUR")
    assert dollars.part.rows[0].goods_price == pytest.approx(
        (euros.part.rows[0].goods_price or 0) * 1.186
    )
    later = BasisChange({"meeting": date(2026, 6, 1)}, {})
    assert list_offers(house_engine, Wanted(state="open"), later, rows=50).part.count == 0
    with pytest.raises(NotFound):
        list_offers(house_engine, Wanted(), SAME, "Nobody's basis", rows=5)
    wrong = BasisChange({"meeting": date(2026, 6, 9), "need_by": date(2026, 6, 1)}, {})
    with pytest.raises(BadValue, match="before the meeting"):
        list_offers(house_engine, Wanted(), wrong, rows=5)


def test_what_can_be_chosen_is_what_there_is(house_engine: Engine) -> None:
    listed = list_offers(house_engine, Wanted(), SAME, rows=5)
    assert "Thuyền Sao Yarn" in listed.suppliers
    assert listed.countries[:3] == ("Bangladesh", "Brazil", "China")
    assert "Türkiye" in listed.countries
