"""A trial house on one day, frozen: what each cause of a walk takes its records from."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Any

from hypothesis import strategies as st

from server.core.assumptions import AssumptionSet
from server.core.compare import Comparison, compare
from server.core.construction import Basis, Construction
from server.core.given import Frozen, given_for
from server.core.loom_behaviour import FROM_STOPS
from server.core.offer import Offer, PriceBreak
from server.core.rates import ExchangeRate, RateBook
from server.core.walk import BASIS, CLOTH, EXCHANGE, FREIGHT, MIX, PRICE, PROCESS
from tests.builders import (
    assumption_set,
    basis,
    charges,
    construction,
    duty_rate,
    lane,
    pack_of,
    rate_book,
    slot,
    supplier,
)
from tests.core.costings import yarn_of

WARP_NE, FILLING_NE = 7.0, 9.0
WOVEN = construction(slots=(slot("warp", ne=WARP_NE), slot("filling", ne=FILLING_NE)))
MOROS = supplier(id=2, name="Moros Twist", country="Farland")


def warp(code: str = "W1", **changes: Any) -> Offer:
    """An offer for the warp."""
    return yarn_of(WARP_NE, code, **changes)


def filling(code: str = "F1", **changes: Any) -> Offer:
    """An offer for the filling, in another currency than the basis."""
    given = {"price": Decimal("1.90"), "currency": "EUR", "supplier": MOROS}
    return yarn_of(FILLING_NE, code, **given | changes)


@dataclass(frozen=True)
class Day:
    """The records of a trial house on one day."""

    offers: tuple[Offer, ...] = (warp(), filling())
    rates: RateBook = rate_book()  # noqa: RUF009  frozen
    basis: Basis = basis()  # noqa: RUF009  frozen
    cloths: tuple[Construction, ...] = (WOVEN,)
    assumptions: AssumptionSet = assumption_set()  # noqa: RUF009  frozen
    replaced: tuple[tuple[str, str], ...] = ()

    def but(self, **changes: Any) -> Day:
        """The same day with other records."""
        return replace(self, **changes)

    def with_offers(self, *offers: Offer) -> Day:
        """The same day with these offers in place of those of their codes, or beside them."""
        codes = {each.code for each in offers}
        return self.but(offers=(*(each for each in self.offers if each.code not in codes), *offers))

    def with_cloth(self, **changes: Any) -> Day:
        """The same day with its first construction changed."""
        return self.but(cloths=(replace(self.cloths[0], **changes), *self.cloths[1:]))

    def with_rates(self, **changes: Any) -> Day:
        """The same day with other rates of a kind."""
        return self.but(rates=replace(self.rates, **changes))

    def with_basis(self, **changes: Any) -> Day:
        """The same day on another basis."""
        return self.but(basis=replace(self.basis, **changes))

    def compared(self) -> tuple[Comparison, ...]:
        """Every construction compared; offers that were replaced are left out."""
        current = [each for each in self.offers if each.code not in dict(self.replaced)]
        return tuple(
            compare(cloth, self.basis, self.assumptions, self.rates, current, ())
            for cloth in self.cloths
        )

    def frozen(self, reference: str = "2026-03-12-tarn-0001", **changes: Any) -> Frozen:
        """The day as a pack with the records behind it."""
        comparisons = self.compared()
        given = given_for(comparisons, self.assumptions, (), dict(self.replaced))
        return Frozen(pack_of(*comparisons, reference=reference, **changes), given)


def two_fillings(share: float = 0.5) -> Construction:
    """The trial cloth with a second filling of this share."""
    return replace(
        WOVEN,
        slots=(
            WOVEN.slots[0],
            slot("filling", ne=9.0, share_of_threads=1 - share),
            slot("filling", ne=7.0, position=2, share_of_threads=share),
        ),
    )


DAY = Day()
STOPS = {
    "fabric__warp_stops.ring": 2.0,
    "fabric__filling_stops.ring": 3.0,
    "fabric__other_stops": 0.4,
    "fabric__warp_repair": 1.5,
    "fabric__filling_repair": 1.0,
    "fabric__other_repair": 2.0,
    "fabric__looms_per_weaver": 12.0,
    "fabric__planned_stops": 0.05,
}
EUR_DEAR = (
    ExchangeRate(3, "EUR", "USD", 1.30, date(2026, 2, 1), "bank"),
    ExchangeRate(2, "USD", "MXN", 17.2, date(2026, 1, 1), "trial"),
)
ALONE: dict[str, tuple[str, Day, Day]] = {
    "a price": (PRICE, DAY, DAY.with_offers(warp(price=Decimal("2.80")))),
    "tax inside": (PRICE, DAY, DAY.with_offers(warp(tax_inside=0.16))),
    "a quoted regain": (PRICE, DAY, DAY.with_offers(warp(quoted_regain=0.07))),
    "a payment": (PRICE, DAY, DAY.with_offers(warp(payment="OA 90"))),
    "a lead time": (PRICE, DAY.with_offers(warp(payment="TT advance")),
                    DAY.with_offers(warp(payment="TT advance", lead_days=40))),
    "a currency": (PRICE, DAY, DAY.with_offers(filling(currency="USD"))),
    "a unit": (PRICE, DAY, DAY.with_offers(warp(price=Decimal("115"), currency="USc",
                                                price_unit="lb"))),
    "a term": (PRICE, DAY, DAY.with_offers(warp(term="CIF"))),
    "an exchange rate": (EXCHANGE, DAY, DAY.with_rates(exchange_rates=EUR_DEAR)),
    "the other way round": (EXCHANGE, DAY, DAY.with_rates(exchange_rates=(
        ExchangeRate(9, "USD", "EUR", 0.80, date(2026, 2, 1), "bank"),))),
    "a freight": (FREIGHT, DAY, DAY.with_rates(lanes=(lane(freight=4100.0),))),
    "the currency of a lane": (FREIGHT, DAY, DAY.with_rates(lanes=(lane(currency="MXN"),))),
    "a duty": (FREIGHT, DAY, DAY.with_rates(duties=(duty_rate(rate=0.12),))),
    "the base of a duty": (FREIGHT, DAY, DAY.with_rates(duties=(duty_rate(base="FOB"),))),
    "the cost of money": (FREIGHT, DAY, DAY.with_rates(charges=charges(cost_of_money=0.12))),
    "days of a payment term": (FREIGHT, DAY, DAY.with_rates(charges=charges(lc_sight_days=21.0))),
    "the house regain": (BASIS, DAY, DAY.with_basis(house_regain={"cotton": 0.07})),
    "picks": (CLOTH, DAY, DAY.with_cloth(loom_ppi=42.5)),
    "a weave": (CLOTH, DAY, DAY.with_cloth(total_ends=4200.0, weave="2/1 twill")),
    "a route": (CLOTH, DAY, DAY.with_cloth(dyeing_route="slasher")),
    "heat setting": (CLOTH, DAY, DAY.with_cloth(heat_set=True)),
    "an assumption": (PROCESS, DAY, DAY.but(assumptions=assumption_set(fabric__loom_hour=4.4))),
    "the loom rule": (PROCESS, DAY.but(assumptions=assumption_set(**STOPS)),
                      DAY.but(assumptions=assumption_set(**STOPS)).with_basis(
                          loom_rule=FROM_STOPS)),
    "a new offer": (MIX, DAY, DAY.with_offers(warp("W2", price=Decimal("2.20")))),
}  # fmt: skip
"""One change, the cause it belongs to, and the two days."""


@st.composite
def days(draw: st.DrawFn) -> Day:
    """A house on a random day: offers, rates, cloth, assumptions and basis of its own."""
    term = st.sampled_from(["EXW", "FOB", "CFR", "CIF", "DAP", "DDP"])
    payment = st.sampled_from(["LC sight", "LC 60", "TT 30/70", "TT advance", "OA 30"])

    def money(low: float, high: float) -> Decimal:
        return Decimal(str(round(draw(st.floats(low, high)), 3)))

    def quoted() -> dict[str, Any]:
        unit = draw(st.sampled_from(["kg", "lb", "t"]))
        scale = {"kg": 1.0, "lb": 0.4536, "t": 1000.0}[unit]
        breaks = (PriceBreak(Decimal("25"), money(1.5 * scale, 3 * scale)),)
        return {
            "price": money(1.5 * scale, 3 * scale),
            "price_unit": unit,
            "currency": draw(st.sampled_from(["USD", "EUR", "MXN"])),
            "term": draw(term),
            "payment": draw(payment),
            "tax_inside": draw(st.sampled_from([0.0, 0.1])),
            "breaks": draw(st.sampled_from([(), breaks])),
        }

    offers = [warp(code, **quoted()) for code in draw(st.sampled_from([("W1",), ("W1", "W2")]))]
    offers += [filling(code, **quoted()) for code in ("F1", "F2")]
    eur, mxn = draw(st.floats(0.9, 1.4)), draw(st.floats(12, 25))
    rates = rate_book(
        exchange_rates=(
            ExchangeRate(1, *draw(st.sampled_from([("EUR", "USD", eur), ("USD", "EUR", 1 / eur)])),
                         date(2026, 1, 1), "trial"),
            ExchangeRate(2, "USD", "MXN", mxn, date(2026, 1, 1), "trial"),
        ),
        lanes=(lane(freight=draw(st.floats(1000, 6000)),
                    currency=draw(st.sampled_from(["USD", "EUR"]))),),
        duties=(duty_rate(rate=draw(st.floats(0, 0.3)),
                          base=draw(st.sampled_from(["CIF", "FOB"]))),),
        charges=charges(cost_of_money=draw(st.floats(0.01, 0.3))),
    )  # fmt: skip
    cloth = draw(st.sampled_from([WOVEN, two_fillings(), two_fillings(0.25)]))
    return (
        Day(
            tuple(offers),
            rates,
            cloths=(replace(cloth, loom_ppi=draw(st.floats(35, 50)),
                            total_ends=draw(st.floats(3500, 4800)),
                            heat_set=draw(st.booleans())),),
            assumptions=replace(
                assumption_set(fabric__loom_hour=draw(st.floats(2, 60)), **STOPS),
                currency=draw(st.sampled_from(["", "MXN"])),
            ),
        ).with_basis(
            house_regain={"cotton": draw(st.floats(0.06, 0.1))},
            quantity=draw(st.sampled_from(["first price", "season"])),
            loom_rule=draw(st.sampled_from(["as assumed", FROM_STOPS])),
        )
    )  # fmt: skip
