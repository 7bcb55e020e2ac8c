"""The register of formulas: what each is called, what it takes, what it gives, who published it.

    @formula(source="ASTM D1059; Taylor, Cotton Weaving and Designing, 1909")
    def warp_mass(*, total_ends: Threads, warp_crimp: CrimpShare, ...) -> GramPerMetre:
        '''Warp in one metre of finished cloth.

        total_ends: all ends of the warp, body and selvedge [threads]
        warp_crimp: yarn length beyond cloth length, on cloth length [share]
        Limits: crimp measured in loom state.
        '''

The decorator reads unit and limits from the annotations and meaning from the docstring, and returns
the function unchanged, so calling a formula costs nothing extra.
"""

from __future__ import annotations

import inspect
import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any, TypeVar, get_type_hints

from server.core.errors import BadValue
from server.core.quantities import Quantity
from server.core.tracing import PAGE, name, write

Function = TypeVar("Function", bound=Callable[..., Any])
_ARGUMENT_LINE = re.compile(r"^(\w+): (.+) \[([^\]]+)\]$")


@dataclass(frozen=True)
class Argument:
    """One input of a formula: its name, what it means, its unit and hard limits."""

    name: str
    meaning: str
    quantity: Quantity

    def check(self, value: float) -> None:
        """Refuse a value that is not a finite number or lies outside the hard limits."""
        limits = self.quantity
        wrong = (
            "is not a finite number"
            if not math.isfinite(value)
            else f"must be more than {limits.above:g}"
            if limits.above is not None and value <= limits.above
            else f"must be at least {limits.least:g}"
            if limits.least is not None and value < limits.least
            else f"must be at most {limits.most:g}"
            if limits.most is not None and value > limits.most
            else ""
        )
        if wrong:
            raise BadValue(
                f"{self.name} = {value:g} {limits.unit} {wrong}.",
                field=self.name,
                value=value,
                unit=limits.unit,
                remedy=f"Enter {self.meaning} in {limits.unit}.",
            )


@dataclass(frozen=True)
class Formula:
    """A registered formula with its description."""

    key: str
    room: str
    function: Callable[..., Any]
    source: str
    empirical: bool

    @cached_property
    def _paragraphs(self) -> tuple[str, list[str]]:
        title, _, rest = inspect.cleandoc(self.function.__doc__ or "").partition("\n")
        return title.strip().rstrip("."), [line.strip() for line in rest.splitlines()]

    @property
    def title(self) -> str:
        """What the result is, in a few words."""
        return self._paragraphs[0]

    @cached_property
    def notes(self) -> str:
        """The docstring without its title and argument lines: equation remarks and limits."""
        lines = [line for line in self._paragraphs[1] if not _ARGUMENT_LINE.match(line)]
        return " ".join(line for line in lines if line)

    @cached_property
    def arguments(self) -> tuple[Argument, ...]:
        """The inputs in order, with meaning, unit and limits."""
        meanings = {
            match[1]: (match[2], match[3])
            for line in self._paragraphs[1]
            if (match := _ARGUMENT_LINE.match(line))
        }
        hints = get_type_hints(self.function, include_extras=True)
        return tuple(
            Argument(
                parameter, meanings.get(parameter, (parameter, ""))[0], _quantity(hints[parameter])
            )
            for parameter in inspect.signature(self.function).parameters
        )

    @cached_property
    def documented_units(self) -> Mapping[str, str]:
        """The unit of each argument as its docstring line states it; tests compare it."""
        return {
            match[1]: match[3]
            for line in self._paragraphs[1]
            if (match := _ARGUMENT_LINE.match(line))
        }

    @cached_property
    def result(self) -> Quantity:
        """Unit and limits of the result."""
        return _quantity(get_type_hints(self.function, include_extras=True)["return"])

    @property
    def unit(self) -> str:
        """Unit of the result."""
        return self.result.unit

    @cached_property
    def expression(self) -> str:
        """The formula as people write it, traced from the code itself."""
        traced = {argument.name: name(argument.name) for argument in self.arguments}
        return write(self.function(**traced), PAGE)

    def evaluate(self, values: Mapping[str, float]) -> float:
        """Check every input, compute, and refuse a result that is not finite."""
        unknown = sorted(set(values) - {argument.name for argument in self.arguments})
        if unknown:
            raise BadValue(
                f"{self.key} has no input called {unknown[0]}.",
                field=unknown[0],
                remedy="Its inputs are: "
                + ", ".join(argument.name for argument in self.arguments)
                + ".",
            )
        for argument in self.arguments:
            if argument.name not in values:
                raise BadValue(
                    f"{self.key} needs {argument.name}.",
                    field=argument.name,
                    unit=argument.quantity.unit,
                    remedy=f"Enter {argument.meaning} in {argument.quantity.unit}.",
                )
            argument.check(values[argument.name])
        try:
            result = float(self.function(**values))
        except (ZeroDivisionError, OverflowError, ValueError, TypeError) as wrong:
            raise BadValue(
                f"{self.title} cannot be computed from these values.",
                field=self.key,
                remedy="Change the inputs; their combination has no finite result.",
            ) from wrong
        if not math.isfinite(result):
            raise BadValue(
                f"{self.title} is not a finite number for these values.",
                field=self.key,
                remedy="Change the inputs; their combination has no finite result.",
            )
        return result


FORMULAS: dict[str, Formula] = {}


def formula(*, source: str, empirical: bool = False) -> Callable[[Function], Function]:
    """Register a formula.

    source: the publication it can be checked in, or "common practice, no source", or
        "definition" for what follows from the meaning of the words
    empirical: True when the equation is a rule of thumb whose units do not balance
    """

    def register(function: Function) -> Function:
        key = function.__name__
        if key in FORMULAS:
            raise ValueError(f"two formulas are called {key}")
        room = function.__module__.rsplit(".", 1)[-1]
        FORMULAS[key] = Formula(key, room, function, source, empirical)
        return function

    return register


def described(function: Callable[..., Any]) -> Formula:
    """The registered description of a formula function."""
    return FORMULAS[function.__name__]


def _quantity(hint: Any) -> Quantity:
    for extra in getattr(hint, "__metadata__", ()):
        if isinstance(extra, Quantity):
            return extra
    raise TypeError(f"{hint!r} carries no Quantity")
