"""From a construction to grams, ounces, threads per inch and cover.

Internal convention: the loom state is the primary record. Crimp is on cloth length, shrink is the
length lost from loom to finished cloth, waste is the share of the yarn put in.
"""

from __future__ import annotations

from server.core.elementary import square_root
from server.core.formula import formula
from server.core.quantities import (
    CoverFactor,
    CrimpShare,
    GramPerMetre,
    GramPerSquareMetre,
    Inch,
    LossShare,
    Metre,
    Ne,
    OuncePerSquareYard,
    PerInch,
    PositiveFactor,
    Share,
    SignedShare,
    Tex,
    Threads,
)
from server.core.units import GSM_PER_OZ_YD2, M_PER_IN, TEX_NE


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
