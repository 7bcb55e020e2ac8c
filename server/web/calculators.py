"""Calculators: each formula of the engine alone, with its equation and its source."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse

from server.actions.calculators import calculate, calculator, calculators
from server.core.errors import BadValue
from server.core.formula import Formula
from server.web.numbers import significant
from server.web.render import render

router = APIRouter()
ROOMS = {
    "units": "Count systems", "counts": "Further count systems", "yarn": "Yarn",
    "preparation": "Preparation, roving and winding", "spinning": "Spinning",
    "should_cost": "Should-cost", "cost_structure": "Cost structure", "landed": "Landed price",
    "payment": "Payment and capital", "purchase": "Price units, breaks and quantities",
    "moisture": "Moisture and weight basis", "rates": "Exchange rates", "offer": "Offers",
    "fabric": "Cloth", "cloth_setting": "Setting and cover", "weaving": "Weaving and sizing",
    "conversion": "Cost of cloth", "cost_sheet": "Cost sheets", "pair": "Pairs and garments",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Entry:
    """One calculator in the list."""

    key: str
    title: str
    href: str
    unit: str
    source: str


@dataclass(frozen=True, slots=True)
class CalculatorsPage:
    """Everything the list template shows."""

    title: str
    count: int
    rooms: tuple[tuple[str, tuple[Entry, ...]], ...]


@dataclass(frozen=True, slots=True)
class Field:
    """One input of the calculator's form."""

    name: str
    label: str
    unit: str
    value: str
    error: str
    help: str
    kind: str = "number"
    doubt: str = ""
    options: tuple[tuple[str, str], ...] = ()
    required: bool = True


@dataclass(frozen=True, slots=True)
class CalculatorPage:
    """Everything the template of one calculator shows."""

    title: str
    key: str
    expression: str
    unit: str
    source: str
    notes: str
    empirical: bool
    fields: tuple[Field, ...]
    result: str
    error: str


@router.get("/calculators")
def calculators_page(request: Request) -> HTMLResponse:
    """The list."""
    rooms = tuple(
        (
            ROOMS.get(room, room.replace("_", " ").capitalize()),
            tuple(
                Entry(each.key, each.title, f"/calculators/{each.key}", each.unit, each.source)
                for each in formulas
            ),
        )
        for room, formulas in groupby(calculators(), key=lambda each: each.room)
    )
    page = CalculatorsPage("Calculators", len(calculators()), rooms)
    return render(request, "calculators/list.html", page, section="calculators")


@router.get("/calculators/{key}")
def calculator_page(request: Request, key: str) -> HTMLResponse:
    """One formula, computed when its inputs are given."""
    formula = calculator(key)
    texts = dict(request.query_params)
    texts.pop("units", None)
    result, error, wrong_field = "", "", ""
    if any(text.strip() for text in texts.values()):
        try:
            result = significant(calculate(key, texts))
        except BadValue as wrong:
            error, wrong_field = str(wrong), wrong.field
    page = CalculatorPage(
        title=formula.title,
        key=key,
        expression=f"{key} = {formula.expression}",
        unit=formula.unit.replace("¤q", "quoted money").replace("¤", "money"),
        source=formula.source,
        notes=formula.notes,
        empirical=formula.empirical,
        fields=_fields(formula, texts, wrong_field, error),
        result=result,
        error=error if wrong_field == key or not wrong_field else "",
    )
    return render(
        request, "calculators/one.html", page, section="calculators", status=422 if error else 200
    )


def _fields(
    formula: Formula, texts: dict[str, str], wrong_field: str, error: str
) -> tuple[Field, ...]:
    return tuple(
        Field(
            argument.name,
            argument.name.replace("_", " "),
            argument.quantity.unit.replace("¤q", "quoted money").replace("¤", "money"),
            texts.get(argument.name, ""),
            error if argument.name == wrong_field else "",
            argument.meaning + (" (0.11 is 11 %)" if argument.quantity.unit == "share" else ""),
        )
        for argument in formula.arguments
    )
