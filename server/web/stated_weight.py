"""Weights that the yarn of a construction cannot have, in sentences with their likely causes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from server.actions.stated_weight import StatedWeight
from server.core.weight_causes import IMPOSSIBLE, Cause
from server.web.numbers import Writer


@dataclass(frozen=True, slots=True)
class StatedView:
    """One weight that is out of bounds. badge: impossible or doubt"""

    badge: str
    sentence: str
    causes: tuple[str, ...]


def stated_views(found: Sequence[StatedWeight], writer: Writer) -> tuple[StatedView, ...]:
    """Only those whose yarn cannot, or hardly can, have the weight."""
    return tuple(_view(each, writer) for each in found if each.standing)


def stated_document(found: Sequence[StatedWeight]) -> list[dict[str, Any]]:
    """Every stated weight with its ratio, its standing and its likely causes, as data."""
    return [
        {
            "what": each.what,
            "state": each.state,
            "stated_g_m2": each.statement.grams,
            "straight_yarn_g_m2": each.statement.straight,
            "over_straight_yarn": each.statement.ratio,
            "standing": each.standing,
            "causes": [asdict(cause) for cause in each.causes],
        }
        for each in found
    ]


def _view(found: StatedWeight, writer: Writer) -> StatedView:
    statement = found.statement
    weight = writer.full(statement.ounces, "oz/yd²")
    sentence = (
        f"{found.what[0].upper()}{found.what[1:]}, {weight} {found.state}: "
        f"{writer.text(statement.ratio, '×')} times its straight yarn of "
        f"{writer.full(statement.straight, 'g/m²')}, "
    )
    if found.standing == IMPOSSIBLE:
        sentence += "so the yarn alone would weigh more than the cloth."
    else:
        sentence += f"{found.standing} for its yarn."
    badge = "impossible" if found.standing == IMPOSSIBLE else "doubt"
    return StatedView(badge, sentence, cause_words(found.causes))


def cause_words(causes: Sequence[Cause]) -> tuple[str, ...]:
    """Each cause with what it comes to once it is tried."""
    return tuple(
        f"{cause.words[0].upper()}{cause.words[1:]}"
        + (f" ({cause.answer}: {cause.ratio:.2f} times)." if cause.ratio is not None else ".")
        for cause in causes
    )
