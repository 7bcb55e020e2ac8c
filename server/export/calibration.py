"""Measured pieces and what they say, as data and as rows."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict
from typing import Any

from server.core.calibration import Calibration, Sister, ounces_of

CALIBRATION_COLUMNS = (
    "what", "name", "value_share", "in_use_share", "pieces", "spread_share", "low_share",
    "high_share", "becomes_oz_yd2", "state", "measured_oz_yd2", "computed_oz_yd2",
    "computed_off_share", "apart_share", "warp_crimp_share", "filling_crimp_share",
    "length_shrink_share", "measured_on", "source", "left_out",
)  # fmt: skip


def calibration_rows(calibration: Calibration) -> Iterator[list[Any]]:
    """Estimates first, then every piece."""
    for each in calibration.estimates:
        becomes = "" if each.becomes is None else ounces_of(each.becomes)
        held = [each.mean, each.in_use, len(each.values), each.spread, each.low, each.high]
        yield ["estimate", each.label, *held, becomes, *[""] * 11]
    for beside in calibration.beside:
        piece = beside.piece
        computed = "" if beside.computed is None else ounces_of(beside.computed)
        yield [
            "piece", piece.label, *[""] * 7, piece.state, piece.ounces, computed,
            beside.deviation, beside.apart, piece.warp_crimp, piece.filling_crimp,
            piece.length_shrink, piece.on, piece.source, piece.left_out,
        ]  # fmt: skip


def calibration_document(calibration: Calibration, sisters: Sequence[Sister]) -> dict[str, Any]:
    """Pieces, estimates and sister cloths as data; weights in g/m² and oz/yd²."""
    return {
        "construction": calibration.construction.code,
        "computed_g_m2": calibration.computed,
        "measured_g_m2": calibration.measured,
        "becomes_g_m2": calibration.becomes,
        "net_finish_in_parts": calibration.in_parts,
        "pieces": [
            {
                **asdict(each.piece),
                "on": each.piece.on.isoformat(),
                "length_shrink": each.piece.length_shrink,
                "computed_g_m2": each.computed,
                "computed_off_share": each.deviation,
                "apart_from_others_share": each.apart,
            }
            for each in calibration.beside
        ],
        "estimates": [
            {
                "key": each.key,
                "label": each.label,
                "in_use_share": each.in_use,
                "mean_share": each.mean,
                "spread_share": each.spread,
                "low_share": each.low,
                "high_share": each.high,
                "pieces": len(each.values),
                "in_use_rests_on": each.rests_on,
                "why_not_taken": each.why_not,
                "becomes_g_m2": each.becomes,
            }
            for each in calibration.estimates
        ],
        "sisters": [
            {
                "construction": each.code,
                "pieces": each.pieces,
                "measured_g_m2": each.measured,
                "over_straight_yarn": each.ratio,
                "predicted_g_m2": each.predicted,
            }
            for each in sisters
        ],
    }
