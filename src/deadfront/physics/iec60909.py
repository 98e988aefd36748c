"""Physics: short-circuit currents by IEC 60909-0:2016. Arrays in, arrays out.

The standard's text itself was not seen; equations are known from texts that restate them (tags stand beside each).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from deadfront.physics import sequence
from deadfront.physics.iec60909_breaking import generator_breaking_current as generator_breaking_current
from deadfront.physics.iec60909_breaking import motor_breaking_current as motor_breaking_current
from deadfront.physics.iec60909_breaking import mu as mu
from deadfront.physics.iec60909_breaking import q as q
from deadfront.physics.impedance import Impedance, magnitude, r_over_x
from deadfront.physics.sequence import LineLineEarthCurrents
from deadfront.physics.types import Array
from deadfront.tables import read

ROOT2 = np.sqrt(2.0)

EQUIVALENT_FREQUENCY_SHARE = 0.4
"""Equivalent frequency of method (c) over system frequency: 20 Hz at 50 Hz, 24 Hz at 60 Hz [V]."""


class VoltageFactors(NamedTuple):
    """Voltage factors of Table 1."""

    maximum: Array
    """c_max, 1."""
    minimum: Array
    """c_min, 1."""


def voltage_factor(nominal_voltage: Array, tolerance: float) -> VoltageFactors:
    """Voltage factors for the largest and the smallest current.

    nominal_voltage  U_n  V between lines, 100 V to 550 kV  (cases,)
    tolerance        0.06 or 0.10: how far above nominal the low voltage may stand; of no effect above 1 kV
    returns          c_max, c_min    1; NaN outside the table     (cases,)
    holds            AC systems; c_max U_n not above the highest voltage U_m, see `limited_voltage_factor`
    raises           ValueError: another tolerance
    source           IEC 60909-0:2016, Table 1 [V2]; c_min 0.90 at +10 % [V], it was 0.95 in 2001
    """
    table = read("iec60909-voltage-factors")
    offered = sorted({row["tolerance"] for row in table.rows})
    if tolerance not in [float(text) for text in offered]:
        raise ValueError(f"tolerance: expected one of {', '.join(offered)}, got {tolerance}")
    maximum: Array = np.nan
    minimum: Array = np.nan
    for row in table.rows:
        if float(row["tolerance"]) == tolerance:
            above = np.greater_equal if row["from_included"] == "yes" else np.greater
            here = above(nominal_voltage, float(row["from_v"])) & np.less_equal(nominal_voltage, float(row["to_v"]))
            maximum = np.where(here, float(row["c_max"]), maximum)
            minimum = np.where(here, float(row["c_min"]), minimum)
    return VoltageFactors(maximum, minimum)


def limited_voltage_factor(maximum: Array, nominal_voltage: Array, highest_voltage: Array) -> Array:
    """Largest voltage factor that keeps within the highest voltage of the system.

    c = min(c_max, U_m / U_n)

    maximum          c_max  1                               (cases,)
    nominal_voltage  U_n    V between lines                 (cases,)
    highest_voltage  U_m    V between lines                 (cases,)
    returns          c      1                               (cases,)
    holds            always
    raises           nothing
    source           IEC 60909-0:2016, note to Table 1 [V]
    """
    return np.minimum(maximum, highest_voltage / nominal_voltage)


def three_phase_current(voltage_factor: Array, voltage: Array, z1: Impedance) -> Array:
    """Initial symmetrical current of a three-phase fault.

    I"k3 = c U_n / (√3 |Z1|)

    voltage_factor  c     1                                 (cases,)
    voltage         U_n   V between lines, nominal, at the fault     (cases,)
    z1              Z(1)  ohm                               (cases,)
    returns         I"k3  A rms                             (cases,)
    holds           bolted fault
    raises          nothing
    source          IEC 60909-0:2016 [V]
    """
    return sequence.three_phase(voltage_factor * voltage, z1)


def line_line_current(voltage_factor: Array, voltage: Array, z1: Impedance, z2: Impedance) -> Array:
    """Initial current of a fault between two lines.

    I"k2 = c U_n / |Z1 + Z2|

    voltage_factor  c     1                                 (cases,)
    voltage         U_n   V between lines, nominal, at the fault     (cases,)
    z1, z2          Z(1), Z(2)    ohm                       (cases,)
    returns         I"k2  A rms                             (cases,)
    holds           bolted fault
    raises          nothing
    source          IEC 60909-0:2016 [V]
    """
    return sequence.line_line(voltage_factor * voltage, z1, z2)


def line_earth_current(voltage_factor: Array, voltage: Array, z1: Impedance, z2: Impedance, z0: Impedance) -> Array:
    """Initial current of a fault between one line and earth.

    I"k1 = √3 c U_n / |Z1 + Z2 + Z0|

    voltage_factor  c     1                                 (cases,)
    voltage         U_n   V between lines, nominal, at the fault     (cases,)
    z1, z2, z0      Z(1), Z(2), Z(0)    ohm                 (cases,)
    returns         I"k1  A rms                             (cases,)
    holds           bolted fault
    raises          nothing
    source          IEC 60909-0:2016 [V]
    """
    return sequence.line_earth(voltage_factor * voltage, z1, z2, z0)


def line_line_earth_currents(
    voltage_factor: Array, voltage: Array, z1: Impedance, z2: Impedance, z0: Impedance
) -> LineLineEarthCurrents:
    """Initial currents of a fault between two lines and earth; see `sequence.line_line_earth`.

    voltage_factor  c     1                                 (cases,)
    voltage         U_n   V between lines, nominal, at the fault     (cases,)
    z1, z2, z0      Z(1), Z(2), Z(0)    ohm, none zero      (cases,)
    returns         I"k2E in L2 and L3, I"kE2E into earth    A rms     (cases,)
    holds           bolted fault
    raises          nothing
    source          IEC 60909-0:2016 [M; agrees with a phase-domain solution]
    """
    return sequence.line_line_earth(voltage_factor * voltage, z1, z2, z0)


def peak_factor(r_over_x: Array) -> Array:
    """Factor of the peak current.

    κ = 1.02 + 0.98 exp(-3 R/X)

    r_over_x  R/X  1                                        (cases,)
    returns   κ    1, from 1.02 to 2.0                      (cases,)
    holds     one source, or each of several sources at one bus by itself
    raises    nothing
    source    IEC 60909-0:2016 [V2]
    """
    return 1.02 + 0.98 * np.exp(-3.0 * r_over_x)


def peak_factor_meshed(r_over_x: Array, nominal_voltage: Array) -> Array:
    """Factor of the peak current in a meshed network, method (b).

    κ_b = min(1.15 κ, 1.8 at low voltage, 2.0 above)

    r_over_x         R/X  1, at the fault; one branch at least with R/X of 0.3 or more     (cases,)
    nominal_voltage  U_n  V between lines, at the fault     (cases,)
    returns          κ_b  1                                 (cases,)
    holds            the 1.15 is not needed where every branch has R/X below 0.3: then `peak_factor`
    raises           nothing
    source           IEC 60909-0:2016, method (b) [V]
    """
    limit = np.where(np.less_equal(nominal_voltage, 1000.0), 1.8, 2.0)
    return np.minimum(1.15 * peak_factor(r_over_x), limit)


def peak_current(initial: Array, r_over_x: Array) -> Array:
    """Largest instantaneous value of a fault current.

    i_p = κ √2 I"k

    initial   I"k  A rms                                    (cases,)
    r_over_x  R/X  1                                        (cases,)
    returns   i_p  A peak                                   (cases,)
    holds     one source; with several at one bus sum the peaks of each with its own R/X, for one κ of the
              parallel impedance lies too low with motors
    raises    nothing
    source    IEC 60909-0:2016, equation 59 for the sum [V]
    """
    return peak_factor(r_over_x) * ROOT2 * initial


def equivalent_frequency(frequency: Array) -> Array:
    """Frequency of method (c), at which the whole network is reduced once more.

    f_c = 0.4 f: 20 Hz at 50 Hz, 24 Hz at 60 Hz

    frequency  f    Hz                                      (cases,)
    returns    f_c  Hz; NaN at other frequencies            (cases,)
    holds      50 Hz and 60 Hz
    raises     nothing
    source     IEC 60909-0:2016, method (c) [V]
    """
    known = np.equal(frequency, 50.0) | np.equal(frequency, 60.0)
    return np.where(known, EQUIVALENT_FREQUENCY_SHARE * frequency, np.nan)


def at_equivalent_frequency(z: Impedance, frequency: Array) -> Impedance:
    """One branch at the frequency of method (c): its reactance shrinks, its resistance stays.

    X_c = X f_c / f

    z          Z    ohm; generators with their fictitious resistance     (cases,)
    frequency  f    Hz                                      (cases,)
    returns    Z_c  ohm                                     (cases,)
    holds      50 Hz and 60 Hz
    raises     nothing
    source     IEC 60909-0:2016, method (c) [V]
    """
    return Impedance(z.resistance, z.reactance * (equivalent_frequency(frequency) / frequency))


def equivalent_frequency_r_over_x(z_at_fc: Impedance, frequency: Array) -> Array:
    """R/X for the peak factor in a meshed network, method (c).

    R/X = (R_c / X_c) (f_c / f)

    z_at_fc    Z_c  ohm at the fault, reduced with every branch `at_equivalent_frequency`     (cases,)
    frequency  f    Hz                                      (cases,)
    returns    R/X  1                                       (cases,)
    holds      50 Hz and 60 Hz
    raises     nothing
    source     IEC 60909-0:2016, method (c) [V]
    """
    return r_over_x(z_at_fc) * (equivalent_frequency(frequency) / frequency)


def dc_component(initial: Array, r_over_x: Array, frequency: Array, time: Array) -> Array:
    """Decaying direct component of the fault current.

    i_dc = √2 I"k exp(-2π f t R/X)

    initial    I"k   A rms                                  (cases,)
    r_over_x   R/X   1                                      (cases,)
    frequency  f     Hz                                     (cases,)
    time       t     s after the fault                      (cases,)
    returns    i_dc  A                                      (cases,)
    holds      largest direct component
    raises     nothing
    source     IEC 60909-0:2016 [V]
    """
    return ROOT2 * initial * np.exp(-2.0 * np.pi * frequency * time * r_over_x)


def heat_factor_m(kappa: Array, frequency: Array, duration: Array) -> Array:
    """Heat of the direct component, as a share of the symmetrical current's.

    m = 2 (1 - exp(-x)) / x,  x = -4 f T ln(κ - 1); 0 where κ is 1 or less, 2 where κ is 2

    kappa      κ    1                                       (cases,)
    frequency  f    Hz                                      (cases,)
    duration   T    s                                       (cases,)
    returns    m    1                                       (cases,)
    holds      κ not above 2, T above zero
    raises     nothing
    source     IEC 60909-0:2016, thermal equivalent current [V]
    """
    # The floors keep logarithm and fraction defined; at an exponent of 1e-6 the fraction is 1 within 5e-7.
    decay = np.maximum(kappa - 1.0, 1e-12)
    exponent = np.maximum(-4.0 * frequency * duration * np.log(decay), 1e-6)
    fraction = np.minimum((1.0 - np.exp(-exponent)) / exponent, 1.0)
    return np.where(np.greater(kappa, 1.0), 2.0 * fraction, 0.0)


def direct_component_time(kappa: Array, frequency: Array, duration: Array) -> Array:
    """Time for which the symmetrical current would have to flow to heat as much as the direct component does.

    m T = (1 - exp(4 f T ln(κ - 1))) / (-2 f ln(κ - 1)): so written, the duration counts once

    kappa      κ    1                                       (cases,)
    frequency  f    Hz                                      (cases,)
    duration   T    s                                       (cases,)
    returns    m T  s; 0 where κ is 1 or less               (cases,)
    holds      κ not above 2, T above zero
    raises     nothing
    source     IEC 60909-0:2016, thermal equivalent current [V]
    """
    decay = -np.log(np.maximum(np.minimum(kappa - 1.0, 1.0 - 1e-9), 1e-12))
    lasts = (1.0 - np.exp(-4.0 * frequency * duration * decay)) / (2.0 * frequency * decay)
    return np.where(np.greater(kappa, 1.0), np.minimum(lasts, 2.0 * duration), 0.0)


def joule_integral(initial: Array, kappa: Array, frequency: Array, duration: Array) -> Array:
    """Heat that a fault current puts into each ohm, far from generators.

    ∫i²dt = I"k² (m + 1) T

    initial    I"k  A rms                                   (cases,)
    kappa      κ    1                                       (cases,)
    frequency  f    Hz: the system's own; some programs always take 50     (cases,)
    duration   T    s                                       (cases,)
    returns    A²s                                          (cases,)
    holds      n = 1: no decay of the symmetrical current, which lies on the safe side
    raises     nothing
    source     IEC 60909-0:2016, thermal equivalent current [V]
    """
    return np.square(initial) * (heat_factor_m(kappa, frequency, duration) + 1.0) * duration


def thermal_equivalent_current(initial: Array, kappa: Array, frequency: Array, duration: Array) -> Array:
    """Steady current that heats as much as the fault current does, far from generators.

    I_th = I"k √(m + 1)

    initial    I"k   A rms                                  (cases,)
    kappa      κ     1                                      (cases,)
    frequency  f     Hz: the system's own; some programs always take 50     (cases,)
    duration   T     s                                      (cases,)
    returns    I_th  A rms over T                           (cases,)
    holds      n = 1: no decay of the symmetrical current, which lies on the safe side
    raises     nothing
    source     IEC 60909-0:2016, thermal equivalent current [V]
    """
    return initial * np.sqrt(heat_factor_m(kappa, frequency, duration) + 1.0)


def isolated_earth_fault_current(
    voltage: Array, capacitance_per_length: Array, total_length: Array, frequency: Array
) -> Array:
    """Capacitive earth-fault current of a network whose neutral is not earthed.

    I_C = √3 2π f C0 U l

    voltage                 U    V between lines            (cases,)
    capacitance_per_length  C0   F/m, one phase to earth    (cases,)
    total_length            l    m, of the galvanically connected network     (cases,)
    frequency               f    Hz                         (cases,)
    returns                 I_C  A rms                      (cases,)
    holds                   isolated neutral; does not depend on where the fault is
    raises                  nothing
    source                  IEC 60909-3 practice [M]
    """
    return sequence.ROOT3 * 2.0 * np.pi * frequency * capacitance_per_length * voltage * total_length


def resonant_residual_current(capacitive_current: Array, residual_share: Array) -> Array:
    """Earth-fault current that a tuned arc-suppression reactor leaves.

    I_res = r I_C

    capacitive_current  I_C    A rms, of the whole network  (cases,)
    residual_share      r      1; 0.05 to 0.10 as a rule    (cases,)
    returns             I_res  A rms                        (cases,)
    holds               reactor in tune
    raises              nothing
    source              IEC 60909-3 practice; the usual share [M]
    """
    return residual_share * capacitive_current


def converter_contribution(
    fault_impedance: Impedance, transfer_impedances: Sequence[Impedance], converter_currents: Sequence[Array]
) -> Array:
    """What converter-fed sources add to the fault current.

    I"k,II = Σ |Z_jm| I_m / |Z_jj|: the sources' currents in phase, which lies on the safe side

    fault_impedance      Z_jj  ohm at the fault, converters left out     (cases,)
    transfer_impedances  Z_jm  ohm from each converter's bus to the fault; Z_jj for one at the fault itself     (cases,)
    converter_currents   I_m   A rms for this kind of fault, from the maker, at the fault's voltage     (cases,)
    returns              I"k,II    A rms, to be added to the current of the voltage sources     (cases,)
    holds                maximum currents only; no zero sequence through converters
    raises               ValueError: not one current per transfer impedance
    source               IEC 60909-0:2016, power station units with full-size converter [V]
    """
    if len(transfer_impedances) != len(converter_currents):
        expected, got = len(transfer_impedances), len(converter_currents)
        raise ValueError(f"converter_currents: one per transfer impedance, expected {expected}, got {got}")
    total: Array = 0.0
    for transfer, current in zip(transfer_impedances, converter_currents, strict=True):
        total = total + magnitude(transfer) * current
    return total / magnitude(fault_impedance)


def peak_with_converters(kappa: Array, from_voltage_sources: Array, from_converters: Array) -> Array:
    """Peak current with converters: they bring no direct component.

    i_p = √2 (κ I"k,I + I"k,II)

    kappa                 κ       1                         (cases,)
    from_voltage_sources  I"k,I   A rms                     (cases,)
    from_converters       I"k,II  A rms                     (cases,)
    returns               i_p     A peak                    (cases,)
    holds                 as `converter_contribution`
    raises                nothing
    source                IEC 60909-0:2016 [V]
    """
    return ROOT2 * (kappa * from_voltage_sources + from_converters)
