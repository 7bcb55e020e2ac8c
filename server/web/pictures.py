"""Charts of a page: which specification, at which address, beside which caption."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from server.core.compare import Comparison
from server.core.landing import Landing
from server.core.pair import STACK
from server.core.should_cost import ShouldCost
from server.export import charts
from server.web.addresses import part, with_query
from server.web.numbers import Writer

Spec = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Picture:
    """A chart as a template shows it: light and dark, wide and narrow, with its words."""

    src_light: str
    src_dark: str
    narrow_light: str
    narrow_dark: str
    href: str
    caption: str
    unit_note: str
    alt: str
    table_href: str
    width: int
    height: int
    narrow_width: int
    narrow_height: int


Drawing = Callable[[str, int], Spec]  # theme and width in pixels -> specification


def picture(
    drawing: Drawing,
    address: str,
    query: Mapping[str, str],
    *,
    caption: str,
    unit: str,
    alt: str,
    table_href: str,
) -> Picture:
    """A picture of what `address` draws for the same query."""
    wide = charts.size_of(drawing("light", charts.WIDE_PX))
    narrow = charts.size_of(drawing("light", charts.NARROW_PX))

    def at(theme: str, width: str = "") -> str:
        return with_query(address, {**query, "theme": theme, "width": width})

    return Picture(
        src_light=at("light"),
        src_dark=at("dark"),
        narrow_light=at("light", "narrow"),
        narrow_dark=at("dark", "narrow"),
        href=at("light"),
        caption=caption,
        unit_note=f"in {unit}" if unit else "",
        alt=alt,
        table_href=table_href,
        width=wide.width_px,
        height=wide.height_px,
        narrow_width=narrow.width_px,
        narrow_height=narrow.height_px,
    )


def ladder_spec(comparison: Comparison, writer: Writer, theme: str, width_px: int) -> Spec:
    """Best pair of every combination, cheapest first."""
    steps = [
        (f"{pair.combination} {pair.key}", writer.number(pair.figures["fabric_cost"], "¤/m"))
        for pair in comparison.ladder
    ]
    return charts.ladder(steps=steps, unit=writer.unit("¤/m"), theme=theme, width_px=width_px)


def landed_spec(
    landing: Landing, figures: Mapping[str, float], writer: Writer, theme: str, width_px: int
) -> Spec:
    """The legs of one offer, from goods to landed price."""
    steps = [
        (landing.sheet.by_key[leg].title, writer.number(figures[leg], "¤/kg"))
        for leg in landing.legs
    ]
    total = writer.number(figures[landing.key("landed_price")], "¤/kg")
    return charts.landed_waterfall(
        steps=steps,
        total_label="Landed price",
        total=total,
        unit=writer.unit("¤/kg"),
        theme=theme,
        width_px=width_px,
    )


STACK_NAMES = {
    "warp_yarn": "Warp yarn",
    "filling_yarn": "Filling yarn",
    "warp_preparation": "Warp preparation",
    "weaving": "Weaving",
    "finishing": "Finishing",
    "inspection": "Inspection",
    "overhead": "Overhead",
    "seconds": "Seconds",
}


def stack_spec(
    name: str, parts: Mapping[str, float], writer: Writer, theme: str, width_px: int
) -> Spec:
    """What one finished metre costs, by part."""
    steps = [(STACK_NAMES[key], writer.number(value, "¤/m")) for key, value in parts.items()]
    return charts.cost_stack(
        stacks=[(name, steps)], unit=writer.unit("¤/m"), theme=theme, width_px=width_px
    )


def stack_parts(comparison: Comparison, figures: Mapping[str, float]) -> dict[str, float]:
    """Parts of the cost of a finished metre; they sum to it."""
    warp = sum(figures[f"{slot.name}.cost"] for slot in comparison.warp.slots)
    filling = sum(figures[f"{slot.name}.cost"] for slot in comparison.filling.slots)
    return {
        "warp_yarn": warp,
        "filling_yarn": filling,
        **{key: figures[key] for key in STACK if key != "yarn_cost"},
    }


def routes_spec(routes: list[ShouldCost], writer: Writer, theme: str, width_px: int) -> Spec:
    """Ring beside rotor beside air-jet, stage by stage."""
    bars = []
    for each in routes:
        figures = each.figures()
        bars.append(
            (
                each.route,
                [
                    (stage.capitalize(), writer.number(figures[stage], "¤/kg"))
                    for stage in each.stages
                ],
            )
        )
    return charts.routes(routes=bars, unit=writer.unit("¤/kg"), theme=theme, width_px=width_px)


def compare_chart(code: str, name: str) -> str:
    """Address of a chart of a comparison."""
    return f"/charts/compare/{part(code)}/{name}.svg"
