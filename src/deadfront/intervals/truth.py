"""Intervals: three-valued logic. Ends of ranges come in; what surely holds and what may hold goes out."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from deadfront.intervals.arithmetic import holds_infinity
from deadfront.intervals.rounding import Ends

Flags: TypeAlias = NDArray[np.bool_]
Verdicts: TypeAlias = tuple[Flags, Flags]
"""What surely holds, and what may hold."""


CONNECTIVES: dict[np.ufunc, Callable[..., Verdicts]] = {
    np.logical_and: lambda p, q: (p[0] & q[0], p[1] & q[1]),
    np.logical_or: lambda p, q: (p[0] | q[0], p[1] | q[1]),
    np.logical_xor: lambda p, q: (_differ(p, q), ~_differ((~p[1], ~p[0]), q)),
    np.logical_not: lambda p: (~p[1], ~p[0]),
}
CONNECTIVES[np.bitwise_and] = CONNECTIVES[np.logical_and]
CONNECTIVES[np.bitwise_or] = CONNECTIVES[np.logical_or]
CONNECTIVES[np.bitwise_xor] = CONNECTIVES[np.logical_xor]
CONNECTIVES[np.invert] = CONNECTIVES[np.logical_not]


def _differ(p: Verdicts, q: Verdicts) -> Flags:
    """Whether the two surely differ."""
    return (p[0] & ~q[1]) | (~p[1] & q[0])


def less(x: Ends, y: Ends) -> Verdicts:
    """x below y. With NaN it may hold and may not."""
    return x[1] < y[0], ~(x[0] >= y[1])


def less_equal(x: Ends, y: Ends) -> Verdicts:
    """x at most y."""
    return x[1] <= y[0], ~(x[0] > y[1])


def equal(x: Ends, y: Ends) -> Verdicts:
    """x equals y: sure only for two equal points."""
    return (x[0] == x[1]) & (y[0] == y[1]) & (x[0] == y[0]), ~((x[1] < y[0]) | (y[1] < x[0]))


def _not(verdict: Verdicts) -> Verdicts:
    return ~verdict[1], ~verdict[0]


COMPARISONS: dict[np.ufunc, Callable[..., Verdicts]] = {
    np.less: less,
    np.less_equal: less_equal,
    np.greater: lambda x, y: less(y, x),
    np.greater_equal: lambda x, y: less_equal(y, x),
    np.equal: equal,
    np.not_equal: lambda x, y: _not(equal(x, y)),
    np.isnan: lambda x: (np.zeros(x[0].shape, dtype=np.bool_), np.isnan(x[0])),
    np.isinf: lambda x: ((x[0] == x[1]) & np.isinf(x[0]), np.isnan(x[0]) | holds_infinity(x)),
    np.isfinite: lambda x: (np.isfinite(x[0]) & np.isfinite(x[1]), ~((x[0] == np.inf) | (x[1] == -np.inf))),
}
"""Every comparison and test that ranges answer to."""
