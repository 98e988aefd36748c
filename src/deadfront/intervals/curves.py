"""Intervals: straight lines between fixed points. A range and a curve come in; values and slopes it can have go out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from deadfront.intervals.rounding import Ends, Floats, library, lowered, raised

_LINE_ERROR = 2.0**-50
"""Error of np.interp between two points as a share of their difference: it rounds five times, 5/2 · 2^-52, at most."""


@dataclass(frozen=True, slots=True)
class Curve:
    """Straight lines through points (x, y); beyond the first and the last point `left` and `right`.

    x, y          finite, x strictly increasing      (points,)
    left, right   value beyond; may be infinite (never operates) or NaN (no model)
    """

    x: Floats
    y: Floats
    left: float
    right: float

    @classmethod
    def of(cls, x: Any, y: Any, left: Any = None, right: Any = None) -> Curve:
        """A curve from the arguments of np.interp; ValueError where np.interp would answer nonsense in silence."""
        xs, ys = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
        if xs.ndim != 1 or xs.shape != ys.shape or len(xs) == 0:
            raise ValueError(f"xp, fp: expected two rows of equally many numbers, got shapes {xs.shape} and {ys.shape}")
        if not (np.isfinite(xs).all() and np.isfinite(ys).all()):
            raise ValueError("xp, fp: every point of a curve must be finite")
        if not (xs[1:] > xs[:-1]).all():
            raise ValueError("xp: the points of a curve must increase strictly")
        return cls(xs, ys, float(ys[0] if left is None else left), float(ys[-1] if right is None else right))

    def values(self, x: Ends) -> Ends:
        """Values over a range; NaN where the range reaches a side without a model."""
        with np.errstate(all="ignore"):
            at_ends = self._at(x[0]), self._at(x[1])
            low = np.minimum(at_ends[0][0], at_ends[1][0])
            high = np.maximum(at_ends[0][1], at_ends[1][1])
        for k in self._turning_points():
            inside = (x[0] <= self.x[k]) & (x[1] >= self.x[k])
            low = np.where(inside, np.minimum(low, self.y[k]), low)
            high = np.where(inside, np.maximum(high, self.y[k]), high)
        unknown = np.isnan(low) | np.isnan(high) | np.isnan(x[0])
        return np.where(unknown, np.nan, low), np.where(unknown, np.nan, high)

    def slopes(self, x: Ends) -> Ends:
        """Slopes over a range; without bound where it holds a jump at the first or last point."""
        first, last = self._segment(x[0]), self._segment(x[1])
        steep = self._steepness()
        low, high = steep[first], steep[first]
        for k in range(int(first.min(initial=0)), int(last.max(initial=0)) + 1):
            touched = (first <= k) & (k <= last)
            low = np.where(touched, np.minimum(low, steep[k]), low)
            high = np.where(touched, np.maximum(high, steep[k]), high)
        jump = np.isnan(x[0])
        if self.left != self.y[0]:
            jump = jump | ((x[0] < self.x[0]) & (x[1] >= self.x[0]))
        if self.right != self.y[-1]:
            jump = jump | ((x[0] <= self.x[-1]) & (x[1] > self.x[-1]))
        low, high = library(low, high)  # three roundings, 3/2 units in the last place
        return np.where(jump, -np.inf, low), np.where(jump, np.inf, high)

    def _at(self, x: Floats) -> Ends:
        """Value at a point, rounded outward by what np.interp may err on this segment."""
        value = np.interp(x, self.x, self.y, left=self.left, right=self.right)
        k = np.clip(np.searchsorted(self.x, x, side="right") - 1, 0, max(len(self.x) - 2, 0))
        error = np.abs(self.y[np.minimum(k + 1, len(self.y) - 1)] - self.y[k]) * _LINE_ERROR
        beyond = (x < self.x[0]) | (x > self.x[-1])
        error = np.where(beyond, 0.0, error)
        return lowered(value - error), raised(value + error)

    def _turning_points(self) -> list[int]:
        """Points that can hold the least or greatest value of a range that reaches over them."""
        if len(self.x) == 1:
            return [0]
        step = np.sign(np.diff(self.y))
        inner = [k for k in range(1, len(self.y) - 1) if step[k - 1] * step[k] <= 0.0]
        return [0, *inner, len(self.y) - 1]

    def _segment(self, x: Floats) -> Any:
        """Index into the slopes: 0 left of the curve, then its segments, then right of it."""
        return np.searchsorted(self.x, x, side="right")

    def _steepness(self) -> Floats:
        return np.concatenate([[0.0], np.diff(self.y) / np.diff(self.x), [0.0]])
