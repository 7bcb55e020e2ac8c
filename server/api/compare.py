"""Comparisons, pairs and should-costs as JSON."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Query, Request

from server.actions.book import current_book
from server.actions.compare import (
    break_evens,
    compare_construction,
    pair_of,
    rates_used,
    sound_basis_change,
)
from server.actions.effects import RIGID_LOSS_NAME, costs_of_twist, whole_pair
from server.actions.should_cost import read_ne, should_costs
from server.core.rates_used import rates_of_pair
from server.core.sheet import Explanation, Input
from server.export.documents import basis_document, comparison_document, rates_document
from server.export.effects import effects_document
from server.request import house_of

router = APIRouter(tags=["comparison"])

Day = Annotated[str, Query(description="Day, written 2026-03-12", max_length=40)]
Text = Annotated[str, Query(max_length=120)]
LoomRule = Annotated[
    str,
    Query(
        description="Loom efficiency: as assumed, or from stops of the pair's own yarns",
        max_length=40,
    ),
]
Width = Annotated[
    str, Query(description="Width loss of a rigid cloth, reed to finished [%]", max_length=40)
]


class _Asked:
    """The parts of the basis that a request may change."""

    def __init__(
        self,
        request: Request,
        basis: Text = "",
        currency: Text = "",
        rates_on: Day = "",
        as_of: Day = "",
        meeting: Day = "",
        need_by: Day = "",
        quantity: Text = "",
        metres: Text = "",
        loom_rule: LoomRule = "",
        assumption_set: Text = "",
    ) -> None:
        self.engine = house_of(request).engine
        self.basis = basis
        self.change = sound_basis_change(
            {
                "currency": currency,
                "rates_on": rates_on,
                "as_of": as_of,
                "meeting": meeting,
                "need_by": need_by,
                "quantity": quantity,
                "metres": metres,
                "loom_rule": loom_rule,
                "assumption_set": assumption_set,
            }
        )


Asked = Annotated[_Asked, Depends(_Asked)]


@router.get("/compare")
def list_comparisons(request: Request) -> list[dict[str, Any]]:
    """Codes and names of the constructions that can be compared."""
    return [
        {"code": each.code, "name": each.name, "weight_class": each.weight_class}
        for each in current_book(house_of(request).engine).constructions
    ]


@router.get("/compare/{code}")
def one_comparison(code: str, asked: Asked) -> dict[str, Any]:
    """Every warp/filling combination of a construction: cost per metre and kg, weight, standing."""
    comparison = compare_construction(asked.engine, code, asked.change, asked.basis)
    return comparison_document(
        comparison,
        break_evens(comparison),
        rates_used(comparison),
        costs_of_twist(asked.engine, comparison),
    )


@router.get("/compare/{code}/{warp}/{filling}")
def one_pair(
    code: str, warp: str, filling: str, asked: Asked, rigid_loss: Width = ""
) -> dict[str, Any]:
    """Every figure of one pair, with units."""
    comparison = compare_construction(asked.engine, code, asked.change, asked.basis)
    pair = pair_of(comparison, warp, filling)
    whole = whole_pair(asked.engine, comparison, pair, {RIGID_LOSS_NAME: rigid_loss})
    currency = comparison.basis.currency
    return {
        "construction": code,
        "pair": pair.key,
        **effects_document(whole),
        "state": pair.state,
        "reasons": list(pair.reasons),
        "accepted": list(pair.accepted),
        "rates_used": rates_document(rates_of_pair(comparison, pair), comparison.basis),
        "basis": basis_document(comparison.basis),
        "figures": {
            line.key: {
                "label": line.title,
                "value": whole.figures[line.key],
                "unit": line.unit.replace("¤", currency),
            }
            for line in whole.sheet.lines
        },
    }


@router.get("/compare/{code}/{warp}/{filling}/{line}")
def one_figure(
    code: str, warp: str, filling: str, line: str, asked: Asked, rigid_loss: Width = ""
) -> dict[str, Any]:
    """One figure opened: formula, inputs with unit, source and date."""
    comparison = compare_construction(asked.engine, code, asked.change, asked.basis)
    pair = pair_of(comparison, warp, filling)
    whole = whole_pair(asked.engine, comparison, pair, {RIGID_LOSS_NAME: rigid_loss})
    return _document(whole.explain(line))


@router.get("/should-cost")
def should_cost(
    request: Request,
    ne: Annotated[str, Query(description="Average count [Ne]")] = "7",
    set_name: Annotated[str, Query(alias="set", max_length=120)] = "",
) -> dict[str, Any]:
    """What a yarn of this count ought to cost by ring, rotor and air-jet; an estimate."""
    costs = should_costs(house_of(request).engine, read_ne(ne), set_name)
    return {
        "ne": costs.ne,
        "assumption_set": costs.assumptions.name,
        "currency": costs.currency,
        "routes": {each.route: each.figures() for each in costs.routes},
        "missing": dict(costs.missing),
    }


def _document(node: Explanation) -> dict[str, Any]:
    return {
        "key": node.key,
        "label": node.label,
        "value": node.value,
        "unit": node.unit,
        "formula": node.in_words,
        "in_numbers": node.in_numbers,
        "source": node.source,
        "notes": node.notes,
        "parts": {
            name: _document(part) if isinstance(part, Explanation) else _input(part)
            for name, part in node.parts
        },
    }


def _input(entry: Input) -> dict[str, Any]:
    on: date | None = entry.on
    return {
        "label": entry.label,
        "value": entry.value,
        "unit": entry.unit,
        "source": entry.source,
        "on": on.isoformat() if on else None,
        "as_entered": entry.as_entered,
    }
