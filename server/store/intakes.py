"""Intakes: a paste or a file, its lines as they were read, and the offers they became.

Lines are staged in bulk and hold no price that counts; offers are written in one transaction. The
bytes as received are kept and never changed.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import bindparam, delete, func, insert, update
from sqlmodel import Session, col, select
from sqlmodel.sql.expression import SelectOfScalar

from server.core.errors import NotFound
from server.core.offer import Supplier
from server.store.tables import (
    IntakeLine,
    IntakeRow,
    LayoutRow,
    OfferRow,
    Person,
    QuestionRow,
    StoredFile,
    SupplierRow,
    YarnRow,
)

PIECE = 500  # rows written or read at once
_LINES = IntakeLine.__table__  # type: ignore[attr-defined]
OUTCOMES = ("accepted", "asked", "doubtful", "faulty")


@dataclass(frozen=True, slots=True)
class Intake:
    """One paste or file. supplier: "" when each line names its own."""

    id: int
    version: int
    owner: str
    arrived_at: datetime
    supplier: str
    name: str
    size: int
    kind: str
    received_on: date
    state: str
    sheet: str
    encoding: str
    separator: str
    heading_line: int
    columns: Mapping[int, str]
    date_order: str
    decimal_mark: str
    answers: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Line:
    """One line of an intake. See IntakeLine for what its parts hold. offer: code of the offer it
    became, "" without one."""

    id: int
    line: int
    text: str
    values: Mapping[str, str]
    pieces: Sequence[Sequence[Any]]
    questions: Sequence[Sequence[Any]]
    faults: Sequence[Sequence[str]]
    doubts: Sequence[Sequence[str]]
    outcome: str
    earlier: str
    likeness: str
    decision: str
    offer: str


def add_file(session: Session, name: str, content: bytes) -> int:
    """Keep a file as received; the same bytes under the same name are kept once. Gives its id."""
    digest = hashlib.sha256(content).hexdigest()
    known = session.exec(
        select(StoredFile.id).where(StoredFile.sha256 == digest, StoredFile.name == name[:200])
    ).first()
    if known is not None:
        return known
    row = StoredFile(name=name[:200], size=len(content), sha256=digest, content=content)
    session.add(row)
    session.flush()
    return row.id or 0


def add_intake(session: Session, *, supplier: str, file_id: int, **values: Any) -> int:
    """A new intake. supplier: name, or "" when the lines name it. Gives its id."""
    row = IntakeRow(
        owner_id=session.info["person_id"],
        supplier_id=supplier_id(session, supplier) if supplier else None,
        file_id=file_id,
        **values,
    )
    session.add(row)
    session.flush()
    return row.id or 0


def supplier_id(session: Session, name: str) -> int:
    """Id of a supplier by name. Raises NotFound."""
    found = session.exec(select(SupplierRow.id).where(SupplierRow.name == name)).first()
    if found is None:
        raise NotFound(
            f"There is no supplier “{name[:60]}”.",
            field="supplier",
            value=name,
            remedy="Add the supplier first, or choose one from the list.",
        )
    return found


def suppliers(session: Session) -> dict[str, Supplier]:
    """Every supplier by name."""
    return {
        row.name: Supplier(row.id or 0, row.name, row.country, row.makes, row.origin_state)
        for row in session.exec(select(SupplierRow)).all()
    }


def intake_row(session: Session, intake_id: int) -> IntakeRow:
    """The row of an intake. Raises NotFound."""
    row = session.get(IntakeRow, intake_id)
    if row is None:
        raise NotFound(
            f"There is no intake {intake_id}.",
            field="intake",
            value=intake_id,
            remedy="Choose one from the list of intakes.",
        )
    return row


def one(session: Session, intake_id: int) -> Intake:
    """An intake. Raises NotFound."""
    row = intake_row(session, intake_id)
    return next(iter(_intakes(session, [row])))


def newest(session: Session, *, before: int | None = None, most: int = 100) -> list[Intake]:
    """Intakes, the newest first. before: only those with a smaller id."""
    statement = select(IntakeRow).order_by(col(IntakeRow.id).desc()).limit(most)
    if before is not None:
        statement = statement.where(col(IntakeRow.id) < before)
    return list(_intakes(session, session.exec(statement).all()))


def _intakes(session: Session, rows: Sequence[IntakeRow]) -> Iterator[Intake]:
    names = dict(session.exec(select(SupplierRow.id, SupplierRow.name)).all())
    people = dict(session.exec(select(Person.id, Person.name)).all())
    files = {
        file_id: (name, size)
        for file_id, name, size in session.exec(
            select(StoredFile.id, StoredFile.name, StoredFile.size).where(
                col(StoredFile.id).in_([row.file_id for row in rows])
            )
        )
    }
    for row in rows:
        name, size = files[row.file_id]
        yield Intake(
            row.id or 0, row.row_version, people.get(row.owner_id, ""), row.changed_at,
            names.get(row.supplier_id, "") if row.supplier_id else "", name, size, row.kind,
            row.received_on, row.state, row.sheet, row.encoding, row.separator, row.heading_line,
            {int(number): field for number, field in row.columns.items()}, row.date_order,
            row.decimal_mark, dict(row.answers),
        )  # fmt: skip


def content_of(session: Session, intake_id: int) -> tuple[str, bytes]:
    """Name and bytes of the file as received. Raises NotFound."""
    file = session.get(StoredFile, intake_row(session, intake_id).file_id)
    assert file is not None
    return file.name, file.content


def replace_lines(
    session: Session, intake_id: int, pieces: Iterable[Sequence[Mapping[str, Any]]]
) -> None:
    """Put the lines of an intake in place of those it had. pieces: rows of IntakeLine, in parts."""
    session.execute(delete(IntakeLine).where(col(IntakeLine.intake_id) == intake_id))
    for piece in pieces:
        if piece:
            session.connection().execute(insert(_LINES), [dict(row) for row in piece])


def update_lines(session: Session, rows: Sequence[Mapping[str, Any]]) -> None:
    """Change lines in bulk. rows: id and the columns to set."""
    if rows:
        named = [{f"_{name}": value for name, value in row.items()} for row in rows]
        columns: dict[str, Any] = {name: bindparam(f"_{name}") for name in rows[0] if name != "id"}
        statement = update(_LINES).where(_LINES.c.id == bindparam("_id")).values(columns)
        session.connection().execute(statement, named)


def lines_of(
    session: Session, intake_id: int, *, outcome: str = "", after: int = 0, most: int = PIECE
) -> list[Line]:
    """Lines of an intake in their order. after: the last line number already seen."""
    statement = (
        _lines()
        .where(col(IntakeLine.intake_id) == intake_id, col(IntakeLine.line) > after)
        .order_by(col(IntakeLine.line))
        .limit(most)
    )
    if outcome:
        statement = statement.where(IntakeLine.outcome == outcome)
    found = [_line(row, code) for row, code in session.exec(statement).all()]
    session.expunge_all()
    return found


def all_lines(session: Session, intake_id: int) -> Iterator[list[Line]]:
    """All lines in parts, so that a long file never stands in memory whole."""
    after = 0
    while piece := lines_of(session, intake_id, after=after):
        yield piece
        after = piece[-1].line


def line_of(session: Session, intake_id: int, line: int) -> Line | None:
    """One line by its number."""
    found = session.exec(
        _lines().where(IntakeLine.intake_id == intake_id, IntakeLine.line == line)
    ).first()
    return None if found is None else _line(*found)


def _lines() -> SelectOfScalar[tuple[IntakeLine, str | None]]:
    return select(IntakeLine, OfferRow.code).outerjoin(  # type: ignore[return-value]
        OfferRow, col(OfferRow.id) == col(IntakeLine.offer_id)
    )


def _line(row: IntakeLine, code: str | None) -> Line:
    return Line(
        row.id or 0, row.line, row.text, row.values, row.pieces, row.questions, row.faults,
        row.doubts, row.outcome, row.earlier, row.likeness, row.decision, code or "",
    )  # fmt: skip


def counts_of(session: Session, intake_id: int) -> dict[str, int]:
    """How many lines have each outcome, how many leave each decision."""
    outcomes = session.exec(
        select(IntakeLine.outcome, func.count())
        .where(IntakeLine.intake_id == intake_id)
        .group_by(IntakeLine.outcome)
    ).all()
    decisions = session.exec(
        select(IntakeLine.decision, func.count())
        .where(IntakeLine.intake_id == intake_id)
        .group_by(IntakeLine.decision)
    ).all()
    likeness = session.exec(
        select(IntakeLine.likeness, func.count())
        .where(IntakeLine.intake_id == intake_id, IntakeLine.likeness != "")
        .group_by(IntakeLine.likeness)
    ).all()
    return {**dict(outcomes), **dict(decisions), **dict(likeness)}


def lines_at(session: Session, intake_id: int, outcome: str = "") -> int:
    """How many lines there are, of one outcome or of all."""
    statement = select(func.count()).where(col(IntakeLine.intake_id) == intake_id)
    if outcome:
        statement = statement.where(col(IntakeLine.outcome) == outcome)
    return session.exec(statement).one()


@dataclass(frozen=True, slots=True)
class Standing:
    """A current offer, as far as a new line is held against it."""

    code: str
    supplier: str
    yarn: tuple[str, ...]
    preparation: str
    twist: str
    term: str
    place: str
    price: tuple[str, str, str]
    quoted_on: date
    as_quoted: str


def current_offers(session: Session, suppliers: Sequence[str]) -> Iterator[Standing]:
    """Offers of some suppliers that no later one replaces."""
    later = select(OfferRow.replaces_id).where(col(OfferRow.replaces_id).is_not(None))
    statement = (
        select(OfferRow, YarnRow, SupplierRow.name)
        .join(YarnRow, col(YarnRow.id) == col(OfferRow.yarn_id))
        .join(SupplierRow, col(SupplierRow.id) == col(OfferRow.supplier_id))
        .where(col(SupplierRow.name).in_(suppliers), col(OfferRow.id).not_in(later))
        .execution_options(yield_per=PIECE)
    )
    for offer, yarn, name in session.exec(statement):
        yield Standing(
            offer.code,
            name,
            (
                str(yarn.count.normalize()), yarn.count_system, str(yarn.ply), yarn.spinning,
                yarn.effect, yarn.core,
            ),
            yarn.preparation,
            yarn.twist,
            offer.term,
            offer.place,
            (str(offer.price.normalize()), offer.currency, offer.price_unit),
            offer.quoted_on,
            offer.as_quoted,
        )  # fmt: skip
        session.expunge(offer)


def layout_of(session: Session, supplier: str, headings: str) -> LayoutRow | None:
    """How the last sheet of this supplier with these headings was read."""
    return session.exec(
        select(LayoutRow)
        .join(SupplierRow, col(SupplierRow.id) == col(LayoutRow.supplier_id))
        .where(SupplierRow.name == supplier, LayoutRow.headings == headings[:2000])
    ).first()


def remember_layout(
    session: Session,
    supplier: str,
    headings: str,
    columns: Mapping[str, str],
    date_order: str,
    decimal_mark: str,
) -> None:
    """Keep how this sheet is read for the next one with the same headings."""
    row = layout_of(session, supplier, headings)
    if row is None:
        row = LayoutRow(
            owner_id=session.info["person_id"],
            supplier_id=supplier_id(session, supplier),
            headings=headings[:2000],
        )
        session.add(row)
    row.columns, row.date_order, row.decimal_mark = dict(columns), date_order, decimal_mark


def likely_answers(session: Session, suppliers: Sequence[str]) -> dict[str, dict[str, str]]:
    """What each supplier answered last time to the question about a field."""
    found = session.exec(
        select(SupplierRow.name, QuestionRow.field, QuestionRow.answer)
        .join(OfferRow, col(OfferRow.id) == col(QuestionRow.offer_id))
        .join(SupplierRow, col(SupplierRow.id) == col(OfferRow.supplier_id))
        .where(col(SupplierRow.name).in_(suppliers), QuestionRow.answer != "")
        .order_by(col(QuestionRow.id))
        .limit(5000)
    ).all()
    answers: dict[str, dict[str, str]] = {}
    for supplier, field, answer in found:
        answers.setdefault(supplier, {})[field] = answer
    return answers
