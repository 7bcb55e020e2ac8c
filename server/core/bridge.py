"""Why one cost is not the other: the difference by cause, in a stated order, without a rest.

Inputs go from their value before to their value after, one cause at a time; each cause gets what
the figure moved by. Causes that multiply one another share their common part by order: it falls to
the later one. The steps telescope, so that they sum to the difference whatever the order.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from server.core.sheet import Input, Sheet


@dataclass(frozen=True)
class Cause:
    """A named cause and the inputs that belong to it.

    names: whole input names, or the part behind the dot with a leading dot (`.waste` of every yarn)
    """

    label: str
    names: tuple[str, ...]

    def holds(self, name: str) -> bool:
        """Whether an input belongs to this cause."""
        return any(name == each or (each[0] == "." and name.endswith(each)) for each in self.names)


@dataclass(frozen=True)
class Step:
    """What one cause moved the figure by, in the unit of the figure.

    inputs: names of the inputs that changed
    total: the figure after this step
    """

    label: str
    inputs: tuple[str, ...]
    amount: float
    total: float


@dataclass(frozen=True)
class Bridge:
    """A figure before and after, and the steps between, in order."""

    figure: str
    before: float
    after: float
    steps: tuple[Step, ...]


def bridge(
    sheet: Sheet,
    figure: str,
    before: Mapping[str, Input],
    after: Mapping[str, Input],
    causes: Sequence[Cause],
) -> Bridge:
    """Walk a figure of one sheet from its inputs before to its inputs after.

    before, after: the same input names
    causes: in the order they are taken; an input that changed and belongs to none of them becomes a
        cause of its own, named by its label, so that nothing is left over
    """
    values = {name: float(before[name].value) for name in sheet.input_names}
    changed = [name for name in sheet.input_names if values[name] != float(after[name].value)]
    start = so_far = float(sheet.evaluate(values, (figure,))[figure])
    steps = []
    for label, names in _in_order(changed, causes, after):
        values |= {name: float(after[name].value) for name in names}
        total = float(sheet.evaluate(values, (figure,))[figure])
        steps.append(Step(label, names, total - so_far, total))
        so_far = total
    return Bridge(figure, start, so_far, tuple(steps))


def _in_order(
    changed: Sequence[str], causes: Sequence[Cause], after: Mapping[str, Input]
) -> list[tuple[str, tuple[str, ...]]]:
    left, found = list(changed), []
    for cause in causes:
        names = tuple(name for name in left if cause.holds(name))
        if names:
            found.append((cause.label, names))
            left = [name for name in left if name not in names]
    return found + [(after[name].label, (name,)) for name in left]
