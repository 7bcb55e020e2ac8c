"""Real denims and bottom weights from public US customs rulings, as declared or as measured.

A ruling names weave, threads per centimetre, counts, weight and width. Most figures are what the
importer declared; `measured` marks a weight that Customs found in its laboratory. Never stated are
crimp, size, elastane draft, and the state in which the threads were counted. The worked examples
take their figures from here, so that no second copy can differ.
"""

from __future__ import annotations

from dataclasses import dataclass

RIGID, DYED, STRETCH = "rigid denim", "grey, dyed, bleached", "stretch"
SETS = (RIGID, DYED, STRETCH)
NUMBER, THREADS = "average yarn number", "threads and weight"


@dataclass(frozen=True, slots=True)
class RealCloth:
    """One cloth of a ruling.

    ends, picks: threads per centimetre [1/cm]; None where they are not stated
    grams: weight as stated [g/m²]; measured: found by Customs, not declared
    warp_ne, filling_ne: counts [Ne], of the sheath where a core is named; None where not stated
    plies: singles in a warp end whose count is that of one of them
    singles_counted: singles of one end that were counted as threads of their own
    filling_denier: filament filling in place of a count [den]; core_denier: elastane in it [den]
    group: set it counts in; models: what it is held against, the first one without tuning
    unusable: why it does not count in the scores; "" when it does
    remark: what explains an outlier, or what to know
    printed_number: average yarn number as the ruling prints it
    width_cm: width as stated [cm]; where two are stated, what lies between
    """

    id: str
    ruling: str
    cloth: str
    ends: float | None
    picks: float | None
    grams: float
    group: str
    models: tuple[str, ...] = ()
    warp_ne: float | None = None
    filling_ne: float | None = None
    plies: int = 1
    singles_counted: int = 1
    filling_denier: float | None = None
    core_denier: float | None = None
    measured: bool = False
    unusable: str = ""
    remark: str = ""
    printed_number: int | None = None
    width_cm: float | None = None


REAL_CLOTHS: tuple[RealCloth, ...] = (
    RealCloth(
        "S-01", "NY D88408 (1999)", "3/1, warp of one colour, filling unbleached or bleached",
        27.95, 16.54, 491.7, RIGID, ("M2", "M3"), 7, 6,
        width_cm=151,
        remark="14.50 oz to the gram: a trade weight. Ratio 1.23: it fits when the threads are "
        "read as on the loom and the weight as sanforized (M3).",
    ),
    RealCloth(
        "S-02", "NY 885739 (1993), first cloth", "3/1 indigo, bleached filling",
        27.9, 16.5, 491, RIGID, ("M2", "M3"), 7, 6,
        width_cm=150.5,
        remark="149 to 152 cm. Ratio 1.23, as S-01: loom threads with a sanforized weight. An ecru "
        "cloth of the ruling was declared with the same weight, so the dye is not in the figure.",
    ),
    RealCloth(
        "S-03", "NY 885739 (1993), second cloth", "2/1 indigo",
        27.9, 16.5, 356, RIGID, ("M2", "M3"), 9, 9,
        width_cm=150.5,
        remark="10.50 oz: a trade weight. Ratio 1.22, as S-01.",
    ),
    RealCloth(
        "S-04", "NY C86581 (1998)", "3/1 indigo, bleached filling",
        28.3, 17.3, 405.33, RIGID, ("M2", "M3"), 7, 10,
        width_cm=150,
        remark="Fits with the threads read as finished (M2).",
    ),
    RealCloth(
        "S-05", "NY 858539 (1990)", "2/2 cross twill, blue warp, raw filling",
        28, 17, 350, RIGID, ("M2", "M3"), 10, 7,
        width_cm=125,
        remark="Fits with the threads read as finished (M2).",
    ),
    RealCloth(
        "S-06", "NY 809564 (1995)", "2/1 denim, 60 % rayon, 40 % cotton",
        31.4, 18.1, 339, RIGID, ("M2", "M3"), 10, 10,
        width_cm=146,
        remark="10.00 oz: a trade weight. Fits with the threads read as finished (M2).",
    ),
    RealCloth(
        "S-07", "NY D81048 (1998)", "3/1 indigo, bleached filling",
        26.8, 16.5, 327, RIGID, (), 7, 7,
        unusable="impossible: straight yarn alone weighs more than the cloth",
        width_cm=152,
        remark="Counts of Ne 9.1 to 9.4 would fit: a declared count or weight is wrong.",
    ),
    RealCloth(
        "S-08", "NY G85717 (2000)", "3/1 dyed, 88 x 42 per inch, 5 oz",
        34.6, 16.5, 169.5, DYED, ("M1",), 20, 20, printed_number=30, width_cm=152,
    ),
    RealCloth(
        "S-09", "NY E88764 (1999), item 1", "3/1 dyed, 128 x 60 per inch",
        50.4, 23.6, 256, DYED, ("M1",), 20, 16, width_cm=152,
    ),
    RealCloth(
        "S-10", "NY E88764 (1999), item 2", "3/1 dyed, brushed on one side",
        23.6, 12.6, 194, DYED, ("M1",), 21, 7,
        width_cm=152,
        remark="Brushing is outside a mass balance of the yarn, but it takes fibre off, and the "
        "cloth is heavier than the model: not explained.",
    ),
    RealCloth(
        "S-11", "NY 812166 (1995)", "2/1 unbleached (greige), 98 x 68 per inch",
        38.6, 26.8, 225, DYED, ("M2",), 20, 20,
        width_cm=142,
        remark="Greige, so the size is still on the warp (M2).",
    ),
    RealCloth(
        "S-12", "NY 869714 (1991)", "3-thread twill, bleached, 60 % cotton, 40 % polyester",
        38, 19, 254.3, DYED, ("M1",), 16, 10,
        width_cm=81.3,
        remark="Too light for any crimp (ratio 1.01). 7.50 oz to the gram: a trade weight; or 4 to "
        "8 % of the mass went in scouring and bleaching (share from memory).",
    ),
    RealCloth(
        "S-13", "NY J80005 (2003), first two cloths", "duck: plain, ends in pairs",
        33, 11, 311, DYED, ("M1",), 10, 6, printed_number=14,
        width_cm=140,
        remark="Ratio 1.03 where paired ends want more crimp than a twill: counts bought as "
        "nominal, or mass lost in bleaching.",
    ),
    RealCloth(
        "S-14", "NY J85321 (2003)", "satin, bleached; warp 40/2",
        36, 13, 220, DYED, ("M1",), 40, 10, plies=2,
        width_cm=76,
        remark="The worst case. Only more crimp, a stiffening finish or a coarser count would "
        "explain it; loom threads with size would fit (+1.8 %), but bleached goods carry none.",
    ),
    RealCloth(
        "S-15", "NY 887149 (1993)", "rib (cord), indigo; warp 32/2 counted as singles",
        96, 26.7, 474, DYED, (), 32, 4, singles_counted=2,
        unusable="impossible: straight yarn alone weighs more than the cloth",
        width_cm=147,
        remark="26.7 picks of Ne 4 in a centimetre cannot be woven; read as per inch the straight "
        "yarn weighs 332 g/m². The two singles of each end are counted as two threads.",
    ),
    RealCloth(
        "S-16", "NY G82231 (2000), first cloth", "2/1, both yarns coloured; 60 cotton, 36 "
        "polyester, 4 elastane", 41, 24, 271, STRETCH, ("M4",), 16, None,
        filling_denier=300, core_denier=70, width_cm=145,
    ),
    RealCloth(
        "S-17", "NY G82231 (2000), second cloth", "2/1; 68 cotton, 30 polyester, 2 elastane",
        43, 24, 237, STRETCH, ("M4",), 16, None, filling_denier=200, core_denier=70,
        width_cm=135,
        remark="Against its sister S-16 straight yarn foretells the weight to 5.1 %; its fibre "
        "label would need a filling crimp of 33 %.",
    ),
    RealCloth(
        "S-18", "NY I82020 (2002), second cloth", "4/1 satin, dyed; 97 cotton, 3 elastane",
        75, 24, 250, STRETCH, ("M4",), 32, 16, core_denier=40,
        width_cm=130,
        remark="3.4 % off in place of 5.1 % when the filling count already holds the core.",
    ),
    RealCloth(
        "S-19", "NY B86923 (1997)", "2/1 denim type; 66 cotton, 30 polyester staple, 4 elastane",
        43.3, 18, 271, STRETCH, ("M4",), 16, 16,
        width_cm=127,
        remark="The elastane denier is not stated, so its mass is missing from the model.",
    ),
    RealCloth(
        "S-20", "NY F86448 (2000)", "2/1 stretch denim, partly coated with PVC",
        35.4, 18.1, 345, STRETCH, ("M4",), 12, 16, core_denier=40,
        unusable="coated: outside a mass balance of the yarn",
        width_cm=130,
        remark="Ratio 1.42: some 50 g/m² is coating.",
    ),
    RealCloth(
        "S-21", "NY F84955 (2000)", "3/1 twill, unbleached",
        41.7, 20.8, 273.8, NUMBER, measured=True, printed_number=22, width_cm=165,
    ),
    RealCloth(
        "S-22", "NY F83263 (2000)", "duck, greige", 29.1, 12.2, 356, NUMBER, printed_number=11,
        width_cm=165,
        remark="Weight approximate.",
    ),
    RealCloth(
        "S-23", "NY H86855 (2002)", "plain, napped on both sides",
        18, 16.5, 208.1, NUMBER, measured=True, printed_number=16, width_cm=113,
    ),
    RealCloth(
        "S-24", "HQ 964423 (2000)", "plain; cotton, polyester and elastane",
        24.4, 77.2, 197.6, NUMBER, measured=True, printed_number=51, width_cm=150,
    ),
    RealCloth(
        "S-25", "NY I83170 (2002), first cloth", "stretch poplin, warp Ne 40",
        52, 28, 135, NUMBER, printed_number=59, width_cm=129,
    ),
    RealCloth(
        "S-26", "NY D84303 (1998)", "2/1 denim, overdyed", 26, 16, 373, THREADS,
        width_cm=155,
        remark="11.0 oz. About Ne 8 at a ratio of 1.20.",
    ),
    RealCloth(
        "S-27", "NY F89399 (2000)", "3/1, grey warp, white filling", 53, 24, 263.6, THREADS,
        remark="Threads approximate. About Ne 18.7 at a ratio of 1.085.",
    ),
    RealCloth(
        "S-28", "NY I82363 (2002), first cloth", "2/1 stretch, dyed, brushed; warp Ne 16",
        44, 17, 256, THREADS, warp_ne=16, width_cm=129,
    ),
    RealCloth(
        "S-29", "NY I82363 (2002), second cloth", "basket, stretch canvas, dyed; warp Ne 16",
        36, 20, 293, THREADS, warp_ne=16, width_cm=131,
    ),
    RealCloth(
        "S-30", "NY I83170 (2002), second cloth", "2/1 stretch, dyed; warp Ne 10",
        29, 18, 303, THREADS, warp_ne=10, width_cm=135,
    ),
    RealCloth(
        "S-31", "NY I82020 (2002), first cloth", "2/1 stretch with indigo stripes; warp Ne 16",
        43, 18, 270, THREADS, warp_ne=16, width_cm=132,
    ),
    RealCloth(
        "S-32", "two denims from Mexico, 2013 (no ruling number known)",
        "4-thread twill, indigo with black sulphur top", None, None, 401.4, THREADS,
        measured=True, width_cm=169.545,
        remark="No threads stated: only the mass of a running metre, 680.6 g. The second denim "
        "has 392.9 g/m² and 666.1 g.",
    ),
)  # fmt: skip
