"""Study: what stands on log-log paper. Curves, points and ranges of current come in; a sheet ready to draw goes out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Values = NDArray[np.float64]

Role = Literal["upstream", "upstream earth", "link", "limiter", "main", "feeder", "transformer", "conductor"]
Weight = Literal["firm", "thin", "fine", "limit"]
"""firm: an edge of the band; thin: of a device that is not the matter of the sheet; fine: the same device in another
state; limit: what must not be reached."""
Shape = Literal["diamond", "square", "ring"]

SHORTEST, LONGEST = 0.01, 1000.0
"""s; the window of time of a coordination drawing [C]."""

ABOVE = 1e6
"""s, beyond any paper: where the line of a device that starts at a pickup comes from."""

_POINTS = 300
"""Currents at which a function is first asked; between them every step is searched."""
_STEEP = 0.1
"""ln of time between two neighbours from which a step is looked for between them."""
_HALVINGS = 40
"""Halvings of a step in ln of current: far below any line's width."""


@dataclass(frozen=True, slots=True)
class Edge:
    """One line of a device: A at the sheet's voltage, rising, and s; NaN parts it."""

    meaning: str
    current: Values
    time: Values
    weight: Weight = "firm"


@dataclass(frozen=True, slots=True)
class Characteristic:
    """What a device does or a part withstands.

    name, about  words on the line itself: the device, then its settings or states
    edges        where it is a band, first the earliest and then the latest edge, filled between
    referred     how its own current became that of the sheet
    """

    name: str
    about: tuple[str, ...]
    role: Role
    edges: tuple[Edge, ...]
    banded: bool
    referred: str


@dataclass(frozen=True, slots=True)
class Point:
    """A current and a time that matter together."""

    name: str
    current: float
    time: float
    shape: Shape


@dataclass(frozen=True, slots=True)
class Span:
    """A range of current that matters, A at the sheet's voltage; `ruled` where its ends go through the whole sheet."""

    name: str
    low: float
    high: float
    ruled: bool = False


@dataclass(frozen=True, slots=True)
class Allowance:
    """A time within which a range of currents has to be gone."""

    name: str
    time: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Scale:
    """A scale of current: what it says, and its amperes for one ampere of the sheet."""

    title: str
    ratio: float = 1.0


@dataclass(frozen=True, slots=True)
class Sheet:
    """One drawing on log-log paper.

    scale   the sheet's own amperes; `other` a second scale along the upper edge
    window  lowest and highest value of the upright axis, and its title
    notes   what is left out or simplified, in words
    band    words that every reader has to see first, such as that the data are invented
    """

    title: str
    scale: Scale
    other: Scale | None
    characteristics: tuple[Characteristic, ...]
    points: tuple[Point, ...] = ()
    spans: tuple[Span, ...] = ()
    allowances: tuple[Allowance, ...] = ()
    notes: tuple[str, ...] = ()
    window: tuple[float, float] = (SHORTEST, LONGEST)
    upright: str = "Time, s"
    band: str = ""


def traced(meaning: str, time: Callable[[Values], Values], low: float, high: float, weight: Weight = "firm") -> Edge:
    """The line of a device that starts at a pickup: its steps stand upright, and it comes from above at its start.

    time    s for currents in A; infinite where the device does not operate
    low, high  A, ends of the line
    """
    current = np.geomspace(low, high, _POINTS)
    times = time(current)
    for left, right in _steps(time, current, times):
        current, times = np.append(current, (left, right)), np.append(times, time(np.array([left, right])))
    order = np.argsort(current, kind="stable")
    return Edge(meaning, current[order], _from_above(times[order]), weight)


def _steps(time: Callable[[Values], Values], current: Values, times: Values) -> list[tuple[float, float]]:
    """Narrow brackets around each step, from the wide ones in which the time changes fast or starts."""
    with np.errstate(invalid="ignore", divide="ignore"):
        fast = ~(np.abs(np.diff(np.log(times))) < _STEEP) & np.isfinite(times[1:])
    left, right = current[:-1][fast], current[1:][fast]
    for _ in range(_HALVINGS):
        middle = np.sqrt(left * right)
        low, half, high = (np.minimum(time(each), ABOVE) for each in (left, middle, right))
        in_left = np.abs(low - half) >= np.abs(half - high)
        left, right = np.where(in_left, left, middle), np.where(in_left, middle, right)
    return list(zip(left.tolist(), right.tolist(), strict=True))


def _from_above(times: Values) -> Values:
    """Times in which the last current without operation stands above the paper, and all before it is not drawn."""
    operates = np.flatnonzero(np.isfinite(times))
    if not len(operates):
        return np.full_like(times, np.nan)
    first = int(operates[0])
    return np.concatenate([np.full(max(first - 1, 0), np.nan), np.full(min(first, 1), ABOVE), times[first:]])


def cut(edge: Edge, low: float, high: float) -> Edge:
    """The part of a line between two currents, its ends straight in log-log between the points around them."""
    if not len(edge.current):
        return edge
    ends = np.array([max(low, edge.current[0]), min(high, edge.current[-1])])
    if ends[0] >= ends[1]:
        return Edge(edge.meaning, np.empty(0), np.empty(0), edge.weight)
    inside = (edge.current > ends[0]) & (edge.current < ends[1])
    at_ends = np.exp(np.interp(np.log(ends), np.log(edge.current), np.log(edge.time)))
    current = np.concatenate([ends[:1], edge.current[inside], ends[1:]])
    time = np.concatenate([at_ends[:1], edge.time[inside], at_ends[1:]])
    return Edge(edge.meaning, current, time, edge.weight)


def drawn(edge: Edge, window: tuple[float, float]) -> Values:
    """Currents of the line that fall inside the window."""
    with np.errstate(invalid="ignore"):
        inside = (edge.time >= window[0]) & (edge.time <= window[1]) & (edge.current > 0.0)
    found: Values = edge.current[inside]
    return found
