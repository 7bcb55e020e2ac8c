"""Rates as rows, as core values and as they would be, on both databases."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy import Engine

from server.actions.nouns import NOUNS, read_entry
from server.core.rates import RateBook
from server.store.rates import load_rates, with_entries
from server.store.session import reading, writing
from tests.store.databases import EDITS, GIVEN, events, store

RATES = ("rates/exchange", "rates/lanes", "rates/duties", "rates/charges")
LINE = {
    "tariff_line": "5205.12",
    "dtex_from": "232.560",
    "dtex_below": "714.29",
    "preparation": "carded",
    "ply": "single",
    "fibre_mix": "cotton",
}


def rates_of(engine: Engine) -> RateBook:
    with reading(engine) as session:
        return load_rates(session)


def test_a_tariff_line_is_kept_to_the_digit_and_read_as_the_engine_uses_it(
    engine: Engine, person: int
) -> None:
    key = store(engine, person, "rates/duties", **LINE)
    with reading(engine) as session:
        values = NOUNS["rates/duties"].keeper.one(session, key).values
    assert str(values["dtex_from"]) == "232.560"
    (row,) = rates_of(engine).duties
    assert (row.rate, row.base, row.conditions) == (0.1, "FOB", 4)
    assert (row.dtex_from, row.dtex_below) == (232.56, 714.29)
    assert (row.preparation, row.ply, row.fibre_mix) == ("carded", "single", "cotton")
    assert row.tariff_line == "5205.12"


def test_a_rate_for_a_country_asks_nothing_of_a_yarn(engine: Engine, person: int) -> None:
    store(engine, person, "rates/duties")
    (row,) = rates_of(engine).duties
    assert (row.conditions, row.words) == (0, "all yarn")


@pytest.mark.parametrize("path", RATES)
def test_a_new_entry_in_memory_is_what_storing_it_gives(demo: Engine, path: str) -> None:
    values = read_entry(NOUNS[path], GIVEN[path])
    before = rates_of(demo)
    told = len(events(demo))
    foreseen = with_entries(before, NOUNS[path].keeper.table, [(None, values)])
    assert foreseen != before
    assert rates_of(demo) == before
    assert len(events(demo)) == told
    with writing(demo, 1) as session:
        NOUNS[path].keeper.add(session, values)
    assert rates_of(demo) == foreseen


@pytest.mark.parametrize("path", RATES)
def test_a_changed_entry_in_memory_is_what_storing_it_gives(demo: Engine, path: str) -> None:
    keeper = NOUNS[path].keeper
    with reading(demo) as session:
        kept = keeper.all(session)[1]
    typed: dict[str, Any] = {**kept.values, **EDITS[path]}
    if path == "rates/charges":
        typed["value"] = Decimal("1.15")
    values = read_entry(NOUNS[path], typed)
    before = rates_of(demo)
    foreseen = with_entries(before, keeper.table, [(kept.id, values)])
    with writing(demo, 1) as session:
        keeper.change(session, kept.key, values, kept.version)
    assert rates_of(demo) == foreseen != before


def test_several_new_entries_keep_their_order(demo: Engine) -> None:
    noun = NOUNS["rates/exchange"]
    values = [read_entry(noun, {**GIVEN["rates/exchange"], "rate": rate}) for rate in ("1.2", "1")]
    before = rates_of(demo)
    both = with_entries(before, noun.keeper.table, [(None, each) for each in values])
    assert [each.rate for each in both.exchange_rates[-2:]] == [1.2, 1.0]
    assert both.exchange_rates[-1].id == before.exchange_rates[-1].id + 2
    assert (both.lanes, both.duties, both.charges) == (before.lanes, before.duties, before.charges)
