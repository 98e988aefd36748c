"""Claims: a sample of the ranges for tables and pictures. A subject comes in; walks through sample points go out."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

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
    used: dict[str, Any] = {}
    tried: list[Walk] = []

    def at_centre(_points: object) -> Walk:
        walk = subject.walk()
        tried.append(walk)
        return walk

    trial(at_centre, sample(Box((), ())))
    for walk in tried:
        used.update(walk.inputs.used)
    ranges = {path: quantity for path, quantity in used.items() if quantity.is_range}
    box = Box(tuple(ranges), tuple(ranges.values()))

    def walk_at(points: Points) -> Walk:
        return subject.walk({path: points[:, [i]] for i, path in enumerate(box.paths)})

    return walk_at, sample(box)
