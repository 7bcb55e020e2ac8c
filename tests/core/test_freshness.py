"""What is still alive: states, arrival, ages of rates, the winner without the dead."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.core.compare import compare
from server.core.freshness import STATES, Fresh, fresh_offers, state_of, winner_of
from server.core.rates import ExchangeRate
from tests.builders import (
    assumption_set,
    basis,
    construction,
    demo_book,
    demo_comparison,
    is_printed_as,
    lane,
    offer,
    rate_book,
    supplier,
    yarn,
)

AS_OF, MEETING, NEED = date(2026, 3, 2), date(2026, 3, 12), date(2026, 6, 5)


def fresh(order: date = MEETING, rates: Any = None, **changes: Any) -> Fresh:
    (found,) = fresh_offers([offer(**changes)], basis(), rates or rate_book(), order)
    return found


@pytest.mark.parametrize(
    ("changes", "order", "state"),
    [
        ({}, MEETING, "open"),
        ({"valid_until": MEETING}, MEETING, "open"),
        ({"valid_until": date(2026, 3, 11)}, MEETING, "expires before the meeting"),
        ({"valid_until": AS_OF}, MEETING, "expires before the meeting"),
        ({"valid_until": date(2026, 3, 1)}, MEETING, "expired"),
        ({"valid_until": date(2026, 3, 20)}, date(2026, 3, 21), "expires before the order"),
        ({"lead_days": 40}, MEETING, "open"),  # 40 + 45 days: to the day
        ({"lead_days": 41}, MEETING, "arrives too late"),
        ({"lead_days": 39}, date(2026, 3, 14), "arrives too late"),
        ({"valid_until": None}, MEETING, "validity not said"),
        ({"valid_until": None, "lead_days": 41}, MEETING, "arrives too late"),
        ({"payment": ""}, MEETING, "open questions"),
        ({"payment": "", "valid_until": date(2026, 3, 1)}, MEETING, "expired"),
        ({"lead_days": None}, MEETING, "open questions"),
        ({"ships_from": "Nowhere"}, MEETING, "arrival not known"),
    ],
)
def test_an_offer_is_in_one_state(changes: dict[str, Any], order: date, state: str) -> None:
    assert fresh(order, **changes).state == state
    assert state in STATES


def test_days_are_counted_from_the_as_of_day_and_the_order() -> None:
    found = fresh(lead_days=30)
    assert found.days_left == 29  # 2 March to 31 March
    assert found.arrives_on == date(2026, 5, 26)
    assert found.last_order_day == date(2026, 3, 22)
    assert fresh(valid_until=date(2026, 3, 1)).days_left == -1
    assert fresh(lead_days=None).arrives_on is None
    assert fresh(lead_days=10_000_000).last_order_day is None


@settings(max_examples=200, deadline=None)
@given(lead=st.integers(0, 200), transit=st.integers(0, 90), later=st.integers(0, 60))
def test_an_order_on_its_last_day_is_in_time_and_a_day_later_is_not(
    lead: int, transit: int, later: int
) -> None:
    rates = rate_book(lanes=(lane(transit_days=transit),))
    order = MEETING + timedelta(later)
    (found,) = fresh_offers(
        [offer(lead_days=lead, valid_until=date(2027, 1, 1))], basis(), rates, order
    )
    assert found.arrives_on is not None
    assert found.last_order_day is not None
    assert (found.state == "arrives too late") == (order > found.last_order_day)
    assert (found.arrives_on <= NEED) == (order <= found.last_order_day)
    assert found.last_order_day + timedelta(lead + transit) == NEED


def test_the_rates_an_offer_rests_on_have_ages() -> None:
    rates = rate_book(
        exchange_rates=(
            ExchangeRate(1, "EUR", "USD", 1.186, date(2026, 2, 22), "trial"),
            ExchangeRate(2, "EUR", "USD", 1.2, date(2026, 3, 3), "after the day of the rates"),
        )
    )
    found = fresh(rates=rates, currency="EUR")
    assert {use.kind: use.age_days for use in found.rates} == {
        "exchange rate": 8,
        "freight lane": 60,
        "duty": 60,
    }
    assert [use.kind for use in found.old_rates] == ["freight lane", "exchange rate"]
    assert {use.where for use in found.rates} == {
        "/rates/exchange/1", "/rates/lanes/1", "/rates/duties/1",
    }  # fmt: skip


def test_hundredths_rest_on_the_rate_of_the_whole_and_home_goods_on_no_duty() -> None:
    home = supplier(country="Homeland")
    assert [use.kind for use in fresh(supplier=home, currency="USc").rates] == ["freight lane"]
    found = fresh(currency="THB")
    assert any("No exchange rate between THB and USD" in text for text in found.missing)


def test_a_rate_is_sought_once_for_many_offers(monkeypatch: pytest.MonkeyPatch) -> None:
    rates = rate_book()
    sought: list[str] = []
    real = type(rates).exchange

    def counted(self: Any, currency: str, reporting: str, on: date) -> Any:
        sought.append(currency)
        return real(self, currency, reporting, on)

    monkeypatch.setattr(type(rates), "exchange", counted)
    many = [offer(id=n, code=f"T{n}", currency="EUR") for n in range(50)]
    assert len(fresh_offers(many, basis(), rates, MEETING)) == 50
    assert sought == ["EUR"]


def test_the_demonstration_on_the_meeting_day() -> None:
    """Trade guide, 7.8: Q16 and Q37 late, Q06 expired, Q04, Q17 and Q27 over by the meeting."""
    book = demo_book()
    found = fresh_offers(book.current_offers, book.basis(), book.rates, MEETING)
    states = {each.offer.code: each.state for each in found if each.state != "open"}
    assert states == {
        "Q04": "expires before the meeting",
        "Q06": "expired",
        "Q16": "arrives too late",
        "Q17": "expires before the meeting",
        "Q27": "expires before the meeting",
        "Q37": "arrives too late",
    }
    late = next(each for each in found if each.offer.code == "Q16")
    assert late.arrives_on is not None
    assert (late.arrives_on - MEETING).days == 95
    assert not [each for each in found if each.old_rates or each.missing]


def test_story_02_dead_favourite() -> None:
    """Q06 (2.318) is the cheapest Ne 6 rotor yarn and expired; Q07 (2.354) wins without it."""
    winner = winner_of(demo_comparison("DN-1450"))
    assert winner.revived is not None
    assert winner.valid is not None
    assert (winner.revived.key, winner.valid.key) == ("Q01/Q06", "Q01/Q07")
    (lost,) = winner.lost
    assert lost.instead is not None
    assert (lost.expired.offer.code, lost.instead.offer.code) == ("Q06", "Q07")
    assert is_printed_as(lost.expired.price, "2.318")
    assert is_printed_as(lost.instead.price, "2.354")
    difference = winner.difference
    assert difference == pytest.approx(3.08498 - 3.07369, abs=1e-4)


def test_where_nothing_expired_would_win_the_two_winners_are_one() -> None:
    for code in ("DN-1375", "DN-1250", "DN-1200S", "DN-0800S"):
        winner = winner_of(demo_comparison(code))
        assert winner.revived is not None
        assert winner.valid is not None
        assert winner.revived.key == winner.valid.key
        assert (winner.lost, winner.difference) == ((), 0.0)


def test_the_revived_winner_is_that_of_a_comparison_with_all_of_them_valid() -> None:
    """The short way gives what comparing again with later validity gives."""
    many = [
        offer(id=1, code="A", price=Decimal("2.40"), valid_until=date(2026, 3, 1)),
        offer(id=2, code="B", price=Decimal("2.50")),
        offer(id=3, code="C", price=Decimal("2.00"), valid_until=date(2026, 3, 1), lead_days=99),
        offer(id=4, code="D", price=Decimal("2.10"), valid_until=None),
        offer(id=5, code="E", price=Decimal("2.45"), yarn=yarn(spinning="OE")),
    ]

    def compared(offers: list[Any]) -> Any:
        return compare(construction(), basis(), assumption_set(), rate_book(), offers, ())

    winner = winner_of(compared(many))
    later = [replace(each, valid_until=each.valid_until and date(2026, 12, 1)) for each in many]
    again = compared(later).leader
    assert winner.revived is not None
    assert winner.revived.key == again.key == "A/A"
    assert winner.valid is not None
    assert winner.valid.key == "E/E"
    assert winner.difference == pytest.approx(
        winner.valid.figures["fabric_cost"] - again.figures["fabric_cost"], rel=1e-12
    )
    assert [lost.expired.slot.name for lost in winner.lost] == ["warp", "filling"]


def test_without_any_possible_pair_there_is_no_winner() -> None:
    gone = offer(valid_until=date(2026, 3, 1))
    comparison = compare(construction(), basis(), assumption_set(), rate_book(), [gone], ())
    winner = winner_of(comparison)
    assert winner.valid is None
    assert winner.revived is not None
    assert winner.difference is None
    assert winner.lost[0].instead is None
    nothing = winner_of(compare(construction(), basis(), assumption_set(), rate_book(), [], ()))
    assert (nothing.revived, nothing.valid, nothing.lost) == (None, None, ())


def test_the_far_ends_of_the_calendar_hold() -> None:
    on = basis(need_by=date.max, meeting=date.max)
    assert (
        state_of(offer(lead_days=9_000_000), on, date.max, 9_000_000)
        == "expires before the meeting"
    )
    (found,) = fresh_offers([offer(valid_until=None)], on, rate_book(), date.max)
    assert found.arrives_on is None
