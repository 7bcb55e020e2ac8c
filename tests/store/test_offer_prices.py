"""The derived lists of offers stay what working everything out anew would give, to the last bit."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy import Engine
from sqlmodel import Session, col, func, select

from server.actions.nouns import NOUNS
from server.actions.records import add_record, change_record, one_record
from server.core.construction import Basis
from server.core.errors import CreelbookError
from server.core.landing import land
from server.store import offer_changes, offer_prices, tables
from server.store.audit import data_version
from server.store.book import load_book, read_bases
from server.store.failures import StoreUnavailable
from server.store.offer_index import index_row
from server.store.offer_list import OfferList
from server.store.offer_prices import INDEX, MOST_BASES, price_key, up_to_date
from server.store.offer_query import Wanted
from server.store.session import open_engine, reading, writing
from server.store.tables import (
    AuditEvent,
    ListVersionRow,
    OfferIndexRow,
    OfferPriceRow,
    OfferRow,
    QuestionRow,
    SupplierRow,
)
from tests.many_offers import add_many

OFFERS = NOUNS["offers"]
FIGURES = ("goods_price", "landed_price", "same_basis_price")
PESO = {"base": "USD", "quote": "MXN", "rate": "15.00", "valid_from": "2026-03-02",
        "source": "trial"}  # fmt: skip


def first_basis(engine: Engine) -> Basis:
    with reading(engine) as session:
        return read_bases(session).basis()


@pytest.fixture
def many(demo: Engine) -> Engine:
    """The demonstration with more offers, its lists brought up to date."""
    add_many(demo, 110, seed=5)
    with up_to_date(demo, first_basis(demo)):
        return demo


def true_now(engine: Engine, basis: Basis | None = None) -> None:
    """Bring the lists up to date and hold every row against working it out from the book."""
    on = basis or first_basis(engine)
    with up_to_date(engine, on) as now:
        stored_index = rows_of(now.session, OfferIndexRow)
        stored_prices = rows_of(now.session, OfferPriceRow, basis_id=now.basis_id)
    with reading(engine) as session:
        book = load_book(session, data_version(engine))
        intakes = dict(session.exec(select(OfferRow.id, OfferRow.intake_id)).all())
    assert set(stored_index) == set(stored_prices) == {offer.id for offer in book.offers}
    for offer in book.offers:
        replaced = offer.code in book.replaced
        assert stored_index[offer.id] == index_row(
            offer, replaced=replaced, intake_id=intakes[offer.id]
        )
        figures, missing = [None, None, None], ""
        try:
            landing = land(offer, on, book.rates, prefix="offer")
            values = {name: float(entry.value) for name, entry in landing.inputs.items()}
            found = landing.sheet.evaluate(values)
            figures = [found[f"offer.{name}"] for name in FIGURES]
        except CreelbookError as absent:
            missing = str(absent)
        stored = stored_prices[offer.id]
        assert [stored[name] for name in FIGURES] == figures, offer.code
        assert stored["missing"] == missing
        unproven = missing or offer.open_questions
        standing = "replaced" if replaced else "unproven" if unproven else "proven"
        assert (stored["standing"], stored["valid_until"]) == (standing, offer.valid_until)


def rows_of(session: Session, table: Any, **where: Any) -> dict[int, dict[str, Any]]:
    statement = select(table)
    for name, value in where.items():
        statement = statement.where(col(getattr(table, name)) == value)
    return {row.id: row.model_dump() for row in session.exec(statement).all()}


@contextmanager
def worked_out(monkeypatch: pytest.MonkeyPatch) -> Iterator[dict[str, list[int]]]:
    """The offers that are worked out anew while it is open, for each list."""
    seen: dict[str, list[int]] = {"index": [], "prices": []}
    plain = offer_prices._Work.store

    def noting(work: Any, ids: Any, lists: Any) -> None:
        for what in lists:
            seen["index" if what == INDEX else "prices"] += ids
        plain(work, ids, lists)

    with monkeypatch.context() as patched:
        patched.setattr(offer_prices._Work, "store", noting)
        yield seen


def test_the_lists_of_a_new_house_are_true(many: Engine) -> None:
    true_now(many)


def edit(path: str, key: str, **typed: Any) -> Callable[[Engine], None]:
    """Change fields of a record."""

    def do(engine: Engine) -> None:
        kept = one_record(engine, NOUNS[path], key)
        change_record(engine, NOUNS[path], key, {**kept.values, **typed}, kept.version, 1)

    return do


def add_rate(engine: Engine) -> None:
    add_record(engine, NOUNS["rates/exchange"], PESO, 1)


def requote(engine: Engine) -> None:
    kept = one_record(engine, OFFERS, "Q05")
    add_record(engine, OFFERS, {**kept.values, "code": "Q05b", "replaces": "Q05"}, 1)


def ask(engine: Engine) -> None:
    with writing(engine, 1) as session:
        session.add(QuestionRow(owner_id=1, offer_id=5, field="payment", sentence="Ask: when?"))


def take_the_question_away(engine: Engine) -> None:
    ask(engine)
    true_now(engine)
    with writing(engine, 1) as session:
        session.delete(session.exec(select(QuestionRow).where(QuestionRow.offer_id == 5)).one())


def remove(engine: Engine) -> None:
    requote(engine)
    true_now(engine)
    with writing(engine, 1) as session:
        row = session.exec(select(OfferRow).where(OfferRow.code == "Q05b")).one()
        for test in session.exec(
            select(tables.TestValueRow).where(tables.TestValueRow.offer_id == row.id)
        ):
            session.delete(test)
        session.flush()
        session.delete(row)


@pytest.mark.parametrize(
    ("change", "codes"),
    [
        (edit("offers", "Q05", lead_days="44"), {"Q05"}),
        (edit("offers", "Q05", fibre_mix="50/50 polyester/cotton"), {"Q05"}),
        (edit("offers", "Q05", tenacity="17"), set()),  # no list shows it
        (requote, {"Q05", "Q05b"}),
        (ask, {"Q05"}),
        (take_the_question_away, {"Q05"}),
        (remove, {"Q05"}),
        (edit("suppliers", "Hilos Ixcanel", country="Mexico"), {"Q29", "Q31", "Q39"}),
        (edit("constructions", "DN-1375", name="Another"), set()),
        (edit("gate", "1", value="11"), set()),
    ],
)
def test_a_change_of_an_offer_works_out_that_offer_alone(
    demo: Engine,
    monkeypatch: pytest.MonkeyPatch,
    change: Callable[[Engine], None],
    codes: set[str],
) -> None:
    true_now(demo)
    change(demo)
    with reading(demo) as session:
        ids = dict(session.exec(select(OfferRow.id, OfferRow.code)).all())
    with worked_out(monkeypatch) as seen:
        true_now(demo)
    for done in seen.values():
        assert {ids[each] for each in done if each in ids} == codes
        assert len(done) == len(set(done)) < 5


@pytest.mark.parametrize(
    "change",
    [
        add_rate,
        edit("rates/lanes", "3", freight="5100"),
        edit("rates/charges", "1", value="0.4"),
        edit("rates/duties", "3", rate_percent="12.5", preparation="carded"),
    ],
)
def test_a_change_of_a_rate_prices_everything_and_indexes_nothing(
    many: Engine, monkeypatch: pytest.MonkeyPatch, change: Callable[[Engine], None]
) -> None:
    change(many)
    with worked_out(monkeypatch) as seen:
        true_now(many)
    assert len(seen["prices"]) == len(set(seen["prices"])) == 150
    assert seen["index"] == []


def test_another_regain_day_or_currency_is_another_basis_and_the_meeting_is_not(
    many: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    basis = first_basis(many)
    for change, anew in (
        ({"meeting": date(2026, 3, 19)}, 0),
        ({"need_by": date(2026, 7, 1), "name": "Another", "quantity": "season"}, 0),
        ({"currency": "EUR"}, 150),
        ({"rates_on": date(2026, 3, 3)}, 150),
        ({"house_regain": {**basis.house_regain, "cotton": 0.07}}, 150),
    ):
        with worked_out(monkeypatch) as seen:
            true_now(many, replace(basis, **change))
        assert (len(seen["prices"]), seen["index"]) == (anew, []), change


def test_only_the_bases_used_last_are_kept(many: Engine) -> None:
    basis = first_basis(many)
    others = [replace(basis, rates_on=date(2026, 4, day)) for day in range(1, MOST_BASES + 3)]
    for other in others:
        with up_to_date(many, other):
            pass
    with reading(many) as session:
        kept = set(session.exec(select(ListVersionRow.what)).all())
        priced = session.exec(select(func.count()).select_from(OfferPriceRow)).one()
    assert kept == {INDEX, *(price_key(other) for other in others[-MOST_BASES:])}
    assert priced == MOST_BASES * 150
    true_now(many)  # the first one comes back when it is asked for


def test_many_changes_at_once_are_worked_out_together(
    many: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(offer_changes, "MANY_EVENTS", 50)
    monkeypatch.setattr(offer_prices, "PIECE", 64)
    add_many(many, 90, seed=6)
    with worked_out(monkeypatch) as seen:
        true_now(many)
    assert len(seen["index"]) == len(set(seen["index"])) == 240


def test_a_change_between_working_out_and_storing_is_not_lost(
    many: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    plain, changes = offer_prices._Work._rows, iter((edit("offers", "Q05", lead_days="44"),
                                                     add_rate))  # fmt: skip

    def slowly(work: Any, *given: Any) -> Any:
        found = plain(work, *given)
        change = next(changes, None)
        if change:
            change(many)  # somebody else is quicker
        return found

    edit("offers", "Q05", lead_days="50")(many)
    monkeypatch.setattr(offer_prices._Work, "_rows", slowly)
    with up_to_date(many, first_basis(many)):
        pass
    monkeypatch.undo()
    true_now(many)


def test_when_others_are_always_quicker_the_work_is_done_among_the_writers(
    many: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(offer_prices._Work, "_still_true", lambda *_given: False)
    add_rate(many)
    true_now(many)


def test_several_processes_and_a_writer_leave_true_lists(many: Engine, address: str) -> None:
    failures: list[BaseException] = []
    stop = threading.Event()

    def watch() -> None:
        own = open_engine(address)  # an engine of its own, as a process has
        try:
            while not stop.is_set():
                basis = first_basis(own)
                with up_to_date(own, basis) as now:
                    page = OfferList(now.session, now.basis_id, basis.meeting).page(Wanted(), 500)
                    assert len(page.rows) == page.count
        except BaseException as failure:
            failures.append(failure)
        finally:
            own.dispose()

    watchers = [threading.Thread(target=watch) for _ in range(2)]
    for watcher in watchers:
        watcher.start()
    for round_ in range(3):
        edit("rates/lanes", str(3 + round_), freight=str(4000 + round_))(many)
        add_many(many, 15, seed=50 + round_)
        edit("offers", "Q05", lead_days=str(20 + round_))(many)
        edit("suppliers", "Hilos Ixcanel", country=("Mexico", "Guatemala")[round_ % 2])(many)
    stop.set()
    for watcher in watchers:
        watcher.join(30)
    assert failures == []
    true_now(many)


def test_an_older_list_is_shown_while_the_database_is_too_busy_to_take_a_newer(
    many: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    add_rate(many)

    def busy(*_given: Any) -> None:
        raise StoreUnavailable("The database cannot take this just now.", remedy="Try again.")

    monkeypatch.setattr(offer_prices, "_refresh", busy)
    with up_to_date(many, first_basis(many)) as now:
        assert now.behind
        assert len(rows_of(now.session, OfferPriceRow, basis_id=now.basis_id)) == 150
    with (
        pytest.raises(StoreUnavailable),
        up_to_date(many, replace(first_basis(many), rates_on=date(2026, 5, 1))),
    ):
        pass
    monkeypatch.undo()
    true_now(many)


def test_a_list_that_is_up_to_date_costs_one_statement_and_nothing_is_written(
    many: Engine,
) -> None:
    basis = first_basis(many)
    with reading(many) as session:
        before = session.exec(select(ListVersionRow.what, ListVersionRow.used_at)).all()
    with up_to_date(many, basis) as now:
        assert not now.behind
    with reading(many) as session:
        assert session.exec(select(ListVersionRow.what, ListVersionRow.used_at)).all() == before


def test_names_of_any_length_and_alphabet_fit_the_index(demo: Engine) -> None:
    name = "ﷺ" * 60 + " Đặng Łódź ß"
    with writing(demo, 1) as session:
        session.add(SupplierRow(owner_id=1, name=name, country="Österreich"))
    given = {**one_record(demo, OFFERS, "Q01").values, "code": "LONG", "supplier": name}
    add_record(demo, OFFERS, {**given, "price": Decimal("2.5")}, 1)
    true_now(demo)
    with up_to_date(demo, first_basis(demo)) as now:
        found = OfferList(now.session, now.basis_id, first_basis(demo).meeting)
        assert [each.code for each in found.page(Wanted(words=("dang", "LODZ")), 9).rows] == [
            "LONG"
        ]
        assert found.page(Wanted(country="osterreich"), 9).count == 1


def test_many_offers_are_the_same_for_the_same_seed(demo: Engine) -> None:
    codes = add_many(demo, 40, seed=2)
    assert len(set(codes)) == 40
    with reading(demo) as session:
        rows = session.exec(select(OfferRow).where(col(OfferRow.code).in_(codes))).all()
        events = session.exec(select(func.count()).select_from(AuditEvent)).one()
    assert [row.as_quoted for row in rows][:1] != [rows[1].as_quoted]
    assert events > 40
    add_record(demo, OFFERS, {**one_record(demo, OFFERS, "Q01").values, "code": "NEXT"}, 1)
