"""The change desk: what a construction costs when something in it changes, column by column."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from server.actions.asked_change import AskedChange, read_change
from server.actions.book import current_book
from server.actions.change import Desk, explain_column, work_out
from server.actions.change_words import change_words
from server.actions.compare import BasisChange, read_basis_change, sound_basis_change
from server.core.change import doubts_of
from server.core.errors import CreelbookError
from server.export import cautions
from server.export.change import CHANGE_HEADINGS, change_document, change_table
from server.export.csv_file import as_csv
from server.request import house_of
from server.store.session import Engine
from server.web import addresses
from server.web.change_form import ChangeForm, change_form
from server.web.change_table import BridgeView, ColumnView, GroupView, bridge_view, columns, groups
from server.web.compare import Chip, basis_chips, printed_basis
from server.web.explanations import explanation_view
from server.web.numbers import Writer, entered
from server.web.pair import ExplainPage
from server.web.render import csv_answer, frame_of, render, render_text, units_of
from server.web.tables import Cell, Column, Row, Table

router = APIRouter()


@dataclass(frozen=True, slots=True)
class ChangePage:
    """Everything the change desk shows. alone: whether only the answer is asked for."""

    title: str
    code: str
    path: str
    chips: tuple[Chip, ...]
    form: ChangeForm
    errors: tuple[tuple[str, str, str], ...]
    pair: str
    pairs: tuple[str, ...]
    headline: tuple[str, ...]
    columns: tuple[ColumnView, ...]
    groups: tuple[GroupView, ...]
    bridge: BridgeView
    fallen: Table
    joined: Table
    doubts: tuple[str, ...]
    words: tuple[str, ...]
    query: str
    keep_href: str
    exports: tuple[tuple[str, str], ...]
    links: tuple[tuple[str, str], ...]
    clear_href: str
    address: str
    cautions: tuple[str, ...]
    alone: bool


def _sound(request: Request, code: str) -> Desk:
    """The change of a request that cannot show an error beside its field. Raises BadValue."""
    query = request.query_params
    desk = work_out(
        house_of(request).engine,
        code,
        read_change(query),
        sound_basis_change(query),
        query.get("basis", ""),
    )
    desk.refuse_errors()
    return desk


@router.get("/constructions/{code}/change.json")
def change_json(request: Request, code: str) -> Response:
    """The same change as data."""
    desk = _sound(request, code)
    return JSONResponse(change_document(desk.changed, desk.asked.query))


@router.get("/constructions/{code}/change.csv")
def change_csv(request: Request, code: str) -> Response:
    """The same change as CSV, one line for each figure of each alternative."""
    desk = _sound(request, code)
    rows = change_table(desk.changed, desk.comparison.basis.currency)
    return csv_answer(f"change-{code}", as_csv(list(CHANGE_HEADINGS), rows))


@router.get("/constructions/{code}/change")
def change_page(request: Request, code: str) -> Response:
    """The desk; asked by the page itself, only the answer."""
    alone, house = request.headers.get("hx-request") == "true", house_of(request)
    query = _said(house.engine, request.query_params)
    if not alone and len(query) < len(request.query_params):
        # a form without scripts sends what it did not change too; the address keeps what is said
        return RedirectResponse(addresses.with_query(addresses.change_path(code), query), 303)
    asked, basis = read_change(query), read_basis_change(query)
    errors = dict(basis.errors)
    engine = house.engine
    try:
        desk = work_out(engine, code, asked, basis, query.get("basis", ""))
    except CreelbookError as wrong:
        if wrong.code != "bad_value":
            raise
        errors[wrong.field] = str(wrong)
        desk = work_out(engine, code, asked, BasisChange({}, {}), query.get("basis", ""))
    errors |= desk.errors
    sets = tuple(each.name for each in current_book(engine).assumption_sets)
    writer = Writer(units_of(request), desk.comparison.basis.currency)
    page = _page(desk, asked, query, errors, writer, sets, alone=alone)
    words = "; ".join(page.words) or "none"
    printed = f"{printed_basis(desk.comparison)} · change: {words}"
    template = "change/_alone.html" if alone else "change/page.html"
    answer = HTMLResponse(
        render_text(template, page, frame_of(request, "constructions", printed)),
        422 if errors and not alone else 200,  # a browser would call it a failed load
    )
    if alone:
        answer.headers["hx-replace-url"] = page.address
    return answer


@router.get("/constructions/{code}/change/{column}/{line}")
def change_line(request: Request, code: str, column: str, line: str) -> HTMLResponse:
    """One figure of one column, opened."""
    desk = _sound(request, code)
    writer = Writer(units_of(request), desk.comparison.basis.currency)
    node = explain_column(desk, column, line)
    page = ExplainPage(
        title=f"{node.label}: {code}, {desk.label_of(column)}",
        figure=writer.text(node.value, node.unit),
        unit=writer.unit(node.unit),
        back_href=addresses.with_query(addresses.change_path(code), dict(request.query_params)),
        back_label=f"Change {code}",
        node=explanation_view(node, writer),
        cautions=(cautions.MODELLED, cautions.CHANGE, cautions.RATES),
    )
    return render(
        request,
        "pair/explain.html",
        page,
        section="constructions",
        printed=printed_basis(desk.comparison),
    )


def _said(engine: Engine, query: Mapping[str, str]) -> dict[str, str]:
    """What a query says beyond blanks and the basis as it is stored."""
    stored = current_book(engine).basis(query.get("basis", ""))
    return {
        name: text
        for name, text in query.items()
        if text.strip()
        and not (name in addresses.BASIS_NAMES and text == entered(getattr(stored, name, None)))
    }


def _page(
    desk: Desk,
    asked: AskedChange,
    query: Mapping[str, str],
    errors: Mapping[str, str],
    writer: Writer,
    sets: tuple[str, ...],
    *,
    alone: bool,
) -> ChangePage:
    construction = desk.comparison.construction
    code, path = construction.code, addresses.change_path(construction.code)
    kept = addresses.basis_query(query)
    full = {**kept, **asked.query}
    href = partial(_line_href, path, full)
    form = change_form(desk, asked, errors, writer)
    labels = form.labels
    return ChangePage(
        title=f"Change {code} {construction.name}",
        code=code,
        path=path,
        chips=basis_chips(desk.comparison, errors, query, sets),
        form=form,
        errors=tuple(
            (name, labels.get(name, name.replace("_", " ")), text) for name, text in errors.items()
        ),
        pair=asked.pair,
        pairs=_pairs(desk),
        headline=_headline(desk, writer),
        columns=columns(desk, writer, full),
        groups=groups(desk, writer, href),
        bridge=bridge_view(desk, writer),
        fallen=_moved_table(
            desk,
            writer,
            f"Offers that fall away: {len(desk.changed.fallen)}",
            "No offer falls away.",
            fallen=True,
        ),
        joined=_moved_table(
            desk,
            writer,
            f"Offers that come in: {len(desk.changed.joined)}",
            "No offer comes in.",
            fallen=False,
        ),
        doubts=tuple(
            f"{alternative.label}: {doubt}"
            for alternative, costing in desk.changed.reached
            for doubt in doubts_of(desk.before, costing)
        ),
        words=change_words(desk, asked),
        query=urlencode({name: text for name, text in asked.query.items() if text}),
        keep_href=f"{addresses.construction_path(code)}/variants",
        exports=tuple(
            (name, addresses.with_query(f"{path}.{form_}", full))
            for name, form_ in (("CSV", "csv"), ("JSON", "json"))
        ),
        links=(
            (f"Construction {code}", addresses.construction_path(code)),
            (f"Compare {code}", addresses.with_query(addresses.compare_path(code), kept)),
            ("Variants", f"{addresses.construction_path(code)}/variants"),
        ),
        clear_href=addresses.with_query(path, {**kept, "pair": asked.pair}),
        address=addresses.with_query(path, full),
        cautions=(cautions.MODELLED, cautions.WEIGHT, cautions.CHANGE, cautions.RATES),
        alone=alone,
    )


def _line_href(path: str, query: Mapping[str, str], column: str, line: str) -> str:
    return addresses.with_query(f"{path}/{column}/{addresses.part(line)}", query)


def _pairs(desk: Desk) -> tuple[str, ...]:
    """Pairs to start from: the best of every combination, and the one in use."""
    best = [pair.key for pair in desk.comparison.ladder]
    in_use = desk.before.key
    return tuple(dict.fromkeys((in_use, *best)))


def _headline(desk: Desk, writer: Writer) -> tuple[str, ...]:
    """One sentence for each alternative that answers most of what people ask."""
    if desk.asked.is_empty:
        return (
            f"Nothing is changed yet: {desk.before.key} costs "
            f"{writer.full(desk.before.figures['fabric_cost'], '¤/m')} at "
            f"{writer.full(desk.before.figures['ounces'], 'oz/yd²')}.",
        )
    found = []
    for alternative, costing in desk.changed.reached:
        cost = costing.figures["fabric_cost"] - desk.before.figures["fabric_cost"]
        weight = costing.figures["ounces"] - desk.before.figures["ounces"]
        output = costing.figures["loom_output"] / desk.before.figures["loom_output"] - 1
        by = ", ".join(
            f"{each.label.lower()} {writer.full(each.value, each.unit)}"
            for each in alternative.solved
        )
        found.append(
            f"{alternative.label}{f' ({by})' if by else ''}: "
            f"{writer.signed(cost, '¤/m')} {writer.unit('¤/m')}, "
            f"{writer.signed(weight, 'oz/yd²')} {writer.unit('oz/yd²')}, loom output "
            f"{writer.signed(output, 'share')} %."
        )
    return tuple(found)


def _moved_table(desk: Desk, writer: Writer, caption: str, empty: str, *, fallen: bool) -> Table:
    moved = desk.changed.fallen if fallen else desk.changed.joined
    return Table(
        caption=caption,
        columns=(
            Column("offer", "Offer"),
            Column("slot", "As"),
            Column("price", "Same basis", writer.unit("¤/kg"), numeric=True),
            *((Column("why", "Why"),) if fallen else ()),
        ),
        rows=tuple(
            Row(
                (
                    Cell(
                        each.code,
                        href=addresses.offer_path(each.code),
                        note=each.supplier,
                    ),
                    Cell(each.direction),
                    Cell(writer.text(each.price, "¤/kg")),
                    *((Cell(each.why),) if fallen else ()),
                ),
                key=each.code,
            )
            for each in moved[:MOST_MOVED]
        ),
        empty=empty,
    )


MOST_MOVED = 40  # offers listed in each of the two tables; the data holds all
