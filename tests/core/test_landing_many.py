"""Many offers priced together cost, to the last bit, what each costs alone."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from itertools import product
from typing import Any

import pytest

from server.core.construction import Basis
from server.core.errors import CreelbookError
from server.core.landed import TERMS
from server.core.landing import land
from server.core.landing_many import FIGURES, ManyLandings, Priced
from server.core.offer import Offer
from server.core.questions import Question
from server.core.rates import RateBook
from tests.builders import (
    basis,
    charges,
    demo_book,
    duty_rate,
    lane,
    offer,
    rate_book,
    supplier,
    yarn,
)


def alone(each: Offer, on: Basis, rates: RateBook) -> Priced:
    """What an offer costs by its own landing."""
    try:
        landing = land(each, on, rates, prefix="warp")
    except CreelbookError as missing:
        return Priced(None, None, None, str(missing))
    values = {name: float(entry.value) for name, entry in landing.inputs.items()}
    found = landing.sheet.evaluate(values)
    goods, landed, same = (float(found[f"warp.{name}"]) for name in FIGURES)
    return Priced(goods, landed, same)


RATES = rate_book(
    lanes=(
        lane(),
        lane(id=2, country="Homeland", freight=0.0, inland=0.0, transit_days=2, domestic=True),
        lane(id=3, country="Otherland", freight=51_000.0, inland=1.7, currency="MXN"),
    ),
    duties=(
        duty_rate(),
        duty_rate(id=2, country="Homeland", rate=0.0),
        duty_rate(id=3, country="Otherland", base="FOB", rate=0.07),
        duty_rate(id=4, country="Otherland", rate=0.03, preparation="combed"),
        duty_rate(id=5, country="Otherland", rate=0.11, dtex_from=714.29),
    ),
    charges=charges(year_days=365.0),
)


def every_manner() -> list[Offer]:
    """Offers of every term from every country, in many currencies, units and yarns."""
    found = []
    sorts = product(
        TERMS,
        ("Farland", "Homeland", "Otherland", "Nowhere"),
        ("USD", "USc", "EUR", "MXN", "JPY"),
        ("LC sight", "OA 60", "TT 30/70", "TT advance"),
    )
    for number, (term, country, currency, payment) in enumerate(sorts):
        found.append(
            offer(
                id=number,
                code=f"T{number}",
                supplier=supplier(country=country),
                yarn=yarn(
                    count=Decimal(5 + number % 13),
                    preparation=("carded", "combed", "")[number % 3],
                    fibre_mix="cotton" if number % 17 else "linen",
                ),
                term=term,
                currency=currency,
                payment=payment,
                price=Decimal(number % 97 + 1) / 7,
                price_unit=("kg", "lb", "bale (400 lb)")[number % 3],
                tax_inside=(0.0, 0.13)[number % 2],
                quoted_regain=(0.085, 0.07, 0.0370)[number % 3],
                lead_days=number % 60,
            )
        )
    return found


@pytest.mark.parametrize("currency", ["USD", "EUR", "MXN", "GBP"])
def test_offers_of_every_manner_cost_together_what_they_cost_alone(currency: str) -> None:
    on = basis(currency=currency)
    offers = every_manner()
    together = ManyLandings(on, RATES).prices(offers)
    assert together == [alone(each, on, RATES) for each in offers]
    assert any(each.missing for each in together)
    assert currency == "GBP" or sum(not each.missing for each in together) > 300


def test_the_demonstration_costs_together_what_it_costs_alone() -> None:
    book = demo_book()
    together = ManyLandings(book.basis(), book.rates).prices(book.offers)
    assert together == [alone(each, book.basis(), book.rates) for each in book.offers]


@pytest.mark.parametrize(
    "unsaid",
    [
        {"currency": ""},
        {"price_unit": ""},
        {"term": ""},
        {"payment": ""},
        {"quoted_regain": None},
        {"lead_days": None},
        {"valid_until": None},
        {"asked": (Question("payment", "Ask: at sight or at 60 days?"),)},
    ],
)
def test_what_the_seller_left_out_is_told_for_that_offer_alone(unsaid: dict[str, Any]) -> None:
    plain = offer()
    prices = ManyLandings(basis(), rate_book()).prices([plain, replace(plain, **unsaid), plain])
    assert prices == [
        alone(each, basis(), rate_book()) for each in (plain, replace(plain, **unsaid), plain)
    ]
    assert prices[0].missing == "" == prices[2].missing
    assert bool(prices[1].missing) == ("valid_until" not in unsaid)


def test_sheets_of_one_shape_are_shared_whatever_their_inputs_are_called() -> None:
    many = ManyLandings(basis(), RATES)
    many.prices(every_manner())
    assert len(many._shapes) < 50 < len(many._manners)


def test_no_offer_costs_nothing() -> None:
    assert ManyLandings(basis(rates_on=date(2020, 1, 1)), RATES).prices([]) == []
