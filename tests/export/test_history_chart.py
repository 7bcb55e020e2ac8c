"""The chart of prices over time: where its marks stand, and that it is drawn."""

from __future__ import annotations

import json
import math
from datetime import date, timedelta
from itertools import pairwise
from typing import Any

import pytest

from server.core.errors import BadValue
from server.export.chart_process import ChartProcess
from server.export.charts import NARROW_PX, WIDE_PX, size_of
from server.export.history_chart import PricePoint, price_history, price_ticks

DAY = date(2026, 1, 1)


def point(name: str, days: int, price: float, after: str = "", holds: bool = True) -> PricePoint:
    return PricePoint(name, DAY + timedelta(days=days), price, f"{price:.2f}", after, holds)


CHAIN = (
    point("A", 0, 2.61, holds=False),
    point("B", 40, 2.58, "A", holds=False),
    point("C", 60, 2.70, "B"),
    point("D", 58, 2.40, "gone"),
)


def rows(spec: dict[str, Any], mark: str) -> list[dict[str, Any]]:
    return [
        row
        for layer in spec["layer"]
        if layer["mark"]["type"] == mark
        for row in layer["data"]["values"]
    ]


def test_later_stands_to_the_right_and_dearer_higher() -> None:
    dots = {
        r["name"]: r for r in rows(price_history(points=CHAIN, unit="x", theme="light"), "point")
    }
    assert dots["A"]["x"] < dots["B"]["x"] < dots["D"]["x"] < dots["C"]["x"]
    assert dots["C"]["y"] < dots["A"]["y"] < dots["B"]["y"] < dots["D"]["y"]
    even = (dots["B"]["x"] - dots["A"]["x"]) / 40
    assert (dots["C"]["x"] - dots["B"]["x"]) / 20 == pytest.approx(even, rel=1e-3)


def test_a_line_joins_a_requote_with_what_it_replaces_and_nothing_else() -> None:
    spec = price_history(points=CHAIN, unit="x", theme="light")
    dots = {row["name"]: (row["x"], row["y"]) for row in rows(spec, "point")}
    joints = [
        ((row["x"], row["y"]), (row["x2"], row["y2"]))
        for row in rows(spec, "rule")
        if "x2" in row and "y2" in row
    ]
    assert joints == [(dots["A"], dots["B"]), (dots["B"], dots["C"])]


def test_what_holds_no_more_is_hollow() -> None:
    spec = price_history(points=CHAIN, unit="x", theme="light")
    shown = {
        layer["mark"]["filled"]: {row["name"] for row in layer["data"]["values"]}
        for layer in spec["layer"]
        if layer["mark"]["type"] == "point"
    }
    assert shown == {False: {"A", "B"}, True: {"C", "D"}}


def test_prices_stand_beside_their_dots_without_overlapping() -> None:
    many = [point(f"P{n}", n // 3, 2 + (n * 7 % 11) / 10) for n in range(60)]
    spec = price_history(points=many, unit="x", theme="light", width_px=NARROW_PX)
    labels = [row for row in rows(spec, "text") if "label_x" in row and "-" not in row["text"]]
    assert labels
    for number, one in enumerate(labels):
        for other in labels[:number]:
            apart_x = abs(one["label_x"] - other["label_x"])
            apart_y = abs(one["label_y"] - other["label_y"])
            assert apart_x > 30 or apart_y > 12


@pytest.mark.parametrize(
    "prices", [[2.61, 2.58], [15_900.0, 16_400.0], [0.004, 0.0042], [5.0], [-1.0, 1.0], [0.0]]
)
def test_ticks_are_round_rise_and_hold_every_price(prices: list[float]) -> None:
    ticks = price_ticks(prices)
    steps = {round(b - a, 12) for a, b in pairwise(ticks)}
    assert 2 <= len(ticks) <= 9
    assert len(steps) == 1
    step = steps.pop()
    assert round(step / 10 ** math.floor(math.log10(step) + 1e-9), 6) in (1, 2, 5, 10)
    assert ticks[0] <= min(prices)
    assert ticks[-1] >= max(prices)


@pytest.mark.parametrize("width", [WIDE_PX, NARROW_PX])
def test_the_size_is_known_before_it_is_drawn(width: int) -> None:
    spec = price_history(points=CHAIN, unit="USD/kg, same basis", theme="dark", width_px=width)
    assert size_of(spec).width_px == width
    drawn = ChartProcess()
    try:
        svg = drawn.render(spec, form="svg").decode()
    finally:
        drawn.close()
    assert f'width="{width}"' in svg
    assert f'height="{size_of(spec).height_px}"' in svg
    assert "USD/kg, same basis" in svg


def test_a_single_quote_is_drawn() -> None:
    spec = price_history(points=[point("A", 0, 2.61)], unit="x", theme="light")
    assert len(rows(spec, "point")) == 1


def test_names_travel_as_data_and_no_address_is_loaded() -> None:
    odd = PricePoint("A", DAY, 2.0, "datum.x + <b>\n", "", True)
    text = json.dumps(price_history(points=[odd], unit="http://x.example/", theme="light"))
    assert '"url"' not in text
    assert "expr" not in text


@pytest.mark.parametrize(
    ("points", "width"),
    [([], WIDE_PX), ([point("A", 0, math.nan)], WIDE_PX), (list(CHAIN), 100)],
)
def test_what_cannot_be_drawn_is_refused(points: list[PricePoint], width: int) -> None:
    with pytest.raises(BadValue):
        price_history(points=points, unit="x", theme="light", width_px=width)
