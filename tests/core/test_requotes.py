"""Mails that ask a seller again: own words, own units, nothing of anybody else."""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.core.offer import Offer, PriceBreak
from server.core.questions import NOT_SAID, Question
from server.core.requote_words import WORDS, language_of
from server.core.requotes import Requote, requotes_of
from tests.builders import demo_book, offer, supplier, yarn

MEETING = date(2026, 3, 12)
OVER = date(2026, 3, 8)


def one(language: str = "", **changes: Any) -> Requote:
    (found,) = requotes_of(
        [offer(**{"valid_until": OVER} | changes)], before=MEETING, day=MEETING, language=language
    )
    return found


def test_a_line_holds_the_sellers_own_words_and_units() -> None:
    text = one(
        yarn=yarn(count=Decimal("6"), spinning="OE"),
        price=Decimal("2310"),
        currency="PKR",
        price_unit="10 lb",
        breaks=(PriceBreak(Decimal("40"), Decimal("2290.50")),),
    ).text
    assert (
        "- T01: Ne 6/1, OE, 2310 PKR/10 lb (from 40 t: 2290.50), FOB Farport, LC sight; "
        "your offer of 2026-02-20, valid until 2026-03-08"
    ) in text
    assert "valid until 2026-03-12 at least" in text
    assert "kg" not in text.replace("10 lb", "")


def test_who_is_asked_and_for_which_offers() -> None:
    a, b, c = (supplier(id=n, name=name) for n, name in ((1, "Zeta"), (2, "Alfa"), (3, "Mid")))
    found = requotes_of(
        [
            offer(id=1, code="T3", supplier=a, valid_until=OVER),
            offer(id=2, code="T1", supplier=a, valid_until=date(2026, 3, 11)),
            offer(id=3, code="T2", supplier=a),
            offer(id=4, code="T4", supplier=b, valid_until=None),
            offer(id=5, code="T5", supplier=c, valid_until=MEETING),
        ],
        before=MEETING,
        day=MEETING,
    )
    assert [each.supplier.name for each in found] == ["Alfa", "Zeta"]
    assert [offer.code for offer in found[1].lapsed] == ["T1", "T3"]
    assert [offer.code for offer in found[0].asked] == ["T4"]
    assert found[0].subject == "Questions about your offer"
    assert "no longer valid" not in found[0].text
    assert "Until which day is the price valid?" in found[0].text


def test_what_is_not_said_is_asked_and_not_invented() -> None:
    text = one(currency="", price_unit="", term="", place="", payment="", valid_until=None).text
    for field in ("currency", "price_unit", "term", "payment", "valid_until"):
        assert WORDS["en"].questions[field] in text
    assert "?/" not in text
    assert "None" not in text


def test_a_question_about_the_sellers_words_repeats_them_in_every_language() -> None:
    put = Question("term", "“fob mill” is not the sea term. Ask: loaded at the seller's mill?")
    for language, words in WORDS.items():
        text = one(language, asked=(put,)).text
        assert f"  - “fob mill”: {words.questions['term']}" in text
    other = Question("price", "Several numbers could be the price. Which one is it?")
    assert f"- {WORDS['tr'].questions['price']}" in one("tr", asked=(other,)).text


def test_a_question_nobody_translated_is_asked_as_it_stands() -> None:
    put = Question("twist", "The twist is not said. Ask: S or Z?")
    assert "  - S or Z?" in one("es", asked=(put,)).text


@pytest.mark.parametrize(
    ("country", "language"),
    [("Mexico", "es"), ("Guatemala", "es"), ("Italy", "it"), ("Brazil", "pt"), ("Türkiye", "tr"),
     ("turkey", "tr"), ("Morocco", "fr"), ("India", "en"), ("Viet Nam", "en"), ("", "en")],
)  # fmt: skip
def test_the_language_follows_the_sellers_country(country: str, language: str) -> None:
    assert language_of(country) == language
    assert one(supplier=supplier(country=country)).language == language


def test_one_language_for_all_when_it_is_asked() -> None:
    assert one("fr", supplier=supplier(country="Mexico")).text.startswith("Bonjour,")


@pytest.mark.parametrize("language", list(WORDS))
def test_every_language_has_every_part(language: str) -> None:
    words = WORDS[language]
    assert set(NOT_SAID) <= set(words.questions)
    assert "{day}" in words.quote_again
    assert "{day}" in words.offer_of
    assert "{day}" in words.valid_until
    assert "{tonnes}" in words.from_tonnes
    assert all(text.endswith("?") for text in words.questions.values())
    assert len(set(words.questions.values())) == len(words.questions)
    text = one(language, payment="", breaks=(PriceBreak(Decimal(40), Decimal("2.40")),)).text
    assert not re.search(r"[{}]", text)
    if language != "en":
        assert "your" not in text


def secrets_of(made: Offer) -> set[str]:
    """What only this seller and the buyer know."""
    return {made.code, made.supplier.name, f"{made.price} {made.currency}"}


def test_no_text_of_the_demonstration_leaks_another_seller() -> None:
    offers = demo_book().current_offers
    found = requotes_of(offers, before=date(2026, 12, 1), day=MEETING)
    assert sum(len(each.lapsed) for each in found) == 40
    for each in found:
        own = set().union(*(secrets_of(o) for o in offers if o.supplier == each.supplier))
        for other in offers:
            if other.supplier == each.supplier:
                continue
            assert not [
                s for s in secrets_of(other) - own if re.search(rf"\b{re.escape(s)}\b", each.text)
            ]
        for note in (o.notes for o in offers if o.notes):
            assert note not in each.text  # notes are the house's own


@settings(max_examples=100, deadline=None)
@given(
    prices=st.lists(st.integers(100_000, 999_999), min_size=2, max_size=12, unique=True),
    sellers=st.integers(2, 4),
    silent=st.booleans(),
)
def test_no_text_ever_holds_a_price_of_another_seller(
    prices: list[int], sellers: int, silent: bool
) -> None:
    offers = [
        offer(
            id=n,
            code=f"C{price}",
            price=Decimal(price),
            supplier=supplier(id=n % sellers, name=f"Seller {n % sellers}"),
            valid_until=None if silent else OVER,
            notes=f"cheaper than {prices[0]}",
            as_quoted=f"beats {prices[0]}",
        )
        for n, price in enumerate(prices)
    ]
    found = requotes_of(offers, before=MEETING, day=MEETING)
    assert sum(len(each.lapsed) + len(each.asked) for each in found) == len(offers)
    for each in found:
        for made in offers:
            is_own = made.supplier.id == each.supplier.id
            assert (made.code in each.text) == is_own
            if not is_own:
                assert str(made.price) not in each.text
