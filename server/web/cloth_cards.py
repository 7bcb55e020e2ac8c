"""A cloth state by state: what each card and the width chain show."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import fmean

from server.actions.constructions import Cloth
from server.core.calibration import Piece
from server.core.cloth_states import CALIBRATED, CRIMP_NOTED, STARTING_VALUE, calibrated_on
from server.core.construction import Construction, Slot
from server.core.fabric import take_up_from_crimp
from server.web.numbers import Writer
from server.web.tables import Cell, Column, Row, Table


@dataclass(frozen=True, slots=True)
class Fact:
    """A term with its value; the value opens when it has an address."""

    label: str
    value: str
    unit: str = ""
    href: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Card:
    """One state of the cloth."""

    title: str
    state: str
    facts: tuple[Fact, ...]


def width_table(cloth: Cloth, writer: Writer, path: str) -> Table:
    """Reed to greige to finished to cuttable, and washed: width, ends, and what each step takes."""
    construction, figures = cloth.construction, cloth.figures
    contraction = "finishing_loss" if "finishing_loss" in figures else "width_contraction"
    steps = (
        ("Reed", construction.reed_width_in, "reed_epi", ""),
        ("Greige", construction.greige_width_in, "greige_epi", "greige_loss"),
        ("Finished", construction.finished_width_in, "finished_epi", contraction),
        ("Cuttable", construction.cuttable_width_in, "", "cuttable_loss"),
        ("Washed, edge to edge", figures.get("washed_width"), "washed_epi", "residual_width"),
    )

    def opened(key: str, unit: str) -> Cell:
        if key not in figures:
            return Cell("")
        href = f"{path}/{key}" if key in cloth.sheet.by_key else None
        return Cell(writer.text(figures[key], unit), href=href)

    return Table(
        caption="Width chain; each loss is of the width before it, the washed one of the finished",
        columns=(
            Column("state", "State"),
            Column("width", "Width", writer.unit("in"), numeric=True),
            Column("ends", "Ends", writer.unit("1/in"), numeric=True),
            Column("loss", "Lost", "%", numeric=True),
        ),
        rows=tuple(
            Row(
                (
                    Cell(state),
                    Cell(writer.text(width, "in"), strong=True),
                    opened(ends, "1/in"),
                    opened(loss, "share"),
                ),
                key=state,
            )
            for state, width, ends, loss in steps
            if width is not None
        ),
        empty="",
    )


def greige_card(cloth: Cloth, writer: Writer, path: str) -> tuple[Card, ...]:
    """The cloth off the loom, where the construction says its width."""
    construction, width = cloth.construction, cloth.construction.greige_width_in
    if width is None:
        return ()

    def opened(label: str, key: str) -> tuple[Fact, ...]:
        if key not in cloth.figures:
            return ()
        unit = cloth.sheet.by_key[key].unit
        text = writer.text(cloth.figures[key], unit)
        return (Fact(label, text, writer.unit(unit), f"{path}/{key}"),)

    add_on = construction.greige_add_on
    return (
        Card(
            "Greige state",
            "off the loom, relaxed",
            (
                *opened("Weight, greige", "greige_ounces"),
                *opened("Ends, greige", "greige_epi"),
                Fact("Greige width", writer.text(width, "in"), writer.unit("in")),
                Fact(
                    "Size and dye on the warp",
                    "–" if add_on is None else writer.text(add_on, "share"),
                    "" if add_on is None else "%",
                    note="enter it for the greige weight" if add_on is None else "of warp mass",
                ),
            ),
        ),
    )


def washed_card(cloth: Cloth, writer: Writer, path: str) -> tuple[Card, ...]:
    """What the laundry leaves, where the construction says what it takes."""
    if "washed_ounces" not in cloth.figures:
        return ()

    def opened(label: str, key: str) -> Fact:
        unit = cloth.sheet.by_key[key].unit
        text = writer.text(cloth.figures[key], unit)
        return Fact(label, text, writer.unit(unit), f"{path}/{key}")

    construction = cloth.construction
    length, width = (
        writer.text(share or 0.0, "share")
        for share in (construction.residual_length, construction.residual_width)
    )
    return (
        Card(
            "Washed state",
            "after the laundry",
            (
                opened("Weight, washed", "washed_ounces"),
                opened("Ends, washed", "washed_epi"),
                opened("Picks, washed", "washed_ppi"),
                opened("Width, washed", "washed_width"),
                Fact("Residual shrinkage, length", length, "%"),
                Fact("Residual shrinkage, width", width, "%"),
                Fact(
                    "Mass change in the wash",
                    writer.signed(construction.wash_mass_change, "share"),
                    "%",
                ),
            ),
        ),
    )


def loom_card(cloth: Cloth, writer: Writer, path: str) -> Card:
    """The loom state; what follows from a finished state entered is marked derived."""
    construction = cloth.construction
    derived = "" if construction.entered_state == "loom" else "derived from the finished state"

    def computed_fact(label: str, key: str) -> Fact:
        unit = cloth.sheet.by_key[key].unit
        return Fact(
            label, writer.text(cloth.figures[key], unit), writer.unit(unit), f"{path}/{key}"
        )

    return Card(
        "Loom state",
        "as woven",
        (
            Fact(
                "Total ends",
                writer.text(construction.total_ends, "threads"),
                "threads",
                note=derived,
            ),
            Fact(
                "Reed width",
                writer.text(construction.reed_width_in, "in"),
                writer.unit("in"),
                note=derived,
            ),
            Fact(
                "Picks, loom",
                writer.text(construction.loom_ppi, "1/in"),
                writer.unit("1/in"),
                note=derived,
            ),
            computed_fact("Ends in the reed", "reed_epi"),
            *(
                Fact(
                    f"{slot.name.capitalize()} crimp",
                    writer.text(slot.crimp, "share"),
                    "%",
                    note=_crimp_words(slot, construction.calibration, writer),
                )
                for slot in construction.slots_of("warp")
            ),
            *(
                Fact(
                    f"{slot.name.capitalize()} waste",
                    writer.text(slot.waste, "share"),
                    "%",
                    note="of the yarn put in",
                )
                for slot in construction.slots
            ),
        ),
    )


def _crimp_words(slot: Slot, calibration: str, writer: Writer) -> str:
    """The other base of a crimp, and what it rests on."""
    take_up = writer.full(take_up_from_crimp(crimp=slot.crimp), "share")
    said = {
        "take-up": "entered as take-up",
        STARTING_VALUE: "starting value, nothing measured",
        CALIBRATED: f"calibrated on {calibrated_on(calibration, CRIMP_NOTED, slot.crimp)}",
    }.get(slot.crimp_from, "")
    return f"on cloth length; take-up {take_up}{f'; {said}' if said else ''}"


def _piece_facts(cloth: Cloth, pieces: tuple[Piece, ...], writer: Writer, path: str) -> list[Fact]:
    """The mean of the measured pieces beside the computed weight."""
    weights = [
        piece.ounces
        for piece in pieces
        if piece.ounces is not None and piece.state == "finished" and not piece.left_out
    ]
    if not weights:
        return []
    mean = fmean(weights)
    count = "1 piece" if len(weights) == 1 else f"{len(weights)} pieces"
    apart = cloth.figures["ounces"] / mean - 1
    return [
        Fact(
            "Weight of real pieces",
            writer.text(mean, "oz/yd²"),
            writer.unit("oz/yd²"),
            f"{path}/calibration",
            f"{count}; computed {writer.signed(apart, 'share')} %",
        )
    ]


def finished_card(cloth: Cloth, pieces: tuple[Piece, ...], writer: Writer, path: str) -> Card:
    """The finished and unwashed state, with the weight of real pieces beside the computed one."""
    construction = cloth.construction

    def opened(label: str, key: str) -> Fact:
        unit = cloth.sheet.by_key[key].unit
        return Fact(
            label, writer.text(cloth.figures[key], unit), writer.unit(unit), f"{path}/{key}"
        )

    facts = [
        opened("Weight, finished and unwashed", "ounces"),
        opened("The same by the square metre", "mass_per_area"),
        *_piece_facts(cloth, pieces, writer, path),
        opened("Ends, finished", "finished_epi"),
        opened("Picks, finished", "finished_ppi"),
        Fact(
            "Finished width", writer.text(construction.finished_width_in, "in"), writer.unit("in")
        ),
        Fact(
            "Cuttable width", writer.text(construction.cuttable_width_in, "in"), writer.unit("in")
        ),
        opened("Width contraction, reed to finished", "width_contraction"),
        Fact(
            "Length shrink, loom to finished", writer.text(construction.length_shrink, "share"), "%"
        ),
        *_finish_facts(construction, writer),
        opened("Warp cover factor, finished", "warp_cover"),
        opened("Filling cover factor, finished", "filling_cover"),
        Fact(
            "Square sett of the warp yarn",
            writer.text(cloth.highest_sett("warp"), "1/in"),
            writer.unit("1/in"),
            note="most threads of a square cloth in this weave (Ashenhurst, Taylor)",
        ),
        Fact(
            "Weight over straight yarn",
            f"{cloth.straight_ratio:.2f}",
            "×",
            note="1.02 to 1.30 is usual",
        ),
    ]
    if construction.measured_oz is not None:
        off = cloth.figures.get("weight_deviation")
        facts.insert(
            2,
            Fact(
                f"Weight of a real piece, {construction.measured_state}",
                writer.text(construction.measured_oz, "oz/yd²"),
                writer.unit("oz/yd²"),
                "" if off is None else f"{path}/weight_deviation",
                "no weight of that state is computed"
                if off is None
                else f"computed {writer.signed(off, 'share')} %",
            ),
        )
    return Card("Finished state", "as sold", tuple(facts))


def _finish_facts(construction: Construction, writer: Writer) -> tuple[Fact, ...]:
    """Net finish as one figure, or its parts."""
    if not construction.finish_in_parts:
        return (
            Fact("Net finish on yarn mass", writer.text(construction.net_finish, "share"), "%"),
        )
    return (
        Fact("Size and dye on the warp", writer.text(construction.warp_retained, "share"), "%"),
        Fact("Scouring loss", writer.text(construction.scouring_loss, "share"), "%"),
        Fact("Coating", writer.text(construction.coating_g_per_m2, "g/m²"), "g/m²"),
    )
