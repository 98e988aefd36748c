"""Intervals: where a margin holds over two inputs. A box and two of its inputs come in; a chart of cells goes out.

Cells that are decided whole stay whole; the others are quartered down to the resolution asked for.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from deadfront.intervals.bounding import Margin, Problem, batch_size, bounds, halved
from deadfront.intervals.rounding import Floats
from deadfront.intervals.search import Effort
from deadfront.intervals.witness import first_witness

HOLDS, UNDECIDED, FAILS = 1, 0, -1


@dataclass(frozen=True, slots=True)
class Chart:
    """A margin over two inputs, the others anywhere in their ranges.

    state         HOLDS: proved everywhere in the cell, whatever the others are. FAILS: proved that everywhere in the
                  cell the others can be such that it fails. UNDECIDED: neither; the boundary runs here  (cells, cells)
    least         smallest margin found with the first input, second input at the middle of the cell   (cells, cells)
    first_edges, second_edges   edges of the cells                                            (cells + 1,)
    boxes         boxes that were bounded

    The first input runs along the last axis of `state` and `least`, the second along the first axis.
    """

    state: NDArray[np.int8]
    least: Floats
    first_edges: Floats
    second_edges: Floats
    boxes: int


def chart(
    margin: Margin,
    box: tuple[Sequence[float], Sequence[float]],
    inputs: tuple[int, int],
    columns: int = 1,
    depth: int = 5,
    effort: Effort | None = None,
) -> Chart:
    """A chart of 2^depth by 2^depth cells.

    margin      as in `decide`
    box         lower and upper ends of all inputs
    inputs      the two that are charted, each with a width
    columns     operating cases; a cell holds only if all do
    effort      budget in boxes, for the whole chart; slack
    raises      ValueError: inputs that are no two different ones with a width
    """
    problem = Problem.of(margin, *box, columns)
    if len(set(inputs)) != 2 or not set(inputs) <= set(problem.moving):
        raise ValueError(f"inputs: expected two different inputs with a width, got {inputs}")
    if not 0 <= depth <= 10:
        raise ValueError(f"depth: expected 0 to 10, got {depth}")
    work = _Charting(problem, inputs, effort or Effort())
    cells, state, boxes = np.zeros((1, 2), dtype=np.int64), np.zeros((2**depth,) * 2, dtype=np.int8), 0
    for level in range(depth + 1):
        verdicts, used = work.decided(cells, level, _ROUNDS_LAST if level == depth else _ROUNDS, boxes)
        boxes += used
        side = 2 ** (depth - level)
        for (i, j), verdict in zip(cells, verdicts, strict=True):
            state[j * side : (j + 1) * side, i * side : (i + 1) * side] = verdict
        left = cells[verdicts == UNDECIDED]
        cells = (2 * left[:, None, :] + np.array([[0, 0], [1, 0], [0, 1], [1, 1]])).reshape(-1, 2)
        if not len(left) or boxes >= work.effort.budget:
            break
    edges = [np.linspace(problem.lower[i], problem.upper[i], 2**depth + 1) for i in inputs]
    return Chart(state, work.least(*edges), edges[0], edges[1], boxes)


_ROUNDS, _ROUNDS_LAST = 2, 6
"""Rounds of halving before a cell is quartered, and in the smallest cells."""
_CORNERS_UP_TO = 4  # all corners of up to this many other inputs are tried at the middle of each cell


@dataclass(frozen=True, slots=True)
class _Pieces:
    """Boxes cut from cells. known: proved bounds, plus infinity for columns that are done; cell: row of the cell."""

    lower: Floats
    upper: Floats
    known: Floats
    score: Floats
    cell: NDArray[np.int64]

    def taken(self, which: Any) -> _Pieces:
        """Some of the boxes."""
        return _Pieces(self.lower[which], self.upper[which], self.known[which], self.score[which], self.cell[which])

    def halved(self) -> _Pieces:
        """Each box in two."""
        lower, upper, origin = halved(self.lower, self.upper, self.score, 1)
        return _Pieces(lower, upper, self.known[origin], self.score[origin], self.cell[origin])


@dataclass(frozen=True, slots=True)
class _Charting:
    problem: Problem
    inputs: tuple[int, int]
    effort: Effort

    def decided(self, cells: NDArray[np.int64], level: int, rounds: int, spent: int) -> tuple[NDArray[np.int8], int]:
        """Verdict of each cell of one level, and the boxes it took."""
        lower, upper = self._boxes(cells, level)
        verdicts = np.full(len(cells), HOLDS, dtype=np.int8)  # to be taken back from cells with a box left over
        settled = np.zeros(len(cells), dtype=np.bool_)
        known = np.full((len(cells), self.problem.columns), -np.inf)
        pieces, used = _Pieces(lower, upper, known, upper - lower, np.arange(len(cells))), 0
        for turn in range(rounds):
            if turn:
                pieces = pieces.halved()
            if spent + used + len(pieces.cell) > self.effort.budget:
                break
            used += len(pieces.cell)
            pieces, failing = self._bounded(pieces)
            for row, point in failing.items():
                settled[row] = True
                verdicts[row] = self._verdict_where_failing(lower[row], upper[row], point)
            pieces = pieces.taken(np.flatnonzero(~settled[pieces.cell]))
            if not len(pieces.cell):
                break
        verdicts[pieces.cell] = UNDECIDED
        return verdicts, used

    def _bounded(self, pieces: _Pieces) -> tuple[_Pieces, dict[int, Floats]]:
        """The boxes that are not proved, and one failing point of each cell that has one."""
        batch, parts, failing = batch_size(self.problem, pieced=False), [], {}
        for first in range(0, len(pieces.cell), batch):
            part = pieces.taken(slice(first, first + batch))
            alive = part.known < np.inf
            found = bounds(self.problem, part.lower, part.upper, alive, -self.effort.slack)
            low = np.where(alive, np.maximum(found.low, part.known), np.inf)
            low = np.where(low >= -self.effort.slack, np.inf, low)
            for points in (0.5 * (found.lower + found.upper), found.downhill):
                fails = (~(self.problem.at(points) >= -self.effort.slack)).any(axis=1)
                failing.update({int(part.cell[row]): points[row] for row in np.flatnonzero(fails)})
            part = _Pieces(found.lower, found.upper, low, found.score, part.cell)
            parts.append(part.taken(np.flatnonzero((low < np.inf).any(axis=1))))
        names = ("lower", "upper", "known", "score", "cell")
        return _Pieces(*(np.concatenate([getattr(part, name) for part in parts]) for name in names)), failing

    def _verdict_where_failing(self, lower: Floats, upper: Floats, point: Floats) -> int:
        """FAILS if the other inputs, held at a failing point, make the margin fail everywhere in the cell."""
        charted = np.isin(np.arange(len(point)), self.inputs)
        high = self.problem.over(np.where(charted, lower, point)[None], np.where(charted, upper, point)[None])[1]
        return FAILS if (high < -self.effort.slack).any() else UNDECIDED

    def _boxes(self, cells: NDArray[np.int64], level: int) -> tuple[Floats, Floats]:
        lower, upper = np.tile(self.problem.lower, (len(cells), 1)), np.tile(self.problem.upper, (len(cells), 1))
        for k, i in enumerate(self.inputs):
            edges = np.linspace(self.problem.lower[i], self.problem.upper[i], 2**level + 1)
            lower[:, i], upper[:, i] = edges[cells[:, k]], edges[cells[:, k] + 1]
        return lower, upper

    def least(self, first: Floats, second: Floats) -> Floats:
        """Smallest margin found at the middle of each cell: other inputs at their middle, corners and worst point."""
        problem = self.problem
        others = [i for i in problem.moving if i not in self.inputs]
        corners = itertools.product((0.0, 1.0), repeat=min(len(others), _CORNERS_UP_TO))
        tries = [first_witness(problem).point, problem.lower + 0.5 * problem.width]
        for corner in corners:
            point = tries[0].copy()
            for i, share in zip(others, corner, strict=False):
                point[i] = problem.upper[i] if share else problem.lower[i]
            tries.append(point)
        middles = [0.5 * (edges[:-1] + edges[1:]) for edges in (first, second)]
        places = np.stack(np.meshgrid(*middles), axis=-1).reshape(-1, 2)
        found = np.full(len(places), np.inf)
        for point in tries:
            points = np.tile(point, (len(places), 1))
            points[:, self.inputs] = places
            found = np.minimum(found, problem.at(points).min(axis=1))
        return found.reshape(len(middles[1]), len(middles[0]))
