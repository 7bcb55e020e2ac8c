"""The chart of the cheapest option: borders, names, today's point, and that it is drawn."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from server.core.errors import BadValue
from server.export.chart_process import ChartProcess
from server.export.charts import NARROW_PX, WIDE_PX, size_of
from server.export.map_chart import MapSide, cheapest_map, letters_of

X = MapSide("Cotton, USD/kg", 1.0, 3.0, 2.0)
Y = MapSide("Power, USD/kWh", 0.05, 0.15, 0.10)
NAMES = ("own ring/own OE", "Q14/Q14", "never")


def costs(border: float = 0.25) -> NDArray[np.float64]:
    """The first option wins left of the border, the second right of it, the third nowhere."""
    x = np.linspace(0, 1, 121)[np.newaxis, :]
    flat = np.ones((121, 121))
    return np.stack([flat * x, flat * border, flat * 9])


def spec(width_px: int = WIDE_PX, theme: str = "light", border: float = 0.25) -> dict[str, Any]:
    return cheapest_map(names=NAMES, costs=costs(border), x=X, y=Y, theme=theme, width_px=width_px)


def values(made: dict[str, Any], mark: str) -> list[dict[str, Any]]:
    return [
        row
        for layer in made["layer"]
        if layer["mark"]["type"] == mark
        for row in layer["data"]["values"]
    ]


def test_a_border_stands_where_the_costs_meet_between_two_points() -> None:
    made = spec(border=0.2537)
    areas = [row for row in values(made, "rect") if "letter" not in row]
    assert len(areas) == 2
    assert areas[0]["x2"] == pytest.approx(0.2537 * made["width"], abs=0.06)
    assert areas[1]["x"] == areas[0]["x2"]


def test_areas_are_named_in_text_and_in_the_key() -> None:
    texts = [row.get("text", "") for row in values(spec(), "text")]
    assert any(text.endswith("Q14/Q14") and text.startswith("B") for text in texts)
    assert "Q14/Q14, 74 % of the map" in texts
    assert not any("never" in text for text in texts)
    assert "Cotton, USD/kg" in texts
    assert "Power, USD/kWh" in texts


def test_today_is_marked_and_said_and_left_out_when_outside() -> None:
    assert "today" in [row.get("text") for row in values(spec(), "text")]
    dots = values(spec(), "point")
    assert dots[0]["x"] == pytest.approx(spec()["width"] / 2)
    outside = cheapest_map(
        names=NAMES, costs=costs(), x=MapSide("c", 2.5, 3.0, 2.0), y=Y, theme="light"
    )
    assert values(outside, "point") == []


def test_letters_go_to_those_that_win_something() -> None:
    assert letters_of([0.0, 0.4, 0.0, 0.6]) == ["", "A", "", "B"]


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("width_px", [WIDE_PX, NARROW_PX])
def test_it_is_drawn_at_its_own_size(theme: str, width_px: int) -> None:
    process = ChartProcess()
    try:
        made = spec(width_px, theme)
        svg = process.render(made, form="svg").decode()
    finally:
        process.close()
    size = size_of(made)
    assert size.width_px == width_px
    found = re.search(r'width="(\d+)" height="(\d+)"', svg)
    assert found is not None
    assert found.groups() == (str(size.width_px), str(size.height_px))
    assert "today" in svg


def test_what_cannot_be_drawn_is_refused() -> None:
    broken = costs()
    broken[0, 3, 3] = np.nan
    with pytest.raises(BadValue, match="not a finite number"):
        cheapest_map(names=NAMES, costs=broken, x=X, y=Y, theme="light")
    with pytest.raises(BadValue, match="too narrow"):
        spec(100)
