"""The negotiation sheet of a supplier: what a person takes into a talk with that seller."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from server import version
from server.actions.book import current_book
from server.actions.compare import (
    BasisChange,
    changed_basis,
    read_basis_change,
    sound_basis_change,
)
from server.actions.negotiation import (
    explain_figure,
    negotiation,
    one_offer,
    opened_price,
    price_at,
)
from server.core.construction import Basis
from server.core.errors import BadValue
from server.core.held_to_cost import TARGET
from server.core.negotiation_sheet import Negotiation, OfferSheet
from server.core.offer import Offer
from server.export import cautions
from server.export.csv_file import as_csv
from server.export.negotiation import COLUMNS, INTERNAL, lines_of, negotiation_document
from server.request import house_of
from server.web import addresses
from server.web import negotiation_tables as tables
from server.web.compare import Chip, chips_of
from server.web.explanations import ExplanationView, explanation_view
from server.web.listing import Listing
from server.web.negotiation_offer import SheetView, sheet_view
from server.web.negotiation_tables import Way
from server.web.numbers import Writer, percent
from server.web.pair import ExplainPage
from server.web.render import csv_answer, render, units_of
from server.web.sentences import price_text
from server.web.tables import Pager, Table

router = APIRouter()
ONE = "/suppliers/{supplier:path}/negotiation"
OFFERS_A_PAGE = 12
WHOSE = "It names offers of other sellers and what the house computes."


@dataclass(frozen=True, slots=True)
class NegotiationPage:
    """Everything the template of the sheet shows. facts: (label, value, href)"""

    title: str
    internal: str
    back: tuple[tuple[str, str], ...]
    facts: tuple[tuple[str, str, str], ...]
    chips: tuple[Chip, ...]
    hidden: tuple[tuple[str, str], ...]
    errors: tuple[tuple[str, str, str], ...]
    lead: str
    warning: str
    links: tuple[tuple[str, str], ...]
    overview: Table
    sheets: tuple[SheetView, ...]
    pager: Pager | None
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class OpenedPage:
    """Both costs at a price to beat, opened."""

    title: str
    internal: str
    said: str
    back_href: str
    back_label: str
    opened: tuple[tuple[str, ExplanationView], ...]
    cautions: tuple[str, ...]


@router.get(f"{ONE}.json")
def negotiation_json(request: Request, supplier: str) -> Response:
    """The whole sheet as data."""
    return JSONResponse(negotiation_document(_whole(request, supplier)))


@router.get(f"{ONE}.csv")
def negotiation_csv(request: Request, supplier: str) -> Response:
    """The whole sheet as CSV, one row for each place of each offer."""
    found = _whole(request, supplier)
    basis = found.basis
    dates = (basis.rates_on, basis.as_of) if basis else (None, None)
    text = as_csv(
        [*(column.titled(found.currency) for column in COLUMNS), "Rates of", "As of", "For whom"],
        (
            [*(column.value(line) for column in COLUMNS), *dates, INTERNAL]
            for line in lines_of(found)
        ),
    )
    return csv_answer(f"negotiation-{supplier}", text)


@router.get(ONE)
def negotiation_page(request: Request, supplier: str) -> HTMLResponse:
    """The sheet of one supplier, its offers a dozen at a time."""
    engine, query = house_of(request).engine, dict(request.query_params)
    change, name, only = read_basis_change(query), query.get("basis", ""), query.get("offer", "")
    errors = dict(change.errors)
    listing = Listing(addresses.negotiation_path(supplier), query, OFFERS_A_PAGE, "#glance")

    def part(offers: Sequence[Offer]) -> Sequence[Offer]:
        return listing.part(offers)

    try:
        found = negotiation(engine, supplier, change, name, only=only, part=part)
    except BadValue as wrong:
        errors[wrong.field] = str(wrong)
        found = negotiation(engine, supplier, BasisChange({}, {}), name, only=only, part=part)
    sets = tuple(each.name for each in current_book(engine).assumption_sets)
    writer = Writer(units_of(request), found.currency)
    page = _page(found, query, errors, writer, sets, listing)
    return render(
        request,
        "negotiation/page.html",
        page,
        section="suppliers",
        printed=_printed(found),
        status=422 if errors else 200,
    )


@router.get(f"{ONE}/{{code}}/beat/{{construction}}/{{place}}/{{which}}")
def price_page(
    request: Request, supplier: str, code: str, construction: str, place: str, which: str
) -> HTMLResponse:
    """Both costs at a price to beat, opened to their formulas and inputs."""
    found = _one(request, supplier, code)
    price = price_at(found, construction, place)
    against, opened = opened_price(price, which)
    basis = price.with_it.costing.basis
    writer = Writer(units_of(request), basis.currency)
    tie, unit = against.tie, price.quoted.unit
    at = f"at {price_text(tie.value)} {unit}" if tie else "as quoted"
    said = (
        f"Both cost {writer.full(tie.cost, '¤/m')} when {code} is quoted at "
        f"{price_text(tie.value)} {unit}: {percent(tie.distance, signed=True)} on "
        f"{price_text(float(price.quoted.value))}."
        if tie
        else "No quoted price within 90 % of today's makes them cost the same; they stand as today."
    )
    page = OpenedPage(
        title=f"Price to beat: {code} as {place} of {construction}, {at}",
        internal=f"{INTERNAL}.",
        said=said,
        back_href=_back(request, supplier, code),
        back_label=f"Negotiation sheet of {supplier}",
        opened=tuple(
            (each.label, explanation_view(node, writer))
            for each, node in zip((against.other, against.with_it), opened, strict=True)
        ),
        cautions=(cautions.MODELLED, cautions.DUTY, cautions.RATES),
    )
    return render(
        request, "negotiation/one.html", page, section="suppliers", printed=_line(supplier, basis)
    )


@router.get(f"{ONE}/{{code}}/{{figure}}")
def figure_page(request: Request, supplier: str, code: str, figure: str) -> HTMLResponse:
    """One figure of an offer on the sheet, opened."""
    found = _one(request, supplier, code)
    node = explain_figure(found, figure)
    query = request.query_params
    book = current_book(house_of(request).engine)
    basis = changed_basis(book, query.get("basis", ""), sound_basis_change(query))
    writer = Writer(units_of(request), basis.currency)
    title = f"{node.label}: offer {code}"
    if figure == TARGET and found.held and found.held.target is not None:
        title = f"{title} at {price_text(found.held.target)} {found.held.quoted.unit}"
    page = ExplainPage(
        title=title,
        figure=writer.text(node.value, node.unit),
        unit=writer.unit(node.unit),
        back_href=_back(request, supplier, code),
        back_label=f"Negotiation sheet of {supplier}",
        node=explanation_view(node, writer),
        cautions=(cautions.MODELLED, cautions.DUTY, cautions.RATES),
    )
    return render(
        request, "pair/explain.html", page, section="suppliers", printed=_line(supplier, basis)
    )


def _whole(request: Request, supplier: str) -> Negotiation:
    query = request.query_params
    return negotiation(
        house_of(request).engine,
        supplier,
        sound_basis_change(query),
        query.get("basis", ""),
        only=query.get("offer", ""),
    )


def _one(request: Request, supplier: str, code: str) -> OfferSheet:
    query = request.query_params
    change = sound_basis_change(query)
    return one_offer(house_of(request).engine, supplier, code, change, query.get("basis", ""))


def _back(request: Request, supplier: str, code: str) -> str:
    kept = {**addresses.basis_query(request.query_params), "offer": code}
    return addresses.with_query(addresses.negotiation_path(supplier), kept)


def _basis_words(basis: Basis | None) -> str:
    if basis is None:
        return "no basis yet"
    quantity = f"{basis.metres:g} m" if basis.quantity == "metres" else basis.quantity
    regains = ", ".join(f"{mix} {percent(share)}" for mix, share in basis.house_regain.items())
    return (
        f"basis “{basis.name}”: {basis.currency}, rates of {basis.rates_on}, delivered "
        f"{basis.delivery_point}, as of {basis.as_of}, meeting {basis.meeting}, need by "
        f"{basis.need_by}, quantity: {quantity}, house regain {regains}, assumptions "
        f"“{basis.assumption_set}”, loom efficiency {basis.loom_rule}"
    )


def _line(supplier: str, basis: Basis | None) -> str:
    """The line printed on every sheet of paper."""
    return (
        f"{INTERNAL} · Creelbook {version.VERSION} · negotiation sheet, {supplier} · "
        f"{_basis_words(basis)}"
    )


def _printed(found: Negotiation) -> str:
    return _line(found.supplier.name, found.basis)


def _page(
    found: Negotiation,
    query: Mapping[str, str],
    errors: Mapping[str, str],
    writer: Writer,
    sets: tuple[str, ...],
    listing: Listing,
) -> NegotiationPage:
    seller = found.supplier
    own = addresses.supplier_path(seller.name)
    kept = {n: v for n, v in addresses.basis_query(query).items() if n not in errors}
    way = Way(seller.name, kept)
    asked = addresses.with_query("/fresh/requotes", {**kept, "supplier": seller.name})
    links = [(seller.name, own)]
    if query.get("offer"):
        links.append(("All its offers", addresses.with_query(way.path, kept)))
    return NegotiationPage(
        title=f"Negotiation sheet: {seller.name}",
        internal=f"{INTERNAL}. {WHOSE}",
        back=tuple(links),
        facts=(
            ("Country", seller.country, ""),
            ("Spins", seller.makes or "not said", ""),
            ("Cotton-origin file", seller.origin_state, f"{own}/edit"),
        ),
        chips=chips_of(found.basis, errors, query, sets) if found.basis else (),
        hidden=tuple((name, query[name]) for name in ("basis", "offer") if query.get(name)),
        errors=tuple((name, name.replace("_", " "), text) for name, text in errors.items()),
        lead=_lead(found),
        warning=_warning(found),
        links=_links(found, own, asked),
        overview=tables.overview_table(found, writer, way),
        sheets=tuple(sheet_view(each, writer, way) for each in found.offers),
        pager=listing.pager(found.wanted),
        cautions=(
            cautions.MODELLED,
            cautions.DUTY,
            cautions.TERMS,
            cautions.ORIGIN,
            cautions.TESTS,
            cautions.RATES,
        )
        if found.offers
        else (),
    )


def _links(found: Negotiation, own: str, asked: str) -> tuple[tuple[str, str], ...]:
    if not found.count:
        paste = addresses.with_query("/intake/new", {"supplier": found.supplier.name})
        record = addresses.with_query("/offers/new", {"supplier": found.supplier.name})
        return (("Paste or upload its offers", paste), ("Record one of its offers", record))
    links = [("Prices over time", f"{own}#prices")]
    if found.expired or any(each.offer.open_questions for each in found.offers):
        links.insert(0, ("Ask for new quotations", asked))
    return tuple(links)


def _lead(found: Negotiation) -> str:
    name = found.supplier.name
    if not found.count:
        return f"{name} has no current offer, so there is nothing to negotiate yet."
    noun = "offer" if found.count == 1 else "offers"
    if found.basis is None:
        return (
            f"{found.count} current {noun} of {name}. There is no basis yet; enter one to put "
            "prices side by side."
        )
    if found.wanted < found.count:
        return f"One of {found.count} current {noun} of {name}."
    told = f"{found.count} current {noun} of {name}"
    if found.expired:
        told += f", {found.expired} of them not valid on the meeting day {found.basis.meeting}"
    return f"{told}. What can be used stands first."


def _warning(found: Negotiation) -> str:
    """What has to be said before anything else is talked about; "" when nothing has."""
    if found.basis is None or not found.count:
        return ""
    if found.expired == found.count:
        return (
            f"Every offer expired before the meeting on {found.basis.meeting}: ask for new "
            "quotations first. The figures below rest on prices that no longer hold."
        )
    if found.offers and not any(each.places for each in found.offers):
        return f"None of these offers is a candidate anywhere. {tables.NOWHERE}"
    return ""
