"""One offer from its words to its landed price, by hand arithmetic for each delivery term."""

from __future__ import annotations

from decimal import Decimal

import pytest

from server.core.errors import Missing
from server.core.landed import TERMS, landed_sheet
from server.core.landing import land
from server.core.offer import Offer, PriceBreak
from server.core.rates import RateBook
from tests.builders import basis, duty_rate, lane, offer, rate_book, supplier, yarn


def figures_of(met: Offer, rates: RateBook | None = None, **asked: float) -> dict[str, float]:
    """All figures of an offer, without the prefix."""
    landing = land(met, basis(), rates or rate_book(), prefix="at", tonnes=asked.get("tonnes"))
    figures = landing.sheet.evaluate({name: e.value for name, e in landing.inputs.items()})
    return {key.removeprefix("at."): float(value) for key, value in figures.items()}


FREIGHT, PREMIUM = 3200 / 20_000, 0.002 * 1.1
# term -> origin charge, freight, insured, inland, duty and clearance paid by the buyer
PAID = {
    "EXW": (0.05, FREIGHT, True, 0.09, True),
    "FCA": (0.02, FREIGHT, True, 0.09, True),
    "FAS": (0.02, FREIGHT, True, 0.09, True),
    "FOB": (0.0, FREIGHT, True, 0.09, True),
    "CFR": (0.0, 0.0, True, 0.09, True),
    "CPT": (0.0, 0.0, True, 0.09, True),
    "CIF": (0.0, 0.0, False, 0.09, True),
    "CIP": (0.0, 0.0, False, 0.09, True),
    "DAP": (0.0, 0.0, False, 0.0, True),
    "DPU": (0.0, 0.0, False, 0.0, True),
    "DDP": (0.0, 0.0, False, 0.0, False),
}


@pytest.mark.parametrize("term", TERMS)
def test_a_term_leaves_its_legs_to_the_buyer(term: str) -> None:
    origin, freight, insured, inland, at_border = PAID[term]
    figures = figures_of(offer(term=term, price=Decimal("2.50")))
    carried = 2.5 + origin + freight
    cif = carried / (1 - PREMIUM) if insured else carried
    border = cif * (0.10 + 0.011) if at_border else 0.0
    financing = 2.5 * 0.09 * (30 + 45 - 37) / 360
    assert figures["cif_value"] == pytest.approx(cif, rel=1e-13)
    assert figures["landed_price"] == pytest.approx(cif + border + inland + financing, rel=1e-13)
    assert figures["same_basis_price"] == pytest.approx(figures["landed_price"], rel=1e-14)


def test_every_term_of_the_list_is_looked_at() -> None:
    assert set(TERMS) == set(PAID)


def test_a_leg_inside_the_price_has_no_line() -> None:
    assert "inland" not in landed_sheet("DAP").by_key
    assert "duty" not in landed_sheet("DDP").by_key
    assert "origin_haulage" not in landed_sheet("FOB").by_key
    assert "insurance" not in landed_sheet("CIF").by_key


def test_duty_may_be_taken_on_goods_without_freight() -> None:
    rates = rate_book(duties=(duty_rate(base="FOB"),))
    figures = figures_of(offer(), rates)
    assert figures["duty"] == pytest.approx(0.25, rel=1e-14)
    assert figures["clearance"] == pytest.approx(figures["cif_value"] * 0.011, rel=1e-14)


def test_goods_from_home_pay_no_duty_and_no_clearance() -> None:
    figures = figures_of(offer(supplier=supplier(country="Homeland"), term="DAP", payment="OA 60"))
    assert figures["duty"] == figures["clearance"] == 0
    assert figures["days_financed"] == -58
    assert figures["landed_price"] == pytest.approx(2.5 - 2.5 * 0.09 * 58 / 360, rel=1e-14)


def test_a_price_in_cents_of_pounds_becomes_dollars_of_kilograms() -> None:
    figures = figures_of(offer(price=Decimal("112"), currency="USc", price_unit="lb"))
    assert figures["goods_price"] == pytest.approx(1.12 / 0.45359237, rel=1e-14)


def test_a_currency_quoted_the_other_way_is_divided() -> None:
    figures = figures_of(offer(price=Decimal("46.80"), currency="MXN"))
    assert figures["goods_price"] == pytest.approx(46.8 / 17.2, rel=1e-14)
    euro = figures_of(offer(price=Decimal("3.05"), currency="EUR"))
    assert euro["goods_price"] == pytest.approx(3.05 * 1.186, rel=1e-14)


def test_the_tax_inside_a_price_is_taken_out() -> None:
    figures = figures_of(offer(price=Decimal(15_900), price_unit="t", tax_inside=0.13))
    assert figures["goods_price"] == pytest.approx(15.9 / 1.13, rel=1e-14)


def test_a_price_moves_to_the_house_weight_basis() -> None:
    figures = figures_of(offer(quoted_regain=0.07))
    assert figures["same_basis_price"] == pytest.approx(
        figures["landed_price"] * 1.07 / 1.085, rel=1e-14
    )


def test_the_quantity_needed_reaches_a_price_break() -> None:
    broken = offer(breaks=(PriceBreak(Decimal(40), Decimal("2.40")),))
    assert figures_of(broken)["goods_price"] == 2.5
    assert figures_of(broken, tonnes=39.0)["goods_price"] == 2.5
    assert figures_of(broken, tonnes=40.0)["goods_price"] == 2.4


def test_an_advance_is_paid_on_the_day_of_the_order() -> None:
    assert figures_of(offer(payment="TT advance"))["days_financed"] == 75
    assert figures_of(offer(payment="TT 30/70"))["days_financed"] == pytest.approx(75 - 0.7 * 40)
    assert figures_of(offer(payment="LC 90"))["days_financed"] == -45


def test_freight_in_another_currency_is_moved() -> None:
    rates = rate_book(lanes=(lane(freight=55_040.0, inland=1.72, currency="MXN"),))
    figures = figures_of(offer(), rates)
    assert figures["freight"] == pytest.approx(3200 / 20_000, rel=1e-14)
    assert figures["inland"] == pytest.approx(0.1, rel=1e-14)
    moved = land(offer(), basis(), rates, prefix="at").inputs["lane.Farland.freight"]
    plain = land(offer(), basis(), rate_book(), prefix="at").inputs["lane.Farland.freight"]
    assert (moved.value, moved.unit) == (55_040.0, "MXN")
    assert (plain.value, plain.unit) == (3200.0, "¤")


def test_shared_inputs_keep_one_name_and_others_carry_the_prefix() -> None:
    landing = land(offer(), basis(), rate_book(), prefix="warp")
    shared = {name for name in landing.inputs if not name.startswith("warp.")}
    assert {"exchange_rate.USD", "cost_of_money", "lane.Farland.freight"} <= shared
    assert {"duty_rate.Farland", "insurance_rate"} <= shared
    assert set(landing.sheet.input_names) <= set(landing.inputs)
    assert landing.key("duty") == "warp.duty"
    assert all(line.key.startswith("warp.") for line in landing.sheet.lines)


def test_every_input_says_where_it_comes_from() -> None:
    for entry in land(offer(term="EXW"), basis(), rate_book(), prefix="warp").inputs.values():
        assert entry.label
        assert entry.unit
        assert entry.source


@pytest.mark.parametrize(
    ("met", "field"),
    [
        (offer(quoted_regain=None), "quoted_regain_percent"),
        (offer(currency=""), "currency"),
        (offer(price_unit=""), "price_unit"),
        (offer(term=""), "term"),
        (offer(payment=""), "payment"),
        (offer(lead_days=None), "lead_days"),
        (offer(yarn=yarn(fibre_mix="hemp")), "house_regain"),
        (offer(currency="CHF"), "currency"),
        (offer(supplier=supplier(country="Nowhere")), "rates"),
    ],
)
def test_what_is_missing_for_a_price_is_named(met: Offer, field: str) -> None:
    with pytest.raises(Missing) as missing:
        land(met, basis(), rate_book(), prefix="warp")
    assert missing.value.field == field
    assert missing.value.remedy
