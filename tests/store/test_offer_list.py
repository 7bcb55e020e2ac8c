"""The list of offers on each database: what it finds, in which order, page by page, and how."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from sqlalchemy import Engine, text

from server.actions.compare import BasisChange
from server.actions.offers import Landed, landed_offers
from server.core.construction import Basis
from server.core.folding import folded
from server.store.book import read_bases
from server.store.offer_list import ListedOffer, OfferList
from server.store.offer_prices import up_to_date
from server.store.offer_query import NOT_SAID, SORTS, STATES, Place, Wanted
from server.store.session import reading
from server.web.offers import state_of
from tests.list_addresses import statements
from tests.many_offers import add_many

MANY = 170
SAME = BasisChange({}, {})
VALUES: dict[str, Callable[[ListedOffer], Any]] = {
    "offer": lambda each: folded(each.code),
    "supplier": lambda each: folded(each.supplier),
    "country": lambda each: folded(each.country),
    "process": lambda each: folded(each.yarn.process),
    "average_ne": lambda each: each.average_ne,
    "quoted_on": lambda each: each.quoted_on,
    "valid_until": lambda each: each.valid_until,
    "lead_days": lambda each: each.lead_days,
    "goods_price": lambda each: each.goods_price,
    "landed_price": lambda each: each.landed_price,
    "same_basis_price": lambda each: each.same_basis_price,
}
FILTERS: tuple[tuple[Wanted, Callable[[Landed], bool]], ...] = (
    (Wanted(), lambda each: True),
    (Wanted(words=("THUYEN", "7/1")), lambda each: _says(each, "thuyen", "7/1")),
    (Wanted(words=("no such word",)), lambda each: False),
    (Wanted(words=("100%", "_")), lambda each: _says(each, "100%", "_")),
    (Wanted(spinning="air-jet"), lambda each: each.offer.yarn.spinning == "air-jet"),
    (Wanted(spinning=NOT_SAID), lambda each: each.offer.yarn.spinning == ""),
    (Wanted(effect="slub"), lambda each: each.offer.yarn.effect == "slub"),
    (
        Wanted(supplier="Kaveriyam Spinners"),
        lambda each: each.offer.supplier.name == "Kaveriyam Spinners",
    ),
    (Wanted(supplier="Nobody's Spinning"), lambda each: False),
    (Wanted(country="Türkiye"), lambda each: each.offer.country == "Türkiye"),
    *((Wanted(state=state), lambda each, state=state: state_of(each) == state) for state in STATES),
    (
        Wanted(quoted_from=date(2026, 2, 18), quoted_to=date(2026, 2, 20)),
        lambda each: date(2026, 2, 18) <= each.offer.quoted_on <= date(2026, 2, 20),
    ),
    (
        Wanted(valid_from=date(2026, 3, 8), valid_to=date(2026, 3, 18)),
        lambda each: (
            each.offer.valid_until is not None
            and date(2026, 3, 8) <= each.offer.valid_until <= date(2026, 3, 18)
        ),
    ),
    (Wanted(intake=7), lambda each: False),
    (
        Wanted(words=("ring",), state="open", country="India", quoted_from=date(2025, 12, 1)),
        lambda each: (
            _says(each, "ring")
            and state_of(each) == "open"
            and each.offer.country == "India"
            and each.offer.quoted_on >= date(2025, 12, 1)
        ),
    ),
)


def _says(each: Landed, *words: str) -> bool:
    offer = each.offer
    said = folded(
        f"{offer.code} {offer.supplier.name} {offer.country} {offer.yarn.process} "
        f"{offer.yarn.count_text} {offer.as_quoted}"
    )
    return all(word in said for word in words)


@pytest.fixture
def many(demo: Engine) -> Engine:
    """The demonstration with more offers, among them unproven and replaced ones."""
    add_many(demo, MANY, seed=11)
    return demo


def first_basis(engine: Engine) -> Basis:
    with reading(engine) as session:
        return read_bases(session).basis()


@contextmanager
def the_list(engine: Engine, basis: Basis | None = None) -> Iterator[OfferList]:
    """The list on the first basis, up to date."""
    on = basis or first_basis(engine)
    with up_to_date(engine, on) as now:
        yield OfferList(now.session, now.basis_id, on.meeting)


def test_every_filter_finds_what_looking_at_each_offer_finds(many: Engine) -> None:
    landed = landed_offers(many, SAME)
    assert {state_of(each) for each in landed} == set(STATES)
    for wanted, matches in FILTERS:
        expected = {each.offer.code for each in landed if matches(each)}
        for sort in ("offer", "same_basis_price", "-valid_until"):
            asked = replace(wanted, sort=sort.removeprefix("-"), descending=sort.startswith("-"))
            with the_list(many) as found:
                page = found.page(asked, 500)
                codes = [each.code for each in page.rows]
                assert set(codes) == expected, asked
                assert len(codes) == page.count == len(expected), asked
                assert list(found.codes(asked)) == codes


def test_a_row_says_what_the_offer_says(many: Engine) -> None:
    landed = {each.offer.code: each for each in landed_offers(many, SAME)}
    with the_list(many) as found:
        rows = found.page(Wanted(), 500).rows
    assert len(rows) == len(landed) == MANY + 40
    for row in rows:
        each = landed[row.code]
        asked = each.offer.open_questions
        assert row.yarn == each.offer.yarn
        assert (row.supplier, row.country) == (each.offer.supplier.name, each.offer.country)
        assert (row.price_text, row.lead_days) == (each.offer.price_text, each.offer.lead_days)
        assert (row.goods_price, row.same_basis_price) == (each.goods_price, each.same_basis_price)
        assert row.landed_price == each.figures.get("offer.landed_price")
        assert (row.average_ne, row.missing) == (each.offer.yarn.average_ne, each.missing)
        assert (row.questions, row.state) == (len(asked), state_of(each))
        if row.state == "unproven":
            assert row.note == (asked[0].sentence if asked else each.missing)
        else:
            assert row.note == ""


@pytest.mark.parametrize("descending", [False, True])
def test_pages_forwards_and_backwards_show_every_offer_once_while_offers_are_added(
    many: Engine, descending: bool
) -> None:
    for sort in SORTS:
        wanted = Wanted(sort=sort, descending=descending)
        with the_list(many) as found:
            there_before = {each.code for each in found.rows(wanted, 1_000)}
        seen = walk(many, wanted, add_between=True)
        codes = [each.code for each in seen]
        assert len(codes) == len(set(codes)), sort
        assert set(codes) >= there_before, sort
        in_order(seen, sort, descending=descending)
        with the_list(many) as found:
            everything = found.rows(wanted, 1_000)
        back = walk_back(many, wanted, everything[-1].place)
        assert back == [each.code for each in everything[:-1]], sort


def walk(engine: Engine, wanted: Wanted, *, add_between: bool = False) -> list[ListedOffer]:
    """Every page from the first on, each behind the last row of the one before."""
    seen: list[ListedOffer] = []
    after: Place | None = None
    for number in range(100):
        with the_list(engine) as found:
            page = found.page(wanted, 60, after=after)
            if not add_between:
                assert page.before == len(seen)
        seen += page.rows
        if not page.further:
            return seen
        after = page.rows[-1].place
        if add_between and number < 2:
            add_many(engine, 3, seed=100 + number)
    raise AssertionError("the pages do not end")


def walk_back(engine: Engine, wanted: Wanted, last: Place) -> list[str]:
    """Every page before a row, up to the first."""
    seen: list[str] = []
    before = last
    with the_list(engine) as found:
        while True:
            rows = found.rows(wanted, 60, before=before)
            seen = [each.code for each in rows] + seen
            if len(rows) < 60:
                return seen
            before = rows[0].place


def in_order(rows: list[ListedOffer], sort: str, *, descending: bool) -> None:
    """Sorted by the column; rows without a value come last in both directions."""
    values = [VALUES[sort](each) for each in rows]
    known = [value for value in values if value is not None]
    assert values == known + [None] * (len(values) - len(known))
    assert known == sorted(known, reverse=descending)
    assert len(set(known)) > 3


def test_the_page_before_a_row_is_the_page_that_led_to_it(many: Engine) -> None:
    wanted = Wanted(sort="landed_price")
    with the_list(many) as found:
        first = found.page(wanted, 50)
        second = found.page(wanted, 50, after=first.rows[-1].place)
        again = found.page(wanted, 50, before=second.rows[0].place)
    assert (first.before, second.before, first.count) == (0, 50, MANY + 40)
    assert again == first
    assert walk(many, wanted)


def test_a_page_before_a_row_near_the_beginning_is_a_full_first_page(many: Engine) -> None:
    with the_list(many) as found:
        first = found.page(Wanted(), 50)
        assert found.page(Wanted(), 50, before=first.rows[7].place) == first


def test_a_page_behind_the_last_row_is_empty_and_says_how_many_there_are(many: Engine) -> None:
    with the_list(many) as found:
        last = found.page(Wanted(), 500).rows[-1].place
        page = found.page(Wanted(), 50, after=last)
    assert (page.rows, page.count, page.further) == ((), MANY + 40, False)


def test_a_house_without_a_basis_lists_offers_without_prices(engine: Engine, person: int) -> None:
    add_many(engine, 20)
    with up_to_date(engine, None) as now:
        found = OfferList(now.session, now.basis_id, None)
        page = found.page(Wanted(sort="landed_price"), 100)
        assert {each.state for each in page.rows} <= {"unproven", "replaced"}
        assert {each.landed_price for each in page.rows} == {None}
        assert found.page(Wanted(state="open"), 100).count == 0
        unproven = found.page(Wanted(state="unproven"), 100).count
        assert unproven + found.page(Wanted(state="replaced"), 100).count == 20


def test_a_house_with_nothing_in_it_has_an_empty_list(engine: Engine) -> None:
    with up_to_date(engine, None) as now:
        assert OfferList(now.session, now.basis_id, None).page(Wanted(), 100).rows == ()


INDEXES = {
    "offer": "code", "supplier": "supplier", "country": "country", "process": "process",
    "average_ne": "average_ne", "quoted_on": "quoted_on", "valid_until": "valid_until",
    "lead_days": "lead_days",
}  # fmt: skip


def test_a_page_is_found_by_the_index_of_its_order(demo: Engine) -> None:
    add_many(demo, 2_000)
    with the_list(demo) as found:
        for sort in SORTS:
            index = (
                f"ix_offer_index_{INDEXES[sort]}_id"
                if sort in INDEXES
                else f"ix_offer_price_basis_id_{sort}_id"
            )
            for descending in (False, True):
                wanted = Wanted(sort=sort, descending=descending)
                place = found.rows(wanted, 150)[-1].place
                for start in (None, place):
                    plan = plan_of(found, found.query.find(wanted, start=start).limit(100))
                    assert index in plan, plan
                    assert "TEMP B-TREE" not in plan, plan  # nothing is sorted
                    assert "Sort" not in plan, plan


def test_a_filter_is_counted_by_its_index(demo: Engine) -> None:
    add_many(demo, 2_000)
    with the_list(demo) as found:
        for wanted, index in (
            (Wanted(supplier="Nilabagh Spinning"), "ix_offer_index_supplier_id_id"),
            (Wanted(intake=3), "ix_offer_index_intake_id_id"),
            (Wanted(state="unproven"), "ix_offer_price_standing"),
            (Wanted(quoted_from=date(2026, 3, 1)), "ix_offer_index_quoted_on_id"),
            (Wanted(valid_to=date(2025, 10, 1)), "ix_offer_index_valid_until_id"),
            (Wanted(country="Egypt"), "ix_offer_index_country_id"),
        ):
            assert index in plan_of(found, found.query.count(wanted))


def plan_of(found: OfferList, statement: Any) -> str:
    """How the database means to answer."""
    connection = found.session.connection()
    if found.query.sqlite:
        explain = "EXPLAIN QUERY PLAN "
    else:
        explain = "EXPLAIN "
        connection.execute(text("ANALYZE offer_index, offer_price"))
    compiled = statement.compile(connection, compile_kwargs={"literal_binds": True})
    rows = connection.exec_driver_sql(explain + str(compiled).replace("%", "%%")).all()
    return "\n".join(str(row[-1]) for row in rows)


def test_a_page_costs_the_same_statements_at_any_number_of_offers(demo: Engine) -> None:
    counted = []
    for more in (0, 900):
        if more:
            add_many(demo, more)
        with the_list(demo):  # brought up to date before it is counted
            pass
        for wanted in (Wanted(), Wanted(words=("ring",), state="open", sort="landed_price")):
            with statements(demo) as seen, the_list(demo) as found:
                page = found.page(wanted, 20)
                found.page(wanted, 20, after=page.rows[-1].place)
            counted.append(len(seen))
    assert max(counted[2:]) <= max(counted[:2]) <= 12  # two pages, each with its decisions
