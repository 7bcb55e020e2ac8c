"""Units of the engine as quantities of a unit library, so that a formula's dimension can be met.

Threads, turns, pieces and shares are pure numbers; money of the reporting currency and of the
quote are two dimensions of their own. Unit factors inside a formula are plain numbers, so only the
dimension of a result is compared, never its size.
"""

from __future__ import annotations

import math
import re
from typing import Any

import pint

from server.core.elementary import idle_share
from server.core.formula import Argument, Formula
from server.core.quantities import Quantity

UNITS: Any = pint.UnitRegistry()
for definition in (
    "reporting_money = [reporting_money]",
    "quoted_money = [quoted_money]",
    "Ne = 840 * yard / pound",
    "Nm = kilometer / kilogram",
    "NeK = 560 * yard / pound",
    "NeL = 300 * yard / pound",
    "Ny = 256 * yard / pound",
    "woollen_run = 1600 * yard / pound",
    "Nf = kilometer / (0.5 * kilogram)",
    "trade_tex = gram / kilometer",
    "trade_denier = gram / (9 * kilometer)",
):
    UNITS.define(definition)

_NAMES = {
    "share": "",
    "×": "",
    "threads": "",
    "pieces": "",
    "stops": "",
    "looms": "",
    "turns": "",
    "1": "",
    "¤": "reporting_money",
    "¤q": "quoted_money",
    "tex": "trade_tex",
    "dtex": "0.1 * trade_tex",
    "den": "trade_denier",
    "run": "woollen_run",
    "hank": "840 * yard",
    "spyndle": "14400 * yard",
    "αe": "1 / inch / Ne ** 0.5",
    "αm": "1 / meter / Nm ** 0.5",
    "αtex": "1 / meter * trade_tex ** 0.5",
    "rpm": "1 / minute",
    "a": "year",
    "d": "day",
    "h": "hour",
    "min": "minute",
    "s": "second",
    "in": "inch",
    "yd": "yard",
    "lb": "pound",
    "oz": "ounce",
    "gr": "grain",
    "t": "metric_ton",
    "m": "meter",
}
_TOKEN = re.compile(r"\s*([·/()√]|[²³]|\d+(?:\.\d+)?|[^\s·/()√²³\d]+)")


def unit_of(text: str) -> Any:
    """A unit as the engine writes it, such as `¤/(t·km)`, `1/(in·√Ne)` or `gr/120 yd`."""
    tokens = _TOKEN.findall(text)
    place = 0

    def product() -> Any:
        nonlocal place
        result, sign = factor(), ""
        while place < len(tokens) and tokens[place] != ")":
            sign = tokens[place] if tokens[place] in "·/" else "next to"
            place += sign != "next to"
            operand = factor()
            while place < len(tokens) and tokens[place] not in "·/)":
                operand = operand * factor()  # `120 yd` stands together
            result = result / operand if sign == "/" else result * operand
        return result

    def factor() -> Any:
        nonlocal place
        token = tokens[place]
        place += 1
        if token == "(":
            inner = product()
            place += 1
            return inner
        if token == "√":
            return factor() ** 0.5
        if token[0].isdigit():
            return UNITS.Quantity(float(token))
        found: Any = UNITS.Quantity(_NAMES.get(token, token) or "dimensionless")
        if place < len(tokens) and tokens[place] in "²³":
            found = found ** (2 if tokens[place] == "²" else 3)
            place += 1
        return found

    return product()


def sample(argument: Argument, place: int) -> float:
    """A value inside an argument's limits, another one for every place."""
    limits = argument.quantity
    low = max(bound for bound in (limits.least, limits.above, 0.0) if bound is not None)
    if limits.most is not None and limits.most <= 1:
        return low + (limits.most - low) * (0.04 + 0.03 * place)
    value = low + 1.37 + 1.91 * place
    return value if limits.most is None else min(value, limits.most)


def result_in_units(formula: Formula) -> Any:
    """The formula called with quantities of its declared units."""
    arguments = {
        argument.name: sample(argument, place) * unit_of(argument.quantity.unit)
        for place, argument in enumerate(formula.arguments)
    }
    return UNITS.Quantity(formula.function(**arguments))


def whole(number: Any) -> Any:
    """Rounding up of a pure number; anything with a dimension is refused."""
    return math.ceil(UNITS.Quantity(number).to("dimensionless").magnitude)


def raised(base: Any, exponent: Any) -> Any:
    """A pure number raised to a pure number; anything with a dimension is refused."""
    pure = [UNITS.Quantity(each).to("dimensionless").magnitude for each in (base, exponent)]
    return pure[0] ** pure[1]


def idle(machines: Any, work: Any) -> Any:
    """The idle share of pure numbers; anything with a dimension is refused."""
    pure = [UNITS.Quantity(each).to("dimensionless").magnitude for each in (machines, work)]
    return idle_share(*pure)


def dimension_of(quantity: Quantity) -> Any:
    """Dimension of a declared unit."""
    return unit_of(quantity.unit).dimensionality
