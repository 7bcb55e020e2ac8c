"""Asking sellers again: one text for each, to copy into a mail or to take away."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from server.actions.compare import sound_basis_change
from server.actions.requotes import Requotes, requotes
from server.core.requote_words import WORDS
from server.core.requotes import Requote
from server.export.columns import Column, as_record
from server.export.csv_file import as_csv
from server.request import house_of
from server.web import addresses
from server.web.listing import Listing
from server.web.render import csv_answer, render
from server.web.tables import Pager

router = APIRouter()
PATH = "/fresh/requotes"
PAGE_TEXTS = 20
_KEPT = ("order", "days", "language")

REQUOTE_COLUMNS: tuple[Column[Requote], ...] = (
    Column("supplier", "Supplier", "", lambda each: each.supplier.name),
    Column("country", "Country", "", lambda each: each.supplier.country),
    Column("language", "Language", "", lambda each: each.language),
    Column("quote_again", "Offers to quote again", "",
           lambda each: ", ".join(offer.code for offer in each.lapsed)),
    Column("ask", "Offers with open questions", "",
           lambda each: ", ".join(offer.code for offer in each.asked)),
    Column("valid_to", "Valid at least until", "", lambda each: each.day.isoformat()),
    Column("subject", "Subject", "", lambda each: each.subject),
    Column("text", "Text", "", lambda each: each.text),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class TextView:
    """One text on the page. lines: rows of its field; number: of the field, for the button."""

    number: int
    supplier: str
    supplier_href: str
    negotiation_href: str
    country: str
    language: str
    offers: tuple[tuple[str, str], ...]
    subject: str
    text: str
    lines: int
    file_href: str


@dataclass(frozen=True, slots=True)
class RequotesPage:
    """Everything the page shows."""

    title: str
    lead: str
    hidden: tuple[tuple[str, str], ...]
    order: str
    days: str
    language: str
    languages: tuple[tuple[str, str], ...]
    texts: tuple[TextView, ...]
    pager: Pager | None
    exports: tuple[tuple[str, str], ...]
    back_href: str


def _asked(request: Request) -> Requotes:
    query = request.query_params
    change = sound_basis_change(query)
    return requotes(house_of(request).engine, change, query, query.get("basis", ""))


@router.get(f"{PATH}.json")
def requotes_json(request: Request) -> Response:
    """The texts as data, one record for each seller."""
    return JSONResponse([as_record(REQUOTE_COLUMNS, each) for each in _asked(request).requotes])


@router.get(f"{PATH}.csv")
def requotes_csv(request: Request) -> Response:
    """The texts as CSV, one row for each seller."""
    text = as_csv(
        [column.heading for column in REQUOTE_COLUMNS],
        ([column.value(each) for column in REQUOTE_COLUMNS] for each in _asked(request).requotes),
    )
    return csv_answer("requotes", text)


@router.get(f"{PATH}.txt")
def requotes_txt(request: Request) -> Response:
    """The text for one seller, or all of them one after another, as a file."""
    parts = [
        f"{each.supplier.name}, {each.supplier.country}\n{each.subject}\n\n{each.text}\n"
        for each in _asked(request).requotes
    ]
    rule = f"\n{'-' * 72}\n\n"
    return Response(
        rule.join(parts).replace("\n", "\r\n"),
        media_type="text/plain; charset=utf-8",
        headers={"content-disposition": 'attachment; filename="requotes.txt"'},
    )


@router.get(PATH)
def requotes_page(request: Request) -> HTMLResponse:
    """One text for each seller, ready to copy."""
    found = _asked(request)
    query = dict(request.query_params)
    listing = Listing(PATH, query, PAGE_TEXTS)
    basis = addresses.basis_query(query)
    kept = {**basis, **{name: query[name] for name in _KEPT if query.get(name)}}
    page = RequotesPage(
        title="Ask for new quotations",
        lead=_lead(found),
        hidden=tuple(basis.items()),
        order=query.get("order", ""),
        days=query.get("days", ""),
        language=query.get("language", ""),
        languages=(
            ("", "as the seller's country"),
            *((code, words.name) for code, words in WORDS.items()),
        ),
        texts=tuple(
            _view(number, each, kept)
            for number, each in enumerate(listing.part(found.requotes), start=1)
        ),
        pager=listing.pager(len(found.requotes)),
        exports=tuple(
            (label, addresses.with_query(f"{PATH}.{kind}", kept))
            for label, kind in (("text", "txt"), ("CSV", "csv"), ("JSON", "json"))
        ),
        back_href=addresses.with_query(
            "/fresh", {name: value for name, value in kept.items() if name in (*basis, "order")}
        ),
    )
    return render(request, "freshness/requotes.html", page, section="fresh")


def _lead(found: Requotes) -> str:
    if found.before is None:
        return "There is no basis yet; enter one, with the day of the meeting."
    lapsed = sum(len(each.lapsed) for each in found.requotes)
    asked = sum(len(each.asked) for each in found.requotes)
    return (
        f"{lapsed} offers do not hold on {found.before}, {asked} leave a question open; "
        f"{len(found.requotes)} sellers to ask. Each text holds the words and prices of its own "
        "seller only; look it over before you send it."
    )


def _view(number: int, each: Requote, kept: dict[str, str]) -> TextView:
    name = each.supplier.name
    codes = dict.fromkeys(offer.code for offer in (*each.lapsed, *each.asked))
    return TextView(
        number,
        name,
        addresses.supplier_path(name),
        addresses.with_query(
            addresses.negotiation_path(name),
            {key: text for key, text in kept.items() if key in addresses.BASIS_NAMES},
        ),
        each.supplier.country,
        each.language,
        tuple((code, addresses.offer_path(code)) for code in codes),
        each.subject,
        each.text,
        min(24, each.text.count("\n") + 3),
        addresses.with_query(f"{PATH}.txt", {**kept, "supplier": name}),
    )
