"""Writing and taking back many offers: rows in bulk, each with its audit event.

All of it stands in the caller's transaction, so that a long file is stored whole or not at all.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import and_
from sqlalchemy.orm import aliased
from sqlmodel import Session, SQLModel, col, select

from server.core.errors import BadValue
from server.core.offer import TEST_PROPERTIES
from server.store.audit import rows_changed
from server.store.bulk import add_rows, remove_rows, table_named
from server.store.offers import BREAKS, YARN_FIELDS
from server.store.tables import (
    OfferRow,
    PriceBreakRow,
    QuestionRow,
    Record,
    SlotRow,
    SupplierRow,
    TestValueRow,
    YarnRow,
)

_PARTS = ("offer", "question", "test_value", "price_break")
PIECE = 500  # rows worked on at once
_OFFER_FIELDS = tuple(
    name
    for name in OfferRow.model_fields
    if name not in {*Record.model_fields, "supplier_id", "yarn_id", "replaces_id", "intake_id",
                    "intake_line"}
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class NewOffer:
    """An offer to write. values: the entry; questions: rows of QuestionRow without the offer."""

    values: Mapping[str, Any]
    questions: Sequence[Mapping[str, Any]]
    intake_id: int
    line: int


class OfferWriter:
    """Writes offers in pieces inside one transaction. All of them carry one moment."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self._suppliers = {
            name: supplier_id or 0
            for supplier_id, name in session.exec(select(SupplierRow.id, SupplierRow.name))
        }
        self._yarns: dict[int, dict[bytes, int]] = {}

    def write(self, offers: Sequence[NewOffer]) -> list[int]:
        """Write some offers; gives their ids in the same order."""
        yarn_ids = self._yarn_ids(offers)
        replaced = self._ids_of([str(offer.values.get("replaces") or "") for offer in offers])
        rows = [
            {
                **{name: offer.values[name] for name in _OFFER_FIELDS if name in offer.values},
                "supplier_id": self._suppliers[offer.values["supplier"]],
                "yarn_id": yarn_id,
                "replaces_id": replaced.get(str(offer.values.get("replaces") or "")),
                "intake_id": offer.intake_id,
                "intake_line": offer.line,
            }
            for offer, yarn_id in zip(offers, yarn_ids, strict=True)
        ]
        ids = add_rows(self.session, OfferRow, rows)
        written = list(zip(offers, ids, strict=True))
        add_rows(
            self.session, PriceBreakRow, [row for offer, i in written for row in _breaks(offer, i)]
        )
        add_rows(
            self.session, TestValueRow, [row for offer, i in written for row in _tests(offer, i)]
        )
        asked = [{**row, "offer_id": i} for offer, i in written for row in offer.questions]
        add_rows(self.session, QuestionRow, asked)
        return ids

    def _yarn_ids(self, offers: Sequence[NewOffer]) -> list[int]:
        """The supplier's yarn of exactly this description, made when there is none."""
        keys = []
        fresh: dict[tuple[int, bytes], dict[str, Any]] = {}
        for offer in offers:
            supplier = self._suppliers[offer.values["supplier"]]
            described = {name: offer.values[name] for name in YARN_FIELDS if name in offer.values}
            key = _digest(described)
            if supplier not in self._yarns:
                self._yarns[supplier] = self._known_yarns(supplier)
            keys.append((supplier, key))
            if key not in self._yarns[supplier]:
                fresh.setdefault((supplier, key), {**described, "supplier_id": supplier})
        ids = add_rows(self.session, YarnRow, list(fresh.values()))
        for (supplier, key), yarn_id in zip(fresh, ids, strict=True):
            self._yarns[supplier][key] = yarn_id
        return [self._yarns[supplier][key] for supplier, key in keys]

    def _known_yarns(self, supplier: int) -> dict[bytes, int]:
        columns = [getattr(YarnRow, name) for name in YARN_FIELDS]
        statement = select(YarnRow.id, *columns).where(YarnRow.supplier_id == supplier)
        return {
            _digest(dict(zip(YARN_FIELDS, described, strict=True))): yarn_id
            for yarn_id, *described in self.session.execute(statement)
        }

    def _ids_of(self, codes: Sequence[str]) -> dict[str, int]:
        wanted = [code for code in codes if code]
        if not wanted:
            return {}
        found = self.session.exec(
            select(OfferRow.code, OfferRow.id).where(col(OfferRow.code).in_(wanted))
        )
        return {code: offer_id or 0 for code, offer_id in found}


def _digest(described: Mapping[str, Any]) -> bytes:
    """A short mark of a yarn's description; equal descriptions have equal marks."""
    told = "\x1f".join(f"{name}={described.get(name)}" for name in YARN_FIELDS)
    return hashlib.blake2b(told.encode(), digest_size=16).digest()


def _breaks(offer: NewOffer, offer_id: int) -> list[dict[str, Any]]:
    return [
        {
            "offer_id": offer_id,
            "from_tonnes": offer.values[f"break{place}_from_tonnes"],
            "price": offer.values[f"break{place}_price"],
        }
        for place in BREAKS
        if offer.values.get(f"break{place}_from_tonnes") is not None
    ]


def _tests(offer: NewOffer, offer_id: int) -> list[dict[str, Any]]:
    return [
        {
            "offer_id": offer_id,
            "property": name,
            "value": offer.values[name],
            "method": offer.values.get("test_method") or "supplier's sheet",
            "lot": offer.values.get("test_lot") or "",
            "tested_on": offer.values.get("tested_on"),
        }
        for name in TEST_PROPERTIES
        if offer.values.get(name) is not None
    ]


def taken_codes(session: Session, codes: Sequence[str]) -> set[str]:
    """Which of these offer codes are used already."""
    return set(session.exec(select(OfferRow.code).where(col(OfferRow.code).in_(codes))).all())


def later_offers(session: Session, codes: Sequence[str]) -> dict[str, str]:
    """For each of these offers that a later one replaces: the code of the later one."""
    earlier, later = aliased(OfferRow), aliased(OfferRow)
    found: dict[str, str] = {}
    for start in range(0, len(codes), PIECE):
        statement = (
            select(earlier.code, later.code)
            .join(later, col(later.replaces_id) == col(earlier.id))
            .where(col(earlier.code).in_(codes[start : start + PIECE]))
        )
        found.update(dict(session.exec(statement).all()))
    return found


def remove_offers_of(session: Session, intake_id: int) -> int:
    """Remove every offer of an intake with what hangs on it; gives how many.

    Raises BadValue, with the first offer concerned, when one was changed, replaced, asked for by a
    construction or given files or overrides since.
    """
    mine = select(OfferRow.id).where(OfferRow.intake_id == intake_id)
    _refuse_used(session, intake_id, mine)
    removed = 0
    for column in _columns_naming_offers():
        if "row_version" not in column.table.c:  # worked out from offers, not a record
            session.execute(column.table.delete().where(column.in_(mine)))
    for table in (QuestionRow, TestValueRow, PriceBreakRow):
        _remove(session, table, col(table.offer_id).in_(mine))
    yarns = set(session.exec(select(OfferRow.yarn_id).where(OfferRow.intake_id == intake_id)))
    removed = _remove(session, OfferRow, col(OfferRow.intake_id) == intake_id)
    used = select(OfferRow.yarn_id)
    listed = sorted(yarns)
    for start in range(0, len(listed), PIECE):
        piece = listed[start : start + PIECE]
        _remove(session, YarnRow, and_(col(YarnRow.id).in_(piece), col(YarnRow.id).not_in(used)))
    return removed


def _refuse_used(session: Session, intake_id: int, mine: Any) -> None:
    """Raises BadValue when an offer of the intake is no longer what it was."""
    later = aliased(OfferRow)
    changed = select(OfferRow.code).where(
        OfferRow.intake_id == intake_id, col(OfferRow.id).in_(rows_changed("offer"))
    )
    replaced = (
        select(OfferRow.code)
        .join(later, col(later.replaces_id) == col(OfferRow.id))
        .where(OfferRow.intake_id == intake_id)
    )
    pinned = (
        select(OfferRow.code)
        .join(SlotRow, col(SlotRow.pinned_offer) == col(OfferRow.code))
        .where(OfferRow.intake_id == intake_id)
    )
    for what, statement in (
        ("was changed", changed),
        ("was replaced", replaced),
        ("is asked for by a construction", pinned),
        *(
            (
                f"has an entry in {column.table.name.replace('_', ' ')}",
                select(OfferRow.code)
                .join(column.table, column == col(OfferRow.id))
                .where(OfferRow.intake_id == intake_id),
            )
            for column in _columns_naming_offers()
            if "row_version" in column.table.c and column.table.name not in _PARTS
        ),
    ):
        code = session.exec(statement.limit(1)).first()
        if code is not None:
            raise BadValue(
                f"Offer {code} of this intake {what} since; nothing was taken back.",
                field="offer",
                value=code,
                remedy="Undo that first, or replace the single offers by a re-quote.",
            )


def _columns_naming_offers() -> list[Any]:
    return [
        key.parent
        for table in SQLModel.metadata.sorted_tables
        for key in table.foreign_keys
        if key.target_fullname == "offer.id"
    ]


def _remove(session: Session, table: type[Record], condition: Any) -> int:
    """Remove the rows a condition names, with their audit events; gives how many."""
    ids = list(session.exec(select(table.id).where(condition)).all())
    remove_rows(session, table_named(str(table.__tablename__)), [each for each in ids if each])
    return len(ids)
