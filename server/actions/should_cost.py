"""Should-cost of a yarn by every route, beside the offers near its count."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from server.actions.book import current_book
from server.actions.compare import BasisChange
from server.actions.offers import Landed, landed_offers
from server.actions.what_if import laid_over, used_keys, values_of_set, what_if
from server.core.assumptions import AssumptionSet
from server.core.candidates import COUNT_WINDOW
from server.core.errors import BadValue, CreelbookError, Missing, NotFound
from server.core.process import RoutesCosted
from server.core.sheet import Explanation
from server.core.should_cost import PUBLISHED_BANDS, ROUTE_OF, ROUTES, ShouldCost, should_cost_of
from server.store.session import Engine


@dataclass(frozen=True)
class Gap:
    """An offer beside the should-cost of its own route at its own count.

    explained: landed price less goods: the legs of the delivery [¤/kg]
    unexplained: goods less should-cost: margin and whatever the assumptions do not hold [¤/kg]
    """

    landed: Landed
    should: float
    explained: float
    unexplained: float

    @property
    def gap(self) -> float:
        """Same-basis price less should-cost [¤/kg]."""
        return (self.landed.same_basis_price or 0.0) - self.should


@dataclass(frozen=True)
class Band:
    """A published band, and the modelled conversion cost at its count."""

    route: str
    ne: float
    low: float
    mean: float
    high: float
    source: str
    modelled: float


@dataclass(frozen=True, eq=False)
class ShouldCosts(RoutesCosted):
    """The routes with the offers near their count, and published bands."""

    gaps: tuple[Gap, ...]
    bands: tuple[Band, ...]


def read_ne(text: str, field: str = "ne") -> float:
    """A count from text. Raises BadValue."""
    try:
        ne = float(text)
    except ValueError:
        ne = 0.0
    if not 0.5 <= ne <= 200:
        raise BadValue(
            f"“{text[:20]}” is not a count.",
            field=field,
            value=text,
            unit="Ne",
            remedy="Enter a count in Ne between 0.5 and 200, such as 7.",
        )
    return ne


def should_costs(
    engine: Engine, ne: float, set_name: str = "", typed: Mapping[str, str] | None = None
) -> ShouldCosts:
    """What a yarn of this count ought to cost by ring, rotor and air-jet. Raises NotFound.

    typed: values changed in the address; those in error are named and left out
    """
    book = current_book(engine)
    if not book.assumption_sets:
        raise Missing(
            "There are no assumptions yet.",
            field="assumptions",
            remedy="Enter fibre, preparation, spinning and the other stages with their sources.",
        )
    basis = book.basis() if book.bases else None
    assumptions = book.assumption_set(
        set_name or (basis.assumption_set if basis else book.assumption_sets[0].name)
    )
    asked = what_if(
        values_of_set(engine, assumptions.name) if typed else (),
        used_keys(assumptions) if typed else {},
        typed or {},
    )

    def reported(each: AssumptionSet) -> AssumptionSet:
        return each.in_currency(basis.currency, book.rates, basis.rates_on) if basis else each

    currency = assumptions.currency
    stored, _ = _routes(ne, reported(assumptions))
    assumptions = reported(laid_over(assumptions, asked.changed))
    found, missing = _routes(ne, assumptions)
    return ShouldCosts(
        ne,
        assumptions,
        found,
        {each.route: each for each in stored},
        missing,
        basis.currency if basis else currency,
        currency,
        asked,
        _gaps(landed_offers(engine, BasisChange({}, {})), ne, assumptions),
        _bands(assumptions),
    )


def _routes(ne: float, assumptions: AssumptionSet) -> tuple[tuple[ShouldCost, ...], dict[str, str]]:
    """Every route that has all its assumptions, and why the others have not."""
    found, missing = [], {}
    for route in ROUTES:
        try:
            found.append(should_cost_of(route, ne, assumptions))
        except CreelbookError as absent:
            missing[route] = str(absent)
    return tuple(found), missing


def _gaps(offers: tuple[Landed, ...], ne: float, assumptions: AssumptionSet) -> tuple[Gap, ...]:
    gaps = []
    for landed in offers:
        average, price = landed.offer.yarn.average_ne, landed.same_basis_price
        near = average is not None and abs(average / ne - 1) <= COUNT_WINDOW
        cotton = landed.offer.yarn.core == "none" and landed.offer.yarn.fibre_mix == "cotton"
        if not near or not cotton or average is None or price is None or landed.replaced_by:
            continue
        try:
            route = ROUTE_OF[landed.offer.yarn.spinning]
            should = should_cost_of(route, average, assumptions).figures()["should_cost"]
        except CreelbookError:
            continue
        goods = landed.goods_price or 0.0
        gaps.append(Gap(landed, should, price - goods, goods - should))
    return tuple(sorted(gaps, key=lambda each: each.gap))


def _bands(assumptions: AssumptionSet) -> tuple[Band, ...]:
    bands = []
    for route, ne, low, mean, high, source in PUBLISHED_BANDS:
        try:
            modelled = should_cost_of(route, ne, assumptions).figures()["conversion"]
        except CreelbookError:
            continue
        bands.append(Band(route, ne, low, mean, high, source, modelled))
    return tuple(bands)


def explain_stage(costs: ShouldCosts, route: str, line: str) -> Explanation:
    """One figure of a route, opened. Raises NotFound."""
    for each in costs.routes:
        if each.route == route and line in each.sheet.by_key:
            return each.sheet.explain(line, each.inputs)
    raise NotFound(
        f"There is no figure “{line[:40]}” for {route[:20]}.",
        field="line",
        value=line,
        remedy="Open a figure from the should-cost page.",
    )
