"""Study: secondary faults as the medium-voltage fuses see them; kinds come in, primary line currents go out."""

from __future__ import annotations

import numpy as np

from deadfront.physics import fuse_pair, reflection
from deadfront.physics.types import Array
from deadfront.station.station import SECONDARY
from deadfront.study import elements, fault_sizes, faults, fuse_entries, through
from deadfront.study.faults import KINDS, Kind
from deadfront.study.walk import Walk


def kinds(walk: Walk) -> tuple[Kind, ...]:
    """Kinds of secondary fault, to earth only where the neutral is earthed."""
    return KINDS if walk.inputs.word("transformer.neutral") == "earthed" else ("three-phase", "line-line")


def primary_line(walk: Walk, kind: Kind) -> Array:
    """Largest primary line current of a bolted fault at the transformer's secondary terminals, A."""
    return _reflected(walk, kind, faults.current(walk, SECONDARY, kind, walk.method))


def shared_line(walk: Walk, kind: Kind) -> Array:
    """The primary line current that the smallest arcing fault there is a share of, A: see `fault_sizes.shared`."""
    return _reflected(walk, kind, fault_sizes.shared(walk, SECONDARY, kind))


def _reflected(walk: Walk, kind: Kind, total: Array) -> Array:
    own = through.infeeds(walk, SECONDARY, kind, walk.method, total)["transformer"]
    return through.primary_current(walk, SECONDARY, kind, walk.method, own.phase)


def fed_cases(walk: Walk) -> tuple[int, ...]:
    """Operating cases in which the supply feeds the transformer."""
    fed = np.maximum(walk.cases.way_a, walk.cases.way_b)
    return tuple(i for i in range(len(walk.cases)) if fed[i] > 0.0)


def largest_through_fault(walk: Walk, kind: Kind) -> Array:
    """Largest primary line current of a secondary fault, A: infinite bus, lowest impedance, highest tap voltage.

    source    backup coordination practice [C]; symmetrical components [D]
    """
    impedance, voltage = walk.inputs.number("transformer.impedance"), walk.inputs.number("transformer.highest_tap")
    if walk.method == "iec":  # never below what the method's own voltage factor and correction give on an infinite bus
        factor = elements.voltage_factor_pair(walk, "lv")[0] / elements.transformer_correction(walk)
        nominal = walk.inputs.number("board.voltage") / walk.inputs.number("transformer.secondary_voltage")
        voltage = np.maximum(voltage, factor * nominal)
    rated = fuse_entries.rated_current(walk)
    three_phase = fuse_pair.largest_secondary_fault(rated, impedance, 0.0, 0.0, voltage)
    connection = walk.inputs.word("transformer.connection")
    share = reflection.largest_primary_line_current(kind, connection, 1.0, 1.0)
    if kind == "line-line":
        return share * np.sqrt(3.0) / 2.0 * three_phase
    if kind == "line-earth":
        return share * 3.0 / (2.0 + walk.inputs.number("transformer.zero_sequence.x0_over_x1")) * three_phase
    return share * three_phase


def largest_kinds(walk: Walk) -> tuple[Kind, ...]:
    """Kinds that can draw the largest primary line current: to earth only where zero sequence passes."""
    through_zero = walk.inputs.word("transformer.connection").startswith("YN")
    earthed = walk.inputs.word("transformer.neutral") == "earthed"
    return ("three-phase", "line-earth") if through_zero and earthed else ("three-phase",)
