"""Intervals: what is certain about a margin on many boxes at once. Boxes come in; proved lower bounds go out.

A margin is a function of several inputs with one column per operating case; it holds where it is not below zero.
Three enclosures are taken and the best counts: ranges as they are; the face on which a margin must be least because
it rises or falls with an input everywhere in the box; the centre with slopes (mean-value form) for inputs whose
slopes are bounded but change sign. An input with a jump keeps its whole range.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from deadfront.intervals.gradient import Dual
from deadfront.intervals.interval import Interval, ends_of
from deadfront.intervals.rounding import Ends, Floats, exceptionally, raised
from deadfront.intervals.spacing import halfway
from deadfront.intervals.tags import CLASH, Pieces, Taken

Margin: TypeAlias = Callable[[Sequence[Any]], Any]
"""Takes one array per input, shape (boxes, 1): floats, ranges or gradients. Gives (boxes, columns) or broadcasts to it.

An input whose range has no width comes as a plain float.
"""

Flags: TypeAlias = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Problem:
    """A margin over a box.

    margin          the function
    lower, upper    ends of the inputs' ranges       (inputs,)
    columns         operating cases on the last axis
    """

    margin: Margin
    lower: Floats
    upper: Floats
    columns: int

    @classmethod
    def of(cls, margin: Margin, lower: Any, upper: Any, columns: int) -> Problem:
        """A problem from plain sequences; ValueError for a box that is none."""
        low, high = np.array(lower, dtype=np.float64), np.array(upper, dtype=np.float64)
        if low.ndim != 1 or low.shape != high.shape:
            raise ValueError(f"lower, upper: expected one number per input, got shapes {low.shape} and {high.shape}")
        if not (np.isfinite(low).all() and np.isfinite(high).all() and (low <= high).all()):
            raise ValueError("lower, upper: every range must be finite and its lower end not above its upper end")
        if columns < 1:
            raise ValueError(f"columns: expected at least 1, got {columns}")
        return cls(margin, low, high, columns)

    @property
    def width(self) -> Floats:
        """Widths of the ranges, (inputs,)."""
        return self.upper - self.lower

    @property
    def moving(self) -> list[int]:
        """Inputs whose range has a width."""
        return [int(i) for i in np.flatnonzero(self.width > 0.0)]

    def at(self, points: Floats) -> Floats:
        """Margins at points, plain floats; points (points, inputs), result (points, columns)."""
        with np.errstate(all="ignore"):  # a point outside a model gives NaN or infinity, and is judged by that
            result = self.margin([points[:, [i]] if self.width[i] > 0.0 else float(self.lower[i]) for i in self._all])
        return self._filled(np.asarray(result, dtype=np.float64), len(points))

    def over(self, lower: Floats, upper: Floats) -> Ends:
        """Ranges of the margins over boxes (boxes, inputs), each (boxes, columns)."""
        inputs = [self._range(lower, upper, i) for i in self._all]
        result = ends_of(exceptionally(lambda: self.margin(inputs)))
        return self._filled(result[0], len(lower)), self._filled(result[1], len(lower))

    def over_pieces(self, lower: Floats, upper: Floats, pieces: Pieces) -> Floats | None:
        """Lower bounds over boxes, each with its own piece of the waypoint's range; None where that proves nothing."""
        inputs = [self._range(lower, upper, i) for i in self._all]
        tagged = [x.tagged(pieces) if isinstance(x, Interval) else x for x in inputs]
        result = exceptionally(lambda: self.margin(tagged))
        if not isinstance(result, Interval) or result.tag is CLASH or not isinstance(result.tag, Taken):
            return None
        low = self._filled(result.lower, len(lower))
        return np.where(np.isnan(low), -np.inf, low)

    def slopes(self, lower: Floats, upper: Floats) -> tuple[Ends, Ends]:
        """Ranges of the margins and of their slopes, (boxes, columns) and (inputs, boxes, columns)."""
        inputs = [self._range(lower, upper, i) for i in self._all]
        duals = [Dual.variable(x, i) if isinstance(x, Interval) else x for i, x in enumerate(inputs)]
        result = exceptionally(lambda: self.margin(duals))
        low, high = np.zeros((2, len(inputs), len(lower), self.columns))
        if not isinstance(result, Dual):
            result = Dual(Interval.of_ends(ends_of(result)), (), Interval.of_ends((low[:0], high[:0])))
        for number in result.inputs:
            low[number], high[number] = result.slope_in(number).ends
        value = result.value
        return (self._filled(value.lower, len(lower)), self._filled(value.upper, len(lower))), (low, high)

    def past_waypoint(self, lower: Floats, upper: Floats, pieces: Pieces) -> Floats:
        """Steepest slopes in the inputs with the waypoint held in a piece of its range, (inputs, boxes, columns)."""
        inputs = [self._range(lower, upper, i) for i in self._all]
        duals = [Dual.variable(x.tagged(pieces), i) if isinstance(x, Interval) else x for i, x in enumerate(inputs)]
        result = exceptionally(lambda: self.margin(duals))
        steepest = np.zeros((len(inputs), len(lower), self.columns))
        for number in result.inputs if isinstance(result, Dual) else ():
            low, high = result.slope_in(number).ends
            steepest[number] = np.maximum(np.abs(low), np.abs(high))
        return steepest

    @property
    def _all(self) -> range:
        return range(len(self.lower))

    def _range(self, lower: Floats, upper: Floats, i: int) -> Any:
        if self.width[i] == 0.0:
            return float(self.lower[i])
        return Interval.of_ends((lower[:, [i]], upper[:, [i]]))

    def _filled(self, result: Floats, count: int) -> Floats:
        if result.ndim > 2:
            raise ValueError(f"margin: expected shape (boxes, columns) or broadcasting to it, got {result.shape}")
        return np.broadcast_to(result, (count, self.columns))


@dataclass(frozen=True, slots=True)
class Bounds:
    """What is known about boxes.

    low            proved lower bounds; minus infinity where nothing is known          (boxes, columns)
    lower, upper   the part of each box in which its least margins must lie            (boxes, inputs)
    score          how much each input moves the margins that are alive                (boxes, inputs)
    downhill       the corner to which the slopes point, of the worst column           (boxes, inputs)
    at_downhill    margins there                                                       (boxes, columns)
    pieces         pieces of a waypoint's range that were bounded; with any, better few boxes at a time
    """

    low: Floats
    lower: Floats
    upper: Floats
    score: Floats
    downhill: Floats
    at_downhill: Floats
    pieces: int

    @property
    def work(self) -> int:
        """What bounding took, in boxes: four pieces, which need no slopes, cost about one."""
        return len(self.low) + self.pieces // 4


def bounds(
    problem: Problem, lower: Floats, upper: Floats, alive: Flags, enough: float, keep: Sequence[int] = ()
) -> Bounds:
    """Bounds of the margins over boxes.

    lower, upper   boxes                                           (boxes, inputs)
    alive          columns that still matter in each box           (boxes, columns)
    enough         bound above which a column needs no better one
    keep           inputs whose range must not shrink to a face
    """
    value, slope = problem.slopes(lower, upper)
    unknown = np.isnan(value[0])
    rising = (slope[0] >= 0.0) | ~alive
    falling = (slope[1] <= 0.0) | ~alive
    sure: Flags = ~np.any(unknown & alive, axis=1)
    up: Flags = rising.all(axis=2).T & sure[:, None]  # (boxes, inputs), as all that follow
    down: Flags = falling.all(axis=2).T & sure[:, None]
    steepest = np.maximum(np.abs(slope[0]), np.abs(slope[1]))
    bounded: Flags = np.isfinite(np.where(alive, steepest, 0.0)).all(axis=2).T & sure[:, None]
    face_low = np.where(down & ~up, upper, lower)
    face_high = np.where(up, lower, upper)
    low = np.where(unknown, -np.inf, value[0])
    if ((bounded | up | down) & (lower < upper)).any():
        better = _from_centre(problem, face_low, face_high, bounded, steepest)
        low = np.where(unknown, -np.inf, np.maximum(low, better))
    held = np.isin(np.arange(lower.shape[1]), list(keep))
    new_lower, new_upper = np.where(held, lower, face_low), np.where(held, upper, face_high)
    score = _score(problem, new_upper - new_lower, np.where(alive, steepest, 0.0), value, alive)
    box = new_lower, new_upper
    downhill = _downhill(lower, upper, slope, low, alive)
    at_downhill = problem.at(downhill)
    # A column that fails at a point of the box can be proved by nothing: do not spend pieces on it.
    hopeful = alive & ~unknown & ~(at_downhill < enough)
    pieces = in_pieces(problem, (face_low, face_high), low, hopeful, enough)
    if pieces is not None:
        low = np.where(unknown, low, np.maximum(low, pieces.low))
        score = _past_waypoint(problem, box, pieces, alive & (low < enough), score)
    return Bounds(low, *box, score, downhill, at_downhill, 0 if pieces is None else pieces.count)


def batch_size(problem: Problem, *, pieced: bool) -> int:
    """Boxes of a round: enough to make numpy fast, few enough to stay in the cache, or to leave room for pieces."""
    return _PIECED_BATCH if pieced else max(16, _ELEMENTS // (problem.columns * len(problem.moving)))


_ELEMENTS = 49_152
"""Boxes times columns times inputs of a round: the size of an array of slopes."""
_PIECED_BATCH = 16


def _from_centre(problem: Problem, lower: Floats, upper: Floats, bounded: Flags, steepest: Floats) -> Floats:
    """Lower bounds from the centre in every input with bounded slopes, and the full range in the others."""
    middle = np.where(bounded, lower + 0.5 * (upper - lower), lower)
    radius = np.where(bounded, raised(np.maximum(upper - middle, middle - lower)), 0.0)
    centre = problem.over(middle, np.where(bounded, middle, upper))[0]
    drop = np.zeros_like(centre)
    for i in np.flatnonzero(radius.any(axis=0)):
        reach = np.where(radius[:, [i]] > 0.0, steepest[i], 0.0)  # a column that is not alive may be without bound
        drop = raised(drop + raised(radius[:, [i]] * reach))
    with np.errstate(invalid="ignore"):
        low = np.nextafter(centre - drop, -np.inf)
    return np.where(np.isnan(low), -np.inf, low)


@dataclass(frozen=True, slots=True)
class InPieces:
    """What taking the waypoint's range in pieces gives.

    low           proved lower bounds                                           (boxes, columns)
    start, end    shares of the range between which pieces are left undecided   (boxes,)
    count         pieces that were bounded
    """

    low: Floats
    start: Floats
    end: Floats
    count: int


def in_pieces(problem: Problem, box: Ends, low: Floats, alive: Flags, enough: float) -> InPieces | None:
    """Lower bounds with the waypoint's range taken in pieces, and the pieces that matter in pieces again.

    None where no box needs it, or the formula has no waypoint.
    """
    rows = np.flatnonzero((alive & (low < enough)).any(axis=1))
    start, size, count = np.zeros(len(rows)), 1.0, 0
    found = np.where(np.isin(np.arange(len(low)), rows)[:, None], np.inf, low)
    first, end = np.ones(len(low)), np.zeros(len(low))
    for level in range(_LEVELS):
        if not len(rows):
            return None if level == 0 else InPieces(found, first, end, count)
        size /= _PIECES
        start = np.repeat(start, _PIECES) + np.tile(size * np.arange(_PIECES), len(start))
        rows = np.repeat(rows, _PIECES)
        pieces = Pieces(start[:, None], start[:, None] + size)
        piece_low = problem.over_pieces(box[0][rows], box[1][rows], pieces)
        if piece_low is None:
            return None
        count += len(rows)
        open_ = (alive[rows] & (piece_low < enough)).any(axis=1)
        last = level == _LEVELS - 1 or np.count_nonzero(open_) * problem.columns > _MOST_ELEMENTS
        done = np.ones_like(open_) if last else ~open_
        np.minimum.at(found, rows[done], piece_low[done])
        np.minimum.at(first, rows[done & open_], start[done & open_])
        np.maximum.at(end, rows[done & open_], start[done & open_] + size)
        rows, start = rows[~done], start[~done]
    return InPieces(found, first, end, count)


_PIECES, _LEVELS = 8, 6
"""Pieces of a range, and how often the pieces that matter are taken in pieces again: 8⁶ = 262 144 at the finest."""
_MOST_ELEMENTS = 16_384
"""Pieces times columns beyond which halving the boxes is cheaper than finer pieces."""


def _past_waypoint(problem: Problem, box: Ends, pieces: InPieces, open_: Flags, score: Floats) -> Floats:
    """Scores by what an input moves besides the waypoint, for boxes that pieces alone did not decide.

    In one of three generations the input's whole influence counts: the waypoint's own range may be what is too wide.
    """
    rows = np.flatnonzero(open_.any(axis=1) & (pieces.start < pieces.end))
    if not len(rows):
        return score
    lower, upper = box[0][rows], box[1][rows]
    held = Pieces(pieces.start[rows, None], pieces.end[rows, None])
    steepest = np.where(open_[rows], problem.past_waypoint(lower, upper, held), 0.0)
    with np.errstate(invalid="ignore"):
        moved = np.where((upper - lower).T[:, :, None] > 0.0, (upper - lower).T[:, :, None] * steepest, 0.0)
    past = np.minimum(moved.max(axis=2).T, np.finfo(np.float64).max / 4.0)
    share = np.where(upper > lower, problem.width / np.where(upper > lower, upper - lower, 1.0), 1.0)
    generation = np.rint(np.log2(share).sum(axis=1))
    use = (past > 0.0).any(axis=1) & (np.mod(generation, 3.0) != 2.0)
    score = score.copy()
    score[rows[use]] = past[use]
    return score


def _score(problem: Problem, width: Floats, steepest: Floats, value: Ends, alive: Flags) -> Floats:
    """How much an input can move the margin: its width times its steepest slope.

    Where the slope has no bound, the spread of the margin stands for the jump, times the share of the input's whole
    range that the box still has: a thin box across a jump is split in other inputs first.
    """
    with np.errstate(invalid="ignore"):
        moved = np.where(width.T[:, :, None] > 0.0, width.T[:, :, None] * steepest, 0.0).max(axis=2).T
        spread = np.where(alive, value[1] - value[0], 0.0)
    largest = np.finfo(np.float64).max / 4.0
    spread = np.minimum(np.where(np.isnan(spread), largest, spread), largest).max(axis=1)[:, None]
    share = width / np.where(problem.width > 0.0, problem.width, 1.0)
    # A box of which nothing is known, and no slope says why, is halved along its widest share.
    blind = ~(moved > 0.0).any(axis=1)[:, None]
    score: Floats = np.where(np.isinf(moved) | blind, spread * share, np.minimum(moved, largest))
    return score


def _downhill(lower: Floats, upper: Floats, slope: Ends, low: Floats, alive: Flags) -> Floats:
    """Corner to which the slopes of the worst column point; the middle where they do not say."""
    worst = np.where(alive, low, np.inf).argmin(axis=1)
    rows = np.arange(len(lower))
    steep_low, steep_high = slope[0][:, rows, worst].T, slope[1][:, rows, worst].T
    with np.errstate(invalid="ignore"):
        middle = steep_low + steep_high
    corner = np.where(middle > 0.0, lower, np.where(middle < 0.0, upper, 0.5 * (lower + upper)))
    return np.where(np.isnan(middle), 0.5 * (lower + upper), corner)


def halved(lower: Floats, upper: Floats, score: Floats, times: int) -> tuple[Floats, Floats, NDArray[np.intp]]:
    """Boxes halved `times` times along the inputs of greatest score; also which box each half came from."""
    origin, score = np.arange(len(lower)), score.copy()
    for _ in range(times):
        along = score.argmax(axis=1)
        rows = np.arange(len(lower))
        cut = halfway(lower[rows, along], upper[rows, along])
        first_upper, second_lower = upper.copy(), lower.copy()
        first_upper[rows, along], second_lower[rows, along] = cut, cut
        score[rows, along] *= 0.5
        lower, upper = np.concatenate([lower, second_lower]), np.concatenate([first_upper, upper])
        score, origin = np.concatenate([score, score]), np.concatenate([origin, origin])
    return lower, upper, origin
