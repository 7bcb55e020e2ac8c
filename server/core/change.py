"""A construction changed: the plain swap, and the alternatives that hold one thing as it was.

The plain swap makes the asked changes and nothing else. From there the picks, or the ends, are set
so that the weight, the cover or the cost is what it was before: what an expert works out by hand,
with the real yarns, crimps and wastes in place of proportions.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from server.core.break_even import Option, solve
from server.core.bridge import Bridge, Cause, bridge
from server.core.candidates import Candidate, Direction
from server.core.cloth_setting import PEIRCE_DIAMETERS, share_of_highest_sett
from server.core.construction import DIRECTIONS, WEAVES, Construction, Slot
from server.core.costing import Costing, landed_again
from server.core.fabric import (
    cover_factor,
    loom_ppi_from_finished,
    total_ends_from_finished,
)
from server.core.gate import POSSIBLE
from server.core.quantities import Number
from server.core.rates import RateBook

FIRMER = 1.05  # a direction this much firmer than before is doubted; a rule of ours
REACH = 0.8  # how far from today's picks or ends is searched [share]
ROUNDING = 1e-9  # of a solved cost; more apart is a step in the price, not a solution [share]
COST_HELD = "fabric_per_area"
CAUSES = (
    Cause("Price of the warp yarn", ("warp.same_basis_price", "warp2.same_basis_price")),
    Cause("Price of the filling yarn", ("filling.same_basis_price", "filling2.same_basis_price")),
    Cause("Warp count", ("warp.costing_ne", "warp2.costing_ne")),
    Cause("Filling count", ("filling.costing_ne", "filling2.costing_ne")),
    Cause("Ends", ("total_ends",)),
    Cause("Picks", ("loom_ppi",)),
    Cause("Share of threads", (".share_of_threads",)),
    Cause("Reed width", ("reed_width_in",)),
    Cause("Tail of a pick", ("tail_in",)),
    Cause("Crimp", (".crimp",)),
    Cause("Length shrink", ("length_shrink",)),
    Cause("Finished width", ("finished_width_in", "cuttable_width_in")),
    Cause("Waste", (".waste",)),
    Cause("Weave", ("repeat_ends", "repeat_intersections")),
)
"""The order of a bridge: prices first, then counts, threads, widths, losses, then the rest."""


@dataclass(frozen=True)
class Solved:
    """A thread count that was set to hold something. name: `loom_ppi` or `total_ends`"""

    name: str
    label: str
    unit: str
    value: float


@dataclass(frozen=True, eq=False)
class Alternative:
    """One column of the change desk.

    key: short name in addresses
    held: what it holds as it was, in words; "" for the plain swap
    costing: None when it cannot be reached; reason then says why
    solved: what was set to hold it
    """

    key: str
    label: str
    held: str
    costing: Costing | None
    reason: str = ""
    solved: tuple[Solved, ...] = ()


@dataclass(frozen=True)
class MovedOffer:
    """An offer that a change takes away or brings in. price: same basis [¤/kg]"""

    direction: str
    code: str
    supplier: str
    price: float
    why: str


@dataclass(frozen=True, eq=False)
class Changed:
    """A construction before and after a change, with every alternative.

    fallen: offers that were possible and are no longer; joined: those that become possible
    """

    before: Costing
    alternatives: tuple[Alternative, ...]
    fallen: tuple[MovedOffer, ...] = ()
    joined: tuple[MovedOffer, ...] = ()

    @property
    def swap(self) -> Costing:
        """The plain swap."""
        costing = self.alternatives[0].costing
        assert costing is not None
        return costing

    @cached_property
    def reached(self) -> tuple[tuple[Alternative, Costing], ...]:
        """The alternatives that exist."""
        return tuple((each, each.costing) for each in self.alternatives if each.costing)

    def bridge(self, costing: Costing, figure: str = "fabric_cost") -> Bridge:
        """Why the figure of an alternative is not that of before."""
        return bridge(
            costing.fabric, figure, self.before.fabric_values, costing.fabric_values, CAUSES
        )


def change(before: Costing, swap: Costing, rates: RateBook) -> Changed:
    """The plain swap and its neutral alternatives.

    before, swap: on one basis; swap holds the asked changes with the yarns chosen for it
    """
    return Changed(
        before,
        (
            Alternative("swap", "Plain swap", "", swap),
            _weight_neutral(before, swap, rates, "picks", "loom_ppi"),
            _weight_neutral(before, swap, rates, "ends", "total_ends"),
            _cover_neutral(before, swap, rates),
            *(
                (_firmness_neutral(before, swap, rates),)
                if WEAVES[swap.construction.weave] != WEAVES[before.construction.weave]
                else ()
            ),
            _cost_neutral(before, swap, rates),
        ),
    )


def _weight_neutral(
    before: Costing, swap: Costing, rates: RateBook, threads: str, name: str
) -> Alternative:
    key, label = f"weight-{threads}", f"Same weight, by {threads}"
    held = "weight of the finished cloth"
    value = _set_to(swap.cloth("mass_per_area"), name, before.figures["mass_per_area"])
    if value is None:
        return _out_of_reach(key, label, held, threads)
    return Alternative(
        key, label, held, _with(swap, rates, **{name: value}), solved=(_solved(name, value),)
    )


def _cover_neutral(before: Costing, swap: Costing, rates: RateBook) -> Alternative:
    """Picks and ends for the finished cover of before."""

    def per_inch(direction: str) -> float:
        one = float(cover_factor(threads_per_inch=1.0, ne=_first_count(swap, direction)))
        return before.figures[f"{direction}_cover"] / one

    solved = _threads_for(before, swap, "cover", per_inch)
    held = "cover factor of warp and filling, finished"
    changed = _with(swap, rates, **{each.name: each.value for each in solved})
    return Alternative("cover", "Same cover", held, changed, solved=solved)


def _firmness_neutral(before: Costing, swap: Costing, rates: RateBook) -> Alternative:
    """Picks and ends of a similar cloth: as firm as before in its own weave (Taylor 1909)."""
    ends, intersections = WEAVES[swap.construction.weave]

    def per_inch(direction: str) -> float:
        one = share_of_highest_sett(
            threads_per_inch=1.0,
            ne=_first_count(swap, direction),
            repeat_ends=ends,
            repeat_intersections=intersections,
        )
        return before.figures[f"{direction}_firmness"] / float(one)

    solved = _threads_for(before, swap, "firmness", per_inch)
    held = "firmness: threads over the highest sett of the weave"
    changed = _with(swap, rates, **{each.name: each.value for each in solved})
    return Alternative("firmness", "As firm", held, changed, solved=solved)


def _threads_for(
    before: Costing, swap: Costing, figure: str, per_inch: Callable[[str], float]
) -> tuple[Solved, ...]:
    """Ends and picks on the loom that give finished threads per inch, where the swap moved them."""
    return tuple(
        _solved(name, _on_the_loom(swap.construction, name, per_inch(direction)))
        for direction, name in zip(DIRECTIONS, ("total_ends", "loom_ppi"), strict=True)
        if swap.figures[f"{direction}_{figure}"] != before.figures[f"{direction}_{figure}"]
    )


def _first_count(costing: Costing, direction: str) -> float:
    return float(costing.fabric_values[f"{direction}.costing_ne"].value)


def _on_the_loom(construction: Construction, name: str, per_inch: float) -> float:
    """Total ends or loom picks for finished threads per inch."""
    if name == "total_ends":
        return float(
            total_ends_from_finished(
                finished_epi=per_inch, finished_width_in=construction.finished_width_in
            )
        )
    return float(
        loom_ppi_from_finished(finished_ppi=per_inch, length_shrink=construction.length_shrink)
    )


def _cost_neutral(before: Costing, swap: Costing, rates: RateBook) -> Alternative:
    """Picks for the cost per cuttable m² of before; prices follow the quantity the picks need."""
    key, label, held, figure = "cost", "Same cost, by picks", "cost per cuttable m²", COST_HELD
    target = before.figures[figure]

    def apart(picks: Number) -> Number:
        if isinstance(picks, np.ndarray):
            return np.array([apart(float(each)) for each in picks])
        return _with(swap, rates, loom_ppi=float(picks)).figures[figure] - target

    value = (
        _root_near(apart, swap.construction.loom_ppi)
        if _priced_by_quantity(swap)
        else _set_to(swap.cloth(figure), "loom_ppi", target)
    )
    if value is None:
        return _out_of_reach(key, label, held, "picks")
    costing = _with(swap, rates, loom_ppi=value)
    if abs(costing.figures[figure] / target - 1) > ROUNDING:
        why = "A price break lies between: no number of picks costs the same at its own price."
        return Alternative(key, label, held, None, why)
    return Alternative(key, label, held, costing, solved=(_solved("loom_ppi", value),))


def _priced_by_quantity(costing: Costing) -> bool:
    by_quantity = costing.basis.metres_of(costing.construction) is not None
    return by_quantity and any(yarn.offer and yarn.offer.breaks for yarn in costing.yarns)


def _set_to(option: Option, name: str, target: float) -> float | None:
    """The value of an input at which a figure meets the target, or None within reach."""

    def apart(value: Number) -> Number:
        return option.cost({name: value}) - target

    return _root_near(apart, float(option.inputs[name].value))


def _root_near(apart: Callable[[Number], Number], today: float) -> float | None:
    if apart(today) == 0:
        return today
    return solve(apart, today * (1 - REACH), today * (1 + REACH))


def _with(costing: Costing, rates: RateBook, **threads: float) -> Costing:
    return landed_again(costing, replace(costing.construction, **threads), rates)  # type: ignore[arg-type]


_LABELS: Mapping[str, tuple[str, str]] = {
    "loom_ppi": ("Loom picks", "1/in"),
    "total_ends": ("Total ends", "threads"),
}


def _solved(name: str, value: float) -> Solved:
    label, unit = _LABELS[name]
    return Solved(name, label, unit, value)


def _out_of_reach(key: str, label: str, held: str, threads: str) -> Alternative:
    return Alternative(
        key, label, held, None, f"Not reached within {REACH:.0%} of the {threads} of the swap."
    )


def doubts_of(before: Costing, after: Costing) -> tuple[str, ...]:
    """What a trial piece should settle before anybody sells the changed cloth."""
    found = []
    for direction in DIRECTIONS:
        cover = after.figures[f"{direction}_cover"]
        if cover > PEIRCE_DIAMETERS:
            found.append(
                f"{direction.capitalize()} cover {cover:.1f}: at {PEIRCE_DIAMETERS:g} the yarns "
                "lie side by side (Peirce)."
            )
        firmer = after.figures[f"{direction}_firmness"] / before.figures[f"{direction}_firmness"]
        if firmer > FIRMER:
            found.append(
                f"The {direction} is {firmer - 1:.0%} firmer than in the cloth as it is woven now; "
                "weave a trial before it is sold."
            )
    return tuple(found)


def offers_lost(
    here: Mapping[str, Direction], there: Mapping[str, Direction]
) -> tuple[MovedOffer, ...]:
    """Offers possible here and not there, with the reason why not there; the cheapest first."""
    found = []
    for name in DIRECTIONS:
        left = {each.offer.code: each for each in there[name].candidates}
        for each in here[name].candidates if here[name] is not there[name] else ():
            now = left.get(each.offer.code)
            if each.standing.state == POSSIBLE and not (now and now.standing.state == POSSIBLE):
                why = _why_lost(each, now, there[name].slots[0])
                supplier = each.offer.supplier.name
                found.append(MovedOffer(name, each.offer.code, supplier, each.price, why))
    return tuple(sorted(found, key=lambda moved: (moved.direction != "warp", moved.price)))


def _why_lost(was: Candidate, now: Candidate | None, slot: Slot) -> str:
    if now is not None:
        return "; ".join(now.standing.reasons)
    ne = was.offer.yarn.average_ne or was.offer.yarn.quoted_ne
    return f"Ne {ne:g} is not near Ne {slot.ne:g}" if ne else "its count is not known"
