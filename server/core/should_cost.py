"""Should-cost of a yarn: what it ought to cost to spin, stage by stage, by route.

Ring needs roving and winding; rotor and air-jet do not: different lines, not conditions inside a
formula. An estimate from the assumptions listed, before margin; not a price and not an offer.
"""

from __future__ import annotations

from dataclasses import dataclass

from server.core import spinning as spin
from server.core.assumptions import AssumptionSet
from server.core.formula import formula
from server.core.payment import yearly_capital_cost
from server.core.quantities import MoneyPerKg, PricePerKg, Share
from server.core.sheet import Input, Line, Sheet
from server.core.units import tex_from_ne
from server.core.yarn import turns_per_metre

ROUTES = ("ring", "OE", "air-jet")
ROUTE_OF = {"ring": "ring", "compact ring": "ring", "OE": "OE", "air-jet": "air-jet"}
STAGES = ("fibre", "preparation", "roving", "spinning", "winding", "packing", "overhead")

# Published bands, conversion without fibre, to hold a modelled figure against.
PUBLISHED_BANDS = (
    (
        "ring",
        30.0,
        1.19,
        1.63,
        2.85,
        "ITMF International Production Cost Comparison, data of 2023: ring Ne 30, manufacturing "
        "cost without raw material, lowest, mean and highest country, USD/kg (press summaries)",
    ),
)


@formula(source="definition: the stages of conversion add; overhead is a share of them")
def overhead_on_stages(
    *,
    preparation: PricePerKg,
    roving: PricePerKg,
    spinning: PricePerKg,
    winding: PricePerKg,
    packing: PricePerKg,
    overhead_rate: Share,
) -> PricePerKg:
    """Overhead on the conversion of a kilogram of yarn.

    preparation: blowroom, card and drawing [¤/kg]
    roving: roving; zero where the route has none [¤/kg]
    spinning: spinning [¤/kg]
    winding: winding; zero where the route has none [¤/kg]
    packing: packing [¤/kg]
    overhead_rate: overhead on these stages [share]
    """
    return (preparation + roving + spinning + winding + packing) * overhead_rate


@formula(source="ITMF International Production Cost Comparison (manufacturing cost)")
def conversion_cost(
    *,
    preparation: PricePerKg,
    roving: PricePerKg,
    spinning: PricePerKg,
    winding: PricePerKg,
    packing: PricePerKg,
    overhead: PricePerKg,
) -> PricePerKg:
    """Cost of turning fibre into a kilogram of yarn, fibre left out.

    preparation: blowroom, card and drawing [¤/kg]
    roving: roving; zero where the route has none [¤/kg]
    spinning: spinning [¤/kg]
    winding: winding; zero where the route has none [¤/kg]
    packing: packing [¤/kg]
    overhead: overhead on the stages [¤/kg]
    """
    return preparation + roving + spinning + winding + packing + overhead


@formula(source="definition: fibre and conversion add")
def should_cost(*, fibre: MoneyPerKg, conversion: PricePerKg) -> MoneyPerKg:
    """Should-cost of a kilogram of yarn, before margin.

    fibre: fibre in a kilogram of yarn [¤/kg]
    conversion: making cost without fibre [¤/kg]
    """
    return fibre + conversion


@formula(source="definition of margin on price")
def price_of_yarn_at_margin(*, should_cost: MoneyPerKg, margin_on_price: Share) -> MoneyPerKg:
    """Should-cost with a fair margin, as a price.

    should_cost: cost before margin [¤/kg]
    margin_on_price: margin as a share of the price, below one [share]
    """
    return should_cost / (1 - margin_on_price)


@formula(source="definition: a stage charged for a kilogram of yarn")
def stage_as_charged(*, stage_cost: PricePerKg) -> PricePerKg:
    """A stage whose cost is given for a kilogram of yarn.

    stage_cost: cost of the stage [¤/kg]
    """
    return stage_cost


@formula(source="ITMF International Production Cost Comparison (waste as a cost element)")
def waste_cost(*, fibre: MoneyPerKg, fibre_price: PricePerKg) -> MoneyPerKg:
    """What lost fibre adds to a kilogram of yarn, sold waste taken off.

    fibre: fibre in a kilogram of yarn, at its realisation [¤/kg]
    fibre_price: price of a kilogram of fibre [¤/kg]
    """
    return fibre - fibre_price


@formula(source="definition: stages whose cost is not split by factor")
def unsplit_stages(
    *, preparation: PricePerKg, roving: PricePerKg, winding: PricePerKg, packing: PricePerKg
) -> PricePerKg:
    """Stages given as one figure: preparation, roving, winding, packing.

    preparation: blowroom, card and drawing [¤/kg]
    roving: roving; zero where the route has none [¤/kg]
    winding: winding; zero where the route has none [¤/kg]
    packing: packing [¤/kg]
    """
    return preparation + roving + winding + packing


@dataclass(frozen=True)
class ShouldCost:
    """A route's sheet for one yarn with its inputs."""

    route: str
    ne: float
    sheet: Sheet
    inputs: dict[str, Input]

    def figures(self) -> dict[str, float]:
        """All figures of the sheet."""
        values = {name: entry.value for name, entry in self.inputs.items()}
        return {key: float(value) for key, value in self.sheet.evaluate(values).items()}

    @property
    def stages(self) -> tuple[str, ...]:
        """The stages this route has, fibre first, overhead last."""
        return tuple(stage for stage in STAGES if stage in self.sheet.by_key)

    @property
    def factors(self) -> tuple[tuple[str, str], ...]:
        """(line or input, label) of the parts by factor; they sum to the should-cost."""
        split = [(key, label) for key, label in _SPINNING_FACTORS if key in self.sheet.by_key]
        return (
            ("fibre_price", "Fibre"),
            ("waste", "Waste"),
            *(split or [("spinning", "Spinning, not split")]),
            ("other_stages", "Other stages, not split"),
            ("overhead", "Overhead"),
        )


_SPINNING_FACTORS = (
    ("spinning_capital", "Capital in spinning"),
    ("spinning_power", "Power in spinning"),
    ("spinning_labour", "Labour in spinning"),
    ("spinning_maintenance", "Maintenance in spinning"),
)
NO_STAGE = "no_stage"  # the input, always zero, of a stage the route does not have
_PARTS = (
    "position_price",
    "position_salvage",
    "position_life",
    "interest",
    "hours_per_year",
    "position_power",
    "power_tariff",
    "wage",
    "operatives_per_position",
    "maintenance",
)


def should_cost_of(route: str, ne: float, assumptions: AssumptionSet) -> ShouldCost:
    """Bind a route to an assumption set at one count.

    route: one of ROUTES
    ne: average count of the yarn [Ne]
    The position-hour comes from its parts when the set has them all, else from the plain figure.
    Raises Missing when an assumption is not there.
    """
    from_parts = all(assumptions.has(f"{route}.{part}") for part in _PARTS)
    sheet = _sheet(route, from_parts, assumptions.has(f"{route}.margin_on_price"))
    inputs = {
        "ne": Input(ne, "Average count", "Ne", "asked"),
        NO_STAGE: Input(0.0, f"The {route} route has no such stage", "¤/kg", "process"),
    }
    assumed = {name: key_of(route, name) for name in sheet.input_names if name not in inputs}
    assumptions.need(assumed.values())
    inputs |= {name: assumptions.input(key, ne=ne) for name, key in assumed.items()}
    return ShouldCost(route, ne, sheet, inputs)


def key_of(route: str, name: str) -> str:
    """Key of the assumption that feeds an input of a route's sheet."""
    return f"{route}.{name.removesuffix('_charge')}"


def _sheet(route: str, from_parts: bool, with_margin: bool) -> Sheet:
    lines = [
        Line("tex", tex_from_ne, label="Linear density"),
        Line("fibre", spin.fibre_cost, label="Fibre"),
        _stage("preparation"),
        *_spinning_lines(route),
        *(_position_hour_lines() if from_parts else ()),
        Line(
            "output",
            spin.position_output,
            {"delivery_m_per_min": "delivery_speed"},
            "Output of one position in one hour",
        ),
        Line("spinning", spin.spinning_cost, {"output_g_per_h": "output"}, "Spinning"),
    ]
    has = (
        {"roving": "roving", "winding": "winding"}
        if route == "ring"
        else {"roving": NO_STAGE, "winding": NO_STAGE}
    )
    if route == "ring":
        lines += [_stage("roving"), _stage("winding")]
    lines += [
        _stage("packing"),
        Line("overhead", overhead_on_stages, has, "Overhead"),
        Line("conversion", conversion_cost, has, "Conversion"),
        Line("should_cost", should_cost, {}, "Should-cost, before margin"),
    ]
    lines += [
        Line("waste", waste_cost, {}, "Waste"),
        Line("other_stages", unsplit_stages, has, "Other stages"),
    ]
    if from_parts:
        lines += [
            Line(
                f"spinning_{part}",
                spin.spinning_cost,
                {"position_hour": hour, "output_g_per_h": "output"},
                f"{part.capitalize()} in spinning",
            )
            for part, hour in (
                ("capital", "capital_per_hour"),
                ("power", "power_per_hour"),
                ("labour", "labour_per_hour"),
                ("maintenance", "maintenance"),
            )
        ]
    if with_margin:
        lines.append(Line("price", price_of_yarn_at_margin, {}, "Should-cost with fair margin"))
    return Sheet(tuple(lines))


def _stage(name: str) -> Line:
    return Line(name, stage_as_charged, {"stage_cost": f"{name}_charge"}, name.capitalize())


def _spinning_lines(route: str) -> list[Line]:
    if route == "air-jet":
        return [
            Line(
                "delivery_speed",
                spin.delivery_as_set,
                {"machine_delivery": "delivery"},
                "Delivery speed",
            )
        ]
    twist = Line("turns_per_metre", turns_per_metre, label="Twist")
    if route == "ring":
        return [
            twist,
            Line("delivery_speed", spin.ring_delivery, {}, "Delivery speed"),
            Line("traveller_speed", spin.traveller_speed, {"ring_diameter_mm": "ring_diameter"}),
        ]
    return [
        twist,
        Line(
            "delivery_speed",
            spin.rotor_delivery,
            {"take_up_limit_m_per_min": "take_up_limit"},
            "Delivery speed",
        ),
    ]


def _position_hour_lines() -> list[Line]:
    return [
        Line(
            "capital_per_year",
            yearly_capital_cost,
            {
                "purchase_price": "position_price",
                "salvage_value": "position_salvage",
                "life_years": "position_life",
            },
        ),
        Line("capital_per_hour", spin.capital_per_hour),
        Line("power_per_hour", spin.power_per_hour, {"drawn_power_kw": "position_power"}),
        Line("labour_per_hour", spin.labour_per_hour, {"wage_per_hour": "wage"}),
        Line("position_hour", spin.position_hour_cost, {"maintenance_per_hour": "maintenance"}),
    ]
