"""Physics: every pair of a link and a limiter from two catalogues, examined at once. Catalogues in, margins out.

Numbers only, thousands of pairs a second: what is chosen here is then proved over ranges claim by claim.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from deadfront.physics.crossing import (
    STATES,
    Crossings,
    Edge,
    clearing_edge,
    clearing_edge_by_tolerance,
    crossings,
    edge_current,
    edge_time,
    melting_edge,
    stacked,
)
from deadfront.physics.curves import TimeCurrentCurve, liquid_factor
from deadfront.physics.fuse_pair import LoadPoint, largest_melting_energy

Floats = NDArray[np.float64]

THERMAL_STATES = ("both cold", "both hot", "cold link, hot limiter", "hot link, cold limiter")
"""Liquid at the link and at the limiter; the crossing is examined in each. A hot limiter is preloaded as well, a link
is not: its clearing is latest without."""

CHECKS = (
    "crossing above the largest secondary fault",
    "crossing below the link's interrupting rating",
    "crossing above the limiter's minimum interrupting current",
    "link clears in time to spare the limiter",
    "melting energy matched",
    "link carries the load",
    "limiter carries the load",
    "link survives inrush and cold load",
    "limiter survives inrush and cold load",
    "limiter breaks the available fault",
)
"""What is examined of each pair, in the order of the margins."""


@dataclass(frozen=True, slots=True)
class Link:
    """One draw-out link of a catalogue, at 25 degC.

    curve                A and s
    tolerance            1, of current, of the melting curve
    arcing_time          s, added to melting; None where the curve's own total clearing counts
    carried              A, without end
    melting_temperature  degC, of the element
    interrupting         A, at the voltage it recovers against
    """

    curve: TimeCurrentCurve
    tolerance: float
    arcing_time: float | None
    carried: float
    melting_temperature: float
    interrupting: float


@dataclass(frozen=True, slots=True)
class Limiter:
    """One backup current-limiting fuse of a catalogue, at 25 degC.

    curve                A and s
    carried              A, without end
    melting_temperature  degC, of the element
    least_interrupting   A, minimum interrupting current
    most_interrupting    A, rated maximum
    melting_energy       A²s, smallest
    """

    curve: TimeCurrentCurve
    carried: float
    melting_temperature: float
    least_interrupting: float
    most_interrupting: float
    melting_energy: float


@dataclass(frozen=True, slots=True)
class Duty:
    """What a pair has to do in one transformer; no field has a default.

    rated_current      A, primary line current
    load               A, largest permitted for long, overload included
    secondary_fault    A, `fuse_pair.largest_secondary_fault`
    available_fault    A, at the primary terminals
    liquid             degC, cold and hot
    preload            1, share of its melting time that a fuse keeps at full load, link and limiter
    points             inrush and cold-load points that must not melt a fuse
    crossing_multiple  1, crossing over largest secondary fault
    time_share         1, link clearing over limiter melting up to the largest secondary fault
    ageing_share       1, share of its melting current up to which the limiter may be loaded, 0.75 to 0.90 [C]
    match              s and 1, time and factor of matched melt
    """

    rated_current: float
    load: float
    secondary_fault: float
    available_fault: float
    liquid: tuple[float, float]
    preload: tuple[float, float]
    points: tuple[LoadPoint, ...]
    crossing_multiple: float
    time_share: float
    ageing_share: float
    match: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Examined:
    """All pairs against all checks.

    link, limiter  index into the catalogues                          (pairs,)
    crossings      in each of `THERMAL_STATES`                        (pairs, 4)
    margin         share by which each of `CHECKS` is kept, negative where it is not; NaN where a curve does not
                   say, which is not kept either                      (pairs, checks)
    """

    link: NDArray[np.int64]
    limiter: NDArray[np.int64]
    crossings: Crossings
    margin: Floats

    def kept(self) -> NDArray[np.bool_]:
        """Whether each check is kept; what is not known is not kept   (pairs, checks)."""
        return self.margin >= 0.0

    def worst(self) -> Floats:
        """Least margin of each pair; NaN if any is not known   (pairs,)."""
        return np.asarray(np.min(self.margin, axis=-1))


def examine(
    links: Sequence[Link], limiters: Sequence[Limiter], duty: Duty, pairs: tuple[Sequence[int], Sequence[int]]
) -> Examined:
    """Examine pairs of a link and a limiter.

    links      catalogue of links
    limiters   catalogue of limiters
    duty       what they have to do
    pairs      index of the link and of the limiter of each pair
    returns    margins of all `CHECKS`
    holds      plain numbers: one duty, no ranges
    raises     ValueError: an empty catalogue
    source     backup coordination after IEEE C37.48 as practised [C], see `fuse_pair`
    """
    first, second = np.asarray(pairs[0], dtype=np.int64), np.asarray(pairs[1], dtype=np.int64)
    one, other = _links(links, duty), _limiters(limiters, duty)
    lower = one.edge.at(first)
    upper = other.edge.at(second)
    found = crossings(lower, upper)
    once = found.state == STATES.index("crosses once")
    crossing_low = np.min(np.where(once, found.first, np.nan), axis=-1)
    crossing_high = np.max(np.where(once, found.first, np.nan), axis=-1)
    margin = (
        crossing_low / (duty.crossing_multiple * duty.secondary_fault) - 1.0,
        1.0 - crossing_high / one.interrupting[first],
        crossing_low / other.interrupting[second] - 1.0,
        1.0 - _largest_share(lower, upper, duty.secondary_fault) / duty.time_share,
        1.0 - one.energy[first] / (duty.match[1] * other.energy[second]),
        one.carried[first] / duty.load - 1.0,
        other.carried[second] / duty.load - 1.0,
        one.survives[first],
        other.survives[second],
        other.most_interrupting[second] / duty.available_fault - 1.0,
    )
    return Examined(first, second, found, np.stack(np.broadcast_arrays(*margin), axis=-1))


@dataclass(frozen=True, slots=True)
class _Prepared:
    """A catalogue in one array per property.

    edge               in each of `THERMAL_STATES`                    (fuses, 4, points)
    interrupting       A, largest of a link, smallest of a limiter    (fuses,)
    most_interrupting  A                                              (fuses,)
    energy             A²s                                            (fuses,)
    carried            A, hot                                         (fuses,)
    survives           1, tightest margin over the points             (fuses,)
    """

    edge: Edge
    interrupting: Floats
    most_interrupting: Floats
    energy: Floats
    carried: Floats
    survives: Floats


def _links(links: Sequence[Link], duty: Duty) -> _Prepared:
    clearing = stacked([_clearing(link) for link in links])
    cold, hot = _factors([link.melting_temperature for link in links], duty)
    interrupting = np.array([link.interrupting for link in links])
    melting = stacked([melting_edge(link.curve) for link in links])
    return _Prepared(
        _in_states(clearing, (cold, hot, cold, hot), np.ones(4)),
        interrupting,
        interrupting,
        np.array([float(largest_melting_energy(link.curve, duty.match[0], link.tolerance)) for link in links]),
        hot * np.array([link.carried for link in links]),
        _survival(melting.moved(hot, np.full(len(links), duty.preload[0])), duty, 1.0),
    )


def _limiters(limiters: Sequence[Limiter], duty: Duty) -> _Prepared:
    melting = stacked([melting_edge(limiter.curve) for limiter in limiters])
    cold, hot = _factors([limiter.melting_temperature for limiter in limiters], duty)
    preload = duty.preload[1]
    return _Prepared(
        _in_states(melting, (cold, hot, hot, cold), np.array([1.0, preload, preload, 1.0])),
        np.array([limiter.least_interrupting for limiter in limiters]),
        np.array([limiter.most_interrupting for limiter in limiters]),
        np.array([limiter.melting_energy for limiter in limiters]),
        hot * np.array([limiter.carried for limiter in limiters]),
        _survival(melting.moved(hot, np.full(len(limiters), preload)), duty, duty.ageing_share),
    )


def _clearing(link: Link) -> Edge:
    if link.arcing_time is None:
        return clearing_edge(link.curve)
    return clearing_edge_by_tolerance(link.curve, link.tolerance, link.arcing_time)


def _factors(melting_temperatures: Sequence[float], duty: Duty) -> tuple[Floats, Floats]:
    """Shift of each fuse in cold and in hot liquid."""
    metal = np.array(melting_temperatures)
    return liquid_factor(metal, duty.liquid[0]), liquid_factor(metal, duty.liquid[1])


def _in_states(edge: Edge, factors: Sequence[Floats], preload: Floats) -> Edge:
    """Edges of a catalogue in each of `THERMAL_STATES`."""
    each = edge.at((slice(None), None))
    current = np.stack(factors, axis=-1)
    return each.moved(current, np.broadcast_to(preload, current.shape))


def _survival(melting: Edge, duty: Duty, share: float) -> Floats:
    """Tightest margin over the points: melting current over the current of the point; infinite without points.

    NaN where a curve begins at a shorter time than that of a point: it does not say what melts it so late.
    """
    times = np.array([point.time for point in duty.points])
    loads = duty.rated_current * np.array([point.multiple for point in duty.points])
    if not len(times):
        return np.full(len(melting.current), np.inf)
    melts_at = edge_current(melting, np.broadcast_to(times, (len(melting.current), len(times))))
    return np.asarray(np.min(share * melts_at / loads - 1.0, axis=-1))


def _largest_share(lower: Edge, upper: Edge, fault: float) -> Floats:
    """Largest lower clearing over upper melting time up to the fault, in the worst thermal state.

    Between points the share is convex in ln I, so it is largest at a point of either curve or at the fault.
    """
    shape = lower.current.shape[:-1]
    ends = np.full((*shape, 1), fault)
    current = np.minimum(np.concatenate([lower.current, upper.current, ends], axis=-1), fault)
    low, high = edge_time(lower, current), edge_time(upper, current)
    safe = np.where(np.isfinite(high), high, 1.0)
    share = np.where(np.isfinite(high), low / safe, 0.0)
    return np.asarray(np.max(share, axis=(-2, -1)))
