"""Physics: every pair of a link and a limiter from two catalogues, examined at once. Catalogues in, margins out.

Numbers only, thousands of pairs a second: what is chosen here is then proved over ranges claim by claim.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

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
from deadfront.physics.fuse_pair import largest_melting_energy
from deadfront.physics.fuse_sparing import LATE
from deadfront.physics.north_american import medium_voltage_fuse_factor

Floats = NDArray[np.float64]

LOW_STATES = ("both cold", "both hot", "cold link, hot limiter")
HIGH_STATES = ("both cold", "both hot", "hot link, cold limiter")
"""Liquid at the link and at the limiter; the lowest crossing is sought with the limiter preloaded, the highest with
neither preloaded."""

CHECKS = (
    "crossing above the largest secondary fault",
    "crossing below the link's interrupting rating",
    "link within its voltage class",
    "crossing above the limiter's minimum interrupting current",
    "link clears in time to spare the limiter",
    "link interrupts the largest secondary fault",
    "link clears the smallest secondary fault",
    "melting energy matched",
    "limiter within its voltage class",
    "link carries the load",
    "limiter carries the load",
    "link survives cold load",
    "limiter survives cold load",
    "link survives inrush",
    "limiter survives inrush",
    "limiter breaks the available fault",
)
"""What is examined of each pair, in the order of the margins."""

NEED_NO_CROSSING = (7, 8)
"""Checks of both fuses that say something also where their curves do not cross as they should: the melting energies."""


@dataclass(frozen=True, slots=True)
class Link:
    """One draw-out link of a catalogue. A number that its maker does not give is NaN: what rests on it is not known.

    curve                A and s, at the reference temperature
    tolerance            1, of current, of the melting curve
    arcing_time          s, added to melting; None where the curve's own total clearing counts
    carried              A, without end, at the reference temperature
    melting_temperature  degC, of the element
    reference            degC, of curve and load
    preload              1, share of its melting time that it keeps after the permitted load
    ageing_share         1, of its melting current, to which load points may take it
    interrupting         A, at the voltage it recovers against
    voltage              V, class
    holds                whether its curve is published for the network's frequency
    """

    curve: TimeCurrentCurve
    tolerance: float
    arcing_time: float | None
    carried: float
    melting_temperature: float
    reference: float
    preload: float
    ageing_share: float
    interrupting: float
    voltage: float
    holds: bool


@dataclass(frozen=True, slots=True)
class Limiter:
    """One backup current-limiting fuse of a catalogue; likewise NaN where its maker says nothing.

    curve, carried, melting_temperature, reference, preload, ageing_share, voltage, holds   as for `Link`
    least_interrupting   A, minimum interrupting current
    most_interrupting    A, rated maximum
    tested_ratio         1, X/R up to which that was tested
    melting_energy       A²s, smallest
    """

    curve: TimeCurrentCurve
    carried: float
    melting_temperature: float
    reference: float
    preload: float
    ageing_share: float
    least_interrupting: float
    most_interrupting: float
    tested_ratio: float
    melting_energy: float
    voltage: float
    holds: bool


@dataclass(frozen=True, slots=True)
class Duty:
    """What a pair has to do in one transformer; no field has a default.

    load               A, largest permitted for long, overload included
    largest_fault      A, primary line current of the largest secondary fault
    spared_up_to       A, of the largest current up to which the link has to spare the limiter
    smallest_fault     A, of the smallest arcing secondary fault
    available          A and X/R of faults at the primary terminals            (faults,) each
    liquid             degC, cold and hot
    cold_load, inrush  A and s that must not melt a fuse                       (points,) each
    crossing_multiple  1, crossing over largest secondary fault
    time_share         1, link clearing over limiter melting up to the largest secondary fault
    match              s and 1, time and factor of matched melt
    recovery           V across a fuse that has cleared
    shared_recovery    V across a limiter whose link melts as well
    together           limiters in parallel
    """

    load: float
    largest_fault: float
    spared_up_to: float
    smallest_fault: float
    available: tuple[Floats, Floats]
    liquid: tuple[float, float]
    cold_load: tuple[Floats, Floats]
    inrush: tuple[Floats, Floats]
    crossing_multiple: float
    time_share: float
    match: tuple[float, float]
    recovery: float
    shared_recovery: float
    together: int


@dataclass(frozen=True, slots=True)
class Examined:
    """All pairs against all checks.

    link, limiter  index into the catalogues                          (pairs,)
    crossings      in each of `LOW_STATES`, then of `HIGH_STATES`     (pairs, 6)
    margin         share of its limit by which each of `CHECKS` is kept, negative where it is not; NaN where a curve or
                   a catalogue does not say                           (pairs, checks)
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
    links: Sequence[Link],
    limiters: Sequence[Limiter],
    duty: Duty,
    pairs: tuple[Sequence[int] | NDArray[np.int64], Sequence[int] | NDArray[np.int64]],
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
    found = crossings(one.edge.at(first), other.edge.at(second))
    paired = _paired(one.at(first), other.at(second), found, duty)
    alone = np.stack([one.load[first], other.load[second]], axis=-1)
    points = np.stack([one.points[first], other.points[second]], axis=-1).reshape(len(first), -1)
    breaks = (1.0 - other.available[second] / other.most_interrupting[second])[:, None]
    return Examined(first, second, found, np.concatenate([paired, alone, points, breaks], axis=-1))


@dataclass(frozen=True, slots=True)
class _Prepared:
    """A catalogue in one array per property.

    edge               in each of the six states                      (fuses, 6, points)
    unfit              whether its curve says nothing in this liquid and network      (fuses,)
    spent              whether the permitted load leaves it no melting time    (fuses,)
    interrupting       A, largest of a link, smallest of a limiter    (fuses,)
    most_interrupting  A                                              (fuses,)
    available          A, largest available fault as the test counts it       (fuses,)
    clears_from        A, first point of the cold clearing edge       (fuses,)
    energy             A²s, link cold, limiter hot                    (fuses,)
    voltage            V                                              (fuses,)
    load               1, margin of the permitted load                (fuses,)
    points             1, margin of cold load and of inrush           (fuses, 2)
    """

    edge: Edge
    unfit: NDArray[np.bool_]
    spent: NDArray[np.bool_]
    interrupting: Floats
    most_interrupting: Floats
    available: Floats
    clears_from: Floats
    energy: Floats
    voltage: Floats
    load: Floats
    points: Floats

    def at(self, index: NDArray[np.int64]) -> _Prepared:
        """Some of the fuses, any of them several times."""
        return _Prepared(self.edge.at(index), *(getattr(self, each.name)[index] for each in fields(self)[1:]))


def _paired(one: _Prepared, other: _Prepared, found: Crossings, duty: Duty) -> Floats:
    """Margins of the checks that ask about both fuses, or only where their curves cross as they should."""
    low, high, unknown = _ends(found)
    mixed = (slice(None), LOW_STATES.index("cold link, hot limiter"))
    share = _largest_share(one.edge.at(mixed), other.edge.at(mixed), duty.spared_up_to)
    energy = one.energy / (duty.match[1] * other.energy)
    # Beside a link that is not itself rated for what it recovers against, no voltage is shared.
    matched = np.where(one.voltage >= duty.recovery, duty.shared_recovery, duty.recovery)
    needed = np.where(energy <= 1.0, matched, np.where(energy > 1.0, duty.recovery, np.nan))
    margins = (
        low / (duty.crossing_multiple * duty.largest_fault) - 1.0,
        1.0 - high / one.interrupting,
        1.0 - duty.recovery / one.voltage,
        low / other.interrupting - 1.0,
        1.0 - share / duty.time_share,
        1.0 - duty.largest_fault / one.interrupting,
        duty.smallest_fault / one.clears_from - 1.0,
        1.0 - energy,
        1.0 - needed / other.voltage,
    )
    unfit = one.unfit | other.unfit
    nothing = [unfit if number in NEED_NO_CROSSING else unfit | unknown | other.spent for number in range(len(margins))]
    return np.where(np.stack(nothing, axis=-1), np.nan, np.stack(np.broadcast_arrays(*margins), axis=-1))


def _links(links: Sequence[Link], duty: Duty) -> _Prepared:
    cold, hot = _factors(links, duty)
    interrupting = _column(links, "interrupting")
    # Where nothing is known the factor stands as one, so that the search of crossings has numbers; NaN comes after it.
    unfit = np.isnan(cold) | np.isnan(hot) | (_column(links, "holds") == 0.0)
    cold_one, hot_one = np.nan_to_num(cold, nan=1.0), np.nan_to_num(hot, nan=1.0)
    clearing = stacked([_clearing(link) for link in links])
    edge = _in_states(clearing, (cold_one, hot_one, cold_one, cold_one, hot_one, hot_one), np.ones((len(links), 6)))
    return _Prepared(
        edge,
        unfit,
        np.zeros(len(links), dtype=bool),
        interrupting,
        interrupting,
        np.zeros(len(links)),
        cold * clearing.current[:, 0],
        np.square(cold)
        * np.array([float(largest_melting_energy(each.curve, duty.match[0], each.tolerance)) for each in links]),
        _column(links, "voltage"),
        1.0 - duty.load / (hot * _column(links, "carried")),
        _survival(links, duty, hot, 1),
    )


def _limiters(limiters: Sequence[Limiter], duty: Duty) -> _Prepared:
    cold, hot = _factors(limiters, duty)
    preload, tested = _column(limiters, "preload"), _column(limiters, "tested_ratio")
    unfit = np.isnan(cold) | np.isnan(hot) | (_column(limiters, "holds") == 0.0)
    cold_one, hot_one = (duty.together * np.nan_to_num(each, nan=1.0) for each in (cold, hot))
    kept = np.nan_to_num(preload, nan=1.0)
    melting = stacked([melting_edge(limiter.curve) for limiter in limiters])
    shares = np.stack([kept, kept, kept, *[np.ones(len(limiters))] * 3], axis=-1)
    current, ratio = duty.available
    available = np.max(medium_voltage_fuse_factor(ratio, tested[:, None]) * current, axis=-1)
    return _Prepared(
        _in_states(melting, (cold_one, hot_one, hot_one, cold_one, hot_one, cold_one), shares),
        unfit,
        np.isnan(preload),
        duty.together * _column(limiters, "least_interrupting"),
        _column(limiters, "most_interrupting"),
        np.asarray(available),
        np.zeros(len(limiters)),
        np.square(duty.together * hot) * _column(limiters, "melting_energy"),
        _column(limiters, "voltage"),
        1.0 - duty.load / (hot * duty.together * _column(limiters, "carried")),
        _survival(limiters, duty, hot, duty.together),
    )


def _column(fuses: Sequence[Link] | Sequence[Limiter], name: str) -> Floats:
    return np.array([float(getattr(fuse, name)) for fuse in fuses])


def _clearing(link: Link) -> Edge:
    if link.arcing_time is None:
        return clearing_edge(link.curve)
    return clearing_edge_by_tolerance(link.curve, link.tolerance, link.arcing_time)


def _factors(fuses: Sequence[Link] | Sequence[Limiter], duty: Duty) -> tuple[Floats, Floats]:
    """Shift of each fuse in cold and in hot liquid, against its reference temperature."""
    metal = _column(fuses, "melting_temperature")
    published = liquid_factor(metal, _column(fuses, "reference"))
    cold, hot = (np.asarray(liquid_factor(metal, liquid) / published) for liquid in duty.liquid)
    return cold, hot


def _in_states(edge: Edge, factors: Sequence[Floats], preload: Floats) -> Edge:
    """Edges of a catalogue in each of the six states."""
    each = edge.at((slice(None), None))
    return each.moved(np.stack(factors, axis=-1), preload)


def _survival(fuses: Sequence[Link] | Sequence[Limiter], duty: Duty, hot: Floats, together: int) -> Floats:
    """Tightest margin over cold-load points, and over inrush points; infinite without points   (fuses, 2).

    NaN where a curve begins at a shorter time than that of a point: it does not say what melts it so late.
    """
    melting = stacked([melting_edge(fuse.curve) for fuse in fuses]).moved(together * hot, _column(fuses, "preload"))
    share = _column(fuses, "ageing_share")[:, None]
    found = []
    for loads, times in (duty.cold_load, duty.inrush):
        melts_at = edge_current(melting, np.broadcast_to(times, (len(fuses), len(times))))
        found.append(np.min(1.0 - loads / (share * melts_at), axis=-1, initial=np.inf))
    return np.stack(found, axis=-1)


def _ends(found: Crossings) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Lowest and highest crossing of each pair, and whether nothing can be said of them   (pairs,) each.

    Infinite where the link is always first, where both edges begin if the limiter is; neither is a crossing.
    """
    state = found.state
    unknown = np.any(
        (state == STATES.index("crosses several times")) | (state == STATES.index("crosses beyond both curves")), -1
    )
    current = np.where(state == STATES.index("crosses once"), found.first, found.start)
    current = np.where(state == STATES.index("lower always first"), np.inf, current)
    return np.min(current[:, :3], axis=-1), np.max(current[:, 3:], axis=-1), unknown


def _largest_share(lower: Edge, upper: Edge, fault: float) -> Floats:
    """Largest lower clearing over upper melting time up to the fault.

    Between points the share is convex in ln I, so it is largest at a point of either curve or at the fault.
    """
    ends = np.full((len(lower.current), 1), fault)
    current = np.minimum(np.concatenate([lower.current, upper.current, ends], axis=-1), fault)
    low, high = edge_time(lower, current), edge_time(upper, current)
    safe = np.where(np.isfinite(high), high, 1.0)
    share = np.where(np.isfinite(high), np.minimum(low / safe, LATE), 0.0)
    return np.asarray(np.max(share, axis=-1))
