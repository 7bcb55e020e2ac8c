"""A pack as its pages show it, in the internal or the buyer's view: from the pack alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from server.core.pack import Cloth, FrozenCell, FrozenPair, Pack
from server.export import cautions
from server.export.pack_words import FOR_US, basis_line, tie_sentence, told_ties
from server.export.packs import Compared, compared_in, figure_or_none
from server.web import addresses
from server.web.numbers import Writer
from server.web.tables import Cell, Column, Row, Table


@dataclass(frozen=True, slots=True)
class PackCell:
    """One spinning combination of a cloth."""

    combination: str
    figure: str
    unit: str
    difference: str
    lines: tuple[str, ...]
    href: str
    best: bool


@dataclass(frozen=True, slots=True)
class PackRung:
    """One step of the ladder."""

    combination: str
    pair: str
    href: str
    figure: str
    step: str
    weight: str


@dataclass(frozen=True, slots=True)
class ClothView:
    """One construction or variant of a pack."""

    anchor: str
    title: str
    change: str
    facts: tuple[tuple[str, str], ...]
    summary: str
    filling_systems: tuple[str, ...]
    matrix: tuple[tuple[str, tuple[PackCell, ...]], ...]
    rungs: tuple[PackRung, ...]
    pairs: Table
    excluded: Table | None
    ties: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PackView:
    """Everything a pack's page shows of the pack itself."""

    title: str
    buyer: str
    meeting: str
    notes: str
    internal: str
    made: str
    basis: str
    unit: str
    overview: Table
    cloths: tuple[ClothView, ...]
    cautions: tuple[str, ...]


def pack_view(pack: Pack, writer: Writer, base: str) -> PackView:
    """The view of a pack. base: address of the pack in this view"""
    internal = pack.view == "internal"
    return PackView(
        title=pack.title,
        buyer=pack.buyer,
        meeting=pack.meeting.isoformat(),
        notes=pack.notes,
        internal=FOR_US if internal else "",
        made=made_line(pack),
        basis=basis_line(pack),
        unit=writer.unit("¤/m"),
        overview=_overview(pack, writer, base),
        cloths=tuple(
            _cloth(pack, cloth, place, writer, base) for place, cloth in enumerate(pack.cloths, 1)
        ),
        cautions=_cautions(pack, internal=internal),
    )


def made_line(pack: Pack) -> str:
    """When and by what it was frozen."""
    if pack.made_at is None:
        return f"Draft, worked out now by engine {pack.engine}; figures may still move"
    return f"Frozen {pack.made_at:%Y-%m-%d %H:%M} UTC by engine {pack.engine}, {pack.reference}"


def _cautions(pack: Pack, *, internal: bool) -> tuple[str, ...]:
    found = [cautions.MODELLED, cautions.WEIGHT, cautions.RATES]
    if internal:
        found += [cautions.DUTY, cautions.TERMS, cautions.TESTS, cautions.ORIGIN]
    if any(cloth.variant for cloth in pack.cloths):
        found.append(cautions.CHANGE)
    return tuple(found)


def pair_href(base: str, place: int, pair: FrozenPair, key: str = "") -> str:
    """Address of a pair of the cloth at a place (from 1), at one of its figures."""
    path = "/".join(addresses.part(each) for each in pair.key.split("/"))
    return f"{base}/pairs/{place}/{path}" + (f"#{anchor(key)}" if key else "")


def anchor(key: str) -> str:
    """The place of a figure on the page of its pair."""
    return f"line-{key.replace('.', '-')}"


def _headline(pack: Pack, pair: FrozenPair | None) -> float | None:
    return figure_or_none(pack, pair, pack.headline) if pack.headline else None


def _overview(pack: Pack, writer: Writer, base: str) -> Table:
    figures = _figures(pack, pack.cloths)
    first = next((_headline(pack, cloth.foremost) for cloth in pack.cloths), None)
    rows = []
    for place, cloth in enumerate(pack.cloths, 1):
        shown = cloth.foremost
        cells = [
            Cell(cloth.title, href=f"#cloth-{place}"),
            Cell(shown.label if shown else "no possible pair"),
            Cell(shown.combination if shown else ""),
            *(_figure_cell(pack, shown, each, writer, base, place) for each in figures),
        ]
        rows.append(Row(tuple(cells), key=cloth.title))
    return Table(
        caption=f"{len(pack.cloths)} in this pack, each with its best pair, a variant as changed"
        if first is not None
        else f"{len(pack.cloths)} in this pack",
        columns=(
            Column("cloth", "Construction"),
            Column("pair", "Pair"),
            Column("combination", "Warp/filling"),
            *(_column(each, writer) for each in figures),
        ),
        rows=tuple(rows),
        empty="Nothing is in this pack yet. Open a comparison and put it into this pack.",
        exports=(("CSV", f"{base}.csv"), ("JSON", f"{base}.json")) if rows else (),
    )


def _figures(pack: Pack, cloths: Sequence[Cloth]) -> tuple[Compared, ...]:
    """The figures of a table; the internal view, which has all, shows the foremost."""
    internal = pack.view == "internal"
    return tuple(each for each in compared_in(pack, cloths) if each.foremost or not internal)


def _column(each: Compared, writer: Writer) -> Column:
    return Column(each.key, each.heading, writer.unit(each.unit), numeric=True)


def _figure_cell(
    pack: Pack,
    pair: FrozenPair | None,
    each: Compared,
    writer: Writer,
    base: str,
    place: int,
) -> Cell:
    value = figure_or_none(pack, pair, each.key)
    if pair is None or value is None:
        return Cell("–")
    return Cell(
        writer.text(value, each.unit),
        href=pair_href(base, place, pair, each.key),
        strong=each.key == pack.headline,
    )


def _cloth(pack: Pack, cloth: Cloth, place: int, writer: Writer, base: str) -> ClothView:
    return ClothView(
        anchor=f"cloth-{place}",
        title=cloth.title,
        change=cloth.change,
        facts=tuple((fact.label, fact.text) for fact in cloth.facts),
        summary=_summary(pack, cloth, writer),
        filling_systems=tuple(cell.filling for cell in cloth.cells[0]) if cloth.cells else (),
        matrix=tuple(
            (row[0].warp, tuple(_cell(pack, cloth, cell, place, writer, base) for cell in row))
            for row in cloth.cells
        ),
        rungs=_rungs(pack, cloth, place, writer, base),
        pairs=_pairs(pack, cloth, place, writer, base),
        excluded=_excluded(cloth, writer) if cloth.excluded else None,
        ties=tuple(tie_sentence(tie, writer) for tie in told_ties(cloth)),
    )


def _summary(pack: Pack, cloth: Cloth, writer: Writer) -> str:
    shown = cloth.foremost
    value = _headline(pack, shown)
    if shown is None:
        return "No possible pair."
    weight = pack.value_of(shown, "ounces")
    parts = [
        f"{shown.label} ({shown.combination})",
        writer.full(value, "¤/m") if value is not None else "",
        writer.full(weight, "oz/yd²") if weight is not None else "",
    ]
    if pack.view == "internal" and not cloth.variant:
        parts.append(f"{cloth.possible_count} of {cloth.pair_count} pairs possible")
    return ", ".join(part for part in parts if part)


def _cell(
    pack: Pack, cloth: Cloth, cell: FrozenCell, place: int, writer: Writer, base: str
) -> PackCell:
    best = cloth.pair(cell.best) if cell.best else None
    combination = f"{cell.warp}/{cell.filling}"
    if best is None:
        return PackCell(combination, "", "", "", (cell.reason or "no pair",), "", False)
    leader, value = cloth.leader, _headline(pack, best)
    led = _headline(pack, leader)
    apart = value - led if value is not None and led is not None else None
    weight, area = pack.value_of(best, "ounces"), pack.value_of(best, "yarn_per_area")
    noun = "pair" if cell.possible == 1 else "pairs"
    return PackCell(
        combination=combination,
        figure=best.label if value is None else writer.text(value, "¤/m"),
        unit="" if value is None else writer.unit("¤/m"),
        difference=writer.signed(apart, "¤/m") if apart else "",
        lines=tuple(
            line
            for line in (
                writer.full(weight, "oz/yd²") if weight is not None else "",
                f"yarn {writer.full(area, '¤/m²')} cuttable" if area is not None else "",
                best.label,
                f"{cell.possible} of {cell.pairs} pairs possible"
                if pack.view == "internal"
                else f"{cell.possible} {noun}",
            )
            if line
        ),
        href=pair_href(base, place, best),
        best=leader is not None and leader.key == best.key,
    )


def _rungs(pack: Pack, cloth: Cloth, place: int, writer: Writer, base: str) -> tuple[PackRung, ...]:
    found, below = [], None
    for key in cloth.ladder:
        pair = cloth.pair(key)
        value = _headline(pack, pair)
        if pair is None or value is None:
            continue
        weight = pack.value_of(pair, "ounces")
        found.append(
            PackRung(
                pair.combination,
                pair.label,
                pair_href(base, place, pair),
                writer.text(value, "¤/m"),
                writer.signed(value - below, "¤/m") if below is not None else "",
                writer.full(weight, "oz/yd²") if weight is not None else "",
            )
        )
        below = value
    return tuple(found)


def _pairs(pack: Pack, cloth: Cloth, place: int, writer: Writer, base: str) -> Table:
    figures = _figures(pack, (cloth,))
    led = _headline(pack, cloth.leader)
    told = pack.view == "internal"
    rows = []
    for pair in cloth.pairs:
        value = _headline(pack, pair)
        apart = value - led if value is not None and led is not None else None
        difference = writer.signed(apart, "¤/m") if apart else ""
        leads = cloth.leader is not None and pair.key == cloth.leader.key
        rows.append(
            Row(
                (
                    Cell(pair.label, href=pair_href(base, place, pair)),
                    Cell(pair.combination, note=_yarn_words(pair)),
                    *(_figure_cell(pack, pair, each, writer, base, place) for each in figures),
                    *((Cell(difference),) if pack.headline else ()),
                    *((Cell("", badge=pair.state, note=_why(pair)),) if told else ()),
                ),
                key=pair.key,
                tone="best" if leads and not cloth.variant else "",
            )
        )
    return Table(
        caption=f"{len(rows)} pairs of {cloth.title}" if not cloth.variant else cloth.title,
        columns=(
            Column("pair", "Pair"),
            Column("combination", "Warp/filling"),
            *(_column(each, writer) for each in figures),
            *(
                (Column("apart", "Difference", writer.unit("¤/m"), numeric=True),)
                if pack.headline
                else ()
            ),
            *((Column("state", "Standing"),) if told else ()),
        ),
        rows=tuple(rows),
        empty="No pair of this construction is in the pack.",
    )


def _yarn_words(pair: FrozenPair) -> str:
    """The yarns of a pair in words, as far as this view tells them."""
    told = []
    for yarn in pair.yarns:
        parts = (yarn.count, yarn.process, yarn.supplier, yarn.country)
        words = ", ".join(part for part in parts if part)
        told.append(f"{yarn.slot}: {words}" if words else "")
    return "; ".join(part for part in told if part)


def _why(pair: FrozenPair) -> str:
    reasons = [f"{y.code} as {y.slot}: {why}" for y in pair.yarns for why in y.reasons]
    accepted = [f"{y.code} accepted: {why}" for y in pair.yarns for why in y.accepted]
    return "; ".join(reasons + accepted)


def _excluded(cloth: Cloth, writer: Writer) -> Table:
    return Table(
        caption=f"Left out of {cloth.title} when it was compared, and why",
        columns=(
            Column("offer", "Offer"),
            Column("supplier", "Supplier"),
            Column("slot", "As"),
            Column("state", "Standing"),
            Column("why", "Why"),
            Column("saving", "Would have saved", writer.unit("¤/m"), numeric=True),
        ),
        rows=tuple(
            Row(
                (
                    Cell(each.code),
                    Cell(each.supplier),
                    Cell(each.slot),
                    Cell("", badge=each.state),
                    Cell("; ".join(each.reasons)),
                    Cell("–" if each.saving is None else writer.signed(each.saving, "¤/m")),
                ),
                key=f"{each.code} {each.slot}",
            )
            for each in cloth.excluded
        ),
        empty="Nothing was left out.",
    )
