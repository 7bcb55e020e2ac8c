"""Questions about an offer and their answers."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlmodel import Session, select

from server.core.errors import BadValue, Conflict
from server.store.offers import OfferKeeper
from server.store.tables import OfferRow, QuestionRow

_NOTHING = (None, "", "unknown")


def put_answer(
    session: Session, code: str, field: str, answer: str, values: Mapping[str, Any], version: int
) -> None:
    """Store the answer to a question, and the offer with it.

    field: the field asked about; answer: as typed; values: the whole entry with the answer in it
    version: of the offer when the answer was given
    Raises BadValue when the seller said it already, Conflict when somebody was quicker.
    """
    keeper = OfferKeeper()
    kept = keeper.one(session, code)
    if kept.version != version:
        raise Conflict(
            "Somebody else changed this offer since you opened it; nothing was stored.",
            field="code",
            value=code,
            remedy="Open it again, and answer what is still open.",
        )
    offer = session.exec(select(OfferRow).where(OfferRow.code == code)).one()
    question = session.exec(
        select(QuestionRow).where(QuestionRow.offer_id == offer.id, QuestionRow.field == field)
    ).first()
    if question is None and kept.values.get(field) not in _NOTHING:
        raise BadValue(
            f"{field.replace('_', ' ').capitalize()} is kept as quoted and cannot change "
            f"(“{kept.values[field]}”).",
            field=field,
            value=answer,
            remedy="Record a new offer that replaces this one.",
        )
    if question is not None:
        question.answer = answer[:200]
    keeper.fill(session, kept, values)
