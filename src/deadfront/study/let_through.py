"""Study: what the limiter lets through for a fault behind it; entries and currents come in, peak and I2t go out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from deadfront.physics import let_through as physical
from deadfront.physics.types import Array
from deadfront.station.station import PRIMARY
from deadfront.study import devices, faults, fuse_entries, through
from deadfront.study.clearing import fed_from_board
from deadfront.study.faults import Kind
from deadfront.study.fuse_pair import Crossing
from deadfront.study.inputs import Assumed
from deadfront.study.walk import Walk

LOW_ARC_VOLTAGE = 0.10
"""1, added to the cut-off current where the arc voltage is not above the source's crest: upper end of 5 to 10 % [C]."""

INTERNAL_ARC = (200.0, 1000.0)
"""V, usual span of an arc under liquid in a distribution unit: it lengthens as it burns [C]."""


@dataclass(frozen=True, slots=True)
class LetThrough:
    """What passes the limiters for a bolted fault at the transformer's primary terminals.

    prospective   A, symmetrical, that would flow through them if they did not limit
    x_over_r      of that fault
    melting       A2s, of all in parallel together
    cut_off       A peak, where it is limited
    peak          A peak let through
    clearing      s, of the limiter
    energy        A2s let through
    allowance     1, added to the cut-off current for a low arc voltage
    fed_back      A peak that the board brings to the fault through the transformer, not limited by anything
    """

    prospective: Array
    x_over_r: Array
    melting: Array
    cut_off: Array
    peak: Array
    clearing: Array
    energy: Array
    allowance: Array
    fed_back: Array


def behind_limiter(walk: Walk, kind: Kind) -> LetThrough:
    """Let-through of the limiters for a bolted fault behind them, at the transformer's primary terminals.

    holds     at the network's frequency; a fault before the fuses is not limited at all
    source    cut-off bound and I2t as in `physics.let_through` [D]
    """
    prospective, from_board = _parts(walk, kind)
    ratio = np.maximum(faults.reactance_ratio(walk, PRIMARY, walk.method, kind), faults.LEAST_RATIO)
    frequency, together = walk.inputs.number("frequency"), fuse_entries.in_parallel(walk, "limiter")
    melting = physical.paralleled_energy(walk.inputs.number("fuses.limiter.melting_energy"), together)
    total = physical.paralleled_energy(walk.inputs.number("fuses.limiter.total_energy"), together)
    allowance = cut_off_allowance(walk)
    cut_off = (1.0 + allowance) * physical.cut_off_current(prospective, melting, frequency, ratio)
    clearing = clearing_time(walk, prospective)
    largest = physical.paralleled_energy(walk.inputs.highest("fuses.limiter.melting_energy"), together)
    threshold = physical.threshold_at_crest(largest, walk.inputs.highest("frequency"))  # more current is below it
    return LetThrough(
        prospective,
        ratio,
        melting,
        cut_off,
        np.minimum(cut_off, physical.prospective_peak(prospective, ratio)),
        clearing,
        physical.let_through_i2t(prospective, clearing, total, threshold),
        allowance,
        physical.prospective_peak(from_board, ratio),
    )


def _parts(walk: Walk, kind: Kind) -> tuple[Array, Array]:
    """Current of a fault behind the limiters that flows through them, and what the board brings to it, A."""
    total = faults.current(walk, PRIMARY, kind, walk.method)
    carried = through.infeeds(walk, PRIMARY, kind, walk.method, total)
    if fed_from_board(walk):
        text = "What the board feeds back into an internal fault after the limiter has cleared is not counted."
        confirm = "Trip of the LV main by the limiter, or by the protection of the transformer."
        walk.inputs.note(Assumed("transformer.internal_fault", text, "simplification, no source", "C", confirm))
    board = carried.get("transformer")
    return carried["fuses"].phase, 0.0 * total if board is None else board.phase


def at_crossing(walk: Walk, crossing: Crossing) -> tuple[Array, Array]:
    """I2t let through, A2s, and clearing time, s, of the smallest fault that the limiter clears: at the crossing.

    It is the slowest of them. Beyond a cycle I2 t of the clearing curve counts, within one the limiter's total as well.
    """
    factor = fuse_entries.liquid_factor(walk, "limiter", crossing.liquid.limiter)
    clearing = clearing_time(walk, crossing.current / factor)
    total = physical.paralleled_energy(
        walk.inputs.number("fuses.limiter.total_energy"), fuse_entries.in_parallel(walk, "limiter")
    )
    energy = np.square(crossing.current) * clearing
    cycle = 1.0 / walk.inputs.number("frequency")
    return np.where(np.less(clearing, cycle), np.maximum(total, energy), energy), clearing


def clearing_time(walk: Walk, current: Array) -> Array:
    """Latest clearing time of the limiters at a line current, s."""
    curve = devices.curve(walk, walk.inputs.word("fuses.limiter.curve"))
    return fuse_entries.clearing_time(walk, "limiter", curve, current / fuse_entries.in_parallel(walk, "limiter"))


def cut_off_allowance(walk: Walk) -> Array:
    """What is added to the cut-off current where the arc voltage is not above the source's crest, 1."""
    crest = np.sqrt(2.0) * fuse_entries.highest_line_voltage(walk)
    if not walk.inputs.given("fuses.limiter.arc_voltage"):
        text = (
            f"The arc voltage of the limiter is taken as low: its cut-off current is raised by {LOW_ARC_VOLTAGE:.0%}."
        )
        confirm = "Fuse data sheet: cut-off curve and arc voltage."
        walk.inputs.note(Assumed("fuses.limiter.arc_voltage", text, "custom, 5 to 10 %", "C", confirm))
        return LOW_ARC_VOLTAGE
    return np.where(np.greater(walk.inputs.number("fuses.limiter.arc_voltage"), crest), 0.0, LOW_ARC_VOLTAGE)


def internal_arc_voltage(walk: Walk) -> Array:
    """Voltage of an arc under the liquid, V."""
    path, (low, high) = "transformer.internal_arc_voltage", INTERNAL_ARC
    text = f"An arc under the liquid is taken to have {low:g} to {high:g} V."
    confirm = "Distances under the liquid, 80 to 120 V to a centimetre; tank test report."
    return walk.inputs.assume(path, low, high, Assumed(path, text, "usual span of distribution units", "C", confirm))


def arc_energy(walk: Walk, energy: Array, time: Array) -> Array:
    """Energy of an arc under the liquid that a fuse ends, J: bound from I2t let through and clearing time."""
    return physical.arc_energy(internal_arc_voltage(walk), energy, time)
