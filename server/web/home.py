"""Home: what needs attention before the meeting. Also the switches for units and colours."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlsplit

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse

from server.actions.book import current_book
from server.actions.compare import leaders
from server.actions.records import NamedChange, recent_changes
from server.core.compare import Comparison
from server.core.construction import Basis
from server.core.gate import UNPROVEN
from server.request import house_of
from server.store.book import Book
from server.store.session import is_alive
from server.web import addresses
from server.web.compare_list import leader_table
from server.web.numbers import UNITS, Writer
from server.web.render import THEMES, render, units_of
from server.web.tables import Table

router = APIRouter()
STALE_DAYS = 14
YEAR_S = 31_536_000


@dataclass(frozen=True, slots=True)
class Fact:
    """One thing the house holds, counted."""

    label: str
    value: str
    href: str


@dataclass(frozen=True, slots=True)
class Attention:
    """One group of things that want a look. items: (text, href)."""

    title: str
    items: tuple[tuple[str, str], ...]
    none: str


@dataclass(frozen=True, slots=True)
class HomePage:
    """Everything the home template shows."""

    title: str
    basis: str
    facts: tuple[Fact, ...]
    attention: tuple[Attention, ...]
    leaders: Table
    changes: tuple[str, ...]
    is_empty: bool


@router.get("/")
def home(request: Request) -> HTMLResponse:
    """The home page."""
    house = house_of(request)
    book = current_book(house.engine)
    basis = book.bases[0] if book.bases else None
    writer = Writer(units_of(request), basis.currency if basis else "")
    found = leaders(house.engine) if basis else ()
    comparisons = [each.comparison for each in found if each.comparison]
    page = HomePage(
        title="Home",
        basis=_basis_text(basis) if basis else "",
        facts=(
            Fact("suppliers", str(len(book.suppliers)), "/suppliers"),
            Fact("offers", str(len(book.current_offers)), "/offers"),
            Fact("constructions", str(len(book.constructions)), "/constructions"),
        ),
        attention=_attention(book, basis, comparisons, writer) if basis else (),
        leaders=leader_table(found, writer),
        changes=tuple(_change_text(change) for change in recent_changes(house.engine, 6)),
        is_empty=not book.offers,
    )
    return render(request, "home/page.html", page, section="home")


def _change_text(change: NamedChange) -> str:
    what = f"{change.noun} {change.key}"
    if change.action == "change" and change.fields:
        what += f": {', '.join(field.replace('_', ' ') for field in change.fields)}"
    verb = {"add": "entered", "change": "changed", "remove": "removed"}[change.action]
    return f"{change.at:%Y-%m-%d %H:%M} UTC, {change.person} {verb} {what}"


def _basis_text(basis: Basis) -> str:
    return (
        f"Basis “{basis.name}”: {basis.currency}, rates of {basis.rates_on}, as of {basis.as_of}, "
        f"meeting {basis.meeting}, yarn needed at {basis.delivery_point} by {basis.need_by}."
    )


def _attention(
    book: Book, basis: Basis, comparisons: list[Comparison], writer: Writer
) -> tuple[Attention, ...]:
    expiring = tuple(
        (
            f"{offer.code} {offer.supplier.name}: valid until {offer.valid_until}",
            addresses.offer_path(offer.code),
        )
        for offer in sorted(
            (each for each in book.current_offers if each.valid_until),
            key=lambda offer: str(offer.valid_until),
        )
        if offer.valid_until and offer.valid_until < basis.meeting
    )
    stale = tuple(
        (f"1 {rate.base} = {rate.rate:g} {rate.quote} of {rate.valid_from}", "/rates")
        for rate in book.rates.exchange_rates
        if (basis.as_of - rate.valid_from).days > STALE_DAYS
    )
    unanswered: dict[str, str] = {}
    for comparison in comparisons:
        for each in comparison.excluded:
            if each.candidate.standing.state == UNPROVEN:
                offer = each.candidate.offer
                unanswered.setdefault(
                    offer.code,
                    f"{offer.code} {offer.supplier.name}: {each.candidate.standing.reasons[0]}",
                )
        for missing in comparison.unpriced:
            unanswered.setdefault(missing.offer.code, f"{missing.offer.code}: {missing.reason}")
    ties = []
    for comparison in comparisons:
        first, second = comparison.leader, comparison.runner_up
        if first and second and comparison.is_near_tie(first, second):
            apart = second.figures["fabric_cost"] - first.figures["fabric_cost"]
            ties.append(
                (
                    f"{comparison.construction.code}: {first.key} and {second.key} differ by "
                    f"{writer.full(apart, '¤/m')}",
                    addresses.compare_path(comparison.construction.code),
                )
            )
    return (
        Attention("Expired by the meeting", expiring, "Every offer is valid on the meeting day."),
        Attention(
            "Unproven offers",
            tuple((text, addresses.offer_path(code)) for code, text in unanswered.items()),
            "No offer waits for an answer.",
        ),
        Attention("Near-ties", tuple(ties), "No comparison is too close to call."),
        Attention(
            f"Exchange rates older than {STALE_DAYS} days", stale, "All exchange rates are recent."
        ),
    )


@router.get("/view")
def view(request: Request, back: str = "/", units: str = "", theme: str = "") -> RedirectResponse:
    """Remember the units or the colours and go back to where the person was."""
    target = urlsplit(back)
    safe = (
        back
        if back.startswith("/")
        and not back.startswith(("//", "/\\"))
        and not (target.netloc or target.scheme)
        else "/"
    )
    answer = RedirectResponse(_without_units(safe), 303)
    for name, value, allowed in (("units", units, UNITS), ("theme", theme, THEMES)):
        if value in allowed:
            answer.set_cookie(name, value, max_age=YEAR_S, samesite="lax", httponly=True)
    return answer


def _without_units(path: str) -> str:
    bare, _, query = path.partition("?")
    kept = [each for each in query.split("&") if each and not each.startswith("units=")]
    return f"{bare}?{'&'.join(kept)}" if kept else bare


@router.get("/health")
def health(request: Request) -> JSONResponse:
    """Whether the program and its database answer."""
    alive = is_alive(house_of(request).engine)
    return JSONResponse({"alive": alive}, 200 if alive else 503)
