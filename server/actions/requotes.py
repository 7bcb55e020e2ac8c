"""Offers to be quoted again, one text for each seller."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from server.actions.book import current_book
from server.actions.compare import BasisChange, changed_basis
from server.actions.freshness import read_order
from server.core.errors import BadValue, NotFound
from server.core.requote_words import WORDS
from server.core.requotes import Requote, requotes_of
from server.store.session import Engine

MOST_DAYS = 365


@dataclass(frozen=True)
class Requotes:
    """Who is asked. before: offers that end earlier are asked again; None without a basis."""

    before: date | None
    requotes: tuple[Requote, ...]


def requotes(
    engine: Engine, change: BasisChange, asked: Mapping[str, str], basis_name: str = ""
) -> Requotes:
    """Texts for the sellers whose offers end, or leave a question open.

    asked: may hold `order` (a day), `days` (offers that end within so many days of the as-of day;
        by default those not valid on the meeting day, or on the order day when one is given),
        `language` and `supplier`
    Raises BadValue, NotFound.
    """
    book = current_book(engine)
    language = _language(asked.get("language", ""))
    days = _days(asked.get("days", ""))
    if not book.bases:
        return Requotes(None, ())
    basis = changed_basis(book, basis_name, change)
    latest = max(basis.meeting, read_order(asked, basis))
    before = latest if days is None else _after(basis.as_of, days)
    found = requotes_of(
        book.current_offers, before=before, day=max(latest, before), language=language
    )
    name = asked.get("supplier", "")
    if not name:
        return Requotes(before, found)
    one = tuple(each for each in found if each.supplier.name == name)
    if not one:
        raise NotFound(
            f"Nothing is to be asked of “{name[:60]}”.",
            field="supplier",
            value=name,
            remedy="Choose a supplier from the list.",
        )
    return Requotes(before, one)


def _language(text: str) -> str:
    if text and text not in WORDS:
        raise BadValue(
            f"“{text[:20]}” is no language kept here.",
            field="language",
            value=text,
            remedy=f"Choose one of {', '.join(WORDS)}.",
        )
    return text


def _after(as_of: date, days: int) -> date:
    """The first day on which an offer that ends within so many days no longer holds."""
    try:
        return as_of + timedelta(days + 1)
    except OverflowError:
        raise BadValue(
            f"No calendar goes {days} days beyond {as_of}.",
            field="days",
            value=days,
            unit="d",
            remedy="Change the as-of day or the days.",
        ) from None


def _days(text: str) -> int | None:
    text = text.strip()
    if not text:
        return None
    if not (text.isascii() and text.isdecimal()) or int(text[:6]) > MOST_DAYS:
        raise BadValue(
            f"“{text[:20]}” is no number of days.",
            field="days",
            value=text,
            unit="d",
            remedy=f"Enter a whole number from 0 to {MOST_DAYS}.",
        )
    return int(text)
