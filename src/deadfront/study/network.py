"""Study: the station seen from one point; device impedances come in, the branches that feed a fault there go out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from deadfront.physics.iec60909 import EQUIVALENT_FREQUENCY_SHARE
from deadfront.physics.impedance import (
    NONE,
    Admittance,
    Impedance,
    magnitude,
    mean_r_over_x,
    r_over_x,
    referred,
    scaled,
    series,
)
from deadfront.physics.types import Array
from deadfront.station.station import LV_BUS, PRIMARY, SECONDARY, SWITCH_BUS, Device
from deadfront.study import elements, zero_sequence
from deadfront.study.cases import Mask
from deadfront.study.walk import Method, Walk, remembered

LEAST_REACTANCE = 1e-12
"""Stands for a cable without reactance where its R/X is taken, ohm."""

Part = Literal["whole", "at the equivalent frequency", "separately"]
"""How a reduction goes: with impedances as they are, with reactances at the frequency of method c, or with resistances
and reactances each for themselves (IEEE C37.010)."""


@dataclass(frozen=True, slots=True)
class Branch:
    """One way by which current reaches a point: the device at the point, its impedance up to the sources, and when.

    `impedance` in ohm at the point's own voltage; `connected` is 1.0 in the operating cases in which a source stands
    behind it, shape (cases,). `merged`: several sources share it, so its R/X needs the equivalent-frequency method.
    `ratio` is R/X, carried along beside the impedance: worked out afresh from R and X it would count a range of the
    source current twice.
    """

    device: str
    impedance: Impedance
    connected: Mask
    merged: bool
    ratio: Array


def branches(walk: Walk, point: str, method: Method, part: Part = "whole") -> tuple[Branch, ...]:
    """Positive-sequence branches at a point."""
    return _branches(walk, point, None, method, part)


def zero_branches(walk: Walk, point: str, method: Method) -> tuple[Branch, ...]:
    """Zero-sequence branches at a point: ways by which earth-fault current can return."""
    return _zero(walk, point, None, method)


def _part_of(z: Impedance, part: Part) -> Impedance:
    if part == "at the equivalent frequency":
        return Impedance(z.resistance, z.reactance * EQUIVALENT_FREQUENCY_SHARE)
    return z


def _source(walk: Walk, device: Device, method: Method, part: Part) -> Branch:
    """A source as a branch, with the R/X that the file states for it."""
    ratio = 1.0 / elements.source_x_over_r(walk, device, method)
    if part == "at the equivalent frequency":
        ratio = ratio / EQUIVALENT_FREQUENCY_SHARE
    z = _part_of(elements.positive(walk, device.key, method), part)
    return Branch(device.key, z, walk.cases.mask(device.key), merged=False, ratio=ratio)


@remembered
def _branches(walk: Walk, point: str, came_from: str | None, method: Method, part: Part) -> tuple[Branch, ...]:
    """Walk the tree away from a point; devices whose far side holds no source bring no branch."""
    found = []
    for device, far in walk.station.at(point):
        if device.key == came_from or (device.kind == "motors" and not elements.motor_feeds_back(walk, device.path)):
            continue
        if far is None:
            found.append(_source(walk, device, method, part))
            continue
        behind = _behind(walk, far, device.key, method, part)
        if behind is not None:
            own = _part_of(elements.positive(walk, device.key, method), part)
            found.append(_through(walk, device, far, behind, own))
    return tuple(found)


@remembered
def _behind(walk: Walk, point: str, came_from: str, method: Method, part: Part) -> Branch | None:
    """All that stands at a point beyond a device, as one branch; None where nothing does."""
    found = _branches(walk, point, came_from, method, part)
    return combined(found, part) if found else None


def _through(walk: Walk, device: Device, far: str, behind: Branch, own: Impedance) -> Branch:
    """The branch behind a device, with the device's own impedance, at the voltage of the device's near side."""
    connected = behind.connected * walk.cases.mask(device.key)
    before: Impedance = behind.impedance
    scale: Array = 1.0
    if device.kind == "transformer" and far == PRIMARY:
        before = referred(before, elements.turns_ratio(walk))
    elif device.kind == "transformer":
        scale = np.square(elements.turns_ratio(walk))
    return Branch(
        device.key,
        scaled(series(before, own), scale),
        connected,
        behind.merged,
        behind.ratio if own is NONE else _series_ratio(device, behind.ratio, before, own),
    )


def _series_ratio(device: Device, ratio: Array, before: Impedance, own: Impedance) -> Array:
    """R/X of a branch behind a device, in series with the device's own impedance.

    The larger of the two comes first in the mean, for there a range of their quotient widens it least: of a
    transformer and of a feeder's cable its own, of a medium-voltage cable the network's.
    """
    reactance = np.maximum(own.reactance, LEAST_REACTANCE)
    its_own = own.resistance / reactance
    if device.kind == "transformer" or device.key.startswith("feeder "):
        return mean_r_over_x(its_own, ratio, before.reactance / reactance)
    return mean_r_over_x(ratio, its_own, reactance / before.reactance)


def combined(found: tuple[Branch, ...], part: Part = "whole") -> Branch:
    """Several branches at one point as one: their admittances add where they are connected.

    Where one alone is connected its own impedance stands, not the inverse of its inverse: a range of it stays narrow.
    """
    if len(found) == 1:
        return found[0]
    count = np.add.reduce([branch.connected for branch in found])
    connected = np.minimum(count, 1.0)
    idle = 1.0 - connected  # keeps the inverse and its R/X finite in the cases in which nothing feeds
    z, ratio = _side_by_side(found, idle, part)
    for branch in found:
        alone = (branch.connected > 0.0) & (count == 1.0)
        own = branch.impedance
        z = Impedance(np.where(alone, own.resistance, z.resistance), np.where(alone, own.reactance, z.reactance))
        ratio = np.where(alone, branch.ratio, ratio)
    return Branch(found[0].device, z, connected, merged=True, ratio=ratio)


def _side_by_side(found: tuple[Branch, ...], idle: Array, part: Part) -> tuple[Impedance, Array]:
    """Impedance and R/X of branches in parallel, each ratio written as the first's and what the others differ from it.

    R/X = rho_1 + sum (rho_i - rho_1) B_i / B. Separately: X/R = q_1 + sum (q_i - q_1) (1/X_i) / sum (1/X).
    """
    if part == "separately":
        weights = [branch.connected / branch.impedance.reactance for branch in found]
        whole = idle
        for weight in weights:
            whole = whole + weight
        reactance, ratio = 1.0 / whole, 1.0 / _weighted([1.0 / branch.ratio for branch in found], weights, whole)
    else:
        weights = [branch.connected * _susceptance(branch) for branch in found]
        whole = total_admittance(found).susceptance + idle
        ratio = _weighted([branch.ratio for branch in found], weights, whole)
        reactance = 1.0 / (whole * (1.0 + np.square(ratio)))
    return Impedance(ratio * reactance, reactance), ratio


def _susceptance(branch: Branch) -> Array:
    """B of a branch from its reactance and its R/X, each of which counts once, siemens."""
    return 1.0 / (branch.impedance.reactance * (1.0 + np.square(branch.ratio)))


def _weighted(ratios: list[Array], weights: list[Array], whole: Array) -> Array:
    """Mean of ratios, written as the first and what the others differ from it."""
    found = ratios[0]
    for ratio, weight in zip(ratios[1:], weights[1:], strict=True):
        found = found + (ratio - ratios[0]) * (weight / whole)
    return found


def total_admittance(found: tuple[Branch, ...]) -> Admittance:
    """Sum of the admittances of the branches in the cases in which they are connected, siemens."""
    conductance: Array = 0.0
    susceptance: Array = 0.0
    for branch in found:
        own = branch.connected * _susceptance(branch)
        conductance = conductance + own * branch.ratio
        susceptance = susceptance + own
    return Admittance(conductance, susceptance)


@remembered
def thevenin(walk: Walk, point: str, method: Method, part: Part = "whole") -> Branch:
    """Positive-sequence impedance seen from a point; the supply stands behind every point of a station."""
    return combined(branches(walk, point, method, part), part)


@remembered
def admittance_size(walk: Walk, point: str, method: Method) -> Array:
    """Size of the positive-sequence admittance seen from a point, siemens; any number where nothing feeds it.

    |Y| = B √(1 + (R/X)²): beside the impedance, of which it is the inverse, for there a range of B counts twice.
    """
    found, whole = branches(walk, point, method), thevenin(walk, point, method)
    if len(found) == 1:
        return 1.0 / magnitude(whole.impedance)
    count = np.add.reduce([branch.connected for branch in found])
    idle = 1.0 - np.minimum(count, 1.0)
    size = (total_admittance(found).susceptance + idle) * np.sqrt(1.0 + np.square(whole.ratio))
    for branch in found:
        size = np.where((branch.connected > 0.0) & (count == 1.0), 1.0 / magnitude(branch.impedance), size)
    return size


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


@remembered
def positive_shares(walk: Walk, point: str, method: Method) -> dict[str, Array]:
    """Shares of the branches at a point in its positive-sequence current."""
    return shares(branches(walk, point, method))


@remembered
def zero_shares(walk: Walk, point: str, method: Method) -> dict[str, Array]:
    """Shares of the branches at a point in its zero-sequence current."""
    return shares(zero_branches(walk, point, method))


@remembered
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


@remembered
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
    behind = _zero_behind(walk, far, device.key, method)
    if behind is None:
        return None
    own = NONE
    if device.kind == "cable" and elements.medium_voltage_cable_given(walk, device.path):
        own = elements.cable(walk, device.path, method, zero=True)
    elif device.key.startswith("feeder "):
        own = elements.cable(walk, f"{device.path}.cable", method, zero=True)
    return _through(walk, device, far, behind, own)


@remembered
def _zero_behind(walk: Walk, point: str, came_from: str, method: Method) -> Branch | None:
    """All that returns zero-sequence current at a point beyond a device, as one branch; None where nothing does."""
    found = _zero(walk, point, came_from, method)
    return combined(found) if found else None


def _zero_source(walk: Walk, device: Device, method: Method) -> Branch | None:
    if device.kind == "supply":
        z0 = zero_sequence.supply(walk, device.path, method)
    elif device.kind == "tie":
        z0 = zero_sequence.tie(walk, method)
    elif device.kind == "generator":
        z0 = zero_sequence.generator(walk, method)
    else:
        z0 = None  # motors: no neutral
    if z0 is None:
        return None
    ratio = zero_sequence.source_ratio(walk, device, method)
    return Branch(device.key, z0, walk.cases.mask(device.key), merged=False, ratio=ratio)


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
            return Branch(device.key, z0, np.ones(len(walk.cases)), merged=False, ratio=r_over_x(z0))
        behind = _zero_behind(walk, PRIMARY, device.key, method)
        if behind is None:
            return Branch(device.key, Impedance(np.nan, np.nan), np.ones(len(walk.cases)), merged=False, ratio=np.nan)
        return _through(walk, device, far, behind, z0)
    behind = _zero_behind(walk, SECONDARY, device.key, method) if passes else None
    if behind is None:
        return None
    return _through(walk, device, far, behind, zero_sequence.transformer(walk, method))


def side(walk: Walk, point: str) -> str:
    """`mv` or `lv`."""
    return walk.station.point(point).side


def is_bus(point: str) -> bool:
    """Whether the branches at a point have no impedance in common, so that partial peaks add (IEC 60909-0 eq. 59)."""
    return point in (SWITCH_BUS, LV_BUS)
