"""Every warp and filling combination of a construction: possible first, then by cost.

Each direction has its candidates (offers whose count and core fit the yarn wanted). Their prices
and counts become a column and a row; one evaluation of the fabric sheet on these arrays gives cost
and weight of every pair. Only pairs of two possible offers are ranked.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from server.core.assumptions import AssumptionSet
from server.core.candidates import (
    Candidate,
    Direction,
    Landings,
    Unpriced,
    direction_of,
    with_stops,
)
from server.core.construction import DIRECTIONS, Basis, Construction
from server.core.conversion import per_cuttable_area, per_fabric_kg
from server.core.effect_names import effect_in_cloth
from server.core.gate import IMPOSSIBLE, POSSIBLE, UNPROVEN, Limit
from server.core.grid import FIGURES, Grid, best_of_blocks, evaluate_grid
from server.core.loom_behaviour import FROM_STOPS
from server.core.offer import Offer
from server.core.pair import fabric_inputs, fabric_sheet
from server.core.rates import RateBook
from server.core.sheet import Input, Sheet

NEAR_TIE = 0.01  # two costs nearer than this are called a near-tie [share]; a rule of ours
MOST_LISTED = 2_000  # pairs listed one by one; the matrix always rests on all


@dataclass(frozen=True)
class Pair:
    """One warp candidate with one filling candidate."""

    warp: Candidate
    filling: Candidate
    companions: tuple[Candidate, ...]
    figures: Mapping[str, float]

    @cached_property
    def key(self) -> str:
        """`Q09/Q14`, warp first."""
        return f"{self.warp.offer.code}/{self.filling.offer.code}"

    @property
    def combination(self) -> str:
        """`ring/OE`, warp first."""
        return f"{self.warp.system}/{self.filling.system}"

    @property
    def process(self) -> str:
        """`ring slub/OE`: the combination with its effects."""
        return f"{self.warp.offer.yarn.process}/{self.filling.offer.yarn.process}"

    @property
    def effect(self) -> str:
        """What its yarns make in the cloth: `warp slub`, `crosshatch`, or ""."""
        return effect_in_cloth((m.slot.direction, m.offer.yarn.effect) for m in self.members)

    @property
    def members(self) -> tuple[Candidate, ...]:
        """All offers of the pair."""
        return (self.warp, self.filling, *self.companions)

    @cached_property
    def state(self) -> str:
        """The worst standing of its offers."""
        states = [member.standing.state for member in self.members]
        if IMPOSSIBLE in states:
            return IMPOSSIBLE
        return UNPROVEN if UNPROVEN in states else POSSIBLE

    @cached_property
    def reasons(self) -> tuple[str, ...]:
        """Why it is not possible."""
        return tuple(
            f"{member.offer.code} as {member.slot.name}: {reason}"
            for member in self.members
            for reason in member.standing.reasons
        )

    @cached_property
    def accepted(self) -> tuple[str, ...]:
        """What passes only by somebody's decision: offer, finding, person and reason."""
        return tuple(
            f"{member.offer.code} as {member.slot.name}: {finding.decision}"
            for member in self.members
            for finding in member.standing.accepted
        )


@dataclass(frozen=True)
class Cell:
    """One spinning combination: its best possible pair, or why there is none."""

    warp_system: str
    filling_system: str
    best: Pair | None
    pairs: int
    possible: int
    reason: str

    @property
    def combination(self) -> str:
        """`ring/OE`, warp first."""
        return f"{self.warp_system}/{self.filling_system}"


@dataclass(frozen=True)
class Excluded:
    """An offer that is not ranked, why, and what its best pair would have saved.

    saving: cost of the leader less cost of the pair [¤/m]; None when there is nothing to pair
    """

    candidate: Candidate
    pair: Pair | None
    saving: float | None


@dataclass(frozen=True, eq=False)
class Comparison:
    """A construction on a basis with an assumption set: every pair, ranked and explained."""

    construction: Construction
    basis: Basis
    assumptions: AssumptionSet
    rates: RateBook
    sheet: Sheet
    inputs: Mapping[str, Input]
    warp: Direction
    filling: Direction
    grid: Grid
    assumption_currency: str = ""

    @cached_property
    def _groups(self) -> tuple[dict[str, NDArray[np.intp]], dict[str, NDArray[np.intp]]]:
        return _usable_groups(self.warp), _usable_groups(self.filling)

    @cached_property
    def _best(self) -> dict[tuple[str, str], tuple[int, int]]:
        return best_of_blocks(self.grid.fabric_cost, *self._groups)

    @property
    def pair_count(self) -> int:
        """All pairs, possible or not."""
        return len(self.warp.candidates) * len(self.filling.candidates)

    @property
    def possible_count(self) -> int:
        """Pairs of two possible offers."""
        return int(self.warp.usable.sum()) * int(self.filling.usable.sum())

    def pair(self, row: int, column: int) -> Pair:
        """The pair of a warp candidate and a filling candidate, by their places."""
        figures = {figure: float(self.grid.of(figure)[row, column]) for figure in FIGURES}
        figures["fabric_per_kg"] = per_fabric_kg(
            per_metre=figures["fabric_cost"],
            mass_per_area=figures["mass_per_area"],
            finished_width_in=self.construction.finished_width_in,
        )
        figures["yarn_per_area"] = per_cuttable_area(
            per_metre=figures["yarn_cost"],
            cuttable_width_in=self.construction.cuttable_width_in,
        )
        return Pair(
            self.warp.candidates[row],
            self.filling.candidates[column],
            (*self.warp.companions, *self.filling.companions),
            figures,
        )

    def find(self, warp_code: str, filling_code: str) -> Pair | None:
        """The pair of two offers, possible or not; None when either is no candidate here."""
        row = _place(self.warp, warp_code)
        column = _place(self.filling, filling_code)
        return None if row is None or column is None else self.pair(row, column)

    def ranked(self, limit: int | None = None) -> list[tuple[int, int]]:
        """Places of the pairs: the possible by cost, then the others by cost.

        limit: how many are wanted; all when None
        """
        usable = self.warp.usable[:, np.newaxis] & self.filling.usable[np.newaxis, :]
        cost = self.grid.fabric_cost
        behind = float(np.abs(cost).max(initial=0.0)) * 2 + 1
        rank = np.where(usable, cost, cost + behind).ravel()
        places = np.arange(len(rank))
        if limit is not None and limit < len(rank):
            last = np.partition(rank, limit)[limit]
            places = np.flatnonzero(rank <= last)  # all that tie, so that their order is kept
        order = places[np.lexsort((places, rank[places]))][:limit]
        width = len(self.filling.candidates)
        return [divmod(int(place), width) for place in order]

    def pairs(self, limit: int | None = None) -> Iterator[Pair]:
        """Pairs in ranked order, made one at a time."""
        for row, column in self.ranked(limit):
            yield self.pair(row, column)

    @cached_property
    def foremost(self) -> tuple[Pair, ...]:
        """The first pairs of the ranking, as many as a page or a document shows."""
        return tuple(self.pairs(MOST_LISTED))

    @cached_property
    def leader(self) -> Pair | None:
        """The cheapest possible pair."""
        cost = self.grid.fabric_cost
        places = min(self._best.values(), key=lambda at: (cost[at], at), default=None)
        return None if places is None else self.pair(*places)

    @cached_property
    def runner_up(self) -> Pair | None:
        """The second possible pair in the ranking."""
        return None if self.possible_count < 2 else self.pair(*self.ranked(2)[1])

    def runner_up_in(self, cell: Cell) -> Pair | None:
        """The second possible pair of one combination."""
        rows = self._groups[0].get(cell.warp_system, np.empty(0, dtype=np.intp))
        columns = self._groups[1].get(cell.filling_system, np.empty(0, dtype=np.intp))
        if len(rows) * len(columns) < 2:
            return None
        block = self.grid.fabric_cost[np.ix_(rows, columns)].ravel()
        block[block.argmin()] = np.inf
        row, column = divmod(int(block.argmin()), len(columns))
        return self.pair(int(rows[row]), int(columns[column]))

    @cached_property
    def cells(self) -> tuple[tuple[Cell, ...], ...]:
        """The matrix: warp systems down, filling systems across; ring and OE always shown."""
        return tuple(
            tuple(self._cell(warp, filling) for filling in _shown(self.filling))
            for warp in _shown(self.warp)
        )

    def _cell(self, warp: str, filling: str) -> Cell:
        rows = [c for c in self.warp.candidates if c.system == warp]
        columns = [c for c in self.filling.candidates if c.system == filling]
        usable_rows, usable_columns = self._groups
        possible = len(usable_rows.get(warp, ())) * len(usable_columns.get(filling, ()))
        places = self._best.get((warp, filling))
        reason = (
            ""
            if places
            else (_why_none(rows, self.warp, warp) or _why_none(columns, self.filling, filling))
        )
        return Cell(
            warp,
            filling,
            self.pair(*places) if places else None,
            len(rows) * len(columns),
            possible,
            reason,
        )

    @cached_property
    def ladder(self) -> tuple[Pair, ...]:
        """Best pair of every combination, cheapest first."""
        return tuple(
            sorted(
                (cell.best for row in self.cells for cell in row if cell.best),
                key=lambda pair: pair.figures["fabric_cost"],
            )
        )

    @cached_property
    def excluded(self) -> tuple[Excluded, ...]:
        """Offers that are not ranked, those that would have saved most first."""
        found = [
            *self._excluded_of(self.warp, self.filling, along_rows=True),
            *self._excluded_of(self.filling, self.warp, along_rows=False),
        ]
        return tuple(
            sorted(found, key=lambda each: np.inf if each.saving is None else -each.saving)
        )

    def _excluded_of(
        self, direction: Direction, other: Direction, *, along_rows: bool
    ) -> Iterator[Excluded]:
        usable = np.flatnonzero(other.usable)
        for place, candidate in enumerate(direction.candidates):
            if candidate.standing.state == POSSIBLE:
                continue
            if not len(usable):
                yield Excluded(candidate, None, None)
                continue
            costs = (
                self.grid.fabric_cost[place] if along_rows else self.grid.fabric_cost[:, place]
            )[usable]
            partner = int(usable[int(costs.argmin())])
            pair = self.pair(place, partner) if along_rows else self.pair(partner, place)
            saving = (
                self.leader.figures["fabric_cost"] - pair.figures["fabric_cost"]
                if self.leader
                else None
            )
            yield Excluded(candidate, pair, saving)

    @property
    def unpriced(self) -> tuple[Unpriced, ...]:
        """Offers that cannot be priced yet."""
        return (*self.warp.unpriced, *self.filling.unpriced)

    def is_near_tie(self, first: Pair, second: Pair) -> bool:
        """Whether two pairs cost nearly the same."""
        a, b = first.figures["fabric_cost"], second.figures["fabric_cost"]
        return abs(a - b) <= NEAR_TIE * min(abs(a), abs(b))

    def sheet_of(self, pair: Pair) -> tuple[Sheet, dict[str, Input]]:
        """The whole sheet of one pair, from quoted prices to the finished metre, with inputs."""
        lines: list[object] = []
        inputs = dict(self.inputs)
        for member in pair.members:
            lines += member.landing.sheet.lines
            inputs |= member.landing.inputs
            inputs[f"{member.slot.name}.costing_ne"] = member.ne
            if member.stops is not None:
                inputs[f"{member.slot.name}.stops"] = member.stops
        return Sheet((*lines, *self.sheet.lines)), inputs  # type: ignore[arg-type]


def _usable_groups(direction: Direction) -> dict[str, NDArray[np.intp]]:
    systems = np.array([candidate.system for candidate in direction.candidates])
    return {
        system: np.flatnonzero(direction.usable & (systems == system))
        for system in direction.systems
    }


def _shown(direction: Direction) -> tuple[str, ...]:
    met = set(direction.systems) | {"OE", "ring"}
    order = ("OE", "air-jet", "ring", "compact ring")
    return tuple(system for system in order if system in met)


def _why_none(candidates: list[Candidate], direction: Direction, system: str) -> str:
    wanted = direction.slots[0]
    if not candidates:
        return f"no {system} offer near Ne {wanted.ne:g} for the {direction.name}"
    if any(candidate.standing.state == POSSIBLE for candidate in candidates):
        return ""
    worst = candidates[0]
    more = f" (and {len(candidates) - 1} more)" if len(candidates) > 1 else ""
    reason = worst.standing.reasons[0]
    return f"{direction.name} {worst.offer.code} {worst.standing.state}: {reason}{more}"


def _place(direction: Direction, code: str) -> int | None:
    return next(
        (place for place, each in enumerate(direction.candidates) if each.offer.code == code), None
    )


def compare(
    construction: Construction,
    basis: Basis,
    assumptions: AssumptionSet,
    rates: RateBook,
    offers: Iterable[Offer],
    limits: Iterable[Limit],
    landings: Landings | None = None,
) -> Comparison:
    """Compare every warp offer with every filling offer in a construction.

    offers: those not replaced by a later one; the rest is decided here
    landings: offers landed before on the same basis and rates, when there are any
    Raises Missing when an assumption or a rate of the construction itself is not there.
    """
    offers, limits = tuple(offers), tuple(limits)
    assumption_currency = assumptions.currency
    assumptions = assumptions.in_currency(basis.currency, rates, basis.rates_on)
    warp, filling = (
        direction_of(name, construction, basis, rates, offers, limits, landings)
        for name in DIRECTIONS
    )
    sheet = fabric_sheet(construction, basis.loom_rule)
    inputs = fabric_inputs(construction, assumptions, basis.loom_rule)
    if basis.loom_rule == FROM_STOPS:
        warp, filling = (with_stops(each, assumptions) for each in (warp, filling))
    if warp.candidates and filling.candidates:
        grid = evaluate_grid(
            sheet,
            {name: float(entry.value) for name, entry in inputs.items()},
            warp.arrays(),
            filling.arrays(),
        )
    else:
        nothing = np.empty((len(warp.candidates), len(filling.candidates)))
        grid = Grid(nothing, nothing, nothing, nothing)
    return Comparison(
        construction,
        basis,
        assumptions,
        rates,
        sheet,
        inputs,
        warp,
        filling,
        grid,
        assumption_currency,
    )
