"""Other count systems, lea and skein tests, ply and mixed yarns.

Direct systems weigh a fixed length and add; indirect systems measure a fixed mass, and their
reciprocals add. Everything goes through tex. Cotton count, metric count, denier and decitex stand
in `units`.

Notation is not part of a formula: cotton and worsted 2/40 (also 40/2) is two ends of 40, resultant
20; spun silk 40/2 is resultant 40 from two ends of 80; R 59 tex/2 is resultant 59 tex.
"""

from __future__ import annotations

from typing import Annotated, Any

from server.core.formula import formula
from server.core.quantities import (
    GramPerMetre,
    Kilogram,
    LossShare,
    Ne,
    Nm,
    Pound,
    Quantity,
    Share,
    Tex,
    Yard,
)
from server.core.units import KG_PER_LB, M_PER_YD, NM_PER_NE, YD_PER_HANK

WorstedCount = Annotated[Any, Quantity("NeK", above=0.0)]
LeaCount = Annotated[Any, Quantity("NeL", above=0.0)]
RunCount = Annotated[Any, Quantity("run", above=0.0)]
YorkshireSkein = Annotated[Any, Quantity("Ny", above=0.0)]
FrenchCount = Annotated[Any, Quantity("Nf", above=0.0)]
PoundPerSpyndle = Annotated[Any, Quantity("lb/spyndle", above=0.0)]
GrainCount = Annotated[Any, Quantity("gr/120 yd", above=0.0)]
GrainPerYard = Annotated[Any, Quantity("gr/yd", above=0.0)]
SliverMass = Annotated[Any, Quantity("g/m", above=0.0)]
MeasuredYard = Annotated[Any, Quantity("yd", above=0.0)]
MeasuredMetre = Annotated[Any, Quantity("m", above=0.0)]
MeasuredPound = Annotated[Any, Quantity("lb", above=0.0)]
MeasuredGram = Annotated[Any, Quantity("g", above=0.0)]
Hanks = Annotated[Any, Quantity("hank", least=0.0)]
Plies = Annotated[Any, Quantity("threads", above=0.0)]

_TEX_OF_YD_PER_LB = KG_PER_LB * 1e6 / M_PER_YD  # tex × yards in one pound
_TEX_OF_GR_PER_YD = _TEX_OF_YD_PER_LB / 7000  # 7000 grains are one pound
TEX_NEK = _TEX_OF_YD_PER_LB / 560  # 885.8119
TEX_NEL = _TEX_OF_YD_PER_LB / 300  # 1653.515
TEX_RUN = _TEX_OF_YD_PER_LB / 1600  # 310.0341
TEX_NY = _TEX_OF_YD_PER_LB / 256  # 1937.713
TEX_NF = 500.0
TEX_PER_SPYNDLE_LB = _TEX_OF_YD_PER_LB / 14400  # 34.44825
TEX_PER_GRAIN_COUNT = _TEX_OF_GR_PER_YD / 120  # 0.5905412


# Systems


@formula(source="Chinese trade convention for cotton counts (m.mlthread.com; blog.sina.cn)")
def tex_from_ne_583(*, ne: Ne) -> Tex:
    """Linear density from an English count by the 583.1 convention of Chinese cotton offers.

    ne: English cotton count, in an offer that states this convention [Ne]
    Limits: only where the offer states it. The yarn is 1.26 % lighter than the definition of the
    count says; the cause is another moisture basis, not another length.
    """
    return 583.1 / ne


@formula(source="ASTM D2260 (definitions of both counts)")
def nm_from_ne(*, ne: Ne) -> Nm:
    """Metric count from the English cotton count.

    ne: English cotton count [Ne]
    """
    return ne * NM_PER_NE


@formula(source="ASTM D2260 (definitions of both counts)")
def ne_from_nm(*, nm: Nm) -> Ne:
    """English cotton count from the metric count.

    nm: metric count [Nm]
    """
    return nm / NM_PER_NE


@formula(source="ASTM D2260 (560 yards in one pound)")
def tex_from_nek(*, nek: WorstedCount) -> Tex:
    """Linear density from the worsted count.

    nek: worsted count, hanks of 560 yd in one pound [NeK]
    """
    return TEX_NEK / nek


@formula(source="ASTM D2260 (560 yards in one pound)")
def nek_from_tex(*, tex: Tex) -> WorstedCount:
    """Worsted count from the linear density.

    tex: linear density [tex]
    """
    return TEX_NEK / tex


@formula(source="ASTM D2260 (300 yards in one pound)")
def tex_from_nel(*, nel: LeaCount) -> Tex:
    """Linear density from the linen lea count, which is also the American woollen cut.

    nel: linen count, leas of 300 yd in one pound [NeL]
    """
    return TEX_NEL / nel


@formula(source="ASTM D2260 (300 yards in one pound)")
def nel_from_tex(*, tex: Tex) -> LeaCount:
    """Linen lea count from the linear density.

    tex: linear density [tex]
    """
    return TEX_NEL / tex


@formula(source="ASTM D2260 (1600 yards in one pound)")
def tex_from_run(*, run: RunCount) -> Tex:
    """Linear density from the American woollen run.

    run: woollen count, runs of 1600 yd in one pound [run]
    """
    return TEX_RUN / run


@formula(source="ASTM D2260 (1600 yards in one pound)")
def run_from_tex(*, tex: Tex) -> RunCount:
    """American woollen run from the linear density.

    tex: linear density [tex]
    """
    return TEX_RUN / tex


@formula(source="definition: 256 yards in one pound")
def tex_from_ny(*, ny: YorkshireSkein) -> Tex:
    """Linear density from the Yorkshire woollen skein.

    ny: woollen count, skeins of 256 yd in one pound [Ny]
    """
    return TEX_NY / ny


@formula(source="definition: 256 yards in one pound")
def ny_from_tex(*, tex: Tex) -> YorkshireSkein:
    """Yorkshire woollen skein from the linear density.

    tex: linear density [tex]
    """
    return TEX_NY / tex


@formula(source="definition: kilometres in half a kilogram (C. P. Brooks, Cotton Manufacturing)")
def tex_from_nf(*, nf: FrenchCount) -> Tex:
    """Linear density from the French cotton count.

    nf: French count, kilometres in half a kilogram [Nf]
    """
    return TEX_NF / nf


@formula(source="definition: kilometres in half a kilogram (C. P. Brooks, Cotton Manufacturing)")
def nf_from_tex(*, tex: Tex) -> FrenchCount:
    """French cotton count from the linear density.

    tex: linear density [tex]
    """
    return TEX_NF / tex


@formula(source="definition: pounds in one spyndle of 14 400 yards")
def tex_from_spyndle(*, pounds_per_spyndle: PoundPerSpyndle) -> Tex:
    """Linear density from the jute count.

    pounds_per_spyndle: pounds in one spyndle of 14 400 yd [lb/spyndle]
    """
    return pounds_per_spyndle * TEX_PER_SPYNDLE_LB


@formula(source="definition: pounds in one spyndle of 14 400 yards")
def spyndle_from_tex(*, tex: Tex) -> PoundPerSpyndle:
    """Jute count from the linear density.

    tex: linear density [tex]
    """
    return tex / TEX_PER_SPYNDLE_LB


@formula(source="ASTM D2260 (grains in 120 yards)")
def tex_from_grain_count(*, grain_count: GrainCount) -> Tex:
    """Linear density from the American grain count.

    grain_count: grains in a lea of 120 yd [gr/120 yd]
    """
    return grain_count * TEX_PER_GRAIN_COUNT


@formula(source="ASTM D2260 (grains in 120 yards)")
def grain_count_from_tex(*, tex: Tex) -> GrainCount:
    """American grain count from the linear density.

    tex: linear density [tex]
    """
    return tex / TEX_PER_GRAIN_COUNT


@formula(source="international yard and pound agreement of 1959 (7000 grains in one pound)")
def tex_from_grains_per_yard(*, grains_per_yard: GrainPerYard) -> Tex:
    """Linear density of sliver stated in grains per yard.

    grains_per_yard: grains in one yard of sliver [gr/yd]
    """
    return grains_per_yard * _TEX_OF_GR_PER_YD


@formula(source="definition: grams in one metre, ktex")
def tex_from_grams_per_metre(*, grams_per_metre: SliverMass) -> Tex:
    """Linear density of lap or sliver stated in grams per metre.

    grams_per_metre: grams in one metre, which is ktex [g/m]
    """
    return grams_per_metre * 1000


@formula(source="definition: grams in one metre, ktex")
def grams_per_metre_from_tex(*, tex: Tex) -> GramPerMetre:
    """Grams in one metre of lap, sliver, roving or yarn.

    tex: linear density [tex]
    """
    return tex / 1000


# Length and mass


@formula(source="definition of the count: hanks of 840 yards in one pound")
def ne_from_sample(*, length_yd: MeasuredYard, mass_lb: MeasuredPound) -> Ne:
    """English count of a measured length that was weighed.

    length_yd: length of the sample [yd]
    mass_lb: mass of the sample [lb]
    """
    return length_yd / YD_PER_HANK / mass_lb


@formula(source="ASTM D1907 (skein method); definition of tex")
def tex_from_sample(*, length_m: MeasuredMetre, mass_g: MeasuredGram) -> Tex:
    """Linear density of a measured length that was weighed.

    length_m: length of the sample [m]
    mass_g: mass of the sample [g]
    """
    return mass_g / length_m * 1000


@formula(source="C. P. Brooks, Cotton Manufacturing (lea of 120 yards, 1000 over its grains)")
def ne_from_lea(*, lea_grains: GrainCount) -> Ne:
    """English count from the mass of one lea of 120 yards.

    lea_grains: grains in the lea, 7000 to the pound [gr/120 yd]
    """
    return 7000 * 120 / YD_PER_HANK / lea_grains


@formula(source="definition of the count: hanks of 840 yards in one pound")
def length_of_pounds(*, ne: Ne, mass_lb: Pound) -> Yard:
    """Yards of yarn in a mass.

    ne: English cotton count [Ne]
    mass_lb: mass of the yarn [lb]
    """
    return ne * YD_PER_HANK * mass_lb


@formula(source="definition of the count: hanks of 840 yards in one pound")
def pounds_of_length(*, ne: Ne, length_yd: Yard) -> Pound:
    """Mass of a length of yarn.

    ne: English cotton count [Ne]
    length_yd: length of the yarn [yd]
    """
    return length_yd / YD_PER_HANK / ne


@formula(source="definition: hanks of 840 yards")
def hanks_of_length(*, length_yd: Yard) -> Hanks:
    """Hanks in a length of yarn.

    length_yd: length of the yarn [yd]
    """
    return length_yd / YD_PER_HANK


@formula(source="definition of the count: hanks of 840 yards in one pound")
def hanks_of_pounds(*, mass_lb: Pound, ne: Ne) -> Hanks:
    """Hanks in a mass of yarn.

    mass_lb: mass of the yarn [lb]
    ne: English cotton count [Ne]
    """
    return mass_lb * ne


@formula(source="international yard and pound agreement of 1959")
def pounds_of_mass(*, mass_kg: Kilogram) -> Pound:
    """A mass in pounds.

    mass_kg: the mass [kg]
    """
    return mass_kg / KG_PER_LB


# Ply


@formula(source="definition: direct systems add")
def ply_tex(*, single_tex: Tex, plies: Plies) -> Tex:
    """Resultant linear density of equal singles, contraction left out.

    single_tex: linear density of one single [tex]
    plies: singles twisted together [threads]
    """
    return single_tex * plies


@formula(source="definition: direct systems add")
def tex_of_two(*, first_tex: Tex, second_tex: Tex) -> Tex:
    """Resultant linear density of two singles, contraction left out.

    first_tex: one single [tex]
    second_tex: the other single [tex]
    """
    return first_tex + second_tex


@formula(source="definition: plies of a cotton count (C. P. Brooks, Cotton Manufacturing)")
def resultant_ne(*, single_ne: Ne, plies: Plies) -> Ne:
    """Resultant count of equal singles, contraction left out.

    single_ne: count of one single; the 40 of cotton 2/40 or 40/2 [Ne]
    plies: singles twisted together [threads]
    """
    return single_ne / plies


@formula(source="J. T. Taylor, Cotton Weaving and Designing, 6th ed. 1909 (folded counts)")
def ne_of_two(*, first_ne: Ne, second_ne: Ne) -> Ne:
    """Resultant count of two different singles, contraction left out.

    first_ne: count of one single [Ne]
    second_ne: count of the other single [Ne]
    """
    return 1 / (1 / first_ne + 1 / second_ne)


@formula(source="J. T. Taylor, Cotton Weaving and Designing, 6th ed. 1909 (folded counts)")
def ne_of_three(*, first_ne: Ne, second_ne: Ne, third_ne: Ne) -> Ne:
    """Resultant count of three different singles, contraction left out.

    first_ne: count of the first single [Ne]
    second_ne: count of the second single [Ne]
    third_ne: count of the third single [Ne]
    Limits: the plies do not multiply the result; the reciprocals add and that is all.
    """
    return 1 / (1 / first_ne + 1 / second_ne + 1 / third_ne)


@formula(source="definition; GATE 1992 Q3 shows the trap of the other base")
def single_ne_from_resultant(*, resultant_ne: Ne, plies: Plies, contraction: LossShare) -> Ne:
    """Count of the equal singles behind a ply yarn.

    resultant_ne: count of the ply yarn as twisted; the 40 of spun silk 40/2 [Ne]
    plies: singles twisted together [threads]
    contraction: length lost in twisting, on the untwisted length [share]
    """
    return resultant_ne * plies / (1 - contraction)


# Lots and sections of several counts


@formula(source="definition: a count is length over mass, so it averages over mass")
def average_ne_by_mass(*, first_ne: Ne, second_ne: Ne, first_mass_share: Share) -> Ne:
    """Average count of two yarns known by their shares of the mass.

    first_ne: count of the first yarn [Ne]
    second_ne: count of the second yarn [Ne]
    first_mass_share: share of the first yarn in the mass [share]
    """
    return first_mass_share * first_ne + (1 - first_mass_share) * second_ne


@formula(source="definition: linear density is mass over length, so it averages over length")
def average_tex_by_length(*, first_tex: Tex, second_tex: Tex, first_length_share: Share) -> Tex:
    """Average linear density of two yarns known by their shares of the length.

    first_tex: linear density of the first yarn [tex]
    second_tex: linear density of the second yarn [tex]
    first_length_share: share of the first yarn in the length [share]
    """
    return first_length_share * first_tex + (1 - first_length_share) * second_tex


@formula(source="definition: lengths of two masses add")
def average_tex_by_mass(*, first_tex: Tex, second_tex: Tex, first_mass_share: Share) -> Tex:
    """Average linear density of two yarns known by their shares of the mass.

    first_tex: linear density of the first yarn [tex]
    second_tex: linear density of the second yarn [tex]
    first_mass_share: share of the first yarn in the mass [share]
    """
    return 1 / (first_mass_share / first_tex + (1 - first_mass_share) / second_tex)


@formula(source="definition: linear density is mass over length, so it averages over length")
def average_ne_by_length(*, first_ne: Ne, second_ne: Ne, first_length_share: Share) -> Ne:
    """Average count of two yarns known by their shares of the length.

    first_ne: count of the first yarn [Ne]
    second_ne: count of the second yarn [Ne]
    first_length_share: share of the first yarn in the length [share]
    """
    return 1 / (first_length_share / first_ne + (1 - first_length_share) / second_ne)
