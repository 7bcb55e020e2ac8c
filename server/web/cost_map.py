"""The map of a construction: which option is the cheapest while two things move."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from server.actions.book import current_book
from server.actions.compare import BasisChange, read_basis_change, sound_basis_change
from server.actions.cost_map import PERCENT, Mapped, mapped, opened_at, read_map
from server.core.cost_map import CostMap, Side, Stays, is_own
from server.core.errors import CreelbookError
from server.core.movements import REACH, Movement
from server.export import cautions
from server.export.cost_map import MAP_HEADINGS, map_document, map_table
from server.export.csv_file import as_csv
from server.export.map_chart import MapSide, cheapest_map
from server.export.ties import FIGURE_NAMES
from server.request import house_of
from server.web import addresses, pictures
from server.web.choices import Choice, RangeField
from server.web.compare import Chip, basis_chips, printed_basis
from server.web.cost_map_table import options_table, points_table
from server.web.explanations import explanation_view
from server.web.numbers import Writer, percent, significant
from server.web.pair import ExplainPage
from server.web.pictures import Picture, Spec
from server.web.render import csv_answer, render, units_of
from server.web.sentences import movement_value
from server.web.tables import Table

router = APIRouter()
HELD = (
    "Offers are held as quoted: their prices do not follow cotton or power here, though their "
    "sellers' would."
)
PLAIN = "Own slub yarn is costed as plain yarn; slub costs more to spin."
OPTION_NAMES = (
    ("all", "bought and own spinning"),
    ("bought", "bought"),
    ("own", "own spinning"),
)


@dataclass(frozen=True, slots=True)
class MapPage:
    """Everything the page of the map shows."""

    title: str
    path: str
    links: tuple[tuple[str, str], ...]
    chips: tuple[Chip, ...]
    choices: tuple[Choice, ...]
    ranges: tuple[RangeField, ...]
    hidden: tuple[tuple[str, str], ...]
    errors: tuple[tuple[str, str, str], ...]
    sentences: tuple[str, ...]
    picture: Picture
    options: Table
    points: Table
    cautions: tuple[str, ...]


def _sound(request: Request, code: str) -> Mapped:
    """The map of a request that cannot show an error beside its field. Raises BadValue."""
    query = request.query_params
    found = mapped(
        house_of(request).engine,
        code,
        read_map(query),
        sound_basis_change(query),
        query.get("basis", ""),
    )
    found.refuse_errors()
    return found


@router.get("/compare/{code}/map.json")
def map_json(request: Request, code: str) -> Response:
    """The same map as data."""
    held = _sound(request, code).map
    return JSONResponse(map_document(held, (held.stays(held.x), held.stays(held.y))))


@router.get("/compare/{code}/map.csv")
def map_csv(request: Request, code: str) -> Response:
    """The table of the same map as CSV."""
    held = _sound(request, code).map
    return csv_answer(f"map-{code}", as_csv(list(MAP_HEADINGS), map_table(held)))


@router.get("/compare/{code}/map")
def map_page(request: Request, code: str) -> HTMLResponse:
    """The map, its sentence and its table."""
    query, engine = request.query_params, house_of(request).engine
    asked, basis = read_map(query), read_basis_change(query)
    errors = dict(basis.errors)
    try:
        found = mapped(engine, code, asked, basis, query.get("basis", ""))
    except CreelbookError as wrong:
        if wrong.code != "bad_value":
            raise
        errors[wrong.field] = str(wrong)
        found = mapped(engine, code, asked, BasisChange({}, {}), query.get("basis", ""))
    errors |= found.errors
    sets = tuple(each.name for each in current_book(engine).assumption_sets)
    writer = Writer(units_of(request), found.comparison.basis.currency)
    return render(
        request,
        "ties/map.html",
        _page(found, query, errors, writer, sets),
        section="compare",
        printed=printed_basis(found.comparison),
        status=422 if errors else 200,
    )


@router.get("/compare/{code}/map-cost")
def map_cost(request: Request, code: str) -> HTMLResponse:
    """What one option costs at a point of the map, opened to its formulas and inputs."""
    query, found = request.query_params, _sound(request, code)
    contender, factors, node = opened_at(
        found, query.get("option", ""), query.get("at_x", ""), query.get("at_y", "")
    )
    writer = Writer(units_of(request), found.comparison.basis.currency)
    where = ", ".join(
        f"{side.movement.label} {_full(side, side.movement.present * factor, writer)}"
        for side, factor in zip((found.map.x, found.map.y), factors, strict=True)
    )
    back = {name: text for name, text in query.items() if name not in ("option", "at_x", "at_y")}
    page = ExplainPage(
        title=f"{contender.label} at {where}",
        figure=writer.text(node.value, node.unit),
        unit=writer.unit(node.unit),
        back_href=addresses.with_query(addresses.map_path(code), back),
        back_label="Map",
        node=explanation_view(node, writer),
        cautions=(cautions.MODELLED, cautions.RATES),
    )
    return render(
        request,
        "pair/explain.html",
        page,
        section="compare",
        printed=printed_basis(found.comparison),
    )


def drawing_of(request: Request, code: str) -> pictures.Drawing:
    """The chart of the map that a request names, for the page of charts."""
    found = _sound(request, code)
    writer = Writer(units_of(request), found.comparison.basis.currency)
    return partial(_spec, found.map, writer)


def _spec(held: CostMap, writer: Writer, theme: str, width_px: int) -> Spec:
    return cheapest_map(
        names=[each.name for each in held.contenders],
        costs=held.costs,
        x=_map_side(held.x, writer),
        y=_map_side(held.y, writer),
        theme=theme,
        width_px=width_px,
    )


def _map_side(side: Side, writer: Writer) -> MapSide:
    movement = side.movement
    values = [_number(side, movement.present * each, writer) for each in (side.least, side.most, 1)]
    _, unit = movement_value(movement, movement.present, writer)
    return MapSide(f"{movement.label}, {unit}", *values)


def _number(side: Side, value: float, writer: Writer) -> float:
    """The value in the shown unit, not rounded."""
    movement = side.movement
    if movement.is_price or movement.key.startswith("exchange_rate."):
        return value
    return writer.number(value, movement.input.unit)


def _full(side: Side, value: float, writer: Writer) -> str:
    return " ".join(movement_value(side.movement, value, writer))


def _page(
    found: Mapped,
    query: Mapping[str, str],
    errors: Mapping[str, str],
    writer: Writer,
    sets: tuple[str, ...],
) -> MapPage:
    held, comparison = found.map, found.comparison
    code, path = comparison.construction.code, addresses.map_path(comparison.construction.code)
    kept = addresses.basis_query(query)
    asked = {
        **kept,
        "x": held.x.movement.key,
        "y": held.y.movement.key,
        **{
            name: text
            for name, text in (read_map(query).ranges or {}).items()
            if name not in errors
        },
        "x_of": held.x.movement.key,
        "y_of": held.y.movement.key,
        "options": found.options,
        "figure": held.figure,
    }
    movements = tuple(
        (each.key, f"{each.label}, today {significant(each.present)}")
        for each in sorted(found.movements, key=_first_asked)
    )
    figures = tuple((key, name) for key, (name, _) in FIGURE_NAMES.items())
    return MapPage(
        title=f"Cheapest option in {code} {comparison.construction.name}",
        path=path,
        links=(
            (f"Compare {code}", addresses.with_query(addresses.compare_path(code), kept)),
            ("Break-evens", addresses.with_query(addresses.ties_path(code), kept)),
            ("Should-cost", "/should-cost"),
        ),
        chips=basis_chips(comparison, errors, query, sets),
        choices=(
            Choice("x", "Across", held.x.movement.key, movements, errors.get("x", "")),
            Choice("y", "Upward", held.y.movement.key, movements, errors.get("y", "")),
            Choice("options", "Options", found.options, OPTION_NAMES, errors.get("options", "")),
            Choice("figure", "Cheapest in", held.figure, figures, errors.get("figure", "")),
        ),
        ranges=_ranges(held, query, errors, writer),
        hidden=(("x_of", held.x.movement.key), ("y_of", held.y.movement.key)),
        errors=tuple((name, name.replace("_", " "), text) for name, text in errors.items()),
        sentences=_sentences(held, writer),
        picture=pictures.picture(
            partial(_spec, held, writer),
            pictures.compare_chart(code, "map"),
            {**asked, "units": writer.units},
            caption="The cheapest option at each point, and today",
            unit="",
            alt=f"Areas of the cheapest option over {held.x.movement.label} and "
            f"{held.y.movement.label}, named by letter; the table has figures",
            table_href="#points",
        ),
        options=options_table(found, writer, path, asked, kept),
        points=points_table(held, writer, path, asked),
        cautions=(
            HELD,
            *((PLAIN,) if _spins_slub(found) else ()),
            cautions.MODELLED,
            cautions.SPEEDS,
            cautions.RATES,
        ),
    )


def _first_asked(movement: Movement) -> int:
    """What is asked for most stands first: what moves every route, rates, prices, the rest."""
    ways = (not movement.is_group, not movement.key.startswith("exchange_rate."),
            not movement.is_price)  # fmt: skip
    return next((place for place, no in enumerate(ways) if not no), len(ways))


def _spins_slub(found: Mapped) -> bool:
    slots = found.comparison.construction.slots
    return any(slot.effect not in ("any", "plain") for slot in slots) and any(
        is_own(each) for each in found.map.contenders
    )


def _ranges(
    held: CostMap, query: Mapping[str, str], errors: Mapping[str, str], writer: Writer
) -> tuple[RangeField, ...]:
    """The ends of both sides, in the unit in which they are typed: shares in percent."""
    found = []
    for name, side, label in (("x", held.x, "Across"), ("y", held.y, "Upward")):
        movement = side.movement
        percents = movement.input.unit in PERCENT
        unit = "%" if percents else movement.input.unit.replace("¤", writer.currency)
        for end, factor in (("from", side.least), ("to", side.most)):
            field = f"{name}_{end}"
            now = significant(movement.present * factor * (100 if percents else 1))
            typed = query.get(field, "") if query.get(f"{name}_of", "") == movement.key else ""
            found.append(
                RangeField(field, f"{label}, {end}", unit, now, typed, errors.get(field, ""))
            )
    return tuple(found)


def _sentences(held: CostMap, writer: Writer) -> tuple[str, ...]:
    leader, unit = held.contenders[held.leader], FIGURE_NAMES[held.figure][1]
    said = [
        f"Today {leader.label} is the cheapest at {writer.full(held.present[held.leader], unit)}."
    ]
    said += [_stays_sentence(held, side, held.stays(side), writer) for side in (held.x, held.y)]
    if not (held.x.holds_today and held.y.holds_today):
        said.append("Today's point lies outside this map.")
    return tuple(said)


def _stays_sentence(held: CostMap, side: Side, stays: Stays, writer: Writer) -> str:
    movement = side.movement
    ends = []
    for factor, then, word in (
        (stays.down, stays.then_down, "falls below"),
        (stays.up, stays.then_up, "passes"),
    ):
        if factor is not None and then is not None:
            ends.append(
                f"{word} {_full(side, movement.present * factor, writer)} "
                f"({percent(factor - 1, signed=True)}, then {held.contenders[then].name})"
            )
    if not ends:
        return f"{movement.label} alone changes nothing in that within ± {percent(REACH)}."
    return f"It stays the cheapest until {movement.label} {' or '.join(ends)}."
