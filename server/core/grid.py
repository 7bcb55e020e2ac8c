"""Cost and weight of every pair of candidates, as arrays, in pieces that fit the cache."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from server.core.sheet import Sheet

CHUNK_PAIRS = 32_768  # pairs evaluated at a time, so that the arrays stay in the cache
FIGURES = (
    "fabric_cost",
    "yarn_cost",
    "ounces",
    "mass_per_area",
)  # of every pair; the rest on demand
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Grid:
    """Cost and weight of every pair as arrays: warp candidates down, filling candidates across."""

    fabric_cost: Floats
    yarn_cost: Floats
    ounces: Floats
    mass_per_area: Floats

    def of(self, figure: str) -> Floats:
        """One of FIGURES."""
        return {
            "mass_per_area": self.mass_per_area,
            "fabric_cost": self.fabric_cost,
            "yarn_cost": self.yarn_cost,
            "ounces": self.ounces,
        }[figure]


def evaluate_grid(
    sheet: Sheet,
    inputs: Mapping[str, float],
    warp: Mapping[str, Floats],
    filling: Mapping[str, Floats],
) -> Grid:
    """Evaluate the fabric sheet for every warp candidate with every filling candidate.

    warp, filling: arrays for the sheet's inputs; candidates of a direction have equal lengths, a
        single value serves all
    """
    across = {name: values[np.newaxis, :] for name, values in filling.items()}
    down_count = max(len(values) for values in warp.values())
    across_count = max(len(values) for values in filling.values())
    results = {figure: np.empty((down_count, across_count)) for figure in FIGURES}
    step = max(1, CHUNK_PAIRS // max(1, across_count))
    for start in range(0, down_count, step):
        rows = slice(start, start + step)
        down = {
            name: (values if len(values) == 1 else values[rows])[:, np.newaxis]
            for name, values in warp.items()
        }
        figures = sheet.evaluate({**inputs, **down, **across}, FIGURES)
        for figure in FIGURES:
            results[figure][rows] = figures[figure]
    return Grid(**results)


def best_of_blocks(
    cost: Floats,
    warp_groups: Mapping[str, NDArray[np.intp]],
    filling_groups: Mapping[str, NDArray[np.intp]],
) -> dict[tuple[str, str], tuple[int, int]]:
    """The cheapest pair of every combination of groups; groups hold the usable rows and columns."""
    best = {}
    for warp_name, rows in warp_groups.items():
        for filling_name, columns in filling_groups.items():
            if len(rows) and len(columns):
                block = cost[np.ix_(rows, columns)]
                row, column = divmod(int(block.argmin()), len(columns))
                best[warp_name, filling_name] = (int(rows[row]), int(columns[column]))
    return best
