"""Tables of the break-evens of two options: both in every figure, the ties, what brings none."""

from __future__ import annotations

from collections.abc import Mapping

from server.actions.ties import TODAY, Ties
from server.core.movements import REACH
from server.core.ties import NoTie, Tie
from server.export.ties import FIGURE_NAMES, moves_in, to_beat
from server.web import addresses
from server.web.numbers import Writer, percent
from server.web.sentences import movement_value
from server.web.tables import Cell, Column, Row, Table


def costs_table(found: Ties, writer: Writer, path: str, query: Mapping[str, str]) -> Table:
    """The same two options in every figure they both have."""
    held = found.contest
    rows = []
    for key, (name, unit) in FIGURE_NAMES.items():
        if any(key not in each.costing.figures for each in (held.first, held.second)):
            continue
        first, second = (each.costing.figures[key] for each in (held.first, held.second))
        chosen, asked = key == held.figure, {**query, "figure": key}
        href = addresses.with_query(f"{path}/{TODAY}", asked)
        rows.append(
            Row(
                (
                    Cell(name, addresses.with_query(path, asked), strong=chosen),
                    Cell(writer.signed(second - first, unit), strong=chosen),
                    Cell(writer.signed(second / first - 1, "share"), strong=chosen),
                    Cell(writer.text(first, unit), href, strong=chosen),
                    Cell(writer.text(second, unit), href, strong=chosen),
                    Cell(writer.unit(unit)),
                ),
                key=key,
            )
        )
    return Table(
        caption="Both options; a figure opens, its name looks for ties in it",
        columns=(
            Column("figure", "Figure"),
            Column("difference", "Second less first", numeric=True),
            Column("share", "of the first", "%", numeric=True),
            Column("first", held.first.label, numeric=True),
            Column("second", held.second.label, numeric=True),
            Column("unit", "Unit"),
        ),
        rows=tuple(rows),
        empty="",
    )


def ties_table(found: Ties, writer: Writer, path: str, query: Mapping[str, str]) -> Table:
    """Every tie, the nearest first."""
    held = found.contest
    unit = FIGURE_NAMES[held.figure][1]
    return Table(
        caption=f"Ties within ± {percent(REACH)}, the nearest first; each opens to both costs",
        columns=(
            Column("what", "What moves"),
            Column("today", "Today", numeric=True),
            Column("tie", "Tie", numeric=True),
            Column("unit", "Unit"),
            Column("distance", "Distance", "%", numeric=True),
            Column("cost", "Both cost", writer.unit(unit), numeric=True),
            Column("moves", "Moves in"),
        ),
        rows=tuple(_tie_row(found, tie, writer, path, query) for tie in held.ties),
        empty="Both cost the same today."
        if held.even
        else f"Nothing that moves within ± {percent(REACH)} of today brings a tie.",
        exports=tuple(
            (name, addresses.with_query(f"{path}.{form}", query))
            for name, form in (("CSV", "csv"), ("JSON", "json"))
        ),
    )


def _tie_row(found: Ties, tie: Tie, writer: Writer, path: str, query: Mapping[str, str]) -> Row:
    held, movement = found.contest, tie.movement
    today, unit = movement_value(movement, movement.present, writer)
    value, _ = movement_value(movement, tie.value, writer)
    offer = found.offers.get(movement.offer) if movement.is_price else None
    along = "; ".join(movement.along).replace("¤", writer.currency)
    quoted = f"{offer.term} {offer.place}: quoted “{offer.as_quoted}”" if offer else ""
    if offer and float(offer.price) != movement.present:
        quoted += f"; {movement.input.as_entered} for the quantity needed"
    cost = writer.text(tie.cost, FIGURE_NAMES[held.figure][1])
    return Row(
        (
            Cell(
                f"{movement.label}, to beat" if to_beat(movement, held) else movement.label,
                addresses.offer_path(offer.code) if offer else None,
                note=quoted or _note(found, tie, along),
            ),
            Cell(today),
            Cell(value, strong=True),
            Cell(unit),
            Cell(writer.signed(tie.distance, "share")),
            Cell(cost, addresses.with_query(f"{path}/{addresses.part(movement.key)}", query)),
            Cell(moves_in(movement, held)),
        ),
        key=movement.key,
    )


def _note(found: Ties, tie: Tie, along: str) -> str:
    """What moves along; for the figure of a cloth, in which of the two alone."""
    if tie.movement.key.startswith(("first:", "second:")):
        return f"in {moves_in(tie.movement, found.contest)} alone"
    return f"in proportion: {along}" if along else ""


def untied_table(found: Ties, writer: Writer) -> Table:
    """What moves without a tie, and why."""
    held = found.contest
    return Table(
        caption="What can move without bringing them together",
        columns=(
            Column("what", "What moves"),
            Column("today", "Today", numeric=True),
            Column("unit", "Unit"),
            Column("why", "Why there is none"),
            Column("moves", "Moves in"),
        ),
        rows=tuple(
            Row(
                (
                    Cell(each.movement.label),
                    Cell(movement_value(each.movement, each.movement.present, writer)[0]),
                    Cell(movement_value(each.movement, each.movement.present, writer)[1]),
                    Cell(_why_untied(found, each, writer)),
                    Cell(moves_in(each.movement, held)),
                ),
                key=each.movement.key,
            )
            for each in held.untied
        ),
        empty="",
    )


def _why_untied(found: Ties, each: NoTie, writer: Writer) -> str:
    if each.alike:
        return "moves both alike"
    if each.jump:
        return "the sign turns in a jump from one price of an offer to the next"
    unit = FIGURE_NAMES[found.contest.figure][1]
    return (
        f"at {percent(each.nearest - 1, signed=True)} still "
        f"{writer.signed(each.apart, unit)} {writer.unit(unit)} apart"
    )
