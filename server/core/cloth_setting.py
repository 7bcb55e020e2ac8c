"""How close threads can lie: reed systems, cover, yarn diameter, sett, similar cloth, geometry.

Similar cloths are equally firm: the thread diameter keeps its share of the thread spacing. The
cotton system counts threads in the inch, the international one in the centimetre; a cover factor of
one system never goes with a constant of the other.
"""

from __future__ import annotations

from typing import Annotated, Any

from server.core.elementary import PI, larger_of, square_root
from server.core.fabric import diameters_per_inch, highest_sett
from server.core.formula import formula
from server.core.quantities import (
    Centimetre,
    CoverFactor,
    CrimpShare,
    Factor,
    Inch,
    LossShare,
    Ne,
    PerCentimetre,
    PerInch,
    PositiveFactor,
    Quantity,
    Share,
    SignedShare,
    Tex,
    Threads,
)
from server.core.units import M_PER_IN, TEX_NE, YD_PER_HANK

CoverFactorSi = Annotated[Any, Quantity("√tex/cm", least=0.0)]
GramPerCubicCentimetre = Annotated[Any, Quantity("g/cm³", above=0.0)]
ReedNumber = Annotated[Any, Quantity("×", least=0.0)]
PositiveThreads = Annotated[Any, Quantity("threads", above=0.0)]
PositiveInch = Annotated[Any, Quantity("in", above=0.0)]
PositiveCentimetre = Annotated[Any, Quantity("cm", above=0.0)]
SignedCentimetre = Annotated[Any, Quantity("cm")]
PositivePerInch = Annotated[Any, Quantity("1/in", above=0.0)]
PositivePerCentimetre = Annotated[Any, Quantity("1/cm", above=0.0)]

PEIRCE_DIAMETERS = 28.0  # F. T. Peirce 1937, diameters per inch at Ne 1
_COVER_NE_OF_SI = 10 * M_PER_IN * 100 / square_root(TEX_NE)  # 1.0452


# Reeds


@formula(source="C. P. Brooks, Cotton Manufacturing (reed counting)")
def dents_per_inch(
    *, reed_number: ReedNumber, dents_of_number: PositiveThreads, base_length_in: PositiveInch
) -> PerInch:
    """Dents per inch of a reed from its number in a reed system.

    reed_number: number of the reed in its system [×]
    dents_of_number: dents that number 1 has in the base length [threads]
    base_length_in: base length of the system [in]
    Limits: Stockport 1 dent in 2 in; Radcliffe and Huddersfield 1 in 1; Bolton 20 in 24.25;
    Bradford 20 in 36; Blackburn 20 in 45; Irish 100 in 40; Macclesfield 100 in 36; Leeds 19 in 9.
    """
    return reed_number * dents_of_number / base_length_in


@formula(source="C. P. Brooks, Cotton Manufacturing (reed counting)")
def reed_number(
    *, dents_per_inch: PerInch, dents_of_number: PositiveThreads, base_length_in: PositiveInch
) -> ReedNumber:
    """Number of a reed in a reed system from its dents per inch.

    dents_per_inch: dents per inch [1/in]
    dents_of_number: dents that number 1 has in the base length [threads]
    base_length_in: base length of the system [in]
    """
    return dents_per_inch * base_length_in / dents_of_number


@formula(source="J. T. Taylor, Cotton Weaving and Designing, 6th ed. 1909 (reeds)")
def reed_epi_from_dents(*, dents_per_inch: PerInch, ends_per_dent: Threads) -> PerInch:
    """Ends per inch in the reed from its dents.

    dents_per_inch: dents per inch [1/in]
    ends_per_dent: ends drawn through one dent [threads]
    """
    return dents_per_inch * ends_per_dent


@formula(source="definition: dents that hold the ends of an inch")
def dents_for_reed_epi(*, reed_epi: PerInch, ends_per_dent: PositiveThreads) -> PerInch:
    """Dents per inch that a number of ends per inch in the reed needs.

    reed_epi: ends per inch in the reed [1/in]
    ends_per_dent: ends drawn through one dent [threads]
    """
    return reed_epi / ends_per_dent


@formula(source="textileschool.com, weaving calculations (reed count of a cloth)")
def reed_epi_from_cloth(*, cloth_epi: PerInch, filling_crimp: CrimpShare) -> PerInch:
    """Ends per inch in the reed of a cloth.

    cloth_epi: ends per inch in the cloth [1/in]
    filling_crimp: reed width beyond cloth width, on cloth width of the same state [share]
    """
    return cloth_epi / (1 + filling_crimp)


@formula(source="A. Wolfensberger, Theory of Silk Weaving, 2nd ed. 1921 (reed allowances)")
def dents_for_width(
    *, dents_per_inch: PerInch, cloth_width_in: Inch, width_allowance: LossShare
) -> Threads:
    """Dents that a cloth takes up in the reed.

    dents_per_inch: dents per inch [1/in]
    cloth_width_in: width of the cloth [in]
    width_allowance: dents added for the narrowing of the cloth, on those of its width [share]
    """
    return dents_per_inch * cloth_width_in * (1 + width_allowance)


# Diameter of a yarn


@formula(source="J. T. Taylor 1909 (5 % off), Ashenhurst (10 % off)", empirical=True)
def diameters_per_inch_from_yards(*, ne: Ne, deduction: LossShare) -> PerInch:
    """Yarn diameters in an inch from the square root of the yards in a pound.

    ne: count of the yarn [Ne]
    deduction: taken off the root; 0.05 Taylor, 0.10 Ashenhurst [share]
    Limits: a rule of the trade; the root of yards per pound is taken as a number per inch.
    """
    return (1 - deduction) * square_root(YD_PER_HANK * ne)


@formula(source="F. T. Peirce 1937 (28), Taylor 1909 (27.5), Ashenhurst (26.1)", empirical=True)
def diameter_from_ne(*, ne: Ne, diameter_constant: PositiveFactor) -> Inch:
    """Yarn diameter from the cotton count.

    ne: count of the yarn [Ne]
    diameter_constant: 28 Peirce, 27.5 Taylor, 26.1 Ashenhurst [×]
    Limits: a constant without its units; rotor yarn is bulkier than ring yarn of the same count.
    """
    return 1 / diameters_per_inch(ne=ne, diameter_constant=diameter_constant)


@formula(source="F. T. Peirce, The Geometry of Cloth Structure, 1937 (fibre packed in a yarn)")
def yarn_density(
    *, fibre_density: GramPerCubicCentimetre, packing: Share
) -> GramPerCubicCentimetre:
    """Density of a yarn from that of its fibre.

    fibre_density: density of the fibre, cotton 1.52 to 1.54 [g/cm³]
    packing: share of the yarn's volume that is fibre [share]
    """
    return fibre_density * packing


@formula(source="definition: a round thread of its mass and density (GATE Textile Engineering)")
def yarn_diameter(*, tex: Tex, yarn_density: GramPerCubicCentimetre) -> Centimetre:
    """Diameter of a round yarn.

    tex: linear density [tex]
    yarn_density: density of the yarn, air included; Peirce's cotton yarn is 1/1.1 [g/cm³]
    """
    return square_root(4 * (tex / 100000) / (PI * yarn_density))


@formula(source="definition: yarns laid side by side")
def threads_side_by_side(*, diameter_in: PositiveInch) -> PerInch:
    """Diameters that fit in an inch.

    diameter_in: diameter of the yarn [in]
    """
    return 1 / diameter_in


# Cover


@formula(source="F. T. Peirce, The Geometry of Cloth Structure, 1937 (cover factor), in SI units")
def cover_factor_si(*, threads_per_cm: PerCentimetre, tex: Tex) -> CoverFactorSi:
    """Cover factor of one direction in the international system.

    threads_per_cm: ends or picks per centimetre, of one state [1/cm]
    tex: linear density of the yarn [tex]
    Limits: full cover is 26.8 here and 28 in the cotton system.
    """
    return threads_per_cm * square_root(tex) / 10


@formula(source="definition: both cover factors of the same threads")
def cover_factor_from_si(*, cover_factor_si: CoverFactorSi) -> CoverFactor:
    """Cover factor of the cotton system from the international one.

    cover_factor_si: cover factor from threads per centimetre and tex [√tex/cm]
    """
    return cover_factor_si * _COVER_NE_OF_SI


@formula(source="definition: both cover factors of the same threads")
def cover_factor_si_from_cotton(*, cover_factor: CoverFactor) -> CoverFactorSi:
    """Cover factor of the international system from that of the cotton system.

    cover_factor: cover factor from threads per inch and cotton count [1/(in·√Ne)]
    """
    return cover_factor / _COVER_NE_OF_SI


@formula(source="F. T. Peirce, The Geometry of Cloth Structure, 1937 (fractional cover)")
def fractional_cover(*, threads_per_inch: PerInch, diameter_in: Inch) -> Factor:
    """Part of the cloth that the threads of one direction cover; above 1 they overlap.

    threads_per_inch: ends or picks per inch [1/in]
    diameter_in: diameter of the yarn [in]
    """
    return threads_per_inch * diameter_in


@formula(source="F. T. Peirce, The Geometry of Cloth Structure, 1937 (cloth cover)")
def cloth_cover(*, warp_cover: Share, filling_cover: Share) -> Share:
    """Part of the cloth that warp and filling cover together.

    warp_cover: part that the ends cover [share]
    filling_cover: part that the picks cover [share]
    """
    return warp_cover + filling_cover - warp_cover * filling_cover


# Sett


@formula(source="F. T. Peirce 1937 (square jammed plain cloth of equal yarns)")
def jammed_square_sett(*, diameter_in: PositiveInch) -> PerInch:
    """Threads per inch at which a square plain cloth of equal yarns jams.

    diameter_in: diameter of both yarns [in]
    """
    return 1 / (square_root(3) * diameter_in)


@formula(
    source="Ashenhurst, and Taylor 1909 (ends plus intersections); F. T. Peirce 1937 (28)",
    empirical=True,
)
def share_of_highest_sett(
    *, threads_per_inch: PerInch, ne: Ne, repeat_ends: Threads, repeat_intersections: Threads
) -> Factor:
    """How firm a direction is: its threads over the most that a square cloth of its yarn holds.

    threads_per_inch: ends or picks per inch, of one state [1/in]
    ne: average count of the yarn [Ne]
    repeat_ends: threads in one repeat of the weave [threads]
    repeat_intersections: interlacings of one thread in the repeat [threads]
    Limits: for a cloth as dense across as along; the warp of a denim lies above 1. Cloths of equal
    value are equally firm, whatever their count and weave.
    """
    most = highest_sett(
        diameters_per_inch=diameters_per_inch(ne=ne, diameter_constant=PEIRCE_DIAMETERS),
        repeat_ends=repeat_ends,
        repeat_intersections=repeat_intersections,
    )
    return threads_per_inch / most


@formula(source="J. T. Taylor 1909 (firmness of cloth: same weave, new count)")
def sett_for_new_count(*, sett: PerInch, old_ne: Ne, new_ne: Ne) -> PerInch:
    """Threads per inch of an equally firm cloth of another count, same weave.

    sett: threads per inch now [1/in]
    old_ne: count now [Ne]
    new_ne: count of the new cloth [Ne]
    """
    return sett * square_root(new_ne / old_ne)


@formula(source="J. T. Taylor 1909 (firmness of cloth: same weave, new sett)")
def count_for_new_sett(*, ne: Ne, old_sett: PositivePerInch, new_sett: PositivePerInch) -> Ne:
    """Count of an equally firm cloth of another sett, same weave.

    ne: count now [Ne]
    old_sett: threads per inch now [1/in]
    new_sett: threads per inch of the new cloth [1/in]
    """
    return ne * (new_sett / old_sett) * (new_sett / old_sett)


@formula(source="J. T. Taylor 1909 (diameters of ends and intersections)")
def diameters_per_end(
    *, repeat_ends: PositiveThreads, repeat_intersections: Threads
) -> PositiveFactor:
    """Diameters of room that one thread of a weave takes, its intersections shared out.

    repeat_ends: threads in one repeat of the weave [threads]
    repeat_intersections: interlacings of one thread in the repeat [threads]
    """
    return (repeat_ends + repeat_intersections) / repeat_ends


@formula(source="J. T. Taylor 1909 (firmness of cloth: same yarn, new weave)")
def sett_for_new_weave(
    *, sett: PerInch, old_diameters_per_end: PositiveFactor, new_diameters_per_end: PositiveFactor
) -> PerInch:
    """Threads per inch of an equally firm cloth of another weave, same yarn.

    sett: threads per inch now [1/in]
    old_diameters_per_end: room of a thread in the weave now [×]
    new_diameters_per_end: room of a thread in the new weave [×]
    """
    return sett * old_diameters_per_end / new_diameters_per_end


@formula(source="J. T. Taylor 1909 (firmness of cloth: same sett, new weave)")
def count_for_new_weave(
    *, ne: Ne, old_diameters_per_end: PositiveFactor, new_diameters_per_end: PositiveFactor
) -> Ne:
    """Count of an equally firm cloth of another weave, same sett.

    ne: count now [Ne]
    old_diameters_per_end: room of a thread in the weave now [×]
    new_diameters_per_end: room of a thread in the new weave [×]
    """
    change = new_diameters_per_end / old_diameters_per_end
    return ne * change * change


@formula(source="J. T. Taylor 1909 (altering the weight of a cloth)")
def count_for_new_mass(*, ne: Ne, mass_factor: PositiveFactor) -> Ne:
    """Count of an equally firm cloth of another weight, same weave.

    ne: count now [Ne]
    mass_factor: new weight over the weight now [×]
    Limits: warp and filling change together; other crimp is left out.
    """
    return ne / (mass_factor * mass_factor)


@formula(source="J. T. Taylor 1909 (altering the weight of a cloth)")
def sett_for_new_mass(*, sett: PerInch, mass_factor: PositiveFactor) -> PerInch:
    """Threads per inch of an equally firm cloth of another weight, same weave.

    sett: threads per inch now [1/in]
    mass_factor: new weight over the weight now [×]
    Limits: a heavier cloth has coarser yarn and fewer threads.
    """
    return sett / mass_factor


# Geometry of plain cloth


@formula(source="F. T. Peirce, The Geometry of Cloth Structure, 1937")
def length_between_crossings(
    *, crossing_threads_per_cm: PositivePerCentimetre, crimp: CrimpShare
) -> Centimetre:
    """Length of a thread from one crossing to the next.

    crossing_threads_per_cm: threads per centimetre of the other direction [1/cm]
    crimp: crimp of the thread, on cloth length [share]
    """
    return (1 + crimp) / crossing_threads_per_cm


@formula(source="F. T. Peirce, The Geometry of Cloth Structure, 1937")
def sum_of_diameters(
    *, warp_diameter_cm: Centimetre, filling_diameter_cm: Centimetre
) -> Centimetre:
    """Diameters of an end and a pick together, which equal both crimp heights together.

    warp_diameter_cm: diameter of the warp [cm]
    filling_diameter_cm: diameter of the filling [cm]
    """
    return warp_diameter_cm + filling_diameter_cm


@formula(source="F. T. Peirce, The Geometry of Cloth Structure, 1937")
def length_in_diameters(
    *, crossing_length_cm: Centimetre, diameters_cm: PositiveCentimetre
) -> Factor:
    """Length between crossings over the sum of diameters, the measure of tightness.

    crossing_length_cm: length of a thread from one crossing to the next [cm]
    diameters_cm: diameters of an end and a pick together [cm]
    """
    return crossing_length_cm / diameters_cm


@formula(source="F. T. Peirce 1937 (4/3; exam keys also 1.36), for small crimp")
def crimp_height(
    *,
    crossing_threads_per_cm: PositivePerCentimetre,
    crimp: CrimpShare,
    height_constant: PositiveFactor,
) -> Centimetre:
    """Height of the crimp wave of a thread.

    crossing_threads_per_cm: threads per centimetre of the other direction [1/cm]
    crimp: crimp of the thread, on cloth length [share]
    height_constant: 4/3 Peirce, 1.36 in some exam keys [×]
    """
    return height_constant / crossing_threads_per_cm * square_root(crimp)


@formula(source="F. T. Peirce, The Geometry of Cloth Structure, 1937")
def crimp_height_left(*, diameters_cm: Centimetre, crimp_height_cm: Centimetre) -> SignedCentimetre:
    """Height of the crimp wave of the other direction.

    diameters_cm: diameters of an end and a pick together [cm]
    crimp_height_cm: crimp height of the first direction [cm]
    """
    return diameters_cm - crimp_height_cm


@formula(source="F. T. Peirce 1937 (4/3; exam keys also 1.36), for small crimp")
def crimp_from_height(
    *,
    crimp_height_cm: Centimetre,
    crossing_threads_per_cm: PerCentimetre,
    height_constant: PositiveFactor,
) -> SignedShare:
    """Crimp of a thread from the height of its wave.

    crimp_height_cm: crimp height of the thread [cm]
    crossing_threads_per_cm: threads per centimetre of the other direction [1/cm]
    height_constant: 4/3 Peirce, 1.36 in some exam keys [×]
    Limits: ill-conditioned; small changes of diameter move the result by a tenth.
    """
    slope = crimp_height_cm * crossing_threads_per_cm / height_constant
    return slope * slope


@formula(source="F. T. Peirce, The Geometry of Cloth Structure, 1937")
def cloth_thickness(
    *,
    warp_crimp_height_cm: Centimetre,
    warp_diameter_cm: Centimetre,
    filling_crimp_height_cm: Centimetre,
    filling_diameter_cm: Centimetre,
) -> Centimetre:
    """Thickness of a plain cloth of round yarns.

    warp_crimp_height_cm: crimp height of the warp [cm]
    warp_diameter_cm: diameter of the warp [cm]
    filling_crimp_height_cm: crimp height of the filling [cm]
    filling_diameter_cm: diameter of the filling [cm]
    """
    return larger_of(
        warp_crimp_height_cm + warp_diameter_cm, filling_crimp_height_cm + filling_diameter_cm
    )
