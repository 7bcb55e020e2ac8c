"""Should-cost: ring beside rotor beside air-jet, what changes them, and the gap to each offer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from server.actions.book import current_book
from server.actions.should_cost import ShouldCosts, explain_stage, read_ne, should_costs
from server.actions.what_if import NAMES, typed_what_if
from server.core.errors import BadValue, Missing
from server.export import cautions
from server.export.csv_file import as_csv
from server.export.should_cost import (
    LINE_HEADINGS,
    counts_document,
    counts_table,
    should_cost_document,
    should_cost_lines,
)
from server.request import house_of
from server.web import addresses, pictures
from server.web import should_cost_tables as tables
from server.web.count_range import CountsView, asked_range, counts_spec, counts_view, sound_range
from server.web.explanations import explanation_view
from server.web.numbers import Writer
from server.web.pair import ExplainPage
from server.web.pictures import Drawing, Picture
from server.web.render import csv_answer, frame_of, render, render_text, units_of
from server.web.tables import Table
from server.web.what_if import WhatIfForm, changed_words, what_if_form

router = APIRouter()
DEFAULT_NE = "7"
MOST_MAPS = 12  # constructions whose map is linked
STATE = ("ne", "set", "from_ne", "to_ne", *NAMES)


@dataclass(frozen=True, slots=True)
class ShouldCostPage:
    """Everything the should-cost template shows. alone: whether only the answer is asked for"""

    title: str
    ne: str
    set_name: str
    sets: tuple[str, ...]
    errors: tuple[tuple[str, str, str], ...]
    told: Mapping[str, str]
    form: WhatIfForm
    words: tuple[str, ...]
    effects: tuple[str, ...]
    effect: Table | None
    doubts: tuple[str, ...]
    sentence: str
    stages: Table
    factors: Table
    machine: Table
    more: Table
    counts: CountsView
    gaps: Table
    bands: Table
    missing: tuple[str, ...]
    picture: Picture | None
    links: tuple[tuple[str, str], ...]
    store_href: str
    clear_href: str
    cautions: tuple[str, ...]
    alone: bool


@dataclass(frozen=True, slots=True)
class EmptyPage:
    """What is shown before there are any assumptions."""

    title: str


def state_of(query: Mapping[str, str]) -> dict[str, str]:
    """The part of a query that says what the page shows; blank parts left out."""
    return {name: query[name].strip() for name in STATE if query.get(name, "").strip()}


def sound_costs(request: Request) -> ShouldCosts:
    """The costs of a request that cannot show an error beside its field. Raises BadValue.

    The count is that of `at_ne` where a figure of another count than the page's is opened.
    """
    query = request.query_params
    costs = should_costs(
        house_of(request).engine,
        read_ne(query.get("at_ne", "") or query.get("ne", "") or DEFAULT_NE),
        query.get("set", ""),
        typed_what_if(query),
    )
    costs.what_if.refuse_errors()
    return costs


@router.get("/should-cost.json")
def should_cost_json(request: Request) -> Response:
    """The routes as data."""
    costs = sound_costs(request)
    counts = sound_range(request.query_params, costs)
    return JSONResponse(
        {
            **should_cost_document(costs),
            "estimate": cautions.MODELLED,
            "counts": counts_document(counts, costs.currency) if counts else None,
            "gaps": [
                {
                    "offer": gap.landed.offer.code,
                    "should_cost": gap.should,
                    "same_basis_price": gap.landed.same_basis_price,
                    "explained_by_delivery": gap.explained,
                    "unexplained": gap.unexplained,
                }
                for gap in costs.gaps
            ],
        }
    )


@router.get("/should-cost.csv")
def should_cost_csv(request: Request) -> Response:
    """The routes as CSV."""
    rows = should_cost_lines(sound_costs(request))
    return csv_answer("should-cost", as_csv(LINE_HEADINGS, rows))


@router.get("/should-cost/counts.json")
def counts_json(request: Request) -> Response:
    """The routes over a range of counts as data."""
    costs = sound_costs(request)
    counts = sound_range(request.query_params, costs)
    return JSONResponse(counts_document(counts, costs.currency) if counts else None)


@router.get("/should-cost/counts.csv")
def counts_csv(request: Request) -> Response:
    """The routes over a range of counts as CSV."""
    costs = sound_costs(request)
    counts = sound_range(request.query_params, costs)
    headings, rows = counts_table(counts, costs.currency) if counts else (["count [Ne]"], [])
    return csv_answer("should-cost-by-count", as_csv(headings, rows))


@router.get("/should-cost")
def should_cost_page(request: Request) -> Response:
    """Ring, rotor and air-jet at one count and over a range; to the page itself, the answer."""
    house, query = house_of(request), request.query_params
    if not current_book(house.engine).assumption_sets:
        empty = EmptyPage("Should-cost")
        return render(request, "should_cost/empty.html", empty, section="should-cost")
    alone = request.headers.get("hx-request") == "true"
    address = addresses.with_query("/should-cost", state_of(query))
    if not alone and any(not value.strip() for name, value in query.items() if name in STATE):
        # a form without scripts sends its blank fields too; the address keeps what is said
        return RedirectResponse(address, 303)
    page, currency = _page(request, alone=alone)
    status = 422 if page.errors else 200
    if alone and query.get("shown", page.set_name) != page.set_name:
        return Response(status_code=204, headers={"hx-redirect": address})  # other fields
    what_if = f" · what if: {'; '.join(page.words)}" if page.words else ""
    printed = (
        f"Creelbook · should-cost at Ne {page.ne} · assumptions “{page.set_name}” · {currency}"
        f"{what_if} · estimate"
    )
    template = "should_cost/_alone.html" if alone else "should_cost/page.html"
    text = render_text(template, page, frame_of(request, "should-cost", printed))
    return HTMLResponse(text, status, {"hx-replace-url": address} if alone else None)


def _page(request: Request, *, alone: bool) -> tuple[ShouldCostPage, str]:
    """The page of a request, and the currency of its figures."""
    engine, query = house_of(request).engine, request.query_params
    state, set_name, typed = state_of(query), query.get("set", ""), typed_what_if(query)
    told: dict[str, str] = {}
    try:
        costs = should_costs(engine, read_ne(query.get("ne", "") or DEFAULT_NE), set_name, typed)
    except BadValue as wrong:
        told["ne"] = str(wrong)
        costs = should_costs(engine, float(DEFAULT_NE), set_name, typed)
    counts, wrong_ends = asked_range(query, costs)
    told |= {**wrong_ends, **costs.what_if.errors}
    book = current_book(engine)
    stored = book.assumption_set(costs.assumptions.name)
    writer = Writer(units_of(request), costs.currency)
    links = {name: text for name, text in state.items() if name not in told}
    links["ne"] = repr(costs.ne) if costs.ne % 1 else f"{costs.ne:g}"
    form = what_if_form(engine, stored, costs, writer)
    labels = {"ne": "Average count", "from_ne": "From count", "to_ne": "To count"}
    labels |= {each.name: f"{group.title}: {each.label}" for group in form.groups
               for each in group.all}  # fmt: skip
    kept = {name: text for name, text in links.items() if name in NAMES}
    page = ShouldCostPage(
        title="Should-cost",
        ne=query.get("ne", "") or DEFAULT_NE,
        set_name=stored.name,
        sets=tuple(each.name for each in book.assumption_sets),
        errors=tuple((_id(name), labels.get(name, name), text) for name, text in told.items()),
        told=told,
        form=form,
        words=changed_words(costs.what_if.changed, stored.currency),
        effects=tables.effect_sentences(costs, writer) if costs.is_changed else (),
        effect=tables.effect_table(costs, writer, links) if costs.is_changed else None,
        doubts=costs.doubts,
        sentence=tables.sentence(costs, writer),
        stages=tables.stage_table(costs, writer, links),
        factors=tables.factor_table(costs, writer, links),
        machine=tables.machine_table(costs, writer, links),
        more=tables.more_table(costs, writer, links),
        counts=counts_view(counts, query, links, writer),
        gaps=tables.gap_table(costs, writer),
        bands=tables.band_table(costs, writer),
        missing=tuple(f"{route}: {why}" for route, why in costs.missing.items()),
        picture=_routes_picture(costs, links, writer),
        links=(
            ("Assumptions", "/assumptions"),
            ("Scenarios", addresses.with_query("/scenarios", {"first": stored.name})),
            *(
                (f"Map of {each.code}", addresses.map_path(each.code, stored.name))
                for each in book.constructions[:MOST_MAPS]
            ),
        ),
        store_href=addresses.with_query("/scenarios/new", {"of": stored.name, **kept}),
        clear_href=addresses.with_query(
            "/should-cost", {n: t for n, t in state.items() if n not in NAMES}
        ),
        cautions=(cautions.MODELLED, cautions.SPEEDS, cautions.AIR_JET),
        alone=alone,
    )
    return page, costs.currency


def _id(name: str) -> str:
    return name.replace(".", "-")


def _routes_picture(costs: ShouldCosts, links: dict[str, str], writer: Writer) -> Picture | None:
    if not costs.routes:
        return None
    return pictures.picture(
        partial(pictures.routes_spec, list(costs.routes), writer),
        "/charts/should-cost/routes.svg",
        {**links, "units": writer.units},
        caption=f"Should-cost at Ne {costs.ne:g} by route and stage, before margin",
        unit=writer.unit("¤/kg"),
        alt="Stacked bars of the stages of each route; the table has the same figures",
        table_href="#stages",
    )


def counts_drawing(request: Request) -> Drawing:
    """The chart of the routes over counts. Raises Missing without a route, BadValue."""
    costs = sound_costs(request)
    counts = sound_range(request.query_params, costs)
    if counts is None:
        raise Missing(
            "No route has all its assumptions.",
            field="assumptions",
            remedy="Enter them on the Assumptions page.",
        )
    return partial(counts_spec, counts, Writer(units_of(request), costs.currency))


@router.get("/should-cost/{route}/{line}")
def should_cost_line(request: Request, route: str, line: str) -> HTMLResponse:
    """One figure of a route, opened."""
    costs = sound_costs(request)
    writer = Writer(units_of(request), costs.currency)
    node = explain_stage(costs, route, line)
    page = ExplainPage(
        title=f"{node.label}: {route} at Ne {costs.ne:g}",
        figure=writer.text(node.value, node.unit),
        unit=writer.unit(node.unit),
        back_href=addresses.with_query("/should-cost", state_of(request.query_params)),
        back_label="Should-cost",
        node=explanation_view(node, writer),
        cautions=(cautions.MODELLED, cautions.SPEEDS),
    )
    return render(request, "pair/explain.html", page, section="should-cost")
