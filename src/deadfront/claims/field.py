"""Claims: a claim as a function of its ranges, and points of it. Points come in; margins and the worst go out."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from deadfront.claims.boxes import Box
from deadfront.claims.comparing import Term
from deadfront.intervals import Interval, shares_of
from deadfront.physics.types import Array

Values = Mapping[str, Array]
TermsAt = Callable[[Values, int, Sequence[int] | None], Sequence[Term]]
"""Terms of one maker at some inputs, in all operating cases or in some of them."""


@dataclass(frozen=True, slots=True)
class Field:
    """A claim's makers over its box: `terms_at` evaluates one of them, `paths[i]` are the ranges maker i read."""

    box: Box
    paths: tuple[tuple[str, ...], ...]
    terms_at: TermsAt

    @property
    def makers(self) -> range:
        """Numbers of the makers."""
        return range(len(self.paths))

    def at(self, points: NDArray[np.float64], maker: int, cases: Sequence[int] | None = None) -> Sequence[Term]:
        """Terms of a maker at points of the box, shape (points, coordinates)."""
        values = {path: points[:, [i]] for i, path in enumerate(self.box.paths)}
        return self.terms_at(values, maker, cases)


@dataclass(frozen=True, slots=True)
class Worst:
    """The worst point found: maker and term, operating case, the inputs, and the numbers there."""

    maker: int
    term: Term
    case: int
    margin: float
    value: float
    limit: float
    inputs: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Tried:
    """A maker's terms at sample points, each with its margins (points, cases)."""

    maker: int
    terms: Sequence[tuple[Term, NDArray[np.float64]]]

    def worst(self, points: NDArray[np.float64]) -> list[Worst]:
        """The worst of each term."""
        found = []
        for term, margin in self.terms:
            # argmin stops at the first NaN, which is worse than any number.
            row, column = (int(k) for k in np.unravel_index(int(np.argmin(margin)), margin.shape))
            found.append(worst_of(term, self.maker, (row, column), points[min(row, len(points) - 1)]))
        return found

    def influence(self, box: Box, points: NDArray[np.float64], least: float) -> NDArray[np.float64]:
        """How much each range moves the margins, those near the least the most: says where to cut, proves nothing."""
        width = box.upper - box.lower
        shares = np.concatenate([np.ones((len(points), 1)), shares_of(box.lower, box.upper, points)], axis=1)
        found = 1e-3 * width / np.maximum(np.abs(box.lower), np.abs(box.upper))
        for _, margin in self.terms:
            finite = np.isfinite(margin).all(axis=0)
            if len(margin) == len(points) and finite.any():
                slopes = np.abs(np.linalg.lstsq(shares, margin[:, finite], rcond=None)[0][1:])
                away = np.maximum(margin[:, finite].min(axis=0) - least, 0.0)
                found = np.maximum(found, (slopes / (0.05 + away)).max(axis=1))
        return found


def order(worst: Worst) -> float:
    """What points are ranked by: outside the model is worse than any number."""
    return -math.inf if math.isnan(worst.margin) else worst.margin


def margins(field: Field, maker: int, points: NDArray[np.float64]) -> list[tuple[Term, NDArray[np.float64]]]:
    """Terms of a maker with their margins at some points; outside a model NaN or infinity, and judged by that."""
    with np.errstate(all="ignore"):
        return [(term, np.asarray(term.margin(), dtype=np.float64)) for term in field.at(points, maker) if term.cases]


def worst_of(term: Term, maker: int, at: tuple[int, int], inputs: NDArray[np.float64]) -> Worst:
    """A point of a term with its numbers; `at` is row and column of its margin."""
    with np.errstate(all="ignore"):
        parts = term.margin(), term.chosen(term.value), term.chosen(term.limit)
    numbers = [np.asarray(part, dtype=np.float64) for part in parts]
    margin, value, limit = (float(n[min(at[0], len(n) - 1), at[1]]) for n in numbers)
    return Worst(maker, term, term.cases[at[1]], margin, value, limit, tuple(float(x) for x in inputs))


def lower_end(margin: Array) -> NDArray[np.float64]:
    """Lower ends of a margin: its own values where no range entered it."""
    ends = margin.lower if isinstance(margin, Interval) else margin
    return np.asarray(ends, dtype=np.float64)


def least_margin(term: Term) -> NDArray[np.float64]:
    """Lower ends of a term's margin, shape (boxes, cases that count) or what broadcasts to it.

    Where every value is within every limit the margin is not below zero: both are compared as they are, since the
    outward rounding of a quotient would break an equality, which "at most" and "at least" permit.
    """
    low = lower_end(term.margin())
    value, limit = (_ends(term, array) for array in (term.value, term.limit))
    within = value[0] >= limit[1] if term.at_least else value[1] <= limit[0]
    return np.where(within & (limit[0] > 0.0), np.maximum(low, 0.0), low)  # NaN stays NaN


def _ends(term: Term, array: Array) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Both ends of a value or limit at the cases that count."""
    both = (array.lower, array.upper) if isinstance(array, Interval) else (array, array)
    found = []
    for end in (np.asarray(one, dtype=np.float64) for one in both):
        spread = np.broadcast_to(end, np.broadcast_shapes(end.shape, (1, term.count)))
        found.append(spread[..., list(term.cases)])
    return found[0], found[1]
