"""What a yarn weighs: ply, slub, multi-count, core filaments, twist.

Counts appear with their basis in the name. Costing uses the average (mean) linear density of the
whole yarn, core included.
"""

from __future__ import annotations

from server.core.elementary import square_root
from server.core.formula import formula
from server.core.quantities import (
    Denier,
    LossShare,
    Ne,
    PositiveFactor,
    Share,
    SignedShare,
    Tex,
    TexOrNone,
    TurnsPerInch,
    TurnsPerMetre,
    TwistMultiplier,
    TwistMultiplierMetric,
    TwistMultiplierTex,
)
from server.core.units import M_PER_IN, NM_PER_NE, TEX_NE


@formula(source="Uster application note on slub yarn (S. Edalat-Pour, 2007); definition")
def slub_average_ne(*, base_ne: Ne, slub_added_mass: SignedShare) -> Ne:
    """Average count of a slub yarn from its base count and the mass the slubs add.

    base_ne: count between the slubs [Ne]
    slub_added_mass: mass added by the slubs, on the mass of the base yarn [share]
    """
    return base_ne / (1 + slub_added_mass)


@formula(source="definition; P. R. Lord, Handbook of Yarn Production, on core-spun yarn")
def core_tex(*, core_denier: Denier, core_draft: PositiveFactor) -> TexOrNone:
    """Linear density of a drafted core filament inside the yarn.

    core_denier: filament as fed, before drafting [den]
    core_draft: stretch ratio on the filament while spinning; 3.5 means 250 % extension [×]
    """
    return core_denier / 9 / core_draft


@formula(source="definition of the mass share")
def core_share(*, core_tex: TexOrNone, total_tex: Tex) -> Share:
    """Share of a core filament in the mass of the yarn.

    core_tex: linear density of the drafted core [tex]
    total_tex: linear density of the whole yarn, core included [tex]
    """
    return core_tex / total_tex


@formula(source="definition (direct systems add)")
def total_tex_from_sheath(*, sheath_ne: Ne, core_tex: TexOrNone) -> Tex:
    """Linear density of a core yarn whose quoted count is that of the sheath alone.

    sheath_ne: count of the fibre sheath [Ne]
    core_tex: linear density of the drafted core [tex]
    """
    return TEX_NE / sheath_ne + core_tex


@formula(
    source="ASTM D1422 (turns and twist factor); W. Klein, Technology of Short-staple Spinning"
)
def turns_per_inch(*, twist_multiplier: TwistMultiplier, ne: Ne) -> TurnsPerInch:
    """Twist from the English twist multiplier.

    twist_multiplier: turns per inch of a yarn of Ne 1 [αe]
    ne: English cotton count [Ne]
    """
    return twist_multiplier * square_root(ne)


@formula(
    source="ASTM D1422 (turns and twist factor); W. Klein, Technology of Short-staple Spinning"
)
def turns_per_metre(*, twist_multiplier: TwistMultiplier, ne: Ne) -> TurnsPerMetre:
    """Twist per metre from the English twist multiplier.

    twist_multiplier: turns per inch of a yarn of Ne 1 [αe]
    ne: English cotton count [Ne]
    """
    return twist_multiplier * square_root(ne) / M_PER_IN


@formula(source="definition of the multipliers (Rieter Rikipedia, twist formulas)")
def metric_twist_multiplier(*, twist_multiplier: TwistMultiplier) -> TwistMultiplierMetric:
    """Metric twist multiplier (turns per metre at Nm 1) of the same yarn.

    twist_multiplier: English twist multiplier [αe]
    """
    return twist_multiplier / (M_PER_IN * square_root(NM_PER_NE))


@formula(source="definition of the multipliers (Rieter Rikipedia, twist formulas)")
def tex_twist_multiplier(*, twist_multiplier: TwistMultiplier) -> TwistMultiplierTex:
    """Tex twist multiplier (turns per metre at 1 tex) of the same yarn.

    twist_multiplier: English twist multiplier [αe]
    """
    return twist_multiplier * square_root(TEX_NE) / M_PER_IN


@formula(source="definition; GATE 1992 Q3 shows the trap of the other base")
def tex_after_contraction(*, summed_tex: Tex, contraction: LossShare) -> Tex:
    """Linear density after twisting has shortened the yarn.

    summed_tex: linear densities of all components together, before twisting [tex]
    contraction: length lost in twisting, on the untwisted length [share]
    """
    return summed_tex / (1 - contraction)
