"""Study: device characteristics for a time-current picture; settings and curves come in, arrays over current go out."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from deadfront.physics import curves
from deadfront.physics.types import Array
from deadfront.station.station import Device
from deadfront.study import devices, elements
from deadfront.study.inputs import MissingEntryError
from deadfront.study.through import Carried
from deadfront.study.walk import Walk

Values = NDArray[np.float64]

POINTS = 600
"""Currents along one characteristic: enough that a step of a trip looks upright."""


@dataclass(frozen=True, slots=True)
class DeviceCurve:
    """One device over the current at the low-voltage side, A: latest clearing time s, and the earliest where known."""

    name: str
    tag: str
    current: Values
    earliest: Values | None
    latest: Values
    reference_ratio: str


@dataclass(frozen=True, slots=True)
class Marker:
    """A current that matters, A at the low-voltage side, and the time s in which it is cleared, if one is meant."""

    words: str
    current: float
    time: float | None


def characteristics(walk: Walk, largest: float) -> tuple[DeviceCurve, ...]:
    """Every device between the supply and the feeders, at the centre of each range, up to the largest current.

    A device of which the file does not say how it is set is left out.
    """
    current = np.geomspace(50.0, largest, POINTS)[:, np.newaxis]
    return tuple(curve for curve in _all(walk, current) if np.isfinite(curve.latest).any())


def _all(walk: Walk, current: Values) -> Iterator[DeviceCurve]:
    for device in walk.station.devices:
        if device.kind == "breaker":
            yield from _tried(partial(_breaker, walk, device, current))
    yield from _tried(partial(_fuses, walk, current))
    yield from _tried(partial(_upstream, walk, current))


def _tried(make: Callable[[], list[DeviceCurve]]) -> Iterator[DeviceCurve]:
    try:
        yield from make()
    except MissingEntryError:
        return


def _breaker(walk: Walk, device: Device, current: Values) -> list[DeviceCurve]:
    carried = Carried(current, np.zeros_like(current), 1.0)
    operations = devices.low_voltage(walk, device.path, device.name, carried)
    phase = [o for o in operations if o.element != "earth-fault element"]
    time = _column(_first(phase), current)
    return [DeviceCurve(device.name, device.tag, current[:, 0], None, time, "own current")]


def _fuses(walk: Walk, current: Values) -> list[DeviceCurve]:
    ratio = elements.turns_ratio(walk)
    found = []
    for operation, tag, entry in zip(
        devices.fuses(walk, current / ratio), ("F1", "F2"), ("bayonet", "limiter"), strict=False
    ):
        curve = devices.curve(walk, walk.inputs.word(f"fuses.{entry}.curve"))
        melting = _column(curves.melting_time(curve, current / ratio), current)
        words = f"own current x {float(ratio):.4g}, three-phase"
        found.append(
            DeviceCurve(operation.device, tag, current[:, 0], melting, _column(operation.time, current), words)
        )
    return found


def _upstream(walk: Walk, current: Values) -> list[DeviceCurve]:
    ratio = elements.turns_ratio(walk)
    carried = Carried(current / ratio, np.zeros_like(current), 1.0)
    operations = devices.upstream(walk, "supply", carried)
    words = f"own current x {float(ratio):.4g}, three-phase"
    return [DeviceCurve("Upstream protection", "51", current[:, 0], None, _column(_first(operations), current), words)]


def _first(operations: list[devices.Operation] | tuple[devices.Operation, ...]) -> Array:
    time: Array = np.inf
    for operation in operations:
        time = np.minimum(time, operation.time)
    return time


def _column(array: Array, current: Values) -> Values:
    return np.broadcast_to(np.asarray(array, dtype=np.float64), (len(current), 1))[:, 0].copy()
