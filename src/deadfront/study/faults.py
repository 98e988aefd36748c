"""Study: fault currents at each point by both methods; branches come in, currents, X/R, peaks and thermal values go out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from deadfront.physics import elements as physical
from deadfront.physics import iec60909, north_american
from deadfront.physics.impedance import NONE, magnitude, r_over_x, x_over_r
from deadfront.physics.types import Array
from deadfront.study import elements, network
from deadfront.study.inputs import Assumed
from deadfront.study.walk import Method, Walk, remembered

Kind = Literal["three-phase", "line-line", "line-earth", "line-line-earth"]
KINDS: tuple[Kind, ...] = ("three-phase", "line-line", "line-earth", "line-line-earth")

EQUIVALENT_FREQUENCY = {50.0: 20.0, 60.0: 24.0}
"""Frequency of method c of IEC 60909-0 for each power frequency, Hz [V]."""


@dataclass(frozen=True, slots=True)
class PartialCurrent:
    """What one branch brings to a three-phase fault: the device at the point, initial current A, its R/X."""

    device: str
    current: Array
    r_over_x: Array


@remembered
def partial_currents(walk: Walk, point: str, method: Method) -> tuple[PartialCurrent, ...]:
    """Three-phase currents of the branches at a point, each with its own R/X by method c, shape (boxes, cases)."""
    driving = _driving_voltage(walk, point, method) / np.sqrt(3.0)
    frequency = walk.inputs.constant("frequency")
    scale = EQUIVALENT_FREQUENCY.get(frequency, 0.4 * frequency) / frequency
    slow = network.branches(walk, point, method, scale)
    found = []
    for branch, at_low_frequency in zip(network.branches(walk, point, method), slow, strict=True):
        current = branch.connected * driving / magnitude(branch.impedance)
        if branch.device == "generator" and method == "iec":
            ratio = _fictitious_ratio(walk)
        else:
            ratio = r_over_x(at_low_frequency.impedance) * scale if branch.merged else r_over_x(branch.impedance)
        found.append(PartialCurrent(branch.device, current, ratio))
    return tuple(found)


def _fictitious_ratio(walk: Walk) -> Array:
    """R_Gf/X"d of the generator, by which its direct component decays as in reality (for the peak only)."""
    read = walk.inputs.number
    rating, voltage = read("standby_generator.rating"), read("standby_generator.voltage")
    reactance = read("standby_generator.subtransient_reactance")
    resistance = physical.fictitious_resistance(rating, voltage, reactance)
    return resistance / (reactance * np.square(voltage) / rating)


def _driving_voltage(walk: Walk, point: str, method: Method) -> Array:
    side = network.side(walk, point)
    return elements.voltage_factor(walk, method, side) * elements.nominal_voltage(walk, side)


@remembered
def current(walk: Walk, point: str, kind: Kind, method: Method) -> Array:
    """Initial symmetrical fault current (the first cycle's, North American), A, shape (boxes, cases).

    Zero in cases in which nothing feeds the point. For a line-line-earth fault the larger line current.
    """
    whole = network.thevenin(walk, point, method)
    if whole is None:
        return np.zeros(len(walk.cases))
    driving, z1 = _driving_voltage(walk, point, method), whole.impedance
    if kind == "three-phase":
        return whole.connected * iec60909.three_phase_current(1.0, driving, z1)
    if kind == "line-line":
        return whole.connected * iec60909.line_line_current(1.0, driving, z1, z1)
    if network.side(walk, point) == "mv" and walk.inputs.word("supply.earthing") in ("isolated", "resonant"):
        return _unearthed_network(walk, point, kind, method)
    zero = network.zero_thevenin(walk, point, method)
    if zero is None:
        nothing = 0.0 * whole.connected
        return nothing if kind == "line-earth" else current(walk, point, "line-line", method)
    connected = np.minimum(whole.connected, zero.connected)
    if kind == "line-earth":
        return connected * iec60909.line_earth_current(1.0, driving, z1, z1, zero.impedance)
    both = iec60909.line_line_earth_currents(1.0, driving, z1, z1, zero.impedance)
    return connected * np.maximum(both.line_2, both.line_3)


def _unearthed_network(walk: Walk, point: str, kind: Kind, method: Method) -> Array:
    """Earth faults of an isolated or resonant network: the capacitive or residual current of the whole network."""
    if kind == "line-line-earth":
        return current(walk, point, "line-line", method)
    capacitive = walk.inputs.number("supply.capacitive_earth_current")
    live = np.minimum(np.maximum(walk.cases.way_a, walk.cases.way_b), 1.0)
    if walk.inputs.word("supply.earthing") == "isolated":
        return live * capacitive
    residual = walk.inputs.assume(
        "supply.residual_share",
        0.05,
        0.10,
        Assumed(
            "supply.residual_share",
            "A tuned arc-suppression reactor is taken to leave 5 to 10 % of the capacitive earth-fault current.",
            "reference data, from memory",
            "M",
            "Ask the utility for the residual current and the detuning.",
        ),
    )
    return live * residual * capacitive


@remembered
def earth_current(walk: Walk, point: str, kind: Kind, method: Method) -> Array:
    """Current that flows into the earth at the fault, A: zero for faults between lines only."""
    if kind == "line-earth":
        return current(walk, point, "line-earth", method)
    zero, whole = network.zero_thevenin(walk, point, method), network.thevenin(walk, point, method)
    unearthed = network.side(walk, point) == "mv" and walk.inputs.word("supply.earthing") in ("isolated", "resonant")
    if kind != "line-line-earth" or zero is None or whole is None or unearthed:
        return np.zeros(len(walk.cases))
    driving = _driving_voltage(walk, point, method)
    both = iec60909.line_line_earth_currents(1.0, driving, whole.impedance, whole.impedance, zero.impedance)
    return np.minimum(whole.connected, zero.connected) * both.earth


@remembered
def reactance_ratio(walk: Walk, point: str, method: Method) -> Array:
    """X/R at the point, shape (boxes, cases).

    IEC: of the positive-sequence impedance. North American: the larger of the complex impedance's and that of the
    separate reduction of resistances and reactances (IEEE C37.010, [V first part]); the larger is on the safe side.
    """
    whole = network.thevenin(walk, point, method)
    if whole is None:
        return np.zeros(len(walk.cases))
    if method == "iec":
        return x_over_r(whole.impedance)
    return np.maximum(x_over_r(whole.impedance), _separate_ratio(walk, point))


def _separate_ratio(walk: Walk, point: str) -> Array:
    """X/R from networks of reactances only and of resistances only; of the complex network where nothing feeds."""
    found = network.branches(walk, point, "north-american")
    whole = network.combined(found)
    separate = north_american.separate_x_over_r([b.impedance for b in found], NONE, [b.connected for b in found])
    return np.where(whole.connected > 0.0, separate, x_over_r(whole.impedance))


@remembered
def peak(walk: Walk, point: str, kind: Kind, method: Method) -> Array:
    """Peak of the fault current, A.

    IEC: partial peaks of the branches added, each with its own kappa (IEC 60909-0:2016 eq. 59); for unbalanced faults
    the three-phase kappa. North American: peak of the first half cycle at the point's X/R, exact-form fit of IEEE 551.
    """
    symmetrical = current(walk, point, kind, method)
    if method == "north-american":
        return symmetrical * north_american.peak_factor_ieee551(reactance_ratio(walk, point, method))
    parts = partial_currents(walk, point, method)
    peaks: Array = 0.0
    whole: Array = 0.0
    for part in parts:
        peaks = peaks + iec60909.peak_current(part.current, part.r_over_x)
        whole = whole + part.current
    if kind == "three-phase":
        return peaks
    idle = np.where(np.greater(current(walk, point, "three-phase", method), 0.0), 0.0, 1.0)
    return symmetrical * peaks / (whole + idle)


MINIMUM_DELAY = 0.05
"""Time from the start of the fault to the first contact separation taken for the breaking current, s [C]."""


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
    pairs = walk.inputs.entry(f"{path}.pole_pairs")
    if kind != "motors":
        return 1.0
    if not isinstance(pairs, int) or not walk.inputs.given(f"{path}.machine_power"):
        text = f"{path}: the motors' current is taken not to decay until the contacts part."
        confirm = "Give machine_power and pole_pairs from the motor data sheets."
        walk.inputs.note(Assumed(f"{path}.decay", text, "on the safe side of IEC 60909-0", "C", confirm))
        return 1.0
    rated = read(f"{path}.power") / (
        np.sqrt(3.0) * read("board.voltage") * read(f"{path}.efficiency") * read(f"{path}.power_factor")
    )
    per_pair = read(f"{path}.machine_power") / pairs
    whole = np.where(np.greater(part.current, 0.0), part.current, rated)  # an idle group has no ratio of its own
    return iec60909.motor_breaking_current(whole, rated, per_pair, MINIMUM_DELAY) / whole


@remembered
def thermal(walk: Walk, point: str, kind: Kind, method: Method, duration: float) -> Array:
    """Thermal equivalent current for a duration, A: I"k sqrt(m + n) with n = 1 (IEC 60909-0, far from generators)."""
    symmetrical = current(walk, point, kind, method)
    ratio = 1.0 / np.maximum(reactance_ratio(walk, point, method), 1e-6)
    kappa = iec60909.peak_factor(ratio)
    return iec60909.thermal_equivalent_current(symmetrical, kappa, walk.inputs.constant("frequency"), duration)
