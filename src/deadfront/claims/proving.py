"""Claims: whether a claim holds everywhere in its box. Makers of terms come in; a proof and its worst point go out."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from deadfront.claims.boxes import Box, sample
from deadfront.claims.comparing import Term
from deadfront.intervals import Effort, Interval, Problem, decide, exceptionally, first_witness, halved
from deadfront.physics.types import Array

Values = Mapping[str, Array]
TermsAt = Callable[[Values, int, Sequence[int] | None], Sequence[Term]]
"""Terms of one maker at some inputs, in all operating cases or in some of them."""

PIECES = 32
"""Boxes into which the whole box is cut before natural intervals bound every term on them."""

ROUNDS, ROUNDS_REFUTED = 3, 6
"""How often the pieces that are left are halved and bounded by natural intervals, of a claim that holds, or fails."""
LEAST_PROGRESS = 0.7
"""More rounds are worth it while one brings the gap below this share of what it was."""
FEW = 64
"""Boxes left from which on slopes are asked of the whole box again."""
NEAR, FAR = 1.0, 10.0
"""Gaps of the tolerance beyond which a term of a refuted claim is bounded by slopes too, if it governs or not."""
MOST_HALVED, MOST_HALVES = 128, 512
"""How many of them in a round, and into how many at most."""

QUICK = Effort(budget=50_000, refinement=64, tolerance=5e-2)
"""How hard a check tries: enough to decide every claim of the demonstrations."""

DECISION = Effort(budget=50_000, refinement=0, tolerance=math.inf)
"""For whoever asks only whether a claim holds: nothing is bounded closer than the verdict needs."""


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


def prove(field: Field, effort: Effort = QUICK) -> Proof:
    """Bound every term over the box, and find the worst point.

    Plain floats first, for a candidate of the worst point and for what moves each margin; then natural intervals on a
    few pieces of the box, which settle most terms, and on halves of the pieces that are left; then branch and bound
    on gradients for what is left then. Each maker is looked at over the ranges that it alone reads.
    """
    points = sample(field.box)
    tried = [_Tried(maker, _margins(field, maker, points)) for maker in field.makers]
    each = [worst for one in tried for worst in one.worst(points)]
    start = min(each, key=_order)
    if math.isnan(start.margin):
        return Proof(start, -math.inf, tuple(each), outside=True, boxes=0, influence={})
    if start.margin == -math.inf:
        return Proof(start, -math.inf, tuple(each), outside=False, boxes=0, influence={})
    if not field.box.paths:
        return Proof(start, start.margin, tuple(each), outside=False, boxes=0, influence={})
    state = _State(start, math.inf, each, 0, {})
    influence = {one.maker: one.influence(field.box, points, start.margin) for one in tried}
    left = _bounded_in_pieces(field, state, effort, influence)
    _improved(field, state, left)
    for maker in sorted(left, key=lambda m: min((_order(w) for w in each if w.maker == m), default=math.inf)):
        one = _bounded_in_halves(field, state, left[maker], influence[maker], effort)
        if not len(one.low):
            continue
        gaps = NEAR if maker == state.worst.maker else FAR
        if state.worst.margin >= 0.0:
            _search(field, state, one, effort)
        elif state.enough(effort) - one.least > gaps * effort.allowed_gap(state.worst.margin):
            _search(field, state, one, replace(effort, refinement=max(effort.refinement - QUICK.refinement, 0)))
        else:
            state.bound = min(state.bound, one.least)  # refuted, and not far below the worst: no slopes for it
    return Proof(
        state.worst,
        min(state.bound, state.worst.margin),
        tuple(state.each),
        state.outside,
        state.boxes,
        state.influence,
    )


@dataclass(frozen=True, slots=True)
class _Tried:
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
        shares = np.concatenate([np.ones((len(points), 1)), (points - box.lower) / width], axis=1)
        found = 1e-3 * width / np.maximum(np.abs(box.lower), np.abs(box.upper))
        for _, margin in self.terms:
            finite = np.isfinite(margin).all(axis=0)
            if len(margin) == len(points) and finite.any():
                slopes = np.abs(np.linalg.lstsq(shares, margin[:, finite], rcond=None)[0][1:])
                away = np.maximum(margin[:, finite].min(axis=0) - least, 0.0)
                found = np.maximum(found, (slopes / (0.05 + away)).max(axis=1))
        return found


@dataclass(slots=True)
class _State:
    """What a running proof knows; grows as terms are settled."""

    worst: Worst
    bound: float
    each: list[Worst]
    boxes: int
    influence: dict[str, float]
    outside: bool = False

    def enough(self, effort: Effort) -> float:
        """Bound from which on a term cannot matter: near the worst found, and never below zero while that holds."""
        near = self.worst.margin - effort.allowed_gap(self.worst.margin)
        return max(near, 0.0) if self.worst.margin >= 0.0 else near


def _order(worst: Worst) -> float:
    return -math.inf if math.isnan(worst.margin) else worst.margin


def _margins(field: Field, maker: int, points: NDArray[np.float64]) -> list[tuple[Term, NDArray[np.float64]]]:
    """Terms of a maker with their margins at some points."""
    return [(term, np.asarray(term.margin(), dtype=np.float64)) for term in field.at(points, maker) if term.cases]


def worst_of(term: Term, maker: int, at: tuple[int, int], inputs: NDArray[np.float64]) -> Worst:
    """A point of a term with its numbers; `at` is row and column of its margin."""
    numbers = [
        np.asarray(a, dtype=np.float64) for a in (term.margin(), term.chosen(term.value), term.chosen(term.limit))
    ]
    margin, value, limit = (float(n[min(at[0], len(n) - 1), at[1]]) for n in numbers)
    return Worst(maker, term, term.cases[at[1]], margin, value, limit, tuple(float(x) for x in inputs))


@dataclass(frozen=True, slots=True)
class _Left:
    """What is left undecided of a maker: its operating cases, boxes, and the least bound known in each."""

    maker: int
    cases: list[int]
    lower: NDArray[np.float64]
    upper: NDArray[np.float64]
    low: NDArray[np.float64]

    @property
    def least(self) -> float:
        """No margin that is left is smaller."""
        return float(self.low.min(initial=math.inf))

    def taken(self, which: NDArray[np.intp]) -> _Left:
        """Some of the boxes."""
        return _Left(self.maker, self.cases, self.lower[which], self.upper[which], self.low[which])

    def joined(self, other: _Left) -> _Left:
        """The boxes of both, in the cases of both."""
        pairs = ((getattr(self, name), getattr(other, name)) for name in ("lower", "upper", "low"))
        return _Left(self.maker, sorted({*self.cases, *other.cases}), *(np.concatenate(pair) for pair in pairs))


def _bounded_in_pieces(
    field: Field, state: _State, effort: Effort, influence: Mapping[int, NDArray[np.float64]]
) -> dict[int, _Left]:
    """Makers, and their operating cases, that natural intervals on pieces of the box leave undecided."""
    lower, upper = _pieces(field.box, np.max(list(influence.values()), axis=0))
    values = {path: Interval(lower[:, [i]], upper[:, [i]]) for i, path in enumerate(field.box.paths)}
    left = {}
    for maker in field.makers:
        found = _natural(field, state, _Left(maker, [], lower, upper, lower), values, None, state.enough(effort))
        if len(found.low):
            left[maker] = found
    state.boxes += len(lower)
    return left


def _natural(
    field: Field, state: _State, asked: _Left, values: Values, cases: Sequence[int] | None, enough: float
) -> _Left:
    """What natural intervals over the boxes asked for leave undecided of a maker's terms."""
    count = len(asked.lower)
    least, undecided = np.full(count, math.inf), set()
    for term, margin in exceptionally(partial(_ranges, field, values, asked.maker, cases)):
        low = np.broadcast_to(lower_end(margin), (count, len(term.cases)))
        settled = low >= enough  # NaN is not settled
        state.bound = min(state.bound, float(low[settled].min(initial=math.inf)))
        least = np.minimum(least, np.where(settled, math.inf, np.where(np.isnan(low), -math.inf, low)).min(axis=1))
        open_ = [term.cases[k] for k in np.flatnonzero(~settled.all(axis=0))]
        undecided |= set(open_ if cases is None else (cases[k] for k in open_))  # a walk in some cases counts these
    rows = np.flatnonzero(least < math.inf)
    return _Left(asked.maker, sorted(undecided), asked.lower[rows], asked.upper[rows], least[rows])


def _bounded_in_halves(
    field: Field, state: _State, left: _Left, influence: NDArray[np.float64], effort: Effort
) -> _Left:
    """What is left of a maker after natural intervals on halves of the boxes left, the worst first.

    Of a refuted claim more rounds are tried, since slopes are asked of its governing maker alone.
    """
    which = [field.box.paths.index(path) for path in field.paths[left.maker]]
    width = (field.box.upper - field.box.lower)[which]
    # Pieces that differ in ranges that this maker does not read are one piece to it.
    ends, first = np.unique(
        np.concatenate([left.lower[:, which], left.upper[:, which]], axis=1), axis=0, return_index=True
    )
    left = _Left(left.maker, left.cases, ends[:, : len(which)], ends[:, len(which) :], left.low[first])
    rounds = ROUNDS_REFUTED if state.worst.margin < 0.0 else ROUNDS
    for number in range(rounds):
        if not len(left.low):
            break
        gap = state.enough(effort) - left.least
        left = _halved_once(field, state, left, (influence[which] / width, effort))
        if number >= ROUNDS - 1 and state.enough(effort) - left.least > LEAST_PROGRESS * gap:
            break
    return left


def _halved_once(field: Field, state: _State, left: _Left, by: tuple[NDArray[np.float64], Effort]) -> _Left:
    """One round over the worst boxes left; `by`: how much a unit of each range that is read moves the margins."""
    influence, effort = by
    order = np.argsort(left.low, kind="stable")
    chosen, rest = left.taken(order[:MOST_HALVED]), left.taken(order[MOST_HALVED:])
    times = int(np.log2(MOST_HALVES / len(chosen.low)))
    lower, upper, _ = halved(chosen.lower, chosen.upper, influence * (chosen.upper - chosen.lower), times)
    values = {path: Interval(lower[:, [i]], upper[:, [i]]) for i, path in enumerate(field.paths[left.maker])}
    asked = _Left(left.maker, left.cases, lower, upper, lower)
    found = _natural(field, state, asked, values, left.cases, state.enough(effort))
    state.boxes += len(lower)
    return rest.joined(found) if len(rest.low) else found


def _ranges(field: Field, values: Values, maker: int, cases: Sequence[int] | None) -> list[tuple[Term, Array]]:
    """Terms of a maker and the ranges of their margins."""
    return [(term, term.margin()) for term in field.terms_at(values, maker, cases) if term.cases]


def lower_end(margin: Array) -> NDArray[np.float64]:
    """Lower ends of a margin: its own values where no range entered it."""
    ends = margin.lower if isinstance(margin, Interval) else margin
    return np.asarray(ends, dtype=np.float64)


def _pieces(box: Box, influence: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The box cut along the ranges that move the margins most, `PIECES` boxes at most."""
    counts = np.ones(len(influence), dtype=int)
    while counts.prod() * 2 <= PIECES:
        counts[int(np.argmax(influence / counts))] *= 2
    grids = [np.linspace(a, b, n + 1) for a, b, n in zip(box.lower, box.upper, counts, strict=True)]
    first = np.meshgrid(*[g[:-1] for g in grids], indexing="ij")
    last = np.meshgrid(*[g[1:] for g in grids], indexing="ij")
    return np.stack([f.ravel() for f in first], axis=1), np.stack([f.ravel() for f in last], axis=1)


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


def _improved(field: Field, state: _State, left: Mapping[int, _Left]) -> None:
    """Follow the worst margin downhill in plain floats, where intervals have not settled it at once."""
    governing = left.get(state.worst.maker)
    if governing is not None:
        question = _Question(field, governing.maker, governing.cases)
        found = first_witness(question.problem(math.inf))
        _take_witness(state, question, found.value, found.point)


def _search(field: Field, state: _State, left: _Left, effort: Effort) -> None:
    """Branch and bound of one maker in the cases that are left, over the ranges it reads; updates the state."""
    question = _Question(field, left.maker, left.cases)
    ceiling = max(state.worst.margin, 0.0) if state.worst.margin >= 0.0 else state.worst.margin
    problem = question.problem(ceiling)
    within = (left.lower, left.upper) if len(left.low) <= FEW else None  # many boxes: slopes of the whole say as much
    found = decide(problem.margin, list(problem.lower), list(problem.upper), problem.columns, effort, within)
    state.boxes += found.boxes
    state.bound = min(state.bound, max(found.bound, left.least))
    state.outside = state.outside or found.outside is not None
    if found.verdict == "undecided":
        for path, part in zip(field.paths[left.maker], found.influence, strict=True):
            state.influence[path] = state.influence.get(path, 0.0) + part
    _take_witness(state, question, found.value, np.array(found.witness))


def _boxes(values: Sequence[Array]) -> int:
    return max((int(np.shape(v)[0]) for v in values if np.ndim(v) == 2), default=1)


def _take_witness(state: _State, question: _Question, value: float, witness: NDArray[np.float64]) -> None:
    """Make a worse point than the one known the worst; every number of it is computed again in plain floats."""
    if not value < state.worst.margin:
        return
    point = question.field.box.centre.copy()
    point[question.which] = witness
    there = point[np.newaxis]
    worst = min(_Tried(question.maker, _margins(question.field, question.maker, there)).worst(there), key=_order)
    if worst.margin < state.worst.margin:
        state.worst = worst
    state.each = [_worse(old, worst) for old in state.each]


def _worse(old: Worst, new: Worst) -> Worst:
    same = old.maker == new.maker and old.term.subject == new.term.subject
    return new if same and new.margin < old.margin else old


def with_effort(budget: int | None, tolerance: float | None) -> Effort:
    """The effort of a check, with what its user asks for."""
    effort = QUICK if budget is None else replace(QUICK, budget=budget, refinement=max(QUICK.refinement, budget // 100))
    return effort if tolerance is None else replace(effort, tolerance=tolerance)
