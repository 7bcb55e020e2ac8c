"""Exact unit factors and the conversions between count systems.

The factors are legal definitions (international yard and pound agreement of 1959: 1 lb =
0.45359237 kg, 1 yd = 0.9144 m); everything else is derived from them here, nothing is typed.
"""

from __future__ import annotations

from server.core.formula import formula
from server.core.quantities import Denier, Dtex, Ne, Nm, Tex

KG_PER_LB = 0.45359237
M_PER_YD = 0.9144
M_PER_IN = 0.0254
G_PER_OZ = KG_PER_LB * 1000 / 16
YD_PER_HANK = 840.0
TEX_NE = KG_PER_LB * 1e6 / (YD_PER_HANK * M_PER_YD)  # tex × Ne = 590.5412…
NM_PER_NE = YD_PER_HANK * M_PER_YD / (KG_PER_LB * 1000)  # Nm ÷ Ne = 1.69336…
GSM_PER_OZ_YD2 = G_PER_OZ / (M_PER_YD * M_PER_YD)  # 33.9057…


@formula(source="ASTM D2260 (definition of the 840-yard hank)")
def tex_from_ne(*, ne: Ne) -> Tex:
    """Linear density from the English cotton count.

    ne: English cotton count, hanks of 840 yd in one pound [Ne]
    """
    return TEX_NE / ne


@formula(source="ASTM D2260 (definition of the 840-yard hank)")
def ne_from_tex(*, tex: Tex) -> Ne:
    """English cotton count from the linear density.

    tex: linear density, grams in one kilometre [tex]
    """
    return TEX_NE / tex


@formula(source="ASTM D2260 (definition: kilometres in one kilogram)")
def tex_from_nm(*, nm: Nm) -> Tex:
    """Linear density from the metric count.

    nm: metric count, kilometres in one kilogram [Nm]
    """
    return 1000 / nm


@formula(source="ASTM D2260 (definition: kilometres in one kilogram)")
def nm_from_tex(*, tex: Tex) -> Nm:
    """Metric count from the linear density.

    tex: linear density [tex]
    """
    return 1000 / tex


@formula(source="ASTM D2260 (definition: grams in 9 kilometres)")
def tex_from_denier(*, denier: Denier) -> Tex:
    """Linear density from denier.

    denier: grams in nine kilometres [den]
    """
    return denier / 9


@formula(source="ASTM D2260 (definition: grams in 9 kilometres)")
def denier_from_tex(*, tex: Tex) -> Denier:
    """Denier from the linear density.

    tex: linear density [tex]
    """
    return tex * 9


@formula(source="ASTM D2260 (definition: grams in 10 kilometres)")
def tex_from_dtex(*, dtex: Dtex) -> Tex:
    """Linear density from decitex.

    dtex: grams in ten kilometres [dtex]
    """
    return dtex / 10


@formula(source="ASTM D2260 (definition: grams in 10 kilometres)")
def dtex_from_tex(*, tex: Tex) -> Dtex:
    """Decitex from the linear density.

    tex: linear density [tex]
    """
    return tex * 10
