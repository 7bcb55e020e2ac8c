"""An offer beside the should-cost of its own yarn: the gap, and the quoted price that closes it.

The target is a price to beat of the should-cost (`break_even`); nothing is solved here.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from server.core.assumptions import AssumptionSet
from server.core.break_even import Option, price_to_beat
from server.core.errors import Missing
from server.core.landing import Landing
from server.core.offer import Offer
from server.core.purchase import price_gap, price_premium
from server.core.sheet import Explanation, Input, Line, Sheet
from server.core.should_cost import ROUTE_OF, ShouldCost, should_cost_of

TARGET = "target"  # the figure that opens the same-basis price at the target


def should_cost_for(offer: Offer, assumptions: AssumptionSet) -> ShouldCost:
    """What the yarn of an offer ought to cost by its own route, at its average count.

    assumptions: in the reporting currency
    Raises Missing with the reason where the yarn is not modelled or the set lacks a value.
    """
    yarn = offer.yarn
    if yarn.core != "none" or yarn.fibre_mix != "cotton":
        what = f"yarn with a core ({yarn.core})" if yarn.core != "none" else yarn.fibre_mix
        raise Missing(
            f"No should-cost: {what} is not modelled, only cotton yarn without a core.",
            field="should_cost",
            remedy="Ask for the seller's own breakdown of fibre and conversion.",
        )
    average, route = yarn.average_ne, ROUTE_OF.get(yarn.spinning)
    if average is None or route is None:
        raise Missing(
            f"No should-cost while the {'average count' if route else 'spinning system'} "
            "is not known.",
            field="should_cost",
            remedy="Ask the seller.",
        )
    return should_cost_of(route, average, assumptions)


@dataclass(frozen=True, eq=False)
class HeldToCost:
    """An offer beside the should-cost of its own yarn, on one sheet.

    target: the quoted price at which the same-basis price is the should-cost, in the seller's own
        unit; None where none is within reach
    """

    should: ShouldCost
    sheet: Sheet
    inputs: dict[str, Input]
    figures: dict[str, float]
    price_key: str
    quoted_key: str
    target: float | None

    @property
    def should_cost(self) -> float:
        """Should-cost, before margin [¤/kg]."""
        return self.figures["should_cost"]

    @property
    def gap(self) -> float:
        """Same-basis price less should-cost [¤/kg]."""
        return self.figures["gap"]

    @property
    def gap_share(self) -> float:
        """The gap, of the should-cost [share]."""
        return self.figures["gap_share"]

    @property
    def quoted(self) -> Input:
        """The price as quoted, in the seller's own unit."""
        return self.inputs[self.quoted_key]

    @property
    def distance(self) -> float | None:
        """How far the target is from the price as quoted [share]."""
        return None if self.target is None else self.target / float(self.quoted.value) - 1

    def at_target(self) -> Explanation:
        """The same-basis price at the target, opened. Raises Missing without a target."""
        if self.target is None:
            raise Missing(
                "No quoted price within 90 % of today's brings the should-cost.",
                field="target",
                remedy="Look at the legs of the delivery instead.",
            )
        was = self.quoted
        moved = replace(
            was, value=self.target, source="at the target", as_entered=f"today {was.value:g}"
        )
        return self.sheet.explain(self.price_key, {**self.inputs, self.quoted_key: moved})


def held_to_cost(landing: Landing, should: ShouldCost) -> HeldToCost:
    """A landed offer held to its should-cost, with the target price."""
    price, quoted = landing.key("same_basis_price"), landing.key("quoted_price")
    pair = {"price": price, "reference_price": "should_cost"}
    sheet = Sheet(
        (
            *landing.sheet.lines,
            *should.sheet.lines,
            Line("gap", price_gap, pair, "Gap to should-cost"),
            Line("gap_share", price_premium, pair, "Gap, of the should-cost"),
        )
    )
    inputs = {**landing.inputs, **should.inputs}
    figures = sheet.evaluate({name: float(entry.value) for name, entry in inputs.items()})
    target = price_to_beat(
        Option(should.sheet, should.inputs, "should_cost"),
        Option(landing.sheet, landing.inputs, price),
        quoted,
    )
    return HeldToCost(
        should,
        sheet,
        inputs,
        {line.key: float(figures[line.key]) for line in sheet.lines},
        price,
        quoted,
        target,
    )
