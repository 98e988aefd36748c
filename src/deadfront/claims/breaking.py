"""Claims: how far each range may move before a verdict flips. A claim and a project come in; proved reaches go out."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from deadfront.claims.boxes import sample
from deadfront.claims.comparing import ClaimDefinition, Questions, Term
from deadfront.claims.gathering import spread
from deadfront.claims.judging import Judged, Subject, examine, terms_at
from deadfront.claims.model import Claim
from deadfront.claims.proving import QUICK, Field, Worst, lower_end, prove, worst_of
from deadfront.intervals import BreakPoint, Effort, Interval, Path, break_point
from deadfront.physics.types import Array
from deadfront.project.describing import plausible_span
from deadfront.project.quantities import Quantity
from deadfront.study.inputs import Inputs

Direction = Literal["down", "up"]
Floats = NDArray[np.float64]
Progress = Callable[[int, int, str], None]

FURTHEST = 3.0
"""An end is followed to three times its value or a third of it: beyond that a number is not uncertain but wrong [C]."""

REACHING = Effort(budget=400, tolerance=1e-2)
"""Effort of one move: boxes for the claim's part that reads the input, and the gap left, as a share of the way."""

_PIECES = 16
_STEPS, _ROUNDS = 17, 3
"""Pieces of a way for natural intervals; points on it for plain floats, and how often they close in on a failure."""
_STAGES = (1.0 / 16.0, 1.0 / 4.0, 1.0)
"""Shares of a way that are proved one after the other: a hopeless far end does not use up what the near end needs."""


@dataclass(frozen=True, slots=True)
class Witness:
    """A point at which a claim does not hold, in plain floats; its margin is NaN where the model ends."""

    inputs: Mapping[str, float]
    margin: float
    subject: str
    case: str


@dataclass(frozen=True, slots=True)
class Move:
    """How far one input may go one way, the others anywhere in their ranges.

    start, limit   where the way begins, and where it would end; SI
    reach          proved: the claim holds from the start to here
    flip           nearest place found at which it does not hold; None: none as far as the limit
    witness        what was found there
    share          length of the reach in widths of the range
    close          whether reach and flip lie within the tolerance of each other, or the whole way is proved
    """

    path: str
    dimension: str
    direction: Direction
    start: float
    limit: float
    reach: float
    flip: float | None
    witness: Witness | None
    share: float
    close: bool

    @property
    def nothing(self) -> bool:
        """Whether the claim does not hold even where the way begins."""
        return self.reach == self.start


@dataclass(frozen=True, slots=True)
class Reaches:
    """What would flip a claim.

    ranges     the ranges that the claim reads
    moves      of a shown claim: outward from either end of each range. Of a refuted one: inward, from an end of the
               range or, where it fails there too, from beyond it; only those that begin where the claim holds
    skipped    ranges that were not followed, and why
    """

    claim: Claim
    ranges: Mapping[str, Quantity]
    moves: tuple[Move, ...]
    skipped: Mapping[str, str]

    @property
    def ranked(self) -> list[tuple[str, list[Move]]]:
        """Ranges with their moves, those first that may move least; then those that held to the end of the search."""
        found = [(path, [move for move in self.moves if move.path == path]) for path in self.ranges]
        return sorted(found, key=lambda item: (_least(item[1], broken=True), _least(item[1], broken=False)))


def _least(moves: Sequence[Move], *, broken: bool) -> float:
    """Shortest of some moves: of those that do not hold as far as was looked, or of the others."""
    return min((move.share for move in moves if (move.flip is not None or not move.close) == broken), default=np.inf)


def reaches(
    definition: ClaimDefinition, subject: Subject, effort: Effort = REACHING, *, judging: Effort = QUICK
) -> Reaches:
    """Judge a claim and follow each of its ranges both ways.

    effort    of one move
    judging   effort of the verdict itself
    """
    claim, judged = examine(definition, subject, judging)
    if judged is None or claim.verdict not in ("shown", "refuted"):
        return Reaches(claim, {}, (), {})
    inputs = _read(definition, subject)
    box = judged.field.box
    ranges = {
        path: quantity for path, quantity in zip(box.paths, box.quantities, strict=True) if path not in inputs.asked
    }
    if not ranges:
        return Reaches(claim, {}, (), {})
    follower = _Follower(judged.field, _points(judged), effort)
    moves: list[Move] = []
    skipped: dict[str, str] = {}
    for path in ranges:
        if path in inputs.ends and not _same_choice(definition, subject, judged.field, path):
            skipped[path] = "an end of this range also chooses a rule or a row of a table"
        else:
            moves += follower.outward(path) if claim.verdict == "shown" else follower.inward(path)
    return Reaches(claim, ranges, tuple(moves), skipped)


def every_reach(
    definitions: Sequence[ClaimDefinition],
    subject: Subject,
    efforts: tuple[Effort, Effort] = (REACHING, QUICK),
    progress: Progress | None = None,
) -> list[Reaches]:
    """What would flip each of some claims, on every core there is.

    efforts   of one move, and of the verdicts
    progress  is called with (done, whole, what) as claims are finished
    """

    def one(number: int) -> Reaches:
        return reaches(definitions[number], subject, efforts[0], judging=efforts[1])

    found = []
    for done, reach in enumerate(spread(one, len(definitions)), start=1):
        if progress is not None:
            progress(done, len(definitions), reach.claim.id)
        found.append(reach)
    return found


def _points(judged: Judged) -> Floats:
    """Where the other inputs stand while one is followed in plain floats: corners, some inside, every worst point."""
    worst = np.array([found.inputs for found in judged.proof.each]).reshape(-1, len(judged.field.box.paths))
    return np.concatenate([sample(judged.field.box), worst])


def _read(definition: ClaimDefinition, subject: Subject) -> Inputs:
    """The inputs after one walk to the claim's numbers: what chose a rule by an end, what is no range of the file."""
    walk = subject.walk()
    outcome = definition.terms(walk)
    for maker in outcome.makers if isinstance(outcome, Questions) else ():
        maker()
    return walk.inputs


def _same_choice(definition: ClaimDefinition, subject: Subject, field: Field, path: str) -> bool:
    """Whether a file with a range as wide as the search gives the same numbers at the points of this box.

    Such a choice is a threshold: what is alike for the narrowest and the widest range is alike between them.
    """
    quantity = subject.project.quantities[path]
    low, high = search_limits(path, quantity)
    quantities = {**subject.project.quantities, path: replace(quantity, low=low, high=high)}
    wide = replace(subject, project=replace(subject.project, quantities=quantities))
    other = Field(field.box, field.paths, terms_at(definition, wide))
    points = sample(field.box)
    return all(
        bool(np.array_equal(np.asarray(one.margin()), np.asarray(two.margin()), equal_nan=True))
        for maker in field.makers
        for one, two in zip(field.at(points, maker), other.at(points, maker), strict=True)
    )


def search_limits(path: str, quantity: Quantity) -> tuple[float, float]:
    """How far down and up a range is followed: the entry's plausible span, and `FURTHEST`; a temperature all its span.

    A range that the tool assumed, at a path where the file holds no number, has only the factor.
    """
    low, high = quantity.low, quantity.high
    try:
        smallest, largest = plausible_span(path)
    except KeyError:
        smallest, largest = -np.inf, np.inf
    if quantity.dimension == "temperature":
        return min(smallest, low), max(largest, high)
    return min(low, max(smallest, low / FURTHEST)), max(high, min(largest, high * FURTHEST))


@dataclass(frozen=True, slots=True)
class _Way:
    """A way of one input: number of the coordinate, its start and its limit."""

    number: int
    start: float
    limit: float


@dataclass(frozen=True, slots=True)
class _Follower:
    """Follows the ranges of one claim; points: where the other inputs stand in plain floats."""

    field: Field
    points: Floats
    effort: Effort

    def outward(self, path: str) -> Iterator[Move]:
        """Of a shown claim: from either end of a range away from it."""
        quantity = self._quantity(path)
        low, high = search_limits(path, quantity)
        if low < quantity.low:
            yield self._move(path, quantity.low, low)
        if high > quantity.high:
            yield self._move(path, quantity.high, high)

    def inward(self, path: str) -> Iterator[Move]:
        """Of a refuted claim: from either end of a range, or else from beyond it, to where the claim fails."""
        if not self._others_hold(path):
            return  # what does not read this range fails, or is not proved: moving the range alone cannot mend it
        quantity = self._quantity(path)
        low, high = search_limits(path, quantity)
        for near, outer, far in ((quantity.low, low, quantity.high), (quantity.high, high, quantity.low)):
            move = self._move(path, near, far)
            if move.nothing and outer != near:
                move = self._move(path, outer, near)
            if not move.nothing:
                yield move

    def _others_hold(self, path: str) -> bool:
        """Whether the makers that do not read a range hold, proved over the whole box."""
        others = [maker for maker in self.field.makers if path not in self.field.paths[maker]]
        if not any(term.cases for maker in others for term in self.field.terms_at({}, maker, None)):
            return True
        part = Field(
            self.field.box,
            tuple(self.field.paths[maker] for maker in others),
            lambda values, number, cases: self.field.terms_at(values, others[number], cases),
        )
        found = prove(part)
        return not found.outside and found.bound >= 0.0

    def _quantity(self, path: str) -> Quantity:
        return self.field.box.quantities[self.field.box.paths.index(path)]

    def _move(self, path: str, start: float, limit: float) -> Move:
        """One way of one input: plain floats for the nearest failure, then proof up to it, maker by maker."""
        way = _Way(self.field.box.paths.index(path), start, limit)
        makers = [maker for maker in self.field.makers if path in self.field.paths[maker]]
        witness = self._nearest_failing(way, makers)
        end = limit if witness is None else witness.inputs[way.number]
        reach, close = end, True
        if end != start:
            for maker, (begin, cases) in self._left(way, makers, end).items():
                if abs(begin - start) >= abs(end - start):
                    continue  # another maker fails nearer than this one is proved by natural intervals
                found = self._staged(replace(way, start=begin), maker, cases, end)
                close = close and found.close
                reach = min(reach, found.reach, key=lambda place: abs(place - start))
                if found.witness is not None and found.flip is not None and abs(found.flip - start) < abs(end - start):
                    witness, end = self._witness(maker, found.witness), found.flip
                if end == start:
                    break
        reach = min(reach, end, key=lambda place: abs(place - start))
        quantity = self._quantity(path)
        share = abs(reach - start) / (quantity.high - quantity.low)
        direction: Direction = "up" if limit > start else "down"
        flip, found_there = (None, None) if witness is None else (end, self._words(witness))
        return Move(path, quantity.dimension, direction, start, limit, reach, flip, found_there, share, close)

    def _words(self, worst: Worst) -> Witness:
        inputs = dict(zip(self.field.box.paths, worst.inputs, strict=True))
        return Witness(inputs, worst.margin, worst.term.subject, worst.term.words(worst.case))

    def _nearest_failing(self, way: _Way, makers: Sequence[int]) -> Worst | None:
        """The nearest failing point among plain floats, closed in on along the way."""
        until, found = way.limit, None
        begin = way.start
        others = self.points.copy()
        others[:, way.number] = way.start
        others = np.unique(others, axis=0)
        for _ in range(_ROUNDS):
            places = np.linspace(begin, until, _STEPS)
            points = np.repeat(others, len(places), axis=0)
            points[:, way.number] = np.tile(places, len(others))
            nearer = self._first(points, makers)
            if nearer is None:
                break
            place, found = nearer
            if place == 0:
                break
            begin, until = float(places[place - 1]), float(places[place])
        return found

    def _first(self, points: Floats, makers: Sequence[int]) -> tuple[int, Worst] | None:
        """Number of the first place at which a point fails, and the worst point there."""
        best: tuple[int, Worst] | None = None
        values = {path: points[:, [i]] for i, path in enumerate(self.field.box.paths)}
        for maker in makers:
            for term in self.field.terms_at(values, maker, None):
                if not term.cases:
                    continue
                margin = np.broadcast_to(np.asarray(term.margin(), dtype=np.float64), (len(points), len(term.cases)))
                fails = ~(margin >= 0.0)
                rows = np.flatnonzero(fails.any(axis=1))
                if not len(rows):
                    continue
                place = int((rows % _STEPS).min())
                rows = rows[rows % _STEPS == place]
                row = int(rows[int(np.argmin(margin[rows].min(axis=1)))])
                worst = worst_of(term, maker, (row, int(np.argmin(margin[row]))), points[row])
                if best is None or place < best[0] or (place == best[0] and not worst.margin >= best[1].margin):
                    best = place, worst
        return best

    def _left(self, way: _Way, makers: Sequence[int], end: float) -> dict[int, tuple[float, list[int]]]:
        """Makers that natural intervals on pieces of the way leave undecided: proved so far, and the cases left."""
        places = np.linspace(way.start, end, _PIECES + 1)
        lower, upper = np.tile(self.field.box.lower, (_PIECES, 1)), np.tile(self.field.box.upper, (_PIECES, 1))
        lower[:, way.number] = np.minimum(places[:-1], places[1:])
        upper[:, way.number] = np.maximum(places[:-1], places[1:])
        values = {path: Interval(lower[:, [i]], upper[:, [i]]) for i, path in enumerate(self.field.box.paths)}
        left: dict[int, tuple[float, list[int]]] = {}
        for maker in makers:
            first, cases = _PIECES, set[int]()
            for term in self.field.terms_at(values, maker, None):
                if term.cases:
                    holds = np.broadcast_to(np.asarray(lower_end(term.margin()) >= 0.0), (_PIECES, len(term.cases)))
                    cases |= {case for k, case in enumerate(term.cases) if not holds[:, k].all()}
                    first = min(first, int(np.append(np.flatnonzero(~holds.all(axis=1)), _PIECES)[0]))
            if cases:
                left[maker] = float(places[first]), sorted(cases)
        return left

    def _staged(self, way: _Way, maker: int, cases: Sequence[int], end: float) -> BreakPoint:
        """The proved reach of one maker, in stages; what is not proved in one stage ends it."""
        begin, found = way.start, None
        for share in _STAGES:
            stage = end if share == 1.0 else way.start + share * (end - way.start)
            found = self._proved(replace(way, start=begin), maker, cases, stage)
            if found.reach != stage:
                break
            begin = stage
        assert found is not None
        return found

    def _proved(self, way: _Way, maker: int, cases: Sequence[int], end: float) -> BreakPoint:
        """The proved reach of one maker in some operating cases, over the ranges that it reads."""
        paths = self.field.paths[maker]
        which = [self.field.box.paths.index(path) for path in paths]
        margin = margin_of(self.field, {maker: cases}, paths)
        box = self.field.box
        return break_point(
            margin.of,
            (box.lower[which].tolist(), box.upper[which].tolist()),
            Path(which.index(way.number), way.start, end),
            margin.columns,
            self.effort,
        )

    def _witness(self, maker: int, inputs: Sequence[float]) -> Worst:
        """A failing point of a maker, computed again in plain floats."""
        point = self.field.box.centre.copy()
        point[[self.field.box.paths.index(path) for path in self.field.paths[maker]]] = inputs
        found = []
        for term in self.field.at(point[np.newaxis], maker):
            if term.cases:
                margin = np.asarray(term.margin(), dtype=np.float64)[0]
                found.append(worst_of(term, maker, (0, int(np.argmin(margin))), point))
        return min(found, key=lambda worst: -np.inf if np.isnan(worst.margin) else worst.margin)


@dataclass(frozen=True, slots=True)
class MarginOver:
    """The margins of some makers as one function over some paths, and how many columns it has."""

    of: Callable[[Sequence[Array]], Array]
    columns: int


def margin_of(field: Field, makers: Mapping[int, Sequence[int]], paths: Sequence[str]) -> MarginOver:
    """Margins of makers, each in some operating cases, as a function of the values at `paths`."""

    def terms(values: Mapping[str, Array]) -> list[Term]:
        return [t for maker, cases in makers.items() for t in field.terms_at(values, maker, cases) if t.cases]

    def of(values: Sequence[Array]) -> Array:
        margins = [term.margin() for term in terms(dict(zip(paths, values, strict=True)))]
        rows = max(int(np.shape(margin)[0]) for margin in margins)
        return np.concatenate([m if np.shape(m)[0] == rows else m + np.zeros((rows, 1)) for m in margins], axis=-1)

    return MarginOver(of, sum(len(term.cases) for term in terms({})))
