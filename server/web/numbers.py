"""Figures as text for the pages, written in `server.export.numbers`; stored values as typed."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from server.export.numbers import UNITS, Units, Writer, minus, percent, significant

__all__ = ["UNITS", "Units", "Writer", "entered", "minus", "percent", "significant"]


def entered(value: object) -> str:
    """A stored value as it was typed."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Decimal):
        return f"{value:f}"
    return value.isoformat() if isinstance(value, date) else str(value)
