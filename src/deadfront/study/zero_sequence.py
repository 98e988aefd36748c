"""Study: zero-sequence impedance of each device that is earthed; entries of the file come in, ohm per case go out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from deadfront.physics import elements as physical
from deadfront.physics.impedance import Impedance, magnitude, series
from deadfront.physics.types import Array
from deadfront.station.station import Device
from deadfront.study import elements
from deadfront.study.inputs import Assumed, MissingEntryError
from deadfront.study.walk import Method, Walk, remembered

UNEARTHED = ("isolated", "resonant")
"""Earthings of a supply with which an earth fault draws only the capacitive or residual current of the network."""

LEAST_SHARE = 0.01
"""Z0 over Z1 at which a pair of fault currents that no passive network can have is held: keeps its inverse finite."""


LARGEST_EARTH_SHARE = 1.5
"""Line-earth over three-phase current where Z0 is zero: 3 / 2."""


def medium_voltage_unearthed(walk: Walk) -> bool:
    """Whether the neutral of the supply is isolated or earthed through an arc-suppression reactor."""
    return walk.inputs.word("supply.earthing") in UNEARTHED


@remembered
def supply(walk: Walk, path: str, method: Method) -> Impedance | None:
    """Zero-sequence impedance of a supply, neutral impedance included, ohm; None where the neutral is not earthed."""
    if medium_voltage_unearthed(walk):
        return None
    z1 = elements.positive(walk, "supply A" if path == "supply" else "supply B", method)
    if walk.inputs.given(f"{path}.earth_fault_current"):
        return _from_current(walk, path, z1, elements.driving_voltage(walk, method, "mv"))
    if not walk.inputs.given(f"{path}.x0_over_x1"):
        walk.inputs.number(f"{path}.earth_fault_current")  # says that it is missing
    ratio, resistive = walk.inputs.number(f"{path}.x0_over_x1"), walk.inputs.number(f"{path}.r0_over_x0")
    z0 = physical.network_zero_sequence_from_ratios(z1, ratio, resistive)
    return z0 if walk.inputs.word("supply.earthing") == "solid" else series(z0, _neutral(walk, path))


def source_ratio(walk: Walk, device: Device, method: Method) -> Array:
    """R0/X0 of an earthed source, from the entries its impedance was made from."""
    read, path = walk.inputs.number, device.path
    if device.kind == "generator":
        ratio = read("standby_generator.zero_reactance") / read("standby_generator.subtransient_reactance")
        return 1.0 / (read("standby_generator.x_over_r") * ratio)
    own = read(f"{path}.r0_over_x0") if walk.inputs.given(f"{path}.r0_over_x0") else 1.0 / read(f"{path}.x_over_r")
    if device.kind == "tie" or walk.inputs.given(f"{path}.earth_fault_current"):
        return own
    return own if walk.inputs.word("supply.earthing") == "solid" else _with_neutral(walk, path, own, method)


def _with_neutral(walk: Walk, path: str, own: Array, method: Method) -> Array:
    """R0/X0 of a supply whose neutral is earthed through an impedance."""
    z1 = elements.positive(walk, "supply A" if path == "supply" else "supply B", method)
    z0 = physical.network_zero_sequence_from_ratios(z1, walk.inputs.number(f"{path}.x0_over_x1"), own)
    neutral = _neutral(walk, path)
    return (own + neutral.resistance / z0.reactance) / (1.0 + neutral.reactance / z0.reactance)


def _neutral(walk: Walk, path: str) -> Impedance:
    """Three times the impedance between the supply's neutral and earth."""
    parts: list[Array] = []
    for entry in ("supply.neutral_resistance", "supply.neutral_reactance"):
        parts.append(walk.inputs.number(entry) if walk.inputs.given(entry) else 0.0)
    if not any(walk.inputs.given(f"supply.neutral_{part}") for part in ("resistance", "reactance")):
        raise MissingEntryError("supply.neutral_resistance")
    if path != "supply":
        text = "The neutral of the other feed is taken as earthed through the same impedance as that of the supply."
        walk.inputs.note(Assumed(f"{path}.neutral", text, "simplification, no source", "C", "Ask the utility."))
    return Impedance(3.0 * parts[0], 3.0 * parts[1])


def _from_current(walk: Walk, path: str, z1: Impedance, driving: Array) -> Impedance:
    """Z0 from a stated line-to-earth fault current, at the angle of R0/X0, or of Z1 where that is not given.

    |Z0| = √(S² - 4 q²) - 2 p with S = √3 c U / I"k1, p and q the parts of Z1 along and across the angle of Z0

    Ranges of the three-phase and of the earth-fault current come from the same utility letter: the smallest belongs to
    the smallest. A pair inside such ranges that no passive network can have is held at Z0 = Z1/100; its earth-fault
    current is then 1.5 times the three-phase current. Where no pair of the ranges is possible: NaN, never a number.
    """
    if _contradictory(walk, path):
        return Impedance(np.nan, np.nan)
    total = np.sqrt(3.0) * driving / walk.inputs.number(f"{path}.earth_fault_current")
    if walk.inputs.given(f"{path}.r0_over_x0"):
        along, across = _direction(walk.inputs.number(f"{path}.r0_over_x0"))
        in_line = z1.resistance * along + z1.reactance * across
        off_line = z1.resistance * across - z1.reactance * along
        total = np.sqrt(np.maximum(np.square(total) - np.square(2.0 * off_line), 0.0))
    else:
        text = f"{path}: the zero-sequence impedance is taken at the angle of the positive-sequence impedance."
        confirm = "Ask for R0 and X0."
        walk.inputs.note(Assumed(f"{path}.zero_sequence_angle", text, "simplification, no source", "C", confirm))
        along, across = _direction(1.0 / walk.inputs.number(f"{path}.x_over_r"))
        in_line = magnitude(z1)  # p is all of Z1 and q is zero
    found = np.maximum(total - 2.0 * in_line, LEAST_SHARE * in_line)
    return Impedance(found * along, found * across)


def _direction(ratio: Array) -> tuple[Array, Array]:
    """R/|Z| and X/|Z| at an R/X."""
    across = 1.0 / np.sqrt(1.0 + np.square(ratio))
    return ratio * across, across


def _contradictory(walk: Walk, path: str) -> bool:
    """Whether even the smallest stated earth-fault current is above 1.5 times the largest three-phase current."""
    if walk.inputs.given(f"{path}.fault_power") and not walk.inputs.given(f"{path}.fault_current"):
        largest = walk.inputs.highest(f"{path}.fault_power") / (np.sqrt(3.0) * walk.inputs.lowest("supply.voltage"))
    else:
        largest = walk.inputs.highest(f"{path}.fault_current")
    return bool(walk.inputs.lowest(f"{path}.earth_fault_current") > LARGEST_EARTH_SHARE * largest)


@dataclass(frozen=True, slots=True)
class _Ratios:
    """R0/R1 and X0/X1 of a winding connection, lower and upper, and whence."""

    resistance: tuple[float, float]
    reactance: tuple[float, float]
    source: str
    tag: str


DELTA_STAR = _Ratios((1.0, 1.0), (0.85, 1.0), "IEC TR 60909-4 example X 0.95; other texts down to 0.85", "V")
ZIGZAG = _Ratios((0.4, 0.4), (0.1, 0.1), "order of magnitude for zigzag windings", "M")
STATED = _Ratios((1.0, 1.0), (1.0, 1.0), "resistance as in the positive sequence, no source", "C")


@remembered
def transformer(walk: Walk, method: Method) -> Impedance:
    """Zero-sequence impedance of the transformer's windings seen from its low-voltage star, ohm at the secondary.

    holds     Dyn, Dzn; Yyn and YNyn only with the X0/X1 of the test report, since tank and core decide there
    raises    MissingEntryError: no X0/X1 where none can be assumed
    """
    connection = walk.inputs.word("transformer.connection")
    if connection.startswith("Dyn"):
        ratios = DELTA_STAR
    elif connection.startswith("Dzn"):
        ratios = ZIGZAG
    elif walk.inputs.given("transformer.zero_sequence.x0_over_x1"):
        ratios = STATED
    else:
        walk.inputs.number("transformer.zero_sequence.x0_over_x1")  # says that it is missing
        ratios = STATED
    resistance = _ratio(walk, "r0_over_r1", "R", ratios.resistance, ratios)
    reactance = _ratio(walk, "x0_over_x1", "X", ratios.reactance, ratios)
    return physical.zero_sequence_winding(elements.transformer(walk, method), resistance, reactance)


def _ratio(walk: Walk, name: str, letter: str, span: tuple[float, float], ratios: _Ratios) -> Array:
    path, (low, high) = f"transformer.zero_sequence.{name}", span
    size = f"{low:g}" if low == high else f"{low:g} to {high:g}"
    text = f"{letter}0 of the transformer is taken as {size} of {letter}1 (no zero-sequence test report)."
    confirm = "Zero-sequence impedance in the transformer's test report."
    return walk.inputs.assume(path, low, high, Assumed(path, text, ratios.source, ratios.tag, confirm))


@remembered
def tie(walk: Walk, method: Method) -> Impedance:
    """Zero-sequence impedance of the tie's infeed, from the earth-fault current it brings, ohm."""
    driving = elements.driving_voltage(walk, method, "lv")
    return _from_current(walk, "board.tie", elements.positive(walk, "tie", method), driving)


@remembered
def generator(walk: Walk, method: Method) -> Impedance | None:
    """Zero-sequence impedance of the generator, ohm; None where its neutral is not earthed."""
    if walk.inputs.word("standby_generator.neutral") != "earthed":
        return None
    read = walk.inputs.number
    z1 = elements.positive(walk, "generator", method)
    ratio = read("standby_generator.zero_reactance") / read("standby_generator.subtransient_reactance")
    return Impedance(z1.resistance, z1.reactance * ratio)
