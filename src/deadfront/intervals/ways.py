"""Intervals: how far several inputs may move, each alone. A box and ways out of it come in; proved reaches go out.

The boxes of all ways are bounded together, since a formula costs much the same on one box as on a hundred. In each way
the nearest box that is not yet proved goes first; the nearest point known to fail closes in from the other side.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from deadfront.intervals.bounding import Flags, Margin, Problem, batch_size, bounds, halved
from deadfront.intervals.rounding import Floats
from deadfront.intervals.search import Effort


@dataclass(frozen=True, slots=True)
class Way:
    """One input on its way out of a box, while all others stay anywhere in their ranges.

    input      number of the input
    start      where the proof begins; its own range in the box does not matter
    limit      where it ends
    enough     distance from the start beyond which nothing need be proved; infinite: all as far as the limit
    tolerance  distance between what is proved and what fails that is small enough
    """

    input: int
    start: float
    limit: float
    enough: float
    tolerance: float

    @property
    def length(self) -> float:
        """Distance from start to limit."""
        return abs(self.limit - self.start)

    def place(self, distance: float) -> float:
        """Coordinate at a distance from the start."""
        if distance >= self.length:
            return self.limit
        return self.start + distance if self.limit > self.start else self.start - distance


@dataclass(frozen=True, slots=True)
class Reached:
    """How far an input may move.

    reach     proved: the margin holds from the start up to here, reach itself not included unless it is the limit
    flip      nearest place found at which it does not hold (or at which the model ends); None: none was found
    witness   the whole point at the flip
    boxes     boxes that were bounded
    """

    reach: float
    flip: float | None
    witness: tuple[float, ...] | None
    boxes: int


def ways_out(
    margin: Margin,
    box: tuple[Floats, Floats],
    ways: Sequence[Way],
    alive: NDArray[np.bool_],
    effort: Effort,
) -> list[Reached]:
    """Largest proved move along each way, and where the margin first fails.

    margin   as in `decide`
    box      lower and upper ends of all inputs
    alive    columns that matter on each way                  (ways, columns)
    effort   boxes for each way; slack
    raises   ValueError: no such input, or a way without length
    """
    for way in ways:
        if not 0 <= way.input < len(box[0]):
            raise ValueError(f"input: expected 0 to {len(box[0]) - 1}, got {way.input}")
        if not (np.isfinite(way.start) and np.isfinite(way.limit) and way.start != way.limit):
            raise ValueError(f"limit: expected a finite end away from the start {way.start!r}, got {way.limit!r}")
    lower, upper = box[0].copy(), box[1].copy()
    for way in ways:
        lower[way.input] = min(lower[way.input], way.start, way.limit)
        upper[way.input] = max(upper[way.input], way.start, way.limit)
    problem = Problem.of(margin, lower, upper, alive.shape[1])
    return _Search(problem, ways, alive, box, effort).run()


_CUTS = 8
"""Pieces of a way that are bounded first."""
_LINE = 33
"""Points along a way between its start and a failing point."""
_TIMES = 3
"""Halvings of a box before it is bounded again, at most."""
_PIECED_BATCH = 64
"""Boxes of a round whose waypoint is taken in pieces."""
_THIN = 2.0**-40
"""Share of the whole range below which floats cannot tell halves apart."""


@dataclass(slots=True)
class _Pool:
    """Boxes not yet proved. low: bounds, plus infinity for columns that are done; way: number of the way."""

    lower: Floats
    upper: Floats
    low: Floats
    score: Floats
    way: NDArray[np.intp]

    def taken(self, which: Any) -> _Pool:
        """Some of the boxes."""
        return _Pool(self.lower[which], self.upper[which], self.low[which], self.score[which], self.way[which])

    def joined(self, other: _Pool) -> _Pool:
        """Both sets of boxes."""
        pairs = ((getattr(self, name), getattr(other, name)) for name in ("lower", "upper", "low", "score", "way"))
        return _Pool(*(np.concatenate(pair) for pair in pairs))


class _Search:
    """One search along all ways. What it knows of each way stands in arrays over the ways.

    failing    distance of the nearest failing point, and the point
    unproved   distance of the nearest box that was given up
    used       boxes that were bounded
    """

    def __init__(
        self,
        problem: Problem,
        ways: Sequence[Way],
        alive: NDArray[np.bool_],
        box: tuple[Floats, Floats],
        effort: Effort,
    ) -> None:
        self.problem, self.ways, self.alive, self.box, self.effort = problem, ways, alive, box, effort
        self.input = np.array([way.input for way in ways])
        self.start = np.array([way.start for way in ways])
        self.upward = np.array([way.limit > way.start for way in ways])
        self.enough = np.array([way.enough for way in ways])
        self.tolerance = np.array([way.tolerance for way in ways])
        self.failing = np.full(len(ways), np.inf)
        self.points = np.zeros((len(ways), len(problem.lower)))
        self.unproved = np.full(len(ways), np.inf)
        self.used = np.zeros(len(ways))
        self.pieced = False

    def run(self) -> list[Reached]:
        """Bound pieces of each way, then halve the nearest, until all is proved, failing, or the budget is used."""
        pool = self._bounded(*self._first())
        while len(pool.way):
            spent = self.used[pool.way] >= self.effort.budget
            self._give_up(pool.taken(spent))
            pool = pool.taken(~spent)
            if len(pool.way):
                pool = self._round(pool)
        return [self._result(number) for number in range(len(self.ways))]

    def _first(self) -> tuple[Floats, Floats, Floats, NDArray[np.intp]]:
        """Pieces of every way with the other inputs over their whole ranges."""
        lower = np.repeat(self.box[0][None], len(self.ways) * _CUTS, axis=0)
        upper = np.repeat(self.box[1][None], len(self.ways) * _CUTS, axis=0)
        for number, way in enumerate(self.ways):
            places = np.linspace(way.start, way.limit, _CUTS + 1)
            rows = slice(number * _CUTS, (number + 1) * _CUTS)
            lower[rows, way.input] = np.minimum(places[:-1], places[1:])
            upper[rows, way.input] = np.maximum(places[:-1], places[1:])
        numbers = np.repeat(np.arange(len(self.ways)), _CUTS)
        return lower, upper, np.where(self.alive[numbers], -np.inf, np.inf), numbers

    def _round(self, pool: _Pool) -> _Pool:
        """Halve and bound the nearest boxes of each way, equally many of each."""
        batch = _PIECED_BATCH if self.pieced else batch_size(self.problem, pieced=False)
        order = np.lexsort((pool.low.min(axis=1), self._near(pool.lower, pool.upper, pool.way), pool.way))
        pool = pool.taken(order)
        rank = np.arange(len(pool.way)) - np.searchsorted(pool.way, pool.way)
        ways = len(np.unique(pool.way))
        first = rank < max(1, batch // (2 * ways))
        chosen, rest = pool.taken(first), pool.taken(~first)
        times = 1
        while len(chosen.way) * 2 ** (times + 1) <= batch and times < _TIMES:
            times += 1
        lower, upper, origin = halved(chosen.lower, chosen.upper, chosen.score, times)
        return self._kept(rest).joined(self._bounded(lower, upper, chosen.low[origin], chosen.way[origin]))

    def _bounded(self, lower: Floats, upper: Floats, known: Floats, way: NDArray[np.intp]) -> _Pool:
        """Bound boxes and try points in them; those that are neither proved nor too far come back."""
        batch = batch_size(self.problem, pieced=False)
        parts = [
            self._part(lower[k : k + batch], upper[k : k + batch], known[k : k + batch], way[k : k + batch])
            for k in range(0, len(way), batch)
        ]
        pool = parts[0]
        for part in parts[1:]:
            pool = pool.joined(part)
        return self._kept(pool)

    def _part(self, lower: Floats, upper: Floats, known: Floats, way: NDArray[np.intp]) -> _Pool:
        """One batch of boxes, bounded; each keeps its range along its way."""
        alive = known < np.inf
        found = bounds(self.problem, lower, upper, alive, -self.effort.slack)
        self.pieced = self.pieced or found.pieces > 0
        low = np.where(alive, np.maximum(found.low, known), np.inf)
        low = np.where(low >= -self.effort.slack, np.inf, low)
        open_ = np.asarray((low < np.inf).any(axis=1))
        self._count(way, open_, found.work - len(way))
        middle = 0.5 * (found.lower + found.upper)
        at_middle = self.problem.at(middle)
        self._try(middle, at_middle, way)
        self._try(found.downhill, found.at_downhill, way)
        rows, along = np.arange(len(way)), self.input[way]
        nearest = middle.copy()
        nearest[rows, along] = np.where(self.upward[way], lower[rows, along], upper[rows, along])
        self._try(nearest, self.problem.at(nearest), way)
        fails = np.asarray((~(np.minimum(at_middle, found.at_downhill) >= -self.effort.slack) & alive).any(axis=1))
        score = self._score(found.score, (found.lower, found.upper), fails, along)
        new_lower, new_upper = found.lower.copy(), found.upper.copy()
        new_lower[rows, along], new_upper[rows, along] = lower[rows, along], upper[rows, along]
        return _Pool(new_lower, new_upper, low, score, way).taken(open_)

    def _count(self, way: NDArray[np.intp], open_: Flags, pieces: int) -> None:
        """Note the work of a batch; pieces of a waypoint's range are put down to the boxes that they did not decide."""
        np.add.at(self.used, way, 1.0)
        took = open_ if open_.any() else np.ones_like(open_)
        np.add.at(self.used, way[took], pieces / np.count_nonzero(took))

    def _score(self, score: Floats, face: tuple[Floats, Floats], fails: Flags, along: NDArray[np.intp]) -> Floats:
        """Scores, also along the way where the margin is least on one side of the box.

        If a point there fails, only a shorter piece of the way can be proved; if none does, the enclosure is too wide.
        """
        rows, score = np.arange(len(along)), score.copy()
        flat = face[0][rows, along] == face[1][rows, along]
        first = 2.0 * score.max(axis=1) + np.finfo(np.float64).tiny
        score[rows, along] = np.where(flat, np.where(fails, first, 0.0), score[rows, along])
        blind = ~(score > 0.0).any(axis=1)
        score[blind, along[blind]] = 1.0
        return score

    def _kept(self, pool: _Pool) -> _Pool:
        """The boxes that are worth following; the others are given up."""
        near = self._near(pool.lower, pool.upper, pool.way)
        far = near >= np.minimum(self.enough, self.failing - self.tolerance)[pool.way]
        thin = ((pool.upper - pool.lower) <= _THIN * self.problem.width).all(axis=1)
        self._give_up(pool.taken(far | thin))
        return pool.taken(~(far | thin))

    def _give_up(self, pool: _Pool) -> None:
        np.minimum.at(self.unproved, pool.way, self._near(pool.lower, pool.upper, pool.way))

    def _near(self, lower: Floats, upper: Floats, way: NDArray[np.intp]) -> Floats:
        """Distance of the nearest side of boxes from the start of their way."""
        rows, along = np.arange(len(way)), self.input[way]
        near: Floats = np.where(
            self.upward[way], lower[rows, along] - self.start[way], self.start[way] - upper[rows, along]
        )
        return near

    def _try(self, points: Floats, margins: Floats, way: NDArray[np.intp]) -> None:
        """Nearest failing points of each way, after following the line from the start to each that is nearer."""
        improved = self._nearer(points, margins, way)
        while len(improved):
            before = self.failing[improved].copy()
            lines = np.repeat(self.points[improved], _LINE, axis=0)
            number = np.repeat(improved, _LINE)
            ends = self.points[improved, self.input[improved]]
            lines[np.arange(len(number)), self.input[number]] = np.linspace(self.start[improved], ends, _LINE).T.ravel()
            again = self._nearer(lines, self.problem.at(lines), number)
            gained = before - self.failing[improved] > 0.25 * self.tolerance[improved]
            improved = np.intersect1d(again, improved[gained])

    def _nearer(self, points: Floats, margins: Floats, way: NDArray[np.intp]) -> NDArray[np.intp]:
        """Take in failing points that are nearer than those known; the ways that got one."""
        fails = ((~(margins >= -self.effort.slack)) & self.alive[way]).any(axis=1)
        rows = np.flatnonzero(fails)
        distance = np.abs(points[rows, self.input[way[rows]]] - self.start[way[rows]])
        order = np.lexsort((distance, way[rows]))
        rows, distance = rows[order], distance[order]
        numbers, first = np.unique(way[rows], return_index=True)
        nearer = distance[first] < self.failing[numbers]
        closer: NDArray[np.intp] = numbers[nearer]
        self.failing[closer], self.points[closer] = distance[first[nearer]], points[rows[first[nearer]]]
        return closer

    def _result(self, number: int) -> Reached:
        way, failing = self.ways[number], float(self.failing[number])
        reach = min(float(self.unproved[number]), failing, way.length)
        flipped = failing < np.inf
        return Reached(
            reach=float(np.nextafter(way.place(reach), way.start)) if reach < way.length else way.limit,
            flip=way.place(failing) if flipped else None,
            witness=tuple(float(x) for x in self.points[number]) if flipped else None,
            boxes=int(np.ceil(self.used[number])),
        )
