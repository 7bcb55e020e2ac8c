"""Decisions to accept a finding of the gate: made for one offer, withdrawn, kept in the audit."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlmodel import Session, select

from server.core.errors import BadValue, NotFound
from server.store.tables import GateOverrideRow, OfferRow


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
