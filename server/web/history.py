"""The history of a record as lines of text."""

from __future__ import annotations

from collections.abc import Iterable

from server.store.audit import Change


def history_lines(changes: Iterable[Change]) -> tuple[str, ...]:
    """Who changed what, when, from which value to which; the newest first."""
    return tuple(
        f"{change.at:%Y-%m-%d %H:%M} UTC, {change.person}: {_what(change)}" for change in changes
    )


def _what(change: Change) -> str:
    if change.action == "add":
        return "entered"
    return "; ".join(
        f"{field.replace('_', ' ')} {before or '(empty)'} → {after or '(empty)'}"
        for field, before, after in change.changes
    )
