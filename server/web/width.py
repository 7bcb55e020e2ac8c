"""How much width is paid for in a stretch cloth: the width chain, its cost by area and garment."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from server.actions.effects import RIGID_LOSS_NAME
from server.core.stretch_width import RIGID_LOSS
from server.core.whole_pair import WholePair
from server.web.numbers import Writer, percent
from server.web.tables import Cell, Column, Row, Table

NAME = RIGID_LOSS_NAME


@dataclass(frozen=True, slots=True)
class WidthView:
    """The width of a stretch cloth.

    sentence: how much width is paid for; href: its main figure, opened; lighter: what it leaves out
    hidden: the rest of the query, for the form that takes another width loss
    """

    sentence: str
    figure: str
    figure_unit: str
    href: str
    lighter: str
    chain: Table
    costs: Table | None
    source: str
    name: str
    typed: str
    error: str
    hidden: tuple[tuple[str, str], ...]


def width_view(
    whole: WholePair,
    writer: Writer,
    to: Callable[..., str],
    kept: Mapping[str, str],
    error: str,
    typed: str,
) -> WidthView:
    """The width chain of a pair's cloth beside that of a rigid cloth.

    to: address of an opened figure; error, typed: a width loss that was refused
    """
    rigid = whole.effects.rigid
    known = rigid is not None and rigid.loss is not None
    return WidthView(
        sentence=_sentence(whole, writer) if known else _without(whole, writer),
        figure=writer.text(whole.figures["width.fabric_area_cost"], "¤/m²") if known else "",
        figure_unit=writer.unit("¤/m²"),
        href=to("width.fabric_area_cost") if known else "",
        lighter=_lighter(whole, writer) if known else "",
        chain=_chain(whole, writer, to, known=known),
        costs=_costs(whole, writer, to) if known else None,
        source=rigid.source if rigid else "",
        name=NAME,
        typed=typed or (rigid.typed if rigid else ""),
        error=error,
        hidden=tuple((name, value) for name, value in kept.items() if name != NAME),
    )


def _without(whole: WholePair, writer: Writer) -> str:
    taken = percent(whole.figures["width_contraction"])
    return (
        f"{taken} of the width is taken from reed to finished. The house has no rigid cloth to "
        "hold it against: enter the width loss of one."
    )


def _sentence(whole: WholePair, writer: Writer) -> str:
    figures, construction = whole.figures, whole.comparison.construction
    rigid = float(whole.inputs[RIGID_LOSS].value)
    reed = writer.full(construction.reed_width_in, "in")
    left = writer.full(construction.cuttable_width_in, "in")
    taken = writer.full(figures["width_contraction"], "share")
    kept = writer.full(rigid, "share")
    share = figures["width.paid_for"]
    begin = (
        f"{reed} in the reed become {left} cuttable: {taken} of the width is taken, where a rigid "
        f"cloth loses {kept}. "
    )
    if share <= 0:
        return begin + "No width is paid for: this cloth keeps as much as a rigid one, or more."
    return (
        begin + f"The width beyond that is {writer.full(share, 'share')} of what a cuttable area "
        f"costs: {_cost(whole, 'yarn', writer)} of yarn, {_cost(whole, 'fabric', writer)} of "
        "finished cloth."
    )


def _cost(whole: WholePair, of: str, writer: Writer) -> str:
    area = writer.full(whole.figures[f"width.{of}_area_cost"], "¤/m²")
    garment = whole.figures.get(f"width.garment_{of}_cost")
    return area if garment is None else f"{area} or {writer.full(garment, '¤')} a garment"


def _lighter(whole: WholePair, writer: Writer) -> str:
    now = writer.full(whole.figures["ounces"], "oz/yd²")
    then = writer.full(whole.figures["width.rigid_ounces"], "oz/yd²")
    return (
        f"The same metre at that width would weigh {then} instead of {now}; the stretch is what "
        "the width buys. The marker is taken as equally good at both widths."
    )


def _chain(whole: WholePair, writer: Writer, to: Callable[..., str], *, known: bool) -> Table:
    construction, figures = whole.comparison.construction, whole.figures

    def row(label: str, inches: float, beside: str, *, href: str = "") -> Row:
        cell = Cell(writer.text(beside_in[beside], "in"), href=to(beside)) if beside else Cell("–")
        return Row((Cell(label), Cell(writer.text(inches, "in"), href=href or None), cell), label)

    beside_in = figures if known else {}
    finished, cut = ("width.rigid_finished", "width.rigid_cuttable") if known else ("", "")
    taken = writer.text(figures["width_contraction"], "share")
    rigid = writer.text(float(whole.inputs[RIGID_LOSS].value), "share") if known else "–"
    return Table(
        caption="Width, from the reed to what can be cut",
        columns=(
            Column("width", "Width"),
            Column("here", "This cloth", writer.unit("in"), numeric=True),
            Column("rigid", "At a rigid cloth's loss", writer.unit("in"), numeric=True),
        ),
        rows=(
            Row(
                (
                    Cell("In the reed"),
                    Cell(writer.text(construction.reed_width_in, "in")),
                    Cell(writer.text(construction.reed_width_in, "in")),
                ),
                "reed",
            ),
            row("Finished", construction.finished_width_in, finished),
            row("Cuttable", construction.cuttable_width_in, cut),
            Row(
                (
                    Cell("Taken, reed to finished, %"),
                    Cell(taken, href=to("width_contraction")),
                    Cell(rigid),
                ),
                "taken",
            ),
        ),
        empty="",
    )


COSTS = (
    ("Yarn, cuttable area", "yarn_per_area", "width.yarn_per_area", "width.yarn_area_cost"),
    ("Finished cloth, cuttable area", "fabric_per_area", "width.fabric_per_area",
     "width.fabric_area_cost"),
    ("Cloth for one garment", "garment_length", "width.garment_length", ""),
    ("Yarn in one garment", "garment_yarn", "width.garment_yarn", "width.garment_yarn_cost"),
    ("Finished cloth in one garment", "garment_fabric", "width.garment_fabric",
     "width.garment_fabric_cost"),
)  # fmt: skip


def _costs(whole: WholePair, writer: Writer, to: Callable[..., str]) -> Table:
    def cell(key: str) -> Cell:
        if key not in whole.sheet.by_key:
            return Cell("–")
        return Cell(writer.text(whole.figures[key], whole.sheet.by_key[key].unit), href=to(key))

    return Table(
        caption="The same cost of a metre over both widths: an estimate",
        columns=(
            Column("figure", "Figure"),
            Column("unit", "Unit"),
            Column("here", "This cloth", numeric=True),
            Column("rigid", "At a rigid cloth's loss", numeric=True),
            Column("width", "For the width taken", numeric=True),
        ),
        rows=tuple(
            Row(
                (
                    Cell(label),
                    Cell(writer.unit(whole.sheet.by_key[here].unit)),
                    cell(here),
                    cell(there),
                    cell(more),
                ),
                key=here,
            )
            for label, here, there, more in COSTS
            if here in whole.sheet.by_key
        ),
        empty="",
    )
