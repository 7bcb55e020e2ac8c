"""What an offer's words mean in figures; its own figures are never changed."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.core.errors import BadValue
from server.core.offer import Core, Offer, PaymentTerms, PriceBreak, payment_day, read_payment
from tests.builders import offer, supplier, yarn

BREAKS = (PriceBreak(Decimal(40), Decimal("1.80")), PriceBreak(Decimal(80), Decimal("1.77")))


def with_breaks(kind: str = "all units") -> Offer:
    return offer(price=Decimal("1.84"), breaks=BREAKS, break_kind=kind)


@pytest.mark.parametrize(
    ("tonnes", "price"),
    [(None, "1.84"), (0, "1.84"), (39.999, "1.84"), (40, "1.80"), (79.9, "1.80"), (80, "1.77")],
)
def test_an_all_units_break_prices_everything_at_the_tier_reached(
    tonnes: float | None, price: str
) -> None:
    assert with_breaks().price_for(tonnes) == Decimal(price)


@pytest.mark.parametrize(
    ("tonnes", "total"),
    [(10, "18.4"), (40, "73.6"), (60, "109.6"), (80, "145.6"), (100, "181.0")],
)
def test_an_incremental_break_prices_only_the_excess(tonnes: float, total: str) -> None:
    price = with_breaks("incremental").price_for(tonnes)
    assert price * Decimal(str(tonnes)) == pytest.approx(Decimal(total), abs=Decimal("1e-20"))


def test_an_incremental_price_of_nothing_is_the_first_price() -> None:
    assert with_breaks("incremental").price_for(0) == Decimal("1.84")


@settings(max_examples=200, deadline=None)
@given(tonnes=st.floats(0.1, 500))
def test_incremental_prices_lie_between_all_units_and_first(tonnes: float) -> None:
    all_units = with_breaks().price_for(tonnes)
    incremental = with_breaks("incremental").price_for(tonnes)
    assert all_units - Decimal("1e-20") <= incremental <= Decimal("1.84") + Decimal("1e-20")


@pytest.mark.parametrize(
    ("text", "terms"),
    [
        ("LC sight", PaymentTerms(0.0, 0.0, "lc_sight_days")),
        ("CAD", PaymentTerms(0.0, 0.0, "documents_days")),
        ("TT 0/100", PaymentTerms(0.0, 0.0, "documents_days")),
        ("TT advance", PaymentTerms(1.0, 0.0, "")),
        ("LC 60", PaymentTerms(0.0, 60.0, "")),
        ("OA 30", PaymentTerms(0.0, 30.0, "")),
        ("TT 30/70", PaymentTerms(0.3, 0.0, "documents_days")),
        ("  OA 120 ", PaymentTerms(0.0, 120.0, "")),
    ],
)
def test_payment_words_become_days_and_shares(text: str, terms: PaymentTerms) -> None:
    assert read_payment(text) == terms


@pytest.mark.parametrize("text", ["", "LC", "OA", "TT 30/60", "30 days", "LC 6000", "cad", "LC -1"])
def test_other_payment_words_are_refused_with_examples(text: str) -> None:
    with pytest.raises(BadValue) as refused:
        read_payment(text)
    assert refused.value.field == "payment"
    assert "TT 30/70" in refused.value.remedy


def test_the_day_of_payment_is_weighted_by_what_is_paid() -> None:
    assert payment_day(advance_share=0.0, lead_days=30, days_after_shipment=7) == 37
    assert payment_day(advance_share=1.0, lead_days=30, days_after_shipment=0) == 0
    found = payment_day(advance_share=0.3, lead_days=35, days_after_shipment=10)
    assert found == pytest.approx(31.5)


def test_an_average_count_stands_as_quoted() -> None:
    assert yarn(count=Decimal("6.50")).average_ne == 6.5
    assert yarn(count=Decimal("11"), count_system="Nm").average_ne == pytest.approx(
        6.49595, abs=5e-6
    )


def test_a_base_count_becomes_an_average_only_with_the_slubs_mass() -> None:
    slub = yarn(count=Decimal("8.5"), count_basis="base", effect="slub")
    assert slub.average_ne is None
    known = yarn(count=Decimal("8.5"), count_basis="base", effect="slub", slub_added_mass=0.076)
    assert known.average_ne == pytest.approx(8.5 / 1.076, rel=1e-14)
    assert known.quoted_ne == 8.5


def test_a_sheath_count_becomes_a_total_only_with_the_core() -> None:
    bare = yarn(count=Decimal(10), count_basis="sheath", core="elastane")
    assert bare.average_ne is None
    assert bare.elastane_share is None
    cored = yarn(count=Decimal(10), count_basis="sheath", core="elastane", cores=(Core(70.0, 3.5),))
    tex = 590.5412474 / 10 + 70 / 9 / 3.5
    assert cored.average_ne == pytest.approx(590.5412474 / tex, rel=1e-9)
    assert cored.elastane_share == pytest.approx(70 / 9 / 3.5 / tex, rel=1e-9)


def test_the_elastane_of_a_total_count_is_that_of_the_guide() -> None:
    for denier, draft, ne, printed in (
        (70, 3.5, 10, 3.76),
        (70, 3.8, 10, 3.47),
        (40, 3.2, 18, 4.23),
    ):
        cored = yarn(
            count=Decimal(ne), count_basis="total", core="elastane", cores=(Core(denier, draft),)
        )
        assert cored.elastane_share == pytest.approx(printed / 100, abs=0.00005)
    dual = yarn(
        count=Decimal(14),
        count_basis="total",
        core="dual core",
        cores=(Core(70, 3.5), Core(75, 1.05)),
    )
    assert dual.elastane_share == pytest.approx(0.053, abs=0.0005)


def test_an_unsaid_count_basis_gives_no_average() -> None:
    assert yarn(count_basis="unknown").average_ne is None


def test_plies_weigh_together() -> None:
    assert yarn(count=Decimal(40), ply=2).quoted_ne == 20
    assert yarn(count=Decimal(30), count_system="tex", ply=2).quoted_tex == 60


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        ({"count": Decimal("6.50")}, "Ne 6.5/1"),
        ({"count": Decimal("11"), "count_system": "Nm"}, "Nm 11/1"),
        ({"count": Decimal("59.0"), "count_system": "tex"}, "59 tex"),
        ({"count": Decimal("100"), "count_system": "dtex"}, "100 dtex"),
        ({"count": Decimal("40"), "ply": 2}, "Ne 40/2"),
        ({"count": Decimal("8.5"), "effect": "slub", "count_basis": "base"}, "Ne 8.5/1 (base)"),
        ({"count": Decimal("10"), "core": "elastane", "count_basis": "total"}, "Ne 10/1 (total)"),
    ],
)
def test_a_count_is_written_as_the_trade_writes_it(changes: dict[str, object], text: str) -> None:
    assert yarn(**changes).count_text == text


@pytest.mark.parametrize(
    ("changes", "process"),
    [
        ({}, "ring"),
        ({"spinning": "OE", "effect": "slub"}, "OE slub"),
        ({"effect": "multi-count slub"}, "ring multi-count slub"),
        ({"core": "elastane"}, "ring core-spun"),
        ({"spinning": "compact ring", "core": "dual core"}, "compact ring dual-core"),
    ],
)
def test_a_process_names_spinning_effect_and_core(changes: dict[str, object], process: str) -> None:
    assert yarn(**changes).process == process


def test_a_price_is_shown_digit_for_digit() -> None:
    assert offer(price=Decimal("46.80"), currency="MXN").price_text == "46.80 MXN/kg"


def test_goods_come_from_the_supplier_unless_the_offer_says_otherwise() -> None:
    assert offer().country == "Farland"
    assert offer(ships_from="Homeland").country == "Homeland"
    assert offer(supplier=supplier(country="Midland")).country == "Midland"
