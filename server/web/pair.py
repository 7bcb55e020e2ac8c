"""One pair: cost stack per metre and per kilogram, and every figure opened."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from server.actions.compare import (
    compare_construction,
    pair_of,
    sound_basis_change,
)
from server.actions.effects import RIGID_LOSS_NAME, whole_pair
from server.core.candidates import Candidate
from server.core.compare import Comparison, Pair
from server.core.conversion import per_fabric_kg
from server.core.errors import BadValue
from server.core.landed import LEGS
from server.core.rates_used import rates_of_pair
from server.core.whole_pair import WholePair
from server.export import cautions
from server.export.csv_file import as_csv
from server.export.documents import basis_document, rates_document
from server.export.effects import effects_document, effects_rows
from server.request import house_of
from server.web import addresses, pictures
from server.web.compare import printed_basis
from server.web.effects import EffectsView, effects_view, kept_of
from server.web.explanations import ExplanationView, explanation_view
from server.web.loom_behaviour import LoomView, loom_view
from server.web.numbers import Writer
from server.web.opened import Links
from server.web.pictures import Picture
from server.web.rates_used import RatesView, rates_view
from server.web.render import csv_answer, render, units_of
from server.web.tables import Cell, Column, Row, Table

router = APIRouter()

COSTS = (
    ("warp_yarn", "Warp yarn"), ("filling_yarn", "Filling yarn"),
    ("warp_preparation", "Warp preparation, dyeing and sizing"), ("weaving", "Weaving"),
    ("finishing", "Finishing"), ("inspection", "Inspection and packing"),
    ("overhead", "Overhead on conversion"), ("seconds", "Seconds"),
)  # fmt: skip
RESULTS = (
    "yarn_cost", "fabric_cost", "price_at_margin", "yarn_per_yard", "fabric_per_yard",
    "yarn_per_area", "fabric_per_area", "yarn_per_kg", "fabric_per_kg", "garment_yarn",
    "garment_fabric",
)  # fmt: skip
CLOTH = (
    "ounces", "mass_per_area", "finished_epi", "finished_ppi", "width_contraction", "warp_cover",
    "filling_cover", "loom_output", "warp_season_tonnes", "filling_season_tonnes",
    "garment_length",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class OfferView:
    """One offer of the pair: as quoted, and the legs to its same-basis price."""

    place: str
    code: str
    href: str
    supplier: str
    process: str
    count: str
    as_quoted: str
    state: str
    reasons: tuple[str, ...]
    accepted: tuple[str, ...]
    legs: Table


@dataclass(frozen=True, slots=True)
class PairPage:
    """Everything the pair template shows."""

    title: str
    back_href: str
    back_label: str
    ties_href: str
    put_href: str
    change_href: str
    state: str
    reasons: tuple[str, ...]
    cost: str
    cost_href: str
    cost_unit: str
    yarn: str
    weight: str
    effects: EffectsView
    loom: LoomView
    doubts: tuple[str, ...]
    costs: Table
    results: Table
    cloth: Table
    offers: tuple[OfferView, ...]
    stack_picture: Picture
    rates: RatesView
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ExplainPage:
    """One figure opened."""

    title: str
    figure: str
    unit: str
    back_href: str
    back_label: str
    node: ExplanationView
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class Asked:
    """A pair asked for, on its basis. wrong: what the address says about width and is refused."""

    comparison: Comparison
    pair: Pair
    whole: WholePair
    wrong: BadValue | None
    path: str
    kept: Mapping[str, str]
    writer: Writer

    @property
    def figures(self) -> Mapping[str, float]:
        """Every figure of the pair."""
        return self.whole.figures


def _asked(
    request: Request, code: str, warp: str, filling: str, *, forgiving: bool = False
) -> Asked:
    """The pair. forgiving: a width loss that is none is kept to be shown beside its field."""
    engine, query = house_of(request).engine, request.query_params
    change = sound_basis_change(query)
    comparison = compare_construction(engine, code, change, query.get("basis", ""))
    pair, wrong = pair_of(comparison, warp, filling), None
    width = {name: text for name, text in kept_of(query).items() if name == RIGID_LOSS_NAME}
    try:
        whole = whole_pair(engine, comparison, pair, width)
    except BadValue as refused:
        if not forgiving or refused.field != RIGID_LOSS_NAME:
            raise
        whole, width, wrong = whole_pair(engine, comparison, pair, {}), {}, refused
    return Asked(
        comparison,
        pair,
        whole,
        wrong,
        addresses.pair_path(code, pair.key),
        addresses.basis_query(query) | width,
        Writer(units_of(request), comparison.basis.currency),
    )


@router.get("/compare/{code}/{warp}/{filling}.json")
def pair_json(request: Request, code: str, warp: str, filling: str) -> Response:
    """Every figure of the pair as data."""
    asked = _asked(request, code, warp, filling)
    sheet, inputs = asked.whole.sheet, asked.whole.inputs
    currency = asked.comparison.basis.currency
    return JSONResponse(
        {
            "construction": code,
            "pair": asked.pair.key,
            "process": asked.pair.process,
            **effects_document(asked.whole),
            "state": asked.pair.state,
            "reasons": asked.pair.reasons,
            "accepted": asked.pair.accepted,
            "basis": basis_document(asked.comparison.basis),
            "rates_used": rates_document(
                rates_of_pair(asked.comparison, asked.pair), asked.comparison.basis
            ),
            "figures": {
                line.key: {
                    "label": line.title,
                    "value": asked.figures[line.key],
                    "unit": line.unit.replace("¤", currency),
                }
                for line in sheet.lines
            },
            "inputs": {
                name: {
                    "label": entry.label,
                    "value": entry.value,
                    "unit": entry.unit.replace("¤", currency),
                    "source": entry.source,
                    "on": entry.on.isoformat() if entry.on else None,
                    "as_entered": entry.as_entered,
                }
                for name, entry in inputs.items()
            },
        }
    )


@router.get("/compare/{code}/{warp}/{filling}.csv")
def pair_csv(request: Request, code: str, warp: str, filling: str) -> Response:
    """Every figure of the pair as CSV."""
    asked = _asked(request, code, warp, filling)
    sheet = asked.whole.sheet
    currency = asked.comparison.basis.currency
    rates = rates_document(rates_of_pair(asked.comparison, asked.pair), asked.comparison.basis)
    text = as_csv(
        ["key", "figure", "value", "unit", "valid_from", "age_days", "source"],
        [
            *(
                [line.key, line.title, asked.figures[line.key],
                 line.unit.replace("¤", currency), "", "", ""]
                for line in sheet.lines
            ),
            *([*row, "", "", ""] for row in effects_rows(asked.whole)),
            *(
                [f"rate: {each['kind']}", figure["label"], figure["value"], figure["unit"],
                 each["valid_from"], each["age_days"], each["source"]]
                for each in rates
                for figure in each["figures"]
            ),
        ],
    )  # fmt: skip
    return csv_answer(f"{code}-{warp}-{filling}", text)


@router.get("/compare/{code}/{warp}/{filling}")
def pair_page(request: Request, code: str, warp: str, filling: str) -> HTMLResponse:
    """The pair."""
    asked = _asked(request, code, warp, filling, forgiving=True)
    comparison, pair, writer = asked.comparison, asked.pair, asked.writer
    stack = pictures.stack_parts(comparison, asked.figures)
    page = PairPage(
        title=f"Pair {pair.key} in {comparison.construction.code} {comparison.construction.name}",
        back_href=addresses.with_query(addresses.compare_path(code), asked.kept),
        back_label=f"Compare {comparison.construction.code}",
        put_href=addresses.put_path(
            comparison.construction.code, request.query_params, pair=pair.key
        ),
        ties_href=addresses.with_query(
            addresses.ties_path(code), {**asked.kept, "second": pair.key}
        ),
        change_href=addresses.with_query(
            addresses.change_path(code), {**asked.kept, "pair": pair.key}
        ),
        state=pair.state,
        reasons=pair.reasons,
        cost=writer.text(asked.figures["fabric_cost"], "¤/m"),
        cost_href=_line_href(asked, "fabric_cost"),
        cost_unit=writer.unit("¤/m"),
        yarn=writer.full(asked.figures["yarn_cost"], "¤/m"),
        weight=writer.full(asked.figures["ounces"], "oz/yd²"),
        effects=effects_view(
            asked.whole,
            writer,
            Links(asked.path, asked.kept),
            str(asked.wrong or ""),
            asked.wrong.value if asked.wrong else "",
        ),
        loom=loom_view(
            comparison,
            pair,
            asked.whole,
            asked.whole.inputs,
            writer,
            Links(asked.path, asked.kept),
        ),
        doubts=_quantity_doubts(asked),
        costs=_cost_table(asked, stack),
        results=_figure_table(asked, "The same cost in other units", RESULTS),
        cloth=_figure_table(asked, "The cloth of this pair", CLOTH),
        offers=tuple(_offer_view(asked, member) for member in pair.members),
        stack_picture=pictures.picture(
            partial(pictures.stack_spec, pair.key, stack, writer),
            f"/charts{asked.path}/stack.svg",
            {**asked.kept, "units": writer.units},
            caption="Cost of a finished metre by part",
            unit=writer.unit("¤/m"),
            alt="Stacked bar of the parts of the cost; the table beside it has the same figures",
            table_href="#costs",
        ),
        rates=rates_view(
            rates_of_pair(comparison, pair),
            rates_on=comparison.basis.rates_on,
            as_of=comparison.basis.as_of,
            writer=writer,
        ),
        cautions=(
            cautions.MODELLED,
            cautions.DUTY,
            cautions.TERMS,
            cautions.TESTS,
            *((cautions.FANCY,) if _is_fancy(pair) else ()),
            cautions.WEIGHT,
            cautions.CHANGE,
            cautions.FINISH,
        ),
    )
    return render(
        request,
        "pair/page.html",
        page,
        section="compare",
        printed=printed_basis(comparison),
        status=422 if asked.wrong else 200,
    )


@router.get("/compare/{code}/{warp}/{filling}/{line}")
def explain_page(request: Request, code: str, warp: str, filling: str, line: str) -> HTMLResponse:
    """One figure of the pair: formula, inputs, sources."""
    asked = _asked(request, code, warp, filling)
    other = kept_of(request.query_params)  # a draft of the core is asked of one figure only
    whole = whole_pair(house_of(request).engine, asked.comparison, asked.pair, other)
    node = whole.explain(line)
    page = ExplainPage(
        title=f"{node.label}: {asked.pair.key} in {asked.comparison.construction.code}",
        figure=asked.writer.text(node.value, node.unit),
        unit=asked.writer.unit(node.unit),
        back_href=addresses.with_query(asked.path, asked.kept),
        back_label=f"Pair {asked.pair.key}",
        node=explanation_view(node, asked.writer),
        cautions=(cautions.MODELLED, cautions.RATES),
    )
    return render(
        request,
        "pair/explain.html",
        page,
        section="compare",
        printed=printed_basis(asked.comparison),
    )


def _line_href(asked: Asked, line: str) -> str:
    return addresses.with_query(f"{asked.path}/{addresses.part(line)}", asked.kept)


def _is_fancy(pair: Pair) -> bool:
    return any(member.offer.yarn.effect != "plain" for member in pair.members)


def _cost_table(asked: Asked, stack: Mapping[str, float]) -> Table:
    writer, figures = asked.writer, asked.figures
    total = figures["fabric_cost"]
    lines = {
        "warp_yarn": _cost_line(asked.comparison, "warp"),
        "filling_yarn": _cost_line(asked.comparison, "filling"),
    }
    rows = [_cost_row(asked, label, stack[key], total, lines.get(key, key)) for key, label in COSTS]
    rows.append(
        _cost_row(
            asked,
            "Cost of a finished metre",
            total,
            total,
            "fabric_cost",
            strong=True,
        )
    )
    return Table(
        caption="Cost of finished cloth, by part; each opens",
        columns=(
            Column("part", "Part"),
            Column("per_metre", "Per length", writer.unit("¤/m"), numeric=True),
            Column("per_kg", "Per weight of cloth", writer.unit("¤/kg"), numeric=True),
            Column("share", "Share", "%", numeric=True),
        ),
        rows=tuple(rows),
        empty="",
        exports=tuple(
            (name, addresses.with_query(f"{asked.path}.{form}", asked.kept))
            for name, form in (("CSV", "csv"), ("JSON", "json"))
        ),
    )


def _cost_line(comparison: Comparison, direction: str) -> str:
    slots = comparison.construction.slots_of(direction)
    return f"{direction}.cost" if len(slots) == 1 else f"{direction}_cost"


def _cost_row(
    asked: Asked,
    label: str,
    value: float,
    total: float,
    line: str,
    *,
    strong: bool = False,
) -> Row:
    writer = asked.writer
    per_kg = per_fabric_kg(
        per_metre=value,
        mass_per_area=asked.figures["mass_per_area"],
        finished_width_in=asked.comparison.construction.finished_width_in,
    )
    return Row(
        (
            Cell(label, strong=strong),
            Cell(writer.text(value, "¤/m"), href=_line_href(asked, line), strong=strong),
            Cell(writer.text(per_kg, "¤/kg"), strong=strong),
            Cell(writer.text(value / total, "share"), strong=strong),
        ),
        key=line,
    )


def _figure_table(asked: Asked, caption: str, keys: tuple[str, ...]) -> Table:
    sheet = asked.comparison.sheet
    writer = asked.writer
    return Table(
        caption=caption,
        columns=(
            Column("figure", "Figure"),
            Column("value", "Value", numeric=True),
            Column("unit", "Unit"),
        ),
        rows=tuple(
            Row(
                (
                    Cell(sheet.by_key[key].title),
                    Cell(
                        writer.text(asked.figures[key], sheet.by_key[key].unit),
                        href=_line_href(asked, key),
                    ),
                    Cell(writer.unit(sheet.by_key[key].unit)),
                ),
                key=key,
            )
            for key in keys
            if key in sheet.by_key
        ),
        empty="",
    )


def legs_table(
    member: Candidate,
    figures: Mapping[str, float],
    writer: Writer,
    path: str,
    query: Mapping[str, str],
) -> Table:
    """The way from the goods to the same-basis price; the legs sum to the landed price."""
    landing = member.landing
    keys = [landing.key(leg) for leg in LEGS if landing.key(leg) in landing.sheet.by_key]
    keys += [landing.key("landed_price"), landing.key("same_basis_price")]
    return Table(
        caption=f"{member.offer.code}: from the quoted price to the same basis",
        columns=(Column("leg", "Leg"), Column("value", "Cost", writer.unit("¤/kg"), numeric=True)),
        rows=tuple(
            Row(
                (
                    Cell(
                        landing.sheet.by_key[key].title,
                        strong=key.endswith(("landed_price", "same_basis_price")),
                    ),
                    Cell(
                        writer.text(figures[key], "¤/kg"),
                        href=addresses.with_query(f"{path}/{addresses.part(key)}", query),
                        strong=key.endswith(("landed_price", "same_basis_price")),
                    ),
                ),
                key=key,
            )
            for key in keys
        ),
        empty="",
    )


def _offer_view(asked: Asked, member: Candidate) -> OfferView:
    offer = member.offer
    return OfferView(
        place=member.slot.name,
        code=offer.code,
        href=addresses.offer_path(offer.code),
        supplier=offer.supplier.name,
        process=offer.yarn.process,
        count=offer.yarn.count_text,
        as_quoted=offer.as_quoted,
        state=member.standing.state,
        reasons=member.standing.reasons,
        accepted=tuple(each.decision for each in member.standing.accepted),
        legs=legs_table(member, asked.figures, asked.writer, asked.path, asked.kept),
    )


def _quantity_doubts(asked: Asked) -> tuple[str, ...]:
    """Where the season needs more than an offer can give, or less than it asks for."""
    found = []
    for member in asked.pair.members:
        need = asked.figures.get(f"{member.slot.direction}_season_tonnes")
        if need is None:
            continue
        offer, needed = member.offer, asked.writer.full(need, "t")
        if offer.capacity_tonnes is not None and offer.capacity_tonnes < need:
            most = asked.writer.full(offer.capacity_tonnes, "t")
            found.append(f"{offer.code} can give {most} this season, {needed} are needed.")
        if offer.moq_tonnes is not None and offer.moq_tonnes > need:
            least = asked.writer.full(offer.moq_tonnes, "t")
            found.append(f"{offer.code} asks for at least {least}, only {needed} are needed.")
        if offer.breaks and asked.comparison.basis.quantity == "first price":
            price = f"{offer.price_for(need)} {offer.currency}/{offer.price_unit}"
            found.append(
                f"{offer.code} has price breaks: at {needed} its price is {price}. Change the "
                "quantity of the basis to use it."
            )
    return tuple(found)
