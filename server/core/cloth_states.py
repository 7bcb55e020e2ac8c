"""A cloth in its states: reed, loom, greige, finished, washed; what is measured and what is not.

Threads, widths and weights change from state to state, so each is named by its state. A figure of
one state never stands under another's name.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Annotated, Any

from server.core.construction import DIRECTIONS, WEAVES, Construction
from server.core.fabric import (
    area_mass_after_change,
    finished_epi,
    finished_ppi,
    ounces_per_square_yard,
    width_contraction,
)
from server.core.formula import formula
from server.core.quantities import (
    GramPerMetre,
    GramPerSquareMetre,
    Inch,
    LossShare,
    Quantity,
    SignedShare,
)
from server.core.sheet import Input, Line
from server.core.units import M_PER_IN
from server.core.weaving import intersections_per_inch, warp_contraction

PositiveInch = Annotated[Any, Quantity("in", above=0.0)]
STARTING_VALUE = "starting value"
CALIBRATED = "calibrated"
CRIMP_NOTED, SHRINK_NOTED = "warp crimp", "length shrink"
FINISH_NOTED, WIDTH_CRIMP_NOTED = "net finish", "filling crimp"
_NOTED = re.compile(r"([a-z][a-z ]*) (-?\d+\.\d\d) % \((\d+ pieces?, \d{4}-\d\d-\d\d)\)")
PIECE_STATES = ("greige", "finished", "washed")
PICK_FACTOR = 4.0  # J. T. Taylor 1909: 3 for medium picks, 4 for heavily picked cloth, sometimes 5


def starting_crimp(*, weave: str, loom_ppi: float, filling_ne: float) -> float:
    """Warp crimp to start from where nothing is measured, on cloth length [share].

    loom_ppi: picks on the loom [1/in]; filling_ne: count of the filling [Ne]
    Source: J. T. Taylor, Cotton Weaving and Designing, 1909 (contraction); a rough rule that leaves
    out tension and warp count, and not for stretch cloth.
    """
    repeat, crossings = WEAVES[weave]
    per_inch = intersections_per_inch(
        loom_ppi=loom_ppi, repeat_picks=repeat, repeat_intersections=crossings
    )
    return float(
        warp_contraction(
            intersections_per_inch=per_inch, filling_ne=filling_ne, pick_factor=PICK_FACTOR
        )
    )


def calibration_notes(text: str) -> dict[str, tuple[float, str]]:
    """What a construction says was calibrated: figure -> its value [share], on which pieces.

    text: such as “warp crimp 10.40 % (3 pieces, 2026-03-01); length shrink 13.10 % (1 piece, …)”
    """
    return {
        figure: (float(percent) / 100, pieces) for figure, percent, pieces in _NOTED.findall(text)
    }


def calibrated_on(text: str, figure: str, value: float) -> str:
    """The pieces a value in use was calibrated on; "" when it was changed since, or never was."""
    noted, pieces = calibration_notes(text).get(figure, (None, ""))
    return pieces if noted is not None and abs(noted - value) < 1e-9 else ""


@formula(source="definition: residual shrinkage is on the finished cloth")
def washed_width(*, finished_width_in: Inch, residual_width: LossShare) -> Inch:
    """Width of a cloth after the laundry.

    finished_width_in: finished width edge to edge [in]
    residual_width: width the laundry takes, on the finished width [share]
    """
    return finished_width_in * (1 - residual_width)


@formula(source="definition: mass balance of the metre off the loom")
def greige_mass_per_area(
    *,
    warp_mass: GramPerMetre,
    filling_mass: GramPerMetre,
    length_shrink: LossShare,
    greige_add_on: SignedShare,
    greige_width_in: PositiveInch,
) -> GramPerSquareMetre:
    """Weight of the cloth off the loom, with all its size and dye.

    warp_mass: warp in one finished metre [g/m]
    filling_mass: filling in one finished metre [g/m]
    length_shrink: length lost from loom to finished cloth [share]
    greige_add_on: size and dye on the warp off the loom, on warp mass [share]
    greige_width_in: width off the loom, relaxed [in]
    Limits: takes the length off the loom as the length on it; a cotton cloth of 1909 lost 1.5 %.
    """
    yarn_mass = warp_mass * (1 + greige_add_on) + filling_mass
    return yarn_mass * (1 - length_shrink) / (greige_width_in * M_PER_IN)


WEIGHT_OF = {  # state: the figure that is its weight
    "greige": "greige_mass_per_area",
    "finished": "mass_per_area",
    "washed": "washed_mass_per_area",
}


def state_lines(construction: Construction, total: Mapping[tuple[str, str], str]) -> list[Line]:
    """The figures of the states a construction says something about, beyond loom and finished.

    total: key of the line with all yarns of a direction, by direction and figure
    """
    lines = [
        Line(
            "cuttable_loss",
            width_contraction,
            {"reed_width_in": "finished_width_in", "finished_width_in": "cuttable_width_in"},
            "Width lost to the selvedges",
        )
    ]
    if construction.greige_width_in is not None:
        lines += _greige_lines()
        if construction.greige_add_on is not None:
            masses = {f"{each}_mass": total[each, "mass"] for each in DIRECTIONS}
            lines += [
                Line("greige_mass_per_area", greige_mass_per_area, masses, "Weight, greige"),
                Line(
                    "greige_ounces",
                    ounces_per_square_yard,
                    {"mass_per_area": "greige_mass_per_area"},
                    "Weight, greige",
                ),
            ]
    if construction.residual_length is not None:
        lines += _washed_lines()
    return lines


def _greige_lines() -> list[Line]:
    return [
        Line("greige_epi", finished_epi, {"finished_width_in": "greige_width_in"}, "Ends, greige"),
        Line(
            "greige_loss",
            width_contraction,
            {"finished_width_in": "greige_width_in"},
            "Width contraction, reed to greige",
        ),
        Line(
            "finishing_loss",
            width_contraction,
            {"reed_width_in": "greige_width_in"},
            "Width contraction, greige to finished",
        ),
    ]


def _washed_lines() -> list[Line]:
    loss = {"length_loss": "residual_length", "width_loss": "residual_width"}
    return [
        Line(
            "washed_mass_per_area",
            area_mass_after_change,
            {**loss, "mass_change": "wash_mass_change"},
            "Weight, washed",
        ),
        Line(
            "washed_ounces",
            ounces_per_square_yard,
            {"mass_per_area": "washed_mass_per_area"},
            "Weight, washed",
        ),
        Line("washed_width", washed_width, {}, "Width, washed"),
        Line("washed_epi", finished_epi, {"finished_width_in": "washed_width"}, "Ends, washed"),
        Line(
            "washed_ppi",
            finished_ppi,
            {"loom_ppi": "finished_ppi", "length_shrink": "residual_length"},
            "Picks, washed",
        ),
    ]


def state_inputs(construction: Construction) -> dict[str, Input]:
    """What a construction says of its greige and washed states."""
    source, where = f"construction {construction.code}", f"/constructions/{construction.code}"
    said = (
        ("greige_width_in", construction.greige_width_in, "Greige width", "in"),
        ("greige_add_on", construction.greige_add_on, "Size and dye on the greige warp", "share"),
        ("residual_length", construction.residual_length, "Residual shrinkage, length", "share"),
        ("residual_width", construction.residual_width, "Residual shrinkage, width", "share"),
        ("wash_mass_change", construction.wash_mass_change, "Mass change in the wash", "share"),
    )
    return {
        name: Input(value, label, unit, source, None, "", where)
        for name, value, label, unit in said
        if value is not None
    }
