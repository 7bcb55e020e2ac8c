"""How close computed weights come to stated ones, on cloths of public customs rulings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from server.core.errors import NotFound
from server.core.how_close import (
    MODELS,
    Held,
    Score,
    foretold,
    held_by_id,
    held_cloths,
    scores,
)
from server.core.real_cloths import NUMBER, RIGID, SETS
from server.core.weight_causes import causes, statement_of
from server.export.csv_file import as_csv
from server.export.how_close import HELD_COLUMNS, how_close_document
from server.web import cautions
from server.web.explanations import explanation_view
from server.web.numbers import Writer
from server.web.pair import ExplainPage
from server.web.render import csv_answer, render, units_of
from server.web.stated_weight import cause_words
from server.web.tables import Cell, Column, Row, Table

router = APIRouter()
PATH = "/constructions/how-close"
FAR = 0.05  # a deviation from here on is explained on the page


@dataclass(frozen=True, slots=True)
class Explained:
    """A cloth that is far off or cannot be, with what explains it."""

    id: str
    figure: str
    why: str
    causes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class HowClosePage:
    """Everything the page shows. learned: what the rulings teach, in sentences"""

    title: str
    lead: str
    scores: Table
    sets: tuple[Table, ...]
    unusable: Table
    outliers: tuple[Explained, ...]
    learned: tuple[str, ...]
    numbers: Table
    threads: Table
    models: Table
    cautions: tuple[str, ...]


@router.get(f"{PATH}.json")
def how_close_json() -> Response:
    """Every cloth with its figures as data."""
    return JSONResponse(how_close_document(held_cloths(), scores(), foretold()))


@router.get(f"{PATH}.csv")
def how_close_csv() -> Response:
    """Every cloth with its figures as CSV."""
    text = as_csv(
        [column.titled("") for column in HELD_COLUMNS],
        ([column.value(held) for column in HELD_COLUMNS] for held in held_cloths()),
    )
    return csv_answer("how-close", text)


@router.get(PATH)
def how_close_page(request: Request) -> HTMLResponse:
    """The scores, every cloth, and what explains those that are far off."""
    writer = Writer(units_of(request), "")
    held, found = held_cloths(), scores()
    of_all = found[-1]
    counted = [each for each in held if each.untuned is not None]
    page = HowClosePage(
        title="How close are we",
        lead=f"{of_all.cloths} real cloths of public customs rulings, nothing fitted: half come "
        f"within {writer.full(of_all.median, 'share')} of the stated weight, the worst is "
        f"{writer.full(of_all.worst, 'share')} off.",
        scores=_score_table(found, writer),
        sets=tuple(
            _set_table(name, [each for each in counted if each.cloth.group == name], writer)
            for name in SETS
        ),
        unusable=_unusable_table([each for each in held if each.cloth.unusable], writer),
        outliers=tuple(_explained(each, writer) for each in held if _is_far(each)),
        learned=_learned(writer),
        numbers=_number_table([each for each in held if each.cloth.printed_number], writer),
        threads=_thread_table(
            [each for each in held if not each.cloth.models and not each.cloth.unusable], writer
        ),
        models=_model_table(writer),
        cautions=(cautions.WEIGHT,),
    )
    return render(request, "how_close/page.html", page, section="constructions")


@router.get(f"{PATH}/{{cloth}}/{{line}}")
def how_close_line(request: Request, cloth: str, line: str) -> HTMLResponse:
    """One figure of one cloth, opened."""
    held, writer = held_by_id().get(cloth), Writer(units_of(request), "")
    if held is None or line not in held.sheet.by_key:
        raise NotFound(
            f"There is no figure “{line[:40]}” of a cloth “{cloth[:40]}”.",
            field="line",
            value=line,
            remedy="Open a figure from the page How close are we.",
        )
    node = held.explain(line)
    page = ExplainPage(
        title=f"{node.label}: {cloth}",
        figure=writer.text(node.value, node.unit),
        unit=writer.unit(node.unit),
        back_href=PATH,
        back_label="How close are we",
        node=explanation_view(node, writer),
        cautions=(),
    )
    return render(request, "pair/explain.html", page, section="constructions")


def _is_far(held: Held) -> bool:
    return bool(held.cloth.unusable) or abs(held.untuned or 0.0) >= FAR


def _explained(held: Held, writer: Writer) -> Explained:
    if held.untuned is None:
        figure = f"{held.figures['ratio']:.2f} times straight yarn"
        tried = cause_words(causes(statement_of(held)))
        return Explained(held.cloth.id, figure, held.cloth.remark, tried)
    why = held.cloth.remark or "Nothing in the ruling explains it."
    return Explained(held.cloth.id, f"{writer.signed(held.untuned, 'share')} %", why)


def _learned(writer: Writer) -> tuple[str, ...]:
    near, far = (abs(each.off) for each in foretold())
    denim = next(score for score in scores() if score.name == RIGID)
    return (
        "State is the largest single effect: threads as on the loom beside a weight as finished "
        "are worth 6 to 9 %. With the state of the denim threads chosen afterwards, its median "
        f"goes from {writer.full(denim.median, 'share')} to "
        f"{writer.full(denim.chosen_median, 'share')}. Choosing it after the weight is fitting, so "
        "both columns stand here; write the state down when the threads are counted.",
        f"A sister cloth foretells better than any model: S-03 from S-02 of one mill is "
        f"{writer.full(near, 'share')} off. Fibre labels of stretch cloths are rounded and carry "
        f"little: S-17 from S-16 is {writer.full(far, 'share')} off.",
        "What stays on the warp is 5 to 7 % of a denim; leaving it in for a bleached or piece-dyed "
        "cloth overshoots by as much.",
        "Two percent on the counts is two percent on the weight: ask for the actual count.",
        "A stated weight that is a round number of half ounces is a trade weight, not a "
        "measurement.",
    )


def _open(held: Held, key: str, writer: Writer, *, signed: bool = False) -> Cell:
    """A figure of a cloth that opens; a dash where there is none."""
    value = held.figure(key)
    if value is None:
        return Cell("–")
    unit = held.sheet.by_key[key].unit
    text = writer.signed(value, unit) if signed else writer.text(value, unit)
    return Cell(text, href=f"{PATH}/{held.cloth.id}/{key}")


def _score_table(found: Sequence[Score], writer: Writer) -> Table:
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


def _set_table(name: str, cloths: Sequence[Held], writer: Writer) -> Table:
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


def _unusable_table(cloths: Sequence[Held], writer: Writer) -> Table:
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


def _number_table(cloths: Sequence[Held], writer: Writer) -> Table:
    """Exact arithmetic: threads over weight, which Customs cut off to a whole number."""
    agree = sum(int(held.figures["number"]) == held.cloth.printed_number for held in cloths)
    return Table(
        caption=f"Average yarn number: {agree} of {len(cloths)} agree, cut off as Customs do",
        columns=(
            Column("cloth", "Cloth"),
            Column("ends", "Ends", "1/cm", numeric=True),
            Column("picks", "Picks", "1/cm", numeric=True),
            Column("stated", "Weight", writer.unit("g/m²"), numeric=True),
            Column("number", "Average yarn number", "Nm", numeric=True),
            Column("printed", "Printed", "Nm", numeric=True),
        ),
        rows=tuple(
            Row(
                (
                    Cell(held.cloth.id, note=f"{held.cloth.cloth}. {held.cloth.ruling}"),
                    Cell(_per_cm(held.cloth.ends, writer)),
                    Cell(_per_cm(held.cloth.picks, writer)),
                    Cell(
                        writer.text(held.cloth.grams, "g/m²"),
                        note="found by Customs" if held.cloth.measured else "",
                    ),
                    _open(held, "number", writer),
                    Cell(str(held.cloth.printed_number)),
                ),
                key=held.cloth.id,
            )
            for held in cloths
        ),
        empty="",
    )


def _thread_table(cloths: Sequence[Held], writer: Writer) -> Table:
    shown = [held for held in cloths if held.cloth.group != NUMBER]
    return Table(
        caption="Threads and weight only: the mean count they would have as straight yarn",
        columns=(
            Column("cloth", "Cloth"),
            Column("ends", "Ends", "1/cm", numeric=True),
            Column("picks", "Picks", "1/cm", numeric=True),
            Column("stated", "Weight", writer.unit("g/m²"), numeric=True),
            Column("apparent", "Apparent mean count", "Ne", numeric=True),
            Column("metre", "Running metre", writer.unit("g/m"), numeric=True),
            Column("remark", "Remark"),
        ),
        rows=tuple(
            Row(
                (
                    Cell(held.cloth.id, note=f"{held.cloth.cloth}. {held.cloth.ruling}"),
                    Cell(_per_cm(held.cloth.ends, writer)),
                    Cell(_per_cm(held.cloth.picks, writer)),
                    Cell(
                        writer.text(held.cloth.grams, "g/m²"),
                        note="found by Customs" if held.cloth.measured else "",
                    ),
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


def _per_cm(threads: float | None, writer: Writer) -> str:
    """Threads as the ruling says them."""
    return "–" if threads is None else writer.text(threads, "1/cm")


def _model_table(writer: Writer) -> Table:
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
