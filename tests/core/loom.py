"""Cloths whose loom efficiency comes from stops, and the same model worked out in other ways."""

from __future__ import annotations

import heapq
import random
from collections.abc import Callable, Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Any

import numpy as np

from server.core.assumptions import AssumptionSet
from server.core.compare import Comparison, compare
from server.core.construction import Construction
from server.core.loom_behaviour import FROM_STOPS
from server.core.offer import Offer
from tests.builders import (
    assumption_set,
    basis,
    construction,
    demo_book,
    offer,
    rate_book,
    slot,
    supplier,
    yarn,
)

STOPS = {
    "fabric__warp_stops__ring": 2.4,
    "fabric__warp_stops__OE": 2.9,
    "fabric__warp_stops__air_jet": 2.6,
    "fabric__filling_stops__ring": 1.6,
    "fabric__filling_stops__OE": 1.7,
    "fabric__filling_stops__air_jet": 1.6,
    "fabric__other_stops": 0.4,
    "fabric__warp_repair": 2.87,
    "fabric__filling_repair": 1.2,
    "fabric__other_repair": 3.0,
    "fabric__looms_per_weaver": 8.0,
    "fabric__planned_stops": 0.02,
}


def known(**changes: float) -> AssumptionSet:
    """A set that holds everything the rule takes."""
    return assumption_set(**STOPS | changes)


def filling(code: str, price: str, **changes: Any) -> Offer:
    """An OE filling yarn of Ne 7 at home."""
    tests = {"tenacity": 12.5, "evenness": 12.5, "average_ne": 7.0} | changes.pop("tests", {})
    return offer(
        code=code,
        price=Decimal(price),
        yarn=yarn(spinning="OE"),
        supplier=supplier(country="Homeland"),
        term="DAP",
        tests=tests,
        **changes,
    )


def compared(
    offers: tuple[Offer, ...],
    rule: str = FROM_STOPS,
    cloth: Construction | None = None,
    assumptions: AssumptionSet | None = None,
) -> Comparison:
    wanted = cloth or construction(
        slots=(slot("warp", spinning="ring"), slot("filling", spinning="OE"))
    )
    on = basis(loom_rule=rule)
    return compare(wanted, on, assumptions or known(), rate_book(), offers, ())


def figures(comparison: Comparison, warp: str, weft: str) -> Mapping[str, float]:
    pair = comparison.find(warp, weft)
    assert pair is not None
    sheet, inputs = comparison.sheet_of(pair)
    values = {name: float(entry.value) for name, entry in inputs.items()}
    return {key: float(value) for key, value in sheet.evaluate(values).items()}


def chain(machines: int, factor: float) -> tuple[float, float, float]:
    """Running share, load and waiting share from the balance of the birth-and-death chain.

    States are the machines that stand; each running one stops at rate `factor`, one is repaired at
    rate 1. The stationary distribution is the null vector of the generator, solved outright.
    """
    generator = np.zeros((machines + 1, machines + 1))
    for standing in range(machines + 1):
        if standing < machines:
            generator[standing, standing + 1] = (machines - standing) * factor
        if standing > 0:
            generator[standing, standing - 1] = 1.0
        generator[standing, standing] = -generator[standing].sum()
    equations = np.vstack([generator.T, np.ones(machines + 1)])
    wanted = np.append(np.zeros(machines + 1), 1.0)
    share = np.linalg.lstsq(equations, wanted, rcond=None)[0]
    states = np.arange(machines + 1)
    waiting = float(np.maximum(states - 1, 0) @ share) / machines
    return float((machines - states) @ share) / machines, float(1 - share[0]), waiting


def simulated(
    machines: int, factor: float, repair: Callable[[random.Random], float], hours: float
) -> float:
    """Running share of machines that stop at random, repaired one after the other as they come."""
    chance, free, ran = random.Random(1947), 0.0, 0.0
    stops = [chance.expovariate(factor) for _ in range(machines)]
    ran += sum(stops)
    heapq.heapify(stops)
    while stops[0] < hours:
        stop = heapq.heappop(stops)
        free = max(free, stop) + repair(chance)
        runs = chance.expovariate(factor)
        ran += runs
        heapq.heappush(stops, free + runs)
    return ran / sum(stops)


def demo(code: str, rule: str) -> Comparison:
    book = demo_book()
    on = replace(book.basis(), loom_rule=rule)
    return compare(
        book.construction(code),
        on,
        book.assumption_set(on.assumption_set),
        book.rates,
        book.current_offers,
        book.limits,
    )
