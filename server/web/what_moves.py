"""What a rate would move, shown before it is stored."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import Request

from server.actions.book import current_book
from server.actions.nouns import Noun
from server.actions.what_moves import Entries, Move, WhatMoves, what_moves
from server.request import house_of
from server.web import addresses
from server.web.numbers import Writer
from server.web.render import units_of
from server.web.tables import Cell, Column, Row, Table, Tone


@dataclass(frozen=True, slots=True)
class MovesView:
    """Everything the part shows. basis: the one it was worked out on."""

    summary: str
    basis: str
    on: str
    doubts: tuple[str, ...]
    table: Table


def bases_of(request: Request) -> tuple[str, ...]:
    """Names of the saved bases, the one pages open with first."""
    return tuple(basis.name for basis in current_book(house_of(request).engine).bases)


def moves_view(request: Request, noun: Noun, entries: Entries, basis_name: str) -> MovesView | None:
    """What the entries would move on a basis; None while there is no basis. Raises NotFound."""
    engine = house_of(request).engine
    if not current_book(engine).bases:
        return None
    found = what_moves(engine, noun, entries, basis_name)
    basis, writer = found.basis, Writer(units_of(request), found.basis.currency)
    return MovesView(
        _summary(found),
        basis.name,
        f"basis “{basis.name}”: {basis.currency}, rates of {basis.rates_on}",
        found.doubts,
        Table(
            caption=f"What this moves, on basis “{basis.name}”",
            columns=(
                Column("construction", "Construction"),
                Column("before", "Leader now"),
                Column("after", "Leader then"),
                Column("cost_before", "Cost now", writer.unit("¤/m"), numeric=True),
                Column("cost_after", "Cost then", writer.unit("¤/m"), numeric=True),
                Column("change", "Difference", writer.unit("¤/m"), numeric=True),
                Column("offers", "Offers that move", numeric=True),
                Column("largest", "Largest move", writer.unit("¤/kg"), numeric=True),
            ),
            rows=tuple(_row(move, writer) for move in found.moves),
            empty="There is no construction to compare.",
        ),
    )


def _summary(found: WhatMoves) -> str:
    moving = [move for move in found.moves if move.moves]
    if found.held_from is not None and not moving:
        return (
            f"Nothing moves on this basis: it holds from {found.held_from}, the rates of the basis "
            f"are of {found.basis.rates_on}."
        )
    leaders = sum(move.leader_changes for move in moving)
    combinations = sum(move.combination_changes for move in moving)
    left = f" {found.not_looked_at} more were not looked at." if found.not_looked_at else ""
    if not moving:
        return f"Nothing moves in {_many(len(found.moves), 'construction')}.{left}"
    return (
        f"{_many(len(moving), 'construction')} of {len(found.moves)} would move; the leader "
        f"changes in {leaders}, its combination in {combinations}.{left}"
    )


def _many(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"


def _row(move: Move, writer: Writer) -> Row:
    before, after = move.before, move.after
    tone: Tone = "" if move.moves else "muted"
    notes = [f"{move.restanding} change standing"] if move.restanding else []
    notes += [f"{code}: {reason}" for code, reason in move.lost[:2]]
    if len(move.lost) > 2:
        notes.append(f"{len(move.lost) - 2} more lose their price")
    code, most = move.largest or ("", None)
    note = ""
    if move.combination_changes:
        note = f"another combination, {after.combination}" if after.combination else ""
    elif move.leader_changes:
        note = "another pair leads"
    return Row(
        (
            Cell(
                f"{move.construction.code} {move.construction.name}",
                href=addresses.compare_path(move.construction.code),
                strong=True,
            ),
            Cell(before.pair or before.missing, note=before.combination),
            Cell(after.pair or after.missing, note=note, strong=move.leader_changes),
            Cell("" if before.cost is None else writer.text(before.cost, "¤/m")),
            Cell("" if after.cost is None else writer.text(after.cost, "¤/m")),
            Cell("" if move.change is None else writer.signed(move.change, "¤/m"), strong=True),
            Cell(str(move.offers), note="; ".join(notes)),
            Cell("" if most is None else writer.signed(most, "¤/kg"), note=code),
        ),
        key=move.construction.code,
        tone=tone,
    )
