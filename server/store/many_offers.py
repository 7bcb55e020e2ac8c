"""Many offers at once: reading the few fields that a change of many is about, and storing it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select
from sqlmodel import Session, col

from server.store.audit import as_text
from server.store.bulk import PIECE, RowChange, add_rows, change_rows, in_pieces
from server.store.offer_tests import newest_lot
from server.store.offers import YARN_FIELDS
from server.store.records import Values
from server.store.tables import OfferRow, QuestionRow, TestValueRow, YarnRow

LOT_FIELDS = {"test_method": "method", "test_lot": "lot", "tested_on": "tested_on"}
"""Fields of the entry that belong to the newest lot, with their columns."""


@dataclass(frozen=True, slots=True)
class OfferSeen:
    """An offer as a change of many offers sees it. tests: how many values its newest lot has."""

    id: int
    code: str
    version: int
    values: Mapping[str, Any]
    tests: int


@dataclass(frozen=True, slots=True)
class OfferChange:
    """New values of some fields of the entry of one offer, decided at a version of it."""

    offer_id: int
    version: int
    values: Mapping[str, Any]


def offers_by_code(
    session: Session, codes: Sequence[str], fields: Collection[str]
) -> Iterator[list[OfferSeen]]:
    """These offers in the order of their codes given, in pieces; unknown codes are left out."""
    for piece in in_pieces(codes):
        found = {each.code: each for each in _read(session, fields, col(OfferRow.code).in_(piece))}
        yield [found[code] for code in piece if code in found]


def offers_by_id(
    session: Session, ids: Sequence[int], fields: Collection[str]
) -> Iterator[list[OfferSeen]]:
    """These offers, in pieces; those that are gone are left out."""
    for piece in in_pieces(ids):
        yield _read(session, fields, col(OfferRow.id).in_(piece))


def change_offers(session: Session, changes: Iterable[OfferChange]) -> int:
    """Store changes of many offers; gives how many were changed. Raises Conflict.

    A change of the yarn finds or makes the yarn of the new description, as one offer's edit does.
    """
    return sum(_change_piece(session, piece) for piece in in_pieces(changes))


def _read(session: Session, fields: Collection[str], wanted: Any) -> list[OfferSeen]:
    own = [name for name in fields if name not in YARN_FIELDS and name not in LOT_FIELDS]
    of_yarn = [name for name in fields if name in YARN_FIELDS]
    statement = (
        select(
            col(OfferRow.id), col(OfferRow.code), col(OfferRow.row_version),
            *(getattr(OfferRow, name) for name in own),
            *(getattr(YarnRow, name) for name in of_yarn),
        )
        .join(YarnRow, col(YarnRow.id) == col(OfferRow.yarn_id))
        .where(wanted)
        .order_by(col(OfferRow.id))
    )  # fmt: skip
    rows = session.execute(statement).all()
    lots: dict[int, list[TestValueRow]] = {}
    if any(name in LOT_FIELDS for name in fields):
        lots = _newest_lots(session, [row[0] for row in rows])
    return [
        OfferSeen(
            row[0],
            row[1],
            row[2],
            dict(zip((*own, *of_yarn), row[3:], strict=True)) | _of_lot(lots.get(row[0], ())),
            len(lots.get(row[0], ())),
        )
        for row in rows
    ]


def _of_lot(lot: Sequence[TestValueRow]) -> Values:
    return {name: getattr(lot[0], column) for name, column in LOT_FIELDS.items()} if lot else {}


def _newest_lots(session: Session, ids: Sequence[int]) -> dict[int, list[TestValueRow]]:
    found = select(TestValueRow).where(col(TestValueRow.offer_id).in_(ids))
    rows: dict[int, list[TestValueRow]] = defaultdict(list)
    for row in session.execute(found).scalars():
        rows[row.offer_id].append(row)
    return {offer_id: newest_lot(values) for offer_id, values in rows.items()}


def _change_piece(session: Session, piece: Sequence[OfferChange]) -> int:
    yarn_ids = _new_yarns(session, piece)
    rows = []
    for change in piece:
        values = {
            name: value
            for name, value in change.values.items()
            if name not in YARN_FIELDS and name not in LOT_FIELDS
        }
        if change.offer_id in yarn_ids:
            values["yarn_id"] = yarn_ids[change.offer_id]
        touched = any(name in LOT_FIELDS for name in change.values)
        rows.append(RowChange(change.offer_id, change.version, values, touched))
    changed = change_rows(session, OfferRow, rows)
    change_rows(session, TestValueRow, list(_lot_changes(session, piece)))
    change_rows(session, QuestionRow, list(_answers(session, piece)))
    return changed


def _answers(session: Session, piece: Sequence[OfferChange]) -> Iterator[RowChange]:
    """A question is closed when its field is filled in, as on the form of one offer."""
    said = {change.offer_id: change.values for change in piece}
    statement = (
        select(QuestionRow)
        .where(col(QuestionRow.offer_id).in_(list(said)), col(QuestionRow.answer) == "")
        .where(col(QuestionRow.field).in_({name for values in said.values() for name in values}))
    )
    for row in session.execute(statement).scalars():
        value = said[row.offer_id].get(row.field)
        if value not in (None, "", "unknown"):
            answer = (as_text(value) or "")[:200]
            yield RowChange(row.id or 0, row.row_version, {"answer": answer})


def _lot_changes(session: Session, piece: Sequence[OfferChange]) -> Iterator[RowChange]:
    about = {change.offer_id: change for change in piece if set(change.values) & set(LOT_FIELDS)}
    for offer_id, lot in _newest_lots(session, list(about)).items() if about else ():
        values = {
            LOT_FIELDS[name]: value
            for name, value in about[offer_id].values.items()
            if name in LOT_FIELDS
        }
        for row in lot:
            yield RowChange(row.id or 0, row.row_version, values)


def _new_yarns(session: Session, piece: Sequence[OfferChange]) -> dict[int, int]:
    """Offer -> yarn of its new description, for the offers whose yarn changes."""
    changed = {
        change.offer_id: {n: v for n, v in change.values.items() if n in YARN_FIELDS}
        for change in piece
    }
    changed = {offer_id: values for offer_id, values in changed.items() if values}
    if not changed:
        return {}
    whole = ("supplier_id", *YARN_FIELDS)
    statement = (
        select(col(OfferRow.id), *(getattr(YarnRow, name) for name in whole))
        .join(YarnRow, col(YarnRow.id) == col(OfferRow.yarn_id))
        .where(col(OfferRow.id).in_(list(changed)))
    )
    described = {
        row[0]: {**dict(zip(whole, row[1:], strict=True)), **changed[row[0]]}
        for row in session.execute(statement)
    }
    known = _known_yarns(session, list(described.values()))
    missing = {_key(each): each for each in described.values() if _key(each) not in known}
    made = add_rows(session, YarnRow, list(missing.values()))
    known |= dict(zip(missing, made, strict=True))
    return {offer_id: known[_key(each)] for offer_id, each in described.items()}


def _known_yarns(session: Session, described: Sequence[Values]) -> dict[tuple[Any, ...], int]:
    """Stored yarns that may be of these descriptions, the first of several alike."""
    whole = ("supplier_id", *YARN_FIELDS)
    statement = (
        select(col(YarnRow.id), *(getattr(YarnRow, name) for name in whole))
        .where(col(YarnRow.supplier_id).in_({each["supplier_id"] for each in described}))
        .where(
            *(
                getattr(YarnRow, name).in_({each[name] for each in described})
                for name in ("count", "spinning", "twist", "preparation", "effect", "fibre_mix")
            )
        )
        .order_by(col(YarnRow.id).desc())
    )
    wanted = {_key(each) for each in described}
    found = {}
    for row in session.execute(statement, execution_options={"yield_per": PIECE}):
        key = _key(dict(zip(whole, row[1:], strict=True)))
        if key in wanted:
            found[key] = row[0]
    return found


def _key(values: Mapping[str, Any]) -> tuple[Any, ...]:
    return tuple(as_text(values[name]) for name in ("supplier_id", *YARN_FIELDS))
