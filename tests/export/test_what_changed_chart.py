"""The waterfall of what changed: where its bars stand, and that it is drawn."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest

from server.core.errors import BadValue
from server.export.chart_process import ChartProcess
from server.export.charts import NARROW_PX, WIDE_PX, size_of
from server.export.what_changed_chart import changed_waterfall

STEPS = (("Price", 0.04), ("Exchange rates", -0.012), ("Mix", 0.003))


def spec(theme: str = "light", width_px: int = WIDE_PX, after: float = 2.631) -> dict[str, Any]:
    return changed_waterfall(
        before=("2026-03-02", 2.6),
        steps=STEPS,
        after=("Today", after),
        unit="USD/m",
        theme=theme,
        width_px=width_px,
    )


def rows(drawn: dict[str, Any], mark: str) -> list[dict[str, Any]]:
    return [
        row
        for layer in drawn["layer"]
        if layer["mark"]["type"] == mark
        for row in layer["data"]["values"]
    ]


def test_each_bar_begins_where_the_one_above_ended() -> None:
    bars = rows(spec(), "rect")
    assert [row["text"] for row in bars] == ["+0.040", "−0.012", "+0.003"]
    assert bars[0]["start"] == 2.6
    assert all(below["start"] == above["end"] for above, below in pairwise(bars))
    assert bars[-1]["end"] == pytest.approx(2.631)
    assert bars[0]["colour"] == bars[2]["colour"] != bars[1]["colour"]


def test_the_ends_are_dots_because_the_axis_does_not_start_at_zero() -> None:
    drawn = spec()
    dots = rows(drawn, "point")
    assert [(row["name"], row["text"]) for row in dots] == [
        (["2026-03-02"], "2.600"), (["Today"], "2.631"),
    ]  # fmt: skip
    assert "(axis does not start at 0)" in str(drawn)


def test_steps_that_do_not_lead_there_are_refused() -> None:
    with pytest.raises(BadValue) as refused:
        spec(after=2.7)
    assert refused.value.field == "steps"
    with pytest.raises(BadValue):
        spec(width_px=NARROW_PX - 1)


def test_nothing_changed_is_two_dots() -> None:
    drawn = changed_waterfall(
        before=("2026-03-02", 2.6), steps=(), after=("Today", 2.6), unit="USD/m", theme="dark"
    )
    assert len(rows(drawn, "point")) == 2
    assert rows(drawn, "rect") == []


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("width_px", [WIDE_PX, NARROW_PX])
def test_it_is_drawn(theme: str, width_px: int) -> None:
    charts = ChartProcess()
    try:
        drawn = spec(theme, width_px)
        picture = charts.render(drawn, form="svg").decode()
    finally:
        charts.close()
    assert "+0.040" in picture
    assert f'width="{size_of(drawn).width_px}"' in picture
