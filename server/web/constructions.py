"""Constructions: the list, and one construction as two cards, loom and finished."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from server.actions.book import current_book
from server.actions.calibration import pieces_measured
from server.actions.constructions import Cloth, cloth_of, computed, explain_cloth
from server.actions.nouns import NOUNS
from server.actions.records import history_of, one_record
from server.actions.stated_weight import stated_weights
from server.core.calibration import Piece, calibrated_in_use
from server.core.construction import Construction
from server.core.twill import twist_wanted_on
from server.export import cautions
from server.export.columns import Column as ExportColumn
from server.export.columns import as_record
from server.export.csv_file import as_csv
from server.request import house_of
from server.web import addresses
from server.web.cloth_cards import (
    Card,
    finished_card,
    greige_card,
    loom_card,
    washed_card,
    width_table,
)
from server.web.explanations import explanation_view
from server.web.history import history_lines
from server.web.numbers import Writer, entered
from server.web.pair import ExplainPage
from server.web.render import csv_answer, render, units_of
from server.web.stated_weight import StatedView, stated_document, stated_views
from server.web.tables import Cell, Column, Row, Table
from server.web.twill import TwillView, twill_view

router = APIRouter()


def _season(direction: str) -> ExportColumn[Cloth]:
    return ExportColumn(
        f"{direction}_season_tonnes",
        f"{direction.capitalize()} to buy, season",
        "t",
        lambda cloth: cloth.figures.get(f"{direction}_season_tonnes"),
    )


def _figure(key: str, heading: str, unit: str) -> ExportColumn[Cloth]:
    return ExportColumn(key, heading, unit, lambda cloth: cloth.figures[key])


CLOTH_COLUMNS: tuple[ExportColumn[Cloth], ...] = (
    ExportColumn("code", "Code", "", lambda cloth: cloth.construction.code),
    ExportColumn("name", "Name", "", lambda cloth: cloth.construction.name),
    ExportColumn("weave", "Weave", "",
                 lambda cloth: f"{cloth.construction.weave} {cloth.construction.twill_hand}"),
    ExportColumn("warp_ne", "Warp", "Ne", lambda cloth: cloth.construction.slots_of("warp")[0].ne),
    ExportColumn("filling_ne", "Filling", "Ne",
                 lambda cloth: cloth.construction.slots_of("filling")[0].ne),
    _figure("finished_epi", "Ends, finished", "1/in"),
    _figure("finished_ppi", "Picks, finished", "1/in"),
    _figure("ounces", "Weight, finished", "oz/yd²"),
    ExportColumn("target_oz", "Target", "oz/yd²", lambda cloth: cloth.construction.target_oz),
    ExportColumn("warp_buy", "Warp to buy", "g/m",
                 lambda cloth: _direction_total(cloth, "warp", "buy")),
    ExportColumn("filling_buy", "Filling to buy", "g/m",
                 lambda cloth: _direction_total(cloth, "filling", "buy")),
    _season("warp"),
    _season("filling"),
)  # fmt: skip


def _direction_total(cloth: Cloth, direction: str, figure: str) -> float:
    slots = cloth.construction.slots_of(direction)
    key = f"{direction}.{figure}" if len(slots) == 1 else f"{direction}_{figure}"
    return cloth.figures[key]


@dataclass(frozen=True, slots=True)
class ConstructionsPage:
    """Everything the list template shows."""

    title: str
    table: Table


@dataclass(frozen=True, slots=True)
class ConstructionPage:
    """Everything the template of one construction shows."""

    title: str
    code: str
    summary: str
    weight: str
    weight_unit: str
    weight_href: str
    against_target: str
    doubts: tuple[str, ...]
    stated: tuple[StatedView, ...]
    cards: tuple[Card, ...]
    widths: Table
    calibration: str
    calibration_href: str
    yarns: Table
    twill: TwillView
    notes: str
    compare_href: str
    change_href: str
    edit_href: str
    history: tuple[str, ...]
    cautions: tuple[str, ...]


def _all(request: Request) -> list[Cloth]:
    return [
        computed(construction)
        for construction in current_book(house_of(request).engine).constructions
        if construction.slots
    ]


@router.get("/constructions.json")
def constructions_json(request: Request) -> Response:
    """The constructions with their computed figures as data."""
    return JSONResponse([as_record(CLOTH_COLUMNS, cloth) for cloth in _all(request)])


@router.get("/constructions.csv")
def constructions_csv(request: Request) -> Response:
    """The constructions with their computed figures as CSV."""
    text = as_csv(
        [column.titled("") for column in CLOTH_COLUMNS],
        ([column.value(cloth) for column in CLOTH_COLUMNS] for cloth in _all(request)),
    )
    return csv_answer("constructions", text)


@router.get("/constructions")
def constructions_page(request: Request) -> HTMLResponse:
    """All constructions."""
    writer = Writer(units_of(request), "")
    rows = []
    for cloth in _all(request):
        cells = []
        for column in CLOTH_COLUMNS:
            value = column.value(cloth)
            text = (
                ""
                if value is None
                else (writer.text(value, column.unit) if column.unit else str(value))
            )
            href = addresses.construction_path(value) if column.key == "code" else None
            cells.append(Cell(text, href=href, strong=column.key in ("code", "ounces")))
        rows.append(Row(tuple(cells), key=cloth.construction.code))
    table = Table(
        caption=f"{len(rows)} constructions, computed with the yarns they ask for",
        columns=tuple(
            Column(column.key, column.heading, writer.unit(column.unit), numeric=bool(column.unit))
            for column in CLOTH_COLUMNS
        ),
        rows=tuple(rows),
        empty="No construction yet. Add one, or import a CSV file.",
        exports=(
            ("CSV", "/constructions.csv"),
            ("JSON", "/constructions.json"),
            ("All fields, CSV", "/constructions/export.csv"),
        ),
    )
    return render(
        request,
        "constructions/list.html",
        ConstructionsPage("Constructions", table),
        section="constructions",
    )


@router.get("/constructions/{code}.json")
def construction_json(request: Request, code: str) -> Response:
    """One construction as entered, with its computed figures."""
    engine = house_of(request).engine
    cloth = cloth_of(engine, code)
    kept = one_record(engine, NOUNS["constructions"], code)
    return JSONResponse(
        {
            "construction": {name: entered(value) for name, value in kept.values.items()},
            "version": kept.version,
            "figures": {
                line.key: {"label": line.title, "value": cloth.figures[line.key], "unit": line.unit}
                for line in cloth.sheet.lines
            },
            "doubts": cloth.doubts,
            "stated_weights": stated_document(
                stated_weights(cloth, _used(pieces_measured(engine, cloth.construction)))
            ),
        }
    )


@router.get("/constructions/{code}.csv")
def construction_csv(request: Request, code: str) -> Response:
    """The computed figures of one construction as CSV."""
    cloth = cloth_of(house_of(request).engine, code)
    text = as_csv(
        ["key", "figure", "value", "unit"],
        ([line.key, line.title, cloth.figures[line.key], line.unit] for line in cloth.sheet.lines),
    )
    return csv_answer(f"construction-{code}", text)


@router.get("/constructions/{code}")
def construction_page(request: Request, code: str) -> HTMLResponse:
    """One construction."""
    house = house_of(request)
    cloth, writer = cloth_of(house.engine, code), Writer(units_of(request), "")
    construction, path = cloth.construction, addresses.construction_path(code)
    pieces = pieces_measured(house.engine, construction)
    page = ConstructionPage(
        title=f"{construction.code} {construction.name}",
        code=code,
        summary=_summary(construction),
        weight=writer.text(cloth.figures["ounces"], "oz/yd²"),
        weight_unit=writer.unit("oz/yd²"),
        weight_href=f"{path}/ounces",
        against_target=_against_target(cloth, writer),
        doubts=cloth.doubts,
        stated=stated_views(stated_weights(cloth, _used(pieces)), writer),
        cards=(
            loom_card(cloth, writer, path),
            *greige_card(cloth, writer, path),
            finished_card(cloth, pieces, writer, path),
            *washed_card(cloth, writer, path),
        ),
        widths=width_table(cloth, writer, path),
        calibration="; ".join(calibrated_in_use(construction)),
        calibration_href=f"{path}/calibration",
        yarns=_yarn_table(cloth, writer, path),
        twill=twill_view(twist_wanted_on(construction)),
        notes=construction.notes,
        compare_href=addresses.compare_path(code),
        change_href=addresses.change_path(code),
        edit_href=f"{path}/edit",
        history=history_lines(history_of(house.engine, NOUNS["constructions"], construction.id)),
        cautions=(cautions.WEIGHT, cautions.CHANGE),
    )
    return render(request, "constructions/one.html", page, section="constructions")


@router.get("/constructions/{code}/{line}")
def construction_line(request: Request, code: str, line: str) -> HTMLResponse:
    """One figure of a construction, opened."""
    cloth, writer = cloth_of(house_of(request).engine, code), Writer(units_of(request), "")
    node = explain_cloth(cloth, line)
    page = ExplainPage(
        title=f"{node.label}: {code}",
        figure=writer.text(node.value, node.unit),
        unit=writer.unit(node.unit),
        back_href=addresses.construction_path(code),
        back_label=code,
        node=explanation_view(node, writer),
        cautions=(cautions.WEIGHT,),
    )
    return render(request, "pair/explain.html", page, section="constructions")


def _used(pieces: tuple[Piece, ...]) -> tuple[Piece, ...]:
    """The pieces that are not left out of the calibration."""
    return tuple(piece for piece in pieces if not piece.left_out)


def _summary(construction: Construction) -> str:
    hand = "" if construction.twill_hand == "none" else f", {construction.twill_hand}-hand twill"
    dyed = (
        "undyed warp"
        if construction.dyeing_route == "none"
        else (f"{construction.dyeing_route}-dyed warp")
    )
    stretch = ", heat set" if construction.heat_set else ""
    kind = construction.weight_class or "construction"
    return f"{kind}: {construction.weave}{hand}, {dyed}{stretch}"


def _against_target(cloth: Cloth, writer: Writer) -> str:
    construction = cloth.construction
    target, state = construction.target_oz, construction.target_state
    if target is None:
        return ""
    now = cloth.figures.get(f"{state}_ounces" if state != "finished" else "ounces")
    if now is None:
        missing = {
            "washed": "the residual shrinkage",
            "greige": "greige width, and size and dye on the greige warp",
        }[state]
        return f"target {writer.full(target, 'oz/yd²')} {state}; enter {missing}"
    apart = writer.signed(now - target, "oz/yd²")
    return f"target {writer.full(target, 'oz/yd²')} {state}, {apart}"


def _yarn_table(cloth: Cloth, writer: Writer, path: str) -> Table:
    rows = []
    for slot in cloth.construction.slots:
        mass, buy = f"{slot.name}.mass", f"{slot.name}.buy"
        wanted = ", ".join(
            f"{what} {value}"
            for what, value in (
                ("effect", slot.effect),
                ("core", slot.core),
                ("twist", slot.twist),
                ("spinning", slot.spinning),
                ("fibre", slot.fibre_mix),
            )
            if value not in ("any", "none")
        )
        rows.append(
            Row(
                (
                    Cell(slot.name.capitalize(), strong=True),
                    Cell(writer.text(slot.ne, "Ne")),
                    Cell(writer.text(slot.share_of_threads, "share")),
                    Cell(
                        wanted or "any",
                        note=f"must be {slot.pinned_offer}" if slot.pinned_offer else "",
                    ),
                    Cell(writer.text(cloth.figures[mass], "g/m"), href=f"{path}/{mass}"),
                    Cell(writer.text(cloth.figures[buy], "g/m"), href=f"{path}/{buy}"),
                ),
                key=slot.name,
            )
        )
    for direction in ("warp", "filling"):
        key = f"{direction}_season_tonnes"
        if key in cloth.figures:
            rows.append(
                Row(
                    (
                        Cell(f"{direction.capitalize()}, season", strong=True),
                        Cell(""),
                        Cell(""),
                        Cell(""),
                        Cell(""),
                        Cell(writer.full(cloth.figures[key], "t"), href=f"{path}/{key}"),
                    ),
                    key=key,
                )
            )
    return Table(
        caption="Yarns wanted, and what a finished metre takes of them",
        columns=(
            Column("yarn", "Yarn"),
            Column("ne", "Average count", "Ne", numeric=True),
            Column("share", "Threads", "%", numeric=True),
            Column("wanted", "Wanted"),
            Column("mass", "In the cloth", writer.unit("g/m"), numeric=True),
            Column("buy", "To buy", writer.unit("g/m"), numeric=True),
        ),
        rows=tuple(rows),
        empty="",
        exports=(("CSV", f"{path}.csv"), ("JSON", f"{path}.json")),
    )
