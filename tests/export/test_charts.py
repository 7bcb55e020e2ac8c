"""Charts: what a specification holds, and what the drawing process makes of it."""

from __future__ import annotations

import hashlib
import os
import re
import signal
import subprocess
import sys
import time
import tomllib
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

from server.core.errors import BadValue, CreelbookError
from server.export import chart_themes, charts
from server.export.chart_process import ChartProcess, Form, fonts_directory

Spec = dict[str, Any]

LANDED = [
    ("Goods", 2.905),
    ("Origin haulage", 0.042),
    ("Freight", 0.118),
    ("Insurance", 0.009),
    ("Duty", 0.148),
    ("Clearance", 0.021),
    ("Inland", 0.035),
    ("Financing", -0.027),
]
PAIR = [
    ("Warp yarn", 0.712),
    ("Filling yarn", 0.398),
    ("Warp preparation", 0.141),
    ("Weaving", 0.286),
    ("Finishing", 0.162),
    ("Inspection", 0.018),
    ("Overhead", 0.121),
    ("Seconds", 0.055),
]
LADDER = [("OE/OE", 1.638), ("ring/OE", 1.893), ("ring/ring", 2.041)]
ROUTES = [
    ("Ring", [("Fibre", 1.82), ("Roving", 0.09), ("Spinning", 0.52), ("Winding", 0.08)]),
    ("Rotor", [("Fibre", 1.71), ("Spinning", 0.24)]),
    ("Air-jet", [("Fibre", 1.88), ("Spinning", 0.29), ("By-product", -0.06)]),
]
HOSTILE = "<script>alert('x')</script> & \"]]>\x00\u202e {{7*7}} datum.text"


def waterfall(theme: str = "light", **changes: Any) -> Spec:
    given: dict[str, Any] = {"steps": LANDED, "total_label": "Landed", "total": 3.251}
    return charts.landed_waterfall(**(given | changes), unit="USD/kg", theme=theme)


def cost_stack(theme: str = "light", **changes: Any) -> Spec:
    given: dict[str, Any] = {"stacks": [("Ring warp, OE filling", PAIR)]}
    return charts.cost_stack(**(given | changes), unit="USD/m", theme=theme)


def ladder(theme: str = "light", **changes: Any) -> Spec:
    given: dict[str, Any] = {"steps": LADDER}
    return charts.ladder(**(given | changes), unit="USD/m", theme=theme)


def routes(theme: str = "light", **changes: Any) -> Spec:
    given: dict[str, Any] = {"routes": ROUTES}
    return charts.routes(**(given | changes), unit="USD/kg", theme=theme)


CHARTS = (waterfall, cost_stack, ladder, routes)
every_chart = pytest.mark.parametrize("chart", CHARTS, ids=lambda chart: chart.__name__)
every_theme = pytest.mark.parametrize("theme", sorted(chart_themes.THEMES))


@pytest.fixture(scope="module")
def process() -> Iterator[ChartProcess]:
    drawing = ChartProcess()
    yield drawing
    drawing.close()


@pytest.fixture
def own_process() -> Iterator[ChartProcess]:
    drawing = ChartProcess()
    yield drawing
    drawing.close()


def svg_of(process: ChartProcess, spec: Spec) -> str:
    return process.render(spec, form="svg").decode()


def texts_of(svg: str) -> list[str]:
    """All texts of a picture, the lines of one text joined by a space."""
    root = ElementTree.fromstring(svg)
    found = root.iter("{http://www.w3.org/2000/svg}text")
    return [" ".join(part.strip() for part in text.itertext()) for text in found]


def values_of(spec: Spec, field: str) -> list[Any]:
    """The values of a field in all layers that hold it, without repeats."""
    rows = [row for layer in spec["layer"] for row in layer["data"]["values"]]
    return list(dict.fromkeys(row[field] for row in rows if field in row))


def png_size(png: bytes) -> tuple[int, int]:
    return int.from_bytes(png[16:20], "big"), int.from_bytes(png[20:24], "big")


# What a chart shows


@every_chart
@every_theme
@pytest.mark.parametrize("width_px", [charts.WIDE_PX, charts.NARROW_PX])
def test_every_chart_is_drawn_in_exactly_the_size_it_announced(
    process: ChartProcess, chart: Callable[..., Spec], theme: str, width_px: int
) -> None:
    spec = chart(theme, width_px=width_px)
    size = charts.size_of(spec)
    root = ElementTree.fromstring(svg_of(process, spec))
    assert size.width_px == width_px
    assert (root.get("width"), root.get("height")) == (str(size.width_px), str(size.height_px))
    png = process.render(spec, form="png")
    assert png.startswith(b"\x89PNG\r\n")
    assert png_size(png) == (2 * size.width_px, 2 * size.height_px)


@pytest.mark.parametrize(
    ("chart", "expected"),
    [
        (waterfall, [name for name, _ in LANDED]),
        (waterfall, ["+2.905", "+0.042", "+0.118", "+0.009", "−0.027", "Landed", "3.251"]),
        (cost_stack, ["Ring warp, OE filling", "1.893"]),
        (cost_stack, [text for name, figure in PAIR for text in (name, f"{figure:.3f}")]),
        (ladder, ["OE/OE", "1.638", "ring/OE", "1.893", "ring/ring", "2.041"]),
        (ladder, ["+0.255", "+0.148", "(axis does not start at 0)"]),
        (routes, ["Ring", "Rotor", "Air-jet", "2.510", "1.950", "2.110"]),
        (routes, ["Fibre", "Roving", "Spinning", "Winding", "0.520", "0.080", "−0.060"]),
    ],
)
def test_names_and_figures_stand_in_the_picture_as_text(
    process: ChartProcess, chart: Callable[..., Spec], expected: list[str]
) -> None:
    shown = " | ".join(texts_of(svg_of(process, chart())))
    assert [text for text in expected if text not in shown] == []


@every_chart
def test_the_axis_title_carries_the_unit(process: ChartProcess, chart: Callable[..., Spec]) -> None:
    shown = " | ".join(texts_of(svg_of(process, chart())))
    assert "cost, USD/" in shown or "Cost, USD/" in shown or "stage, USD/" in shown


@every_chart
@every_theme
def test_a_picture_refers_to_nothing_outside_itself(
    process: ChartProcess, chart: Callable[..., Spec], theme: str
) -> None:
    svg = svg_of(process, chart(theme))
    assert set(re.findall(r"https?://[^\"'\s/]+", svg)) <= {"http://www.w3.org"}
    assert "url(" not in svg


@every_chart
def test_the_theme_changes_the_colours_and_nothing_else(
    process: ChartProcess, chart: Callable[..., Spec]
) -> None:
    light, dark = svg_of(process, chart("light")), svg_of(process, chart("dark"))
    assert chart_themes.THEMES["light"].ink in light
    assert chart_themes.THEMES["dark"].ink in dark
    assert chart_themes.THEMES["light"].ink not in dark
    assert texts_of(light) == texts_of(dark)


def test_a_negative_step_goes_back_and_a_negative_part_goes_left_of_zero() -> None:
    bars = waterfall()["layer"][2]["data"]["values"]
    credit = bars[-2]
    assert credit["text"] == "−0.027"
    assert credit["end"] == pytest.approx(credit["start"] - 0.027)
    assert credit["colour"] == chart_themes.THEMES["light"].lowers
    segments = routes()["layer"][0]["data"]["values"]
    assert [part["end"] for part in segments if part["text"] == "−0.060"] == [-0.06]


def test_each_bar_of_a_waterfall_starts_where_the_one_above_ended() -> None:
    *steps, total = waterfall()["layer"][2]["data"]["values"]
    assert all(below["start"] == above["end"] for above, below in pairwise(steps))
    assert (total["start"], total["end"]) == (0.0, 3.251)
    assert steps[-1]["end"] == pytest.approx(3.251)


def test_the_ladder_goes_from_the_cheapest_to_the_dearest_whatever_the_order_given() -> None:
    assert ladder(steps=LADDER[::-1]) == ladder()


def test_parts_carry_the_number_that_the_key_repeats_so_colour_is_not_needed() -> None:
    spec = cost_stack(stacks=[("Pair", [(f"Part {n}", 1.0) for n in range(1, 15)])])
    assert values_of(spec, "number") == [str(number) for number in range(1, 15)]


def test_many_stacks_keep_their_bars_and_only_the_key_loses_its_figures(
    process: ChartProcess,
) -> None:
    many = [(f"Pair number {row}", PAIR) for row in range(12)]
    shown = texts_of(svg_of(process, cost_stack(stacks=many)))
    assert "L: Pair number 11" in shown
    assert shown.count("1.893") == 12
    assert "0.018" not in shown


@every_theme
def test_text_reads_on_its_ground_with_the_contrast_of_level_aa(theme: str) -> None:
    colours = chart_themes.THEMES[theme]
    grounds = [colours.background] if colours.background else ["#ffffff", "#fbf7ee"]
    for ground in grounds:
        assert chart_themes.contrast(colours.ink, ground) >= 4.5
        assert chart_themes.contrast(colours.quiet, ground) >= 4.5
        assert chart_themes.contrast(colours.adds, ground) >= 3
        assert chart_themes.contrast(colours.lowers, ground) >= 3
    for part in colours.parts:
        assert chart_themes.contrast(chart_themes.readable_on(part), part) >= 4.5


# Names that mean harm, figures that mean nothing


@pytest.mark.parametrize("name", [HOSTILE, "W" * 5000, "", "\ud800", "名" * 300, "\n\t"])
@pytest.mark.parametrize("form", ["svg", "png"])
def test_whatever_a_name_holds_it_stays_short_harmless_text(
    process: ChartProcess, name: str, form: Form
) -> None:
    for spec in (
        waterfall(steps=[(name, 1.0)], total_label=name, total=1.0),
        cost_stack(stacks=[(name, [(name, 1.0)]), (name * 2, [(name, 2.0)])]),
        ladder(steps=[(name, 1.0), (name, 1.0)]),
        routes(routes=[(name, [(name, 1.0)])]),
    ):
        picture = process.render(spec, form=form)
        if form == "svg":
            assert b"<script" not in picture
            assert max(map(len, texts_of(picture.decode()))) < 200


@every_chart
def test_a_unit_that_means_harm_stays_text_too(
    process: ChartProcess, chart: Callable[..., Spec]
) -> None:
    name = chart.__name__.replace("waterfall", "landed_waterfall")
    givens: dict[str, dict[str, Any]] = {
        "waterfall": {"steps": LANDED, "total_label": "Landed", "total": 3.251},
        "cost_stack": {"stacks": ROUTES},
        "ladder": {"steps": LADDER},
        "routes": {"routes": ROUTES},
    }
    given = givens[chart.__name__]
    spec = getattr(charts, name)(**given, unit=HOSTILE, theme="light")
    assert "<script" not in svg_of(process, spec)


def test_the_start_of_a_shortened_name_can_still_be_read(process: ChartProcess) -> None:
    svg = svg_of(process, ladder(steps=[("ring/OE with " + "a long remark " * 30, 1.0)]))
    assert any(text.startswith("ring/OE with") and "…" in text for text in texts_of(svg))


@pytest.mark.parametrize("figure", [float("nan"), float("inf"), float("-inf")])
def test_a_figure_that_is_not_a_number_is_refused_by_name(figure: float) -> None:
    with pytest.raises(BadValue, match="Weaving cannot be drawn"):
        cost_stack(stacks=[("Pair", [("Weaving", figure)])])


def test_steps_that_do_not_add_up_to_the_total_are_refused() -> None:
    with pytest.raises(BadValue, match=r"add up to 3\.251, not to the total of 3\.300"):
        waterfall(total=3.3)


@pytest.mark.parametrize(
    "draw",
    [
        lambda: waterfall("sepia"),
        lambda: ladder(steps=[]),
        lambda: cost_stack(stacks=[]),
        lambda: cost_stack(stacks=[("Pair", [])]),
        lambda: ladder(width_px=100),
    ],
)
def test_a_chart_of_nothing_or_in_no_room_or_no_theme_says_what_to_do(
    draw: Callable[[], Spec],
) -> None:
    with pytest.raises(BadValue) as refusal:
        draw()
    assert refusal.value.remedy


@pytest.mark.parametrize("figure", [0.0, 1e-9, 1e12])
def test_nothing_and_very_much_can_both_be_drawn(process: ChartProcess, figure: float) -> None:
    assert svg_of(process, waterfall(steps=[("Goods", figure)], total=figure))
    assert svg_of(process, cost_stack(stacks=[("Pair", [("Yarn", figure)])]))
    assert svg_of(process, ladder(steps=[("OE/OE", figure), ("ring/OE", figure)]))


# The drawing process


def test_the_renderer_is_never_loaded_into_the_web_process(process: ChartProcess) -> None:
    svg_of(process, ladder())
    assert process.child_pid not in (None, os.getpid())
    lines = "import sys, server.export.chart_process; print('vl_convert' in sys.modules)"
    seen = subprocess.run([sys.executable, "-c", lines], capture_output=True, check=True)
    assert seen.stdout.strip() == b"False"


def test_a_chart_drawn_before_is_not_drawn_again(own_process: ChartProcess) -> None:
    first = own_process.render(ladder(), form="svg")
    own_process.close()
    assert own_process.render(ladder(), form="svg") == first
    assert own_process.child_pid is None
    assert own_process.render(ladder(), form="png") != first
    assert own_process.child_pid is not None


def test_only_so_many_charts_are_kept_and_the_oldest_goes_first() -> None:
    process = ChartProcess(cached_charts=2)
    try:
        for chart in (ladder, routes, waterfall):
            process.render(chart(), form="svg")
        process.close()
        process.render(routes(), form="svg")
        process.render(waterfall(), form="svg")
        assert process.child_pid is None
        process.render(ladder(), form="svg")
        assert process.child_pid is not None
    finally:
        process.close()


def test_a_killed_process_is_replaced_and_nobody_notices(own_process: ChartProcess) -> None:
    own_process.render(ladder(), form="svg")
    first = own_process.child_pid
    assert first is not None
    os.kill(first, signal.SIGTERM)
    assert b"ring/ring" in own_process.render(ladder("dark"), form="svg")
    assert own_process.child_pid not in (None, first)


@pytest.mark.parametrize(
    ("spec", "message"),
    [
        ({}, "Invalid specification"),
        ({"mark": "no such mark", "data": {"values": []}}, "could not be drawn"),
        ({"mark": "bar", "data": {"values": [{"x": float("nan")}]}}, "not plain data"),
        ({"mark": "bar", "data": {"values": [{"x": object()}]}}, "not plain data"),
        ({"mark": "bar", "data": {"url": "file:///figures.csv"}}, "may load nothing"),
        ({"layer": [{"mark": {"type": "image", "url": "//a.test/b.png"}}]}, "may load nothing"),
    ],
)
def test_a_bad_specification_is_explained_and_the_next_chart_is_drawn(
    process: ChartProcess, spec: Spec, message: str
) -> None:
    with pytest.raises(CreelbookError, match=message) as refusal:
        process.render(spec, form="svg")
    assert refusal.value.remedy
    assert "ring/ring" in svg_of(process, ladder(steps=[("ring/ring", 2.0), (message, 1.0)]))


def test_a_chart_that_takes_too_long_is_given_up_and_its_process_ended() -> None:
    process = ChartProcess(timeout_s=0.01)
    try:
        with pytest.raises(CreelbookError, match=r"not drawn within 0\.01 s"):
            process.render(ladder(), form="svg")
        assert process.child_pid is None
        process.timeout_s = 20.0
        assert process.render(ladder(), form="svg")
    finally:
        process.close()


def test_a_process_that_cannot_start_is_reported(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    stand_in = tmp_path / "python"
    stand_in.write_text("#!/bin/sh\nexit 1\n")
    stand_in.chmod(0o755)
    monkeypatch.setattr(sys, "executable", str(stand_in))
    process = ChartProcess()
    with pytest.raises(CreelbookError, match="ended unexpectedly"):
        process.render(ladder(), form="svg")
    process.close()


def test_the_process_ends_when_its_input_closes() -> None:
    child = subprocess.Popen(
        [sys.executable, "-m", "server.export.chart_process"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    )
    answer, _ = child.communicate(b"", timeout=20)
    assert (answer, child.returncode) == (b"", 0)


def test_threads_can_draw_at_the_same_time(process: ChartProcess) -> None:
    specs = [ladder(steps=[(f"step {number}", 1.0 + number)]) for number in range(12)]
    with ThreadPoolExecutor(6) as pool:
        pictures = list(pool.map(lambda spec: svg_of(process, spec), specs))
    for number, picture in enumerate(pictures):
        assert f"step {number}" in texts_of(picture)


def test_a_chart_known_already_does_not_wait_for_one_being_drawn(process: ChartProcess) -> None:
    svg_of(process, ladder())
    with process._one_at_a_time:
        started = time.monotonic()
        svg_of(process, ladder())
    assert time.monotonic() - started < 5


def test_the_vendored_fonts_are_the_files_their_list_names() -> None:
    vendor = fonts_directory().parent
    listed = tomllib.loads((vendor / "vendor.toml").read_text(encoding="utf-8"))["vendored"]
    fonts = next(entry for entry in listed if entry["directory"] == fonts_directory().name)
    for name, expected in fonts["files"].items():
        content = (vendor / fonts["directory"] / name).read_bytes()
        assert hashlib.sha256(content).hexdigest() == expected
    assert {path.name for path in fonts_directory().iterdir()} == set(fonts["files"])
