"""The constructions that can be compared, each with its cheapest possible pair."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from server.actions.book import current_book
from server.actions.compare import Leading, leaders
from server.export.columns import Column as ExportColumn
from server.export.columns import as_record
from server.export.csv_file import as_csv
from server.request import house_of
from server.web import addresses
from server.web.numbers import Writer
from server.web.render import csv_answer, render, units_of
from server.web.tables import Cell, Column, Row, Table

router = APIRouter()


LEADER_COLUMNS: tuple[ExportColumn[Leading], ...] = (
    ExportColumn(
        "construction",
        "Construction",
        "",
        lambda each: f"{each.construction.code} {each.construction.name}",
    ),
    ExportColumn("weight_class", "Weight class", "", lambda each: each.construction.weight_class),
    ExportColumn(
        "process",
        "Combination",
        "",
        lambda each: each.pair.process if each.pair else each.missing or "no possible pair",
    ),
    ExportColumn("effect", "Effect", "", lambda each: each.pair.effect if each.pair else ""),
    ExportColumn("pair", "Pair", "", lambda each: each.pair.key if each.pair else ""),
    ExportColumn(
        "fabric_cost",
        "Finished cloth",
        "¤/m",
        lambda each: each.pair.figures["fabric_cost"] if each.pair else None,
    ),
    ExportColumn(
        "yarn_cost",
        "Yarn",
        "¤/m",
        lambda each: each.pair.figures["yarn_cost"] if each.pair else None,
    ),
    ExportColumn(
        "ounces",
        "Weight",
        "oz/yd²",
        lambda each: each.pair.figures["ounces"] if each.pair else None,
    ),
    ExportColumn(
        "possible",
        "Possible pairs",
        "",
        lambda each: each.comparison.possible_count if each.comparison else 0,
    ),
    ExportColumn(
        "left_out",
        "Left out",
        "",
        lambda each: (
            len(each.comparison.excluded) + len(each.comparison.unpriced) if each.comparison else 0
        ),
    ),
    ExportColumn(
        "accepted",
        "Accepted by decision",
        "",
        lambda each: "; ".join(each.pair.accepted) if each.pair else "",
    ),
)


@dataclass(frozen=True, slots=True)
class CompareListPage:
    """Everything the list template shows."""

    title: str
    table: Table


def _currency(request: Request) -> str:
    book = current_book(house_of(request).engine)
    return book.basis().currency if book.bases else ""


@router.get("/compare.json")
def compare_list_json(request: Request) -> Response:
    """The leaders as data."""
    found = leaders(house_of(request).engine)
    return JSONResponse([as_record(LEADER_COLUMNS, each) for each in found])


@router.get("/compare.csv")
def compare_list_csv(request: Request) -> Response:
    """The leaders as CSV."""
    currency = _currency(request)
    text = as_csv(
        [column.titled(currency) for column in LEADER_COLUMNS],
        (
            [column.value(each) for column in LEADER_COLUMNS]
            for each in leaders(house_of(request).engine)
        ),
    )
    return csv_answer("compare", text)


@router.get("/compare")
def compare_list(request: Request) -> HTMLResponse:
    """All constructions, each with its leader."""
    writer = Writer(units_of(request), _currency(request))
    table = leader_table(leaders(house_of(request).engine), writer)
    return render(
        request, "compare/list.html", CompareListPage("Compare", table), section="compare"
    )


def leader_table(found: tuple[Leading, ...], writer: Writer) -> Table:
    """The leaders as a table, for this page and the home page."""
    shown = [column for column in LEADER_COLUMNS if column.key not in ("accepted", "effect")]
    return Table(
        caption="Cheapest possible pair of each construction",
        columns=tuple(
            Column(
                column.key,
                column.heading,
                writer.unit(column.unit),
                numeric=bool(column.unit) or column.key in ("possible", "left_out"),
            )
            for column in shown
        ),
        rows=tuple(
            Row(
                tuple(
                    _cell(column.key, column.unit, column.value(each), each, writer)
                    for column in shown
                ),
                key=each.construction.code,
                tone="" if each.pair else "muted",
            )
            for each in found
        ),
        empty="No construction yet. Add one on the Constructions page.",
        exports=(("CSV", "/compare.csv"), ("JSON", "/compare.json")),
    )


def _cell(key: str, unit: str, value: object, each: Leading, writer: Writer) -> Cell:
    code = each.construction.code
    if key == "construction":
        return Cell(str(value), href=addresses.compare_path(code), strong=True)
    if key == "process" and each.pair:
        return Cell(str(value), note=each.pair.effect)
    if key == "pair" and each.pair:
        path = addresses.pair_path(code, each.pair.key)
        return Cell(str(value), href=path, note="; ".join(each.pair.accepted))
    if value is None:
        return Cell("")
    text = writer.text(value, unit) if unit and isinstance(value, float) else str(value)
    return Cell(text, strong=key == "fabric_cost")
