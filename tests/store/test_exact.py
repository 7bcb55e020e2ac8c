"""Quoted figures survive to the digit, and moments keep their zone, on both databases."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as some
from sqlalchemy import Column, Engine, Integer, MetaData, Table, insert, select
from sqlmodel import Session

from server.actions.nouns import NOUNS, read_entry
from server.store.exact import Exact, Moment
from server.store.session import reading, writing
from tests.store.databases import GIVEN, as_typed, entry_of, store

SCRATCH = Table(
    "scratch",
    MetaData(),
    Column("id", Integer, primary_key=True),
    Column("figure", Exact),
    Column("moment", Moment),
    prefixes=["TEMPORARY"],
)
FIGURES = [
    "46.80",
    "1.80",
    "2310",
    "0.0000001",
    "123456789012345678",
    "12345678901.2345678",
    "0.000000000000000001",
    "-0.40",
    "0",
    "0.00",
    "100.0",
]


def round_trip(engine: Engine, column: str, values: list[Any]) -> list[Any]:
    with engine.connect() as connection:
        SCRATCH.create(connection)
        rows = [{"id": place, column: value} for place, value in enumerate(values)]
        connection.execute(insert(SCRATCH), rows)
        found = connection.execute(select(SCRATCH.c[column]).order_by(SCRATCH.c.id))
        read = list(found.scalars())
        connection.rollback()
    return read


@pytest.mark.parametrize("figure", FIGURES)
def test_a_figure_comes_back_with_every_digit_it_was_quoted_with(
    bare_engine: Engine, figure: str
) -> None:
    (read,) = round_trip(bare_engine, "figure", [Decimal(figure)])
    assert isinstance(read, Decimal)
    assert read.as_tuple() == Decimal(figure).as_tuple()


def test_nothing_comes_back_as_nothing(bare_engine: Engine) -> None:
    assert round_trip(bare_engine, "figure", [None]) == [None]


@settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    figures=some.lists(
        some.decimals(allow_nan=False, allow_infinity=False)
        | some.builds(
            lambda digits, places: Decimal(digits).scaleb(-places),
            some.integers(-(10**18) + 1, 10**18 - 1),
            some.integers(0, 18),
        ),
        max_size=40,
    )
)
def test_any_decimals_come_back_digit_for_digit(
    bare_engine: Engine, figures: list[Decimal]
) -> None:
    figures = [figure for figure in figures if len(str(figure)) <= 60]
    read = round_trip(bare_engine, "figure", figures) if figures else []
    assert [each.as_tuple() for each in read] == [each.as_tuple() for each in figures]


@settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    moments=some.lists(
        some.datetimes(
            min_value=datetime(1990, 1, 1),  # noqa: DTZ001
            max_value=datetime(2100, 1, 1),  # noqa: DTZ001
            timezones=some.integers(-12, 14).map(lambda hours: timezone(timedelta(hours=hours))),
        ),
        min_size=1,
        max_size=20,
    )
)
def test_any_moment_comes_back_as_the_same_moment_in_utc(
    bare_engine: Engine, moments: list[datetime]
) -> None:
    read = round_trip(bare_engine, "moment", moments)
    assert read == moments
    assert {each.tzinfo for each in read} == {UTC}


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("46.80", "46.80"),
        ("1.80", "1.80"),
        ("2310", "2310"),
        (" 2.460 ", "2.460"),
        ("0.0000001", "1E-7"),
        ("123456789012345678", "123456789012345678"),
    ],
)
def test_a_quoted_price_goes_from_the_form_to_the_core_digit_for_digit(
    engine: Engine, person: int, typed: str, kept: str
) -> None:
    store(engine, person, "offers", price=typed)
    with reading(engine) as session:
        price = NOUNS["offers"].keeper.one(session, "X01").values["price"]
    assert str(price) == kept
    assert price == Decimal(typed.strip())


def test_the_sellers_own_words_are_kept_as_they_were_said(engine: Engine, person: int) -> None:
    said = "PKR 2,310/lb FOB Karachi;\nLC sight — “8½ % regain”, 46.80 & 1.80"
    store(engine, person, "offers", as_quoted=said)
    with reading(engine) as session:
        assert NOUNS["offers"].keeper.one(session, "X01").values["as_quoted"] == said


def test_zeros_typed_behind_the_point_are_a_change(engine: Engine, person: int) -> None:
    edits = {
        "suppliers": {},
        "rates/exchange": {"rate": "1.186"},
        "offers": {"tenacity": "14.6", "moq_tonnes": "20.0"},
        "constructions": {"warp_waste_percent": "4.5", "reed_width_in": "65"},
        "bases": {"mix1_regain_percent": "8.5"},
    }
    for path, typed in edits.items():
        if not typed:
            store(engine, person, path)
            continue
        key = store(engine, person, path)
        wanted = entry_of(path, **typed)
        with writing(engine, person) as session:
            NOUNS[path].keeper.change(session, key, wanted, version_of(session, path, key))
        with reading(engine) as session:
            read = NOUNS[path].keeper.one(session, key).values
        assert as_typed(read) == as_typed(wanted), path


def version_of(session: Session, path: str, key: str) -> int:
    return NOUNS[path].keeper.one(session, key).version


def test_a_number_with_more_than_eighteen_digits_never_reaches_the_store() -> None:
    with pytest.raises(Exception, match="18 digits"):
        read_entry(NOUNS["offers"], {**GIVEN["offers"], "price": "1" * 19})
