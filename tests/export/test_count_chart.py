"""The chart of cost against the count: where its marks stand, and that it is drawn."""

from __future__ import annotations

import json
import math
from itertools import pairwise
from typing import Any

import pytest

from server.core.errors import BadValue
from server.export.chart_process import ChartProcess
from server.export.chart_themes import THEMES, contrast
from server.export.charts import NARROW_PX, WIDE_PX, size_of
from server.export.count_chart import CountCurve, CountMark, cost_over_counts, curve_colours

NES = (4.0, 6.0, 8.0, 10.0, 20.0, 30.0)


def curve(name: str, base: float, slope: float, entered: tuple[float, float]) -> CountCurve:
    return CountCurve(name, tuple((ne, base + slope * ne) for ne in NES), entered)


CURVES = (
    curve("ring", 2.3, 0.03, (6, 10)),
    curve("OE", 1.9, 0.025, (6, 10)),
    curve("air-jet", 2.2, 0.0149, (8, 20)),
)
MARKS = (CountMark(28.7, 2.63, "Ne 28.70"),)


def drawn(**changes: Any) -> dict[str, Any]:
    given = {"curves": CURVES, "crossings": MARKS, "today": 7.0, "unit": "USD/kg",
             "theme": "light", **changes}  # fmt: skip
    return cost_over_counts(**given)


def layers(spec: dict[str, Any], mark: str) -> list[dict[str, Any]]:
    return [layer for layer in spec["layer"] if layer["mark"]["type"] == mark]


def texts(spec: dict[str, Any]) -> list[str]:
    return [
        str(row[layer["encoding"]["text"]["field"]])
        for layer in layers(spec, "text")
        for row in layer["data"]["values"]
    ]


def test_a_finer_count_stands_to_the_right_and_a_dearer_yarn_higher() -> None:
    for layer in layers(drawn(), "line"):
        rows = layer["data"]["values"]
        assert [row["x"] for row in rows] == sorted(row["x"] for row in rows)
        assert [row["y"] for row in rows] == sorted((row["y"] for row in rows), reverse=True)


def test_a_curve_is_dashed_beyond_the_counts_entered_and_whole_between() -> None:
    spans = [
        ("strokeDash" in layer["mark"], len(layer["data"]["values"]))
        for layer in layers(drawn(), "line")
    ]
    assert spans == [
        (True, 2), (False, 3), (True, 3), (True, 2), (False, 3), (True, 3), (True, 3), (False, 3),
        (True, 2),
    ]  # fmt: skip
    held = drawn(curves=[curve("ring", 2, 0.01, (0, math.inf)), *CURVES[1:]])
    assert "strokeDash" not in layers(held, "line")[0]["mark"]


def test_routes_are_told_apart_by_name_and_shape_as_well_as_colour() -> None:
    spec = drawn()
    assert {"ring", "OE", "air-jet"} <= set(texts(spec))
    shapes = [layer["mark"]["shape"] for layer in layers(spec, "point") if "shape" in layer["mark"]]
    assert len(set(shapes)) == 3


@pytest.mark.parametrize("theme", list(THEMES))
def test_every_name_can_be_read_on_its_background(theme: str) -> None:
    colours = THEMES[theme]
    for colour in curve_colours(colours):
        assert contrast(colour, colours.background or "#ffffff") >= 4.5


def test_names_at_the_right_end_do_not_cover_each_other() -> None:
    same = [curve(name, 2.0, 0.02, (6, 10)) for name in ("ring", "OE", "air-jet")]
    heights = sorted(
        row["y"]
        for layer in layers(drawn(curves=same, crossings=()), "text")
        for row in layer["data"]["values"]
        if row.get("name") in ("ring", "OE", "air-jet")
    )
    assert all(b - a >= 13.9 for a, b in pairwise(heights))
    assert heights[-1] <= 300


def test_today_and_the_crossings_carry_their_count() -> None:
    assert {"Ne 7", "Ne 28.70"} <= set(texts(drawn()))
    assert "Ne 7" not in texts(drawn(today=None))


def test_many_crossings_do_not_write_over_each_other() -> None:
    marks = [CountMark(20 + step / 10, 2.5, f"Ne {20 + step / 10:.2f}") for step in range(9)]
    spec = drawn(crossings=marks)
    placed = [
        (row["x"], row["y"])
        for layer in layers(spec, "text")
        for row in layer["data"]["values"]
        if str(row.get("text", "")).startswith("Ne 2")
    ]
    assert 1 < len(placed) < 9
    for place, (x, y) in enumerate(placed):
        for other_x, other_y in placed[:place]:
            assert abs(x - other_x) > 40 or abs(y - other_y) > 12


@pytest.mark.parametrize("width_px", [WIDE_PX, NARROW_PX])
@pytest.mark.parametrize("theme", list(THEMES))
def test_it_is_drawn_in_every_size_and_theme(theme: str, width_px: int) -> None:
    process = ChartProcess()
    try:
        spec = drawn(theme=theme, width_px=width_px)
        svg = process.render(spec, form="svg").decode()
    finally:
        process.close()
    size = size_of(spec)
    assert size.width_px == width_px
    assert f'width="{size.width_px}"' in svg
    assert "air-jet" in svg
    assert "NaN" not in svg


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"width_px": 200}, "width_px"),
        ({"curves": ()}, "curves"),
        ({"curves": [CountCurve("ring", ((7.0, 2.0),), (6, 10))]}, "curves"),
        ({"curves": [CountCurve("ring", ((7.0, 2.0), (8.0, math.nan)), (6, 10))]}, "ring"),
    ],
)
def test_what_cannot_be_drawn_is_refused(changes: dict[str, Any], field: str) -> None:
    with pytest.raises(BadValue) as refused:
        drawn(**changes)
    assert refused.value.field == field


def test_the_specification_names_no_address() -> None:
    text = json.dumps({name: part for name, part in drawn().items() if name != "$schema"})
    assert "http" not in text
