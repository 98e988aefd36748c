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
from deadfront.intervals import Decision, Effort, Interval, decide, exceptionally
from deadfront.physics.types import Array

Values = Mapping[str, Array]
TermsAt = Callable[[Values, int, Sequence[int] | None], Sequence[Term]]
"""Terms of one maker at some inputs, in all operating cases or in some of them."""

PIECES = 32
"""Boxes into which the whole box is cut before natural intervals bound every term on them."""

QUICK = Effort(budget=50_000, refinement=64, tolerance=5e-2)
"""How hard a check tries: enough to decide every claim of the demonstrations."""


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

    Plain floats first, for a candidate of the worst point; then natural intervals on a few pieces of the box, which
    settle most terms; then branch and bound on gradients for those left, each over the ranges that it alone reads.
    """
    points = sample(field.box)
    each = [worst for maker in field.makers for worst in _sampled(field, maker, points)]
    start = min(each, key=_order)
    if math.isnan(start.margin):
        return Proof(start, -math.inf, tuple(each), outside=True, boxes=0, influence={})
    if not field.box.paths:
        return Proof(start, start.margin, tuple(each), outside=False, boxes=0, influence={})
    state = _State(start, math.inf, each, 0, {})
    left = _bounded_in_pieces(field, state, effort)
    for maker in sorted(left, key=lambda m: min((_order(w) for w in each if w.maker == m), default=math.inf)):
        if state.worst.margin < 0.0 and maker != state.worst.maker:
            state.bound = min(state.bound, left[maker].low)  # refuted: only the governing arithmetic is bounded closely
        else:
            _search(field, state, maker, left[maker].cases, effort)
    return Proof(
        state.worst,
        min(state.bound, state.worst.margin),
        tuple(state.each),
        state.outside,
        state.boxes,
        state.influence,
    )


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


def _sampled(field: Field, maker: int, points: NDArray[np.float64]) -> list[Worst]:
    """The worst of each term of a maker at sample points."""
    found = []
    for term in field.at(points, maker):
        if not term.cases:
            continue
        margin = np.asarray(term.margin(), dtype=np.float64)
        # argmin stops at the first NaN, which is worse than any number.
        row, column = (int(k) for k in np.unravel_index(int(np.argmin(margin)), margin.shape))
        found.append(worst_of(term, maker, (row, column), points[min(row, len(points) - 1)]))
    return found


def worst_of(term: Term, maker: int, at: tuple[int, int], inputs: NDArray[np.float64]) -> Worst:
    """A point of a term with its numbers; `at` is row and column of its margin."""
    numbers = [
        np.asarray(a, dtype=np.float64) for a in (term.margin(), term.chosen(term.value), term.chosen(term.limit))
    ]
    margin, value, limit = (float(n[min(at[0], len(n) - 1), at[1]]) for n in numbers)
    return Worst(maker, term, term.cases[at[1]], margin, value, limit, tuple(float(x) for x in inputs))


@dataclass(slots=True)
class _Left:
    """What is left undecided of a maker: its operating cases, and the least bound known of them."""

    cases: list[int]
    low: float


def _bounded_in_pieces(field: Field, state: _State, effort: Effort) -> dict[int, _Left]:
    """Makers, and their operating cases, that natural intervals on pieces of the box leave undecided."""
    lower, upper = _pieces(field)
    values = {path: Interval(lower[:, [i]], upper[:, [i]]) for i, path in enumerate(field.box.paths)}
    left: dict[int, _Left] = {}
    enough = state.enough(effort)
    for maker in field.makers:
        for term, margin in exceptionally(partial(_margins, field, values, maker)):
            low = lower_end(margin).min(axis=0)
            settled = low >= enough  # NaN is not settled
            state.bound = min(state.bound, float(low[settled].min(initial=math.inf)))
            if not settled.all():
                known = left.setdefault(maker, _Left([], math.inf))
                undecided = [case for case, done in zip(term.cases, settled, strict=True) if not done]
                known.cases = sorted({*known.cases, *undecided})
                known.low = min(known.low, float(np.where(np.isnan(low), -math.inf, low)[~settled].min()))
    state.boxes += len(lower)
    return left


def _margins(field: Field, values: Values, maker: int) -> list[tuple[Term, Array]]:
    """Terms of a maker and their margins."""
    return [(term, term.margin()) for term in field.terms_at(values, maker, None) if term.cases]


def lower_end(margin: Array) -> NDArray[np.float64]:
    """Lower ends of a margin: its own values where no range entered it."""
    ends = margin.lower if isinstance(margin, Interval) else margin
    return np.asarray(ends, dtype=np.float64)


def _pieces(field: Field) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The box cut along the ranges that are widest in proportion, `PIECES` boxes at most."""
    low, high = field.box.lower, field.box.upper
    counts = np.ones(len(low), dtype=int)
    spans = (high - low) / np.maximum(np.maximum(np.abs(low), np.abs(high)), 1e-300)
    while counts.prod() * 2 <= PIECES:
        counts[int(np.argmax(spans / counts))] *= 2
    grids = [np.linspace(a, b, n + 1) for a, b, n in zip(low, high, counts, strict=True)]
    first = np.meshgrid(*[g[:-1] for g in grids], indexing="ij")
    last = np.meshgrid(*[g[1:] for g in grids], indexing="ij")
    return np.stack([f.ravel() for f in first], axis=1), np.stack([f.ravel() for f in last], axis=1)


def _search(field: Field, state: _State, maker: int, cases: list[int], effort: Effort) -> None:
    """Branch and bound of one maker in the cases that are left, over the ranges it reads; updates the state."""
    paths = field.paths[maker]
    which = [field.box.paths.index(path) for path in paths]
    ceiling = max(state.worst.margin, 0.0) if state.worst.margin >= 0.0 else state.worst.margin

    def margin(values: Sequence[Array]) -> Array:
        terms = [t for t in field.terms_at(dict(zip(paths, values, strict=True)), maker, cases) if t.cases]
        # A column that holds the worst known margin: boxes that cannot go below it are dropped at once.
        return np.concatenate([*(t.margin() for t in terms), np.full((_boxes(values), 1), ceiling)], axis=-1)

    trial = [t for t in field.terms_at({}, maker, cases) if t.cases]
    columns = sum(len(t.cases) for t in trial) + 1
    found = decide(margin, list(field.box.lower[which]), list(field.box.upper[which]), columns, effort)
    state.boxes += found.boxes
    state.bound = min(state.bound, found.bound)
    state.outside = state.outside or found.outside is not None
    if found.verdict == "undecided":
        for path, part in zip(paths, found.influence, strict=True):
            state.influence[path] = state.influence.get(path, 0.0) + part
    _take_witness(field, state, maker, found, which)


def _boxes(values: Sequence[Array]) -> int:
    return max((int(np.shape(v)[0]) for v in values if np.ndim(v) == 2), default=1)


def _take_witness(field: Field, state: _State, maker: int, found: Decision, which: list[int]) -> None:
    """Make a worse point than the one known the worst; every number of it is computed again in plain floats."""
    if not found.value < state.worst.margin:
        return
    point = field.box.centre.copy()
    point[which] = found.witness
    worst = min(_sampled(field, maker, point[np.newaxis]), key=_order)
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
