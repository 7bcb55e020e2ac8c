"""Two to five offers side by side, at one address; the same table as CSV and as JSON."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from server.actions.book import current_book
from server.actions.compare import BasisChange, read_basis_change, sound_basis_change
from server.actions.offers import PREFIX
from server.actions.side_by_side import FEWEST, IN_THE_PRICE, MOST, SideBySide, Step, side_by_side
from server.core.errors import BadValue
from server.export import cautions
from server.export.csv_file import as_csv, as_tsv
from server.export.documents import basis_document
from server.request import house_of
from server.web import addresses
from server.web.compare import Chip
from server.web.numbers import Writer, entered, percent
from server.web.render import csv_answer, render, units_of
from server.web.tables import Cell, Column, Row, Table

router = APIRouter()
PATH = "/offers/side-by-side"
NOT_SAID = "not said"


@dataclass(frozen=True, slots=True)
class SideBySidePage:
    """Everything the page shows. typed: codes in the form; text: the table to be pasted."""

    title: str
    chips: tuple[Chip, ...]
    hidden: tuple[tuple[str, str], ...]
    errors: tuple[tuple[str, str, str], ...]
    typed: tuple[str, ...]
    typed_error: str
    said: Table | None
    way: Table | None
    tests: Table | None
    asked: Table | None
    text: str
    cautions: tuple[str, ...]


@router.get(f"{PATH}.csv")
def side_by_side_csv(request: Request) -> Response:
    """The offers side by side as CSV: rows are facts and steps, columns are offers."""
    found = _found(request, sound_basis_change(request.query_params))
    return csv_answer("offers-side-by-side", as_csv(_headings(found), _lines(found)))


@router.get(f"{PATH}.json")
def side_by_side_json(request: Request) -> Response:
    """The offers side by side as data."""
    found = _found(request, sound_basis_change(request.query_params))
    basis = found.offers[0].basis
    return JSONResponse(
        {
            "basis": basis_document(basis) if basis else None,
            "offers": [
                {
                    "offer": each.offer.code,
                    "said": {fact.key: _plain(fact.values[place]) for fact in found.facts},
                    "missing": each.missing,
                    "steps": [_step_document(step, place) for step in found.steps],
                    "totals": [_step_document(step, place) for step in found.totals],
                    "tests": {fact.key: fact.values[place] for fact in found.tests},
                    "open_questions": list(found.questions[place]),
                    "doubts": [doubt.text for doubt in found.doubts[place]],
                }
                for place, each in enumerate(found.offers)
            ],
            "units": {
                "steps": f"{found.currency}/kg",
                "said": {fact.key: fact.unit for fact in found.facts if fact.unit},
                "tests": {fact.key: fact.unit for fact in found.tests if fact.unit},
            },
        }
    )


@router.get(PATH)
def side_by_side_page(request: Request) -> HTMLResponse:
    """The offers side by side, or a form to choose them."""
    query = request.query_params
    change = read_basis_change(query)
    errors, typed_error, found = dict(change.errors), "", None
    try:
        found = _found(request, change)
    except BadValue as wrong:
        if wrong.field == "offer":
            typed_error = str(wrong) if query.getlist("offer") else ""
        else:
            errors[wrong.field] = str(wrong)
            found = _found(request, BasisChange({}, {}))
    wrong_somewhere = bool(errors or typed_error)
    page = _page(request, found, errors, typed_error)
    status = 422 if wrong_somewhere else 200
    printed = _printed(found) if found else ""
    return render(
        request, "side_by_side/page.html", page, section="offers", printed=printed, status=status
    )


def _printed(found: SideBySide) -> str:
    """The line printed on every sheet."""
    codes, basis = ", ".join(each.offer.code for each in found.offers), found.offers[0].basis
    if basis is None:
        return f"Creelbook · offers {codes}"
    return (
        f"Creelbook · offers {codes} · basis “{basis.name}”: {basis.currency}, rates of "
        f"{basis.rates_on}, {basis.delivery_point}, meeting {basis.meeting}"
    )


def _found(request: Request, change: BasisChange) -> SideBySide:
    query = request.query_params
    return side_by_side(
        house_of(request).engine, query.getlist("offer"), change, query.get("basis", "")
    )


def _page(
    request: Request, found: SideBySide | None, errors: Mapping[str, str], typed_error: str
) -> SideBySidePage:
    query = request.query_params
    typed = [code for code in query.getlist("offer") if code.strip()][:MOST]
    codes = [each.offer.code for each in found.offers] if found else []
    writer = Writer(units_of(request), found.currency if found else "")
    kept = addresses.basis_query(query)
    pairs = [*(("offer", code) for code in codes), *kept.items()]
    exports = tuple((name, f"{PATH}.{name.lower()}?{urlencode(pairs)}") for name in ("CSV", "JSON"))
    return SideBySidePage(
        title=f"Side by side: {', '.join(codes)}" if found else "Offers side by side",
        chips=_chips(request, found, errors) if found else (),
        hidden=tuple((name, value) for name, value in pairs if name in ("offer", "basis")),
        errors=tuple((name, name.replace("_", " "), text) for name, text in errors.items()),
        typed=(*typed, *[""] * (min(MOST, max(FEWEST, len(typed) + 1)) - len(typed))),
        typed_error=typed_error,
        said=_facts_table(found, writer) if found else None,
        way=_way_table(found, writer, kept, exports) if found else None,
        tests=_tests_table(found, writer) if found else None,
        asked=_asked_table(found) if found else None,
        text=as_tsv(_headings(found), _lines(found)) if found else "",
        cautions=(cautions.DUTY, cautions.TERMS, cautions.TESTS, cautions.RATES) if found else (),
    )


def _columns(found: SideBySide, first: str, unit: str = "") -> tuple[Column, ...]:
    return (
        Column("row", first),
        *(Column(e.offer.code, e.offer.code, unit, numeric=bool(unit)) for e in found.offers),
    )


def _facts_table(found: SideBySide, writer: Writer) -> Table:
    rows = [
        Row(
            (
                Cell("Offer"),
                *(
                    Cell(each.offer.code, href=addresses.offer_path(each.offer.code))
                    for each in found.offers
                ),
            ),
            key="offer",
        )
    ]
    rows += [
        Row((Cell(fact.label), *(Cell(_said(v, fact.unit, writer)) for v in fact.values)), fact.key)
        for fact in found.facts
        if any(value not in (None, "") for value in fact.values)
    ]
    return Table("What was said", _columns(found, "Said"), tuple(rows), "")


def _way_table(
    found: SideBySide,
    writer: Writer,
    kept: Mapping[str, str],
    exports: tuple[tuple[str, str], ...],
) -> Table:
    rows = [_step_row(found, step, writer, kept, total=False) for step in found.steps]
    rows += [_step_row(found, step, writer, kept, total=True) for step in found.totals]
    if any(each.missing for each in found.offers):
        told = (Cell(each.missing) for each in found.offers)
        rows.append(Row((Cell("Why there is no price"), *told), key="missing"))
    return Table(
        "The way to the mill, step by step; under each leg the sum so far and how far it is above "
        "the cheapest at that step",
        _columns(found, "Step", writer.unit("¤/kg")),
        tuple(rows),
        "",
        exports=exports,
    )


def _step_row(
    found: SideBySide, step: Step, writer: Writer, kept: Mapping[str, str], *, total: bool
) -> Row:
    cells = [Cell(step.title)]
    for place, each in enumerate(found.offers):
        value, above = step.values[place], step.above[place]
        if each.missing:
            cells.append(Cell(""))
            continue
        so_far = step.so_far[place] or 0.0
        apart = "cheapest" if not above else writer.signed(above, "¤/kg")
        note = apart if total else f"so far {writer.text(so_far, '¤/kg')}, {apart}"
        path = f"{addresses.offer_path(each.offer.code)}/{PREFIX}.{step.key}"
        cells.append(
            Cell(IN_THE_PRICE, note=note)
            if value is None
            else Cell(
                writer.text(value, "¤/kg"),
                href=addresses.with_query(path, kept),
                note=note,
                strong=total,
            )
        )
    return Row(tuple(cells), key=step.key)


def _tests_table(found: SideBySide, writer: Writer) -> Table:
    return Table(
        "Test values that count",
        _columns(found, "Property"),
        tuple(
            Row(
                (
                    Cell(fact.label, note=fact.unit),
                    *(Cell("–" if v is None else f"{v:g}") for v in fact.values),
                ),
                key=fact.key,
            )
            for fact in found.tests
            if any(value is not None for value in fact.values)
        ),
        "None of these offers has a test value.",
    )


def _asked_table(found: SideBySide) -> Table:
    rows = []
    for label, texts in (
        ("Open questions", found.questions),
        ("Doubts", tuple(tuple(doubt.text for doubt in each) for each in found.doubts)),
    ):
        for place in range(max(len(each) for each in texts)):
            told = (Cell(each[place] if place < len(each) else "") for each in texts)
            rows.append(Row((Cell(label), *told), key=f"{label} {place}"))
    return Table(
        "What to ask the sellers",
        _columns(found, "Ask"),
        tuple(rows),
        "No question is open and nothing looks odd.",
    )


def _said(value: Any, unit: str, writer: Writer) -> str:
    if value in (None, ""):
        return NOT_SAID
    if unit == "Ne":
        return writer.full(value, "Ne")
    if isinstance(value, (int, float)):
        return f"{value:g} {unit}".strip()
    return entered(value)


def _plain(value: Any) -> Any:
    return value if isinstance(value, (int, float)) or value is None else entered(value)


def _step_document(step: Step, place: int) -> dict[str, Any]:
    return {
        "key": step.key,
        "title": step.title,
        "value": step.values[place],
        "inside_the_sellers_price": step.inside[place],
        "so_far": step.so_far[place],
        "above_the_cheapest": step.above[place],
    }


def _headings(found: SideBySide) -> list[str]:
    return ["part", "row", "unit", *(each.offer.code for each in found.offers)]


def _lines(found: SideBySide) -> Iterable[list[Any]]:
    """The whole table, figures with all their digits."""
    unit = f"{found.currency}/kg"
    for fact in found.facts:
        yield ["said", fact.label, fact.unit, *fact.values]
    for step in (*found.steps, *found.totals):
        shown = (
            IN_THE_PRICE if inside else value
            for inside, value in zip(step.inside, step.values, strict=True)
        )
        yield ["step", step.title, unit, *shown]
        if step in found.steps:
            yield ["step", f"{step.title}: sum so far", unit, *step.so_far]
        yield ["step", f"{step.title}: above the cheapest", unit, *step.above]
    for fact in found.tests:
        yield ["test value", fact.label, fact.unit, *fact.values]
    yield ["asked", "Open questions", "", *(" ".join(each) for each in found.questions)]
    yield ["asked", "Doubts", "", *(" ".join(d.text for d in each) for each in found.doubts)]
    yield ["asked", "Why there is no price", "", *(each.missing for each in found.offers)]


def _chips(request: Request, found: SideBySide, errors: Mapping[str, str]) -> tuple[Chip, ...]:
    """The basis, changeable in place as on the comparison."""
    basis, query = found.offers[0].basis, request.query_params
    if basis is None:
        return ()

    def chip(name: str, label: str, stored: object, kind: str = "text", **more: Any) -> Chip:
        wrong = errors.get(name, "")
        value = query.get(name, "") if wrong else str(stored)
        return Chip(label, value, name, kind, error=wrong, **more)

    sets = tuple(each.name for each in current_book(house_of(request).engine).assumption_sets)
    regains = ", ".join(f"{mix} {percent(share)}" for mix, share in basis.house_regain.items())
    return (
        chip("currency", "Currency", basis.currency),
        chip("rates_on", "Rates of", basis.rates_on, "date"),
        chip("meeting", "Meeting", basis.meeting, "date"),
        chip("need_by", "Need by", basis.need_by, "date"),
        chip("assumption_set", "Assumptions", basis.assumption_set, "choice", options=sets),
        Chip("Delivery point", basis.delivery_point),
        Chip("House regain", regains),
    )
