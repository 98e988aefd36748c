"""Intervals: where to cut a range and where to try points in it. Ends come in; places go out.

Halving 0.01 to 1000 at 500 leaves nearly all of its decades in one half. A range over a decade or more is therefore cut
at its geometric mean, and points in it are even in the logarithm. Any place is sound; these are only better chosen.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from deadfront.intervals.rounding import Floats

DECADE = 10.0
"""Upper over lower end from which on a range is taken in the logarithm."""


def over_decades(lower: Any, upper: Any) -> Any:
    """Whether ranges cover a decade or more; both ends above zero."""
    with np.errstate(over="ignore"):
        return (lower > 0.0) & (upper >= DECADE * lower)


def halfway(lower: Any, upper: Any) -> Floats:
    """The middle of ranges, of those over decades the geometric one; never outside the range."""
    with np.errstate(invalid="ignore"):
        geometric = np.sqrt(np.abs(lower)) * np.sqrt(np.abs(upper))  # apart: the product may lie beyond all numbers
    between: Floats = np.where(over_decades(lower, upper), np.clip(geometric, lower, upper), 0.5 * (lower + upper))
    return between


def placed(lower: Any, upper: Any, shares: Any) -> Floats:
    """Places at shares of ranges, 0 the lower end and 1 the upper one; of those over decades even in the logarithm."""
    decades = over_decades(lower, upper)
    even: Floats = np.where(decades, np.clip(moved(lower, (lower, upper), shares), lower, upper), 0.0)
    return np.where(decades, even, lower + shares * (upper - lower))


def moved(start: Any, ends: tuple[Any, Any], shares: Any) -> Floats:
    """Places at shares of the width of a range from a start in it; may lie outside, by the shares asked for."""
    lower, upper = ends
    decades = over_decades(lower, upper)
    size = np.log(np.where(decades, upper, 1.0)) - np.log(np.where(decades, lower, 1.0))
    with np.errstate(over="ignore", under="ignore"):
        even: Floats = np.where(decades, start * np.exp(shares * size), start + shares * (upper - lower))
    return even


def grid(lower: float, upper: float, count: int) -> Floats:
    """Ends of `count` pieces of one range, count + 1 numbers from its lower to its upper end."""
    spread = np.geomspace if over_decades(lower, upper) else np.linspace
    return np.asarray(spread(lower, upper, count + 1), dtype=np.float64)


def shares_of(lower: Any, upper: Any, places: Any) -> Floats:
    """Shares at which places lie in ranges: the other way round of `placed`. Every range has a width."""
    decades = over_decades(lower, upper)
    low, high, inside = (np.log(np.where(decades, x, y)) for x, y in ((lower, 1.0), (upper, np.e), (places, 1.0)))
    found: Floats = np.where(decades, (inside - low) / (high - low), (places - lower) / (upper - lower))
    return found
