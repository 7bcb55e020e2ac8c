"""Column types: a decimal kept to the digit, and a moment that knows its time zone."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import DateTime, String
from sqlalchemy.engine import Dialect
from sqlalchemy.types import TypeDecorator


class Exact(TypeDecorator[Decimal]):
    """A Decimal stored as its own text, so that 46.80 stays 46.80 on every database.

    A float column loses digits, a scaled integer loses trailing zeros; both are part of what a
    seller wrote. Sorting and arithmetic happen in the core, never in SQL.
    """

    impl = String(60)
    cache_ok = True

    def process_bind_param(self, value: Decimal | None, dialect: Dialect) -> str | None:
        """Decimal to text."""
        return None if value is None else str(value)

    def process_result_value(self, value: str | None, dialect: Dialect) -> Decimal | None:
        """Text to Decimal."""
        return None if value is None else Decimal(value)

    def compare_values(self, x: Any, y: Any) -> bool:
        """46.8 typed over 46.80 is a change, although the numbers are equal."""
        return str(x) == str(y)


class Moment(TypeDecorator[datetime]):
    """A datetime in UTC; SQLite forgets the zone, so it is put back on reading."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> Any:
        """Keep UTC."""
        return None if value is None else value.astimezone(UTC)

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:
        """Put UTC back where the database dropped it."""
        if value is None:
            return None
        moment: datetime = value
        return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)


class Folded(TypeDecorator[str]):
    """Text that is sorted and searched by the numbers of its letters, alike on every database.

    What goes in has been folded to plain small letters; the database's sorting rules stay out.
    """

    impl = String
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> Any:
        """PostgreSQL sorts by its language unless told not to; SQLite never does."""
        return dialect.type_descriptor(
            String(collation="C") if dialect.name == "postgresql" else String()
        )
