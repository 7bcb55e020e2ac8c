"""Tables of real cloths: scores, computed beside stated weight, cloths without counts, models."""

from __future__ import annotations

from collections.abc import Sequence

from server.core.how_close import MODELS, Held, Score
from server.core.real_cloths import NUMBER, RIGID
from server.web.numbers import Writer
from server.web.tables import Cell, Column, Row, Table

PATH = "/constructions/how-close"


def _open(held: Held, key: str, writer: Writer, *, signed: bool = False) -> Cell:
    """A figure of a cloth that opens; a dash where there is none."""
    value = held.figure(key)
    if value is None:
        return Cell("–")
    unit = held.sheet.by_key[key].unit
    text = writer.signed(value, unit) if signed else writer.text(value, unit)
    return Cell(text, href=f"{PATH}/{held.cloth.id}/{key}")


def score_table(found: Sequence[Score], writer: Writer) -> Table:
    """Median and worst of each set."""

    def pair(median: float, worst: float, *, signed: bool = False) -> tuple[Cell, Cell]:
        write = writer.signed if signed else writer.text
        return Cell(write(median, "share")), Cell(write(worst, "share"))

    rows = []
    for score in found:
        chosen = (Cell("–"), Cell("–"))
        if score.name in (RIGID, "all"):
            chosen = pair(score.chosen_median, score.chosen_worst)
        median, worst = pair(score.median, score.worst)
        rows.append(
            Row(
                (
                    Cell(score.name),
                    Cell(str(score.cloths)),
                    *pair(score.straight_median, score.straight_worst, signed=True),
                    Cell(median.text, strong=True),
                    Cell(worst.text, strong=True),
                    *chosen,
                ),
                key=score.name,
            )
        )
    return Table(
        caption="Computed against stated weight",
        columns=(
            Column("set", "Set"),
            Column("cloths", "Cloths", numeric=True),
            Column("straight", "Straight yarn, median", "%", numeric=True),
            Column("straight_worst", "worst", "%", numeric=True),
            Column("model", "Model of the class, median", "%", numeric=True),
            Column("model_worst", "worst", "%", numeric=True),
            Column("chosen", "Denim as M2 or M3, median", "%", numeric=True),
            Column("chosen_worst", "worst", "%", numeric=True),
        ),
        rows=tuple(rows),
        empty="",
        exports=(("CSV, every cloth", f"{PATH}.csv"), ("JSON", f"{PATH}.json")),
    )


def set_table(name: str, cloths: Sequence[Held], writer: Writer) -> Table:
    """Every cloth of a set beside its stated weight; denim by both of its models."""
    both = name == RIGID
    second = (Column("m3", "M3 against stated", "%", numeric=True),) if both else ()
    return Table(
        caption=f"{name[0].upper()}{name[1:]}: {len(cloths)} cloths",
        columns=(
            *_cloth_columns(writer),
            Column("model", "Model"),
            Column("computed", "Computed", writer.unit("g/m²"), numeric=True),
            Column("off", "Against stated", "%", numeric=True),
            *second,
        ),
        rows=tuple(
            Row(
                (
                    *_cloth_cells(held, writer),
                    Cell(held.cloth.models[0]),
                    _open(held, held.cloth.models[0], writer),
                    _open(held, f"{held.cloth.models[0]}.deviation", writer, signed=True),
                    *((_open(held, "M3.deviation", writer, signed=True),) if both else ()),
                ),
                key=held.cloth.id,
            )
            for held in cloths
        ),
        empty="",
    )


def unusable_table(cloths: Sequence[Held], writer: Writer) -> Table:
    """Cloths that do not count, with the reason."""
    return Table(
        caption=f"{len(cloths)} cloths that no mass balance of their yarn can answer",
        columns=(*_cloth_columns(writer), Column("why", "Why it does not count")),
        rows=tuple(
            Row(
                (*_cloth_cells(held, writer), Cell(held.cloth.unusable)),
                key=held.cloth.id,
                tone="muted",
            )
            for held in cloths
        ),
        empty="",
    )


def _cloth_columns(writer: Writer) -> tuple[Column, ...]:
    return (
        Column("cloth", "Cloth"),
        Column("yarns", "Warp × filling"),
        Column("ends", "Ends", writer.unit("1/in"), numeric=True),
        Column("picks", "Picks", writer.unit("1/in"), numeric=True),
        Column("stated", "Stated", writer.unit("g/m²"), numeric=True),
        Column("ounces", "Stated", "oz/yd²", numeric=True),
        Column("straight", "Straight yarn", writer.unit("g/m²"), numeric=True),
        Column("ratio", "Stated over straight", "×", numeric=True),
    )


def _cloth_cells(held: Held, writer: Writer) -> tuple[Cell, ...]:
    return (
        Cell(held.cloth.id, note=f"{held.cloth.cloth}. {held.cloth.ruling}"),
        Cell(_yarns(held)),
        _threads(held, "epi", writer),
        _threads(held, "ppi", writer),
        Cell(writer.text(held.cloth.grams, "g/m²")),
        Cell(f"{held.figures['ounces']:.2f}", href=f"{PATH}/{held.cloth.id}/ounces"),
        _open(held, "straight", writer),
        _open(held, "ratio", writer),
    )


def _threads(held: Held, name: str, writer: Writer) -> Cell:
    entry = held.inputs.get(name)
    if entry is None:
        return Cell("–")
    said = entry.as_entered.replace(" per ", "/")
    return Cell(writer.text(float(entry.value), "1/in"), note=said)


def _yarns(held: Held) -> str:
    """Warp and filling as the ruling says them."""
    cloth = held.cloth
    warp = f"{cloth.warp_ne:g}" + (f"/{cloth.plies}" if cloth.plies > 1 else "")
    filling = f"{cloth.filling_denier or 0:g} den" if cloth.filling_ne is None else ""
    filling = filling or f"{cloth.filling_ne:g}"
    core = f" + {cloth.core_denier:g} den" if cloth.core_denier is not None else ""
    return f"{warp} × {filling}{core}"


def number_table(cloths: Sequence[Held], writer: Writer) -> Table:
    """Exact arithmetic: threads over weight, which Customs cut off to a whole number."""
    agree = sum(int(held.figures["number"]) == held.cloth.printed_number for held in cloths)
    return Table(
        caption=f"Average yarn number: {agree} of {len(cloths)} agree, cut off as Customs do",
        columns=(
            *_thread_columns(writer),
            Column("number", "Average yarn number", "Nm", numeric=True),
            Column("printed", "Printed", "Nm", numeric=True),
        ),
        rows=tuple(
            Row(
                (
                    *_thread_cells(held, writer),
                    _open(held, "number", writer),
                    Cell(str(held.cloth.printed_number)),
                ),
                key=held.cloth.id,
            )
            for held in cloths
        ),
        empty="",
    )


def thread_table(cloths: Sequence[Held], writer: Writer) -> Table:
    """Cloths whose counts are not stated."""
    shown = [held for held in cloths if held.cloth.group != NUMBER]
    return Table(
        caption="Threads and weight only: the mean count they would have as straight yarn",
        columns=(
            *_thread_columns(writer),
            Column("apparent", "Apparent mean count", "Ne", numeric=True),
            Column("metre", "Running metre", writer.unit("g/m"), numeric=True),
            Column("remark", "Remark"),
        ),
        rows=tuple(
            Row(
                (
                    *_thread_cells(held, writer),
                    _open(held, "apparent_ne", writer),
                    _open(held, "metre_mass", writer),
                    Cell(held.cloth.remark or "Counts are not stated, so no weight is computed."),
                ),
                key=held.cloth.id,
            )
            for held in shown
        ),
        empty="",
    )


def _thread_columns(writer: Writer) -> tuple[Column, ...]:
    return (
        Column("cloth", "Cloth"),
        Column("ends", "Ends", "1/cm", numeric=True),
        Column("picks", "Picks", "1/cm", numeric=True),
        Column("stated", "Weight", writer.unit("g/m²"), numeric=True),
    )


def _thread_cells(held: Held, writer: Writer) -> tuple[Cell, ...]:
    cloth = held.cloth
    said = "found by Customs" if cloth.measured else ""
    return (
        Cell(cloth.id, note=f"{cloth.cloth}. {cloth.ruling}"),
        Cell(_per_cm(cloth.ends, writer)),
        Cell(_per_cm(cloth.picks, writer)),
        Cell(writer.text(cloth.grams, "g/m²"), note=said),
    )


def _per_cm(threads: float | None, writer: Writer) -> str:
    """Threads as the ruling says them."""
    return "–" if threads is None else writer.text(threads, "1/cm")


def model_table(writer: Writer) -> Table:
    """What each model takes."""
    return Table(
        caption="What is taken for everything a ruling does not say",
        columns=(
            Column("model", "Model"),
            Column("words", "What is in it"),
            Column("used", "Used for"),
        ),
        rows=tuple(
            Row((Cell(model.key), Cell(model.words), Cell(model.used_for)), key=model.key)
            for model in MODELS.values()
        ),
        empty="",
    )
