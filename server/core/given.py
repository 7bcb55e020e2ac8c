"""What a pack's comparisons were made from: enough to make them again, and nothing more."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, TypeVar

from server.core.assumptions import AssumptionSet
from server.core.compare import Comparison, compare
from server.core.construction import Basis, Construction
from server.core.gate import Limit
from server.core.offer import Offer
from server.core.pack import Pack
from server.core.rates import Charge, ExchangeRate, Lane, RateBook

Dated = TypeVar("Dated", ExchangeRate, Lane, Charge)


@dataclass(frozen=True)
class Given:
    """The records behind a pack. Never a part of what a buyer gets.

    assumptions: in the currency they were entered in
    offers: those looked at for a place in any of the constructions
    replaced: offer -> the later offer that replaced it
    """

    basis: Basis
    constructions: tuple[Construction, ...]
    assumptions: AssumptionSet
    rates: RateBook
    offers: tuple[Offer, ...]
    limits: tuple[Limit, ...]
    replaced: Mapping[str, str]

    def construction(self, code: str) -> Construction | None:
        """A construction by its code."""
        return next((each for each in self.constructions if each.code == code), None)

    def offer(self, code: str) -> Offer | None:
        """An offer by its code."""
        return next((each for each in self.offers if each.code == code), None)

    def compare(self, construction: Construction) -> Comparison:
        """The comparison of a construction, made again by the engine of today."""
        current = (offer for offer in self.offers if offer.code not in self.replaced)
        return compare(construction, self.basis, self.assumptions, self.rates, current, self.limits)


@dataclass(frozen=True)
class Frozen:
    """A frozen pack with the records behind it; what is stored, exported and imported."""

    pack: Pack
    given: Given


def given_for(
    comparisons: Iterable[Comparison],
    assumptions: AssumptionSet,
    limits: tuple[Limit, ...],
    replaced: Mapping[str, str],
) -> Given:
    """The records behind some comparisons of one basis; at least one.

    assumptions: as stored, in the currency they were entered in
    """
    found = tuple(comparisons)
    offers: dict[str, Offer] = {}
    for comparison in found:
        for direction in (comparison.warp, comparison.filling):
            candidates = (*direction.candidates, *direction.companions)
            looked_at = [each.offer for each in candidates]
            looked_at += [each.offer for each in direction.unpriced]
            offers |= {offer.code: offer for offer in looked_at}
    basis = found[0].basis
    constructions = {each.construction.code: each.construction for each in found}
    return Given(
        basis=basis,
        constructions=tuple(constructions.values()),
        assumptions=assumptions,
        rates=_rates_on(found[0].rates, basis.rates_on),
        offers=tuple(offers.values()),
        limits=limits,
        replaced=dict(replaced),
    )


def _rates_on(rates: RateBook, on: date) -> RateBook:
    """The rates that hold on a day; what was superseded or is still to come is left out."""
    return RateBook(
        _newest(rates.exchange_rates, on, lambda rate: frozenset((rate.base, rate.quote))),
        _newest(rates.lanes, on, lambda lane: lane.country),
        tuple(duty for duty in rates.duties if duty.valid_from <= on),
        _newest(rates.charges, on, lambda charge: charge.key),
    )


def _newest(rates: tuple[Dated, ...], on: date, about: Any) -> tuple[Dated, ...]:
    newest: dict[Any, Dated] = {}
    for rate in sorted(rates, key=lambda each: (each.valid_from, each.id)):
        if rate.valid_from <= on:
            newest[about(rate)] = rate
    return tuple(newest.values())
