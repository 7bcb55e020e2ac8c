"""A construction made of the house's own yarn: what a metre costs for each pair of routes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from server.core.assumptions import AssumptionSet
from server.core.construction import DIRECTIONS, Basis, Construction
from server.core.cost_map import can_be_own
from server.core.costing import Costing, own_spun
from server.core.errors import CreelbookError
from server.core.quantities import Number
from server.core.should_cost import ROUTES


@dataclass(frozen=True)
class OwnCosts:
    """Cost of a metre for each pair of routes.

    costs: `ring/OE`, warp first -> cost [¤/m]; missing: why there is none
    """

    costs: Mapping[str, float]
    missing: str = ""

    @property
    def cheapest(self) -> tuple[str, float] | None:
        """The cheapest combination with its cost."""
        return min(self.costs.items(), key=lambda each: each[1], default=None)


def own_costs(construction: Construction, basis: Basis, assumptions: AssumptionSet) -> OwnCosts:
    """Every pair of routes the house can spin for a construction, at should-cost.

    assumptions: in the reporting currency
    Only plain cotton yarn is modelled: a construction that wants a core or another fibre mix has
    none. Yarns of one direction are spun by one route.
    """
    for slot in construction.slots:
        if slot.core != "none" or slot.fibre_mix not in ("any", "cotton"):
            what = slot.core if slot.core != "none" else slot.fibre_mix
            return OwnCosts({}, f"own spinning of {what} yarn is not modelled")
    spun: dict[str, dict[str, list[float]]] = {}
    missing = ""
    for direction in DIRECTIONS:
        slots = construction.slots_of(direction)
        spun[direction] = {}
        for route in ROUTES:
            if not all(can_be_own(slot, route) for slot in slots):
                continue
            try:
                prices = [own_spun(slot, route, assumptions).price for slot in slots]
            except CreelbookError as absent:
                missing = missing or str(absent)
                continue
            spun[direction][route] = prices
    warp, filling = (spun[direction] for direction in DIRECTIONS)
    if not warp or not filling:
        return OwnCosts({}, missing or "no route spins what is wanted")
    costs = _evaluated(construction, basis, assumptions, warp, filling)
    return OwnCosts(
        {
            f"{first}/{second}": float(costs[row, column])
            for row, first in enumerate(warp)
            for column, second in enumerate(filling)
        }
    )


def _evaluated(
    construction: Construction,
    basis: Basis,
    assumptions: AssumptionSet,
    warp: Mapping[str, list[float]],
    filling: Mapping[str, list[float]],
) -> Number:
    """Cost of a metre, routes of the warp down and of the filling across, in one evaluation."""
    firsts = {"warp": next(iter(warp)), "filling": next(iter(filling))}
    yarns = tuple(
        own_spun(slot, firsts[slot.direction], assumptions) for slot in construction.slots
    )
    costing = Costing(construction, basis, assumptions, yarns)
    values = {name: entry.value for name, entry in costing.fabric_values.items()}
    for direction, spun in (("warp", warp), ("filling", filling)):
        shape = (-1, 1) if direction == "warp" else (1, -1)
        for place, slot in enumerate(construction.slots_of(direction)):
            prices = np.array([each[place] for each in spun.values()])
            values[f"{slot.name}.same_basis_price"] = prices.reshape(shape)
    cost = costing.fabric.evaluate(values, ("fabric_cost",))["fabric_cost"]
    return np.broadcast_to(cost, (len(warp), len(filling)))
