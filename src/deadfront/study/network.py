"""Study: the station seen from one point; device impedances come in, the branches that feed a fault there go out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from deadfront.physics.iec60909 import EQUIVALENT_FREQUENCY_SHARE
from deadfront.physics.impedance import (
    NONE,
    Admittance,
    Impedance,
    admittance,
    inverse,
    referred,
    scaled,
    series,
)
from deadfront.physics.types import Array
from deadfront.station.station import LV_BUS, PRIMARY, SECONDARY, SWITCH_BUS, Device
from deadfront.study import elements, zero_sequence
from deadfront.study.cases import Mask
from deadfront.study.walk import Method, Walk, remembered

Part = Literal["whole", "at the equivalent frequency", "resistances", "reactances"]
"""Which impedances a reduction takes: as they are, with reactances at the frequency of method c, or one kind alone."""


@dataclass(frozen=True, slots=True)
class Branch:
    """One way by which current reaches a point: the device at the point, its impedance up to the sources, and when.

    `impedance` in ohm at the point's own voltage; `connected` is 1.0 in the operating cases in which a source stands
    behind it, shape (cases,). `merged`: several sources share it, so its R/X needs the equivalent-frequency method.
    """

    device: str
    impedance: Impedance
    connected: Mask
    merged: bool


@remembered
def branches(walk: Walk, point: str, method: Method, part: Part = "whole") -> tuple[Branch, ...]:
    """Positive-sequence branches at a point."""
    return _branches(walk, point, None, lambda device: _part_of(elements.positive(walk, device, method), part))


@remembered
def zero_branches(walk: Walk, point: str, method: Method) -> tuple[Branch, ...]:
    """Zero-sequence branches at a point: ways by which earth-fault current can return."""
    return _zero(walk, point, None, method)


def _part_of(z: Impedance, part: Part) -> Impedance:
    if part == "at the equivalent frequency":
        return Impedance(z.resistance, z.reactance * EQUIVALENT_FREQUENCY_SHARE)
    if part == "resistances":
        return Impedance(z.resistance, 0.0)
    return Impedance(0.0, z.reactance) if part == "reactances" else z


def _branches(
    walk: Walk, point: str, came_from: str | None, impedance_of: Callable[[str], Impedance]
) -> tuple[Branch, ...]:
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
    """Several branches at one point as one: their admittances add where they are connected.

    Where one alone is connected its own impedance stands, not the inverse of its inverse: a range of it stays narrow.
    """
    if len(found) == 1:
        return found[0]
    total = total_admittance(found)
    count = np.add.reduce([branch.connected for branch in found])
    connected = np.minimum(count, 1.0)
    idle = 1.0 - connected  # keeps the inverse and its R/X finite in the cases in which nothing feeds
    z = inverse(Admittance(total.conductance + idle, total.susceptance + idle))
    for branch in found:
        alone = (branch.connected > 0.0) & (count == 1.0)
        own = branch.impedance
        z = Impedance(
            np.where(alone, own.resistance, z.resistance),
            np.where(alone, own.reactance, z.reactance),
        )
    return Branch(found[0].device, z, connected, merged=True)


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
def thevenin(walk: Walk, point: str, method: Method, part: Part = "whole") -> Branch:
    """Positive-sequence impedance seen from a point; the supply stands behind every point of a station."""
    return combined(branches(walk, point, method, part))


@remembered
def zero_thevenin(walk: Walk, point: str, method: Method) -> Branch | None:
    """Zero-sequence impedance seen from a point; None where no earth-fault current can return."""
    found = zero_branches(walk, point, method)
    return combined(found) if found else None


def shares(found: tuple[Branch, ...]) -> dict[str, Array]:
    """Size of each branch's current as a share of the current of all, by its device, shape (boxes, cases).

    |Y_i| / |sum of Y| = 1 / |1 + Z_i (sum of the other Y)|: each impedance counts once, so a range of it stays narrow.
    """
    result = {}
    for branch in found:
        others = total_admittance(tuple(other for other in found if other is not branch))
        r, x = branch.impedance
        real = 1.0 + r * others.conductance + x * others.susceptance
        imaginary = x * others.conductance - r * others.susceptance
        result[branch.device] = branch.connected / np.sqrt(np.square(real) + np.square(imaginary))
    return result


def shares_without(walk: Walk, point: str, method: Method, left_out: str) -> dict[str, tuple[Array, Mask]]:
    """Shares of the branches at a point in the current that leaves it through one device, with their `connected`."""
    found = tuple(branch for branch in branches(walk, point, method) if branch.device != left_out)
    part = shares(found)
    return {branch.device: (part[branch.device], branch.connected) for branch in found}


def live(walk: Walk, point: str, *, to_earth: bool = False) -> tuple[int, ...]:
    """Operating cases in which something feeds a point; `to_earth`: in which an earth fault there draws current."""
    connected = thevenin(walk, point, walk.method).connected
    if to_earth:
        zero = zero_thevenin(walk, point, walk.method)
        connected = np.zeros(len(walk.cases)) if zero is None else np.minimum(connected, zero.connected)
    return tuple(i for i in range(len(walk.cases)) if connected[i] > 0.0)


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
    own = NONE
    if device.kind == "cable" and elements.medium_voltage_cable_given(walk, device.path):
        own = elements.cable(walk, device.path, method, zero=True)
    elif device.key.startswith("feeder "):
        own = elements.cable(walk, f"{device.path}.cable", method, zero=True)
    return _through(walk, device, far, combined(behind), own)


def _zero_source(walk: Walk, device: Device, method: Method) -> Branch | None:
    if device.kind == "supply":
        z0 = zero_sequence.supply(walk, device.path, method)
    elif device.kind == "tie":
        z0 = zero_sequence.tie(walk, method)
    elif device.kind == "generator":
        z0 = zero_sequence.generator(walk, method)
    else:
        z0 = None  # motors: no neutral
    return None if z0 is None else Branch(device.key, z0, walk.cases.mask(device.key), merged=False)


def _zero_transformer(walk: Walk, device: Device, far: str, method: Method) -> Branch | None:
    """Zero sequence at the transformer: its star is an earth for its own side; only YNyn lets it pass.

    Beware: of a YNyn unit on an unearthed supply only tank and core decide, which no entry of the file tells: NaN.
    """
    passes = walk.inputs.word("transformer.connection").startswith("YN")
    if walk.inputs.word("transformer.neutral") != "earthed":
        return None
    if far == PRIMARY:
        z0 = zero_sequence.transformer(walk, method)
        if not passes:
            return Branch(device.key, z0, np.ones(len(walk.cases)), merged=False)
        behind = _zero(walk, PRIMARY, device.key, method)
        if not behind:
            return Branch(device.key, Impedance(np.nan, np.nan), np.ones(len(walk.cases)), merged=False)
        return _through(walk, device, far, combined(behind), z0)
    behind = _zero(walk, SECONDARY, device.key, method) if passes else ()
    if not behind:
        return None
    return _through(walk, device, far, combined(behind), zero_sequence.transformer(walk, method))


def side(walk: Walk, point: str) -> str:
    """`mv` or `lv`."""
    return walk.station.point(point).side


def is_bus(point: str) -> bool:
    """Whether the branches at a point have no impedance in common, so that partial peaks add (IEC 60909-0 eq. 59)."""
    return point in (SWITCH_BUS, LV_BUS)
