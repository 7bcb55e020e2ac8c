"""Entering, changing and importing through the actions, on both databases."""

from __future__ import annotations

import csv
import io
import time
from collections.abc import Sequence
from typing import Any

import pytest
from sqlalchemy import Engine, delete
from sqlmodel import SQLModel

from seed_demo.load import ORDER
from server.actions.nouns import NOUNS, Refused
from server.actions.records import (
    LONGEST_FILE,
    MOST_ROWS,
    Imported,
    add_record,
    change_record,
    history_of,
    import_csv,
    list_records,
    one_record,
    recent_changes,
)
from server.core.errors import Conflict
from server.export.csv_file import as_csv
from server.store.audit import data_version
from server.store.people import add_person
from tests.store.databases import EDITS, EVERY_NOUN, GIVEN, as_typed, entry_of, store

pytest_plugins = ["tests.store.databases"]

SUPPLIERS = NOUNS["suppliers"]
HEADING = "name,country,notes"


def supplier_file(*lines: str) -> str:
    return "\r\n".join((HEADING, *lines)) + "\r\n"


def names(engine: Engine) -> list[str]:
    return [kept.key for kept in list_records(engine, SUPPLIERS)]


def take(
    engine: Engine, text: str, *, path: str = "suppliers", keep_good: bool = False
) -> Imported:
    return import_csv(engine, NOUNS[path], text, 1, keep_good=keep_good)


def faults(imported: Imported) -> list[tuple[int, str]]:
    return [(row.line, error.field) for row in imported.faulty for error in row.errors]


# --- one at a time -------------------------------------------------------------------------------


@pytest.mark.parametrize("path", EVERY_NOUN)
def test_what_is_typed_is_stored_changed_and_told(engine: Engine, person: int, path: str) -> None:
    noun = NOUNS[path]
    store(engine, person, {"bases": "assumptions", "pieces": "constructions"}.get(path, "offers"))
    if path not in ("offers", "suppliers"):
        add_record(engine, noun, GIVEN[path], person)
    key = GIVEN[path].get(noun.key, str(list_records(engine, noun)[-1].id))
    kept = one_record(engine, noun, key)
    assert as_typed(kept.values) == as_typed(entry_of(path))
    change_record(engine, noun, key, {**GIVEN[path], **EDITS[path]}, kept.version, person)
    changed = one_record(engine, noun, key)
    assert (changed.version, changed.owner) == (2, "Rosalía Quintero")
    assert [change.action for change in history_of(engine, noun, kept.id)][-1] == "add"
    newest = recent_changes(engine)[0]
    assert (newest.action, newest.noun, newest.key) == ("change", noun.one, key)


def test_a_faulty_entry_is_refused_with_every_faulty_field(engine: Engine, person: int) -> None:
    wrong = {"price": "2,310", "currency": "XXQ", "term": "FOX", "lead_days": "-1"}
    given = {**GIVEN["offers"], **wrong}
    with pytest.raises(Refused) as refused:
        add_record(engine, NOUNS["offers"], given, person)
    assert {error.field for error in refused.value.errors} == {
        "price",
        "currency",
        "term",
        "lead_days",
    }
    assert data_version(engine) == 0


@pytest.mark.parametrize(
    ("path", "field", "typed"),
    [
        ("suppliers", "name", {}),
        ("offers", "code", {}),
        ("offers", "supplier", {"code": "X02", "supplier": "Nobody"}),
        ("offers", "replaces", {"code": "X02", "replaces": "X99"}),
        ("constructions", "code", {}),
        ("assumptions", "key", {}),
        ("assumptions", "currency", {"currency": "EUR", "at_ne": "12"}),
        ("gate", "property", {}),
        ("bases", "assumption_set", {"name": "Other", "assumption_set": "None of ours"}),
    ],
)
def test_what_the_store_refuses_is_told_beside_its_field(
    engine: Engine, person: int, path: str, field: str, typed: dict[str, str]
) -> None:
    store(engine, person, path)
    before = data_version(engine)
    with pytest.raises(Refused) as refused:
        add_record(engine, NOUNS[path], {**GIVEN[path], **typed}, person)
    (error,) = refused.value.errors
    assert error.field == field
    assert error.label == NOUNS[path].fields[field].title
    assert data_version(engine) == before


def test_a_stale_edit_is_a_conflict_and_not_a_faulty_field(engine: Engine, person: int) -> None:
    store(engine, person, "suppliers")
    key = GIVEN["suppliers"]["name"]
    change_record(engine, SUPPLIERS, key, {**GIVEN["suppliers"], "notes": "mine"}, 1, person)
    with pytest.raises(Conflict):
        change_record(engine, SUPPLIERS, key, {**GIVEN["suppliers"], "notes": "theirs"}, 1, person)
    assert one_record(engine, SUPPLIERS, key).values["notes"] == "mine"


# --- imports -------------------------------------------------------------------------------------


def test_a_good_file_is_stored_whole_and_gives_the_keys(engine: Engine, person: int) -> None:
    imported = take(engine, supplier_file("One,India,", 'Two,Mexico,"a, b"', "", "Three,Peru,c"))
    assert imported == Imported(("One", "Two", "Three"), ())
    assert names(engine) == ["One", "Two", "Three"]
    assert one_record(engine, SUPPLIERS, "Two").values["notes"] == "a, b"


def test_one_faulty_row_keeps_all_out(engine: Engine, person: int) -> None:
    imported = take(engine, supplier_file("One,India,", "Two,,", "Three,Peru,"))
    assert imported.stored == ()
    assert faults(imported) == [(3, "country")]
    assert names(engine) == []
    assert data_version(engine) == 0


def test_good_rows_are_kept_when_that_was_asked_for(engine: Engine, person: int) -> None:
    text = supplier_file("One,India,", "Two,,", "Three,Peru,", "<b>,Peru,")
    imported = take(engine, text, keep_good=True)
    assert imported.stored == ("One", "Three")
    assert faults(imported) == [(3, "country"), (5, "name")]
    assert names(engine) == ["One", "Three"]


def test_a_faulty_row_is_told_by_its_line_with_value_and_remedy(
    engine: Engine, person: int
) -> None:
    lines = ("EUR,USD,1.1860,2026-03-02,a table", "", 'USD,MXN,"17,20",2026-03-02,a table')
    text = "\n".join(("base,quote,rate,valid_from,source", *lines))
    (row,) = take(engine, text, path="rates/exchange").faulty
    (error,) = row.errors
    assert (row.line, error.field, error.label, error.value) == (4, "rate", "Rate", "17,20")
    assert "decimal point" in error.message


LIMITS = "role,property,value,source\n"
TWINS = {
    "gate": (
        LIMITS + "filling,tenacity,11,a\nfilling,evenness,14,a\nfilling,tenacity,12,a\n",
        "property",
        4,
    ),
    "assumptions": (
        "set_name,currency,key,at_ne,value,source,noted_on\n"
        "House,USD,ring.spindle_rpm,7,9000,a,2026-01-01\n"
        "House,USD,ring.spindle_rpm,8,9000,a,2026-01-01\n"
        "House,USD,ring.spindle_rpm,7.0,9100,a,2026-01-01\n",
        "key",
        4,
    ),
}


@pytest.mark.parametrize("path", TWINS)
@pytest.mark.parametrize("keep_good", [False, True])
def test_a_third_row_that_says_a_thing_twice_is_told_by_its_line(
    engine: Engine, person: int, path: str, keep_good: bool
) -> None:
    text, field, line = TWINS[path]
    imported = take(engine, text, path=path, keep_good=keep_good)
    assert faults(imported) == [(line, field)]
    assert len(imported.stored) == (2 if keep_good else 0)
    assert len(list_records(engine, NOUNS[path])) == (2 if keep_good else 0)


def test_an_offer_file_tells_unknown_suppliers_and_changed_quotes(
    engine: Engine, person: int
) -> None:
    store(engine, person, "offers")
    fields = list(GIVEN["offers"])

    def line(**typed: str) -> list[str]:
        return [{**GIVEN["offers"], **typed}[name] for name in fields]

    text = as_csv(
        fields,
        [
            line(code="X02"),
            line(code="X03", supplier="Nobody"),
            line(lead_days="60"),
            line(price="2311"),
        ],
    )
    assert take(engine, text, path="offers").stored == ()
    assert [kept.key for kept in list_records(engine, NOUNS["offers"])] == ["X01"]
    imported = take(engine, text, path="offers", keep_good=True)
    assert imported.stored == ("X02", "X01")
    assert faults(imported) == [(3, "supplier"), (5, "price")]
    kept = one_record(engine, NOUNS["offers"], "X01")
    assert (kept.version, kept.values["lead_days"], str(kept.values["price"])) == (2, 60, "2310")


def test_a_row_with_a_known_key_changes_that_record(engine: Engine, person: int) -> None:
    take(engine, supplier_file("One,India,first", "Two,Peru,"))
    imported = take(engine, supplier_file("One,India,second", "Three,Peru,"))
    assert imported.stored == ("One", "Three")
    kept = one_record(engine, SUPPLIERS, "One")
    assert (kept.version, kept.values["notes"]) == (2, "second")
    assert names(engine) == ["One", "Two", "Three"]


def test_a_key_twice_in_one_file_ends_as_the_later_row(engine: Engine, person: int) -> None:
    imported = take(engine, supplier_file("One,India,first", "One,Peru,second"))
    assert imported.stored == ("One", "One")
    assert one_record(engine, SUPPLIERS, "One").values["notes"] == "second"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "is empty"),
        ("\ufeff", "is empty"),
        ("name,price\nOne,3\n", "column “price” unknown"),
        ("name,country,name\nOne,India,One\n", "column name twice"),
        ('name,country\n"One,India\n', "not a CSV file"),
        ("name;country\nOne;India\n", "unknown here"),
        ("x" * (LONGEST_FILE + 1), "Split it into parts"),
        ("name,country\n" + "n" * 200_000 + ",India\n", "not a CSV file"),
    ],
    ids=["empty", "mark", "unknown", "twice", "quote", "semicolon", "long", "cell"],
)
def test_a_file_that_cannot_be_read_is_refused_whole(
    engine: Engine, person: int, text: str, said: str
) -> None:
    with pytest.raises(Refused, match=said):
        take(engine, text, keep_good=True)
    assert names(engine) == []


def test_a_file_with_too_many_rows_is_refused(engine: Engine, person: int) -> None:
    with pytest.raises(Refused, match="more than"):
        take(engine, supplier_file(*[",," + "x"] * (MOST_ROWS + 1)))


def test_a_row_with_more_cells_than_the_heading_is_faulty(engine: Engine, person: int) -> None:
    imported = take(engine, "name,country\nVayuna, Ltd,India\n")
    assert [row.line for row in imported.faulty] == [2]
    assert names(engine) == []


def test_a_row_with_fewer_cells_than_the_heading_leaves_them_empty(
    engine: Engine, person: int
) -> None:
    assert take(engine, supplier_file("One,India")).stored == ("One",)


@pytest.mark.parametrize("break_at", ["\n", "\r\n"])
def test_a_file_of_a_spreadsheet_with_mark_and_either_line_end_is_read(
    engine: Engine, person: int, break_at: str
) -> None:
    text = "\ufeff" + supplier_file("Thuyền Sao Yarn,Viet Nam,").replace("\r\n", break_at)
    assert take(engine, text).stored == ("Thuyền Sao Yarn",)


def test_two_thousand_suppliers_are_imported_in_bounded_time(engine: Engine, person: int) -> None:
    text = supplier_file(*(f"Supplier {place},India,note {place}" for place in range(2000)))
    started = time.monotonic()
    imported = take(engine, text)
    taken = time.monotonic() - started
    assert len(imported.stored) == 2000
    assert len(names(engine)) == 2000
    assert data_version(engine) == 2000
    assert taken < 30


# --- there and back ------------------------------------------------------------------------------


def exported(engine: Engine, path: str) -> str:
    noun = NOUNS[path]
    fields = list(noun.fields)
    rows: list[Sequence[Any]] = [
        [kept.values[name] for name in fields] for kept in list_records(engine, noun)
    ]
    return as_csv(fields, rows)


def values_of(engine: Engine, path: str) -> list[dict[str, str]]:
    return [as_typed(kept.values) for kept in list_records(engine, NOUNS[path])]


def empty(engine: Engine) -> None:
    with engine.begin() as connection:
        for table in reversed(SQLModel.metadata.sorted_tables):
            connection.execute(delete(table))


def test_what_is_exported_is_imported_equal_for_every_noun(demo: Engine) -> None:
    files = {path: exported(demo, path) for path in ORDER}
    values = {path: values_of(demo, path) for path in ORDER}
    assert set(files) == set(NOUNS)
    empty(demo)
    person = add_person(demo, name="Somebody else")
    for path, text in files.items():
        imported = import_csv(demo, NOUNS[path], text, person, keep_good=False)
        assert imported.faulty == (), path
        assert len(imported.stored) == len(values[path])
    for path in ORDER:
        assert values_of(demo, path) == values[path], path
        assert exported(demo, path) == files[path]


@pytest.mark.parametrize("path", EVERY_NOUN)
def test_a_full_entry_goes_out_and_in_again_equal(engine: Engine, person: int, path: str) -> None:
    store(engine, person, path)
    files = {name: exported(engine, name) for name in ORDER}
    empty(engine)
    again = add_person(engine, name="Somebody else")
    for name, text in files.items():
        assert import_csv(engine, NOUNS[name], text, again, keep_good=False).faulty == ()
    assert values_of(engine, path) == [as_typed(entry_of(path))]


def test_the_demonstration_imported_over_itself_changes_no_figure(demo: Engine) -> None:
    for path in ("suppliers", "offers", "constructions", "bases"):
        before = values_of(demo, path)
        imported = take(demo, exported(demo, path), path=path)
        assert imported.faulty == ()
        assert values_of(demo, path) == before


@pytest.mark.parametrize(
    "text",
    [
        "=1+1",
        "+52 222 000",
        "-5 %",
        "@home",
        'said "46.80", and; more',
        "two\nlines",
        "two\r\nlines",
        "'quoted'",
        "Yelkıran — 8½ %",
        "＝1+1",
        "'=1+1",
    ],
)
def test_any_text_goes_out_and_in_again_equal(engine: Engine, person: int, text: str) -> None:
    store(engine, person, "suppliers", notes=text)
    file = exported(engine, "suppliers")
    empty(engine)
    add_person(engine, name="Somebody else")
    with engine.connect() as connection:
        again = connection.exec_driver_sql("SELECT max(id) FROM person").scalar_one()
    import_csv(engine, SUPPLIERS, file, again, keep_good=False)
    assert list_records(engine, SUPPLIERS)[0].values["notes"] == text


def test_no_cell_of_an_export_runs_as_a_formula(engine: Engine, person: int) -> None:
    for place, sign in enumerate("=+-@＝＋－＠"):
        store(engine, person, "suppliers", name=f"{sign}S{place}", notes=f"{sign}1+1")
    cells = [cell for row in csv.reader(io.StringIO(exported(engine, "suppliers"))) for cell in row]
    assert not [cell for cell in cells if cell.startswith(tuple("=+-@＝＋－＠\t\r"))]
