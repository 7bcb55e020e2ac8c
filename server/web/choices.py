"""Fields of a question in an address: a list to choose from, an end of a range."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Choice:
    """A list to choose from."""

    name: str
    label: str
    value: str
    options: tuple[tuple[str, str], ...]
    error: str


@dataclass(frozen=True, slots=True)
class RangeField:
    """One end of a range. now: where it ends when nothing is typed"""

    name: str
    label: str
    unit: str
    now: str
    value: str
    error: str
