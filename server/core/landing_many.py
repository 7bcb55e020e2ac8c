"""The prices of many offers at once, to the last bit what `land` gives for each.

What decides an offer's landed sheet (currency, country, term, payment, fibre mix and, where duty
breaks by yarn, the goods) repeats. `land` is asked once for each such manner of coming; sheets of
the same shape, whatever their inputs are called, are then evaluated on arrays of all their offers.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from server.core.construction import Basis
from server.core.duty import goods_of
from server.core.errors import CreelbookError
from server.core.landing import Landing, land, refuse_unsaid
from server.core.offer import KG_PER_PRICE_UNIT, Offer
from server.core.rates import RateBook

FIGURES = ("goods_price", "landed_price", "same_basis_price")
_PREFIX = "offer"
_OWN = ("quoted_price", "tax_inside", "unit_mass_kg", "lead_days", "quoted_regain")

# A formula with its arguments, each by the place of the input or the step that feeds it.
_Step = tuple[Callable[..., Any], tuple[tuple[str, int], ...]]


@dataclass(frozen=True, slots=True)
class Priced:
    """What an offer costs [¤/kg], or why that cannot be said.

    missing: the sentence of the error `land` raises; the prices are None then
    """

    goods_price: float | None
    landed_price: float | None
    same_basis_price: float | None
    missing: str = ""


@dataclass(frozen=True, slots=True)
class _Shape:
    """A sheet without names: steps over places. wanted: places of FIGURES."""

    inputs: int
    steps: tuple[_Step, ...]
    wanted: tuple[int, ...]

    def evaluate(self, rows: Sequence[Sequence[float]]) -> list[list[float]]:
        """FIGURES of every row of inputs."""
        places: list[Any] = list(np.array(rows, dtype=float).T)
        for formula, arguments in self.steps:
            places.append(formula(**{name: places[place] for name, place in arguments}))
        count = len(rows)
        figures = [np.broadcast_to(places[place], count) for place in self.wanted]
        return np.stack(figures, axis=1).tolist()  # type: ignore[no-any-return]


@dataclass(frozen=True, slots=True)
class _Manner:
    """How offers alike come to the mill.

    values: inputs of the shape; own: places among them of what each offer says for itself (_OWN)
    """

    shape: _Shape
    values: tuple[float, ...]
    own: tuple[int, ...]


class ManyLandings:
    """Prices offers on one basis with one rate book; what it learned serves the next offers too."""

    def __init__(self, basis: Basis, rates: RateBook) -> None:
        self.basis, self.rates = basis, rates
        self._manners: dict[tuple[Any, ...], _Manner | str] = {}
        self._shapes: dict[_Shape, _Shape] = {}

    def prices(self, offers: Iterable[Offer]) -> list[Priced]:
        """The prices of the offers, in their order."""
        found: list[Priced | None] = []
        alike: dict[int, tuple[_Shape, list[int], list[list[float]]]] = {}
        for place, offer in enumerate(offers):
            manner = self._manner(offer)
            if isinstance(manner, str):
                found.append(Priced(None, None, None, manner))
                continue
            found.append(None)
            _, places, rows = alike.setdefault(id(manner.shape), (manner.shape, [], []))
            places.append(place)
            rows.append(_filled(manner, offer))
        for shape, places, rows in alike.values():
            for place, (goods, landed, same) in zip(places, shape.evaluate(rows), strict=True):
                found[place] = Priced(goods, landed, same)
        return [each for each in found if each is not None]

    def _manner(self, offer: Offer) -> _Manner | str:
        """How an offer comes to the mill, or why that cannot be said."""
        try:
            refuse_unsaid(offer)
        except CreelbookError as unsaid:
            return str(unsaid)
        key = (
            offer.currency,
            offer.country,
            offer.term,
            offer.payment,
            offer.yarn.fibre_mix,
            goods_of(offer.yarn) if offer.country in self._by_yarn else None,
        )
        manner = self._manners.get(key)
        if manner is None:
            try:
                landing = land(offer, self.basis, self.rates, prefix=_PREFIX)
                manner = self._read(landing)
            except CreelbookError as missing:
                manner = str(missing)
            self._manners[key] = manner
        return manner

    @cached_property
    def _by_yarn(self) -> frozenset[str]:
        """Countries whose duty depends on the yarn."""
        return frozenset(each.country for each in self.rates.duties if each.conditions)

    def _read(self, landing: Landing) -> _Manner:
        """A landing as its shape and the inputs in the order of the shape."""
        wanted = tuple(landing.key(name) for name in FIGURES)
        plan = landing.sheet.plan(wanted)
        lines = {key for key, _, _ in plan}
        inputs = {
            source: None for _, _, feeds in plan for _, source in feeds if source not in lines
        }
        place = {
            name: number for number, name in enumerate((*inputs, *(key for key, _, _ in plan)))
        }
        shape = _Shape(
            len(inputs),
            tuple(
                (formula, tuple((name, place[source]) for name, source in feeds))
                for _, formula, feeds in plan
            ),
            tuple(place[key] for key in wanted),
        )
        return _Manner(
            self._shapes.setdefault(shape, shape),
            tuple(float(landing.inputs[name].value) for name in inputs),
            tuple(place[landing.key(name)] for name in _OWN),
        )


def _filled(manner: _Manner, offer: Offer) -> list[float]:
    """The inputs of one offer: those of its manner with what it says for itself (_OWN)."""
    row = list(manner.values)
    price, tax, mass, lead, regain = manner.own
    row[price] = float(offer.price)
    row[tax] = offer.tax_inside
    row[mass] = KG_PER_PRICE_UNIT[offer.price_unit]
    row[lead] = float(offer.lead_days or 0)
    row[regain] = offer.quoted_regain or 0.0
    return row
