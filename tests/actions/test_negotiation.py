"""The negotiation sheet of a supplier: order, prices put back, earlier quotes, what it costs."""

from __future__ import annotations

import time
from decimal import Decimal

import pytest
from sqlalchemy import Engine

from server.actions.book import current_book
from server.actions.compare import BasisChange, compare_construction, figures_of
from server.actions.negotiation import explain_figure, negotiation, one_offer
from server.actions.nouns import NOUNS
from server.actions.offers import landed_offer
from server.actions.records import add_record, one_record
from server.core.errors import NotFound
from server.core.negotiation import BOTH
from tests.actions.test_price_history import requote
from tests.list_addresses import statements

SAME = BasisChange({}, {})
MARROW = "Marrow Creek Spinning"


def test_the_printed_price_to_beat_comes_out(house_engine: Engine) -> None:
    """Trade guide 7.13, story 8: Q05 would need 97.10 c/lb to tie Q07 (quoted 112)."""
    found = negotiation(house_engine, MARROW, SAME, only="Q05")
    (sheet,) = found.offers
    (price,) = sheet.prices
    assert (price.construction.code, price.place) == ("DN-1450", "filling")
    assert price.with_it.name == "Q01/Q05"
    assert price.leader is not None
    assert price.leader.other.name == "Q01/Q07"
    assert price.leader.tie is not None
    assert price.quoted.unit == "USc/lb"
    assert f"{price.leader.tie.value:.2f}" == "97.10"
    assert (found.count, found.wanted) == (5, 1)


@pytest.mark.parametrize(
    ("code", "place"),
    [("Q05", 0), ("Q09", 0), ("Q14", 2), ("Q28", 4), ("Q31", 1), ("Q18", 0), ("Q11", 3)],
)
def test_a_price_quoted_as_told_ties_with_the_best_pair_without_it(
    house_engine: Engine, code: str, place: int
) -> None:
    """Stored as a re-quote, the price to beat makes both pairs of the comparison cost the same."""
    seller = current_book(house_engine).offer(code).supplier.name
    price = negotiation(house_engine, seller, SAME, only=code).offers[0].prices[place]
    assert price.leader is not None
    assert price.leader.tie is not None
    requote(house_engine, code, "R1", price=f"{Decimal(repr(price.leader.tie.value)):f}")
    compared = compare_construction(house_engine, price.construction.code, SAME)
    names = ["R1" if each == code else each for each in price.with_it.name.split("/")]
    found = compared.find(*names), compared.find(*price.leader.other.name.split("/"))
    costs = [figures_of(compared, pair)["fabric_cost"] for pair in found if pair is not None]
    assert len(costs) == 2
    assert costs[0] == pytest.approx(costs[1], rel=1e-9)


def test_a_target_quoted_brings_the_should_cost(house_engine: Engine) -> None:
    (sheet,) = negotiation(house_engine, MARROW, SAME, only="Q15").offers
    assert sheet.held is not None
    assert sheet.held.target is not None
    requote(house_engine, "Q15", "Q15b", price=f"{Decimal(repr(sheet.held.target)):f}")
    landed = landed_offer(house_engine, "Q15b", SAME)
    assert landed.same_basis_price == pytest.approx(sheet.held.should_cost, rel=1e-9)


def test_what_can_be_used_stands_first_and_the_dead_are_counted(house_engine: Engine) -> None:
    found = negotiation(house_engine, "Nilabagh Spinning", SAME)
    assert [each.offer.code for each in found.offers] == ["Q19", "Q06"]
    assert [each.state for each in found.offers] == ["possible", "impossible"]
    assert (found.count, found.expired) == (2, 1)
    assert found.offers[1].questions[0].about == "validity"


def test_a_replaced_offer_stands_as_an_earlier_quote_with_its_change(house_engine: Engine) -> None:
    requote(house_engine, "Q05", "Q05b", price="110", quoted_on="2026-03-01")
    requote(house_engine, "Q05b", "Q05c", price="2.40", currency="USD", price_unit="kg",
            quoted_on="2026-03-02")  # fmt: skip
    found = negotiation(house_engine, MARROW, SAME)
    assert "Q05" not in {each.offer.code for each in found.offers}
    sheet = next(each for each in found.offers if each.offer.code == "Q05c")
    assert [each.offer.code for each in sheet.earlier] == ["Q05b", "Q05"]
    before = sheet.earlier[0]
    assert before.price_change is None  # another unit
    was = landed_offer(house_engine, "Q05b", SAME).same_basis_price
    now = sheet.same_basis_price
    assert was is not None
    assert now is not None
    assert before.same_basis_change == pytest.approx(now / was - 1)
    told = one_offer(house_engine, MARROW, "Q05b", SAME)
    assert told.earlier[0].price_change == pytest.approx(110 / 112 - 1)
    assert explain_figure(told, "offer.same_basis_price").value == was


def test_the_basis_of_the_address_moves_the_sheet(house_engine: Engine) -> None:
    change = BasisChange({"currency": "EUR"}, {})
    (sheet,) = negotiation(house_engine, MARROW, change, only="Q05").offers
    same = negotiation(house_engine, MARROW, SAME, only="Q05").offers[0]
    assert sheet.held is not None
    assert same.held is not None
    assert sheet.held.gap < same.held.gap  # a euro is more than a dollar
    assert sheet.held.gap_share == pytest.approx(same.held.gap_share, rel=1e-9)
    assert sheet.held.target == pytest.approx(same.held.target, rel=1e-9)
    prices = [each.prices[0].leader for each in (sheet, same)]
    ties = [each.tie.value for each in prices if each and each.tie]
    assert ties[0] == pytest.approx(ties[1], rel=1e-9)


def test_an_offer_that_cannot_be_priced_says_why(house_engine: Engine) -> None:
    entry = one_record(house_engine, NOUNS["offers"], "Q05").values
    add_record(house_engine, NOUNS["offers"], {**entry, "code": "Q90", "payment": ""}, 1)
    (sheet,) = negotiation(house_engine, MARROW, SAME, only="Q90").offers
    assert sheet.same_basis_price is None
    assert sheet.prices == ()
    assert "The payment is not said" in sheet.missing
    assert "The payment is not said" in sheet.unpriced["DN-1450"]
    assert "cannot be landed" in sheet.no_cost
    assert [each.question for each in sheet.questions] == ["What are the payment terms?"]


def test_a_yarn_no_construction_wants_is_a_candidate_nowhere(house_engine: Engine) -> None:
    entry = one_record(house_engine, NOUNS["offers"], "Q05").values
    add_record(house_engine, NOUNS["offers"], {**entry, "code": "Q91", "count": "30"}, 1)
    (sheet,) = negotiation(house_engine, MARROW, SAME, only="Q91").offers
    assert (sheet.places, sheet.prices, sheet.state, sheet.nearest) == ((), (), "", None)
    assert sheet.same_basis_price is not None


def test_the_nearest_price_is_the_one_that_asks_least(house_engine: Engine) -> None:
    sheet = negotiation(house_engine, MARROW, SAME, only="Q32").offers[0]
    nearest = sheet.nearest
    assert nearest is not None
    assert nearest.construction.code in ("DN-1050S", "DN-0975")
    assert nearest.place == "warp"
    assert {each.place for each in sheet.prices} == {"warp", "filling", BOTH}


@pytest.mark.parametrize(("supplier", "only"), [("Nobody", ""), (MARROW, "Q07"), (MARROW, "Q99")])
def test_what_is_not_there_is_named(house_engine: Engine, supplier: str, only: str) -> None:
    with pytest.raises(NotFound, match=r"There is no supplier|has no current offer"):
        negotiation(house_engine, supplier, SAME, only=only)


def test_three_hundred_offers_ask_no_statement_each(house_engine: Engine) -> None:
    entry = one_record(house_engine, NOUNS["offers"], "Q15").values
    for number in range(12):
        added = {**entry, "code": f"M{number:03}", "price": f"{100 + number}"}
        add_record(house_engine, NOUNS["offers"], added, 1)
    current_book(house_engine)
    with statements(house_engine) as few:
        negotiation(house_engine, MARROW, SAME, only="M000")
    for number in range(12, 300):
        added = {**entry, "code": f"M{number:03}", "price": f"{100 + number / 10:.1f}"}
        add_record(house_engine, NOUNS["offers"], added, 1)
    current_book(house_engine)
    with statements(house_engine) as many:
        begun = time.perf_counter()
        found = negotiation(house_engine, MARROW, SAME, part=lambda offers: offers[:12])
        page = time.perf_counter() - begun
    assert (found.count, found.wanted, len(found.offers)) == (305, 305, 12)
    assert len(many) <= len(few) + 8  # one look at the book for each construction
    assert page < 5
