"""Rates as rows and as core values, and a rate book in which one entry stands otherwise."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Any

from sqlmodel import Session, col, select

from server.core.duty import DutyRate
from server.core.rates import CHARGES, Charge, ExchangeRate, Lane, RateBook
from server.store.tables import (
    ChargeRow,
    DutyRateRow,
    ExchangeRateRow,
    FreightLaneRow,
    Record,
)


def load_rates(session: Session) -> RateBook:
    """Every rate of every day."""
    return RateBook(
        **{
            part: tuple(as_value(row) for row in _rows(session, table))
            for part, (table, as_value) in _PARTS.items()
        }
    )


def with_entries(
    rates: RateBook, table: type[Record], entries: Iterable[tuple[int | None, Mapping[str, Any]]]
) -> RateBook:
    """The rates as they would be with these entries stored; nothing is stored.

    entries: (id of the record that is changed, or None for a new one; its values as typed)
    """
    part = next(name for name, (known, _) in _PARTS.items() if known is table)
    as_value = _PARTS[part][1]
    held = {rate.id: rate for rate in getattr(rates, part)}
    for row_id, values in entries:
        place = row_id or max(held, default=0) + 1
        held[place] = as_value(table(id=place, owner_id=0, **values))
    return replace(rates, **{part: tuple(held.values())})


def _rows(session: Session, table: Any) -> list[Any]:
    return list(session.exec(select(table).order_by(col(table.id))).all())


def _share(percent: Decimal) -> float:
    return float(percent / 100)


def _optional(number: Decimal | None) -> float | None:
    return None if number is None else float(number)


def _exchange(row: Any) -> ExchangeRate:
    return ExchangeRate(row.id, row.base, row.quote, float(row.rate), row.valid_from, row.source)


def _lane(row: Any) -> Lane:
    return Lane(
        row.id,
        row.country,
        row.route,
        float(row.freight),
        float(row.load_mass_kg),
        float(row.inland),
        row.transit_days,
        row.currency,
        row.domestic,
        row.valid_from,
        row.source,
    )


def _duty(row: Any) -> DutyRate:
    return DutyRate(
        row.id,
        row.country,
        _share(row.rate_percent),
        row.base,
        row.valid_from,
        row.source,
        _optional(row.dtex_from),
        _optional(row.dtex_below),
        row.preparation,
        row.ply,
        row.fibre_mix,
        row.tariff_line,
    )


def _charge(row: Any) -> Charge:
    in_percent = CHARGES[row.key][1].startswith("share")
    return Charge(
        row.id,
        row.key,
        _share(row.value) if in_percent else float(row.value),
        row.valid_from,
        row.source,
        row.currency,
    )


_PARTS: Mapping[str, tuple[type[Record], Callable[[Any], Any]]] = {
    "exchange_rates": (ExchangeRateRow, _exchange),
    "lanes": (FreightLaneRow, _lane),
    "duties": (DutyRateRow, _duty),
    "charges": (ChargeRow, _charge),
}
"""Part of a rate book -> the table of its rows, and a row as the value it is."""
