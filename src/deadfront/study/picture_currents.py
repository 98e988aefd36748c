"""Study: currents that matter on log-log paper. Walks over sample points come in, ranges of current go out."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from deadfront.physics.types import Array
from deadfront.station.station import SECONDARY
from deadfront.study import arcs, fault_sizes, faults, network, through
from deadfront.study.drawing import Span
from deadfront.study.faults import Kind
from deadfront.study.inputs import MissingEntryError
from deadfront.study.tables import WalkAt, spread
from deadfront.study.walk import Walk

Points = NDArray[np.float64]
Currents = Callable[[Walk], Sequence[Array]]
"""Currents of a walk that belong to one range, A, each of shape (boxes, cases); zero where nothing flows."""


def span(walk_at: WalkAt, points: Points, name: str, currents: Currents) -> Span:
    """Smallest and largest of currents over the sample and the operating cases in which they flow.

    raises    MissingEntryError: the file lacks an entry they need
              ValueError: nothing flows in any case
    """
    walk = walk_at(points)
    values = np.concatenate([spread(walk, one, len(points)).ravel() for one in currents(walk)] or [np.empty(0)])
    flowing = values[np.isfinite(values) & (values > 0.0)]
    if not len(flowing):
        raise ValueError(f"{name}: no such current flows in any operating case")
    return Span(name, float(flowing.min()), float(flowing.max()))


def spans(walk_at: WalkAt, points: Points, wanted: dict[str, Currents]) -> tuple[tuple[Span, ...], tuple[str, ...]]:
    """The ranges that can be had, and in words why the others cannot."""
    found, notes = [], []
    for name, currents in wanted.items():
        try:
            found.append(span(walk_at, points, name, currents))
        except MissingEntryError as error:
            notes.append(f"Not marked: {name}; the file does not give {error.path}.")
        except ValueError as error:
            notes.append(f"Not marked: {error}.")
    return tuple(found), tuple(notes)


def in_primary(point: str, kind: Kind) -> Currents:
    """What a bolted low-voltage fault draws in the MV line that carries most, A."""

    def currents(walk: Walk) -> list[Array]:
        return [_primary(walk, point, kind, faults.current(walk, point, kind, walk.method))]

    return currents


def arcs_in_primary(walk: Walk) -> list[Array]:
    """The same for the three-phase arcs at all low-voltage places of work, normal and reduced."""
    found = []
    for place in arcs.places(walk):
        point = arcs.point_of(walk, place)
        if network.side(walk, point) == "lv" and arcs.refusal(walk, place) is None:
            found += [_primary(walk, point, "three-phase", arc) for arc in _arcing(walk, place)]
    return found


def through_main(point: str, kind: Kind, *, arcing: bool = False) -> Currents:
    """What the transformer brings to a low-voltage fault, into earth for one to earth, A at low voltage.

    arcing    the smallest arcing fault instead of the bolted one
    """

    def currents(walk: Walk) -> list[Array]:
        total = faults.current(walk, point, kind, walk.method)
        if arcing:
            total = fault_sizes.arcing_share(walk) * fault_sizes.shared(walk, point, kind)
        carried = through.infeeds(walk, point, kind, walk.method, total)["main"]
        return [carried.connected * (carried.residual if kind == "line-earth" else carried.phase)]

    return currents


def at_point(point: str, kind: Kind) -> Currents:
    """A bolted fault at a point, all infeeds together, A at the point's own voltage."""

    def currents(walk: Walk) -> list[Array]:
        return [faults.current(walk, point, kind, walk.method)]

    return currents


def _arcing(walk: Walk, place: str) -> Iterator[Array]:
    for electrodes in arcs.configurations(walk, place):
        currents = arcs.arcing_currents(walk, place, electrodes)
        yield currents.final
        yield currents.reduced


def _primary(walk: Walk, point: str, kind: Kind, total: Array) -> Array:
    """MV line current that a fault of `total` A draws where the transformer feeds it; zero where it does not."""
    carried = through.infeeds(walk, point, kind, walk.method, total)
    own = carried["transformer"] if point == SECONDARY else carried["main"]
    return own.connected * through.primary_current(walk, point, kind, walk.method, own.phase)
