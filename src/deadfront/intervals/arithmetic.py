"""Intervals: what each ufunc does to ranges. Ends come in, enclosing ends go out.

Infinities are values here (a device that never operates takes infinite time), so an operation that would be
undefined for some values of its ranges, such as 0 times infinity, gives NaN at both ends: undecided. Ends that are
not NaN thus prove that no point of the ranges gives NaN.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from deadfront.intervals.rounding import Ends, Floats, Rule, largest, library, outward, smallest


def all_finite(ends: Ends) -> bool:
    """Whether no end is infinite or NaN."""
    return bool(_ALL(np.isfinite(ends[0]), axis=None) and _ALL(np.isfinite(ends[1]), axis=None))


_ALL = np.logical_and.reduce  # as `.all()`, without its detour through Python


def not_negative(x: Ends) -> bool:
    """Whether no range reaches below zero."""
    return bool(_ALL(x[0] >= 0.0, axis=None))


def undecided_where(ends: Ends, bad: np.ndarray) -> Ends:
    """NaN at both ends where `bad`, and wherever one end is NaN."""
    bad = bad | np.isnan(ends[0]) | np.isnan(ends[1])
    return np.where(bad, np.nan, ends[0]), np.where(bad, np.nan, ends[1])


def holds_zero(x: Ends) -> np.ndarray:
    """Whether zero lies in the range."""
    return (x[0] <= 0.0) & (x[1] >= 0.0)


def holds_infinity(x: Ends) -> np.ndarray:
    """Whether an infinity lies in the range."""
    return np.isinf(x[0]) | np.isinf(x[1])


def add(x: Ends, y: Ends) -> Ends:
    """Sum."""
    ends = outward(np.add, [(x[0], y[0])], [(x[1], y[1])])
    if all_finite(ends):
        return ends
    clash = ((x[1] == np.inf) & (y[0] == -np.inf)) | ((x[0] == -np.inf) & (y[1] == np.inf))
    return undecided_where(ends, clash)


def subtract(x: Ends, y: Ends) -> Ends:
    """Difference."""
    return add(x, (-y[1], -y[0]))


def multiply(x: Ends, y: Ends) -> Ends:
    """Product."""
    ends = _products(x, y)
    if all_finite(ends):
        return ends
    clash = (holds_zero(x) & holds_infinity(y)) | (holds_zero(y) & holds_infinity(x))
    return undecided_where(ends, clash)


def scale_slope(x: Ends, slope: Ends) -> Ends:
    """Product of a factor and a slope, whose infinite ends mean "without bound"; zero times anything is zero.

    An unknown factor (NaN) gives a slope without bound, except for an argument that does not move.
    """
    ends = _products(x, slope)
    if all_finite(ends):
        return ends
    unknown = np.isnan(x[0]) & ((slope[0] != 0.0) | (slope[1] != 0.0))
    known = tuple(np.where(np.isnan(end), 0.0, end) for end in x)
    pairs = [(np.where(b == 0.0, 0.0, a), np.where(a == 0.0, 0.0, b)) for a in known for b in slope]
    low, high = outward(np.multiply, pairs, pairs)
    return np.where(unknown, -np.inf, low), np.where(unknown, np.inf, high)


def _products(x: Ends, y: Ends) -> Ends:
    if not_negative(x):
        if not_negative(y):
            return outward(np.multiply, [(x[0], y[0])], [(x[1], y[1])], positive=True)
        ends = x[:1] if x[0] is x[1] else x
        return outward(np.multiply, [(end, y[0]) for end in ends], [(end, y[1]) for end in ends])
    if not_negative(y):
        return _products(y, x)
    if x[0] is x[1]:
        pairs = [(x[0], y[0]), (x[0], y[1])]
    elif y[0] is y[1]:
        pairs = [(x[0], y[0]), (x[1], y[0])]
    else:
        pairs = [(x[i], y[j]) for i in (0, 1) for j in (0, 1)]
    return outward(np.multiply, pairs, pairs)


def divide(x: Ends, y: Ends) -> Ends:
    """Quotient. A divisor that holds zero gives the half-line if zero is its lower end, else the whole line.

    With zero as its *upper* end it is the whole line too: floats divide by +0 there and land on the far side.
    """
    zero = holds_zero(y)
    if not zero.any():
        return _quotients(x, y)
    safe = np.where(zero, 1.0, y[0]), np.where(zero, 1.0, y[1])
    low, high = _quotients(x, safe)
    top = np.where(y[1] > 0.0, y[1], 1.0)
    reach = _quotients(x, (top, top))  # towards the far end of the divisor; the near end reaches infinity
    half = y[0] == 0.0
    point = half & (y[1] == 0.0)
    low_zero = np.where(half & (x[0] > 0.0), np.where(point, np.inf, reach[0]), -np.inf)
    high_zero = np.where(half & (x[1] < 0.0), np.where(point, -np.inf, reach[1]), np.inf)
    ends = np.where(zero, low_zero, low), np.where(zero, high_zero, high)
    clash = (zero & holds_zero(x)) | (holds_infinity(x) & holds_infinity(y))
    return undecided_where(ends, clash | np.isnan(x[0]))


def _quotients(x: Ends, y: Ends) -> Ends:
    """Quotient by a divisor that does not hold zero."""
    if (y[0] > 0.0).all():
        if not_negative(x):
            ends = outward(np.divide, [(x[0], y[1])], [(x[1], y[0])], positive=True)
        else:
            ends = outward(np.divide, [(x[0], y[0]), (x[0], y[1])], [(x[1], y[0]), (x[1], y[1])])
    else:
        pairs = [(x[i], y[j]) for i in (0, 1) for j in (0, 1)]
        ends = outward(np.divide, pairs, pairs)
    if all_finite(ends) and all_finite(y):
        return ends
    return undecided_where(ends, holds_infinity(x) & holds_infinity(y))


def negative(x: Ends) -> Ends:
    """Sign turned; exact."""
    return -x[1], -x[0]


def absolute(x: Ends) -> Ends:
    """Size; exact."""
    inner = np.maximum(np.maximum(x[0], -x[1]), 0.0)
    return inner, np.maximum(-x[0], x[1])


def square(x: Ends) -> Ends:
    """Square; never below zero, also of a range around zero."""
    low, high = x if not_negative(x) else absolute(x)
    return outward(np.square, [(low,)], [(high,)], positive=True)


def sqrt(x: Ends) -> Ends:
    """Root. NaN where the range reaches below zero: part of it has no root."""
    ends = outward(np.sqrt, [(x[0],)], [(x[1],)], positive=True)
    return undecided_where(ends, x[0] < 0.0) if np.isnan(ends[0]).any() else ends


def reciprocal(x: Ends) -> Ends:
    """One over x."""
    one = np.ones(())
    return divide((one, one), x)


def hypot(x: Ends, y: Ends) -> Ends:
    """Root of the sum of squares, without overflow."""
    first, second = absolute(x), absolute(y)
    with np.errstate(all="ignore"):
        low, high = library(np.hypot(first[0], second[0]), np.hypot(first[1], second[1]))
    return np.maximum(low, 0.0), high


def minimum(x: Ends, y: Ends) -> Ends:
    """Smaller of two; exact; NaN where one is NaN."""
    return np.minimum(x[0], y[0]), np.minimum(x[1], y[1])


def maximum(x: Ends, y: Ends) -> Ends:
    """Larger of two; exact; NaN where one is NaN."""
    return np.maximum(x[0], y[0]), np.maximum(x[1], y[1])


# --- library functions ---


def exp(x: Ends) -> Ends:
    """Exponential; also where it over- or underflows."""
    return _exponential(np.exp, x)


def exp2(x: Ends) -> Ends:
    """Two to the power x."""
    return _exponential(np.exp2, x)


def _exponential(function: np.ufunc, x: Ends) -> Ends:
    with np.errstate(all="ignore"):
        low, high = library(function(x[0]), function(x[1]))
    if all_finite((low, high)) and (low > 0.0).all():
        return low, high
    low = np.where((low == np.inf) & (x[0] < np.inf), np.finfo(np.float64).max, low)
    high = np.where((high == 0.0) & (x[1] > -np.inf), np.finfo(np.float64).smallest_subnormal, high)
    return np.maximum(low, 0.0), high


def increasing(function: np.ufunc, *, domain: tuple[float, float] = (-np.inf, np.inf)) -> Rule:
    """Rule of an increasing function; NaN outside its domain. Where the library gives zero it must be zero."""

    def rule(x: Ends) -> Ends:
        with np.errstate(all="ignore"):
            ends = library(function(x[0]), function(x[1]))
        if all_finite(ends):
            return ends
        low = np.where((ends[0] == np.inf) & (x[0] < np.inf), np.finfo(np.float64).max, ends[0])  # overflow
        high = np.where((ends[1] == -np.inf) & (x[1] > -np.inf), -np.finfo(np.float64).max, ends[1])
        return undecided_where((low, high), (x[0] < domain[0]) | (x[1] > domain[1]))

    return rule


def stepping(function: np.ufunc) -> Rule:
    """Rule of an increasing step function; exact."""
    return lambda x: (function(x[0]), function(x[1]))


def sin(x: Ends) -> Ends:
    """Sine."""
    return _wave(np.sin, x, 0.5 * np.pi)


def cos(x: Ends) -> Ends:
    """Cosine."""
    return _wave(np.cos, x, 0.0)


def _wave(function: np.ufunc, x: Ends, crest: float) -> Ends:
    """A wave of period 2 pi with a crest at `crest`: its ends, and the crest or trough where one may lie between."""
    with np.errstate(all="ignore"):
        values = function(x[0]), function(x[1])
        low, high = library(np.minimum(*values), np.maximum(*values))
        low = np.where(_may_hold(x, crest + np.pi), -1.0, np.maximum(low, -1.0))
        high = np.where(_may_hold(x, crest), 1.0, np.minimum(high, 1.0))
    return undecided_where((low, high), holds_infinity(x))


def _may_hold(x: Ends, phase: float) -> np.ndarray:
    """Whether a point `phase` + 2 pi k may lie in the range; yes when rounding leaves a doubt."""
    doubt = 2.0**-40 * (1.0 + np.maximum(np.abs(x[0]), np.abs(x[1])))  # far above the error of k, which is 2^-51 |x|
    turns = np.floor((x[1] + doubt - phase) / (2.0 * np.pi)) - np.floor((x[0] - doubt - phase) / (2.0 * np.pi))
    return (turns >= 1.0) | (doubt > 1.0)


# --- powers ---


def power(x: Ends, y: Ends) -> Ends:
    """x to the power y. A whole exponent takes any base; any other exponent needs a base that is not below zero."""
    if y[0] is y[1] and np.ndim(y[0]) == 0:
        named = _NAMED_POWERS.get(float(y[0]))
        if named is not None:
            return named(x)
    if (x[0] > 0.0).all():
        low, high = _corner_powers(x, y)
        if all_finite((low, high)) and (low > 0.0).all():
            return low, high
    return _any_power(x, y)


def _corner_powers(x: Ends, y: Ends) -> Ends:
    """Ends of a power that is monotone in base and in exponent."""
    bases, exponents = (end[:1] if end[0] is end[1] else end for end in (x, y))
    with np.errstate(all="ignore"):
        values = [np.power(base, exponent) for base in bases for exponent in exponents]
        return library(smallest(values), largest(values))


def _any_power(x: Ends, y: Ends) -> Ends:
    """Power of any base: by its size where the exponent is even, with a pole at zero where it is odd and negative."""
    whole = (y[0] == y[1]) & (y[0] == np.floor(y[0])) & np.isfinite(y[0])
    even = whole & (np.mod(np.where(whole, y[0], 0.0), 2.0) == 0.0)
    size = absolute(x)
    base = np.where(even, size[0], x[0]), np.where(even, size[1], x[1])
    low, high = _powers_out_of_range(*_corner_powers(base, y), base, y)
    pole = whole & ~even & (y[1] < 0.0) & (x[0] < 0.0) & (x[1] >= 0.0)
    low, high = np.where(pole, -np.inf, low), np.where(pole, np.inf, high)
    return undecided_where((low, high), np.isnan(x[0]) | np.isnan(y[0]) | (~whole & (base[0] < 0.0)))


def _powers_out_of_range(low: Floats, high: Floats, base: Ends, y: Ends) -> Ends:
    """Ends of powers that overflowed or vanished, put back to the largest or smallest number there is."""
    limits = np.finfo(np.float64)
    finite = np.isfinite(base[0]) & np.isfinite(base[1]) & np.isfinite(y[0]) & np.isfinite(y[1])
    away = finite & ~holds_zero(base)
    low = np.where(away & (low == np.inf), limits.max, low)
    high = np.where(away & (high == -np.inf), -limits.max, high)
    high = np.where(away & (high == 0.0), limits.smallest_subnormal, high)
    low = np.where(away & (low == 0.0) & (base[0] < 0.0), -limits.smallest_subnormal, low)
    return low, high


_NAMED_POWERS: dict[float, Callable[[Ends], Ends]] = {
    1.0: lambda x: x,
    2.0: square,
    -1.0: reciprocal,
    0.5: sqrt,
}

RULES: dict[np.ufunc, Rule] = {
    np.add: add,
    np.subtract: subtract,
    np.multiply: multiply,
    np.divide: divide,
    np.negative: negative,
    np.positive: lambda x: x,
    np.absolute: absolute,
    np.fabs: absolute,
    np.square: square,
    np.sqrt: sqrt,
    np.reciprocal: reciprocal,
    np.power: power,
    np.float_power: power,
    np.hypot: hypot,
    np.minimum: minimum,
    np.maximum: maximum,
    np.exp: exp,
    np.exp2: exp2,
    np.expm1: increasing(np.expm1),
    np.log: increasing(np.log, domain=(0.0, np.inf)),
    np.log2: increasing(np.log2, domain=(0.0, np.inf)),
    np.log10: increasing(np.log10, domain=(0.0, np.inf)),
    np.log1p: increasing(np.log1p, domain=(-1.0, np.inf)),
    np.cbrt: increasing(np.cbrt),
    np.sinh: increasing(np.sinh),
    np.tanh: increasing(np.tanh),
    np.arctan: increasing(np.arctan),
    np.arcsinh: increasing(np.arcsinh),
    np.arcsin: increasing(np.arcsin, domain=(-1.0, 1.0)),
    np.sin: sin,
    np.cos: cos,
    np.floor: stepping(np.floor),
    np.ceil: stepping(np.ceil),
    np.rint: stepping(np.rint),
    np.sign: stepping(np.sign),
}
"""Every ufunc that ranges answer to, besides comparisons. Any other is refused with TypeError."""
