"""The lists of what people enter: suppliers, rates, assumptions, gate limits, bases."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, RedirectResponse

from server.actions.nouns import NOUNS, Noun
from server.actions.records import list_records
from server.core.assumptions import KINDS
from server.core.errors import NotFound
from server.core.gate import LIMITED, ROLES
from server.core.rates import CHARGES
from server.export import cautions
from server.request import house_of
from server.store.records import Kept
from server.web import addresses
from server.web.numbers import entered
from server.web.record_words import PROPERTIES, duty_words, field_unit, record_path
from server.web.render import render
from server.web.tables import Cell, Column, Pager, Row, Table

router = APIRouter()
PAGE_ROWS = 200
RATES = ("rates/exchange", "rates/lanes", "rates/duties", "rates/charges")
ROUTES = {"ring": "Ring", "OE": "OE (rotor)", "air-jet": "Air-jet", "fabric": "Fabric"}
EXCHANGE, LANES, DUTIES, DATED_CHARGES = (NOUNS[path] for path in RATES)
ASSUMPTIONS, GATE, BASES = NOUNS["assumptions"], NOUNS["gate"], NOUNS["bases"]
SUPPLIERS, PIECES = NOUNS["suppliers"], NOUNS["pieces"]


@dataclass(frozen=True, slots=True)
class Section:
    """One table of a list page. links: (label, href), above the table."""

    title: str
    anchor: str
    links: tuple[tuple[str, str], ...]
    tables: tuple[Table, ...]


@dataclass(frozen=True, slots=True)
class ListPage:
    """Everything the list template shows. search: None where the list is not searched."""

    title: str
    lead: str
    search: str | None
    sections: tuple[Section, ...]
    cautions: tuple[str, ...]


def _links(noun: Noun, label: str) -> tuple[tuple[str, str], ...]:
    return ((label, f"/{noun.path}/new"), ("Import CSV", f"/{noun.path}/import"))


def _exports(noun: Noun) -> tuple[tuple[str, str], ...]:
    return (("CSV", f"/{noun.path}.csv"), ("JSON", f"/{noun.path}.json"))


def _last_cells(noun: Noun, kept: Kept) -> tuple[Cell, ...]:
    path = record_path(noun, kept.key)
    return (
        Cell(entered(kept.values["source"])),
        Cell(kept.owner, note=f"{kept.changed_at:%Y-%m-%d}"),
        Cell("Edit", href=f"{path}/edit"),
    )


_LAST = (Column("source", "Source"), Column("owner", "Owner"), Column("edit", "Edit"))


def _dated_table(
    noun: Noun,
    caption: str,
    columns: Sequence[Column],
    records: Iterable[Kept],
    cells: Callable[[Kept], Sequence[str]],
) -> Table:
    """A table of dated values; the first cell opens the record with its history."""
    rows = []
    for kept in records:
        first, *others = cells(kept)
        rows.append(
            Row(
                (
                    Cell(first, href=record_path(noun, kept.key), strong=True),
                    *(Cell(text) for text in others),
                    Cell(entered(kept.values["valid_from"])),
                    *_last_cells(noun, kept),
                ),
                key=kept.key,
            )
        )
    return Table(
        caption=caption,
        columns=(*columns, Column("valid_from", "Valid from"), *_LAST),
        rows=tuple(rows),
        empty=f"No {noun.one} yet.",
        exports=_exports(noun),
    )


def _texts(kept: Kept, *names: str) -> tuple[str, ...]:
    return tuple(entered(kept.values[name]) for name in names)


@router.get("/suppliers")
def suppliers_page(request: Request, q: str = "", page: str = "") -> HTMLResponse:
    """All suppliers, or those whose name, country or yarns hold the words asked for."""
    words = q.casefold().split()
    found = sorted(
        (
            kept
            for kept in list_records(house_of(request).engine, SUPPLIERS)
            if all(word in " ".join(_texts(kept, "name", "country", "makes")).casefold()
                   for word in words)
        ),
        key=lambda kept: kept.key.casefold(),
    )  # fmt: skip
    last = max(1, -(-len(found) // PAGE_ROWS))
    number = min(max(1, int(page) if page.isdecimal() and len(page) < 8 else 1), last)
    table = Table(
        caption=f"{len(found)} suppliers",
        columns=(
            Column("name", "Name"),
            Column("country", "Country"),
            Column("makes", "Makes"),
            Column("origin", "Cotton-origin file"),
            Column("negotiation", "Negotiation"),
            Column("edit", "Edit"),
        ),
        rows=tuple(
            _supplier_row(kept) for kept in found[(number - 1) * PAGE_ROWS : number * PAGE_ROWS]
        ),
        empty="No supplier matches. Add one, or search for something else.",
        exports=_exports(SUPPLIERS),
        pager=_pager(q, number, last),
    )
    view = ListPage(
        title="Suppliers",
        lead="",
        search=q,
        sections=(Section("", "suppliers", _links(SUPPLIERS, "Add a supplier"), (table,)),),
        cautions=(cautions.ORIGIN,),
    )
    return render(request, "records/list.html", view, section="suppliers")


def _pager(q: str, number: int, last: int) -> Pager | None:
    if last == 1:
        return None

    def at(page: int) -> str | None:
        inside = 1 <= page <= last
        return addresses.with_query("/suppliers", {"q": q, "page": str(page)}) if inside else None

    return Pager(f"page {number} of {last}", at(number - 1), at(number + 1))


def _supplier_row(kept: Kept) -> Row:
    path = record_path(SUPPLIERS, kept.key)
    country, makes, origin, on = _texts(kept, "country", "makes", "origin_state", "origin_on")
    return Row(
        (
            Cell(kept.key, href=path, strong=True),
            Cell(country),
            Cell(makes),
            Cell(origin, note=f"looked at on {on}" if on else ""),
            Cell("Sheet", href=f"{path}/negotiation"),
            Cell("Edit", href=f"{path}/edit"),
        ),
        key=kept.key,
    )


@router.get("/rates")
def rates_page(request: Request) -> HTMLResponse:
    """Exchange rates, freight lanes, duties and charges."""
    engine = house_of(request).engine
    records = {path: list_records(engine, NOUNS[path]) for path in RATES}

    def money(noun: Noun, kept: Kept, field: str) -> str:
        return f"{entered(kept.values[field])} {field_unit(noun, field, kept.values)}"

    tables = (
        _dated_table(
            EXCHANGE,
            "Exchange rates",
            (Column("pair", "One unit of a currency in another"),
             Column("rate", "Rate", numeric=True)),
            records["rates/exchange"],
            lambda kept: (" in ".join(_texts(kept, "base", "quote")), *_texts(kept, "rate")),
        ),
        _dated_table(
            LANES,
            "Freight lanes",
            (Column("country", "From country"), Column("route", "Route"),
             Column("freight", "Freight for a load", numeric=True),
             Column("load", "Yarn in a load", "kg", numeric=True),
             Column("inland", "Inland, port to mill", numeric=True),
             Column("transit", "Transit", "d", numeric=True), Column("domestic", "Domestic")),
            records["rates/lanes"],
            lambda kept: (
                *_texts(kept, "country", "route"),
                money(LANES, kept, "freight"),
                *_texts(kept, "load_mass_kg"),
                money(LANES, kept, "inland"),
                *_texts(kept, "transit_days", "domestic"),
            ),
        ),
        _dated_table(
            DUTIES,
            "Duty rates",
            (Column("country", "Origin"), Column("rate", "Duty", "%", numeric=True),
             Column("base", "On customs value"), Column("line", "Tariff line"),
             Column("yarn", "For yarn", help="Counts of the single yarn")),
            records["rates/duties"],
            lambda kept: (
                *_texts(kept, "country", "rate_percent", "base", "tariff_line"),
                duty_words(kept),
            ),
        ),
        _dated_table(
            DATED_CHARGES,
            "Charges and conventions of the landed price",
            (Column("key", "Charge"), Column("value", "Value", numeric=True),
             Column("unit", "Unit")),
            records["rates/charges"],
            lambda kept: (
                CHARGES[kept.values["key"]][0],
                *_texts(kept, "value"),
                field_unit(DATED_CHARGES, "value", kept.values),
            ),
        ),
    )  # fmt: skip
    titles = ("Exchange rates", "Freight lanes", "Duty rates", "Charges")
    view = ListPage(
        title="Rates",
        lead="The newest value that is valid on the rates day of a basis counts; add a new one "
        "rather than changing an old one.",
        search=None,
        sections=tuple(
            Section(title, path.split("/")[1], _links(NOUNS[path], f"Add {_a(NOUNS[path])}"), (t,))
            for title, path, t in zip(titles, RATES, tables, strict=True)
        ),
        cautions=(cautions.RATES, cautions.DUTY),
    )
    return render(request, "records/list.html", view, section="rates")


def _a(noun: Noun) -> str:
    return f"{'an' if noun.one[0] in 'aeiou' else 'a'} {noun.one}"


@router.get("/assumptions")
def assumptions_page(request: Request) -> HTMLResponse:
    """The values of each assumption set by route."""
    records = list_records(house_of(request).engine, ASSUMPTIONS)
    sets = list(dict.fromkeys(kept.values["set_name"] for kept in records))
    place = {key: number for number, key in enumerate(KINDS)}
    records.sort(key=lambda kept: (place[kept.values["key"]], kept.values["at_ne"] or 0))
    view = ListPage(
        title="Assumptions",
        lead="What spinning and making cloth is assumed to take and to cost; the calculation holds "
        "no figure of its own.",
        search=None,
        sections=(
            Section(
                "",
                "all",
                (
                    *_links(ASSUMPTIONS, "Add an assumption"),
                    ("Compare two sets", "/scenarios"),
                    ("What if: should-cost", "/should-cost"),
                ),
                (),
            ),
            *(
                Section(
                    name,
                    f"set-{number}",
                    (
                        (
                            f"Add a value to {name}",
                            addresses.with_query(
                                "/assumptions/new",
                                {"set_name": name, "currency": _currency(records, name)},
                            ),
                        ),
                        (
                            f"Clone {name} as a scenario",
                            addresses.with_query("/scenarios/new", {"of": name}),
                        ),
                    ),
                    tuple(_route_table(records, name, route) for route in ROUTES),
                )
                for number, name in enumerate(sets, start=1)
            ),
        ),
        cautions=(cautions.MODELLED, cautions.SPEEDS, cautions.AIR_JET),
    )
    return render(request, "records/list.html", view, section="assumptions")


def _currency(records: Iterable[Kept], set_name: str) -> str:
    return next(str(k.values["currency"]) for k in records if k.values["set_name"] == set_name)


def _route_table(records: Iterable[Kept], set_name: str, route: str) -> Table:
    rows = []
    for kept in records:
        kind = KINDS[kept.values["key"]]
        if kept.values["set_name"] != set_name or kind.group != route:
            continue
        value, low, high, at_ne, noted_on = _texts(
            kept, "value", "low", "high", "at_ne", "noted_on"
        )
        rows.append(
            Row(
                (
                    Cell(kind.label, href=record_path(ASSUMPTIONS, kept.key), strong=True),
                    Cell(at_ne),
                    Cell(value, strong=True),
                    Cell(field_unit(ASSUMPTIONS, "value", kept.values)),
                    Cell(f"{low or '…'} to {high or '…'}" if low or high else ""),
                    Cell(noted_on),
                    *_last_cells(ASSUMPTIONS, kept),
                ),
                key=kept.key,
            )
        )
    return Table(
        caption=f"{ROUTES[route]}, {set_name}",
        columns=(
            Column("label", "Assumption"),
            Column("at_ne", "At count", "Ne", numeric=True),
            Column("value", "Value", numeric=True),
            Column("unit", "Unit"),
            Column("range", "Range"),
            Column("noted_on", "Noted on"),
            *_LAST,
        ),
        rows=tuple(rows),
        empty=f"Nothing is assumed for {ROUTES[route]} yet.",
        exports=_exports(ASSUMPTIONS) if route == "fabric" else (),
    )


@router.get("/pieces")
def pieces_page(request: Request) -> HTMLResponse:
    """Every measured piece, by construction."""
    records = list_records(house_of(request).engine, PIECES)
    records.sort(key=lambda kept: (kept.values["construction"], kept.values["measured_on"]))
    table = Table(
        caption="Measured pieces",
        columns=(
            Column("label", "Piece"),
            Column("construction", "Construction"),
            Column("state", "State"),
            Column("ounces", "Weight", "oz/yd²", numeric=True),
            Column("crimp", "Warp crimp", "%", numeric=True),
            Column("measured_on", "Measured on"),
            *_LAST,
        ),
        rows=tuple(_piece_row(kept) for kept in records),
        empty="No piece is measured yet. Open a construction and add one.",
        exports=_exports(PIECES),
    )
    view = ListPage(
        title="Measured pieces",
        lead="Real pieces hold the computed cloth to the truth: weight, width, threads, crimp and "
        "shrink, each in its own state.",
        search=None,
        sections=(Section("", "pieces", _links(PIECES, "Add a piece"), (table,)),),
        cautions=(cautions.TESTS,),
    )
    return render(request, "records/list.html", view, section="constructions")


def _piece_row(kept: Kept) -> Row:
    code = kept.values["construction"]
    name = Cell(
        kept.values["label"],
        href=record_path(PIECES, kept.key),
        strong=True,
        note="left out" if kept.values["left_out"] else "",
    )
    figures = _texts(kept, "state", "ounces", "warp_crimp_percent", "measured_on")
    return Row(
        (
            name,
            Cell(code, href=f"{addresses.construction_path(code)}/calibration"),
            *(Cell(text) for text in figures),
            *_last_cells(PIECES, kept),
        ),
        key=kept.key,
    )


@router.get("/gate")
def gate_page(request: Request) -> HTMLResponse:
    """The limits offers are held to, by role."""
    records = list_records(house_of(request).engine, GATE)
    records.sort(key=lambda kept: ROLES.index(kept.values["role"]))
    table = Table(
        caption="Gate limits",
        columns=(
            Column("property", "Property"),
            Column("role", "Role"),
            Column("kind", "At least or at most"),
            Column("value", "Limit", numeric=True),
            Column("unit", "Unit"),
            *_LAST,
        ),
        rows=tuple(
            Row(
                (
                    Cell(
                        PROPERTIES[kept.values["property"]][0],
                        href=record_path(GATE, kept.key),
                        strong=True,
                    ),
                    Cell(kept.values["role"]),
                    Cell(f"at {LIMITED[kept.values['property']]}"),
                    Cell(entered(kept.values["value"]), strong=True),
                    Cell(field_unit(GATE, "value", kept.values)),
                    *_last_cells(GATE, kept),
                ),
                key=kept.key,
            )
            for kept in records
        ),
        empty="No limit yet; without limits only dates, count, twist and origin are looked at.",
        exports=_exports(GATE),
    )
    view = ListPage(
        title="Gate limits",
        lead="An offer must keep the limits of its role to be possible; a value that is not stated "
        "makes it unproven.",
        search=None,
        sections=(Section("", "gate", _links(GATE, "Add a gate limit"), (table,)),),
        cautions=(cautions.TESTS,),
    )
    return render(request, "records/list.html", view, section="gate")


@router.get("/bases")
def bases_page(request: Request) -> HTMLResponse:
    """The bases of comparison; the first is the one pages open with."""
    names = (
        "currency", "rates_on", "delivery_point", "as_of", "meeting", "need_by", "quantity",
        "metres", "loom_rule", "assumption_set",
    )  # fmt: skip
    table = Table(
        caption="Bases of comparison",
        columns=(
            Column("name", "Name"),
            *(Column(name, BASES.fields[name].title or name) for name in names),
            Column("regain", "House regain", "%"),
            Column("edit", "Edit"),
        ),
        rows=tuple(
            Row(
                (
                    Cell(kept.key, href=record_path(BASES, kept.key), strong=True),
                    *(Cell(text) for text in _texts(kept, *names)),
                    Cell(_regains(kept)),
                    Cell("Edit", href=f"{record_path(BASES, kept.key)}/edit"),
                ),
                key=kept.key,
            )
            for kept in list_records(house_of(request).engine, BASES)
        ),
        empty="No basis yet. Nothing can be compared without one.",
        exports=_exports(BASES),
    )
    view = ListPage(
        title="Bases",
        lead="On what offers are compared. Pages open on the first; each page can change it in "
        "its address without storing anything.",
        search=None,
        sections=(Section("", "bases", _links(BASES, "Add a basis"), (table,)),),
        cautions=(cautions.RATES,),
    )
    return render(request, "records/list.html", view, section="bases")


def _regains(kept: Kept) -> str:
    found = (
        (kept.values[f"mix{place}"], entered(kept.values[f"mix{place}_regain_percent"]))
        for place in (1, 2, 3, 4)
    )
    return "; ".join(f"{mix} {regain}" for mix, regain in found if mix)


@router.get("/basis")
def to_bases() -> RedirectResponse:
    """The word people try first."""
    return RedirectResponse("/bases", 307)


@router.get("/rates/{part}")
def to_rates(part: str) -> RedirectResponse:
    """One kind of rate stands on the page of all rates. Raises NotFound."""
    if f"rates/{part}" not in NOUNS:
        raise NotFound(
            f"There are no rates “{part[:40]}”.",
            field="part",
            value=part,
            remedy="Rates are exchange, lanes, duties and charges.",
        )
    return RedirectResponse(f"/rates#{part}", 307)
