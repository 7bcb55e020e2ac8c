"""Doubts about a price: beside fibre, the seller's own offers and those of others."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.core.doubts import Doubt
from server.core.landing import land
from server.core.offer import Offer
from server.core.price_doubts import Beside, goods_per_kg, of_one_kind, price_doubts
from tests.builders import assumption_set, basis, demo_book, offer, rate_book, supplier, yarn

FIBRE = assumption_set(
    ring__fibre_price=1.78, ring__realisation=0.88, OE__fibre_price=1.60, OE__realisation=0.90
)


def doubts(made: Offer, **changes: Any) -> list[Doubt]:
    values: dict[str, Any] = {
        "basis": basis(), "rates": rate_book(), "assumptions": FIBRE, "own": (), "others": (),
        "price": None,
    }  # fmt: skip
    return list(price_doubts(made, Beside(**values | changes)))


def test_a_price_inside_the_band_raises_no_doubt() -> None:
    assert doubts(offer(price=Decimal("2.46"))) == []


def test_a_price_below_its_fibre_raises_a_question_about_the_fibre() -> None:
    """1.78 USD/kg of fibre at 88 % realisation is 2.023 in a kilogram of yarn."""
    (doubt,) = doubts(offer(price=Decimal("1.95")))
    assert doubt.key == "below fibre"
    assert [round(float(figure.value), 4) for figure in doubt.figures] == [1.95, 2.0227]
    assert "realisation" in doubt.source


def test_a_price_above_the_published_band_names_the_source() -> None:
    (doubt,) = doubts(offer(price=Decimal("4.50")))
    assert doubt.key == "above cotton band"
    assert doubt.figures[1].value == pytest.approx(2.5 * 1.78)
    assert "ITC Cotton Guide" in doubt.source
    assert doubts(offer(price=Decimal("4.44"))) == []


@pytest.mark.parametrize(
    ("price", "unit", "other", "kg"),
    [
        ("432", "bale (480 lb)", "bale (400 lb)", 2.3810),  # trade guide, 2: 1.9842 is the mistake
        ("12.00", "lb", "10 lb", 2.6455),
        ("1.17", "kg", "lb", 2.5794),
        ("25.8", "kg", "10 kg", 2.58),
    ],
)
def test_a_price_that_makes_sense_for_another_unit(
    price: str, unit: str, other: str, kg: float
) -> None:
    (doubt,) = doubts(offer(price=Decimal(price), price_unit=unit))
    assert doubt.key == "price unit"
    assert doubt.question == f"is the price for one {unit} or for one {other}?"
    assert doubt.figures[-1].value == pytest.approx(kg, abs=5e-5)


@pytest.mark.parametrize(
    "changes",
    [
        {"yarn": yarn(core="elastane")},
        {"yarn": yarn(fibre_mix="50/50 polyester/cotton")},
        {"yarn": yarn(spinning="air-jet")},
        {"currency": ""},
        {"currency": "THB"},
        {"price_unit": ""},
    ],
)
def test_where_the_fibre_is_not_known_nothing_is_asked(changes: dict[str, Any]) -> None:
    assert doubts(offer(price=Decimal("0.90"), **changes)) == []


def test_without_assumptions_nothing_is_asked() -> None:
    assert doubts(offer(price=Decimal("0.90")), assumptions=None) == []
    assert doubts(offer(price=Decimal("0.90")), assumptions=assumption_set()) == []


def test_goods_are_without_tax_and_in_the_reporting_currency() -> None:
    """Trade guide, 2: 112 c/lb is 2.4692 USD/kg; 15,900 CNY/t with 13 % tax is 2.0363 USD/kg."""
    assert goods_per_kg(
        offer(price=Decimal(112), currency="USc", price_unit="lb"), basis(), rate_book()
    ) == pytest.approx(2.4692, abs=5e-5)
    demo = demo_book()
    found = goods_per_kg(demo.offer("Q33"), demo.basis(), demo.rates)
    assert found == pytest.approx(2.0363, abs=5e-5)


def test_two_prices_that_differ_by_a_rate_of_tax() -> None:
    dear = offer(code="T02", price=Decimal("2.78"))
    cheap = offer(code="T01", price=Decimal("2.46"))  # × 1.13 = 2.7798
    (doubt,) = doubts(dear, own=(cheap,))
    assert doubt.key == "tax inside"
    assert "T02 is exactly 13 % above T01" in doubt.sentence
    assert [each.key for each in doubts(cheap, own=(dear,))] == ["tax inside"]


def test_one_price_with_tax_and_without() -> None:
    with_tax = offer(code="T02", price=Decimal("2.78"), tax_inside=0.13)
    without = offer(code="T01", price=Decimal("2.78"))
    (doubt,) = doubts(without, own=(with_tax,))
    assert doubt.key == "tax inside"
    assert "only one is said to have tax inside" in doubt.sentence


@pytest.mark.parametrize(
    ("price", "changes"),
    [
        ("2.79", {}),  # 13.4 %
        ("2.46", {}),
        ("2.78", {"term": "CIF"}),
        ("2.78", {"yarn": yarn(count=Decimal(8))}),
        ("2.78", {"yarn": yarn(twist="S")}),
        ("2.78", {"supplier": supplier(id=2, name="Other")}),
    ],
)
def test_other_differences_are_no_tax(price: str, changes: dict[str, Any]) -> None:
    other = offer(code="T02", price=Decimal(price), **changes)
    assert doubts(offer(code="T01", price=Decimal("2.46")), own=(other,)) == []


@pytest.mark.parametrize(
    ("price", "others", "is_far"),
    [
        (2.50, (2.0, 2.0, 2.0), False),
        (2.51, (2.0, 1.0, 9.0), True),
        (1.49, (2.0, 2.0, 2.0), True),
        (9.00, (2.0, 2.0), False),
        (None, (2.0, 2.0, 2.0), False),
    ],
)
def test_a_price_far_from_the_median_of_three(
    price: float | None, others: tuple[float, ...], is_far: bool
) -> None:
    found = doubts(offer(), price=price, others=others)
    assert [each.key for each in found] == (["far from others"] if is_far else [])
    for doubt in found:
        assert "2.0" not in doubt.question  # what others ask is for the buyer's eyes


def test_one_kind_is_one_process_fibre_and_nearly_one_count() -> None:
    seven = offer()
    assert of_one_kind(seven, offer(yarn=yarn(count=Decimal("8.4"))))
    assert not of_one_kind(seven, offer(yarn=yarn(count=Decimal("8.5"))))
    assert not of_one_kind(seven, offer(yarn=yarn(spinning="OE")))
    assert not of_one_kind(seven, offer(yarn=yarn(effect="slub")))
    assert not of_one_kind(seven, offer(yarn=yarn(count_basis="unknown")))


def test_the_demonstration_raises_one_doubt_about_a_price() -> None:
    """Q21, recycled cotton at 1.62 USD/kg, is below the fibre of the house's rotor yarn."""
    book, on = demo_book(), demo_book().basis()
    priced = {}
    for each in book.offers:
        landing = land(each, on, book.rates, prefix="at")
        figures = landing.sheet.evaluate({n: e.value for n, e in landing.inputs.items()})
        priced[each.code] = float(figures["at.same_basis_price"])
    found = {}
    for each in book.offers:
        rest = [other for other in book.offers if other.code != each.code]
        beside = Beside(
            on,
            book.rates,
            book.assumption_set(on.assumption_set),
            tuple(other for other in rest if other.supplier.id == each.supplier.id),
            tuple(priced[other.code] for other in rest if of_one_kind(other, each)),
            priced[each.code],
        )
        found[each.code] = [doubt.key for doubt in price_doubts(each, beside)]
    assert {code: keys for code, keys in found.items() if keys} == {"Q21": ["below fibre"]}


@settings(max_examples=200, deadline=None)
@given(
    price=st.decimals("2.03", "4.44", places=2),
    spread=st.lists(st.floats(0.85, 1.15), max_size=6),
)
def test_a_price_near_its_market_and_above_its_fibre_raises_none(
    price: Decimal, spread: list[float]
) -> None:
    others = tuple(float(price) * each for each in spread)
    assert doubts(offer(price=price), others=others, price=float(price)) == []
