"""Which offers the audit log says to work out anew for the list of offers."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any

from sqlmodel import Session, col, select

from server.store import audit
from server.store.tables import OfferRow, PriceBreakRow, QuestionRow

MANY_EVENTS = 5_000  # above, working out everything is quicker than looking at each
_RATES = frozenset(("exchange_rate", "freight_lane", "duty_rate", "charge"))
_PARTS: dict[str, Any] = {"price_break": PriceBreakRow, "question": QuestionRow}
_WATCHED = frozenset(("offer", "yarn", "supplier", *_PARTS))


def any_rate_since(session: Session, since: int) -> bool:
    """Whether a rate was changed after an audit event."""
    return not audit.counted_since(session, since).keys().isdisjoint(_RATES)


def changed_since(session: Session, since: int, *, prices: bool) -> set[int] | None:
    """Offers whose rows the events after one may have made untrue; None: all of them.

    prices: whether their prices are meant too, which rest on the rates
    """
    if since == 0:
        return None
    counts = audit.counted_since(session, since)
    if prices and counts.keys() & _RATES:
        return None
    if sum(count for table, count in counts.items() if table in _WATCHED) > MANY_EVENTS:
        return None
    if not counts.keys() & _WATCHED:
        return set()
    return _touched(session, audit.events_since(session, since, _WATCHED))


def _touched(session: Session, events: Sequence[Any]) -> set[int]:
    rows: dict[str, set[int]] = {table: set() for table in _WATCHED}
    named: set[str | None] = set()
    for event in events:
        rows[event.table_name].add(event.row_id)
        if event.table_name == "offer":  # an offer that was replaced is no longer, or is now
            named.update(event.changes.get("replaces_id") or ())
        elif event.action != "add":  # a part that may be gone names the offer it was of
            named.update(event.changes.get("offer_id") or ())
    touched = rows["offer"] | {int(each) for each in named if each}
    for column, among in (
        (OfferRow.yarn_id, rows["yarn"]),
        (OfferRow.supplier_id, rows["supplier"]),
    ):
        if among:
            touched.update(session.exec(_numbers(OfferRow.id, column, among)).all())
    if rows["offer"]:
        replaced = session.exec(_numbers(OfferRow.replaces_id, OfferRow.id, rows["offer"])).all()
        touched.update(each for each in replaced if each)
    for table, part in _PARTS.items():
        if rows[table]:
            touched.update(session.exec(_numbers(part.offer_id, part.id, rows[table])).all())
    return touched


def _numbers(wanted: Any, column: Any, among: Collection[int]) -> Any:
    return select(wanted).where(col(column).in_(among))
