"""Links on each database: made, ended, counted; their secret is nowhere."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import Engine, text

from server.actions import shares as actions
from server.actions.packs import choose_shown, new_pack, stored_pack
from server.core.errors import BadValue, Conflict, NotFound
from server.store import shares as store
from server.store.session import reading, writing
from server.store.shares import MOST_SHARES
from tests.entered import counts
from tests.store.databases import events
from tests.web.meetings import frozen_pack

SHOWN = ("yarns", "weight", "price")


@pytest.fixture
def pack(demo: Engine) -> str:
    """A frozen pack with something chosen to be shown."""
    reference = frozen_pack(demo, "Spring denim", ("DN-1375",))
    choose_shown(demo, reference, 1, SHOWN, stored_pack(demo, reference).version)
    return reference


def make(engine: Engine, pack: str, digest: str, until: timedelta = timedelta(days=1)) -> None:
    with writing(engine, 1) as session:
        store.add_share(
            session, pack, token_digest=digest, whom="", shown=SHOWN,
            expires_at=datetime.now(UTC) + until,
        )  # fmt: skip


def test_a_link_opens_the_view_that_was_chosen_when_it_was_made(demo: Engine, pack: str) -> None:
    token = actions.share(demo, pack, 1, days="3", whom="  Anna \n Quist ")
    (kept,) = actions.shares_of(demo, pack)
    assert (kept.whom, kept.shown, kept.made_by) == ("Anna Quist", SHOWN, "Rosalía Quintero")
    assert timedelta(days=2.9) < kept.expires_at - datetime.now(UTC) <= timedelta(days=3)
    assert kept.expires_at.tzinfo is not None
    assert actions.shared_pack(demo, token).headline == "price_at_margin"
    choose_shown(demo, pack, 1, ("weight",), stored_pack(demo, pack).version)
    assert actions.shared_pack(demo, token).headline == "price_at_margin"


def test_a_link_that_ended_or_was_taken_back_or_never_was_opens_nothing(
    demo: Engine, pack: str
) -> None:
    ended, back = (actions.share(demo, pack, 1, days="1") for _ in range(2))
    with demo.begin() as database:
        database.execute(
            text("UPDATE pack_share SET expires_at = :at WHERE revoked_at IS NULL AND id = "
                 "(SELECT min(id) FROM pack_share)"),
            {"at": datetime(2026, 1, 1, tzinfo=UTC) if demo.name == "postgresql"
             else "2026-01-01 00:00:00.000000"},
        )  # fmt: skip
    actions.revoke(demo, pack, actions.shares_of(demo, pack)[0].id, 1)
    told = set()
    for token in (ended, back, "", "nothing", ended.lower(), ended[:-1], f"{ended} ", "%00", "ä"):
        with pytest.raises(NotFound) as refused:
            actions.shared_pack(demo, token)
        told.add((refused.value.message, refused.value.value, refused.value.remedy))
    assert len(told) == 1, "what is wrong with a link is not told to who has it"
    assert {each.is_open(datetime.now(UTC)) for each in actions.shares_of(demo, pack)} == {False}


def test_a_link_ends_at_its_moment_and_not_before(demo: Engine, pack: str) -> None:
    make(demo, pack, "0" * 64, timedelta(seconds=30))
    (kept,) = actions.shares_of(demo, pack)
    assert kept.is_open(kept.expires_at - timedelta(microseconds=1))
    assert not kept.is_open(kept.expires_at)


def test_taking_back_twice_keeps_the_first_moment(demo: Engine, pack: str) -> None:
    actions.share(demo, pack, 1, days="1")
    (kept,) = actions.shares_of(demo, pack)
    actions.revoke(demo, pack, kept.id, 1)
    first = actions.shares_of(demo, pack)[0].revoked_at
    seen = counts(demo)
    actions.revoke(demo, pack, kept.id, 1)
    assert actions.shares_of(demo, pack)[0].revoked_at == first
    assert counts(demo) == seen


def test_the_link_of_another_pack_cannot_be_taken_back_through_this_one(
    demo: Engine, pack: str
) -> None:
    other = frozen_pack(demo, "Other", ("DN-1250",))
    actions.share(demo, pack, 1, days="1")
    (kept,) = actions.shares_of(demo, pack)
    for reference, number in (
        (other, kept.id),
        (pack, kept.id + 1),
        ("nothing", kept.id),
        (pack, -1),
    ):
        with pytest.raises(NotFound):
            actions.revoke(demo, reference, number, 1)
    assert actions.shares_of(demo, pack)[0].revoked_at is None
    assert actions.shares_of(demo, other) == ()


def test_too_many_open_links_are_refused_until_one_is_taken_back(demo: Engine, pack: str) -> None:
    for number in range(MOST_SHARES):
        make(demo, pack, f"{number:064x}")
    make_seen = counts(demo)
    with pytest.raises(BadValue, match="most it can have") as refused:
        make(demo, pack, "f" * 64)
    assert refused.value.field == "whom"
    assert counts(demo) == make_seen
    actions.revoke(demo, pack, actions.shares_of(demo, pack)[7].id, 1)
    make(demo, pack, "f" * 64)


def test_a_draft_is_not_shared(demo: Engine, pack: str) -> None:
    typed = {"title": "Draft", "meeting": "2026-03-12"}
    draft = new_pack(demo, 1, typed, stored_pack(demo, pack).cloths)
    choose_shown(demo, draft, 1, SHOWN, stored_pack(demo, draft).version)
    seen = counts(demo)
    with pytest.raises(Conflict, match="frozen"):
        actions.share(demo, draft, 1, days="1")
    assert counts(demo) == seen


@pytest.mark.parametrize("days", ["", "0", "-1", "367", "1.5", "soon", "١٢", "9" * 30, "1e1", "\0"])
def test_days_that_cannot_be_are_refused(demo: Engine, pack: str, days: str) -> None:
    seen = counts(demo)
    with pytest.raises(BadValue) as refused:
        actions.share(demo, pack, 1, days=days)
    assert (refused.value.field, refused.value.unit) == ("days", "d")
    assert refused.value.remedy
    assert counts(demo) == seen


@pytest.mark.parametrize("whom", ["x" * 201, "a\0b", "a\x1bb", "\u202e"])
def test_a_note_that_cannot_be_kept_is_refused(demo: Engine, pack: str, whom: str) -> None:
    seen = counts(demo)
    with pytest.raises(BadValue) as refused:
        actions.share(demo, pack, 1, days="1", whom=whom)
    assert refused.value.field == "whom"
    assert counts(demo) == seen


def test_the_secret_of_a_link_is_nowhere_in_the_database(demo: Engine, pack: str) -> None:
    token = actions.share(demo, pack, 1, days="1", whom="Anna Quist")
    actions.revoke(demo, pack, actions.shares_of(demo, pack)[0].id, 1)
    with demo.connect() as database:
        tables = ("pack_share", "audit_event", "meeting_pack", "pack_content")
        kept = " ".join(
            str(row)
            for table in tables
            for row in database.execute(text(f"SELECT * FROM {table}"))  # noqa: S608
        )
    assert token not in kept
    assert "Anna Quist" in kept
    assert len(token) >= 32
    found = [each for each in events(demo) if each.table_name == "pack_share"]
    assert [each.action for each in found] == ["add", "change"]
    assert "revoked_at" in found[1].changes


def test_a_link_is_read_with_one_statement(demo: Engine, pack: str) -> None:
    from tests.list_addresses import statements

    make(demo, pack, "a" * 64)
    with statements(demo) as seen, reading(demo) as session:
        found = store.share_by_digest(session, "a" * 64)
    assert found is not None
    assert found.reference == pack
    assert len(seen) == 1
