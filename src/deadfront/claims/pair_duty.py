"""Claims: what a pair of fuses has to do in this unit. A subject comes in; the duty at its worst points goes out."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from deadfront.claims.boxes import Box, sample
from deadfront.claims.duties import medium_voltage_kinds
from deadfront.claims.fuse_load import load_points
from deadfront.claims.judging import Subject
from deadfront.claims.terms import of_maximum_rule, ordinary
from deadfront.physics import fuse_pair as physical
from deadfront.physics.fuse_candidates import Duty
from deadfront.physics.types import Array
from deadfront.station.station import FUSE_LINE_SIDE
from deadfront.study import fault_sizes, faults, fuse_entries, secondary_faults
from deadfront.study.inputs import MissingEntryError
from deadfront.study.walk import Walk

Values = NDArray[np.float64]


OF_A_FUSE = ("fuses.bayonet", "fuses.limiter")
"""Slots that a catalogue fills."""


def missing_entries(subject: Subject) -> tuple[str, ...]:
    """Entries without which no duty is known, whatever the pair."""
    walk = subject.walk(placeholders=True)
    stopped: list[str] = []
    parts: tuple[Callable[[Walk], object], ...] = (fuse_entries.load_current, _through, _available, _recoveries, _duty)
    with np.errstate(all="ignore"):  # placeholders make no sense as physics; only the missing entries are kept
        for part in parts:
            try:
                part(walk)
            except MissingEntryError as error:
                stopped.append(error.path)
    found = dict.fromkeys([*walk.inputs.missing, *stopped])
    return tuple(path for path in found if not path.startswith(OF_A_FUSE))


def pair_duty(subject: Subject) -> Duty:
    """The duty at the worst of a sample of points of the file's ranges, their corners among them.

    Each of its numbers belongs to a point of the ranges, and no check uses two that exclude each other: so a check
    that fails here fails at a point of the file. What passes here is proved over all points afterwards, claim by claim.

    raises MissingEntryError: an entry that `missing_entries` names
    """
    centre = subject.walk()
    _duty(centre)
    used = {
        path: quantity
        for path, quantity in centre.inputs.used.items()
        if quantity.is_range and not path.startswith(OF_A_FUSE)
    }
    box = Box(tuple(used), tuple(used.values()))
    points = sample(box)
    return _duty(subject.walk({path: points[:, [i]] for i, path in enumerate(box.paths)}))


def _duty(walk: Walk) -> Duty:
    """The duty over all points of a walk."""
    read = walk.inputs.number
    fed, kinds = secondary_faults.fed_cases(walk), secondary_faults.kinds(walk)
    bolted = [_chosen(walk, secondary_faults.primary_line(walk, kind), fed) for kind in kinds]
    shared = [_chosen(walk, secondary_faults.shared_line(walk, kind), fed) for kind in kinds]
    through, (recovery, matched) = _through(walk), _recoveries(walk)
    liquid = "transformer.liquid_temperature"
    read(liquid)
    return Duty(
        load=_most(fuse_entries.load_current(walk)),
        largest_fault=max(_most(each) for each in through),
        spared_up_to=max(_most(each) for each in [*through, *bolted]),
        smallest_fault=min(_least(fault_sizes.arcing_share(walk) * each) for each in shared),
        available=_available(walk),
        liquid=(walk.inputs.lowest(liquid), walk.inputs.highest(liquid)),
        cold_load=_points(walk, "cold_load"),
        inrush=_points(walk, "inrush"),
        crossing_multiple=_most(_given(walk, "fuses.crossing_multiple", 1.0)),
        time_share=_least(_given(walk, "fuses.time_share", physical.TIME_SHARE[0])),
        match=(
            _least(_given(walk, "fuses.match.time", physical.MATCH_TIME)),
            _least(_given(walk, "fuses.match.factor", physical.MATCH_FACTOR)),
        ),
        recovery=_most(recovery),
        shared_recovery=_most(matched),
        together=fuse_entries.in_parallel(walk, "limiter"),
    )


def _through(walk: Walk) -> list[Array]:
    """Largest secondary fault of each kind that can be the largest."""
    return [secondary_faults.largest_through_fault(walk, kind) for kind in secondary_faults.largest_kinds(walk)]


def _recoveries(walk: Walk) -> tuple[Array, Array]:
    """Voltage across a fuse that has cleared, alone and with its link melted as well."""
    recovery = fuse_entries.recovery_voltage(walk)
    if walk.inputs.word("supply.earthing") != "solid":
        return recovery, recovery
    return recovery, np.minimum(recovery, fuse_entries.highest_line_voltage(walk) / np.sqrt(3.0))


def _given(walk: Walk, path: str, otherwise: float) -> Array:
    """A number of the file, or what its claims assume without it."""
    return walk.inputs.number(path) if walk.inputs.given(path) else otherwise


def _chosen(walk: Walk, array: Array, cases: Sequence[int]) -> Array:
    """A result in some operating cases."""
    return (array + np.zeros((1, len(walk.cases))))[..., list(cases)]


def _most(array: Array) -> float:
    return float(np.max(np.asarray(array, dtype=np.float64)))


def _least(array: Array) -> float:
    return float(np.min(np.asarray(array, dtype=np.float64)))


def _points(walk: Walk, entry: str) -> tuple[Values, Values]:
    """Currents and times of the load points of one kind; the longest time, in which least current melts a fuse."""
    rated = fuse_entries.rated_current(walk)
    points = list(load_points(walk, entry))
    loads = np.array([_most(point.multiple * rated) for point in points])
    return loads, np.array([_most(point.time) for point in points])


def _available(walk: Walk) -> tuple[Values, Values]:
    """Current and X/R of every fault before the fuses, as SC-03 asks."""
    cases = of_maximum_rule(walk, ordinary(walk))
    currents: list[Values] = []
    ratios: list[Values] = []
    for kind in medium_voltage_kinds(walk, FUSE_LINE_SIDE):
        current = faults.current(walk, FUSE_LINE_SIDE, kind, walk.method)
        ratio = np.maximum(faults.reactance_ratio(walk, FUSE_LINE_SIDE, walk.method, kind), faults.LEAST_RATIO)
        both = np.broadcast_arrays(_chosen(walk, current, cases), _chosen(walk, ratio, cases))
        for found, each in zip((currents, ratios), both, strict=True):
            found.append(np.asarray(each, dtype=np.float64).ravel())
    return np.concatenate(currents), np.concatenate(ratios)
