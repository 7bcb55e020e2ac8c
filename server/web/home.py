"""Home: what needs attention before the meeting. Also the switches for units and colours."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlsplit

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse

from server.actions.book import current_book
from server.actions.compare import BasisChange, leaders
from server.actions.freshness import Freshness, freshness, intakes_waiting
from server.actions.records import NamedChange, recent_changes
from server.core.compare import Comparison
from server.core.construction import Basis
from server.core.gate import UNPROVEN
from server.core.offer import Offer
from server.request import house_of
from server.store.session import is_alive
from server.web import addresses
from server.web.compare_list import leader_table
from server.web.numbers import UNITS, Writer
from server.web.render import THEMES, render, units_of
from server.web.tables import Table

router = APIRouter()
MOST_ITEMS = 6  # of a group
YEAR_S = 31_536_000


@dataclass(frozen=True, slots=True)
class Fact:
    """One thing the house holds, counted."""

    label: str
    value: str
    href: str


@dataclass(frozen=True, slots=True)
class Attention:
    """One group of things that want a look.

    items: (text, href), the first of them; count: how many there are; href: where all stand
    """

    title: str
    items: tuple[tuple[str, str], ...]
    none: str
    count: int
    href: str


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
        attention=_attention(
            freshness(house.engine, BasisChange({}, {}), {}),
            intakes_waiting(house.engine),
            comparisons,
            writer,
        )
        if basis
        else (),
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
    fresh: Freshness, waiting: int, comparisons: list[Comparison], writer: Writer
) -> tuple[Attention, ...]:
    ended, asking, old = fresh.ended, fresh.asking, fresh.old_rates
    unanswered, ties = _unproven(comparisons), _near_ties(comparisons, writer)
    return (
        Attention(
            "Expired by the meeting",
            tuple(
                (
                    f"{_who(each.offer)}: valid until {each.offer.valid_until}",
                    addresses.offer_path(each.offer.code),
                )
                for each in ended[:MOST_ITEMS]
            ),
            "Every offer is valid on the meeting day.",
            len(ended),
            "/fresh/requotes",
        ),
        Attention(
            "Open questions",
            tuple(
                (
                    f"{_who(each.offer)}: {each.offer.open_questions[0].sentence}",
                    addresses.offer_path(each.offer.code),
                )
                for each in asking[:MOST_ITEMS]
            ),
            "No seller has left anything open.",
            len(asking),
            "/fresh?questions=open",
        ),
        Attention(
            "Unproven offers",
            unanswered[:MOST_ITEMS],
            "No offer waits for an answer.",
            len(unanswered),
            "/offers?state=unproven",
        ),
        Attention(
            "Near-ties",
            ties[:MOST_ITEMS],
            "No comparison is too close to call.",
            len(ties),
            "/compare",
        ),
        Attention(
            "Old rates in use",
            tuple(
                (f"{use.kind} {use.name}: {use.age_days} days old", use.where)
                for use in old[:MOST_ITEMS]
            ),
            "All rates in use are recent.",
            len(old),
            "/fresh?rates=old",
        ),
        Attention(
            "Received, not stored",
            ((f"{waiting} received and read, not stored yet", "/intake"),) if waiting else (),
            "Nothing received waits to be stored.",
            min(waiting, 1),
            "/intake",
        ),
    )


def _who(offer: Offer) -> str:
    return f"{offer.code} {offer.supplier.name}"


def _unproven(comparisons: list[Comparison]) -> tuple[tuple[str, str], ...]:
    """Offers that a comparison leaves out until something is answered."""
    found: dict[str, str] = {}
    for comparison in comparisons:
        for each in comparison.excluded:
            standing, offer = each.candidate.standing, each.candidate.offer
            if standing.state == UNPROVEN:
                found.setdefault(offer.code, f"{_who(offer)}: {standing.reasons[0]}")
        for missing in comparison.unpriced:
            found.setdefault(missing.offer.code, f"{missing.offer.code}: {missing.reason}")
    return tuple((text, addresses.offer_path(code)) for code, text in found.items())


def _near_ties(comparisons: list[Comparison], writer: Writer) -> tuple[tuple[str, str], ...]:
    found = []
    for comparison in comparisons:
        first, second = comparison.leader, comparison.runner_up
        if first and second and comparison.is_near_tie(first, second):
            apart = second.figures["fabric_cost"] - first.figures["fabric_cost"]
            found.append(
                (
                    f"{comparison.construction.code}: {first.key} and {second.key} differ by "
                    f"{writer.full(apart, '¤/m')}",
                    addresses.compare_path(comparison.construction.code),
                )
            )
    return tuple(found)


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
