"""A formula written down has the brackets it needs and no others, and means the same."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from server.core.elementary import (
    idle_share,
    larger_of,
    power,
    round_up,
    smaller_of,
    square_root,
)
from server.core.errors import BadValue
from server.core.formula import Formula
from server.core.tracing import CELLS, PAGE, Style, Traced, name, write
from tests.builders import all_formulas
from tests.core.dimensions import sample
from tests.core.expressions import cells_value, page_value

A, B, C, D = (name(letter) for letter in "abcd")
NEGATIVE = -A
VALUES = {"a": Fraction(3, 2), "b": Fraction(7), "c": Fraction(-5, 3), "d": Fraction(11, 4)}
REGISTERED = list(all_formulas().values())


@pytest.mark.parametrize(
    ("node", "page"),
    [
        (A + B + C, "a + b + c"),
        (A + (B + C), "a + b + c"),
        (A - (B - C), "a − (b − c)"),
        (A - (B + C), "a − (b + c)"),
        (A - B + C, "a − b + c"),
        (A / (B / C), "a ÷ (b ÷ c)"),
        (A / (B * C), "a ÷ (b × c)"),
        (A * (B / C), "a × b ÷ c"),
        (A / B * C, "a ÷ b × c"),
        ((A + B) * (C - D), "(a + b) × (c − d)"),
        (A + B * C, "a + b × c"),
        ((A + B) / C, "(a + b) ÷ c"),
        (-(A + B), "-(a + b)"),
        (-A * B, "-a × b"),
        (-(A * B), "-(a × b)"),
        (-NEGATIVE, "-(-a)"),
        (A - -B, "a − -b"),
        (1 - A, "1 − a"),
        (2 + A, "2 + a"),
        (2 * A, "2 × a"),
        (2 / A, "2 ÷ a"),
        (A / 1000, "a ÷ 1000"),
        (square_root(A + B), "√(a + b)"),
        (smaller_of(A, B + 1), "smaller of (a; b + 1)"),
        (larger_of(2, A), "larger of (2; a)"),
        (round_up(A / B), "round up (a ÷ b)"),
        (power(1 + A, B), "(1 + a)^(b)"),
        (2 * square_root(A) * B, "2 × √(a) × b"),
        (1 - idle_share(A, B / C), "1 − Erlang loss (a; 1 ÷ (b ÷ c))"),
    ],
)
def test_only_needed_brackets_are_written(node: Traced, page: str) -> None:
    assert write(node, PAGE) == page


@pytest.mark.parametrize(
    ("node", "cells"),
    [
        (A * (1 - B) / C, "a*(1.0-b)/c"),
        (A - (B - 0.1), "a-(b-0.1)"),
        (square_root(A) + smaller_of(A, B), "SQRT(a)+MIN(a,b)"),
        (larger_of(A, 3) * round_up(B), "MAX(a,3.0)*ROUNDUP(b,0)"),
        (power(A, 1.5), "POWER(a,1.5)"),
        (A / idle_share(8, B), "a/(POISSON.DIST(8.0,1/(b),FALSE)/POISSON.DIST(8.0,1/(b),TRUE))"),
    ],
)
def test_a_spreadsheet_gets_its_own_signs_and_functions(node: Traced, cells: str) -> None:
    assert write(node, CELLS) == cells


def test_a_number_keeps_all_its_digits_in_a_cell() -> None:
    number = 0.1 + 0.2
    assert float(write(A * number, CELLS).partition("*")[2]) == number


def nodes() -> st.SearchStrategy[Any]:
    """Random formulas of the four signs and negation."""
    leaves = st.sampled_from([A, B, C, D]) | st.integers(1, 9)

    def grown(inner: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
        def combined(sign: str, left: Any, right: Any) -> Any:
            if not isinstance(left, Traced) and not isinstance(right, Traced):
                left = A
            return {
                "+": lambda: left + right,
                "-": lambda: left - right,
                "*": lambda: left * right,
                "/": lambda: left / right,
            }[sign]()

        pairs = st.builds(combined, st.sampled_from("+-*/"), inner, inner)
        negated = inner.filter(lambda each: isinstance(each, Traced)).map(lambda each: -each)
        return pairs | negated

    return st.recursive(leaves, grown, max_leaves=14).filter(lambda n: isinstance(n, Traced))


def worked_out(node: Any) -> Fraction:
    """The formula itself, in exact fractions."""
    if not isinstance(node, Traced):
        return Fraction(node)
    if node.operation == "name":
        return VALUES[node.parts[0]]
    parts = [worked_out(part) for part in node.parts]
    if node.operation == "neg":
        return -parts[0]
    left, right = parts
    return {
        "add": lambda: left + right,
        "sub": lambda: left - right,
        "mul": lambda: left * right,
        "div": lambda: left / right,
    }[node.operation]()


@pytest.mark.parametrize(("style", "value"), [(CELLS, cells_value), (PAGE, page_value)])
@settings(max_examples=200, deadline=None)
@given(node=nodes())
def test_a_written_formula_means_what_the_formula_means(
    style: Style, value: Any, node: Traced
) -> None:
    try:
        expected = worked_out(node)
    except ZeroDivisionError:
        assume(False)
        return
    assert value(write(node, style), VALUES, exact=True) == expected


@pytest.mark.parametrize("about", REGISTERED, ids=[each.key for each in REGISTERED])
def test_every_registered_formula_can_be_read_back_from_a_cell(about: Formula) -> None:
    traced = {each.name: name(each.name) for each in about.arguments}
    text = write(about.function(**traced), CELLS)
    for shift in range(3):
        values = {e.name: sample(e, place + shift) for place, e in enumerate(about.arguments)}
        expected = float(about.function(**values))
        assert cells_value(text, values) == pytest.approx(expected, rel=1e-12, abs=1e-13)


@pytest.mark.parametrize("about", REGISTERED, ids=[each.key for each in REGISTERED])
def test_every_registered_formula_can_be_read_back_from_a_page(about: Formula) -> None:
    values = {each.name: sample(each, place) for place, each in enumerate(about.arguments)}
    expected = float(about.function(**values))
    assert page_value(about.expression, values) == pytest.approx(expected, rel=2e-8, abs=1e-8)


def test_a_formula_that_asks_yes_or_no_is_refused() -> None:
    with pytest.raises(BadValue, match="yes or no"):
        bool(A)
    with pytest.raises(TypeError):
        _ = A > 1  # type: ignore[operator]
