"""What the width that a stretch cloth loses costs, per cuttable area and per garment.

Stretch filling pulls the cloth together: 75 in in the reed become 54 in finished. The same metre,
at the width a rigid cloth keeps, would give more cuttable area for the same cost. The cloth would
be lighter as well, which the lines say; no such cloth is claimed to exist.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from statistics import median

from server.core import conversion as money
from server.core.construction import Construction
from server.core.errors import BadValue
from server.core.fabric import ounces_per_square_yard, width_contraction
from server.core.formula import formula
from server.core.pair import garment_cost, garment_length
from server.core.quantities import (
    GramPerSquareMetre,
    Inch,
    LossShare,
    Money,
    MoneyPerSquareMetre,
    SignedShare,
)
from server.core.sheet import Input, Line

MOST_LOSS = 0.6  # a width loss above this is refused [share]
RIGID_LOSS = "rigid_width_loss"


@formula(source="definition of the width contraction")
def width_after_loss(*, reed_width_in: Inch, width_loss: LossShare) -> Inch:
    """Finished width of a cloth that loses a given part of its width in the reed.

    reed_width_in: width of the warp in the reed [in]
    width_loss: width lost from reed to finished, on the width in the reed [share]
    """
    return reed_width_in * (1 - width_loss)


@formula(source="definition: what cannot be cut")
def uncut_width(*, finished_width_in: Inch, cuttable_width_in: Inch) -> Inch:
    """Width of the selvedges and edges that are not cut.

    finished_width_in: finished width edge to edge [in]
    cuttable_width_in: width between the selvedges [in]
    """
    return finished_width_in - cuttable_width_in


@formula(source="definition: what can be cut")
def cuttable_width(*, finished_width_in: Inch, uncut_width_in: Inch) -> Inch:
    """Width between the selvedges.

    finished_width_in: finished width edge to edge [in]
    uncut_width_in: selvedges and edges, smaller than the cloth [in]
    """
    return finished_width_in - uncut_width_in


@formula(source="definition: the same metre over another width")
def mass_at_width(
    *, mass_per_area: GramPerSquareMetre, finished_width_in: Inch, other_width_in: Inch
) -> GramPerSquareMetre:
    """Weight the same metre would have at another finished width.

    mass_per_area: weight at the finished width [g/m²]
    finished_width_in: finished width edge to edge [in]
    other_width_in: the other finished width, above zero [in]
    """
    return mass_per_area * finished_width_in / other_width_in


@formula(source="definition: a difference of costs")
def area_cost_of_width(
    *, narrow_per_area: MoneyPerSquareMetre, wide_per_area: MoneyPerSquareMetre
) -> MoneyPerSquareMetre:
    """What the width taken costs on one cuttable square metre.

    narrow_per_area: cost at the width of this cloth [¤/m²]
    wide_per_area: the same cost per metre at the width of a rigid cloth [¤/m²]
    """
    return narrow_per_area - wide_per_area


@formula(source="definition: a difference of costs")
def garment_cost_of_width(*, narrow_garment: Money, wide_garment: Money) -> Money:
    """What the width taken costs in one garment.

    narrow_garment: cost at the width of this cloth [¤]
    wide_garment: the same cost per metre at the width of a rigid cloth [¤]
    """
    return narrow_garment - wide_garment


@formula(source="definition: the narrower over the wider cloth")
def width_paid_for(*, cuttable_width_in: Inch, rigid_cuttable_in: Inch) -> SignedShare:
    """Part of the cost of a cuttable square metre that pays for the width taken.

    cuttable_width_in: width between the selvedges [in]
    rigid_cuttable_in: the same at the width of a rigid cloth, above zero [in]
    """
    return 1 - cuttable_width_in / rigid_cuttable_in


@dataclass(frozen=True, slots=True)
class RigidWidth:
    """How much width a rigid cloth loses from reed to finished, and who says so.

    loss: [share]; None when the house has no rigid cloth and nobody typed a figure
    """

    loss: float | None
    source: str
    typed: str = ""


def is_rigid(construction: Construction) -> bool:
    """Whether a construction asks for no stretch: no core in any yarn, no heat setting."""
    return not construction.heat_set and all(slot.core == "none" for slot in construction.slots)


def rigid_width(constructions: Iterable[Construction], typed: str = "") -> RigidWidth:
    """The width loss of a rigid cloth: typed in per cent, else the median of the house's own.

    Raises BadValue for a text that is no such percentage.
    """
    if typed.strip():
        return RigidWidth(_loss(typed), "typed in the address", typed.strip())
    losses = {
        each.code: float(
            width_contraction(
                reed_width_in=each.reed_width_in, finished_width_in=each.finished_width_in
            )
        )
        for each in constructions
        if each.slots and is_rigid(each)
    }
    if not losses:
        return RigidWidth(None, "the house has no rigid construction")
    return RigidWidth(
        float(median(losses.values())),
        f"median of {len(losses)} rigid constructions of the house: {', '.join(sorted(losses))}",
    )


def _loss(typed: str) -> float:
    text = typed.strip()
    try:
        percent = float(text) if len(text) <= 20 and "_" not in text else -1.0
    except ValueError:
        percent = -1.0
    if not 0 <= percent <= MOST_LOSS * 100:
        raise BadValue(
            f"“{text[:20]}” is no width loss.",
            field="rigid_loss",
            value=text,
            unit="%",
            remedy=f"Enter 0 to {MOST_LOSS * 100:g} % of the width in the reed, such as 6.9.",
        )
    return percent / 100


def width_lines(construction: Construction) -> tuple[Line, ...]:
    """From the width loss of a rigid cloth to what the width taken costs.

    Fed by the lines of the pair and by RIGID_LOSS.
    """
    wide = {"cuttable_width_in": "width.rigid_cuttable"}
    lines = [
        Line("width.rigid_finished", width_after_loss, {"width_loss": RIGID_LOSS},
             "Finished width at the loss of a rigid cloth"),
        Line("width.uncut", uncut_width),
        Line("width.rigid_cuttable", cuttable_width,
             {"finished_width_in": "width.rigid_finished", "uncut_width_in": "width.uncut"},
             "Cuttable width at the loss of a rigid cloth"),
        Line("width.paid_for", width_paid_for, {"rigid_cuttable_in": "width.rigid_cuttable"}),
        Line("width.rigid_mass", mass_at_width, {"other_width_in": "width.rigid_finished"}),
        Line("width.rigid_ounces", ounces_per_square_yard, {"mass_per_area": "width.rigid_mass"},
             "Weight of the same metre at that width"),
    ]  # fmt: skip
    garment = construction.garment_metres and construction.garment_width_in
    if garment:
        label = "Cloth for one garment at that width"
        lines.append(Line("width.garment_length", garment_length, wide, label))
    for of, label in (("yarn", "Yarn"), ("fabric", "Finished cloth")):
        cost, area = {"per_metre": f"{of}_cost"}, f"width.{of}_per_area"
        lines += [
            Line(area, money.per_cuttable_area, {**cost, **wide},
                 f"{label}, for a cuttable m² at that width"),
            Line(f"width.{of}_area_cost", area_cost_of_width,
                 {"narrow_per_area": f"{of}_per_area", "wide_per_area": area},
                 f"{label}: cost of the width taken, for a cuttable m²"),
        ]  # fmt: skip
        if garment:
            lines += [
                Line(f"width.garment_{of}", garment_cost,
                     {**cost, "garment_length": "width.garment_length"},
                     f"{label} in one garment at that width"),
                Line(f"width.garment_{of}_cost", garment_cost_of_width,
                     {"narrow_garment": f"garment_{of}", "wide_garment": f"width.garment_{of}"},
                     f"{label}: cost of the width taken, in one garment"),
            ]  # fmt: skip
    return tuple(lines)


def width_input(rigid: RigidWidth) -> dict[str, Input]:
    """The width loss of a rigid cloth as an input, when there is one."""
    if rigid.loss is None:
        return {}
    label = "Width loss of a rigid cloth, reed to finished"
    return {RIGID_LOSS: Input(rigid.loss, label, "share", rigid.source, None, rigid.typed)}


def refuse_too_narrow(construction: Construction, rigid: RigidWidth) -> None:
    """Raises BadValue when a typed loss leaves no width that could be cut."""
    if rigid.loss is None:
        return
    finished = width_after_loss(reed_width_in=construction.reed_width_in, width_loss=rigid.loss)
    uncut = construction.finished_width_in - construction.cuttable_width_in
    if finished <= uncut:
        raise BadValue(
            f"A width loss of {rigid.loss * 100:g} % leaves nothing to cut.",
            field="rigid_loss",
            value=rigid.typed,
            unit="%",
            remedy="Enter the width loss of a rigid cloth, such as 6.9.",
        )
