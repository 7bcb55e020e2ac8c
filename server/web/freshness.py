"""What is still alive: every current offer against the days, and the winner without the dead."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from server.actions.compare import BasisChange, sound_basis_change
from server.actions.freshness import Freshness, Won, freshness, winners
from server.core.candidates import Candidate
from server.core.freshness import ENDED, OPEN, STATES, Fresh
from server.core.rates_used import DUTY, EXCHANGE, LANE
from server.export import cautions
from server.export.columns import Column as ExportColumn
from server.export.columns import as_record
from server.export.csv_file import as_csv
from server.export.documents import units_of_columns
from server.request import house_of
from server.web import addresses
from server.web.listing import Listing
from server.web.numbers import Writer, minus
from server.web.offers import Filter
from server.web.render import csv_answer, render, units_of
from server.web.tables import Cell, Column, Row, Table

router = APIRouter()
PATH = "/fresh"
PAGE_ROWS = 100

FRESH_COLUMNS: tuple[ExportColumn[Fresh], ...] = (
    ExportColumn("offer", "Offer", "", lambda each: each.offer.code),
    ExportColumn("supplier", "Supplier", "", lambda each: each.offer.supplier.name),
    ExportColumn("country", "Country", "", lambda each: each.offer.country),
    ExportColumn("process", "Process", "", lambda each: each.offer.yarn.process),
    ExportColumn("count", "Count as quoted", "", lambda each: each.offer.yarn.count_text),
    ExportColumn("price", "Price as quoted", "", lambda each: each.offer.price_text),
    ExportColumn("state", "State", "", lambda each: each.state),
    ExportColumn("quoted_on", "Quoted on", "", lambda each: each.offer.quoted_on.isoformat()),
    ExportColumn("valid_until", "Valid until", "",
                 lambda each: str(each.offer.valid_until or "not said")),
    ExportColumn("days_left", "Days left", "d", lambda each: each.days_left),
    ExportColumn("arrives_on", "Arrives", "", lambda each: str(each.arrives_on or "not known")),
    ExportColumn("last_order_day", "Last order day", "",
                 lambda each: str(each.last_order_day or "not known")),
    ExportColumn("exchange_days", "Age of exchange rate", "d", lambda each: _age(each, EXCHANGE)),
    ExportColumn("freight_days", "Age of freight", "d", lambda each: _age(each, LANE)),
    ExportColumn("duty_days", "Age of duty", "d", lambda each: _age(each, DUTY)),
    ExportColumn("old_rates", "Old rates", "",
                 lambda each: "; ".join(f"{use.name} of {use.on}" for use in each.old_rates)),
    ExportColumn("missing_rates", "Missing rates", "", lambda each: " ".join(each.missing)),
    ExportColumn("questions", "Open questions", "", lambda each: each.question_count),
)  # fmt: skip
WON_COLUMNS: tuple[ExportColumn[Won], ...] = (
    ExportColumn("construction", "Construction", "",
                 lambda each: f"{each.construction.code} {each.construction.name}"),
    ExportColumn("with_expired", "If expired offers still held", "",
                 lambda each: each.winner.revived.key
                 if each.winner and each.winner.revived else ""),
    ExportColumn("with_expired_cost", "Cost with them", "¤/m",
                 lambda each: each.winner.revived.figures["fabric_cost"]
                 if each.winner and each.winner.revived else None),
    ExportColumn("valid", "Valid on the meeting day", "",
                 lambda each: each.winner.valid.key if each.winner and each.winner.valid else ""),
    ExportColumn("valid_cost", "Cost without them", "¤/m",
                 lambda each: each.winner.valid.figures["fabric_cost"]
                 if each.winner and each.winner.valid else None),
    ExportColumn("difference", "Difference", "¤/m",
                 lambda each: each.winner.difference if each.winner else None),
    ExportColumn("expired", "Expired offers in it", "",
                 lambda each: ", ".join(_lost_codes(each)) if each.winner else each.missing),
)  # fmt: skip
_ON_PAGE = (
    "offer", "supplier", "state", "valid_until", "days_left", "arrives_on", "last_order_day",
    "exchange_days", "freight_days", "duty_days", "questions",
)  # fmt: skip
_FILTERS = ("state", "supplier", "country", "spinning", "rates", "questions")


@dataclass(frozen=True, slots=True)
class FreshnessPage:
    """Everything the page shows. dates: (name, label, value); hidden: kept by both forms."""

    title: str
    lead: str
    no_basis: bool
    dates: tuple[tuple[str, str, str], ...]
    kept_dates: tuple[tuple[str, str], ...]
    kept_filters: tuple[tuple[str, str], ...]
    search: str
    filters: tuple[Filter, ...]
    counts: tuple[tuple[str, int, str], ...]
    table: Table
    winners: Table
    old_rates: tuple[tuple[str, str], ...]
    requotes_href: str
    clear_href: str
    cautions: tuple[str, ...]


def _lost_codes(each: Won) -> list[str]:
    lost = each.winner.lost if each.winner else ()
    return list(dict.fromkeys(place.expired.offer.code for place in lost))


def _places(each: Won) -> list[dict[str, object]]:
    """Places that lose an expired offer, with same-basis prices [¤/kg]."""
    return [
        {
            "place": place.expired.slot.name,
            "expired": place.expired.offer.code,
            "expired_price": place.expired.price,
            "instead": place.instead.offer.code if place.instead else None,
            "instead_price": place.instead.price if place.instead else None,
        }
        for place in (each.winner.lost if each.winner else ())
    ]


def _age(each: Fresh, kind: str) -> int | None:
    """Age of the oldest rate of a kind [d]; None where none is used."""
    return max((use.age_days for use in each.rates if use.kind == kind), default=None)


def _asked(request: Request) -> tuple[BasisChange, Freshness]:
    query = request.query_params
    change = sound_basis_change(query)
    found = freshness(house_of(request).engine, change, query, query.get("basis", ""))
    return change, found


@router.get("/fresh.json")
def freshness_json(request: Request) -> Response:
    """The days that matter, every offer that matches, and the winners as data."""
    change, found = _asked(request)
    query = request.query_params
    return JSONResponse(
        {
            "days": {name: value for name, _, value in _dates(found)},
            "counts": {state: found.counts[state] for state in STATES if state in found.counts},
            "offers": [as_record(FRESH_COLUMNS, each) for each in _wanted(found, query)],
            "winners": [
                as_record(WON_COLUMNS, each) | {"places": _places(each)}
                for each in winners(house_of(request).engine, change, query.get("basis", ""))
            ],
            "units": units_of_columns(
                (*FRESH_COLUMNS, *WON_COLUMNS), found.basis.currency if found.basis else "¤"
            ),
        }
    )


@router.get("/fresh.csv")
def freshness_csv(request: Request) -> Response:
    """Every offer that matches as CSV."""
    _, found = _asked(request)
    text = as_csv(
        [column.titled("") for column in FRESH_COLUMNS],
        (
            [column.value(each) for column in FRESH_COLUMNS]
            for each in _wanted(found, request.query_params)
        ),
    )
    return csv_answer("fresh", text)


@router.get(PATH)
def freshness_page(request: Request) -> HTMLResponse:
    """The page."""
    change, found = _asked(request)
    query = dict(request.query_params)
    writer = Writer(units_of(request), found.basis.currency if found.basis else "")
    days = _days_of(query)
    won = winners(house_of(request).engine, change, query.get("basis", ""))
    page = FreshnessPage(
        title="What is still alive",
        lead=_lead(found),
        no_basis=found.basis is None,
        dates=tuple(
            (name, label, query.get("order", "") if name == "order" else value)
            for name, label, value in _dates(found)
        ),
        kept_dates=tuple(days.items()),
        kept_filters=tuple(
            (name, query[name]) for name in ("q", *_FILTERS, "basis") if query.get(name)
        ),
        search=query.get("q", ""),
        filters=_filters(found, query),
        counts=tuple(
            (state, found.counts[state], addresses.with_query(PATH, {**days, "state": state}))
            for state in STATES
            if state in found.counts
        ),
        table=_table(_wanted(found, query), query, writer),
        winners=_winner_table(won, addresses.basis_query(query), writer),
        old_rates=tuple(
            (f"{use.kind} {use.name}: {use.age_days} days old", use.where)
            for use in found.old_rates[:20]
        ),
        requotes_href=addresses.with_query(f"{PATH}/requotes", days),
        clear_href=addresses.with_query(PATH, days),
        cautions=(cautions.RATES, cautions.DUTY, cautions.MODELLED),
    )
    return render(request, "freshness/page.html", page, section="fresh")


def _days_of(query: Mapping[str, str]) -> dict[str, str]:
    """The part of a query that sets the days and the basis."""
    order = {"order": query["order"]} if query.get("order") else {}
    return {**addresses.basis_query(query), **order}


def _lead(found: Freshness) -> str:
    if found.basis is None:
        return "There is no basis yet; enter one, with the day of the meeting."
    gone = sum(found.counts[state] for state in ENDED)
    count = len(found.offers)
    return (
        f"{found.counts[OPEN]} of {count} offers can be used: valid on the meeting day, "
        f"{found.basis.meeting}, and at the mill by {found.basis.need_by} when ordered on "
        f"{found.order}. {gone} have ended or will have."
    )


def _dates(found: Freshness) -> tuple[tuple[str, str, str], ...]:
    if found.basis is None:
        return ()
    return (
        ("as_of", "As of", found.basis.as_of.isoformat()),
        ("meeting", "Meeting", found.basis.meeting.isoformat()),
        ("order", "Order, else the meeting day", str(found.order)),
        ("need_by", "Need by", found.basis.need_by.isoformat()),
        ("rates_on", "Rates of", found.basis.rates_on.isoformat()),
    )


def _wanted(found: Freshness, query: Mapping[str, str]) -> list[Fresh]:
    words = query.get("q", "").casefold().split()
    wanted = [each for each in found.offers if _matches(each, words, query)]
    sort = query.get("sort", "valid_until")
    value = {column.key: column.value for column in FRESH_COLUMNS}.get(sort.removeprefix("-"))
    if value is not None:
        wanted.sort(key=lambda each: _sortable(value(each)), reverse=sort.startswith("-"))
    return wanted


def _sortable(value: object) -> tuple[int, float, str]:
    if value is None:
        return (2, 0.0, "")
    return (0, value, "") if isinstance(value, int) else (1, 0.0, str(value).casefold())


def _matches(each: Fresh, words: list[str], query: Mapping[str, str]) -> bool:
    offer = each.offer
    chosen = query.get
    if words:
        yarn = offer.yarn
        said = (offer.code, offer.supplier.name, offer.country, yarn.process, yarn.count_text)
        text = " ".join((*said, offer.as_quoted)).casefold()
        if not all(word in text for word in words):
            return False
    return (
        chosen("state", "") in ("", each.state)
        and chosen("supplier", "") in ("", offer.supplier.name)
        and chosen("country", "") in ("", offer.country)
        and chosen("spinning", "") in ("", offer.yarn.spinning)
        and (chosen("rates", "") != "old" or bool(each.old_rates))
        and (chosen("questions", "") != "open" or each.question_count > 0)
    )


def _filters(found: Freshness, query: Mapping[str, str]) -> tuple[Filter, ...]:
    def met(values: Iterable[str]) -> tuple[tuple[str, str], ...]:
        return (("", "all"), *((each, each) for each in sorted(set(values)) if each))

    offers = [each.offer for each in found.offers]
    choices = {
        "state": (("", "all"), *((each, each) for each in STATES if each in found.counts)),
        "supplier": met(offer.supplier.name for offer in offers),
        "country": met(offer.country for offer in offers),
        "spinning": met(offer.yarn.spinning for offer in offers),
        "rates": (("", "all"), ("old", "with old rates")),
        "questions": (("", "all"), ("open", "with open questions")),
    }
    return tuple(
        Filter(name, name.capitalize(), query.get(name, ""), choices[name]) for name in _FILTERS
    )


def _table(wanted: list[Fresh], query: Mapping[str, str], writer: Writer) -> Table:
    listing = Listing(PATH, query, PAGE_ROWS, "#offers")
    shown = tuple(column for column in FRESH_COLUMNS if column.key in _ON_PAGE)
    return Table(
        caption=f"{len(wanted)} offers",
        columns=listing.columns(shown, writer),
        rows=tuple(_row(each, shown) for each in listing.part(wanted)),
        empty="No offer matches. Clear the filters, or record an offer.",
        exports=(
            ("CSV", addresses.with_query(f"{PATH}.csv", query)),
            ("JSON", addresses.with_query(f"{PATH}.json", query)),
        ),
        pager=listing.pager(len(wanted)),
    )


def _row(each: Fresh, shown: tuple[ExportColumn[Fresh], ...]) -> Row:
    cells = []
    for column in shown:
        value = column.value(each)
        if column.key == "offer":
            note = f"{each.offer.yarn.count_text}, {each.offer.yarn.process}"
            cells.append(Cell(value, href=addresses.offer_path(value), note=note, strong=True))
        elif column.key == "state":
            note = "; ".join((*each.missing, *(f"{use.name} is old" for use in each.old_rates)))
            cells.append(Cell(value, note=note, strong=value != OPEN))
        else:
            text = "" if value is None else str(value)
            cells.append(Cell(minus(text) if column.unit else text))
    return Row(tuple(cells), key=each.offer.code, tone="muted" if each.state in ENDED else "")


def _winner_table(won: tuple[Won, ...], kept: Mapping[str, str], writer: Writer) -> Table:
    return Table(
        caption="The winner if every expired offer still held at its old price, and without them",
        columns=tuple(
            Column(column.key, column.heading, writer.unit(column.unit), numeric=bool(column.unit))
            for column in WON_COLUMNS
        ),
        rows=tuple(_won_row(each, kept, writer) for each in won),
        empty="No construction yet. Add one on the Constructions page.",
    )


def _won_row(each: Won, kept: Mapping[str, str], writer: Writer) -> Row:
    code = each.construction.code
    cells = []
    for column in WON_COLUMNS:
        value = column.value(each)
        if column.key == "construction":
            href = addresses.with_query(addresses.compare_path(code), kept)
            cells.append(Cell(value, href=href, strong=True))
        elif column.key in ("with_expired", "valid") and value:
            href = addresses.with_query(addresses.pair_path(code, value), kept)
            cells.append(Cell(value, href=href))
        elif column.unit:
            write = writer.signed if column.key == "difference" else writer.text
            cells.append(Cell("" if value is None else write(value, column.unit)))
        else:
            cells.append(Cell(value or "none", note=_in_their_place(each, writer)))
    return Row(tuple(cells), key=code, tone="" if _lost_codes(each) else "muted")


def _in_their_place(each: Won, writer: Writer) -> str:
    """`filling: Q06 at 2.318 USD/kg, Q07 at 2.354 USD/kg in its place`."""

    def priced(candidate: Candidate) -> str:
        return f"{candidate.offer.code} at {writer.full(candidate.price, '¤/kg')}"

    return "; ".join(
        f"{place.expired.slot.name}: {priced(place.expired)}, "
        + (f"{priced(place.instead)} in its place" if place.instead else "nothing in its place")
        for place in (each.winner.lost if each.winner else ())
    )
