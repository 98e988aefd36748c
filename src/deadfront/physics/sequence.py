"""Physics: fault currents from a driving voltage and the sequence impedances. Arrays in, arrays out.

Shared by both methods of calculation: they differ in the voltage and the impedances they put in, not in this.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from deadfront.physics.impedance import Admittance, Impedance, admittance, magnitude, series
from deadfront.physics.types import Array

ROOT3 = np.sqrt(3.0)


class LineLineEarthCurrents(NamedTuple):
    """Currents of a fault between lines L2, L3 and earth."""

    line_2: Array
    """A rms."""
    line_3: Array
    """A rms."""
    earth: Array
    """A rms, from the fault point into earth."""


def three_phase(driving_voltage: Array, z1: Impedance) -> Array:
    """Current of a fault between all three lines.

    I = U / (√3 |Z1|)

    driving_voltage  U    V between lines          (cases,)
    z1               Z1   ohm, positive sequence   (cases,)
    returns          I    A rms; zero where Z1 is open     (cases,)
    holds            bolted fault
    raises           nothing
    source           IEC 60909-0:2016, initial currents [V]
    """
    return driving_voltage / (ROOT3 * magnitude(z1))


def line_line(driving_voltage: Array, z1: Impedance, z2: Impedance) -> Array:
    """Current of a fault between two lines, clear of earth.

    I = U / |Z1 + Z2|

    driving_voltage  U    V between lines          (cases,)
    z1, z2           Z1, Z2    ohm, positive and negative sequence     (cases,)
    returns          I    A rms                    (cases,)
    holds            bolted fault
    raises           nothing
    source           IEC 60909-0:2016, initial currents [V]
    """
    return driving_voltage / magnitude(series(z1, z2))


def line_earth(driving_voltage: Array, z1: Impedance, z2: Impedance, z0: Impedance) -> Array:
    """Current of a fault between one line and earth.

    I = √3 U / |Z1 + Z2 + Z0|

    driving_voltage  U    V between lines          (cases,)
    z1, z2, z0       Z1, Z2, Z0    ohm, positive, negative and zero sequence     (cases,)
    returns          I    A rms; zero where Z0 is open     (cases,)
    holds            bolted fault; neutral impedance counted threefold in Z0
    raises           nothing
    source           IEC 60909-0:2016, initial currents [V]
    """
    return ROOT3 * driving_voltage / magnitude(series(z1, z2, z0))


def line_line_earth(driving_voltage: Array, z1: Impedance, z2: Impedance, z0: Impedance) -> LineLineEarthCurrents:
    """Currents of a fault between two lines and earth.

    I_L2 = U |Z0 - a Z2| / D       I_L3 = U |Z0 - a² Z2| / D       I_E = √3 U |Z2| / D
    D = |Z1 Z2 + Z1 Z0 + Z2 Z0|    a = exp(j 120°)

    Written in admittances (each fraction times Y1 Y2 Y0), so that an open zero sequence gives the fault between
    two lines, and an open positive sequence gives no current.

    driving_voltage  U    V between lines          (cases,)
    z1, z2, z0       Z1, Z2, Z0    ohm, positive, negative and zero sequence, none zero     (cases,)
    returns          I_L2, I_L3, I_E    A rms      (cases,)
    holds            bolted fault; neutral impedance counted threefold in Z0
    raises           nothing
    source           IEC 60909-0:2016, initial currents [M; agrees with a phase-domain solution]
    """
    y1, y2, y0 = admittance(z1), admittance(z2), admittance(z0)
    total = np.square(y1.conductance + y2.conductance + y0.conductance) + np.square(
        y1.susceptance + y2.susceptance + y0.susceptance
    )
    connected = np.greater(total, 0.0)
    # Without any admittance the numerators are zero too; dividing by one leaves the true answer, no current.
    common = driving_voltage * _size(y1) / np.sqrt(np.where(connected, total, 1.0))
    half_root = ROOT3 / 2.0
    g, b = y0.conductance, y0.susceptance
    line_2 = Admittance(y2.conductance + g / 2.0 - half_root * b, y2.susceptance + half_root * g + b / 2.0)
    line_3 = Admittance(y2.conductance + g / 2.0 + half_root * b, y2.susceptance - half_root * g + b / 2.0)
    return LineLineEarthCurrents(common * _size(line_2), common * _size(line_3), ROOT3 * common * _size(y0))


def _size(y: Admittance) -> Array:
    return np.sqrt(np.square(y.conductance) + np.square(y.susceptance))
