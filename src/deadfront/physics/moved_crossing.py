"""Physics: how the crossing of two fuses wanders as their liquid warms. A pair in, a table and currents out.

The search of `crossing` takes numbers only; read from the table, the crossing also takes ranges.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from deadfront.physics.crossing import Edge, Floats, edge_current, edge_time
from deadfront.physics.types import Array

PIECES = 64
"""Pieces into which each straight part is cut; the chord errs by less than 2e-5 of current."""

FEW = 8
"""Parts of the stretch beyond the last point of the lower curve, each cut into `PIECES`; nearly straight there."""


@dataclass(frozen=True, slots=True)
class CrossingByShift:
    """Crossing of one pair against how far the upper curve has moved relative to the lower one; constant data.

    shift      ln of the upper over the lower current factor, rising       (points,)
    crossing   ln of the crossing current, at a lower current factor of one         (points,)
    """

    shift: Floats
    crossing: Floats


def crossing_by_shift(lower: Edge, upper: Edge) -> CrossingByShift:
    """How the crossing of one pair wanders when liquid moves the two curves by different factors.

    For a crossing at current I the upper curve must have moved by I over the current it melts at in the time in which
    the lower one clears I: so the shift follows from the crossing without any search, and is tabulated.

    lower, upper  as in `crossing.crossings`, of one pair; already `moved` where a preload is not a range      (points,)
    returns    the stretch around no shift over which the pair crosses exactly once, not beyond both curves; empty if
               it does not there
    holds      chords between the points of the table: `PIECES` to each straight part
    raises     ValueError for an upper edge with an arcing time
    source     [D]
    """
    x = _samples(lower, upper)
    melts_at = edge_current(upper, edge_time(lower, np.exp(x)))
    shift = x - np.log(melts_at)
    # Known, and not beyond both curves, as in `crossing.crossings`.
    known = np.isfinite(shift) & ((melts_at <= upper.current[-1]) | (x <= np.log(lower.current[-1])))
    x, shift = x[known], shift[known]
    # One crossing only: all shifts to the left are smaller, all to the right larger.
    least_right = np.minimum.accumulate(shift[::-1])[::-1]
    most_left = np.maximum.accumulate(shift)
    single = (shift[1:-1] > most_left[:-2]) & (shift[1:-1] < least_right[2:])
    edges = np.flatnonzero(~single)
    at = int(np.sum(shift[1:-1] < 0.0))
    first = int(np.max(edges[edges < at], initial=-1)) + 1
    end = int(np.min(edges[edges >= at], initial=len(single)))
    return CrossingByShift(shift[1:-1][first:end], x[1:-1][first:end])


def crossing_current(table: CrossingByShift, lower_factor: Array, upper_factor: Array) -> Array:
    """Crossing current of a pair whose curves have moved, over floats, arrays or ranges.

    table         `crossing_by_shift` of the pair at 25 degC; structural
    lower_factor  1, `liquid_factor` of the lower fuse (link)      (cases,)
    upper_factor  1, `liquid_factor` of the upper fuse (limiter)   (cases,)
    returns    A rms; NaN where the moved curves do not cross exactly once     (cases,)
    holds      the chord between two points of the table, within 2e-5 of the exact crossing (`PIECES`)
    raises     nothing
    source     [D]. Beware: a cold link with a hot limiter crosses lowest
    """
    if len(table.shift) < 2:
        return np.nan * lower_factor * upper_factor
    shift = np.log(upper_factor / lower_factor)
    known = np.logical_and(np.greater_equal(shift, table.shift[0]), np.less_equal(shift, table.shift[-1]))
    crossing = np.exp(np.interp(shift, table.shift, table.crossing))
    return np.where(known, lower_factor * crossing, np.nan)


def _samples(lower: Edge, upper: Edge) -> Floats:
    """ln of currents along the lower curve, `PIECES` to each part on which both curves are straight."""
    melting = Edge(lower.current, lower.time, np.zeros(()), lower.exponent)
    times = upper.time[upper.time > lower.arcing] - lower.arcing
    at_times = edge_current(melting, times)
    far = np.geomspace(lower.current[-1], 10.0 * max(lower.current[-1], upper.current[-1]), FEW)
    at_times = at_times[at_times <= far[-1]]  # not NaN
    knots = np.log(np.unique(np.concatenate([lower.current, at_times, far])))
    between = knots[:-1, None] + np.diff(knots)[:, None] * (np.arange(PIECES) / PIECES)
    return np.append(between.ravel(), knots[-1])
