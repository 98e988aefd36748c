"""Intervals: points that may refute. A margin and a box come in; the worst point that floats can find goes out."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from deadfront.intervals.bounding import Problem
from deadfront.intervals.rounding import Floats
from deadfront.intervals.spacing import moved, placed

_CORNERS_UP_TO = 6
"""All corners of up to this many inputs with a width; beyond, the first 64 of a fixed low-discrepancy sequence."""
_INNER = 48
"""Points of that sequence inside the box."""
_STRIDES = tuple(0.5**k for k in range(1, 14, 2))
"""Steps of the line search, shares of the box, from half of it down to about 1e-4."""
_ROUNDS = 12
_TWIST = 0.5 * (np.sqrt(5.0) - 1.0)
"""Golden section: the powers of it, and of its kin, give points that avoid each other (Kronecker sequence)."""


@dataclass(frozen=True, slots=True)
class Witness:
    """The worst point found so far, and a point outside the model if one was found.

    point, column, value   where the margin is least, and what it is there; infinity before any point gave a number
    outside                point and column at which the margin is NaN
    """

    point: Floats
    column: int
    value: float
    outside: tuple[Floats, int] | None = None

    def tried(self, points: Floats, margins: Floats) -> Witness:
        """The worse of this and the margins at some points; the first of equals."""
        outside = self.outside
        holes = np.isnan(margins)
        if outside is None and holes.any():
            row, column = (int(k[0]) for k in np.nonzero(holes))
            outside = points[row].copy(), column
        row, column = (int(k) for k in np.unravel_index(np.where(holes, np.inf, margins).argmin(), margins.shape))
        if not margins[row, column] < self.value:
            return Witness(self.point, self.column, self.value, outside)
        return Witness(points[row].copy(), column, float(margins[row, column]), outside)


def first_witness(problem: Problem) -> Witness:
    """Worst of the centre, the corners and some points inside, then improved from there."""
    points = _starting_points(problem)
    start = Witness(points[0], 0, np.inf)
    return improved(problem, start.tried(points, problem.at(points)))


def improved(problem: Problem, witness: Witness, rounds: int = _ROUNDS) -> Witness:
    """Line searches along each input from the worst point, several strides at once, until none improves."""
    moving = problem.moving
    scale = 1.0
    for _ in range(rounds if moving else 0):
        if not np.isfinite(witness.value):
            return witness
        strides = scale * np.array([*_STRIDES, *(-s for s in _STRIDES)])
        tried = np.tile(witness.point, (len(moving), len(strides), 1))
        for k, i in enumerate(moving):
            tried[k, :, i] = moved(witness.point[i], (problem.lower[i], problem.upper[i]), strides)
        points = np.clip(tried.reshape(-1, len(problem.lower)), problem.lower, problem.upper)
        better = witness.tried(points, problem.at(points))
        if not better.value < witness.value:
            if scale < 1.0:
                return better
            scale = _STRIDES[-1]  # once more, near by
        witness = better
    return witness


def _starting_points(problem: Problem) -> Floats:
    moving = problem.moving
    middle = problem.lower + 0.5 * problem.width
    if not moving:
        return middle[None, :]
    if len(moving) <= _CORNERS_UP_TO:
        corners = np.array(list(itertools.product((0.0, 1.0), repeat=len(moving))))
    else:
        corners = np.round(_spread(2**_CORNERS_UP_TO, len(moving)))
    shares = np.concatenate([np.full((1, len(moving)), 0.5), corners, _spread(_INNER, len(moving))])
    points = np.tile(middle, (len(shares), 1))
    points[:, moving] = placed(problem.lower[moving], problem.upper[moving], shares)
    return np.clip(points, problem.lower, problem.upper)


def _spread(count: int, inputs: int) -> Floats:
    """Points of a cube that avoid each other: multiples of irrational steps, modulo one."""
    steps = np.array([_TWIST ** (1.0 + k / inputs) for k in range(inputs)])
    points: Floats = np.mod(0.5 + np.arange(1, count + 1)[:, None] * steps, 1.0)
    return points
