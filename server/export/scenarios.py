"""Two sets of assumptions and the constructions under both: the same figures in every form."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from server.core.compare import Cell
from server.core.scenarios import TwoSets, UnderBoth, UnderSet, ValueApart
from server.export.columns import Column, as_record
from server.export.documents import basis_document
from server.export.should_cost import entered_unit


def _own(under: UnderSet) -> tuple[str, float | None]:
    return under.own.cheapest or ("", None)


UNDER_COLUMNS: tuple[Column[UnderBoth], ...] = (
    Column("construction", "Construction", "", lambda each: each.construction.code),
    Column("name", "Name", "", lambda each: each.construction.name),
    Column("first_pair", "Leader, first set", "", lambda each: _pair(each.first)),
    Column("first_cost", "Cost, first set", "¤/m", lambda each: each.first.cost),
    Column("second_pair", "Leader, second set", "", lambda each: _pair(each.second)),
    Column("second_cost", "Cost, second set", "¤/m", lambda each: each.second.cost),
    Column("difference", "Difference", "¤/m", lambda each: each.difference),
    Column("leader_changes", "Leader changes", "", lambda each: each.leader_changes),
    Column("own_first", "Own yarn, first set", "", lambda each: _own(each.first)[0]),
    Column("own_first_cost", "Own yarn cost, first set", "¤/m", lambda each: _own(each.first)[1]),
    Column("own_second", "Own yarn, second set", "", lambda each: _own(each.second)[0]),
    Column(
        "own_second_cost", "Own yarn cost, second set", "¤/m", lambda each: _own(each.second)[1]
    ),
    Column("own_difference", "Own yarn difference", "¤/m", lambda each: each.own_difference),
    Column("missing", "Why none", "", lambda each: each.first.missing or each.second.missing),
)

COMBINATION_HEADINGS = (
    "yarn", "combination", "first_pair", "first_cost", "second_pair", "second_cost", "difference",
)  # fmt: skip
VALUE_HEADINGS = (
    "group", "key", "assumption", "at_ne", "first", "first_unit", "second", "second_unit",
    "difference", "difference_share", "second_source",
)  # fmt: skip


def _pair(under: UnderSet) -> str:
    return under.leader.key if under.leader else ""


def value_row(each: ValueApart, two: TwoSets) -> list[Any]:
    """One value that differs, as entered (shares in percent), in the order of VALUE_HEADINGS."""
    units = [entered_unit(each.kind.unit, s.currency) for s in (two.first, two.second)]
    apart = each.difference
    return [
        each.kind.group,
        each.kind.key,
        each.kind.label,
        each.at_ne,
        entered_value(each, first=True),
        units[0],
        entered_value(each, first=False),
        units[1],
        None if apart is None else apart * _factor(each),
        each.relative,
        each.second.source if each.second else "",
    ]


def entered_value(each: ValueApart, *, first: bool) -> float | None:
    """The value under one set in the unit people enter; None where the set lacks it."""
    entry = each.first if first else each.second
    return None if entry is None else float(entry.value) * _factor(each)


def _factor(each: ValueApart) -> int:
    return 100 if each.kind.unit.startswith("share") else 1


def combination_rows(both: UnderBoth) -> Iterator[list[Any]]:
    """Every spinning combination of a construction under both sets: bought yarn, then own."""
    for name, one, other in both.combinations:
        costs = [_cell_cost(cell) for cell in (one, other)]
        yield ["bought", name, _best(one), costs[0], _best(other), costs[1], _apart(*costs)]
    for name, first, second in both.own_combinations:
        yield ["own", name, "", first, "", second, _apart(first, second)]


def _best(cell: Cell | None) -> str:
    return cell.best.key if cell and cell.best else ""


def _cell_cost(cell: Cell | None) -> float | None:
    return cell.best.figures["fabric_cost"] if cell and cell.best else None


def _apart(first: float | None, second: float | None) -> float | None:
    return None if first is None or second is None else second - first


def two_sets_document(two: TwoSets, code: str = "") -> dict[str, Any]:
    """Everything about two sets; with a construction its combinations as well."""
    basis = None
    if two.basis:
        basis = basis_document(two.basis)
        del basis["assumption_set"]
    both = two.construction(code)
    return {
        "first": two.first.name,
        "second": two.second.name,
        "basis": basis,
        "cost_unit": f"{two.currency}/m",
        "values_apart": [
            dict(zip(VALUE_HEADINGS, value_row(each, two), strict=True)) for each in two.values
        ],
        "constructions": [as_record(UNDER_COLUMNS, each) for each in two.constructions],
        "combinations": [
            dict(zip(COMBINATION_HEADINGS, row, strict=True)) for row in combination_rows(both)
        ]
        if both
        else [],
    }
