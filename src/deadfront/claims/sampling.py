"""Claims: a sample of the ranges for tables and pictures. A subject comes in; walks through sample points go out."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from deadfront.claims.boxes import Box, sample
from deadfront.claims.judging import Subject
from deadfront.study.tables import WalkAt
from deadfront.study.walk import Walk

Points = NDArray[np.float64]


def walks(subject: Subject, trial: Callable[[WalkAt, Points], object]) -> tuple[WalkAt, Points]:
    """Walks through rows of a sample over the ranges that a trial run reads, and the sample.

    trial    what is going to be made of the walks, run once at the centre of every range
    """
    centre = subject.walk()
    trial(lambda _points: centre, sample(Box((), ())))
    ranges = {path: quantity for path, quantity in centre.inputs.used.items() if quantity.is_range}
    box = Box(tuple(ranges), tuple(ranges.values()))
    kept: dict[bytes, Walk] = {}

    def walk_at(points: Points) -> Walk:
        # Many rows of a table have their extreme at the same corner: they share one walk and all it has worked out.
        return kept.setdefault(points.tobytes(), subject.walk({p: points[:, [i]] for i, p in enumerate(box.paths)}))

    return walk_at, sample(box)
