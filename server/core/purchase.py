"""Buying: price units, price gaps, breaks, order quantities, tolerances, cost of ownership.

A price break is a line per tier: all-units prices the whole order at the tier reached,
incremental prices each slice at its own tier. Which tiers are reached is decided by the caller,
so no formula asks for it. A price in cents goes through `hundredth_of`, a price for another unit
of mass through `quoted_price_per_kg`, a tax inside the price through `price_without_tax`.
"""

from __future__ import annotations

from typing import Annotated, Any

from server.core.elementary import larger_of, square_root
from server.core.formula import formula
from server.core.quantities import (
    Kilogram,
    Money,
    MoneyPerKg,
    MoneyPerYear,
    Pound,
    PricePerKg,
    Quantity,
    QuotedMoneyPerKg,
    Share,
    SharePerYear,
    SignedShare,
    Tonne,
)
from server.core.units import KG_PER_LB

QuotedMoneyPerLb = Annotated[Any, Quantity("¤q/lb", least=0.0)]
PricePerLb = Annotated[Any, Quantity("¤/lb", least=0.0)]
PricePerTonne = Annotated[Any, Quantity("¤/t", least=0.0)]
PositivePricePerKg = Annotated[Any, Quantity("¤/kg", above=0.0)]
PositiveKilogram = Annotated[Any, Quantity("kg", above=0.0)]
KilogramPerYear = Annotated[Any, Quantity("kg/a", above=0.0)]
CarryingRate = Annotated[Any, Quantity("share/a", above=0.0, most=10.0)]
RelativeChange = Annotated[Any, Quantity("share", least=-1.0, most=10.0)]
TonnePerYear = Annotated[Any, Quantity("t/a", least=0.0)]
Kilometre = Annotated[Any, Quantity("km", least=0.0)]
PricePerTonneKm = Annotated[Any, Quantity("¤/(t·km)", least=0.0)]


@formula(source="international yard and pound agreement of 1959")
def mass_of_pounds(*, pounds: Pound) -> Kilogram:
    """Mass of a price unit stated in pounds: 1 lb, 10 lb, a bale of 400 lb.

    pounds: pounds in the unit [lb]
    """
    return pounds * KG_PER_LB


@formula(source="definition of the metric ton")
def mass_of_tonnes(*, tonnes: Tonne) -> Kilogram:
    """Mass of a price unit stated in metric tons.

    tonnes: metric tons in the unit [t]
    """
    return tonnes * 1000


@formula(source="international yard and pound agreement of 1959")
def quoted_price_per_kg_from_lb(*, price_per_lb: QuotedMoneyPerLb) -> QuotedMoneyPerKg:
    """Price per kilogram from a price per pound, in the currency of the quote.

    price_per_lb: price for one pound [¤q/lb]
    """
    return price_per_lb / KG_PER_LB


@formula(source="international yard and pound agreement of 1959")
def price_per_lb(*, price_per_kg: PricePerKg) -> PricePerLb:
    """Price per pound, to answer a seller in the seller's own unit.

    price_per_kg: price [¤/kg]
    """
    return price_per_kg * KG_PER_LB


@formula(source="definition of the metric ton")
def price_per_tonne(*, price_per_kg: PricePerKg) -> PricePerTonne:
    """Price per metric ton.

    price_per_kg: price [¤/kg]
    """
    return price_per_kg * 1000


@formula(source="definition: price times quantity")
def value_of_mass(*, price_per_kg: MoneyPerKg, mass_kg: Kilogram) -> Money:
    """Value of a quantity at one price; of a whole order when the break is all-units.

    price_per_kg: price of every kilogram, of the tier reached [¤/kg]
    mass_kg: quantity [kg]
    """
    return price_per_kg * mass_kg


@formula(source="definition: values add")
def sum_of_values(*, first_value: Money, second_value: Money) -> Money:
    """Two values together.

    first_value: one value [¤]
    second_value: the other [¤]
    """
    return first_value + second_value


@formula(source="definition: value over quantity")
def average_price(*, order_value: Money, mass_kg: PositiveKilogram) -> MoneyPerKg:
    """Average price of an order.

    order_value: what the whole order costs [¤]
    mass_kg: quantity, above zero [kg]
    """
    return order_value / mass_kg


@formula(source="definition: one price against another, as a share of the other")
def price_premium(*, price: PricePerKg, reference_price: PositivePricePerKg) -> SignedShare:
    """How far a price lies above another; negative when it lies below.

    price: the price looked at [¤/kg]
    reference_price: the price it is held against, above zero [¤/kg]
    Limits: says something only when both are on one basis and of one count.
    """
    return price / reference_price - 1


@formula(source="definition: a difference of two prices")
def price_gap(*, price: MoneyPerKg, reference_price: MoneyPerKg) -> MoneyPerKg:
    """Difference of two prices or costs.

    price: the price looked at [¤/kg]
    reference_price: the price it is held against [¤/kg]
    """
    return price - reference_price


@formula(source="definition: a change over its own share")
def price_before_change(*, change: MoneyPerKg, relative_change: RelativeChange) -> MoneyPerKg:
    """Price level before a change that is reported both in money and in per cent.

    change: change of the price [¤/kg]
    relative_change: the same change on the price before it, not zero [share]
    Limits: a small, rounded percentage makes the level uncertain.
    """
    return change / relative_change


@formula(source="EOQpd manual (incremental quantity discount, term R)")
def slice_carried(
    *, price_before: PricePerKg, price_after: PricePerKg, break_quantity_kg: Kilogram
) -> Money:
    """Extra paid, by the slices below one incremental break, over the price after it.

    price_before: price below the break [¤/kg]
    price_after: price from the break on [¤/kg]
    break_quantity_kg: quantity at which the price changes [kg]
    """
    return (price_before - price_after) * break_quantity_kg


@formula(source="Ravindran and Warsing, Supply Chain Engineering (incremental discount)")
def incremental_value(
    *, slices_carried: Money, price_at_quantity: PricePerKg, mass_kg: Kilogram
) -> Money:
    """Value of an order when each slice has its own price.

    slices_carried: extra of all breaks below the quantity together [¤]
    price_at_quantity: price of the last slice reached [¤/kg]
    mass_kg: quantity [kg]
    """
    return slices_carried + price_at_quantity * mass_kg


@formula(source="Render, Stair and Hanna, Quantitative Analysis for Management (yearly cost)")
def yearly_purchase(*, yearly_need_kg: KilogramPerYear, price_per_kg: PricePerKg) -> MoneyPerYear:
    """Purchases of a year.

    yearly_need_kg: quantity needed in a year [kg/a]
    price_per_kg: price at the order quantity [¤/kg]
    """
    return yearly_need_kg * price_per_kg


@formula(source="Render, Stair and Hanna, Quantitative Analysis for Management (yearly cost)")
def yearly_ordering(
    *, yearly_need_kg: KilogramPerYear, order_quantity_kg: PositiveKilogram, cost_of_order: Money
) -> MoneyPerYear:
    """Cost of placing the orders of a year.

    yearly_need_kg: quantity needed in a year [kg/a]
    order_quantity_kg: quantity of one order, above zero [kg]
    cost_of_order: cost of placing and receiving one order [¤]
    """
    return yearly_need_kg / order_quantity_kg * cost_of_order


@formula(source="Render, Stair and Hanna, Quantitative Analysis for Management (yearly cost)")
def yearly_carrying(
    *, order_quantity_kg: PositiveKilogram, price_per_kg: PricePerKg, carrying_rate: SharePerYear
) -> MoneyPerYear:
    """Cost of keeping half an order in stock for a year.

    order_quantity_kg: quantity of one order, above zero [kg]
    price_per_kg: price at the order quantity, the average one if incremental [¤/kg]
    carrying_rate: interest, space and loss on the value in stock [share/a]
    Limits: even use and no safety stock.
    """
    return carrying_rate * price_per_kg * order_quantity_kg / 2


@formula(source="Render, Stair and Hanna, Quantitative Analysis for Management (yearly cost)")
def yearly_cost_of_orders(
    *, purchase: MoneyPerYear, ordering: MoneyPerYear, carrying: MoneyPerYear
) -> MoneyPerYear:
    """Yearly cost of buying in one order quantity.

    purchase: purchases of the year [¤/a]
    ordering: cost of placing the orders [¤/a]
    carrying: cost of keeping the stock [¤/a]
    """
    return purchase + ordering + carrying


@formula(source="F. W. Harris 1913; Render, Stair and Hanna (economic order quantity)")
def economic_order_quantity(
    *,
    yearly_need_kg: KilogramPerYear,
    cost_of_order: Money,
    slices_carried: Money,
    price_per_kg: PositivePricePerKg,
    carrying_rate: CarryingRate,
) -> Kilogram:
    """Order quantity at which ordering and carrying cost least at one price.

    yearly_need_kg: quantity needed in a year [kg/a]
    cost_of_order: cost of placing and receiving one order [¤]
    slices_carried: extra of all incremental breaks below the tier; 0 when all-units [¤]
    price_per_kg: price of the tier, above zero [¤/kg]
    carrying_rate: interest, space and loss on the value in stock, above zero [share/a]
    Limits: counts only while it lies inside the tier whose price was used.
    """
    return square_root(
        2 * yearly_need_kg * (cost_of_order + slices_carried) / (carrying_rate * price_per_kg)
    )


@formula(source="Render, Stair and Hanna, Quantitative Analysis for Management (quantity discount)")
def order_quantity_of_tier(*, economic_quantity_kg: Kilogram, tier_from_kg: Kilogram) -> Kilogram:
    """Best order quantity of a tier with an all-units price.

    economic_quantity_kg: economic order quantity at the price of the tier [kg]
    tier_from_kg: quantity from which the price of the tier holds [kg]
    Limits: a tier whose economic quantity lies above its end is skipped.
    """
    return larger_of(economic_quantity_kg, tier_from_kg)


@formula(source="ICC UCP 600 article 30 for credits; otherwise the contract")
def least_quantity(*, ordered_kg: Kilogram, tolerance: Share) -> Kilogram:
    """Least quantity the seller may deliver.

    ordered_kg: quantity ordered [kg]
    tolerance: allowed deviation, up or down [share]
    Limits: article 30 leaves out quantities stated in packing units or pieces.
    """
    return ordered_kg * (1 - tolerance)


@formula(source="ICC UCP 600 article 30 for credits; otherwise the contract")
def most_quantity(*, ordered_kg: Kilogram, tolerance: Share) -> Kilogram:
    """Most the seller may deliver.

    ordered_kg: quantity ordered [kg]
    tolerance: allowed deviation, up or down [share]
    Limits: the amount drawn under a credit never exceeds the credit.
    """
    return ordered_kg * (1 + tolerance)


@formula(source="Wisner et al., supply chain management textbook (total cost of ownership)")
def yearly_haulage(
    *, yearly_mass_t: TonnePerYear, distance_km: Kilometre, rate_per_t_km: PricePerTonneKm
) -> MoneyPerYear:
    """Haulage of a year, charged by mass and distance.

    yearly_mass_t: mass carried in a year [t/a]
    distance_km: distance [km]
    rate_per_t_km: rate for one tonne over one kilometre [¤/(t·km)]
    """
    return yearly_mass_t * distance_km * rate_per_t_km


@formula(source="Wisner et al., supply chain management textbook (total cost of ownership)")
def yearly_quality_cost(*, purchase: MoneyPerYear, defect_share: Share) -> MoneyPerYear:
    """Cost of goods that turn out bad in a year.

    purchase: purchases of the year [¤/a]
    defect_share: share of the purchases lost to bad quality [share]
    """
    return purchase * defect_share


@formula(source="Wisner et al., supply chain management textbook (total cost of ownership)")
def cost_of_ownership(
    *,
    cost_of_orders: MoneyPerYear,
    approval: MoneyPerYear,
    transport: MoneyPerYear,
    quality: MoneyPerYear,
) -> MoneyPerYear:
    """Total cost of ownership of one supplier for a year.

    cost_of_orders: purchase, ordering and carrying [¤/a]
    approval: tooling, trials and approval charged to the year [¤/a]
    transport: transport to the mill [¤/a]
    quality: cost of bad goods [¤/a]
    """
    return cost_of_orders + approval + transport + quality


@formula(source="definition: yearly cost over the yearly need")
def ownership_cost_per_kg(
    *, cost_of_ownership: MoneyPerYear, yearly_need_kg: KilogramPerYear
) -> PricePerKg:
    """Total cost of ownership of a kilogram.

    cost_of_ownership: total cost of ownership for a year [¤/a]
    yearly_need_kg: quantity needed in a year [kg/a]
    """
    return cost_of_ownership / yearly_need_kg
