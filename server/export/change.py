"""A changed construction as rows and columns: the same figures for page, CSV and JSON."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from typing import Any

from server.core.change import Alternative, Changed, doubts_of
from server.core.costing import Costing
from server.core.pair import total_key
from server.export.documents import basis_document


@dataclass(frozen=True)
class ChangeRow:
    """One figure of the change desk.

    key: the line or input; unit: ¤ stands for the reporting currency
    relative: whether its difference is told as a share of before
    """

    group: str
    key: str
    label: str
    unit: str
    relative: bool = False

    def value(self, costing: Costing) -> float:
        """The figure of one column."""
        if self.key in costing.figures:
            return costing.figures[self.key]
        return float(costing.fabric_values[self.key].value)

    def difference(self, before: Costing, costing: Costing) -> float:
        """Against before: in the unit of the figure, or as a share of before."""
        now, was = self.value(costing), self.value(before)
        return now / was - 1 if self.relative else now - was


COST, CLOTH, MAKING = "Cost", "Cloth", "Loom and yarn"


def change_rows(changed: Changed) -> tuple[ChangeRow, ...]:
    """The rows this construction has, in the order they are read."""
    construction = changed.before.construction
    warp, filling = (total_key(construction, name, "cost") for name in ("warp", "filling"))
    rows = (
        ChangeRow(COST, "fabric_cost", "Cost of a metre", "¤/m"),
        ChangeRow(COST, "fabric_per_yard", "Cost of a yard", "¤/yd"),
        ChangeRow(COST, "fabric_per_area", "Cost of a cuttable m²", "¤/m²"),
        ChangeRow(COST, "fabric_per_kg", "Cost of a kg of cloth", "¤/kg"),
        ChangeRow(COST, "garment_fabric", "Cloth in one garment", "¤"),
        ChangeRow(COST, "season_cost", "Cloth of the season", "¤"),
        ChangeRow(COST, "yarn_cost", "Yarn in a metre", "¤/m"),
        ChangeRow(COST, warp, "Warp yarn in a metre", "¤/m"),
        ChangeRow(COST, filling, "Filling yarn in a metre", "¤/m"),
        ChangeRow(COST, "weaving", "Weaving of a metre", "¤/m"),
        ChangeRow(CLOTH, "ounces", "Weight, finished and unwashed", "oz/yd²"),
        ChangeRow(CLOTH, "total_ends", "Total ends", "threads"),
        ChangeRow(CLOTH, "loom_ppi", "Picks, loom", "1/in"),
        ChangeRow(CLOTH, "finished_epi", "Ends, finished", "1/in"),
        ChangeRow(CLOTH, "finished_ppi", "Picks, finished", "1/in"),
        ChangeRow(CLOTH, "warp_cover_loom", "Warp cover factor, in the reed", "1/(in·√Ne)"),
        ChangeRow(CLOTH, "filling_cover_loom", "Filling cover factor, loom", "1/(in·√Ne)"),
        ChangeRow(CLOTH, "warp_cover", "Warp cover factor, finished", "1/(in·√Ne)"),
        ChangeRow(CLOTH, "filling_cover", "Filling cover factor, finished", "1/(in·√Ne)"),
        ChangeRow(CLOTH, "warp_firmness", "Warp over square sett", "×", relative=True),
        ChangeRow(CLOTH, "filling_firmness", "Filling over square sett", "×", relative=True),
        ChangeRow(MAKING, "loom_output", "Loom output", "m/h", relative=True),
        ChangeRow(MAKING, "warp_season_tonnes", "Warp to buy, season", "t"),
        ChangeRow(MAKING, "filling_season_tonnes", "Filling to buy, season", "t"),
    )
    before = changed.before
    return tuple(
        row for row in rows if row.key in before.figures or row.key in before.fabric_values
    )


CHANGE_HEADINGS = (
    "key", "figure", "unit", "alternative", "yarns", "value", "before", "difference",
    "difference_is",
)  # fmt: skip


def change_table(changed: Changed, currency: str) -> Iterator[list[Any]]:
    """One line for each figure of each alternative, as CSV wants it."""
    for row in change_rows(changed):
        for alternative, costing in changed.reached:
            yield [
                row.key,
                row.label,
                row.unit.replace("¤", currency),
                alternative.label,
                costing.key,
                row.value(costing),
                row.value(changed.before),
                row.difference(changed.before, costing),
                "share of before" if row.relative else "in the unit",
            ]


def change_document(changed: Changed, asked: Mapping[str, str]) -> dict[str, Any]:
    """The whole change as data: before, every alternative and bridge, and the offers it moves.

    asked: what was changed, as typed
    """
    rows, basis = change_rows(changed), changed.before.basis
    currency = basis.currency
    return {
        "construction": changed.before.construction.code,
        "asked": {name: text for name, text in asked.items() if text},
        "basis": basis_document(basis),
        "before": _column(changed.before, rows, currency),
        "alternatives": [
            _alternative(changed, alternative, rows, currency)
            for alternative in changed.alternatives
        ],
        "offers_that_fall_away": [asdict(each) for each in changed.fallen],
        "offers_that_come_in": [asdict(each) for each in changed.joined],
    }


def _column(costing: Costing, rows: tuple[ChangeRow, ...], currency: str) -> dict[str, Any]:
    return {
        "yarns": costing.key,
        "figures": {
            row.key: {
                "label": row.label,
                "value": row.value(costing),
                "unit": row.unit.replace("¤", currency),
            }
            for row in rows
        },
    }


def _alternative(
    changed: Changed, alternative: Alternative, rows: tuple[ChangeRow, ...], currency: str
) -> dict[str, Any]:
    about: dict[str, Any] = {
        "key": alternative.key,
        "label": alternative.label,
        "held": alternative.held,
        "not_reached": alternative.reason,
        "solved": {each.name: each.value for each in alternative.solved},
    }
    costing = alternative.costing
    if costing is None:
        return about
    walked = changed.bridge(costing)
    return {
        **about,
        **_column(costing, rows, currency),
        "differences": {row.key: row.difference(changed.before, costing) for row in rows},
        "doubts": doubts_of(changed.before, costing),
        "bridge": [
            {"cause": step.label, "inputs": step.inputs, "amount": step.amount}
            for step in walked.steps
        ],
    }
