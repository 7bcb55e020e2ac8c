"""Two to five offers side by side: what was said, and the way to the mill leg by leg."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import Any

from server.actions.compare import BasisChange
from server.actions.doubts import doubts_of
from server.actions.offers import PREFIX, Landed, landed_offer
from server.core.doubts import Doubt
from server.core.errors import BadValue
from server.core.landed import LEGS, landed_sheet
from server.core.offer import TEST_PROPERTIES, Offer
from server.store.session import Engine

FEWEST, MOST = 2, 5
IN_THE_PRICE = "in the seller's price"


@dataclass(frozen=True, slots=True)
class Fact:
    """One thing that was said. values: one for each offer, None when it was not said."""

    key: str
    label: str
    unit: str
    values: tuple[Any, ...]


@dataclass(frozen=True, slots=True)
class Step:
    """One step on the way to the mill, one value for each offer [¤/kg].

    values: None where the leg stands inside the seller's price or the offer cannot be landed
    inside: whether the leg stands inside the seller's price
    so_far: the sum up to this step; above: how much it is above the cheapest at this step
    """

    key: str
    title: str
    values: tuple[float | None, ...]
    inside: tuple[bool, ...]
    so_far: tuple[float | None, ...]
    above: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class SideBySide:
    """Offers in columns. steps: the legs; totals: landed and same-basis price."""

    offers: tuple[Landed, ...]
    facts: tuple[Fact, ...]
    steps: tuple[Step, ...]
    totals: tuple[Step, ...]
    tests: tuple[Fact, ...]
    questions: tuple[tuple[str, ...], ...]
    doubts: tuple[tuple[Doubt, ...], ...]

    @property
    def currency(self) -> str:
        """The reporting currency; "" without a basis."""
        return self.offers[0].currency


def side_by_side(
    engine: Engine, codes: Sequence[str], change: BasisChange, basis_name: str = ""
) -> SideBySide:
    """These offers on one basis. Raises BadValue for too few or too many, and NotFound."""
    wanted = tuple(dict.fromkeys(code.strip() for code in codes if code.strip()))
    if not FEWEST <= len(wanted) <= MOST:
        raise BadValue(
            "One offer alone cannot stand side by side."
            if len(wanted) == 1
            else f"{len(wanted)} offers cannot stand side by side.",
            field="offer",
            value=len(wanted),
            remedy=f"Choose {FEWEST} to {MOST} different offers.",
        )
    offers = tuple(landed_offer(engine, code, change, basis_name) for code in wanted)
    return SideBySide(
        offers=offers,
        facts=tuple(
            Fact(key, label, unit, tuple(said(each.offer) for each in offers))
            for key, label, unit, said in _FACTS
        ),
        steps=_steps(offers),
        totals=tuple(
            _total(offers, key) for key in ("landed_price", "same_basis_price")
        ),
        tests=tuple(
            Fact(key, label, unit, tuple(each.offer.tests.get(key) for each in offers))
            for key, (label, unit) in TEST_PROPERTIES.items()
        ),
        questions=tuple(
            tuple(question.sentence for question in each.offer.open_questions) for each in offers
        ),
        doubts=tuple(doubts_of(engine, each, change, basis_name) for each in offers),
    )  # fmt: skip


def _steps(offers: Sequence[Landed]) -> tuple[Step, ...]:
    every = landed_sheet("EXW").by_key  # the term under which the buyer pays every leg
    sums = [
        list(accumulate(each.figures.get(f"{PREFIX}.{leg}", 0.0) for leg in LEGS))
        if each.figures
        else [None] * len(LEGS)
        for each in offers
    ]
    steps = []
    for place, leg in enumerate(LEGS):
        so_far = tuple(column[place] for column in sums)
        values = tuple(each.figures.get(f"{PREFIX}.{leg}") for each in offers)
        steps.append(
            Step(
                leg,
                every[leg].title,
                values,
                tuple(
                    bool(each.figures) and value is None
                    for each, value in zip(offers, values, strict=True)
                ),
                so_far,
                _above(so_far),
            )
        )
    return tuple(steps)


def _total(offers: Sequence[Landed], key: str) -> Step:
    values = tuple(each.figures.get(f"{PREFIX}.{key}") for each in offers)
    title = landed_sheet("EXW").by_key[key].title
    return Step(key, title, values, (False,) * len(values), values, _above(values))


def _above(values: Sequence[float | None]) -> tuple[float | None, ...]:
    known = [value for value in values if value is not None]
    return tuple(None if value is None else value - min(known) for value in values)


def _breaks(offer: Offer) -> str | None:
    steps = [f"from {each.from_tonnes:f} t {each.price:f}" for each in offer.breaks]
    return f"{'; '.join(steps)} ({offer.break_kind})" if steps else None


def _cores(offer: Offer) -> str | None:
    told = [f"{core.denier:g} den at draft {core.draft:g}" for core in offer.yarn.cores]
    return "; ".join(told) or None


def _in_percent(share: float | None) -> float | None:
    return None if share is None else round(share * 100, 6)


_FACTS: tuple[tuple[str, str, str, Callable[[Offer], Any]], ...] = (
    ("supplier", "Supplier", "", lambda offer: offer.supplier.name),
    ("as_quoted", "As quoted", "", lambda offer: offer.as_quoted),
    ("price", "Price as quoted", "", lambda offer: offer.price_text),
    ("breaks", "Price breaks", "", _breaks),
    ("tax_inside", "Tax inside the price", "%", lambda offer: _in_percent(offer.tax_inside)),
    ("term", "Delivery term and place", "", lambda offer: f"{offer.term} {offer.place}".strip()),
    ("ships_from", "Ships from", "", lambda offer: offer.country),
    ("payment", "Payment", "", lambda offer: offer.payment),
    ("regain", "Weight basis (regain)", "%", lambda offer: _in_percent(offer.quoted_regain)),
    ("quoted_on", "Quoted on", "", lambda offer: offer.quoted_on),
    ("valid_until", "Valid until", "", lambda offer: offer.valid_until),
    ("lead_days", "Lead time", "d", lambda offer: offer.lead_days),
    ("moq", "Minimum order", "t", lambda offer: offer.moq_tonnes),
    ("capacity", "Capacity this season", "t", lambda offer: offer.capacity_tonnes),
    ("tolerance", "Count tolerance ±", "%", lambda offer: _in_percent(offer.count_tolerance)),
    ("process", "Process", "", lambda offer: offer.yarn.process),
    ("preparation", "Preparation", "", lambda offer: offer.yarn.preparation),
    ("description", "Seller's description", "", lambda offer: offer.yarn.description),
    ("count", "Count as quoted", "", lambda offer: offer.yarn.count_text),
    ("average_ne", "Average count", "Ne", lambda offer: offer.yarn.average_ne),
    ("twist", "Twist", "", lambda offer: offer.yarn.twist),
    ("core", "Core", "", _cores),
    ("fibre_mix", "Fibre mix", "", lambda offer: offer.yarn.fibre_mix),
    ("origin", "Cotton-origin file", "", lambda offer: offer.supplier.origin_state),
    ("accepted", "Accepted by decision", "", lambda offer: offer.decisions or "nothing"),
    ("notes", "Notes", "", lambda offer: offer.notes),
)
