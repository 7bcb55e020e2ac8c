"""Preparation and winding: drafts and doublings, machine output, stage yields, machines needed.

Waste is a share of what enters the stage. A draft is counted as a ratio, a doubling as a number of
strands. Speeds and efficiencies are assumptions for costing, never machine settings.
"""

from __future__ import annotations

from typing import Annotated, Any

from server.core.counts import Hanks, SliverMass
from server.core.elementary import PI, power, round_up
from server.core.formula import formula
from server.core.quantities import (
    Factor,
    Hours,
    Kilogram,
    KilogramPerHour,
    LossShare,
    MetrePerMinute,
    Ne,
    Pieces,
    PositiveFactor,
    Quantity,
    Rpm,
    Share,
    SignedShare,
    Tex,
    TurnsPerMetre,
)
from server.core.spinning import position_output, ring_delivery
from server.core.units import M_PER_YD, YD_PER_HANK

RollerDiameter = Annotated[Any, Quantity("mm", above=0.0)]
FeedLength = Annotated[Any, Quantity("mm", above=0.0)]
NipsPerMinute = Annotated[Any, Quantity("1/min", above=0.0)]
Strands = Annotated[Any, Quantity("threads", above=0.0)]
Positions = Annotated[Any, Quantity("pieces", above=0.0)]
WorkedHours = Annotated[Any, Quantity("h", above=0.0)]
MachineKilogram = Annotated[Any, Quantity("kg", above=0.0)]
HanksPerHour = Annotated[Any, Quantity("hank/h", least=0.0)]
PositiveHanksPerHour = Annotated[Any, Quantity("hank/h", above=0.0)]


# Draft and doubling


@formula(source="P. R. Lord, Handbook of Yarn Production, Appendix 2 (draft by count)")
def draft_from_counts(*, input_ne: Ne, output_ne: Ne) -> PositiveFactor:
    """Draft between two strands known by count.

    input_ne: count, or hank, of the strand fed [Ne]
    output_ne: count of the strand delivered [Ne]
    """
    return output_ne / input_ne


@formula(source="definition: linear density in over linear density out")
def draft_from_tex(*, input_tex: Tex, output_tex: Tex) -> PositiveFactor:
    """Draft between two strands known by linear density.

    input_tex: linear density of the strand fed [tex]
    output_tex: linear density of the strand delivered [tex]
    """
    return input_tex / output_tex


@formula(source="P. R. Lord, Handbook of Yarn Production, Appendix 2 (draft by surface speed)")
def draft_from_speeds(
    *, delivery_m_per_min: MetrePerMinute, feed_m_per_min: MetrePerMinute
) -> PositiveFactor:
    """Mechanical draft between two pairs of rollers.

    delivery_m_per_min: surface speed of the front roller [m/min]
    feed_m_per_min: surface speed of the back roller [m/min]
    """
    return delivery_m_per_min / feed_m_per_min


@formula(source="definition: drafts of one machine or of following machines multiply")
def draft_of_two(*, first_draft: PositiveFactor, second_draft: PositiveFactor) -> PositiveFactor:
    """Total draft of two zones or two passages.

    first_draft: draft of the first [×]
    second_draft: draft of the second [×]
    """
    return first_draft * second_draft


@formula(source="definition: doublings of following passages multiply")
def doublings_of_two(*, first_doublings: Strands, second_doublings: Strands) -> Strands:
    """Total doublings of two passages.

    first_doublings: strands fed together in the first passage [threads]
    second_doublings: strands fed together in the second passage [threads]
    """
    return first_doublings * second_doublings


@formula(source="GATE Textile Engineering and Fibre Science 2006, question 28")
def rotor_net_draft(
    *,
    opening_draft: PositiveFactor,
    duct_draft: PositiveFactor,
    sliding_draft: PositiveFactor,
    back_doublings: Strands,
) -> PositiveFactor:
    """Net draft of rotor spinning, from sliver to yarn.

    opening_draft: draft at the opening roller [×]
    duct_draft: draft in the fibre duct [×]
    sliding_draft: draft at the rotor wall [×]
    back_doublings: layers of fibre laid together in the rotor groove [threads]
    """
    return opening_draft * duct_draft * sliding_draft / back_doublings


@formula(source="definition: waste makes the strand finer than the rollers do")
def actual_draft(*, mechanical_draft: PositiveFactor, waste: LossShare) -> PositiveFactor:
    """Draft by weight, from the draft of the rollers and the waste taken out on the way.

    mechanical_draft: surface speed of delivery over surface speed of feed [×]
    waste: share of the input taken out [share]
    """
    return mechanical_draft / (1 - waste)


@formula(source="definition: doubling multiplies linear density, draft divides it")
def drafted_tex(*, input_tex: Tex, doublings: Strands, draft: PositiveFactor) -> Tex:
    """Linear density after doubling and drafting.

    input_tex: linear density of one strand fed [tex]
    doublings: strands fed together [threads]
    draft: draft of the passage [×]
    """
    return input_tex * doublings / draft


@formula(source="P. R. Lord, Handbook of Yarn Production, Appendix 2 (count from roving and draft)")
def drafted_ne(*, input_ne: Ne, doublings: Strands, draft: PositiveFactor) -> Ne:
    """Count after doubling and drafting.

    input_ne: count, or hank, of one strand fed [Ne]
    doublings: strands fed together [threads]
    draft: draft of the passage [×]
    """
    return input_ne * draft / doublings


@formula(source="definition: doubling and drafting read backwards")
def tex_before_draft(*, output_tex: Tex, doublings: Strands, draft: PositiveFactor) -> Tex:
    """Linear density of one strand fed, from the strand delivered.

    output_tex: linear density of the strand delivered [tex]
    doublings: strands fed together [threads]
    draft: draft of the passage [×]
    """
    return output_tex * draft / doublings


# Output of machines


@formula(source="definition: circumference times turns")
def roller_delivery(*, roller_diameter_mm: RollerDiameter, roller_rpm: Rpm) -> MetrePerMinute:
    """Surface speed of a roller, doffer or drum.

    roller_diameter_mm: diameter [mm]
    roller_rpm: turns a minute [rpm]
    """
    return PI * roller_diameter_mm / 1000 * roller_rpm


@formula(source="definition: speed times linear density")
def machine_output(
    *, delivery_m_per_min: MetrePerMinute, tex: Tex, efficiency: Share, positions: Positions
) -> KilogramPerHour:
    """Lap, sliver or yarn from one machine in one hour: scutcher, card, draw frame, winder.

    delivery_m_per_min: delivery speed of one position [m/min]
    tex: linear density of what is delivered [tex]
    efficiency: running share of the hour [share]
    positions: deliveries or drums of the machine, 1 for a card [pieces]
    """
    hourly = position_output(delivery_m_per_min=delivery_m_per_min, tex=tex, efficiency=efficiency)
    return hourly * positions / 1000


@formula(source="spin plan for carded yarn, roving (Scribd 408473477)")
def roving_output(
    *,
    flyer_rpm: Rpm,
    turns_per_metre: TurnsPerMetre,
    roving_tex: Tex,
    efficiency: Share,
    spindles: Positions,
) -> KilogramPerHour:
    """Roving from one frame in one hour.

    flyer_rpm: flyer speed [rpm]
    turns_per_metre: twist of the roving, above zero [turns/m]
    roving_tex: linear density of the roving [tex]
    efficiency: running share of the hour [share]
    spindles: spindles of the frame [pieces]
    """
    delivery = ring_delivery(spindle_rpm=flyer_rpm, turns_per_metre=turns_per_metre)
    return machine_output(
        delivery_m_per_min=delivery, tex=roving_tex, efficiency=efficiency, positions=spindles
    )


@formula(source="definition: feed per nip times nips, less noil")
def comber_output(
    *,
    nips_per_minute: NipsPerMinute,
    feed_mm: FeedLength,
    lap_g_per_m: SliverMass,
    heads: Positions,
    efficiency: Share,
    noil: LossShare,
) -> KilogramPerHour:
    """Combed sliver from one comber in one hour.

    nips_per_minute: nips a minute [1/min]
    feed_mm: lap fed at each nip [mm]
    lap_g_per_m: mass of the lap of one head [g/m]
    heads: heads of the comber [pieces]
    efficiency: running share of the hour [share]
    noil: noil, on the lap fed [share]
    """
    fed_g_per_min = nips_per_minute * feed_mm / 1000 * lap_g_per_m * heads
    return fed_g_per_min * 60 / 1000 * efficiency * (1 - noil)


@formula(
    source="assignment on combing, question 3 (Scribd 409369439): mass out over mass in per nip"
)
def comber_noil(
    *, strand_tex: Tex, detached_mm: FeedLength, lap_g_per_m: SliverMass, feed_mm: FeedLength
) -> SignedShare:
    """Noil of a comber from the strand of one head.

    strand_tex: linear density of the combed strand of one head [tex]
    detached_mm: net length detached at each nip [mm]
    lap_g_per_m: mass of the lap of one head [g/m]
    feed_mm: lap fed at each nip [mm]
    """
    return 1 - strand_tex / 1000 * detached_mm / (lap_g_per_m * feed_mm)


@formula(source="definition: output of an hour over the hours of a shift")
def machine_shift_output(*, output_kg_per_h: KilogramPerHour, shift_hours: Hours) -> Kilogram:
    """Output of one machine in a shift.

    output_kg_per_h: output in one hour [kg/h]
    shift_hours: hours of the shift, stated [h]
    """
    return output_kg_per_h * shift_hours


@formula(source="definition: mass of a shift over its hours")
def hourly_requirement(*, required_kg: Kilogram, shift_hours: WorkedHours) -> KilogramPerHour:
    """Mass needed in one hour to have a mass in a shift.

    required_kg: mass needed in the shift [kg]
    shift_hours: hours of the shift, stated [h]
    """
    return required_kg / shift_hours


# Winding by the hank


@formula(source="definition: hanks of 840 yards (winding tutorials, textiletutorials.com)")
def hanks_per_hour(*, delivery_m_per_min: MetrePerMinute, efficiency: Share) -> HanksPerHour:
    """Hanks wound by one drum in one hour.

    delivery_m_per_min: winding speed [m/min]
    efficiency: running share of the hour [share]
    """
    return delivery_m_per_min * 60 / (YD_PER_HANK * M_PER_YD) * efficiency


@formula(source="definition: hanks wound over drums and hours")
def hanks_per_drum_hour(
    *, hanks: Hanks, winding_hours: WorkedHours, drums: Positions
) -> HanksPerHour:
    """Hanks wound by one drum in one hour, from what the machine wound.

    hanks: hanks wound in all [hank]
    winding_hours: hours worked [h]
    drums: drums at work [pieces]
    """
    return hanks / winding_hours / drums


@formula(source="definition: hanks over the hanks of an hour")
def winding_time(
    *, hanks: Hanks, hanks_per_drum_hour: PositiveHanksPerHour, drums: Positions
) -> Hours:
    """Hours to wind a lot.

    hanks: hanks of the lot [hank]
    hanks_per_drum_hour: hanks wound by one drum in one hour [hank/h]
    drums: drums at work [pieces]
    """
    return hanks / hanks_per_drum_hour / drums


@formula(source="definition: output over the output without stops")
def winding_efficiency(
    *, actual_hanks_per_hour: HanksPerHour, possible_hanks_per_hour: PositiveHanksPerHour
) -> Factor:
    """Running share of the hour, from the hanks wound.

    actual_hanks_per_hour: hanks wound by one drum in one hour [hank/h]
    possible_hanks_per_hour: hanks a drum winds in an hour without stops [hank/h]
    """
    return actual_hanks_per_hour / possible_hanks_per_hour


# Stages


@formula(source="definition: waste of a stage is on its own input")
def stage_output(*, input_kg: Kilogram, waste: LossShare) -> Kilogram:
    """Mass that leaves a stage.

    input_kg: mass that enters the stage [kg]
    waste: loss of the stage, on its input [share]
    """
    return input_kg * (1 - waste)


@formula(source="definition: waste of a stage is on its own input")
def stage_input(*, output_kg: Kilogram, waste: LossShare) -> Kilogram:
    """Mass that must enter a stage.

    output_kg: mass that leaves the stage [kg]
    waste: loss of the stage, on its input [share]
    Limits: divide by one less the waste; multiplying by one plus the waste understates.
    """
    return output_kg / (1 - waste)


@formula(source="definition: wastes multiply when each is on its own input")
def yield_of_passages(*, waste_per_passage: LossShare, passages: Pieces) -> Share:
    """What is left after several passages of the same waste.

    waste_per_passage: loss of one passage, on its input [share]
    passages: passages one after the other [pieces]
    """
    return power(1 - waste_per_passage, passages)


@formula(source="definition: output of following stages multiplies")
def yield_with_stage(*, yield_so_far: Share, waste: LossShare) -> Share:
    """What is left after one more stage.

    yield_so_far: what the stages before leave [share]
    waste: loss of the further stage, on its input [share]
    """
    return yield_so_far * (1 - waste)


@formula(source="definition: need over the output of one machine")
def machines_before_rounding(
    *, required_kg: Kilogram, machine_output_kg: MachineKilogram
) -> Factor:
    """Machines needed, not yet rounded.

    required_kg: mass needed in a period [kg]
    machine_output_kg: output of one machine in the same period [kg]
    """
    return required_kg / machine_output_kg


@formula(source="definition: machines come whole")
def machines_needed(*, required_kg: Kilogram, machine_output_kg: MachineKilogram) -> Pieces:
    """Machines needed, rounded up.

    required_kg: mass needed in a period [kg]
    machine_output_kg: output of one machine in the same period [kg]
    Limits: rounding down, as published plans do, leaves the next stage short.
    """
    return round_up(
        machines_before_rounding(required_kg=required_kg, machine_output_kg=machine_output_kg)
    )


@formula(source="definition: output of the machines put up")
def installed_output(*, machine_output_kg: MachineKilogram, machines: Pieces) -> Kilogram:
    """Output of the machines put up, which is more than the need.

    machine_output_kg: output of one machine in a period [kg]
    machines: machines put up [pieces]
    """
    return machine_output_kg * machines
