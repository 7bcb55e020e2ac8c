"""Variants of a construction, on both databases."""

from __future__ import annotations

import pytest
from sqlalchemy import Engine
from sqlmodel import select

from server.core.errors import BadValue, NotFound
from server.store.session import reading, writing
from server.store.tables import ConstructionRow
from server.store.variants import (
    MOST_VARIANTS,
    Variant,
    keep_variant,
    mark_promoted,
    remove_variant,
    variants_of,
)
from tests.store.databases import events, store

QUERY = "pair=Q14%2FQ20&filling_ne=7"


@pytest.fixture
def construction_id(engine: Engine, person: int) -> int:
    """A stored construction."""
    store(engine, person, "constructions")
    with reading(engine) as session:
        found = session.exec(select(ConstructionRow.id)).first()
    assert found is not None
    return found


def keep(engine: Engine, person: int, construction_id: int, name: str, **given: bool) -> int:
    with writing(engine, person) as session:
        return keep_variant(
            session,
            construction_id,
            name,
            QUERY,
            "“one count” ễ",
            replace=given.get("replace", False),
        )


def all_of(engine: Engine, construction_id: int) -> tuple[Variant, ...]:
    with reading(engine) as session:
        return variants_of(session, construction_id)


def test_variants_are_read_by_name_with_who_kept_them(
    engine: Engine, person: int, construction_id: int
) -> None:
    keep(engine, person, construction_id, "zinc")
    number = keep(engine, person, construction_id, "Alpha")
    first, second = all_of(engine, construction_id)
    assert (first.name, second.name) == ("Alpha", "zinc")
    assert (first.id, first.query, first.notes) == (number, QUERY, "“one count” ễ")
    assert first.owner == "Rosalía Quintero"
    assert first.promoted_version is None
    assert events(engine)[-1].table_name == "variant"


def test_a_name_is_taken_once_and_replaced_only_when_asked(
    engine: Engine, person: int, construction_id: int
) -> None:
    number = keep(engine, person, construction_id, "Ne 7")
    with pytest.raises(BadValue, match="has a variant “Ne 7” already"):
        keep(engine, person, construction_id, "Ne 7")
    assert keep(engine, person, construction_id, "Ne 7", replace=True) == number
    assert len(all_of(engine, construction_id)) == 1


def test_a_construction_has_so_many_variants_at_most(
    engine: Engine, person: int, construction_id: int
) -> None:
    with writing(engine, person) as session:
        for place in range(MOST_VARIANTS):
            keep_variant(session, construction_id, f"v{place}", QUERY, "", replace=False)
    with pytest.raises(BadValue, match="the most it can have"):
        keep(engine, person, construction_id, "one more")
    keep(engine, person, construction_id, "v7", replace=True)


def test_a_removed_variant_stays_in_the_audit(
    engine: Engine, person: int, construction_id: int
) -> None:
    number = keep(engine, person, construction_id, "Ne 7")
    with writing(engine, person) as session:
        remove_variant(session, construction_id, number)
    assert all_of(engine, construction_id) == ()
    last = events(engine)[-1]
    assert (last.table_name, last.row_id, last.action) == ("variant", number, "remove")
    assert last.changes["query"] == [QUERY, None]


def test_a_promoted_variant_knows_the_version_it_became(
    engine: Engine, person: int, construction_id: int
) -> None:
    number = keep(engine, person, construction_id, "Ne 7")
    with writing(engine, person) as session:
        version = mark_promoted(session, construction_id, number)
    assert all_of(engine, construction_id)[0].promoted_version == version == 1


@pytest.mark.parametrize("number", [0, 99])
def test_another_constructions_variant_is_none_of_this_one(
    engine: Engine, person: int, construction_id: int, number: int
) -> None:
    mine = keep(engine, person, construction_id, "Ne 7")
    with pytest.raises(NotFound), writing(engine, person) as session:
        remove_variant(session, construction_id, number)
    with pytest.raises(NotFound), writing(engine, person) as session:
        remove_variant(session, construction_id + 1, mine)
    assert len(all_of(engine, construction_id)) == 1
