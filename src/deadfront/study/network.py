"""Study: the station seen from one point; device impedances come in, the branches that feed a fault there go out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from deadfront.physics.impedance import (
    Admittance,
    Impedance,
    admittance,
    inverse,
    magnitude,
    referred,
    scaled,
    series,
)
from deadfront.physics.types import Array
from deadfront.station.station import LV_BUS, PRIMARY, SECONDARY, SWITCH_BUS, Device
from deadfront.study import elements
from deadfront.study.walk import Method, Walk, remembered


@dataclass(frozen=True, slots=True)
class Branch:
    """One way by which current reaches a point: the device at the point, its impedance up to the sources, and when.

    `impedance` in ohm at the point's own voltage; `connected` is 1.0 in the operating cases in which a source stands
    behind it, shape (cases,). `merged`: several sources share it, so its R/X needs the equivalent-frequency method.
    """

    device: str
    impedance: Impedance
    connected: Array
    merged: bool


@remembered
def branches(walk: Walk, point: str, method: Method, reactance_scale: float = 1.0) -> tuple[Branch, ...]:
    """Positive-sequence branches at a point; reactances times `reactance_scale` (method c of IEC 60909-0)."""
    return _branches(walk, point, None, lambda device: _scaled_positive(walk, device, method, reactance_scale))


@remembered
def zero_branches(walk: Walk, point: str, method: Method) -> tuple[Branch, ...]:
    """Zero-sequence branches at a point: ways by which earth-fault current can return."""
    return _zero(walk, point, None, method)


def _scaled_positive(walk: Walk, device: str, method: Method, reactance_scale: float) -> Impedance:
    z = elements.positive(walk, device, method)
    return z if reactance_scale == 1.0 else Impedance(z.resistance, z.reactance * reactance_scale)


def _branches(walk: Walk, point: str, came_from: str | None, impedance_of) -> tuple[Branch, ...]:  # type: ignore[no-untyped-def]
    """Walk the tree away from a point; devices whose far side holds no source bring no branch."""
    found = []
    for device, far in walk.station.at(point):
        if device.key == came_from or (device.kind == "motors" and not elements.motor_feeds_back(walk, device.path)):
            continue
        if far is None:
            found.append(Branch(device.key, impedance_of(device.key), walk.cases.mask(device.key), merged=False))
            continue
        behind = _branches(walk, far, device.key, impedance_of)
        if behind:
            found.append(_through(walk, device, far, combined(behind), impedance_of(device.key)))
    return tuple(found)


def _through(walk: Walk, device: Device, far: str, behind: Branch, own: Impedance) -> Branch:
    """The branch behind a device, with the device's own impedance, at the voltage of the device's near side."""
    connected = behind.connected * walk.cases.mask(device.key)
    if device.kind == "transformer":
        ratio = elements.turns_ratio(walk)
        if far == PRIMARY:
            return Branch(device.key, series(referred(behind.impedance, ratio), own), connected, behind.merged)
        return Branch(device.key, scaled(series(behind.impedance, own), ratio * ratio), connected, behind.merged)
    return Branch(device.key, series(behind.impedance, own), connected, behind.merged)


def combined(found: tuple[Branch, ...]) -> Branch:
    """Several branches at one point as one: their admittances add where they are connected."""
    if len(found) == 1:
        return found[0]
    total = total_admittance(found)
    connected = found[0].connected
    for branch in found[1:]:
        connected = np.maximum(connected, branch.connected)
    idle = 1.0 - connected  # keeps the inverse and its R/X finite in the cases in which nothing feeds
    finite = inverse(Admittance(total.conductance + idle, total.susceptance + idle))
    return Branch(found[0].device, finite, connected, merged=True)


def total_admittance(found: tuple[Branch, ...]) -> Admittance:
    """Sum of the admittances of the branches in the cases in which they are connected, siemens."""
    conductance: Array = 0.0
    susceptance: Array = 0.0
    for branch in found:
        y = admittance(branch.impedance)
        conductance = conductance + branch.connected * y.conductance
        susceptance = susceptance + branch.connected * y.susceptance
    return Admittance(conductance, susceptance)


@remembered
def thevenin(walk: Walk, point: str, method: Method) -> Branch | None:
    """Positive-sequence impedance seen from a point; None where no source can feed it."""
    found = branches(walk, point, method)
    return combined(found) if found else None


@remembered
def zero_thevenin(walk: Walk, point: str, method: Method) -> Branch | None:
    """Zero-sequence impedance seen from a point; None where no earth-fault current can return."""
    found = zero_branches(walk, point, method)
    return combined(found) if found else None


def share(branch: Branch, whole: Branch) -> Array:
    """Size of a branch's current as a share of the current of all branches, shape (boxes, cases)."""
    return branch.connected * np.minimum(magnitude(whole.impedance) / magnitude(branch.impedance), 1.0)


# --- zero sequence: what is earthed is a source ---


def _zero(walk: Walk, point: str, came_from: str | None, method: Method) -> tuple[Branch, ...]:
    found = []
    for device, far in walk.station.at(point):
        if device.key == came_from:
            continue
        branch = _zero_through(walk, device, far, method)
        if branch is not None:
            found.append(branch)
    return tuple(found)


def _zero_through(walk: Walk, device: Device, far: str | None, method: Method) -> Branch | None:
    """Zero-sequence branch behind one device, or None where zero-sequence current cannot pass."""
    if far is None:
        return _zero_source(walk, device, method)
    if device.kind == "transformer":
        return _zero_transformer(walk, device, far, method)
    behind = _zero(walk, far, device.key, method)
    if not behind:
        return None
    own = Impedance(0.0, 0.0)
    if device.kind == "cable" and walk.inputs.entry(device.path) is not None:
        own = elements.cable(walk, device.path, method, zero=True)
    if device.key.startswith("feeder ") and walk.inputs.entry(f"{device.path}.cable") is not None:
        own = elements.cable(walk, f"{device.path}.cable", method, zero=True)
    return _through(walk, device, far, combined(behind), own)


def _zero_source(walk: Walk, device: Device, method: Method) -> Branch | None:
    mask = walk.cases.mask(device.key)
    if device.kind == "supply":
        z0 = elements.supply_zero(walk, device.path, method)
    elif device.kind == "tie":
        z0 = elements.tie_zero(walk, method)
    elif device.kind == "generator":
        z0 = elements.generator_zero(walk, method)
    else:
        z0 = None  # motors: no neutral
    return None if z0 is None else Branch(device.key, z0, mask, merged=False)


def _zero_transformer(walk: Walk, device: Device, far: str, method: Method) -> Branch | None:
    """Zero sequence at the transformer: its star is an earth for its own side; only YNyn lets it pass."""
    connection = walk.inputs.word("transformer.connection")
    if far == PRIMARY:
        if walk.inputs.word("transformer.neutral") != "earthed":
            return None
        z0 = elements.transformer_zero(walk, method)
        if not connection.startswith("YN"):
            return Branch(device.key, z0, walk.cases.maximum * 0.0 + 1.0, merged=False)
        behind = _zero(walk, PRIMARY, device.key, method)
        return _through(walk, device, far, combined(behind), z0) if behind else None
    if not connection.startswith("YN"):
        return None
    behind = _zero(walk, SECONDARY, device.key, method)
    return _through(walk, device, far, combined(behind), elements.transformer_zero(walk, method)) if behind else None


def side(walk: Walk, point: str) -> str:
    """`mv` or `lv`."""
    return walk.station.point(point).side


def is_bus(point: str) -> bool:
    """Whether the branches at a point have no impedance in common, so that partial peaks add (IEC 60909-0 eq. 59)."""
    return point in (SWITCH_BUS, LV_BUS)
