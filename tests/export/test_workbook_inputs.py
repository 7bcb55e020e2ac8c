"""What is one cell of a workbook for all, and what stays apart though it looks alike."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from functools import cache

from server.core.pack import Cloth, FrozenInput, Pack
from server.export.workbook_inputs import InputRow, Inputs
from tests.builders import demo_comparison, demo_comparisons, pack_of
from tests.random_packs import own_spun_pack, random_pack
from tests.spreadsheet import workbook_of


@cache
def demo() -> Pack:
    return pack_of(*demo_comparisons())


def rows_named(pack: Pack) -> dict[str, InputRow]:
    return {row.name: row for row in Inputs(pack).rows}


def test_names_read_as_what_they_are() -> None:
    names = set(rows_named(demo()))
    assert {
        "exchange_rate_MXN", "Q09_quoted_price", "DN_1375_loom_ppi", "DN_1375_warp_waste",
        "fabric_loom_hour", "lane_Viet_Nam_inland", "duty_rate_Turkiye", "house_regain_cotton",
        "DN_1200S_warp_crimp", "DN_1375_warp_costing_ne_Q14",
    } <= names  # fmt: skip


def test_what_the_world_gives_is_one_cell_for_all() -> None:
    rows = rows_named(demo())
    everywhere = set(range(len(demo().cloths)))
    assert set(rows["fabric_loom_hour"].held) == everywhere
    assert set(rows["cost_of_money"].held) == everywhere
    assert len(rows["exchange_rate_MXN"].held) == 5
    assert "exchange_rate_MXN_2" not in rows
    assert Counter(name.partition("_2")[0] for name in rows)["fabric_loom_hour"] == 1


def test_a_quoted_price_is_one_cell_in_warp_and_filling_and_every_construction() -> None:
    row = rows_named(demo())["Q14_quoted_price"]
    codes = {demo().cloths[at].code for at in row.held}
    assert codes == {"DN-1375", "DN-1250"}
    pairs = {label for labels in row.held.values() for label in labels}
    assert {"Q14/Q14", "Q09/Q14", "Q14/Q20"} <= pairs


def test_figures_of_constructions_stay_apart_though_they_are_equal() -> None:
    rows = rows_named(demo())
    crimps = [row for name, row in rows.items() if name.endswith("_warp_crimp")]
    assert len(crimps) == len(demo().cloths)
    assert len({row.entry.value for row in crimps}) < len(crimps)
    assert all(len(row.held) == 1 for row in crimps)


def test_two_offers_that_say_the_same_have_two_cells() -> None:
    """Payment terms name no offer; they belong to the one whose place they stand in."""
    rows = rows_named(demo())
    days = [row for name, row in rows.items() if name.endswith("_days_after_shipment")]
    alike = Counter(row.entry for row in days)
    assert max(alike.values()) > 1
    assert len(days) == len({row.owner for row in days})


def test_a_variant_does_not_follow_the_picks_of_its_construction() -> None:
    whole = random_pack(3, 2)
    rows = rows_named(whole.pack)
    assert set(rows["R_001_loom_ppi"].held) == {0}
    assert set(rows["R_001_finer_loom_ppi_before"].held) == {2}
    assert rows["R_001_finer_loom_ppi_swap"].entry.value > rows["R_001_loom_ppi"].entry.value
    assert len(rows["R_001_finer_total_ends_before"].held[2]) > 1  # one cell where it is the same


def test_a_duty_row_chosen_for_two_reasons_is_one_rate() -> None:
    pack = demo()
    at = next(at for at, each in enumerate(pack.inputs) if each.label == "Duty, India")
    other = replace(pack.inputs[at], as_entered="10 % for rotor yarn; the only row for this yarn")
    last = pack.cloths[-1]
    pairs = tuple(
        replace(
            pair, inputs=tuple(len(pack.inputs) if each == at else each for each in pair.inputs)
        )
        for pair in last.pairs
    )
    both = replace(
        pack,
        inputs=(*pack.inputs, other),
        cloths=(*pack.cloths[:-1], replace(last, pairs=pairs)),
    )
    assert at in {each for pair in last.pairs for each in pair.inputs}
    rows = [row for row in Inputs(both).rows if row.name.startswith("duty_rate_India")]
    assert len(rows) == 1
    assert len(both.cloths) - 1 in rows[0].held


def test_a_price_from_a_scale_is_two_cells_where_two_quantities_ask() -> None:
    """As it is the same offer with two prices, each names the constructions it holds for."""
    pack = pack_of(demo_comparison("DN-1375"), demo_comparison("DN-1250"))
    places = [at for at, each in enumerate(pack.inputs) if each.where == "/offers/Q14"]
    at = next(at for at in places if pack.inputs[at].label == "Price as quoted")
    lower = replace(pack.inputs[at], value=1.9, as_entered="1.90 USD/kg")
    cloth = pack.cloths[1]
    pairs = tuple(
        replace(
            pair, inputs=tuple(len(pack.inputs) if each == at else each for each in pair.inputs)
        )
        for pair in cloth.pairs
    )
    both = replace(
        pack,
        inputs=(*pack.inputs, lower),
        cloths=(pack.cloths[0], replace(cloth, pairs=pairs)),
    )
    rows = rows_named(both)
    assert set(rows["Q14_quoted_price"].held) == {0}
    assert set(rows["Q14_quoted_price_2"].held) == {1}


def fixed_only(pack: Pack, cloth: Cloth, *, alike: bool) -> Pack:
    """A pack of one cloth whose every pair has the cost as a fixed figure and nothing else."""
    entry = FrozenInput(2.5, "Cost of a finished metre", "¤/m", "", None, "", "")
    inputs = tuple(replace(entry, value=2.5 if alike else 2.5 + at % 2) for at in range(4))
    pairs = tuple(
        replace(pair, sheet=0, inputs=(at,), figures=()) for at, pair in enumerate(cloth.pairs[:4])
    )
    sheet = replace(pack.sheets[0], lines=(), inputs=("fabric_cost",))
    return replace(
        pack,
        cloths=(replace(cloth, pairs=pairs, cells=()),),
        sheets=(sheet,),
        inputs=(inputs[0], inputs[0], inputs[0], inputs[0]) if alike else inputs,
    )


def test_a_fixed_figure_is_of_each_pair_unless_all_have_it() -> None:
    """Two pairs of one cost by chance stay apart; what no pair differs in is of the cloth."""
    pack = demo()
    apart = Inputs(fixed_only(pack, pack.cloths[0], alike=False)).rows
    assert [row.entry.value for row in apart] == [2.5, 3.5, 2.5, 3.5]
    assert len({row.name for row in apart}) == 4
    together = Inputs(fixed_only(pack, pack.cloths[0], alike=True)).rows
    assert len(together) in (1, 4)


def test_own_yarn_shares_its_assumptions() -> None:
    pack = own_spun_pack().pack
    rows = rows_named(pack)
    assert set(rows["ring_preparation"].held) == {0, 1}
    assert workbook_of(pack)
