"""What yarns and cloths are made of: shares that sum, labels that sum to 100, cost of a core."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from math import fsum

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.composition import (
    components_of,
    composition_inputs,
    composition_lines,
    label_percentages,
    sheath_fibres,
)
from server.core.effects import effects_of
from server.core.offer import Core, Yarn
from server.core.sheet import Sheet
from server.core.whole_pair import WholePair, draft_effects
from tests.builders import demo_book, demo_comparison, is_printed_as, offer, yarn


def shares_of(met: Yarn) -> dict[str, float]:
    """Component -> share of the yarn."""
    inputs = composition_inputs("y", offer(yarn=met))
    figures = Sheet(tuple(composition_lines("y", met))).evaluate(
        {name: entry.value for name, entry in inputs.items()}
    )
    return {each.key: float(figures[f"y.{each.key}_share"]) for each in components_of(met)}


def whole(code: str, warp: str, filling: str) -> WholePair:
    comparison = demo_comparison(code)
    pair = comparison.find(warp, filling)
    assert pair is not None
    return WholePair.of(comparison, pair, effects_of(comparison, pair))


@pytest.mark.parametrize(
    ("mix", "fibres"),
    [
        ("cotton", (("cotton", 1.0),)),
        ("cotton dual core", (("cotton", 1.0),)),
        ("50/50 polyester/cotton", (("polyester", 0.5), ("cotton", 0.5))),
        ("60/30/10 cotton/lyocell/hemp", (("cotton", 0.6), ("lyocell", 0.3), ("hemp", 0.1))),
        ("70 % cotton, 30 % recycled cotton", (("cotton", 0.7), ("recycled cotton", 0.3))),
        ("60/30 cotton/lyocell", (("60/30 cotton/lyocell", 1.0),)),
        ("50/50 cotton/cotton", (("50/50 cotton/cotton", 1.0),)),
        ("core", (("core", 1.0),)),
    ],
)
def test_a_fibre_mix_is_read_or_left_as_one_thing(
    mix: str, fibres: tuple[tuple[str, float], ...]
) -> None:
    assert sheath_fibres(mix) == fibres


def test_the_dual_core_of_the_demonstration_is_what_its_notes_say() -> None:
    """5.3 % elastane at draft 3.5 and about 19 % bicomponent polyester at draft 1.05."""
    shares = shares_of(demo_book().offer("Q36").yarn)
    assert is_printed_as(shares["core1_elastane"] * 100, "5.3")
    assert round(shares["core2_bicomponent_polyester"] * 100) == 19
    assert fsum(shares.values()) == pytest.approx(1, abs=1e-15)


def test_of_a_sheath_count_the_whole_yarn_is_coarser() -> None:
    """YE-06: Ne 16 with 40 den at draft 2.8 is 4.12 % elastane if the count is of the sheath."""
    core = {"core": "elastane", "cores": (Core(40, 2.8),), "count": Decimal(16)}
    total, sheath = (shares_of(yarn(**core, count_basis=basis)) for basis in ("total", "sheath"))
    assert is_printed_as(total["core1_elastane"] * 100, "4.30")
    assert is_printed_as(sheath["core1_elastane"] * 100, "4.12")


@pytest.mark.parametrize(
    "changes",
    [
        {"core": "elastane"},
        {"core": "dual core", "cores": (Core(70, 3.5),)},
        {"core": "elastane", "cores": (Core(70, 3.5),), "count_basis": "unknown"},
        {"core": "elastane", "cores": (Core(2000, 1.0),)},
    ],
)
def test_a_core_that_is_not_described_gives_no_composition(changes: dict[str, object]) -> None:
    assert components_of(yarn(**changes)) == ()


FILAMENTS = st.builds(Core, st.floats(10, 200), st.floats(1, 6))


@given(
    st.floats(4, 30),
    st.lists(FILAMENTS, min_size=0, max_size=2),
    st.sampled_from(("cotton", "50/50 polyester/cotton", "60/30/10 cotton/lyocell/hemp")),
    st.sampled_from(("total", "sheath")),
)
def test_shares_of_a_yarn_sum_to_one(ne: float, cores: list[Core], mix: str, basis: str) -> None:
    kind = {0: "none", 1: "elastane", 2: "dual core"}[len(cores)]
    met = yarn(
        count=Decimal(str(ne)), core=kind, cores=tuple(cores), fibre_mix=mix,
        count_basis=basis if cores else "average",
    )  # fmt: skip
    shares = shares_of(met) if cores else {}
    assert not shares or fsum(shares.values()) == pytest.approx(1, abs=1e-12)
    assert all(0 < share < 1 for share in shares.values())


@given(st.lists(st.floats(1e-6, 1.0), min_size=1, max_size=9))
def test_label_percentages_sum_to_100_and_are_within_one(parts: list[float]) -> None:
    total = fsum(parts)
    shares = {str(place): part / total for place, part in enumerate(parts)}
    label = label_percentages(shares)
    assert sum(label.values()) == 100
    assert all(abs(label[key] - share * 100) < 1 for key, share in shares.items())


def test_the_largest_remainder_gets_what_rounding_down_left() -> None:
    assert label_percentages({"a": 0.924, "b": 0.017, "c": 0.059}) == {"a": 92, "b": 2, "c": 6}
    assert label_percentages({"a": 1 / 3, "b": 1 / 3, "c": 1 / 3}) == {"a": 34, "b": 33, "c": 33}
    assert label_percentages({}) == {}


@pytest.mark.parametrize(
    ("code", "warp", "filling"),
    [("DN-1050S", "Q30", "Q36"), ("DN-1200S", "Q25", "Q35"), ("DN-1100A", "Q25", "Q32")],
)
def test_shares_of_a_cloth_sum_to_one_and_weigh_what_its_yarns_weigh(
    code: str, warp: str, filling: str
) -> None:
    pair = whole(code, warp, filling)
    keys = [each.key for each in pair.effects.components]
    assert len(keys) > 1
    assert fsum(pair.figures[f"cloth.{key}_share"] for key in keys) == pytest.approx(1, abs=1e-12)
    yarns = pair.figures["warp.mass"] + pair.figures["filling.mass"]
    assert pair.figures["cloth.yarns"] == pytest.approx(yarns, rel=1e-12)
    elastane = pair.figures.get("filling.core1_elastane_mass", 0.0)
    share = pair.figures.get("cloth.elastane_share", 0.0)
    assert share == pytest.approx(elastane / yarns, rel=1e-12)


def test_an_all_cotton_cloth_has_no_table_of_one_line() -> None:
    assert whole("DN-1375", "Q09", "Q14").effects.components == ()


def test_the_core_costs_its_share_times_its_price() -> None:
    pair = whole("DN-1050S", "Q30", "Q36")
    figures = pair.figures
    kilogram = (
        figures["filling.core1_elastane_share"] * 7.40
        + figures["filling.core2_bicomponent_polyester_share"] * 2.60
    )
    assert figures["filling.core_cost"] == pytest.approx(kilogram, rel=1e-12)
    per_metre = figures["filling.core_per_metre"]
    assert per_metre == pytest.approx(figures["filling.buy"] * kilogram / 1000, rel=1e-12)


def test_a_higher_draft_means_less_elastane_and_a_cheaper_core() -> None:
    pair = whole("DN-1200S", "Q25", "Q34")
    drafts = draft_effects(pair)
    assert [each.draft for each in drafts] == [2.9, 3.2, 3.5, 3.8, 4.1]
    assert [each.stated for each in drafts] == [False, False, True, False, False]
    shares = [each.elastane for each in drafts]
    assert shares == sorted(shares, reverse=True)
    stated, higher = drafts[2], drafts[3]
    assert is_printed_as(stated.elastane * 100, "3.76")
    assert is_printed_as(higher.elastane * 100, "3.47"), "the draft of Q35"
    assert stated.more == 0
    assert higher.more is not None
    assert higher.more < 0
    assert stated.per_metre == pair.figures["filling.core_per_metre"]


def test_without_a_price_of_elastane_there_is_a_share_and_no_cost() -> None:
    comparison = demo_comparison("DN-1200S")
    pair = comparison.find("Q25", "Q34")
    assert pair is not None
    values = {k: v for k, v in comparison.assumptions.values.items() if "core." not in k}
    bare = replace(comparison, assumptions=replace(comparison.assumptions, values=values))
    told = WholePair.of(bare, pair, effects_of(bare, pair))
    assert told.effects.unpriced == ("core.elastane_price",)
    assert "filling.core1_elastane_share" in told.figures
    assert "filling.core_per_metre" not in told.figures
    assert {each.per_metre for each in draft_effects(told)} == {None}
