"""Decisions to accept a finding of the gate: made for one offer, withdrawn, kept in the audit."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping
from typing import Any

from sqlmodel import Session, col, select

from server.core.errors import BadValue, NotFound
from server.core.overrides import Override, in_words
from server.store.tables import GateOverrideRow, OfferRow, Person


def override_value(row: GateOverrideRow, person: str) -> Override:
    """A stored decision as a core value."""
    day = row.changed_at.date()
    return Override(row.id or 0, row.role, row.about, row.reason, person, day, row.until)


def decisions_about(session: Session, offer_ids: Collection[int]) -> dict[int, str]:
    """Decisions about some offers, in words; offers without one are left out."""
    found: dict[int, list[Override]] = defaultdict(list)
    statement = (
        select(GateOverrideRow, Person.name)
        .join(Person, col(Person.id) == col(GateOverrideRow.owner_id))
        .where(col(GateOverrideRow.offer_id).in_(offer_ids))
        .order_by(col(GateOverrideRow.id))
    )
    for row, person in session.exec(statement):
        found[row.offer_id].append(override_value(row, person))
    return {offer_id: in_words(made) for offer_id, made in found.items()}


def add_override(session: Session, code: str, values: Mapping[str, Any]) -> int:
    """Store a decision about an offer, in the name of the session's person; gives its id.

    Raises NotFound without such an offer, BadValue when this is accepted already.
    """
    offer_id = _offer_id(session, code)
    taken = session.exec(
        select(GateOverrideRow.id)
        .where(GateOverrideRow.offer_id == offer_id)
        .where(GateOverrideRow.role == values["role"])
        .where(GateOverrideRow.about == values["about"])
    ).first()
    if taken is not None:
        raise BadValue(
            f"The {values['about']} of {code} has a decision for {values['role']} already.",
            field="about",
            value=values["about"],
            remedy="Withdraw that one first.",
        )
    row = GateOverrideRow(owner_id=session.info["person_id"], offer_id=offer_id, **values)
    session.add(row)
    session.flush()
    return row.id or 0


def remove_override(session: Session, code: str, override_id: int) -> None:
    """Withdraw a decision about an offer; the audit keeps it. Raises NotFound."""
    row = session.get(GateOverrideRow, override_id)
    if row is None or row.offer_id != _offer_id(session, code):
        raise NotFound(
            f"There is no decision {override_id} about offer {code[:40]}.",
            field="override",
            value=override_id,
            remedy="Open the offer again; somebody may have withdrawn it.",
        )
    session.delete(row)
    session.flush()


def _offer_id(session: Session, code: str) -> int:
    found = None
    if "\0" not in code:
        found = session.exec(select(OfferRow.id).where(OfferRow.code == code)).first()
    if found is None:
        raise NotFound(
            f"There is no offer “{code[:40]}”.",
            field="offer",
            value=code,
            remedy="Check the address or the list.",
        )
    return found
