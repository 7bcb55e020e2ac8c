"""Builders of core values with sensible defaults, and the seeded demonstration as a book.

A test names only what it is about; everything else is a plain, possible, domestic dollar offer.
"""

from __future__ import annotations

import csv
import importlib
import pkgutil
from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from sqlalchemy import Engine

import server.core
from seed_demo.load import load_demo
from server.core.assumptions import KINDS, AssumptionSet
from server.core.break_even import break_evens_of
from server.core.compare import Comparison, compare
from server.core.construction import Basis, Construction, Slot
from server.core.formula import FORMULAS, Formula
from server.core.freeze import Heading, Pool, assemble, freeze_comparison
from server.core.offer import Offer, Supplier, Yarn
from server.core.pack import Pack
from server.core.rates import CHARGES, Charge, DutyRate, ExchangeRate, Lane, RateBook
from server.core.sheet import Input
from server.store.audit import data_version
from server.store.book import Book, load_book
from server.store.migrating import migrate
from server.store.session import open_engine, reading
from server.version import VERSION

ROOT = Path(__file__).resolve().parents[1]
EXAMPLES = ROOT / "tests" / "examples"
DAY = date(2026, 3, 2)
FROZEN_AT = datetime(2026, 3, 11, 18, 30, tzinfo=UTC)
CHARGE_VALUES = {
    "insurance_rate": 0.002,
    "insured_share": 1.1,
    "clearance_rate": 0.011,
    "exw_origin_charge": 0.05,
    "fca_origin_charge": 0.02,
    "cost_of_money": 0.09,
    "year_days": 360.0,
    "lc_sight_days": 7.0,
    "documents_days": 10.0,
}


def all_formulas() -> dict[str, Formula]:
    """Every registered formula, once every module of the core has been imported."""
    for module in pkgutil.walk_packages(server.core.__path__, "server.core."):
        importlib.import_module(module.name)
    return FORMULAS


def supplier(**changes: Any) -> Supplier:
    """A supplier whose origin file is complete."""
    values: dict[str, Any] = {
        "id": 1,
        "name": "Larchmoor Spinning",
        "country": "Farland",
        "origin_state": "complete",
    }
    return Supplier(**values | changes)


def yarn(**changes: Any) -> Yarn:
    """A plain ring yarn of Ne 7, its average count quoted."""
    values: dict[str, Any] = {
        "id": 1,
        "count": Decimal("7"),
        "count_system": "Ne",
        "count_basis": "average",
        "spinning": "ring",
        "twist": "Z",
    }
    return Yarn(**values | changes)


def offer(**changes: Any) -> Offer:
    """A valid offer in USD/kg, FOB, letter of credit at sight."""
    values: dict[str, Any] = {
        "id": 1,
        "code": "T01",
        "supplier": supplier(),
        "yarn": yarn(),
        "as_quoted": "Ne 7/1 ring 2.50 USD/kg FOB",
        "price": Decimal("2.50"),
        "currency": "USD",
        "price_unit": "kg",
        "term": "FOB",
        "place": "Farport",
        "payment": "LC sight",
        "lead_days": 30,
        "quoted_on": date(2026, 2, 20),
        "valid_until": date(2026, 3, 31),
        "quoted_regain": 0.085,
        "tests": {"tenacity": 15.0, "evenness": 12.5, "hairiness": 8.0, "average_ne": 7.0},
    }
    return Offer(**values | changes)


def slot(direction: str = "warp", **changes: Any) -> Slot:
    """A yarn of Ne 7 that fills its whole direction."""
    values: dict[str, Any] = {
        "direction": direction,
        "position": 1,
        "ne": 7.0,
        "share_of_threads": 1.0,
        "crimp": 0.11 if direction == "warp" else 0.0,
        "waste": 0.045 if direction == "warp" else 0.035,
    }
    return Slot(**values | changes)


def construction(**changes: Any) -> Construction:
    """A rope-dyed 3/1 twill of one warp and one filling yarn."""
    values: dict[str, Any] = {
        "id": 1,
        "code": "T-1375",
        "name": "Trial",
        "weave": "3/1 twill",
        "twill_hand": "right",
        "dyeing_route": "rope",
        "total_ends": 4110.0,
        "reed_width_in": 65.5,
        "loom_ppi": 41.0,
        "length_shrink": 0.13,
        "finished_width_in": 61.0,
        "cuttable_width_in": 59.5,
        "net_finish": 0.03,
        "slots": (slot("warp"), slot("filling")),
        "season_metres": 140_000.0,
    }
    return Construction(**values | changes)


def basis(**changes: Any) -> Basis:
    """A dollar basis with a meeting ten days on and the yarn needed 85 days later."""
    values: dict[str, Any] = {
        "id": 1,
        "name": "Trial basis",
        "currency": "USD",
        "rates_on": DAY,
        "delivery_point": "mill",
        "as_of": DAY,
        "meeting": date(2026, 3, 12),
        "need_by": date(2026, 6, 5),
        "assumption_set": "Trial",
        "house_regain": {"cotton": 0.085},
    }
    return Basis(**values | changes)


def lane(**changes: Any) -> Lane:
    """A sea lane from Farland."""
    values: dict[str, Any] = {
        "id": 1,
        "country": "Farland",
        "route": "Farport to the mill",
        "freight": 3200.0,
        "load_mass_kg": 20_000.0,
        "inland": 0.09,
        "transit_days": 45,
        "currency": "USD",
        "domestic": False,
        "valid_from": date(2026, 1, 1),
        "source": "trial",
    }
    return Lane(**values | changes)


def duty_rate(**changes: Any) -> DutyRate:
    """Ten per cent of CIF on goods from Farland."""
    values: dict[str, Any] = {
        "id": 1,
        "country": "Farland",
        "rate": 0.10,
        "base": "CIF",
        "valid_from": date(2026, 1, 1),
        "source": "trial",
    }
    return DutyRate(**values | changes)


def charges(**changes: float) -> tuple[Charge, ...]:
    """Every charge the engine knows, in dollars where it is money."""
    values = CHARGE_VALUES | changes
    return tuple(
        Charge(
            place,
            key,
            values[key],
            date(2026, 1, 1),
            "trial",
            "USD" if "¤" in CHARGES[key][1] else "",
        )
        for place, key in enumerate(CHARGES, start=1)
    )


def rate_book(**changes: Any) -> RateBook:
    """Two currencies, one lane from Farland, one at home, all charges."""
    values: dict[str, Any] = {
        "exchange_rates": (
            ExchangeRate(1, "EUR", "USD", 1.186, date(2026, 1, 1), "trial"),
            ExchangeRate(2, "USD", "MXN", 17.2, date(2026, 1, 1), "trial"),
        ),
        "lanes": (
            lane(),
            lane(id=2, country="Homeland", freight=0.0, inland=0.0, transit_days=2, domestic=True),
        ),
        "duties": (duty_rate(),),
        "charges": charges(),
    }
    return RateBook(**values | changes)


def assumption_set(**changes: float) -> AssumptionSet:
    """Round figures for the fabric and for ring spinning; changes take `fabric__loom_rpm=…`."""
    values = {
        "fabric.ball_warping": 0.06,
        "fabric.dyeing": 0.62,
        "fabric.re_beaming": 0.05,
        "fabric.sizing": 0.17,
        "fabric.loom_rpm": 620.0,
        "fabric.loom_efficiency": 0.88,
        "fabric.loom_hour": 3.6,
        "fabric.finishing": 0.17,
        "fabric.heat_setting": 0.05,
        "fabric.inspection": 0.03,
        "fabric.overhead_rate": 0.07,
        "fabric.seconds_share": 0.03,
        "fabric.seconds_price_ratio": 0.0,
        "fabric.margin_on_price": 0.12,
    } | {key.replace("__", ".").replace("air_jet", "air-jet"): v for key, v in changes.items()}
    return AssumptionSet(
        1,
        "Trial",
        {
            key: ((None, Input(value, KINDS[key].label, KINDS[key].unit, "trial", DAY)),)
            for key, value in values.items()
        },
    )


def demo_engine(folder: Path) -> Engine:
    """A new SQLite database in a folder, migrated and holding the demonstration."""
    engine = open_engine(f"sqlite:///{folder / 'demo.sqlite'}")
    migrate(engine)
    load_demo(engine)
    return engine


@cache
def demo_book() -> Book:
    """Everything in the demonstration, read through a database that is made once and removed."""
    with TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        engine = demo_engine(Path(folder))
        try:
            version = data_version(engine)
            with reading(engine) as session:
                return load_book(session, version)
        finally:
            engine.dispose()


@cache
def demo_comparison(code: str) -> Comparison:
    """One construction of the demonstration on its first basis."""
    book = demo_book()
    on = book.basis()
    return compare(
        book.construction(code),
        on,
        book.assumption_set(on.assumption_set),
        book.rates,
        book.current_offers,
        book.limits,
    )


def demo_table(name: str) -> list[dict[str, str]]:
    """The rows of one printed table of the demo scenario, as text."""
    with (EXAMPLES / "demo" / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


def is_printed_as(value: float, printed: str) -> bool:
    """Whether a value rounds to the printed figure, halves either way."""
    decimals = len(printed.partition(".")[2])
    half = 0.5 * 10**-decimals
    return bool(abs(value - float(printed)) <= half * (1 + 1e-9))


def pack_of(*comparisons: Comparison, **changes: Any) -> Pack:
    """A frozen pack of comparisons on one basis, in the internal view."""
    pool = Pool()
    cloths = [freeze_comparison(each, pool, ties=break_evens_of(each)) for each in comparisons]
    heading = Heading("2026-03-12-tarn-0001", "Spring denim", "Tarn & Fell", date(2026, 3, 12))
    pack = assemble(heading, comparisons[0].basis, cloths, pool, engine=VERSION, made_at=FROZEN_AT)
    return replace(pack, **changes)


def demo_comparisons() -> tuple[Comparison, ...]:
    """The comparison of every construction of the demonstration."""
    book, basis = demo_book(), demo_book().basis()
    assumptions = book.assumption_set(basis.assumption_set)
    return tuple(
        compare(each, basis, assumptions, book.rates, book.current_offers, book.limits)
        for each in book.constructions
    )
