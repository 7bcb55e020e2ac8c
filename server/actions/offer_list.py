"""The list of offers as it is asked for: filters and order from texts, a page, all of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from math import isfinite
from typing import Any

from server.actions.compare import BasisChange, changed_basis
from server.core.construction import Basis
from server.core.errors import BadValue
from server.store.book import read_bases
from server.store.offer_list import ListedOffer, OfferList, Part, choices
from server.store.offer_prices import up_to_date
from server.store.offer_query import NOT_SAID, SORTS, STATES, Place, Wanted
from server.store.session import Engine, reading

__all__ = ["NOT_SAID", "SORTS", "STATES", "ListedOffer", "Part", "Place", "Wanted"]

FIRST = Wanted()
PIECE = 500  # rows read at a time where all are wanted
_LONGEST = 200  # characters of a filter
_DAYS = ("quoted_from", "quoted_to", "valid_from", "valid_to")
_NAMES = ("spinning", "effect", "supplier", "country", "state")


@dataclass(frozen=True, slots=True)
class Listed:
    """A page of the list and what can be chosen above it.

    basis: None in a house without a basis, where nothing is priced
    behind: whether changes of the last moments are not in it yet
    """

    basis: Basis | None
    part: Part
    suppliers: tuple[str, ...]
    countries: tuple[str, ...]
    behind: bool

    @property
    def currency(self) -> str:
        """The reporting currency; "" without a basis."""
        return self.basis.currency if self.basis else ""


def read_wanted(asked: Mapping[str, str]) -> Wanted:
    """The offers wanted, and their order, from the texts of an address. Raises BadValue."""
    texts = {name: _text(name, asked.get(name, "")) for name in (*_NAMES, "q", "sort", "intake")}
    sort = texts["sort"].removeprefix("-") or FIRST.sort
    if sort not in SORTS:
        raise BadValue(
            f"The list cannot be sorted by “{sort[:40]}”.",
            field="sort",
            value=sort,
            remedy=f"Sort by one of {', '.join(SORTS)}, with a minus in front for descending.",
        )
    if texts["state"] and texts["state"] not in STATES:
        raise BadValue(
            f"“{texts['state'][:40]}” is no state of an offer.",
            field="state",
            value=texts["state"],
            remedy=f"Choose {', '.join(STATES[:-1])} or {STATES[-1]}.",
        )
    named: dict[str, Any] = {name: texts[name] for name in _NAMES}
    named |= {name: _day(name, asked.get(name, "")) for name in _DAYS}
    return Wanted(
        words=tuple(texts["q"].split()),
        **named,
        intake=_number("intake", texts["intake"]) if texts["intake"] else None,
        sort=sort,
        descending=texts["sort"].startswith("-"),
    )


def wanted_texts(wanted: Wanted) -> dict[str, str]:
    """The texts `read_wanted` reads the same offers from; what is not asked is left out."""
    texts = {
        "q": " ".join(wanted.words),
        **{name: getattr(wanted, name) for name in _NAMES},
        **{name: str(getattr(wanted, name) or "") for name in _DAYS},
        "intake": "" if wanted.intake is None else str(wanted.intake),
        "sort": f"-{wanted.sort}" if wanted.descending else wanted.sort,
    }
    if texts["sort"] == FIRST.sort:
        texts["sort"] = ""
    return {name: text for name, text in texts.items() if text}


def read_place(name: str, text: str, wanted: Wanted) -> Place | None:
    """A row's place from its text, such as `2.415~123`. Raises BadValue. name: of the field"""
    if not text:
        return None
    value, mark, number = text.replace("\0", "").rpartition("~")
    sort = SORTS[wanted.sort]
    try:
        if not (mark and number.isdecimal() and number.isascii() and len(number) < 10):
            raise ValueError
        if not value and sort.optional:
            return Place(None, int(number))
        return Place(_value(sort.kind, value), int(number))
    except ValueError:
        raise BadValue(
            f"“{text[:40]}” is no place in a list sorted by {wanted.sort}.",
            field=name,
            value=text,
            remedy="Begin again at the first page.",
        ) from None


def place_text(place: Place) -> str:
    """The text `read_place` reads the same place from."""
    value = place.value
    written = "" if value is None else repr(value) if isinstance(value, float) else str(value)
    return f"{written}~{place.id}"


def list_offers(
    engine: Engine,
    wanted: Wanted,
    change: BasisChange,
    basis_name: str = "",
    *,
    rows: int,
    after: Place | None = None,
    before: Place | None = None,
) -> Listed:
    """So many offers behind a place, or before one, or the first, on a basis."""
    basis = listing_basis(engine, change, basis_name)
    with up_to_date(engine, basis) as now:
        found = OfferList(now.session, now.basis_id, basis.meeting if basis else None)
        part = found.page(wanted, rows, after=after, before=before)
        return Listed(basis, part, *choices(now.session), now.behind)


def every_offer(
    engine: Engine, wanted: Wanted, change: BasisChange, basis_name: str = ""
) -> tuple[Basis | None, Iterator[ListedOffer]]:
    """The basis, and every offer that matches, read a piece at a time while they are taken.

    The first piece is read at once, so that what is wrong is known before an answer begins.
    """
    basis = listing_basis(engine, change, basis_name)
    first = _piece(engine, wanted, basis, None)

    def rest() -> Iterator[ListedOffer]:
        rows = first
        while rows:
            yield from rows
            rows = _piece(engine, wanted, basis, rows[-1].place) if len(rows) == PIECE else ()

    return basis, rest()


def _piece(
    engine: Engine, wanted: Wanted, basis: Basis | None, after: Place | None
) -> tuple[ListedOffer, ...]:
    with up_to_date(engine, basis) as now:
        found = OfferList(now.session, now.basis_id, basis.meeting if basis else None)
        return found.rows(wanted, PIECE, after=after)


def matching_codes(
    engine: Engine, wanted: Wanted, change: BasisChange, basis_name: str = ""
) -> tuple[str, ...]:
    """Codes of all offers that match, in the order asked for: for what is done to several."""
    basis = listing_basis(engine, change, basis_name)
    with up_to_date(engine, basis) as now:
        found = OfferList(now.session, now.basis_id, basis.meeting if basis else None)
        return found.codes(wanted)


def listing_basis(engine: Engine, change: BasisChange, name: str = "") -> Basis | None:
    """The basis the list stands on; None in a house that has none. Raises NotFound, BadValue."""
    with reading(engine) as session:
        bases = read_bases(session)
    return changed_basis(bases, name, change) if bases.bases else None


def _text(name: str, text: str) -> str:
    if len(text) > _LONGEST:
        raise BadValue(
            f"What is looked for in {name} is too long.",
            field=name,
            value=text,
            unit="characters",
            remedy=f"Write at most {_LONGEST} characters.",
        )
    return text.replace("\0", "").strip()


def _day(name: str, text: str) -> date | None:
    if not text.strip():
        return None
    try:
        return _value(date, text.strip())  # type: ignore[no-any-return]
    except ValueError:
        raise BadValue(
            f"“{text[:20]}” is not a day.",
            field=name,
            value=text,
            unit="date",
            remedy="Write it as 2026-03-12.",
        ) from None


def _number(name: str, text: str) -> int:
    if not (text.isdecimal() and text.isascii() and len(text) < 10):
        raise BadValue(
            f"“{text[:20]}” is no number of an {name}.",
            field=name,
            value=text,
            remedy="Open the list from the intake's page.",
        )
    return int(text)


def _value(kind: type, text: str) -> Any:
    """A value of a sorted column from its text. Raises ValueError."""
    if kind is date:
        if len(text) != 10:
            raise ValueError
        return date.fromisoformat(text)
    if kind is float:
        number = float(text)
        if not isfinite(number):
            raise ValueError
        return number
    if kind is int:
        if len(text) > 9:
            raise ValueError
        return int(text)
    return text[:_LONGEST]
