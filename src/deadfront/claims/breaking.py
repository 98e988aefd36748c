"""Claims: how far each range may move before a verdict flips. A claim and a project come in; proved reaches go out."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from deadfront.claims.boxes import sample
from deadfront.claims.comparing import ClaimDefinition, Questions
from deadfront.claims.field import Field, Worst
from deadfront.claims.following import Follower, Found, Path
from deadfront.claims.gathering import spread
from deadfront.claims.judging import Judged, Subject, examine, terms_at
from deadfront.claims.model import Claim
from deadfront.claims.proving import DECISION, QUICK, prove
from deadfront.intervals import Effort
from deadfront.project.describing import plausible_span
from deadfront.project.quantities import Quantity
from deadfront.study.inputs import Inputs

Direction = Literal["down", "up"]
Floats = NDArray[np.float64]
Progress = Callable[[int, int, str], None]

FURTHEST = 3.0
"""An end is followed to three times its value or a third of it: beyond that a number is not uncertain but wrong [C]."""

REACHING = Effort(budget=1200, tolerance=1e-2)
"""Effort of one move: boxes for the claim's part that reads the input, and the gap left, as a share of the way."""


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


@dataclass(frozen=True, slots=True)
class Followed:
    """What would flip each of some claims, and the effort of each move."""

    reaches: tuple[Reaches, ...]
    effort: Effort


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
    follower = Follower(judged.field, _points(judged), effort)
    skipped = {
        path: "an end of this range also chooses a rule or a row of a table"
        for path in ranges
        if path in inputs.ends and not _same_choice(definition, subject, judged.field, path)
    }
    followed = [path for path in ranges if path not in skipped]
    shown = claim.verdict == "shown"
    moves = _outward(follower, followed) if shown else _inward(follower, judged, followed)
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


def _outward(follower: Follower, paths: Sequence[str]) -> list[Move]:
    """Of a shown claim: from either end of each range away from it."""
    box, ways = follower.field.box, []
    for path in paths:
        number = box.paths.index(path)
        quantity = box.quantities[number]
        low, high = search_limits(path, quantity)
        ways += [Path(number, quantity.low, low)] if low < quantity.low else []
        ways += [Path(number, quantity.high, high)] if high > quantity.high else []
    return [_move(follower, way, found) for way, found in zip(ways, follower.follow(ways), strict=True)]


def _inward(follower: Follower, judged: Judged, paths: Sequence[str]) -> list[Move]:
    """Of a refuted claim: from either end of a range, or else from beyond it, to where the claim fails."""
    box, near, outer = follower.field.box, [], []
    for path in paths:
        number = box.paths.index(path)
        quantity = box.quantities[number]
        low, high = search_limits(path, quantity)
        near += [Path(number, quantity.low, quantity.high), Path(number, quantity.high, quantity.low)]
        outer += [Path(number, low, quantity.low), Path(number, high, quantity.high)]
    moves = _holding(follower, near)
    beyond = [out for way, out in zip(near, outer, strict=True) if way not in moves and out.length > 0.0]
    moves |= _holding(follower, beyond)
    mendable = _mendable(judged, sorted({move.path for move in moves.values()}))
    ordered = [moves[way] for pair in zip(near, outer, strict=True) for way in pair if way in moves]
    return [move for move in ordered if move.path in mendable]


def _holding(follower: Follower, ways: Sequence[Path]) -> dict[Path, Move]:
    """Moves along those paths at whose start the claim holds."""
    begun = follower.holding(ways)
    moves = {way: _move(follower, way, found) for way, found in zip(begun, follower.follow(begun), strict=True)}
    return {way: move for way, move in moves.items() if not move.nothing}


def _mendable(judged: Judged, paths: Sequence[str]) -> list[str]:
    """Ranges of a refuted claim that every maker reads, save those makers that hold, proved over the whole box.

    What does not read a range and fails, or is not proved, is mended by no move of that range alone.
    """
    field = judged.field
    known = {worst.maker: False for worst in judged.proof.each if not worst.margin >= 0.0}

    def holds(maker: int) -> bool:
        if maker not in known:
            known[maker] = _maker_holds(field, maker)
        return known[maker]

    def others(path: str) -> list[int]:
        makers = [maker for maker in field.makers if path not in field.paths[maker]]
        return sorted(makers, key=lambda maker: maker not in known)  # known to fail: nothing needs to be proved

    return [path for path in paths if all(holds(maker) for maker in others(path))]


def _maker_holds(field: Field, maker: int) -> bool:
    if not any(term.cases for term in field.terms_at({}, maker, None)):
        return True
    part = Field(field.box, (field.paths[maker],), lambda values, _, cases: field.terms_at(values, maker, cases))
    found = prove(part, DECISION)
    return not found.outside and found.bound >= 0.0


def _move(follower: Follower, way: Path, found: Found) -> Move:
    """A path with what was found on it, as it is handed out."""
    box, failing = follower.field.box, found.failing
    flip = None if failing is None else failing.inputs[way.number]
    end = way.limit if flip is None else flip
    reach = min(found.reach, end, key=way.distance)
    quantity = box.quantities[way.number]
    close = way.distance(end) - way.distance(reach) <= follower.tolerance(way, found)
    return Move(
        path=box.paths[way.number],
        dimension=quantity.dimension,
        direction="up" if way.limit > way.start else "down",
        start=way.start,
        limit=way.limit,
        reach=reach,
        flip=flip,
        witness=None if failing is None else _witness(box.paths, failing),
        share=way.distance(reach) / (quantity.high - quantity.low),
        close=close,
    )


def _witness(paths: Sequence[str], worst: Worst) -> Witness:
    inputs = dict(zip(paths, worst.inputs, strict=True))
    return Witness(inputs, worst.margin, worst.term.subject, worst.term.words(worst.case))
