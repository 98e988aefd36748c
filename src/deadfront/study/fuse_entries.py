"""Study: one medium-voltage fuse as the file gives it; entries and curves come in, its edges and limits go out."""

from __future__ import annotations

from typing import Literal

from deadfront.physics import curves
from deadfront.physics.types import Array
from deadfront.study.inputs import Assumed
from deadfront.study.walk import Walk

FuseName = Literal["bayonet", "limiter"]

FUSE_NAMES: dict[FuseName, str] = {"bayonet": "Draw-out expulsion link", "limiter": "Current-limiting fuse"}
"""The two fuses of the pair, and what they are called."""

TOLERANCE: dict[FuseName, tuple[float, str, str]] = {
    "bayonet": (0.20, "links of K and T type", "M"),
    "limiter": (0.10, "current-limiting fuses with silver elements", "C"),
}
"""1, of current, by which a fuse may melt late; of whom it is known, and how that was verified."""

ARCING_CYCLES = 0.8
"""Cycles an expulsion link arcs at most, until a current zero ends it [C]."""


def melting_tolerance(walk: Walk, name: FuseName) -> Array:
    """By how much larger a current than the curve's may be needed to melt a fuse in the same time, 1."""
    value, of_whom, tag = TOLERANCE[name]
    path = f"fuses.{name}.melting_tolerance"
    text = f"The {FUSE_NAMES[name].lower()} is taken to melt at up to {value:.0%} more current than its curve shows."
    assumed = Assumed(path, text, f"custom for {of_whom}", tag, "Fuse data sheet: melting band.")
    return walk.inputs.assume(path, value, value, assumed)


def arcing_time(walk: Walk) -> Array:
    """How long the draw-out link arcs after it has melted, s."""
    path = "fuses.bayonet.arcing_time"
    if walk.inputs.given(path):
        return walk.inputs.number(path)
    text = f"The draw-out link is taken to arc for {ARCING_CYCLES} of a cycle after it has melted."
    confirm = "Fuse data sheet: total clearing curve."
    walk.inputs.note(Assumed(path, text, "custom for expulsion links, half to 0.8 of a cycle", "C", confirm))
    return ARCING_CYCLES / walk.inputs.number("frequency")


def clears_by_curve(walk: Walk, name: FuseName) -> bool:
    """Whether the file of a fuse gives clearing times; those of a link may follow from tolerance and arcing."""
    return walk.project.curves[walk.inputs.word(f"fuses.{name}.curve")].total_clearing is not None


def clearing_time(walk: Walk, name: FuseName, curve: curves.TimeCurrentCurve, current: Array) -> Array:
    """Latest clearing time of a fuse at the temperature of its curve, s; infinite where it does not melt."""
    if clears_by_curve(walk, name):
        return curves.clearing_time(curve, current)
    return curves.clearing_time_by_tolerance(curve, current, melting_tolerance(walk, name), arcing_time(walk))
