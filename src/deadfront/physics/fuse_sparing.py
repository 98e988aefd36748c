"""Physics: how much of an upper fuse's melting time a lower one takes, up to a current. A pair in, a table and shares
out.

The shares of `fuse_pair.clearing_over_melting` at every current up to the one that is asked for: read from a table, so
that ranges of the current are taken too.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from deadfront.physics.crossing import Edge, Floats, edge_time
from deadfront.physics.types import Array

PIECES = 16
"""Pieces into which each straight part of both curves is cut; the chord lies above the share, by less than 1 %."""

FEW = 8
"""Points of the decade beyond both curves."""

LATE = 1e6
"""1, stands for the share where the upper fuse melts and the lower one never clears: large, and still a number."""


@dataclass(frozen=True, slots=True)
class ShareByCurrent:
    """Largest share at any current up to one, for one pair; constant data.

    current   ln of current, rising, from where the upper fuse melts at all     (points,)
    share     1, never falling                                                  (points,)
    """

    current: Floats
    share: Floats


def share_by_current(lower: Edge, upper: Edge) -> ShareByCurrent:
    """Largest clearing time of the lower fuse over the melting time of the upper one, up to each current.

    ln t_lower - ln t_upper is convex in ln I between the points of both curves: chords lie above it.

    lower, upper  as in `crossing.crossings`, of one pair, already `moved`      (points,)
    returns    a table from the first point of the upper curve to ten times the last point of either
    holds      `LATE` from the first current on at which the upper fuse melts and the lower one does not clear
    raises     ValueError for an upper edge with an arcing time
    source     straight lines in log-log [C], running maximum [D]
    """
    if np.any(upper.arcing):
        raise ValueError("upper: expected a melting edge, without arcing time")
    last = max(lower.current[-1], upper.current[-1])
    knots = np.unique(np.concatenate([lower.current, upper.current, np.geomspace(last, 10.0 * last, FEW)]))
    knots = np.log(knots[knots >= upper.current[0]])
    between = knots[:-1, None] + np.diff(knots)[:, None] * (np.arange(PIECES) / PIECES)
    x = np.append(between.ravel(), knots[-1])
    current = np.maximum(np.exp(x), upper.current[0])  # exp of ln may fall a rounding error short of the first point
    share = np.minimum(edge_time(lower, current) / edge_time(upper, current), LATE)
    return ShareByCurrent(x, np.maximum.accumulate(share))


def largest_share(table: ShareByCurrent, current: Array) -> Array:
    """Largest share of the upper fuse's melting time that the lower one takes at any current up to this one.

    table      `share_by_current`; structural
    current    A rms                              (cases,)
    returns    1; zero where the upper fuse does not melt, NaN far beyond both curves     (cases,)
    holds      up to 1 % above the exact share, never below it
    raises     nothing
    source     [D]
    """
    return np.interp(np.log(current), table.current, table.share, left=0.0, right=np.nan)
