"""How close computed weights come to stated ones, on cloths of public customs rulings."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from server.core.errors import NotFound
from server.core.how_close import (
    HOPED_FOR,
    HOPED_FOR_SOURCE,
    Held,
    foretold,
    held_by_id,
    held_cloths,
    scores,
)
from server.core.real_cloths import RIGID, SETS
from server.core.weight_causes import causes, statement_of
from server.export import cautions
from server.export.csv_file import as_csv
from server.export.how_close import HELD_COLUMNS, how_close_document
from server.web.explanations import explanation_view
from server.web.how_close_tables import (
    PATH,
    model_table,
    number_table,
    score_table,
    set_table,
    thread_table,
    unusable_table,
)
from server.web.numbers import Writer
from server.web.pair import ExplainPage
from server.web.render import csv_answer, render, units_of
from server.web.stated_weight import cause_words
from server.web.tables import Table

router = APIRouter()
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
    """Everything the page shows.

    hoped_for: what accuracy is to be hoped for with own data
    learned: what the rulings teach, in sentences
    """

    title: str
    lead: str
    scores: Table
    hoped_for: str
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
        scores=score_table(found, writer),
        hoped_for=_hoped_for(writer),
        sets=tuple(
            set_table(name, [each for each in counted if each.cloth.group == name], writer)
            for name in SETS
        ),
        unusable=unusable_table([each for each in held if each.cloth.unusable], writer),
        outliers=tuple(_explained(each, writer) for each in held if _is_far(each)),
        learned=_learned(writer),
        numbers=number_table([each for each in held if each.cloth.printed_number], writer),
        threads=thread_table(
            [each for each in held if not each.cloth.models and not each.cloth.unusable], writer
        ),
        models=model_table(writer),
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


def _hoped_for(writer: Writer) -> str:
    low, high = HOPED_FOR
    return (
        f"With a mill's own measured pieces {writer.text(low, 'share')} to "
        f"{writer.full(high, 'share')} is to be hoped for, our reading of {HOPED_FOR_SOURCE}."
    )


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
