"""One offer as the list sorts, searches and counts it."""

from __future__ import annotations

from typing import Any

from server.core.folding import folded
from server.core.offer import Offer

LONGEST_KEY = 120  # letters of a name that decide its place; an index entry has its limit


def sort_key(text: str) -> str:
    """A name as the list sorts it, and as a filter finds it."""
    return folded(text)[:LONGEST_KEY]


def index_row(offer: Offer, *, replaced: bool, intake_id: int | None) -> dict[str, Any]:
    """The row of `offer_index` that stands for an offer."""
    asked = offer.open_questions
    return {
        "id": offer.id,
        "code": sort_key(offer.code),
        "supplier": sort_key(offer.supplier.name),
        "country": sort_key(offer.country),
        "process": sort_key(offer.yarn.process),
        "supplier_id": offer.supplier.id,
        "spinning": offer.yarn.spinning,
        "effect": offer.yarn.effect,
        "average_ne": offer.yarn.average_ne,
        "quoted_on": offer.quoted_on,
        "valid_until": offer.valid_until,
        "lead_days": offer.lead_days,
        "intake_id": intake_id,
        "questions": len(asked),
        "asks": asked[0].sentence[:500] if asked else "",
        "replaced": replaced,
        "words": folded(
            " ".join(
                (
                    offer.code,
                    offer.supplier.name,
                    offer.country,
                    offer.yarn.process,
                    offer.yarn.count_text,
                    offer.as_quoted,
                )
            )
        ),
    }
