"""Study: a fault in spans of time, as its infeeds go one by one; a clearing comes in, currents and times go out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from deadfront.physics.types import Array
from deadfront.study.clearing import Clearing

FOREVER = 1e9
"""Stands for an endless time where spans of time are subtracted, s."""


@dataclass(frozen=True, slots=True)
class Spans:
    """A fault in spans of time: what flows in each, A, and how long it lasts, s."""

    currents: tuple[Array, ...]
    times: tuple[Array, ...]


def spans(clearing: Clearing, total: Array, limit: Array = np.inf) -> Spans:
    """The total current until the first infeed has gone, then what is left, until the last has gone or `limit`.

    A single span where there is one infeed, or a device that all current passes: behind a feeder's cable what is left
    grows when an infeed goes, so the total stands for it, on the safe side. Each infeed's time is read at its share of
    the whole current. An endless time stands as `FOREVER` where there are several infeeds.
    """
    if len(clearing.infeeds) < 2 or clearing.common:
        return Spans((total,), (np.minimum(clearing.time, limit),))
    last = np.minimum(limit, FOREVER)
    ordered = _by_time(
        [
            (np.where(i.connected > 0.0, np.minimum(i.time, last), 0.0), np.where(i.connected > 0.0, i.current, 0.0))
            for i in clearing.infeeds
        ]
    )
    currents, times, before = [total], [ordered[0][0]], ordered[0][0]
    for number in range(1, len(ordered)):
        rest: Array = 0.0
        for _, current in ordered[number:]:
            rest = rest + current
        span = ordered[number][0] - before
        lasts = np.greater(span, 0.0)
        first = np.greater(before, 0.0)  # an infeed that is not connected ends at once: all still flows after it
        currents.append(np.where(np.logical_and(lasts, first), rest, total))
        times.append(np.where(lasts, span, 0.0))
        before = ordered[number][0]
    return Spans(tuple(currents), tuple(times))


def joule_integral(clearing: Clearing, total: Array) -> Array:
    """Heat of a fault until its last infeed has gone, A2s, symmetrical currents."""
    found = spans(clearing, total)
    heat: Array = 0.0
    for current, time in zip(found.currents, found.times, strict=True):
        lasting = np.where(np.less_equal(current, 0.0), 0.0, time)  # without current no heat, however long it lasts
        heat = heat + np.square(current) * lasting
    return heat


def _by_time(pairs: list[tuple[Array, Array]]) -> list[tuple[Array, Array]]:
    """Infeeds in the order in which they end, by exchanging neighbours; works on ranges too."""
    found = list(pairs)
    for last in range(len(found) - 1, 0, -1):
        for i in range(last):
            (t1, i1), (t2, i2) = found[i], found[i + 1]
            swap = np.greater(t1, t2)
            found[i] = (np.minimum(t1, t2), np.where(swap, i2, i1))
            found[i + 1] = (np.maximum(t1, t2), np.where(swap, i1, i2))
    return found
