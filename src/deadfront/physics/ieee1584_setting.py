"""Physics: where an arc of IEEE Std 1584-2018 burns, its enclosure, the range of the model. Arrays in, arrays out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from deadfront.physics.ieee1584_coefficients import Coefficients, coefficients
from deadfront.physics.types import Array

LOW_VOLTAGE = 600.0
"""V, highest voltage of Eqs. (6), (10), (25); above it three voltages are interpolated; 2018 [V, restated]."""

LOWEST_VOLTAGE, HIGHEST_VOLTAGE = 208.0, 15000.0
"""V, range of the model; IEEE 1584-2018 clause 4.2 [M]."""

LOW_VOLTAGE_CURRENT, HIGH_VOLTAGE_CURRENT = (500.0, 106e3), (200.0, 65e3)
"""A, range of the bolted current up to and above 600 V; IEEE 1584-2018 clause 4.2 [M]."""

LOW_VOLTAGE_GAP, HIGH_VOLTAGE_GAP = (6.35e-3, 76.2e-3), (19.05e-3, 254e-3)
"""m, range of the gap up to and above 600 V; IEEE 1584-2018 clause 4.2 [M]."""

SHORTEST_DISTANCE = 0.305
"""m, shortest working distance; IEEE 1584-2018 clause 4.2 [M]."""

GAPS_IN_WIDTH = 4.0
"""1, the enclosure is wider than this many gaps; IEEE 1584-2018 clause 4.2 [M]."""

SMALL, STRAIGHT, LARGE, SHALLOW = 0.508, 0.6604, 1.2446, 0.2032
"""m, limits of the enclosure sizes of Table 6 and of a shallow enclosure; IEEE 1584-2018 [V, restated]."""

INCHES_PER_MILLIMETRE = 0.03937
"""in/mm as Table 6 prints it; Eqs. (11), (12) divide by 25.4 instead."""

TYPICAL_SIZE = 20.0
"""in, equivalent size at which the enclosure factor is one, and the least of a typical one; Table 6 [V, restated]."""


@dataclass(frozen=True, slots=True)
class ArcSetting:
    """Where the arc burns.

    voltage           V, open circuit, line to line          (cases,)
    gap               m, between the conductors              (cases,)
    working_distance  m, arc to the person                   (cases,)
    height, width     m, of the opening of the enclosure     (cases,)
    depth             m, of the enclosure                    (cases,)
    electrodes        VCB, VCBB, HCB, VOA or HOA, or one per case; structural, never a range

    Three phases, 50 or 60 Hz. The sizes of the enclosure are not used with VOA and HOA.
    """

    voltage: Array
    gap: Array
    working_distance: Array
    height: Array
    width: Array
    depth: Array
    electrodes: str | Sequence[str]


def within_model(setting: ArcSetting, bolted_current: Array) -> Array:
    """Whether voltage, bolted current, gap and enclosure lie inside the model; outside results are NaN.

    bolted_current  A rms                          (cases,)
    returns         truth                          (cases,)
    holds           always. 208 to 600 V: 500 A to 106 kA, 6.35 to 76.2 mm; above 600 V to 15 kV: 200 A to 65 kA, 19.05
                    to 254 mm; an enclosure wider than four gaps. The limit of 1244.6 mm (and so of the opening area)
                    is kept by using no larger size than that, which gives the higher energy.
    raises          ValueError for an unknown electrode configuration
    source          IEEE Std 1584-2018 clause 4.2 [M]; the model must not be carried above 15 kV
    """
    data = coefficients(setting.electrodes)
    low, high = low_voltage_model(setting, bolted_current, data), high_voltage_model(setting, bolted_current, data)
    return np.logical_or(low, high)


def equivalent_size(setting: ArcSetting) -> Array:
    """Equivalent enclosure size EES, in inches as the standard states it; 20 in the open.

    returns    in                                  (cases,)
    holds      208 V to 15 kV
    raises     ValueError for an unknown electrode configuration
    source     IEEE Std 1584-2018 Eqs. (11) to (13), Table 6 [V, restated: width of VCB, A, B; rest M]
    """
    data = coefficients(setting.electrodes)
    return np.where(data.enclosed, _equivalent_size(setting, data), TYPICAL_SIZE)


def enclosure_factor(setting: ArcSetting) -> Array:
    """Enclosure factor CF by which the energy is divided; one in the open.

    returns    1                                   (cases,)
    holds      208 V to 15 kV; NaN for a shallow enclosure so small that Eq. (15) has no positive value
    raises     ValueError for an unknown electrode configuration
    source     IEEE Std 1584-2018 Eqs. (11) to (15), Tables 6 [V, restated] and 7 [M]
    """
    return factor_of_enclosure(setting, coefficients(setting.electrodes))


def is_shallow(setting: ArcSetting) -> Array:
    """Whether the enclosure counts as shallow: below 600 V, height and width below 508 mm, depth up to 203.2 mm.

    source     IEEE Std 1584-2018, rule of clause 4.8 [V, restated]; 600 V and 508 mm themselves are typical
    """
    small = np.logical_and(np.less(setting.height, SMALL), np.less(setting.width, SMALL))
    flat = np.logical_and(np.less(setting.voltage, LOW_VOLTAGE), np.less_equal(setting.depth, SHALLOW))
    return np.logical_and(small, flat)


def _equivalent_size(setting: ArcSetting, data: Coefficients) -> Array:
    """Eq. (13): mean of the equivalent height and width, in; a typical enclosure counts as 20 in at least."""
    shallow, voltage = is_shallow(setting), kilovolts(setting.voltage)
    height = _equivalent_length(setting.height, voltage, shallow, data.height)
    width = _equivalent_length(setting.width, voltage, shallow, data.width)
    mean = (height + width) / 2.0
    return np.where(shallow, mean, np.maximum(mean, TYPICAL_SIZE))


def _equivalent_length(length: Array, voltage: Array, shallow: Array, growth: tuple[Array, ...]) -> Array:
    """Table 6 with Eqs. (11), (12): equivalent height or width, in."""
    a, b, straight = growth
    used = np.minimum(length, LARGE)
    plain = 1e3 * INCHES_PER_MILLIMETRE * used
    # 25.4 mm to the inch here, 0.03937 in to the millimetre there: the standard's own two roundings.
    grown = 1e3 * (STRAIGHT + (used - STRAIGHT) * (voltage + a) / b) / 25.4
    middle = np.where(np.logical_or(straight, np.less_equal(used, STRAIGHT)), plain, grown)
    return np.where(np.logical_or(shallow, np.greater_equal(length, SMALL)), middle, TYPICAL_SIZE)


def factor_of_enclosure(setting: ArcSetting, data: Coefficients) -> Array:
    """Correction factor of the enclosure, typical or shallow; source: IEEE Std 1584-2018 eqs. (14), (15) [M]."""
    size = _equivalent_size(setting, data)
    typical, shallow = horner(data.typical, size), horner(data.shallow, np.minimum(size, TYPICAL_SIZE))
    positive = np.greater(shallow, 0.0)
    boxed = np.where(is_shallow(setting), np.where(positive, 1.0 / np.where(positive, shallow, 1.0), np.nan), typical)
    return np.where(data.enclosed, boxed, 1.0)


def low_voltage_model(setting: ArcSetting, bolted: Array, data: Coefficients) -> Array:
    """Whether the model up to 600 V holds: voltage, bolted current, gap and width; otherwise as `within_model`.

    bolted     Ibf  A rms symmetrical, three phase          (cases,)
    """
    voltage = _between(setting.voltage, LOWEST_VOLTAGE, LOW_VOLTAGE)
    inside = np.logical_and(_between(bolted, *LOW_VOLTAGE_CURRENT), _between(setting.gap, *LOW_VOLTAGE_GAP))
    return np.logical_and(np.logical_and(voltage, inside), _wide_enough(setting, data))


def high_voltage_model(setting: ArcSetting, bolted: Array, data: Coefficients) -> Array:
    """Whether the model above 600 V holds: voltage, bolted current, gap and width; parameters as `within_model`."""
    voltage = np.logical_and(np.greater(setting.voltage, LOW_VOLTAGE), np.less_equal(setting.voltage, HIGHEST_VOLTAGE))
    inside = np.logical_and(_between(bolted, *HIGH_VOLTAGE_CURRENT), _between(setting.gap, *HIGH_VOLTAGE_GAP))
    return np.logical_and(np.logical_and(voltage, inside), _wide_enough(setting, data))


def _wide_enough(setting: ArcSetting, data: Coefficients) -> Array:
    return np.logical_or(np.logical_not(data.enclosed), np.greater(setting.width, GAPS_IN_WIDTH * setting.gap))


def within_distance(setting: ArcSetting) -> Array:
    """Whether the working distance is long enough for the energy, 305 mm; source: IEEE Std 1584-2018 clause 4.2 [M]."""
    return np.greater_equal(setting.working_distance, SHORTEST_DISTANCE)


def _between(value: Array, lowest: float, highest: float) -> Array:
    return np.logical_and(np.greater_equal(value, lowest), np.less_equal(value, highest))


def kilovolts(voltage: Array) -> Array:
    """Voltage in kV, held inside the range of the model so that no logarithm or root leaves its domain.

    source     range of IEEE Std 1584-2018 clause 4.2 [M]
    """
    return 1e-3 * np.minimum(np.maximum(voltage, LOWEST_VOLTAGE), HIGHEST_VOLTAGE)


def horner(coefficients: Sequence[Array], x: Array) -> Array:
    """Polynomial with the highest power first.

    coefficients  falling powers                            (cases,) each
    x             1                                         (cases,)
    source        Horner's scheme, of numpy; on ranges it does not widen by terms that cancel
    """
    found: Array = np.polyval(coefficients, x)
    return found
