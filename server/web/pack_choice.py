"""What a buyer may see of a pack, and the links that show it."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime

from server.actions.shares import Share
from server.core.buyer_view import FIELDS, OPEN_BOOK, PRICE_AND_WEIGHT, also_told
from server.core.pack import Pack


@dataclass(frozen=True, slots=True)
class ShownField:
    """One thing that can be shown."""

    key: str
    label: str
    says: str
    shown: bool


@dataclass(frozen=True, slots=True)
class ChoiceView:
    """The form of what a buyer may see.

    sets: names of usual choices, each with its fields; also_told: what can be worked out besides
    """

    fields: tuple[ShownField, ...]
    sets: tuple[tuple[str, str], ...]
    also_told: tuple[str, ...]
    any_shown: bool


@dataclass(frozen=True, slots=True)
class ShareView:
    """A link as the page lists it. href: where it is revoked; "" when it is not open any more"""

    whom: str
    shown: str
    made: str
    until: str
    state: str
    href: str


def choice_view(pack: Pack, shown: Collection[str]) -> ChoiceView:
    """The form, with what the choice tells besides."""
    labels = {field.key: field.label for field in FIELDS}
    return ChoiceView(
        tuple(ShownField(each.key, each.label, each.says, each.key in shown) for each in FIELDS),
        tuple(
            (name, ", ".join(labels[key].lower() for key in keys))
            for name, keys in (("Price and weight", PRICE_AND_WEIGHT), ("Open book", OPEN_BOOK))
        ),
        also_told(pack, shown) if shown else (),
        bool(shown),
    )


def share_views(shares: Iterable[Share], path: str) -> tuple[ShareView, ...]:
    """The links of a pack."""
    now = datetime.now(UTC)
    labels = {field.key: field.label for field in FIELDS}
    return tuple(
        ShareView(
            each.whom or "anybody who has it",
            ", ".join(labels.get(key, key) for key in each.shown),
            f"{each.made_at:%Y-%m-%d %H:%M} UTC by {each.made_by}",
            f"{each.expires_at:%Y-%m-%d %H:%M} UTC",
            "open" if each.is_open(now) else "taken back" if each.revoked_at else "ended",
            f"{path}/shares/{each.id}/revoke" if each.is_open(now) else "",
        )
        for each in shares
    )
