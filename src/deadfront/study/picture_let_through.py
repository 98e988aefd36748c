"""Study: the sheet of what the limiter lets through. A frame comes in, peak against prospective current goes out."""

from __future__ import annotations

import math
from functools import partial

import numpy as np

from deadfront.physics import let_through as physical
from deadfront.physics.types import Array
from deadfront.station.station import PRIMARY
from deadfront.study import faults, fuse_entries, let_through, picture_currents
from deadfront.study.drawing import Allowance, Characteristic, Edge, Point, Scale, Sheet, Span, Values
from deadfront.study.fuse_entries import FUSE_NAMES
from deadfront.study.inputs import MissingEntryError
from deadfront.study.picture_devices import scalar, text_of
from deadfront.study.picture_frame import CENTRES, Frame, made, voltage
from deadfront.study.walk import Walk

_POINTS = 120
_BELOW = 0.25
"""Share of the smallest current that anything here is about, from which the sheet begins."""

_WITHSTANDS = {
    "MV switch": "switch.peak_withstand",
    "MV connectors": "terminations.peak_withstand",
    "Tank": "transformer.tank.peak_current",
}
"""Parts that carry what the limiter lets through, and their peak withstand."""


def let_through_sheet(frame: Frame) -> Sheet:
    """Peak let through over the prospective current, without and with the limiter, and what has to withstand it.

    raises    MissingEntryError: the file does not give the supply's voltage, the limiter or its melting energy
    """
    walk = frame.walk
    supply = voltage(walk, "supply.voltage")
    fault = frame.span("MV at the fuses, three-phase", picture_currents.at_point(PRIMARY, "three-phase"))
    ratio = frame.span("X/R", _reactance_ratio).high
    energy = _melting(walk)
    limits_from = scalar(physical.threshold_at_crest(energy[1], walk.inputs.highest("frequency")))
    highest = scalar(walk.inputs.number("fuses.limiter.interrupting"))
    current = np.geomspace(_BELOW * min(limits_from, fault.low), max(highest, fault.high), _POINTS)
    found, undrawn = made(
        {
            "prospective current": partial(_unlimited, current, ratio),
            FUSE_NAMES["limiter"]: partial(_limited, walk, current, ratio, energy),
        }
    )
    withstands, unknown = _withstands(walk, fault)
    threshold = Point(
        f"limits at every closing angle; from {limits_from / 1e3:.3g} kA",
        limits_from,
        float(_peak(walk, np.array([limits_from]), ratio, energy[1])[0]),
        "ring",
    )
    return Sheet(
        title="What the limiter lets through",
        scale=Scale(f"Prospective current at {supply}, A (symmetrical, rms)"),
        other=None,
        characteristics=found,
        points=(threshold,),
        spans=(Span(fault.name, fault.low, fault.high, ruled=True),),
        allowances=withstands,
        notes=(CENTRES, *undrawn, *unknown, *_basis(walk)),
        window=_window(found, withstands),
        upright="Peak current, A",
    )


def _reactance_ratio(walk: Walk) -> list[Array]:
    return [faults.reactance_ratio(walk, PRIMARY, walk.method)]


def _melting(walk: Walk) -> tuple[float, float]:
    """Smallest and largest melting energy of all limiters in parallel, A²s."""
    path, together = "fuses.limiter.melting_energy", fuse_entries.in_parallel(walk, "limiter")
    if not walk.inputs.given(path):
        raise MissingEntryError(path)
    ends = (walk.inputs.lowest(path), walk.inputs.highest(path))
    return scalar(physical.paralleled_energy(ends[0], together)), scalar(physical.paralleled_energy(ends[1], together))


def _unlimited(current: Values, ratio: float) -> Characteristic:
    """Peak of the first half cycle without the limiter, and the crest of the symmetrical current."""
    peak = np.asarray(physical.prospective_peak(current, ratio), dtype=np.float64)
    edges = (
        Edge("peak, fully offset", current, peak),
        Edge("crest of the symmetrical current", current, math.sqrt(2.0) * current, "fine"),
    )
    return Characteristic("Without the limiter", (f"fully offset, X/R {ratio:.3g}",), "upstream", edges, False, "")


def _limited(walk: Walk, current: Values, ratio: float, energy: tuple[float, float]) -> Characteristic:
    """From the cut-off current at the smallest melting energy to that at the largest."""
    rating = text_of(walk, "fuses.limiter.rating")
    edges = tuple(
        Edge(words, current, _peak(walk, current, ratio, each))
        for words, each in zip(("smallest", "largest"), energy, strict=True)
    )
    about = f"melting energy {text_of(walk, 'fuses.limiter.melting_energy')}"
    return Characteristic(f"{FUSE_NAMES['limiter']} {rating}".rstrip(), (about,), "limiter", edges, True, "own current")


def _peak(walk: Walk, current: Values, ratio: float, energy: float) -> Values:
    """Highest peak let through, with what a low arc voltage adds; A."""
    allowance = 1.0 + scalar(let_through.cut_off_allowance(walk))
    cut_off = allowance * physical.cut_off_current(current, energy, walk.inputs.highest("frequency"), ratio)
    return np.asarray(np.minimum(cut_off, physical.prospective_peak(current, ratio)), dtype=np.float64)


def _withstands(walk: Walk, fault: Span) -> tuple[tuple[Allowance, ...], tuple[str, ...]]:
    """Peak withstand of each part over the faults of the station; in words of which the file gives none."""
    found, notes = [], []
    for part, path in _WITHSTANDS.items():
        if walk.inputs.given(path):
            least = walk.inputs.lowest(path)
            found.append(Allowance(f"{part} withstands {text_of(walk, path)}", least, fault.low, fault.high))
        else:
            notes.append(f"Not marked: {part}; the file does not give {path}.")
    return tuple(found), tuple(notes)


def _basis(walk: Walk) -> tuple[str, ...]:
    """Whence the cut-off current comes."""
    added = scalar(let_through.cut_off_allowance(walk))
    words = f", raised by {added:.0%} for an arc voltage that is not known to be high" if added > 0.0 else ""
    frequency = f"{walk.inputs.highest('frequency'):g} Hz"
    return (
        f"Cut-off current: the steepest rise held until the melting energy is spent, at {frequency}{words}; an upper "
        "bound, not a maker's curve.",
    )


def _window(found: tuple[Characteristic, ...], withstands: tuple[Allowance, ...]) -> tuple[float, float]:
    """Upright axis over all peaks and withstands."""
    peaks = np.concatenate([edge.time for one in found for edge in one.edges])
    highest = max(float(peaks.max()), *(each.time for each in withstands), 0.0)
    return float(peaks.min()) / 1.2, highest * 1.2
