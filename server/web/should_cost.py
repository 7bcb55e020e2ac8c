"""Should-cost: ring beside rotor beside air-jet, and the gap to each offer."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from server.actions.book import current_book
from server.actions.should_cost import ShouldCosts, explain_stage, read_ne, should_costs
from server.core.errors import BadValue
from server.core.should_cost import STAGES
from server.export.csv_file import as_csv
from server.request import house_of
from server.web import addresses, cautions, pictures
from server.web.explanations import explanation_view
from server.web.numbers import Writer
from server.web.pair import ExplainPage
from server.web.pictures import Picture
from server.web.render import csv_answer, render, units_of
from server.web.tables import Cell, Column, Row, Table

router = APIRouter()
DEFAULT_NE = "7"
MACHINE = (
    ("spindle_rpm", "rpm"), ("rotor_rpm", "rpm"), ("turns_per_metre", "turns/m"),
    ("delivery_speed", "m/min"), ("output", "g/h"), ("position_hour", "¤/h"),
    ("traveller_speed", "m/s"),
)  # fmt: skip
RESULTS = (
    ("conversion", "Conversion, without fibre"),
    ("should_cost", "Should-cost, before margin"),
    ("price", "With fair margin"),
)


@dataclass(frozen=True, slots=True)
class ShouldCostPage:
    """Everything the should-cost template shows."""

    title: str
    ne: str
    ne_error: str
    set_name: str
    sets: tuple[str, ...]
    sentence: str
    stages: Table
    factors: Table
    machine: Table
    gaps: Table
    bands: Table
    missing: tuple[str, ...]
    picture: Picture | None
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class EmptyPage:
    """What is shown before there are any assumptions."""

    title: str


def _asked(request: Request) -> tuple[str, str]:
    query = request.query_params
    return query.get("ne", "") or DEFAULT_NE, query.get("set", "")


def _costs(request: Request) -> ShouldCosts:
    ne, set_name = _asked(request)
    return should_costs(house_of(request).engine, read_ne(ne), set_name)


@router.get("/should-cost.json")
def should_cost_json(request: Request) -> Response:
    """The routes as data."""
    costs = _costs(request)
    return JSONResponse(
        {
            "ne": costs.ne,
            "assumption_set": costs.assumptions.name,
            "currency": costs.currency,
            "estimate": cautions.MODELLED,
            "routes": {each.route: each.figures() for each in costs.routes},
            "missing": dict(costs.missing),
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
    costs = _costs(request)
    rows = [
        [
            each.route,
            line.key,
            line.title,
            each.figures()[line.key],
            line.unit.replace("¤", costs.currency),
        ]
        for each in costs.routes
        for line in each.sheet.lines
    ]
    return csv_answer("should-cost", as_csv(["route", "key", "figure", "value", "unit"], rows))


@router.get("/should-cost")
def should_cost_page(request: Request) -> HTMLResponse:
    """Ring, rotor and air-jet at one count."""
    house = house_of(request)
    if not current_book(house.engine).assumption_sets:
        empty = EmptyPage("Should-cost")
        return render(request, "should_cost/empty.html", empty, section="should-cost")
    ne, set_name = _asked(request)
    error = ""
    try:
        costs = should_costs(house.engine, read_ne(ne), set_name)
    except BadValue as wrong:
        error = str(wrong)
        costs = should_costs(house.engine, float(DEFAULT_NE), set_name)
    writer = Writer(units_of(request), costs.currency)
    query = {"ne": f"{costs.ne:g}", "set": set_name}
    picture = None
    if costs.routes:
        picture = pictures.picture(
            partial(pictures.routes_spec, list(costs.routes), writer),
            "/charts/should-cost/routes.svg",
            {**query, "units": writer.units},
            caption=f"Should-cost at Ne {costs.ne:g} by route and stage, before margin",
            unit=writer.unit("¤/kg"),
            alt="Stacked bars of the stages of each route; the table has the same figures",
            table_href="#stages",
        )
    page = ShouldCostPage(
        title="Should-cost",
        ne=ne,
        ne_error=error,
        set_name=costs.assumptions.name,
        sets=tuple(each.name for each in current_book(house.engine).assumption_sets),
        sentence=_sentence(costs, writer),
        stages=_stage_table(costs, writer, query),
        factors=_factor_table(costs, writer, query),
        machine=_machine_table(costs, writer, query),
        gaps=_gap_table(costs, writer),
        bands=_band_table(costs, writer),
        missing=tuple(f"{route}: {why}" for route, why in costs.missing.items()),
        picture=picture,
        cautions=(cautions.MODELLED, cautions.SPEEDS, cautions.AIR_JET),
    )
    return render(
        request,
        "should_cost/page.html",
        page,
        section="should-cost",
        printed=f"Creelbook · should-cost at Ne {costs.ne:g} · assumptions "
        f"“{costs.assumptions.name}” · estimate",
        status=422 if error else 200,
    )


@router.get("/should-cost/{route}/{line}")
def should_cost_line(request: Request, route: str, line: str) -> HTMLResponse:
    """One figure of a route, opened."""
    costs = _costs(request)
    writer = Writer(units_of(request), costs.currency)
    node = explain_stage(costs, route, line)
    page = ExplainPage(
        title=f"{node.label}: {route} at Ne {costs.ne:g}",
        figure=writer.text(node.value, node.unit),
        unit=writer.unit(node.unit),
        back_href=addresses.with_query("/should-cost", dict(request.query_params)),
        back_label="Should-cost",
        node=explanation_view(node, writer),
        cautions=(cautions.MODELLED, cautions.SPEEDS),
    )
    return render(request, "pair/explain.html", page, section="should-cost")


def _sentence(costs: ShouldCosts, writer: Writer) -> str:
    figures = {each.route: each.figures() for each in costs.routes}
    if "ring" not in figures or "OE" not in figures:
        return ""
    dearer = figures["ring"]["should_cost"] - figures["OE"]["should_cost"]
    extra = figures["ring"]["roving"] + figures["ring"]["winding"]
    spinning = figures["ring"]["spinning"] - figures["OE"]["spinning"]
    faster = figures["OE"]["delivery_speed"] / figures["ring"]["delivery_speed"]
    return (
        f"At Ne {costs.ne:g} ring costs {writer.full(dearer, '¤/kg')} more than rotor: "
        f"{writer.full(extra, '¤/kg')} for roving and winding, {writer.full(spinning, '¤/kg')} "
        f"for spinning, the rest in fibre and other stages. A rotor delivers {faster:.1f} times "
        "as fast as a spindle."
    )


def _href(route: str, line: str, query: dict[str, str]) -> str:
    return addresses.with_query(f"/should-cost/{addresses.part(route)}/{line}", query)


def _stage_table(costs: ShouldCosts, writer: Writer, query: dict[str, str]) -> Table:
    figures = {each.route: each.figures() for each in costs.routes}
    labels = [*((stage, stage.capitalize()) for stage in STAGES), *RESULTS]
    rows = []
    for key, label in labels:
        if not any(key in values for values in figures.values()):
            continue
        strong = key in ("conversion", "should_cost", "price")
        rows.append(
            Row(
                (
                    Cell(label, strong=strong),
                    *(
                        Cell(
                            writer.text(figures[route][key], "¤/kg"),
                            href=_href(route, key, query),
                            strong=strong,
                        )
                        if key in figures[route]
                        else Cell("–")
                        for route in figures
                    ),
                ),
                key=key,
            )
        )
    return Table(
        caption="Cost of a kilogram of yarn by stage; each figure opens",
        columns=(
            Column("stage", "Stage"),
            *(Column(route, route, writer.unit("¤/kg"), numeric=True) for route in figures),
        ),
        rows=tuple(rows),
        empty="No route has all its assumptions yet; see below what is missing.",
        exports=(
            ("CSV", addresses.with_query("/should-cost.csv", query)),
            ("JSON", addresses.with_query("/should-cost.json", query)),
        ),
    )


def _factor_table(costs: ShouldCosts, writer: Writer, query: dict[str, str]) -> Table:
    labels: dict[str, str] = {}
    for each in costs.routes:
        labels.update(each.factors)
    figures = {each.route: each.figures() for each in costs.routes}
    keys = {each.route: {key for key, _ in each.factors} for each in costs.routes}
    rows = [
        Row(
            (
                Cell(label),
                *(
                    Cell(
                        writer.text(figures[route][key], "¤/kg"),
                        href=None if key == "fibre_price" else _href(route, key, query),
                    )
                    if key in keys[route]
                    else Cell("–")
                    for route in figures
                ),
            ),
            key=key,
        )
        for key, label in labels.items()
    ]
    return Table(
        caption="The same cost by factor; spinning splits when its hour is entered in parts",
        columns=(
            Column("factor", "Factor"),
            *(Column(route, route, writer.unit("¤/kg"), numeric=True) for route in figures),
        ),
        rows=tuple(rows),
        empty="",
    )


def _machine_table(costs: ShouldCosts, writer: Writer, query: dict[str, str]) -> Table:
    rows = []
    for key, unit in MACHINE:
        cells, label = [], ""
        for each in costs.routes:
            figures = each.figures()
            if key in each.sheet.by_key:
                label = each.sheet.by_key[key].title
                cells.append(
                    Cell(writer.text(figures[key], unit), href=_href(each.route, key, query))
                )
            elif key in each.inputs:
                label = each.inputs[key].label
                cells.append(
                    Cell(
                        writer.text(float(each.inputs[key].value), unit),
                        href=each.inputs[key].where or None,
                    )
                )
            else:
                cells.append(Cell("–"))
        if label:
            rows.append(Row((Cell(label), *cells, Cell(writer.unit(unit))), key=key))
    return Table(
        caption="What the machine is assumed to do",
        columns=(
            Column("figure", "Figure"),
            *(Column(each.route, each.route, numeric=True) for each in costs.routes),
            Column("unit", "Unit"),
        ),
        rows=tuple(rows),
        empty="",
    )


def _gap_table(costs: ShouldCosts, writer: Writer) -> Table:
    return Table(
        caption="Offers near this count beside the should-cost of their own route",
        columns=(
            Column("offer", "Offer"),
            Column("process", "Process"),
            Column("should", "Should-cost", writer.unit("¤/kg"), numeric=True),
            Column("price", "Same basis", writer.unit("¤/kg"), numeric=True),
            Column("gap", "Gap", writer.unit("¤/kg"), numeric=True),
            Column(
                "explained",
                "Delivery and basis",
                writer.unit("¤/kg"),
                numeric=True,
                help="Legs, duty, financing and weight basis after the goods",
            ),
            Column(
                "unexplained",
                "Margin and unexplained",
                writer.unit("¤/kg"),
                numeric=True,
                help="Goods less should-cost: what the assumptions do not hold",
            ),
        ),
        rows=tuple(
            Row(
                (
                    Cell(
                        gap.landed.offer.code,
                        strong=True,
                        note=gap.landed.offer.supplier.name,
                        href=addresses.offer_path(gap.landed.offer.code),
                    ),
                    Cell(gap.landed.offer.yarn.process),
                    Cell(writer.text(gap.should, "¤/kg")),
                    Cell(writer.text(gap.landed.same_basis_price or 0.0, "¤/kg")),
                    Cell(writer.signed(gap.gap, "¤/kg"), strong=True),
                    Cell(writer.signed(gap.explained, "¤/kg")),
                    Cell(writer.signed(gap.unexplained, "¤/kg")),
                ),
                key=gap.landed.offer.code,
            )
            for gap in costs.gaps
        ),
        empty="No cotton offer near this count.",
    )


def _band_table(costs: ShouldCosts, writer: Writer) -> Table:
    return Table(
        caption="The same assumptions held against published bands of conversion cost",
        columns=(
            Column("route", "Route and count"),
            Column("modelled", "Modelled here", writer.unit("¤/kg"), numeric=True),
            Column("low", "Lowest", writer.unit("¤/kg"), numeric=True),
            Column("mean", "Mean", writer.unit("¤/kg"), numeric=True),
            Column("high", "Highest", writer.unit("¤/kg"), numeric=True),
            Column("source", "Source"),
        ),
        rows=tuple(
            Row(
                (
                    Cell(f"{band.route}, Ne {band.ne:g}"),
                    Cell(writer.text(band.modelled, "¤/kg"), strong=True),
                    Cell(writer.text(band.low, "¤/kg")),
                    Cell(writer.text(band.mean, "¤/kg")),
                    Cell(writer.text(band.high, "¤/kg")),
                    Cell(band.source),
                ),
                key=f"{band.route}-{band.ne:g}",
            )
            for band in costs.bands
        )
        if costs.currency == "USD"
        else (),
        empty="The published bands are in USD; report in USD to see them.",
    )
