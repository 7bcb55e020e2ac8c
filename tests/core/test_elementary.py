"""The elementary functions give arrays the bits of floats and write themselves down."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.core.elementary import (
    PI,
    larger_of,
    power,
    round_up,
    smaller_of,
    square_root,
)

numbers = st.lists(st.floats(0.0, 1e12, allow_nan=False), min_size=1, max_size=9)
often = settings(max_examples=200, deadline=None)


@often
@given(values=numbers)
def test_square_roots_and_rounding_up_of_arrays_have_the_bits_of_floats(
    values: list[float],
) -> None:
    array = np.array(values)
    assert square_root(array).tolist() == [math.sqrt(value) for value in values]
    assert round_up(array).tolist() == [float(math.ceil(value)) for value in values]


@often
@given(values=numbers, exponent=st.floats(-3, 3))
def test_powers_of_arrays_have_the_bits_of_floats(values: list[float], exponent: float) -> None:
    bases = [1.0 + value / 1e12 for value in values]
    assert power(np.array(bases), exponent).tolist() == [power(base, exponent) for base in bases]
    assert power(1.07, np.array(bases)).tolist() == [power(1.07, base) for base in bases]


@often
@given(values=numbers, other=st.floats(0.0, 1e12))
def test_the_smaller_and_the_larger_of_arrays_go_element_by_element(
    values: list[float], other: float
) -> None:
    array = np.array(values)
    assert smaller_of(array, other).tolist() == [min(value, other) for value in values]
    assert larger_of(other, array).tolist() == [max(value, other) for value in values]


def test_numbers_stay_numbers() -> None:
    assert (smaller_of(2, 3), larger_of(2, 3)) == (2, 3)
    assert (round_up(2.0), round_up(2.0000001), round_up(0.0)) == (2.0, 3.0, 0.0)
    assert isinstance(round_up(2.5), float)
    assert (square_root(9), square_root(2.25), power(2.0, 10)) == (3.0, 1.5, 1024.0)
    assert math.isclose(PI, math.pi, rel_tol=0, abs_tol=0)


def test_the_root_of_a_negative_number_is_an_error() -> None:
    with pytest.raises(ValueError, match=r"math domain error|nonnegative"):
        square_root(-1.0)
