"""Variants of a construction: every kept change with what it costs today."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import parse_qsl

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from server.actions.asked_change import read_change
from server.actions.change_words import change_words
from server.actions.compare import sound_basis_change
from server.actions.nouns import NOUNS
from server.actions.records import one_record
from server.actions.variants import (
    LookedAt,
    look_at,
    promote,
    refuse_stale,
    remove_variant,
    save_variant,
)
from server.core.errors import BadValue
from server.export import cautions
from server.export.csv_file import as_csv
from server.export.variants import VARIANT_COLUMNS, variant_record
from server.request import house_of
from server.web import addresses
from server.web.forms import SentForm
from server.web.numbers import Writer
from server.web.render import csv_answer, render, units_of
from server.web.tables import Cell, Column, Row, Table

router = APIRouter()


@dataclass(frozen=True, slots=True)
class VariantForm:
    """What can be done with one variant. promotes: whether it changes the construction itself."""

    name: str
    words: str
    notes: str
    kept: str
    action: str
    ties_href: str
    put_href: str
    promotes: bool


@dataclass(frozen=True, slots=True)
class VariantsPage:
    """Everything the page of variants shows."""

    title: str
    code: str
    back_href: str
    desk_href: str
    version: int
    table: Table
    variants: tuple[VariantForm, ...]
    cautions: tuple[str, ...]


def _looked_at(request: Request, code: str) -> tuple[LookedAt, ...]:
    query = request.query_params
    return look_at(
        house_of(request).engine, code, sound_basis_change(query), query.get("basis", "")
    )


@router.get("/constructions/{code}/variants.json")
def variants_json(request: Request, code: str) -> Response:
    """The variants as data."""
    return JSONResponse([variant_record(each.variant, each.changed, each.missing)
                         for each in _looked_at(request, code)])  # fmt: skip


@router.get("/constructions/{code}/variants.csv")
def variants_csv(request: Request, code: str) -> Response:
    """The variants as CSV."""
    records = [
        variant_record(each.variant, each.changed, each.missing)
        for each in _looked_at(request, code)
    ]
    return csv_answer(
        f"variants-{code}",
        as_csv(
            list(VARIANT_COLUMNS), ([each[name] for name in VARIANT_COLUMNS] for each in records)
        ),
    )


@router.get("/constructions/{code}/variants")
def variants_page(request: Request, code: str) -> HTMLResponse:
    """The variants of one construction beside each other."""
    engine = house_of(request).engine
    kept = one_record(engine, NOUNS["constructions"], code)
    looked = _looked_at(request, code)
    page = VariantsPage(
        title=f"Variants of {code}",
        code=code,
        back_href=addresses.construction_path(code),
        desk_href=addresses.change_path(code),
        version=kept.version,
        table=_table(request, code, looked),
        variants=tuple(
            VariantForm(
                each.variant.name,
                "; ".join(change_words(each.desk, each.asked)) if each.desk else each.variant.query,
                each.variant.notes,
                f"kept by {each.variant.owner} on {each.variant.changed_at:%Y-%m-%d}",
                f"{addresses.variants_path(code)}/{each.variant.id}",
                addresses.with_query(
                    addresses.ties_path(code),
                    {"first": "before", "second": f"variant:{each.variant.name}"},
                ),
                addresses.put_path(code, request.query_params, variant=each.variant.name),
                bool(each.asked.fields) and each.desk is not None and not each.missing,
            )
            for each in looked
        ),
        cautions=(cautions.MODELLED, cautions.WEIGHT, cautions.CHANGE),
    )
    return render(request, "change/variants.html", page, section="constructions")


@router.post("/constructions/{code}/variants")
def save(request: Request, code: str, sent: SentForm) -> Response:
    """Keep a change of the desk by name."""
    house, fields = house_of(request), sent.fields
    query = fields.get("query", "")
    if len(query) > LONGEST_SENT:
        raise BadValue("This change is too long.", field="query", remedy="Change fewer figures.")
    save_variant(
        house.engine,
        code,
        read_change(dict(parse_qsl(query))),
        house.person_id,
        name=fields.get("name", ""),
        notes=fields.get("notes", ""),
        replace=fields.get("replace", "") == "yes",
    )
    return RedirectResponse(f"{addresses.variants_path(code)}?notice=added", 303)


LONGEST_SENT = 8000  # characters of a change as a form sends it


@router.post("/constructions/{code}/variants/{number}/remove")
def remove(request: Request, code: str, number: int) -> Response:
    """Remove a variant."""
    house = house_of(request)
    remove_variant(house.engine, code, number, house.person_id)
    return RedirectResponse(f"{addresses.variants_path(code)}?notice=removed", 303)


@router.post("/constructions/{code}/variants/{number}/promote")
def promote_variant(request: Request, code: str, number: int, sent: SentForm) -> Response:
    """Make a variant the next version of its construction."""
    house = house_of(request)
    version = refuse_stale(sent.fields.get("version", ""))
    promote(house.engine, code, number, house.person_id, version=version)
    return RedirectResponse(f"{addresses.construction_path(code)}?notice=changed", 303)


def _table(request: Request, code: str, looked: tuple[LookedAt, ...]) -> Table:
    currency = next((each.desk.comparison.basis.currency for each in looked if each.desk), "")
    writer = Writer(units_of(request), currency)
    query = addresses.basis_query(request.query_params)
    path = addresses.variants_path(code)
    return Table(
        caption=f"{len(looked)} variants, as plain swaps against the construction as it stands",
        columns=(
            Column("name", "Variant"),
            Column("yarns", "Yarns"),
            Column("cost", "Cost", writer.unit("¤/m"), numeric=True),
            Column("cost_apart", "Difference", writer.unit("¤/m"), numeric=True),
            Column("area_apart", "Difference, cuttable", writer.unit("¤/m²"), numeric=True),
            Column("ounces", "Weight", writer.unit("oz/yd²"), numeric=True),
            Column("ounces_apart", "Difference", writer.unit("oz/yd²"), numeric=True),
            Column("output_apart", "Loom output", "%", numeric=True),
            Column("fallen", "Offers that fall away", numeric=True),
            Column("promoted", "Promoted"),
        ),
        rows=tuple(_row(each, writer, addresses.change_path(code), query) for each in looked),
        empty="No variant is kept yet. Change a figure on the change desk and keep it by name.",
        exports=tuple(
            (name, addresses.with_query(f"{path}.{form}", query))
            for name, form in (("CSV", "csv"), ("JSON", "json"))
        ),
    )


def _row(each: LookedAt, writer: Writer, path: str, query: dict[str, str]) -> Row:
    variant = each.variant
    href = addresses.with_query(path, {**query, **each.asked.query})
    promoted = f"version {variant.promoted_version}" if variant.promoted_version else ""
    name = Cell(variant.name, href=href, note=each.missing)
    if each.changed is None or each.desk is None:
        return Row((name, *(Cell("–") for _ in range(8)), Cell(promoted)), key=variant.name)
    figures, before = each.changed.swap.figures, each.changed.before.figures

    def apart(key: str, unit: str) -> Cell:
        return Cell(writer.signed(figures[key] - before[key], unit))

    return Row(
        (
            name,
            Cell(each.changed.swap.key),
            Cell(writer.text(figures["fabric_cost"], "¤/m")),
            apart("fabric_cost", "¤/m"),
            apart("fabric_per_area", "¤/m²"),
            Cell(writer.text(figures["ounces"], "oz/yd²")),
            apart("ounces", "oz/yd²"),
            Cell(writer.signed(figures["loom_output"] / before["loom_output"] - 1, "share")),
            Cell(str(len(each.changed.fallen))),
            Cell(promoted),
        ),
        key=variant.name,
    )
