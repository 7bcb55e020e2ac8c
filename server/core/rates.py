"""Dated rates: exchange, freight lanes, duty, charges. Each with its day and its source."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from typing import Annotated, Any, TypeVar

from server.core.duty import ChosenDuty, Goods, choose_duty, goods_of
from server.core.duty import DutyRate as DutyRate
from server.core.errors import Missing
from server.core.formula import formula
from server.core.offer import Yarn
from server.core.quantities import ExchangeRate as ExchangeRateUnit
from server.core.quantities import Money, Quantity, QuotedMoney
from server.core.sheet import Input

InverseRate = Annotated[Any, Quantity("¤q/¤", above=0.0)]

CHARGES = {
    "insurance_rate": ("Insurance premium on the insured value", "share"),
    "insured_share": ("Insured value on CIF", "×"),
    "clearance_rate": ("Clearance and broker on CIF value", "share"),
    "exw_origin_charge": ("Origin haulage and export clearance, EXW", "¤/kg"),
    "fca_origin_charge": ("Origin handling to the main carrier, FCA", "¤/kg"),
    "cost_of_money": ("Cost of money", "share/a"),
    "year_days": ("Days of the interest year", "d/a"),
    "lc_sight_days": ("Shipment to payment, letter of credit at sight", "d"),
    "documents_days": ("Shipment to payment against documents", "d"),
}


@dataclass(frozen=True, slots=True)
class ExchangeRate:
    """1 `base` = `rate` `quote`, on a day."""

    id: int
    base: str
    quote: str
    rate: float
    valid_from: date
    source: str


@dataclass(frozen=True, slots=True)
class Lane:
    """How yarn comes from a country to the mill.

    freight: for one load, in `currency`
    inland: from the port of entry to the mill, per kilogram, in `currency`
    domestic: no customs, no clearance
    """

    id: int
    country: str
    route: str
    freight: float
    load_mass_kg: float
    inland: float
    transit_days: int
    currency: str
    domestic: bool
    valid_from: date
    source: str


@dataclass(frozen=True, slots=True)
class Charge:
    """One of CHARGES, on a day. currency: of a charge in money; "" for the others."""

    id: int
    key: str
    value: float
    valid_from: date
    source: str
    currency: str = ""


@formula(source="definition of the exchange rate")
def inverse_exchange_rate(*, units_per_reporting: InverseRate) -> ExchangeRateUnit:
    """Reporting currency for one unit of a currency whose rate is quoted the other way.

    units_per_reporting: units of the quoted currency for one of the reporting currency [¤q/¤]
    """
    return 1 / units_per_reporting


@formula(source="definition of the exchange rate")
def hundredth_of(*, exchange_rate_of_whole: ExchangeRateUnit) -> ExchangeRateUnit:
    """Exchange rate of a hundredth, for prices quoted in cents.

    exchange_rate_of_whole: reporting currency for one whole unit [¤/¤q]
    """
    return exchange_rate_of_whole / 100


@formula(source="definition of the exchange rate")
def exchange_rate_used(*, exchange_rate: ExchangeRateUnit) -> ExchangeRateUnit:
    """Reporting currency for one unit of the currency of the quote.

    exchange_rate: the rate on the day of the rates [¤/¤q]
    """
    return exchange_rate


@formula(source="definition of the exchange rate")
def money_moved(*, amount: QuotedMoney, exchange_rate: ExchangeRateUnit) -> Money:
    """An amount in the reporting currency.

    amount: the amount in its own currency [¤q]
    exchange_rate: reporting currency for one unit of that currency [¤/¤q]
    """
    return amount * exchange_rate


Dated = TypeVar("Dated", ExchangeRate, Lane, Charge)


@dataclass(frozen=True)
class RateBook:
    """All rates, of all days; a look-up takes the newest that holds on the day asked for."""

    exchange_rates: tuple[ExchangeRate, ...]
    lanes: tuple[Lane, ...]
    duties: tuple[DutyRate, ...]
    charges: tuple[Charge, ...]

    def exchange(self, currency: str, reporting: str, on: date) -> tuple[Input, bool]:
        """The rate between two currencies, and whether it is quoted the other way round.

        Gives (input, inverse): inverse is True when the figure is units of `currency` for one of
        `reporting`, as most currencies are quoted against the dollar.
        """
        if currency == reporting:
            return (
                Input(1.0, f"{currency} is the reporting currency", "¤/¤q", "definition", on),
                False,
            )
        found = _newest(
            [
                rate
                for rate in self.exchange_rates
                if {rate.base, rate.quote} == {currency, reporting}
            ],
            on,
        )
        if found:
            return self._as_input(found), found.base == reporting
        return self._cross(currency, reporting, on), False

    def _cross(self, currency: str, reporting: str, on: date) -> Input:
        known = {rate.base for rate in self.exchange_rates} | {
            rate.quote for rate in self.exchange_rates
        }
        for via in sorted(known - {currency, reporting}):
            first, second = self._single(currency, via, on), self._single(via, reporting, on)
            if first and second:
                return Input(
                    first.value * second.value,
                    f"{reporting} for one {currency}, by way of {via}",
                    "¤/¤q",
                    "; ".join({first.source: None, second.source: None}),
                    min(day for day in (first.on, second.on) if day),
                    f"{first.as_entered}; {second.as_entered}",
                    "/rates",
                )
        raise Missing(
            f"No exchange rate between {currency} and {reporting} on {on.isoformat()}.",
            field="currency",
            value=currency,
            remedy="Enter the rate on the Rates page, with its day and source.",
        )

    def _single(self, currency: str, reporting: str, on: date) -> Input | None:
        found = _newest(
            [
                rate
                for rate in self.exchange_rates
                if {rate.base, rate.quote} == {currency, reporting}
            ],
            on,
        )
        if found is None:
            return None
        entry = self._as_input(found)
        if found.base == currency:
            return entry
        return replace(entry, value=1 / found.rate, unit="¤/¤q")

    @staticmethod
    def _as_input(rate: ExchangeRate) -> Input:
        return Input(
            rate.rate,
            f"{rate.quote} for one {rate.base}",
            f"{rate.quote}/{rate.base}",
            rate.source,
            rate.valid_from,
            f"1 {rate.base} = {rate.rate:g} {rate.quote}",
            f"/rates/exchange/{rate.id}",
        )

    def lane(self, country: str, on: date) -> Lane:
        """The freight lane from a country, as of a day."""
        return self._needed(
            [lane for lane in self.lanes if lane.country == country],
            on,
            f"freight lane from {country}",
            country,
        )

    def duty(self, country: str, on: date, yarn: Yarn) -> ChosenDuty:
        """The duty on a yarn from a country, as of a day; yarns alike to customs ask once."""
        goods = goods_of(yarn)
        known = self._duties_found.get((country, on, goods))
        if known is None:
            known = choose_duty(self.duties, goods, country, on)
            self._duties_found[country, on, goods] = known
        return known

    @cached_property
    def _duties_found(self) -> dict[tuple[str, date, Goods], ChosenDuty]:
        return {}

    def factor(self, currency: str, reporting: str, on: date) -> Input:
        """What one unit of a currency is in the reporting currency, however it is quoted."""
        entry, inverse = self.exchange(currency, reporting, on)
        return replace(entry, value=1 / entry.value, unit="¤/¤q") if inverse else entry

    def charge(self, key: str, on: date) -> Input:
        """One of CHARGES as of a day, money in the currency it was entered in."""
        label, unit = CHARGES[key]
        charge = self._charge(key, on)
        if charge.currency:
            unit = unit.replace("¤", charge.currency)
        return Input(
            charge.value,
            label,
            unit,
            charge.source,
            charge.valid_from,
            "",
            f"/rates/charges/{charge.id}",
        )

    def charge_currency(self, key: str, on: date) -> str:
        """Currency of a charge in money; "" of the others."""
        return self._charge(key, on).currency

    def _charge(self, key: str, on: date) -> Charge:
        return self._needed(
            [charge for charge in self.charges if charge.key == key],
            on,
            f"value for “{CHARGES[key][0]}”",
            key,
        )

    @staticmethod
    def _needed(rates: list[Dated], on: date, what: str, about: str) -> Dated:
        found = _newest(rates, on)
        if found is None:
            raise Missing(
                f"There is no {what} on {on.isoformat()}.",
                field="rates",
                value=about,
                remedy="Enter it on the Rates page, with its day and source.",
            )
        return found


def _newest(rates: list[Dated], on: date) -> Dated | None:
    return max(
        (rate for rate in rates if rate.valid_from <= on),
        key=lambda rate: (rate.valid_from, rate.id),
        default=None,
    )
