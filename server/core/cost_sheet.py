"""Cost sheets as mills and merchants write them: for a piece, with percentages one on the other.

A percentage on the cost and the same percentage of the price are not the same money; each formula
says in its name which one it takes.
"""

from __future__ import annotations

from typing import Annotated, Any

from server.core.formula import formula
from server.core.quantities import (
    ExchangeRate,
    LossShare,
    Money,
    MoneyPerMetre,
    MoneyPerYard,
    Quantity,
    Share,
    SignedShare,
    Threads,
    Yard,
)

PositiveYard = Annotated[Any, Quantity("yd", above=0.0)]
PositiveThreads = Annotated[Any, Quantity("threads", above=0.0)]
Deduction = Annotated[Any, Quantity("share", least=0.0, most=0.45)]
QuotedMoneyPerYard = Annotated[Any, Quantity("¤q/yd")]


# Mark-up and margin


@formula(source="ordnur.com, calculation of weaving cost and profit (profit on cost)")
def price_at_mark_up(
    *, cost_per_metre: MoneyPerMetre, mark_up_on_cost: SignedShare
) -> MoneyPerMetre:
    """Price of a metre at a mark-up on its cost.

    cost_per_metre: cost of a metre [¤/m]
    mark_up_on_cost: profit as a share of the cost, not of the price [share]
    """
    return cost_per_metre * (1 + mark_up_on_cost)


@formula(source="definition: the same profit on price and on cost")
def margin_from_mark_up(*, mark_up_on_cost: Share) -> Share:
    """Margin on price that a mark-up on cost leaves.

    mark_up_on_cost: profit as a share of the cost [share]
    """
    return mark_up_on_cost / (1 + mark_up_on_cost)


@formula(source="definition: the same profit on price and on cost")
def mark_up_from_margin(*, margin_on_price: LossShare) -> SignedShare:
    """Mark-up on cost that a margin on price needs.

    margin_on_price: profit as a share of the price [share]
    """
    return margin_on_price / (1 - margin_on_price)


# Losses in a process


@formula(source="ordnur.com, calculation of weaving cost and profit (dyeing waste on grey cost)")
def process_loss_on_cost(
    *, cost_per_metre: MoneyPerMetre, loss_on_cost: LossShare
) -> MoneyPerMetre:
    """What a process loss adds to a metre when it is taken on the cost.

    cost_per_metre: cost of a metre before the process [¤/m]
    loss_on_cost: loss of the process, taken on the cost before it [share]
    Limits: less than what a loss of that share of the length costs.
    """
    return cost_per_metre * loss_on_cost


@formula(source="definition: fewer metres carry the same cost")
def cost_after_length_loss(
    *, cost_per_metre: MoneyPerMetre, length_loss: LossShare
) -> MoneyPerMetre:
    """Cost of a metre after a process in which length is lost.

    cost_per_metre: cost of a metre before the process [¤/m]
    length_loss: length lost, on the length before the process [share]
    """
    return cost_per_metre / (1 - length_loss)


@formula(source="definition of the exchange rate")
def yard_price_in_quote(
    *, price_per_yard: MoneyPerYard, exchange_rate: ExchangeRate
) -> QuotedMoneyPerYard:
    """Price of a yard in the currency it is quoted in.

    price_per_yard: price of a yard in the reporting currency [¤/yd]
    exchange_rate: reporting currency for one unit of the quote currency [¤/¤q]
    """
    return price_per_yard / exchange_rate


# A piece


@formula(source="A. Wolfensberger, Theory of Silk Weaving, 2nd ed. 1921 (cost of a piece)")
def piece_cost(
    *,
    warp_yarn: Money,
    warp_preparation: Money,
    filling_yarn: Money,
    weaving: Money,
    inspection: Money,
    finishing: Money,
    expenses: Money,
) -> Money:
    """Cost of a piece of cloth.

    warp_yarn: warp yarn, waste included [¤]
    warp_preparation: warping, twisting in, sizing [¤]
    filling_yarn: filling yarn, waste included [¤]
    weaving: weaving [¤]
    inspection: picking and inspection [¤]
    finishing: finishing and printing [¤]
    expenses: general expenses of the mill [¤]
    """
    return warp_yarn + warp_preparation + filling_yarn + weaving + inspection + finishing + expenses


@formula(source="A. Wolfensberger, Theory of Silk Weaving, 2nd ed. 1921 (expenses on a subtotal)")
def expenses_on_subtotal(*, subtotal: Money, expense_rate: Share) -> Money:
    """General expenses as a share of what comes before them.

    subtotal: materials, wages and finishing [¤]
    expense_rate: expenses on the subtotal [share]
    """
    return subtotal * expense_rate


@formula(source="A. Wolfensberger, Theory of Silk Weaving, 2nd ed. 1921 (discount and commission)")
def price_of_piece(
    *, cost_of_piece: Money, trade_discount: Deduction, commission: Deduction
) -> Money:
    """Price of a piece that still pays its cost after discount and commission.

    cost_of_piece: cost of the piece [¤]
    trade_discount: discount given, on the price [share]
    commission: commission paid, on the price [share]
    """
    return cost_of_piece / (1 - trade_discount - commission)


@formula(source="definition: a piece over its yards")
def piece_price_per_yard(*, price_of_piece: Money, cloth_length_yd: PositiveYard) -> MoneyPerYard:
    """Price of one yard of a piece.

    price_of_piece: price of the piece [¤]
    cloth_length_yd: cloth in it, both pieces when two are woven side by side [yd]
    """
    return price_of_piece / cloth_length_yd


# Price lists of wages and charges


@formula(source="J. T. Taylor 1909 (Uniform List of weaving prices)")
def with_percentage(*, amount: Money, percentage: SignedShare) -> Money:
    """An amount after a percentage of a list, which the next one is counted on.

    amount: amount before [¤]
    percentage: added, less than zero when taken off [share]
    Limits: the list fixes the order.
    """
    return amount * (1 + percentage)


@formula(source="J. T. Taylor 1909 (Uniform List of weaving prices)")
def charge_for_picks(*, charge_per_pick: Money, picks: Threads) -> Money:
    """Charge for a piece from the charge for each of its picks.

    charge_per_pick: charge for a piece of one pick in the list's length, a quarter inch [¤]
    picks: picks in that length [threads]
    """
    return charge_per_pick * picks


@formula(source="J. T. Taylor 1909 (Uniform List of weaving prices)")
def charge_for_length(*, charge_per_lot: Money, lot_yd: PositiveYard, length_yd: Yard) -> Money:
    """Charge for a length when a list quotes another one.

    charge_per_lot: charge for the length of the list [¤]
    lot_yd: length of the list [yd]
    length_yd: length to be charged [yd]
    """
    return charge_per_lot * length_yd / lot_yd


@formula(source="A. Wolfensberger, Theory of Silk Weaving, 2nd ed. 1921 (warping per 100 ends)")
def charge_for_ends(*, charge_per_lot: Money, lot_ends: PositiveThreads, ends: Threads) -> Money:
    """Charge for a warp when a list quotes a number of ends.

    charge_per_lot: charge for the ends of the list [¤]
    lot_ends: ends of the list [threads]
    ends: ends of the warp [threads]
    """
    return charge_per_lot * ends / lot_ends


@formula(source="H. R. Sheikh, Charges for commission weaving, 2010 (conversion cost of a mill)")
def mill_conversion_cost(
    *,
    finance: Money,
    wages_and_overhead: Money,
    utilities: Money,
    insurance: Money,
    contractors: Money,
    stores_and_size: Money,
) -> Money:
    """Conversion cost of a weaving mill in a period.

    finance: mark-up or interest on loans, zero for commission weaving [¤]
    wages_and_overhead: wages and administration [¤]
    utilities: power, air and steam [¤]
    insurance: insurance [¤]
    contractors: work given out [¤]
    stores_and_size: stores, spares and size [¤]
    """
    return finance + wages_and_overhead + utilities + insurance + contractors + stores_and_size
