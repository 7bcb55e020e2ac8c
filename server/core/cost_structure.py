"""What a cost is made of: shares, realisation, energy, labour, investment, package contents.

Two levels are never mixed: manufacturing cost leaves the raw material out, total cost holds it.
A share means something only together with its base, so the base is in the name or the meaning.
"""

from __future__ import annotations

from typing import Annotated, Any

from server.core.elementary import square_root
from server.core.formula import formula
from server.core.quantities import (
    Factor,
    GramPerMetre,
    Inch,
    Kilogram,
    Kilowatt,
    KwhPerKg,
    LossShare,
    Money,
    MoneyPerHour,
    MoneyPerKg,
    MoneyPerKwh,
    MoneyPerMetre,
    PricePerKg,
    Quantity,
    Share,
)

PositivePricePerKg = Annotated[Any, Quantity("¤/kg", above=0.0)]
PositiveShare = Annotated[Any, Quantity("share", above=0.0, most=1.0)]
PositiveKilogram = Annotated[Any, Quantity("kg", above=0.0)]
Positions = Annotated[Any, Quantity("pieces", above=0.0)]
KilogramPerDay = Annotated[Any, Quantity("kg/d", above=0.0)]
GramPerDay = Annotated[Any, Quantity("g/d", least=0.0)]
HoursPerDay = Annotated[Any, Quantity("h/d", least=0.0, most=24.0)]
HoursPerKg = Annotated[Any, Quantity("h/kg", least=0.0)]
MoneyPerDailyKg = Annotated[Any, Quantity("¤·d/kg", least=0.0)]
Kwh = Annotated[Any, Quantity("kWh", least=0.0)]
PositiveKwh = Annotated[Any, Quantity("kWh", above=0.0)]
PositiveKwhPerKg = Annotated[Any, Quantity("kWh/kg", above=0.0)]
Volt = Annotated[Any, Quantity("V", least=0.0)]
Ampere = Annotated[Any, Quantity("A", least=0.0)]


@formula(source="definition: an element over the total it belongs to")
def share_of_cost(*, element: PricePerKg, total: PositivePricePerKg) -> Share:
    """Share of a cost element.

    element: cost of the element [¤/kg]
    total: manufacturing or total cost, said which [¤/kg]
    """
    return element / total


@formula(source="definition: a share of its base")
def element_from_share(*, total: MoneyPerMetre, element_share: Share) -> MoneyPerMetre:
    """Cost element of a metre from its share.

    total: the cost the share is of [¤/m]
    element_share: share of the element in it [share]
    """
    return total * element_share


@formula(source="definition: the elements of a cost add up to it")
def element_left(*, total: MoneyPerMetre, known_elements: MoneyPerMetre) -> MoneyPerMetre:
    """Cost element of a metre that is left when the others are known.

    total: cost of a metre [¤/m]
    known_elements: the other elements together [¤/m]
    """
    return total - known_elements


@formula(source="Koc and Kaplan 2007 (energy with and without raw material)")
def share_without_raw_material(*, share_of_total: Share, raw_material_share: LossShare) -> Share:
    """Share of a cost element in manufacturing cost, from its share in total cost.

    share_of_total: share in total cost, raw material included [share]
    raw_material_share: share of raw material in total cost [share]
    """
    return share_of_total / (1 - raw_material_share)


@formula(source="definition: what is not raw material over what is")
def conversion_on_raw_material(*, raw_material_share: PositiveShare) -> Factor:
    """Conversion cost for one unit of money of raw material.

    raw_material_share: share of raw material in total cost, above zero [share]
    """
    return (1 - raw_material_share) / raw_material_share


@formula(source="ITMF International Production Cost Comparison (spinning by metre and by kilogram)")
def yarn_mass_from_costs(
    *, spinning_per_metre: MoneyPerMetre, spinning_per_kg: PositivePricePerKg
) -> GramPerMetre:
    """Yarn in a metre of cloth that two published spinning costs imply.

    spinning_per_metre: spinning cost of the yarn in one metre [¤/m]
    spinning_per_kg: spinning cost of a kilogram, above zero [¤/kg]
    Limits: only if all yarn of the cloth is the yarn whose cost is given.
    """
    return spinning_per_metre / spinning_per_kg * 1000


@formula(source="textiletechinfo.com, Costing for a spinning mill, 2000")
def left_for_conversion(
    *,
    yarn_price: PricePerKg,
    commission_rate: Share,
    raw_material: PricePerKg,
    packing: PricePerKg,
    freight: PricePerKg,
) -> MoneyPerKg:
    """What a selling price leaves for making the yarn and for profit.

    yarn_price: selling price [¤/kg]
    commission_rate: selling commission on the price [share]
    raw_material: fibre in a kilogram of yarn [¤/kg]
    packing: packing [¤/kg]
    freight: freight the seller pays [¤/kg]
    """
    return yarn_price * (1 - commission_rate) - raw_material - packing - freight


@formula(source="SITRA, How to improve yarn realization and control wastes (carded yarn)")
def carded_realisation(*, trash: Share, card_waste: Share, yarn_waste: Share) -> Share:
    """Yarn realisation of a carded mixing whose usable waste goes back into it.

    trash: trash in the mixing [share]
    card_waste: waste of the cards, flat strips [share]
    yarn_waste: hard waste of spinning and winding [share]
    Limits: 2.5 % stands for all other losses; meanings of the symbols are inferred.
    """
    return 0.975 - trash - card_waste - yarn_waste


@formula(source="SITRA, How to improve yarn realization and control wastes (combed yarn)")
def combed_realisation(
    *, trash: Share, card_waste: Share, comber_noil: Share, yarn_waste: Share
) -> Share:
    """Yarn realisation of a combed mixing whose usable waste goes back into it.

    trash: trash in the mixing [share]
    card_waste: waste of the cards, flat strips [share]
    comber_noil: noil, on the feed of the comber [share]
    yarn_waste: hard waste of spinning and winding [share]
    Limits: 2.5 % stands for all other losses; meanings of the symbols are inferred.
    """
    return (1 - trash - card_waste) * (1 - comber_noil) - yarn_waste - 0.025


@formula(source="definition: yarn out over fibre in")
def realisation_from_masses(*, yarn_mass_kg: Kilogram, fibre_mass_kg: PositiveKilogram) -> Share:
    """Yarn realisation from what went in and what came out.

    yarn_mass_kg: yarn spun [kg]
    fibre_mass_kg: fibre issued, above zero [kg]
    """
    return yarn_mass_kg / fibre_mass_kg


@formula(source="definition: losses on one base add")
def realisation_from_wastes(
    *, preparation_waste: Share, comber_noil: Share, other_waste: Share
) -> Share:
    """Yarn realisation when every waste is stated on the fibre issued.

    preparation_waste: blowroom and cards, on fibre issued [share]
    comber_noil: noil, on fibre issued; 0 for carded yarn [share]
    other_waste: all later waste, on fibre issued [share]
    Limits: wastes stated each on its own input multiply instead.
    """
    return 1 - preparation_waste - comber_noil - other_waste


@formula(source="definition: output of a machine over its spindles")
def spindle_day_output(
    *, machine_output_kg_per_day: KilogramPerDay, spindles: Positions
) -> GramPerDay:
    """Yarn spun by one spindle in a day.

    machine_output_kg_per_day: output of one machine [kg/d]
    spindles: spindles of the machine [pieces]
    """
    return machine_output_kg_per_day / spindles * 1000


@formula(source="textileschool.com 525, Setting up a spinning mill (machinery by spindle)")
def investment_per_position(
    *, investment: Money, machinery_share: Share, positions: Positions
) -> Money:
    """Machinery bought for one spindle or rotor.

    investment: loan or investment in all [¤]
    machinery_share: share of it that goes into machinery and its services [share]
    positions: spindles or rotors bought [pieces]
    """
    return investment * machinery_share / positions


@formula(source="definition: investment over daily output")
def investment_per_daily_kg(
    *, investment: Money, output_kg_per_day: KilogramPerDay
) -> MoneyPerDailyKg:
    """Investment for one kilogram of daily output.

    investment: investment in all [¤]
    output_kg_per_day: yarn spun in a day [kg/d]
    """
    return investment / output_kg_per_day


@formula(source="SITRA (HOK, operative-hours per 100 kg, is a hundred times this figure)")
def operative_hours_per_kg(
    *, operatives: Factor, hours_per_day: HoursPerDay, output_kg_per_day: KilogramPerDay
) -> HoursPerKg:
    """Operative-hours of a kilogram of yarn.

    operatives: operatives of all shifts together [×]
    hours_per_day: hours one operative works in a day [h/d]
    output_kg_per_day: yarn spun in a day [kg/d]
    """
    return operatives * hours_per_day / output_kg_per_day


@formula(source="ITMF International Production Cost Comparison (labour)")
def labour_cost_per_kg(
    *, operative_hours_per_kg: HoursPerKg, wage_per_hour: MoneyPerHour
) -> PricePerKg:
    """Labour cost of a kilogram of yarn.

    operative_hours_per_kg: operative-hours of a kilogram [h/kg]
    wage_per_hour: wage with its charges [¤/h]
    """
    return operative_hours_per_kg * wage_per_hour


@formula(source="Rieter Rikipedia (package size and handling)")
def handling_saved(*, smaller_package_kg: Kilogram, larger_package_kg: PositiveKilogram) -> Share:
    """Package movements saved by a larger package.

    smaller_package_kg: yarn on the smaller package [kg]
    larger_package_kg: yarn on the larger package, above zero [kg]
    """
    return 1 - smaller_package_kg / larger_package_kg


@formula(source="Koc and Kaplan 2007 (energy by stage)")
def machine_energy(
    *,
    blowroom: Kwh,
    carding: Kwh,
    combing: Kwh,
    drawing_and_roving: Kwh,
    spinning: Kwh,
    yarn_finishing: Kwh,
) -> Kwh:
    """Electricity of the machines of a mill.

    blowroom: blowroom [kWh]
    carding: carding [kWh]
    combing: combing; 0 for carded yarn [kWh]
    drawing_and_roving: draw frames and roving frames [kWh]
    spinning: spinning frames [kWh]
    yarn_finishing: winding and what follows [kWh]
    """
    return blowroom + carding + combing + drawing_and_roving + spinning + yarn_finishing


@formula(source="Koc and Kaplan 2007 (energy by stage)")
def mill_energy(*, machines: Kwh, air_conditioning: Kwh) -> Kwh:
    """Electricity of a mill, air conditioning included.

    machines: all machines together [kWh]
    air_conditioning: air conditioning [kWh]
    """
    return machines + air_conditioning


@formula(source="definition: a part over the whole")
def energy_share(*, stage_energy: Kwh, total_energy: PositiveKwh) -> Share:
    """Share of a stage in the electricity.

    stage_energy: electricity of the stage [kWh]
    total_energy: electricity it is held against, said which [kWh]
    """
    return stage_energy / total_energy


@formula(source="definition: electricity over output")
def energy_per_kg(*, energy_kwh: Kwh, yarn_mass_kg: PositiveKilogram) -> KwhPerKg:
    """Electricity of a kilogram of yarn.

    energy_kwh: electricity used [kWh]
    yarn_mass_kg: yarn spun with it, above zero [kg]
    """
    return energy_kwh / yarn_mass_kg


@formula(source="definition: electricity over electricity of a kilogram")
def mass_from_energy(*, energy_kwh: Kwh, energy_per_kg: PositiveKwhPerKg) -> Kilogram:
    """Yarn spun with an amount of electricity.

    energy_kwh: electricity used [kWh]
    energy_per_kg: electricity of a kilogram, above zero [kWh/kg]
    """
    return energy_kwh / energy_per_kg


@formula(source="definition: what is saved over what was used")
def energy_saving(*, energy_before: PositiveKwhPerKg, energy_after: KwhPerKg) -> Factor:
    """Electricity saved, as a share of the larger figure.

    energy_before: electricity of a kilogram before, above zero [kWh/kg]
    energy_after: electricity of a kilogram after [kWh/kg]
    """
    return 1 - energy_after / energy_before


@formula(source="definition: electricity at its tariff")
def energy_cost_per_kg(*, energy_per_kg: KwhPerKg, power_tariff: MoneyPerKwh) -> PricePerKg:
    """Electricity cost of a kilogram of yarn.

    energy_per_kg: electricity of a kilogram [kWh/kg]
    power_tariff: price of electricity [¤/kWh]
    """
    return energy_per_kg * power_tariff


@formula(source="three-phase power; a mill's load test (slideshare 52722121)")
def phase_power(*, line_voltage: Volt, line_current: Ampere, power_factor: Share) -> Kilowatt:
    """Power drawn by one of three phases.

    line_voltage: voltage between two lines [V]
    line_current: current in the line [A]
    power_factor: power factor of the load [share]
    """
    return line_voltage / square_root(3) * line_current * power_factor / 1000


@formula(source="three-phase power; a mill's load test (slideshare 52722121)")
def three_phase_power(
    *, first_phase: Kilowatt, second_phase: Kilowatt, third_phase: Kilowatt
) -> Kilowatt:
    """Power drawn by a machine, from its three phases.

    first_phase: power of the first phase [kW]
    second_phase: power of the second phase [kW]
    third_phase: power of the third phase [kW]
    """
    return first_phase + second_phase + third_phase


@formula(source="SITRA norms, Table 32 (content of roving bobbins)", empirical=True)
def roving_bobbin_content(*, lift_in: Inch, diameter_in: Inch) -> Kilogram:
    """Roving on a full bobbin.

    lift_in: lift of the bobbin [in]
    diameter_in: diameter of the full bobbin [in]
    Limits: rule of thumb; the constant holds a packing density in kilograms per cubic inch.
    """
    return 3 * lift_in * diameter_in * diameter_in / 1000


@formula(source="SITRA norms, Table 33 (content of cans)", empirical=True)
def can_content(*, height_in: Inch, diameter_in: Inch) -> Kilogram:
    """Sliver in a full can.

    height_in: height of the can [in]
    diameter_in: diameter of the can [in]
    Limits: rule of thumb; the constant holds a packing density in kilograms per cubic inch.
    """
    return 1.5 * height_in * diameter_in * diameter_in / 1000
