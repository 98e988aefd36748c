"""Claims: whether the link melts whenever the limiter does. A walk comes in; energies and the voltage needed go out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from deadfront.physics import fuse_pair as physical
from deadfront.physics import let_through
from deadfront.physics.types import Array
from deadfront.study import devices, fuse_entries, fuse_pair
from deadfront.study.fuse_pair import Liquid
from deadfront.study.inputs import Assumed
from deadfront.study.walk import Walk


@dataclass(frozen=True, slots=True)
class Energies:
    """Largest energy that melts the link, smallest that melts the limiter, A2s; time s and factor of the match."""

    link: Array
    limiter: Array
    time: Array
    factor: Array


def energies(walk: Walk, liquid: Liquid) -> Energies:
    """Energies in one state of the liquid: they go with the square of the current."""
    time, factor = _match(walk, "time", physical.MATCH_TIME), _match(walk, "factor", physical.MATCH_FACTOR)
    curve = devices.curve(walk, walk.inputs.word("fuses.bayonet.curve"))
    cold = physical.largest_melting_energy(curve, time, fuse_entries.melting_tolerance(walk, "bayonet"))
    link = np.square(fuse_entries.liquid_factor(walk, "bayonet", liquid.link)) * cold
    one = walk.inputs.number("fuses.limiter.melting_energy")
    both = let_through.paralleled_energy(one, fuse_entries.in_parallel(walk, "limiter"))
    limiter = np.square(fuse_entries.liquid_factor(walk, "limiter", liquid.limiter)) * both
    return Energies(link, limiter, time, factor)


def _match(walk: Walk, entry: str, value: float) -> Array:
    path = f"fuses.match.{entry}"
    what = {"time": f"The link's curve is read at {value:g} s for its largest melting energy."}
    what["factor"] = f"The limiter is taken to let through at least {value:g} times what melts it; strictly it is 1."
    assumed = Assumed(path, what[entry], "matched-melt practice", "M", "Fuse maker's coordination table.")
    return walk.inputs.assume(path, value, value, assumed)


def limiter_voltage(walk: Walk) -> Array:
    """Rated voltage that the limiter of a pair needs, V.

    Line to neutral where a matched link, itself rated for what it recovers against, shares the voltage, on a solidly
    earthed supply; as the link elsewhere: behind an isolated, resonant or impedance-earthed neutral an earth fault
    leaves the voltage between lines.

    source    IEEE C37.48 as restated in a trade report [V]; factor and time of the match [M]
    """
    recovery = fuse_entries.recovery_voltage(walk)
    if walk.inputs.word("supply.earthing") != "solid":
        return recovery
    found = energies(walk, fuse_pair.cold_link_hot_limiter(walk))
    matched = np.less_equal(found.link, found.factor * found.limiter)
    link_holds = np.less_equal(recovery, walk.inputs.number("fuses.bayonet.voltage"))
    shared = np.minimum(recovery, fuse_entries.highest_line_voltage(walk) / np.sqrt(3.0))
    return np.where(link_holds, np.where(matched, shared, recovery), recovery)
