"""Weaving: what a loom makes, what a piece of cloth takes, warping, sizing and the charge.

Lengths are metres inside; yards, hanks and pounds are steps at the end. Size is counted on the
unsized warp. Picks are counted on the loom.
"""

from __future__ import annotations

from typing import Annotated, Any

from server.core.elementary import round_up
from server.core.formula import formula
from server.core.quantities import (
    CrimpShare,
    Factor,
    GramPerMetre,
    Hours,
    Inch,
    Kilogram,
    Metre,
    MetrePerHour,
    MetrePerMinute,
    Ne,
    PerInch,
    Pieces,
    Quantity,
    Rpm,
    Share,
    SignedShare,
    Tex,
    Threads,
    Yard,
)
from server.core.units import M_PER_IN, M_PER_YD

PositiveMetre = Annotated[Any, Quantity("m", above=0.0)]
PositiveInch = Annotated[Any, Quantity("in", above=0.0)]
PositiveKilogram = Annotated[Any, Quantity("kg", above=0.0)]
PositiveShare = Annotated[Any, Quantity("share", above=0.0)]
PositiveThreads = Annotated[Any, Quantity("threads", above=0.0)]
Minutes = Annotated[Any, Quantity("min", least=0.0)]
YardPerHour = Annotated[Any, Quantity("yd/h", least=0.0)]
KilogramPerMinute = Annotated[Any, Quantity("kg/min", least=0.0)]
AddOn = Annotated[Any, Quantity("share", least=0.0, most=2.0)]
PickRate = Annotated[Any, Quantity("¤·in/m", least=0.0)]
MetreCharge = Annotated[Any, Quantity("¤/m", least=0.0)]

PICKS_OF_STOP_COUNT = 100_000


# Looms


@formula(source="definition (international yard)")
def yards_per_hour(*, output_m_per_h: MetrePerHour) -> YardPerHour:
    """Cloth woven in an hour, in yards.

    output_m_per_h: cloth woven in an hour [m/h]
    """
    return output_m_per_h / M_PER_YD


@formula(source="definition: output of an hour over looms and hours")
def woven_length(*, output_m_per_h: MetrePerHour, looms: Pieces, hours: Hours) -> Metre:
    """Cloth woven by a number of looms in a time.

    output_m_per_h: cloth woven by one loom in an hour, stops taken off or not [m/h]
    looms: looms at work [pieces]
    hours: time [h]
    """
    return output_m_per_h * looms * hours


@formula(source="definition: what is woven over what could be woven")
def efficiency_from_length(*, woven_m: Metre, possible_m: PositiveMetre) -> Share:
    """Efficiency of looms from the cloth they made.

    woven_m: cloth woven [m]
    possible_m: cloth of the same time without a stop [m]
    Limits: running efficiency leaves planned stops out of the time, overall efficiency does not.
    """
    return woven_m / possible_m


@formula(source="definition: picks of an inch over the length of the cloth")
def picks_of_cloth(*, loom_ppi: PerInch, cloth_length_m: Metre) -> Threads:
    """Picks in a length of cloth.

    loom_ppi: picks per inch on the loom [1/in]
    cloth_length_m: length of the cloth, loom state [m]
    """
    return loom_ppi / M_PER_IN * cloth_length_m


@formula(source="definition: a pick for every turn of the loom")
def picks_of_loom(*, loom_rpm: Rpm, hours: Hours) -> Threads:
    """Picks that a loom makes in a time without a stop.

    loom_rpm: picks a minute [rpm]
    hours: time [h]
    """
    return loom_rpm * 60 * hours


@formula(source="definition: running time over running and stopped time")
def efficiency_from_stops(
    *, loom_rpm: Rpm, stops_in_100000_picks: Pieces, minutes_of_stop: Minutes
) -> Share:
    """Efficiency of a loom from its stops.

    loom_rpm: picks a minute [rpm]
    stops_in_100000_picks: stops of all causes in a hundred thousand picks [pieces]
    minutes_of_stop: time one stop takes, waiting for the weaver included [min]
    """
    running = PICKS_OF_STOP_COUNT / loom_rpm
    return running / (running + stops_in_100000_picks * minutes_of_stop)


@formula(source="definition: length wanted over length of one loom, machines come whole")
def looms_needed(*, required_m: Metre, loom_length_m: PositiveMetre) -> Pieces:
    """Looms that a length in a time needs.

    required_m: cloth wanted in the time [m]
    loom_length_m: cloth that one loom weaves in the time [m]
    """
    return round_up(required_m / loom_length_m)


@formula(source="definition: a pick as long as it lies, for every turn (NPTEL 116102005)")
def filling_insertion_rate(*, loom_rpm: Rpm, pick_length_in: Inch) -> MetrePerMinute:
    """Filling that a loom lays in a minute of running.

    loom_rpm: picks a minute [rpm]
    pick_length_in: yarn of one pick, the reed width or more [in]
    """
    return loom_rpm * (pick_length_in * M_PER_IN)


# Yarn in a piece


@formula(source="J. T. Taylor 1909; C. P. Brooks (ends of a piece)")
def total_ends_from_reed(*, reed_epi: PerInch, reed_width_in: Inch, extra_ends: Threads) -> Threads:
    """Total ends of a warp from its reed.

    reed_epi: ends per inch in the reed [1/in]
    reed_width_in: width of the warp in the reed [in]
    extra_ends: ends beyond these, in selvedges with more ends to a dent [threads]
    """
    return reed_epi * reed_width_in + extra_ends


@formula(source="definition of crimp on cloth length")
def length_with_crimp(*, cloth_length_m: Metre, crimp: CrimpShare) -> Metre:
    """Yarn length that a length of cloth takes.

    cloth_length_m: length of the cloth [m]
    crimp: yarn length beyond cloth length, on cloth length [share]
    """
    return cloth_length_m * (1 + crimp)


@formula(source="J. T. Taylor 1909 (quantity of material in a piece)")
def yarn_length_of_ends(*, ends: Threads, warp_length_m: Metre) -> Metre:
    """Yarn in a warp.

    ends: all ends of the warp [threads]
    warp_length_m: length of the warp [m]
    """
    return ends * warp_length_m


@formula(source="J. T. Taylor 1909 (quantity of material in a piece)")
def yarn_length_of_picks(*, ppi: PerInch, pick_length_in: Inch, cloth_length_m: Metre) -> Metre:
    """Yarn in the filling of a piece.

    ppi: picks per inch [1/in]
    pick_length_in: yarn of one pick: reed width and tail, or cloth width and its crimp [in]
    cloth_length_m: length of the cloth, of the state of the picks [m]
    """
    return ppi * pick_length_in * cloth_length_m


@formula(source="definition of tex")
def kilograms_of_length(*, yarn_length_m: Metre, tex: Tex) -> Kilogram:
    """Mass of a length of yarn.

    yarn_length_m: length of the yarn [m]
    tex: linear density [tex]
    """
    return yarn_length_m * tex / 1_000_000


@formula(source="definition (international yard)")
def yards_of_metres(*, length_m: Metre) -> Yard:
    """A length in yards.

    length_m: the length [m]
    """
    return length_m / M_PER_YD


@formula(source="A. Wolfensberger 1921; M. A. Sayed 2015 (waste on the yarn in the cloth)")
def kilograms_with_allowance(*, net_kg: Kilogram, allowance: SignedShare) -> Kilogram:
    """Yarn to put in for a piece when allowances are quoted on the net mass.

    net_kg: yarn without the allowance [kg]
    allowance: waste, or crimp and waste added up, on the net mass [share]
    Limits: adding crimp and waste gives less than compounding them.
    """
    return net_kg * (1 + allowance)


@formula(source="C. P. Brooks, Cotton Manufacturing (weight of a piece)")
def piece_mass(*, warp_kg: Kilogram, filling_kg: Kilogram, size_kg: Kilogram) -> Kilogram:
    """Mass of a piece as it comes off the loom.

    warp_kg: warp without size [kg]
    filling_kg: filling [kg]
    size_kg: size on the warp [kg]
    """
    return warp_kg + filling_kg + size_kg


# Contraction of the warp


@formula(source="J. T. Taylor 1909 (contraction)")
def intersections_per_inch(
    *, loom_ppi: PerInch, repeat_picks: PositiveThreads, repeat_intersections: Threads
) -> PerInch:
    """Intersections that an end makes with the picks of an inch.

    loom_ppi: picks per inch [1/in]
    repeat_picks: picks in one repeat of the weave [threads]
    repeat_intersections: interlacings of one end in the repeat [threads]
    """
    return loom_ppi * repeat_intersections / repeat_picks


@formula(source="J. T. Taylor 1909 (contraction)", empirical=True)
def warp_contraction(
    *, intersections_per_inch: PerInch, filling_ne: Ne, pick_factor: Factor
) -> CrimpShare:
    """Rough contraction of the warp in weaving.

    intersections_per_inch: intersections of an end in an inch [1/in]
    filling_ne: count of the filling [Ne]
    pick_factor: 3 for medium picks, 4 for many, sometimes 5 [×]
    Limits: a rule of thumb whose units do not balance; it leaves out tension and warp count, and is
    taken here on cloth length, the base making less difference than its roughness.
    """
    return pick_factor * intersections_per_inch / filling_ne / 100


# Size


@formula(source="definition: size on the mass of the unsized warp")
def size_add_on(*, sized_kg: Kilogram, unsized_kg: PositiveKilogram) -> SignedShare:
    """Size add-on of a warp.

    sized_kg: warp with its size [kg]
    unsized_kg: the same warp before sizing [kg]
    """
    return sized_kg / unsized_kg - 1


@formula(source="definition: size on the mass of the unsized warp")
def size_mass(*, unsized_kg: Kilogram, add_on: AddOn) -> Kilogram:
    """Size on a warp.

    unsized_kg: warp before sizing [kg]
    add_on: size, on the mass of the unsized warp [share]
    """
    return unsized_kg * add_on


@formula(source="C. P. Brooks, Cotton Manufacturing (size on twist)")
def unsized_mass(*, sized_kg: Kilogram, add_on: AddOn) -> Kilogram:
    """Warp without its size.

    sized_kg: warp with its size [kg]
    add_on: size, on the mass of the unsized warp [share]
    """
    return sized_kg / (1 + add_on)


@formula(source="definition: the same length weighs more (textiletutorials.com, sizing)")
def sized_ne(*, ne: Ne, add_on: AddOn) -> Ne:
    """Count of a warp with its size.

    ne: count of the unsized yarn [Ne]
    add_on: size, on the mass of the unsized warp [share]
    Limits: stretch in sizing is left out.
    """
    return ne / (1 + add_on)


@formula(source="definition: size the yarn takes from the liquor (GATE Textile Engineering 2011)")
def add_on_from_liquor(*, wet_pick_up: AddOn, concentration: Share) -> Share:
    """Add-on from the liquor a warp or cloth takes up.

    wet_pick_up: liquor taken up, on the dry mass [share]
    concentration: solids in the liquor [share]
    """
    return wet_pick_up * concentration


@formula(source="definition: size the yarn takes from the liquor (GATE Textile Engineering 2011)")
def liquor_concentration(*, add_on: Share, wet_pick_up: PositiveShare) -> Share:
    """Solids that the liquor needs for an add-on.

    add_on: solids wanted, on the dry mass [share]
    wet_pick_up: liquor taken up, on the dry mass [share]
    """
    return add_on / wet_pick_up


@formula(source="definition: mass of a metre times speed")
def mass_flow(*, metre_mass: GramPerMetre, speed_m_per_min: MetrePerMinute) -> KilogramPerMinute:
    """Cloth or warp that runs through a machine in a minute.

    metre_mass: mass of one running metre [g/m]
    speed_m_per_min: speed of the machine [m/min]
    """
    return metre_mass / 1000 * speed_m_per_min


@formula(source="definition: liquor or solids as a share of the dry mass")
def taken_up_flow(
    *, mass_flow_kg_per_min: KilogramPerMinute, share_taken_up: AddOn
) -> KilogramPerMinute:
    """Liquor, or solids, that the running goods take up in a minute.

    mass_flow_kg_per_min: dry goods through the machine [kg/min]
    share_taken_up: wet pick-up for the liquor, add-on for the solids, on the dry mass [share]
    """
    return mass_flow_kg_per_min * share_taken_up


# Warping


@formula(source="definition: yarn length over the ends that share it")
def warping_length(*, yarn_kg: Kilogram, tex: Tex, ends: PositiveThreads) -> Metre:
    """Length of warp that a mass of yarn gives.

    yarn_kg: yarn on the beam [kg]
    tex: linear density of the yarn [tex]
    ends: ends on the beam [threads]
    """
    return yarn_kg * 1_000_000 / tex / ends


@formula(source="definition: speed over the running part of the time")
def machine_length(*, speed_m_per_min: MetrePerMinute, efficiency: Share, hours: Hours) -> Metre:
    """Length that a warper or sizing machine runs in a time.

    speed_m_per_min: speed while running [m/min]
    efficiency: running share of the time [share]
    hours: time [h]
    """
    return speed_m_per_min * 60 * efficiency * hours


@formula(source="definition: a length over the length of one beam")
def beams_of_length(*, length_m: Metre, beam_length_m: PositiveMetre) -> Pieces:
    """Beams that a length fills, the last one in part.

    length_m: length run [m]
    beam_length_m: length of a full beam [m]
    """
    return length_m / beam_length_m


# Weaving charge


@formula(source="textilelab.blogspot.com, 2018 (rate for each pick per inch)")
def weaving_charge(*, pick_rate: PickRate, loom_ppi: PerInch) -> MetreCharge:
    """Charge for weaving one metre, quoted per pick.

    pick_rate: charge for a metre of cloth of one pick per inch [¤·in/m]
    loom_ppi: picks per inch on the loom [1/in]
    Limits: ask whether the rate is for a metre or a yard, and up to which width.
    """
    return pick_rate * loom_ppi


@formula(source="petiterepublic.com, questions and answers (rate of rapier looms)")
def pick_rate_at_width(
    *, pick_rate: PickRate, rate_width_in: PositiveInch, cloth_width_in: Inch
) -> PickRate:
    """Charge per pick of a cloth of another width, in proportion.

    pick_rate: charge for a metre of cloth of one pick per inch [¤·in/m]
    rate_width_in: width the rate is quoted for [in]
    cloth_width_in: width of the cloth [in]
    """
    return pick_rate * cloth_width_in / rate_width_in
