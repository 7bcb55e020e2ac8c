"""One offer: as quoted, its way to the mill, what was said, what is odd."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from functools import partial

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from server.actions.compare import sound_basis_change
from server.actions.doubts import doubts_of
from server.actions.nouns import NOUNS
from server.actions.offers import PREFIX, Landed, explain_leg, landed_offer
from server.actions.records import history_of, one_record
from server.core.doubts import Doubt
from server.core.landed import LEGS
from server.export import cautions
from server.export.csv_file import as_csv
from server.request import house_of
from server.web import addresses, pictures
from server.web.explanations import explanation_view
from server.web.history import history_lines
from server.web.numbers import Writer, entered, percent
from server.web.offer_files import FilesView, files_view
from server.web.offer_gate import GateView, gate_view
from server.web.offer_questions import QuestionsView, questions_view
from server.web.offer_tests import TestsView, lots_view
from server.web.offer_yarn import OfferYarnView, offer_yarn_view, yarn_document
from server.web.offers import state_of
from server.web.pair import ExplainPage
from server.web.pictures import Picture
from server.web.render import csv_answer, render, units_of
from server.web.tables import Cell, Column, Row, Table

router = APIRouter()


@dataclass(frozen=True, slots=True)
class OfferPage:
    """Everything the template of one offer shows."""

    title: str
    code: str
    as_quoted: str
    supplier: str
    supplier_href: str
    state: str
    replaced_by: str
    replaced_href: str
    missing: str
    doubts: tuple[Doubt, ...]
    price: str
    price_href: str
    unit: str
    basis: str
    facts: tuple[tuple[str, str, str], ...]
    yarn: OfferYarnView
    tests: TestsView
    files: FilesView
    breaks: Table | None
    legs: Table
    picture: Picture | None
    edit_href: str
    requote_href: str
    negotiation_href: str
    history: tuple[str, ...]
    gate: GateView | None
    questions: QuestionsView
    cautions: tuple[str, ...]


@router.get("/offers/{code}.json")
def offer_json(request: Request, code: str) -> Response:
    """One offer as entered, with its landed figures."""
    landed = _landed(request, code)
    kept = one_record(house_of(request).engine, NOUNS["offers"], code)
    odd = _doubts(request, landed)
    return JSONResponse(
        {
            "offer": {name: entered(value) for name, value in kept.values.items()},
            "version": kept.version,
            "figures": dict(landed.figures),
            "yarn_figures": yarn_document(landed.offer),
            "missing": landed.missing,
            "doubts": [doubt.text for doubt in odd],
            "doubts_in_full": [asdict(doubt) for doubt in odd],
        }
    )


@router.get("/offers/{code}.csv")
def offer_csv(request: Request, code: str) -> Response:
    """The landed figures of one offer as CSV, then its doubts."""
    landed = _landed(request, code)
    lines = landed.landing.sheet.lines if landed.landing else ()
    text = as_csv(
        ["key", "figure", "value", "unit"],
        (
            *(
                [
                    line.key,
                    line.title,
                    landed.figures[line.key],
                    line.unit.replace("¤", landed.currency),
                ]
                for line in lines
            ),
            *(
                [key, line["label"], line["value"], line["unit"]]
                for key, line in yarn_document(landed.offer).items()
            ),
            *(
                [f"doubt.{doubt.key}", doubt.text, doubt.compared, ""]
                for doubt in _doubts(request, landed)
            ),
        ),
    )
    return csv_answer(f"offer-{code}", text)


@router.get("/offers/{code}")
def offer_page(request: Request, code: str) -> HTMLResponse:
    """One offer."""
    house = house_of(request)
    landed = _landed(request, code)
    offer, writer = landed.offer, Writer(units_of(request), landed.currency)
    path, kept = addresses.offer_path(code), addresses.basis_query(request.query_params)
    price = landed.same_basis_price
    picture = None
    if landed.landing:
        picture = pictures.picture(
            partial(pictures.landed_spec, landed.landing, landed.figures, writer),
            f"/charts/offers/{addresses.part(code)}/landed.svg",
            {**kept, "units": writer.units},
            caption="From the goods to the landed price",
            unit=writer.unit("¤/kg"),
            alt="Waterfall of the legs; the table beside it has the same figures",
            table_href="#legs",
        )
    page = OfferPage(
        title=f"Offer {code}",
        code=code,
        as_quoted=offer.as_quoted,
        supplier=offer.supplier.name,
        supplier_href=f"/suppliers/{addresses.part(offer.supplier.name)}",
        state=state_of(landed),
        replaced_by=landed.replaced_by,
        replaced_href=addresses.offer_path(landed.replaced_by) if landed.replaced_by else "",
        missing=landed.missing,
        doubts=_doubts(request, landed),
        price="" if price is None else writer.text(price, "¤/kg"),
        price_href=addresses.with_query(f"{path}/{PREFIX}.same_basis_price", kept),
        unit=writer.unit("¤/kg"),
        basis=f"rates of {landed.basis.rates_on}, delivered {landed.basis.delivery_point}"
        if landed.basis
        else "",
        facts=_facts(landed, writer),
        yarn=offer_yarn_view(house, offer, writer),
        tests=lots_view(house, code),
        files=files_view(house, code),
        breaks=_breaks(landed),
        legs=_legs(landed, writer, path, kept),
        picture=picture,
        edit_href=f"{path}/edit",
        requote_href=addresses.with_query("/offers/new", {"replaces": code}),
        negotiation_href=""
        if landed.replaced_by
        else addresses.with_query(
            addresses.negotiation_path(offer.supplier.name), {**kept, "offer": code}
        ),
        history=history_lines(history_of(house.engine, NOUNS["offers"], offer.id)),
        gate=gate_view(request, code),
        questions=questions_view(offer, one_record(house.engine, NOUNS["offers"], code).version),
        cautions=(
            cautions.DUTY,
            cautions.TERMS,
            cautions.TESTS,
            cautions.ORIGIN,
            *((cautions.FANCY,) if offer.yarn.effect != "plain" else ()),
        ),
    )
    return render(request, "offers/one.html", page, section="offers")


@router.get("/offers/{code}/{line}")
def offer_line(request: Request, code: str, line: str) -> HTMLResponse:
    """One figure of an offer, opened."""
    landed = _landed(request, code)
    writer = Writer(units_of(request), landed.currency)
    node = explain_leg(landed, line)
    page = ExplainPage(
        title=f"{node.label}: offer {code}",
        figure=writer.text(node.value, node.unit),
        unit=writer.unit(node.unit),
        back_href=addresses.with_query(
            addresses.offer_path(code), addresses.basis_query(request.query_params)
        ),
        back_label=f"Offer {code}",
        node=explanation_view(node, writer),
        cautions=(cautions.DUTY, cautions.RATES),
    )
    return render(request, "pair/explain.html", page, section="offers")


def _landed(request: Request, code: str) -> Landed:
    """The offer on the basis of the address."""
    query = request.query_params
    change = sound_basis_change(query)
    return landed_offer(house_of(request).engine, code, change, query.get("basis", ""))


def _doubts(request: Request, landed: Landed) -> tuple[Doubt, ...]:
    """Everything odd about the offer and its price."""
    query = request.query_params
    change = sound_basis_change(query)
    return doubts_of(house_of(request).engine, landed, change, query.get("basis", ""))


def _facts(landed: Landed, writer: Writer) -> tuple[tuple[str, str, str], ...]:
    """(label, value, note) of what was said, as it was said."""
    offer, yarn = landed.offer, landed.offer.yarn
    average = yarn.average_ne
    elastane = yarn.elastane_share
    facts = [
        (
            "Price as quoted",
            offer.price_text,
            f"tax of {percent(offer.tax_inside)} inside" if offer.tax_inside else "",
        ),
        (
            "Delivery term and place",
            f"{offer.term} {offer.place}".strip(),
            f"ships from {offer.country}",
        ),
        ("Payment", offer.payment, ""),
        (
            "Weight basis",
            "not said" if offer.quoted_regain is None else f"{percent(offer.quoted_regain)} regain",
            "",
        ),
        ("Yarn", f"{yarn.process}, {yarn.description or yarn.preparation}", yarn.fibre_mix),
        (
            "Count as quoted",
            yarn.count_text,
            f"average Ne {average:.2f}" if average else "average not known",
        ),
        ("Twist", yarn.twist, ""),
        (
            "Count tolerance",
            "not said" if offer.count_tolerance is None else f"± {percent(offer.count_tolerance)}",
            "",
        ),
        ("Lead time", "not said" if offer.lead_days is None else f"{offer.lead_days} d", ""),
        ("Valid", f"{offer.quoted_on} to {offer.valid_until or 'a day not said'}", ""),
        (
            "Minimum order",
            "not said" if offer.moq_tonnes is None else writer.full(offer.moq_tonnes, "t"),
            "",
        ),
        (
            "Capacity this season",
            "not limiting"
            if offer.capacity_tonnes is None
            else writer.full(offer.capacity_tonnes, "t"),
            "",
        ),
    ]
    if elastane is not None:
        facts.append(
            (
                "Core",
                "; ".join(f"{core.denier:g} den at draft {core.draft:g}" for core in yarn.cores),
                f"first filament {percent(elastane)} of the yarn",
            )
        )
    if offer.notes:
        facts.append(("Notes", offer.notes, ""))
    return tuple(facts)


def _breaks(landed: Landed) -> Table | None:
    offer = landed.offer
    if not offer.breaks:
        return None
    return Table(
        caption=f"Price breaks ({offer.break_kind})",
        columns=(
            Column("from", "From", "t", numeric=True),
            Column("price", "Price", f"{offer.currency}/{offer.price_unit}", numeric=True),
        ),
        rows=(
            Row((Cell("0"), Cell(str(offer.price))), key="0"),
            *(
                Row(
                    (Cell(f"{each.from_tonnes:f}"), Cell(f"{each.price:f}")),
                    key=str(each.from_tonnes),
                )
                for each in offer.breaks
            ),
        ),
        empty="",
    )


def _legs(landed: Landed, writer: Writer, path: str, kept: Mapping[str, str]) -> Table:
    rows = []
    if landed.landing:
        keys = [f"{PREFIX}.{leg}" for leg in LEGS if f"{PREFIX}.{leg}" in landed.figures]
        for key in (*keys, f"{PREFIX}.landed_price", f"{PREFIX}.same_basis_price"):
            total = key.endswith(("landed_price", "same_basis_price"))
            rows.append(
                Row(
                    (
                        Cell(landed.landing.sheet.by_key[key].title, strong=total),
                        Cell(
                            writer.text(landed.figures[key], "¤/kg"),
                            strong=total,
                            href=addresses.with_query(f"{path}/{addresses.part(key)}", kept),
                        ),
                    ),
                    key=key,
                )
            )
    return Table(
        caption="From the quoted price to the same basis; each figure opens",
        columns=(Column("leg", "Leg"), Column("cost", "Cost", writer.unit("¤/kg"), numeric=True)),
        rows=tuple(rows),
        empty=landed.missing or "Nothing to land.",
        exports=(("CSV", f"{path}.csv"), ("JSON", f"{path}.json")),
    )
