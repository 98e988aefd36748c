"""Dossier: where labels stand on a drawing. Sizes, lines and anchors come in, boxes that do not meet go out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Values = NDArray[np.float64]

_CELL = 0.5
"""mm of one cell in which ink is counted."""
_DISTANCES = (1.0, 2.5, 4.5, 7.0, 10.0, 14.0, 19.0, 25.0, 32.0, 40.0)
"""mm between an anchor and its label."""
_DIRECTIONS = 16
"""Directions, evenly round its anchor, in which a label may stand."""
_GAP = 0.7
"""mm that stay free around a label."""
_INK, _LEADER_INK, _LENGTH = 4.0, 1.0, 0.5
"""Cost of a covered cell of ink, of one under the leader, and of a millimetre of distance."""
_CROSSED = 60.0
"""Cost of two leaders that cross: as much as a label 120 mm further off."""
_FORBIDDEN = 1e4
"""Cost of what must not be: two labels that meet, a label that leaves the paper, a leader through a label."""
_ON_LEADER = 6
"""Points of a leader at which its ink is counted."""
_ROUNDS = 4
"""How often every label is placed anew among the others."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """A label that is to be placed: its size in mm, and the points it may speak of, (points, 2) in mm."""

    wide: float
    high: float
    anchors: Values


@dataclass(frozen=True, slots=True)
class Place:
    """Upper left corner of a label, the point it speaks of, and what is bad about it."""

    left: float
    top: float
    anchor: tuple[float, float]
    cost: float

    @property
    def free(self) -> bool:
        """Whether nothing forbidden was needed."""
        return self.cost < _FORBIDDEN


class Ink:
    """How much is drawn where, on a sheet `wide` by `high` mm."""

    def __init__(self, wide: float, high: float) -> None:
        self.wide, self.high = wide, high
        self._cells = np.zeros((int(high / _CELL) + 2, int(wide / _CELL) + 2))
        self._sums: Values | None = None

    def line(self, x: Values, y: Values, weight: float = 1.0) -> None:
        """Note a polyline, mm; what lies outside the sheet or is NaN is not there."""
        known = np.isfinite(x) & np.isfinite(y)
        x, y = x[known], y[known]
        if not len(x):
            return
        along = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])
        steps = np.append(np.arange(0.0, along[-1], _CELL / 2), along[-1])
        px, py = np.interp(steps, along, x), np.interp(steps, along, y)
        inside = (px >= 0.0) & (px <= self.wide) & (py >= 0.0) & (py <= self.high)
        rows, columns = (py[inside] / _CELL).astype(int), (px[inside] / _CELL).astype(int)
        np.maximum.at(self._cells, (rows, columns), weight)
        self._sums = None

    def covered(self, left: Values, top: Values, right: Values, bottom: Values) -> Values:
        """Ink under rectangles, in cells."""
        if self._sums is None:
            self._sums = np.pad(self._cells.cumsum(0).cumsum(1), ((1, 0), (1, 0)))
        rows, columns = (np.array(self._cells.shape) - 1).tolist()
        x0, x1 = (np.clip((each / _CELL).astype(int), 0, columns) for each in (left, right))
        y0, y1 = (np.clip((each / _CELL).astype(int), 0, rows) for each in (top, bottom))
        sums = self._sums
        found: Values = sums[y1 + 1, x1 + 1] - sums[y0, x1 + 1] - sums[y1 + 1, x0] + sums[y0, x0]
        return found

    def at(self, x: Values, y: Values) -> Values:
        """Ink at points."""
        rows, columns = (np.array(self._cells.shape) - 1).tolist()
        cells = np.clip((y / _CELL).astype(int), 0, rows), np.clip((x / _CELL).astype(int), 0, columns)
        found: Values = self._cells[cells]
        return found


def places(wanted: Sequence[Wanted], ink: Ink) -> list[Place]:
    """A place for each label: off the lines, near what it speaks of, never over another label. Same input, same places.

    Labels with the fewest anchors choose first; then each is placed anew among all others, a few times.
    """
    order = sorted(range(len(wanted)), key=lambda i: (len(wanted[i].anchors), -wanted[i].wide * wanted[i].high, i))
    chosen: dict[int, Place] = {}
    for _ in range(_ROUNDS):
        for number in order:
            chosen.pop(number, None)
            others = [(wanted[i], place) for i, place in chosen.items()]
            chosen[number] = _best(wanted[number], others, ink)
    return [chosen[i] for i in range(len(wanted))]


def _best(one: Wanted, others: Sequence[tuple[Wanted, Place]], ink: Ink) -> Place:
    """The cheapest of all candidates."""
    left, top, anchors, distance = _candidates(one)
    right, bottom = left + one.wide, top + one.high
    cost = _INK * ink.covered(left, top, right, bottom) + _LENGTH * distance
    outside = (left < _GAP) | (top < _GAP) | (right > ink.wide - _GAP) | (bottom > ink.high - _GAP)
    cost = cost + _FORBIDDEN * outside
    end_x, end_y = nearest(left, top, one, anchors)
    leader_x, leader_y = _between(anchors[:, 0], end_x), _between(anchors[:, 1], end_y)
    cost = cost + _LEADER_INK * ink.at(leader_x, leader_y).sum(0)
    leader = np.stack([anchors[:, 0], anchors[:, 1], end_x, end_y])
    for other, place in others:
        meets = (left < place.left + other.wide + _GAP) & (right > place.left - _GAP)
        meets &= (top < place.top + other.high + _GAP) & (bottom > place.top - _GAP)
        box = np.array([place.left, place.top, place.left + other.wide, place.top + other.high])
        through = _passes(leader, box)
        theirs_x, theirs_y = nearest(np.array([place.left]), np.array([place.top]), other, np.array([place.anchor]))
        theirs = np.array([[place.anchor[0]], [place.anchor[1]], theirs_x, theirs_y])
        under = _passes(theirs, np.stack([left, top, right, bottom]))
        cost = cost + _FORBIDDEN * (meets.astype(float) + through + under) + _CROSSED * _cross(leader, theirs)
    at = int(np.argmin(cost))
    anchor = (float(anchors[at, 0]), float(anchors[at, 1]))
    return Place(float(left[at]), float(top[at]), anchor, float(cost[at]))


def _candidates(one: Wanted) -> tuple[Values, Values, Values, Values]:
    """Corners, anchors and distances of every anchor, side and distance."""
    corners = []
    for far in _DISTANCES:
        for turn in 2.0 * np.pi * np.arange(_DIRECTIONS) / _DIRECTIONS:
            across, down = round(float(np.cos(turn)), 9), round(float(np.sin(turn)), 9)
            x = (np.sign(across) - 1.0) / 2.0 * one.wide + across * far
            y = (np.sign(down) - 1.0) / 2.0 * one.high + down * far
            corners.append((x, y, far))
    table = np.array(corners)
    left = (one.anchors[:, None, 0] + table[None, :, 0]).ravel()
    top = (one.anchors[:, None, 1] + table[None, :, 1]).ravel()
    anchors = np.repeat(one.anchors, len(table), axis=0)
    return left, top, anchors, np.tile(table[:, 2], len(one.anchors))


def nearest(left: Values, top: Values, one: Wanted, anchors: Values) -> tuple[Values, Values]:
    """The point of each label's box that is nearest to its anchor: where the leader ends."""
    return np.clip(anchors[:, 0], left, left + one.wide), np.clip(anchors[:, 1], top, top + one.high)


def _between(start: Values, end: Values) -> Values:
    """Points from just after one to just before the other, (points, candidates)."""
    share = np.linspace(0.15, 0.95, _ON_LEADER)[:, None]
    return start + share * (end - start)


def _passes(leaders: Values, boxes: Values) -> NDArray[np.bool_]:
    """Whether leaders (x, y, x, y) pass through boxes (left, top, right, bottom); a touch does not count."""
    enter, leave = np.zeros(1), np.ones(1)
    inside = np.ones(1, dtype=bool)
    for start, end, low, high in (
        (leaders[0], leaders[2], boxes[0], boxes[2]),
        (leaders[1], leaders[3], boxes[1], boxes[3]),
    ):
        along = end - start
        still = along == 0.0
        step = np.where(still, 1.0, along)
        first, second = (low - start) / step, (high - start) / step
        enter = np.maximum(enter, np.where(still, 0.0, np.minimum(first, second)))
        leave = np.minimum(leave, np.where(still, 1.0, np.maximum(first, second)))
        inside = inside & (~still | ((start > low) & (start < high)))
    found: NDArray[np.bool_] = inside & (enter < leave)
    return found


def _cross(leaders: Values, other: Values) -> NDArray[np.bool_]:
    """Whether leaders cross another one, anywhere between their ends."""
    apart = _side(leaders, other[:2]) * _side(leaders, other[2:]) < 0.0
    found: NDArray[np.bool_] = apart & (_side(other, leaders[:2]) * _side(other, leaders[2:]) < 0.0)
    return found


def _side(leader: Values, point: Values) -> Values:
    """On which side of a leader a point lies: -1, 0 or 1."""
    along, up = leader[2:] - leader[:2], point - leader[:2]
    side: Values = np.sign(along[0] * up[1] - along[1] * up[0])
    return side
