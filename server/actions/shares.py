"""Links by which a buyer sees what was chosen of a frozen pack; they end, and can be ended."""

from __future__ import annotations

import hashlib
import secrets
from datetime import UTC, datetime, timedelta

from server.actions.packs import frozen_of, stored_pack
from server.core.buyer_view import for_buyer, sound_choice
from server.core.errors import BadValue, NotFound
from server.core.pack import Pack
from server.store import shares as store
from server.store.session import Engine, reading, writing
from server.store.shares import Share

__all__ = ["Share"]

LONGEST_DAYS = 366
LONGEST_WHOM = 200  # characters


def shares_of(engine: Engine, reference: str) -> tuple[Share, ...]:
    """The links of a pack, the newest first."""
    with reading(engine) as session:
        return store.shares_of(session, reference)


def share(engine: Engine, reference: str, person_id: int, *, days: str, whom: str = "") -> str:
    """Make a link to the buyer's view as it is chosen now; gives its secret, once and never again.

    days: how long it holds, as typed
    Raises BadValue, NotFound, and Conflict for a draft.
    """
    stored = stored_pack(engine, reference)
    if not stored.shown:
        raise BadValue(
            "Nothing is chosen for the buyer to see.",
            field="shown",
            remedy="Choose what the buyer may see, look at the preview, then share.",
        )
    _refuse_two_that_tell_the_margin(shares_of(engine, reference), stored.shown)
    token = secrets.token_urlsafe(24)
    with writing(engine, person_id) as session:
        store.add_share(
            session,
            reference,
            token_digest=_digest(token),
            whom=_whom(whom),
            shown=stored.shown,
            expires_at=datetime.now(UTC) + timedelta(days=_days(days)),
        )
    return token


def revoke(engine: Engine, reference: str, number: int, person_id: int) -> None:
    """End a link at once. Raises NotFound."""
    with writing(engine, person_id) as session:
        store.revoke(session, reference, number)


def shared_pack(engine: Engine, token: str) -> Pack:
    """The buyer's view behind a link. Raises NotFound when it never was, has ended or was ended."""
    with reading(engine) as session:
        found = store.share_by_digest(session, _digest(token))
    if found is None or not found.is_open(datetime.now(UTC)):
        raise NotFound(
            "This link does not open anything: it has ended, was taken back, or was not copied "
            "whole.",
            field="link",
            remedy="Ask the person who sent it for another.",
        )
    words = stored_pack(engine, found.reference).words
    return for_buyer(frozen_of(engine, found.reference).pack, found.shown, words=words)


def _refuse_two_that_tell_the_margin(shares: tuple[Share, ...], shown: tuple[str, ...]) -> None:
    """Raises BadValue when an open link and a new one tell the margin side by side."""
    now = datetime.now(UTC)
    for each in shares:
        if not each.is_open(now):
            continue
        try:
            sound_choice({*each.shown, *shown})
        except BadValue as wrong:
            whom = f"for {each.whom}" if each.whom else f"of {each.made_at:%Y-%m-%d %H:%M}"
            raise BadValue(
                f"A link {whom} is open that shows the price where this one shows a cost, or the "
                "other way round; together they tell the margin.",
                field="shown",
                value=", ".join(shown),
                remedy="Take that link back first; what was downloaded from it stays outside.",
            ) from wrong


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def _days(text: str) -> int:
    typed = text.strip()
    days = int(typed) if typed.isascii() and typed.isdecimal() and len(typed) < 5 else 0
    if not 1 <= days <= LONGEST_DAYS:
        raise BadValue(
            f"“{typed[:20]}” is no number of days a link can hold.",
            field="days",
            value=typed,
            unit="d",
            remedy=f"Write a whole number from 1 to {LONGEST_DAYS}.",
        )
    return days


def _whom(text: str) -> str:
    line = " ".join(text.split())
    if len(line) > LONGEST_WHOM or not line.isprintable():
        raise BadValue(
            "Whom a link is for cannot be kept like this.",
            field="whom",
            value=line[:200],
            unit="characters",
            remedy=f"Write at most {LONGEST_WHOM} characters of plain text, or nothing.",
        )
    return line
