"""Links by which somebody outside sees the buyer's view of a frozen pack."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from sqlmodel import Session, col, select

from server.core.errors import BadValue, Conflict, NotFound
from server.store.packs import DRAFT
from server.store.tables import MeetingPackRow, PackShareRow, Person

HIGHEST_ID = 2**31  # beyond it no database has a row
MOST_SHARES = 50  # of one pack that are open at a time


@dataclass(frozen=True, slots=True)
class Share:
    """A link without its secret. expires_at, revoked_at: moments in UTC"""

    id: int
    reference: str
    whom: str
    shown: tuple[str, ...]
    made_at: datetime
    made_by: str
    expires_at: datetime
    revoked_at: datetime | None

    def is_open(self, at: datetime) -> bool:
        """Whether it may be used at a moment."""
        return self.revoked_at is None and at < self.expires_at


def shares_of(session: Session, reference: str) -> tuple[Share, ...]:
    """The links of a pack, the newest first; one statement."""
    found = session.exec(
        select(PackShareRow, Person.name)
        .join(MeetingPackRow, col(MeetingPackRow.id) == col(PackShareRow.pack_id))
        .join(Person, col(Person.id) == col(PackShareRow.owner_id))
        .where(MeetingPackRow.reference == reference)
        .order_by(col(PackShareRow.id).desc())
    )
    return tuple(_share(row, reference, owner) for row, owner in found)


def add_share(
    session: Session,
    reference: str,
    *,
    token_digest: str,
    whom: str,
    shown: Sequence[str],
    expires_at: datetime,
) -> None:
    """Store a link. Raises NotFound, Conflict for a draft, BadValue for too many."""
    pack = session.exec(select(MeetingPackRow).where(MeetingPackRow.reference == reference)).first()
    if pack is None or pack.state == DRAFT:
        raise Conflict(
            f"Only a frozen pack can be shared; {reference[:60]} is not frozen.",
            field="pack",
            value=reference,
            remedy="Freeze it first.",
        )
    now = datetime.now(UTC)
    if sum(each.is_open(now) for each in shares_of(session, reference)) >= MOST_SHARES:
        raise BadValue(
            f"This pack has {MOST_SHARES} open links, the most it can have.",
            field="whom",
            value=whom,
            remedy="Revoke one that is not needed.",
        )
    session.add(
        PackShareRow(
            owner_id=session.info["person_id"],
            pack_id=pack.id or 0,
            token_digest=token_digest,
            whom=whom,
            shown=list(shown),
            expires_at=expires_at,
        )
    )
    session.flush()


def revoke(session: Session, reference: str, number: int) -> None:
    """End a link for ever; one that was ended stays as it was. Raises NotFound."""
    row = session.get(PackShareRow, number) if 0 < number < HIGHEST_ID else None
    pack = session.get(MeetingPackRow, row.pack_id) if row else None
    if row is None or pack is None or pack.reference != reference:
        raise NotFound(
            f"Pack {reference[:60]} has no link {number}.",
            field="link",
            value=number,
            remedy="Open the pack again.",
        )
    if row.revoked_at is None:
        row.revoked_at = datetime.now(UTC)
    session.flush()


def share_by_digest(session: Session, token_digest: str) -> Share | None:
    """A link by the digest of its secret; one statement."""
    found = session.exec(
        select(PackShareRow, MeetingPackRow.reference)
        .join(MeetingPackRow, col(MeetingPackRow.id) == col(PackShareRow.pack_id))
        .where(PackShareRow.token_digest == token_digest)
    ).first()
    return None if found is None else _share(found[0], found[1], "")


def _share(row: PackShareRow, reference: str, owner: str) -> Share:
    return Share(
        row.id or 0,
        reference,
        row.whom,
        tuple(row.shown),
        row.made_at,
        owner,
        row.expires_at,
        row.revoked_at,
    )
