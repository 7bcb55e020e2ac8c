"""Changing several offers at once: what is refused, what is stored, what comes back."""

from __future__ import annotations

import tracemalloc

import pytest
from sqlalchemy import Engine

from server.actions import bulk
from server.actions.book import current_book
from server.actions.nouns import NOUNS, Refused
from server.actions.records import change_record, history_of, one_record
from server.core.errors import BadValue, Conflict, NotFound
from server.store.undo import CannotUndo
from tests.many_offers import add_many
from tests.store.databases import events

OFFERS = NOUNS["offers"]


def offer(engine: Engine, code: str) -> dict[str, object]:
    return one_record(engine, OFFERS, code).values


def edit(engine: Engine, code: str, **typed: str) -> None:
    """One offer's own edit, beside the change of many."""
    kept = one_record(engine, OFFERS, code)
    change_record(engine, OFFERS, code, {**kept.values, **typed}, kept.version, 1)


def change(engine: Engine, codes: tuple[str, ...], **typed: str) -> bulk.Stored:
    wanted = bulk.read_wanted({f"to_{name}": text for name, text in typed.items()})
    return bulk.store_change(engine, wanted, bulk.preview(engine, codes, wanted).seen, 1)


def test_no_quoted_field_is_offered_unless_it_can_be_answered() -> None:
    assert {"lead_days", "valid_until", "twist", "preparation", "fibre_mix", "capacity_tonnes",
            "moq_tonnes", "count_tolerance_percent", "notes", "test_method"} <= set(
        bulk.FIELDS
    )  # fmt: skip
    assert not {"code", "supplier", "as_quoted", "price", "count", "quoted_on", "replaces",
                "break1_price", "tax_inside_percent", "tenacity"} & set(bulk.FIELDS)  # fmt: skip
    assert "currency" in bulk.FIELDS
    assert not {"fibre_mix", "currency", "term"} & set(bulk.CLEARED)  # always there, or quoted


def test_the_preview_says_from_what_to_what_and_what_is_refused(house_engine: Engine) -> None:
    wanted = bulk.read_wanted({"to_lead_days": "30", "to_currency": "USD", "to_twist": "Z"})
    found = bulk.preview(house_engine, ("Q01", "Q02"), wanted)
    told = [(line.code, line.field, line.before, line.after, line.refused) for line in found.lines]
    assert told == [
        ("Q02", "currency", "MXN", "USD", "kept as quoted; record a re-quote"),
        ("Q02", "lead_days", 18, 30, ""),
    ]  # fmt: skip
    assert (found.offers, found.changes, found.refused, found.unchanged) == (2, 1, 1, 1)
    assert len(found.seen) == 1


def test_storing_leaves_one_moment_in_the_history_of_each_offer(house_engine: Engine) -> None:
    before = len(events(house_engine))
    stored = change(house_engine, ("Q01", "Q02"), lead_days="44", twist="S", notes="asked anew")
    assert (stored.offers, stored.changes) == (2, 6)
    assert {event.at for event in events(house_engine)[before:]} == {stored.at}
    for code in ("Q01", "Q02"):
        kept = one_record(house_engine, OFFERS, code)
        assert (kept.values["lead_days"], kept.values["twist"]) == (44, "S")
        newest = history_of(house_engine, OFFERS, kept.id)[0]
        assert {field for field, _, _ in newest.changes} == {"lead_days", "notes", "twist"}
    assert offer(house_engine, "Q03")["lead_days"] != 44
    assert current_book(house_engine).offer("Q01").yarn.twist == "S"


def test_a_changed_yarn_is_shared_by_the_offers_of_one_description(house_engine: Engine) -> None:
    change(house_engine, ("Q01",), preparation="combed")
    first = current_book(house_engine).offer("Q01").yarn
    change(house_engine, ("Q01",), preparation="carded")
    change(house_engine, ("Q01",), preparation="combed")
    assert current_book(house_engine).offer("Q01").yarn.id == first.id


def test_what_does_not_fit_an_offer_is_refused_for_it_alone(house_engine: Engine) -> None:
    wanted = bulk.read_wanted({"to_valid_until": "2026-02-22", "to_notes": "short"})
    found = bulk.preview(house_engine, ("Q01", "Q05"), wanted)
    refused = {(line.code, line.field): line.refused for line in found.lines if line.refused}
    assert refused == {("Q05", "valid_until"): "is before the day of the quote; check both dates"}
    change(house_engine, ("Q01", "Q05"), valid_until="2026-02-22", notes="short")
    assert str(offer(house_engine, "Q01")["valid_until"]) == "2026-02-22"
    assert str(offer(house_engine, "Q05")["valid_until"]) == "2026-03-28"
    assert offer(house_engine, "Q05")["notes"] == "short"


def test_a_blank_quoted_field_is_answered_and_its_question_closed(house_engine: Engine) -> None:
    codes = tuple(add_many(house_engine, 600, seed=3))
    asked = [o for o in current_book(house_engine).offers if o.code in codes]
    blank = next(o for o in asked if not o.term)
    put = next(o for o in asked if any(q.field == "count_basis" for q in o.asked))
    change(house_engine, (blank.code,), term="FOB")
    assert offer(house_engine, blank.code)["term"] == "FOB"
    basis = "base" if put.yarn.count_basis != "base" else "average"
    stored = change(house_engine, (put.code,), count_basis=basis)
    assert not current_book(house_engine).offer(put.code).asked
    bulk.undo_change(house_engine, stored.at, stored.person_id, 1)
    assert current_book(house_engine).offer(put.code).asked


def test_test_method_changes_the_newest_lot_and_an_offer_without_one_is_refused(
    house_engine: Engine,
) -> None:
    codes = add_many(house_engine, 50, seed=5)
    book = current_book(house_engine)
    bare = next(code for code in codes if not book.offer(code).tests)
    wanted = bulk.read_wanted({"to_test_method": "our laboratory"})
    found = bulk.preview(house_engine, ("Q01", bare), wanted)
    assert [line.refused for line in found.lines] == ["", "the offer has no test value"]
    stored = bulk.store_change(house_engine, wanted, found.seen, 1)
    assert offer(house_engine, "Q01")["test_method"] == "our laboratory"
    bulk.undo_change(house_engine, stored.at, 1, 1)
    assert offer(house_engine, "Q01")["test_method"] == "supplier's sheet"


def test_an_offer_changed_since_the_preview_is_named_and_nothing_is_stored(
    house_engine: Engine,
) -> None:
    wanted = bulk.read_wanted({"to_lead_days": "44"})
    seen = bulk.preview(house_engine, ("Q01", "Q02", "Q03"), wanted).seen
    edit(house_engine, "Q02", notes="meanwhile")
    before = len(events(house_engine))
    with pytest.raises(Conflict, match="offer Q02"):
        bulk.store_change(house_engine, wanted, seen, 1)
    assert len(events(house_engine)) == before
    assert offer(house_engine, "Q01")["lead_days"] != 44


def test_offers_that_are_gone_store_nothing(house_engine: Engine) -> None:
    wanted = bulk.read_wanted({"to_lead_days": "44"})
    seen = [*bulk.preview(house_engine, ("Q01",), wanted).seen, (999_999, 1)]
    with pytest.raises(Conflict, match="1 of the offers"):
        bulk.store_change(house_engine, wanted, seen, 1)
    assert offer(house_engine, "Q01")["lead_days"] != 44


def test_the_whole_change_is_taken_back_to_the_digit(house_engine: Engine) -> None:
    codes = ("Q01", "Q05", "Q32")
    before = {code: offer(house_engine, code) for code in codes}
    stored = change(house_engine, codes, lead_days="44", twist="S", moq_tonnes="7.50",
                    fibre_mix="cotton", preparation="combed", valid_until="2026-06-01")  # fmt: skip
    bulk.undo_change(house_engine, stored.at, stored.person_id, 1)
    for code in codes:
        now = offer(house_engine, code)
        assert {k: str(v) for k, v in now.items()} == {k: str(v) for k, v in before[code].items()}
    kept = one_record(house_engine, OFFERS, "Q01")
    newest = {f: (a, b) for f, a, b in history_of(house_engine, OFFERS, kept.id)[0].changes}
    assert newest["twist"] == ("S", "Z")
    assert newest["lead_days"] == ("44", "30")


def test_an_undo_is_refused_with_the_offer_that_was_changed_since(house_engine: Engine) -> None:
    stored = change(house_engine, ("Q01", "Q02"), lead_days="44")
    edit(house_engine, "Q02", lead_days="45")
    with pytest.raises(CannotUndo) as refused:
        bulk.undo_change(house_engine, stored.at, stored.person_id, 1)
    assert [reason[:34] for reason in refused.value.reasons] == [
        "offer Q02 was changed since, on 20"
    ]
    assert offer(house_engine, "Q01")["lead_days"] == 44


def test_a_moment_of_another_kind_is_not_taken_back_here(house_engine: Engine) -> None:
    first = events(house_engine)[0]
    with pytest.raises(BadValue, match="not a change of several offers"):
        bulk.undo_change(house_engine, first.at, first.person_id, 1)


@pytest.mark.parametrize(
    ("asked", "field"),
    [
        ({"to_lead_days": "soon"}, "lead_days"),
        ({"to_valid_until": "2026-02-30"}, "valid_until"),
        ({"to_twist": "left"}, "twist"),
        ({"to_moq_tonnes": "-1"}, "moq_tonnes"),
        ({"to_currency": "XXQ"}, "currency"),
        ({"to_notes": "x", "clear_notes": "yes"}, "notes"),
    ],
)
def test_a_wrong_value_is_refused_beside_its_field(asked: dict[str, str], field: str) -> None:
    with pytest.raises(Refused) as refused:
        bulk.read_wanted(asked)
    assert [error.field for error in refused.value.errors] == [field]


def test_an_empty_field_changes_nothing_and_a_ticked_one_is_emptied(house_engine: Engine) -> None:
    assert bulk.read_wanted({"to_lead_days": " ", "to_notes": ""}) == {}
    wanted = bulk.read_wanted({"clear_notes": "yes", "clear_valid_until": "yes"})
    assert wanted == {"notes": "", "valid_until": None}
    bulk.store_change(house_engine, wanted, bulk.preview(house_engine, ("Q01",), wanted).seen, 1)
    assert offer(house_engine, "Q01")["valid_until"] is None


def test_the_filters_of_the_list_choose_the_same_offers(house_engine: Engine) -> None:
    chosen = bulk.selected_codes(house_engine, ("Q01",), {"all": "yes", "spinning": "air-jet"})
    assert chosen == ("Q32", "Q33")
    assert bulk.selected_codes(house_engine, ("Q02", "Q01", "Q02"), {}) == ("Q02", "Q01")
    state = bulk.selected_codes(house_engine, (), {"all": "yes", "state": "expired"})
    assert "Q06" in state
    assert "Q05" not in state


def test_an_unknown_code_is_not_found(house_engine: Engine) -> None:
    with pytest.raises(NotFound, match="none"):
        bulk.preview(house_engine, ("Q01", "none"), {"lead_days": 1})
    with pytest.raises(NotFound):
        bulk.preview(house_engine, ("Q\0",), {"lead_days": 1})


def test_too_many_offers_are_refused(house_engine: Engine) -> None:
    with pytest.raises(BadValue, match="20001 offers"):
        bulk.selected_codes(house_engine, [str(number) for number in range(20_001)], {})


def test_what_the_preview_saw_survives_its_short_text() -> None:
    seen = [(7, 1), (3, 1), (4, 1), (5, 2), (6, 2), (900, 13)]
    assert bulk.seen_as_text(seen) == "3-4.1 5-6.2 7.1 900.13"
    assert sorted(bulk.read_seen(bulk.seen_as_text(seen))) == sorted(seen)
    assert bulk.read_seen("") == []


@pytest.mark.parametrize(
    "text", ["3", "3.", "a.1", "5-3.1", "1-99999999.1", "1-20001.1", "3.1-", "٣.1"]
)
def test_a_damaged_form_is_refused(text: str) -> None:
    with pytest.raises(BadValue, match="at which version"):
        bulk.read_seen(text)


def test_nothing_chosen_is_nothing_to_change(house_engine: Engine) -> None:
    for wanted, seen in (({}, [(1, 1)]), ({"lead_days": 4}, [])):
        with pytest.raises(BadValue, match="nothing to change"):
            bulk.store_change(house_engine, wanted, seen, 1)


def test_thousands_of_offers_change_and_come_back_in_little_memory(house_engine: Engine) -> None:
    codes = tuple(add_many(house_engine, 4_000))
    wanted = bulk.read_wanted({"to_lead_days": "77", "to_twist": "S", "to_preparation": "combed"})
    bulk.preview(house_engine, codes[:600], wanted)  # what is loaded once is not counted
    tracemalloc.start()
    found = bulk.preview(house_engine, codes, wanted)
    stored = bulk.store_change(house_engine, wanted, found.seen, 1)
    bulk.undo_change(house_engine, stored.at, 1, 1)
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert stored.offers == len(found.seen) > 3_900
    assert bulk.preview(house_engine, codes, wanted).changes == found.changes
    assert most < 30_000_000
