"""The table of pairs with its filters, and the table of offers left out."""

from __future__ import annotations

from collections.abc import Mapping

from server.core.compare import Comparison, Pair
from server.core.gate import POSSIBLE
from server.export.columns import EXCLUDED_COLUMNS, PAIR_COLUMNS
from server.web import addresses
from server.web.listing import Listing
from server.web.numbers import Writer
from server.web.tables import Cell, Column, Row, Table, Tone

PAGE_ROWS = 50
_SORTS = {column.key for column in PAIR_COLUMNS}
_SHOWN_COLUMNS = (
    "pair", "process", "fabric_cost", "yarn_cost", "ounces", "fabric_per_kg", "yarn_per_area",
    "warp_price", "filling_price", "state",
)  # fmt: skip


def pair_table(
    comparison: Comparison,
    query: Mapping[str, str],
    reference: Pair | None,
    writer: Writer,
    path: str,
) -> Table:
    """The pairs that the query asks for, with sorting and pages in the address."""
    columns = [column for column in PAIR_COLUMNS if column.key in _SHOWN_COLUMNS]
    listing = Listing(path, query, PAGE_ROWS, "#pairs")
    wanted = _chosen_pairs(comparison, query)
    keys = [column.key for column in columns]
    return Table(
        caption=f"{len(wanted)} pairs, possible ones first",
        columns=listing.columns(columns, writer),
        rows=tuple(
            _pair_row(comparison, pair, keys, reference, writer, query)
            for pair in listing.part(wanted)
        ),
        empty="No pair matches; clear the filters or add offers near the wanted counts.",
        exports=tuple(
            (name, addresses.with_query(f"{path}.{form}", addresses.basis_query(query)))
            for name, form in (("CSV", "csv"), ("JSON", "json"))
        ),
        pager=listing.pager(len(wanted)),
    )


def _chosen_pairs(comparison: Comparison, query: Mapping[str, str]) -> list[Pair]:
    sort = query.get("sort", "")
    pairs = [
        pair
        for pair in comparison.foremost
        if query.get("warp", "") in ("", pair.warp.system)
        and query.get("filling", "") in ("", pair.filling.system)
        and query.get("state", "") in ("", pair.state)
    ]
    key = sort.removeprefix("-")
    if key in _SORTS:
        value = next(column.value for column in PAIR_COLUMNS if column.key == key)
        pairs.sort(key=value, reverse=sort.startswith("-"))
        pairs.sort(key=lambda pair: pair.state != POSSIBLE)
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
            cells.append(
                Cell(
                    pair.key,
                    strong=True,
                    href=addresses.with_query(
                        addresses.pair_path(comparison.construction.code, pair.key),
                        addresses.basis_query(kept),
                    ),
                )
            )
        elif column.key == "process":
            names = dict.fromkeys(member.offer.supplier.name for member in pair.members)
            told = (pair.effect, " / ".join(names))
            cells.append(Cell(pair.process, note=" · ".join(each for each in told if each)))
        elif column.key == "state":
            cells.append(Cell("", badge=pair.state, note="; ".join(pair.reasons + pair.accepted)))
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


def pair_filters(
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


def excluded_table(comparison: Comparison, writer: Writer, kept: Mapping[str, str]) -> Table:
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
                    Cell(
                        "; ".join(candidate.standing.reasons),
                        note="; ".join(each.decision for each in candidate.standing.accepted),
                    ),
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
