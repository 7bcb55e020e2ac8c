"""The columns of the list of offers, and which of them a person sees."""

from __future__ import annotations

from collections.abc import Sequence

from server.actions.offer_list import ListedOffer
from server.core.errors import BadValue
from server.export.columns import Column

FIRST = "offer"  # always shown, for it names the row

OFFER_COLUMNS: tuple[Column[ListedOffer], ...] = (
    Column("offer", "Offer", "", lambda each: each.code),
    Column("supplier", "Supplier", "", lambda each: each.supplier),
    Column("country", "Country", "", lambda each: each.country),
    Column("process", "Process", "", lambda each: each.yarn.process),
    Column("count", "Count as quoted", "", lambda each: each.yarn.count_text),
    Column("average_ne", "Average count", "Ne", lambda each: each.average_ne),
    Column("price", "Price as quoted", "", lambda each: each.price_text),
    Column("term", "Term", "", lambda each: f"{each.term} {each.place_name}".strip()),
    Column("payment", "Payment", "", lambda each: each.payment),
    Column("goods_price", "Goods", "¤/kg", lambda each: each.goods_price),
    Column("landed_price", "Landed", "¤/kg", lambda each: each.landed_price),
    Column("same_basis_price", "Same basis", "¤/kg", lambda each: each.same_basis_price),
    Column("quoted_on", "Quoted on", "", lambda each: str(each.quoted_on)),
    Column("valid_until", "Valid until", "", lambda each: str(each.valid_until or "not said")),
    Column("lead_days", "Lead time", "d", lambda each: each.lead_days),
    Column("questions", "Questions open", "", lambda each: each.questions),
    Column("intake", "Intake", "", lambda each: each.intake_id),
    Column("state", "State", "", lambda each: each.state),
)

NOTE_COLUMN: Column[ListedOffer] = Column("note", "Why unproven", "", lambda each: each.note)
"""Stands under the state on the page, and in a column of its own in what is taken away."""

DECISION_COLUMN: Column[ListedOffer] = Column(
    "accepted", "Accepted by decision", "", lambda each: each.decisions
)
"""Stands under the offer on the page, and in a column of its own in what is taken away."""

_KEYS = tuple(column.key for column in OFFER_COLUMNS)


def read_columns(asked: Sequence[str]) -> tuple[str, ...]:
    """The columns asked for, the offer first; none when nothing is asked. Raises BadValue."""
    wanted = [name.strip() for text in asked for name in text.split(",") if name.strip()]
    for name in wanted:
        if name not in _KEYS:
            raise BadValue(
                f"The list has no column “{name[:40]}”.",
                field="columns",
                value=name,
                remedy=f"Choose among {', '.join(_KEYS)}.",
            )
    return tuple(dict.fromkeys((FIRST, *wanted))) if wanted else ()


def kept_columns(kept: str) -> tuple[str, ...]:
    """The columns a person kept; those that are no longer known are left out."""
    known = [name for name in kept.split(",") if name in _KEYS]
    return tuple(dict.fromkeys((FIRST, *known))) if known else ()


def chosen(keys: Sequence[str]) -> tuple[Column[ListedOffer], ...]:
    """The columns of these keys, in that order; all when none are named."""
    by_key = {column.key: column for column in OFFER_COLUMNS}
    return tuple(by_key[key] for key in keys) if keys else OFFER_COLUMNS
