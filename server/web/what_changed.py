"""What changed between two meeting packs, or a pack and today. Internal; no buyer sees it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from server.actions.what_changed import Changes, changes_of, others, read_asked, usual_other
from server.core.errors import NotFound
from server.core.walk import CAUSES, Stage, Walk
from server.core.what_changed import ClothChange, WhatChanged
from server.export import cautions
from server.export.csv_file import as_csv
from server.export.what_changed import CHANGED_HEADINGS, changed_rows, changes_document
from server.export.what_changed_chart import changed_waterfall
from server.request import house_of
from server.web.addresses import pack_path, part, with_query
from server.web.explanations import explanation_view
from server.web.numbers import Writer
from server.web.pair import ExplainPage
from server.web.pictures import Drawing, Picture, Spec, picture
from server.web.render import csv_answer, render, units_of
from server.web.tables import Table
from server.web.what_changed_steps import StepView, step_views, steps_table
from server.web.what_changed_tables import others_table, season_table, summary_table
from server.web.what_changed_words import (
    PER_METRE,
    alt_text,
    ends_of,
    season_sentence,
    sentence,
)

router = APIRouter()
START = "start"  # in an address: the first stage of a walk


@dataclass(frozen=True, slots=True)
class ClothView:
    """One cloth: its sentence, waterfall, steps, and the steps opened.

    pairs_before, pairs_after: keys that can be held against each other, the chosen one first
    """

    anchor: str
    code: str
    variant: str
    title: str
    sentence: str
    picture: Picture
    steps: Table
    opened: tuple[StepView, ...]
    pairs_before: tuple[str, ...]
    pairs_after: tuple[str, ...]
    alone_href: str


@dataclass(frozen=True, slots=True)
class ChangedPage:
    """Everything the page shows. alone: whether one cloth was asked for"""

    title: str
    path: str
    links: tuple[tuple[str, str], ...]
    against: str
    choices: tuple[tuple[str, str], ...]
    alone: bool
    all_href: str
    sentences: tuple[str, ...]
    season: str
    order: tuple[tuple[str, str], ...]
    summary: Table
    seasons: Table | None
    others: Table
    cloths: tuple[ClothView, ...]
    cautions: tuple[str, ...]


def changed_path(reference: str) -> str:
    """What changed since, or until, a pack."""
    return f"{pack_path(reference)}/changed"


def _changes(request: Request, reference: str) -> Changes:
    return changes_of(house_of(request).engine, reference, read_asked(request.query_params))


@router.get("/meetings/{reference}/changed.json")
def changed_json(request: Request, reference: str) -> Response:
    """The same as data."""
    changes = _changes(request, reference)
    return JSONResponse(changes_document(changes.found, changes.touched))


@router.get("/meetings/{reference}/changed.csv")
def changed_csv(request: Request, reference: str) -> Response:
    """The same as CSV, one line for each step of each cloth."""
    changes = _changes(request, reference)
    text = as_csv(CHANGED_HEADINGS, changed_rows(changes.found))
    return csv_answer(f"changed-{reference}", text)


@router.get("/meetings/{reference}/changed")
def changed_page(request: Request, reference: str) -> HTMLResponse:
    """What changed, cloth by cloth and cause by cause."""
    changes = _changes(request, reference)
    writer = Writer(units_of(request), changes.found.currency)
    page = _page(request, changes, writer)
    return render(
        request,
        "what_changed/page.html",
        page,
        section="meetings",
        printed=f"Creelbook · what changed, {reference} and {changes.against} · "
        f"{changes.found.currency} · internal",
    )


@router.get("/meetings/{reference}/changed/{cause}/{line}")
def changed_line(request: Request, reference: str, cause: str, line: str) -> HTMLResponse:
    """A running total opened: the whole sheet after a step."""
    changes = _changes(request, reference)
    found = changes.found
    each, walked = _one(found, request.query_params)
    stage = _stage(walked, cause)
    if line not in stage.sheet.by_key:
        raise NotFound(
            f"There is no line {line[:40]} in this sheet.",
            field="line",
            value=line,
            remedy="Open it from the page of what changed.",
        )
    node = stage.sheet.explain(line, stage.inputs)
    writer = Writer(units_of(request), found.currency)
    after = "before" if cause == START else f"after {CAUSES[cause].words}"
    page = ExplainPage(
        title=f"{node.label}: {each.name}, {after}",
        figure=writer.text(node.value, node.unit),
        unit=writer.unit(node.unit),
        back_href=with_query(changed_path(reference), dict(request.query_params)),
        back_label="What changed",
        node=explanation_view(node, writer),
        cautions=(cautions.MODELLED, cautions.RATES),
    )
    return render(
        request, "pair/explain.html", page, section="meetings", printed=f"Creelbook · {reference}"
    )


def drawing_of(request: Request, reference: str) -> Drawing:
    """The waterfall of one cloth, for the address of the picture. Raises NotFound."""
    found = _changes(request, reference).found
    _, walked = _one(found, request.query_params)
    return partial(_spec, walked, found, Writer(units_of(request), found.currency))


def _one(found: WhatChanged, query: Mapping[str, str]) -> tuple[ClothChange, Walk]:
    for each, walked in found.walked:
        if (each.cloth.code, each.cloth.variant) == (
            query.get("cloth", ""), query.get("variant", ""),
        ):  # fmt: skip
            return each, walked
    raise NotFound(
        "Of this cloth there is nothing to explain step by step.",
        field="cloth",
        value=query.get("cloth", ""),
        remedy="Choose a cloth that is in both packs, with a possible pair in each.",
    )


def _stage(walked: Walk, cause: str) -> Stage:
    if cause == START:
        return walked.start
    step = walked.step(cause)
    if step is None or step.stage is None:
        raise NotFound(
            f"There is no step {cause[:40]}.",
            field="cause",
            value=cause,
            remedy=f"Take {START} or one of: {', '.join(CAUSES)}.",
        )
    return step.stage


def _spec(walked: Walk, found: WhatChanged, writer: Writer, theme: str, width_px: int) -> Spec:
    first, last = ends_of(found)
    steps = [
        (CAUSES[step.cause].label, writer.number(step.amount, PER_METRE))
        for step in walked.steps
        if step.amount
    ]
    return changed_waterfall(
        before=(first.capitalize(), writer.number(walked.before, PER_METRE)),
        steps=steps,
        after=(last.capitalize(), writer.number(walked.after, PER_METRE)),
        unit=writer.unit(PER_METRE),
        theme=theme,
        width_px=width_px,
    )


def _page(request: Request, changes: Changes, writer: Writer) -> ChangedPage:
    found, reference = changes.found, changes.reference
    engine, query = house_of(request).engine, dict(request.query_params)
    path = changed_path(reference)
    against = {
        "against": "" if changes.against == usual_other(engine, reference) else changes.against
    }
    single = bool(query.get("cloth"))
    asked = {name: query.get(name, "") for name in ("before", "after")} if single else {}
    view = partial(_cloth_view, changes, writer, path, {**against, **asked})
    walked = found.walked
    exports = tuple(
        (name, with_query(f"{path}.{form}", {**query}))
        for name, form in (("CSV", "csv"), ("JSON", "json"))
    )
    return ChangedPage(
        title=f"What changed: {found.after.title}",
        path=path,
        links=tuple(
            (f"Pack {pack.reference}", pack_path(pack.reference))
            for pack in ((found.before,) if found.until_today else (found.before, found.after))
        ),
        against=changes.against,
        choices=others(engine, reference),
        alone=single,
        all_href=with_query(path, against),
        sentences=tuple(sentence(each, found, writer) for each in found.cloths),
        season=season_sentence(found, writer) if len(walked) > 1 else "",
        order=tuple((cause.label, cause.about) for cause in found.causes),
        summary=summary_table(found, writer, lambda each: f"#{_anchor(found, each)}", exports),
        seasons=season_table(found, writer),
        others=others_table(found, writer),
        cloths=tuple(view(each, walk) for each, walk in walked),
        cautions=(cautions.MODELLED, cautions.RATES),
    )


def _anchor(found: WhatChanged, each: ClothChange) -> str:
    return f"cloth-{found.cloths.index(each) + 1}"


def _cloth_view(
    changes: Changes,
    writer: Writer,
    path: str,
    state: Mapping[str, str],
    each: ClothChange,
    walked: Walk,
) -> ClothView:
    found, cloth = changes.found, each.cloth
    query = {**state, "cloth": cloth.code, "variant": cloth.variant}
    anchor = _anchor(found, each)

    def opened(_: ClothChange, cause: str) -> str:
        return with_query(f"{path}/{cause}/{part(found.figure)}", query)

    return ClothView(
        anchor=anchor,
        code=cloth.code,
        variant=cloth.variant,
        title=cloth.title,
        sentence=sentence(each, found, writer),
        picture=picture(
            partial(_spec, walked, found, writer),
            f"/charts/meetings/{part(changes.reference)}/changed.svg",
            {**query, "against": changes.against, "units": writer.units},
            caption=f"{each.name}, cause by cause",
            unit=writer.unit(PER_METRE),
            alt=alt_text(each, walked, writer),
            table_href=f"#{anchor}-steps",
        ),
        steps=steps_table(each, walked, found, writer, opened),
        opened=step_views(each.name, walked, found, writer, changes.touched),
        pairs_before=_pairs(each, before=True),
        pairs_after=_pairs(each, before=False),
        alone_href=with_query(path, query),
    )


def _pairs(each: ClothChange, *, before: bool) -> tuple[str, ...]:
    side = each.before if before else each.after
    if side is None or side.pair is None:
        return ()
    return tuple(dict.fromkeys((side.pair.key, *(pair.key for pair in side.cloth.pairs))))
