"""Files of an offer: bytes kept once, gone when nothing refers to them, told in the history."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from sqlalchemy import Engine
from sqlmodel import func, select

from server.actions.nouns import NOUNS
from server.core.errors import BadValue, NotFound
from server.store import offer_tests
from server.store.attachments import attach_file, attachments, content_of, detach_file
from server.store.intakes import add_file
from server.store.session import reading, writing
from server.store.tables import IntakeRow, StoredFile
from tests.store.databases import store

PDF = b"%PDF-1.7 a sheet"


def attach(engine: Engine, person: int, code: str = "X01", name: str = "sheet.pdf") -> int:
    with writing(engine, person) as session:
        return attach_file(session, code, name=name, content=PDF, kind="TDS", note="by mail")


def detach(engine: Engine, person: int, number: int, code: str = "X01") -> None:
    with writing(engine, person) as session:
        detach_file(session, code, number)


def kept_files(engine: Engine) -> int:
    with reading(engine) as session:
        return session.exec(select(func.count()).select_from(StoredFile)).one()


def test_a_file_is_given_back_byte_for_byte(engine: Engine, person: int) -> None:
    store(engine, person, "offers")
    number = attach(engine, person)
    with reading(engine) as session:
        assert content_of(session, "X01", number) == ("sheet.pdf", PDF)
        (told,) = attachments(session, "X01")
    assert (told.kind, told.note, told.size, told.person) == (
        "TDS", "by mail", len(PDF), "Rosalía Quintero",
    )  # fmt: skip


def test_bytes_that_two_offers_share_stay_until_the_last_is_removed(
    engine: Engine, person: int
) -> None:
    store(engine, person, "offers")
    store(engine, person, "offers", code="X02")
    first, second = attach(engine, person), attach(engine, person, "X02")
    assert kept_files(engine) == 1
    detach(engine, person, first)
    with reading(engine) as session:
        assert content_of(session, "X02", second)[1] == PDF
    detach(engine, person, second, "X02")
    assert kept_files(engine) == 0


def test_bytes_that_an_intake_refers_to_stay(engine: Engine, person: int) -> None:
    store(engine, person, "offers")
    number = attach(engine, person)
    with writing(engine, person) as session:
        session.add(
            IntakeRow(
                owner_id=person,
                file_id=add_file(session, "sheet.pdf", PDF),
                kind="file",
                received_on=date(2026, 3, 1),
            )
        )
    detach(engine, person, number)
    assert kept_files(engine) == 1


def test_the_history_keeps_that_a_file_was_there(engine: Engine, person: int) -> None:
    store(engine, person, "offers")
    detach(engine, person, attach(engine, person))
    keeper = NOUNS["offers"].keeper
    with reading(engine) as session:
        history = keeper.history(session, keeper.one(session, "X01").id)
    assert [change.changes for change in history[:2]] == [
        (("file", "sheet.pdf", None),),
        (("file", None, "sheet.pdf"),),
    ]


def test_values_read_in_a_removed_file_stay_without_it(engine: Engine, person: int) -> None:
    store(engine, person, "offers")
    number = attach(engine, person)
    with writing(engine, person) as session:
        offer_tests.add_test_value(
            session,
            "X01",
            {"property": "tenacity", "value": Decimal("13.0"), "method": "sheet", "lot": "L-8",
             "tested_on": None, "attachment_id": number},
        )  # fmt: skip
    with reading(engine) as session:
        assert attachments(session, "X01")[0].values == 1
    detach(engine, person, number)
    with reading(engine) as session:
        value = next(e for e in offer_tests.test_values(session, "X01") if e.lot == "L-8")
    assert (value.attachment_id, value.file, str(value.value)) == (None, "", "13.0")


def test_the_same_file_is_attached_once_to_an_offer(engine: Engine, person: int) -> None:
    store(engine, person, "offers")
    attach(engine, person)
    with pytest.raises(BadValue, match="attached already"):
        attach(engine, person)
    attach(engine, person, name="again.pdf")  # the same bytes under another name: theirs to choose


def test_a_file_of_another_offer_is_not_found_here(engine: Engine, person: int) -> None:
    store(engine, person, "offers")
    number = attach(engine, person)
    store(engine, person, "offers", code="X02")
    with pytest.raises(NotFound):
        detach(engine, person, number, "X02")
    with pytest.raises(NotFound), reading(engine) as session:
        content_of(session, "X02", number)
    with pytest.raises(NotFound), reading(engine) as session:
        attachments(session, "none\0such")
