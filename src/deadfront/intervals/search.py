"""Intervals: whether a margin holds over a whole box. A margin and ranges come in; a proved verdict goes out.

Branch and bound: boxes are bounded, dropped where they can hold nothing worse than what is known, and halved where
they can. All boxes of a round and all operating cases are worked on at once. The same input gives the same boxes.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

from deadfront.intervals.bounding import Flags, Margin, Problem, batch_size, bounds, halved
from deadfront.intervals.rounding import Floats
from deadfront.intervals.witness import Witness, first_witness, improved

Verdict = Literal["shown", "refuted", "undecided"]


class ContradictionError(ArithmeticError):
    """A point lies below the proved bound: the margin is no pure function of its inputs, or the proof engine errs."""

    def __init__(self, bound: float, value: float, witness: tuple[float, ...]) -> None:
        super().__init__(
            f"margin: proved to be at least {bound!r}, but it is {value!r} at {witness!r}: "
            "it must be a pure function of its inputs, made of functions that ranges have"
        )


@dataclass(frozen=True, slots=True)
class Effort:
    """How hard to try.

    budget       boxes that may be bounded before an undecided verdict is given
    refinement   boxes that may be bounded, once the verdict stands, to bring the worst case near its bound
    tolerance    gap between worst case and bound that is small enough, as a share of `scale` or of the worst case
    scale        size of a margin that counts as one; margins that are shares of a limit have 1
    slack        deficit that counts as rounding: a margin of -slack still holds. Zero: none.
    """

    budget: int = 50_000
    refinement: int = 2_000
    tolerance: float = 1e-3
    scale: float = 1.0
    slack: float = 0.0

    def __post_init__(self) -> None:
        for name in ("budget", "refinement", "tolerance", "scale", "slack"):
            if not getattr(self, name) >= 0:
                raise ValueError(f"{name}: expected at least 0, got {getattr(self, name)!r}")

    def allowed_gap(self, value: float) -> float:
        """Gap that is small enough beside a worst case."""
        return self.tolerance * max(self.scale, abs(value)) if np.isfinite(value) else 0.0


@dataclass(frozen=True, slots=True)
class Decision:
    """A verdict over a box, and the worst case.

    verdict       shown: proved not below zero (less the slack) everywhere. refuted: below at `witness`. else undecided
    bound         proved: no point of the box has a smaller margin; minus infinity where nothing is proved
    value         margin at `witness`, the worst point found; infinity where no point gave a number
    witness       one number per input
    column        operating case of the worst point
    outside       a point and column at which the margin is NaN: the model does not hold there; never shown then
    gap           value less bound: how far the true worst case may lie below the one found
    boxes         boxes that were bounded, and pieces of a waypoint's range, four to a box
    influence     share of each input in what is left to decide, or else in what moves the margin; sums to 1 or is 0
    """

    verdict: Verdict
    bound: float
    value: float
    witness: tuple[float, ...]
    column: int
    outside: tuple[tuple[float, ...], int] | None
    gap: float
    boxes: int
    influence: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class _Pool:
    """Boxes that are still of interest.

    low     proved lower bounds; plus infinity for columns that are done    (boxes, columns)
    """

    lower: Floats
    upper: Floats
    low: Floats
    score: Floats

    def __len__(self) -> int:
        return len(self.lower)

    @property
    def worst(self) -> Floats:
        """Least bound of each box."""
        least: Floats = self.low.min(axis=1)
        return least

    def taken(self, which: Any) -> _Pool:
        """Some of the boxes."""
        return _Pool(self.lower[which], self.upper[which], self.low[which], self.score[which])

    def joined(self, other: _Pool) -> _Pool:
        """Both sets of boxes."""
        return _Pool(
            np.concatenate([self.lower, other.lower]),
            np.concatenate([self.upper, other.upper]),
            np.concatenate([self.low, other.low]),
            np.concatenate([self.score, other.score]),
        )


@dataclass(frozen=True, slots=True)
class _State:
    """Where a search stands: open boxes, least bound of all that was dropped, worst point, boxes bounded so far.

    pieced   whether the last boxes were taken in pieces
    """

    pool: _Pool
    dropped: float
    witness: Witness
    boxes: int
    pieced: bool = False

    @property
    def bound(self) -> float:
        """Proved lower bound over the whole box."""
        return float(min(self.pool.worst.min(initial=np.inf), self.dropped))


def decide(
    margin: Margin,
    lower: Sequence[float],
    upper: Sequence[float],
    columns: int = 1,
    effort: Effort | None = None,
    within: tuple[Floats, Floats] | None = None,
    used_up: Callable[[], bool] | None = None,
) -> Decision:
    """Whether a margin is not below zero everywhere in a box, in every column.

    margin         takes one array per input, (boxes, 1), gives (boxes, columns); see `Margin`
    lower, upper   ends of the ranges of the inputs; equal ends: a constant
    columns        operating cases
    effort         budget and tolerances
    within         lower and upper ends of the parts of the box that are asked about, (boxes, inputs); all of it if none
                   are given. Points are tried in the whole box; the bound is of these parts
    used_up        asked before each round: whether a budget beside that of the effort is used up
    raises         ValueError: a box that is none, a margin of another shape; TypeError: a function ranges do not have
    """
    return _Search(Problem.of(margin, lower, upper, columns), effort or Effort(), True, within, used_up).run()


def least(
    margin: Margin, lower: Sequence[float], upper: Sequence[float], columns: int = 1, effort: Effort | None = None
) -> Decision:
    """Least value of a function over a box to within a tolerance: `bound` <= least value <= `value`, whatever its sign.

    Arguments as in `decide`, but without an effort the tolerance is a share of the value alone. The greatest value is
    the least of the negative. The verdict has one meaning here: undecided when the gap is wider than the tolerance or
    a point lies outside the model, else shown.
    """
    chosen = effort or Effort(scale=0.0)
    found = _Search(Problem.of(margin, lower, upper, columns), chosen, False).run()
    close = found.outside is None and found.gap <= chosen.allowed_gap(found.value)
    return replace(found, verdict="shown" if close else "undecided")


_TIMES = 5
"""A few boxes are halved this often in one round, so that a search does not crawl up from one box."""
_NOISE = 1e-9
"""Far above what the floats of a formula can lose, far below any gap that matters."""
_THIN = 2.0**-40
"""Share of the whole range below which halving a box decides nothing that floats can tell apart."""


@dataclass(frozen=True, slots=True)
class _Search:
    """One search. `target`: whether the sign of the margin is asked, or its least value; the others as in `decide`."""

    problem: Problem
    effort: Effort
    target: bool
    within: tuple[Floats, Floats] | None = None
    used_up: Callable[[], bool] | None = None

    def run(self) -> Decision:
        """Bound the whole box, then halve and bound until verdict and worst case stand, or the budget is used."""
        problem, witness = self.problem, first_witness(self.problem)
        nothing = np.zeros((0, len(problem.lower)))
        pool = _Pool(nothing, nothing, np.zeros((0, problem.columns)), nothing)
        if not problem.moving:
            bound = witness.value if witness.outside is None else -np.inf
            return self._decision(_State(pool, bound, witness, 0), np.zeros(0))
        lower, upper = self.within or (problem.lower[None], problem.upper[None])
        state = self._first(_State(pool, np.inf, witness, 0), lower, upper)
        first_score, decided_at = state.pool.score, None
        while len(state.pool) and state.witness.value > -np.inf:
            if decided_at is None and self.target and self._verdict(state) != "undecided":
                decided_at = state.boxes
            if state.boxes >= (self.effort.budget if decided_at is None else decided_at + self.effort.refinement):
                break
            if self.used_up is not None and self.used_up():
                break
            state = self._round(state)
        return self._decision(state, state.pool.score if len(state.pool) else first_score)

    def _first(self, state: _State, lower: Floats, upper: Floats) -> _State:
        """Bound the boxes that are asked about, a batch at a time; those beyond the budget stay unknown."""
        batch, unknown = batch_size(self.problem, pieced=False), np.full((len(lower), self.problem.columns), -np.inf)
        for start in range(0, len(lower), batch):
            part = slice(start, start + batch)
            if start and (state.boxes >= self.effort.budget or (self.used_up is not None and self.used_up())):
                rest = slice(start, None)
                pool = _Pool(lower[rest], upper[rest], unknown[rest], upper[rest] - lower[rest])
                return replace(state, pool=state.pool.joined(pool))
            state = self._bounded(state, lower[part], upper[part], unknown[part])
        return state

    def _round(self, state: _State) -> _State:
        """Halve the boxes with the least bounds and bound the halves."""
        batch = batch_size(self.problem, pieced=state.pieced)
        order = np.argsort(state.pool.worst, kind="stable")
        chosen, rest = state.pool.taken(order[: batch // 2]), state.pool.taken(order[batch // 2 :])
        times = 1
        while len(chosen) * 2 ** (times + 1) <= batch and times < _TIMES:
            times += 1
        lower, upper, origin = halved(chosen.lower, chosen.upper, chosen.score, times)
        return self._bounded(replace(state, pool=rest), lower, upper, chosen.low[origin])

    def _bounded(self, state: _State, lower: Floats, upper: Floats, known: Floats) -> _State:
        """Bound boxes, try points in them, and keep those that can hold something worse than what is known.

        `known` holds the bounds of the boxes they were cut from, plus infinity for columns that are done.
        """
        alive = known < np.inf
        found = bounds(self.problem, lower, upper, alive, self._enough(state.witness))
        low = np.where(alive, np.maximum(found.low, known), np.inf)
        middle = 0.5 * (found.lower + found.upper)
        at_middle = self.problem.at(middle)
        witness = state.witness.tried(middle, at_middle).tried(found.downhill, found.at_downhill)
        if witness.value < state.witness.value - self.effort.allowed_gap(witness.value):
            witness = improved(self.problem, witness)
        # Halving ends where the model does not hold at the middle, and in boxes as thin as floats can tell apart.
        hole = np.isnan(at_middle) & alive
        thin: Flags = alive & np.all(found.upper - found.lower <= _THIN * self.problem.width, axis=1)[:, None]
        dropped = min(state.dropped, -np.inf if hole.any() else np.inf, float(low[thin].min(initial=np.inf)))
        new = _Pool(found.lower, found.upper, np.where(hole | thin, np.inf, low), found.score)
        pool, sifted = self._sifted(state.pool.joined(new), witness)
        return _State(pool, min(dropped, sifted), witness, state.boxes + found.work, found.pieces > 0)

    def _sifted(self, pool: _Pool, witness: Witness) -> tuple[_Pool, float]:
        """The pool without what cannot be worse than what is known, and the least bound of what was dropped."""
        enough = self._enough(witness)
        done = pool.low >= enough
        dropped = float(np.where(done, pool.low, np.inf).min(initial=np.inf))
        pool = replace(pool, low=np.where(done, np.inf, pool.low))
        return pool.taken(np.flatnonzero((pool.low < np.inf).any(axis=1))), dropped

    def _asked_about(self, point: Floats) -> bool:
        """Whether a point lies in a part that the bound is of."""
        if self.within is None:
            return True
        return bool(((self.within[0] <= point) & (point <= self.within[1])).all(axis=1).any())

    def _enough(self, witness: Witness) -> float:
        """Bound above which a box can hold nothing of interest."""
        enough = witness.value - self.effort.allowed_gap(witness.value)
        if self.target and witness.value >= -self.effort.slack:
            enough = max(enough, -self.effort.slack)  # not refuted: whatever may lie below zero matters
        return enough

    def _verdict(self, state: _State) -> Verdict:
        if state.witness.value < -self.effort.slack:
            return "refuted"
        return "shown" if state.witness.outside is None and state.bound >= -self.effort.slack else "undecided"

    def _decision(self, state: _State, score: Floats) -> Decision:
        witness, bound = state.witness, min(state.bound, state.witness.value)
        noise = _NOISE * max(self.effort.scale, abs(witness.value))
        if state.bound > witness.value + noise and self._asked_about(witness.point):
            raise ContradictionError(state.bound, witness.value, _plain(witness.point))
        outside = None if witness.outside is None else (_plain(witness.outside[0]), witness.outside[1])
        return Decision(
            verdict=self._verdict(state),
            bound=bound,
            value=witness.value,
            witness=_plain(witness.point),
            column=witness.column,
            outside=outside,
            gap=0.0 if witness.value == bound else witness.value - bound,
            boxes=state.boxes,
            influence=_shares(score, len(self.problem.lower)),
        )


def _plain(point: Floats) -> tuple[float, ...]:
    return tuple(float(x) for x in point)


def _shares(score: Floats, count: int) -> tuple[float, ...]:
    """Share of each input in the scores of some boxes."""
    if not score.any():
        return (0.0,) * count
    total = (score / score.max()).sum(axis=0)
    return _plain(total / total.sum())
