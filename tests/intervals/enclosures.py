"""Helpers of the inclusion tests: random ranges and points inside them, and how many points escape."""

from collections.abc import Callable
from typing import Any

import numpy as np

from deadfront.intervals.interval import Interval, as_interval

Sampler = Callable[[np.random.Generator, int], np.ndarray]


def anywhere(rng: np.random.Generator, count: int) -> np.ndarray:
    """Numbers of any sign and size, and zeros."""
    size = 10.0 ** rng.uniform(-6.0, 6.0, count) * rng.choice([-1.0, 1.0], count)
    return np.where(rng.random(count) < 0.1, 0.0, size)


def around(low: float, high: float) -> Sampler:
    """Numbers between two bounds."""
    return lambda rng, count: rng.uniform(low, high, count)


def ranges(rng: np.random.Generator, sampler: Sampler, count: int) -> Interval:
    """Random ranges: wide ones between two random numbers, narrow ones beside one, points."""
    first, second = sampler(rng, count), sampler(rng, count)
    first[:2] = second[:2] = (sampler(rng, 2), 0.0)[0]
    narrow = first + (second - first) * 10.0 ** rng.uniform(-12.0, -2.0, count)
    second = np.where(rng.random(count) < 0.5, narrow, second)
    return Interval(np.minimum(first, second), np.maximum(first, second))


def points_in(rng: np.random.Generator, x: Interval, count: int) -> np.ndarray:
    """Points of ranges, both ends first, shape (count, ...)."""
    share = rng.random((count, *x.shape))
    share[0], share[1] = 0.0, 1.0
    return np.minimum(np.maximum(x.lower + share * (x.upper - x.lower), x.lower), x.upper)


def escapes(enclosure: Any, values: np.ndarray) -> int:
    """How many values lie outside; where the enclosure is NaN anything goes; a NaN value escapes from all else."""
    known = as_interval(enclosure)
    inside = (known.lower <= values) & (values <= known.upper)
    return int(np.count_nonzero(~(inside | np.isnan(known.lower))))
