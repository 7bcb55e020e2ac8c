"""Comparisons and offers as JSON documents: full figures, units in the names or beside them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from server.core.break_even import BreakEven
from server.core.compare import Comparison
from server.core.construction import Basis
from server.core.gate import Standing
from server.core.offer_gate import OfferGate
from server.core.pack import FrozenBasis
from server.core.rates_used import UsedRate
from server.core.twist_cost import TwistCost
from server.export.columns import CELL_COLUMNS, EXCLUDED_COLUMNS, PAIR_COLUMNS, Column, as_record
from server.export.effects import twist_costs_document


def basis_document(basis: Basis) -> dict[str, Any]:
    """The basis a comparison stands on."""
    return {**stated_basis(basis), "house_regain_share": basis.house_regain}


def stated_basis(basis: Basis | FrozenBasis) -> dict[str, Any]:
    """What a basis says in itself, live or frozen."""
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
        "loom_rule": basis.loom_rule,
        "assumption_set": basis.assumption_set,
    }


def gate_document(gate: OfferGate) -> dict[str, Any]:
    """An offer held to every role and every slot it could fill, with the decisions about it."""
    return {
        "offer": gate.offer.code,
        "basis": basis_document(gate.basis),
        "roles": {role: _standing(standing) for role, standing in gate.roles.items()},
        "places": [
            {
                "construction": place.construction.code,
                "slot": place.slot.name,
                "role": place.role,
                **_standing(place.standing),
            }
            for place in gate.places
        ],
        "decisions": [
            {
                "id": each.id,
                "about": each.about,
                "role": each.role,
                "reason": each.reason,
                "person": each.person,
                "on": each.on.isoformat(),
                "until": each.until.isoformat() if each.until else None,
            }
            for each in gate.offer.overrides
        ],
        "open_to_decision": list(gate.open_to_decision),
    }


def _standing(standing: Standing) -> dict[str, Any]:
    return {
        "state": standing.state,
        "findings": [
            {
                "about": each.about,
                "outcome": each.outcome,
                "was": each.was or each.outcome,
                "sentence": each.sentence,
                "value": each.value,
                "limit": each.limit,
                "source": each.source,
                "owner": each.owner,
                "accepted": each.override.sentence if each.override else None,
            }
            for each in standing.findings
        ],
    }


def units_of_columns(columns: Iterable[Column[Any]], currency: str) -> dict[str, str]:
    """Unit of every column that has one."""
    return {column.key: column.unit.replace("¤", currency) for column in columns if column.unit}


def rates_document(rates: Iterable[UsedRate], basis: Basis) -> list[dict[str, Any]]:
    """The dated rates used, each with its age at the as-of date of the basis."""
    return [
        {
            "kind": each.kind,
            "label": each.label,
            "figures": [
                {
                    "label": figure.label,
                    "value": figure.value,
                    "unit": figure.unit.replace("¤", basis.currency),
                }
                for figure in each.figures
            ],
            "valid_from": each.valid_from.isoformat() if each.valid_from else None,
            "age_days": each.age_days(basis.as_of),
            "old": each.is_old(basis.as_of),
            "source": each.source,
            "why": each.why,
        }
        for each in rates
    ]


RATE_COLUMNS = ("kind", "rate", "figure", "value", "unit", "valid_from", "age_days", "old",
                "source")  # fmt: skip


def rate_rows(rates: Iterable[UsedRate], basis: Basis) -> list[list[Any]]:
    """The same as rows of a CSV file, one for each figure, under RATE_COLUMNS."""
    return [
        [
            each["kind"],
            each["label"],
            figure["label"],
            figure["value"],
            figure["unit"],
            each["valid_from"],
            each["age_days"],
            "yes" if each["old"] else "no",
            each["source"],
        ]
        for each in rates_document(rates, basis)
        for figure in each["figures"]
    ]


def comparison_document(
    comparison: Comparison,
    break_evens: Iterable[BreakEven],
    rates: Iterable[UsedRate],
    twists: Iterable[TwistCost],
) -> dict[str, Any]:
    """A comparison with its matrix, ladder, pairs, break-evens, rates and what was left out."""
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
        "costs_of_twist": twist_costs_document(twists),
        "excluded": [as_record(EXCLUDED_COLUMNS, each) for each in comparison.excluded],
        "unpriced": [
            {"offer": each.offer.code, "place": each.slot.name, "reason": each.reason}
            for each in comparison.unpriced
        ],
        "rates_used": rates_document(rates, comparison.basis),
        "estimate": "Modelled costs are estimates from the assumptions named; not an offer.",
    }
