"""Physics: short-circuit duty by the North American method (IEEE C37 and 551). Arrays in, arrays out.

Ohms and volts inside; per-unit numbers are converted where they come in. Device ratings of this practice belong
to this method only, never to IEC 60909.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, get_args

import numpy as np

from deadfront.physics import sequence
from deadfront.physics.impedance import Impedance
from deadfront.physics.sequence import LineLineEarthCurrents
from deadfront.physics.types import Array
from deadfront.tables import read

ROOT2 = np.sqrt(2.0)

LowVoltageDevice = Literal[
    "power circuit breaker",
    "fused power circuit breaker",
    "fuse",
    "moulded-case breaker over 20 kA",
    "moulded-case breaker 10 to 20 kA",
    "moulded-case breaker to 10 kA",
    "insulated-case breaker",
]
"""Low-voltage devices by the test that rates them; the steps of moulded cases go by the rating, not the fault."""

LOW_VOLTAGE_TEST_X_OVER_R: dict[LowVoltageDevice, float] = {
    "power circuit breaker": 6.6,
    "fused power circuit breaker": 4.9,
    "fuse": 4.9,
    "moulded-case breaker over 20 kA": 4.9,
    "moulded-case breaker 10 to 20 kA": 3.18,
    "moulded-case breaker to 10 kA": 1.73,
    "insulated-case breaker": 4.9,
}
"""X/R of the interrupting tests: C37.13, UL 489, UL 248 [V2; 3.18 and 1.73 V]; insulated case as over 20 kA."""

Machine = Literal[
    "turbo-generator",
    "hydro-generator with dampers",
    "hydro-generator without dampers",
    "synchronous condenser",
    "synchronous motor",
    "induction motor over 1000 hp",
    "induction motor 50 to 1000 hp",
    "induction motor under 50 hp",
]
Network = Literal["medium-voltage", "low-voltage", "multivoltage"]
Duty = Literal["first cycle", "interrupting"]


def base_current(base_power: Array, base_voltage: Array) -> Array:
    """Base current of a per-unit system.

    I_b = S_b / (√3 U_b)

    base_power    S_b  VA                                   (cases,)
    base_voltage  U_b  V between lines                      (cases,)
    returns       I_b  A                                    (cases,)
    holds         always
    raises        nothing
    source        IEEE 141 per-unit method [V]
    """
    return base_power / (sequence.ROOT3 * base_voltage)


def base_impedance(base_power: Array, base_voltage: Array) -> Array:
    """Base impedance of a per-unit system.

    Z_b = U_b² / S_b

    base_power    S_b  VA                                   (cases,)
    base_voltage  U_b  V between lines                      (cases,)
    returns       Z_b  ohm                                  (cases,)
    holds         always
    raises        nothing
    source        IEEE 141 per-unit method [V]
    """
    return np.square(base_voltage) / base_power


def per_unit(z: Impedance, base_power: Array, base_voltage: Array) -> Impedance:
    """Impedance in per unit of a base.

    z             Z    ohm                                  (cases,)
    base_power    S_b  VA                                   (cases,)
    base_voltage  U_b  V between lines                      (cases,)
    returns       z    per unit                             (cases,)
    holds         always
    raises        nothing
    source        IEEE 141 per-unit method [V]
    """
    base = base_impedance(base_power, base_voltage)
    return Impedance(z.resistance / base, z.reactance / base)


def in_ohms(z: Impedance, base_power: Array, base_voltage: Array) -> Impedance:
    """Impedance in ohms, from per unit of a base.

    z             z    per unit                             (cases,)
    base_power    S_b  VA                                   (cases,)
    base_voltage  U_b  V between lines                      (cases,)
    returns       Z    ohm                                  (cases,)
    holds         always
    raises        nothing
    source        IEEE 141 per-unit method [V]
    """
    base = base_impedance(base_power, base_voltage)
    return Impedance(base * z.resistance, base * z.reactance)


def symmetrical_current(prefault_voltage: Array, z1: Impedance) -> Array:
    """Symmetrical current of a three-phase fault.

    I = E / (√3 |Z1|)

    prefault_voltage  E   V between lines: nominal, or the operating voltage that is declared     (cases,)
    z1                Z1  ohm                               (cases,)
    returns           I   A rms                             (cases,)
    holds             bolted fault, first cycle or interrupting time by the machine multipliers used in Z1
    raises            nothing
    source            IEEE 141, IEEE C37.010 [V]
    """
    return sequence.three_phase(prefault_voltage, z1)


def line_line_current(prefault_voltage: Array, z1: Impedance, z2: Impedance) -> Array:
    """Symmetrical current of a fault between two lines.

    I = E / |Z1 + Z2|

    prefault_voltage  E   V between lines                   (cases,)
    z1, z2            Z1, Z2    ohm                         (cases,)
    returns           I   A rms; √3/2 of the three-phase current where Z1 = Z2     (cases,)
    holds             bolted fault
    raises            nothing
    source            IEEE 141 [calc]
    """
    return sequence.line_line(prefault_voltage, z1, z2)


def line_earth_current(prefault_voltage: Array, z1: Impedance, z2: Impedance, z0: Impedance) -> Array:
    """Symmetrical current of a fault between one line and earth.

    I = √3 E / |Z1 + Z2 + Z0|

    prefault_voltage  E   V between lines                   (cases,)
    z1, z2, z0        Z1, Z2, Z0    ohm                     (cases,)
    returns           I   A rms                             (cases,)
    holds             bolted fault; behind a delta-wye transformer Z0 is its own and the cable's only
    raises            nothing
    source            IEEE 141 [calc]
    """
    return sequence.line_earth(prefault_voltage, z1, z2, z0)


def line_line_earth_currents(
    prefault_voltage: Array, z1: Impedance, z2: Impedance, z0: Impedance
) -> LineLineEarthCurrents:
    """Symmetrical currents of a fault between two lines and earth; see `sequence.line_line_earth`.

    prefault_voltage  E   V between lines                   (cases,)
    z1, z2, z0        Z1, Z2, Z0    ohm, none zero          (cases,)
    returns           I in L2, in L3, into earth    A rms   (cases,)
    holds             bolted fault
    raises            nothing
    source            symmetrical components [calc]
    """
    return sequence.line_line_earth(prefault_voltage, z1, z2, z0)


def separate_x_over_r(
    branches: Sequence[Impedance], series: Impedance, connected: Sequence[Array] | None = None
) -> Array:
    """X/R at the fault from two separate reductions, one of resistances only and one of reactances only.

    R = 1/Σ(1/R_i) + R_s           X = 1/Σ(1/X_i) + X_s

    branches   Z_i  ohm, resistance and reactance above zero, from the sources to a common bus     (cases,) each
    series     Z_s  ohm, from that bus to the fault         (cases,)
    connected  1 where the branch takes part in the case, 0 where not; None: all do     (cases,) each
    returns    X/R  1; NaN where nothing is connected       (cases,)
    holds      radial from one common bus
    raises     ValueError: not one `connected` per branch
    source     IEEE C37.010 [V]; not smaller than the X/R of the complex impedance
    """
    shares: Sequence[Array] = [1.0] * len(branches) if connected is None else connected
    if len(shares) != len(branches):
        raise ValueError(f"connected: one array per branch, expected {len(branches)}, got {len(shares)}")
    conductance: Array = 0.0
    susceptance: Array = 0.0
    for branch, share in zip(branches, shares, strict=True):
        conductance = conductance + share / branch.resistance
        susceptance = susceptance + share / branch.reactance
    fed = np.greater(conductance, 0.0)
    resistance = 1.0 / np.where(fed, conductance, 1.0) + series.resistance
    reactance = 1.0 / np.where(np.greater(susceptance, 0.0), susceptance, 1.0) + series.reactance
    return np.where(fed, reactance / resistance, np.nan)


def asymmetry_rms_factor(x_over_r: Array, cycles: Array = 0.5) -> Array:
    """Total rms current at a moment over its symmetrical part.

    √(1 + 2 exp(-4π t / (X/R)))

    x_over_r  X/R  1, above zero                            (cases,)
    cycles    t    cycles after the fault; half a cycle is the first-cycle value
    returns   1                                             (cases,)
    holds     largest direct component
    raises    nothing
    source    IEEE C37.010, C37.13 [V]
    """
    return np.sqrt(1.0 + 2.0 * np.exp(-4.0 * np.pi * cycles / x_over_r))


def peak_factor_half_cycle(x_over_r: Array) -> Array:
    """Peak over symmetrical rms current, taken at half a cycle.

    √2 (1 + exp(-π / (X/R)))

    x_over_r  X/R  1, above zero                            (cases,)
    returns   1                                             (cases,)
    holds     low by 2.0 % at X/R 3, 1.1 % at 4.9, 0.4 % at 10: for ratios of duties, not for a peak by itself
    raises    nothing
    source    form used in C37.13 and UL 489 duty ratios [V]
    """
    return ROOT2 * (1.0 + np.exp(-np.pi / x_over_r))


def peak_factor_ieee551(x_over_r: Array) -> Array:
    """Peak over symmetrical rms current, at the true moment of the peak.

    √2 (1 + exp(-2π τ / (X/R))),  τ = 0.49 - 0.1 exp(-(X/R)/3)

    x_over_r  X/R  1, above zero                            (cases,)
    returns   1                                             (cases,)
    holds     against the exact solution: 0.06 % from X/R 6.6, 0.2 % at 4.9, 0.9 % (high) at 1.7
    raises    nothing
    source    IEEE 551-2006 [M; checked against the exact solution]
    """
    moment = 0.49 - 0.1 * np.exp(-x_over_r / 3.0)
    return ROOT2 * (1.0 + np.exp(-2.0 * np.pi * moment / x_over_r))


def low_voltage_multiplying_factor(device: str, x_over_r: Array) -> Array:
    """Factor on the symmetrical current before it is held against a low-voltage device's rating.

    power circuit breaker                 √2 (1 + exp(-π/(X/R))) / 2.29
    fused breaker, fuse                   √(1 + 2 exp(-2π/(X/R))) / 1.25
    moulded and insulated case            (1 + exp(-π/(X/R))) / (1 + exp(-π/(test X/R)))

    device    one of `LowVoltageDevice`; a moulded case by its interrupting rating, never by the fault current
    x_over_r  X/R  1 at the fault                           (cases,)
    returns   1; 1 up to the test X/R, never below          (cases,)
    holds     first cycle
    raises    ValueError: no such device
    source    IEEE C37.13-2008, UL 489 as applied in two published texts [V2]; moulded case to 20 kA [V]
    """
    for known, test in LOW_VOLTAGE_TEST_X_OVER_R.items():
        if known == device:
            return np.where(np.less_equal(x_over_r, test), 1.0, np.maximum(_above_test(known, x_over_r, test), 1.0))
    raise ValueError(f"device: expected one of {', '.join(get_args(LowVoltageDevice))}, got {device!r}")


def _above_test(device: LowVoltageDevice, x_over_r: Array, test: float) -> Array:
    """Duty at this X/R over duty at the test X/R, in the form the standard of the device prints."""
    if device == "power circuit breaker":
        return peak_factor_half_cycle(x_over_r) / 2.29
    if device in ("fused power circuit breaker", "fuse"):
        return asymmetry_rms_factor(x_over_r) / 1.25
    return peak_factor_half_cycle(x_over_r) / peak_factor_half_cycle(test)


def machine_reactance_multiplier(machine: str, network: str, duty: str) -> float:
    """Multiplier on a machine's reactance for one duty.

    machine  one of `Machine`
    network  "medium-voltage" (C37.010), "low-voltage" (C37.13) or "multivoltage" (both sides in one network)
    duty     "first cycle" or "interrupting" (1.5 to 5 cycles)
    returns  1; infinite where the machine is neglected. On X"d, except hydro without dampers: on X'd
    holds    induction "over 1000 hp" also from 250 hp at 3600 r/min
    raises   ValueError: no such machine, network or duty; interrupting duty of a low-voltage network
    source   IEEE 551-2006, Table 9-1 [V interrupting and induction; M first cycle of synchronous machines]
    """
    for name, given, words in (
        ("machine", machine, get_args(Machine)),
        ("network", network, get_args(Network)),
        ("duty", duty, get_args(Duty)),
    ):
        if given not in words:
            raise ValueError(f"{name}: expected one of {', '.join(words)}, got {given!r}")
    for row in read("ieee551-machine-multipliers").rows:
        if (row["machine"], row["network"], row["duty"]) == (machine, network, duty):
            return float(row["multiplier"]) if row["counts"] == "yes" else float("inf")
    raise ValueError("duty: C37.13 has no interrupting network at low voltage, use network 'multivoltage'")


def machine_impedance(
    reactance: Array, multiplier: Array, x_over_r: Array, rated_voltage: Array, rated_power: Array
) -> Impedance:
    """Machine as a source of fault current.

    X = k x U²/S                   R = X / (X/R)

    reactance      x    1, of the machine's own base: X"d, or X'd where the table says so     (cases,)
    multiplier     k    1, from `machine_reactance_multiplier`; infinite gives an open branch
    x_over_r       X/R  1                                   (cases,)
    rated_voltage  U    V between lines                     (cases,)
    rated_power    S    VA: induction 1 kVA a hp, synchronous 0.8 or 1.0 kVA a hp by power factor     (cases,)
    returns        Z    ohm                                 (cases,)
    holds          direct on line
    raises         nothing
    source         IEEE 551-2006 [V]; kVA base [V synchronous, C induction]
    """
    size = multiplier * reactance * np.square(rated_voltage) / rated_power
    return Impedance(size / x_over_r, size)


def x_over_r_of_time_constant(frequency: Array, time_constant: Array) -> Array:
    """X/R that belongs to a time constant of the direct component.

    X/R = 2π f τ

    frequency      f    Hz                                  (cases,)
    time_constant  τ    s; 0.045 for medium-voltage breakers     (cases,)
    returns        X/R  1; 17 at 60 Hz and 45 ms            (cases,)
    holds          always
    raises         nothing
    source         definition; IEEE C37.04 time constant [calc]
    """
    return 2.0 * np.pi * frequency * time_constant


def close_and_latch_rms_factor(x_over_r: Array) -> Array:
    """First-cycle asymmetrical over symmetrical current, for medium-voltage breakers rated in rms.

    1.6 up to X/R 25, where √(1 + 2 exp(-2π/(X/R))) reaches it; that above

    x_over_r  X/R  1                                        (cases,)
    returns   1                                             (cases,)
    holds     breakers with a close-and-latch rating in rms
    raises    nothing
    source    IEEE C37.010 [V]
    """
    return np.maximum(asymmetry_rms_factor(x_over_r), 1.6)


def close_and_latch_peak(rated_current: Array, frequency: Array) -> Array:
    """Peak that a medium-voltage breaker rated in kA can close and latch.

    2.6 I_sc at 60 Hz, 2.5 I_sc at 50 Hz

    rated_current  I_sc  A rms, rated short-circuit current     (cases,)
    frequency      f     Hz                                 (cases,)
    returns        A peak; NaN at other frequencies         (cases,)
    holds          45 ms time constant
    raises         nothing
    source         IEEE C37.06, IEC 62271-1 [V]
    """
    at_50 = np.where(np.equal(frequency, 50.0), 2.5, np.nan)
    return np.where(np.equal(frequency, 60.0), 2.6, at_50) * rated_current


def medium_voltage_fuse_factor(x_over_r: Array, test_x_over_r: Array) -> Array:
    """Factor on the symmetrical current before it is held against a medium-voltage fuse's symmetrical rating.

    1 up to the test X/R; above, first-cycle asymmetry at this X/R over that at the test X/R

    x_over_r       X/R  1 at the fuse                       (cases,)
    test_x_over_r  X/R  1 of the fuse's interrupting test; 15 for power-class fuses     (cases,)
    returns        1, never below                           (cases,)
    holds          where the maker states no derating of its own; the maker's governs
    raises         nothing
    source         symmetrical rating valid to X/R 15 [V]; the derating by equal asymmetrical current [calc]
    """
    ratio = asymmetry_rms_factor(x_over_r) / asymmetry_rms_factor(test_x_over_r)
    return np.maximum(ratio, 1.0)


def fuse_asymmetrical_rating(symmetrical_rating: Array) -> Array:
    """Asymmetrical interrupting rating of a power-class fuse of which only the symmetrical one is stated.

    1.6 times

    symmetrical_rating  A rms                               (cases,)
    returns             A rms, total                        (cases,)
    holds               X/R to about 25
    raises              nothing
    source              IEEE C37.46 practice [M; asymmetry is 1.5986 at X/R 25, calc]
    """
    return 1.6 * symmetrical_rating
