"""An opened figure as text: formula in names and in numbers, inputs with source and date."""

from __future__ import annotations

from dataclasses import dataclass

from server.core.sheet import Explanation, Input
from server.web.numbers import Writer, significant


@dataclass(frozen=True, slots=True)
class InputView:
    """An input with everything needed to stand behind it."""

    label: str
    text: str
    unit: str
    source: str
    on: str
    as_entered: str
    where: str


@dataclass(frozen=True, slots=True)
class ExplanationView:
    """A figure with its formula; parts are further figures or inputs."""

    label: str
    text: str
    unit: str
    in_words: str
    in_numbers: str
    source: str
    notes: str
    parts: tuple[tuple[str, ExplanationView | InputView], ...]


def explanation_view(node: Explanation, writer: Writer) -> ExplanationView:
    """The whole tree as text, in the engine's own units, as the formula needs them.

    A figure that feeds several others is opened once, where it first appears.
    """
    return _opened(node, writer, set())


def _opened(node: Explanation, writer: Writer, seen: set[str]) -> ExplanationView:
    again = node.key in seen
    seen.add(node.key)
    parts = () if again else node.parts
    return ExplanationView(
        label=node.label,
        text=significant(node.value),
        unit=_unit(node.unit, writer),
        in_words=node.in_words,
        in_numbers=node.in_numbers,
        source=node.source,
        notes="Opened above." if again else node.notes,
        parts=tuple(
            (
                name,
                _opened(part, writer, seen)
                if isinstance(part, Explanation)
                else input_view(part, writer),
            )
            for name, part in parts
        ),
    )


def input_view(entry: Input, writer: Writer) -> InputView:
    """An input as text."""
    return InputView(
        label=entry.label,
        text=significant(float(entry.value)),
        unit=_unit(entry.unit, writer),
        source=entry.source,
        on=entry.on.isoformat() if entry.on else "",
        as_entered=entry.as_entered,
        where=entry.where,
    )


def _unit(unit: str, writer: Writer) -> str:
    return unit.replace("¤q", "quoted currency").replace("¤", writer.currency)
