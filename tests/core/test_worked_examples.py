"""Every worked example with a published source comes out as published."""

from __future__ import annotations

import math
from collections import Counter
from pathlib import Path

import numpy as np
import pytest

from tests.builders import all_formulas
from tests.core.examples import Case, arithmetic, number, read_case, read_cases

CASES = read_cases()
AT_LEAST = 360
NEARBY = np.array([1.0, 0.999, 1.001, 1.0, 1.0005])


@pytest.mark.parametrize("case", CASES, ids=[case.id for case in CASES])
def test_a_worked_example_comes_out_as_published(case: Case) -> None:
    results = {step.name: result for step, _, result in case.work()}
    off = {
        name: (results[name], expected)
        for name, expected in case.expected.items()
        if not case.agrees(results[name], expected)
    }
    assert not off, f"{case.file} {case.id}, {case.title} ({case.source}): {off}"


@pytest.mark.parametrize("case", CASES, ids=[case.id for case in CASES])
def test_arrays_give_the_same_bits_as_numbers(case: Case) -> None:
    for step, inputs, result in case.work():
        function = all_formulas()[step.formula].function
        with np.errstate(all="ignore"):
            together = function(**{name: value * NEARBY for name, value in inputs.items()})
        together = np.broadcast_to(np.asarray(together, dtype=float), NEARBY.shape)
        assert float(together[0]) == result
        for place, factor in enumerate(NEARBY):
            one_by_one = {name: value * float(factor) for name, value in inputs.items()}
            try:
                alone = float(function(**one_by_one))
            except ZeroDivisionError:
                assert not math.isfinite(together[place])
                continue
            assert float(together[place]) == alone, f"{step.formula} at factor {factor}"


def test_every_example_has_its_own_id() -> None:
    twice = [key for key, count in Counter(case.id for case in CASES).items() if count > 1]
    assert twice == []


def test_every_example_uses_formulas_that_exist() -> None:
    unknown = {
        f"{case.file} {case.id}: {step.formula}"
        for case in CASES
        for step in case.steps
        if step.formula not in all_formulas()
    }
    assert unknown == set()


def test_no_two_examples_are_the_same_calculation() -> None:
    seen: dict[tuple[object, ...], str] = {}
    for case in CASES:
        figures = tuple(
            (step.formula, tuple(sorted((k, str(v)) for k, v in step.inputs.items())))
            for step in case.steps
        )
        key = (figures, tuple(sorted(case.expected.items())), case.source)
        assert key not in seen, f"{case.id} repeats {seen.get(key)}"
        seen[key] = case.id


def test_there_are_as_many_examples_as_there_were() -> None:
    assert len(CASES) >= AT_LEAST


def test_the_arithmetic_of_an_input_is_plain() -> None:
    assert arithmetic("1.32/3.3405", {}) == 1.32 / 3.3405
    assert arithmetic("-(@a + 2) * 3 - @b/4", {"a": 1.0, "b": 8.0}) == -11.0
    for refused in ("2**3", "a + 1", "abs(-1)", "1 if 1 else 2", "'1'", "True", "a.b", "7 // 2"):
        with pytest.raises(ValueError, match="not plain arithmetic"):
            arithmetic(refused, {"a": 1.0})


def test_an_input_is_a_number_a_step_or_an_arithmetic() -> None:
    assert number("@tex", {"tex": 84.4}) == 84.4
    assert number("=@tex*2", {"tex": 84.4}) == 168.8
    for refused in ("84.4", True, [1]):
        with pytest.raises(ValueError, match="an input is a number"):
            number(refused, {})


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"source": ""}, "no source"),
        ({"grade": ""}, "no grade"),
        ({"relative": None}, "a relative or an absolute"),
        ({"steps": []}, "either a formula or steps"),
        ({"expekted": 2}, "unknown keys"),
    ],
)
def test_an_example_without_its_parts_is_refused(change: dict[str, object], said: str) -> None:
    whole = {
        "id": "X",
        "title": "t",
        "source": "s",
        "grade": "derived",
        "relative": 1e-6,
        "formula": "tex_from_ne",
        "inputs": {"ne": 10},
        "expected": 59.05412,
    }
    assert read_case(whole, "x.toml").work()[0][2] == pytest.approx(59.05412, rel=1e-6)
    with pytest.raises(ValueError, match=said):
        read_case({k: v for k, v in (whole | change).items() if v is not None}, "x.toml")


def test_files_are_found_by_themselves(tmp_path: Path) -> None:
    text = (
        '[[case]]\nid = "N-1"\ntitle = "t"\nsource = "s"\ngrade = "derived"\nabsolute = 0.25\n'
        'formula = "tex_from_ne"\ninputs = { ne = "=2*5" }\nexpected = 59.0\n'
    )
    (tmp_path / "new.toml").write_text(text, encoding="utf-8")
    assert [case.id for case in read_cases(tmp_path)] == ["N-1"]
    assert read_cases(tmp_path)[0].agrees(59.25, 59.0)
    assert not read_cases(tmp_path)[0].agrees(59.26, 59.0)
