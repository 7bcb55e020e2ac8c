"""Meeting packs: drafts that may be edited, and frozen ones that never change."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

from pydantic import TypeAdapter, ValidationError
from sqlmodel import Session, col, select

from server.core.errors import BadValue, Conflict, NotFound
from server.core.given import Frozen, Given
from server.core.pack import Pack
from server.core.sound_pack import refuse_unsound
from server.store.audit import Change, history
from server.store.tables import MeetingPackRow, PackClothRow, PackContent, Person

DRAFT, FROZEN, SUPERSEDED = "draft", "frozen", "superseded"
MOST_CLOTHS = 200  # of one pack
PACKS, GIVENS = TypeAdapter(Pack), TypeAdapter(Given)


@dataclass(frozen=True, slots=True)
class ClothAsked:
    """A construction a pack takes. pairs: keys of those chosen; none takes the first ones"""

    code: str
    variant: str = ""
    pairs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class StoredPack:
    """A pack as it is kept, without its content. version: to be sent back with an edit"""

    id: int
    version: int
    owner: str
    changed_at: datetime
    reference: str
    title: str
    buyer: str
    meeting: date
    notes: str
    words: str
    state: str
    basis_name: str
    basis_changes: Mapping[str, str]
    shown: tuple[str, ...]
    follows: str
    superseded_by: str
    frozen_at: datetime | None
    engine: str
    digest: str
    cloths: tuple[ClothAsked, ...]

    @property
    def typed(self) -> dict[str, str]:
        """The words over it as a form holds them."""
        return {
            "title": self.title,
            "buyer": self.buyer,
            "meeting": self.meeting.isoformat(),
            "notes": self.notes,
            "words": self.words,
        }


@dataclass(frozen=True, slots=True)
class Content:
    """What a frozen pack holds, as text. digest: SHA-256 of both"""

    pack: str
    given: str

    @property
    def digest(self) -> str:
        """Tells whether a single figure was altered."""
        return hashlib.sha256(f"{self.pack}\n{self.given}".encode()).hexdigest()


def content_of(frozen: Frozen) -> Content:
    """A frozen pack as text. Every number is written so that it reads back as the same number."""
    return Content(PACKS.dump_json(frozen.pack).decode(), GIVENS.dump_json(frozen.given).decode())


def read_content(content: Content) -> Frozen:
    """A frozen pack from its text. Raises BadValue when it is no pack, or not a sound one."""
    try:
        pack, given = PACKS.validate_json(content.pack), GIVENS.validate_json(content.given)
    except ValidationError as wrong:
        first = wrong.errors(include_url=False, include_input=False)[0]
        at = ".".join(str(each) for each in first["loc"])
        raise BadValue(
            f"This is no meeting pack of this program: {at}: {first['msg']}.",
            field="file",
            value=at[:120],
            remedy="Export the pack again where it was frozen.",
        ) from wrong
    refuse_unsound(pack)
    return Frozen(pack, given)


def every_pack(session: Session) -> tuple[StoredPack, ...]:
    """All packs, the latest meeting first; three statements."""
    rows = session.exec(select(MeetingPackRow)).all()
    asked: dict[int, list[PackClothRow]] = {}
    for row in session.exec(select(PackClothRow).order_by(col(PackClothRow.position))):
        asked.setdefault(row.pack_id, []).append(row)
    owners: dict[int | None, str] = dict(session.exec(select(Person.id, Person.name)).all())
    found = [_stored(row, asked.get(row.id or 0, []), owners[row.owner_id]) for row in rows]
    return tuple(sorted(found, key=lambda each: (each.meeting, each.id), reverse=True))


def pack_of(session: Session, reference: str) -> StoredPack:
    """One pack, without its content. Raises NotFound."""
    row = _row(session, reference)
    cloths = session.exec(
        select(PackClothRow)
        .where(PackClothRow.pack_id == row.id)
        .order_by(col(PackClothRow.position))
    ).all()
    owner = session.get(Person, row.owner_id)
    return _stored(row, cloths, owner.name if owner else "")


def history_of_pack(session: Session, reference: str) -> tuple[Change, ...]:
    """Every change of a pack's own record, the newest first. Raises NotFound."""
    return history(session, "meeting_pack", _row(session, reference).id or 0)


def content_of_pack(session: Session, reference: str) -> Content:
    """What a frozen pack holds.

    Raises NotFound for a draft, and Conflict when the text is not what was frozen.
    """
    row = _row(session, reference)
    kept = session.exec(select(PackContent).where(PackContent.pack_id == row.id)).first()
    if kept is None:
        raise NotFound(
            f"Pack {reference} is a draft; nothing of it is frozen.",
            field="pack",
            value=reference,
            remedy="Freeze it first.",
        )
    content = Content(kept.pack, kept.given)
    if content.digest != row.digest:
        raise Conflict(
            f"The content of pack {reference} is not what was frozen; it was altered outside of "
            "this program.",
            field="pack",
            value=reference,
            remedy="Import the pack from its exported file, or restore the database.",
        )
    return content


def add_draft(session: Session, values: Mapping[str, Any], cloths: Sequence[ClothAsked]) -> str:
    """Store a new draft and give its reference. Raises BadValue when the reference is taken."""
    row = MeetingPackRow(owner_id=session.info["person_id"], **values)
    taken = select(MeetingPackRow.id).where(MeetingPackRow.reference == row.reference)
    if session.exec(taken).first() is not None:
        raise BadValue(
            f"There is a pack {row.reference} already.",
            field="reference",
            value=row.reference,
            remedy="Open that one, or repeat to get another reference.",
        )
    session.add(row)
    session.flush()
    _put_cloths(session, row, cloths)
    return row.reference


def change_draft(
    session: Session,
    reference: str,
    values: Mapping[str, Any],
    version: int,
    cloths: Sequence[ClothAsked] | None = None,
) -> None:
    """Change a draft. Raises NotFound, Conflict when it is frozen or was changed since."""
    row = _draft(session, reference)
    refuse_older(row.row_version, version, reference)
    for name, value in values.items():
        setattr(row, name, value)
    row.changed_at = datetime.now(UTC)  # so that a change of its cloths is a change of the pack
    if cloths is not None:
        for each in session.exec(select(PackClothRow).where(PackClothRow.pack_id == row.id)).all():
            session.delete(each)
        session.flush()
        _put_cloths(session, row, cloths)
    session.flush()


def remove_draft(session: Session, reference: str) -> None:
    """Remove a draft; a frozen pack stays for ever. Raises NotFound, Conflict."""
    row = _draft(session, reference)
    for each in session.exec(select(PackClothRow).where(PackClothRow.pack_id == row.id)).all():
        session.delete(each)
    session.flush()
    session.delete(row)
    session.flush()


def freeze_draft(session: Session, reference: str, content: Content, version: int) -> None:
    """Freeze a draft with its content; the pack it follows becomes superseded.

    Raises NotFound, Conflict when it is frozen already or was changed since `version`.
    """
    row = _draft(session, reference)
    refuse_older(row.row_version, version, reference)
    frozen = PACKS.validate_json(content.pack)
    row.state, row.frozen_at, row.engine = FROZEN, frozen.made_at, frozen.engine
    row.digest = content.digest
    session.add(PackContent(pack_id=row.id or 0, pack=content.pack, given=content.given))
    before = _maybe(session, row.follows) if row.follows else None
    if before is not None and before.state == FROZEN:
        before.state, before.superseded_by = SUPERSEDED, row.reference
    session.flush()


def add_frozen(
    session: Session, values: Mapping[str, Any], content: Content, cloths: Sequence[ClothAsked]
) -> str:
    """Store a pack that was frozen elsewhere. Raises BadValue when its reference is taken."""
    reference = add_draft(session, values, cloths)
    row = _row(session, reference)
    session.add(PackContent(pack_id=row.id or 0, pack=content.pack, given=content.given))
    session.flush()
    return reference


def choose_shown(session: Session, reference: str, shown: Sequence[str], version: int) -> None:
    """Choose what a buyer may see, of a draft or a frozen pack; words and figures stay as they are.

    Raises NotFound, Conflict.
    """
    row = _row(session, reference)
    refuse_older(row.row_version, version, reference)
    row.shown = list(shown)
    session.flush()


def refuse_older(now: int, version: int, reference: str) -> None:
    """Raises Conflict when a form was filled from an older state than the present one."""
    if now != version:
        raise Conflict(
            f"Somebody else changed pack {reference} since you opened it (version {version}, now "
            f"{now}); nothing was stored.",
            field="version",
            value=version,
            remedy="Open it again, compare, and repeat your change.",
        )


def _stored(row: MeetingPackRow, cloths: Sequence[PackClothRow], owner: str) -> StoredPack:
    return StoredPack(
        id=row.id or 0,
        version=row.row_version,
        owner=owner,
        changed_at=row.changed_at,
        reference=row.reference,
        title=row.title,
        buyer=row.buyer,
        meeting=row.meeting,
        notes=row.notes,
        words=row.words,
        state=row.state,
        basis_name=row.basis_name,
        basis_changes=dict(row.basis_changes),
        shown=tuple(row.shown),
        follows=row.follows,
        superseded_by=row.superseded_by,
        frozen_at=row.frozen_at,
        engine=row.engine,
        digest=row.digest,
        cloths=tuple(ClothAsked(each.code, each.variant, tuple(each.pairs)) for each in cloths),
    )


def _put_cloths(session: Session, row: MeetingPackRow, cloths: Sequence[ClothAsked]) -> None:
    if len(cloths) > MOST_CLOTHS:
        raise BadValue(
            f"A pack holds at most {MOST_CLOTHS} constructions and variants.",
            field="cloths",
            value=len(cloths),
            remedy="Make a second pack.",
        )
    for position, each in enumerate(cloths, 1):
        session.add(
            PackClothRow(
                owner_id=session.info["person_id"],
                pack_id=row.id or 0,
                position=position,
                code=each.code,
                variant=each.variant,
                pairs=list(each.pairs),
            )
        )
    session.flush()


def _draft(session: Session, reference: str) -> MeetingPackRow:
    row = _row(session, reference)
    if row.state != DRAFT:
        raise Conflict(
            f"Pack {reference} is {row.state}; it never changes.",
            field="pack",
            value=reference,
            remedy="Make a new draft that follows it.",
        )
    return row


def _row(session: Session, reference: str) -> MeetingPackRow:
    row = _maybe(session, reference)
    if row is None:
        raise NotFound(
            f"There is no meeting pack {reference[:60]}.",
            field="pack",
            value=reference,
            remedy="Choose one from Meetings.",
        )
    return row


def _maybe(session: Session, reference: str) -> MeetingPackRow | None:
    return session.exec(select(MeetingPackRow).where(MeetingPackRow.reference == reference)).first()
