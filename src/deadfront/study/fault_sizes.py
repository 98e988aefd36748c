"""Study: every size a low-voltage fault can have, from arcing to bolted. Bolted currents come in, currents go out."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from deadfront.intervals import waypoint
from deadfront.physics.types import Array
from deadfront.station.station import LV_BUS, feeder_end
from deadfront.study import faults
from deadfront.study.faults import Kind
from deadfront.study.inputs import Assumed
from deadfront.study.walk import Walk

ARCING_SHARE = "board.arcing_earth_share"

SMALLEST_SHARE = 0.38
"""Smallest arcing earth fault over the bolted three-phase fault, 1: 480Y/277 V, IEEE 242 [M].

The same source has 0.74 for line-line and 0.89 for three-phase arcs [M]; here 0.38 stands for every kind.
"""

SMALLEST_ARC = Assumed(
    ARCING_SHARE,
    "The smallest arcing fault of every kind is taken as 38 % of the bolted three-phase fault, or of the bolted fault "
    "of its own kind where that is smaller: a rule for earth faults in 480 V systems.",
    "IEEE 242, after laboratory tests of 1960",
    "M",
    "Setting calculation of the earth-fault protection.",
)

FORMULA = "share of the bolted three-phase fault, or of the bolted one of its kind where that is smaller"
"""What an arcing fault is a share of, in words."""

SIZE = "fault.size"
"""Name of the coordinate: 0 for the smallest fault of a family, 1 for the largest, even in the logarithm between."""


def smallest_share(walk: Walk) -> float:
    """Share of an arcing fault in the bolted one, 1: the lower end of what the file gives, else the setting rule's."""
    if walk.inputs.given(ARCING_SHARE):
        return walk.inputs.lowest(ARCING_SHARE)
    walk.inputs.note(SMALLEST_ARC)
    return SMALLEST_SHARE


def arcing_share(walk: Walk) -> Array:
    """Share of an arcing fault in the bolted one, 1: what the file gives, a range of it whole; else the setting rule's.

    It is a share of what `shared` says.
    """
    return walk.inputs.assume(ARCING_SHARE, SMALLEST_SHARE, SMALLEST_SHARE, SMALLEST_ARC)


def shared(walk: Walk, point: str, kind: Kind) -> Array:
    """The bolted current an arcing fault is a share of, A, shape (boxes, cases).

    The three-phase fault at the point, or the fault of its own kind where that is smaller. Behind Dyn and Dzn the
    bolted earth fault is the larger of the two, and a share of it would make the arc larger than the rule does; at the
    end of a long feeder it is the smaller, and the arc cannot exceed it.

    source    IEEE 242 [M] for the three-phase fault; the smaller of both: docs/decisions/0019 [D]
    """
    own = faults.current(walk, point, kind, walk.method)
    if kind in faults.TO_EARTH:
        return np.minimum(own, faults.current(walk, point, "three-phase", walk.method))
    return own  # a line-line fault never exceeds the three-phase one


def arcing_to_bolted(walk: Walk, point: str, kind: Kind) -> Array:
    """Current of a fault of one kind at a point, of every size from arcing to bolted, A, shape (boxes, cases).

    holds     the smallest share, which is that of an earth fault, stands for all kinds: on the safe side
    source    IEEE 242 [M]
    """
    smallest = smallest_share(walk) * shared(walk, point, kind)
    return of_every_size(walk, smallest, faults.current(walk, point, kind, walk.method))


def in_feeders(walk: Walk, feeders: Sequence[str], kind: Kind) -> tuple[Array, Array]:
    """Smallest and largest fault of one kind in some feeders, A, shape (boxes, cases) each.

    The smallest arcing one at the far end, and the bolted one at the board.
    """
    least: Array = np.inf
    for feeder in feeders:
        least = np.minimum(least, shared(walk, feeder_end(feeder), kind))
    return smallest_share(walk) * least, faults.current(walk, LV_BUS, kind, walk.method)


def of_every_size(walk: Walk, smallest: Array, largest: Array) -> Array:
    """Every current between two, A, shape (boxes, cases); NaN in cases in which none flows."""
    size = walk.inputs.between(SIZE, 0.0, 1.0, "share")
    fed = np.greater(smallest, 0.0)
    low, high = np.where(fed, smallest, 1.0), np.where(fed, largest, 1.0)
    between = np.power(low, 1.0 - size) * np.power(high, size)
    # The bounds change no number, but keep a wide range of the size from widening it beyond both ends.
    return waypoint(np.where(fed, np.minimum(np.maximum(between, low), high), np.nan))
