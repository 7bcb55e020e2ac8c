"""One pair of a pack: every figure with its formula, every input behind it."""

from __future__ import annotations

from dataclasses import dataclass

from server.core.pack import FrozenInput, FrozenLine, FrozenPair, Pack
from server.export.pack_words import FOR_US, basis_line
from server.export.packs import COMPARED
from server.web.numbers import Writer
from server.web.pack_view import anchor, made_line
from server.web.tables import Cell, Column, Row, Table


@dataclass(frozen=True, slots=True)
class LineView:
    """One figure of a pair, with its formula."""

    anchor: str
    label: str
    figure: str
    unit: str
    in_words: str
    in_numbers: str
    source: str
    notes: str


@dataclass(frozen=True, slots=True)
class PackPairView:
    """Every figure of one pair and every input behind it."""

    title: str
    cloth: str
    yarns: tuple[str, ...]
    back_href: str
    lines: tuple[LineView, ...]
    inputs: Table
    internal: str
    made: str
    basis: str


def pair_view(pack: Pack, place: int, pair: FrozenPair, writer: Writer, base: str) -> PackPairView:
    """One pair of a pack. place: of its cloth, from 1"""
    cloth, internal = pack.cloths[place - 1], pack.view == "internal"
    return PackPairView(
        title=f"{pair.label} in {cloth.title}",
        cloth=cloth.title,
        yarns=tuple(
            f"{yarn.slot}: {', '.join(part for part in parts if part)}"
            for yarn in pair.yarns
            for parts in ((yarn.code, yarn.count, yarn.process, yarn.supplier, yarn.country),)
        ),
        back_href=f"{base}#cloth-{place}",
        lines=tuple(_line(pack, pair, line, writer) for line in pack.lines_of(pair)),
        inputs=_inputs(pack, pair, writer, internal=internal),
        internal=FOR_US if internal else "",
        made=made_line(pack),
        basis=basis_line(pack),
    )


def _line(pack: Pack, pair: FrozenPair, line: FrozenLine, writer: Writer) -> LineView:
    formula = pack.formulas[line.formula]
    fed = {argument: pack.value_of(pair, source) or 0.0 for argument, source in line.feeds}
    value = pack.value_of(pair, line.key) or 0.0
    return LineView(
        anchor(line.key),
        line.label,
        writer.text(value, line.unit),
        writer.unit(line.unit),
        pack.in_words(pair, line),
        formula.words.format_map({name: f"{each:.10g}" for name, each in fed.items()}),
        formula.source,
        formula.notes,
    )


def _inputs(pack: Pack, pair: FrozenPair, writer: Writer, *, internal: bool) -> Table:
    inputs = pack.inputs_of(pair)
    return Table(
        caption=f"{len(inputs)} figures this pair rests on",
        columns=(
            Column("label", "What"),
            Column("value", "Value", numeric=True),
            Column("unit", "Unit"),
            *(
                (Column("entered", "As entered"), Column("source", "Source"), Column("on", "Day"))
                if internal
                else ()
            ),
        ),
        rows=tuple(_input_row(name, each, writer, internal) for name, each in inputs.items()),
        empty="This view shows no figure behind the pair.",
    )


def _input_row(name: str, entry: FrozenInput, writer: Writer, internal: bool) -> Row:
    text = f"{entry.value * 100:.6g}" if entry.unit == "share" else f"{entry.value:.8g}"
    unit = (
        "%" if entry.unit == "share" else entry.unit.replace("¤q", "").replace("¤", writer.currency)
    )
    known = {each.key for each in COMPARED}
    cells: tuple[Cell, ...] = (
        Cell(entry.label, href=entry.where if internal and entry.where else None),
        Cell(text, strong=name in known),
        Cell(unit),
    )
    if internal:
        day = entry.on.isoformat() if entry.on else ""
        cells = (*cells, Cell(entry.as_entered), Cell(entry.source), Cell(day))
    return Row(cells, key=name)
