"""Columns of the tables people take away: heading, unit, getter, in one place for all forms."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from server.core.compare import Cell, Excluded, Pair

Row = TypeVar("Row")


@dataclass(frozen=True)
class Column(Generic[Row]):
    """One column. unit: ¤ stands for the reporting currency; value: a number or a text."""

    key: str
    heading: str
    unit: str
    value: Callable[[Row], Any]

    def titled(self, currency: str) -> str:
        """Heading with the unit in brackets, as CSV files show it."""
        unit = self.unit.replace("¤", currency)
        return f"{self.heading} [{unit}]" if unit else self.heading


PAIR_COLUMNS: tuple[Column[Pair], ...] = (
    Column("pair", "Pair", "", lambda pair: pair.key),
    Column("combination", "Combination", "", lambda pair: pair.combination),
    Column("process", "Process", "", lambda pair: pair.process),
    Column("effect", "Effect in the cloth", "", lambda pair: pair.effect),
    Column("warp_supplier", "Warp supplier", "", lambda pair: pair.warp.offer.supplier.name),
    Column(
        "filling_supplier", "Filling supplier", "", lambda pair: pair.filling.offer.supplier.name
    ),
    Column("fabric_cost", "Finished cloth", "¤/m", lambda pair: pair.figures["fabric_cost"]),
    Column("yarn_cost", "Yarn", "¤/m", lambda pair: pair.figures["yarn_cost"]),
    Column(
        "fabric_per_kg",
        "Finished cloth, per kg",
        "¤/kg",
        lambda pair: pair.figures["fabric_per_kg"],
    ),
    Column(
        "yarn_per_area", "Yarn, cuttable m²", "¤/m²", lambda pair: pair.figures["yarn_per_area"]
    ),
    Column("ounces", "Weight", "oz/yd²", lambda pair: pair.figures["ounces"]),
    Column("warp_price", "Warp, same basis", "¤/kg", lambda pair: pair.warp.price),
    Column("filling_price", "Filling, same basis", "¤/kg", lambda pair: pair.filling.price),
    Column("state", "Standing", "", lambda pair: pair.state),
    Column("reasons", "Why not", "", lambda pair: "; ".join(pair.reasons)),
    Column("accepted", "Accepted by decision", "", lambda pair: "; ".join(pair.accepted)),
)

CELL_COLUMNS: tuple[Column[Cell], ...] = (
    Column("combination", "Combination", "", lambda cell: cell.combination),
    Column("pair", "Best possible pair", "", lambda cell: cell.best.key if cell.best else ""),
    Column(
        "fabric_cost",
        "Finished cloth",
        "¤/m",
        lambda cell: cell.best.figures["fabric_cost"] if cell.best else None,
    ),
    Column(
        "yarn_cost",
        "Yarn",
        "¤/m",
        lambda cell: cell.best.figures["yarn_cost"] if cell.best else None,
    ),
    Column(
        "ounces",
        "Weight",
        "oz/yd²",
        lambda cell: cell.best.figures["ounces"] if cell.best else None,
    ),
    Column(
        "yarn_per_area",
        "Yarn, cuttable m²",
        "¤/m²",
        lambda cell: cell.best.figures["yarn_per_area"] if cell.best else None,
    ),
    Column("possible", "Possible pairs", "", lambda cell: cell.possible),
    Column("pairs", "All pairs", "", lambda cell: cell.pairs),
    Column("reason", "Why none", "", lambda cell: cell.reason),
    Column(
        "accepted",
        "Accepted by decision",
        "",
        lambda cell: "; ".join(cell.best.accepted) if cell.best else "",
    ),
)

EXCLUDED_COLUMNS: tuple[Column[Excluded], ...] = (
    Column("offer", "Offer", "", lambda each: each.candidate.offer.code),
    Column("supplier", "Supplier", "", lambda each: each.candidate.offer.supplier.name),
    Column("place", "As", "", lambda each: each.candidate.slot.name),
    Column("state", "Standing", "", lambda each: each.candidate.standing.state),
    Column("reasons", "Why", "", lambda each: "; ".join(each.candidate.standing.reasons)),
    Column(
        "accepted",
        "Accepted by decision",
        "",
        lambda each: "; ".join(found.decision for found in each.candidate.standing.accepted),
    ),
    Column("price", "Same basis", "¤/kg", lambda each: each.candidate.price),
    Column("saving", "Would have saved", "¤/m", lambda each: each.saving),
)


def as_record(columns: tuple[Column[Row], ...], row: Row) -> dict[str, Any]:
    """One row as key -> value, for JSON."""
    return {column.key: column.value(row) for column in columns}
