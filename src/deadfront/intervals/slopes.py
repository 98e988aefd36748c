"""Intervals: the slope of each ufunc. Ranges of result and arguments come in; factors of the chain rule go out.

A factor encloses the slope of the function in one argument, everywhere on the range of the arguments. Where the
function has a corner the factor is the hull of both sides; where it jumps or is steeper than any number, it is without
bound, written as an infinite end; where it has no value, the factor is NaN and counts as without bound.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

import numpy as np

from deadfront.intervals.arithmetic import scale_slope
from deadfront.intervals.interval import Interval, as_interval
from deadfront.intervals.rounding import Ends, outward

Factors: TypeAlias = tuple[Interval, ...]

_LN2, _LN10 = np.log(Interval(2.0, 2.0)), np.log(Interval(10.0, 10.0))
_ONE, _MINUS_ONE, _ZERO = Interval(1.0, 1.0), Interval(-1.0, -1.0), Interval(0.0, 0.0)


def chained(factor: Interval, slope: Ends, ndim: int) -> Ends:
    """Chain rule for one argument of `ndim` axes; one that does not move moves nothing, however steep the function."""
    if factor is _ONE:
        return slope
    if factor is _MINUS_ONE:
        return -slope[1], -slope[0]
    return scale_slope(_lifted(factor.ends, ndim), slope)


def _lifted(ends: Ends, ndim: int) -> Ends:
    """Ends of a factor, ready to meet slopes of an argument with `ndim` axes: an axis for the inputs in front."""
    missing = (1,) * (1 + max(0, ndim - ends[0].ndim))
    low = ends[0].reshape(missing + ends[0].shape)
    return low, low if ends[0] is ends[1] else ends[1].reshape(missing + ends[1].shape)


def plus(first: Ends, second: Ends) -> Ends:
    """Sum of slopes; without bound where one is."""
    low, high = outward(np.add, [(first[0], second[0])], [(first[1], second[1])])
    if np.isfinite(low).all() and np.isfinite(high).all():
        return low, high
    return np.where(np.isnan(low), -np.inf, low), np.where(np.isnan(high), np.inf, high)


def _multiply(_result: Interval, x: Interval, y: Interval) -> Factors:
    return y, x


def _divide(result: Interval, _x: Interval, y: Interval) -> Factors:
    return as_interval(np.reciprocal(y)), as_interval(-(result / y))


def _absolute(_result: Interval, x: Interval) -> Factors:
    low = np.where(x.lower > 0.0, 1.0, -1.0)
    high = np.where(x.upper < 0.0, -1.0, 1.0)
    return (Interval.of_ends((low, high)),)


def _minimum(_result: Interval, x: Interval, y: Interval) -> Factors:
    return _share(x.upper < y.lower, y.upper < x.lower)


def _maximum(_result: Interval, x: Interval, y: Interval) -> Factors:
    return _share(x.lower > y.upper, y.lower > x.upper)


def _share(first: np.ndarray, second: np.ndarray) -> Factors:
    """Share of two arguments in a result that equals one of them: 0 or 1, and all between where undecided."""
    low, high = np.where(first, 1.0, 0.0), np.where(second, 0.0, 1.0)
    return Interval.of_ends((low, high)), Interval.of_ends((1.0 - high, 1.0 - low))


def _power(result: Interval, x: Interval, y: Interval) -> Factors:
    in_exponent = result * np.log(x) if (y.lower != y.upper).any() or x.lower is x.upper else _ZERO
    if y.lower is y.upper:
        return y * np.power(x, Interval.of_ends((y.lower - 1.0,) * 2)), in_exponent
    return y * np.power(x, y - 1.0), in_exponent


def _hypot(result: Interval, x: Interval, y: Interval) -> Factors:
    return _cosine(x, result), _cosine(y, result)


def _cosine(side: Interval, longest: Interval) -> Interval:
    share = side / longest
    low = np.where(np.isnan(share.lower), -1.0, np.maximum(share.lower, -1.0))
    high = np.where(np.isnan(share.upper), 1.0, np.minimum(share.upper, 1.0))
    return Interval.of_ends((low, high))


def _steps(result: Interval, _x: Interval) -> Factors:
    """A step function: flat where it takes one value only, without bound elsewhere."""
    flat = result.lower == result.upper
    return (Interval.of_ends((np.where(flat, 0.0, -np.inf), np.where(flat, 0.0, np.inf))),)


def _root(result: Interval, _x: Interval) -> Factors:
    return (0.5 / result,)


CHAIN: dict[np.ufunc, Callable[..., Factors]] = {
    np.add: lambda _r, _x, _y: (_ONE, _ONE),
    np.subtract: lambda _r, _x, _y: (_ONE, _MINUS_ONE),
    np.multiply: _multiply,
    np.divide: _divide,
    np.negative: lambda _r, _x: (_MINUS_ONE,),
    np.positive: lambda _r, _x: (_ONE,),
    np.absolute: _absolute,
    np.fabs: _absolute,
    np.square: lambda _r, x: (2.0 * x,),
    np.sqrt: _root,
    np.reciprocal: lambda r, _x: (-np.square(r),),
    np.power: _power,
    np.float_power: _power,
    np.hypot: _hypot,
    np.minimum: _minimum,
    np.maximum: _maximum,
    np.exp: lambda r, _x: (r,),
    np.exp2: lambda r, _x: (r * _LN2,),
    np.expm1: lambda _r, x: (np.exp(x),),
    np.log: lambda _r, x: (np.reciprocal(x),),
    np.log2: lambda _r, x: (np.reciprocal(x * _LN2),),
    np.log10: lambda _r, x: (np.reciprocal(x * _LN10),),
    np.log1p: lambda _r, x: (np.reciprocal(1.0 + x),),
    np.cbrt: lambda r, _x: (np.reciprocal(3.0 * np.square(r)),),
    np.sinh: lambda r, _x: (np.sqrt(1.0 + np.square(r)),),
    np.tanh: lambda r, _x: (1.0 - np.square(r),),
    np.arctan: lambda _r, x: (np.reciprocal(1.0 + np.square(x)),),
    np.arcsinh: lambda _r, x: (np.reciprocal(np.sqrt(1.0 + np.square(x))),),
    np.arcsin: lambda _r, x: (np.reciprocal(np.sqrt(np.maximum(1.0 - np.square(x), 0.0))),),
    np.sin: lambda _r, x: (np.cos(x),),
    np.cos: lambda _r, x: (-np.sin(x),),
    np.floor: _steps,
    np.ceil: _steps,
    np.rint: _steps,
    np.sign: _steps,
}
"""Factors of the chain rule for every ufunc that ranges answer to: one per argument."""
