"""Spinning: output of a position, cost of its hour, cost of a kilogram by stage.

A *position* is one spindle, one rotor or one air-jet spinning unit. Speeds are assumptions for
costing, never machine settings.
"""

from __future__ import annotations

from typing import Annotated, Any

from server.core.elementary import PI, power, round_up, smaller_of
from server.core.formula import formula
from server.core.quantities import (
    Factor,
    Gram,
    GramPerHour,
    Hours,
    HoursPerYear,
    Kilogram,
    Kilowatt,
    LossShare,
    MetrePerMinute,
    MetrePerSecond,
    Millimetre,
    Money,
    MoneyPerHour,
    MoneyPerKg,
    MoneyPerKwh,
    Ne,
    Pieces,
    PositiveFactor,
    Pound,
    PricePerKg,
    Quantity,
    Rpm,
    Share,
    Tex,
    TurnsPerMetre,
)
from server.core.units import KG_PER_LB

PositionGram = Annotated[Any, Quantity("g", above=0.0)]
RingDiameter = Annotated[Any, Quantity("mm", above=0.0)]


@formula(
    source="P. R. Lord, Handbook of Yarn Production (front roller speed from spindle and twist)"
)
def ring_delivery(*, spindle_rpm: Rpm, turns_per_metre: TurnsPerMetre) -> MetrePerMinute:
    """Yarn delivered by one ring spindle.

    spindle_rpm: spindle speed [rpm]
    turns_per_metre: twist put into the yarn [turns/m]
    """
    return spindle_rpm / turns_per_metre


@formula(source="Rieter Rikipedia, rotor spinning (delivery from rotor speed and twist)")
def rotor_delivery(
    *, rotor_rpm: Rpm, turns_per_metre: TurnsPerMetre, take_up_limit_m_per_min: MetrePerMinute
) -> MetrePerMinute:
    """Yarn delivered by one rotor, at most what the take-up of the machine allows.

    rotor_rpm: rotor speed [rpm]
    turns_per_metre: twist put into the yarn [turns/m]
    take_up_limit_m_per_min: highest take-up speed of the machine [m/min]
    """
    return smaller_of(rotor_rpm / turns_per_metre, take_up_limit_m_per_min)


@formula(source="common practice, no source (air-jet delivery is set on the machine)")
def delivery_as_set(*, machine_delivery: MetrePerMinute) -> MetrePerMinute:
    """Yarn delivered by one air-jet spinning unit.

    machine_delivery: delivery set on the machine [m/min]
    """
    return machine_delivery


@formula(source="SITRA production calculation (480 × 453.59237 ÷ (36 × 840) in English units)")
def position_output(
    *, delivery_m_per_min: MetrePerMinute, tex: Tex, efficiency: Share
) -> GramPerHour:
    """Yarn spun by one position in one hour.

    delivery_m_per_min: delivery speed [m/min]
    tex: linear density of the yarn [tex]
    efficiency: running share of the hour [share]
    """
    return delivery_m_per_min * tex * 60 / 1000 * efficiency


@formula(source="Rieter, Alternative spinning systems (traveller speed, limit about 45 m/s)")
def traveller_speed(*, ring_diameter_mm: Millimetre, spindle_rpm: Rpm) -> MetrePerSecond:
    """Speed of the traveller on the ring.

    ring_diameter_mm: ring diameter [mm]
    spindle_rpm: spindle speed [rpm]
    """
    return PI * ring_diameter_mm / 1000 * spindle_rpm / 60


@formula(source="definition: cost of an hour over output of an hour")
def spinning_cost(*, position_hour: MoneyPerHour, output_g_per_h: GramPerHour) -> PricePerKg:
    """Spinning cost of a kilogram.

    position_hour: cost of one position for one hour [¤/h]
    output_g_per_h: yarn spun by the position in the hour [g/h]
    """
    return position_hour / output_g_per_h * 1000


@formula(source="definition: a yearly cost over the hours worked")
def capital_per_hour(*, capital_per_year: Money, hours_per_year: HoursPerYear) -> MoneyPerHour:
    """Capital cost of one position for one hour.

    capital_per_year: capital cost of the position for one year [¤]
    hours_per_year: hours the position runs in a year [h]
    """
    return capital_per_year / hours_per_year


@formula(source="definition: drawn power at the tariff")
def power_per_hour(*, drawn_power_kw: Kilowatt, power_tariff: MoneyPerKwh) -> MoneyPerHour:
    """Power cost of one position for one hour, air conditioning included if it is in the figure.

    drawn_power_kw: power drawn for one position [kW]
    power_tariff: price of electricity [¤/kWh]
    """
    return drawn_power_kw * power_tariff


@formula(source="definition: wages over the positions one operative tends")
def labour_per_hour(
    *, wage_per_hour: MoneyPerHour, operatives_per_position: Factor
) -> MoneyPerHour:
    """Labour cost of one position for one hour.

    wage_per_hour: wage with its charges [¤/h]
    operatives_per_position: operatives over positions tended [×]
    """
    return wage_per_hour * operatives_per_position


@formula(source="ITMF International Production Cost Comparison (elements of manufacturing cost)")
def position_hour_cost(
    *,
    capital_per_hour: MoneyPerHour,
    power_per_hour: MoneyPerHour,
    labour_per_hour: MoneyPerHour,
    maintenance_per_hour: MoneyPerHour,
) -> MoneyPerHour:
    """Cost of one position for one hour, from its parts.

    capital_per_hour: capital [¤/h]
    power_per_hour: power [¤/h]
    labour_per_hour: labour [¤/h]
    maintenance_per_hour: maintenance and spares [¤/h]
    """
    return capital_per_hour + power_per_hour + labour_per_hour + maintenance_per_hour


@formula(source="SITRA, How to improve yarn realization (yarn over fibre issued)")
def fibre_cost(
    *, fibre_price: PricePerKg, realisation: Share, waste_credit: PricePerKg
) -> MoneyPerKg:
    """Fibre cost in a kilogram of yarn.

    fibre_price: price of the fibre mix delivered to the mill [¤/kg]
    realisation: yarn out over fibre in, above zero [share]
    waste_credit: sold waste for each kilogram of yarn [¤/kg]
    Limits: divide by the realisation; multiplying by (1 + waste) understates.
    """
    return fibre_price / realisation - waste_credit


@formula(source="definition: a stage is paid for what later stages lose")
def carried_stage_cost(*, stage_cost: PricePerKg, later_yield: Share) -> PricePerKg:
    """Cost of a stage carried to a kilogram of yarn through the yields after it.

    stage_cost: cost for a kilogram of the stage's own output [¤/kg]
    later_yield: yarn out over this stage's output in, product of the later yields [share]
    """
    return stage_cost / later_yield


@formula(source="SITRA (stage wastes multiply when each is on its own input)")
def yield_of_two_stages(*, first_waste: LossShare, second_waste: LossShare) -> Share:
    """What is left after two stages, each losing a share of its own input.

    first_waste: loss of the first stage [share]
    second_waste: loss of the second stage [share]
    """
    return (1 - first_waste) * (1 - second_waste)


@formula(source="spin plan for carded yarn, ring frame (Scribd 408473477)")
def position_shift_output(*, output_g_per_h: GramPerHour, shift_hours: Hours) -> Gram:
    """Yarn spun by one position in a shift.

    output_g_per_h: yarn spun by the position in one hour [g/h]
    shift_hours: hours of the shift, stated; 8 in most published figures [h]
    """
    return output_g_per_h * shift_hours


@formula(source="spin plan for carded yarn, ring frame (Scribd 408473477)")
def shift_output_kg(*, position_shift_output_g: Gram, positions: Pieces) -> Kilogram:
    """Yarn spun by all positions in a shift, in kilograms.

    position_shift_output_g: yarn spun by one position in the shift [g]
    positions: positions at work [pieces]
    """
    return position_shift_output_g / 1000 * positions


@formula(source="spin plan for carded yarn, ring frame (Scribd 408473477)")
def shift_output_lb(*, position_shift_output_g: Gram, positions: Pieces) -> Pound:
    """Yarn spun by all positions in a shift, in pounds.

    position_shift_output_g: yarn spun by one position in the shift [g]
    positions: positions at work [pieces]
    """
    output_kg = shift_output_kg(
        position_shift_output_g=position_shift_output_g, positions=positions
    )
    return output_kg / KG_PER_LB


@formula(source="definition: positions come whole")
def positions_needed(*, required_kg: Kilogram, position_shift_output_g: PositionGram) -> Pieces:
    """Spindles, rotors or spinning units needed, rounded up.

    required_kg: yarn needed in a period [kg]
    position_shift_output_g: yarn spun by one position in the same period [g]
    """
    return round_up(required_kg * 1000 / position_shift_output_g)


@formula(source="definition: speed over twist, and twist rises with the root of the count")
def ring_output_ratio(*, old_ne: Ne, new_ne: Ne) -> PositiveFactor:
    """Output of a ring spindle at another count over its output now, speed and multiplier kept.

    old_ne: count spun now [Ne]
    new_ne: count to be spun [Ne]
    Limits: half the count gives 2.83 times the output, not twice as much.
    """
    return power(old_ne / new_ne, 1.5)


@formula(source="Rieter, Alternative spinning systems (traveller speed, limit about 45 m/s)")
def spindle_rpm_at_traveller_speed(
    *, traveller_speed_m_per_s: MetrePerSecond, ring_diameter_mm: RingDiameter
) -> Rpm:
    """Spindle speed at which the traveller reaches a speed.

    traveller_speed_m_per_s: speed of the traveller, above zero [m/s]
    ring_diameter_mm: ring diameter [mm]
    """
    return traveller_speed_m_per_s * 60 / (PI * ring_diameter_mm / 1000)
