"""The matrix of combinations and the ladder, as text."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from server.core.compare import Cell, Comparison, Pair
from server.web import addresses
from server.web.numbers import Writer


@dataclass(frozen=True, slots=True)
class MatrixView:
    """One cell of the matrix as text."""

    combination: str
    cost: str
    unit: str
    yarn: str
    difference: str
    weight: str
    area: str
    pairs: str
    pair: str
    href: str
    process: str
    reason: str
    best: bool
    reference: bool
    reference_href: str
    accepted: str = ""


@dataclass(frozen=True, slots=True)
class Rung:
    """One step of the ladder."""

    combination: str
    process: str
    pair: str
    href: str
    cost: str
    yarn: str
    step: str
    yarn_step: str
    weight: str


def reference_pair(comparison: Comparison, asked: str) -> Pair | None:
    for pair in comparison.ladder:
        if pair.combination == asked:
            return pair
    if asked.count("/") == 1 and (found := comparison.find(*asked.split("/"))):
        return found
    return comparison.leader


def matrix_view(
    comparison: Comparison,
    cell: Cell,
    reference: Pair | None,
    writer: Writer,
    kept: Mapping[str, str],
    path: str,
) -> MatrixView:
    best, leader = cell.best, comparison.leader
    count = f"{cell.possible} of {cell.pairs} pairs possible"
    if best is None:
        return MatrixView(
            cell.combination,
            "",
            "",
            "",
            "",
            "",
            "",
            count,
            "",
            "",
            "",
            cell.reason,
            False,
            False,
            "",
        )
    is_reference = reference is not None and best.key == reference.key
    difference = ""
    if reference is not None and not is_reference:
        difference = writer.signed(
            best.figures["fabric_cost"] - reference.figures["fabric_cost"], "¤/m"
        )
    return MatrixView(
        combination=cell.combination,
        cost=writer.text(best.figures["fabric_cost"], "¤/m"),
        unit=writer.unit("¤/m"),
        yarn=writer.text(best.figures["yarn_cost"], "¤/m"),
        difference=difference,
        weight=writer.full(best.figures["ounces"], "oz/yd²"),
        area=writer.full(best.figures["yarn_per_area"], "¤/m²"),
        pairs=count,
        pair=best.key,
        href=addresses.with_query(
            addresses.pair_path(comparison.construction.code, best.key), kept
        ),
        process=best.process,
        reason="",
        best=leader is not None and best.key == leader.key,
        reference=is_reference,
        reference_href=addresses.with_query(path, {**kept, "reference": cell.combination}),
        accepted="; ".join(best.accepted),
    )


def rungs(comparison: Comparison, writer: Writer, kept: Mapping[str, str]) -> tuple[Rung, ...]:
    steps, below = [], None
    for pair in comparison.ladder:
        step, yarn_step = (
            ("", "")
            if below is None
            else (
                writer.signed(pair.figures[name] - below.figures[name], "¤/m")
                for name in ("fabric_cost", "yarn_cost")
            )
        )
        steps.append(
            Rung(
                pair.combination,
                pair.process,
                pair.key,
                addresses.with_query(
                    addresses.pair_path(comparison.construction.code, pair.key), kept
                ),
                writer.text(pair.figures["fabric_cost"], "¤/m"),
                writer.text(pair.figures["yarn_cost"], "¤/m"),
                step,
                yarn_step,
                writer.full(pair.figures["ounces"], "oz/yd²"),
            )
        )
        below = pair
    return tuple(steps)
