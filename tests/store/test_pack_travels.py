"""A pack frozen on one database engine, taken in on the other and back: the same digits."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from uuid import uuid4

import pytest
from sqlalchemy import Engine
from starlette.testclient import TestClient

from seed_demo.load import load_demo
from server.actions.asked_change import read_change
from server.actions.pack_exchange import pack_file, take_in
from server.actions.packs import (
    ClothAsked,
    choose_shown,
    computed_again,
    frozen_of,
    packs,
    stored_pack,
)
from server.actions.variants import save_variant
from server.app import create_app
from server.core.buyer_view import OPEN_BOOK
from server.settings import Settings
from server.store.migrating import migrate
from server.store.people import add_person
from server.store.session import open_engine
from tests.store.databases import postgres_address
from tests.web.meetings import frozen_pack


@pytest.fixture
def houses(tmp_path: Path) -> Iterator[dict[str, str]]:
    """Addresses of an empty database of each engine, and of another one on SQLite."""
    server = postgres_address()
    schema, joined = f"test_{uuid4().hex[:16]}", "&" if "?" in server else "?"
    keeper = open_engine(server)
    with keeper.begin() as connection:
        connection.exec_driver_sql(f"CREATE SCHEMA {schema}")
    try:
        yield {
            "sqlite": f"sqlite:///{tmp_path / 'first.sqlite'}",
            "postgresql": f"{server}{joined}options=-csearch_path%3D{schema}",
            "back": f"sqlite:///{tmp_path / 'back.sqlite'}",
        }
    finally:
        with keeper.begin() as connection:
            connection.exec_driver_sql(f"DROP SCHEMA {schema} CASCADE")
        keeper.dispose()


def house(address: str, *, demo: bool = False) -> Engine:
    engine = open_engine(address)
    migrate(engine)
    if demo:
        load_demo(engine)
    else:
        add_person(engine, name="Somebody else", role="owner")
    return engine


def seen(address: str, reference: str) -> dict[str, str]:
    """Every page, table and document of a pack as a visitor of a house sees them."""
    found: dict[str, str] = {}
    base = f"/meetings/{reference}"
    with TestClient(create_app(Settings(database_url=address))) as visitor:
        page = visitor.get(base).text
        body = page[page.index('<p class="pack-head">') : page.index('id="buyer"')]
        pairs = sorted(set(re.findall(rf'href="({base}/pairs/[^"#]+)', body)))[:8]
        assert len(pairs) == 8
        for path in (*pairs, f"{base}.json", f"{base}.csv", f"{base}/buyer", f"{base}/buyer.json",
                     f"{base}/buyer.csv", f"/api/v1{base}/pack"):  # fmt: skip
            answer = visitor.get(path)
            assert answer.status_code == 200, path
            found[path] = answer.text
        found["page"] = body
        found["api"] = json.dumps(visitor.get(f"/api/v1{base}").json()["content"])
        for name in ("workbook.xlsx", "handout.pdf"):
            found[name] = visitor.get(f"{base}/files/{name}").content.hex()
    return found


def test_a_pack_keeps_every_digit_on_its_way_over_the_other_engine_and_back(
    houses: dict[str, str],
) -> None:
    first = house(houses["sqlite"], demo=True)
    asked = read_change({"filling_ne": "7", "loom_ppi": "35.0"})
    save_variant(first, "DN-1250", asked, 1, name="Ne 7 filling", notes="for the meeting")
    reference = frozen_pack(
        first, "Spring denim", ("DN-1375", "DN-1200S", ClothAsked("DN-1250", "Ne 7 filling"))
    )
    choose_shown(first, reference, 1, OPEN_BOOK, stored_pack(first, reference).version)
    exported, frozen, was = pack_file(first, reference), frozen_of(first, reference), stored_pack(
        first, reference
    )  # fmt: skip
    first.dispose()
    views = {"sqlite": seen(houses["sqlite"], reference)}
    for name in ("postgresql", "back"):
        engine = house(houses[name])
        assert packs(engine) == ()
        assert take_in(engine, exported, 1) == reference
        now = stored_pack(engine, reference)
        assert (now.digest, now.state, now.engine, now.frozen_at, now.shown, now.words) == (
            was.digest, "frozen", was.engine, was.frozen_at, was.shown, was.words,
        )  # fmt: skip
        assert frozen_of(engine, reference) == frozen
        exported = pack_file(engine, reference)
        again = computed_again(engine, reference)
        assert again.is_same, again.differs[:3]
        assert again.looked_at > 1_000
        engine.dispose()
        views[name] = seen(houses[name], reference)
    assert views["postgresql"] == views["sqlite"]
    assert views["back"] == views["sqlite"]


def test_what_is_taken_in_may_be_followed_and_said_to_be_out_of_reach(
    houses: dict[str, str],
) -> None:
    """In a house without its constructions a pack is shown; only a new draft of it cannot be."""
    first = house(houses["sqlite"], demo=True)
    reference = frozen_pack(first, "Spring denim", ("DN-1375",))
    exported = pack_file(first, reference)
    first.dispose()
    engine = house(houses["back"])
    take_in(engine, exported, 1)
    engine.dispose()
    with TestClient(create_app(Settings(database_url=houses["back"]))) as visitor:
        for path in ("", "/again", ".json", ".csv", "/pack", "/files/workbook.xlsx"):
            assert visitor.get(f"/meetings/{reference}{path}").status_code == 200, path
        for answer in (
            visitor.get(f"/meetings/{reference}/changed"),
            visitor.post(f"/meetings/{reference}/follow", follow_redirects=False),
        ):
            assert 400 <= answer.status_code < 500
            assert "basis" in answer.text
