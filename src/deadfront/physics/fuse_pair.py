"""Physics: what a link and a limiter in series must satisfy, value by value. Arrays in, arrays out.

The link is a draw-out expulsion fuse, the limiter a current-limiting fuse that backs it up. Everything here takes
floats, arrays or ranges; where the two curves cross is the matter of `crossing`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from deadfront.physics.curves import TimeCurrentCurve, melting_current
from deadfront.physics.selectivity import share_of_upper
from deadfront.physics.types import Array
from deadfront.tables import read

IMPEDANCE_TOLERANCE = 0.075
"""1, by which the impedance of a transformer may lie below its nameplate [C]."""

PREFERRED_CROSSING = 1.25
"""1, crossing over largest secondary fault that is preferred; 1.0 is the minimum [C]."""

MATCH_TIME = 0.0125
"""s, at which the link's melting curve is read for its largest melting energy [M]."""

MATCH_FACTOR = 2.0
"""1, link melting energy over limiter melting energy that still melts the link: a limiter lets through at least twice
what melts it [M]. The strict choice is 1."""

TIME_SHARE = (0.75, 0.90)
"""1, link clearing over limiter melting time that keeps the limiter unharmed, strict and lenient [C]."""

LIMITER_LOAD_SHARE = 0.9
"""1, share of its rating that a limiter in liquid carries at 85 degC unless its data say otherwise [C]."""

LINK_LOAD_MULTIPLE = 1.5
"""1, share of its rating that a link of K or T type carries at 25 degC [V, restated]."""

LONG_TIME = 300.0
"""s, at which the long-time rule for draw-out links reads the melting curve [C]."""


@dataclass(frozen=True, slots=True)
class LoadPoint:
    """A current that must not melt a fuse, for a time: energisation inrush or cold-load pickup.

    kind      "inrush" or "cold load"
    multiple  1, of the transformer's rated current
    time      s
    tag       how the numbers were verified
    """

    kind: str
    multiple: float
    time: float
    tag: str


def load_points() -> tuple[LoadPoint, ...]:
    """All inrush and cold-load points of the table; which of them count is for the project to say.

    returns    points in the order of the table
    holds      liquid-immersed distribution transformers
    raises     nothing
    source     IEEE 242-2001, chapter 15, and practice, tagged point by point
    """
    rows = read("transformer-load-points").rows
    return tuple(LoadPoint(row["kind"], float(row["multiple"]), float(row["time_s"]), row["tag"]) for row in rows)


def largest_secondary_fault(
    rated_current: Array, impedance: Array, tolerance: Array, source: Array, voltage: Array
) -> Array:
    """Largest primary line current of a bolted three-phase fault on the secondary: v I / (z (1 - a) + z_s).

    rated_current  I    A, primary line current of the transformer             (cases,)
    impedance      z    per unit of the transformer, nameplate                 (cases,)
    tolerance      a    1, by which it may lie below, 0.075 customary [C]      (cases,)
    source         z_s  per unit on the same base; zero for an infinite bus    (cases,)
    voltage        v    per unit of the tap in use, at its highest             (cases,)
    returns        A rms                                                       (cases,)
    holds          exact on an infinite bus, as practice asks. Beware: with a source of another X/R the sum of
                   magnitudes exceeds that of vectors, and the current comes out low
    raises         nothing
    source         backup coordination practice: infinite bus, highest tap voltage, lowest impedance [C]
    """
    return voltage * rated_current / (impedance * (1.0 - tolerance) + source)


def secondary_earth_fault(impedance: Array, source: Array) -> Array:
    """Earth fault on an earthed-star secondary behind a delta, per unit of rated secondary current.

    3 / (2 (z_t + z_s) + z_t): the source's zero sequence does not pass the delta

    impedance      z_t  per unit                                               (cases,)
    source         z_s  per unit on the transformer's base                     (cases,)
    returns        1                                                           (cases,)
    holds          Z0 = Z1 of the transformer, one X/R. Beware: exceeds the three-phase fault, primary lines see 0.577
    raises         nothing
    source         symmetrical components [D]
    """
    return 3.0 / (2.0 * (impedance + source) + impedance)


def largest_melting_energy(curve: TimeCurrentCurve, time: Array, tolerance: Array) -> Array:
    """Largest energy the link may need to melt, from its minimum-melting curve: (I(t) (1 + e))² t.

    curve          A and s; structural
    time       t   s, customarily 0.0125 [M]                                   (cases,)
    tolerance  e   1, of current, 0.20 for K and T links [M]                   (cases,)
    returns        A²s; NaN for a time above that of the curve's first point   (cases,)
    holds          melting without heat loss
    raises         nothing
    source         matched-melt practice, IEEE C37.48 [M]
    """
    return np.square(melting_current(curve, time, "largest") * (1.0 + tolerance)) * time


def matched_melt_ratio(link_energy: Array, limiter_energy: Array, factor: Array) -> Array:
    """Matched melt: largest link energy over what the limiter surely lets through, W_link / (c W_limiter).

    link_energy     A²s, `largest_melting_energy`                              (cases,)
    limiter_energy  A²s, smallest melting energy of the limiter                (cases,)
    factor          c   1, 2 customary [M], 1 strict                           (cases,)
    returns         1; matched up to one                                       (cases,)
    holds           faults the limiter clears within its first half cycle
    raises          nothing
    source          IEEE C37.48, definition [V, restated]; the numbers are not from its text [M]
    """
    return link_energy / (factor * limiter_energy)


def permitted_load(rating: Array, multiple: Array, liquid: Array) -> Array:
    """Current a fuse carries without end in liquid: multiple times rating, moved as its curve moves.

    rating     A                                                               (cases,)
    multiple   1, of the rating at 25 degC: 1.5 for K and T links [V, restated], catalogue for limiters     (cases,)
    liquid     1, `curves.liquid_factor`                                       (cases,)
    returns    A rms                                                           (cases,)
    holds      where the catalogue has no correction of its own
    raises     nothing
    source     engineering model [D], multiple as tagged
    """
    return liquid * multiple * rating


def long_time_multiple(curve: TimeCurrentCurve, rated_current: Array) -> Array:
    """Current that melts a draw-out link in 300 s over the transformer's rated current.

    curve          A and s, of the link; structural
    rated_current  A, primary line current of the transformer                  (cases,)
    returns        1: aim at 3 for tin and 4 for copper, practice 2 to 4; NaN for a curve that begins below 300 s
    holds          cold link
    raises         nothing
    source         application practice [C]
    """
    return melting_current(curve, LONG_TIME, "smallest") / rated_current


def clearing_over_melting(link_clearing: Array, limiter_melting: Array) -> Array:
    """Longest clearing time of the link over the shortest melting time of the limiter, at one current.

    At most 0.75 to 0.90 up to the largest secondary fault leaves the limiter unharmed; at most one up to a current
    says that the crossing lies above it, over any range of currents.

    link_clearing    s; cold link, tolerance and arcing included               (cases,)
    limiter_melting  s; hot and preloaded limiter                              (cases,)
    returns          1; zero where the limiter does not melt, infinite where it does and the link does not clear
    holds            Beware: compare clearing of the lower with melting of the upper, never mean with mean
    raises           nothing
    source           time-current coordination [C]
    """
    return share_of_upper(link_clearing, limiter_melting)


def recovery_voltage(line_voltage: Array, connection: str, *, source_earthed: bool) -> Array:
    """Voltage across a fuse that has cleared, for which its interrupting rating must hold.

    Line to line, unless the transformer is earthed star on both sides and its source effectively earthed: then line
    to neutral.

    line_voltage    V between lines, highest in service                        (cases,)
    connection      "Dyn", "YNyn" and so on, without clock number; structural
    source_earthed  whether the source is effectively earthed; structural
    returns         V rms                                                      (cases,)
    holds           single fuse clearing first in a three-phase fault included
    raises          nothing
    source          application practice after IEEE C37.48 [C; line-to-line for ungrounded and delta V, restated]
    """
    return line_voltage / np.sqrt(3.0) if connection == "YNyn" and source_earthed else line_voltage


def interrupting_rating(voltages: tuple[float, ...], ratings: tuple[float, ...], recovery: Array) -> Array:
    """Interrupting rating of a link at the voltage it recovers against: that of the next voltage class.

    voltages   V, classes of the catalogue, rising; structural
    ratings    A rms, symmetrical, falling with the class; structural
    recovery   V                                                               (cases,)
    returns    A rms; NaN above the highest class                              (cases,)
    holds      never interpolated: between two classes the higher one counts
    raises     ValueError: classes that do not rise, or not one rating to each
    source     catalogue; falls steeply with voltage [C]
    """
    if len(voltages) != len(ratings) or list(voltages) != sorted(set(voltages)):
        raise ValueError(f"voltages: expected rising classes, one per rating, got {voltages} for {ratings}")
    found: Array = np.nan
    for voltage, rating in zip(reversed(voltages), reversed(ratings), strict=True):
        found = np.where(np.less_equal(recovery, voltage), rating, found)
    return found
