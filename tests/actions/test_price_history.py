"""What a supplier asked over time, and how it answers."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from sqlalchemy import Engine

from server.actions import price_history as history
from server.actions.compare import BasisChange
from server.actions.nouns import NOUNS
from server.actions.records import add_record, one_record
from server.core.errors import NotFound
from server.core.offer import Core
from tests.builders import yarn

SAME = BasisChange({}, {})


def requote(engine: Engine, earlier: str, code: str, **typed: str) -> None:
    entry = one_record(engine, NOUNS["offers"], earlier).values
    add_record(engine, NOUNS["offers"], {**entry, "code": code, "replaces": earlier, **typed}, 1)


def test_quotes_of_one_yarn_stand_together_the_newest_first(house_engine: Engine) -> None:
    requote(house_engine, "Q05", "Q05b", price="110", quoted_on="2026-03-01")
    requote(house_engine, "Q05b", "Q05c", price="109", quoted_on="2026-03-04")
    yarns = history.yarns_of(house_engine, "Marrow Creek Spinning")
    found = next(each for each in yarns if each.offers[0].code == "Q05c")
    assert [offer.code for offer in found.offers] == ["Q05c", "Q05b", "Q05"]
    assert found.name == "Ne 6.00 OE, carded, Z-twist, cotton"
    assert yarns[0] == found  # quoted last
    quotes = history.quotes_of(house_engine, found.offers, SAME)
    assert [(q.replaces, q.replaced_by) for q in quotes] == [
        ("Q05b", ""), ("Q05", "Q05c"), ("", "Q05b"),
    ]  # fmt: skip
    assert history.chain(quotes[:2]) == {"Q05c": "Q05b"}
    assert history.usual_unit(quotes) == "USc/lb"
    assert quotes[0].landed.same_basis_price is not None
    assert history.yarn_of(house_engine, "Marrow Creek Spinning", found.key) == found


def test_how_a_supplier_answers_counts_what_holds(house_engine: Engine) -> None:
    before = history.supplier_figures(house_engine, "Marrow Creek Spinning")
    requote(house_engine, "Q05", "Q05b", quoted_on="2026-03-01", lead_days="", payment="CAD")
    after = history.supplier_figures(house_engine, "Marrow Creek Spinning")
    assert (after.offers, after.current) == (before.offers + 1, before.current)
    assert after.questions == before.questions + 1
    assert after.last_quote == date(2026, 3, 1)
    days = [
        offer.lead_days
        for offer in history.supplier_offers(house_engine, "Marrow Creek Spinning")
        if offer.code not in ("Q05", "Q05b") and offer.lead_days is not None
    ]
    assert after.lead_days == pytest.approx(sum(days) / len(days))


def test_a_supplier_without_offers_has_no_average() -> None:
    assert history.SupplierFigures(0, 0, None, 0, None).lead_days is None


@pytest.mark.parametrize(
    "other",
    [
        {"count": Decimal("7.5")},
        {"spinning": "OE"},
        {"effect": "slub"},
        {"preparation": "combed"},
        {"twist": "S"},
        {"ply": 2, "count": Decimal("14")},
        {"fibre_mix": "cotton dual core"},
        {"core": "elastane", "cores": (Core(70.0, 3.5),), "count_basis": "total"},
    ],
)
def test_yarns_that_differ_are_told_apart(other: dict[str, object]) -> None:
    plain = yarn()
    assert history.yarn_key(replace(plain, **other)) != history.yarn_key(plain)  # type: ignore[arg-type]


def test_one_yarn_quoted_in_two_count_systems_is_one() -> None:
    metric = yarn(count=Decimal("11.854"), count_system="Nm")
    assert history.yarn_key(metric) == history.yarn_key(yarn())


def test_an_unknown_yarn_is_not_found(house_engine: Engine) -> None:
    with pytest.raises(NotFound):
        history.yarn_of(house_engine, "Marrow Creek Spinning", "none")
