"""Scenarios: a set of assumptions cloned under a new name, and constructions under two sets."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from urllib.parse import parse_qsl, urlencode

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from server.actions.book import current_book
from server.actions.compare import BasisChange, read_basis_change, sound_basis_change
from server.actions.scenarios import look_at_what_if, store_scenario, two_sets, usual_sets
from server.actions.what_if import typed_what_if
from server.core.errors import BadValue, NotFound
from server.core.scenarios import TwoSets
from server.export import cautions
from server.export.csv_file import as_csv
from server.export.scenarios import (
    COMBINATION_HEADINGS,
    UNDER_COLUMNS,
    VALUE_HEADINGS,
    combination_rows,
    two_sets_document,
    value_row,
)
from server.request import house_of
from server.web import addresses
from server.web import scenario_tables as tables
from server.web.compare import Chip, basis_chips
from server.web.forms import FieldView, SentForm
from server.web.numbers import Writer
from server.web.render import csv_answer, render, units_of
from server.web.tables import Table
from server.web.what_if import changed_words

router = APIRouter()
PATH, NEW = "/scenarios", "/scenarios/new"
OWN = (
    "Own yarn is plain cotton yarn at its should-cost before margin, spun by the routes and values "
    "of each set; no gate has looked at it."
)


@dataclass(frozen=True, slots=True)
class ScenariosPage:
    """Everything the page of two sets shows."""

    title: str
    sets: tuple[str, ...]
    first: str
    second: str
    construction: str
    codes: tuple[tuple[str, str], ...]
    chips: tuple[Chip, ...]
    errors: tuple[tuple[str, str, str], ...]
    told: tuple[str, ...]
    values: Table
    constructions: Table
    combinations: Table | None
    own_combinations: Table | None
    clone_href: str
    swap_href: str
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TooFewPage:
    """What is shown before there are two sets. links: what to do"""

    title: str
    told: str
    links: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class NewPage:
    """Everything the form of a new scenario shows. query: the what-if it holds"""

    title: str
    of: str
    words: tuple[str, ...]
    query: str
    fields: tuple[FieldView, ...]
    errors: tuple[tuple[str, str, str], ...]
    back_href: str


def _asked_sets(request: Request) -> tuple[str, str]:
    """The two sets of a request, or the nearest at hand."""
    query = request.query_params
    names = [each.name for each in current_book(house_of(request).engine).assumption_sets]
    first, second = usual_sets(house_of(request).engine, query.get("basis", ""))
    first = query.get("first", "") or first
    if first == second:
        second = next((name for name in names if name != first), "")
    return first, query.get("second", "") or second


def _sound(request: Request) -> TwoSets:
    """The two sets of a request that cannot show an error. Raises BadValue, NotFound."""
    query = request.query_params
    first, second = _asked_sets(request)
    found = two_sets(
        house_of(request).engine, first, second, sound_basis_change(query), query.get("basis", "")
    )
    code = query.get("construction", "")
    if code and found.construction(code) is None:
        current_book(house_of(request).engine).construction(code)
    return found


@router.get("/scenarios.json")
def scenarios_json(request: Request) -> Response:
    """Two sets and every construction under them as data."""
    return JSONResponse(
        two_sets_document(_sound(request), request.query_params.get("construction", ""))
    )


@router.get("/scenarios.csv")
def scenarios_csv(request: Request) -> Response:
    """Every construction under two sets as CSV."""
    found = _sound(request)
    text = as_csv(
        [column.titled(found.currency) for column in UNDER_COLUMNS],
        ([column.value(each) for column in UNDER_COLUMNS] for each in found.constructions),
    )
    return csv_answer("scenarios", text)


@router.get("/scenarios/values.csv")
def values_csv(request: Request) -> Response:
    """What differs between two sets as CSV."""
    found = _sound(request)
    rows = (value_row(each, found) for each in found.values)
    return csv_answer("scenario-values", as_csv(VALUE_HEADINGS, rows))


@router.get("/scenarios/combinations.csv")
def combinations_csv(request: Request) -> Response:
    """The combinations of one construction under two sets as CSV. Raises NotFound."""
    code = request.query_params.get("construction", "")
    both = _sound(request).construction(code)
    if both is None:
        raise NotFound(
            f"There is no construction “{code[:40]}”.",
            field="construction",
            value=code,
            remedy="Choose one from the list of constructions.",
        )
    rows = combination_rows(both)
    return csv_answer(f"scenarios-{code}", as_csv(COMBINATION_HEADINGS, rows))


@router.get(PATH)
def scenarios_page(request: Request) -> HTMLResponse:
    """What differs between two sets, and every construction under them."""
    engine, query = house_of(request).engine, request.query_params
    book = current_book(engine)
    first, second = _asked_sets(request)
    if not first or not second:
        return _too_few(request, first)
    change = read_basis_change(query)
    errors = dict(change.errors)
    basis_name = query.get("basis", "")
    try:
        found = two_sets(engine, first, second, change, basis_name)
    except BadValue as wrong:
        errors[wrong.field] = str(wrong)
        found = two_sets(engine, first, second, BasisChange({}, {}), basis_name)
    code = query.get("construction", "")
    both = found.construction(code) if code else None
    if code and both is None:
        book.construction(code)
    writer = Writer(units_of(request), found.currency)
    kept = {n: t for n, t in addresses.basis_query(query).items() if n != "assumption_set"}
    state = {"first": first, "second": second, "construction": code, **kept}
    page = ScenariosPage(
        title="Scenarios",
        sets=tuple(each.name for each in book.assumption_sets),
        first=first,
        second=second,
        construction=code,
        codes=tuple((each.code, f"{each.code} {each.name}") for each in book.constructions),
        chips=_chips(found, errors, query),
        errors=tuple((name, name.replace("_", " "), text) for name, text in errors.items()),
        told=tables.sentences(found, writer),
        values=tables.values_table(found, writer, state),
        constructions=tables.constructions_table(found, writer, state),
        combinations=tables.combinations_table(found, both, writer, state) if both else None,
        own_combinations=tables.own_table(found, both, writer, state) if both else None,
        clone_href=addresses.with_query(NEW, {"of": first}),
        swap_href=addresses.with_query(PATH, {**state, "first": second, "second": first}),
        cautions=(cautions.MODELLED, OWN, cautions.RATES),
    )
    return render(
        request,
        "scenarios/page.html",
        page,
        section="assumptions",
        printed=f"Creelbook · “{first}” and “{second}” · {found.currency}",
        status=422 if errors else 200,
    )


def _chips(found: TwoSets, errors: Mapping[str, str], query: Mapping[str, str]) -> tuple[Chip, ...]:
    """The basis, its set aside; none where nothing can be compared."""
    comparison = next((each.first.comparison for each in found.constructions
                       if each.first.comparison), None)  # fmt: skip
    if comparison is None:
        return ()
    chips = basis_chips(comparison, errors, query, ())
    return tuple(chip for chip in chips if chip.name != "assumption_set")


def _too_few(request: Request, only: str) -> HTMLResponse:
    told = (
        f"There is one assumption set, “{only}”. Clone it under a new name, change what is to "
        "differ in the clone, and compare the two here."
        if only
        else "There are no assumptions yet. Enter a first set; then clone it here and compare."
    )
    links = (
        (
            (f"Clone {only}", addresses.with_query(NEW, {"of": only})),
            ("Should-cost", "/should-cost"),
        )
        if only
        else (("Enter an assumption", "/assumptions/new"), ("Import CSV", "/assumptions/import"))
    )
    page = TooFewPage("Scenarios", told, links)
    return render(request, "scenarios/empty.html", page, section="assumptions")


@router.get(NEW)
def new_scenario(request: Request) -> HTMLResponse:
    """The form of a new scenario: a set cloned, with the changes of a what-if if there are any."""
    query = request.query_params
    of = query.get("of", "") or usual_sets(house_of(request).engine)[0]
    return _form(request, of, typed_what_if(query), {}, {})


@router.post(NEW)
def add_scenario(request: Request, sent: SentForm) -> Response:
    """Store a scenario; refused, the form comes back with what was typed."""
    house, fields = house_of(request), sent.fields
    typed = typed_what_if(dict(parse_qsl(fields.get("query", "")[:LONGEST_SENT])))
    of = fields.get("of", "")
    try:
        name = store_scenario(
            house.engine,
            house.person_id,
            of=of,
            name=fields.get("name", ""),
            on=datetime.now(UTC).date(),
            typed=typed,
            source=fields.get("source", ""),
            notes=fields.get("notes", ""),
        )
    except BadValue as wrong:
        return _form(request, of, typed, fields, {wrong.field: str(wrong)})
    state = {"first": of, "second": name, "notice": "added"}
    return RedirectResponse(addresses.with_query(PATH, state), 303)


LONGEST_SENT = 8000  # characters of a what-if as a form sends it


def _form(
    request: Request,
    of: str,
    typed: Mapping[str, str],
    sent: Mapping[str, str],
    errors: Mapping[str, str],
) -> HTMLResponse:
    engine = house_of(request).engine
    asked = look_at_what_if(engine, of, typed)
    told = {**asked.errors, **errors}
    currency = current_book(engine).assumption_set(of).currency
    fields = (
        _field("name", "Name of the scenario", sent, told, required=True,
               help="Unlike any other set, whatever its capitals"),
        *(
            (_field("source", "Source of the changes", sent, told,
                    help="Who says so; “what-if of the day by you” when empty"),)
            if typed else ()
        ),
        _field("notes", "Notes", sent, told),
    )  # fmt: skip
    kept = dict(typed)
    page = NewPage(
        title=f"Clone {of} as a scenario",
        of=of,
        words=changed_words(asked.changed, currency),
        query=urlencode(kept),
        fields=fields,
        errors=tuple(
            (name, name if "." in name else name.capitalize(), text) for name, text in told.items()
        ),
        back_href=addresses.with_query("/should-cost", {"set": of, **kept})
        if typed
        else "/assumptions",
    )
    return render(
        request, "scenarios/new.html", page, section="assumptions", status=422 if told else 200
    )


def _field(
    name: str,
    label: str,
    sent: Mapping[str, str],
    errors: Mapping[str, str],
    *,
    help: str = "",
    required: bool = False,
) -> FieldView:
    error = errors.get(name, "")
    return FieldView(name, label, "", sent.get(name, ""), error, "", help, "text", (), required)
