"""The page of a construction, or of a variant, in a handout."""

from __future__ import annotations

from itertools import pairwise

from server.core.compare import NEAR_TIE
from server.core.loom_behaviour import FROM_STOPS
from server.core.pack import Cloth, FrozenCell, FrozenPair, FrozenYarn
from server.core.pair import STACK
from server.export import cautions
from server.export.handout_parts import (
    Bar,
    Bars,
    Cell,
    ClothPage,
    Column,
    Fact,
    Matrix,
    MatrixCell,
    Row,
    Table,
    Teller,
    figures,
    table_of,
)
from server.export.pack_words import tie_sentence, told_ties

_FACTS = (
    ("Total ends", "total_ends"), ("Picks, loom", "loom_ppi"), ("Reed width", "reed_width_in"),
    ("Width, finished", "finished_width_in"), ("Width, cuttable", "cuttable_width_in"),
    ("Ends, finished", "finished_epi"), ("Picks, finished", "finished_ppi"),
    ("Weight, greige", "greige_ounces"), ("Weight, finished", "ounces"),
    ("Weight, washed", "washed_ounces"), ("Warp cover", "warp_cover"),
    ("Filling cover", "filling_cover"), ("Warp in a metre", "warp_mass"),
    ("Warp in a metre", "warp.mass"), ("Filling in a metre", "filling_mass"),
    ("Filling in a metre", "filling.mass"), ("Loom output", "loom_output"),
    ("Season", "season_metres"), ("Cloth of the season", "season_cost"),
)  # fmt: skip
_VARIANT_ROWS = (
    "yarn_cost", "weaving", "garment_fabric", "season_cost", "ounces", "washed_ounces",
    "total_ends", "loom_ppi", "reed_width_in", "finished_width_in", "cuttable_width_in",
    "finished_epi", "finished_ppi", "warp_cover", "filling_cover", "warp_firmness",
    "filling_firmness", "loom_output", "warp_season_tonnes", "filling_season_tonnes",
)  # fmt: skip


def cloth_page(teller: Teller, cloth: Cloth) -> ClothPage:
    """The page of one cloth."""
    shown = cloth.leader or next(iter(cloth.pairs), None)
    facts = [Fact(each.label, each.text) for each in cloth.facts]
    if shown is not None and not cloth.variant:
        facts += _facts(teller, shown)
    return ClothPage(
        title=cloth.title,
        change=cloth.change,
        summary=_summary(teller, cloth),
        facts=tuple(facts),
        matrix=_matrix(teller, cloth) if cloth.cells else None,
        ladder=_ladder(teller, cloth),
        pairs=_columns(teller, cloth) if cloth.variant else _pairs(teller, cloth),
        sellers=_sellers(cloth),
        stack=_stack(teller, cloth),
        ties=tuple(tie_sentence(each, teller.writer) for each in told_ties(cloth)),
        excluded=_excluded(teller, cloth) if cloth.excluded else None,
        cautions=_cautions(teller, cloth, shown),
    )


def _facts(teller: Teller, pair: FrozenPair) -> list[Fact]:
    about = teller.about(pair)
    told: dict[str, str] = {}
    for label, key in _FACTS:
        if text := about.full(key):
            told.setdefault(label, text)
    return [Fact(label, text) for label, text in told.items()]


def _summary(teller: Teller, cloth: Cloth) -> tuple[str, ...]:
    leader = cloth.leader
    if cloth.variant:
        return ()
    if leader is None:
        return ("No possible pair on this basis.",)
    about = teller.about(leader)
    if not teller.headline:
        weight = about.full("ounces")
        return (f"{leader.combination}, {leader.label}" + (f": {weight}." if weight else "."),)
    yarn = about.full("yarn_cost")
    told = [
        f"{about.full(teller.headline.metre)} of finished cloth"
        + (f" (yarn {yarn})" if yarn else ""),
        about.full("ounces"),
    ]
    said = [
        f"Cheapest possible: {leader.combination}, {leader.label}, at "
        + ", ".join(each for each in told if each)
        + "."
    ]
    return (*said, *_near_tie(teller, cloth, leader))


def _near_tie(teller: Teller, cloth: Cloth, leader: FrozenPair) -> tuple[str, ...]:
    second = next((each for each in cloth.pairs[1:] if each.state == "possible"), None)
    if second is None:
        return ()
    ours, theirs = teller.first(leader), teller.first(second)
    if (
        ours is None
        or theirs is None
        or abs(theirs - ours) > NEAR_TIE * min(abs(ours), abs(theirs))
    ):
        return ()
    apart = teller.writer.full(theirs - ours, "¤/m")
    return (
        f"Near-tie: {second.label} ({second.combination}) stands only {apart} above "
        f"{leader.label}. Verify both before deciding.",
    )


def _matrix(teller: Teller, cloth: Cloth) -> Matrix:
    unit = f", {teller.unit('¤/m')}" if teller.headline else ""
    return Matrix(
        title=f"Best possible pair of each combination{unit}",
        across=tuple(cell.filling for cell in cloth.cells[0]),
        rows=tuple(
            (row[0].warp, tuple(_matrix_cell(teller, cloth, cell) for cell in row))
            for row in cloth.cells
        ),
    )


def _matrix_cell(teller: Teller, cloth: Cloth, cell: FrozenCell) -> MatrixCell:
    best, leader = cloth.pair(cell.best), cloth.leader
    counted = f"{cell.possible} of {cell.pairs} possible"
    if cell.possible == cell.pairs:
        counted = f"{cell.pairs} {'pair' if cell.pairs == 1 else 'pairs'}"
    if best is None:
        return MatrixCell("", "", (), cell.reason or "no pair", False)
    about, is_leader = teller.about(best), leader is not None and best.key == leader.key
    figure = about.text(teller.headline.metre) if teller.headline else ""
    apart = teller.apart(best, leader) if leader and not is_leader else ""
    told = tuple(each for each in (best.label, about.full("ounces"), counted) if each)
    return MatrixCell(figure, "leader" if is_leader else apart, told, "", is_leader)


def _ladder(teller: Teller, cloth: Cloth) -> Bars | None:
    """What each step from the cheapest combination to the dearest costs."""
    rungs = [pair for key in cloth.ladder if (pair := cloth.pair(key)) is not None]
    costs = [cost for pair in rungs if (cost := teller.first(pair)) is not None]
    if len(rungs) < 2 or len(costs) < len(rungs):
        return None
    above = [cost - costs[0] for cost in costs]
    room = max(above[-1], 1e-12)
    writer = teller.writer
    rows = [
        Bar(rungs[0].combination, rungs[0].label, (writer.text(costs[0], "¤/m"), ""), 0, 0, True)
    ]
    for pair, (before, now), cost in zip(rungs[1:], pairwise(above), costs[1:], strict=True):
        figures = (writer.text(cost, "¤/m"), writer.signed(now - before, "¤/m"))
        rows.append(Bar(pair.combination, pair.label, figures, before / room, now / room))
    return Bars(
        f"Ladder, {teller.unit('¤/m')}",
        ("Combination", "Metre", "Step", "Rise"),
        tuple(rows),
    )


def _pairs(teller: Teller, cloth: Cloth) -> Table:
    """Every pair of the pack, ranked."""
    columns = [
        Column("Pair"),
        Column("Combination"),
        Column("Yarns, warp first", wide=1),
        figures("Weight", teller.unit("oz/yd²")),
        figures("Yarn", teller.unit("¤/m")),
    ]
    if teller.headline:
        columns += [
            figures(teller.headline.label, teller.unit("¤/m")),
            figures("Yard", teller.unit("¤/yd")),
            figures("Kilogram", teller.unit("¤/kg")),
            figures("Cuttable", teller.unit("¤/m²")),
            figures("Difference", teller.unit("¤/m")),
        ]
    columns += [Column("Standing")] if _told_apart(cloth) else []
    rows = [_pair_row(teller, cloth, pair) for pair in cloth.pairs]
    return table_of(f"Pairs: {_counted(cloth)}", columns, rows, _ranking(teller, cloth))


def _told_apart(cloth: Cloth) -> bool:
    """Whether the pairs differ in standing; what holds for all of them needs no column."""
    return any(pair.state not in ("", "possible") for pair in cloth.pairs) or any(
        yarn.accepted for pair in cloth.pairs for yarn in pair.yarns
    )


def _counted(cloth: Cloth) -> str:
    shown = len(cloth.pairs)
    if cloth.pair_count == cloth.possible_count == shown:
        return str(shown) if shown else "none in this pack"
    return f"{shown} of {cloth.pair_count}, {cloth.possible_count} possible"


def _ranking(teller: Teller, cloth: Cloth) -> str:
    as_of, left_out = teller.pack.basis.as_of, len({each.code for each in cloth.excluded})
    said = cautions.ranking(as_of, left_out) if left_out else cautions.as_of(as_of)
    return " ".join((said, *teller.estimate))


def _pair_row(teller: Teller, cloth: Cloth, pair: FrozenPair) -> Row:
    about, leader = teller.about(pair), cloth.leader
    is_leader = leader is not None and pair.key == leader.key
    cells = [
        Cell((pair.label,), strong=True),
        Cell((pair.combination,)),
        Cell((" / ".join(_short(each) for each in pair.yarns),), _why(cloth, pair)),
        about.cell("ounces"),
        about.cell("yarn_cost"),
    ]
    if head := teller.headline:
        cells += [about.cell(head.metre, strong=True)]
        cells += [about.cell(key) for key in (head.yard, head.kg, head.area)]
        apart = "leader" if is_leader else teller.apart(pair, leader) if leader else ""
        cells.append(Cell((apart,)) if apart else Cell())
    return Row((*cells, *((Cell((pair.state,)),) if _told_apart(cloth) else ())), marked=is_leader)


def _short(yarn: FrozenYarn) -> str:
    """`Ne 6.5/1 (average) ring slub`."""
    return " ".join(each for each in (yarn.count, yarn.process) if each)


def _why(cloth: Cloth, pair: FrozenPair) -> tuple[str, ...]:
    """Reasons and decisions that no table below tells."""
    below = {each.code for each in cloth.excluded}
    told: dict[str, None] = {}
    for yarn in pair.yarns:
        reasons = () if yarn.code in below else yarn.reasons
        told |= dict.fromkeys(f"{yarn.code}: {each}" for each in (*reasons, *yarn.accepted))
    return tuple(told)


def _sellers(cloth: Cloth) -> tuple[Fact, ...]:
    """Every yarn of the pairs once, with its seller."""
    told: dict[str, str] = {}
    for pair in cloth.pairs:
        for yarn in pair.yarns:
            parts = (
                _short(yarn) if cloth.variant else "",
                yarn.supplier if not yarn.code.startswith(yarn.supplier) else "",
                yarn.country,
                f"valid until {yarn.valid_until}" if yarn.valid_until else "",
            )
            told.setdefault(yarn.code, ", ".join(part for part in parts if part))
    return tuple(Fact(code, told[code]) for code in sorted(told) if told[code])


def _columns(teller: Teller, cloth: Cloth) -> Table:
    """A variant: its figures down, as it stands and every alternative across."""
    abouts = [teller.about(pair) for pair in cloth.pairs]
    columns = [Column("Figure", wide=1.6), Column("Unit")]
    columns += [Column(pair.label, figure=True, wide=1) for pair in cloth.pairs]
    rows = [Row((Cell(("Yarns",)), Cell(), *(Cell((_codes(pair),)) for pair in cloth.pairs)))]
    head = teller.headline
    keys = [*((head.metre, head.yard, head.area, head.kg) if head else ()), *_VARIANT_ROWS]
    for key in keys:
        told = next((about for about in abouts if about.value(key) is not None), None)
        if told is None:
            continue
        first = head is not None and key == head.metre
        cells = (about.cell(key, strong=first) for about in abouts)
        rows.append(
            Row((Cell((told.label(key),), strong=first), Cell((told.unit(key),)), *cells), first)
        )
        if first:
            apart = [teller.apart(pair, cloth.pairs[0]) for pair in cloth.pairs]
            cells = (Cell((text,) if at and text else ()) for at, text in enumerate(apart))
            label = Cell(("Difference to as it stands",))
            rows.append(Row((label, Cell((told.unit(key),)), *cells)))
    return table_of("As it stands and changed", columns, rows)


def _codes(pair: FrozenPair) -> str:
    return "/".join(yarn.code for yarn in pair.yarns)


def _stack(teller: Teller, cloth: Cloth) -> Bars | None:
    """What the cost of the leader, or of the plain swap, is made of, as far as the pack says."""
    shown = cloth.pairs[1] if cloth.variant and len(cloth.pairs) > 1 else cloth.leader
    if shown is None:
        return None
    about, writer = teller.about(shown), teller.writer
    parts = [(key, value) for key in STACK if (value := about.value(key)) is not None]
    if len(parts) < 2:
        return None
    total, most = about.value("fabric_cost"), max(value for _, value in parts)
    whole = total is not None and abs(sum(v for _, v in parts) - total) <= 1e-9 * abs(total)
    rows = [
        Bar(
            about.label(key),
            "",
            (writer.text(value, "¤/m"), percent_of(value, total) if whole and total else ""),
            0,
            max(value, 0) / most if most > 0 else 0,
        )
        for key, value in parts
    ]
    if whole:
        rows.append(
            Bar(about.label("fabric_cost"), "", (about.text("fabric_cost"), ""), 0, 0, True)
        )
    title = "Cost of a metre" if whole else "Parts of the cost of a metre"
    return Bars(
        f"{title}, {shown.label}, {teller.unit('¤/m')}",
        ("Part", "Metre", "Share" if whole else "", ""),
        tuple(rows),
    )


def percent_of(value: float, total: float) -> str:
    """A part of a total, one decimal."""
    return f"{100 * value / total:.1f} %"


def _excluded(teller: Teller, cloth: Cloth) -> Table:
    columns = (
        Column("Offer"), Column("As"), Column("Standing"), Column("Why", wide=1),
        figures("Would save", teller.unit("¤/m")),
    )  # fmt: skip
    told: dict[tuple[Cell, ...], list[str]] = {}
    for each in cloth.excluded:
        saving = "" if each.saving is None else "nothing"
        if each.saving is not None and each.saving > 0:
            saving = teller.writer.text(each.saving, "¤/m")
        texts = (f"{each.code} {each.supplier}", each.state, "; ".join(each.reasons), saving)
        row = tuple(Cell((text.strip(),)) if text.strip() else Cell() for text in texts)
        told.setdefault(row, []).append(each.slot)
    rows = [Row((row[0], Cell((", ".join(slots),)), *row[1:])) for row, slots in told.items()]
    return table_of("Offers left out", columns, rows)


def _cautions(teller: Teller, cloth: Cloth, shown: FrozenPair | None) -> tuple[str, ...]:
    """What is to be said of the cloth itself; of the ranking it is said under the pairs."""
    weighed = shown is not None and teller.about(shown).value("ounces") is not None
    said = [cautions.WEIGHT] if weighed else []
    if cloth.variant:
        said += [cautions.CHANGE, *teller.estimate]
    elif shown is not None and weighed:
        said.insert(0, f"Weights, covers and yarn as of {shown.label}.")
    return (*said, *((cautions.STOPS,) if teller.pack.basis.loom_rule == FROM_STOPS else ()))
