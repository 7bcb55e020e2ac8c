"""Every engine formula: what it takes, what it gives, who published it; and evaluating one."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Body

from server.actions.calculators import calculator, calculators
from server.core.formula import Formula

router = APIRouter(tags=["calculators"])


def _described(formula: Formula) -> dict[str, Any]:
    return {
        "key": formula.key,
        "title": formula.title,
        "unit": formula.unit,
        "expression": formula.expression,
        "source": formula.source,
        "notes": formula.notes,
        "empirical": formula.empirical,
        "inputs": [
            {
                "name": each.name,
                "meaning": each.meaning,
                "unit": each.quantity.unit,
                "least": each.quantity.least,
                "most": each.quantity.most,
                "above": each.quantity.above,
            }
            for each in formula.arguments
        ],
    }


@router.get("/calculators")
def list_calculators() -> list[dict[str, Any]]:
    """Every formula with its inputs, units and source. ¤ is money, ¤q money as quoted."""
    return [_described(each) for each in calculators()]


@router.get("/calculators/{key}")
def one_calculator(key: str) -> dict[str, Any]:
    """One formula."""
    return _described(calculator(key))


@router.post("/calculators/{key}")
def evaluate(
    key: str,
    inputs: Annotated[
        dict[str, float],
        Body(
            description="Input name -> value in the unit the calculator states",
            examples=[{"ne": 7}],
        ),
    ],
) -> dict[str, Any]:
    """Evaluate one formula."""
    formula = calculator(key)
    return {"key": key, "value": formula.evaluate(inputs), "unit": formula.unit}
