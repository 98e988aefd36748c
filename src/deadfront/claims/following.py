"""Claims: one range at a time leaves its box. A claim's field and ways out of it come in; proved reaches go out."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from deadfront.claims.comparing import Term
from deadfront.claims.field import Field, Worst, least_margin, worst_of
from deadfront.intervals import Effort, Interval
from deadfront.intervals.ways import Way, ways_out
from deadfront.physics.types import Array

Floats = NDArray[np.float64]

_FIRST_PLACES, _PLACES, _ROUNDS = 5, 17, 2
"""Places on a way at which plain floats are tried; then between two of those, and how often they close in so."""
_HELD = 16
"""Points of the other inputs that are tried again as plain floats close in: those that fail worst."""
_PIECES = 16
"""Pieces of a way for natural intervals."""


@dataclass(frozen=True, slots=True)
class Path:
    """A way of one input: number of the coordinate, its start and its limit; SI."""

    number: int
    start: float
    limit: float

    @property
    def length(self) -> float:
        """Distance from start to limit."""
        return abs(self.limit - self.start)

    def distance(self, place: float) -> float:
        """Distance of a place from the start."""
        return abs(place - self.start)


@dataclass(slots=True)
class Found:
    """What is known of one path so far: the place up to which all looked at is proved, the nearest failing point."""

    reach: float
    failing: Worst | None


@dataclass(frozen=True, slots=True)
class Follower:
    """Follows ranges of one claim; points: where the other inputs stand in plain floats."""

    field: Field
    points: Floats
    effort: Effort

    def follow(self, paths: Sequence[Path]) -> list[Found]:
        """Plain floats for the nearest failure on each path, then proof up to it, the maker in most danger first.

        All paths are worked on together. What one maker leaves unproved need not be proved of the others.
        """
        if not paths:
            return []
        found, danger = self._nearest_failing(paths)
        pieces = {maker: self._pieces(paths, found, maker) for maker in self.field.makers}
        for maker in sorted(pieces, key=lambda maker: danger[maker]):
            self._prove(paths, found, maker, pieces[maker])
        return found

    def tolerance(self, path: Path, found: Found) -> float:
        """Gap that is small enough: a share of the way to the failing point, or of the whole path where there is none.

        A failure nearer than a tenth of the path counts as one there: floats do not look for it more closely.
        """
        way = path.length
        if found.failing is not None:
            way = min(way, max(path.distance(found.failing.inputs[path.number]), path.length / 10.0))
        return self.effort.tolerance * way

    # --- plain floats ---

    def holding(self, paths: Sequence[Path]) -> list[Path]:
        """Those paths at whose start no point in plain floats fails."""
        danger = self._lowest(self.points).min(axis=1)
        left = list(paths)
        for maker in sorted(self.field.makers, key=lambda maker: danger[maker]):
            if left:
                starts = [self._grid(path, self.points, np.array([path.start])) for path in left]
                margins = self._lowest(np.concatenate(starts), [maker])[maker].reshape(len(left), -1)
                left = [path for path, margin in zip(left, margins, strict=True) if margin.min() >= 0.0]
        return left

    def _nearest_failing(self, paths: Sequence[Path]) -> tuple[list[Found], Floats]:
        """The nearest failing point of each path among plain floats, and the least margin of each maker."""
        places = np.linspace(0.0, 1.0, _FIRST_PLACES)
        grids = [self._grid(path, self.points, path.start + places * (path.limit - path.start)) for path in paths]
        lowest = self._lowest(np.concatenate(grids))
        danger: Floats = lowest.min(axis=1)
        by_path = lowest.min(axis=0).reshape(len(paths), len(self.points), _FIRST_PLACES)
        return [self._closed_in(path, by_path[k]) for k, path in enumerate(paths)], danger

    def _closed_in(self, path: Path, margins: Floats) -> Found:
        """The nearest failing point of a path, from margins at (points, places)."""
        span = np.linspace(path.start, path.limit, _FIRST_PLACES)
        worst: Worst | None = None
        held = self.points
        for turn in range(_ROUNDS + 1):
            places = np.flatnonzero((margins < 0.0).any(axis=0))
            if not len(places):
                break
            place = int(places[0])
            order = np.argsort(margins[:, place], kind="stable")[:_HELD]
            worst = self._worst_at(self._grid(path, held[order[:1]], span[place : place + 1])[0])
            if place == 0 or turn == _ROUNDS:
                break
            held = held[order[margins[order, place] < 0.0]]
            span = np.linspace(span[place - 1], span[place], _PLACES)
            margins = self._lowest(self._grid(path, held, span)).min(axis=0).reshape(len(held), _PLACES)
        return Found(path.limit if worst is None else worst.inputs[path.number], worst)

    def _grid(self, path: Path, others: Floats, places: Floats) -> Floats:
        """Points with the path's input at each of some places, places running fastest."""
        points = np.repeat(others, len(places), axis=0)
        points[:, path.number] = np.tile(places, len(others))
        return points

    def _lowest(self, points: Floats, makers: Sequence[int] | None = None) -> Floats:
        """Least margins of some makers at points, shape (makers, points); minus infinity where the model ends.

        Of a maker that is not asked for, or that has no term, it is infinity.
        """
        lowest = np.full((len(self.field.makers), len(points)), np.inf)
        values = {path: points[:, [i]] for i, path in enumerate(self.field.box.paths)}
        for maker in self.field.makers if makers is None else makers:
            for term in self.field.terms_at(values, maker, None):
                if term.cases:
                    margin = np.asarray(term.margin(), dtype=np.float64)
                    margin = np.where(np.isnan(margin), -np.inf, margin).min(axis=-1)
                    lowest[maker] = np.minimum(lowest[maker], margin)
        return lowest

    def _worst_at(self, point: Floats, makers: Sequence[int] | None = None) -> Worst:
        """The worst term at a point, in plain floats."""
        found = []
        for maker in self.field.makers if makers is None else makers:
            for term in self.field.at(point[np.newaxis], maker):
                if term.cases:
                    margin = np.asarray(term.margin(), dtype=np.float64)[0]
                    found.append(worst_of(term, maker, (0, int(np.argmin(margin))), point))
        return min(found, key=lambda worst: -np.inf if np.isnan(worst.margin) else worst.margin)

    # --- proof ---

    def _pieces(self, paths: Sequence[Path], found: Sequence[Found], maker: int) -> dict[int, _Begin]:
        """Where natural intervals on pieces of each path stop to prove a maker, and the cases they leave undecided."""
        own = self.field.paths[maker]
        mine = [
            k
            for k, path in enumerate(paths)
            if self.field.box.paths[path.number] in own and found[k].reach != path.start
        ]
        if not mine:
            return {}
        box = self.field.box
        lower, upper = (np.tile(ends, (_PIECES * len(mine), 1)) for ends in (box.lower, box.upper))
        places = [np.linspace(paths[k].start, found[k].reach, _PIECES + 1) for k in mine]
        for row, k in enumerate(mine):
            rows = slice(row * _PIECES, (row + 1) * _PIECES)
            lower[rows, paths[k].number] = np.minimum(places[row][:-1], places[row][1:])
            upper[rows, paths[k].number] = np.maximum(places[row][:-1], places[row][1:])
        values = {path: Interval(lower[:, [i]], upper[:, [i]]) for i, path in enumerate(box.paths)}
        begins: dict[int, _Begin] = {}
        for term in self.field.terms_at(values, maker, None):
            if not term.cases:
                continue
            holds = np.broadcast_to(least_margin(term) >= 0.0, (len(lower), len(term.cases)))
            for row, (k, part) in enumerate(zip(mine, holds.reshape(len(mine), _PIECES, -1), strict=True)):
                open_ = np.flatnonzero(~part.all(axis=1))
                if len(open_):
                    cases = {case for column, case in enumerate(term.cases) if not part[:, column].all()}
                    begin = _Begin(float(places[row][open_[0]]), frozenset(cases))
                    begins[k] = begin if k not in begins else begins[k].nearer(begin, paths[k])
        return begins

    def _prove(self, paths: Sequence[Path], found: list[Found], maker: int, begins: Mapping[int, _Begin]) -> None:
        """Prove a maker along the paths on which pieces did not, no farther than everything so far is proved."""
        left = {
            k: begin
            for k, begin in begins.items()
            if paths[k].distance(begin.place) < paths[k].distance(found[k].reach)
        }
        if not left:
            return
        own = self.field.paths[maker]
        which = [self.field.box.paths.index(path) for path in own]
        cases = sorted(frozenset().union(*(begin.cases for begin in left.values())))
        margin = margin_of(self.field, {maker: cases}, own)
        ways = [self._way(paths[k], found[k], begin, which) for k, begin in left.items()]
        alive = np.array([[case in begin.cases for case in margin.cases] for begin in left.values()])
        box = self.field.box
        reached = ways_out(margin.of, (box.lower[which], box.upper[which]), ways, alive, self.effort)
        for (k, _), one in zip(left.items(), reached, strict=True):
            self._take(paths[k], found[k], maker, one.reach, None if one.flip is None else one.witness)

    def _way(self, path: Path, found: Found, begin: _Begin, which: Sequence[int]) -> Way:
        """The part of a path that is left to prove. Near a failing point, or beyond what is proved, none is needed."""
        tolerance = self.tolerance(path, found)
        enough = np.inf
        if found.failing is not None:
            enough = abs(found.failing.inputs[path.number] - begin.place) - tolerance
        if found.reach != path.limit:
            enough = min(enough, abs(found.reach - begin.place))
        return Way(which.index(path.number), begin.place, found.reach, enough, tolerance)

    def _take(self, path: Path, found: Found, maker: int, reach: float, inputs: Sequence[float] | None) -> None:
        """Take in what was proved of a maker, and a failing point if it is nearer than the one known."""
        found.reach = min(found.reach, reach, key=path.distance)
        if inputs is None:
            return
        point = self.field.box.centre.copy()
        point[[self.field.box.paths.index(name) for name in self.field.paths[maker]]] = inputs
        place = point[path.number]
        if found.failing is None or path.distance(place) < path.distance(found.failing.inputs[path.number]):
            found.failing = self._worst_at(point, [maker])


@dataclass(frozen=True, slots=True)
class _Begin:
    """Where the proof of a maker begins on a path, and its operating cases that are left."""

    place: float
    cases: frozenset[int]

    def nearer(self, other: _Begin, path: Path) -> _Begin:
        """The nearer of two, with the cases of both."""
        return _Begin(min(self.place, other.place, key=path.distance), self.cases | other.cases)


@dataclass(frozen=True, slots=True)
class MarginOver:
    """The margins of some makers as one function over some paths, and the operating case of each column."""

    of: Callable[[Sequence[Array]], Array]
    cases: tuple[int, ...]

    @property
    def columns(self) -> int:
        """How many columns it has."""
        return len(self.cases)


def margin_of(field: Field, makers: Mapping[int, Sequence[int]], paths: Sequence[str]) -> MarginOver:
    """Margins of makers, each in some operating cases, as a function of the values at `paths`."""

    def terms(values: Mapping[str, Array]) -> list[Term]:
        return [t for maker, cases in makers.items() for t in field.terms_at(values, maker, cases) if t.cases]

    def of(values: Sequence[Array]) -> Array:
        margins = [term.margin() for term in terms(dict(zip(paths, values, strict=True)))]
        rows = max(int(np.shape(margin)[0]) for margin in margins)
        return np.concatenate([m if np.shape(m)[0] == rows else m + np.zeros((rows, 1)) for m in margins], axis=-1)

    # In some operating cases a term counts its cases among those.
    columns = [
        cases[case]
        for maker, cases in makers.items()
        for term in field.terms_at({}, maker, cases)
        for case in term.cases
    ]
    return MarginOver(of, tuple(columns))
