"""Intervals: the chain rule of each ufunc. Ranges of result, arguments and their slopes in; slopes of the result out.

A factor of the chain rule encloses the slope of the function in one argument, everywhere on the range of the arguments.
Where the function has a corner the factor is the hull of both sides; where it jumps or is steeper than any number, it
is without bound, written as an infinite end; where it has no value, the factor is NaN and counts as without bound.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeAlias

import numpy as np

from deadfront.intervals.arithmetic import scale_slope
from deadfront.intervals.everyday import FINITE, NOT_NEGATIVE, POSITIVE, known, signed
from deadfront.intervals.interval import Interval, as_interval, computed
from deadfront.intervals.rounding import OPERATION, SLOW, guard, outward

Slopes: TypeAlias = Interval
"""Slopes in all inputs, an axis in front of those of the value; without bound where infinite, never NaN. With the axis
in front, a factor of the value's shape meets them by broadcasting."""

_LN2, _LN10 = np.log(Interval(2.0, 2.0)), np.log(Interval(10.0, 10.0))


def still(inputs: int, ndim: int) -> Slopes:
    """Slopes of what no input moves."""
    return as_interval(np.zeros((inputs,) + (1,) * ndim))


def chained(factor: Interval, slope: Slopes) -> Slopes:
    """Chain rule for one argument; one that does not move moves nothing, however steep the function."""
    if known(factor) & known(slope) & FINITE:
        product: Slopes = computed(np.multiply, (factor, slope))
        if product.facts & FINITE:
            return product
    result = scale_slope(factor.ends, slope.ends)
    guard.work += SLOW * (OPERATION + result[0].size)
    return Interval.of_ends(result)


def plus(first: Slopes | None, second: Slopes | None) -> Slopes:
    """Sum of slopes; without bound where one is."""
    if first is None or second is None:
        only = first if second is None else second
        assert only is not None  # one argument at least is a gradient
        return only
    if known(first) & known(second) & FINITE:
        total: Slopes = computed(np.add, (first, second))
        if total.facts & FINITE:
            return total
    low, high = outward(np.add, [(first.lower, second.lower)], [(first.upper, second.upper)])
    return Interval.of_ends((np.where(np.isnan(low), -np.inf, low), np.where(np.isnan(high), np.inf, high)))


def _turned(slope: Slopes | None) -> Slopes | None:
    return None if slope is None else -slope


Sloped: TypeAlias = "Slopes | None"


def _add(_result: Interval, first: Sloped, second: Sloped, _x: Interval, _y: Interval) -> Slopes:
    return plus(first, second)


def _subtract(_result: Interval, first: Sloped, second: Sloped, _x: Interval, _y: Interval) -> Slopes:
    return plus(first, _turned(second))


def _multiply(_result: Interval, first: Sloped, second: Sloped, x: Interval, y: Interval) -> Slopes:
    return plus(None if first is None else chained(y, first), None if second is None else chained(x, second))


def _divide(result: Interval, first: Sloped, second: Sloped, _x: Interval, y: Interval) -> Slopes:
    """(x' - r y') / y with each but r once, where nothing special happens; else x'/y - (r/y) y'."""
    special = not (signed(y) & POSITIVE and known(result) & known(y) & FINITE)
    if not special and all(known(slope) & FINITE for slope in (first, second) if slope is not None):
        inner = plus(first, _turned(None if second is None else chained(result, second)))
        if known(inner) & FINITE:
            found: Slopes = computed(np.divide, (inner, y))
            if found.facts & FINITE:
                return found
    one = None if first is None else chained(as_interval(np.reciprocal(y)), first)
    return plus(one, None if second is None else chained(-(result / y), second))


def _minimum(_result: Interval, first: Sloped, second: Sloped, x: Interval, y: Interval) -> Slopes:
    return _either(first, second, x.upper < y.lower, y.upper < x.lower)


def _maximum(_result: Interval, first: Sloped, second: Sloped, x: Interval, y: Interval) -> Slopes:
    return _either(first, second, x.lower > y.upper, y.lower > x.upper)


def _either(first: Sloped, second: Sloped, one: np.ndarray, other: np.ndarray) -> Slopes:
    """Slopes of a result that equals one of two arguments: that one's, the hull of both where undecided.

    `one`, `other`: where the result surely is the first, the second.
    """
    moved = second if first is None else first
    assert moved is not None  # one argument at least is a gradient
    x, y = (still(1, moved.ndim - 1) if slope is None else slope for slope in (first, second))
    low = np.where(one, x.lower, np.where(other, y.lower, np.minimum(x.lower, y.lower)))
    high = np.where(one, x.upper, np.where(other, y.upper, np.maximum(x.upper, y.upper)))
    facts = x.facts & y.facts
    return Interval.of_ends((low, high), facts if facts & NOT_NEGATIVE and facts & FINITE else 0)


def _power(result: Interval, first: Sloped, second: Sloped, x: Interval, y: Interval) -> Slopes:
    in_base = None
    if first is not None:
        less = Interval.of_ends((y.lower - 1.0,) * 2) if y.lower is y.upper else y - 1.0
        in_base = chained(y * np.power(x, less), first)
    return plus(in_base, None if second is None else chained(result * np.log(x), second))


def _hypot(result: Interval, first: Sloped, second: Sloped, x: Interval, y: Interval) -> Slopes:
    one = None if first is None else chained(_cosine(x, result), first)
    return plus(one, None if second is None else chained(_cosine(y, result), second))


def _cosine(side: Interval, longest: Interval) -> Interval:
    share = side / longest
    low = np.where(np.isnan(share.lower), -1.0, np.maximum(share.lower, -1.0))
    high = np.where(np.isnan(share.upper), 1.0, np.minimum(share.upper, 1.0))
    return Interval.of_ends((low, high))


def _absolute(_result: Interval, x: Interval) -> Interval:
    low = np.where(x.lower > 0.0, 1.0, -1.0)
    high = np.where(x.upper < 0.0, -1.0, 1.0)
    return Interval.of_ends((low, high))


def _steps(result: Interval, _x: Interval) -> Interval:
    """A step function: flat where it takes one value only, without bound elsewhere."""
    flat = result.lower == result.upper
    return Interval.of_ends((np.where(flat, 0.0, -np.inf), np.where(flat, 0.0, np.inf)))


def _by(factor: Callable[[Interval, Interval], Any]) -> Callable[..., Slopes]:
    """Chain rule of a function of one argument, from its factor."""
    return lambda result, slope, x: chained(factor(result, x), slope)


CHAIN: dict[np.ufunc, Callable[..., Slopes]] = {
    np.add: _add,
    np.subtract: _subtract,
    np.multiply: _multiply,
    np.divide: _divide,
    np.negative: lambda _r, slope, _x: -slope,
    np.positive: lambda _r, slope, _x: slope,
    np.absolute: _by(_absolute),
    np.fabs: _by(_absolute),
    np.square: _by(lambda _r, x: 2.0 * x),
    np.sqrt: _by(lambda r, _x: 0.5 / r),
    np.reciprocal: _by(lambda r, _x: -np.square(r)),
    np.power: _power,
    np.float_power: _power,
    np.hypot: _hypot,
    np.minimum: _minimum,
    np.maximum: _maximum,
    np.exp: _by(lambda r, _x: r),
    np.exp2: _by(lambda r, _x: r * _LN2),
    np.expm1: _by(lambda _r, x: np.exp(x)),
    np.log: _by(lambda _r, x: np.reciprocal(x)),
    np.log2: _by(lambda _r, x: np.reciprocal(x * _LN2)),
    np.log10: _by(lambda _r, x: np.reciprocal(x * _LN10)),
    np.log1p: _by(lambda _r, x: np.reciprocal(1.0 + x)),
    np.cbrt: _by(lambda r, _x: np.reciprocal(3.0 * np.square(r))),
    np.sinh: _by(lambda r, _x: np.sqrt(1.0 + np.square(r))),
    np.tanh: _by(lambda r, _x: 1.0 - np.square(r)),
    np.arctan: _by(lambda _r, x: np.reciprocal(1.0 + np.square(x))),
    np.arcsinh: _by(lambda _r, x: np.reciprocal(np.sqrt(1.0 + np.square(x)))),
    np.arcsin: _by(lambda _r, x: np.reciprocal(np.sqrt(np.maximum(1.0 - np.square(x), 0.0)))),
    np.sin: _by(lambda _r, x: np.cos(x)),
    np.cos: _by(lambda _r, x: -np.sin(x)),
    np.floor: _by(_steps),
    np.ceil: _by(_steps),
    np.rint: _by(_steps),
    np.sign: _by(_steps),
}
"""The chain rule for every ufunc that ranges answer to: of one argument (result, its slope, argument), of two (result,
both slopes, both arguments), where a plain argument has None for a slope."""
