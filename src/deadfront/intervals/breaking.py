"""Intervals: how far one input may move before a margin fails. A box and a direction come in; a proved reach goes out.

The reach is proved, not sampled: branch and bound works outward from the start and keeps the nearest box that is not
yet proved; the nearest point known to fail closes in from the other side.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from deadfront.intervals.bounding import Margin, Problem, batch_size, bounds, halved
from deadfront.intervals.rounding import Floats
from deadfront.intervals.search import Effort
from deadfront.intervals.witness import first_witness


@dataclass(frozen=True, slots=True)
class Path:
    """Where an input starts and how far it is followed; all other inputs stay anywhere in their ranges."""

    input: int
    start: float
    limit: float


@dataclass(frozen=True, slots=True)
class BreakPoint:
    """How far an input may move.

    reach     proved: the margin holds from the start up to here, reach itself not included unless it is the limit
    flip      nearest place found at which it does not hold (or at which the model ends); None: none up to the limit
    witness   the whole point at the flip, column its operating case, value the margin there (NaN: model ends)
    boxes     boxes that were bounded
    close     whether reach and flip lie within the tolerance of each other, or the whole path is proved
    """

    reach: float
    flip: float | None
    witness: tuple[float, ...] | None
    column: int | None
    value: float | None
    boxes: int
    close: bool


@dataclass(frozen=True, slots=True)
class _Failing:
    """Nearest failing point so far, at a distance from the start; infinite: none."""

    distance: float
    point: Floats
    column: int
    value: float


@dataclass(frozen=True, slots=True)
class _Open:
    """Boxes not yet proved; near: distance of their nearest side from the start."""

    lower: Floats
    upper: Floats
    low: Floats
    score: Floats
    near: Floats

    def taken(self, which: Any) -> _Open:
        """Some of the boxes."""
        return _Open(self.lower[which], self.upper[which], self.low[which], self.score[which], self.near[which])

    def joined(self, other: _Open) -> _Open:
        """Both sets of boxes."""
        pairs = ((getattr(self, name), getattr(other, name)) for name in ("lower", "upper", "low", "score", "near"))
        return _Open(*(np.concatenate(pair) for pair in pairs))


@dataclass(frozen=True, slots=True)
class _State:
    """Open boxes, the nearest side of any box given up, the nearest failing point, boxes; pieced as in search."""

    pool: _Open
    given_up: float
    failing: _Failing
    boxes: int
    pieced: bool = False


def break_point(
    margin: Margin,
    box: tuple[Sequence[float], Sequence[float]],
    path: Path,
    columns: int = 1,
    effort: Effort | None = None,
) -> BreakPoint:
    """Largest proved move of one input, and where the margin first fails.

    margin      as in `decide`
    box         lower and upper ends of all inputs; the range of the path's input does not matter
    path        which input moves, from where, how far at most; the tolerance is a share of its length
    columns     operating cases
    raises      ValueError: no such input, or a path without length
    """
    lower, upper = (np.array(ends, dtype=np.float64) for ends in box)
    if not 0 <= path.input < len(lower):
        raise ValueError(f"input: expected 0 to {len(lower) - 1}, got {path.input}")
    if not (np.isfinite(path.start) and np.isfinite(path.limit) and path.start != path.limit):
        raise ValueError(f"limit: expected a finite end away from the start {path.start!r}, got {path.limit!r}")
    lower[path.input], upper[path.input] = min(path.start, path.limit), max(path.start, path.limit)
    return _Outward(Problem.of(margin, lower, upper, columns), path, effort or Effort()).run()


_LINE = 33  # points along the path between what is proved and what fails
_THIN = 2.0**-40  # share of the whole range below which floats cannot tell halves apart


@dataclass(frozen=True, slots=True)
class _Outward:
    problem: Problem
    path: Path
    effort: Effort

    def run(self) -> BreakPoint:
        """Prove the nearest boxes first; stop when reach and flip have met or the budget is used."""
        problem, start = self.problem, first_witness(self.problem)
        points = [start.point] if start.outside is None else [start.point, start.outside[0]]
        failing = self._closer(_Failing(np.inf, start.point, 0, np.inf), np.array(points))
        nothing = np.zeros((0, len(problem.lower)))
        pool = _Open(nothing, nothing, np.zeros((0, problem.columns)), nothing, np.zeros(0))
        known = np.full((1, problem.columns), -np.inf)
        state = self._bounded(_State(pool, np.inf, failing, 0), problem.lower[None], problem.upper[None], known)
        while len(state.pool.near) and state.boxes < self.effort.budget:
            state = self._round(state)
        return self._result(state)

    def _round(self, state: _State) -> _State:
        batch, pool = batch_size(self.problem, pieced=state.pieced), state.pool
        order = np.lexsort((pool.low.min(axis=1), pool.near))
        chosen, rest = pool.taken(order[: batch // 2]), pool.taken(order[batch // 2 :])
        times = 3 if len(order) * 8 <= batch else 1
        lower, upper, origin = halved(chosen.lower, chosen.upper, chosen.score, times)
        return self._bounded(replace(state, pool=rest), lower, upper, chosen.low[origin])

    def _bounded(self, state: _State, lower: Floats, upper: Floats, known: Floats) -> _State:
        """Bound boxes, try points in them, also at their nearest side, and keep what is neither proved nor too far."""
        problem, i = self.problem, self.path.input
        alive = known < np.inf
        found = bounds(problem, lower, upper, alive, -self.effort.slack, keep=(i,))
        low = np.where(alive, np.maximum(found.low, known), np.inf)
        low = np.where(low >= -self.effort.slack, np.inf, low)
        points = np.concatenate([0.5 * (found.lower + found.upper), found.downhill])
        nearest = points.copy()
        nearest[:, i] = np.tile(lower[:, i] if self.path.limit > self.path.start else upper[:, i], 2)
        failing = self._closer(state.failing, np.concatenate([points, nearest]))
        pool = state.pool.joined(_Open(found.lower, found.upper, low, found.score, self._near(lower, upper)))
        open_ = (pool.low < np.inf).any(axis=1)
        thin = ((pool.upper - pool.lower) <= _THIN * problem.width).all(axis=1)
        far = pool.near >= failing.distance - self._tolerance
        given_up = float(pool.near[open_ & (far | thin)].min(initial=np.inf))
        rest = pool.taken(np.flatnonzero(open_ & ~far & ~thin))
        return _State(rest, min(state.given_up, given_up), failing, state.boxes + found.work, found.pieces > 0)

    @property
    def _length(self) -> float:
        return abs(self.path.limit - self.path.start)

    @property
    def _tolerance(self) -> float:
        return self.effort.tolerance * self._length

    def _near(self, lower: Floats, upper: Floats) -> Floats:
        i, start = self.path.input, self.path.start
        return lower[:, i] - start if self.path.limit > start else start - upper[:, i]

    def _place(self, distance: float) -> float:
        """Coordinate at a distance from the start."""
        if distance >= self._length:
            return self.path.limit
        return self.path.start + distance if self.path.limit > self.path.start else self.path.start - distance

    def _closer(self, failing: _Failing, points: Floats) -> _Failing:
        """The nearest failing point, after following the line from the start to it."""
        found = self._nearest(failing, points)
        while found.distance < failing.distance:
            failing = found
            line = np.tile(found.point, (_LINE, 1))
            line[:, self.path.input] = np.linspace(self.path.start, found.point[self.path.input], _LINE)
            found = self._nearest(failing, line)
            if failing.distance - found.distance <= 0.25 * self._tolerance:
                return found
        return failing

    def _nearest(self, failing: _Failing, points: Floats) -> _Failing:
        margins = self.problem.at(points)
        fails = ~(margins >= -self.effort.slack)
        distance = np.where(fails.any(axis=1), np.abs(points[:, self.path.input] - self.path.start), np.inf)
        row = int(distance.argmin())
        if not distance[row] < failing.distance:
            return failing
        column = int(np.where(fails[row], np.nan_to_num(margins[row], nan=-np.inf), np.inf).argmin())
        return _Failing(float(distance[row]), points[row].copy(), column, float(margins[row, column]))

    def _result(self, state: _State) -> BreakPoint:
        failing = state.failing
        reach = min(float(state.pool.near.min(initial=np.inf)), state.given_up, failing.distance, self._length)
        flipped = failing.distance < np.inf
        return BreakPoint(
            reach=float(np.nextafter(self._place(reach), self.path.start)) if reach < self._length else self.path.limit,
            flip=self._place(failing.distance) if flipped else None,
            witness=tuple(float(x) for x in failing.point) if flipped else None,
            column=failing.column if flipped else None,
            value=failing.value if flipped else None,
            boxes=state.boxes,
            close=min(failing.distance, self._length) - reach <= self._tolerance,
        )
