"""From a construction to grams, ounces, threads per inch and cover.

Internal convention: the loom state is the primary record. Crimp is on cloth length, shrink is the
length lost from loom to finished cloth, waste is the share of the yarn put in.
"""

from __future__ import annotations

from typing import Annotated, Any

from server.core.elementary import square_root
from server.core.formula import formula
from server.core.quantities import (
    CoverFactor,
    CrimpShare,
    Factor,
    GramPerMetre,
    GramPerSquareMetre,
    Inch,
    LossShare,
    Metre,
    Ne,
    Nm,
    OuncePerSquareYard,
    OuncePerYard,
    PerCentimetre,
    PerInch,
    PositiveFactor,
    Quantity,
    Share,
    SignedShare,
    Tex,
    TexOrNone,
    Threads,
)
from server.core.units import G_PER_OZ, GSM_PER_OZ_YD2, M_PER_IN, M_PER_YD, TEX_NE

PositiveMetre = Annotated[Any, Quantity("m", above=0.0)]
PositiveInch = Annotated[Any, Quantity("in", above=0.0)]
PositivePerCentimetre = Annotated[Any, Quantity("1/cm", above=0.0)]
PositiveGramPerSquareMetre = Annotated[Any, Quantity("g/m²", above=0.0)]


@formula(source="J. T. Taylor, Cotton Weaving and Designing, 6th ed. 1909 (quantity of material)")
def warp_mass(
    *, ends: Threads, crimp: CrimpShare, length_shrink: LossShare, tex: Tex
) -> GramPerMetre:
    """Warp in one metre of finished cloth.

    ends: ends of this yarn across the whole warp, selvedges included [threads]
    crimp: yarn length beyond cloth length, on cloth length, loom state [share]
    length_shrink: length lost from loom to finished cloth [share]
    tex: average linear density of the yarn [tex]
    """
    return ends * (1 + crimp) / (1 - length_shrink) * tex / 1000


@formula(source="J. T. Taylor, Cotton Weaving and Designing, 6th ed. 1909 (quantity of material)")
def filling_mass(
    *, loom_ppi: PerInch, length_shrink: LossShare, reed_width_in: Inch, tail_in: Inch, tex: Tex
) -> GramPerMetre:
    """Filling in one metre of finished cloth.

    loom_ppi: picks of this yarn per inch on the loom [1/in]
    length_shrink: length lost from loom to finished cloth [share]
    reed_width_in: width of the warp in the reed, the length of a pick [in]
    tail_in: yarn beyond the reed width used up by each pick [in]
    tex: average linear density of the yarn [tex]
    """
    return (
        loom_ppi
        / M_PER_IN
        / (1 - length_shrink)
        * (reed_width_in + tail_in)
        * M_PER_IN
        * (tex / 1000)
    )


@formula(source="definition: shares of the threads of one direction")
def threads_of_slot(*, threads_in_all: Threads, share_of_threads: Share) -> Threads:
    """Threads of one yarn in a direction that holds several.

    threads_in_all: ends of the warp, or picks, in all [threads]
    share_of_threads: share of this yarn, by number of threads [share]
    """
    return threads_in_all * share_of_threads


@formula(source="definition: shares of the threads of one direction")
def picks_of_slot(*, loom_ppi: PerInch, share_of_threads: Share) -> PerInch:
    """Picks per inch of one yarn in a filling that holds several.

    loom_ppi: picks per inch on the loom in all [1/in]
    share_of_threads: share of this yarn, by number of picks [share]
    """
    return loom_ppi * share_of_threads


@formula(source="definition: masses of one direction add")
def sum_of_masses(*, first_mass: GramPerMetre, second_mass: GramPerMetre) -> GramPerMetre:
    """Two masses of the same metre together.

    first_mass: one mass [g/m]
    second_mass: the other [g/m]
    """
    return first_mass + second_mass


@formula(source="definition: mass balance of the finished metre")
def finished_mass_per_area(
    *,
    warp_mass: GramPerMetre,
    filling_mass: GramPerMetre,
    net_finish: SignedShare,
    finished_width_in: Inch,
) -> GramPerSquareMetre:
    """Weight of the finished cloth.

    warp_mass: warp in one finished metre [g/m]
    filling_mass: filling in one finished metre [g/m]
    net_finish: mass kept from size, dye and finish less scouring loss, on yarn mass [share]
    finished_width_in: finished width edge to edge [in]
    Limits: coated, brushed and printed cloth is outside a yarn mass balance.
    """
    return (warp_mass + filling_mass) * (1 + net_finish) / (finished_width_in * M_PER_IN)


@formula(source="definition: mass balance of the finished metre, net finish in its parts")
def finished_mass_from_parts(
    *,
    warp_mass: GramPerMetre,
    filling_mass: GramPerMetre,
    warp_retained: SignedShare,
    scouring_loss: LossShare,
    coating_g_per_m2: GramPerSquareMetre,
    finished_width_in: Inch,
) -> GramPerSquareMetre:
    """Weight of the finished cloth from what stays on the warp, what is lost and what is added.

    warp_mass: warp in one finished metre [g/m]
    filling_mass: filling in one finished metre [g/m]
    warp_retained: size and dye that stay on the warp, on warp mass; 0 when desized [share]
    scouring_loss: mass lost in scouring or bleaching, on the mass before it [share]
    coating_g_per_m2: coating or resin added [g/m²]
    finished_width_in: finished width edge to edge, above zero [in]
    """
    yarn_mass = warp_mass * (1 + warp_retained) + filling_mass
    return yarn_mass * (1 - scouring_loss) / (finished_width_in * M_PER_IN) + coating_g_per_m2


@formula(source="definition (international yard and pound); ASTM D3776 for the property")
def ounces_per_square_yard(*, mass_per_area: GramPerSquareMetre) -> OuncePerSquareYard:
    """Weight in ounces per square yard.

    mass_per_area: weight [g/m²]
    """
    return mass_per_area / GSM_PER_OZ_YD2


@formula(source="definition: waste is a share of the yarn put in")
def mass_to_buy(*, mass_in_cloth: GramPerMetre, waste: LossShare) -> GramPerMetre:
    """Yarn to buy for one metre of finished cloth.

    mass_in_cloth: yarn in one finished metre [g/m]
    waste: share of the yarn put in that is lost [share]
    """
    return mass_in_cloth / (1 - waste)


@formula(source="definition (ASTM D3775 for the property)")
def finished_epi(*, total_ends: Threads, finished_width_in: Inch) -> PerInch:
    """Ends per inch, finished.

    total_ends: all ends of the warp [threads]
    finished_width_in: finished width edge to edge [in]
    """
    return total_ends / finished_width_in


@formula(source="definition (ASTM D3775 for the property)")
def finished_ppi(*, loom_ppi: PerInch, length_shrink: LossShare) -> PerInch:
    """Picks per inch, finished.

    loom_ppi: picks per inch on the loom [1/in]
    length_shrink: length lost from loom to finished cloth [share]
    """
    return loom_ppi / (1 - length_shrink)


@formula(source="definition: ends do not change across the width chain")
def reed_epi(*, total_ends: Threads, reed_width_in: Inch) -> PerInch:
    """Ends per inch in the reed.

    total_ends: all ends of the warp [threads]
    reed_width_in: width of the warp in the reed [in]
    """
    return total_ends / reed_width_in


@formula(source="definition of the width loss")
def width_contraction(*, reed_width_in: Inch, finished_width_in: Inch) -> SignedShare:
    """Width lost from reed to finished cloth.

    reed_width_in: width of the warp in the reed [in]
    finished_width_in: finished width edge to edge [in]
    """
    return 1 - finished_width_in / reed_width_in


@formula(source="F. T. Peirce, The Geometry of Cloth Structure, 1937 (cover factor, cotton system)")
def cover_factor(*, threads_per_inch: PerInch, ne: Ne) -> CoverFactor:
    """Cover factor of one direction.

    threads_per_inch: ends or picks per inch, of one state [1/in]
    ne: average count of the yarn [Ne]
    """
    return threads_per_inch / square_root(ne)


@formula(source="ASTM D3883 (crimp on cloth length, take-up on yarn length)")
def crimp_from_take_up(*, take_up: LossShare) -> CrimpShare:
    """Crimp (on cloth length) from take-up (on yarn length).

    take_up: length lost in weaving, on yarn length [share]
    """
    return take_up / (1 - take_up)


@formula(source="ASTM D3883 (crimp on cloth length, take-up on yarn length)")
def take_up_from_crimp(*, crimp: CrimpShare) -> Share:
    """Take-up (on yarn length) from crimp (on cloth length).

    crimp: yarn length beyond cloth length, on cloth length [share]
    """
    return crimp / (1 + crimp)


@formula(source="definition: straight threads, no crimp and nothing added")
def straight_yarn_mass(
    *, epi: PerInch, warp_ne: Ne, ppi: PerInch, filling_ne: Ne
) -> GramPerSquareMetre:
    """Mass of the straight yarn in a square metre: the lower bound of any honest weight.

    epi: ends per inch [1/in]
    warp_ne: count of the warp [Ne]
    ppi: picks per inch, of the same state [1/in]
    filling_ne: count of the filling [Ne]
    """
    return (epi / warp_ne + ppi / filling_ne) * TEX_NE / 1000 / M_PER_IN


@formula(source="Ashenhurst, and Taylor 1909: ends plus intersections")
def highest_sett(
    *, diameters_per_inch: PerInch, repeat_ends: Threads, repeat_intersections: Threads
) -> PerInch:
    """Most threads an inch can hold in a weave.

    diameters_per_inch: yarn diameters that fit side by side in an inch [1/in]
    repeat_ends: threads in one repeat of the weave [threads]
    repeat_intersections: interlacings of one thread in the repeat [threads]
    Limits: a usual working sett is about three quarters of it (Ashenhurst).
    """
    return diameters_per_inch * repeat_ends / (repeat_ends + repeat_intersections)


@formula(source="F. T. Peirce 1937 (28), Taylor 1909 (27.5), Ashenhurst (26.1)", empirical=True)
def diameters_per_inch(*, ne: Ne, diameter_constant: PositiveFactor) -> PerInch:
    """Yarn diameters that fit side by side in an inch.

    ne: count of the yarn [Ne]
    diameter_constant: 28 Peirce, 27.5 Taylor, 26.1 Ashenhurst [×]
    Limits: rotor yarn is bulkier than ring yarn at the same count; no sourced factor is known.
    """
    return diameter_constant * square_root(ne)


@formula(source="definition: the finished threads come from the loom threads")
def total_ends_from_finished(*, finished_epi: PerInch, finished_width_in: Inch) -> Threads:
    """Total ends of a cloth described in its finished state.

    finished_epi: ends per inch, finished [1/in]
    finished_width_in: finished width edge to edge [in]
    """
    return finished_epi * finished_width_in


@formula(source="definition: the finished threads come from the loom threads")
def loom_ppi_from_finished(*, finished_ppi: PerInch, length_shrink: LossShare) -> PerInch:
    """Loom picks of a cloth described in its finished state.

    finished_ppi: picks per inch, finished [1/in]
    length_shrink: length lost from loom to finished cloth [share]
    """
    return finished_ppi * (1 - length_shrink)


@formula(source="J. T. Taylor 1909: a pick is as long as the warp is wide in the reed")
def reed_width_from_finished(*, finished_width_in: Inch, filling_crimp: CrimpShare) -> Inch:
    """Reed width of a cloth described in its finished state.

    finished_width_in: finished width edge to edge [in]
    filling_crimp: filling length beyond finished cloth width, on cloth width [share]
    """
    return finished_width_in * (1 + filling_crimp)


@formula(source="definition: the width that a cutting room can use")
def area_per_metre(*, cuttable_width_in: Inch) -> Metre:
    """Cuttable square metres in one metre of cloth.

    cuttable_width_in: width between the selvedges [in]
    """
    return cuttable_width_in * M_PER_IN


# Weight from a construction, in either system and in any state


@formula(source="ASTM D3776 for the property; definition of crimp and count")
def woven_mass_per_area(
    *,
    epi: PerInch,
    warp_crimp: CrimpShare,
    warp_ne: Ne,
    ppi: PerInch,
    filling_crimp: CrimpShare,
    filling_ne: Ne,
) -> GramPerSquareMetre:
    """Weight of a cloth from threads per inch, counts and crimps.

    epi: ends per inch [1/in]
    warp_crimp: warp length beyond cloth length, on cloth length [share]
    warp_ne: count of the warp [Ne]
    ppi: picks per inch [1/in]
    filling_crimp: filling length beyond cloth width, on cloth width [share]
    filling_ne: count of the filling [Ne]
    Limits: threads, crimps and counts of one state; nothing added, nothing lost.
    """
    return straight_yarn_mass(
        epi=epi * (1 + warp_crimp),
        warp_ne=warp_ne,
        ppi=ppi * (1 + filling_crimp),
        filling_ne=filling_ne,
    )


@formula(source="definition: thread length in a square metre times its linear density")
def direction_mass_per_area(
    *, threads_per_cm: PerCentimetre, crimp: CrimpShare, tex: TexOrNone
) -> GramPerSquareMetre:
    """Yarn of one direction in a square metre.

    threads_per_cm: ends or picks per centimetre [1/cm]
    crimp: yarn length beyond cloth, on cloth [share]
    tex: linear density of the yarn, or of one part of it [tex]
    """
    return threads_per_cm * 100 * (1 + crimp) * tex / 1000


@formula(source="definition: mass balance of a cloth that shrinks and takes on or loses mass")
def area_mass_after_change(
    *,
    mass_per_area: GramPerSquareMetre,
    length_loss: LossShare,
    width_loss: LossShare,
    mass_change: SignedShare,
) -> GramPerSquareMetre:
    """Weight of a cloth after a change of state.

    mass_per_area: weight before [g/m²]
    length_loss: length lost, on the length before [share]
    width_loss: width lost, on the width before [share]
    mass_change: mass taken on, less than zero when lost, on the mass before [share]
    """
    return mass_per_area * (1 + mass_change) / ((1 - length_loss) * (1 - width_loss))


@formula(source="definition: mass balance, what stays on the warp counted on the warp alone")
def cloth_mass_per_area(
    *,
    ends_per_cm: PerCentimetre,
    warp_crimp: CrimpShare,
    warp_tex: Tex,
    warp_add_on: SignedShare,
    picks_per_cm: PerCentimetre,
    filling_crimp: CrimpShare,
    filling_tex: Tex,
    length_loss: LossShare,
    width_loss: LossShare,
) -> GramPerSquareMetre:
    """Weight of a cloth from the threads of one state, carried to a later state.

    ends_per_cm: ends per centimetre, earlier state [1/cm]
    warp_crimp: warp length beyond cloth length, on cloth length, earlier state [share]
    warp_tex: linear density of the unsized warp [tex]
    warp_add_on: size and dye that stay, on the mass of the unsized warp [share]
    picks_per_cm: picks per centimetre, earlier state [1/cm]
    filling_crimp: filling length beyond cloth width, on cloth width, earlier state [share]
    filling_tex: linear density of the filling [tex]
    length_loss: length lost from the earlier to the later state [share]
    width_loss: width lost from the earlier to the later state [share]
    """
    warp = direction_mass_per_area(threads_per_cm=ends_per_cm, crimp=warp_crimp, tex=warp_tex)
    filling = direction_mass_per_area(
        threads_per_cm=picks_per_cm, crimp=filling_crimp, tex=filling_tex
    )
    return (warp * (1 + warp_add_on) + filling) / ((1 - length_loss) * (1 - width_loss))


@formula(source="definition (international yard and pound)")
def area_mass_from_ounces(*, ounces_per_square_yard: OuncePerSquareYard) -> GramPerSquareMetre:
    """Weight in grams per square metre from ounces per square yard.

    ounces_per_square_yard: weight of a square yard [oz/yd²]
    """
    return ounces_per_square_yard * GSM_PER_OZ_YD2


@formula(source="definition (international yard and pound)")
def metre_mass_from_ounces(*, ounces_per_yard: OuncePerYard) -> GramPerMetre:
    """Mass of one running metre from the ounces of one running yard.

    ounces_per_yard: mass of one yard of cloth, full width [oz/yd]
    """
    return ounces_per_yard * (G_PER_OZ / M_PER_YD)


@formula(source="ASTM D3776 (mass of a length, with its width)")
def metre_mass(*, mass_per_area: GramPerSquareMetre, width_in: Inch) -> GramPerMetre:
    """Mass of one running metre of cloth.

    mass_per_area: weight [g/m²]
    width_in: width edge to edge [in]
    """
    return mass_per_area * (width_in * M_PER_IN)


@formula(source="ASTM D3776 (mass of a length, with its width)")
def area_mass_from_metre_mass(
    *, metre_mass: GramPerMetre, width_in: PositiveInch
) -> GramPerSquareMetre:
    """Weight from the mass of one running metre.

    metre_mass: mass of one metre of cloth, full width [g/m]
    width_in: width edge to edge [in]
    """
    return metre_mass / (width_in * M_PER_IN)


# Checks of a stated weight


@formula(source="definition: a weight over another one")
def mass_ratio(
    *, mass_per_area: GramPerSquareMetre, reference_mass_per_area: PositiveGramPerSquareMetre
) -> Factor:
    """A weight over another one; stated weight over straight yarn is the ratio r of a cloth.

    mass_per_area: the weight, usually as stated [g/m²]
    reference_mass_per_area: what it is compared with, usually the straight yarn [g/m²]
    Limits: r at or below 1.00 is impossible; below about 1.02 or above about 1.30 it is doubtful.
    """
    return mass_per_area / reference_mass_per_area


@formula(source="definition of a relative deviation")
def weight_deviation(
    *, computed_mass_per_area: GramPerSquareMetre, stated_mass_per_area: PositiveGramPerSquareMetre
) -> SignedShare:
    """How far a computed weight is from the stated one.

    computed_mass_per_area: weight as computed [g/m²]
    stated_mass_per_area: weight as stated [g/m²]
    """
    return computed_mass_per_area / stated_mass_per_area - 1


@formula(source="definition of a mass share")
def mass_share(
    *, part_mass_per_area: GramPerSquareMetre, whole_mass_per_area: PositiveGramPerSquareMetre
) -> Share:
    """Share of a part in the mass of the cloth.

    part_mass_per_area: mass of the part in a square metre [g/m²]
    whole_mass_per_area: mass of all in a square metre [g/m²]
    """
    return part_mass_per_area / whole_mass_per_area


@formula(source="HTSUS chapter 52, statistical note 3 (average yarn number)")
def average_yarn_number(
    *,
    ends_per_cm: PerCentimetre,
    picks_per_cm: PerCentimetre,
    mass_per_area: PositiveGramPerSquareMetre,
) -> Nm:
    """Average yarn number of a cloth, thread length taken as cloth length.

    ends_per_cm: single ends per centimetre [1/cm]
    picks_per_cm: single picks per centimetre [1/cm]
    mass_per_area: weight of the cloth [g/m²]
    Limits: customs truncate it to a whole number; without crimp it is below the count of the yarn.
    """
    return (ends_per_cm + picks_per_cm) * 100 / mass_per_area


@formula(source="definition: the average yarn number is too low by the ratio r")
def ne_from_apparent(*, apparent_ne: Ne, ratio_to_straight_yarn: PositiveFactor) -> Ne:
    """Mean count that threads and weight of a cloth imply.

    apparent_ne: average yarn number of the cloth, in English count [Ne]
    ratio_to_straight_yarn: stated weight over straight yarn, for cloths of this class [×]
    """
    return apparent_ne * ratio_to_straight_yarn


@formula(source="definition: what the warp leaves of the weight")
def filling_tex_from_mass(
    *,
    mass_per_area: GramPerSquareMetre,
    warp_mass_per_area: GramPerSquareMetre,
    picks_per_cm: PositivePerCentimetre,
    filling_crimp: CrimpShare,
) -> TexOrNone:
    """Linear density of the filling that a stated weight leaves room for.

    mass_per_area: weight as stated [g/m²]
    warp_mass_per_area: warp in it, crimp and what stays on it included [g/m²]
    picks_per_cm: picks per centimetre [1/cm]
    filling_crimp: filling length beyond cloth width, on cloth width [share]
    Limits: a sanity check only; ten points on the warp move the result by a sixth or more.
    """
    return (mass_per_area - warp_mass_per_area) / (picks_per_cm * 100 * (1 + filling_crimp)) * 1000


@formula(source="definition: mass of a fibre that only one direction holds, over its straight yarn")
def crimp_from_label(
    *,
    mass_per_area: GramPerSquareMetre,
    fibre_share: Share,
    straight_mass_per_area: PositiveGramPerSquareMetre,
) -> SignedShare:
    """Crimp of a direction whose fibre the other does not hold, from the fibre label.

    mass_per_area: weight of the cloth [g/m²]
    fibre_share: share of the fibre on the label [share]
    straight_mass_per_area: the yarn of that fibre laid straight [g/m²]
    Limits: labels are rounded to a percent; nothing may have been added to the yarn.
    """
    return mass_per_area * fibre_share / straight_mass_per_area - 1


# Crimp and waste


@formula(source="ASTM D3883 (crimp on cloth length)")
def crimp_from_lengths(*, yarn_length: Metre, cloth_length: PositiveMetre) -> SignedShare:
    """Crimp from the length of a yarn and of the cloth it was in.

    yarn_length: yarn taken out and straightened [m]
    cloth_length: cloth the yarn was in [m]
    Limits: straightening stretches the yarn, so measured crimp comes out somewhat high.
    """
    return yarn_length / cloth_length - 1


@formula(source="ASTM D3883 (take-up on yarn length)")
def take_up_from_lengths(*, yarn_length: PositiveMetre, cloth_length: Metre) -> SignedShare:
    """Take-up from the length of a yarn and of the cloth it was in.

    yarn_length: yarn put in, or taken out and straightened [m]
    cloth_length: cloth the yarn is in [m]
    """
    return 1 - cloth_length / yarn_length


@formula(source="textileadvisor.com, fabric costing, 2019 (waste on the yarn in the cloth)")
def mass_to_buy_on_net(*, mass_in_cloth: GramPerMetre, waste_on_net: SignedShare) -> GramPerMetre:
    """Yarn to buy for one metre when waste is quoted on the yarn in the cloth.

    mass_in_cloth: yarn in one metre [g/m]
    waste_on_net: yarn lost, on the yarn in the cloth, not on the yarn put in [share]
    """
    return mass_in_cloth * (1 + waste_on_net)
