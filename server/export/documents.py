"""Comparisons and offers as JSON documents: full figures, units in the names or beside them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from server.core.break_even import BreakEven
from server.core.compare import Comparison
from server.core.construction import Basis
from server.export.columns import CELL_COLUMNS, EXCLUDED_COLUMNS, PAIR_COLUMNS, Column, as_record


def basis_document(basis: Basis) -> dict[str, Any]:
    """The basis a comparison stands on."""
    return {
        "name": basis.name,
        "currency": basis.currency,
        "rates_on": basis.rates_on.isoformat(),
        "delivery_point": basis.delivery_point,
        "as_of": basis.as_of.isoformat(),
        "meeting": basis.meeting.isoformat(),
        "need_by": basis.need_by.isoformat(),
        "quantity": basis.quantity,
        "metres": basis.metres,
        "assumption_set": basis.assumption_set,
        "house_regain_share": basis.house_regain,
    }


def units_of_columns(columns: Iterable[Column[Any]], currency: str) -> dict[str, str]:
    """Unit of every column that has one."""
    return {column.key: column.unit.replace("¤", currency) for column in columns if column.unit}


def comparison_document(comparison: Comparison, break_evens: Iterable[BreakEven]) -> dict[str, Any]:
    """A comparison with its matrix, ladder, pairs, break-evens and what was left out."""
    currency = comparison.basis.currency
    leader = comparison.leader
    return {
        "construction": {
            "code": comparison.construction.code,
            "name": comparison.construction.name,
        },
        "basis": basis_document(comparison.basis),
        "units": units_of_columns((*PAIR_COLUMNS, *EXCLUDED_COLUMNS), currency),
        "leader": as_record(PAIR_COLUMNS, leader) if leader else None,
        "matrix": [[as_record(CELL_COLUMNS, cell) for cell in row] for row in comparison.cells],
        "ladder": [as_record(PAIR_COLUMNS, pair) for pair in comparison.ladder],
        "pair_count": comparison.pair_count,
        "possible_pair_count": comparison.possible_count,
        "pairs": [as_record(PAIR_COLUMNS, pair) for pair in comparison.foremost],
        "break_evens": [
            {
                "leader": each.leader.key,
                "rival": each.rival.key,
                "input": each.name,
                "label": each.input.label,
                "unit": each.input.unit.replace("¤", currency),
                "today": each.input.value,
                "break_even": each.value,
                "offer": each.of or None,
            }
            for each in break_evens
        ],
        "excluded": [as_record(EXCLUDED_COLUMNS, each) for each in comparison.excluded],
        "unpriced": [
            {"offer": each.offer.code, "place": each.slot.name, "reason": each.reason}
            for each in comparison.unpriced
        ],
        "estimate": "Modelled costs are estimates from the assumptions named; not an offer.",
    }
