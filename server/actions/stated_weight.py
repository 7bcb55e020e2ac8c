"""Weights that somebody states of a construction, each held against its straight yarn."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from server.actions.constructions import Cloth
from server.core.calibration import Piece, mean_ne
from server.core.fabric import area_mass_from_ounces
from server.core.weight_causes import Cause, Statement, causes

_THREADS = {  # state: figures of ends, picks and width
    "finished": ("finished_epi", "finished_ppi", "finished_width_in"),
    "washed": ("washed_epi", "washed_ppi", "washed_width"),
    "greige": ("greige_epi", "loom_ppi", "greige_width_in"),
}


@dataclass(frozen=True, slots=True)
class StatedWeight:
    """A weight that somebody states. what: of which piece, or the target"""

    what: str
    state: str
    statement: Statement
    causes: tuple[Cause, ...]

    @property
    def standing(self) -> str:
        """Impossible, too light, too heavy, or "" when the yarn can have it."""
        return self.statement.standing


def stated_weights(cloth: Cloth, pieces: Sequence[Piece]) -> tuple[StatedWeight, ...]:
    """Target, real piece and measured pieces of a construction, in that order."""
    construction = cloth.construction
    said = [
        ("target weight", construction.target_oz, construction.target_state, None),
        ("weight of a real piece", construction.measured_oz, construction.measured_state, None),
        *((f"piece {piece.label}", piece.ounces, piece.state, piece) for piece in pieces),
    ]
    return tuple(
        found
        for what, ounces, state, piece in said
        if ounces is not None
        for found in _stated(cloth, what, ounces, state, piece)
    )


def _stated(
    cloth: Cloth, what: str, ounces: float, state: str, piece: Piece | None
) -> Iterator[StatedWeight]:
    """One weight with the threads of its state: the piece's own, else those of the construction."""
    names = _THREADS[state]
    own = (None, None, None) if piece is None else (piece.epi, piece.ppi, piece.width_in)
    epi, ppi, width = (
        cloth.figures.get(name) if value is None else value
        for name, value in zip(names, own, strict=True)
    )
    if epi is None or ppi is None:
        return
    statement = Statement(
        epi=epi,
        ppi=ppi,
        warp_ne=mean_ne(cloth.construction, "warp"),
        filling_ne=mean_ne(cloth.construction, "filling"),
        grams=float(area_mass_from_ounces(ounces_per_square_yard=ounces)),
        width_in=width,
        filling_crimp=cloth.construction.reed_width_in / width - 1 if width else 0.0,
    )
    yield StatedWeight(what, state, statement, causes(statement))
