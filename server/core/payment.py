"""Payment terms as days, days as money, and capital as a yearly cost."""

from __future__ import annotations

from typing import Annotated, Any

from server.core.elementary import power
from server.core.formula import formula
from server.core.quantities import (
    Days,
    Factor,
    Money,
    MoneyPerKg,
    PositiveFactor,
    PricePerKg,
    Quantity,
    Share,
    SharePerYear,
    YearDays,
)

InterestOfPeriod = Annotated[Any, Quantity("share", above=0.0, most=10.0)]
DiscountShare = Annotated[Any, Quantity("share", least=0.0, most=0.95)]
DaySpan = Annotated[Any, Quantity("d", above=0.0)]


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
    *,
    purchase_price: Money,
    salvage_value: Money,
    life_years: PositiveFactor,
    interest: InterestOfPeriod,
) -> Money:
    """Cost of a machine for one year: annuity on what is used up, interest on what is left.

    purchase_price: price of the machine, installed [¤]
    salvage_value: value at the end of its life [¤]
    life_years: number of years of use [×]
    interest: interest for one year, above zero [share]
    """
    recovery = capital_recovery_factor(period_interest=interest, periods=life_years)
    return (purchase_price - salvage_value) * recovery + salvage_value * interest


@formula(source="definition: days weighted by the share paid on them")
def payment_day_of_three(
    *,
    first_share: Share,
    first_day: Days,
    second_share: Share,
    second_day: Days,
    third_day: Days,
) -> Days:
    """Day of payment averaged over three instalments, counted from the order.

    first_share: share paid with the first instalment [share]
    first_day: day of the first instalment [d]
    second_share: share paid with the second instalment [share]
    second_day: day of the second instalment [d]
    third_day: day the rest is paid [d]
    Limits: the first two shares together are at most one; simple interest only.
    """
    return (
        first_share * first_day
        + second_share * second_day
        + (1 - first_share - second_share) * third_day
    )


@formula(
    source="simple interest; day count as stated (ISDA: act/360 for USD and EUR money markets)"
)
def cash_equivalent_price(
    *,
    invoice_price: PricePerKg,
    cost_of_money: SharePerYear,
    credit_days: Days,
    year_days: YearDays,
) -> PricePerKg:
    """Price at sight that is worth as much as the price on free credit.

    invoice_price: price paid at the end of the credit [¤/kg]
    cost_of_money: simple interest [share/a]
    credit_days: days the seller waits for the money without charging for them [d]
    year_days: days of the interest year, 360 or 365 [d/a]
    """
    return invoice_price / (1 + cost_of_money * credit_days / year_days)


@formula(source="HP 10bII+ user's guide, p. 138 (annual rate of a cash discount)")
def cash_discount_rate(
    *, discount_share: DiscountShare, discount_days: Days, net_days: Days, year_days: YearDays
) -> SharePerYear:
    """Yearly rate earned by taking a cash discount, simple interest on the sum paid.

    discount_share: taken off the price when paid early [share]
    discount_days: last day for the discount [d]
    net_days: day the full price is due, later than the discount [d]
    year_days: days of the interest year, 360 or 365 [d/a]
    """
    return discount_share / (1 - discount_share) * (year_days / (net_days - discount_days))


@formula(source="rule of thumb; answers.google.com 566670 shows it for 2/10 net 30")
def cash_discount_rate_on_full_price(
    *, discount_share: DiscountShare, discount_days: Days, net_days: Days, year_days: YearDays
) -> SharePerYear:
    """Yearly rate of a cash discount, simple interest on the full price.

    discount_share: taken off the price when paid early [share]
    discount_days: last day for the discount [d]
    net_days: day the full price is due, later than the discount [d]
    year_days: days of the interest year, 360 or 365 [d/a]
    Limits: understates the rate, because only the price less the discount is paid.
    """
    return discount_share * (year_days / (net_days - discount_days))


@formula(source="business2press.com (effective annual rate of a cash discount)")
def cash_discount_yield(
    *, discount_share: DiscountShare, discount_days: Days, net_days: Days, year_length: DaySpan
) -> Factor:
    """Gain of one year from taking a cash discount again and again, compounded.

    discount_share: taken off the price when paid early [share]
    discount_days: last day for the discount [d]
    net_days: day the full price is due, later than the discount [d]
    year_length: days the gain runs over, 365 for a year [d]
    """
    return power(1 / (1 - discount_share), year_length / (net_days - discount_days)) - 1


@formula(source="Blank & Tarquin, Engineering Economy (A/P factor)")
def capital_recovery_factor(
    *, period_interest: InterestOfPeriod, periods: PositiveFactor
) -> Factor:
    """Equal payment for each period on one unit of money borrowed now.

    period_interest: interest for one period, above zero [share]
    periods: number of periods, payment at the end of each [×]
    """
    growth = power(1 + period_interest, periods)
    return period_interest * growth / (growth - 1)


@formula(source="Blank & Tarquin, Engineering Economy (A/F factor)")
def sinking_fund_factor(*, period_interest: InterestOfPeriod, periods: PositiveFactor) -> Factor:
    """Equal payment for each period that grows to one unit of money at the end.

    period_interest: interest for one period, above zero [share]
    periods: number of periods, payment at the end of each [×]
    """
    return period_interest / (power(1 + period_interest, periods) - 1)


@formula(source="Blank & Tarquin, Engineering Economy (capital recovery with a sinking fund)")
def capital_cost_from_factors(
    *,
    purchase_price: Money,
    recovery_factor: Factor,
    salvage_value: Money,
    sinking_factor: Factor,
) -> Money:
    """Capital cost of a period: the price recovered less what saving for the salvage value takes.

    purchase_price: price of the machine, installed [¤]
    recovery_factor: capital recovery factor, A/P [×]
    salvage_value: value at the end of its life [¤]
    sinking_factor: sinking fund factor, A/F [×]
    """
    return purchase_price * recovery_factor - salvage_value * sinking_factor


@formula(source="Blank & Tarquin, Engineering Economy (P/F factor)")
def present_worth(
    *, later_amount: Money, period_interest: InterestOfPeriod, periods: PositiveFactor
) -> Money:
    """What a sum paid later is worth now.

    later_amount: sum paid at the end [¤]
    period_interest: interest for one period, above zero [share]
    periods: number of periods until it is paid [×]
    """
    return later_amount / power(1 + period_interest, periods)


@formula(source="Blank & Tarquin, Engineering Economy (P/A factor)")
def present_worth_of_series(
    *, period_amount: Money, period_interest: InterestOfPeriod, periods: PositiveFactor
) -> Money:
    """What equal sums paid at the end of each period are worth now.

    period_amount: sum paid each period [¤]
    period_interest: interest for one period, above zero [share]
    periods: number of periods [×]
    """
    return period_amount / capital_recovery_factor(period_interest=period_interest, periods=periods)


@formula(source="Blank & Tarquin, Engineering Economy (capitalized cost)")
def present_worth_of_perpetuity(
    *, period_amount: Money, period_interest: InterestOfPeriod
) -> Money:
    """What equal sums paid each period for ever are worth now.

    period_amount: sum paid each period [¤]
    period_interest: interest for one period, above zero [share]
    """
    return period_amount / period_interest
