"""The comparison page, the heart: basis, matrix, ladder, pairs, break-evens, excluded."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from server.actions.book import current_book
from server.actions.compare import (
    BasisChange,
    break_evens,
    compare_construction,
    read_basis_change,
)
from server.core.break_even import BreakEven
from server.core.compare import Cell as MatrixCell
from server.core.compare import Comparison, Pair
from server.core.errors import BadValue, CreelbookError
from server.core.gate import POSSIBLE
from server.export.columns import EXCLUDED_COLUMNS, PAIR_COLUMNS
from server.export.csv_file import as_csv
from server.export.documents import comparison_document
from server.request import house_of
from server.web import addresses, cautions, pictures
from server.web.numbers import Writer
from server.web.pictures import Picture
from server.web.render import csv_answer, render, units_of
from server.web.tables import Cell, Column, Pager, Row, Table, Tone

router = APIRouter()
PAGE_ROWS = 50
MOST_SENTENCES = 8
_SORTS = {column.key for column in PAIR_COLUMNS}


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
class MatrixView:
    """One cell of the matrix as text."""

    combination: str
    cost: str
    unit: str
    yarn: str
    difference: str
    weight: str
    area: str
    pairs: str
    pair: str
    href: str
    process: str
    reason: str
    best: bool
    reference: bool
    reference_href: str


@dataclass(frozen=True, slots=True)
class Rung:
    """One step of the ladder."""

    combination: str
    process: str
    pair: str
    href: str
    cost: str
    yarn: str
    step: str
    yarn_step: str
    weight: str


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
    excluded: Table
    unpriced: tuple[str, ...]
    cautions: tuple[str, ...]
    unit: str
    yarn_unit: str


@dataclass(frozen=True, slots=True)
class CompareListPage:
    """The constructions with their cheapest possible pair."""

    title: str
    table: Table


@router.get("/compare")
def compare_list(request: Request) -> HTMLResponse:
    """All constructions, each with its leader."""
    house = house_of(request)
    book = current_book(house.engine)
    rows = []
    writer = Writer(units_of(request), book.basis().currency if book.bases else "")
    for construction in book.constructions:
        path = addresses.compare_path(construction.code)
        title = Cell(f"{construction.code} {construction.name}", href=path, strong=True)
        try:
            comparison = compare_construction(house.engine, construction.code, BasisChange({}, {}))
        except CreelbookError as missing:
            rows.append(
                Row(
                    (title, Cell(construction.weight_class), Cell(str(missing)), *(Cell(""),) * 6),
                    key=construction.code,
                    tone="muted",
                )
            )
            continue
        rows.append(_list_row(comparison, title, path, writer))
    table = Table(
        caption="Every construction with its cheapest possible pair",
        columns=(
            Column("construction", "Construction"),
            Column("class", "Weight class"),
            Column("combination", "Combination"),
            Column("pair", "Pair"),
            Column("cost", "Finished cloth", writer.unit("¤/m"), numeric=True),
            Column("yarn", "Yarn", writer.unit("¤/m"), numeric=True),
            Column("weight", "Weight", writer.unit("oz/yd²"), numeric=True),
            Column("pairs", "Possible pairs", numeric=True),
            Column("excluded", "Left out", numeric=True),
        ),
        rows=tuple(rows),
        empty="No construction yet. Add one on the Constructions page.",
    )
    return render(
        request, "compare/list.html", CompareListPage("Compare", table), section="compare"
    )


def _list_row(comparison: Comparison, title: Cell, path: str, writer: Writer) -> Row:
    construction, leader = comparison.construction, comparison.leader
    counts = (
        Cell(f"{comparison.possible_count} of {comparison.pair_count}"),
        Cell(str(len(comparison.excluded) + len(comparison.unpriced))),
    )
    if leader is None:
        return Row(
            (
                title,
                Cell(construction.weight_class),
                Cell("no possible pair"),
                Cell(""),
                Cell(""),
                Cell(""),
                Cell(""),
                *counts,
            ),
            key=construction.code,
            tone="muted",
        )
    return Row(
        (
            title,
            Cell(construction.weight_class),
            Cell(leader.process),
            Cell(leader.key, href=addresses.pair_path(construction.code, leader.key)),
            Cell(writer.text(leader.figures["fabric_cost"], "¤/m"), strong=True),
            Cell(writer.text(leader.figures["yarn_cost"], "¤/m")),
            Cell(writer.text(leader.figures["ounces"], "oz/yd²")),
            *counts,
        ),
        key=construction.code,
    )


@router.get("/compare/{code}.json")
def compare_json(request: Request, code: str) -> Response:
    """The same comparison as data."""
    change = read_basis_change(request.query_params)
    _refuse(change)
    comparison = compare_construction(
        house_of(request).engine, code, change, request.query_params.get("basis", "")
    )
    return JSONResponse(comparison_document(comparison, break_evens(comparison)))


@router.get("/compare/{code}.csv")
def compare_csv(request: Request, code: str) -> Response:
    """All pairs of the same comparison as CSV, in ranked order."""
    change = read_basis_change(request.query_params)
    _refuse(change)
    comparison = compare_construction(
        house_of(request).engine, code, change, request.query_params.get("basis", "")
    )
    currency = comparison.basis.currency
    text = as_csv(
        [column.titled(currency) for column in PAIR_COLUMNS],
        ([column.value(pair) for column in PAIR_COLUMNS] for pair in comparison.pairs()),
    )
    return csv_answer(f"compare-{code}", text)


def _refuse(change: BasisChange) -> None:
    for name, wrong in change.errors.items():
        raise BadValue(wrong, field=name)


@router.get("/compare/{code}")
def compare_page(request: Request, code: str) -> HTMLResponse:
    """The comparison of one construction."""
    house, query = house_of(request), request.query_params
    change = read_basis_change(query)
    errors = dict(change.errors)
    try:
        comparison = compare_construction(house.engine, code, change, query.get("basis", ""))
    except CreelbookError as wrong:
        if wrong.code != "bad_value":
            raise
        errors[wrong.field] = str(wrong)
        comparison = compare_construction(
            house.engine, code, BasisChange({}, {}), query.get("basis", "")
        )
    page = _page(
        comparison,
        dict(query),
        errors,
        Writer(units_of(request), comparison.basis.currency),
        tuple(each.name for each in current_book(house.engine).assumption_sets),
    )
    return render(
        request,
        "compare/page.html",
        page,
        section="compare",
        printed=printed_basis(comparison),
        status=422 if errors else 200,
    )


def printed_basis(comparison: Comparison) -> str:
    """The line printed on every sheet of a comparison."""
    basis = comparison.basis
    return (
        f"Creelbook · {comparison.construction.code} · basis “{basis.name}”: {basis.currency}, "
        f"rates of {basis.rates_on}, {basis.delivery_point}, meeting {basis.meeting}, need by "
        f"{basis.need_by} · assumptions “{comparison.assumptions.name}”"
    )


def _page(
    comparison: Comparison,
    query: Mapping[str, str],
    errors: Mapping[str, str],
    writer: Writer,
    sets: tuple[str, ...],
) -> ComparePage:
    construction = comparison.construction
    reference = _reference(comparison, query.get("reference", ""))
    kept = addresses.basis_query(query)
    path = addresses.compare_path(construction.code)
    ladder = None
    if len(comparison.ladder) > 1:
        ladder = pictures.picture(
            pictures.ladder_spec(comparison, writer, "light"),
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
        chips=_chips(comparison, errors, query, sets),
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
                tuple(
                    _matrix_view(comparison, cell, reference, writer, kept, path) for cell in row
                ),
            )
            for row in comparison.cells
        ),
        reference=f"{reference.combination} ({reference.key})" if reference else "",
        rungs=_rungs(comparison, writer, kept),
        ladder_picture=ladder,
        pairs=_pair_table(comparison, query, reference, writer, path),
        filters=_filters(comparison),
        break_evens=tuple(sentence(each, writer) for each in _shown(break_evens(comparison))),
        excluded=_excluded_table(comparison, writer, kept),
        unpriced=tuple(
            f"{each.offer.code} as {each.slot.name}: {each.reason}" for each in comparison.unpriced
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
            cautions.RATES,
        ),
        unit=writer.unit("¤/m"),
        yarn_unit=writer.unit("¤/m"),
    )


def _reference(comparison: Comparison, asked: str) -> Pair | None:
    for pair in comparison.ladder:
        if pair.combination == asked:
            return pair
    if asked.count("/") == 1 and (found := comparison.find(*asked.split("/"))):
        return found
    return comparison.leader


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
        f"Near-tie: {second.key} ({second.process}) costs only {writer.signed(apart, '¤/m')} "
        f"{writer.unit('¤/m')} more than {leader.key}. Verify both before deciding."
    )


def _chips(
    comparison: Comparison,
    errors: Mapping[str, str],
    query: Mapping[str, str],
    sets: tuple[str, ...],
) -> tuple[Chip, ...]:
    basis = comparison.basis

    def typed(name: str, stored: object) -> str:
        return query[name] if name in errors and name in query else str(stored)

    dates = (
        ("rates_on", "Rates of"),
        ("as_of", "As of"),
        ("meeting", "Meeting"),
        ("need_by", "Need by"),
    )
    regains = ", ".join(f"{mix} {share * 100:g} %" for mix, share in basis.house_regain.items())
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
        Chip("Assumptions", basis.assumption_set, "assumption_set", "choice", sets),
        Chip("Delivery point", basis.delivery_point),
        Chip("House regain", regains),
    )


def _matrix_view(
    comparison: Comparison,
    cell: MatrixCell,
    reference: Pair | None,
    writer: Writer,
    kept: Mapping[str, str],
    path: str,
) -> MatrixView:
    best, leader = cell.best, comparison.leader
    count = f"{cell.possible} of {cell.pairs} pairs possible"
    if best is None:
        return MatrixView(
            cell.combination,
            "",
            "",
            "",
            "",
            "",
            "",
            count,
            "",
            "",
            "",
            cell.reason,
            False,
            False,
            "",
        )
    is_reference = reference is not None and best.key == reference.key
    difference = ""
    if reference is not None and not is_reference:
        difference = writer.signed(
            best.figures["fabric_cost"] - reference.figures["fabric_cost"], "¤/m"
        )
    return MatrixView(
        combination=cell.combination,
        cost=writer.text(best.figures["fabric_cost"], "¤/m"),
        unit=writer.unit("¤/m"),
        yarn=writer.text(best.figures["yarn_cost"], "¤/m"),
        difference=difference,
        weight=writer.full(best.figures["ounces"], "oz/yd²"),
        area=writer.full(best.figures["yarn_per_area"], "¤/m²"),
        pairs=count,
        pair=best.key,
        href=addresses.with_query(
            addresses.pair_path(comparison.construction.code, best.key), kept
        ),
        process=best.process,
        reason="",
        best=leader is not None and best.key == leader.key,
        reference=is_reference,
        reference_href=addresses.with_query(path, {**kept, "reference": cell.combination}),
    )


def _rungs(comparison: Comparison, writer: Writer, kept: Mapping[str, str]) -> tuple[Rung, ...]:
    rungs, below = [], None
    for pair in comparison.ladder:
        step, yarn_step = (
            ("", "")
            if below is None
            else (
                writer.signed(pair.figures[name] - below.figures[name], "¤/m")
                for name in ("fabric_cost", "yarn_cost")
            )
        )
        rungs.append(
            Rung(
                pair.combination,
                pair.process,
                pair.key,
                addresses.with_query(
                    addresses.pair_path(comparison.construction.code, pair.key), kept
                ),
                writer.text(pair.figures["fabric_cost"], "¤/m"),
                writer.text(pair.figures["yarn_cost"], "¤/m"),
                step,
                yarn_step,
                writer.full(pair.figures["ounces"], "oz/yd²"),
            )
        )
        below = pair
    return tuple(rungs)


_SHOWN_COLUMNS = (
    "pair", "process", "fabric_cost", "yarn_cost", "ounces", "fabric_per_kg", "yarn_per_area",
    "warp_price", "filling_price", "state",
)  # fmt: skip


def _pair_table(
    comparison: Comparison,
    query: Mapping[str, str],
    reference: Pair | None,
    writer: Writer,
    path: str,
) -> Table:
    columns = [column for column in PAIR_COLUMNS if column.key in _SHOWN_COLUMNS]
    sort = query.get("sort", "")
    wanted = _chosen_pairs(comparison, query)
    number = int(query["page"]) if query.get("page", "").isdecimal() else 1
    last = max(1, -(-len(wanted) // PAGE_ROWS))
    number = min(max(1, number), last)
    shown = wanted[(number - 1) * PAGE_ROWS : number * PAGE_ROWS]
    kept = {name: value for name, value in query.items() if name != "page"}

    def sort_href(key: str) -> str:
        return addresses.with_query(path, {**kept, "sort": f"-{key}" if sort == key else key}) + (
            "#pairs"
        )

    return Table(
        caption=f"{len(wanted)} pairs, possible ones first",
        columns=tuple(
            Column(
                column.key,
                column.heading,
                writer.unit(column.unit),
                numeric=bool(column.unit),
                sort_href=sort_href(column.key),
                sorted="ascending"
                if sort == column.key
                else "descending"
                if sort == f"-{column.key}"
                else None,
            )
            for column in columns
        ),
        rows=tuple(
            _pair_row(comparison, pair, [column.key for column in columns], reference, writer, kept)
            for pair in shown
        ),
        empty="No pair matches; clear the filters or add offers near the wanted counts.",
        exports=tuple(
            (name, addresses.with_query(f"{path}.{form}", addresses.basis_query(query)))
            for name, form in (("CSV", "csv"), ("JSON", "json"))
        ),
        pager=Pager(
            f"{(number - 1) * PAGE_ROWS + 1} to {(number - 1) * PAGE_ROWS + len(shown)} "
            f"of {len(wanted)}",
            addresses.with_query(path, {**kept, "page": str(number - 1)}) + "#pairs"
            if number > 1
            else None,
            addresses.with_query(path, {**kept, "page": str(number + 1)}) + "#pairs"
            if number < last
            else None,
        )
        if last > 1
        else None,
    )


def _chosen_pairs(comparison: Comparison, query: Mapping[str, str]) -> list[Pair]:
    sort = query.get("sort", "")
    pairs = [
        pair
        for pair in comparison.pairs(2_000)
        if query.get("warp", "") in ("", pair.warp.system)
        and query.get("filling", "") in ("", pair.filling.system)
        and query.get("state", "") in ("", pair.state)
    ]
    key = sort.removeprefix("-")
    if key in _SORTS:
        value = next(column.value for column in PAIR_COLUMNS if column.key == key)
        pairs.sort(key=lambda pair: (pair.state != POSSIBLE,))
        pairs.sort(key=value, reverse=sort.startswith("-"))
    return pairs


def _pair_row(
    comparison: Comparison,
    pair: Pair,
    keys: list[str],
    reference: Pair | None,
    writer: Writer,
    kept: Mapping[str, str],
) -> Row:
    leader = comparison.leader
    cells = []
    for column in PAIR_COLUMNS:
        if column.key not in keys:
            continue
        value = column.value(pair)
        if column.key == "pair":
            suppliers = f"{pair.warp.offer.supplier.name} / {pair.filling.offer.supplier.name}"
            cells.append(
                Cell(
                    pair.key,
                    note=suppliers,
                    strong=True,
                    href=addresses.with_query(
                        addresses.pair_path(comparison.construction.code, pair.key),
                        addresses.basis_query(kept),
                    ),
                )
            )
        elif column.key == "state":
            cells.append(Cell("", badge=pair.state, note="; ".join(pair.reasons)))
        else:
            cells.append(
                Cell(
                    writer.text(value, column.unit) if column.unit else str(value),
                    strong=column.key == "fabric_cost",
                )
            )
    tone: Tone = (
        "best"
        if leader and pair.key == leader.key
        else "reference"
        if reference and pair.key == reference.key
        else ""
        if pair.state == POSSIBLE
        else "muted"
    )
    return Row(tuple(cells), key=pair.key, tone=tone)


def _filters(
    comparison: Comparison,
) -> tuple[tuple[str, str, tuple[tuple[str, str], ...]], ...]:
    def choices(systems: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
        return (("", "all"), *((system, system) for system in systems))

    return (
        ("warp", "Warp", choices(comparison.warp.systems)),
        ("filling", "Filling", choices(comparison.filling.systems)),
        (
            "state",
            "Standing",
            (
                ("", "all"),
                ("possible", "possible"),
                ("unproven", "unproven"),
                ("impossible", "impossible"),
            ),
        ),
    )


def _shown(found: tuple[BreakEven, ...]) -> list[BreakEven]:
    """One break-even for each input and pair of offers that differ, the nearest first."""
    seen, shown = set(), []
    for each in found:
        differing = tuple(
            sorted(
                {m.offer.code for m in each.leader.members}
                ^ {m.offer.code for m in each.rival.members}
            )
        )
        if (each.name, differing) not in seen:
            seen.add((each.name, differing))
            shown.append(each)
    return shown[:MOST_SENTENCES]


def sentence(each: BreakEven, writer: Writer) -> str:
    """A break-even as a sentence with today's value and the distance."""
    ahead = f"{each.leader.key} ({each.leader.process})"
    behind = f"{each.rival.key} ({each.rival.process})"
    away = f"{each.distance * 100:+.1f} %".replace("-", "−")
    today, tie = float(each.input.value), each.value
    if each.of:
        unit = each.input.unit
        what = f"{each.of} is quoted at {_price(tie)} {unit} (quoted {_price(today)}, {away})"
    elif each.name.startswith("exchange_rate."):
        quote, base = each.input.unit.split("/")
        what = f"1 {base} = {_price(tie)} {quote} (today {_price(today)}, {away})"
    elif each.name.startswith("duty_rate."):
        country = each.name.partition(".")[2]
        what = f"duty on {country} is {tie * 100:.1f} % (today {today * 100:.1f} %)"
    else:
        what = (
            f"{each.input.label} is {writer.full(tie, each.input.unit)} "
            f"(today {writer.text(today, each.input.unit)}, {away})"
        )
    return f"{ahead} stays cheaper than {behind} until {what}."


def _price(value: float) -> str:
    return f"{value:,.3f}" if value < 10 else f"{value:,.2f}"


def _excluded_table(comparison: Comparison, writer: Writer, kept: Mapping[str, str]) -> Table:
    rows = []
    for each in comparison.excluded:
        candidate = each.candidate
        saving = ""
        if each.saving is not None:
            saving = writer.text(each.saving, "¤/m") if each.saving > 0 else "nothing"
        rows.append(
            Row(
                (
                    Cell(
                        candidate.offer.code,
                        href=addresses.offer_path(candidate.offer.code),
                        note=candidate.offer.supplier.name,
                        strong=True,
                    ),
                    Cell(candidate.slot.name),
                    Cell(candidate.offer.yarn.process),
                    Cell("", badge=candidate.standing.state),
                    Cell("; ".join(candidate.standing.reasons)),
                    Cell(writer.text(candidate.price, "¤/kg")),
                    Cell(saving),
                    Cell(
                        each.pair.key,
                        href=addresses.with_query(
                            addresses.pair_path(comparison.construction.code, each.pair.key), kept
                        ),
                    )
                    if each.pair
                    else Cell(""),
                    Cell(writer.text(each.pair.figures["ounces"], "oz/yd²") if each.pair else ""),
                ),
                key=f"{candidate.offer.code}-{candidate.slot.name}",
            )
        )
    headings = {column.key: column for column in EXCLUDED_COLUMNS}
    return Table(
        caption="Offers left out, why, and what their best pair would have saved",
        columns=(
            Column("offer", "Offer"),
            Column("place", "As"),
            Column("process", "Process"),
            Column("state", "Standing"),
            Column("reasons", "Why"),
            Column("price", headings["price"].heading, writer.unit("¤/kg"), numeric=True),
            Column("saving", headings["saving"].heading, writer.unit("¤/m"), numeric=True),
            Column("pair", "In pair"),
            Column("weight", "Weight", writer.unit("oz/yd²"), numeric=True),
        ),
        rows=tuple(rows),
        empty="Every offer near the wanted counts may be used.",
    )
