"""Intervals: operations where nothing special happens. Finite ranges and what is known of them in; ends and facts out.

Nearly every operation of a formula meets finite ranges of which it is known, from how they were made, that they are
finite and whether they reach below zero. Those need no tests of their ends. Each function here returns None where its
own conditions are not met, and `arithmetic` decides; the two give the same ends. Must run inside `exceptional`,
which raises what over- or underflows.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol, TypeAlias

import numpy as np

from deadfront.intervals.rounding import (
    LIBRARY_DOWN,
    LIBRARY_UP,
    ONE_DOWN,
    ONE_UP,
    Floats,
    library_lowered,
    library_raised,
    lowered,
    raised,
)

LOOKED, FINITE, SIGNED, NOT_NEGATIVE, POSITIVE = 1, 2, 4, 8, 16
"""Facts about all ranges of an array: whether their ends were looked at or are known from how they were made; no end
infinite or NaN; whether it is known if they reach below zero; none does; none reaches zero. Zero: nothing is known."""

_BEYOND_ZERO = LOOKED | FINITE | SIGNED | NOT_NEGATIVE | POSITIVE
_SIGN = SIGNED | NOT_NEGATIVE | POSITIVE

Found: TypeAlias = tuple[Floats, Floats, int] | None


class Range(Protocol):
    """What the operations need of an array of ranges."""

    lower: Floats
    upper: Floats
    facts: int


def known(x: Range) -> int:
    """Facts, from a look at the ends where nothing was known."""
    if x.facts:
        return x.facts
    least = np.minimum.reduce(x.lower, axis=None, initial=np.inf)
    most = np.maximum.reduce(x.upper, axis=None, initial=-np.inf)
    facts = LOOKED
    if least > -np.inf and most < np.inf:
        facts |= FINITE
    x.facts = facts | _sign(least)
    return x.facts


def signed(x: Range) -> int:
    """Facts, the sign among them."""
    facts = x.facts or known(x)
    if not facts & SIGNED:
        facts |= _sign(np.minimum.reduce(x.lower, axis=None, initial=np.inf))
        x.facts = facts
    return facts


def _sign(least: float) -> int:
    return SIGNED | (NOT_NEGATIVE if least >= 0.0 else 0) | (POSITIVE if least > 0.0 else 0)


def add(x: Range, y: Range) -> Found:
    """Sum."""
    first, second = x.facts or known(x), y.facts or known(y)
    both = first & second
    if not both & FINITE:
        return None
    low, high = x.lower + y.lower, x.upper + y.upper
    if both & NOT_NEGATIVE:
        return low * ONE_DOWN, high * ONE_UP, both | ((first | second) & POSITIVE)
    return lowered(low), raised(high), LOOKED | FINITE


def subtract(x: Range, y: Range) -> Found:
    """Difference."""
    if not (x.facts or known(x)) & (y.facts or known(y)) & FINITE:
        return None
    return lowered(x.lower - y.upper), raised(x.upper - y.lower), LOOKED | FINITE


def multiply(x: Range, y: Range) -> Found:
    """Product."""
    first, second = signed(x), signed(y)
    both = first & second
    if not both & FINITE:
        return None
    if both & NOT_NEGATIVE:
        return x.lower * y.lower * ONE_DOWN, x.upper * y.upper * ONE_UP, both
    if second & NOT_NEGATIVE:
        x, y = y, x
    low, high = x.lower * y.lower, x.upper * y.upper
    if not (first | second) & NOT_NEGATIVE:  # any of the products may be either end
        low, high = np.minimum(low, high), np.maximum(low, high)
        if x.lower is not x.upper:
            other, last = x.upper * y.lower, x.lower * y.upper
            low, high = np.minimum(low, np.minimum(other, last)), np.maximum(high, np.maximum(other, last))
    elif x.lower is not x.upper:
        low, high = np.minimum(low, x.upper * y.lower), np.maximum(high, x.lower * y.upper)
    return lowered(low), raised(high), LOOKED | FINITE


def divide(x: Range, y: Range) -> Found:
    """Quotient by what is above zero."""
    second = signed(y)
    if not second & POSITIVE:
        return None
    first = signed(x)
    if not first & second & FINITE:
        return None
    if first & NOT_NEGATIVE:
        return x.lower / y.upper * ONE_DOWN, x.upper / y.lower * ONE_UP, first
    low, high = x.lower / y.lower, x.upper / y.lower
    if y.lower is not y.upper:
        low, high = np.minimum(low, x.lower / y.upper), np.maximum(high, x.upper / y.upper)
    return lowered(low), raised(high), LOOKED | FINITE


def reciprocal(x: Range) -> Found:
    """One over what is above zero."""
    facts = signed(x)
    if not (facts & POSITIVE and facts & FINITE):
        return None
    return 1.0 / x.upper * ONE_DOWN, 1.0 / x.lower * ONE_UP, facts


def square(x: Range) -> Found:
    """Square of what is not below zero."""
    facts = signed(x)
    if not (facts & NOT_NEGATIVE and facts & FINITE):
        return None
    return np.square(x.lower) * ONE_DOWN, np.square(x.upper) * ONE_UP, facts


def sqrt(x: Range) -> Found:
    """Root of what is not below zero."""
    facts = signed(x)
    if not (facts & NOT_NEGATIVE and facts & FINITE):
        return None
    return np.sqrt(x.lower) * ONE_DOWN, np.sqrt(x.upper) * ONE_UP, facts


def negative(x: Range) -> Found:
    """Sign turned; exact."""
    return -x.upper, -x.lower, x.facts & (LOOKED | FINITE)


def minimum(x: Range, y: Range) -> Found:
    """Smaller of two; exact."""
    return np.minimum(x.lower, y.lower), np.minimum(x.upper, y.upper), both_of(x.facts, y.facts)


def maximum(x: Range, y: Range) -> Found:
    """Larger of two; exact. One of known sign that is finite lifts the other."""
    facts = both_of(x.facts, y.facts)
    if facts & FINITE:
        above = (x.facts | y.facts) & (NOT_NEGATIVE | POSITIVE)
        facts |= above | SIGNED if above else 0
    return np.maximum(x.lower, y.lower), np.maximum(x.upper, y.upper), facts


def both_of(first: int, second: int) -> int:
    """Facts of ranges each of which is one of the first or one of the second, or between two such."""
    facts = first & second
    if not facts & FINITE:
        return 0  # an end that is not finite may or may not be taken: look
    return facts if facts & NOT_NEGATIVE else facts & (LOOKED | FINITE)


def exp(x: Range) -> Found:
    """Exponential."""
    if not (x.facts or known(x)) & FINITE:
        return None
    return _beyond_zero(np.exp(x.lower), np.exp(x.upper))


def _beyond_zero(low: Floats, high: Floats) -> Found:
    """Widened ends of a library function that is above zero, from its values, if these are nowhere near a limit."""
    if not (
        np.minimum.reduce(low, axis=None, initial=1.0) > _SMALLEST
        and np.maximum.reduce(high, axis=None, initial=1.0) < _LARGEST
    ):
        return None
    return low * LIBRARY_DOWN, high * LIBRARY_UP, _BEYOND_ZERO


_SMALLEST, _LARGEST = 1e-300, 1e300
"""Well inside the normal numbers."""


def logarithm(function: np.ufunc) -> Callable[[Range], Found]:
    """A logarithm of what is above zero."""

    def rule(x: Range) -> Found:
        facts = signed(x)
        if not (facts & POSITIVE and facts & FINITE):
            return None
        return library_lowered(function(x.lower)), library_raised(function(x.upper)), LOOKED | FINITE

    return rule


def power(x: Range, y: Range) -> Found:
    """Power of what is above zero to one fixed exponent; a square, a root or an inverse where it is one."""
    facts = signed(x)
    if not (facts & POSITIVE and facts & FINITE) or y.lower is not y.upper or np.ndim(y.lower) != 0:
        return None
    exponent = float(y.lower)
    if exponent in _NAMED:
        return _NAMED[exponent](x)
    if not np.isfinite(exponent):
        return None
    low, high = (x.lower, x.upper) if exponent >= 0.0 else (x.upper, x.lower)
    return _beyond_zero(np.power(low, exponent), np.power(high, exponent))


_NAMED: dict[float, Callable[[Range], Found]] = {
    1.0: lambda x: (x.lower, x.upper, x.facts),
    2.0: square,
    -1.0: reciprocal,
    0.5: sqrt,
}

EVERYDAY: dict[np.ufunc, Callable[..., Found]] = {
    np.add: add,
    np.subtract: subtract,
    np.multiply: multiply,
    np.divide: divide,
    np.reciprocal: reciprocal,
    np.square: square,
    np.sqrt: sqrt,
    np.negative: negative,
    np.minimum: minimum,
    np.maximum: maximum,
    np.exp: exp,
    np.log: logarithm(np.log),
    np.log10: logarithm(np.log10),
    np.power: power,
}
"""The operations of which formulas are made."""
