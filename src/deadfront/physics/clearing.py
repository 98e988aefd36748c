"""Physics: the parts of a clearing time and which comes first. Arrays in, arrays out."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from deadfront.physics.types import Array
from deadfront.tables import read

BOTTOM = 0.01
"""s, a fuse's clearing time beyond the bottom of its published curve; IEEE 1584-2002, 4.6 [V]. One of two conventions:
the other is half a cycle for a fuse in its limiting range (`limiting_time`)."""


def operates_above(current: Array, threshold: Array, time: Array) -> Array:
    """Time of an element that starts above a threshold: infinite up to it. What is NaN in any argument stays NaN.

    current    A, at least zero                   (cases,)
    threshold  A, at least zero                   (cases,)
    time       s, once started                    (cases,)
    returns    s                                  (cases,)
    raises     nothing
    source     at exactly the threshold an element is not sure to start [C]
    """
    # Both minima are zero, or NaN: without them a NaN current would compare as false and get the time.
    started = time + np.minimum(current, 0.0) + np.minimum(threshold, 0.0)
    return np.where(np.less_equal(current, threshold), np.inf, started)


def first_to_clear(times: Sequence[Array]) -> Array:
    """Time of the first of several devices in series, or elements of a device: nothing is added, the first ends it.

    times      s, one per device or element       (cases,) each
    returns    s, infinite where none operates, also without any
    raises     nothing
    source     common practice [C]
    """
    earliest: Array = np.inf
    for time in times:
        earliest = np.minimum(earliest, time)
    return earliest


def breaker_opening_time(kind: str, frequency: Array) -> Array:
    """Opening time of a breaker, arcing included, from its trip signal: a number of cycles over the frequency.

    kind       "moulded-case", "insulated-case", "low-voltage power", "medium-voltage 1-35 kV" or "above 35 kV";
               structural
    frequency  Hz                                 (cases,)
    returns    s. Beware: the standard prints rounded seconds, 5 cycles at 60 Hz as 0.080 s; here they are 0.0833 s
    holds      where the breaker's own opening time is not known. A moulded-case curve already holds it
    raises     ValueError for an unknown kind
    source     IEEE Std 1584-2002, 4.6, Table 1 [V]
    """
    table = read("ieee1584-opening-times")
    kinds = [row["breaker"] for row in table.rows]
    if kind not in kinds:
        raise ValueError(f"kind: expected one of {', '.join(kinds)}, got {kind!r}")
    return float(table.row(breaker=kind)["cycles"]) / frequency


def relay_and_breaker(relay_time: Array, opening: Array) -> Array:
    """Clearing time of a relay, or of a breaker's own trip, with its breaker: their sum, s; infinite without a signal.

    relay_time  s, from fault to trip signal                (cases,)
    opening     s, of the breaker, arcing included          (cases,)
    source      common practice [C]
    """
    return relay_time + opening


def clearing_from_average_melting(average: Array) -> Array:
    """Clearing time of a fuse of which only the average melting time is published.

    15 % more up to 0.03 s, 10 % more above; at least 0.01 s.

    average    s                                  (cases,)
    returns    s, infinite if it does not melt    (cases,)
    holds      Beware: falls by 4 % across 0.03 s, as the rule does
    raises     nothing
    source     IEEE Std 1584-2002, 4.6 [V2]; bottom of 0.01 s [V]
    """
    added = np.where(np.less_equal(average, 0.03), 1.15, 1.10) * average
    return np.maximum(added, BOTTOM)


def limiting_time(current: Array, limiting_from: Array, frequency: Array) -> Array:
    """Arc duration that counts for a fuse in its current-limiting range: half a cycle with the full arcing current.

    current        A rms, of the arc; the reduced arcing current included                (cases,)
    limiting_from  A rms, above which the fuse limits                                    (cases,)
    frequency      Hz                                                                    (cases,)
    returns        s, infinite below: no credit there, read the curve                    (cases,)
    raises         nothing
    source         common practice, NFPA 70E note to Table 130.7(C)(15)(a) [V]
    """
    return operates_above(current, limiting_from, 0.5 / frequency)


def arc_detection_time(sensing: Array, output: Array, opening: Array) -> Array:
    """Clearing time of light-based arc detection: sensing, trip output and the opening of the breaker it trips.

    sensing    s, from light to the decision, some 1 ms [V]                  (cases,)
    output     s, semiconductor 1 to 2 ms, contact 7 to 10 ms in all [C]     (cases,)
    opening    s, of the breaker, arcing included                            (cases,)
    returns    s                                                             (cases,)
    holds      arcs that the sensors see, for current that flows through that breaker: behind it, not in front
    raises     nothing
    source     sum of times in series [C]
    """
    return sensing + output + opening


def supervised(time: Array, current: Array, supervision: Array) -> Array:
    """Clearing time of arc detection that must also see a current.

    time         s, `arc_detection_time`          (cases,)
    current      A rms through the current transformers                                  (cases,)
    supervision  A, current that must be present                                         (cases,)
    returns      s, infinite at and below that current                                   (cases,)
    raises       nothing
    source       common practice [C]
    """
    return operates_above(current, supervision, time)


def exposure_time(clearing_time: Array, longest_exposure: Array) -> Array:
    """Time a person is taken to stand before the arc: the clearing time, cut where the person has moved away.

    clearing_time     s                           (cases,)
    longest_exposure  s, customarily 2; infinite where escape is hindered (vault, kneeling)     (cases,)
    returns           s                           (cases,)
    holds             says nothing about the end of the arc: print the uncut clearing time beside it
    raises            nothing
    source            2 s rule [V, trade journal 2022]; not where escape is hindered [C]
    """
    return np.minimum(clearing_time, longest_exposure)
