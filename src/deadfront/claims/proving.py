"""Claims: whether a claim holds everywhere in its box. Makers of terms come in; a proof and its worst point go out."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from deadfront.claims.boxes import sample
from deadfront.claims.field import Field, Tried, Worst, margins, order
from deadfront.claims.halving import (
    WILD,
    Left,
    Purse,
    State,
    bounded_by_asking,
    bounded_in_halves,
    bounded_in_pieces,
    hold,
)
from deadfront.intervals import Decision, Effort, Problem, decide, first_witness
from deadfront.physics.types import Array

AT_FIRST = 2_000
"""Boxes that slopes may take before it is asked which range holds a bound."""
FEW = 64
"""Boxes left from which on slopes are asked of the whole box again."""
BLAMED = 8
"""Boxes of an undecided maker of which it is asked which range holds their bound."""
REFUTED_SHARE = 0.5
"""Share of the budget that the bound of a claim is worth which a point refutes at once."""
NEAR, FAR = 1.0, 10.0
"""Gaps of the tolerance beyond which a term of a refuted claim is bounded by slopes too, if it governs or not."""
QUICK = Effort(budget=50_000, refinement=64, tolerance=5e-2)
"""How hard a check tries: enough to decide every claim of the demonstrations."""

DECISION = Effort(budget=50_000, refinement=0, tolerance=math.inf)
"""For whoever asks only whether a claim holds: nothing is bounded closer than the verdict needs."""


@dataclass(frozen=True, slots=True)
class Proof:
    """What is known of a claim over its whole box.

    worst      the worst point found, evaluated in plain floats; it refutes the claim where its margin is below zero
    bound      no point of the box has a smaller margin: proved by intervals (plus or minus infinity if need be)
    each       the worst found of each term
    outside    whether a point was found at which the model does not hold
    boxes      boxes that were bounded
    influence  by path: which ranges keep an undecided claim undecided
    """

    worst: Worst
    bound: float
    each: tuple[Worst, ...]
    outside: bool
    boxes: int
    influence: Mapping[str, float]


def prove(field: Field, effort: Effort = QUICK) -> Proof:
    """Bound every term over the box, and find the worst point.

    Plain floats first, for a candidate of the worst point and for what moves each margin; then natural intervals on a
    few pieces of the box, which settle most terms, and on halves of the pieces that are left; then branch and bound
    on gradients for what is left then. Each maker is looked at over the ranges that it alone reads.
    """
    points = sample(field.box)
    tried = [Tried(maker, margins(field, maker, points)) for maker in field.makers]
    each = [worst for one in tried for worst in one.worst(points)]
    start = min(each, key=order)
    state = State(start, math.inf, each, 0, {}, outside=math.isnan(start.margin))
    if _endless(state):
        return _ended(state)
    if not field.box.paths:
        return Proof(start, start.margin, tuple(each), outside=False, boxes=0, influence={})
    purse = Purse(effort.budget * (1.0 if start.margin >= 0.0 else REFUTED_SHARE))
    influence = {one.maker: one.influence(field.box, points, start.margin) for one in tried}
    left = bounded_in_pieces(field, state, effort, influence)
    _improved(field, state, left)
    ranked = sorted(left, key=lambda m: min((order(w) for w in each if w.maker == m), default=math.inf))
    for done, maker in enumerate(ranked):
        purse.share_out(len(ranked) - done)
        one = bounded_in_halves(field, state, left[maker], influence[maker], (effort, purse))
        _settle(field, state, one, (effort, purse))
        if _endless(state):
            return _ended(state)
    return Proof(
        state.worst,
        min(state.bound, state.worst.margin),
        tuple(state.each),
        state.outside,
        state.boxes,
        state.influence,
    )


def _endless(state: State) -> bool:
    """Whether a point was found that leaves nothing to bound: outside the model, or endlessly bad."""
    return math.isnan(state.worst.margin) or state.worst.margin == -math.inf


def _ended(state: State) -> Proof:
    """What is known where nothing is left to bound."""
    return Proof(state.worst, -math.inf, tuple(state.each), state.outside, state.boxes, influence={})


def _settle(field: Field, state: State, left: Left, by: tuple[Effort, Purse]) -> None:
    """Bound what halves have left of a maker, by slopes if they are worth their cost."""
    if not len(left.low):
        return
    effort, purse = by
    gap, gaps = effort.allowed_gap(state.worst.margin), NEAR if left.maker == state.worst.maker else FAR
    if state.worst.margin >= 0.0:
        _settle_holding(field, state, left, by)
    elif state.enough(effort) - left.least > gaps * gap and not purse.used_up():
        fewer = replace(effort, refinement=max(effort.refinement - QUICK.refinement, 0))
        found = _searched(field, state, left, (fewer, purse), near=False)
        state.bound = min(state.bound, found.bound)
    else:
        state.bound = min(state.bound, left.least)  # refuted, and not far below the worst: no slopes for it


def _settle_holding(field: Field, state: State, left: Left, by: tuple[Effort, Purse]) -> None:
    """Bound a maker that no point refutes: slopes; where they do not decide, halves by what the bound hangs on."""
    effort, purse = by
    bound, first = left.least, replace(effort, budget=min(effort.budget, AT_FIRST))
    found = None
    if state.enough(effort) - left.least <= WILD:
        found = _searched(field, state, left, (first, purse), near=False)
        bound = max(bound, found.bound)
    if found is None or (found.verdict == "undecided" and not state.outside):
        left = bounded_by_asking(field, state, left, by)
        if _endless(state):
            return
        if not len(left.low):
            bound = math.inf  # nothing is left: what was settled counts
        elif not purse.used_up():
            found = _searched(field, state, left, by, near=True)
            bound = max(bound, found.bound)
        if len(left.low) and (found is None or found.verdict == "undecided"):
            shares = found.influence if found else (0.0,) * left.lower.shape[1]
            _blame(field, state, left, (effort, shares))
    state.bound = min(state.bound, bound)


@dataclass(frozen=True, slots=True)
class _Question:
    """The margins of a maker in some cases as a function of the ranges that it reads, and the box of these."""

    field: Field
    maker: int
    cases: list[int]

    @property
    def which(self) -> list[int]:
        """Coordinates of the box that the maker reads."""
        return [self.field.box.paths.index(path) for path in self.field.paths[self.maker]]

    def problem(self, ceiling: float) -> Problem:
        """The question as intervals are asked. A last column holds what is known: no box above it is of interest."""
        field, paths, which = self.field, self.field.paths[self.maker], self.which

        def margin(values: Sequence[Array]) -> Array:
            terms = [
                t for t in field.terms_at(dict(zip(paths, values, strict=True)), self.maker, self.cases) if t.cases
            ]
            return np.concatenate([*(t.margin() for t in terms), np.full((_boxes(values), 1), ceiling)], axis=-1)

        trial = [t for t in field.terms_at({}, self.maker, self.cases) if t.cases]
        columns = sum(len(t.cases) for t in trial) + 1
        return Problem.of(margin, field.box.lower[which], field.box.upper[which], columns)


def _improved(field: Field, state: State, left: Mapping[int, Left]) -> None:
    """Follow the worst margin downhill in plain floats, where intervals have not settled it at once."""
    governing = left.get(state.worst.maker)
    if governing is not None:
        question = _Question(field, governing.maker, governing.cases)
        found = first_witness(question.problem(math.inf))
        _take_witness(state, question, found.value, found.point)


def _searched(field: Field, state: State, left: Left, by: tuple[Effort, Purse], *, near: bool) -> Decision:
    """Branch and bound of one maker in the cases that are left, over the ranges it reads; takes its worst point.

    near      whether the boxes that are left are known to lie near what is left to decide
    returns   the decision; its bound is of the boxes that are left, and no worse than what is known of them
    """
    effort, purse = by
    question = _Question(field, left.maker, left.cases)
    problem = question.problem(max(state.worst.margin, 0.0) if state.worst.margin >= 0.0 else state.worst.margin)
    # Many boxes from few rounds: slopes of the whole say as much.
    within = (left.lower, left.upper) if near or len(left.low) <= FEW else None
    found = decide(
        problem.margin, list(problem.lower), list(problem.upper), problem.columns, effort, within, purse.used_up
    )
    state.boxes += found.boxes
    state.outside = state.outside or found.outside is not None
    _take_witness(state, question, found.value, np.array(found.witness))
    return replace(found, bound=max(found.bound, left.least))


def _blame(field: Field, state: State, left: Left, by: tuple[Effort, Sequence[float]]) -> None:
    """Note which ranges keep a maker undecided: those that hold the bound of its worst boxes, else the slopes."""
    effort, shares = by
    worst = left.taken(np.argsort(left.low, kind="stable")[:BLAMED])
    held = hold(field, worst, state.enough(effort)).sum(axis=0)
    found = held / held.sum() if held.any() else shares
    for path, part in zip(field.paths[left.maker], found, strict=True):
        state.influence[path] = state.influence.get(path, 0.0) + float(part)


def _boxes(values: Sequence[Array]) -> int:
    return max((int(np.shape(v)[0]) for v in values if np.ndim(v) == 2), default=1)


def _take_witness(state: State, question: _Question, value: float, witness: NDArray[np.float64]) -> None:
    """Make a worse point than the one known the worst; every number of it is computed again in plain floats."""
    if not value < state.worst.margin:
        return
    point = question.field.box.centre.copy()
    point[question.which] = witness
    there = point[np.newaxis]
    state.take(min(Tried(question.maker, margins(question.field, question.maker, there)).worst(there), key=order))


def with_effort(budget: int | None, tolerance: float | None) -> Effort:
    """The effort of a check, with what its user asks for."""
    effort = QUICK if budget is None else replace(QUICK, budget=budget, refinement=max(QUICK.refinement, budget // 100))
    return effort if tolerance is None else replace(effort, tolerance=tolerance)
