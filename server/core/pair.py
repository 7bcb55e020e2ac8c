"""One warp/filling pair in a construction: the sheet from yarn price to price of a finished metre.

Slots are named `warp`, `warp2`, `filling`, …; each contributes its mass and its cost, and the
direction sums its slots. The same sheet serves one pair, a million pairs (arrays), the explanation
and the break-even.
"""

from __future__ import annotations

from functools import lru_cache

from server.core import conversion as money
from server.core import fabric as cloth
from server.core.assumptions import AssumptionSet
from server.core.cloth_setting import share_of_highest_sett
from server.core.cloth_states import (
    CALIBRATED,
    CRIMP_NOTED,
    FINISH_NOTED,
    SHRINK_NOTED,
    STARTING_VALUE,
    WEIGHT_OF,
    calibrated_on,
    state_inputs,
    state_lines,
)
from server.core.construction import DIRECTIONS, WEAVES, Basis, Construction, Slot
from server.core.formula import formula
from server.core.loom_behaviour import (
    AS_ASSUMED,
    FED,
    FROM_STOPS,
    efficiency_lines,
    lines_against_assumed,
)
from server.core.offer import Offer
from server.core.quantities import (
    GramPerMetre,
    Inch,
    Metre,
    Money,
    MoneyPerMetre,
    PricePerKg,
    Tonne,
)
from server.core.sheet import Input, Line, Sheet
from server.core.units import tex_from_ne

NOT_IN_ROUTE = "not_in_route"  # the input, always zero, of a stage the construction does not have

STACK = (
    "yarn_cost",
    "warp_preparation",
    "weaving",
    "finishing",
    "inspection",
    "overhead",
    "seconds",
)


@formula(source="definition: the stages of warp preparation add")
def warp_preparation_rate(
    *, ball_warping: PricePerKg, dyeing: PricePerKg, re_beaming: PricePerKg, sizing: PricePerKg
) -> PricePerKg:
    """All warp preparation for a kilogram of warp put in.

    ball_warping: ball warping [¤/kg]
    dyeing: indigo dyeing [¤/kg]
    re_beaming: re-beaming of the dyed ropes [¤/kg]
    sizing: sizing [¤/kg]
    """
    return ball_warping + dyeing + re_beaming + sizing


@formula(source="definition: metres times grams of a metre")
def season_tonnes(*, season_metres: Metre, mass_to_buy: GramPerMetre) -> Tonne:
    """Yarn to buy for the season.

    season_metres: finished metres of the season [m]
    mass_to_buy: yarn bought for one finished metre [g/m]
    """
    return season_metres * mass_to_buy / 1e6


@formula(source="definition: a marker of equal area at another width")
def garment_length(
    *, garment_metres: Metre, garment_width_in: Inch, cuttable_width_in: Inch
) -> Metre:
    """Cloth for one garment at this cuttable width.

    garment_metres: cloth for one garment at the stated width [m]
    garment_width_in: cuttable width that figure was measured at [in]
    cuttable_width_in: cuttable width of this cloth, above zero [in]
    Limits: takes the marker efficiency as equal at both widths.
    """
    return garment_metres * garment_width_in / cuttable_width_in


@formula(source="definition: metres times the cost of a metre")
def garment_cost(*, garment_length: Metre, per_metre: MoneyPerMetre) -> Money:
    """Cost of the cloth in one garment.

    garment_length: cloth for one garment [m]
    per_metre: cost of one metre [¤/m]
    """
    return garment_length * per_metre


@formula(source="definition: metres times the cost of a metre")
def season_cost(*, season_metres: Metre, per_metre: MoneyPerMetre) -> Money:
    """Cost of all the cloth of a season.

    season_metres: finished metres of the season [m]
    per_metre: cost of one metre [¤/m]
    """
    return season_metres * per_metre


@lru_cache(maxsize=512)
def cloth_sheet(construction: Construction) -> Sheet:
    """The lines from counts to grams, ounces and threads, fed by `<slot>.costing_ne`."""
    lines: list[Line] = []
    for slot in construction.slots:
        lines += _slot_lines(slot)
    total = {}
    for direction in DIRECTIONS:
        names = [slot.name for slot in construction.slots_of(direction)]
        for figure in ("mass", "buy"):
            total[direction, figure] = _summed(lines, names, figure, cloth.sum_of_masses, direction)
    return Sheet((*lines, *_cloth_lines(construction, total)))


@lru_cache(maxsize=512)
def fabric_sheet(construction: Construction, loom_rule: str = AS_ASSUMED) -> Sheet:
    """The cloth sheet and its cost, fed by `<slot>.same_basis_price` as well.

    loom_rule: “from stops” works the loom efficiency out of `<slot>.stops`
    """
    lines = [_slot_cost(slot) for slot in construction.slots]
    total = {}
    for direction in DIRECTIONS:
        names = [slot.name for slot in construction.slots_of(direction)]
        total[direction, "cost"] = _summed(lines, names, "cost", money.sum_of_costs, direction)
    total["warp", "buy"] = total_key(construction, "warp", "buy")
    lines += _money_lines(construction, total)
    if loom_rule == FROM_STOPS:
        lines = [*efficiency_lines(construction), *lines, *lines_against_assumed()]
    return cloth_sheet(construction).with_lines(*lines)


def total_key(construction: Construction, direction: str, figure: str) -> str:
    """Key of the line that holds a direction's mass, buy or cost, whatever yarns it has."""
    slots = construction.slots_of(direction)
    return f"{slots[0].name}.{figure}" if len(slots) == 1 else f"{direction}_{figure}"


def _slot_lines(slot: Slot) -> list[Line]:
    at, whole = slot.name, slot.share_of_threads == 1
    what = slot.name.capitalize()
    share = {"share_of_threads": f"{at}.share_of_threads"}
    lines = [Line(f"{at}.tex", tex_from_ne, {"ne": f"{at}.costing_ne"}, f"{what} yarn")]
    if slot.direction == "warp":
        threads = "total_ends" if whole else f"{at}.ends"
        if not whole:
            lines.append(
                Line(threads, cloth.threads_of_slot, {"threads_in_all": "total_ends", **share})
            )
        mass = Line(
            f"{at}.mass",
            cloth.warp_mass,
            {"ends": threads, "crimp": f"{at}.crimp", "tex": f"{at}.tex"},
            f"{what} in the cloth",
        )
    else:
        picks = "loom_ppi" if whole else f"{at}.picks"
        if not whole:
            lines.append(Line(picks, cloth.picks_of_slot, share))
        mass = Line(
            f"{at}.mass",
            cloth.filling_mass,
            {"loom_ppi": picks, "tex": f"{at}.tex"},
            f"{what} in the cloth",
        )
    return [
        *lines,
        mass,
        Line(
            f"{at}.buy",
            cloth.mass_to_buy,
            {"mass_in_cloth": f"{at}.mass", "waste": f"{at}.waste"},
            f"{what} to buy",
        ),
    ]


def _slot_cost(slot: Slot) -> Line:
    at = slot.name
    return Line(
        f"{at}.cost",
        money.yarn_cost,
        {"mass_to_buy": f"{at}.buy", "same_basis_price": f"{at}.same_basis_price"},
        f"{slot.name.capitalize()} yarn cost",
    )


def _summed(
    lines: list[Line], names: list[str], figure: str, adding: object, direction: str
) -> str:
    """Key of the direction's total; sums its slots two at a time when there are several."""
    so_far = f"{names[0]}.{figure}"
    for place, name in enumerate(names[1:], start=2):
        key = f"{direction}_{figure}" if place == len(names) else f"{direction}_{figure}_{place}"
        arguments = (
            ("first_cost", "second_cost") if figure == "cost" else ("first_mass", "second_mass")
        )
        feeds = dict(zip(arguments, (so_far, f"{name}.{figure}"), strict=True))
        label = {"mass": "in the cloth", "buy": "to buy", "cost": "yarn cost"}[figure]
        lines.append(Line(key, adding, feeds, f"{direction.capitalize()} {label}, all yarns"))  # type: ignore[arg-type]
        so_far = key
    return so_far


def _cloth_lines(construction: Construction, total: dict[tuple[str, str], str]) -> list[Line]:
    lines = [
        Line(
            "mass_per_area",
            cloth.finished_mass_from_parts
            if construction.finish_in_parts
            else cloth.finished_mass_per_area,
            {"warp_mass": total["warp", "mass"], "filling_mass": total["filling", "mass"]},
        ),
        Line("ounces", cloth.ounces_per_square_yard, {}, "Weight, finished and unwashed"),
        Line("finished_epi", cloth.finished_epi),
        Line("finished_ppi", cloth.finished_ppi),
        Line("reed_epi", cloth.reed_epi),
        Line("width_contraction", cloth.width_contraction),
        Line(
            "warp_cover",
            cloth.cover_factor,
            {"threads_per_inch": "finished_epi", "ne": "warp.costing_ne"},
            "Warp cover factor, finished",
        ),
        Line(
            "filling_cover",
            cloth.cover_factor,
            {"threads_per_inch": "finished_ppi", "ne": "filling.costing_ne"},
            "Filling cover factor, finished",
        ),
        Line(
            "warp_cover_loom",
            cloth.cover_factor,
            {"threads_per_inch": "reed_epi", "ne": "warp.costing_ne"},
            "Warp cover factor, in the reed",
        ),
        Line(
            "filling_cover_loom",
            cloth.cover_factor,
            {"threads_per_inch": "loom_ppi", "ne": "filling.costing_ne"},
            "Filling cover factor, on the loom",
        ),
        *(
            Line(
                f"{direction}_firmness",
                share_of_highest_sett,
                {"threads_per_inch": threads, "ne": f"{direction}.costing_ne"},
                f"{direction.capitalize()} over the highest square sett, finished",
            )
            for direction, threads in (("warp", "finished_epi"), ("filling", "finished_ppi"))
        ),
    ]
    lines += state_lines(construction, total)
    of_state = WEIGHT_OF[construction.measured_state]
    if construction.measured_oz and of_state in {line.key for line in lines}:
        lines += [
            Line(
                "measured_mass_per_area",
                cloth.area_mass_from_ounces,
                {"ounces_per_square_yard": "measured_oz"},
                "Weight of a real piece",
            ),
            Line(
                "weight_deviation",
                cloth.weight_deviation,
                {
                    "computed_mass_per_area": of_state,
                    "stated_mass_per_area": "measured_mass_per_area",
                },
                "Computed weight against the real piece",
            ),
        ]
    if construction.season_metres:
        lines += [
            Line(
                f"{direction}_season_tonnes",
                season_tonnes,
                {"mass_to_buy": total[direction, "buy"]},
                f"{direction.capitalize()} yarn to buy for the season",
            )
            for direction in DIRECTIONS
        ]
    return lines


def _money_lines(construction: Construction, total: dict[tuple[str, str], str]) -> list[Line]:
    stages = {
        "rope": ("ball_warping", "dyeing", "re_beaming", "sizing"),
        "slasher": ("dyeing", "sizing"),
        "none": ("sizing",),
    }[construction.dyeing_route]
    rate_feeds = {
        stage: stage if stage in stages else NOT_IN_ROUTE
        for stage in ("ball_warping", "dyeing", "re_beaming", "sizing")
    }
    lines = [
        Line(
            "yarn_cost",
            money.sum_of_costs,
            {"first_cost": total["warp", "cost"], "second_cost": total["filling", "cost"]},
            "Yarn, warp and filling",
        ),
        Line("warp_preparation_rate", warp_preparation_rate, rate_feeds),
        Line(
            "warp_preparation",
            money.warp_preparation_cost,
            {"warp_mass_to_buy": total["warp", "buy"]},
            "Warp preparation, dyeing and sizing",
        ),
        Line("loom_output", money.loom_output),
        Line("weaving", money.weaving_cost, {"loom_output_m_per_h": "loom_output"}, "Weaving"),
    ]
    if construction.heat_set:
        lines.append(
            Line(
                "finishing",
                money.sum_of_costs,
                {"first_cost": "finishing_rate", "second_cost": "heat_setting"},
                "Finishing with heat setting",
            )
        )
    else:
        lines.append(
            Line("finishing", money.cost_as_charged, {"charge": "finishing_rate"}, "Finishing")
        )
    lines += [
        Line(
            "inspection",
            money.cost_as_charged,
            {"charge": "inspection_rate"},
            "Inspection and packing",
        ),
        Line("overhead", money.conversion_overhead, {}, "Overhead on conversion"),
        Line("cost_before_seconds", money.cost_before_seconds, {"yarn": "yarn_cost"}),
        Line("seconds", money.cost_of_seconds, {}, "Seconds"),
        Line(
            "fabric_cost",
            money.sum_of_costs,
            {"first_cost": "cost_before_seconds", "second_cost": "seconds"},
            "Cost of a finished metre",
        ),
        Line("price_at_margin", money.price_at_margin, {"cost_per_metre": "fabric_cost"}),
    ]
    for of, metre, label in (
        ("yarn", "yarn_cost", "Yarn"),
        ("fabric", "fabric_cost", "Finished cloth"),
        ("price", "price_at_margin", "Price at the target margin"),
    ):
        cost = {"per_metre": metre}
        lines += [
            Line(f"{of}_per_yard", money.per_yard, cost, f"{label}, for a yard"),
            Line(f"{of}_per_area", money.per_cuttable_area, cost, f"{label}, for a cuttable m²"),
            Line(f"{of}_per_kg", money.per_fabric_kg, cost, f"{label}, for a kg of cloth"),
        ]
    if construction.season_metres:
        lines.append(
            Line("season_cost", season_cost, {"per_metre": "fabric_cost"}, "Cloth of the season")
        )
    if construction.garment_metres and construction.garment_width_in:
        lines += [
            Line("garment_length", garment_length),
            Line(
                "garment_yarn",
                garment_cost,
                {"per_metre": "yarn_cost"},
                "Yarn in one garment",
            ),
            Line(
                "garment_fabric",
                garment_cost,
                {"per_metre": "fabric_cost"},
                "Cloth in one garment",
            ),
        ]
    return lines


def construction_inputs(construction: Construction) -> dict[str, Input]:
    """The inputs that the construction itself states."""
    source, where = f"construction {construction.code}", f"/constructions/{construction.code}"

    def entered(value: float, label: str, unit: str, noted: str = "") -> Input:
        pieces = calibrated_on(construction.calibration, noted, value) if noted else ""
        return Input(
            value, label, unit, source, None, f"calibrated on {pieces}" if pieces else "", where
        )

    repeat, crossings = WEAVES[construction.weave]
    inputs = {
        "total_ends": entered(construction.total_ends, "Total ends", "threads"),
        "reed_width_in": entered(construction.reed_width_in, "Reed width", "in"),
        "loom_ppi": entered(construction.loom_ppi, "Loom picks", "1/in"),
        "tail_in": entered(construction.tail_in, "Tail of a pick", "in"),
        "length_shrink": entered(
            construction.length_shrink, "Length shrink, loom to finished", "share", SHRINK_NOTED
        ),
        "finished_width_in": entered(construction.finished_width_in, "Finished width", "in"),
        "cuttable_width_in": entered(construction.cuttable_width_in, "Cuttable width", "in"),
        "net_finish": entered(
            construction.net_finish, "Net finish on yarn mass", "share", FINISH_NOTED
        ),
        "warp_retained": entered(
            construction.warp_retained, "Size and dye kept on the warp", "share"
        ),
        "scouring_loss": entered(
            construction.scouring_loss, "Loss in scouring or bleaching", "share"
        ),
        "coating_g_per_m2": entered(construction.coating_g_per_m2, "Coating added", "g/m²"),
        "repeat_ends": entered(repeat, f"Threads in a repeat, {construction.weave}", "threads"),
        "repeat_intersections": entered(
            crossings, f"Interlacings of a thread, {construction.weave}", "threads"
        ),
        NOT_IN_ROUTE: entered(0.0, f"Not in the {construction.dyeing_route} route", "¤/kg"),
    }
    for name, value, label, unit in (
        ("measured_oz", construction.measured_oz, "Weight of a real piece", "oz/yd²"),
        ("season_metres", construction.season_metres, "Season metres", "m"),
        ("garment_metres", construction.garment_metres, "Cloth for one garment", "m"),
        ("garment_width_in", construction.garment_width_in, "…at cuttable width", "in"),
    ):
        if value is not None:
            inputs[name] = entered(value, label, unit)
    inputs |= state_inputs(construction)
    for slot in construction.slots:
        what = slot.name.capitalize()
        inputs |= {
            f"{slot.name}.crimp": _crimp_input(construction, slot),
            f"{slot.name}.waste": entered(slot.waste, f"{what} waste, on yarn put in", "share"),
            f"{slot.name}.share_of_threads": entered(
                slot.share_of_threads, f"{what} share of threads", "share"
            ),
        }
    return inputs


def _crimp_input(construction: Construction, slot: Slot) -> Input:
    """The crimp of a yarn with what it rests on."""
    take_up = cloth.take_up_from_crimp(crimp=slot.crimp)
    rests_on = {
        "take-up": f"entered as take-up {take_up:.2%} of the yarn length",
        STARTING_VALUE: "starting value, nothing measured (J. T. Taylor 1909)",
        CALIBRATED: "calibrated on "
        + calibrated_on(construction.calibration, CRIMP_NOTED, slot.crimp),
    }.get(slot.crimp_from, "")
    return Input(
        slot.crimp,
        f"{slot.name.capitalize()} crimp, on cloth length",
        "share",
        f"construction {construction.code}",
        None,
        rests_on,
        f"/constructions/{construction.code}",
    )


def fabric_inputs(
    construction: Construction, assumptions: AssumptionSet, loom_rule: str = AS_ASSUMED
) -> dict[str, Input]:
    """Every input of the fabric sheet except what the offers bring."""
    needed = {
        name: key
        for name, key in _ASSUMED.items()
        if name in fabric_sheet(construction, loom_rule).input_names
    }
    assumptions.need(needed.values())
    return construction_inputs(construction) | {
        name: assumptions.input(key) for name, key in needed.items()
    }


_ASSUMED = {
    name: f"fabric.{name}"
    for name in (
        "ball_warping",
        "dyeing",
        "re_beaming",
        "sizing",
        "loom_rpm",
        "loom_efficiency",
        "loom_hour",
        "heat_setting",
        "overhead_rate",
        "seconds_share",
        "seconds_price_ratio",
        "margin_on_price",
    )
} | {"finishing_rate": "fabric.finishing", "inspection_rate": "fabric.inspection", **FED}


def assumption_of(name: str) -> str:
    """Key of the assumption that feeds an input of the fabric sheet; other names stay."""
    return _ASSUMED.get(name, name)


def costing_ne(slot: Slot, offer: Offer, basis: Basis) -> Input:
    """The count a pair is weighed with: the wanted one, or the offer's own when it differs.

    Raises nothing when the average count is not known: the wanted count stands in, and the gate
    holds the offer unproven.
    """
    average = offer.yarn.average_ne
    if average is None or abs(average / slot.ne - 1) <= basis.count_threshold + 1e-12:
        differs = "" if average is None else f"offer {offer.code}: Ne {average:.3f}, near enough"
        return Input(
            slot.ne,
            f"Count of the {slot.name}, as wanted",
            "Ne",
            "the construction",
            None,
            differs,
            f"/offers/{offer.code}",
        )
    return Input(
        average,
        f"Average count of offer {offer.code}",
        "Ne",
        f"offer {offer.code}, quoted {offer.yarn.count_text}",
        offer.quoted_on,
        f"{offer.yarn.count_text}; wanted Ne {slot.ne:g}",
        f"/offers/{offer.code}",
    )


def tonnes_needed(slot: Slot, construction: Construction, metres: float | None) -> float | None:
    """Yarn of one slot for the metres compared, at the wanted count [t]."""
    if metres is None:
        return None
    tex = float(tex_from_ne(ne=slot.ne))
    if slot.direction == "warp":
        mass = cloth.warp_mass(
            ends=construction.total_ends * slot.share_of_threads,
            crimp=slot.crimp,
            length_shrink=construction.length_shrink,
            tex=tex,
        )
    else:
        mass = cloth.filling_mass(
            loom_ppi=construction.loom_ppi * slot.share_of_threads,
            length_shrink=construction.length_shrink,
            reed_width_in=construction.reed_width_in,
            tail_in=construction.tail_in,
            tex=tex,
        )
    return float(
        season_tonnes(
            season_metres=metres,
            mass_to_buy=cloth.mass_to_buy(mass_in_cloth=mass, waste=slot.waste),
        )
    )
