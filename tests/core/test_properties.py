"""What must hold for any construction and any offer, on two hundred random ones each."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from decimal import Decimal, localcontext
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.core.assumptions import AssumptionSet
from server.core.compare import compare
from server.core.construction import Construction
from server.core.formula import Formula
from server.core.grid import FIGURES
from server.core.landed import TERMS, landed_sheet
from server.core.landing import land
from server.core.offer import Offer, PriceBreak
from server.core.pair import cloth_sheet, construction_inputs, tonnes_needed
from server.core.sheet import Explanation, Input
from server.core.tracing import CELLS, name, write
from tests.builders import (
    all_formulas,
    assumption_set,
    basis,
    charges,
    construction,
    demo_comparison,
    duty_rate,
    offer,
    rate_book,
    slot,
    yarn,
)
from tests.core.dimensions import sample
from tests.core.expressions import page_value

often = settings(max_examples=200, deadline=None)
REGISTERED = list(all_formulas().values())


def within(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False)


@st.composite
def constructions(draw: st.DrawFn) -> Construction:
    """A woven cloth with one or two yarns in each direction."""
    slots = []
    for direction in ("warp", "filling"):
        part = draw(st.sampled_from([1.0, 0.5, 0.75, 0.2]))
        for position, share in ((1, part), (2, 1 - part)):
            if share > 0:
                slots.append(
                    slot(
                        direction,
                        position=position,
                        ne=draw(within(4, 30)),
                        share_of_threads=share,
                        crimp=draw(within(0, 0.3)) if direction == "warp" else 0.0,
                        waste=draw(within(0, 0.2)),
                    )
                )
    finished = draw(within(40, 70))
    return construction(
        total_ends=draw(within(1500, 9000)),
        reed_width_in=finished * draw(within(1.0, 1.5)),
        loom_ppi=draw(within(20, 90)),
        length_shrink=draw(within(0, 0.2)),
        finished_width_in=finished,
        cuttable_width_in=finished - 1.5,
        net_finish=draw(within(-0.1, 0.3)),
        tail_in=draw(within(0, 4)),
        heat_set=draw(st.booleans()),
        dyeing_route=draw(st.sampled_from(["rope", "slasher", "none"])),
        season_metres=draw(within(1000, 1e6)),
        slots=tuple(slots),
    )


@st.composite
def offers(draw: st.DrawFn) -> Offer:
    """An offer in any term, currency, price unit and payment."""
    return offer(
        price=draw(st.decimals("0.50", "500", places=2)),
        currency=draw(st.sampled_from(["USD", "USc", "EUR", "MXN"])),
        price_unit=draw(st.sampled_from(["kg", "t", "lb", "10 lb", "bale (400 lb)"])),
        term=draw(st.sampled_from(TERMS)),
        payment=draw(st.sampled_from(["LC sight", "LC 90", "CAD", "TT advance", "TT 30/70"])),
        lead_days=draw(st.integers(0, 120)),
        tax_inside=draw(st.sampled_from([0.0, 0.13, 0.19])),
        quoted_regain=draw(within(0, 0.12)),
    )


def values(inputs: dict[str, Input] | Any) -> dict[str, float]:
    return {each: float(entry.value) for each, entry in inputs.items()}


def landed(met: Offer, **changes: Any) -> dict[str, float]:
    landing = land(met, basis(), changes.pop("rates", rate_book()), prefix="at", **changes)
    figures = landing.sheet.evaluate(values(landing.inputs))
    return {key: float(value) for key, value in figures.items()}


def cloth_figures(cloth: Construction) -> dict[str, float]:
    counts = {f"{each.name}.costing_ne": each.ne for each in cloth.slots}
    return cloth_sheet(cloth).evaluate(values(construction_inputs(cloth)) | counts)


@often
@given(cloth=constructions())
def test_the_mass_of_a_finished_metre_is_its_yarn_and_its_finish(cloth: Construction) -> None:
    figures = cloth_figures(cloth)
    yarns = [figures[f"{each.name}.mass"] for each in cloth.slots]
    metre = figures["mass_per_area"] * cloth.finished_width_in * 0.0254
    assert metre == pytest.approx(sum(yarns) + sum(yarns) * cloth.net_finish, rel=1e-12)
    for each in cloth.slots:
        bought, used = figures[f"{each.name}.buy"], figures[f"{each.name}.mass"]
        assert bought * (1 - each.waste) == pytest.approx(used, rel=1e-12)


@often
@given(cloth=constructions(), metres=within(1, 1e6))
def test_twice_the_metres_take_twice_the_tonnes(cloth: Construction, metres: float) -> None:
    for each in cloth.slots:
        once = tonnes_needed(each, cloth, metres)
        assert once is not None
        assert tonnes_needed(each, cloth, 2 * metres) == pytest.approx(2 * once, rel=1e-15)
    twice = cloth_figures(replace(cloth, season_metres=2 * (cloth.season_metres or 0)))
    figures = cloth_figures(cloth)
    for direction in ("warp", "filling"):
        key = f"{direction}_season_tonnes"
        assert twice[key] == pytest.approx(2 * figures[key], rel=1e-15)


@often
@given(cloth=constructions(), factor=within(1.01, 3.0))
def test_finer_yarn_weighs_less_and_more_waste_costs_more(
    cloth: Construction, factor: float
) -> None:
    figures = cloth_figures(cloth)
    finer = replace(cloth, slots=tuple(replace(s, ne=s.ne * factor) for s in cloth.slots))
    assert cloth_figures(finer)["ounces"] == pytest.approx(figures["ounces"] / factor, rel=1e-12)
    wasteful = replace(cloth, slots=tuple(replace(s, waste=s.waste + 0.05) for s in cloth.slots))
    for each in cloth.slots:
        assert cloth_figures(wasteful)[f"{each.name}.buy"] > figures[f"{each.name}.buy"]


@often
@given(met=offers())
def test_the_legs_of_a_delivery_sum_to_the_landed_price(met: Offer) -> None:
    landing = land(met, basis(), rate_book(), prefix="at")
    figures = landing.sheet.evaluate(values(landing.inputs))
    legs = [float(figures[leg]) for leg in landing.legs]
    assert float(figures["at.landed_price"]) == pytest.approx(sum(legs), rel=1e-12)


@pytest.mark.parametrize("term", TERMS)
@often
@given(met=offers(), more=st.decimals("0.01", "50", places=2))
def test_a_higher_price_lands_higher_in_every_term(term: str, met: Offer, more: Decimal) -> None:
    lower = landed(replace(met, term=term))["at.landed_price"]
    higher = landed(replace(met, term=term, price=met.price + more))["at.landed_price"]
    assert higher > lower


@pytest.mark.parametrize("base", ["CIF", "FOB"])
@often
@given(price=within(0.8, 8.0), rate=within(0, 0.4))
def test_one_offer_priced_leg_by_leg_lands_the_same_in_every_term(
    base: str, price: float, rate: float
) -> None:
    """Money costs nothing here: the days financed are paid on the price, which differs."""
    rates = rate_book(charges=charges(cost_of_money=0.0), duties=(duty_rate(rate=rate, base=base),))
    haulage = {"EXW": 0.05, "FCA": 0.02, "FAS": 0.02}
    on_board = price + 0.05
    carried = on_board + 3200 / 20_000
    insured = carried / (1 - 0.002 * 1.1)
    priced = {term: on_board - cost for term, cost in haulage.items()}
    priced |= {"FOB": on_board, "CFR": carried, "CPT": carried, "CIF": insured, "CIP": insured}
    found = {
        term: landed(offer(term=term, price=Decimal(figure)), rates=rates)["at.landed_price"]
        for term, figure in priced.items()
    }
    assert list(found.values()) == pytest.approx([found["FOB"]] * len(found), rel=1e-12)


@often
@given(met=offers(), tonnes=within(0, 300))
def test_a_price_break_never_raises_the_price_with_the_quantity(met: Offer, tonnes: float) -> None:
    steps = tuple(
        PriceBreak(Decimal(size), met.price * Decimal(factor))
        for size, factor in ((40, "0.97"), (80, "0.95"), (120, "0.94"))
    )
    for kind in ("all units", "incremental"):
        broken = replace(met, breaks=steps, break_kind=kind)
        assert broken.price_for(tonnes + 50) <= broken.price_for(tonnes) * (1 + Decimal("1e-25"))
        landed_price = landed(broken, tonnes=tonnes)["at.quoted_price"]
        assert landed_price == float(broken.price_for(tonnes))


def pair_of(cloth: Construction, first: Offer, second: Offer, assumed: AssumptionSet) -> Any:
    """A comparison of two offers that are pinned to their places."""
    places = []
    for each in cloth.slots:
        pinned = first if each.direction == "warp" else second
        places.append(replace(each, pinned_offer=pinned.code))
    cloth = replace(cloth, slots=tuple(places))
    return compare(cloth, basis(), assumed, rate_book(), [first, second], ())


@often
@given(cloth=constructions(), first=offers(), second=offers(), loom=within(200, 1200))
def test_a_pair_has_the_same_bits_alone_in_the_grid_and_in_arrays(
    cloth: Construction, first: Offer, second: Offer, loom: float
) -> None:
    assumed = assumption_set(fabric__loom_rpm=loom)
    counts = [next(s.ne for s in cloth.slots if s.direction == d) for d in ("warp", "filling")]
    first, second = (
        replace(met, code=code, yarn=yarn(count=Decimal(ne)))
        for met, code, ne in zip((first, second), ("A", "B"), counts, strict=True)
    )
    comparison = pair_of(cloth, first, second, assumed)
    pair = comparison.pair(0, 0)
    sheet, inputs = comparison.sheet_of(pair)
    alone = sheet.evaluate(values(inputs))
    assert {f: pair.figures[f] for f in FIGURES} == {f: float(alone[f]) for f in FIGURES}
    together = sheet.evaluate({n: np.array([v, v, v]) for n, v in values(inputs).items()})
    for key in sheet.by_key:
        array = np.broadcast_to(np.asarray(together[key], dtype=float), (3,))
        assert array.tolist() == [float(alone[key])] * 3, key


@often
@given(
    met=st.lists(offers(), min_size=2, max_size=5),
    cloth=constructions().filter(lambda cloth: len(cloth.slots) == 2),
    away=st.lists(within(0.96, 1.04), min_size=5, max_size=5),
)
def test_the_grid_of_random_offers_has_the_bits_of_each_pair(
    met: list[Offer], cloth: Construction, away: list[float]
) -> None:
    cloth = replace(cloth, slots=tuple(replace(each, ne=9.0) for each in cloth.slots))
    listed = [
        replace(each, code=f"T{place}", yarn=yarn(count=Decimal(repr(9.0 * away[place]))))
        for place, each in enumerate(met)
    ]
    comparison = compare(cloth, basis(), assumption_set(), rate_book(), listed, ())
    assert comparison.pair_count == len(met) ** 2
    for row in range(len(met)):
        for column in range(len(met)):
            pair = comparison.pair(row, column)
            sheet, inputs = comparison.sheet_of(pair)
            alone = sheet.evaluate(values(inputs), FIGURES)
            assert all(pair.figures[f] == float(alone[f]) for f in FIGURES)


def opened(explanation: Explanation) -> list[Explanation]:
    """An explanation and all it rests on."""
    inner = [part for _, part in explanation.parts if isinstance(part, Explanation)]
    return [explanation, *(each for part in inner for each in opened(part))]


@pytest.mark.parametrize("code", ["DN-1450", "DN-1200S", "DN-0800S"])
@pytest.mark.parametrize("figure", ["fabric_cost", "ounces", "yarn_per_area", "price_at_margin"])
def test_an_explanation_worked_out_again_gives_the_figure(code: str, figure: str) -> None:
    comparison = demo_comparison(code)
    assert comparison.leader is not None
    sheet, inputs = comparison.sheet_of(comparison.leader)
    explanations = opened(sheet.explain(figure, inputs))
    assert len(explanations) >= 8 or figure == "ounces"
    for each in explanations:
        assert page_value(each.in_numbers, {}) == pytest.approx(each.value, rel=1e-8, abs=1e-9)
        by_words = each.in_words
        assert by_words
        assert each.source
        for source, part in each.parts:
            title = part.label
            assert title in by_words, f"{source} is not in the words of {each.key}"


@pytest.mark.parametrize("about", REGISTERED, ids=[each.key for each in REGISTERED])
def test_a_formula_agrees_with_arithmetic_of_forty_digits(about: Formula) -> None:
    text = write(about.function(**{a.name: name(a.name) for a in about.arguments}), CELLS)
    for shift in range(2):
        floats = {a.name: sample(a, place + shift) for place, a in enumerate(about.arguments)}
        expected = in_many_digits(text, floats)
        found = float(about.function(**floats))
        scale = max(abs(float(expected)), 1e-9)
        assert abs(Decimal(found) - expected) <= Decimal(scale) * Decimal("1e-12"), about.key


def in_many_digits(text: str, floats: dict[str, float]) -> Decimal:
    """Value of a formula written for a cell, every number a decimal of forty digits."""
    with localcontext() as context:
        context.prec = 40
        names: dict[str, Any] = {each: Decimal(value) for each, value in floats.items()}
        names |= {
            "D": Decimal,
            "SQRT": lambda number: number.sqrt(),
            "MIN": min,
            "MAX": max,
            "ROUNDUP": lambda number, _places: number.to_integral_value("ROUND_CEILING"),
            "POWER": lambda base, exponent: base**exponent,
            "POISSON": SimpleNamespace(DIST=poisson),
            "TRUE": True,
            "FALSE": False,
        }
        digits = re.sub(
            r"(?<![\w.])(\d+(?:\.\d*)?(?:e[+-]?\d+)?)(?![\w.])",
            lambda match: f"D({float(match[1])!r})",
            text,
        )
        return Decimal(eval(digits, {"__builtins__": {}}, names))


def poisson(number: Decimal, mean: Decimal, cumulative: bool) -> Decimal:
    """Probability of a number, or of at most that number, in the digits of the context."""
    terms = [(-mean).exp() * mean**k / math.factorial(k) for k in range(int(number) + 1)]
    return sum(terms, Decimal(0)) if cumulative else terms[-1]


def test_the_main_formulas_agree_with_their_own_equations_in_decimals() -> None:
    """Written from the definitions, not from the code; legal factors as exact decimals."""
    formulas = all_formulas()
    with localcontext() as context:
        context.prec = 40
        pound, yard, inch = Decimal("0.45359237"), Decimal("0.9144"), Decimal("0.0254")
        tex_ne = pound * 10**6 / (840 * yard)
        ends, crimp, shrink, tex = (
            Decimal(3860),
            Decimal("0.11"),
            Decimal("0.13"),
            Decimal("90.852"),
        )
        picks, reed, tail = Decimal(39), Decimal(65), Decimal("1.5")
        rate, insured = Decimal("0.002"), Decimal("1.1")
        growth = Decimal("1.08") ** 12
        cases: list[tuple[str, dict[str, str], Decimal]] = [
            ("tex_from_ne", {"ne": "6.5"}, tex_ne / Decimal("6.5")),
            (
                "warp_mass",
                {"ends": "3860", "crimp": "0.11", "length_shrink": "0.13", "tex": "90.852"},
                ends * (1 + crimp) / (1 - shrink) * tex / 1000,
            ),
            (
                "filling_mass",
                {
                    "loom_ppi": "39",
                    "length_shrink": "0.13",
                    "reed_width_in": "65",
                    "tail_in": "1.5",
                    "tex": "90.852",
                },
                picks / inch / (1 - shrink) * (reed + tail) * inch * tex / 1000,
            ),
            (
                "ounces_per_square_yard",
                {"mass_per_area": "492.1"},
                Decimal("492.1") * yard * yard / (pound * 1000 / 16),
            ),
            (
                "insurance",
                {"cost_and_freight": "2.62", "insurance_rate": "0.002", "insured_share": "1.1"},
                Decimal("2.62") / (1 - rate * insured) - Decimal("2.62"),
            ),
            (
                "same_basis_price",
                {"landed_price_per_kg": "2.718", "quoted_regain": "0.07", "house_regain": "0.085"},
                Decimal("2.718") * Decimal("1.07") / Decimal("1.085"),
            ),
            (
                "turns_per_metre",
                {"twist_multiplier": "4.3", "ne": "7"},
                Decimal("4.3") * Decimal(7).sqrt() / inch,
            ),
            (
                "capital_recovery_factor",
                {"period_interest": "0.08", "periods": "12"},
                Decimal("0.08") * growth / (growth - 1),
            ),
            (
                "cost_of_seconds",
                {
                    "cost_before_seconds": "2.99",
                    "seconds_share": "0.03",
                    "seconds_price_ratio": "0.4",
                },
                Decimal("2.99") / (1 - Decimal("0.03") * Decimal("0.6")) - Decimal("2.99"),
            ),
        ]
        for key, inputs, expected in cases:
            found = formulas[key].evaluate({n: float(v) for n, v in inputs.items()})
            assert abs(Decimal(found) / expected - 1) < Decimal("1e-12"), key


def test_every_term_has_a_sheet_that_ends_in_the_same_basis_price() -> None:
    for term in TERMS:
        assert landed_sheet(term).lines[-1].key == "same_basis_price"
