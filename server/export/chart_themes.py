"""Colours of the charts, light and dark, and whether a text can be read on them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from server.core.errors import BadValue

Spec = dict[str, Any]
_FONT = "DejaVu Sans, Verdana, sans-serif"
_TEXT_PX = 12


@dataclass(frozen=True, slots=True)
class Theme:
    """Colours of a chart.

    background: None leaves the page, or the paper, as it is
    parts: colours of stacked parts, dark beside pale, so that neighbours differ in grey too
    """

    background: str | None
    ink: str
    quiet: str
    grid: str
    adds: str
    lowers: str
    total: str
    parts: tuple[str, ...]


THEMES: Mapping[str, Theme] = {
    "light": Theme(
        background=None,
        ink="#1c2340",
        quiet="#4d5470",
        grid="#d9d4c7",
        adds="#34408f",
        lowers="#0f766e",
        total="#1c2340",
        parts=(
            *("#332e8a", "#ddcc77", "#117a6b", "#88ccee", "#882255"),
            *("#c9c5b5", "#117733", "#e58a92", "#5c6178", "#bdb76b"),
        ),
    ),
    "dark": Theme(
        background="#141a30",
        ink="#f2ecdd",
        quiet="#bdbfd0",
        grid="#343c5c",
        adds="#93a4f5",
        lowers="#4fc9b8",
        total="#f2ecdd",
        parts=(
            *("#7c83e8", "#efe0a0", "#2f9c8a", "#a9dcf5", "#b8558a"),
            *("#dcd8c8", "#3f9a55", "#f2b0b6", "#8a8fa8", "#d8d48c"),
        ),
    ),
}


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours as WCAG 2 defines it, 1 to 21."""
    dark, bright = sorted((_luminance(one), _luminance(other)))
    return (bright + 0.05) / (dark + 0.05)


def readable_on(colour: str) -> str:
    """Black or white, whichever reads better on the colour."""
    return max("#000000", "#ffffff", key=lambda ink: contrast(ink, colour))


def _luminance(colour: str) -> float:
    """Relative luminance of #rrggbb, 0 to 1."""
    channels = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in channels
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def theme_named(theme: str) -> Theme:
    """The colours of a theme, by its name."""
    if theme not in THEMES:
        raise BadValue(
            f"There is no chart theme {theme!r}.",
            field="theme",
            value=theme,
            remedy=f"Choose {' or '.join(THEMES)}.",
        )
    return THEMES[theme]


def theme_config(colours: Theme) -> Spec:
    """Fonts and colours that all charts of a theme share."""
    return {
        "font": _FONT,
        "view": {"stroke": None},
        "text": {"font": _FONT, "fontSize": _TEXT_PX},
        "axis": {
            "aria": False,
            "domain": False,
            "gridColor": colours.grid,
            "labelColor": colours.quiet,
            "labelFontSize": 11,
            "tickColor": colours.grid,
            "titleColor": colours.ink,
            "titleFontSize": _TEXT_PX,
            "titleFontWeight": "normal",
            "titlePadding": 6,
        },
        "axisY": {"domain": False, "grid": False, "labels": False, "ticks": False, "title": None},
    }
