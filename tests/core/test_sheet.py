"""A sheet evaluates, explains and writes from the one list of its lines."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from server.core import fabric, units
from server.core.errors import Missing
from server.core.sheet import Explanation, Input, Line, Sheet
from server.core.tracing import CELLS

SHEET = Sheet(
    (
        Line("warp.tex", units.tex_from_ne, {"ne": "warp.ne"}, "Warp yarn"),
        Line("warp.mass", fabric.warp_mass, {"tex": "warp.tex"}),
        Line("epi", fabric.finished_epi, {"total_ends": "ends"}),
        Line("warp.buy", fabric.mass_to_buy, {"mass_in_cloth": "warp.mass"}),
    )
)
DAY = date(2026, 3, 2)
INPUTS = {
    "warp.ne": Input(
        7.0, "Warp count", "Ne", "the construction", DAY, "Ne 7/1", "/constructions/T"
    ),
    "ends": Input(4110.0, "Total ends", "threads"),
    "crimp": Input(0.11, "Warp crimp", "share"),
    "length_shrink": Input(0.13, "Length shrink", "share"),
    "finished_width_in": Input(61.0, "Finished width", "in"),
    "waste": Input(0.045, "Warp waste", "share"),
}
VALUES = {key: entry.value for key, entry in INPUTS.items()}


def test_lines_use_inputs_and_the_lines_before_them() -> None:
    figures = SHEET.evaluate(VALUES)
    tex = 0.45359237e6 / (840 * 0.9144) / 7
    mass = 4110 * 1.11 / 0.87 * tex / 1000
    assert figures["warp.tex"] == pytest.approx(tex, rel=1e-14)
    assert figures["warp.mass"] == pytest.approx(mass, rel=1e-14)
    assert figures["warp.buy"] == pytest.approx(mass / 0.955, rel=1e-14)
    assert figures["epi"] == pytest.approx(4110 / 61, rel=1e-14)


def test_the_inputs_are_named_in_order_of_first_use() -> None:
    assert SHEET.input_names == (
        "warp.ne",
        "ends",
        "crimp",
        "length_shrink",
        "finished_width_in",
        "waste",
    )


def test_only_what_a_wanted_figure_rests_on_is_evaluated() -> None:
    assert [line.key for line in SHEET.needed_for({"warp.buy"})] == [
        "warp.tex",
        "warp.mass",
        "warp.buy",
    ]
    few = {key: value for key, value in VALUES.items() if key != "finished_width_in"}
    figures = SHEET.evaluate(few, ("warp.buy",))
    assert "epi" not in figures
    assert figures["warp.buy"] == SHEET.evaluate(VALUES)["warp.buy"]
    assert SHEET.plan(("warp.buy",)) is SHEET.plan(("warp.buy",))


@pytest.mark.parametrize("absent", list(VALUES))
def test_a_missing_input_is_named(absent: str) -> None:
    few = {key: value for key, value in VALUES.items() if key != absent}
    with pytest.raises(Missing) as missing:
        SHEET.evaluate(few)
    assert missing.value.field == absent
    assert absent in missing.value.message
    assert missing.value.remedy


def test_arrays_give_the_same_bits_as_numbers() -> None:
    counts = np.linspace(4, 30, 57)
    together = SHEET.evaluate(VALUES | {"warp.ne": counts})
    for place, count in enumerate(counts):
        alone = SHEET.evaluate(VALUES | {"warp.ne": float(count)})
        assert all(
            float(np.broadcast_to(together[key], counts.shape)[place]) == float(alone[key])
            for key in ("warp.tex", "warp.mass", "warp.buy", "epi")
        )


def test_a_figure_opens_down_to_what_somebody_entered() -> None:
    opened = SHEET.explain("warp.buy", INPUTS)
    assert opened.label == "Yarn to buy for one metre of finished cloth"
    assert (opened.unit, opened.value) == ("g/m", SHEET.evaluate(VALUES)["warp.buy"])
    assert opened.in_words == "Warp in one metre of finished cloth ÷ (1 − Warp waste)"
    assert opened.in_numbers == f"{opened.parts[0][1].value:.10g} ÷ (1 − 0.045)"
    assert [key for key, _ in opened.parts] == ["warp.mass", "waste"]
    mass = opened.parts[0][1]
    assert isinstance(mass, Explanation)
    assert "Taylor" in mass.source
    assert [key for key, _ in mass.parts] == ["ends", "crimp", "length_shrink", "warp.tex"]
    tex = dict(mass.parts)["warp.tex"]
    assert isinstance(tex, Explanation)
    assert tex.label == "Warp yarn"
    assert dict(tex.parts)["warp.ne"] is INPUTS["warp.ne"]


def test_a_line_writes_itself_with_the_names_it_is_given() -> None:
    assert SHEET.write("warp.buy", CELLS, {"warp.mass": "B2", "waste": "$C$9"}) == "B2/(1.0-$C$9)"
    assert SHEET.title_of("epi", INPUTS) == "Ends per inch, finished"
    assert SHEET.title_of("ends", INPUTS) == "Total ends"


def test_a_sheet_grows_without_changing() -> None:
    longer = SHEET.with_lines(Line("ppi", fabric.finished_ppi))
    assert len(longer.lines) == len(SHEET.lines) + 1
    assert "ppi" not in SHEET.by_key
    assert "loom_ppi" in longer.input_names
    assert longer.by_key["ppi"].unit == "1/in"
