"""The elementary functions give arrays the bits of floats and write themselves down."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.core.elementary import (
    PI,
    idle_share,
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


@often
@given(
    works=st.lists(st.floats(0.0, 1e9), min_size=1, max_size=9),
    machines=st.integers(0, 60),
)
def test_idle_shares_of_arrays_have_the_bits_of_floats(works: list[float], machines: int) -> None:
    one_by_one = [idle_share(float(machines), work) for work in works]
    assert idle_share(float(machines), np.array(works)).tolist() == one_by_one
    many = np.full(len(works), float(machines))
    assert idle_share(many, np.array(works)).tolist() == one_by_one


def test_the_idle_share_is_erlangs_loss_function() -> None:
    """Definition: load**N / N! over the sum of load**k / k!; a lost call is an idle attendant."""
    for machines in (1, 2, 5, 12):
        for load in (0.25, 1.0, 3.5, 20.0):
            terms = [load**k / math.factorial(k) for k in range(machines + 1)]
            found = idle_share(machines, 1 / load)
            assert found == pytest.approx(terms[-1] / sum(terms), rel=1e-13)


def test_the_idle_share_holds_at_its_ends() -> None:
    assert idle_share(8, 0.0) == idle_share(0, 3.0) == 1.0
    assert idle_share(1, 0.25) == 0.8
    assert idle_share(8.9, 0.1) == idle_share(8, 0.1)
    assert 0.0 <= idle_share(50, 1e300) < 1e-300
    assert 1 - idle_share(8, 1e-12) == pytest.approx(8e-12, rel=1e-3)
