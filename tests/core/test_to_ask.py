"""What is to be asked about an offer, in words that can be put to its seller."""

from __future__ import annotations

from datetime import date

from server.core.construction import Basis
from server.core.doubts import Doubt
from server.core.gate import Limit
from server.core.offer import Offer
from server.core.offer_gate import gate_of_offer
from server.core.questions import Question
from server.core.to_ask import ToAsk, to_ask
from tests.builders import basis, construction, offer, rate_book, slot, supplier, yarn

LIMITS = (
    Limit(1, "warp, rope-dyed", "tenacity", 13.0, "cN/tex", "trial"),
    Limit(2, "filling", "hairiness", 9.0, "", "trial"),
)


def asked(given: Offer, on: Basis | None = None, doubts: tuple[Doubt, ...] = ()) -> list[ToAsk]:
    on = on or basis()
    cloth = construction(slots=(slot("warp", twist="Z"), slot("filling")))
    gate = gate_of_offer(given, on, rate_book(), (cloth,), LIMITS)
    return list(to_ask(given, on, gate.places, doubts, transit_days=45))


def test_an_offer_that_says_everything_leaves_nothing_to_ask() -> None:
    assert asked(offer()) == []


def test_an_offer_that_ends_before_the_meeting_is_asked_again_first() -> None:
    (first, *_) = asked(offer(valid_until=date(2026, 3, 11), payment=""))
    assert first.about == "validity"
    assert first.question == (
        "What is your price for this yarn today, valid until 2026-03-12 at least?"
    )
    assert "before the meeting on 2026-03-12" in first.why
    assert asked(offer(valid_until=date(2026, 3, 12))) == []


def test_what_was_not_said_is_asked_in_the_words_of_the_mails() -> None:
    put = Question("currency", "“$” is written for many currencies. Ask: which one?")
    found = asked(offer(currency="", asked=(put,), payment=""))
    assert [each.question for each in found] == [
        "“$”: In which currency is the price?",
        "What are the payment terms?",
    ]
    assert found[0].why == "“$” is written for many currencies."


def test_test_values_the_gate_lacks_are_asked_once_with_method_and_lot() -> None:
    found = asked(offer(tests={}))
    assert [each.question for each in found] == [
        "What is the tenacity in cN/tex, by which method and on which lot?",
        "What is the hairiness H, by which method and on which lot?",
    ]
    assert found[0].why == (
        "at least 13 cN/tex for the warp, rope-dyed of T-1375; no test value is entered"
    )


def test_a_test_value_that_fails_asks_for_another_lot() -> None:
    (found,) = asked(offer(tests={"tenacity": 11.0, "hairiness": 8.0}))
    assert found.question == "Is there a lot with tenacity at least 13 cN/tex?"


def test_origin_file_arrival_and_twist_are_asked() -> None:
    seller = supplier(origin_state="pending")
    found = asked(offer(supplier=seller, lead_days=60, yarn=yarn(twist="unknown")))
    assert [each.about for each in found] == ["arrival", "origin file", "yarn"]
    assert found[0].question == "Can it be shipped within 40 days of the order, not 60?"
    assert found[2].question == "Is the twist Z or S?"


def test_a_doubt_is_asked_by_its_question_and_what_is_odd_stays_with_the_buyer() -> None:
    odd = Doubt("far from others", "29 % above the median of 4 others.", "does the price hold?")
    (found,) = asked(offer(), doubts=(odd, odd))
    assert found.question == "Does the price hold?"
    assert "median" not in found.question
    assert found.why == "29 % above the median of 4 others."
