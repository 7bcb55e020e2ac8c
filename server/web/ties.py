"""Break-evens of two options: where they tie, in anything that can move."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from server.actions.asked_change import read_change
from server.actions.book import current_book
from server.actions.change_words import change_words
from server.actions.compare import BasisChange, read_basis_change, sound_basis_change
from server.actions.ties import AskedTies, Ties, both_opened, ties
from server.core.errors import CreelbookError
from server.core.movements import REACH
from server.export import cautions
from server.export.csv_file import as_csv
from server.export.ties import (
    FIGURE_NAMES,
    TIE_HEADINGS,
    moves_in,
    tie_table,
    ties_document,
)
from server.request import house_of
from server.web import addresses
from server.web.choices import Choice, RangeField
from server.web.compare import Chip, basis_chips, printed_basis
from server.web.explanations import ExplanationView, explanation_view
from server.web.numbers import Writer, percent
from server.web.render import csv_answer, render, units_of
from server.web.sentences import movement_value, tie_sentence
from server.web.tables import Table
from server.web.ties_table import costs_table, ties_table, untied_table

router = APIRouter()
HELD = "Offers keep the price they quoted: none follows cotton, power or a rate by itself."


@dataclass(frozen=True, slots=True)
class TiesPage:
    """Everything the page of break-evens shows."""

    title: str
    path: str
    links: tuple[tuple[str, str], ...]
    chips: tuple[Chip, ...]
    choices: tuple[Choice, ...]
    ranges: tuple[RangeField, ...]
    hidden: tuple[tuple[str, str], ...]
    errors: tuple[tuple[str, str, str], ...]
    words: tuple[str, ...]
    difference: str
    difference_unit: str
    sentence: str
    costs: Table
    ties: Table
    untied: Table
    untied_summary: str
    notes: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TiePage:
    """Both costs at one tie, opened."""

    title: str
    said: str
    back_href: str
    opened: tuple[tuple[str, ExplanationView], ...]
    cautions: tuple[str, ...]


def _asked(query: Mapping[str, str]) -> AskedTies:
    first, second, figure = (query.get(name, "").strip() for name in ("first", "second", "figure"))
    return AskedTies(first, second, figure, read_change(query))


def _sound(request: Request, code: str) -> Ties:
    """The ties of a request that cannot show an error beside its field. Raises BadValue."""
    query = request.query_params
    found = ties(
        house_of(request).engine,
        code,
        _asked(query),
        sound_basis_change(query),
        query.get("basis", ""),
    )
    found.refuse_errors()
    return found


@router.get("/constructions/{code}/break-even.json")
def ties_json(request: Request, code: str) -> Response:
    """The same ties as data."""
    found = _sound(request, code)
    return JSONResponse(ties_document(code, found.contest, found.offers, found.desk.asked.query))


@router.get("/constructions/{code}/break-even.csv")
def ties_csv(request: Request, code: str) -> Response:
    """The same ties as CSV, the nearest first."""
    found = _sound(request, code)
    rows = tie_table(found.contest, found.offers)
    return csv_answer(f"break-even-{code}", as_csv(list(TIE_HEADINGS), rows))


@router.get("/constructions/{code}/break-even")
def ties_page(request: Request, code: str) -> HTMLResponse:
    """Two options and every tie between them."""
    query, engine = request.query_params, house_of(request).engine
    asked, basis = _asked(query), read_basis_change(query)
    errors = dict(basis.errors)
    try:
        found = ties(engine, code, asked, basis, query.get("basis", ""))
    except CreelbookError as wrong:
        if wrong.code != "bad_value":
            raise
        errors[wrong.field] = str(wrong)
        found = ties(engine, code, asked, BasisChange({}, {}), query.get("basis", ""))
    errors |= found.errors
    sets = tuple(each.name for each in current_book(engine).assumption_sets)
    writer = Writer(units_of(request), found.desk.comparison.basis.currency)
    page = _page(found, asked, query, errors, writer, sets)
    return render(
        request,
        "ties/page.html",
        page,
        section="constructions",
        printed=printed_basis(found.desk.comparison),
        status=422 if errors else 200,
    )


@router.get("/constructions/{code}/break-even/{movement:path}")
def tie_page(request: Request, code: str, movement: str) -> HTMLResponse:
    """Both costs at one tie, or as they are today, opened to their formulas and inputs."""
    found = _sound(request, code)
    held = found.contest
    writer = Writer(units_of(request), found.desk.comparison.basis.currency)
    tie, opened = both_opened(found, movement)
    unit = opened[0].unit
    name = FIGURE_NAMES[held.figure][0]
    if tie:
        value, value_unit = movement_value(tie.movement, tie.value, writer)
        title = f"{tie.movement.label} at {value} {value_unit}".strip()
        said = f"{name}: both {writer.full(tie.cost, unit)}. {tie_sentence(held, tie, writer)}"
    else:
        title = f"{name} of both, today"
        said = f"Difference {writer.signed(held.difference, unit)} {writer.unit(unit)}."
    page = TiePage(
        title=title,
        said=said,
        back_href=addresses.with_query(addresses.ties_path(code), dict(request.query_params)),
        opened=tuple(
            (each.label, explanation_view(node, writer))
            for each, node in zip((held.first, held.second), opened, strict=True)
        ),
        cautions=(cautions.MODELLED, cautions.RATES),
    )
    return render(
        request,
        "ties/one.html",
        page,
        section="constructions",
        printed=printed_basis(found.desk.comparison),
    )


def _page(
    found: Ties,
    asked: AskedTies,
    query: Mapping[str, str],
    errors: Mapping[str, str],
    writer: Writer,
    sets: tuple[str, ...],
) -> TiesPage:
    held, desk = found.contest, found.desk
    code = desk.comparison.construction.code
    path, unit = addresses.ties_path(code), FIGURE_NAMES[held.figure][1]
    kept = addresses.basis_query(query)
    change = desk.asked.query
    full = {**kept, **change, "first": held.first.name, "second": held.second.name}
    figures = tuple((key, name) for key, (name, _) in FIGURE_NAMES.items())
    return TiesPage(
        title=f"Break-evens in {code} {desk.comparison.construction.name}",
        path=path,
        links=_links(code, kept, change),
        chips=basis_chips(desk.comparison, errors, query, sets),
        choices=(
            Choice("first", "First", held.first.name, found.choices, errors.get("first", "")),
            Choice("second", "Second", held.second.name, found.choices, errors.get("second", "")),
            Choice("figure", "Tie in", held.figure, figures, errors.get("figure", "")),
        ),
        ranges=(),
        hidden=tuple((name, text) for name, text in asked.change.query.items() if text),
        errors=tuple((name, name.replace("_", " "), text) for name, text in errors.items()),
        words=change_words(desk, desk.asked) if not desk.asked.is_empty else (),
        difference=writer.signed(held.difference, unit),
        difference_unit=writer.unit(unit),
        sentence=_sentence(found, writer),
        costs=costs_table(found, writer, path, full),
        ties=ties_table(found, writer, path, {**full, "figure": held.figure}),
        untied=untied_table(found, writer),
        untied_summary=f"{len(held.untied)} figures bring no tie within ± {percent(REACH)}",
        notes=_notes(found),
        cautions=(HELD, cautions.MODELLED, cautions.WEIGHT, cautions.RATES),
    )


def _links(
    code: str, kept: Mapping[str, str], change: Mapping[str, str]
) -> tuple[tuple[str, str], ...]:
    return (
        (f"Construction {code}", addresses.construction_path(code)),
        (f"Compare {code}", addresses.with_query(addresses.compare_path(code), kept)),
        ("Change desk", addresses.with_query(addresses.change_path(code), {**kept, **change})),
        ("Map", addresses.with_query(addresses.map_path(code), kept)),
    )


def _sentence(found: Ties, writer: Writer) -> str:
    """The nearest tie in what is watched or asked; before it one in the cloth alone, if nearer."""
    held = found.contest
    if held.even:
        return f"{held.first.label} and {held.second.label} cost the same today."
    if not held.ties:
        return (
            f"{held.leader.label} is the cheaper one, and nothing that moves within "
            f"± {percent(REACH)} of today brings a tie."
        )
    nearest = held.ties[0]
    asked = next((tie for tie in held.ties if tie.movement.is_given), nearest)
    said = tie_sentence(held, asked, writer)
    if asked is nearest:
        return said
    value, unit = movement_value(nearest.movement, nearest.value, writer)
    return (
        f"{said} Nearer still: {nearest.movement.label} of {moves_in(nearest.movement, held)} at "
        f"{value} {unit} ({percent(nearest.distance, signed=True)})."
    )


def _notes(found: Ties) -> tuple[str, ...]:
    held, comparison = found.contest, found.desk.comparison
    notes = [
        f"{comparison.basis.currency} itself has no rate here, so there is no tie in it.",
        "Days, loads and weaves go in steps and are left out, as is what is zero.",
    ]
    if held.money is not None:
        notes.insert(
            0,
            f"The assumption set is in {held.money.currency}: its money moves with that rate.",
        )
    if held.first.costing.construction.code != held.second.costing.construction.code:
        notes.append("Two constructions: only prices, rates and assumptions move both at once.")
    return tuple(notes)


def ties_href(code: str, first: str, second: str, query: Mapping[str, str]) -> str:
    """The break-evens of two options. query: of the basis"""
    chosen = {"first": first, "second": second}
    return addresses.with_query(addresses.ties_path(code), {**query, **chosen})
