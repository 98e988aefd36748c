"""Tests: faults solved line by line in complex numbers, to hold symmetrical components against."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from deadfront.physics.impedance import Impedance

A = np.exp(2j * np.pi / 3)


def phase_currents(kind: str, voltage: float, z1: Impedance, z0: Impedance) -> NDArray[np.complex128]:
    """Currents out of the three lines, from a three-phase source behind self and mutual impedances (Z1 = Z2).

    Rows of the equations: voltage law of each line to the fault, then the conditions of the fault.
    """
    positive, zero = complex(*z1), complex(*z0)
    own, mutual = (zero + 2 * positive) / 3, (zero - positive) / 3
    impedance = np.full((3, 3), mutual) + np.eye(3) * (own - mutual)
    source = voltage / np.sqrt(3) * np.array([1, A**2, A])
    # Unknowns: three line currents, three voltages of the fault place to earth.
    laws = np.hstack([impedance, np.eye(3)])
    current, volts = np.eye(6)[:3], np.eye(6)[3:]
    conditions = {
        "three-phase": [current.sum(axis=0), volts[0] - volts[1], volts[1] - volts[2]],
        "line-line": [current[0], current[1] + current[2], volts[1] - volts[2]],
        "line-earth": [current[1], current[2], volts[0]],
        "line-line-earth": [current[0], volts[1], volts[2]],
    }[kind]
    solution = np.linalg.solve(np.vstack([laws, *conditions]), np.concatenate([source, np.zeros(3)]))
    return np.asarray(solution[:3])
