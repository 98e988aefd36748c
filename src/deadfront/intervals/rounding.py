"""Intervals: outward rounding. Two ends and an operation come in; ends that surely enclose the exact result go out.

Basic operations are correctly rounded (IEEE 754), so a relative step of 2^-52 outward, at least one unit in the last
place, encloses the exact result. The step fails only where a finite result overflows or becomes subnormal. The
processor flags both, numpy reports them, and the operation is then repeated with single steps of `np.nextafter`.
Logarithms, powers and the like come from the C library or numpy's vector code, which promise no correct rounding:
their results are widened by `LIBRARY_ULPS`.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from functools import reduce
from typing import Any, TypeAlias, TypeVar

import numpy as np
from numpy.typing import NDArray

Floats: TypeAlias = NDArray[np.float64]
T = TypeVar("T")
Ends: TypeAlias = tuple[Floats, Floats]
"""Lower and upper ends, of one shape after broadcasting."""

LIBRARY_ULPS = 4
"""Widening of library functions, units in the last place.

numpy accepts vector code up to 4 units off (its own test bound); measured against ball arithmetic here: below 1 unit
(tests/intervals/test_rounding.py repeats the measurement).
"""

"""Factors of one step of a basic operation; enough only for results that are not subnormal."""
ONE_DOWN, ONE_UP = 1.0 - 2.0**-52, 1.0 + 2.0**-52
LIBRARY_DOWN, LIBRARY_UP = 1.0 - LIBRARY_ULPS * 2.0**-52, 1.0 + LIBRARY_ULPS * 2.0**-52


def lowered(x: Floats) -> Floats:
    """A number at least one unit in the last place below x; zero and infinities stay. Needs x not subnormal."""
    return _widened(np.minimum, x, ONE_DOWN, ONE_UP)


def raised(x: Floats) -> Floats:
    """A number at least one unit in the last place above x; zero and infinities stay. Needs x not subnormal."""
    return _widened(np.maximum, x, ONE_DOWN, ONE_UP)


def _widened(choice: np.ufunc, x: Floats, down: float, up: float) -> Floats:
    """The smaller or the larger of x times two factors: the one that lies outward, whatever the sign of x."""
    first, second = x * down, x * up
    # Large arrays cost more to fetch from the system than to compute: reuse one.
    outer: Floats = choice(first, second, out=first) if isinstance(first, np.ndarray) else choice(first, second)
    return outer


def library_lowered(x: Floats) -> Floats:
    """A number below x by what a library function may err; zero stays. Needs x not subnormal."""
    return _widened(np.minimum, x, LIBRARY_DOWN, LIBRARY_UP)


def library_raised(x: Floats) -> Floats:
    """A number above x by what a library function may err; zero stays. Needs x not subnormal."""
    return _widened(np.maximum, x, LIBRARY_DOWN, LIBRARY_UP)


class _Guard(threading.local):
    """Whether this thread is inside `exceptional`, and how much it has computed with ranges.

    work   grows by `OPERATION` and the number of its results with each operation. It measures time, to a factor of two
           or so, and is the same on every machine
    """

    on = False
    work = 0


guard = _Guard()

OPERATION = 500
"""Results of an operation on ranges that take as long as the operation itself, with none."""
SLOW = 3
"""How much longer an operation takes that meets infinite or undecided ends."""
BOX = 2_000
"""Work that counts as one box: 50 000 of them take about two seconds on one core of 2025."""


def work_done() -> int:
    """Work of this thread with ranges so far; only differences mean something, `BOX` of them a box."""
    return guard.work


@contextmanager
def exceptional() -> Iterator[None]:
    """Overflow and underflow raise FloatingPointError inside; entered once around many operations, it costs nothing."""
    before = guard.on
    with np.errstate(over="raise", under="raise", divide="ignore", invalid="ignore"):
        guard.on = True
        try:
            yield
        finally:
            guard.on = before


def exceptionally(compute: Callable[[], T]) -> T:
    """A result computed inside `exceptional`; once more outside if something over- or underflowed that is no range."""
    try:
        with exceptional():
            return compute()
    except FloatingPointError:
        return compute()


def smallest(arrays: Iterable[Floats]) -> Floats:
    """Element by element; NaN where one is NaN."""
    return reduce(np.minimum, arrays)


def largest(arrays: Iterable[Floats]) -> Floats:
    """Element by element; NaN where one is NaN."""
    return reduce(np.maximum, arrays)


def outward(
    operation: np.ufunc, low: Sequence[tuple[Any, ...]], high: Sequence[tuple[Any, ...]], *, positive: bool = False
) -> Ends:
    """Ends of a correctly rounded operation.

    `low` lists the operands whose results compete for the lower end, `high` those for the upper end. Results that
    are exact because an operand is zero or infinite stay exact, so that a switched-off branch keeps its exact zero.
    `positive`: no result can be below zero, which saves time.
    """
    try:
        with np.errstate(over="raise", under="raise", divide="ignore", invalid="ignore"):
            if positive:
                return operation(*low[0]) * ONE_DOWN, operation(*high[0]) * ONE_UP
            if len(low) == len(high) == 1:
                return lowered(operation(*low[0])), raised(operation(*high[0]))
            results = [operation(*operands) for operands in low]
            others = results if low is high else [operation(*operands) for operands in high]
            return lowered(smallest(results)), raised(largest(others))
    except FloatingPointError:
        with np.errstate(all="ignore"):
            return (
                smallest(_stepped(operation, operands, -np.inf) for operands in low),
                largest(_stepped(operation, operands, np.inf) for operands in high),
            )


def _stepped(operation: np.ufunc, operands: tuple[Any, ...], towards: float) -> Floats:
    """One result, moved by one floating-point number unless zero or infinite operands make it exact."""
    result: Floats = operation(*operands)
    exact = reduce(np.logical_or, ((operand == 0.0) | np.isinf(operand) for operand in operands))
    # A product too small for floats keeps its sign, so zero encloses it from one side.
    vanished = (result == 0.0) & (np.signbit(result) != (towards < 0.0))
    moved: Floats = np.where(exact | vanished, result, np.nextafter(result, towards))
    return moved


def library(low: Floats, high: Floats) -> Ends:
    """Ends of a library function from its rounded values there.

    A zero is taken as exact: the caller widens it where the function can round to zero.
    """
    try:
        with np.errstate(under="raise", over="ignore", invalid="ignore"):
            return library_lowered(low), library_raised(high)
    except FloatingPointError:  # subnormal: a relative step may round back
        with np.errstate(all="ignore"):
            down, up = library_lowered(low), library_raised(high)
            down = np.where((np.abs(low) < _SMALL) & (low != 0.0), low - _SMALLER, down)
            up = np.where((np.abs(high) < _SMALL) & (high != 0.0), high + _SMALLER, up)
            return down, up


_SMALL = 2.0**-960
"""Far above the subnormal numbers (2^-1022), so that products with it are still relative."""
_SMALLER = LIBRARY_ULPS * 2.0**-1012
"""At least `LIBRARY_ULPS` units in the last place of any number below `_SMALL`."""

Rule: TypeAlias = Callable[..., Ends]
