"""Intervals: values through which a whole formula runs. A value in; the same value out, or a piece of its range.

Much of what a study computes hangs on one number, such as the current at a fault, which in turn hangs on many inputs.
The worst case may then lie along a whole surface of inputs that give the worst current; no halving of inputs encloses
a surface cheaply. Whoever writes the formula marks that number as a waypoint, and proofs take its range in pieces.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from deadfront.intervals.gradient import Dual
from deadfront.intervals.interval import Interval
from deadfront.intervals.rounding import Floats
from deadfront.intervals.tags import Pieces, Taken


def waypoint(x: Any) -> Any:
    """The value itself; where a proof asks for pieces, the piece of its range.

    x         floats, ranges or gradients, rows on the axis before the last    (rows, cases)
    returns   x; all pieces of a range together cover it, and the first waypoint on a way is the one that counts.
              A gradient asked for a piece gives a range: the slopes that remain are those past the waypoint.
    """
    value = x.value if isinstance(x, Dual) else x
    if not isinstance(value, Interval) or not isinstance(value.tag, Pieces):
        return x
    low, high = _place(value, value.tag.low, value.lower), _place(value, value.tag.high, value.upper)
    return Interval.of_ends((low, high)).tagged(Taken())


def _place(x: Interval, share: Floats, end: Floats) -> Floats:
    """End of a piece; the same share gives the same number, so that neighbours meet. Endless ranges stay whole."""
    with np.errstate(all="ignore"):
        width = x.upper - x.lower
        place = np.minimum(x.lower + share * width, x.upper)
    return np.where(np.isfinite(width), np.where(share == 1.0, x.upper, place), end)
