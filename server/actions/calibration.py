"""Calibrating a construction on its measured pieces, or beside a sister cloth of the house."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from statistics import fmean

from server.actions.book import current_book
from server.actions.nouns import NOUNS
from server.actions.records import change_record, one_record
from server.core.calibration import (
    CRIMP,
    FINISH,
    NOTED,
    SHRINK,
    WIDTH_CRIMP,
    Calibration,
    Piece,
    Sister,
    calibrate,
    sister_of,
)
from server.core.cloth_states import calibration_notes
from server.core.construction import Construction
from server.core.errors import BadValue
from server.core.fabric import area_mass_from_ounces
from server.store import pieces as store
from server.store.audit import Change
from server.store.book import Book
from server.store.pieces import pieces_of
from server.store.session import Engine, reading, writing

CONSTRUCTIONS = NOUNS["constructions"]
HUNDREDTH = Decimal("0.01")  # of a percent: what a calibrated value is stored to


@dataclass(frozen=True)
class Calibrated:
    """A construction held to its pieces.

    sisters: other cloths of the house with a weight; history: (label of the piece, what was done)
    """

    calibration: Calibration
    version: int
    sisters: tuple[Sister, ...]
    history: tuple[tuple[str, Change], ...]


def calibration_of(engine: Engine, code: str) -> Calibrated:
    """What the pieces of a construction and its sister cloths say. Raises NotFound."""
    book = current_book(engine)
    construction = book.construction(code)
    with reading(engine) as session:
        every = pieces_of(session)
        history = store.history_of_pieces(session, construction.id)
    return Calibrated(
        calibrate(construction, every.get(construction.id, [])),
        one_record(engine, CONSTRUCTIONS, code).version,
        _sisters(book, construction, every),
        tuple(history),
    )


def remove_piece(engine: Engine, code: str, number: int, person_id: int) -> None:
    """Remove a measured piece. Raises NotFound."""
    construction = current_book(engine).construction(code)
    with writing(engine, person_id) as session:
        store.remove_piece(session, construction.id, number)


def pieces_measured(engine: Engine, construction: Construction) -> tuple[Piece, ...]:
    """The measured pieces of one construction."""
    with reading(engine) as session:
        return tuple(pieces_of(session, construction.id).get(construction.id, ()))


def _sisters(
    book: Book, construction: Construction, every: dict[int, list[Piece]]
) -> tuple[Sister, ...]:
    """Other constructions with a measured weight, those of the same weave and kind first."""
    found = []
    for other in book.constructions:
        weights = [
            piece.mass_per_area
            for piece in every.get(other.id, [])
            if piece.state == "finished" and piece.mass_per_area is not None and not piece.left_out
        ]
        if not weights and other.measured_oz and other.measured_state == "finished":
            weights = [float(area_mass_from_ounces(ounces_per_square_yard=other.measured_oz))]
        if other.id != construction.id and weights and other.slots:
            near = (other.heat_set != construction.heat_set, other.weave != construction.weave)
            found.append((near, sister_of(construction, other, fmean(weights), len(weights))))
    return tuple(sister for _, sister in sorted(found, key=lambda each: each[0]))


def take_calibration(
    engine: Engine, code: str, names: Collection[str], person_id: int, *, version: int, on: date
) -> int:
    """Store estimates in the construction, each to a hundredth of a percent; gives the version.

    names: keys of the estimates taken; on: the day, for the note that says what was calibrated
    Raises BadValue when nothing is taken, NotFound, Conflict.
    """
    construction = current_book(engine).construction(code)
    found = calibrate(construction, pieces_measured(engine, construction), names)
    taken = [each for each in found.estimates if each.key in found.chosen]
    if not taken:
        raise BadValue(
            "Nothing is ticked, so there is nothing to take.",
            field="take",
            remedy="Tick at least one estimate.",
        )
    values = dict(one_record(engine, CONSTRUCTIONS, code).values)
    notes = _notes_kept(values["calibration"], found.chosen)
    for each in taken:
        percent = (Decimal(repr(each.mean)) * 100).quantize(HUNDREDTH)
        notes.append(f"{NOTED[each.key]} {percent} % ({_pieces(each.values)}, {on})")
        values |= _stored(each.key, percent, two_warps=values.get("warp2_ne") is not None)
    values["calibration"] = "; ".join(notes)
    change_record(engine, CONSTRUCTIONS, code, values, version, person_id)
    return one_record(engine, CONSTRUCTIONS, code).version


def _notes_kept(text: str, chosen: Collection[str]) -> list[str]:
    """What was calibrated earlier and is not taken anew, as it was noted."""
    anew = {NOTED[key] for key in chosen}
    return [
        f"{figure} {value * 100:.2f} % ({pieces})"
        for figure, (value, pieces) in calibration_notes(text).items()
        if figure not in anew
    ]


def _stored(key: str, percent: Decimal, *, two_warps: bool) -> dict[str, Decimal | None]:
    """The fields of the entry that an estimate becomes."""
    if key != CRIMP:
        field = {SHRINK: "length_shrink", FINISH: "net_finish", WIDTH_CRIMP: "filling_crimp"}[key]
        return {f"{field}_percent": percent}
    warps = ("warp", "warp2") if two_warps else ("warp",)
    return {
        **dict.fromkeys((f"{warp}_crimp_percent" for warp in warps), percent),
        **dict.fromkeys(f"{warp}_take_up_percent" for warp in warps),
    }


def _pieces(values: tuple[tuple[str, float], ...]) -> str:
    return "1 piece" if len(values) == 1 else f"{len(values)} pieces"
