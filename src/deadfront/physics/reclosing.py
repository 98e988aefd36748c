"""Physics: what a fuse and a relay remember of earlier shots of a reclosing sequence. Times in, shares out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from deadfront.physics.types import Array


@dataclass(frozen=True, slots=True)
class Shot:
    """One current flow of a reclosing sequence.

    duration    s, until the recloser has cleared it                (cases,)
    dead_time   s, without current after it; not used after the last shot        (cases,)
    """

    duration: Array
    dead_time: Array


def heat_of_shots(shots: Sequence[Shot], melting: Array, cooling: Array) -> Array:
    """Highest share of its melting energy that a fuse holds during a sequence of equal currents.

    Each shot adds duration / melting time; in each dead time the heat falls by exp(-dead time / τ). The highest heat
    need not be the last.

    shots      in their order; how many is structural
    melting    s, melting time of the fuse at the current, hot and preloaded; infinite where it never melts   (cases,)
    cooling    τ  s, time constant with which the element cools; infinite keeps all heat, the safe side    (cases,)
    returns    1: below one the fuse survives; zero without a shot         (cases,)
    holds      shots short against the fuse's own melting time at that current
    raises     nothing
    source     adiabatic heating with one time constant [D]
    """
    heat: Array = 0.0
    highest: Array = 0.0
    for number, shot in enumerate(shots):
        if number > 0:
            heat = heat * np.exp(-shots[number - 1].dead_time / cooling)
        heat = heat + shot.duration / melting
        highest = np.maximum(highest, heat)
    return highest


def k_of_shots(shots: Sequence[Shot], cooling: Array) -> Array:
    """Factor k by which a sequence heats a fuse more than its longest single shot.

    shots      in their order, at least one; how many is structural
    cooling    τ  s, time constant with which the element cools             (cases,)
    returns    1: one for a single shot; the number of equal shots without cooling        (cases,)
    holds      as `heat_of_shots`; compare with the customary 1.2 to 1.8 and 1.7 to 3.5 of the table of margins [C]
    raises     ValueError without a shot
    source     [D]
    """
    if not shots:
        raise ValueError("shots: expected at least one")
    longest = shots[0].duration
    for shot in shots[1:]:
        longest = np.maximum(longest, shot.duration)
    return heat_of_shots(shots, longest, cooling)


def fuse_outlasts(melting: Array, clearing: Array, factor: Array) -> Array:
    """Melting time of a fuse over k times the clearing time of the recloser: at least one leaves the fuse unharmed.

    melting    s, shortest melting time, hot and preloaded                  (cases,)
    clearing   s, longest clearing time of the shot that counts             (cases,)
    factor     k  1, of the table of margins, or `k_of_shots`                (cases,)
    returns    1; infinite where the fuse never melts                       (cases,)
    holds      fuse on the load side against fast shots, on the source side against delayed shots
    raises     nothing
    source     fuse-saving practice [C]
    """
    return melting / (factor * clearing)


def travel_left(reset: Array, dead_time: Array) -> Array:
    """Share of its way that a relay disc has still behind it at the next shot, after an interrupted operation.

    reset      s, from all but operated back to rest without current, `relays.reset_time` at zero multiple    (cases,)
    dead_time  s, without current                                           (cases,)
    returns    1: zero once it is back at rest                              (cases,)
    holds      disc, or a numerical relay set to imitate one
    raises     nothing
    source     IEEE C37.112, uniform return [M]
    """
    return np.maximum(1.0 - dead_time / reset, 0.0)
