"""Which offers can still be used: validity, arrival, and the age of the rates they rest on.

Days are whole calendar days. An offer is good on its last day; yarn is in time on the need-by day.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property, partial

import numpy as np
from numpy.typing import NDArray

from server.core.candidates import Candidate, Direction
from server.core.compare import Comparison, Pair
from server.core.construction import Basis
from server.core.duty import goods_of
from server.core.errors import CreelbookError
from server.core.gate import POSSIBLE, Standing
from server.core.offer import HUNDREDTHS, Offer
from server.core.rates import Lane, RateBook
from server.core.rates_used import DUTY, EXCHANGE, LANE, LONGEST_AGE_DAYS

EXPIRED = "expired"
BEFORE_MEETING = "expires before the meeting"
BEFORE_ORDER = "expires before the order"
LATE = "arrives too late"
NO_VALIDITY = "validity not said"
QUESTIONS = "open questions"
NO_ARRIVAL = "arrival not known"
OPEN = "open"
STATES = (
    OPEN, BEFORE_MEETING, BEFORE_ORDER, EXPIRED, LATE, NO_VALIDITY, QUESTIONS, NO_ARRIVAL,
)  # fmt: skip
ENDED = (EXPIRED, BEFORE_MEETING, BEFORE_ORDER)


@dataclass(frozen=True, slots=True)
class RateUse:
    """One dated row an offer's landed price rests on, and how old it is on the as-of day."""

    kind: str
    name: str
    on: date
    age_days: int
    where: str

    @property
    def is_old(self) -> bool:
        """Whether it is older than such a rate should be."""
        return self.age_days > LONGEST_AGE_DAYS[self.kind]


@dataclass(frozen=True)
class Fresh:
    """One offer against the days that matter.

    days_left: as-of day to the last valid day, negative when it is over [d]; None when not said
    arrives_on: order day, lead time and transit together; last_order_day: latest order in time
    rates: dated rows it rests on; missing: rates that are not there, as sentences
    """

    offer: Offer
    state: str
    days_left: int | None
    arrives_on: date | None
    last_order_day: date | None
    rates: tuple[RateUse, ...]
    missing: tuple[str, ...]

    @property
    def old_rates(self) -> tuple[RateUse, ...]:
        """Rows older than they should be."""
        return tuple(each for each in self.rates if each.is_old)

    @property
    def question_count(self) -> int:
        """Things the seller has not said."""
        return len(self.offer.open_questions)


def fresh_offers(
    offers: Iterable[Offer], basis: Basis, rates: RateBook, order: date
) -> tuple[Fresh, ...]:
    """Every offer against as-of day, meeting, order and need-by day; each rate is sought once."""
    seeker = _Seeker(basis, rates)
    return tuple(_fresh(offer, basis, order, seeker) for offer in offers)


def state_of(offer: Offer, basis: Basis, order: date, transit_days: int | None) -> str:
    """The first of the states that holds: what ended, then what is late, then what is not known.

    transit_days: from the seller's country [d]; None when no freight lane is entered
    """
    last = offer.valid_until
    if last is not None:
        for day, state in (
            (basis.as_of, EXPIRED),
            (basis.meeting, BEFORE_MEETING),
            (order, BEFORE_ORDER),
        ):
            if last < day:
                return state
    way = (
        None if offer.lead_days is None or transit_days is None else offer.lead_days + transit_days
    )
    if way is not None and way > (basis.need_by - order).days:
        return LATE
    if last is None:
        return NO_VALIDITY
    if offer.open_questions:
        return QUESTIONS
    return OPEN if transit_days is not None else NO_ARRIVAL


def _fresh(offer: Offer, basis: Basis, order: date, seeker: _Seeker) -> Fresh:
    lane = seeker.lane(offer.country)
    transit = None if isinstance(lane, str) else lane.transit_days
    way = None if offer.lead_days is None or transit is None else offer.lead_days + transit
    last = offer.valid_until
    uses, missing = seeker.rates_of(offer)
    return Fresh(
        offer,
        state_of(offer, basis, order, transit),
        None if last is None else (last - basis.as_of).days,
        None if way is None else _moved(order, way),
        None if way is None else _moved(basis.need_by, -way),
        uses,
        missing,
    )


def _moved(day: date, days: int) -> date | None:
    try:
        return day + timedelta(days)
    except OverflowError:  # no calendar goes there
        return None


class _Seeker:
    """Looks each rate up once, however many offers rest on it; a missing one is its sentence."""

    def __init__(self, basis: Basis, rates: RateBook) -> None:
        self.basis, self.rates = basis, rates
        self._lanes: dict[str, Lane | str] = {}
        self._uses: dict[Hashable, RateUse | str] = {}

    def lane(self, country: str) -> Lane | str:
        """The freight lane from a country."""
        if country not in self._lanes:
            try:
                self._lanes[country] = self.rates.lane(country, self.basis.rates_on)
            except CreelbookError as absent:
                self._lanes[country] = absent.message
        return self._lanes[country]

    def rates_of(self, offer: Offer) -> tuple[tuple[RateUse, ...], tuple[str, ...]]:
        """The dated rows an offer rests on, and sentences for those that are not there."""
        lane = self.lane(offer.country)
        found: list[RateUse | str] = []
        currencies = [HUNDREDTHS.get(offer.currency, offer.currency)]
        if isinstance(lane, str):
            found.append(lane)
        else:
            found.append(self._use(LANE, lane.route, lane.valid_from, f"/rates/lanes/{lane.id}"))
            if lane.freight or lane.inland:
                currencies.append(lane.currency)
            if not lane.domestic:
                key = ("duty", offer.country, goods_of(offer.yarn))
                found.append(self._once(key, lambda: self._duty(offer)))
        for currency in dict.fromkeys(currencies):
            if currency and currency != self.basis.currency:
                found.append(self._once(currency, partial(self._exchange, currency)))
        return (
            tuple(each for each in found if isinstance(each, RateUse)),
            tuple(each for each in found if isinstance(each, str)),
        )

    def _once(self, key: Hashable, seek: Callable[[], RateUse]) -> RateUse | str:
        if key not in self._uses:
            try:
                self._uses[key] = seek()
            except CreelbookError as absent:
                self._uses[key] = absent.message
        return self._uses[key]

    def _use(self, kind: str, name: str, on: date, where: str) -> RateUse:
        return RateUse(kind, name, on, (self.basis.as_of - on).days, where)

    def _duty(self, offer: Offer) -> RateUse:
        row = self.rates.duty(offer.country, self.basis.rates_on, offer.yarn).rate
        return self._use(DUTY, row.name, row.valid_from, f"/rates/duties/{row.id}")

    def _exchange(self, currency: str) -> RateUse:
        on = self.basis.rates_on
        entry, _ = self.rates.exchange(currency, self.basis.currency, on)
        name = entry.as_entered or entry.label
        return self._use(EXCHANGE, name, entry.on or on, entry.where or "/rates")


@dataclass(frozen=True, slots=True)
class Lost:
    """One place in the cloth: the expired offer that would win, and the valid one that wins."""

    expired: Candidate
    instead: Candidate | None


@dataclass(frozen=True)
class Winner:
    """The cheapest pair if every expired offer still held, beside the cheapest that holds.

    revived: with expired offers at their old prices; valid: of offers valid on the meeting day
    """

    comparison: Comparison
    revived: Pair | None
    valid: Pair | None

    @cached_property
    def lost(self) -> tuple[Lost, ...]:
        """Places of the pair that would win whose offer has expired."""
        meeting = self.comparison.basis.meeting
        instead = {each.slot.name: each for each in self.valid.members} if self.valid else {}
        return tuple(
            Lost(each, instead.get(each.slot.name))
            for each in (self.revived.members if self.revived else ())
            if each.offer.valid_until is not None and each.offer.valid_until < meeting
        )

    @property
    def difference(self) -> float | None:
        """What the loss of the expired offers costs [¤/m]; None when a pair is missing."""
        if self.revived is None or self.valid is None:
            return None
        return self.valid.figures["fabric_cost"] - self.revived.figures["fabric_cost"]


def winner_of(comparison: Comparison) -> Winner:
    """Both winners of a comparison, from the costs it has already worked out.

    An offer comes back when nothing but its validity keeps it out. Yarns of further slots stay
    those of the comparison.
    """
    rows, columns = (_usable_if_valid(each) for each in (comparison.warp, comparison.filling))
    revived = None
    if len(rows) and len(columns):
        costs = comparison.grid.fabric_cost[np.ix_(rows, columns)]
        row, column = divmod(int(costs.argmin()), len(columns))
        revived = comparison.pair(int(rows[row]), int(columns[column]))
    return Winner(comparison, revived, comparison.leader)


def _usable_if_valid(direction: Direction) -> NDArray[np.intp]:
    if not all(_possible_if_valid(each) for each in direction.companions):
        return np.empty(0, dtype=np.intp)
    return np.array(
        [place for place, each in enumerate(direction.candidates) if _possible_if_valid(each)],
        dtype=np.intp,
    )


def _possible_if_valid(candidate: Candidate) -> bool:
    if candidate.standing.state == POSSIBLE:
        return True
    rest = tuple(each for each in candidate.standing.findings if each.about != "validity")
    return Standing(rest).state == POSSIBLE
