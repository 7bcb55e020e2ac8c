"""Scenarios: stored whole or not at all, as the what-if had it; constructions under two sets."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy import Engine

from server.actions.compare import BasisChange, compare_construction
from server.actions.nouns import NOUNS
from server.actions.records import add_record, change_record, history_of, list_records
from server.actions.scenarios import store_scenario, two_sets, usual_sets
from server.actions.should_cost import should_costs
from server.core.errors import BadValue, NotFound
from server.core.scenarios import TwoSets
from tests.entered import counts

OF, ON, NONE = "Rinconada 2026", date(2026, 3, 2), BasisChange({}, {})
TYPED = {"OE.rotor_rpm": "+10 %", "ring.efficiency": "90", "every.fibre_price": "-2.5%"}


def store(engine: Engine, name: str = "Fast rotors", **given: Any) -> str:
    return store_scenario(engine, 1, **{"of": OF, "name": name, "on": ON, **given})


def values(engine: Engine, name: str) -> dict[tuple[str, Decimal | None], dict[str, Any]]:
    return {
        (kept.values["key"], kept.values["at_ne"]): kept.values
        for kept in list_records(engine, NOUNS["assumptions"])
        if kept.values["set_name"] == name
    }


def test_a_clone_holds_every_value_with_its_source_and_day(house_engine: Engine) -> None:
    assert store(house_engine, "Same") == "Same"
    ours, theirs = values(house_engine, OF), values(house_engine, "Same")
    assert len(ours) == len(theirs) > 50
    for at, row in ours.items():
        assert {**theirs[at], "set_name": OF} == row


def test_a_what_if_that_is_stored_has_its_own_figures_to_the_bit(house_engine: Engine) -> None:
    tried = should_costs(house_engine, 8.3, "", TYPED)
    store(house_engine, typed=TYPED)
    stored = should_costs(house_engine, 8.3, "Fast rotors")
    for one, other in zip(tried.routes, stored.routes, strict=True):
        assert one.figures() == other.figures()


def test_changed_values_say_what_they_were_who_says_so_and_when(house_engine: Engine) -> None:
    store(house_engine, typed=TYPED, source="machine maker’s letter")
    found = values(house_engine, "Fast rotors")
    rotor = found["OE.rotor_rpm", Decimal(7)]
    assert rotor["value"] == Decimal(79200)
    assert rotor["source"] == "as in Rinconada 2026, changed from 72000: machine maker’s letter"
    assert rotor["noted_on"] == ON
    packing = found["ring.packing", None]
    assert (packing["source"], packing["noted_on"]) == ("demo value", date(2026, 2, 27))


def test_without_a_source_the_day_and_the_person_stand_there(house_engine: Engine) -> None:
    store(house_engine, typed={"ring.wage": "", "ring.packing": "0.04"})
    source = values(house_engine, "Fast rotors")["ring.packing", None]["source"]
    assert source.endswith(": what-if of 2026-03-02 by Rosalía Quintero")


def test_a_bound_that_no_longer_holds_the_value_is_left_out(house_engine: Engine) -> None:
    store(house_engine, typed={"ring.fibre_price": "1.90", "OE.fibre_price": "1.55"})
    found = values(house_engine, "Fast rotors")
    ring, rotor = found["ring.fibre_price", None], found["OE.fibre_price", None]
    assert (ring["low"], ring["high"]) == (Decimal("1.691"), None)
    assert (rotor["low"], rotor["high"]) == (Decimal("1.52"), Decimal("1.68"))


def test_a_stored_value_of_a_scenario_can_be_edited_like_any_other(house_engine: Engine) -> None:
    store(house_engine, typed=TYPED)
    noun = NOUNS["assumptions"]
    kept = next(
        each
        for each in list_records(house_engine, noun)
        if each.values["set_name"] == "Fast rotors" and each.values["key"] == "ring.efficiency"
    )
    assert [change.action for change in history_of(house_engine, noun, kept.id)] == ["add"]
    change_record(house_engine, noun, kept.key, {**kept.values, "value": "89"}, kept.version, 1)
    assert values(house_engine, "Fast rotors")["ring.efficiency", None]["value"] == 89


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"name": OF}, "name"),
        ({"name": " rinconada  2026 "}, "name"),
        ({"name": ""}, "name"),
        ({"name": "<b>"}, "name"),
        ({"name": "x" * 121}, "name"),
        ({"name": "a\0b"}, "name"),
        ({"typed": {"OE.rotor_rpm": "0"}}, "OE.rotor_rpm"),
        ({"typed": {"every.wage": "5"}}, "every.wage"),
        ({"source": "x" * 121}, "source"),
        ({"source": "a\0b"}, "source"),
        ({"notes": "x" * 2001}, "notes"),
    ],
)
def test_a_refused_scenario_stores_nothing(
    house_engine: Engine, given: dict[str, Any], field: str
) -> None:
    before = counts(house_engine)
    with pytest.raises(BadValue) as refused:
        store(house_engine, **given)
    assert refused.value.field == field
    assert counts(house_engine) == before


def test_a_set_that_is_not_there_cannot_be_cloned(house_engine: Engine) -> None:
    with pytest.raises(NotFound):
        store(house_engine, of="No such set")


def under(engine: Engine, second: str, **changes: Any) -> TwoSets:
    return two_sets(engine, OF, second, BasisChange(changes, {}))


def test_constructions_under_two_sets_have_the_figures_of_the_comparison(
    house_engine: Engine,
) -> None:
    store(house_engine, "Dear dye")
    noun = NOUNS["assumptions"]
    for kept in list_records(house_engine, noun):
        if kept.values["set_name"] == "Dear dye" and kept.values["key"] == "fabric.dyeing":
            dearer = {**kept.values, "value": "0.93"}
            change_record(house_engine, noun, kept.key, dearer, kept.version, 1)
    found = under(house_engine, "Dear dye")
    assert [each.kind.key for each in found.values] == ["fabric.dyeing"]
    assert len(found.constructions) == 8
    for each in found.constructions:
        for set_name, side in ((OF, each.first), ("Dear dye", each.second)):
            change = BasisChange({"assumption_set": set_name}, {})
            compared = compare_construction(house_engine, each.construction.code, change)
            assert compared.leader is not None
            assert side.cost == compared.leader.figures["fabric_cost"]
        assert each.difference is not None
        assert each.difference > 0
        assert each.leader_changes is False
    larkspur = found.construction("DN-1375")
    assert larkspur is not None
    assert len(larkspur.combinations) == 4
    assert all(one and other for _, one, other in larkspur.combinations)


def test_spinning_alone_moves_own_yarn_and_no_bought_pair(house_engine: Engine) -> None:
    store(house_engine, typed={"OE.fibre_price": "+10%"})
    found = under(house_engine, "Fast rotors")
    for each in found.constructions:
        assert each.difference == 0
    larkspur = found.construction("DN-1375")
    assert larkspur is not None
    own = {name: (one, other) for name, one, other in larkspur.own_combinations}
    assert own["ring/ring"][0] == own["ring/ring"][1]
    one, other = own["OE/OE"]
    assert one is not None
    assert other is not None
    assert other > one
    juniper = found.construction("DN-1200S")
    assert juniper is not None
    assert juniper.own_difference is None
    assert "elastane" in juniper.first.own.missing


def test_the_basis_is_changed_for_both_sets(house_engine: Engine) -> None:
    store(house_engine)
    dollars, euros = (
        under(house_engine, "Fast rotors"),
        under(house_engine, "Fast rotors", currency="EUR"),
    )
    assert euros.currency == "EUR"
    for one, other in zip(dollars.constructions, euros.constructions, strict=True):
        assert one.first.cost is not None
        assert other.first.cost == pytest.approx(one.first.cost / 1.186, rel=1e-9)


def test_a_set_that_lacks_a_value_says_so_in_its_place(house_engine: Engine) -> None:
    add_record(
        house_engine,
        NOUNS["assumptions"],
        {"set_name": "Bare", "currency": "USD", "key": "fabric.loom_rpm", "value": "600",
         "source": "trial", "noted_on": "2026-01-01"},
        1,
    )  # fmt: skip
    found = under(house_engine, "Bare")
    each = found.constructions[0]
    assert each.difference is None
    assert each.leader_changes is None
    assert "fabric.sizing" in each.second.missing
    assert "no value for" in each.second.own.missing
    assert len(found.values) == len(values(house_engine, OF))


def test_the_usual_two_are_that_of_the_basis_and_the_newest(house_engine: Engine) -> None:
    assert usual_sets(house_engine) == (OF, "Rinconada 2026, hours in parts")
    store(house_engine)
    assert usual_sets(house_engine) == (OF, "Fast rotors")
