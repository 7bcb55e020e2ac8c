"""The comparison page, the heart: basis, matrix, ladder, pairs, break-evens, excluded."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from weakref import WeakKeyDictionary

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from server.actions.book import current_book
from server.actions.compare import (
    BasisChange,
    break_evens,
    compare_construction,
    rates_used,
    read_basis_change,
    sound_basis_change,
)
from server.actions.effects import costs_of_twist
from server.core.compare import Comparison
from server.core.construction import Basis
from server.core.errors import CreelbookError, Missing
from server.core.loom_behaviour import FROM_STOPS, LOOM_RULES
from server.core.twist_cost import TwistCost
from server.export import cautions
from server.export.columns import PAIR_COLUMNS
from server.export.csv_file import as_csv
from server.export.documents import RATE_COLUMNS, comparison_document, rate_rows
from server.request import house_of
from server.web import addresses, pictures
from server.web.matrix import MatrixView, Rung, matrix_view, reference_pair, rungs
from server.web.numbers import Writer, percent
from server.web.pair_table import excluded_table, pair_filters, pair_table
from server.web.pictures import Picture
from server.web.rates_used import RatesView, rates_view
from server.web.render import Frame, csv_answer, frame_of, render_text
from server.web.sentences import foremost_break_evens, sentence
from server.web.tables import Table
from server.web.twist_cost import TwistCostView, twist_cost_view

router = APIRouter()


@dataclass(frozen=True, slots=True)
class Chip:
    """One part of the basis, changeable in place when it has a field name."""

    label: str
    value: str
    name: str = ""
    kind: str = "text"
    options: tuple[str, ...] = ()
    error: str = ""


@dataclass(frozen=True, slots=True)
class ComparePage:
    """Everything the comparison template shows."""

    title: str
    construction: str
    construction_href: str
    summary: str
    near_tie: str
    chips: tuple[Chip, ...]
    hidden: tuple[tuple[str, str], ...]
    errors: tuple[tuple[str, str, str], ...]
    filling_systems: tuple[str, ...]
    matrix: tuple[tuple[str, tuple[MatrixView, ...]], ...]
    reference: str
    rungs: tuple[Rung, ...]
    ladder_picture: Picture | None
    pairs: Table
    filters: tuple[tuple[str, str, tuple[tuple[str, str], ...]], ...]
    break_evens: tuple[str, ...]
    ties_href: str
    put_href: str
    map_href: str
    twist: TwistCostView | None
    excluded: Table
    unpriced: tuple[str, ...]
    rates: RatesView
    cautions: tuple[str, ...]
    unit: str
    yarn_unit: str


@router.get("/compare/{code}.json")
def compare_json(request: Request, code: str) -> Response:
    """The same comparison as data."""
    change = sound_basis_change(request.query_params)
    comparison = compare_construction(
        house_of(request).engine, code, change, request.query_params.get("basis", "")
    )
    return JSONResponse(
        comparison_document(
            comparison,
            break_evens(comparison),
            rates_used(comparison),
            costs_of_twist(house_of(request).engine, comparison),
        )
    )


@router.get("/compare/{code}.csv")
def compare_csv(request: Request, code: str) -> Response:
    """All pairs of the same comparison as CSV, in ranked order."""
    change = sound_basis_change(request.query_params)
    comparison = compare_construction(
        house_of(request).engine, code, change, request.query_params.get("basis", "")
    )
    basis = comparison.basis
    dates = (basis.rates_on, basis.as_of)
    text = as_csv(
        [*(column.titled(basis.currency) for column in PAIR_COLUMNS), "Rates of", "As of"],
        ([*(column.value(pair) for column in PAIR_COLUMNS), *dates] for pair in comparison.pairs()),
    )
    return csv_answer(f"compare-{code}", text)


@router.get("/compare/{code}/rates.csv")
def rates_csv(request: Request, code: str) -> Response:
    """The dated rates that the same comparison rests on, as CSV."""
    change = sound_basis_change(request.query_params)
    comparison = compare_construction(
        house_of(request).engine, code, change, request.query_params.get("basis", "")
    )
    text = as_csv(RATE_COLUMNS, rate_rows(rates_used(comparison), comparison.basis))
    return csv_answer(f"rates-of-{code}", text)


@router.get("/compare/{code}")
def compare_page(request: Request, code: str) -> HTMLResponse:
    """The comparison of one construction."""
    house, query = house_of(request), request.query_params
    change = read_basis_change(query)
    errors = dict(change.errors)
    try:
        comparison = compare_construction(house.engine, code, change, query.get("basis", ""))
    except CreelbookError as wrong:
        if isinstance(wrong, Missing) and "loom_rule" in change.changes:
            errors["loom_rule"] = str(wrong)
        elif wrong.code == "bad_value":
            errors[wrong.field] = str(wrong)
        else:
            raise
        comparison = compare_construction(
            house.engine, code, BasisChange({}, {}), query.get("basis", "")
        )
    frame = frame_of(request, "compare", printed_basis(comparison))
    known = _answers.setdefault(comparison, {})
    if errors or frame not in known:
        writer = Writer(frame.units, comparison.basis.currency)
        sets = tuple(each.name for each in current_book(house.engine).assumption_sets)
        twists = costs_of_twist(house.engine, comparison)
        page = _page(comparison, dict(query), errors, writer, sets, twists)
        answer = render_text("compare/page.html", page, frame)
        if errors:
            return HTMLResponse(answer, 422)
        if len(known) >= MOST_ANSWERS:
            known.clear()
        known[frame] = answer
    return HTMLResponse(known[frame])


# Answers given, by comparison and frame: a comparison never changes, and when it goes they go.
_answers: WeakKeyDictionary[Comparison, dict[Frame, str]] = WeakKeyDictionary()
MOST_ANSWERS = 8  # of one comparison


def printed_basis(comparison: Comparison) -> str:
    """The line printed on every sheet of a comparison."""
    basis = comparison.basis
    return (
        f"Creelbook · {comparison.construction.code} · basis “{basis.name}”: {basis.currency}, "
        f"rates of {basis.rates_on}, {basis.delivery_point}, meeting {basis.meeting}, need by "
        f"{basis.need_by} · assumptions “{comparison.assumptions.name}”"
        + (" · loom efficiency from stops" if basis.loom_rule == FROM_STOPS else "")
    )


def _page(
    comparison: Comparison,
    query: Mapping[str, str],
    errors: Mapping[str, str],
    writer: Writer,
    sets: tuple[str, ...],
    twists: tuple[TwistCost, ...],
) -> ComparePage:
    construction = comparison.construction
    reference = reference_pair(comparison, query.get("reference", ""))
    kept = addresses.basis_query(query)
    path = addresses.compare_path(construction.code)
    ladder = None
    if len(comparison.ladder) > 1:
        ladder = pictures.picture(
            partial(pictures.ladder_spec, comparison, writer),
            pictures.compare_chart(construction.code, "ladder"),
            {**kept, "units": writer.units},
            caption="Ladder: best possible pair of every combination",
            unit=writer.unit("¤/m"),
            alt="Cost of a finished metre for each combination, cheapest first; the same figures "
            "stand in the list beside it",
            table_href="#ladder",
        )
    return ComparePage(
        title=f"Compare {construction.code} {construction.name}",
        construction=f"{construction.weight_class}, {construction.weave}, "
        f"{construction.twill_hand} hand".replace(", none hand", ""),
        construction_href=addresses.construction_path(construction.code),
        summary=_summary(comparison, writer),
        near_tie=_near_tie(comparison, writer),
        chips=basis_chips(comparison, errors, query, sets),
        hidden=tuple(
            (name, value)
            for name, value in query.items()
            if name in ("sort", "warp", "filling", "state", "reference", "basis")
        ),
        errors=tuple((name, name.replace("_", " "), text) for name, text in errors.items()),
        filling_systems=tuple(cell.filling_system for cell in comparison.cells[0]),
        matrix=tuple(
            (
                row[0].warp_system,
                tuple(matrix_view(comparison, cell, reference, writer, kept, path) for cell in row),
            )
            for row in comparison.cells
        ),
        reference=f"{reference.combination} ({reference.key})" if reference else "",
        rungs=rungs(comparison, writer, kept),
        ladder_picture=ladder,
        pairs=pair_table(comparison, query, reference, writer, path),
        filters=pair_filters(comparison),
        break_evens=tuple(
            sentence(each, writer) for each in foremost_break_evens(break_evens(comparison))
        ),
        ties_href=addresses.with_query(
            f"{addresses.construction_path(construction.code)}/break-even", kept
        ),
        map_href=addresses.with_query(addresses.map_path(construction.code), kept),
        put_href=addresses.put_path(construction.code, query),
        twist=twist_cost_view(comparison, twists, writer, kept),
        excluded=excluded_table(comparison, writer, kept),
        unpriced=tuple(
            f"{each.offer.code} as {each.slot.name}: {each.reason}" for each in comparison.unpriced
        ),
        rates=rates_view(
            rates_used(comparison),
            rates_on=comparison.basis.rates_on,
            as_of=comparison.basis.as_of,
            writer=writer,
            exports=(("CSV", addresses.with_query(f"{path}/rates.csv", kept)),),
        ),
        cautions=(
            cautions.ranking(
                comparison.basis.as_of,
                len({each.candidate.offer.code for each in comparison.excluded}),
            ),
            cautions.MODELLED,
            cautions.DUTY,
            cautions.TERMS,
            cautions.ORIGIN,
            cautions.TESTS,
            cautions.WEIGHT,
            cautions.CHANGE,
            *((cautions.STOPS,) if comparison.basis.loom_rule == FROM_STOPS else ()),
            cautions.RATES,
        ),
        unit=writer.unit("¤/m"),
        yarn_unit=writer.unit("¤/m"),
    )


def _summary(comparison: Comparison, writer: Writer) -> str:
    leader = comparison.leader
    if leader is None:
        return "No possible pair on this basis; see below why."
    return (
        f"Cheapest possible: {leader.process}, {leader.key}, at "
        f"{writer.full(leader.figures['fabric_cost'], '¤/m')} of finished cloth "
        f"(yarn {writer.full(leader.figures['yarn_cost'], '¤/m')}), "
        f"{writer.full(leader.figures['ounces'], 'oz/yd²')}."
    )


def _near_tie(comparison: Comparison, writer: Writer) -> str:
    leader, second = comparison.leader, comparison.runner_up
    if leader is None or second is None or not comparison.is_near_tie(leader, second):
        return ""
    apart = second.figures["fabric_cost"] - leader.figures["fabric_cost"]
    return (
        f"Near-tie: {second.key} ({second.process}) costs only {writer.full(apart, '¤/m')} "
        f"more than {leader.key}. Verify both before deciding."
    )


def basis_chips(
    comparison: Comparison,
    errors: Mapping[str, str],
    query: Mapping[str, str],
    sets: tuple[str, ...],
) -> tuple[Chip, ...]:
    """The parts of the basis, those that may be changed in place with their field."""
    return chips_of(comparison.basis, errors, query, sets)


def chips_of(
    basis: Basis,
    errors: Mapping[str, str],
    query: Mapping[str, str],
    sets: tuple[str, ...],
) -> tuple[Chip, ...]:
    """The same for a page that rests on more than one comparison."""

    def typed(name: str, stored: object) -> str:
        return query[name] if name in errors and name in query else str(stored)

    dates = (
        ("rates_on", "Rates of"),
        ("as_of", "As of"),
        ("meeting", "Meeting"),
        ("need_by", "Need by"),
    )
    regains = ", ".join(f"{mix} {percent(share)}" for mix, share in basis.house_regain.items())
    return (
        Chip(
            "Currency",
            typed("currency", basis.currency),
            "currency",
            error=errors.get("currency", ""),
        ),
        *(
            Chip(
                label,
                typed(name, getattr(basis, name)),
                name,
                "date",
                error=errors.get(name, "") or (errors.get("date", "") if name in errors else ""),
            )
            for name, label in dates
        ),
        Chip(
            "Quantity",
            typed("quantity", basis.quantity),
            "quantity",
            "choice",
            ("first price", "season", "metres"),
            errors.get("quantity", ""),
        ),
        Chip(
            "Metres",
            typed("metres", "" if basis.metres is None else f"{basis.metres:g}"),
            "metres",
            error=errors.get("metres", ""),
        ),
        Chip(
            "Loom efficiency",
            typed("loom_rule", basis.loom_rule),
            "loom_rule",
            "choice",
            LOOM_RULES,
            errors.get("loom_rule", ""),
        ),
        Chip("Assumptions", basis.assumption_set, "assumption_set", "choice", sets),
        Chip("Delivery point", basis.delivery_point),
        Chip("House regain", regains),
    )
