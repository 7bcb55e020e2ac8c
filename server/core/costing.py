"""A construction with the yarns chosen for it, costed from quoted prices to a finished metre.

A yarn is an offer, an offer's price held at another count (where no offer is near it), or the
house's own spinning at its should-cost. Every one ends in the line `<slot>.same_basis_price`, so
the fabric sheet does not know the difference.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

from server.core.assumptions import KINDS, AssumptionSet
from server.core.break_even import Option
from server.core.candidates import Candidate
from server.core.construction import Basis, Construction, Slot
from server.core.formula import formula
from server.core.gate import POSSIBLE, Standing
from server.core.landing import land
from server.core.loom_behaviour import FROM_STOPS, stops_of
from server.core.offer import Offer
from server.core.pair import fabric_inputs, fabric_sheet, tonnes_needed
from server.core.quantities import MoneyPerKg
from server.core.rates import RateBook
from server.core.sheet import Input, Line, Sheet
from server.core.should_cost import NO_STAGE, ROUTES, should_cost_of

OWN = "own "  # how own spinning is written: “own ring”
OWN_YARNS = tuple(f"{OWN}{route}" for route in ROUTES)


@formula(source="definition: own yarn goes into the cloth at its should-cost, before margin")
def price_of_own_yarn(*, should_cost: MoneyPerKg) -> MoneyPerKg:
    """What a kilogram of own yarn costs the cloth, on the house weight basis.

    should_cost: modelled cost of the yarn, before margin [¤/kg]
    """
    return should_cost


@dataclass(frozen=True)
class ChosenYarn:
    """The yarn of one slot.

    name: offer code, “own ring”, or “Q20's price”
    spinning: spinning system; process: with its effect, as the trade says it
    lines, inputs: from what was quoted or assumed to `<slot>.same_basis_price`, count included
    standing: whether it may stand there; None for own spinning, which no gate has looked at
    offer: the offer it is, or None
    held: the price is another count's, for want of an offer near the count
    """

    slot: Slot
    name: str
    spinning: str
    process: str
    lines: tuple[Line, ...]
    inputs: Mapping[str, Input]
    standing: Standing | None
    offer: Offer | None
    held: bool = False

    @cached_property
    def price(self) -> float:
        """Same-basis price [¤/kg]."""
        key = f"{self.slot.name}.same_basis_price"
        values = {name: entry.value for name, entry in self.inputs.items()}
        return float(Sheet(self.lines).evaluate(values, (key,))[key])

    @property
    def ne(self) -> Input:
        """The count the cloth is weighed with [Ne]."""
        return self.inputs[f"{self.slot.name}.costing_ne"]

    @property
    def state(self) -> str:
        """possible, impossible or unproven; own spinning is taken as possible."""
        return self.standing.state if self.standing else POSSIBLE

    @property
    def reasons(self) -> tuple[str, ...]:
        """Why it is not possible."""
        return self.standing.reasons if self.standing else ()


def bought(candidate: Candidate, slot: Slot) -> ChosenYarn:
    """An offer in its place. slot: as the construction now wants it."""
    offer, at = candidate.offer, slot.name
    return ChosenYarn(
        slot,
        offer.code,
        candidate.system,
        offer.yarn.process,
        candidate.landing.sheet.lines,
        {**candidate.landing.inputs, f"{at}.costing_ne": candidate.ne},
        candidate.standing,
        offer,
    )


def price_held(yarn: ChosenYarn, slot: Slot) -> ChosenYarn:
    """The price of a yarn taken for another count, because no offer is near it."""
    at = slot.name
    wanted = Input(
        slot.ne,
        f"Count of the {at}, as wanted",
        "Ne",
        "the change",
        None,
        f"no offer near; price of {yarn.name} held",
    )
    return replace(
        yarn,
        slot=slot,
        name=yarn.name if yarn.held else f"{yarn.name}’s price",
        inputs={**yarn.inputs, f"{at}.costing_ne": wanted},
        offer=None,
        held=True,
    )


def own_spun(slot: Slot, route: str, assumptions: AssumptionSet) -> ChosenYarn:
    """A yarn spun in the house, at its should-cost.

    route: one of ROUTES; assumptions: in the reporting currency
    Assumptions that do not depend on the count keep their own key as input name, so that warp and
    filling share them. Raises Missing when the set lacks a value.
    """
    should, at = should_cost_of(route, slot.ne, assumptions), slot.name
    own = f"{at}.own."
    inputs = {
        f"{at}.costing_ne": Input(slot.ne, f"Count of the {at}, as spun", "Ne", "the construction")
    }
    renamed = {"ne": f"{at}.costing_ne"}
    for name, entry in should.inputs.items():
        if name != "ne":
            renamed[name] = _shared_name(route, name, own)
            inputs[renamed[name]] = entry
    lines = [
        replace(
            line,
            key=f"{own}{line.key}",
            label=f"{line.title}, {at} spun here",
            feeds={
                argument: renamed.get(source, f"{own}{source}")
                for argument, source in line.sources.items()
            },
        )
        for line in should.sheet.lines
    ]
    lines.append(
        Line(
            f"{at}.same_basis_price",
            price_of_own_yarn,
            {"should_cost": f"{own}should_cost"},
            f"{at.capitalize()} spun here, at should-cost",
        )
    )
    return ChosenYarn(slot, f"{OWN}{route}", route, route, tuple(lines), inputs, None, None)


def _shared_name(route: str, name: str, own: str) -> str:
    key = f"{route}.{name.removesuffix('_charge')}"
    by_count = name == NO_STAGE or key not in KINDS or KINDS[key].by_count
    return f"{own}{name}" if by_count else key


@dataclass(frozen=True, eq=False)
class Costing:
    """A construction, its yarns (one for each slot) and the assumptions, costed on a basis.

    assumptions: in the reporting currency
    """

    construction: Construction
    basis: Basis
    assumptions: AssumptionSet
    yarns: tuple[ChosenYarn, ...]

    @property
    def key(self) -> str:
        """`Q14/Q20`, warp first."""
        return "/".join(yarn.name for yarn in self.yarns)

    @cached_property
    def fabric(self) -> Sheet:
        """The fabric sheet alone, which takes a price and a count for each yarn."""
        return fabric_sheet(self.construction, self.basis.loom_rule)

    @cached_property
    def _assumed(self) -> dict[str, Input]:
        """Inputs of the fabric sheet but prices and counts, with the stops of the yarns."""
        rule = self.basis.loom_rule
        found = fabric_inputs(self.construction, self.assumptions, rule)
        for yarn in self.yarns if rule == FROM_STOPS else ():
            stops = stops_of(yarn.slot, yarn.spinning, yarn.offer, self.assumptions)
            found[f"{yarn.slot.name}.stops"] = stops
        return found

    @cached_property
    def fabric_values(self) -> dict[str, Input]:
        """Inputs of the fabric sheet: the construction, the assumptions, price and count."""
        values = dict(self._assumed)
        for yarn in self.yarns:
            at = yarn.slot.name
            values[f"{at}.costing_ne"] = yarn.ne
            values[f"{at}.same_basis_price"] = Input(
                yarn.price, f"{at.capitalize()} price per kg, same basis", "¤/kg", yarn.name
            )
        return values

    @cached_property
    def figures(self) -> dict[str, float]:
        """Every figure of the fabric sheet."""
        values = {name: float(entry.value) for name, entry in self.fabric_values.items()}
        return {key: float(value) for key, value in self.fabric.evaluate(values).items()}

    @cached_property
    def sheet(self) -> Sheet:
        """The whole sheet, from what was quoted or assumed on."""
        return Sheet((*(line for yarn in self.yarns for line in yarn.lines), *self.fabric.lines))

    @cached_property
    def inputs(self) -> dict[str, Input]:
        """Every input of the whole sheet."""
        found = dict(self._assumed)
        for yarn in self.yarns:
            found |= yarn.inputs
        return found

    def option(self, figure: str = "fabric_cost") -> Option:
        """The whole costing as an option for break-evens."""
        return Option(self.sheet, self.inputs, figure)

    def cloth(self, figure: str) -> Option:
        """The fabric sheet alone as an option: prices per kg and counts are inputs."""
        return Option(self.fabric, self.fabric_values, figure)


def landed_again(costing: Costing, construction: Construction, rates: RateBook) -> Costing:
    """The same yarns in a changed construction; price breaks follow the quantity it needs."""
    yarns = []
    for yarn, slot in zip(costing.yarns, construction.slots, strict=True):
        if yarn.offer is None or not yarn.offer.breaks or yarn.held:
            yarns.append(replace(yarn, slot=slot))
            continue
        tonnes = tonnes_needed(slot, construction, costing.basis.metres_of(construction))
        landing = land(yarn.offer, costing.basis, rates, prefix=slot.name, tonnes=tonnes)
        count = {f"{slot.name}.costing_ne": yarn.ne}
        yarns.append(
            replace(yarn, slot=slot, lines=landing.sheet.lines, inputs={**landing.inputs, **count})
        )
    return replace(costing, construction=construction, yarns=tuple(yarns))
