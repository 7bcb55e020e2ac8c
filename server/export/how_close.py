"""Real cloths with stated and computed weight: the same figures in every form."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from server.core.how_close import (
    HOPED_FOR,
    HOPED_FOR_SOURCE,
    MODELS,
    Foretold,
    Held,
    Score,
)
from server.export.columns import Column, as_record


def _of_figure(key: str, heading: str, unit: str) -> Column[Held]:
    return Column(key, heading, unit, lambda held: held.figure(key))


HELD_COLUMNS: tuple[Column[Held], ...] = (
    Column("id", "Cloth", "", lambda held: held.cloth.id),
    Column("ruling", "Ruling", "", lambda held: held.cloth.ruling),
    Column("cloth", "Weave and fibre", "", lambda held: held.cloth.cloth),
    Column("group", "Set", "", lambda held: held.cloth.group),
    Column("warp_ne", "Warp count", "Ne", lambda held: held.cloth.warp_ne),
    Column("plies", "Singles in an end", "", lambda held: held.cloth.plies),
    Column("filling_ne", "Filling count", "Ne", lambda held: held.cloth.filling_ne),
    Column("filling_denier", "Filling filament", "den", lambda held: held.cloth.filling_denier),
    Column("core_denier", "Elastane", "den", lambda held: held.cloth.core_denier),
    Column("ends", "Ends", "1/cm", lambda held: held.cloth.ends),
    Column("picks", "Picks", "1/cm", lambda held: held.cloth.picks),
    Column("width", "Width", "cm", lambda held: held.cloth.width_cm),
    Column("grams", "Stated weight", "g/m²", lambda held: held.cloth.grams),
    Column("measured", "Found by Customs", "", lambda held: held.cloth.measured),
    _of_figure("straight", "Straight yarn", "g/m²"),
    _of_figure("ratio", "Stated over straight yarn", "×"),
    Column("model", "Model of its class", "", lambda held: (held.cloth.models or ("",))[0]),
    *(_of_figure(key, f"Weight by {key}", "g/m²") for key in list(MODELS)[1:]),
    *(_of_figure(f"{key}.deviation", f"{key} against stated", "share") for key in MODELS),
    _of_figure("number", "Average yarn number", "Nm"),
    Column("printed_number", "Average yarn number, printed", "Nm",
           lambda held: held.cloth.printed_number),
    _of_figure("apparent_ne", "Apparent mean count", "Ne"),
    _of_figure("metre_mass", "Running metre", "g/m"),
    Column("unusable", "Why it does not count", "", lambda held: held.cloth.unusable),
    Column("remark", "Remark", "", lambda held: held.cloth.remark),
)  # fmt: skip


def how_close_document(
    held: tuple[Held, ...], scores: tuple[Score, ...], foretold: tuple[Foretold, ...]
) -> dict[str, Any]:
    """Every cloth, the scores and the models, as data. Deviations are shares."""
    return {
        "scores": [asdict(score) for score in scores],
        "hoped_for_with_own_data": {
            "low": HOPED_FOR[0],
            "high": HOPED_FOR[1],
            "source": HOPED_FOR_SOURCE,
        },
        "from_sister_cloths": [asdict(each) for each in foretold],
        "models": [asdict(model) for model in MODELS.values()],
        "cloths": [as_record(HELD_COLUMNS, each) for each in held],
    }
