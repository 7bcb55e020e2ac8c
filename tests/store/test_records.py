"""Each noun: added, read back, changed by one person at a time, refused when it cannot be right."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from decimal import Decimal
from threading import Barrier
from typing import Any

import pytest
from sqlalchemy import Engine
from sqlmodel import select

from server.actions.nouns import NOUNS
from server.core.errors import BadValue, Conflict, CreelbookError, NotFound
from server.store import tables
from server.store.assumptions import AssumptionKeeper
from server.store.audit import data_version
from server.store.offers import QUOTED
from server.store.people import add_person, first_person
from server.store.records import Kept
from server.store.session import reading, writing
from tests.store.databases import EDITS, EVERY_NOUN, GIVEN, as_typed, entry_of, events, store

every_noun = pytest.mark.parametrize("path", EVERY_NOUN)
keyed = pytest.mark.parametrize("path", ["suppliers", "offers", "constructions", "bases"])


def read(engine: Engine, path: str, key: str) -> Kept:
    with reading(engine) as session:
        return NOUNS[path].keeper.one(session, key)


def change(engine: Engine, person: int, path: str, key: str, version: int, **typed: Any) -> str:
    with writing(engine, person) as session:
        return NOUNS[path].keeper.change(session, key, entry_of(path, **typed), version)


def rows(engine: Engine, table: Any) -> list[Any]:
    with reading(engine) as session:
        return list(session.exec(select(table).order_by(table.id)).all())


# --- one record ----------------------------------------------------------------------------------


@every_noun
def test_what_was_entered_is_read_back_equal(engine: Engine, person: int, path: str) -> None:
    key = store(engine, person, path)
    kept = read(engine, path, key)
    assert as_typed(kept.values) == as_typed(entry_of(path))
    assert kept.key == key
    assert kept.version == 1
    assert kept.owner == "Rosalía Quintero"
    assert abs((datetime.now(UTC) - kept.changed_at).total_seconds()) < 60


@every_noun
def test_the_list_holds_the_record_as_its_page_does(engine: Engine, person: int, path: str) -> None:
    key = store(engine, person, path)
    with reading(engine) as session:
        (listed,) = NOUNS[path].keeper.all(session)
    assert listed == read(engine, path, key)


@every_noun
def test_an_edit_raises_the_version_by_one_and_keeps_the_rest(
    engine: Engine, person: int, path: str
) -> None:
    key = store(engine, person, path)
    before = read(engine, path, key)
    assert change(engine, person, path, key, 1, **EDITS[path]) == key
    after = read(engine, path, key)
    assert after.version == 2
    assert after.id == before.id
    assert after.changed_at > before.changed_at
    assert as_typed(after.values) == as_typed(entry_of(path, **EDITS[path]))
    assert after.values != before.values


@every_noun
def test_an_edit_of_a_version_that_is_gone_is_refused_and_stores_nothing(
    engine: Engine, person: int, path: str
) -> None:
    key = store(engine, person, path)
    change(engine, person, path, key, 1, **EDITS[path])
    before = read(engine, path, key)
    version_before = data_version(engine)
    for version in (0, 1, 3):
        with pytest.raises(Conflict, match="Open it again"):
            change(engine, person, path, key, version)
    assert read(engine, path, key) == before
    assert data_version(engine) == version_before


@every_noun
def test_a_record_belongs_to_who_entered_it_and_not_to_who_changed_it(
    engine: Engine, person: int, path: str
) -> None:
    other = add_person(engine, name="Teodoro Ancira")
    key = store(engine, other, path)
    change(engine, person, path, key, 1, **EDITS[path])
    assert read(engine, path, key).owner == "Teodoro Ancira"


@pytest.mark.parametrize(
    "key", ["nothing", "", "999999999", "99999999999999999999", "-1", "٣", "1; --", "\0", "a\0b"]
)
def test_a_key_that_nobody_has_is_not_found(engine: Engine, person: int, key: str) -> None:
    for path in EVERY_NOUN:
        with pytest.raises(NotFound):
            read(engine, path, key)
        with pytest.raises(NotFound):
            change(engine, person, path, key, 1)


@keyed
def test_a_taken_key_is_refused_beside_its_field(engine: Engine, person: int, path: str) -> None:
    store(engine, person, path)
    with pytest.raises(BadValue, match="already used") as refused:
        store(engine, person, path)
    assert refused.value.field == NOUNS[path].key
    with reading(engine) as session:
        assert len(NOUNS[path].keeper.all(session)) == 1


@keyed
def test_a_record_can_take_a_free_key_but_not_that_of_another(
    engine: Engine, person: int, path: str
) -> None:
    field = NOUNS[path].key
    first = store(engine, person, path)
    store(engine, person, path, **{field: "Second"})
    with pytest.raises(BadValue, match="already used"):
        change(engine, person, path, "Second", 1, **{field: first})
    assert change(engine, person, path, "Second", 1, **{field: "Third"}) == "Third"
    assert read(engine, path, "Third").version == 2


def test_a_second_limit_for_a_role_and_property_is_refused(engine: Engine, person: int) -> None:
    store(engine, person, "gate")
    with pytest.raises(BadValue, match="already used") as refused:
        store(engine, person, "gate", value="9")
    assert refused.value.field == "property"
    other = store(engine, person, "gate", property="hairiness")
    with pytest.raises(BadValue, match="already used"):
        change(engine, person, "gate", other, 1)


def test_a_fibre_mix_named_twice_in_a_basis_is_refused(engine: Engine, person: int) -> None:
    with pytest.raises(BadValue):
        store(engine, person, "bases", mix2="cotton", mix2_regain_percent="7")
    with reading(engine) as session:
        assert NOUNS["bases"].keeper.all(session) == []


# --- offers --------------------------------------------------------------------------------------


def test_an_offer_of_an_unknown_supplier_is_refused(engine: Engine, person: int) -> None:
    with pytest.raises(BadValue, match="no supplier") as refused:
        store(engine, person, "offers", supplier="Nobody")
    assert (refused.value.field, refused.value.value) == ("supplier", "Nobody")
    assert rows(engine, tables.YarnRow) == []


OTHERWISE = {
    "as_quoted": "something else",
    "supplier": "Second",
    "price": "2310.00",
    "currency": "USD",
    "price_unit": "kg",
    "tax_inside_percent": "0",
    "term": "CIF",
    "place": "",
    "payment": "CAD",
    "count": "6.5",
    "count_system": "Nm",
    "break_kind": "incremental",
    "quoted_on": "2026-02-19",
    "break1_from_tonnes": "41",
    "break1_price": "2250",
    "break2_from_tonnes": "100.5",
    "break2_price": "2191",
}


@pytest.mark.parametrize("field", OTHERWISE)
def test_a_quoted_figure_cannot_be_edited(engine: Engine, person: int, field: str) -> None:
    store(engine, person, "offers")
    store(engine, person, "suppliers", name="Second")
    with pytest.raises(BadValue, match="kept as quoted") as refused:
        change(engine, person, "offers", "X01", 1, **{field: OTHERWISE[field]})
    assert refused.value.field == field
    assert as_typed(read(engine, "offers", "X01").values) == as_typed(entry_of("offers"))


def test_a_break_cannot_be_added_to_or_taken_from_what_was_quoted(
    engine: Engine, person: int
) -> None:
    store(engine, person, "offers")
    for typed in (
        {"break2_from_tonnes": "", "break2_price": ""},
        {"break3_from_tonnes": "200", "break3_price": "2000"},
    ):
        with pytest.raises(BadValue, match="kept as quoted"):
            change(engine, person, "offers", "X01", 1, **typed)
    assert len(rows(engine, tables.PriceBreakRow)) == 2


def test_every_quoted_field_is_tried() -> None:
    assert set(QUOTED) - set(OTHERWISE) == {"break3_from_tonnes", "break3_price"}


def test_a_measured_value_taken_out_is_gone_and_the_others_stay(
    engine: Engine, person: int
) -> None:
    store(engine, person, "offers")
    change(engine, person, "offers", "X01", 1, evenness="")
    kept = {row.property: (row.value, row.row_version) for row in rows(engine, tables.TestValueRow)}
    assert kept == {"average_ne": (Decimal("6.50"), 1), "tenacity": (Decimal("14.60"), 1)}
    (removed,) = (each for each in events(engine) if each.action == "remove")
    assert removed.table_name == "test_value"
    assert removed.changes["value"] == ["19.8", None]


def test_offers_of_the_same_yarn_share_it_and_others_do_not(engine: Engine, person: int) -> None:
    store(engine, person, "offers")
    store(engine, person, "offers", code="X02", price="2400")
    assert len(rows(engine, tables.YarnRow)) == 1
    store(engine, person, "offers", code="X03", count="6.5")
    store(engine, person, "suppliers", name="Second")
    store(engine, person, "offers", code="X04", supplier="Second")
    assert len(rows(engine, tables.YarnRow)) == 3


def test_a_requote_replaces_and_the_chain_is_read_back(engine: Engine, person: int) -> None:
    store(engine, person, "offers")
    store(engine, person, "offers", code="X02", replaces="X01")
    store(engine, person, "offers", code="X03", replaces="X02")
    replaces = {code: read(engine, "offers", code).values["replaces"] for code in ("X02", "X03")}
    assert replaces == {"X02": "X01", "X03": "X02"}
    assert read(engine, "offers", "X01").values["replaces"] == ""


def test_an_offer_is_replaced_once(engine: Engine, person: int) -> None:
    store(engine, person, "offers")
    store(engine, person, "offers", code="X02", replaces="X01")
    with pytest.raises(BadValue, match="already replaced by X02") as refused:
        store(engine, person, "offers", code="X03", replaces="X01")
    assert refused.value.remedy == "Replace X02 instead."
    with pytest.raises(BadValue, match="to replace"):
        store(engine, person, "offers", code="X04", replaces="X99")


def test_a_replacing_offer_can_be_edited_renamed_and_untied(engine: Engine, person: int) -> None:
    store(engine, person, "offers")
    store(engine, person, "offers", code="X02", replaces="X01")
    change(engine, person, "offers", "X02", 1, code="X02", replaces="X01", lead_days="9")
    change(engine, person, "offers", "X02", 2, code="X02b", replaces="X01")
    change(engine, person, "offers", "X02b", 3, code="X02b", replaces="")
    assert read(engine, "offers", "X02b").values["replaces"] == ""


def test_a_construction_still_finds_its_pinned_offer_after_a_rename(
    engine: Engine, person: int
) -> None:
    store(engine, person, "offers")
    store(engine, person, "constructions", warp_pinned_offer="X01")
    change(engine, person, "offers", "X01", 1, code="X01b")
    key = GIVEN["constructions"]["code"]
    assert read(engine, "constructions", key).values["warp_pinned_offer"] == "X01b"


def test_offers_cannot_replace_each_other_in_a_circle(engine: Engine, person: int) -> None:
    store(engine, person, "offers")
    store(engine, person, "offers", code="X02", replaces="X01")
    store(engine, person, "offers", code="X03", replaces="X02")
    for code in ("X01", "X03"):
        with pytest.raises(BadValue) as refused:
            change(engine, person, "offers", "X01", 1, replaces=code)
        assert refused.value.field == "replaces"
    assert read(engine, "offers", "X01").version == 1


# --- parts and sets ------------------------------------------------------------------------------


def test_a_second_yarn_taken_out_of_a_construction_is_gone_and_recorded(
    engine: Engine, person: int
) -> None:
    store(engine, person, "constructions")
    alone: dict[str, Any] = {name: "" for name in GIVEN["constructions"] if "warp2" in name}
    alone["warp_share_of_threads_percent"] = "100"
    change(engine, person, "constructions", "DN-X", 1, **alone)
    assert as_typed(read(engine, "constructions", "DN-X").values) == as_typed(
        entry_of("constructions", **alone)
    )
    assert [(row.direction, row.position) for row in rows(engine, tables.SlotRow)] == [
        ("warp", 1),
        ("filling", 1),
    ]
    actions = {(each.action, each.table_name) for each in events(engine)}
    assert {("remove", "slot"), ("change", "slot")} <= actions


def test_a_construction_entered_finished_is_read_back_with_its_filling_crimp(
    engine: Engine, person: int
) -> None:
    finished = {
        "entered_state": "finished",
        "total_ends": "",
        "reed_width_in": "",
        "loom_ppi": "",
        "finished_epi": "63.8",
        "finished_ppi": "44.80",
        "filling_crimp_percent": "7.40",
    }
    key = store(engine, person, "constructions", **finished)
    assert as_typed(read(engine, "constructions", key).values) == as_typed(
        entry_of("constructions", **finished)
    )


def test_a_basis_needs_an_assumption_set(engine: Engine, person: int) -> None:
    with pytest.raises(BadValue, match="no assumption set") as refused:
        store(engine, person, "bases", assumption_set="Other")
    assert refused.value.field == "assumption_set"


def test_the_first_value_of_a_set_makes_it_and_later_ones_join(engine: Engine, person: int) -> None:
    store(engine, person, "assumptions")
    store(engine, person, "assumptions", at_ne="12", value="11000", low="", high="")
    assert [row.name for row in rows(engine, tables.AssumptionSetRow)] == ["House 2026"]
    store(engine, person, "assumptions", set_name="House 2027")
    assert len(rows(engine, tables.AssumptionSetRow)) == 2


@pytest.mark.parametrize("at_ne", ["7", "7.0"])
def test_a_set_has_one_value_for_a_key_and_count(engine: Engine, person: int, at_ne: str) -> None:
    store(engine, person, "assumptions")
    with pytest.raises(BadValue, match="already has a value"):
        store(engine, person, "assumptions", at_ne=at_ne)
    other = store(engine, person, "assumptions", at_ne="12")
    with pytest.raises(BadValue, match="already has a value"):
        change(engine, person, "assumptions", other, 1, at_ne=at_ne)
    keeper = NOUNS["assumptions"].keeper
    assert isinstance(keeper, AssumptionKeeper)
    with reading(engine) as session:
        assert [kept.values["at_ne"] for kept in keeper.all(session)] == [7, 12]


def test_the_house_is_empty_until_somebody_comes(engine: Engine) -> None:
    assert first_person(engine) is None
    first = add_person(engine, name="Rosalía Quintero")
    add_person(engine, name="Teodoro Ancira")
    assert first_person(engine) == first


def test_many_offers_are_read_as_one_is(engine: Engine, person: int) -> None:
    codes = [f"M{place:03}" for place in range(510)]
    with writing(engine, person) as session:
        NOUNS["suppliers"].keeper.add(session, entry_of("suppliers"))
        for code in codes:
            NOUNS["offers"].keeper.add(session, entry_of("offers", code=code))
    with reading(engine) as session:
        listed = NOUNS["offers"].keeper.all(session)
    assert [kept.key for kept in listed] == codes
    assert as_typed(listed[-1].values) == as_typed(entry_of("offers", code=codes[-1]))


# --- several people at once ----------------------------------------------------------------------


def at_once(count: int, work: Callable[[int], Any]) -> list[Any]:
    """Results of `work` in `count` threads that start together; a refusal is a result too."""
    start = Barrier(count)

    def run(place: int) -> Any:
        start.wait(20)
        try:
            return work(place)
        except CreelbookError as refused:
            return refused

    with ThreadPoolExecutor(count) as pool:
        return list(pool.map(run, range(count)))


@every_noun
def test_of_two_who_edit_the_same_record_at_once_exactly_one_wins(
    engine: Engine, person: int, path: str
) -> None:
    key = store(engine, person, path)
    results = at_once(2, lambda _: change(engine, person, path, key, 1, **EDITS[path]))
    assert [type(each) for each in results if each != key] == [Conflict]
    assert read(engine, path, key).version == 2


def test_an_edit_that_began_before_another_was_stored_is_a_conflict(
    engine: Engine, person: int
) -> None:
    """The version check was passed, and then the row is found changed when it is written."""
    key = store(engine, person, "suppliers")

    def edit_late() -> None:
        with writing(engine, person) as session:
            row = session.exec(select(tables.SupplierRow)).one()
            session.connection().exec_driver_sql("UPDATE supplier SET row_version = 2")
            row.notes = "late"

    with pytest.raises(Conflict, match="Open it again"):
        edit_late()
    kept = read(engine, "suppliers", key)
    assert (kept.version, kept.values["notes"]) == (1, entry_of("suppliers")["notes"])


def test_two_hundred_edits_of_eight_people_all_count(engine: Engine, person: int) -> None:
    key = store(engine, person, "suppliers")
    refused: list[CreelbookError] = []

    def edit(place: int) -> int:
        done = 0
        while done < 25:
            version = read(engine, "suppliers", key).version
            try:
                change(engine, person, "suppliers", key, version, notes=f"{place}, edit {done}")
                done += 1
            except Conflict as again:
                refused.append(again)
        return done

    assert at_once(8, edit) == [25] * 8
    assert read(engine, "suppliers", key).version == 201
    assert all("locked" not in str(each) for each in refused)


def test_of_eight_who_add_the_same_code_at_once_exactly_one_is_stored(
    engine: Engine, person: int
) -> None:
    store(engine, person, "suppliers")
    results = at_once(8, lambda _: store(engine, person, "offers"))
    assert results.count("X01") == 1
    assert all(isinstance(each, BadValue) for each in results if each != "X01"), results
    assert len(rows(engine, tables.YarnRow)) == 1


def test_eight_people_adding_at_once_lose_nothing(engine: Engine, person: int) -> None:
    def add(place: int) -> list[str]:
        return [store(engine, person, "suppliers", name=f"{place}-{n}") for n in range(10)]

    added = [name for names in at_once(8, add) for name in names]
    with reading(engine) as session:
        stored = [kept.key for kept in NOUNS["suppliers"].keeper.all(session)]
    assert sorted(stored) == sorted(added)
    assert len(stored) == 80
