"""Claims: the box of uncertain numbers a claim depends on; ranges come in, ends and sample points go out."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from deadfront.intervals import placed
from deadfront.project.quantities import Quantity
from deadfront.study.inputs import Inputs

CORNERS_UP_TO = 6
INTERIOR_POINTS = 48
"""All corners up to this many ranges (beyond it a quasi-random choice of as many), and points inside the box."""

_PRIMES = (2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53, 59, 61, 67, 71)


@dataclass(frozen=True, slots=True)
class Box:
    """The ranges a claim read on its way, in the order it read them."""

    paths: tuple[str, ...]
    quantities: tuple[Quantity, ...]

    @classmethod
    def of(cls, inputs: Inputs, read: Iterable[str] | None = None) -> Box:
        """The box of a walk that has been walked: every number it used that is a range, or those among some paths."""
        wanted = inputs.used if read is None else set(read)
        ranges = {path: q for path, q in inputs.used.items() if q.is_range and path in wanted}
        return cls(tuple(ranges), tuple(ranges.values()))

    def dimension(self, path: str) -> str:
        """Dimension of one coordinate."""
        return self.quantities[self.paths.index(path)].dimension

    @property
    def lower(self) -> NDArray[np.float64]:
        """Lower ends, shape (coordinates,)."""
        return np.array([q.low for q in self.quantities])

    @property
    def upper(self) -> NDArray[np.float64]:
        """Upper ends, shape (coordinates,)."""
        return np.array([q.high for q in self.quantities])

    @property
    def centre(self) -> NDArray[np.float64]:
        """Centres as the file gives them, shape (coordinates,)."""
        return np.array([q.centre for q in self.quantities])


def sample(box: Box) -> NDArray[np.float64]:
    """Points of a box, shape (points, coordinates): its centre, its corners, and a Halton sequence inside.

    The same box gives the same points. A point file gives one point without coordinates.
    """
    count = len(box.paths)
    if count == 0:
        return np.zeros((1, 0))
    inside = np.stack([_radical_inverse(INTERIOR_POINTS, _PRIMES[i % len(_PRIMES)]) for i in range(count)], axis=1)
    if count <= CORNERS_UP_TO:
        corners = np.array(list(product((0.0, 1.0), repeat=count)))
    else:
        bases = [_PRIMES[i % len(_PRIMES)] for i in range(count)]
        corners = np.round(np.stack([_radical_inverse(2**CORNERS_UP_TO, base) for base in bases], axis=1))
    shares = np.concatenate([corners, inside])
    return np.concatenate([box.centre[np.newaxis], placed(box.lower, box.upper, shares)])


def _radical_inverse(count: int, base: int) -> NDArray[np.float64]:
    """Van der Corput sequence in a prime base, from its second member on, shape (count,)."""
    numbers, result, factor = np.arange(1, count + 1), np.zeros(count), 1.0 / base
    while numbers.any():
        result += factor * (numbers % base)
        numbers, factor = numbers // base, factor / base
    return result
