"""Freezing comparisons and variants into the plain values of a pack."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from server.core.break_even import BreakEven
from server.core.change import Changed
from server.core.compare import Cell, Comparison, Excluded, Pair
from server.core.construction import Basis, Construction
from server.core.costing import ChosenYarn, Costing
from server.core.formula import described
from server.core.gate import Standing
from server.core.offer import Offer
from server.core.pack import (
    COST,
    INTERNAL,
    Cloth,
    Fact,
    FrozenBasis,
    FrozenCell,
    FrozenExcluded,
    FrozenFormula,
    FrozenInput,
    FrozenLine,
    FrozenPair,
    FrozenSheet,
    FrozenTie,
    FrozenYarn,
    Pack,
)
from server.core.sheet import Input, Line, Sheet
from server.core.tracing import CELLS, PAGE, name, write

MOST_PAIRS = 20  # pairs of one construction that are taken when none is chosen
MOST_TIES = 6  # break-evens kept with a construction


@dataclass(frozen=True, slots=True)
class Heading:
    """What a person writes over a pack; the fields are those of `Pack`."""

    reference: str
    title: str
    buyer: str
    meeting: date
    notes: str = ""
    headline: str = COST


@dataclass
class Pool:
    """Formulas, lines, sheets and inputs of a pack, each kept once."""

    formulas: dict[str, FrozenFormula] = field(default_factory=dict)
    lines: dict[FrozenLine, int] = field(default_factory=dict)
    sheets: dict[FrozenSheet, int] = field(default_factory=dict)
    inputs: dict[FrozenInput, int] = field(default_factory=dict)
    _places: dict[tuple[Any, ...], int] = field(default_factory=dict)

    def sheet(self, sheet: Sheet) -> int:
        """The place of a sheet."""
        lines = tuple(self._line(line) for line in sheet.lines)
        return _place(self.sheets, FrozenSheet(lines, sheet.input_names))

    def input(self, entry: Input) -> int:
        """The place of an input."""
        frozen = FrozenInput(
            float(entry.value),
            entry.label,
            entry.unit,
            entry.source,
            entry.on,
            entry.as_entered,
            entry.where,
        )
        return _place(self.inputs, frozen)

    def _line(self, line: Line) -> int:
        feeds = tuple(line.sources.items())
        known = (line.key, line.formula, feeds, line.label)
        if known not in self._places:
            formula = frozen_formula(line.formula)
            self.formulas.setdefault(formula.name, formula)
            frozen = FrozenLine(line.key, line.title, line.unit, formula.name, feeds)
            self._places[known] = _place(self.lines, frozen)
        return self._places[known]


def _place(kept: dict[Any, int], thing: Any) -> int:
    return kept.setdefault(thing, len(kept))


def frozen_formula(function: Callable[..., Any]) -> FrozenFormula:
    """A registered formula as text, for pages and for cells."""
    about = described(function)
    traced = {argument.name: name(f"{{{argument.name}}}") for argument in about.arguments}
    node = function(**traced)
    return FrozenFormula(
        about.key,
        about.title,
        about.unit,
        about.source,
        about.notes,
        write(node, PAGE),
        write(node, CELLS),
    )


def frozen_basis(basis: Basis) -> FrozenBasis:
    """The basis of a pack."""
    return FrozenBasis(
        basis.name,
        basis.currency,
        basis.rates_on,
        basis.delivery_point,
        basis.as_of,
        basis.meeting,
        basis.need_by,
        basis.quantity,
        basis.metres,
        basis.assumption_set,
        basis.loom_rule,
    )


def assemble(
    heading: Heading,
    basis: Basis,
    cloths: Iterable[Cloth],
    pool: Pool,
    *,
    engine: str,
    made_at: datetime | None = None,
) -> Pack:
    """The pack of some cloths frozen into one pool, in the internal view.

    engine: version of the program; made_at: when it is frozen, None for a draft
    """
    return Pack(
        view=INTERNAL,
        engine=engine,
        reference=heading.reference,
        title=heading.title,
        buyer=heading.buyer,
        meeting=heading.meeting,
        notes=heading.notes,
        made_at=made_at,
        headline=heading.headline,
        basis=frozen_basis(basis),
        cloths=tuple(cloths),
        formulas=dict(pool.formulas),
        lines=tuple(pool.lines),
        sheets=tuple(pool.sheets),
        inputs=tuple(pool.inputs),
    )


def freeze_comparison(
    comparison: Comparison,
    pool: Pool,
    *,
    chosen: Collection[str] = (),
    ties: Iterable[BreakEven] = (),
) -> Cloth:
    """A comparison as a cloth of a pack.

    chosen: keys of pairs to keep, possible or not; with none, the first of the ranking. The best
        pair of every combination is kept in any case, so that each cell of the matrix opens.
    """
    construction = comparison.construction
    pairs = _pairs_kept(comparison, chosen)
    return Cloth(
        code=construction.code,
        name=construction.name,
        variant="",
        change="",
        facts=facts_of(construction),
        pairs=tuple(_frozen_pair(comparison, pair, pool) for pair in pairs),
        cells=tuple(tuple(_frozen_cell(cell) for cell in row) for row in comparison.cells),
        ladder=tuple(pair.key for pair in comparison.ladder),
        excluded=tuple(_frozen_excluded(each) for each in comparison.excluded),
        ties=tuple(_frozen_tie(each) for each in ties)[:MOST_TIES],
        pair_count=comparison.pair_count,
        possible_count=comparison.possible_count,
    )


def freeze_variant(name: str, change: str, changed: Changed, pool: Pool) -> Cloth:
    """A variant as a cloth of a pack: as it stands, and every alternative that exists.

    change: what it changes, in words
    """
    construction = changed.before.construction
    columns = [("before", "As it stands", changed.before)]
    columns += [(each.key, each.label, costing) for each, costing in changed.reached]
    return Cloth(
        code=construction.code,
        name=construction.name,
        variant=name,
        change=change,
        facts=facts_of(changed.swap.construction),
        pairs=tuple(_frozen_costing(key, label, each, pool) for key, label, each in columns),
        cells=(),
        ladder=(),
        excluded=(),
        ties=(),
        pair_count=len(columns),
        possible_count=sum(_state(each.yarns) == "possible" for *_, each in columns),
    )


def facts_of(construction: Construction) -> tuple[Fact, ...]:
    """What a construction is, beside the figures of its sheet."""
    told = [
        ("Weave", construction.weave),
        ("Twill hand", construction.twill_hand),
        ("Dyeing route", construction.dyeing_route),
        ("Heat set", "yes" if construction.heat_set else ""),
        (
            "Target weight",
            f"{construction.target_oz:g} oz/yd², {construction.target_state}"
            if construction.target_oz
            else "",
        ),
    ]
    return tuple(Fact(label, text) for label, text in told if text and text != "none")


def _pairs_kept(comparison: Comparison, chosen: Collection[str]) -> list[Pair]:
    """The pairs of a pack in ranked order; what was chosen and is no pair any more is left out."""
    found = {pair.key: pair for pair in comparison.ladder}
    if chosen:
        for key in chosen:
            warp, _, filling = key.partition("/")
            pair = comparison.find(warp, filling)
            if pair is not None:
                found[key] = pair
    else:
        found |= {pair.key: pair for pair in comparison.pairs(MOST_PAIRS)}
    return sorted(
        found.values(),
        key=lambda pair: (pair.state != "possible", pair.figures["fabric_cost"], pair.key),
    )


def _frozen_pair(comparison: Comparison, pair: Pair, pool: Pool) -> FrozenPair:
    sheet, inputs = comparison.sheet_of(pair)
    yarns = tuple(
        _yarn(
            member.slot.name,
            member.slot.direction,
            member.offer.code,
            member.offer,
            float(member.ne.value),
            member.system,
            member.offer.yarn.process,
            member.standing,
        )
        for member in pair.members
    )
    return _pair(pair.key, pair.key, yarns, pair.combination, pair.state, sheet, inputs, pool)


def _frozen_costing(key: str, label: str, costing: Costing, pool: Pool) -> FrozenPair:
    yarns = tuple(
        _yarn(
            each.slot.name,
            each.slot.direction,
            each.name,
            each.offer,
            float(each.ne.value),
            each.spinning,
            each.process,
            each.standing,
        )
        for each in costing.yarns
    )
    first = {each.slot.direction: each.spinning for each in reversed(costing.yarns)}
    return _pair(
        key,
        label,
        yarns,
        f"{first['warp']}/{first['filling']}",
        _state(costing.yarns),
        costing.sheet,
        costing.inputs,
        pool,
    )


def _state(yarns: Iterable[ChosenYarn]) -> str:
    states = {each.state for each in yarns}
    return next((state for state in ("impossible", "unproven") if state in states), "possible")


def _pair(
    key: str,
    label: str,
    yarns: tuple[FrozenYarn, ...],
    combination: str,
    state: str,
    sheet: Sheet,
    inputs: Mapping[str, Input],
    pool: Pool,
) -> FrozenPair:
    values = {name: float(inputs[name].value) for name in sheet.input_names}
    figures = sheet.evaluate(values)
    return FrozenPair(
        key=key,
        label=label,
        yarns=yarns,
        combination=combination,
        state=state,
        sheet=pool.sheet(sheet),
        inputs=tuple(pool.input(inputs[each]) for each in sheet.input_names),
        figures=tuple(float(figures[line.key]) for line in sheet.lines),
    )


def _yarn(
    slot: str,
    direction: str,
    code: str,
    offer: Offer | None,
    ne: float,
    spinning: str,
    process: str,
    standing: Standing | None,
) -> FrozenYarn:
    accepted = standing.accepted if standing else ()
    return FrozenYarn(
        slot=slot,
        direction=direction,
        code=code,
        supplier=offer.supplier.name if offer else "",
        country=offer.country if offer else "",
        count=offer.yarn.count_text if offer else f"Ne {ne:g}",
        ne=ne,
        spinning=spinning,
        process=process,
        twist=offer.yarn.twist if offer else "",
        fibre_mix=offer.yarn.fibre_mix if offer else "",
        state=standing.state if standing else "possible",
        reasons=standing.reasons if standing else (),
        accepted=tuple(str(finding.decision) for finding in accepted),
        valid_until=offer.valid_until if offer else None,
    )


def _frozen_cell(cell: Cell) -> FrozenCell:
    return FrozenCell(
        cell.warp_system,
        cell.filling_system,
        cell.best.key if cell.best else "",
        cell.pairs,
        cell.possible,
        cell.reason,
    )


def _frozen_excluded(each: Excluded) -> FrozenExcluded:
    candidate = each.candidate
    return FrozenExcluded(
        candidate.offer.code,
        candidate.offer.supplier.name,
        candidate.slot.name,
        candidate.standing.state,
        candidate.standing.reasons,
        each.saving,
    )


def _frozen_tie(each: BreakEven) -> FrozenTie:
    return FrozenTie(
        each.leader.key,
        each.rival.key,
        f"{each.of}: {each.input.label}" if each.of else each.input.label,
        each.input.unit,
        float(each.input.value),
        each.value,
    )
