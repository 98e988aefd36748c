"""Intervals: three-valued truth. Comparisons of ranges come in; what surely holds and what may hold goes out."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeAlias

import numpy as np
from numpy.lib.mixins import NDArrayOperatorsMixin
from numpy.typing import NDArray

from deadfront.intervals.arithmetic import holds_infinity
from deadfront.intervals.rounding import Ends

Flags: TypeAlias = NDArray[np.bool_]
Verdicts: TypeAlias = tuple[Flags, Flags]
"""What surely holds, and what may hold."""


class Truth(NDArrayOperatorsMixin):
    """Whether something holds over a range: surely, surely not, or undecided.

    certain    holds at every point of the range       bool array
    possible   holds at some point, or may             bool array of the same shape
    """

    __slots__ = ("certain", "possible")
    __hash__ = None  # type: ignore[assignment]

    def __init__(self, certain: Any, possible: Any) -> None:
        self.certain: Flags = np.asarray(certain, dtype=np.bool_)
        self.possible: Flags = np.asarray(possible, dtype=np.bool_)

    @property
    def undecided(self) -> Flags:
        """Where it may hold and may not."""
        return self.possible & ~self.certain

    @property
    def shape(self) -> tuple[int, ...]:
        """Shape of the flags."""
        return self.certain.shape

    def __getitem__(self, key: Any) -> Truth:
        return self.like(self.certain[key], self.possible[key])

    def like(self, certain: Any, possible: Any, *_others: Any) -> Truth:
        """A truth of the same kind with other flags."""
        return Truth(certain, possible)

    def __bool__(self) -> bool:
        raise TypeError("a truth over ranges is no yes or no: use np.where, or ask .certain or .possible")

    def __array__(self, *_args: Any, **_options: Any) -> Any:
        raise TypeError("a truth over ranges cannot become a plain array: ask .certain or .possible")

    def __repr__(self) -> str:
        return f"Truth(certain={self.certain!r}, possible={self.possible!r})"

    def __array_ufunc__(self, ufunc: np.ufunc, method: str, *inputs: Any, **options: Any) -> Any:
        rule = CONNECTIVES.get(ufunc)
        if rule is None or method != "__call__" or options:
            raise TypeError(f"np.{ufunc.__name__} is not defined for a truth over ranges")
        if not all(isinstance(x, (Truth, bool, np.bool_, np.ndarray)) for x in inputs):
            return NotImplemented
        truths = [x for x in inputs if isinstance(x, Truth)]
        return truths[0].like(*rule(*(verdicts(x) for x in inputs)), *truths)

    def __array_function__(self, function: Any, types: Any, args: Any, kwargs: Any) -> Any:
        from deadfront.intervals.interval import Interval  # the two classes need each other  # noqa: PLC0415

        return Interval.answer(function, types, args, kwargs)


def verdicts(x: Any) -> Verdicts:
    """What surely and what may hold, of a truth or of plain flags."""
    if isinstance(x, Truth):
        return x.certain, x.possible
    flags = np.asarray(x)
    if flags.dtype != np.bool_:
        raise TypeError(f"a truth over ranges joins only with truths and bool arrays, got {flags.dtype}")
    return flags, flags


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
