"""The comparison: candidates, matrix, ranking, what is left out and why."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from typing import Any

import numpy as np
import pytest

from server.core import grid
from server.core.candidates import fits
from server.core.compare import Comparison, compare
from server.core.errors import Missing
from server.core.gate import Limit
from server.core.grid import FIGURES, best_of_blocks, evaluate_grid
from server.core.offer import Core, Offer, PriceBreak
from server.core.pair import fabric_inputs, fabric_sheet
from tests.builders import (
    assumption_set,
    basis,
    construction,
    demo_book,
    demo_comparison,
    offer,
    rate_book,
    slot,
    supplier,
    yarn,
)

TENACITY = (
    Limit(1, "warp, rope-dyed", "tenacity", 12.5, "cN/tex", "trial"),
    Limit(2, "filling", "tenacity", 11.0, "cN/tex", "trial"),
)


def ring(code: str, price: str, **changes: Any) -> Offer:
    return offer(code=code, price=Decimal(price), **changes)


def rotor(code: str, price: str, **changes: Any) -> Offer:
    spun = yarn(spinning="OE")
    return offer(**{"code": code, "price": Decimal(price), "yarn": spun} | changes)


def compared(offers: Iterable[Offer], **changes: Any) -> Comparison:
    return compare(
        changes.get("construction", construction()),
        changes.get("basis", basis()),
        changes.get("assumptions", assumption_set()),
        changes.get("rates", rate_book()),
        offers,
        changes.get("limits", ()),
    )


MIXED = (ring("R1", "2.60"), ring("R2", "2.50"), rotor("O1", "2.10"), rotor("O2", "2.05"))


def test_every_offer_near_the_count_is_a_candidate_both_ways() -> None:
    comparison = compared(MIXED)
    assert comparison.pair_count == comparison.possible_count == 16
    assert [each.offer.code for each in comparison.warp.candidates] == ["R1", "R2", "O1", "O2"]
    assert comparison.leader is not None
    assert comparison.leader.key == "O2/O2"
    assert comparison.runner_up is not None
    assert comparison.runner_up.key in ("O2/O1", "O1/O2")


def test_the_matrix_shows_the_best_possible_pair_of_each_combination() -> None:
    comparison = compared(MIXED)
    cells = {cell.combination: cell for row in comparison.cells for cell in row}
    assert {name: cell.best.key for name, cell in cells.items() if cell.best} == {
        "ring/ring": "R2/R2",
        "ring/OE": "R2/O2",
        "OE/ring": "O2/R2",
        "OE/OE": "O2/O2",
    }
    assert all((cell.pairs, cell.possible, cell.reason) == (4, 4, "") for cell in cells.values())
    costs = [pair.figures["fabric_cost"] for pair in comparison.ladder]
    assert costs == sorted(costs)
    assert comparison.ladder[0].key == "O2/O2"


def test_ring_and_rotor_are_shown_even_when_nobody_offers_them() -> None:
    comparison = compared([ring("R1", "2.60")])
    cells = {cell.combination: cell for row in comparison.cells for cell in row}
    assert set(cells) == {"OE/OE", "OE/ring", "ring/OE", "ring/ring"}
    assert cells["OE/ring"].best is None
    assert cells["OE/ring"].reason == "no OE offer near Ne 7 for the warp"
    assert cells["ring/OE"].reason == "no OE offer near Ne 7 for the filling"


def test_impossible_and_unproven_offers_are_never_ranked_first() -> None:
    dead = rotor("DEAD", "1.00", valid_until=date(2026, 3, 1))
    open_file = rotor("OPEN", "1.10", supplier=supplier(origin_state="partly documented"))
    comparison = compared([*MIXED, dead, open_file])
    assert comparison.leader is not None
    assert comparison.leader.key == "O2/O2"
    assert (comparison.pair_count, comparison.possible_count) == (36, 16)
    states = [pair.state for pair in comparison.pairs()]
    assert states[:16] == ["possible"] * 16
    assert "possible" not in states[16:]
    costs = [pair.figures["fabric_cost"] for pair in comparison.pairs()]
    assert costs[:16] == sorted(costs[:16])
    assert costs[16:] == sorted(costs[16:])
    pair = comparison.find("DEAD", "OPEN")
    assert pair is not None
    assert pair.state == "impossible"
    assert (
        pair.reasons[0] == "DEAD as warp: expired on 2026-03-01, before the meeting on 2026-03-12"
    )
    assert pair.reasons[1].startswith("OPEN as filling: cotton-origin file partly documented")


def test_what_is_left_out_says_what_it_would_have_saved() -> None:
    dead = rotor("DEAD", "1.00", valid_until=date(2026, 3, 1))
    dear = ring("DEAR", "9.00", valid_until=date(2026, 3, 1))
    comparison = compared([*MIXED, dead, dear])
    assert comparison.leader is not None
    found = {
        (each.candidate.offer.code, each.candidate.slot.name): each for each in comparison.excluded
    }
    assert set(found) == {(c, d) for c in ("DEAD", "DEAR") for d in ("warp", "filling")}
    as_warp = found["DEAD", "warp"]
    assert as_warp.pair is not None
    assert as_warp.pair.key == "DEAD/O2"
    assert as_warp.saving == pytest.approx(
        comparison.leader.figures["fabric_cost"] - as_warp.pair.figures["fabric_cost"]
    )
    assert (as_warp.saving or 0) > 0
    assert (found["DEAR", "warp"].saving or 0) < 0
    savings = [each.saving or 0 for each in comparison.excluded]
    assert savings == sorted(savings, reverse=True)


def test_without_any_possible_partner_there_is_no_saving_and_no_leader() -> None:
    comparison = compared([rotor("DEAD", "1.00", valid_until=date(2026, 3, 1))])
    assert comparison.leader is None
    assert comparison.runner_up is None
    assert comparison.ladder == ()
    assert [(each.pair, each.saving) for each in comparison.excluded] == [(None, None)] * 2
    cell = next(c for row in comparison.cells for c in row if c.combination == "OE/OE")
    assert cell.reason.startswith("warp DEAD impossible: expired on 2026-03-01")


def test_a_reason_counts_the_others_that_cannot_stand_either() -> None:
    dead = [rotor(f"D{n}", "1.00", valid_until=date(2026, 3, 1)) for n in range(3)]
    comparison = compared([*dead, ring("R1", "2.60")])
    cell = next(c for row in comparison.cells for c in row if c.combination == "OE/ring")
    assert cell.reason.endswith("(and 2 more)")


def test_no_candidates_at_all_is_an_empty_comparison() -> None:
    comparison = compared([])
    assert (comparison.pair_count, comparison.possible_count) == (0, 0)
    assert list(comparison.pairs()) == []
    assert comparison.foremost == ()
    assert comparison.find("R1", "R1") is None


@pytest.mark.parametrize(
    ("changes", "fitting"),
    [
        ({"count": Decimal("7.35")}, True),
        ({"count": Decimal("7.34")}, True),
        ({"count": Decimal("7.36")}, False),
        ({"count": Decimal("6.65")}, True),
        ({"count": Decimal("6.64")}, False),
        ({"core": "elastane"}, False),
        ({"count": Decimal("7.5"), "count_basis": "base", "slub_added_mass": 0.07}, True),
        ({"count": Decimal("7.5"), "count_basis": "base"}, False),
    ],
)
def test_an_offer_fits_near_the_count_with_the_wanted_core(
    changes: dict[str, Any], fitting: bool
) -> None:
    assert fits(offer(yarn=yarn(**changes)), slot(ne=7.0)) is fitting


def test_a_pinned_offer_is_the_only_one_that_fits() -> None:
    pinned = slot(ne=7.0, pinned_offer="T07")
    assert fits(offer(code="T07", yarn=yarn(count=Decimal(20))), pinned)
    assert not fits(offer(code="T08"), pinned)


def test_an_offer_that_cannot_be_priced_is_named_with_what_is_missing() -> None:
    silent = ring("SILENT", "2.00", quoted_regain=None)
    comparison = compared([*MIXED, silent])
    assert [each.offer.code for each in comparison.unpriced] == ["SILENT", "SILENT"]
    assert "The weight basis is not said" in comparison.unpriced[0].reason
    assert comparison.pair_count == 16


def test_an_unclear_price_break_keeps_an_offer_unproven() -> None:
    unclear = rotor(
        "UNCLEAR",
        "1.00",
        breaks=(PriceBreak(Decimal(40), Decimal("0.90")),),
        break_kind="unknown",
    )
    comparison = compared([*MIXED, unclear])
    found = next(c for c in comparison.warp.candidates if c.offer.code == "UNCLEAR")
    assert found.standing.state == "unproven"
    assert "all units or only for the excess" in found.standing.reasons[0]


def test_the_quantity_compared_reaches_price_breaks() -> None:
    broken = rotor("BREAK", "2.20", breaks=(PriceBreak(Decimal(60), Decimal("1.90")),))
    first, season = (
        compared([*MIXED, broken], basis=basis(quantity=quantity)).warp.candidates[-1].price
        for quantity in ("first price", "season")
    )
    assert first - season > 0.30
    few = compared([*MIXED, broken], basis=basis(quantity="metres", metres=1000.0))
    assert few.warp.candidates[-1].price == first


def test_two_costs_within_one_per_cent_are_a_near_tie() -> None:
    comparison = compared([rotor("A", "2.000"), rotor("B", "2.010"), rotor("C", "2.200")])
    pairs = {pair.key: pair for pair in comparison.pairs()}
    assert comparison.is_near_tie(pairs["A/A"], pairs["B/A"])
    assert not comparison.is_near_tie(pairs["A/A"], pairs["C/C"])


def test_the_runner_up_of_a_cell_is_its_second_cheapest_pair() -> None:
    comparison = compared(MIXED)
    for row in comparison.cells:
        for cell in row:
            inside = sorted(
                (pair for pair in comparison.pairs() if pair.combination == cell.combination),
                key=lambda pair: pair.figures["fabric_cost"],
            )
            second = comparison.runner_up_in(cell)
            assert second is not None
            assert second.figures["fabric_cost"] == inside[1].figures["fabric_cost"]
    alone = compared([ring("R1", "2.60")])
    cell = next(c for row in alone.cells for c in row if c.best)
    assert alone.runner_up_in(cell) is None


def test_a_second_yarn_takes_its_own_best_possible_offer() -> None:
    stretch = yarn(count=Decimal(14), core="elastane", count_basis="total", cores=(Core(70, 3.5),))
    cloth = construction(
        slots=(
            slot("warp"),
            slot("filling", share_of_threads=0.5),
            slot("filling", position=2, ne=14.0, share_of_threads=0.5, core="elastane"),
        )
    )
    stretches = [
        offer(code="S1", price=Decimal("3.00"), yarn=stretch, valid_until=date(2026, 3, 1)),
        offer(code="S2", price=Decimal("3.50"), yarn=stretch),
        offer(code="S3", price=Decimal("3.40"), yarn=stretch),
    ]
    comparison = compared([*MIXED, *stretches], construction=cloth)
    assert [each.offer.code for each in comparison.filling.companions] == ["S3"]
    assert comparison.leader is not None
    assert [each.offer.code for each in comparison.leader.members] == ["O2", "O2", "S3"]
    only_dead = compared([*MIXED, stretches[0]], construction=cloth)
    assert only_dead.possible_count == 0
    assert only_dead.leader is None
    with pytest.raises(Missing, match="No offer fits the filling2 of T-1375"):
        compared(MIXED, construction=cloth)


def test_a_construction_without_a_yarn_is_refused() -> None:
    with pytest.raises(Missing, match="has no filling yarn"):
        compared(MIXED, construction=construction(slots=(slot("warp"),)))


def test_the_gate_limits_reach_the_candidates() -> None:
    weak = rotor("WEAK", "1.50", tests={"tenacity": 11.5})
    comparison = compared([*MIXED, weak], limits=TENACITY)
    assert comparison.leader is not None
    assert comparison.leader.key == "O2/WEAK"


@pytest.mark.parametrize(
    "code",
    ["DN-1450", "DN-1375", "DN-1250", "DN-1200S", "DN-1100A", "DN-1050S", "DN-0975", "DN-0800S"],
)
def test_the_grid_has_the_bits_of_every_pair_worked_out_alone(code: str) -> None:
    comparison = demo_comparison(code)
    assert comparison.pair_count > 0
    for row in range(len(comparison.warp.candidates)):
        for column in range(len(comparison.filling.candidates)):
            pair = comparison.pair(row, column)
            sheet, inputs = comparison.sheet_of(pair)
            alone = sheet.evaluate({name: float(e.value) for name, e in inputs.items()})
            for figure in (*FIGURES, "fabric_per_kg", "yarn_per_area"):
                assert pair.figures[figure] == float(alone[figure]), f"{pair.key} {figure}"


def test_the_grid_is_the_same_in_pieces_of_any_size(monkeypatch: pytest.MonkeyPatch) -> None:
    cloth = construction()
    sheet = fabric_sheet(cloth)
    inputs = {n: float(e.value) for n, e in fabric_inputs(cloth, assumption_set()).items()}
    random = np.random.default_rng(7)
    warp, filling = (
        {
            f"{direction}.same_basis_price": random.uniform(1.5, 5.0, size),
            f"{direction}.costing_ne": random.uniform(6.6, 7.4, size),
        }
        for direction, size in (("warp", 37), ("filling", 23))
    )
    whole = evaluate_grid(sheet, inputs, warp, filling)
    for pairs in (1, 50, 23 * 8, 10_000):
        monkeypatch.setattr(grid, "CHUNK_PAIRS", pairs)
        pieces = evaluate_grid(sheet, inputs, warp, filling)
        for figure in FIGURES:
            assert np.array_equal(whole.of(figure), pieces.of(figure))


def test_the_best_of_blocks_is_the_smallest_of_each_block() -> None:
    random = np.random.default_rng(11)
    cost = random.uniform(1, 2, (30, 40))
    rows = {"ring": np.arange(0, 30, 2), "OE": np.arange(1, 30, 2), "none": np.arange(0)}
    columns = {"ring": np.arange(0, 10), "OE": np.arange(10, 40)}
    best = best_of_blocks(cost, rows, columns)
    assert set(best) == {(r, c) for r in ("ring", "OE") for c in ("ring", "OE")}
    for (r, c), place in best.items():
        assert place[0] in rows[r]
        assert place[1] in columns[c]
        assert cost[place] == min(cost[i, j] for i in rows[r] for j in columns[c])


def test_the_same_comparison_in_another_currency_ranks_the_same() -> None:
    book = demo_book()
    on = book.basis()
    dollars = demo_comparison("DN-1375")
    pesos = compare(
        book.construction("DN-1375"),
        basis(
            currency="MXN",
            rates_on=on.rates_on,
            meeting=on.meeting,
            need_by=on.need_by,
            house_regain=on.house_regain,
        ),
        book.assumption_set(on.assumption_set),
        book.rates,
        book.current_offers,
        book.limits,
    )
    assert [pair.key for pair in pesos.ladder] == [pair.key for pair in dollars.ladder]
    for there, here in zip(pesos.ladder, dollars.ladder, strict=True):
        assert there.figures["fabric_cost"] == pytest.approx(
            here.figures["fabric_cost"] * 17.2, rel=1e-12
        )
        assert there.figures["ounces"] == here.figures["ounces"]


def tied(count: int) -> Comparison:
    """Offers that all cost the same, rotor and ring by turns."""
    return compared([(rotor, ring)[place % 2](f"T{place:02d}", "2.50") for place in range(count)])


def test_the_first_of_a_ranking_are_the_beginning_of_the_whole_also_when_costs_tie() -> None:
    comparison = tied(20)
    whole = comparison.ranked()
    assert whole == sorted(whole)
    assert [k for k in range(len(whole)) if comparison.ranked(k) != whole[:k]] == []


def test_the_leader_is_the_first_of_the_ranking_also_when_costs_tie() -> None:
    comparison = tied(12)
    assert comparison.leader is not None
    assert comparison.leader.key == next(comparison.pairs()).key


def test_the_runner_up_of_a_cell_is_another_pair_than_its_best_also_when_costs_tie() -> None:
    prices = ["2.73", "2.00", "2.38", "2.66", "2.39", "2.00", "2.13", "2.80", "2.54", "2.77"]
    comparison = compared([rotor(f"T{place}", price) for place, price in enumerate(prices)])
    cell = next(cell for row in comparison.cells for cell in row if cell.best)
    second = comparison.runner_up_in(cell)
    assert cell.best is not None
    assert second is not None
    assert second.figures["fabric_cost"] == cell.best.figures["fabric_cost"]
    assert second.key != cell.best.key


@pytest.mark.parametrize("limit", [0, 1, 2, 7, 15, 16, 17, 10_000])
def test_the_first_of_a_ranking_are_the_beginning_of_the_whole(limit: int) -> None:
    dead = [rotor(f"D{n}", f"1.{n}5", valid_until=date(2026, 3, 1)) for n in range(3)]
    comparison = compared([*MIXED, *dead])
    assert comparison.ranked(limit) == comparison.ranked()[:limit]
    assert [pair.key for pair in comparison.pairs(limit)] == [
        pair.key for pair in list(comparison.pairs())[:limit]
    ]


def test_a_pair_names_its_combination_and_its_process() -> None:
    comparison = demo_comparison("DN-1200S")
    pair = comparison.find("Q26", "Q35")
    assert pair is not None
    assert pair.combination == "OE/ring"
    assert pair.process == "OE slub/ring core-spun"


def test_a_candidate_that_would_save_nothing_stands_before_those_that_cost_more() -> None:
    same = rotor("SAME", "2.05", supplier=supplier(origin_state="partly documented"))
    dear = rotor("DEAR", "4.00", supplier=supplier(origin_state="partly documented"))
    comparison = compared([*MIXED, dear, same])
    assert [each.saving for each in comparison.excluded if each.candidate.offer.code == "SAME"] == [
        0.0,
        0.0,
    ]
    assert [each.candidate.offer.code for each in comparison.excluded][:2] == ["SAME", "SAME"]
