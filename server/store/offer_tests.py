"""Test values of an offer, lot by lot: which value of a property counts, and keeping them.

The newest dated value of a property counts. One without a day counts only where no other has a
day; of several of one day the last entered counts.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from sqlmodel import Session, col, select

from server.core.errors import BadValue, NotFound
from server.store.records import Values
from server.store.tables import AttachmentRow, OfferRow, TestValueRow

MOST_VALUES = 200  # of one offer


@dataclass(frozen=True, slots=True)
class TestValue:
    """One value as it is kept. counts: whether the gate takes it; file: where it was read."""

    id: int
    version: int
    property: str
    value: Decimal
    method: str
    lot: str
    tested_on: date | None
    attachment_id: int | None
    file: str
    counts: bool


def by_age(row: TestValueRow) -> tuple[date, int]:
    """Sorts values so that the one that counts comes last."""
    return (row.tested_on or date.min, row.id or 0)


def newest_lot(rows: Iterable[TestValueRow]) -> list[TestValueRow]:
    """The values of the lot tested last: one method, one lot, one day."""
    aged = sorted(rows, key=by_age)
    return [row for row in aged if _lot(row) == _lot(aged[-1])]


def write_newest_lot(session: Session, offer_id: int, wanted: Sequence[Values]) -> None:
    """Make the newest lot of an offer equal to `wanted`; older lots stay. Raises BadValue."""
    rows = _rows(session, offer_id)
    newest = {row.property: row for row in newest_lot(rows)}
    others = {(row.property, *_lot(row)) for row in rows if row not in newest.values()}
    for part in wanted:
        if (part["property"], part["method"], part["lot"], part["tested_on"]) in others:
            raise _twin(part["lot"], "test_lot")
        row = newest.pop(part["property"], None)
        if row is None:
            owner = session.info["person_id"]
            session.add(TestValueRow(owner_id=owner, offer_id=offer_id, **part))
            continue
        for name, value in part.items():
            setattr(row, name, value)
    for row in newest.values():
        session.delete(row)


def test_values(session: Session, code: str) -> tuple[TestValue, ...]:
    """Every value of an offer, by property, the one that counts first. Raises NotFound."""
    offer = offer_row(session, code)
    rows = sorted(_rows(session, offer.id or 0), key=by_age, reverse=True)
    files = {row.id: row.name for row in _files(session, offer.id or 0)}
    seen: set[str] = set()
    told = []
    for row in rows:
        told.append(_told(row, files, counts=row.property not in seen))
        seen.add(row.property)
    return tuple(sorted(told, key=lambda each: each.property))


def add_test_value(session: Session, code: str, values: Mapping[str, Any]) -> int:
    """Store one more value of an offer and give its id. Raises BadValue, NotFound.

    values: property, value, method, lot, tested_on, attachment_id
    """
    offer = offer_row(session, code)
    rows = _rows(session, offer.id or 0)
    key = (values["property"], values["method"], values["lot"], values["tested_on"])
    if key in {(row.property, *_lot(row)) for row in rows}:
        raise _twin(values["lot"], "lot")
    if len(rows) >= MOST_VALUES:
        raise BadValue(
            f"Offer {code} holds {MOST_VALUES} test values, the most an offer can have.",
            field="property",
            remedy="Remove values that no longer matter.",
        )
    files = {row.id for row in _files(session, offer.id or 0)}
    if values["attachment_id"] is not None and values["attachment_id"] not in files:
        raise BadValue(
            "The source file is not attached to this offer.",
            field="attachment_id",
            value=values["attachment_id"],
            remedy="Attach it first, or leave it out.",
        )
    row = TestValueRow(owner_id=session.info["person_id"], offer_id=offer.id or 0, **values)
    session.add(row)
    touch(offer)
    session.flush()
    return row.id or 0


def remove_test_value(session: Session, code: str, value_id: int) -> None:
    """Take one value of an offer away; the audit keeps what it was. Raises NotFound."""
    offer = offer_row(session, code)
    row = session.get(TestValueRow, value_id) if value_id < 2**31 else None
    if row is None or row.offer_id != offer.id:
        raise NotFound(
            f"Offer {code[:40]} has no such test value.",
            field="test",
            value=value_id,
            remedy="It may be removed already; look at the offer again.",
        )
    session.delete(row)
    touch(offer)
    session.flush()


def offer_row(session: Session, code: str) -> OfferRow:
    """The row of an offer. Raises NotFound."""
    found = None
    if "\0" not in code:
        found = session.exec(select(OfferRow).where(OfferRow.code == code)).first()
    if found is None:
        raise NotFound(
            f"There is no offer “{code[:60]}”.",
            field="offer",
            value=code,
            remedy="Choose one from the list of offers.",
        )
    return found


def touch(offer: OfferRow) -> None:
    """A changed part is a change of its offer: a form filled from it before is stale."""
    offer.changed_at = datetime.now(UTC)


def _rows(session: Session, offer_id: int) -> list[TestValueRow]:
    found = select(TestValueRow).where(TestValueRow.offer_id == offer_id)
    return list(session.exec(found.order_by(col(TestValueRow.id))).all())


def _files(session: Session, offer_id: int) -> Sequence[AttachmentRow]:
    return session.exec(select(AttachmentRow).where(AttachmentRow.offer_id == offer_id)).all()


def _lot(row: TestValueRow) -> tuple[str, str, date | None]:
    return (row.method, row.lot, row.tested_on)


def _told(row: TestValueRow, files: Mapping[int | None, str], *, counts: bool) -> TestValue:
    return TestValue(
        id=row.id or 0,
        version=row.row_version,
        property=row.property,
        value=row.value,
        method=row.method,
        lot=row.lot,
        tested_on=row.tested_on,
        attachment_id=row.attachment_id,
        file=files.get(row.attachment_id, ""),
        counts=counts,
    )


def _twin(lot: str, field: str) -> BadValue:
    return BadValue(
        "This property has a value of the same method, lot and day already.",
        field=field,
        value=lot,
        remedy="Remove that value first, or enter the lot and the day of this one.",
    )
