"""Physics: where the clearing curve of one fuse crosses the melting curve of another. Curves in, currents out.

Many pairs at once. Both curves are straight between their points in log-log, one may carry a constant arcing time on
top, so every crossing is found: none lies between two samples.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from deadfront.physics.curves import TimeCurrentCurve

Floats = NDArray[np.float64]

CONSTANT_I2T = 2.0
"""1, exponent with which a melting curve falls right of its last point: no heat leaves the element [C]."""

CONSTANT_TIME = 0.0
"""1, exponent of a clearing curve right of its last point: the arc still has to end [C]."""

DECADES_BEYOND = 3.0
"""How far right of both curves crossings are sought, in decades of current: no network gives a thousand times more."""

NEWTON_STEPS = 60
"""Bound of the root search; from the convex side it converges within some 6 steps, and stops as soon as it has."""

State = Literal[
    "crosses once",
    "crosses beyond both curves",
    "crosses several times",
    "lower always first",
    "upper always first",
    "lower first only above",
]

STATES: tuple[State, ...] = (
    "crosses once",
    "crosses beyond both curves",
    "crosses several times",
    "lower always first",
    "upper always first",
    "lower first only above",
)

WORDS: dict[State, str] = {
    "crosses once": "the {lower} clears first below the crossing, the {upper} melts first above it",
    "crosses beyond both curves": (
        "the two curves cross only beyond the last points of both: what is published says nothing about the crossing"
    ),
    "crosses several times": "the two curves cross more than once: there is no single current that parts their duties",
    "lower always first": "the {lower} clears before the {upper} melts at every current both curves cover",
    "upper always first": "the {upper} may melt before the {lower} has cleared at every current both curves cover",
    "lower first only above": (
        "the {upper} may melt before the {lower} has cleared below the crossing: the pair is the wrong way round"
    ),
}


@dataclass(frozen=True, slots=True)
class Edge:
    """One edge of the band of a fuse, or of many fuses; constant data, never a range.

    current   A, rising; a curve with fewer points than others repeats its last one     (..., points)
    time      s, never rising along the current                     (..., points)
    arcing    s, added to every time                                (...,)
    exponent  1, of the current right of the last point: `CONSTANT_I2T` or `CONSTANT_TIME`            (...,)
    """

    current: Floats
    time: Floats
    arcing: Floats
    exponent: Floats

    def at(self, index: Any) -> Edge:
        """Some of many fuses, by whatever indexes an array."""
        return Edge(self.current[index], self.time[index], self.arcing[index], self.exponent[index])

    def moved(self, current_factor: Any, time_factor: Any) -> Edge:
        """The same edge in hot liquid and after load; factors (...,), the arcing time stays."""
        current = self.current * np.asarray(current_factor, dtype=np.float64)[..., None]
        time = self.time * np.asarray(time_factor, dtype=np.float64)[..., None]
        shape = np.broadcast_shapes(current.shape, time.shape)
        arcing, exponent = (np.broadcast_to(each, shape[:-1]) for each in (self.arcing, self.exponent))
        return Edge(np.broadcast_to(current, shape), np.broadcast_to(time, shape), arcing, exponent)


@dataclass(frozen=True, slots=True)
class Crossings:
    """Where two edges cross, for each pair.

    state     index into `STATES`                                   (...,)
    start     A, from which both edges say something                (...,)
    first     A, lowest crossing; NaN without one                   (...,)
    last      A, highest crossing; NaN without one                  (...,)
    currents  A, all crossings, rising, filled up with NaN          (..., most)
    extended  whether the first crossing lies beyond the last point of one of the edges, and so rests on its extension
              to the right; false without a crossing                (...,)
    """

    state: NDArray[np.int64]
    start: Floats
    first: Floats
    last: Floats
    currents: Floats
    extended: NDArray[np.bool_]

    def words(self, pair: Any, lower: str, upper: str) -> str:
        """What the state of one pair means, with the names of both fuses."""
        return WORDS[STATES[int(self.state[pair])]].format(lower=lower, upper=upper)


def melting_edge(curve: TimeCurrentCurve) -> Edge:
    """Minimum-melting edge of a curve.

    curve      A and s; structural
    returns    edge that goes on with constant I²t                  (points,)
    holds      25 degC, no preload; see `Edge.moved`
    raises     nothing
    source     [C]
    """
    return Edge(curve.current, curve.minimum_melting, np.zeros(()), np.asarray(CONSTANT_I2T))


def clearing_edge(curve: TimeCurrentCurve) -> Edge:
    """Total-clearing edge of a curve that publishes one.

    curve      A and s; structural
    returns    edge that goes on with its last time                 (points,)
    holds      25 degC, no preload; see `Edge.moved`
    raises     nothing
    source     [C]
    """
    return Edge(curve.current, curve.total_clearing, np.zeros(()), np.asarray(CONSTANT_TIME))


def clearing_edge_by_tolerance(curve: TimeCurrentCurve, tolerance: float, arcing_time: float) -> Edge:
    """Total-clearing edge of a fuse of which only melting is known: t_melt(I / (1 + e)) + t_arc.

    curve        A and s; structural
    tolerance    e      1, of current: 0.20 expulsion links of K and T type [M], 0.10 silver elements [C]
    arcing_time  t_arc  s, expulsion link half to 0.8 of a cycle [C]
    returns      edge with the arcing time apart                    (points,)
    holds        25 degC, no preload; see `Edge.moved`
    raises       nothing
    source       common practice [C]
    """
    current = curve.current * (1.0 + tolerance)
    return Edge(current, curve.minimum_melting, np.asarray(arcing_time), np.asarray(CONSTANT_I2T))


def stacked(edges: Sequence[Edge]) -> Edge:
    """Many edges as one, on a new first axis.

    edges      of one fuse each                   (points,)
    returns    (edges, points); shorter curves repeat their last point
    holds      curves of any length, with and without arcing time
    raises     ValueError without an edge
    source     none: data in another shape
    """
    if not edges:
        raise ValueError("edges: expected at least one")
    most = max(len(edge.current) for edge in edges)
    current, time = (
        np.array([np.pad(row, (0, most - len(row)), mode="edge") for row in rows])
        for rows in ([edge.current for edge in edges], [edge.time for edge in edges])
    )
    arcing = np.array([float(edge.arcing) for edge in edges])
    return Edge(current, time, arcing, np.array([float(edge.exponent) for edge in edges]))


def edge_time(edge: Edge, current: Floats) -> Floats:
    """Time that an edge shows at currents, one row of currents per fuse.

    edge       (..., points)
    current    A                                  (..., currents)
    returns    s; infinite left of the first point            (..., currents)
    holds      as `curves.melting_time` and `curves.clearing_time`
    raises     nothing
    source     straight line in log-log [C]
    """
    x = np.log(np.maximum(current, edge.current[..., :1]))
    time = np.exp(_read(edge, x)) + edge.arcing[..., None]
    return np.where(current < edge.current[..., :1], np.inf, time)


def edge_current(edge: Edge, time: Floats) -> Floats:
    """Smallest current that an edge without arcing time shows at times, one row of times per fuse.

    edge       (..., points)
    time       s                                  (..., times)
    returns    A; NaN for a time longer than that of the first point, or one the edge never falls to     (..., times)
    holds      as `curves.melting_current`
    raises     ValueError for an edge with an arcing time
    source     straight line in log-log [C]
    """
    if np.any(edge.arcing):
        raise ValueError("edge: an edge with an arcing time cannot be read backwards")
    y, x = np.log(edge.time), np.log(edge.current)
    wanted = np.log(time)
    left = np.clip(np.sum(y[..., None, :] > wanted[..., None], axis=-1) - 1, 0, max(x.shape[-1] - 2, 0))
    y0, y1 = np.take_along_axis(y, left, -1), np.take_along_axis(y, left + 1, -1)
    x0, x1 = np.take_along_axis(x, left, -1), np.take_along_axis(x, left + 1, -1)
    share = (y0 - np.maximum(wanted, y[..., -1:])) / np.where(y0 > y1, y0 - y1, 1.0)
    below = np.maximum(y[..., -1:] - wanted, 0.0)
    exponent = edge.exponent[..., None]
    never = np.where(below > 0.0, np.nan, 0.0)
    right = np.where(exponent > 0.0, below / np.where(exponent > 0.0, exponent, 1.0), never)
    return np.where(wanted <= y[..., :1], np.exp(x0 + share * (x1 - x0) + right), np.nan)


def crossings(lower: Edge, upper: Edge) -> Crossings:
    """All currents at which the clearing edge of the lower fuse crosses the melting edge of the upper one.

    lower      edge that should be the faster one below the crossing: total clearing of the link     (..., points)
    upper      edge without arcing time: minimum melting of the limiter                              (..., points)
    returns    currents and states; where both are equal the upper one counts as first               (...,)
    holds      from the first point of both edges to `DECADES_BEYOND` right of both
    raises     ValueError for an upper edge with an arcing time
    source     straight lines in log-log [C], between them convex: at most two crossings, both found [D]
    """
    if np.any(upper.arcing):
        raise ValueError("upper: expected a melting edge, without arcing time")
    pieces = _pieces(lower, upper)
    late = _lateness(pieces, 0.0) >= 0.0
    changes = late[..., 1:] != late[..., :-1]
    place = np.nonzero(changes)
    current = np.full(changes.shape, np.inf)
    current[place] = np.exp(_roots(pieces.at(place), np.diff(pieces.x)[place], late[place]))
    last_points = (lower.current[..., -1], upper.current[..., -1])
    return _described(np.sort(current, axis=-1), np.exp(pieces.x[..., 0]), late[..., 0], last_points)


@dataclass(frozen=True, slots=True)
class _Pieces:
    """Both curves from left to right in pieces, on each of which their difference only rises or only falls.

    x              ln of current at the left end                             (..., pieces)
    lower, upper   ln of time there, without arcing, and the slopes from there on           (..., pieces)
    arcing         s                                                         (..., pieces)
    """

    x: Floats
    lower: Floats
    lower_slope: Floats
    upper: Floats
    upper_slope: Floats
    arcing: Floats

    def at(self, place: Any) -> _Pieces:
        """Some of the pieces."""
        values = (self.x, self.lower, self.lower_slope, self.upper, self.upper_slope, self.arcing)
        return _Pieces(*(value[place] for value in values))


def _pieces(lower: Edge, upper: Edge) -> _Pieces:
    """From the first point of both edges to far beyond both; the last piece has no width."""
    shape = np.broadcast_shapes(lower.current.shape[:-1], upper.current.shape[:-1])
    one, other = (np.broadcast_to(np.log(edge.current), shape + edge.current.shape[-1:]) for edge in (lower, upper))
    far = np.maximum(one[..., -1:], other[..., -1:]) + DECADES_BEYOND * np.log(10.0)
    start = np.maximum(one[..., :1], other[..., :1])
    x = np.sort(np.maximum(np.concatenate([one, other, far, far], axis=-1), start), axis=-1)
    width = np.diff(x)
    low, high = _read(lower, x), _read(upper, x)
    low_slope, high_slope = (np.diff(y) / np.where(width > 0.0, width, 1.0) for y in (low, high))
    arcing = np.broadcast_to(np.broadcast_to(lower.arcing, shape)[..., None], width.shape)
    dip = np.clip(_dip(low[..., :-1], low_slope, high_slope, arcing), 0.0, width)

    def split(left: Floats, at_dip: Floats) -> Floats:
        return np.stack([left, at_dip], axis=-1).reshape(*shape, -1)

    return _Pieces(
        split(x[..., :-1], x[..., :-1] + dip),
        split(low[..., :-1], low[..., :-1] + low_slope * dip),
        split(low_slope, low_slope),
        split(high[..., :-1], high[..., :-1] + high_slope * dip),
        split(high_slope, high_slope),
        split(arcing, arcing),
    )


def _dip(low: Floats, low_slope: Floats, high_slope: Floats, arcing: Floats) -> Floats:
    """How far right of the left point ln(exp(low) + arcing) - high is least; zero where it has no dip.

    Its slope b e^u / (e^u + t) - d vanishes at e^u = t d / (b - d).
    """
    dips = (low_slope < high_slope) & (high_slope < 0.0) & (arcing > 0.0)
    melting = np.where(dips, arcing * high_slope, 1.0) / np.where(dips, low_slope - high_slope, 1.0)
    return np.where(dips, (np.log(melting) - low) / np.where(dips, low_slope, 1.0), 0.0)


def _lateness(pieces: _Pieces, right: Floats | float) -> Floats:
    """ln of lower over upper time, at ln I so far `right` of the left ends of the pieces."""
    lower = np.exp(pieces.lower + pieces.lower_slope * right) + pieces.arcing
    return np.log(lower) - pieces.upper - pieces.upper_slope * right


def _roots(pieces: _Pieces, width: Floats, late: NDArray[np.bool_]) -> Floats:
    """ln of the current at the one zero of each piece; Newton from the end where the convex difference is positive."""
    right = np.where(late, 0.0, width)
    for _ in range(NEWTON_STEPS):
        melting = np.exp(pieces.lower + pieces.lower_slope * right)
        slope = pieces.lower_slope * melting / (melting + pieces.arcing) - pieces.upper_slope
        step = _lateness(pieces, right) / np.where(slope == 0.0, 1.0, slope)
        right = np.clip(right - step, 0.0, width)
        if np.all(np.abs(step) < 1e-15 * (1.0 + np.abs(pieces.x))):
            break
    return pieces.x + right


def _described(
    current: Floats, start: Floats, late: NDArray[np.bool_], last_points: tuple[Floats, Floats]
) -> Crossings:
    """Crossings with their states; `current` is filled up with infinity, `late` says who is first at the start."""
    count = np.sum(np.isfinite(current), axis=-1)
    most = int(np.max(count, initial=0))
    current = np.where(np.isfinite(current), current, np.nan)[..., : max(most, 1)]
    last = np.take_along_axis(current, np.maximum(count, 1)[..., None] - 1, -1)[..., 0]
    once = np.where(late, STATES.index("lower first only above"), STATES.index("crosses once"))
    beyond = [current[..., 0] > point for point in last_points]  # false without a crossing, which is NaN
    once = np.where(~late & beyond[0] & beyond[1], STATES.index("crosses beyond both curves"), once)
    never = np.where(late, STATES.index("upper always first"), STATES.index("lower always first"))
    several = np.where(count > 1, STATES.index("crosses several times"), once)
    state = np.where(count == 0, never, several)
    return Crossings(state, start, current[..., 0], last, current, beyond[0] | beyond[1])


def _read(edge: Edge, x: Floats) -> Floats:
    """ln of time without arcing at ln of current, one row per fuse, right of the first point."""
    knots, times = np.log(edge.current), np.log(edge.time)
    left = np.sum(knots[..., None, :] <= x[..., None], axis=-1) - 1
    left = np.clip(left, 0, max(knots.shape[-1] - 2, 0))
    knots, times = (np.broadcast_to(row, x.shape[:-1] + row.shape[-1:]) for row in (knots, times))
    last = knots[..., -1:]
    x0, x1 = np.take_along_axis(knots, left, -1), np.take_along_axis(knots, left + 1, -1)
    y0, y1 = np.take_along_axis(times, left, -1), np.take_along_axis(times, left + 1, -1)
    share = (np.minimum(x, last) - x0) / np.where(x1 > x0, x1 - x0, 1.0)
    return np.asarray(y0 + share * (y1 - y0) - edge.exponent[..., None] * np.maximum(x - last, 0.0))
