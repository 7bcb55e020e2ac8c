"""Records as they were entered, as CSV that can be imported again and as JSON documents."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from server.export.csv_file import as_csv
from server.store.records import Kept


def records_csv(fields: Sequence[str], records: Iterable[Kept]) -> str:
    """Every field of every record; the headings are the names that an import knows."""
    return as_csv(fields, ([kept.values[name] for name in fields] for kept in records))


def record_document(fields: Sequence[str], kept: Kept) -> dict[str, Any]:
    """A record with what is needed to change it: its key and its version."""
    return {
        "key": kept.key,
        "version": kept.version,
        "owner": kept.owner,
        "changed_at": kept.changed_at.isoformat(),
        "entry": {name: _plain(kept.values[name]) for name in fields},
    }


def _plain(value: Any) -> Any:
    if isinstance(value, Decimal):
        return str(value)
    return value.isoformat() if isinstance(value, date) else value
