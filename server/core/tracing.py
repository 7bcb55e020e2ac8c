"""Objects that pass through a formula and write it down, for a page or for a spreadsheet cell."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from server.core.errors import BadValue

_SIGNS = ("add", "sub", "mul", "div")
_STRENGTH = {"add": 1, "sub": 1, "mul": 2, "div": 2, "neg": 3}


@dataclass(frozen=True, slots=True, eq=False)
class Traced:
    """A node of the expression a formula built: an operation and the parts it works on.

    `name` nodes hold the text of an input (an argument name, a cell reference, a number).
    """

    operation: str
    parts: tuple[Any, ...]

    def __add__(self, other: object) -> Traced:
        return Traced("add", (self, other))

    def __radd__(self, other: object) -> Traced:
        return Traced("add", (other, self))

    def __sub__(self, other: object) -> Traced:
        return Traced("sub", (self, other))

    def __rsub__(self, other: object) -> Traced:
        return Traced("sub", (other, self))

    def __mul__(self, other: object) -> Traced:
        return Traced("mul", (self, other))

    def __rmul__(self, other: object) -> Traced:
        return Traced("mul", (other, self))

    def __truediv__(self, other: object) -> Traced:
        return Traced("div", (self, other))

    def __rtruediv__(self, other: object) -> Traced:
        return Traced("div", (other, self))

    def __neg__(self) -> Traced:
        return Traced("neg", (self,))

    def __bool__(self) -> bool:
        raise BadValue(
            "A formula asked a traced input for yes or no.",
            remedy="Use a named helper of server.core.elementary, or a different sheet line.",
        )


@dataclass(frozen=True, slots=True)
class Style:
    """How an expression is written: four signs, the named functions, and numbers."""

    signs: Mapping[str, str]
    functions: Mapping[str, str]
    number: Callable[[float], str]


PAGE = Style(
    signs={"add": " + ", "sub": " − ", "mul": " × ", "div": " ÷ "},
    functions={
        "sqrt": "√({0})",
        "min": "smaller of ({0}; {1})",
        "max": "larger of ({0}; {1})",
        "ceil": "round up ({0})",
        "power": "({0})^({1})",
        "idle": "Erlang loss ({0}; 1 ÷ ({1}))",
    },
    number=lambda value: f"{value:.10g}",
)

CELLS = Style(
    signs={"add": "+", "sub": "-", "mul": "*", "div": "/"},
    functions={
        "sqrt": "SQRT({0})",
        "min": "MIN({0},{1})",
        "max": "MAX({0},{1})",
        "ceil": "ROUNDUP({0},0)",
        "power": "POWER({0},{1})",
        "idle": "(POISSON.DIST({0},1/({1}),FALSE)/POISSON.DIST({0},1/({1}),TRUE))",
    },
    number=repr,
)


def name(text: str) -> Traced:
    """A traced input that writes itself as `text`."""
    return Traced("name", (text,))


def write(node: object, style: Style) -> str:
    """The expression as text, with only the brackets it needs."""
    return _write(node, style)[0]


def _write(node: object, style: Style) -> tuple[str, int]:
    if not isinstance(node, Traced):
        return style.number(float(node)), 9  # type: ignore[arg-type]
    if node.operation == "name":
        return str(node.parts[0]), 9
    if node.operation in style.functions:
        inner = [write(part, style) for part in node.parts]
        return style.functions[node.operation].format(*inner), 9
    strength = _STRENGTH[node.operation]
    if node.operation == "neg":
        text, inner_strength = _write(node.parts[0], style)
        return "-" + (text if inner_strength > strength else f"({text})"), strength
    left, left_strength = _write(node.parts[0], style)
    right, right_strength = _write(node.parts[1], style)
    if left_strength < strength:
        left = f"({left})"
    if right_strength < strength or (
        right_strength == strength and node.operation in ("sub", "div")
    ):
        right = f"({right})"
    return left + style.signs[node.operation] + right, strength
