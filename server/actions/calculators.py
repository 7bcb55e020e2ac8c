"""Every public formula of the engine as a calculator."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Mapping
from functools import lru_cache

import server.core
from server.core.errors import BadValue, NotFound
from server.core.formula import FORMULAS, Formula


@lru_cache(maxsize=1)
def calculators() -> tuple[Formula, ...]:
    """All formulas, room by room."""
    for module in pkgutil.iter_modules(server.core.__path__):
        importlib.import_module(f"server.core.{module.name}")
    return tuple(sorted(FORMULAS.values(), key=lambda each: (each.room, each.key)))


def calculator(key: str) -> Formula:
    """One formula by its key. Raises NotFound."""
    for each in calculators():
        if each.key == key:
            return each
    raise NotFound(
        f"There is no calculator “{key[:40]}”.",
        field="key",
        value=key,
        remedy="Choose one from the list of calculators.",
    )


def calculate(key: str, texts: Mapping[str, str]) -> float:
    """Evaluate a formula on typed figures. Raises NotFound, BadValue."""
    formula = calculator(key)
    values = {}
    for argument in formula.arguments:
        text = texts.get(argument.name, "").strip()
        if not text:
            continue
        try:
            values[argument.name] = float(text)
        except ValueError:
            raise BadValue(
                f"{argument.name} = “{text[:20]}” is not a number.",
                field=argument.name,
                value=text,
                unit=argument.quantity.unit,
                remedy=f"Enter {argument.meaning} in {argument.quantity.unit}, with a "
                "decimal point.",
            ) from None
    return formula.evaluate(values)
