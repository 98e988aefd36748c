"""Physics: resistance and reactance of one sequence, apart and in real arithmetic. Arrays in, arrays out.

No complex numbers, so that the same functions take ranges. An open circuit is an endless reactance without
resistance: currents through it come out as zero, and its R/X as zero, never as an undefined number.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from deadfront.physics.types import Array


class Impedance(NamedTuple):
    """Z = R + jX of one sequence."""

    resistance: Array
    """R, ohm."""
    reactance: Array
    """X, ohm; positive for an inductance."""


class Admittance(NamedTuple):
    """Y = G - jB of one sequence; B is positive for an inductance."""

    conductance: Array
    """G, siemens."""
    susceptance: Array
    """B, siemens."""


NONE = Impedance(0.0, 0.0)
"""No impedance: a bolted connection, a solidly earthed neutral."""

OPEN = Impedance(0.0, np.inf)
"""No connection: the zero sequence of a delta, an unearthed neutral, a bus without a source."""


def series(*parts: Impedance) -> Impedance:
    """Sum of impedances that one current runs through.

    parts      Z1, Z2 ...  ohm                     (cases,) each
    returns    Z           ohm                     (cases,)
    holds      always; an open part makes the sum open
    raises     nothing
    source     Kirchhoff
    """
    resistance: Array = 0.0
    reactance: Array = 0.0
    for part in parts:
        resistance = resistance + part.resistance
        reactance = reactance + part.reactance
    return Impedance(resistance, reactance)


def scaled(z: Impedance, factor: Array) -> Impedance:
    """Both parts times one factor.

    z          Z    ohm                            (cases,)
    factor     k    1, above zero                  (cases,)
    returns    kZ   ohm                            (cases,)
    holds      always
    raises     nothing
    source     arithmetic
    """
    return Impedance(factor * z.resistance, factor * z.reactance)


def referred(z: Impedance, ratio: Array) -> Impedance:
    """Impedance as seen from the other side of a transformer.

    Z' = Z / n²

    z          Z    ohm, on the side it stands     (cases,)
    ratio      n    voltage of that side over voltage of the wanted side, rated, main tap     (cases,)
    returns    Z'   ohm, on the wanted side        (cases,)
    holds      ideal ratio
    raises     nothing
    source     IEC 60909-0:2016, equivalent impedance referred by the rated transformation ratio [V]
    """
    square = np.square(ratio)
    return Impedance(z.resistance / square, z.reactance / square)


def magnitude(z: Impedance) -> Array:
    """Size of an impedance.

    |Z| = √(R² + X²)

    z          Z    ohm                            (cases,)
    returns    |Z|  ohm                            (cases,)
    holds      always
    raises     nothing
    source     Pythagoras
    """
    return np.sqrt(np.square(z.resistance) + np.square(z.reactance))


def x_over_r(z: Impedance) -> Array:
    """Reactance over resistance.

    z          Z    ohm, with a resistance         (cases,)
    returns    X/R  1                              (cases,)
    holds      R above zero; use `r_over_x` where a resistance may be neglected
    raises     nothing
    source     definition
    """
    return z.reactance / z.resistance


def r_over_x(z: Impedance) -> Array:
    """Resistance over reactance; zero for an open circuit.

    z          Z    ohm, with a reactance          (cases,)
    returns    R/X  1                              (cases,)
    holds      X above zero
    raises     nothing
    source     definition
    """
    return z.resistance / z.reactance


def mean_r_over_x(first: Array, second: Array, weight: Array) -> Array:
    """R/X of two impedances in series, from the R/X of each.

    ρ = (ρ1 + w ρ2) / (1 + w),  w = X2/X1

    first, second  ρ1, ρ2  1                       (cases,)
    weight         w       1, not below zero       (cases,)
    returns        ρ       1                       (cases,)
    holds          X1 and X2 above zero; on ranges tight where w is below one
    raises         nothing
    source         (R1 + R2)/(X1 + X2), divided by X1
    """
    return (first + weight * second) / (1.0 + weight)


def from_magnitude(size: Array, x_over_r: Array) -> Impedance:
    """Resistance and reactance of an impedance whose size and X/R are known.

    X = |Z| / √(1 + (R/X)²)        R = |Z| / √(1 + (X/R)²)

    size       |Z|  ohm                            (cases,)
    x_over_r   X/R  1, above zero; infinite where the resistance is neglected     (cases,)
    returns    Z    ohm                            (cases,)
    holds      always
    raises     nothing
    source     IEC 60909-0:2016, network feeder [V]; each ratio stands once, so a range of it stays narrow
    """
    square = np.square(x_over_r)
    return Impedance(size / np.sqrt(1.0 + square), size / np.sqrt(1.0 + 1.0 / square))


def reactive_share(power_factor: Array) -> Array:
    """Reactive share of an apparent power.

    sin φ = √(1 - cos² φ)

    power_factor  cos φ  1                         (cases,)
    returns       sin φ  1; NaN above a power factor of 1     (cases,)
    holds         power factor from 0 to 1
    raises        nothing
    source        Pythagoras
    """
    # A range that ends at 1 may reach a rounding error below zero under the root.
    share = np.sqrt(np.maximum(1.0 - np.square(power_factor), 0.0))
    return np.where(np.greater(power_factor, 1.0), np.nan, share)


def admittance(z: Impedance) -> Admittance:
    """Admittance of an impedance; zero for an open circuit.

    G = R / (R² + X²)              B = X / (R² + X²)

    z          Z    ohm, not zero                  (cases,)
    returns    Y    siemens                        (cases,)
    holds      |Z| above zero
    raises     nothing
    source     Y = 1/Z
    """
    return Admittance(_own_part(z.resistance, z.reactance), _own_part(z.reactance, z.resistance))


def _own_part(own: Array, other: Array) -> Array:
    """own / (own² + other²) as 1 / (own + other²/own), so that a range of the larger part counts once; 0 if endless."""
    absent = np.logical_or(np.less_equal(np.absolute(own), 0.0), np.greater_equal(np.absolute(own), np.inf))
    divisor = np.where(absent, 1.0, own)
    return np.where(absent, 0.0, 1.0 / (divisor + np.square(other) / divisor))


def inverse(y: Admittance) -> Impedance:
    """Impedance of an admittance; open where the admittance is zero.

    R = G / (G² + B²)              X = B / (G² + B²)

    y          Y    siemens                        (cases,)
    returns    Z    ohm                            (cases,)
    holds      always
    raises     nothing
    source     Z = 1/Y
    """
    nothing = np.logical_and(
        np.less_equal(np.absolute(y.conductance), 0.0), np.less_equal(np.absolute(y.susceptance), 0.0)
    )
    return Impedance(
        np.where(nothing, OPEN.resistance, _own_part(y.conductance, y.susceptance)),
        np.where(nothing, OPEN.reactance, _own_part(y.susceptance, y.conductance)),
    )


def admittances(branches: Sequence[Impedance], connected: Sequence[Array] | None = None) -> Admittance:
    """Sum of the admittances of branches that stand at one bus.

    branches   Z1, Z2 ...  ohm, none zero          (cases,) each
    connected  1 where the branch takes part in the case, 0 where not; None: all do     (cases,) each
    returns    Y           siemens                 (cases,)
    holds      always; zero where nothing is connected
    raises     ValueError: not one `connected` per branch
    source     Kirchhoff
    """
    shares: Sequence[Array] = [1.0] * len(branches) if connected is None else connected
    if len(shares) != len(branches):
        raise ValueError(f"connected: one array per branch, expected {len(branches)}, got {len(shares)}")
    conductance: Array = 0.0
    susceptance: Array = 0.0
    for branch, share in zip(branches, shares, strict=True):
        part = admittance(branch)
        conductance = conductance + share * part.conductance
        susceptance = susceptance + share * part.susceptance
    return Admittance(conductance, susceptance)


def parallel(branches: Sequence[Impedance], connected: Sequence[Array] | None = None) -> Impedance:
    """Impedance of branches side by side, each taking part only in some operating cases.

    branches   Z1, Z2 ...  ohm, none zero          (cases,) each
    connected  1 where the branch takes part in the case, 0 where not; None: all do     (cases,) each
    returns    Z           ohm; open where nothing is connected     (cases,)
    holds      always
    raises     ValueError: not one `connected` per branch
    source     Kirchhoff
    """
    return inverse(admittances(branches, connected))
