"""Speed of the comparison as ratios inside one run: a million pairs on arrays, and one by one.

One construction, a thousand warp offers and a thousand filling offers. Measured is what the
comparison does with them: cost and weight of every pair, the gate's mask, the best of every
spinning combination. Beside it the same sheet's formulas run in a plain Python loop.

    python -m pytest tests/benchmarks/engine_speed.py -s
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from server.core.compare import compare
from server.core.construction import Construction
from server.core.grid import FIGURES, Grid, best_of_blocks, evaluate_grid
from server.core.offer import Offer
from server.core.pair import fabric_inputs, fabric_sheet
from server.core.sheet import Sheet
from tests.builders import assumption_set, basis, construction, offer, rate_book, slot, yarn

LEAST_PAIRS_PER_SECOND = 20e6
LEAST_RATIO = 300.0
MOST_GROWTH = 1.5  # the clock of a shared machine is no better than that
OFFERS, REPEATS, SAMPLE = 1000, 9, 4000
SIZES = (250, 500, OFFERS)
SYSTEMS = ("ring", "compact ring", "OE", "air-jet")
Floats = NDArray[np.float64]
Groups = dict[str, NDArray[np.intp]]


@dataclass(frozen=True)
class Field:
    """What a comparison holds before it evaluates its pairs."""

    sheet: Sheet
    inputs: Mapping[str, float]
    warp: Mapping[str, Floats]
    filling: Mapping[str, Floats]
    usable_warp: NDArray[np.bool_]
    usable_filling: NDArray[np.bool_]
    systems_warp: NDArray[Any]
    systems_filling: NDArray[Any]


def field_of(size: int) -> Field:
    """Random but possible offers for one construction, about a tenth of them kept out."""
    random = np.random.default_rng(20260302)
    cloth = construction(garment_metres=1.3, garment_width_in=59.0)
    sides = {
        direction: {
            f"{direction}.same_basis_price": random.uniform(1.6, 4.2, size),
            f"{direction}.costing_ne": random.uniform(6.65, 7.35, size),
        }
        for direction in ("warp", "filling")
    }
    return Field(
        fabric_sheet(cloth),
        {n: float(e.value) for n, e in fabric_inputs(cloth, assumption_set()).items()},
        sides["warp"],
        sides["filling"],
        random.random(size) > 0.1,
        random.random(size) > 0.1,
        random.choice(SYSTEMS, size),
        random.choice(SYSTEMS, size),
    )


def groups_of(usable: NDArray[np.bool_], systems: NDArray[Any]) -> Groups:
    """The gate's mask as rows or columns of every spinning system."""
    return {system: np.flatnonzero(usable & (systems == system)) for system in SYSTEMS}


def whole_matrix(field: Field) -> tuple[Grid, dict[tuple[str, str], tuple[int, int]]]:
    """Every pair, the mask, and the best of every combination."""
    grid = evaluate_grid(field.sheet, field.inputs, field.warp, field.filling)
    best = best_of_blocks(
        grid.fabric_cost,
        groups_of(field.usable_warp, field.systems_warp),
        groups_of(field.usable_filling, field.systems_filling),
    )
    return grid, best


def one_by_one(field: Field, pairs: list[tuple[int, int]]) -> list[dict[str, float]]:
    """The same formulas of the same sheet, a plain Python loop over pairs."""
    plan = field.sheet.plan(FIGURES)
    sides = [
        {name: values.tolist() for name, values in side.items()}
        for side in (field.warp, field.filling)
    ]
    found = []
    for row, column in pairs:
        figures: dict[str, Any] = dict(field.inputs)
        for name, values in sides[0].items():
            figures[name] = values[row]
        for name, values in sides[1].items():
            figures[name] = values[column]
        for key, formula, sources in plan:
            figures[key] = formula(**{argument: figures[source] for argument, source in sources})
        found.append({figure: figures[figure] for figure in FIGURES})
    return found


def best_time(work: Callable[[], object], repeats: int = REPEATS) -> float:
    """Shortest of several runs, the first one thrown away."""
    work()
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def sample_pairs(size: int) -> list[tuple[int, int]]:
    """Some thousand pairs all over the matrix."""
    random = np.random.default_rng(1)
    return [(int(r), int(c)) for r, c in random.integers(0, size, (SAMPLE, 2))]


@cache
def times_per_pair(sizes: tuple[int, ...]) -> dict[int, float]:
    """Seconds for one pair at each number of offers; by turns, so that all share the noise."""
    fields = {size: field_of(size) for size in sizes}
    times = dict.fromkeys(sizes, float("inf"))
    for _ in range(4 * REPEATS):
        for size, field in fields.items():
            start = time.perf_counter()
            whole_matrix(field)
            times[size] = min(times[size], (time.perf_counter() - start) / size**2)
    return times


def offers(count: int) -> tuple[Construction, list[Offer]]:
    """Offers that fit the warp, and as many others that fit the filling."""
    random = np.random.default_rng(3)
    made = []
    for place in range(2 * count):
        centre = 7.0 if place < count else 10.0
        made.append(
            offer(
                id=place,
                code=f"B{place:04d}",
                price=Decimal(f"{random.uniform(1.8, 4.0):.3f}"),
                lead_days=int(random.integers(10, 50)),
                yarn=yarn(
                    count=Decimal(f"{centre * random.uniform(0.96, 1.04):.3f}"),
                    spinning=str(random.choice(SYSTEMS)),
                ),
            )
        )
    return construction(slots=(slot("warp", ne=7.0), slot("filling", ne=10.0))), made


def test_a_million_pairs_are_fast_and_have_the_bits_of_the_loop() -> None:
    field = field_of(OFFERS)
    together = best_time(lambda: whole_matrix(field))
    pairs = sample_pairs(OFFERS)
    loop = best_time(lambda: one_by_one(field, pairs), repeats=5) / SAMPLE
    rate, ratio = OFFERS**2 / together, loop * OFFERS**2 / together
    print(
        f"\n{OFFERS**2:,} pairs with mask and best of {len(SYSTEMS) ** 2} combinations: "
        f"{together * 1e3:.1f} ms, {rate / 1e6:.1f} million pairs/s"
        f"\nplain Python loop, same formulas: {loop * 1e6:.2f} µs a pair, "
        f"{loop * OFFERS**2:.1f} s for all; ratio {ratio:.0f}"
    )
    grid, best = whole_matrix(field)
    for (row, column), alone in zip(pairs, one_by_one(field, pairs), strict=True):
        assert all(float(grid.of(figure)[row, column]) == alone[figure] for figure in FIGURES)
    assert len(best) == len(SYSTEMS) ** 2
    assert rate >= LEAST_PAIRS_PER_SECOND
    assert ratio >= LEAST_RATIO


def test_the_time_for_a_pair_does_not_grow_with_the_offers() -> None:
    times = times_per_pair(SIZES)
    print("\n" + ", ".join(f"{size}²: {each * 1e9:.1f} ns a pair" for size, each in times.items()))
    assert times[OFFERS] <= MOST_GROWTH * min(times.values())


def test_a_comparison_from_offers_is_timed() -> None:
    cloth, listed = offers(OFFERS)
    on, assumed, rates = basis(), assumption_set(), rate_book()

    def whole() -> Any:
        comparison = compare(cloth, on, assumed, rates, listed, ())
        return comparison, comparison.leader, comparison.ladder

    comparison, leader, ladder = whole()
    assert comparison.pair_count == OFFERS**2
    assert leader is not None
    assert len(ladder) == len(SYSTEMS) ** 2
    seconds = best_time(whole, repeats=3)
    matrix = times_per_pair(SIZES)[OFFERS] * OFFERS**2
    print(
        f"\ncompare() of {OFFERS} warp and {OFFERS} filling offers with leader and ladder: "
        f"{seconds * 1e3:.0f} ms, of which the matrix {matrix * 1e3:.0f} ms"
    )


def main() -> None:
    """Print every figure."""
    for check in (
        test_a_million_pairs_are_fast_and_have_the_bits_of_the_loop,
        test_the_time_for_a_pair_does_not_grow_with_the_offers,
        test_a_comparison_from_offers_is_timed,
    ):
        check()


if __name__ == "__main__":
    main()
