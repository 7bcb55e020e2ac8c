"""The printed tables of the demo scenario, reproduced digit by digit from the seeded database."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest

from server.core.candidates import fits
from server.core.construction import Construction, Slot
from server.core.gate import FAIL, PASS, POSSIBLE, UNKNOWN, Standing, examine
from server.core.landing import Landing, land
from server.core.offer import Offer
from server.core.pair import cloth_sheet, construction_inputs
from server.core.should_cost import should_cost_of
from tests.builders import demo_book, demo_comparison, demo_table, is_printed_as

Row = dict[str, str]
LANDED, COMBINATIONS = demo_table("landed"), demo_table("combinations")
CONSTRUCTIONS, FABRIC_COST = demo_table("constructions"), demo_table("fabric_cost")
OWN_SPINNING = demo_table("own_spinning")
LEGS = (
    "goods_price",
    "cif_value",
    "duty",
    "clearance",
    "inland",
    "days_financed",
    "financing",
    "landed_price",
    "same_basis_price",
)
# What the table's words about an offer mean as findings of the gate: (about, outcome).
REASONS = {
    "expired": {("validity", FAIL)},
    "too weak for rope warp": {("tenacity", FAIL)},
    "too weak and uneven": {("tenacity", FAIL), ("evenness", FAIL)},
    "origin file incomplete": {("origin file", FAIL)},
    "origin file partly documented": {("origin file", UNKNOWN)},
}


def wrong(row: Row, figures: dict[str, float], columns: tuple[str, ...]) -> list[str]:
    """The columns whose figure does not round to the printed one."""
    return [
        f"{column}: {figures[column]:.6f} is not printed as {row[column]}"
        for column in columns
        if not is_printed_as(figures[column], row[column])
    ]


def test_the_tables_hold_every_row_of_the_scenario() -> None:
    assert [len(table) for table in (CONSTRUCTIONS, LANDED, COMBINATIONS)] == [8, 40, 30]
    assert [len(table) for table in (OWN_SPINNING, FABRIC_COST)] == [8, 10]
    assert {row["code"] for row in CONSTRUCTIONS} == {c.code for c in demo_book().constructions}
    assert {row["offer"] for row in LANDED} == {offer.code for offer in demo_book().offers}


@pytest.mark.parametrize("row", CONSTRUCTIONS, ids=[row["code"] for row in CONSTRUCTIONS])
def test_a_construction_weighs_what_the_table_prints(row: Row) -> None:
    construction = demo_book().construction(row["code"])
    inputs = {name: entry.value for name, entry in construction_inputs(construction).items()}
    counts = {f"{slot.name}.costing_ne": slot.ne for slot in construction.slots}
    figures = cloth_sheet(construction).evaluate(inputs | counts)
    found = {
        "finished_epi": figures["finished_epi"],
        "finished_ppi": figures["finished_ppi"],
        "width_contraction_percent": figures["width_contraction"] * 100,
        "warp_g_per_m": figures["warp.mass"],
        "filling_g_per_m": figures["filling.mass"],
        "ounces": figures["ounces"],
        "target_oz": construction.target_oz,
        "buy_warp_g_per_m": figures["warp.buy"],
        "buy_filling_g_per_m": figures["filling.buy"],
        "season_warp_t": figures["warp_season_tonnes"],
        "season_filling_t": figures["filling_season_tonnes"],
    }
    assert wrong(row, found, tuple(found)) == []


def test_the_season_is_as_many_metres_and_tonnes_as_the_setting_says() -> None:
    metres, tonnes = 0.0, 0.0
    for construction in demo_book().constructions:
        inputs = {name: entry.value for name, entry in construction_inputs(construction).items()}
        counts = {f"{slot.name}.costing_ne": slot.ne for slot in construction.slots}
        figures = cloth_sheet(construction).evaluate(inputs | counts)
        metres += construction.season_metres or 0.0
        tonnes += figures["warp_season_tonnes"] + figures["filling_season_tonnes"]
    assert metres == 2_530_000
    assert is_printed_as(tonnes, "1499")


def landing_of(offer: Offer) -> Landing:
    book = demo_book()
    return land(offer, book.basis(), book.rates, prefix="at")


@pytest.mark.parametrize("row", LANDED, ids=[row["offer"] for row in LANDED])
def test_an_offer_lands_at_the_printed_price_leg_by_leg(row: Row) -> None:
    landing = landing_of(demo_book().offer(row["offer"]))
    figures = landing.sheet.evaluate({name: e.value for name, e in landing.inputs.items()})
    found = {leg: float(figures.get(landing.key(leg), 0.0)) for leg in LEGS}
    assert wrong(row, found, LEGS) == []


def standing_in(offer: Offer, direction: str) -> Standing:
    """The gate's answer for an offer in a rope-dyed cloth that asks for its very count."""
    book = demo_book()
    construction: Construction = book.construction("DN-1450")
    own: Slot = replace(
        construction.slots_of(direction)[0], ne=offer.yarn.average_ne or 0.0, effect="any"
    )
    basis = book.basis()
    lane = book.rates.lane(offer.country, basis.rates_on)
    return examine(offer, replace(own, fibre_mix="any"), construction, basis, lane, book.limits)


def open_findings(standing: Standing) -> set[tuple[str, str]]:
    """What was found to be less than a pass."""
    return {(each.about, each.outcome) for each in standing.findings if each.outcome != PASS}


def in_words(sentence: str) -> set[tuple[str, str]]:
    """The findings that a printed reason names."""
    found: set[tuple[str, str]] = set()
    for reason in re.split(r"[;,] ", sentence):
        if late := re.fullmatch(r"late \((\d+) d\)", reason):
            found.add((f"arrival {late[1]} d", FAIL))
        elif reason != "usable as filling only":
            found |= REASONS[reason]
    return found


@pytest.mark.parametrize("row", LANDED, ids=[row["offer"] for row in LANDED])
def test_the_gate_says_what_the_usable_column_says(row: Row) -> None:
    offer = demo_book().offer(row["offer"])
    state, _, reasons = row["usable"].partition(": ")
    in_warp, in_filling = standing_in(offer, "warp"), standing_in(offer, "filling")
    if state == "yes":
        assert POSSIBLE in (in_warp.state, in_filling.state)
        return
    judged = in_warp if "rope warp" in reasons else in_filling
    arrival = next(each for each in judged.findings if each.about == "arrival")
    found = {
        (f"arrival {arrival.value}" if about == "arrival" else about, outcome)
        for about, outcome in open_findings(judged)
    }
    assert found == in_words(reasons)
    assert judged.state == ("unproven" if state == "unproven" else "impossible")
    if "usable as filling only" in reasons:
        assert ("tenacity", FAIL) not in open_findings(in_filling)


def test_a_base_count_offer_fails_the_warp_whose_count_it_seems_to_have() -> None:
    comparison = demo_comparison("DN-1200S")
    found = next(each for each in comparison.excluded if each.candidate.offer.code == "Q23")
    assert found.candidate.standing.state == "impossible"
    assert "average count Ne 7.90 is 7.1 % from the wanted Ne 8.5" in " ".join(
        found.candidate.standing.reasons
    )


@pytest.mark.parametrize(
    "row", COMBINATIONS, ids=[f"{r['fabric']}-{r['warp']}-{r['filling']}" for r in COMBINATIONS]
)
def test_a_combination_costs_and_weighs_what_the_table_prints(row: Row) -> None:
    comparison = demo_comparison(row["fabric"])
    pair = comparison.find(row["warp"], row["filling"])
    assert pair is not None, "the pair is not among the candidates"
    sheet, inputs = comparison.sheet_of(pair)
    figures = sheet.evaluate({name: entry.value for name, entry in inputs.items()})
    found = {
        "ounces": figures["ounces"],
        "warp_cost": figures["warp.cost"],
        "filling_cost": figures["filling.cost"],
        "yarn_cost": figures["yarn_cost"],
        "yarn_per_yard": figures["yarn_per_yard"],
        "yarn_per_area": figures["yarn_per_area"],
    }
    assert wrong(row, found, tuple(found)) == []


@pytest.mark.parametrize(
    "row", COMBINATIONS, ids=[f"{r['fabric']}-{r['warp']}-{r['filling']}" for r in COMBINATIONS]
)
def test_a_combination_is_named_after_the_spinning_of_its_yarns(row: Row) -> None:
    pair = demo_comparison(row["fabric"]).find(row["warp"], row["filling"])
    assert pair is not None
    warp, filling = row["combination"].split(" / ")

    def met(words: str) -> str:
        return next((system for system in ("OE", "air-jet") if system in words), "ring")

    if ", all" in filling or ", US" in filling or ", Americas" in filling:
        filling = filling.partition(",")[0]
    if "core" not in filling:
        assert pair.combination == f"{met(warp)}/{met(filling)}"
    assert ("slub" in warp) == ("slub" in pair.warp.offer.yarn.effect) or "multi" in warp
    assert ("multi-count" in warp) == ("multi-count" in pair.warp.offer.yarn.effect)
    assert ("core" in filling) == (pair.filling.offer.yarn.core != "none")
    assert ("ring S" in warp) == (pair.warp.offer.yarn.twist == "S")


@pytest.mark.parametrize("row", OWN_SPINNING, ids=[row["yarn"] for row in OWN_SPINNING])
def test_own_yarn_should_cost_what_the_table_prints(row: Row) -> None:
    route, ne = re.fullmatch(r"(Ring|Rotor) Ne ([\d.]+)", row["yarn"]).groups()  # type: ignore[union-attr]
    own = should_cost_of(
        {"Ring": "ring", "Rotor": "OE"}[route],
        float(ne),
        demo_book().assumption_set("Rinconada 2026"),
    )
    figures: dict[str, Any] = own.figures()
    speed = own.inputs["spindle_rpm" if route == "Ring" else "rotor_rpm"].value
    columns = ("delivery_speed", "output", "fibre", "spinning", "conversion", "should_cost")
    assert wrong(row, figures | {"speed_rpm": speed}, ("speed_rpm", *columns)) == []


@pytest.mark.parametrize(
    "row", FABRIC_COST, ids=[f"{r['fabric']}-{r['pair']}" for r in FABRIC_COST]
)
def test_a_finished_metre_costs_what_the_table_prints(row: Row) -> None:
    comparison = demo_comparison(row["fabric"])
    pair = comparison.find(*row["pair"].split("/"))
    assert pair is not None
    sheet, inputs = comparison.sheet_of(pair)
    figures = sheet.evaluate({name: entry.value for name, entry in inputs.items()})
    columns = tuple(column for column in row if column not in ("fabric", "pair"))
    assert wrong(row, figures, columns) == []
    assert pair.figures["fabric_cost"] == pytest.approx(figures["fabric_cost"], rel=1e-12)


def test_every_offer_of_the_scenario_is_looked_at_somewhere() -> None:
    book = demo_book()
    slots = [slot for construction in book.constructions for slot in construction.slots]
    idle = {o.code for o in book.offers if not any(fits(o, slot) for slot in slots)}
    assert idle == set()
