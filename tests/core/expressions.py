"""Written formulas read back and worked out, in either writing style."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from decimal import ROUND_UP, Decimal
from fractions import Fraction
from typing import Any

_NUMBER = re.compile(r"(?<![\w.])(\d+(?:\.\d*)?(?:e[+-]?\d+)?)(?![\w.])")
_PAGE_SIGNS = {" + ": "+", " − ": "-", " × ": "*", " ÷ ": "/", "^": "**", "; ": ","}


def rounded_up(number: Any) -> float:
    """What a spreadsheet's ROUNDUP to whole numbers gives."""
    return float(Decimal(float(number)).quantize(Decimal(1), rounding=ROUND_UP))


class POISSON:
    """What a spreadsheet's POISSON.DIST gives; a number that is not whole is cut off."""

    @staticmethod
    def DIST(number: float, mean: float, cumulative: bool) -> float:
        """Probability of a number, or of at most that number."""
        terms = [math.exp(-mean) * mean**k / math.factorial(k) for k in range(int(number) + 1)]
        return sum(terms) if cumulative else terms[-1]


FUNCTIONS = {
    "POISSON": POISSON,
    "TRUE": True,
    "FALSE": False,
    "SQRT": lambda number: math.sqrt(number),
    "MIN": min,
    "MAX": max,
    "ROUNDUP": lambda number, _places: rounded_up(number),
    "POWER": lambda base, exponent: base**exponent,
}


def cells_value(text: str, values: Mapping[str, Any], *, exact: bool = False) -> Any:
    """Value of a formula written for a spreadsheet."""
    if exact:
        text = _NUMBER.sub(r"Fraction('\1')", text)
    names = {"__builtins__": {}, "Fraction": Fraction, **FUNCTIONS, **values}
    return eval(text, names)


def page_value(text: str, values: Mapping[str, Any], *, exact: bool = False) -> Any:
    """Value of a formula written for a page."""
    for written, sign in _PAGE_SIGNS.items():
        text = text.replace(written, sign)
    for written, function in (
        ("√(", "SQRT("),
        ("smaller of (", "MIN("),
        ("larger of (", "MAX("),
        ("round up (", "CEILING("),
        ("Erlang loss (", "ERLANG("),
    ):
        text = text.replace(written, function)
    return cells_value(text, {"CEILING": math.ceil, "ERLANG": loss, **values}, exact=exact)


def loss(places: float, load: float) -> float:
    """Erlang's loss function from its definition, in whole terms."""
    terms = [load**k / math.factorial(k) for k in range(int(places) + 1)]
    return terms[-1] / sum(terms)
