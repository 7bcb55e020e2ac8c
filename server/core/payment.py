"""Payment terms as days, days as money, and capital as a yearly cost."""

from __future__ import annotations

from server.core.elementary import power
from server.core.formula import formula
from server.core.quantities import (
    Days,
    Money,
    MoneyPerKg,
    PricePerKg,
    SharePerYear,
    YearDays,
    Years,
)


@formula(source="common practice, no source; counted from the order day")
def days_financed(*, lead_days: Days, transit_days: Days, payment_day: Days) -> Days:
    """Days between payment and arrival of the goods; negative when the seller gives credit.

    lead_days: order to shipment [d]
    transit_days: shipment to arrival at the mill [d]
    payment_day: day of payment counted from the order, averaged over instalments [d]
    """
    return lead_days + transit_days - payment_day


@formula(
    source="simple interest; day count as stated (ISDA: act/360 for USD and EUR money markets)"
)
def financing(
    *,
    invoice_price: PricePerKg,
    cost_of_money: SharePerYear,
    days_financed: Days,
    year_days: YearDays,
) -> MoneyPerKg:
    """Cost of the money tied up between payment and arrival.

    invoice_price: price paid to the seller [¤/kg]
    cost_of_money: simple interest [share/a]
    days_financed: days between payment and arrival [d]
    year_days: days of the interest year, 360 or 365 [d/a]
    """
    return invoice_price * cost_of_money * days_financed / year_days


@formula(source="Blank & Tarquin, Engineering Economy (capital recovery factor)")
def yearly_capital_cost(
    *, purchase_price: Money, salvage_value: Money, life_years: Years, interest: SharePerYear
) -> Money:
    """Yearly cost of a machine: annuity on what is used up, interest on what is left.

    purchase_price: price of the machine, installed [¤]
    salvage_value: value at the end of its life [¤]
    life_years: years of use [a]
    interest: yearly interest, above zero [share/a]
    """
    growth = power(1 + interest, life_years)
    return (purchase_price - salvage_value) * (interest * growth / (growth - 1)) + (
        salvage_value * interest
    )
