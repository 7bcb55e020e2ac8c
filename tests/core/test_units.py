"""Conversions held against a unit library, and going there and back again."""

from __future__ import annotations

import math
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.core import units
from server.core.offer import COUNT_SYSTEMS, KG_PER_PRICE_UNIT
from tests.builders import all_formulas, yarn
from tests.core.dimensions import UNITS, unit_of

REGISTERED = all_formulas()
counts = st.floats(0.05, 5000.0, allow_nan=False)
often = settings(max_examples=200, deadline=None)

# formula -> (argument, unit it takes, unit it gives): all of them are plain changes of unit.
DIRECT = {
    "tex_from_denier": ("den", "tex"),
    "denier_from_tex": ("tex", "den"),
    "tex_from_dtex": ("dtex", "tex"),
    "dtex_from_tex": ("tex", "dtex"),
    "nm_from_ne": ("Ne", "Nm"),
    "ne_from_nm": ("Nm", "Ne"),
    "ounces_per_square_yard": ("g/m²", "oz/yd²"),
    "mass_of_pounds": ("lb", "kg"),
    "mass_of_tonnes": ("t", "kg"),
    "tex_from_spyndle": ("lb/spyndle", "tex"),
    "spyndle_from_tex": ("tex", "lb/spyndle"),
    "tex_from_grain_count": ("gr/120 yd", "tex"),
    "grain_count_from_tex": ("tex", "gr/120 yd"),
    "tex_from_grains_per_yard": ("gr/yd", "tex"),
    "hanks_of_length": ("yd", "hank"),
    "area_per_metre": ("in", "m"),
    "metric_twist_multiplier": ("αe", "αm"),
    "tex_twist_multiplier": ("αe", "αtex"),
    "twist_multiplier_from_metric": ("αm", "αe"),
    "twist_multiplier_from_tex": ("αtex", "αe"),
    "tex_multiplier_from_cm": ("turns/cm·√tex", "αtex"),
    "cm_factor_from_tex_multiplier": ("αtex", "turns/cm·√tex"),
    "turns_per_inch_from_metre": ("turns/m", "turns/in"),
    "turns_per_metre_from_inch": ("turns/in", "turns/m"),
    "per_yard": ("¤/m", "¤/yd"),
    "price_per_lb": ("¤/kg", "¤/lb"),
    "price_per_tonne": ("¤/kg", "¤/t"),
    "quoted_price_per_kg_from_lb": ("¤q/lb", "¤q/kg"),
}
# formula -> count system and tex in either order: one is the other's reciprocal.
RECIPROCAL = {
    "tex_from_ne": ("Ne", "tex"),
    "ne_from_tex": ("tex", "Ne"),
    "tex_from_nm": ("Nm", "tex"),
    "nm_from_tex": ("tex", "Nm"),
    "tex_from_nek": ("NeK", "tex"),
    "nek_from_tex": ("tex", "NeK"),
    "tex_from_nel": ("NeL", "tex"),
    "nel_from_tex": ("tex", "NeL"),
    "tex_from_run": ("run", "tex"),
    "run_from_tex": ("tex", "run"),
    "tex_from_ny": ("Ny", "tex"),
    "ny_from_tex": ("tex", "Ny"),
    "tex_from_nf": ("Nf", "tex"),
    "nf_from_tex": ("tex", "Nf"),
}
BACK = [
    ("tex_from_ne", "ne_from_tex"),
    ("tex_from_nm", "nm_from_tex"),
    ("tex_from_denier", "denier_from_tex"),
    ("tex_from_dtex", "dtex_from_tex"),
    ("nm_from_ne", "ne_from_nm"),
    ("tex_from_nek", "nek_from_tex"),
    ("tex_from_nel", "nel_from_tex"),
    ("tex_from_run", "run_from_tex"),
    ("tex_from_ny", "ny_from_tex"),
    ("tex_from_nf", "nf_from_tex"),
    ("tex_from_spyndle", "spyndle_from_tex"),
    ("tex_from_grain_count", "grain_count_from_tex"),
    ("crimp_from_take_up", "take_up_from_crimp"),
    ("regain_from_content", "content_from_regain"),
    ("metric_twist_multiplier", "twist_multiplier_from_metric"),
    ("tex_twist_multiplier", "twist_multiplier_from_tex"),
    ("turns_per_metre_from_inch", "turns_per_inch_from_metre"),
]


def called(key: str, value: float) -> float:
    """A formula of one input."""
    (argument,) = REGISTERED[key].arguments
    return float(REGISTERED[key].function(**{argument.name: value}))


def units_of(key: str) -> tuple[str, str]:
    """Declared unit of the only input and of the result."""
    (argument,) = REGISTERED[key].arguments
    return argument.quantity.unit, REGISTERED[key].unit


@pytest.mark.parametrize("key", [key for key in DIRECT if key in REGISTERED])
@pytest.mark.parametrize("value", [0.37, 1.0, 7.0, 4321.5])
def test_a_change_of_unit_agrees_with_the_unit_library(key: str, value: float) -> None:
    assert units_of(key) == DIRECT[key]
    given_in, given_out = (unit_of(text) for text in DIRECT[key])
    expected = value * (given_in / given_out).to("dimensionless").magnitude
    assert called(key, value) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("key", [key for key in RECIPROCAL if key in REGISTERED])
@pytest.mark.parametrize("value", [0.37, 1.0, 7.0, 4321.5])
def test_a_count_and_its_linear_density_are_reciprocal(key: str, value: float) -> None:
    assert units_of(key) == RECIPROCAL[key]
    given_in, given_out = (unit_of(text) for text in RECIPROCAL[key])
    expected = (1 / (value * given_in) / given_out).to("dimensionless").magnitude
    assert called(key, value) == pytest.approx(expected, rel=1e-12)


def test_the_lists_above_name_formulas_that_exist() -> None:
    pairs = {key for pair in BACK for key in pair}
    assert (set(DIRECT) | set(RECIPROCAL) | pairs) - set(REGISTERED) == set()


@pytest.mark.parametrize(("there", "back"), BACK)
@often
@given(value=counts)
def test_there_and_back_again_gives_the_same(there: str, back: str, value: float) -> None:
    if there in ("crimp_from_take_up", "regain_from_content"):
        value = value / 5001.0
    assert called(back, called(there, value)) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    ("factor", "expression"),
    [
        (units.KG_PER_LB, "pound / kg"),
        (units.M_PER_YD, "yard / meter"),
        (units.M_PER_IN, "inch / meter"),
        (units.G_PER_OZ, "ounce / gram"),
        (units.GSM_PER_OZ_YD2, "ounce / yard**2 / (gram / meter**2)"),
        (units.TEX_NE, "pound / (840 * yard) / (gram / kilometer)"),
        (units.NM_PER_NE, "840 * yard / pound / (kilometer / kilogram)"),
    ],
)
def test_a_unit_factor_is_the_legal_one(factor: float, expression: str) -> None:
    legal = UNITS.Quantity(expression).to("dimensionless").magnitude
    assert factor == pytest.approx(legal, rel=1e-14)


@pytest.mark.parametrize(
    ("unit", "kilograms"),
    [
        ("kg", "1"),
        ("10 kg", "10"),
        ("t", "1000"),
        ("lb", "0.45359237"),
        ("10 lb", "4.5359237"),
        ("bale (400 lb)", "181.436948"),
        ("bale (480 lb)", "217.7243376"),
        ("100 lb", "45.359237"),
        ("short ton", "907.18474"),
    ],
)
def test_a_price_unit_weighs_exactly_what_its_name_says(unit: str, kilograms: str) -> None:
    assert KG_PER_PRICE_UNIT[unit] == pytest.approx(float(Decimal(kilograms)), rel=1e-15)


def test_every_price_unit_is_looked_at() -> None:
    assert set(KG_PER_PRICE_UNIT) == {
        "kg",
        "10 kg",
        "t",
        "lb",
        "10 lb",
        "100 kg",
        "100 lb",
        "short ton",
        "bale (400 lb)",
        "bale (480 lb)",
    }


@pytest.mark.parametrize("system", COUNT_SYSTEMS)
@often
@given(figure=st.decimals("0.5", "900", places=3), ply=st.integers(1, 4))
def test_a_yarn_weighs_the_same_in_every_count_system(
    system: str, figure: Decimal, ply: int
) -> None:
    met: Any = yarn(count=figure, count_system=system, ply=ply)
    one = float(figure) * unit_of(system)
    single = one if weighs_a_length(system) else 1 / one
    expected = ply * single.to("g/km").magnitude
    assert met.quoted_tex == pytest.approx(expected, rel=1e-12)
    assert met.quoted_ne == pytest.approx(units.TEX_NE / expected, rel=1e-12)
    assert met.average_ne == met.quoted_ne


def weighs_a_length(system: str) -> bool:
    """Whether a count system is direct: it weighs a length rather than measures a mass."""
    return bool(unit_of(system).dimensionality == unit_of("tex").dimensionality)


def test_the_constant_of_the_trade_is_derived() -> None:
    assert math.isclose(units.TEX_NE, 590.541247448236, rel_tol=1e-13)
    exact = Decimal("0.45359237") * 1_000_000 / (Decimal("840") * Decimal("0.9144"))
    assert float(exact) == pytest.approx(units.TEX_NE, rel=1e-15)
