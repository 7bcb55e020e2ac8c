"""Cells of a CSV file: a text that a spreadsheet would run gets an apostrophe in front.

Going out and coming in are one another's reverse, so a file we wrote reads back unchanged.
"""

from __future__ import annotations

_RUNS = ("=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠")


def runs(text: str) -> bool:
    """Whether a spreadsheet would run the text, or take an apostrophe of its own away."""
    return text.lstrip(" ").startswith(_RUNS) or text.startswith("'")


def guarded(text: str) -> str:
    """The text as a cell that no spreadsheet runs."""
    return f"'{text}" if runs(text) else text


def unguarded(cell: str) -> str:
    """The text of a cell that `guarded` wrote; any other cell as it is."""
    return cell[1:] if cell.startswith("'") and runs(cell[1:]) else cell
