"""What a yarn weighs: ply, slub, multi-count, core filaments, twist.

Counts appear with their basis in the name. Costing uses the average (mean) linear density of the
whole yarn, core included. One yarn has many twist factors: αe 4, αm 121, αtex 3827 and
38 turns/cm·√tex are the same twist, so the unit travels with the number.
"""

from __future__ import annotations

from typing import Annotated, Any

from server.core.elementary import PI, square_root
from server.core.formula import formula
from server.core.quantities import (
    Centimetre,
    Denier,
    Dtex,
    LossShare,
    MetrePerMinute,
    Ne,
    Nm,
    PositiveFactor,
    Quantity,
    Rpm,
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
from server.core.units import M_PER_IN, NM_PER_NE, TEX_NE, tex_from_dtex

TwistFactorPerCm = Annotated[Any, Quantity("turns/cm·√tex", above=0.0)]
WindingDiameter = Annotated[Any, Quantity("mm", above=0.0)]
BaseLength = Annotated[Any, Quantity("cm", above=0.0)]
PositiveShare = Annotated[Any, Quantity("share", above=0.0, most=1.0)]
AddedMass = Annotated[Any, Quantity("share", above=-1.0, most=10.0)]
LengthExcess = Annotated[Any, Quantity("×", least=1.0)]


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


@formula(
    source="definition of the twist multiplier (Uzzal, Draft and twist in ring spinning, 2015)"
)
def twist_multiplier(*, turns_per_inch: TurnsPerInch, ne: Ne) -> TwistMultiplier:
    """English twist multiplier of a yarn whose twist is known.

    turns_per_inch: twist of the yarn, above zero [turns/in]
    ne: English cotton count [Ne]
    """
    return turns_per_inch / square_root(ne)


@formula(source="international yard and pound agreement of 1959 (25.4 mm in one inch)")
def turns_per_inch_from_metre(*, turns_per_metre: TurnsPerMetre) -> TurnsPerInch:
    """Turns in one inch from turns in one metre.

    turns_per_metre: twist [turns/m]
    """
    return turns_per_metre * M_PER_IN


@formula(source="international yard and pound agreement of 1959 (25.4 mm in one inch)")
def turns_per_metre_from_inch(*, turns_per_inch: TurnsPerInch) -> TurnsPerMetre:
    """Turns in one metre from turns in one inch.

    turns_per_inch: twist [turns/in]
    """
    return turns_per_inch / M_PER_IN


@formula(source="Rieter Rikipedia, twist formulas (turns per metre from the metric multiplier)")
def turns_per_metre_from_nm(
    *, twist_multiplier_metric: TwistMultiplierMetric, nm: Nm
) -> TurnsPerMetre:
    """Twist per metre from the metric twist multiplier.

    twist_multiplier_metric: turns per metre of a yarn of Nm 1 [αm]
    nm: metric count [Nm]
    """
    return twist_multiplier_metric * square_root(nm)


@formula(source="Rieter Rikipedia, twist formulas (turns per metre from the tex multiplier)")
def turns_per_metre_from_tex(
    *, twist_multiplier_tex: TwistMultiplierTex, tex: Tex
) -> TurnsPerMetre:
    """Twist per metre from the tex twist multiplier.

    twist_multiplier_tex: turns per metre of a yarn of 1 tex [αtex]
    tex: linear density [tex]
    """
    return twist_multiplier_tex / square_root(tex)


@formula(source="definition of the multipliers (Rieter Rikipedia, twist formulas)")
def twist_multiplier_from_metric(
    *, twist_multiplier_metric: TwistMultiplierMetric
) -> TwistMultiplier:
    """English twist multiplier from the metric one.

    twist_multiplier_metric: turns per metre of a yarn of Nm 1 [αm]
    """
    return twist_multiplier_metric * M_PER_IN * square_root(NM_PER_NE)


@formula(source="definition of the multipliers (Rieter Rikipedia, twist formulas)")
def twist_multiplier_from_tex(*, twist_multiplier_tex: TwistMultiplierTex) -> TwistMultiplier:
    """English twist multiplier from the tex one.

    twist_multiplier_tex: turns per metre of a yarn of 1 tex [αtex]
    """
    return twist_multiplier_tex * M_PER_IN / square_root(TEX_NE)


@formula(source="definition of the multipliers: 100 cm in one metre")
def tex_multiplier_from_cm(*, twist_factor_per_cm: TwistFactorPerCm) -> TwistMultiplierTex:
    """Tex twist multiplier (turns per metre) from the twist factor in turns per centimetre.

    twist_factor_per_cm: turns per centimetre of a yarn of 1 tex [turns/cm·√tex]
    """
    return twist_factor_per_cm * 100


@formula(source="definition of the multipliers: 100 cm in one metre")
def cm_factor_from_tex_multiplier(*, twist_multiplier_tex: TwistMultiplierTex) -> TwistFactorPerCm:
    """Twist factor in turns per centimetre from the tex twist multiplier.

    twist_multiplier_tex: turns per metre of a yarn of 1 tex [αtex]
    """
    return twist_multiplier_tex / 100


@formula(source="Rieter Rikipedia, yarn twist (turns of the spindle over length delivered)")
def machine_twist(*, spindle_rpm: Rpm, delivery_m_per_min: MetrePerMinute) -> TurnsPerMetre:
    """Twist a spindle, flyer or rotor puts into the length delivered.

    spindle_rpm: speed of the spindle, flyer or rotor [rpm]
    delivery_m_per_min: length delivered by the front roller [m/min]
    """
    return spindle_rpm / delivery_m_per_min


@formula(source="Rieter Rikipedia, variation in the speed of the traveller")
def traveller_lag(
    *, delivery_m_per_min: MetrePerMinute, winding_diameter_mm: WindingDiameter
) -> Rpm:
    """Turns a minute by which the traveller stays behind the spindle.

    delivery_m_per_min: length wound in a minute [m/min]
    winding_diameter_mm: diameter of the cop where the yarn is being wound [mm]
    """
    return delivery_m_per_min / (PI * winding_diameter_mm / 1000)


@formula(source="Rieter Rikipedia, variation in the speed of the traveller")
def traveller_rpm(
    *,
    spindle_rpm: Rpm,
    delivery_m_per_min: MetrePerMinute,
    winding_diameter_mm: WindingDiameter,
) -> Rpm:
    """Turns a minute of the traveller.

    spindle_rpm: spindle speed [rpm]
    delivery_m_per_min: length wound in a minute [m/min]
    winding_diameter_mm: diameter of the cop where the yarn is being wound [mm]
    """
    return spindle_rpm - traveller_lag(
        delivery_m_per_min=delivery_m_per_min, winding_diameter_mm=winding_diameter_mm
    )


@formula(source="Rieter Rikipedia, variation in the speed of the traveller")
def traveller_lag_share(*, traveller_rpm: Rpm, spindle_rpm: Rpm) -> SignedShare:
    """Share of the spindle turns that the traveller stays behind.

    traveller_rpm: turns a minute of the traveller [rpm]
    spindle_rpm: spindle speed [rpm]
    """
    return 1 - traveller_rpm / spindle_rpm


@formula(source="Rieter Rikipedia, variation in yarn twist (unwinding over end puts it back)")
def turns_missing_on_cop(*, winding_diameter_mm: WindingDiameter) -> TurnsPerMetre:
    """Turns in a metre that the lag of the traveller keeps out of the yarn on the cop.

    winding_diameter_mm: diameter of the cop where the yarn is wound [mm]
    Limits: one turn for each lap on the cop; unwinding over end puts it back.
    """
    return 1 / (PI * winding_diameter_mm / 1000)


@formula(source="Draper Corp., Facts and Figures, 1896 (roving, draft and count spun)")
def contraction_from_counts(
    *, roving_ne: Ne, mechanical_draft: PositiveFactor, spun_ne: Ne
) -> SignedShare:
    """Length lost in twisting, found from the roving, the draft and the count spun.

    roving_ne: hank of the roving [Ne]
    mechanical_draft: surface speed of the front roller over that of the back roller [×]
    spun_ne: count of the yarn as spun [Ne]
    """
    return 1 - spun_ne / (roving_ne * mechanical_draft)


@formula(source="definition: untwisted length over twisted length")
def contraction_from_factor(*, contraction_factor: LengthExcess) -> Share:
    """Contraction on the untwisted length, from texts that give the factor of the two lengths.

    contraction_factor: untwisted length over twisted length, 1.1 for 10 % more yarn [×]
    """
    return 1 - 1 / contraction_factor


@formula(source="definition: the same mass on less length")
def ne_after_contraction(*, untwisted_ne: Ne, contraction: LossShare) -> Ne:
    """Count after twisting has shortened the yarn.

    untwisted_ne: count of the strand, or of all singles together, before twisting [Ne]
    contraction: length lost in twisting, on the untwisted length [share]
    """
    return untwisted_ne * (1 - contraction)


@formula(source="definition: the same turns on less length")
def turns_after_contraction(
    *, machine_turns_per_metre: TurnsPerMetre, contraction: LossShare
) -> TurnsPerMetre:
    """Twist in a metre of finished yarn, when the turns were put into a longer strand.

    machine_turns_per_metre: turns in a metre delivered by the front roller [turns/m]
    contraction: length lost in twisting, on the untwisted length [share]
    """
    return machine_turns_per_metre / (1 - contraction)


@formula(source="definition; mmtex.top on core yarn count and mixing rate")
def core_tex_from_dtex(*, core_dtex: Dtex, core_draft: PositiveFactor) -> TexOrNone:
    """Linear density of a drafted core filament stated in decitex.

    core_dtex: filament as fed, before drafting [dtex]
    core_draft: stretch ratio on the filament while spinning [×]
    """
    return tex_from_dtex(dtex=core_dtex) / core_draft


@formula(source="definition: a stretch ratio of 3.5 is an extension of 250 %")
def core_draft_from_extension(*, extension: AddedMass) -> PositiveFactor:
    """Draft of a core filament whose extension is stated.

    extension: length gained on the length fed, 2.5 for 250 % [share]
    """
    return 1 + extension


@formula(source="definition; mmtex.top on core yarn count and mixing rate (count is the total)")
def core_share_of_total_ne(
    *, core_denier: Denier, core_draft: PositiveFactor, total_ne: Ne
) -> Share:
    """Core share of a yarn whose quoted count is that of the whole yarn.

    core_denier: filament as fed, before drafting [den]
    core_draft: stretch ratio on the filament while spinning [×]
    total_ne: count of the whole yarn, core included [Ne]
    """
    return core_tex(core_denier=core_denier, core_draft=core_draft) / (TEX_NE / total_ne)


@formula(source="definition; juduo.cc (notation 40S+40D, the count is the sheath)")
def core_share_of_sheath_ne(
    *, core_denier: Denier, core_draft: PositiveFactor, sheath_ne: Ne
) -> Share:
    """Core share of a yarn whose quoted count is that of the sheath alone.

    core_denier: filament as fed, before drafting [den]
    core_draft: stretch ratio on the filament while spinning [×]
    sheath_ne: count of the fibre sheath [Ne]
    """
    core = core_tex(core_denier=core_denier, core_draft=core_draft)
    return core / total_tex_from_sheath(sheath_ne=sheath_ne, core_tex=core)


@formula(source="definition: what the core leaves of the whole yarn")
def sheath_tex_from_total(*, total_tex: Tex, core_tex: TexOrNone) -> Tex:
    """Linear density of the sheath of a yarn whose quoted count is that of the whole yarn.

    total_tex: linear density of the whole yarn, core included [tex]
    core_tex: linear density of the drafted core, smaller than the yarn [tex]
    Limits: for two cores take one after the other.
    """
    return total_tex - core_tex


@formula(source="definition; mmtex.top on core yarn count and mixing rate (solved for the draft)")
def core_draft_from_share(
    *, core_denier: Denier, core_share: PositiveShare, total_ne: Ne
) -> PositiveFactor:
    """Draft that a stated core share implies; 2.5 to 4.5 is usual for elastane.

    core_denier: filament as fed, before drafting, above zero [den]
    core_share: core share the offer states [share]
    total_ne: count of the whole yarn, core included [Ne]
    """
    return core_denier / 9 / (core_share * (TEX_NE / total_ne))


@formula(source="definition (Uster application note on slub yarn, 2007: multiplier on base mass)")
def slub_added_mass(
    *, slub_length_cm: Centimetre, base_length_cm: BaseLength, slub_multiplier: PositiveFactor
) -> SignedShare:
    """Mass the slubs of one pattern add, on the mass of a base yarn of the same length.

    slub_length_cm: length of a slub; of a range its middle [cm]
    base_length_cm: length of base yarn between two slubs; of a range its middle [cm]
    slub_multiplier: linear density of the slub over that of the base, 1.8 for 80 % more [×]
    """
    return slub_length_cm * (slub_multiplier - 1) / (slub_length_cm + base_length_cm)


@formula(source="definition: patterns count by their lengths")
def slub_added_mass_of_two(
    *,
    first_added_mass: SignedShare,
    first_length_cm: BaseLength,
    second_added_mass: SignedShare,
    second_length_cm: BaseLength,
) -> SignedShare:
    """Mass the slubs of two patterns add together; a third joins the result of the first two.

    first_added_mass: mass added by the first pattern, on base mass [share]
    first_length_cm: slub and base length of the first pattern times its frequency [cm]
    second_added_mass: mass added by the second pattern, on base mass [share]
    second_length_cm: slub and base length of the second pattern times its frequency [cm]
    """
    added = first_added_mass * first_length_cm + second_added_mass * second_length_cm
    return added / (first_length_cm + second_length_cm)


@formula(source="Uster application note on slub yarn (S. Edalat-Pour, 2007: shares of length)")
def slub_length_share(*, slub_length_cm: Centimetre, base_length_cm: BaseLength) -> Share:
    """Share of slub in the length of the yarn; it is not the share of mass.

    slub_length_cm: length of a slub [cm]
    base_length_cm: length of base yarn between two slubs [cm]
    """
    return slub_length_cm / (slub_length_cm + base_length_cm)


@formula(source="Uster application note on slub yarn (S. Edalat-Pour, 2007); definition")
def slub_average_tex(*, base_tex: Tex, slub_added_mass: SignedShare) -> Tex:
    """Average linear density of a slub yarn from its base and the mass the slubs add.

    base_tex: linear density between the slubs [tex]
    slub_added_mass: mass added by the slubs, on the mass of the base yarn [share]
    """
    return base_tex * (1 + slub_added_mass)


@formula(source="Uster application note on slub yarn (S. Edalat-Pour, 2007); definition")
def slub_base_ne(*, average_ne: Ne, slub_added_mass: AddedMass) -> Ne:
    """Count between the slubs of a yarn whose average count is quoted.

    average_ne: average count of the whole yarn [Ne]
    slub_added_mass: mass added by the slubs, on the mass of the base yarn [share]
    """
    return average_ne * (1 + slub_added_mass)
