"""How the cells of a workbook look: inputs and results told apart, number formats by unit."""

from __future__ import annotations

import math
from functools import cache
from typing import Any

from server.export.numbers import Writer

INK, GREY, BLUE = "#1F2430", "#5B6472", "#0000FF"
PAPER, BAND, HEAD, RULE = "#FFF9DB", "#E4E9F2", "#1F3A5F", "#C9CFD9"
MOST_TYPED = 10  # signs of a number that somebody typed
HAIR = 7  # the thinnest line of the file format
LINE = 13.5  # height of one line of text [pt]
CHANGED = "#FFD08A"
_DECIMALS = {
    "¤": 2, "¤/¤q": 6, "¤q": 4, "threads": 0, "Ne": 2, "tex": 2, "rpm": 0, "d": 1, "t": 2, "kg": 2,
    "g/m": 2, "g/m²": 2, "oz/yd²": 2, "in": 2, "1/in": 2, "m": 3, "×": 4, "m/h": 3, "looms": 0,
    "stops": 3, "min": 3, "1/h": 3, "1/(in·√Ne)": 2, "turns/m": 1, "m/min": 2, "g/h": 1,
}  # fmt: skip


@cache
def number_format(unit: str) -> str:
    """Number format of a result in a unit; money of a unit of cloth or yarn has four decimals."""
    if unit.startswith("share"):
        return "0.00%"
    decimals = _DECIMALS.get(unit, 4 if "¤" in unit or unit[3:4] == "/" else None)
    if decimals is None:
        return "General"
    return "#,##0" + ("." + "0" * decimals if decimals else "")


def input_format(unit: str, value: float) -> str:
    """Number format of an input: as it was typed, shares in percent, worked out ones rounded."""
    if unit.startswith("share"):
        return "0.00####%"
    return "General" if len(repr(value)) <= MOST_TYPED else number_format(unit)


def unit_text(unit: str, currency: str, quoted: str = "") -> str:
    """A unit for reading. quoted: currency of the quote where all have one, else in words"""
    of_quote = unit.replace("¤q", quoted or "quote currency")
    return Writer("trade", currency).unit(of_quote)


def make_room(page: Any, at: int, *cells: tuple[str, float]) -> None:
    """Makes a row high enough for its texts, before it is written.

    at: the row; cells: text and width of its column, in characters
    """
    most = max(
        (
            sum(max(1, math.ceil(len(line) * 0.9 / width)) for line in text.split("\n"))
            for text, width in cells
        ),
        default=1,
    )
    if most > 1:
        page.set_row(at, 2 + LINE * most)


class Styles:
    """The formats of one workbook, each made once."""

    def __init__(self, book: Any) -> None:
        self._book = book
        self._made: dict[tuple[tuple[str, Any], ...], Any] = {}
        ruled = {"bottom": HAIR, "bottom_color": RULE}
        self.title = self._of(bold=True, font_size=16, font_color=HEAD)
        self.text = self._of()
        self.wrapped = self._of(text_wrap=True)
        self.faint = self._of(font_color=GREY)
        self.strong = self._of(bold=True)
        self.label = self._of(text_wrap=True, **ruled)
        self.strong_label = self._of(text_wrap=True, bold=True, **ruled)
        self.faint_label = self._of(font_color=GREY, **ruled)
        self.unit = self._of(font_color=GREY, align="left", indent=1, **ruled)
        self.source = self._of(font_color=GREY, align="left", indent=1)
        head = {
            "bold": True, "font_color": "#FFFFFF", "bg_color": HEAD, "text_wrap": True,
            "valign": "vcenter",
        }  # fmt: skip
        self.head = self._of(**head)
        self.head_behind = self._of(**head, align="left", indent=1)
        self.head_of_numbers = self._of(**head, align="right")
        self.group = self._of(bold=True, font_color=HEAD, bg_color=BAND)
        self.of_pair = self._of(align="right", font_color=GREY, text_wrap=True, **ruled)
        self.changed = book.add_format({"bold": True, "bg_color": CHANGED})

    def result(self, unit: str, *, strong: bool = False, signed: bool = False) -> Any:
        """A formula: black on white."""
        plain = number_format(unit)
        shown = f"+{plain};-{plain};{plain}" if signed else plain
        return self._of(num_format=shown, bold=strong, bottom=HAIR, bottom_color=RULE)

    def entered(self, unit: str, value: float, *, may_change: bool) -> Any:
        """An input: blue on yellow where it may be changed."""
        shown = {"num_format": input_format(unit, value), "align": "right"}
        if not may_change:
            return self._of(font_color=GREY, **shown)
        return self._of(
            font_color=BLUE, bg_color=PAPER, border=1, border_color=RULE, locked=False, **shown
        )

    def frozen(self, unit: str, value: float) -> Any:
        """The value an input had, to go back to."""
        return self._of(
            num_format=input_format(unit, value),
            font_color=GREY,
            align="right",
            bottom=HAIR,
            bottom_color=RULE,
        )

    def _of(self, **about: Any) -> Any:
        told = {"font_color": INK, "font_size": 10, "valign": "top"} | about
        key = tuple(sorted(told.items()))
        if key not in self._made:
            self._made[key] = self._book.add_format(told)
        return self._made[key]
