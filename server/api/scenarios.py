"""What-ifs of a should-cost and scenarios as JSON."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated, Any

from fastapi import APIRouter, Body, Query, Request
from pydantic import BaseModel, ConfigDict, Field

from server.actions.book import current_book
from server.actions.scenarios import look_at_what_if, store_scenario, two_sets, usual_sets
from server.actions.should_cost import read_ne, should_costs
from server.actions.what_if import NAMES, typed_what_if
from server.api.compare import Asked
from server.api.records import WRONG
from server.core.errors import BadValue, Missing
from server.export.scenarios import two_sets_document
from server.export.should_cost import changed_document, counts_document, should_cost_document
from server.request import house_of

router = APIRouter(tags=["scenarios"])
_READ: dict[int | str, dict[str, Any]] = {code: WRONG[code] for code in (404, 422, 503)}
_SENT: dict[int | str, dict[str, Any]] = {code: WRONG[code] for code in (400, 404, 413, 422, 503)}
SetName = Annotated[str, Query(max_length=120)]


class ChangesBody(BaseModel):
    """Values of a set to be changed."""

    model_config = ConfigDict(extra="forbid")
    change: dict[str, str] = Field(
        default_factory=dict,
        description="Key of an assumption of a route, or every.fibre_price, every.power_tariff, "
        "every.wage -> text: the new value in the unit people enter, or a change such as +10 %",
    )


class WhatIfBody(ChangesBody):
    """A should-cost with some values changed. Nothing is stored."""

    ne: str = Field("7", max_length=60, description="Average count [Ne]")
    set: str = Field("", max_length=120, description="Assumption set; that of the basis if empty")
    from_ne: str = Field("4", max_length=60, description="From count [Ne]")
    to_ne: str = Field("30", max_length=60, description="To count [Ne]")


class ScenarioBody(ChangesBody):
    """A set to be stored under a new name."""

    of: str = Field(max_length=120, description="The set that is cloned")
    name: str = Field(max_length=200, description="Name of the new one, unlike any other")
    source: str = Field("", max_length=500, description="Who says so, of the changed values")
    notes: str = Field("", max_length=4000)


def _typed(body: ChangesBody) -> dict[str, str]:
    for name in body.change:
        if name not in NAMES:
            raise BadValue(
                f"“{name[:40]}” is no assumption of a route.",
                field=name[:60],
                value=body.change[name],
                remedy="Use a key such as OE.rotor_rpm, or every.fibre_price.",
            )
    return typed_what_if(body.change)


@router.post("/should-cost/what-if", responses=_SENT)
def what_if(request: Request, body: Annotated[WhatIfBody, Body()]) -> dict[str, Any]:
    """Every route with some values changed, against what is stored, and over a range of counts."""
    costs = should_costs(house_of(request).engine, read_ne(body.ne), body.set, _typed(body))
    costs.what_if.refuse_errors()
    ends = read_ne(body.from_ne, "from_ne"), read_ne(body.to_ne, "to_ne")
    counts = costs.over(*ends) if costs.routes else None
    return {
        **should_cost_document(costs),
        "counts": counts_document(counts, costs.currency) if counts else None,
    }


@router.get("/scenarios", responses=_READ)
def compare_sets(
    asked: Asked, first: SetName = "", second: SetName = "", construction: SetName = ""
) -> dict[str, Any]:
    """What differs between two sets, and every construction under them."""
    usual = usual_sets(asked.engine, asked.basis)
    names = first or usual[0], second or usual[1]
    if not all(names):
        raise Missing(
            "There are not two assumption sets yet.",
            field="second",
            remedy="Clone a set under a new name first.",
        )
    if construction:
        current_book(asked.engine).construction(construction)
    return two_sets_document(
        two_sets(asked.engine, *names, asked.change, asked.basis), construction
    )


@router.post("/scenarios", status_code=201, responses=_SENT)
def add_scenario(request: Request, body: Annotated[ScenarioBody, Body()]) -> dict[str, Any]:
    """Store a set under a new name, with some values changed; all of it or nothing."""
    house, typed = house_of(request), _typed(body)
    book = current_book(house.engine)
    currency = book.assumption_set(body.of).currency
    changed = look_at_what_if(house.engine, body.of, typed).changed
    name = store_scenario(
        house.engine,
        house.person_id,
        of=body.of,
        name=body.name,
        on=datetime.now(UTC).date(),
        typed=typed,
        source=body.source,
        notes=body.notes,
    )
    stored = current_book(house.engine).assumption_set(name)
    return {
        "name": name,
        "of": body.of,
        "notes": stored.notes,
        "values": sum(len(points) for points in stored.values.values()),
        "changed": changed_document(changed, currency),
    }
