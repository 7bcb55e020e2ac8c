"""Should-cost as documents and tables: the same figures for page, CSV, JSON and API."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from server.core.count_range import CountRange
from server.core.process import RoutesCosted
from server.core.what_if import ChangedValue

LINE_HEADINGS = ("route", "key", "figure", "value", "unit", "stored", "difference")


def should_cost_document(costs: RoutesCosted) -> dict[str, Any]:
    """Every route at one count with what is changed, and the same as stored."""
    return {
        "ne": costs.ne,
        "assumption_set": costs.assumptions.name,
        "currency": costs.currency,
        "routes": {each.route: each.figures() for each in costs.routes},
        "missing": dict(costs.missing),
        "what_if": dict(costs.what_if.typed),
        "stored": {route: each.figures() for route, each in costs.stored.items()},
        "changed": changed_document(costs.what_if.changed, costs.set_currency),
        "doubts": [*costs.what_if.doubts.values(), *costs.doubts],
    }


def changed_document(changed: Iterable[ChangedValue], currency: str) -> list[dict[str, Any]]:
    """Values of a set that are not as stored, as entered. currency: of the set"""
    return [
        {
            "key": each.kind.key,
            "at_ne": None if each.at_ne is None else f"{each.at_ne:f}",
            "stored": f"{each.before:f}",
            "value": f"{each.after:f}",
            "unit": entered_unit(each.kind.unit, currency),
        }
        for each in changed
    ]


def entered_unit(unit: str, currency: str) -> str:
    """Unit of an assumption as people enter it. currency: of its set"""
    return unit.replace("share", "%").replace("¤", currency)


def should_cost_lines(costs: RoutesCosted) -> Iterator[list[Any]]:
    """One line for each figure of each route."""
    for each in costs.routes:
        figures = each.figures()
        stored = costs.stored[each.route].figures()
        for line in each.sheet.lines:
            yield [
                each.route,
                line.key,
                line.title,
                figures[line.key],
                line.unit.replace("¤", costs.currency),
                stored[line.key],
                figures[line.key] - stored[line.key],
            ]


def counts_document(found: CountRange, currency: str) -> dict[str, Any]:
    """The routes over a range of counts, where they meet, and which is the cheapest."""
    return {
        "from_ne": found.low,
        "to_ne": found.high,
        "unit": f"{currency}/kg",
        "counts_ne": [float(ne) for ne in found.counts],
        "should_cost": {route: [float(c) for c in costs] for route, costs in found.costs.items()},
        "speeds_entered_from_to_ne": {
            curve.route: [low, high if high < 1e9 else None]
            for curve in found.curves
            for low, high in [curve.entered_from_to()]
        },
        "crossings": [
            {
                "ne": each.ne,
                "should_cost": each.cost,
                "routes": [each.first, each.second],
                "cheaper_below": each.cheaper_below,
                "cheaper_above": each.cheaper_above,
            }
            for each in found.crossings
        ],
        "cheapest": [
            {"route": each.route, "from_ne": each.low, "to_ne": each.high}
            for each in found.cheapest
        ],
    }


def counts_table(found: CountRange, currency: str) -> tuple[list[str], list[list[Any]]]:
    """Headings and rows of the routes over counts."""
    headings = ["count [Ne]", *(f"{route} [{currency}/kg]" for route in found.costs), "cheapest"]
    rows = [
        [
            float(ne),
            *(float(costs[at]) for costs in found.costs.values()),
            min(found.costs, key=lambda route: float(found.costs[route][at])),
        ]
        for at, ne in enumerate(found.counts)
    ]
    return headings, rows
