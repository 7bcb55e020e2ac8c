"""Worked examples kept as files: read, checked for form, and worked out step by step.

A `[[case]]` names its published source and holds either one formula with inputs and an expected
number, or named steps with a table of expected numbers. An input is a number, `@step`, or `=` with
an arithmetic of numbers and `@step`s. What a ruling states of a real cloth is written `@S01_ends`
and stands in `server/core/real_cloths.py` alone.
"""

from __future__ import annotations

import ast
import operator
import re
import tomllib
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from server.core.real_cloths import REAL_CLOTHS
from tests.builders import EXAMPLES, all_formulas

ALLOWED = {
    "id",
    "title",
    "source",
    "grade",
    "printed",
    "remark",
    "relative",
    "absolute",
    "formula",
    "inputs",
    "steps",
    "expected",
}
_OPERATIONS: dict[type[ast.operator], Callable[[float, float], float]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
}
_STEP = re.compile(r"@([A-Za-z_]\w*)")
STATED = {
    f"{cloth.id.replace('-', '')}_{name}": float(value)
    for cloth in REAL_CLOTHS
    for name in (
        "ends", "picks", "grams", "warp_ne", "filling_ne", "plies", "filling_denier",
        "core_denier", "width_cm",
    )
    if (value := getattr(cloth, name)) is not None
}  # fmt: skip
"""What public rulings state of real cloths, by the name an example uses."""
RESULT = "result"  # name of the only step of a case that has one formula


def arithmetic(text: str, known: Mapping[str, float]) -> float:
    """Value of an expression of numbers, + - * / ( ) and @names; anything else is refused."""
    tree = ast.parse(_STEP.sub(r"\1", text).strip(), mode="eval")
    names = set(_STEP.findall(text))

    def value(node: ast.expr) -> float:
        match node:
            case ast.Constant(value=int() | float() as number) if not isinstance(number, bool):
                return float(number)
            case ast.Name(id=name) if name in names:
                return known[name]
            case ast.UnaryOp(op=ast.USub(), operand=operand):
                return -value(operand)
            case ast.BinOp(left=left, op=sign, right=right) if type(sign) in _OPERATIONS:
                return _OPERATIONS[type(sign)](value(left), value(right))
        raise ValueError(f"not plain arithmetic: {ast.unparse(node)} in {text!r}")

    return value(tree.body)


@dataclass(frozen=True)
class Step:
    """One formula with its inputs as written."""

    name: str
    formula: str
    inputs: Mapping[str, Any]


@dataclass(frozen=True)
class Case:
    """One worked example. expected: step name -> number."""

    id: str
    title: str
    source: str
    file: str
    steps: tuple[Step, ...]
    expected: Mapping[str, float]
    relative: float
    absolute: float

    def work(self) -> list[tuple[Step, dict[str, float], float]]:
        """Every step with its inputs as numbers and its result, in order."""
        known: dict[str, float] = dict(STATED)
        worked = []
        for step in self.steps:
            inputs = {name: number(entry, known) for name, entry in step.inputs.items()}
            known[step.name] = all_formulas()[step.formula].evaluate(inputs)
            worked.append((step, inputs, known[step.name]))
        return worked

    def agrees(self, value: float, expected: float) -> bool:
        """Whether a value is as near as the case asks."""
        return abs(value - expected) <= max(self.absolute, self.relative * abs(expected))


def number(entry: Any, known: Mapping[str, float]) -> float:
    """An input as written, as a number."""
    if isinstance(entry, str):
        if entry.startswith("@"):
            return known[entry[1:]]
        if entry.startswith("="):
            return arithmetic(entry[1:], known)
        raise ValueError(f"an input is a number, @step or =arithmetic, not {entry!r}")
    if isinstance(entry, bool) or not isinstance(entry, (int, float)):
        raise ValueError(f"an input is a number, @step or =arithmetic, not {entry!r}")
    return float(entry)


def read_case(entry: Mapping[str, Any], file: str) -> Case:
    """A case from its table; raises ValueError naming what is wrong with its form."""
    label = f"{file}: {entry.get('id', 'a case without id')}"
    unknown = sorted(set(entry) - ALLOWED)
    if unknown:
        raise ValueError(f"{label} has unknown keys {unknown}")
    for key in ("id", "title", "source", "grade"):
        if not str(entry.get(key, "")).strip():
            raise ValueError(f"{label} has no {key}")
    if "relative" not in entry and "absolute" not in entry:
        raise ValueError(f"{label} needs a relative or an absolute tolerance")
    if ("formula" in entry) == ("steps" in entry):
        raise ValueError(f"{label} needs either a formula or steps")
    if "formula" in entry:
        steps = [Step(RESULT, entry["formula"], entry["inputs"])]
        expected = {RESULT: float(entry["expected"])}
    else:
        steps = [Step(step["name"], step["formula"], step["inputs"]) for step in entry["steps"]]
        expected = {name: float(value) for name, value in entry["expected"].items()}
    names = [step.name for step in steps]
    if set(names) & set(STATED):
        raise ValueError(f"{label} has a step with the name of a stated figure")
    if len(set(names)) != len(names):
        raise ValueError(f"{label} has two steps of one name")
    if not expected or not set(expected) <= set(names):
        raise ValueError(f"{label} expects figures that no step gives")
    return Case(
        id=entry["id"],
        title=entry["title"],
        source=entry["source"],
        file=file,
        steps=tuple(steps),
        expected=expected,
        relative=float(entry.get("relative", 0.0)),
        absolute=float(entry.get("absolute", 0.0)),
    )


def read_cases(folder: Path = EXAMPLES) -> list[Case]:
    """All cases of all example files, in order of file and place."""
    return [
        read_case(entry, path.name)
        for path in sorted(folder.glob("*.toml"))
        for entry in tomllib.loads(path.read_text("utf-8"))["case"]
    ]


def counted(cases: list[Case]) -> list[str]:
    """The lines that say how many cases there are."""
    files = Counter(case.file for case in cases)
    return [
        f"worked examples: {len(cases)} cases from {len(files)} files",
        *(f"  {count:4d}  {file}" for file, count in sorted(files.items())),
    ]
