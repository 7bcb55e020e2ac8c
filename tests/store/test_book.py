"""The book: the whole demonstration as core values, in a fixed number of statements."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy import Engine, event

from seed_demo.load import rows_of
from server.actions.nouns import NOUNS
from server.core.errors import NotFound
from server.core.fabric import (
    loom_ppi_from_finished,
    reed_width_from_finished,
    total_ends_from_finished,
)
from server.store.book import Book, load_book, share
from server.store.session import reading, writing
from tests.store.databases import entry_of, store


def book_of(engine: Engine) -> Book:
    with reading(engine) as session:
        return load_book(session, 7)


@contextmanager
def counted(engine: Engine) -> Iterator[list[str]]:
    """The statements sent while open."""
    sent: list[str] = []

    def note(_connection: Any, _cursor: Any, statement: str, *_rest: Any) -> None:
        if not statement.startswith(("BEGIN", "SET ")):
            sent.append(statement)

    event.listen(engine, "before_cursor_execute", note)
    try:
        yield sent
    finally:
        event.remove(engine, "before_cursor_execute", note)


def test_the_demonstration_is_read_whole(demo: Engine) -> None:
    book = book_of(demo)
    assert book.version == 7
    assert len(book.suppliers) == 16
    assert len(book.offers) == len(book.current_offers) == 40
    assert len(book.constructions) == 8
    assert len(book.rates.lanes) == 14
    for things, file in (
        (book.rates.exchange_rates, "exchange"),
        (book.rates.duties, "duties"),
        (book.rates.charges, "charges"),
        (book.limits, "gate"),
        (book.bases, "bases"),
    ):
        assert len(things) == len(rows_of(file)) > 0, file
    values = [row["set_name"] for row in rows_of("assumptions")]
    assert {
        kept.name: sum(len(points) for points in kept.values.values())
        for kept in book.assumption_sets
    } == {name: values.count(name) for name in values}
    assert book.replaced == {}


def test_each_offer_has_the_price_words_and_supplier_of_its_file(demo: Engine) -> None:
    book = book_of(demo)
    for typed in rows_of("offers"):
        offer = book.offer(typed["code"])
        assert str(offer.price) == typed["price"]
        assert (offer.currency, offer.price_unit) == (typed["currency"], typed["price_unit"])
        assert (offer.as_quoted, offer.supplier.name) == (typed["as_quoted"], typed["supplier"])
        assert offer.valid_until == date.fromisoformat(typed["valid_until"])
        assert float(offer.yarn.count) == float(typed["count"])
        assert offer.tests.get("tenacity") == float(typed["tenacity"])


def test_the_figures_of_the_demonstration_are_kept_to_the_digit(demo: Engine) -> None:
    book = book_of(demo)
    assert [str(book.offer(code).price) for code in ("Q06", "Q08", "Q19")] == [
        "2310",
        "46.80",
        "1.84",
    ]
    first = book.offer("Q19").breaks[0]
    assert (str(first.from_tonnes), str(first.price)) == ("40", "1.80")


def test_percentages_as_entered_are_shares_in_the_core(engine: Engine, person: int) -> None:
    for path in ("offers", "constructions", "bases", "rates/duties", "rates/charges"):
        store(engine, person, path)
    store(engine, person, "assumptions", key="ring.realisation", at_ne="", value="88", low="",
          high="")  # fmt: skip
    store(engine, person, "gate", property="count_deviation", value="1.5")
    store(engine, person, "gate", property="tenacity", value="12.5")
    store(engine, person, "rates/charges", key="insurance_rate", value="0.2")
    book = book_of(engine)
    (offer,), (construction,), (basis,) = book.offers, book.constructions, book.bases
    assert offer.tax_inside == 0.18
    assert offer.quoted_regain == 0.085
    assert offer.count_tolerance == 0.015
    assert construction.length_shrink == 0.13
    assert construction.net_finish == -0.03
    slots = {(slot.direction, slot.position): slot for slot in construction.slots}
    assert slots["warp", 1].crimp == 0.11
    assert slots["warp", 1].waste == 0.045
    assert slots["warp", 1].share_of_threads == 0.6
    assert slots["warp", 2].share_of_threads == 0.4
    assert slots["filling", 1].share_of_threads == 1.0
    assert basis.house_regain == {"cotton": 0.085, "cotton dual core": 0.08}
    assert basis.count_threshold == 0.003
    assert book.rates.duties[0].rate == 0.1
    assert {charge.key: charge.value for charge in book.rates.charges} == {
        "insured_share": 1.1,
        "insurance_rate": 0.002,
    }
    assert {limit.property: limit.value for limit in book.limits} == {
        "count_deviation": 0.015,
        "tenacity": 12.5,
    }
    values = book.assumption_sets[0].values
    assert values["ring.realisation"][0][1].value == 0.88
    assert values["ring.spindle_rpm"][0][0] == 7.0
    assert values["ring.spindle_rpm"][0][1].value == 9500.0


@pytest.mark.parametrize(
    ("percent", "expected"), [(None, 0.0), ("0", 0.0), ("8.50", 0.085), ("0.3", 0.003)]
)
def test_a_share_is_the_percentage_without_a_rounding_fault(
    percent: str | None, expected: float
) -> None:
    assert share(None if percent is None else Decimal(percent)) == expected


def test_a_record_has_its_owner_and_its_parts_in_order(engine: Engine, person: int) -> None:
    store(engine, person, "offers", core2_denier="300", core2_draft="1.1")
    store(engine, person, "gate")
    store(engine, person, "bases")
    store(engine, person, "assumptions", at_ne="4", value="9000", low="", high="")
    book = book_of(engine)
    assert book.limits[0].owner == book.basis("Meeting").owner == "Rosalía Quintero"
    (offer,) = book.offers
    assert [str(step.from_tonnes) for step in offer.breaks] == ["40", "100.50"]
    assert [(core.denier, core.draft) for core in offer.yarn.cores] == [(70, 3.5), (300, 1.1)]
    rpm = book.assumption_set("House 2026").values["ring.spindle_rpm"]
    assert [at for at, _ in rpm] == [4.0, 7.0]
    assert "Rosalía Quintero" in rpm[0][1].source


def test_replaced_offers_are_kept_and_are_not_current(engine: Engine, person: int) -> None:
    store(engine, person, "offers")
    store(engine, person, "offers", code="X02", replaces="X01")
    store(engine, person, "offers", code="X03", replaces="X02")
    store(engine, person, "offers", code="X04")
    book = book_of(engine)
    assert [offer.code for offer in book.offers] == ["X01", "X02", "X03", "X04"]
    assert [offer.code for offer in book.current_offers] == ["X03", "X04"]
    assert book.replaced == {"X01": "X02", "X02": "X03"}


def test_loom_figures_stand_as_entered(demo: Engine) -> None:
    for typed in rows_of("constructions"):
        construction = book_of(demo).construction(typed["code"])
        assert construction.total_ends == float(typed["total_ends"])
        assert construction.reed_width_in == float(typed["reed_width_in"])
        assert construction.loom_ppi == float(typed["loom_ppi"])


def test_loom_figures_of_a_finished_construction_are_derived(engine: Engine, person: int) -> None:
    store(
        engine,
        person,
        "constructions",
        entered_state="finished",
        total_ends="",
        reed_width_in="",
        loom_ppi="",
        finished_epi="64",
        finished_ppi="45",
        filling_crimp_percent="7.5",
    )
    (construction,) = book_of(engine).constructions
    assert construction.total_ends == total_ends_from_finished(
        finished_epi=64.0, finished_width_in=60.5
    )
    assert construction.total_ends == pytest.approx(3872)
    assert construction.reed_width_in == reed_width_from_finished(
        finished_width_in=60.5, filling_crimp=0.075
    )
    assert construction.reed_width_in == pytest.approx(65.0375)
    assert construction.loom_ppi == loom_ppi_from_finished(finished_ppi=45.0, length_shrink=0.13)
    assert construction.loom_ppi == pytest.approx(39.15)
    assert (construction.entered_state, construction.filling_crimp) == ("finished", 0.075)


def test_an_empty_house_has_an_empty_book(engine: Engine) -> None:
    book = book_of(engine)
    assert (book.suppliers, book.offers, book.constructions, book.bases) == ((), (), (), ())
    with pytest.raises(NotFound, match="basis"):
        book.basis()


def test_what_is_not_in_the_book_is_not_found(demo: Engine) -> None:
    book = book_of(demo)
    for look in (book.offer, book.construction, book.basis, book.assumption_set):
        with pytest.raises(NotFound, match="nothing like it"):
            look("nothing like it")
    assert book.basis() is book.bases[0]


def test_the_number_of_statements_does_not_grow_with_the_offers(
    engine: Engine, person: int
) -> None:
    sent: dict[int, int] = {}
    lists: dict[int, int] = {}
    with writing(engine, person) as session:
        NOUNS["suppliers"].keeper.add(session, entry_of("suppliers"))
    for first, last in ((0, 40), (40, 400)):
        with writing(engine, person) as session:
            for place in range(first, last):
                NOUNS["offers"].keeper.add(
                    session, entry_of("offers", code=f"M{place}", count=f"{6 + place % 9}")
                )
        with counted(engine) as statements:
            assert len(book_of(engine).offers) == last
        sent[last] = len(statements)
        with counted(engine) as statements, reading(engine) as reader:
            assert len(NOUNS["offers"].keeper.all(reader)) == last
        lists[last] = len(statements)
    assert sent[400] == sent[40] <= 20
    assert lists[400] == lists[40] <= 10


def test_a_reader_sees_one_moment_in_all_its_statements(engine: Engine, person: int) -> None:
    store(engine, person, "offers")
    with reading(engine) as session:
        assert len(NOUNS["suppliers"].keeper.all(session)) == 1
        store(engine, person, "suppliers", name="Later")
        store(engine, person, "offers", code="X02", supplier="Later")
        book = load_book(session, 1)
    assert [offer.code for offer in book.offers] == ["X01"]
    assert len(book_of(engine).offers) == 2
