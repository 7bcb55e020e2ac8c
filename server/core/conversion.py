"""From yarn to finished metre: warp preparation, weaving, finishing, seconds, margin."""

from __future__ import annotations

from server.core.formula import formula
from server.core.quantities import (
    GramPerMetre,
    GramPerSquareMetre,
    Inch,
    LossShare,
    MetrePerHour,
    MoneyPerHour,
    MoneyPerKg,
    MoneyPerMetre,
    MoneyPerSquareMetre,
    MoneyPerYard,
    PerInch,
    PricePerKg,
    Rpm,
    Share,
)
from server.core.units import M_PER_IN, M_PER_YD


@formula(source="definition: kilograms bought at the same-basis price")
def yarn_cost(*, mass_to_buy: GramPerMetre, same_basis_price: MoneyPerKg) -> MoneyPerMetre:
    """Cost of a yarn in one metre of finished cloth.

    mass_to_buy: yarn bought for one finished metre, waste included [g/m]
    same_basis_price: landed price on the house weight basis [¤/kg]
    """
    return mass_to_buy / 1000 * same_basis_price


@formula(source="definition: costs of the same metre add")
def sum_of_costs(*, first_cost: MoneyPerMetre, second_cost: MoneyPerMetre) -> MoneyPerMetre:
    """Two costs of the same metre together.

    first_cost: one cost [¤/m]
    second_cost: the other [¤/m]
    """
    return first_cost + second_cost


@formula(source="definition: a charge per metre, as agreed")
def cost_as_charged(*, charge: MoneyPerMetre) -> MoneyPerMetre:
    """A cost that is charged per finished metre.

    charge: charge for one finished metre [¤/m]
    """
    return charge


@formula(source="common practice, no source (charged on warp put in)")
def warp_preparation_cost(
    *, warp_mass_to_buy: GramPerMetre, warp_preparation_rate: PricePerKg
) -> MoneyPerMetre:
    """Ball warping, dyeing, re-beaming and sizing of the warp in one finished metre.

    warp_mass_to_buy: warp yarn put in for one finished metre [g/m]
    warp_preparation_rate: all warp preparation, for a kilogram of warp put in [¤/kg]
    """
    return warp_mass_to_buy / 1000 * warp_preparation_rate


@formula(source="H. R. Sheikh, Charges for commission weaving, 2010 (loom production)")
def loom_output(*, loom_rpm: Rpm, loom_efficiency: Share, loom_ppi: PerInch) -> MetrePerHour:
    """Cloth woven by one loom in one hour, loom state.

    loom_rpm: picks a minute [rpm]
    loom_efficiency: running share of the hour [share]
    loom_ppi: picks per inch on the loom, above zero [1/in]
    """
    return loom_rpm * 60 * loom_efficiency / (loom_ppi / M_PER_IN)


@formula(source="definition: loom metres carried to finished metres")
def weaving_cost(
    *, loom_hour: MoneyPerHour, loom_output_m_per_h: MetrePerHour, length_shrink: LossShare
) -> MoneyPerMetre:
    """Weaving cost of one finished metre.

    loom_hour: cost of one loom for one hour [¤/h]
    loom_output_m_per_h: loom-state cloth woven in the hour [m/h]
    length_shrink: length lost from loom to finished cloth [share]
    """
    return loom_hour / loom_output_m_per_h / (1 - length_shrink)


@formula(source="common practice, no source (overhead as a share of conversion)")
def conversion_overhead(
    *,
    warp_preparation: MoneyPerMetre,
    weaving: MoneyPerMetre,
    finishing: MoneyPerMetre,
    inspection: MoneyPerMetre,
    overhead_rate: Share,
) -> MoneyPerMetre:
    """Overhead on the conversion of one finished metre.

    warp_preparation: warp preparation and dyeing [¤/m]
    weaving: weaving [¤/m]
    finishing: finishing [¤/m]
    inspection: inspection and packing [¤/m]
    overhead_rate: overhead on conversion cost, yarn left out [share]
    """
    return (warp_preparation + weaving + finishing + inspection) * overhead_rate


@formula(source="definition: the parts of a finished metre add")
def cost_before_seconds(
    *,
    yarn: MoneyPerMetre,
    warp_preparation: MoneyPerMetre,
    weaving: MoneyPerMetre,
    finishing: MoneyPerMetre,
    inspection: MoneyPerMetre,
    overhead: MoneyPerMetre,
) -> MoneyPerMetre:
    """Cost of one finished metre before seconds.

    yarn: warp and filling yarn [¤/m]
    warp_preparation: warp preparation and dyeing [¤/m]
    weaving: weaving [¤/m]
    finishing: finishing [¤/m]
    inspection: inspection and packing [¤/m]
    overhead: overhead on conversion [¤/m]
    """
    return yarn + warp_preparation + weaving + finishing + inspection + overhead


@formula(source="definition: first quality carries what seconds do not earn")
def cost_of_seconds(
    *, cost_before_seconds: MoneyPerMetre, seconds_share: LossShare, seconds_price_ratio: Share
) -> MoneyPerMetre:
    """What the seconds add to the cost of a first-quality metre.

    cost_before_seconds: cost of a metre as made [¤/m]
    seconds_share: seconds in the metres made [share]
    seconds_price_ratio: price of seconds over price of firsts [share]
    """
    lost = seconds_share * (1 - seconds_price_ratio)
    return cost_before_seconds * lost / (1 - lost)


@formula(source="definition of margin on price (A. Wolfensberger, Theory of Silk Weaving, 1921)")
def price_at_margin(*, cost_per_metre: MoneyPerMetre, margin_on_price: LossShare) -> MoneyPerMetre:
    """Price of a finished metre at the target margin.

    cost_per_metre: cost of a first-quality metre [¤/m]
    margin_on_price: margin as a share of the price, not of the cost [share]
    """
    return cost_per_metre / (1 - margin_on_price)


@formula(source="definition (international yard)")
def per_yard(*, per_metre: MoneyPerMetre) -> MoneyPerYard:
    """A cost of one yard.

    per_metre: the cost of one metre [¤/m]
    """
    return per_metre * M_PER_YD


@formula(source="definition: a metre over its cuttable area")
def per_cuttable_area(*, per_metre: MoneyPerMetre, cuttable_width_in: Inch) -> MoneyPerSquareMetre:
    """A cost of one cuttable square metre.

    per_metre: the cost of one metre [¤/m]
    cuttable_width_in: width between the selvedges, above zero [in]
    """
    return per_metre / (cuttable_width_in * M_PER_IN)


@formula(source="definition: a metre over its mass")
def per_fabric_kg(
    *, per_metre: MoneyPerMetre, mass_per_area: GramPerSquareMetre, finished_width_in: Inch
) -> MoneyPerKg:
    """A cost of one kilogram of finished fabric.

    per_metre: the cost of one metre [¤/m]
    mass_per_area: weight of the finished cloth [g/m²]
    finished_width_in: finished width edge to edge, above zero [in]
    """
    return per_metre / (mass_per_area * finished_width_in * M_PER_IN) * 1000
