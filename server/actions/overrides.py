"""The gate of one offer: its standing in every role and cloth, and decisions that accept a finding.

A decision is about one offer as quoted; a re-quote starts without it.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from server.actions.book import current_book
from server.actions.compare import BasisChange, changed_basis
from server.actions.entries import GateOverrideEntry
from server.actions.nouns import Noun, Refused, read_entry, refusal
from server.core.construction import Basis
from server.core.errors import BadValue, NotFound
from server.core.gate import refuse_unacceptable
from server.core.offer import Offer
from server.core.offer_gate import OfferGate, gate_of_offer
from server.store.book import Book
from server.store.overrides import add_override, remove_override
from server.store.records import Keeper
from server.store.session import Engine, writing
from server.store.tables import GateOverrideRow

OVERRIDE = Noun(
    "decision", "decisions", "gate/decisions", GateOverrideEntry, Keeper(GateOverrideRow)
)
"""Not among the nouns of the lists: a decision is made on its offer and withdrawn there."""


def gate_of(engine: Engine, code: str, change: BasisChange, basis_name: str = "") -> OfferGate:
    """The gate of one offer on a basis. Raises NotFound without the offer or any basis."""
    book = current_book(engine)
    return _gate(book, book.offer(code), changed_basis(book, basis_name, change))


def _gate(book: Book, offer: Offer, basis: Basis) -> OfferGate:
    return gate_of_offer(offer, basis, book.rates, book.constructions, book.limits)


def accept_finding(engine: Engine, code: str, given: Mapping[str, Any], person_id: int) -> int:
    """Record that a person accepts a finding of an offer; gives the id of the decision.

    given: about, role, reason, until. Raises Refused, NotFound.
    """
    book = current_book(engine)
    offer = book.offer(code)
    values = read_entry(OVERRIDE, given)
    try:
        refuse_unacceptable(values["about"], values["role"])
        if not book.bases:
            raise NotFound("There is no basis to hold the offer to.", remedy="Enter one.")
        _refuse_idle(_gate(book, offer, book.basis()), values)
        with writing(engine, person_id) as session:
            return add_override(session, code, values)
    except BadValue as wrong:
        raise Refused([refusal(OVERRIDE, wrong)]) from wrong


def _refuse_idle(gate: OfferGate, values: Mapping[str, Any]) -> None:
    """Raises BadValue for a decision that would change nothing."""
    about, role, until = values["about"], values["role"], values["until"]
    if until is not None and until < gate.basis.as_of:
        raise BadValue(
            f"{until} is before {gate.basis.as_of}, the as-of date of basis “{gate.basis.name}”: "
            "it would never hold.",
            field="until",
            value=until,
            remedy="Enter a later day, or leave it empty.",
        )
    stands = any(
        finding.about == about and finding.may_be_accepted
        for standing in gate.standings_in(role)
        for finding in standing.findings
    )
    if not stands:
        raise BadValue(
            f"The {about} of {gate.offer.code} neither fails nor is unknown for {role}: there is "
            "nothing to accept.",
            field="about",
            value=about,
            remedy="Choose a finding and a role of the gate shown on the offer.",
        )


def withdraw_override(engine: Engine, code: str, override_id: int, person_id: int) -> None:
    """Withdraw a decision; the history keeps it. Raises NotFound."""
    with writing(engine, person_id) as session:
        remove_override(session, code, override_id)
