"""Study: fault currents at each point by both methods; branches come in, currents, X/R, peaks and heat go out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from deadfront.physics import elements as physical
from deadfront.physics import iec60909, north_american, sequence
from deadfront.physics.iec60909 import EQUIVALENT_FREQUENCY_SHARE
from deadfront.physics.impedance import magnitude, mean_r_over_x, series
from deadfront.physics.types import Array
from deadfront.study import elements, network, zero_sequence
from deadfront.study.inputs import Assumed
from deadfront.study.walk import Method, Walk, remembered

Kind = Literal["three-phase", "line-line", "line-earth", "line-line-earth"]
KINDS: tuple[Kind, ...] = ("three-phase", "line-line", "line-earth", "line-line-earth")
TO_EARTH: tuple[Kind, ...] = ("line-earth", "line-line-earth")

MINIMUM_DELAY = 0.05
"""Time from the start of the fault to the first contact separation taken for the breaking current, s [C]."""

LEAST_RATIO = 0.01
"""X/R below which a formula that divides by it is not read; the file allows none smaller."""


@dataclass(frozen=True, slots=True)
class PartialCurrent:
    """What one branch brings to a three-phase fault: the device at the point, initial current A, its R/X."""

    device: str
    current: Array
    r_over_x: Array


# --- sizes ---


@remembered
def current(walk: Walk, point: str, kind: Kind, method: Method) -> Array:
    """Initial symmetrical fault current (the first cycle's, North American), A, shape (boxes, cases).

    Zero in cases in which nothing feeds the point, or no current can return. For a line-line-earth fault the larger
    line current.

    holds     bolted faults; NaN where the zero sequence is outside the model
    source    IEC 60909-0:2016 [V; line-line-earth M, agrees with a phase-domain solution]
    """
    whole = network.thevenin(walk, point, method)
    driving, z1 = elements.driving_voltage(walk, method, network.side(walk, point)), whole.impedance
    if kind == "three-phase":
        return whole.connected * (driving / np.sqrt(3.0) * network.admittance_size(walk, point, method))
    if kind == "line-line":  # Z2 = Z1
        return whole.connected * (driving / 2.0 * network.admittance_size(walk, point, method))
    if unearthed(walk, point):
        return _unearthed_network(walk, point, kind, method)
    zero = network.zero_thevenin(walk, point, method)
    if zero is None:
        return np.zeros(len(walk.cases)) if kind == "line-earth" else current(walk, point, "line-line", method)
    connected = np.minimum(whole.connected, zero.connected)
    if kind == "line-earth":
        return connected * sequence.line_earth(driving, z1, z1, zero.impedance)
    apart = current(walk, point, "line-line", method)
    return np.where(connected > 0.0, _line_line_earth(driving, whole, zero), apart)


def _line_line_earth(driving: Array, whole: network.Branch, zero: network.Branch) -> Array:
    """Larger line current of a line-line-earth fault with Z2 = Z1, A.

    I = (U/√3) |-+ j (√3/2) Y1 - (3/2) Y_E|,  Y1 = 1/Z1,  Y_E = 1/(Z1 + 2 Z0)

    What flows between the lines, and half of what flows into earth: the form of `sequence.line_line_earth` in which
    each admittance counts once, so that a range of it stays narrow [D; a test holds both together].
    """
    half = np.sqrt(3.0) / 2.0
    x1, x0 = whole.impedance.reactance, zero.impedance.reactance
    between = half / (x1 * (1.0 + np.square(whole.ratio)))
    imaginary = 1.5 / ((x1 + 2.0 * x0) * (1.0 + np.square(_earth_ratio(whole, zero, 2.0))))
    across, real = whole.ratio * between, _earth_ratio(whole, zero, 2.0) * imaginary
    line_2 = np.square(between + real) + np.square(imaginary - across)
    line_3 = np.square(between - real) + np.square(imaginary + across)
    return driving / np.sqrt(3.0) * np.sqrt(np.maximum(line_2, line_3))


def _earth_ratio(whole: network.Branch, zero: network.Branch, times: float) -> Array:
    """R/X of Z1 + times Z0, a mean; its bounds change no number, but keep a range of the weight from widening it."""
    weight = times * zero.impedance.reactance / whole.impedance.reactance
    mean = mean_r_over_x(whole.ratio, zero.ratio, weight)
    least, most = np.minimum(whole.ratio, zero.ratio), np.maximum(whole.ratio, zero.ratio)
    return np.minimum(np.maximum(mean, least), most)


def unearthed(walk: Walk, point: str) -> bool:
    """Whether the system at a point has no earthed neutral of its own supply: medium voltage, isolated or resonant."""
    return network.side(walk, point) == "mv" and zero_sequence.medium_voltage_unearthed(walk)


def _unearthed_network(walk: Walk, point: str, kind: Kind, method: Method) -> Array:
    """Earth faults of an isolated or resonant network: the capacitive or residual current of the whole network."""
    if kind == "line-line-earth":
        return current(walk, point, "line-line", method)
    capacitive = walk.inputs.number("supply.capacitive_earth_current")
    live = np.maximum(walk.cases.way_a, walk.cases.way_b)
    if walk.inputs.word("supply.earthing") == "isolated":
        return live * capacitive
    text = "A tuned arc-suppression reactor is taken to leave 5 to 10 % of the capacitive earth-fault current."
    confirm = "Ask the utility for the residual current and the detuning."
    assumed = Assumed("supply.residual_share", text, "reference data, from memory", "M", confirm)
    residual = walk.inputs.assume("supply.residual_share", 0.05, 0.10, assumed)
    return live * iec60909.resonant_residual_current(capacitive, residual)


@remembered
def earth_current(walk: Walk, point: str, kind: Kind, method: Method) -> Array:
    """Current that flows into the earth at the fault, A: zero for faults between lines only."""
    if kind == "line-earth":
        return current(walk, point, "line-earth", method)
    if kind != "line-line-earth" or unearthed(walk, point):
        return np.zeros(len(walk.cases))
    whole, zero = network.thevenin(walk, point, method), network.zero_thevenin(walk, point, method)
    if zero is None:
        return np.zeros(len(walk.cases))
    driving = elements.driving_voltage(walk, method, network.side(walk, point))
    loop = magnitude(series(whole.impedance, zero.impedance, zero.impedance))
    return np.minimum(whole.connected, zero.connected) * np.sqrt(3.0) * driving / loop


def over_line_current(walk: Walk, point: str, kind: Kind, method: Method, other: Array) -> Array:
    """Another current of the same fault over its line current, 1; zero where nothing feeds the point."""
    idle = 1.0 - network.thevenin(walk, point, method).connected  # keeps the quotient finite
    return other / (current(walk, point, kind, method) + idle)


# --- X/R and peak ---


@remembered
def partial_currents(walk: Walk, point: str, method: Method) -> tuple[PartialCurrent, ...]:
    """Three-phase currents of the branches at a point, each with its own R/X by method c, shape (boxes, cases)."""
    driving = elements.driving_voltage(walk, method, network.side(walk, point)) / np.sqrt(3.0)
    slow = network.branches(walk, point, method, "at the equivalent frequency")
    found = []
    for branch, at_low_frequency in zip(network.branches(walk, point, method), slow, strict=True):
        size = branch.connected * driving / magnitude(branch.impedance)
        if branch.device == "generator" and method == "iec":
            ratio = _fictitious_ratio(walk)
        elif branch.merged:
            ratio = at_low_frequency.ratio * EQUIVALENT_FREQUENCY_SHARE
        else:
            ratio = branch.ratio
        found.append(PartialCurrent(branch.device, size, ratio))
    return tuple(found)


def _fictitious_ratio(walk: Walk) -> Array:
    """R_Gf/X"d of the generator, by which its direct component decays as in reality (for the peak only)."""
    read = walk.inputs.number
    rating, voltage = read("standby_generator.rating"), read("standby_generator.voltage")
    reactance = read("standby_generator.subtransient_reactance")
    resistance = physical.fictitious_resistance(rating, voltage, reactance)
    return resistance / (reactance * np.square(voltage) / rating)


@remembered
def reactance_ratio(walk: Walk, point: str, method: Method, kind: Kind = "three-phase") -> Array:
    """X/R at the point, shape (boxes, cases).

    IEC: of the positive-sequence impedance, for every kind of fault. North American: the larger of the complex
    impedance's and that of the separate reduction of resistances and reactances (the larger is on the safe side); for
    a fault to earth not below that of its loop 2 Z1 + Z0.

    source    IEEE C37.010 [V first part]; IEC 60909-0: kappa of the three-phase fault for all kinds [M]; loop [D]
    """
    whole = network.thevenin(walk, point, method)
    if method == "iec":
        return 1.0 / whole.ratio
    ratio = 1.0 / np.minimum(whole.ratio, network.thevenin(walk, point, method, "separately").ratio)
    if kind not in TO_EARTH or unearthed(walk, point):
        return ratio
    zero = network.zero_thevenin(walk, point, method)
    return ratio if zero is None else np.maximum(ratio, _loop_ratio(whole, zero))


def _loop_ratio(whole: network.Branch, zero: network.Branch) -> Array:
    """X/R of the loop of an earth fault; least where no earth-fault current can return."""
    return np.where(zero.connected > 0.0, 1.0 / _earth_ratio(whole, zero, 0.5), LEAST_RATIO)


@remembered
def peak(walk: Walk, point: str, kind: Kind, method: Method) -> Array:
    """Peak of the fault current, A.

    IEC: partial peaks of the branches added, each with its own kappa; for unbalanced faults the three-phase kappa.
    North American: peak of the first half cycle at the point's X/R, exact-form fit of IEEE 551.

    source    IEC 60909-0:2016 eq. 59 [V]; IEEE 551-2006 [M; checked against the exact solution]
    """
    symmetrical = current(walk, point, kind, method)
    if method == "north-american":
        ratio = np.maximum(reactance_ratio(walk, point, method, kind), LEAST_RATIO)
        return symmetrical * north_american.peak_factor_ieee551(ratio)
    parts = partial_currents(walk, point, method)
    if kind == "three-phase":
        return sum((iec60909.peak_current(part.current, part.r_over_x) for part in parts), start=np.zeros(1))
    return symmetrical * np.sqrt(2.0) * common_peak_factor(walk, point, method)


@remembered
def common_peak_factor(walk: Walk, point: str, method: Method) -> Array:
    """kappa of all branches together: their own, weighted by their three-phase currents.

    Written as the first branch's and what the others differ from it, so that one branch alone is exact on ranges too.
    """
    first, *others = partial_currents(walk, point, method)
    whole = first.current + (1.0 - network.thevenin(walk, point, method).connected)  # idle cases stay finite
    for part in others:
        whole = whole + part.current
    kappa = iec60909.peak_factor(first.r_over_x)
    found = kappa
    for part in others:
        found = found + (iec60909.peak_factor(part.r_over_x) - kappa) * (part.current / whole)
    return found


# --- decay and heat ---


@remembered
def breaking(walk: Walk, point: str) -> Array:
    """Symmetrical breaking current of a three-phase fault at a bus, A (IEC 60909-0, non-meshed: parts add).

    The network's part does not decay; a generator's decays by mu; a motor group's by mu q where the file gives its
    machine's power and pole pairs, else not at all, which is on the safe side and listed. At points other than a bus
    the initial current stands for it.
    """
    if not network.is_bus(point):
        return current(walk, point, "three-phase", "iec")
    total: Array = 0.0
    for part in partial_currents(walk, point, "iec"):
        total = total + part.current * _decay(walk, part)
    return total


def _decay(walk: Walk, part: PartialCurrent) -> Array:
    """Breaking over initial current of one branch."""
    kind = walk.station.device(part.device).kind
    path = walk.station.device(part.device).path
    read = walk.inputs.number
    if kind == "generator":
        rated = read(f"{path}.rating") / (np.sqrt(3.0) * read(f"{path}.voltage"))
        return iec60909.mu(part.current / rated, MINIMUM_DELAY)
    if kind != "motors":
        return 1.0
    pairs = walk.inputs.entry(f"{path}.pole_pairs")
    if not isinstance(pairs, int) or not walk.inputs.given(f"{path}.machine_power"):
        text = f"{path}: the motors' current is taken not to decay until the contacts part."
        confirm = "Give machine_power and pole_pairs from the motor data sheets."
        walk.inputs.note(Assumed(f"{path}.decay", text, "on the safe side of IEC 60909-0", "C", confirm))
        return 1.0
    rated = read(f"{path}.power") / (
        np.sqrt(3.0) * read("board.voltage") * read(f"{path}.efficiency") * read(f"{path}.power_factor")
    )
    per_pair = read(f"{path}.machine_power") / pairs
    whole = np.where(walk.cases.motors > 0.0, part.current, rated)  # an idle group has no ratio of its own
    return iec60909.motor_breaking_current(whole, rated, per_pair, MINIMUM_DELAY) / whole


@remembered
def thermal(walk: Walk, point: str, kind: Kind, method: Method, duration: Array) -> Array:
    """Thermal equivalent current for a duration, A: I"k sqrt(m + n) with n = 1 (IEC 60909-0, far from generators)."""
    longer = direct_component_time(walk, point, method, duration)
    return current(walk, point, kind, method) * np.sqrt(1.0 + longer / duration)


def direct_component_time(walk: Walk, point: str, method: Method, duration: Array) -> Array:
    """m T of IEC 60909-0 at a point: how long the symmetrical current heats as much as the direct component, s."""
    ratio = np.maximum(reactance_ratio(walk, point, method), LEAST_RATIO)
    return iec60909.direct_component_time(iec60909.peak_factor(1.0 / ratio), walk.inputs.number("frequency"), duration)
