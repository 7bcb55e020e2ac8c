"""Meeting packs on each database: drafts change, frozen packs never do, everything is audited."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime
from functools import cache
from typing import Any

import pytest
from sqlalchemy import Engine, text

from server.actions.pack_exchange import pack_file, take_in
from server.actions.packs import (
    edit_pack,
    follow_up,
    freeze,
    frozen_of,
    new_pack,
    packs,
    put_into,
    remove_draft,
    stored_pack,
)
from server.core.errors import BadValue, Conflict, NotFound
from server.core.given import Frozen, given_for
from server.store import packs as store
from server.store.packs import ClothAsked, content_of
from server.store.session import reading, writing
from tests.builders import demo_book, demo_comparison, pack_of
from tests.entered import counts
from tests.store.databases import events

WORDS = {"title": "Spring denim", "buyer": "Tarn & Fell", "meeting": "2026-03-12",
         "notes": "ours alone", "words": "Good morning"}  # fmt: skip
TWO = (ClothAsked("DN-1375"), ClothAsked("DN-1250", pairs=("Q14/Q20", "Q14/Q19")))
REFERENCE = "2026-03-12-tarn-fell-0001"


@cache
def frozen() -> Frozen:
    book, compared = demo_book(), demo_comparison("DN-1375")
    assumptions = book.assumption_set(book.basis().assumption_set)
    pack = replace(pack_of(compared), reference=REFERENCE)
    return Frozen(pack, given_for([compared], assumptions, book.limits, book.replaced))


def values(**changes: Any) -> dict[str, Any]:
    kept = {name: WORDS[name] for name in ("title", "buyer", "notes", "words")}
    return {"reference": REFERENCE, "meeting": date(2026, 3, 12), **kept, **changes}


def draft(engine: Engine, person: int, **changes: Any) -> str:
    with writing(engine, person) as session:
        return store.add_draft(session, values(**changes), TWO)


def read(engine: Engine, reference: str = REFERENCE) -> store.StoredPack:
    with reading(engine) as session:
        return store.pack_of(session, reference)


def freeze_it(engine: Engine, person: int, reference: str = REFERENCE) -> None:
    with writing(engine, person) as session:
        store.freeze_draft(
            session, reference, content_of(frozen()), read(engine, reference).version
        )


def test_a_draft_is_kept_with_its_cloths_in_order_and_its_owner(
    engine: Engine, person: int
) -> None:
    assert draft(engine, person) == REFERENCE
    kept = read(engine)
    assert (kept.state, kept.owner, kept.version) == ("draft", "Rosalía Quintero", 1)
    assert (kept.title, kept.buyer, kept.notes, kept.words) == (
        "Spring denim", "Tarn & Fell", "ours alone", "Good morning",
    )  # fmt: skip
    assert kept.cloths == TWO
    assert (kept.digest, kept.frozen_at, kept.engine) == ("", None, "")
    with reading(engine) as session:
        assert store.every_pack(session) == (kept,)


def test_a_taken_reference_is_refused_and_nothing_is_stored(engine: Engine, person: int) -> None:
    draft(engine, person)
    seen = counts(engine)
    with pytest.raises(BadValue, match="already") as refused:
        draft(engine, person)
    assert (refused.value.field, refused.value.value) == ("reference", REFERENCE)
    assert counts(engine) == seen


def test_a_change_of_a_draft_asks_for_the_version_that_was_read(
    engine: Engine, person: int
) -> None:
    draft(engine, person)
    with writing(engine, person) as session:
        store.change_draft(session, REFERENCE, {"title": "Summer"}, 1, [ClothAsked("DN-1450")])
    kept = read(engine)
    assert (kept.title, kept.version, kept.cloths) == ("Summer", 2, (ClothAsked("DN-1450"),))
    seen = counts(engine)
    with (
        pytest.raises(Conflict, match="version 1, now 2") as stale,
        writing(engine, person) as session,
    ):
        store.change_draft(session, REFERENCE, {"title": "Autumn"}, 1, ())
    assert (stale.value.field, stale.value.value) == ("version", "1")
    assert read(engine).title == "Summer"
    assert counts(engine) == seen


def test_a_change_of_the_cloths_alone_is_a_change_of_the_pack(engine: Engine, person: int) -> None:
    draft(engine, person)
    with writing(engine, person) as session:
        store.change_draft(session, REFERENCE, {}, 1, [ClothAsked("DN-1450")])
    assert read(engine).version == 2


def test_too_many_cloths_are_refused(engine: Engine, person: int) -> None:
    many = [ClothAsked(f"C{place}") for place in range(store.MOST_CLOTHS + 1)]
    seen = counts(engine)
    with pytest.raises(BadValue, match="at most 200"), writing(engine, person) as session:
        store.add_draft(session, values(), many)
    assert counts(engine) == seen


CHANGES: dict[str, Callable[[Any, int], None]] = {
    "changed": lambda session, at: store.change_draft(session, REFERENCE, {"title": "x"}, at),
    "removed": lambda session, at: store.remove_draft(session, REFERENCE),
    "frozen again": lambda session, at: store.freeze_draft(
        session, REFERENCE, content_of(frozen()), at
    ),
}


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_a_frozen_pack_is_never(
    engine: Engine, person: int, change: Callable[[Any, int], None]
) -> None:
    draft(engine, person)
    freeze_it(engine, person)
    before, seen = read(engine), counts(engine)
    with pytest.raises(Conflict, match="never changes"), writing(engine, person) as session:
        change(session, before.version)
    assert read(engine) == before
    assert counts(engine) == seen
    with reading(engine) as session:
        assert store.content_of_pack(session, REFERENCE) == content_of(frozen())


def test_a_frozen_pack_reads_back_as_it_was_frozen(engine: Engine, person: int) -> None:
    draft(engine, person)
    freeze_it(engine, person)
    kept = read(engine)
    assert (kept.state, kept.engine) == ("frozen", frozen().pack.engine)
    assert kept.frozen_at == frozen().pack.made_at
    assert kept.digest == content_of(frozen()).digest
    with reading(engine) as session:
        assert store.read_content(store.content_of_pack(session, REFERENCE)) == frozen()


def test_freezing_asks_for_the_version_that_was_looked_at(engine: Engine, person: int) -> None:
    draft(engine, person)
    with writing(engine, person) as session:
        store.change_draft(session, REFERENCE, {"title": "Summer"}, 1)
    with pytest.raises(Conflict), writing(engine, person) as session:
        store.freeze_draft(session, REFERENCE, content_of(frozen()), 1)
    assert read(engine).state == "draft"
    with pytest.raises(NotFound, match="draft"), reading(engine) as session:
        store.content_of_pack(session, REFERENCE)


def test_what_a_buyer_sees_may_be_chosen_of_a_frozen_pack_and_moves_no_figure(
    engine: Engine, person: int
) -> None:
    draft(engine, person)
    freeze_it(engine, person)
    before = read(engine)
    with writing(engine, person) as session:
        store.choose_shown(session, REFERENCE, ("weight", "price"), before.version)
    kept = read(engine)
    assert (kept.shown, kept.words) == (("weight", "price"), before.words)
    assert (kept.digest, kept.title, kept.state) == (before.digest, before.title, "frozen")
    with pytest.raises(Conflict), writing(engine, person) as session:
        store.choose_shown(session, REFERENCE, (), before.version)


def test_the_pack_that_is_followed_becomes_superseded_when_the_next_is_frozen(
    engine: Engine, person: int
) -> None:
    draft(engine, person)
    freeze_it(engine, person)
    second = f"{REFERENCE[:-4]}0002"
    draft(engine, person, reference=second, follows=REFERENCE)
    assert read(engine).state == "frozen"
    freeze_it(engine, person, second)
    assert (read(engine).state, read(engine).superseded_by) == ("superseded", second)
    assert read(engine, second).follows == REFERENCE
    third = f"{REFERENCE[:-4]}0003"
    draft(engine, person, reference=third, follows=REFERENCE)
    freeze_it(engine, person, third)
    assert read(engine).superseded_by == second, "the first that took its place stays named"
    with reading(engine) as session:
        assert store.content_of_pack(session, REFERENCE) == content_of(frozen())


@pytest.mark.parametrize("column", ["pack", "given"])
def test_a_content_altered_past_the_program_is_noticed(
    engine: Engine, person: int, column: str
) -> None:
    draft(engine, person)
    freeze_it(engine, person)
    with engine.begin() as database:
        database.execute(
            text(f"UPDATE pack_content SET {column} = replace({column}, 'DN-1375', 'DN-1376')")  # noqa: S608
        )
    with pytest.raises(Conflict, match="not what was frozen"), reading(engine) as session:
        store.content_of_pack(session, REFERENCE)


def test_nothing_is_there_under_another_name(engine: Engine) -> None:
    for reference in ("", "2026-01-01", REFERENCE, "'; DROP TABLE meeting_pack; --", "\N{SNOWMAN}"):
        with pytest.raises(NotFound), reading(engine) as session:
            store.pack_of(session, reference)


def test_every_change_leaves_an_event_with_who_and_what(engine: Engine, person: int) -> None:
    draft(engine, person)
    with writing(engine, person) as session:
        store.change_draft(session, REFERENCE, {"title": "Summer"}, 1)
    freeze_it(engine, person)
    with writing(engine, person) as session:
        store.choose_shown(session, REFERENCE, ("weight",), read(engine).version)
    found = [e for e in events(engine) if e.table_name == "meeting_pack"]
    assert [each.action for each in found] == ["add", "change", "change", "change"]
    assert {each.person_id for each in found} == {person}
    assert found[1].changes["title"] == ["Spring denim", "Summer"]
    assert found[2].changes["state"] == ["draft", "frozen"]
    assert found[2].changes["digest"][1] == content_of(frozen()).digest
    assert "shown" in found[3].changes
    with reading(engine) as session:
        told = store.history_of_pack(session, REFERENCE)
    assert {name for change in told for name, *_ in change.changes} >= {"title", "state", "shown"}


def test_a_removed_draft_leaves_an_event_and_nothing_else(engine: Engine, person: int) -> None:
    empty = counts(engine)
    draft(engine, person)
    with writing(engine, person) as session:
        store.remove_draft(session, REFERENCE)
    assert {k: v for k, v in counts(engine).items() if k != "audit_event"} == {
        k: v for k, v in empty.items() if k != "audit_event"
    }
    assert [e.action for e in events(engine) if e.table_name == "meeting_pack"] == ["add", "remove"]


def test_the_list_of_packs_takes_three_statements_however_many(engine: Engine, person: int) -> None:
    from tests.list_addresses import statements

    for place in range(5):
        draft(engine, person, reference=f"2026-03-12-{place:04x}")
    with statements(engine) as seen, reading(engine) as session:
        assert len(store.every_pack(session)) == 5
    assert len(seen) == 3


# The whole of it with the demonstration, through the actions


def test_a_pack_is_put_together_frozen_and_followed_on_each_database(demo: Engine) -> None:
    reference = new_pack(demo, 1, WORDS, TWO)
    put_into(
        demo, reference, 1, [ClothAsked("DN-1375", pairs=("Q14/Q14",)), ClothAsked("DN-1200S")]
    )
    kept = stored_pack(demo, reference)
    assert [(each.code, each.pairs) for each in kept.cloths] == [
        ("DN-1375", ("Q14/Q14",)), ("DN-1250", ("Q14/Q20", "Q14/Q19")), ("DN-1200S", ()),
    ]  # fmt: skip
    freeze(demo, reference, 1, kept.version)
    found = frozen_of(demo, reference)
    assert [cloth.code for cloth in found.pack.cloths] == ["DN-1375", "DN-1250", "DN-1200S"]
    assert found.pack.made_at is not None
    assert abs((datetime.now(UTC) - found.pack.made_at).total_seconds()) < 300
    second = follow_up(demo, reference, 1)
    assert second != reference
    freeze(demo, second, 1, stored_pack(demo, second).version)
    assert stored_pack(demo, reference).superseded_by == second
    assert frozen_of(demo, reference) == found
    assert [each.reference for each in packs(demo)] == [second, reference]


def test_a_pack_cannot_be_taken_in_twice(demo: Engine) -> None:
    reference = new_pack(demo, 1, WORDS, TWO[:1])
    freeze(demo, reference, 1, stored_pack(demo, reference).version)
    seen = counts(demo)
    with pytest.raises(BadValue, match="already"):
        take_in(demo, pack_file(demo, reference), 1)
    assert counts(demo) == seen


def test_an_edit_in_the_meantime_is_not_frozen_unseen(demo: Engine) -> None:
    reference = new_pack(demo, 1, WORDS, TWO[:1])
    looked_at = stored_pack(demo, reference).version
    edit_pack(demo, reference, 1, WORDS | {"title": "Another"}, TWO, looked_at)
    with pytest.raises(Conflict):
        freeze(demo, reference, 1, looked_at)
    assert stored_pack(demo, reference).state == "draft"
    remove_draft(demo, reference, 1)
    with pytest.raises(NotFound):
        stored_pack(demo, reference)
