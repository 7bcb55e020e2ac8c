"""Files that belong to offers. The bytes are kept once and go when nothing refers to them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session, SQLModel, col, func, select

from server.core.errors import BadValue, NotFound
from server.store.intakes import add_file
from server.store.offer_tests import offer_row, touch
from server.store.tables import AttachmentRow, Person, StoredFile, TestValueRow

MOST_FILES = 50  # of one offer


@dataclass(frozen=True, slots=True)
class Attachment:
    """A file of an offer. size: in bytes; sha256: digest of its content; values: read in it."""

    id: int
    name: str
    kind: str
    note: str
    size: int
    sha256: str
    at: datetime
    person: str
    values: int


def attachments(session: Session, code: str) -> tuple[Attachment, ...]:
    """The files of an offer in the order they came, without their content. Raises NotFound."""
    offer = offer_row(session, code)
    read_in = (
        select(func.count())
        .where(TestValueRow.attachment_id == AttachmentRow.id)
        .correlate(AttachmentRow)
        .scalar_subquery()
    )
    found = session.execute(
        select(AttachmentRow, StoredFile.size, StoredFile.sha256, Person.name, read_in)  # type: ignore[call-overload]
        .join(StoredFile, col(StoredFile.id) == col(AttachmentRow.file_id))
        .join(Person, col(Person.id) == col(AttachmentRow.owner_id))
        .where(AttachmentRow.offer_id == offer.id)
        .order_by(col(AttachmentRow.id))
    )
    return tuple(
        Attachment(row.id, row.name, row.kind, row.note, size, digest, row.changed_at, person, used)
        for row, size, digest, person, used in found
    )


def attach_file(
    session: Session, code: str, *, name: str, content: bytes, kind: str, note: str
) -> int:
    """Keep a file with an offer and give the attachment's id. Raises BadValue, NotFound."""
    offer = offer_row(session, code)
    file_id = add_file(session, name, content)
    there = session.exec(select(AttachmentRow).where(AttachmentRow.offer_id == offer.id)).all()
    if any(row.file_id == file_id for row in there):
        raise BadValue(
            f"“{name[:60]}” with this content is attached already.",
            field="file",
            value=name,
            remedy="Choose another file, or remove that one first.",
        )
    if len(there) >= MOST_FILES:
        raise BadValue(
            f"Offer {code} has {MOST_FILES} files, the most an offer can have.",
            field="file",
            value=name,
            remedy="Remove files that no longer matter.",
        )
    row = AttachmentRow(
        owner_id=session.info["person_id"],
        offer_id=offer.id or 0,
        file_id=file_id,
        name=name[:200],
        kind=kind,
        note=note,
    )
    session.add(row)
    touch(offer)
    session.flush()
    return row.id or 0


def content_of(session: Session, code: str, attachment_id: int) -> tuple[str, bytes]:
    """Name and bytes of a file of an offer. Raises NotFound."""
    row = _row(session, code, attachment_id)
    file = session.get_one(StoredFile, row.file_id)
    return row.name, file.content


def detach_file(session: Session, code: str, attachment_id: int) -> None:
    """Take a file from an offer; its bytes go when nothing else refers to them. Raises NotFound.

    The audit keeps the name; test values read in the file stay and lose the link.
    """
    row = _row(session, code, attachment_id)
    values = select(TestValueRow).where(TestValueRow.attachment_id == row.id)
    for value in session.exec(values).all():
        value.attachment_id = None
    session.flush()
    session.delete(row)
    touch(offer_row(session, code))
    session.flush()
    if not _is_used(session, row.file_id):
        session.delete(session.get_one(StoredFile, row.file_id))
        session.flush()


def _row(session: Session, code: str, attachment_id: int) -> AttachmentRow:
    offer = offer_row(session, code)
    row = session.get(AttachmentRow, attachment_id) if attachment_id < 2**31 else None
    if row is None or row.offer_id != offer.id:
        raise NotFound(
            f"Offer {code[:40]} has no such file.",
            field="file",
            value=attachment_id,
            remedy="It may be removed already; look at the offer again.",
        )
    return row


def _is_used(session: Session, file_id: int) -> bool:
    """Whether a row of any table refers to the bytes."""
    links: Sequence[tuple[type, str]] = [
        (table, key.parent.name)  # type: ignore[misc]
        for table in SQLModel.metadata.sorted_tables
        for key in table.foreign_keys
        if key.column.table.name == StoredFile.__tablename__
    ]
    return any(
        session.execute(
            select(func.count()).select_from(table).where(table.c[name] == file_id)  # type: ignore[attr-defined]
        ).scalar_one()
        for table, name in links
    )
