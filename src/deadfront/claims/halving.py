"""Claims: natural intervals on pieces and halves of a box. Terms come in; what they leave undecided goes out."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from deadfront.claims.boxes import Box
from deadfront.claims.comparing import Term
from deadfront.claims.field import Field, Tried, Values, Worst, least_margin, margins, order
from deadfront.intervals import (
    BOX,
    Effort,
    Interval,
    exceptionally,
    grid,
    halfway,
    halved,
    shares_of,
    work_done,
)

PIECES = 32
"""Boxes into which the whole box is cut before natural intervals bound every term on them."""

ROUNDS, ROUNDS_REFUTED = 3, 6
"""How often the pieces that are left are halved and bounded by natural intervals, of a claim that holds, or fails."""
LEAST_PROGRESS = 0.7
"""More rounds are worth it while one brings the gap below this share of what it was."""
MOST_HALVED, MOST_HALVES = 128, 512
"""How many of them in a round, and into how many at most."""

WILD, TAME = 100.0, 1.0
"""Gap from which on ranges count many times in a formula and slopes say nothing: it is asked which range does it, until
the gap is tame."""
MOST_ASKED, ASKED_ROWS = 64, 1_024
"""Boxes of which that is asked in a round, and boxes times ranges at most."""
UNKNOWN = 50.0
"""Stands for the logarithm of a gap without end: more than that of any gap of a number."""


class Purse:
    """The effort that a claim may cost, in boxes; its makers share it, and what one does not need is the others'.

    Whole numbers only: rounding would depend on what this thread did before.
    """

    def __init__(self, budget: float) -> None:
        self._end = work_done() + int(budget * BOX)
        self._until = self._end

    def share_out(self, makers: int) -> None:
        """Let one of the makers that are left begin: the first gets most, the last all that is left."""
        left = max(self._end - work_done(), 0)
        self._until = work_done() + 2 * left // (makers + 1)

    def used_up(self) -> bool:
        """Whether the share of the maker at work is used up."""
        return work_done() >= self._until


@dataclass(slots=True)
class State:
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

    def take(self, found: Worst) -> None:
        """Make a worse point than the one known the worst, of all terms and of its own."""
        if order(found) < order(self.worst):
            self.worst = found
        self.each = [_worse(old, found) for old in self.each]


def _worse(old: Worst, new: Worst) -> Worst:
    same = old.maker == new.maker and old.term.subject == new.term.subject
    return new if same and new.margin < old.margin else old


@dataclass(frozen=True, slots=True)
class Left:
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

    def taken(self, which: NDArray[np.intp]) -> Left:
        """Some of the boxes."""
        return Left(self.maker, self.cases, self.lower[which], self.upper[which], self.low[which])

    def joined(self, other: Left) -> Left:
        """The boxes of both, in the cases of both."""
        pairs = ((getattr(self, name), getattr(other, name)) for name in ("lower", "upper", "low"))
        return Left(self.maker, sorted({*self.cases, *other.cases}), *(np.concatenate(pair) for pair in pairs))


# --- pieces and halves, by what moved the points ---


def bounded_in_pieces(
    field: Field, state: State, effort: Effort, influence: Mapping[int, NDArray[np.float64]]
) -> dict[int, Left]:
    """Makers, and their operating cases, that natural intervals on pieces of the box leave undecided."""
    lower, upper = _pieces(field.box, np.max(list(influence.values()), axis=0))
    values = {path: Interval(lower[:, [i]], upper[:, [i]]) for i, path in enumerate(field.box.paths)}
    left = {}
    for maker in field.makers:
        found = _natural(field, state, Left(maker, [], lower, upper, lower), values, None, state.enough(effort))
        if len(found.low):
            left[maker] = found
    state.boxes += len(lower)
    return left


def bounded_in_halves(
    field: Field, state: State, left: Left, influence: NDArray[np.float64], by: tuple[Effort, Purse]
) -> Left:
    """What is left of a maker after natural intervals on halves of the boxes left, the worst first.

    Of a refuted claim more rounds are tried, since slopes are asked of its governing maker alone.
    """
    effort, purse = by
    which = [field.box.paths.index(path) for path in field.paths[left.maker]]
    # Pieces that differ in ranges that this maker does not read are one piece to it.
    ends, first = np.unique(
        np.concatenate([left.lower[:, which], left.upper[:, which]], axis=1), axis=0, return_index=True
    )
    left = Left(left.maker, left.cases, ends[:, : len(which)], ends[:, len(which) :], left.low[first])
    rounds = ROUNDS_REFUTED if state.worst.margin < 0.0 else ROUNDS
    for number in range(rounds):
        if not len(left.low) or purse.used_up():
            break
        gap = state.enough(effort) - left.least
        left = _halved_once(field, state, left, (influence[which], effort))
        if number >= ROUNDS - 1 and state.enough(effort) - left.least > LEAST_PROGRESS * gap:
            break
    return left


def _halved_once(field: Field, state: State, left: Left, by: tuple[NDArray[np.float64], Effort]) -> Left:
    """One round over the worst boxes left; `by`: how much each range that is read moves the margins."""
    influence, effort = by
    chosen, rest = _worst_first(left, MOST_HALVED)
    times = int(np.log2(MOST_HALVES / len(chosen.low)))
    score = influence * _sizes(field, chosen)
    return _in_halves(field, state, (chosen, rest), score, (times, effort))


def _worst_first(left: Left, count: int) -> tuple[Left, Left]:
    """The boxes with the least bounds, and the rest."""
    ranked = np.argsort(left.low, kind="stable")
    return left.taken(ranked[:count]), left.taken(ranked[count:])


def _sizes(field: Field, left: Left) -> NDArray[np.float64]:
    """Shares of the ranges that boxes still have, (boxes, ranges)."""
    which = [field.box.paths.index(path) for path in field.paths[left.maker]]
    low, high = field.box.lower[which], field.box.upper[which]
    return shares_of(low, high, left.upper) - shares_of(low, high, left.lower)


def _in_halves(
    field: Field, state: State, parts: tuple[Left, Left], score: NDArray[np.float64], by: tuple[int, Effort]
) -> Left:
    """What is left once the first of two parts has been halved along its scores and bounded; `by`: how often."""
    (chosen, rest), (times, effort) = parts, by
    lower, upper, _ = halved(chosen.lower, chosen.upper, score, times)
    asked = Left(chosen.maker, chosen.cases, lower, upper, lower)
    found = _natural(field, state, asked, _values(field, asked), chosen.cases, state.enough(effort))
    state.boxes += len(lower)
    return rest.joined(found) if len(rest.low) else found


def _values(field: Field, left: Left) -> Values:
    """The ranges of boxes of a maker."""
    return {p: Interval(left.lower[:, [i]], left.upper[:, [i]]) for i, p in enumerate(field.paths[left.maker])}


def _natural(
    field: Field, state: State, asked: Left, values: Values, cases: Sequence[int] | None, enough: float
) -> Left:
    """What natural intervals over the boxes asked for leave undecided of a maker's terms."""
    count = len(asked.lower)
    least, undecided = np.full(count, math.inf), set()
    for term, low in _lows(field, asked, values, cases):
        settled = low >= enough
        state.bound = min(state.bound, float(low[settled].min(initial=math.inf)))
        least = np.minimum(least, np.where(settled, math.inf, low).min(axis=1))
        open_ = [term.cases[k] for k in np.flatnonzero(~settled.all(axis=0))]
        undecided |= set(open_ if cases is None else (cases[k] for k in open_))  # a walk in some cases counts these
    rows = np.flatnonzero(least < math.inf)
    return Left(asked.maker, sorted(undecided), asked.lower[rows], asked.upper[rows], least[rows])


def _lows(
    field: Field, asked: Left, values: Values, cases: Sequence[int] | None
) -> Iterator[tuple[Term, NDArray[np.float64]]]:
    """Terms of a maker with the lower ends of their margins, (boxes, cases); minus infinity where nothing is known."""
    for term, least in exceptionally(partial(_ranges, field, values, asked.maker, cases)):
        low = np.broadcast_to(least, (len(asked.lower), len(term.cases)))
        yield term, np.where(np.isnan(low), -math.inf, low)


def _ranges(
    field: Field, values: Values, maker: int, cases: Sequence[int] | None
) -> list[tuple[Term, NDArray[np.float64]]]:
    """Terms of a maker and the lower ends of their margins."""
    return [(term, least_margin(term)) for term in field.terms_at(values, maker, cases) if term.cases]


def _pieces(box: Box, influence: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The box cut along the ranges that move the margins most, `PIECES` boxes at most."""
    counts = np.ones(len(influence), dtype=int)
    while counts.prod() * 2 <= PIECES:
        counts[int(np.argmax(influence / counts))] *= 2
    lower, upper = box.lower[None], box.upper[None]
    for i in np.flatnonzero(
        counts > 1
    ):  # a range that is not cut needs no axis: numpy has fewer than a file has ranges
        ends, before = grid(float(box.lower[i]), float(box.upper[i]), int(counts[i])), len(lower)
        lower, upper = np.repeat(lower, counts[i], axis=0), np.repeat(upper, counts[i], axis=0)
        lower[:, i], upper[:, i] = np.tile(ends[:-1], before), np.tile(ends[1:], before)
    return lower, upper


# --- halves by what the bound hangs on ---


def bounded_by_asking(field: Field, state: State, left: Left, by: tuple[Effort, Purse]) -> Left:
    """What is left of a maker whose bound lies far off, after halves along the ranges that hold it there.

    A wide range that a formula uses several times widens it by far more than it moves it; slopes do not tell which one
    that is, but pinning each in turn does. Middles of the boxes are tried as points: a device that never operates or a
    hole in the model leaves nothing to prove. It begins with the whole box: cuts along what moved the points are
    boxes more, each of which has to be cut again.
    """
    effort, purse = by
    which = [field.box.paths.index(path) for path in field.paths[left.maker]]
    whole = field.box.lower[None, which], field.box.upper[None, which]
    left = Left(left.maker, left.cases, *whole, np.array([left.least]))
    while len(left.low) and state.enough(effort) - left.least > TAME and not purse.used_up():
        count = max(1, min(MOST_ASKED, ASKED_ROWS // max(left.lower.shape[1], 1)))
        chosen, rest = _worst_first(left, count)
        if not _middles_hold(field, state, chosen):
            break
        gains = hold(field, chosen, state.enough(effort))
        blind = ~(gains > 0.0).any(axis=1)
        gains[blind] = _sizes(field, chosen)[blind]
        times = max(1, int(np.log2(MOST_HALVES / len(chosen.low))))
        left = _in_halves(field, state, (chosen, rest), gains, (min(times, 3), effort))
    return left


def hold(field: Field, asked: Left, enough: float) -> NDArray[np.float64]:
    """How much nearer the bound of each box comes where one range is pinned at its middle, (boxes, ranges).

    Measured in the logarithm of the gap, so that a range that brings a bound from minus a million to minus one counts.
    """
    boxes, ranges = asked.lower.shape
    lower, upper = np.repeat(asked.lower, ranges, axis=0), np.repeat(asked.upper, ranges, axis=0)
    rows, along = np.arange(boxes * ranges), np.tile(np.arange(ranges), boxes)
    lower[rows, along] = upper[rows, along] = halfway(lower[rows, along], upper[rows, along])
    pinned = Left(asked.maker, asked.cases, lower, upper, lower)
    least = np.full(boxes * ranges, math.inf)
    for _, low in _lows(field, pinned, _values(field, pinned), asked.cases):
        least = np.minimum(least, low.min(axis=1))
    gains = _gap(asked.low, enough)[:, None] - _gap(least, enough).reshape(boxes, ranges)
    return np.maximum(gains, 0.0)


def _gap(low: NDArray[np.float64], enough: float) -> NDArray[np.float64]:
    """Logarithm of one more than what bounds lack."""
    found: NDArray[np.float64] = np.minimum(np.log1p(np.maximum(enough - low, 0.0)), UNKNOWN)
    return found


def _middles_hold(field: Field, state: State, left: Left) -> bool:
    """Try the middles of boxes as points; false where one has no number, or an endless one."""
    which = [field.box.paths.index(path) for path in field.paths[left.maker]]
    points = np.repeat(field.box.centre[None], len(left.low), axis=0)
    points[:, which] = halfway(left.lower, left.upper)
    worst = min(Tried(left.maker, margins(field, left.maker, points)).worst(points), key=order)
    if math.isnan(worst.margin):
        state.outside = True
        return False
    state.take(worst)
    return worst.margin > -math.inf
