"""The few elementary functions formulas use beyond + − × ÷.

Each works on a float, on a numpy array (same bits as the float) and on a tracing object, which
writes itself down instead of computing.
"""

from __future__ import annotations

import math

import numpy as np

from server.core.quantities import Number
from server.core.tracing import Traced

PI = math.pi

_ceiling_bits = np.vectorize(math.ceil, otypes=[float])
_power_bits = np.vectorize(math.pow, otypes=[float])


def square_root(number: Number) -> Number:
    """Square root of a number that is zero or more."""
    if isinstance(number, (float, int)):
        return math.sqrt(number)
    if isinstance(number, Traced):
        return Traced("sqrt", (number,))
    if isinstance(number, np.ndarray):
        return np.sqrt(number)
    return number**0.5


def smaller_of(first: Number, second: Number) -> Number:
    """The smaller of two numbers, element by element for arrays."""
    return _pick("min", np.minimum, min, first, second)


def larger_of(first: Number, second: Number) -> Number:
    """The larger of two numbers, element by element for arrays."""
    return _pick("max", np.maximum, max, first, second)


def round_up(number: Number) -> Number:
    """The next whole number at or above, for machines and other things that come whole."""
    if isinstance(number, Traced):
        return Traced("ceil", (number,))
    if isinstance(number, np.ndarray):
        return _ceiling_bits(number)
    return float(math.ceil(number))


def power(base: Number, exponent: Number) -> Number:
    """base raised to exponent; arrays go element by element so that the bits equal the float's."""
    if isinstance(base, Traced) or isinstance(exponent, Traced):
        return Traced("power", (base, exponent))
    if isinstance(base, np.ndarray) or isinstance(exponent, np.ndarray):
        return _power_bits(base, exponent)
    return base**exponent


def idle_share(machines: Number, work: Number) -> Number:
    """Share of time in which one attendant of some machines has nothing to do.

    machines: whole number of machines; a fraction is cut off
    work: attendance that a machine asks for in a unit of its running time, zero or more
    Erlang's loss function B(machines, 1 / work), by its recursion, which no rounding upsets.
    """
    if isinstance(machines, Traced) or isinstance(work, Traced):
        return Traced("idle", (machines, work))
    if isinstance(machines, np.ndarray):
        return _idle_bits(machines, work)
    idle = np.ones(work.shape) if isinstance(work, np.ndarray) else 1.0
    for machine in range(1, int(machines) + 1):
        idle = idle / (idle + machine * work)
    return idle


_idle_bits = np.vectorize(idle_share, otypes=[float])


def _pick(
    name: str, on_arrays: Number, on_numbers: Number, first: Number, second: Number
) -> Number:
    if isinstance(first, Traced) or isinstance(second, Traced):
        return Traced(name, (first, second))
    if isinstance(first, np.ndarray) or isinstance(second, np.ndarray):
        return on_arrays(first, second)
    return on_numbers(first, second)
