"""Physics: the arc of IEEE Std 1584-2018, its current, incident energy and boundary. Arrays in, arrays out.

Tables 1 to 7 of the standard come from the room of tables. Inside this file currents are in kA, lengths in mm,
voltages in kV, durations in ms, as the tables want them; every public function takes and returns SI.

Two identities keep the formulas short and, on ranges, tight. The polynomial of Eq. (1) stands again, times Ibf, in
the denominator of Eqs. (3) to (10) (Tables 3 to 5 repeat k4 to k10 of Table 1; a test holds them to it), so that
Iarc/(Ibf polynomial) is the power law of Eq. (1) over Ibf. And Eq. (25) is Ibf u (V/0.6) / sqrt(1 - q u^2) with
u = Iarc600/Ibf and q = (0.6^2 - V^2)/0.6^2.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import log
from typing import NamedTuple

import numpy as np

from deadfront.physics.ieee1584_coefficients import ELECTRODES, Coefficients, Node, coefficients
from deadfront.physics.ieee1584_setting import (
    HIGH_VOLTAGE_CURRENT,
    HIGH_VOLTAGE_GAP,
    HIGHEST_VOLTAGE,
    LOW_VOLTAGE,
    LOW_VOLTAGE_CURRENT,
    LOW_VOLTAGE_GAP,
    LOWEST_VOLTAGE,
    SHORTEST_DISTANCE,
    ArcSetting,
    enclosure_factor,
    equivalent_size,
    factor_of_enclosure,
    high_voltage_model,
    horner,
    is_shallow,
    kilovolts,
    low_voltage_model,
    within_distance,
    within_model,
)
from deadfront.physics.types import Array

__all__ = [
    "BURN_ENERGY",
    "ELECTRODES",
    "HIGHEST_VOLTAGE",
    "LOWEST_VOLTAGE",
    "LOW_VOLTAGE",
    "SHORTEST_DISTANCE",
    "ArcSetting",
    "ArcingCurrents",
    "Hazard",
    "arc_flash_boundary",
    "arc_hazard",
    "arcing_currents",
    "enclosure_factor",
    "equivalent_size",
    "incident_energy",
    "is_shallow",
    "low_voltage_arc_flash_boundary",
    "low_voltage_arcing_currents",
    "low_voltage_incident_energy",
    "low_voltage_segment_hazard",
    "segment_hazard",
    "variation_factor",
    "within_model",
]

BURN_ENERGY = 5.0208e4
"""J/m2, onset of a second-degree burn, 1.2 cal/cm2, energy at the arc-flash boundary; IEEE 1584-2018 [V2]."""

LONGEST = 1e6
"""s, a longer arc counts as endless: its boundary is infinite. Keeps infinity less infinity away."""

_ENERGY = 12.552 / 50.0
"""J/cm2 per ms, factor of Eqs. (3) to (6) [M]."""

_BASE_ENERGY = 20.0 / BURN_ENERGY
"""ms per J/m2: the 20 of Eqs. (7) to (10) belongs to 5.0208 J/cm2 (5.0208 * 50 / 12.552 = 20) [D]."""

_JOULE_PER_SQUARE_METRE = 1e4
_LN10 = log(10.0)
_NODES = (0.6, 2.7, 14.3)


class ArcingCurrents(NamedTuple):
    """Arcing currents of one setting, A rms; at 600 V and below the two upper nodes do not exist and are NaN."""

    final: Array
    reduced: Array
    at_600: Array
    at_2700: Array
    at_14300: Array


class Hazard(NamedTuple):
    """What an arc does to a person: incident energy at the working distance, J/m2, and arc-flash boundary, m."""

    energy: Array
    boundary: Array


class _Logarithms(NamedTuple):
    """Decimal logarithms of bolted current in kA and gap in mm, and the bolted current, inside the model's range."""

    current: Array
    gap: Array
    bolted: Array


class _Arc(NamedTuple):
    """The arc at one node: Iarc/(Ibf polynomial), Iarc/Ibf, and the logarithm of Iarc in kA."""

    ratio: Array
    share: Array
    logarithm: Array


def arcing_currents(setting: ArcSetting, bolted_current: Array) -> ArcingCurrents:
    """Final, reduced and intermediate arcing currents, 208 V to 15 kV.

    bolted_current  Ibf   A rms symmetrical, three phase          (cases,)
    returns         Iarc, Iarc_min, Iarc_600, Iarc_2700, Iarc_14300, A   (cases,)
    holds           `within_model`; NaN outside
    raises          ValueError for an unknown electrode configuration
    source          IEEE Std 1584-2018 Eqs. (1), (2), (16) to (18), (25) [M; Table 1 V except HOA, Table 2 V]
    """
    low, high = low_voltage_arcing_currents(setting, bolted_current), _high_voltage_currents(setting, bolted_current)
    is_low = np.less_equal(setting.voltage, LOW_VOLTAGE)
    return ArcingCurrents(*(np.where(is_low, one, other) for one, other in zip(low, high, strict=True)))


def incident_energy(
    setting: ArcSetting, bolted_current: Array, duration: Array, reduced: bool | Array = False
) -> Array:
    """Incident energy at the working distance, 208 V to 15 kV; see `arc_hazard`, of which it is the first part."""
    return arc_hazard(setting, bolted_current, duration, reduced).energy


def arc_flash_boundary(
    setting: ArcSetting,
    bolted_current: Array,
    duration: Array,
    reduced: bool | Array = False,
    energy: Array = BURN_ENERGY,
) -> Array:
    """Distance at which the incident energy is `energy`, 208 V to 15 kV; see `arc_hazard`, its second part."""
    return arc_hazard(setting, bolted_current, duration, reduced, energy).boundary


def arc_hazard(
    setting: ArcSetting,
    bolted_current: Array,
    duration: Array,
    reduced: bool | Array = False,
    energy: Array = BURN_ENERGY,
) -> Hazard:
    """Incident energy and arc-flash boundary of an arc of constant current, 208 V to 15 kV.

    bolted_current  Ibf  A rms symmetrical, three phase                  (cases,)
    duration        T    s, infinite if nothing clears                   (cases,)
    reduced              whether the reduced arcing current burns; structural   () or (cases,)
    energy          Eb   J/m2 at the boundary                            (cases,)
    returns         E    J/m2, AFB m                                     (cases,)
    holds           `within_model`; NaN outside, the energy also where the working distance is below 305 mm;
                    a boundary below 305 mm is returned as the equations give it
    raises          ValueError for an unknown electrode configuration
    source          IEEE Std 1584-2018 Eqs. (3) to (10), (19) to (24) [M; form confirmed by Annex D; Table 3 V]
    """
    return segment_hazard(setting, (bolted_current,), (duration,), reduced, energy)


def segment_hazard(
    setting: ArcSetting,
    bolted_currents: Sequence[Array],
    durations: Sequence[Array],
    reduced: bool | Array = False,
    energy: Array = BURN_ENERGY,
) -> Hazard:
    """Incident energy and boundary of an arc whose bolted current changes from one span of time to the next.

    bolted_currents  Ibf_i  A rms symmetrical, one per span; zero with duration zero is outside the model   (cases,)
    durations        T_i    s, how long each span lasts                  (cases,)
    reduced, energy, returns, holds, raises: as `arc_hazard`
    source           sum of E_i, and of T_i 10^X_i before the root: never a sum of boundaries [C; D for the algebra]
    """
    low = low_voltage_segment_hazard(setting, bolted_currents, durations, reduced, energy)
    high = _high_voltage_hazard(setting, bolted_currents, durations, reduced, energy)
    is_low = np.less_equal(setting.voltage, LOW_VOLTAGE)
    return Hazard(np.where(is_low, low.energy, high.energy), np.where(is_low, low.boundary, high.boundary))


def low_voltage_arcing_currents(setting: ArcSetting, bolted_current: Array) -> ArcingCurrents:
    """Arcing currents up to 600 V, as `arcing_currents` but without the nodes above; NaN above 600 V.

    source  IEEE Std 1584-2018 Eqs. (1), (2), (25) [M; Tables 1, 2 V]; the reduction applies to the final current
    """
    data = coefficients(setting.electrodes)
    logs = _low_voltage_logarithms(setting, bolted_current)
    arc = _arc(data.nodes[0], logs)
    final = 1e3 * _power_of_ten(_low_voltage_current(setting, arc, logs))
    within = low_voltage_model(setting, bolted_current, data)
    final = np.where(within, final, np.nan)
    node = np.where(within, 1e3 * _power_of_ten(arc.logarithm), np.nan)
    missing = np.nan * final
    return ArcingCurrents(final, final * _reduction(setting, data), node, missing, missing)


def low_voltage_incident_energy(
    setting: ArcSetting, bolted_current: Array, duration: Array, reduced: bool | Array = False
) -> Array:
    """Incident energy up to 600 V, as `incident_energy`; NaN above 600 V."""
    return low_voltage_segment_hazard(setting, (bolted_current,), (duration,), reduced).energy


def low_voltage_arc_flash_boundary(
    setting: ArcSetting,
    bolted_current: Array,
    duration: Array,
    reduced: bool | Array = False,
    energy: Array = BURN_ENERGY,
) -> Array:
    """Arc-flash boundary up to 600 V, as `arc_flash_boundary`; NaN above 600 V."""
    return low_voltage_segment_hazard(setting, (bolted_current,), (duration,), reduced, energy).boundary


def low_voltage_segment_hazard(
    setting: ArcSetting,
    bolted_currents: Sequence[Array],
    durations: Sequence[Array],
    reduced: bool | Array = False,
    energy: Array = BURN_ENERGY,
) -> Hazard:
    """Incident energy and boundary up to 600 V, as `segment_hazard`; NaN above 600 V.

    source  IEEE Std 1584-2018 Eqs. (6), (10) [M; Table 3 V]. Beware: the reduced current enters by lg Iarc only, the
            600 V current in the k3 term stays as it is (Annex D.2 tells the two apart by 32 %).
    """
    data = coefficients(setting.electrodes)
    node = data.nodes[0]
    lowered = np.where(reduced, np.log10(_reduction(setting, data)), 0.0)
    enclosure = np.log10(factor_of_enclosure(setting, data))
    heat: Array = 0.0
    within: Array = True
    for bolted, duration in zip(bolted_currents, durations, strict=True):
        logs = _low_voltage_logarithms(setting, bolted)
        arc = _arc(node, logs)
        current = _low_voltage_current(setting, arc, logs) + lowered
        heat = heat + 1e3 * duration * _power_of_ten(_exponent(node, logs, arc.ratio, current) - enclosure)
        within = np.logical_and(within, low_voltage_model(setting, bolted, data))
    return Hazard(
        np.where(np.logical_and(within, within_distance(setting)), _energy(node, setting, heat), np.nan),
        np.where(within, _boundary(node, heat, energy), np.nan),
    )


def variation_factor(voltage: Array, electrodes: str | Sequence[str]) -> Array:
    """Variation of the arcing current, VarCf; the reduced current is (1 - 0.5 VarCf) times the current.

    voltage    Voc  V                              (cases,)
    returns    1                                   (cases,)
    holds      208 V to 15 kV; NaN outside
    raises     ValueError for an unknown electrode configuration
    source     IEEE Std 1584-2018 Eq. (2), Table 2 [V, restated]
    """
    within = np.logical_and(np.greater_equal(voltage, LOWEST_VOLTAGE), np.less_equal(voltage, HIGHEST_VOLTAGE))
    return np.where(within, horner(coefficients(electrodes).variation, kilovolts(voltage)), np.nan)


def _high_voltage_currents(setting: ArcSetting, bolted_current: Array) -> ArcingCurrents:
    """Arcing currents above 600 V: the reduction applies to the three nodes, the final value inherits it."""
    data = coefficients(setting.electrodes)
    logs = _high_voltage_logarithms(setting, bolted_current)
    within = high_voltage_model(setting, bolted_current, data)
    nodes = [1e3 * _power_of_ten(_arc(node, logs).logarithm) for node in data.nodes]
    factor = _reduction(setting, data)
    final = np.where(within, _interpolated(setting.voltage, nodes), np.nan)
    reduced = np.where(within, _interpolated(setting.voltage, [factor * node for node in nodes]), np.nan)
    return ArcingCurrents(final, reduced, *(np.where(within, node, np.nan) for node in nodes))


def _high_voltage_hazard(
    setting: ArcSetting,
    bolted_currents: Sequence[Array],
    durations: Sequence[Array],
    reduced: bool | Array,
    energy: Array,
) -> Hazard:
    """Energy and boundary above 600 V: summed over the spans at each node, then interpolated over the voltage."""
    data = coefficients(setting.electrodes)
    factor = np.where(reduced, _reduction(setting, data), 1.0)
    within: Array = True
    endless: Array = False
    heats: list[Array] = [0.0, 0.0, 0.0]
    for bolted, duration in zip(bolted_currents, durations, strict=True):
        finite = np.minimum(duration, LONGEST)
        powers = _high_voltage_powers(setting, data, bolted, factor)
        heats = [heat + 1e3 * finite * power for heat, power in zip(heats, powers, strict=True)]
        within = np.logical_and(within, high_voltage_model(setting, bolted, data))
        endless = np.logical_or(endless, np.greater(duration, LONGEST))
    total = [_energy(node, setting, heat) for node, heat in zip(data.nodes, heats, strict=True)]
    reach = [_boundary(node, heat, energy) for node, heat in zip(data.nodes, heats, strict=True)]
    incident = np.where(endless, np.inf, _interpolated(setting.voltage, total))
    boundary = np.where(endless, np.inf, _interpolated(setting.voltage, reach))
    near = np.logical_and(within, within_distance(setting))
    return Hazard(np.where(near, incident, np.nan), np.where(within, boundary, np.nan))


def _high_voltage_powers(setting: ArcSetting, data: Coefficients, bolted: Array, factor: Array) -> list[Array]:
    """10^X of Eqs. (7) to (9) at the three nodes; `factor` lowers the current in both of its places."""
    logs = _high_voltage_logarithms(setting, bolted)
    enclosure, lowered = np.log10(factor_of_enclosure(setting, data)), np.log10(factor)
    powers = []
    for node in data.nodes:
        arc = _arc(node, logs)
        exponent = _exponent(node, logs, factor * arc.ratio, arc.logarithm + lowered)
        powers.append(_power_of_ten(exponent - enclosure))
    return powers


def _arc(node: Node, logs: _Logarithms) -> _Arc:
    """Eq. (1): Iarc = 10^(k1 + k2 lg Ibf + k3 lg G) (k4 Ibf^6 + ... + k10)."""
    k1, k2, k3 = node.law
    ratio = _power_of_ten(k1 + (k2 - 1.0) * logs.current + k3 * logs.gap)
    polynomial = horner(node.polynomial, logs.bolted)
    return _Arc(ratio, ratio * polynomial, k1 + k2 * logs.current + k3 * logs.gap + np.log10(polynomial))


def _low_voltage_current(setting: ArcSetting, arc: _Arc, logs: _Logarithms) -> Array:
    """Eq. (25): logarithm of the final arcing current up to 600 V, kA.

    I = v Ibf / sqrt(1/s² - (1 - v²)), s = Iarc/Ibf at 600 V, v = V/600 V: the printed form, in which a range of the
    bolted current counts once instead of three times.
    """
    voltage = np.minimum(kilovolts(setting.voltage), _NODES[0]) / _NODES[0]
    radicand = np.square(1.0 / arc.share) - (1.0 - np.square(voltage))
    return logs.current + np.log10(voltage) - 0.5 * np.log10(radicand)


def _exponent(node: Node, logs: _Logarithms, ratio: Array, current: Array) -> Array:
    """Bracket of Eqs. (3) to (10) without distance and enclosure."""
    k1, k2, k3, k11, _, k13 = node.energy
    return k1 + k2 * logs.gap + k3 * ratio + k11 * logs.current + k13 * current


def _energy(node: Node, setting: ArcSetting, heat: Array) -> Array:
    """Eqs. (3) to (6): J/m2, from the sum of T 10^X in ms."""
    distance = np.log10(1e3 * np.maximum(setting.working_distance, SHORTEST_DISTANCE))
    return _JOULE_PER_SQUARE_METRE * _ENERGY * heat * _power_of_ten(node.energy[4] * distance)


def _boundary(node: Node, heat: Array, energy: Array) -> Array:
    """Eqs. (7) to (10): m, from the sum of T 10^X in ms."""
    return 1e-3 * np.power(heat / (_BASE_ENERGY * energy), -1.0 / node.energy[4])


def _interpolated(voltage: Array, nodes: Sequence[Array]) -> Array:
    """Eqs. (16) to (24) as weighted means. Beware: X3 above 2.7 kV gives nonsense, down to negative boundaries."""
    low, middle, high = nodes
    below = (_NODES[1] - kilovolts(voltage)) / (_NODES[1] - _NODES[0])
    above = (kilovolts(voltage) - _NODES[1]) / (_NODES[2] - _NODES[1])
    first = low * below + middle * (1.0 - below)
    second = middle * (1.0 - above) + high * above
    mixed = first * below + second * (1.0 - below)
    return np.where(np.less_equal(voltage, 1e3 * _NODES[1]), mixed, second)


def _reduction(setting: ArcSetting, data: Coefficients) -> Array:
    """1 - 0.5 VarCf; outside the range of voltage at its end, where the result is NaN anyway."""
    return 1.0 - 0.5 * horner(data.variation, kilovolts(setting.voltage))


def _low_voltage_logarithms(setting: ArcSetting, bolted: Array) -> _Logarithms:
    return _logarithms(setting.gap, bolted, LOW_VOLTAGE_GAP, LOW_VOLTAGE_CURRENT)


def _high_voltage_logarithms(setting: ArcSetting, bolted: Array) -> _Logarithms:
    return _logarithms(setting.gap, bolted, HIGH_VOLTAGE_GAP, HIGH_VOLTAGE_CURRENT)


def _logarithms(gap: Array, bolted: Array, gaps: tuple[float, float], currents: tuple[float, float]) -> _Logarithms:
    kiloamperes = 1e-3 * np.minimum(np.maximum(bolted, currents[0]), currents[1])
    millimetres = 1e3 * np.minimum(np.maximum(gap, gaps[0]), gaps[1])
    return _Logarithms(np.log10(kiloamperes), np.log10(millimetres), kiloamperes)


def _power_of_ten(exponent: Array) -> Array:
    return np.exp(_LN10 * exponent)
