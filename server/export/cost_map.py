"""A map of the cheapest option as a table and as data: the same figures for page, CSV and JSON."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from server.core.construction import Basis
from server.core.cost_map import CostMap, Side, Stays
from server.export.documents import basis_document
from server.export.ties import FIGURE_NAMES, unit_of

MAP_HEADINGS = (
    "x_key", "x", "x_unit", "y_key", "y", "y_unit", "option", "cost", "unit", "next_option",
    "next_cost",
)  # fmt: skip


@dataclass(frozen=True)
class MapPoint:
    """One point of the coarse table: the cheapest option and the next. x, y: factors on today."""

    x: float
    y: float
    winner: int
    cost: float
    second: int
    second_cost: float


def coarse_points(held: CostMap) -> list[list[MapPoint]]:
    """The coarse table, the highest row first, as the map is read."""
    rows = []
    for row in reversed(held.coarse):
        points = []
        for column in held.coarse:
            costs = held.costs[:, row, column]
            order = costs.argsort(kind="stable")
            first, second = int(order[0]), int(order[1])
            points.append(
                MapPoint(
                    float(held.x.factors[column]),
                    float(held.y.factors[row]),
                    first,
                    float(costs[first]),
                    second,
                    float(costs[second]),
                )
            )
        rows.append(points)
    return rows


def map_table(held: CostMap) -> Iterator[list[Any]]:
    """One line for each point of the coarse table, as CSV wants it."""
    currency = _basis(held).currency
    for row in coarse_points(held):
        for point in row:
            yield [
                held.x.movement.key,
                held.x.movement.present * point.x,
                unit_of(held.x.movement, currency),
                held.y.movement.key,
                held.y.movement.present * point.y,
                unit_of(held.y.movement, currency),
                held.contenders[point.winner].name,
                point.cost,
                _unit(held),
                held.contenders[point.second].name,
                point.second_cost,
            ]


def map_document(held: CostMap, stays: tuple[Stays, Stays]) -> dict[str, Any]:
    """The map as data: its sides, every option with its share, how far today's winner lasts."""
    points = coarse_points(held)
    return {
        "construction": held.contenders[0].costing.construction.code,
        "basis": basis_document(_basis(held)),
        "figure": held.figure,
        "unit": _unit(held),
        "offers_held_as_quoted": True,
        "x": _side(held, held.x, stays[0]),
        "y": _side(held, held.y, stays[1]),
        "cheapest_today": held.contenders[held.leader].name,
        "options": [
            {
                "option": each.name,
                "label": each.label,
                "cost_today": held.present[place],
                "share_of_map": held.shares[place],
            }
            for place, each in enumerate(held.contenders)
        ],
        "points": [
            {
                "x": held.x.movement.present * point.x,
                "y": held.y.movement.present * point.y,
                "option": held.contenders[point.winner].name,
                "cost": point.cost,
                "next_option": held.contenders[point.second].name,
                "next_cost": point.second_cost,
            }
            for row in points
            for point in row
        ],
    }


def _side(held: CostMap, side: Side, stays: Stays) -> dict[str, Any]:
    movement, currency = side.movement, _basis(held).currency

    def end(factor: float | None, then: int | None) -> dict[str, Any] | None:
        if factor is None or then is None:
            return None
        return {"value": movement.present * factor, "then": held.contenders[then].name}

    return {
        "key": movement.key,
        "what_moves": movement.label,
        "unit": unit_of(movement, currency),
        "in_proportion": [each.replace("¤", currency) for each in movement.along],
        "from": movement.present * side.least,
        "to": movement.present * side.most,
        "today": movement.present,
        "cheapest_changes_below": end(stays.down, stays.then_down),
        "cheapest_changes_above": end(stays.up, stays.then_up),
    }


def _basis(held: CostMap) -> Basis:
    return held.contenders[0].costing.basis


def _unit(held: CostMap) -> str:
    return FIGURE_NAMES[held.figure][1].replace("¤", _basis(held).currency)
