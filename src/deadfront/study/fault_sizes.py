"""Study: every size a low-voltage fault can have, from arcing to bolted. Bolted currents come in, currents go out."""

from __future__ import annotations

import numpy as np

from deadfront.intervals import waypoint
from deadfront.physics.types import Array
from deadfront.station.station import LV_BUS
from deadfront.study import faults
from deadfront.study.faults import Kind
from deadfront.study.inputs import Assumed
from deadfront.study.walk import Walk

ARCING_SHARE = "board.arcing_earth_share"

SMALLEST_SHARE = 0.38
"""Smallest arcing fault over the bolted one, 1: line to earth at 480Y/277 V, IEEE 242 [M]; other kinds draw more."""

SMALLEST_ARC = Assumed(
    ARCING_SHARE,
    "The smallest arcing earth fault is taken as 38 % of the bolted three-phase fault: a rule of 480 V systems.",
    "IEEE 242, after laboratory tests of 1960",
    "M",
    "Setting calculation of the earth-fault protection.",
)

SHARE_OF_BOLTED = "fault.share_of_bolted"
"""Name of the coordinate: current of a fault over that of the bolted fault of its kind at its point."""

WAY_TO_FAR_END = "fault.way_to_far_end"
"""Name of the coordinate: 0 for the bolted fault at the board, 1 for the smallest arcing one at the feeder's end."""


def smallest_share(walk: Walk) -> float:
    """Smallest arcing fault over the bolted one, 1: the lower end of what the file gives, else the setting rule's."""
    if walk.inputs.given(ARCING_SHARE):
        return walk.inputs.lowest(ARCING_SHARE)
    walk.inputs.note(SMALLEST_ARC)
    return SMALLEST_SHARE


def arcing_to_bolted(walk: Walk, point: str, kind: Kind) -> Array:
    """Current of a fault of one kind at a point, of every size from arcing to bolted, A, shape (boxes, cases).

    holds     the smallest share, which is that of an earth fault, stands for all kinds: on the safe side
    source    IEEE 242 [M]
    """
    share = walk.inputs.between(SHARE_OF_BOLTED, smallest_share(walk), 1.0, "share")
    return waypoint(share * faults.current(walk, point, kind, walk.method))


def along_a_feeder(walk: Walk, end: str, kind: Kind) -> Array:
    """Current of a fault of one kind in a feeder, at every place and of every size, A, shape (boxes, cases).

    From the bolted fault at the board down to the smallest arcing one at the far end, evenly in the logarithm; NaN in
    cases in which nothing feeds the fault.
    """
    largest = faults.current(walk, LV_BUS, kind, walk.method)
    smallest = smallest_share(walk) * faults.current(walk, end, kind, walk.method)
    way = walk.inputs.between(WAY_TO_FAR_END, 0.0, 1.0, "share")
    fed = np.greater(smallest, 0.0)
    ratio = np.where(fed, smallest, 1.0) / np.where(fed, largest, 1.0)
    return waypoint(np.where(fed, largest * np.power(ratio, way), np.nan))
