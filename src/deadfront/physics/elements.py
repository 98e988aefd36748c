"""Physics: impedances of the supply, transformers, lines and machines of a station. Arrays in, arrays out.

Positive sequence unless the name says otherwise; ohm at the voltage of the side that is passed in.
"""

from __future__ import annotations

from typing import Literal, get_args

import numpy as np

from deadfront.physics.impedance import OPEN, Impedance, from_magnitude, reactive_share, scaled, series
from deadfront.physics.types import Array

ROOT3 = np.sqrt(3.0)

Connection = Literal["Dyn", "Dzn", "Yzn", "Yyn", "YNyn", "YNd", "Yd", "Dd", "Dy", "Yy"]
"""Winding connections, primary first; the clock number does not matter to the size of any current."""

Metal = Literal["copper", "aluminium"]

ZERO_TEMPERATURE: dict[Metal, float] = {"copper": 234.5, "aluminium": 228.1}
"""Degrees below zero at which the resistance would vanish: NEC chapter 9, note of Table 8 [V]."""


def network_feeder(voltage: Array, fault_current: Array, x_over_r: Array, voltage_factor: Array = 1.0) -> Impedance:
    """Supply, from its three-phase fault current.

    Z = c U / (√3 I"k)

    voltage         U     V between lines, nominal          (cases,)
    fault_current   I"k   A rms, three-phase                (cases,)
    x_over_r        X/R   1; infinite where R is neglected  (cases,)
    voltage_factor  c     1; 1.0 in the North American method, c of the feeder's own voltage level in the IEC method
    returns         Z     ohm                               (cases,)
    holds           far from generators
    raises          nothing
    source          IEC 60909-0:2016, network feeder [V]; c of the feeder's level reproduces the LV example of
                    IEC TR 60909-4 (its results are [M])
    """
    return from_magnitude(voltage_factor * voltage / (ROOT3 * fault_current), x_over_r)


def network_zero_sequence(
    voltage: Array,
    earth_fault_current: Array,
    positive: Impedance,
    x0_over_r0: Array,
    voltage_factor: Array = 1.0,
) -> Impedance:
    """Zero sequence of the supply, from its stated line-to-earth fault current.

    |2 Z1 + Z0| = √3 c U / I"k1 = S, solved for |Z0| at the angle that X0/R0 gives:
    |Z0| = √(S² - 4 q²) - 2 p,  p and q the parts of Z1 along and across that angle

    voltage              U      V between lines, nominal     (cases,)
    earth_fault_current  I"k1   A rms, line to earth         (cases,)
    positive             Z1     ohm, equal to Z2             (cases,)
    x0_over_r0           X0/R0  1, above zero; small for a resistance-earthed supply     (cases,)
    voltage_factor       c      1, the one used for Z1
    returns              Z0     ohm; NaN where no Z0 of this angle gives that current     (cases,)
    holds                I"k1 below 1.5 times the three-phase current (Z0 above zero); neutral impedance included
    raises               nothing
    source               IEC 60909-0:2016, line-to-earth current [V], solved for Z0 [calc]
    """
    square = np.square(x0_over_r0)
    along, across = 1.0 / np.sqrt(1.0 + square), 1.0 / np.sqrt(1.0 + 1.0 / square)
    in_line = positive.resistance * along + positive.reactance * across
    off_line = positive.resistance * across - positive.reactance * along
    total = ROOT3 * voltage_factor * voltage / earth_fault_current
    left = np.square(total) - np.square(2.0 * off_line)
    size = np.sqrt(np.maximum(left, 0.0)) - 2.0 * in_line
    size = np.where(np.greater(size, 0.0), size, np.nan)
    return Impedance(size * along, size * across)


def network_zero_sequence_from_ratios(positive: Impedance, x0_over_x1: Array, r0_over_x0: Array) -> Impedance:
    """Zero sequence of the supply, from its ratios.

    X0 = (X0/X1) X1                R0 = (R0/X0) X0

    positive    Z1      ohm        (cases,)
    x0_over_x1  X0/X1   1          (cases,)
    r0_over_x0  R0/X0   1          (cases,)
    returns     Z0      ohm        (cases,)
    holds       solidly earthed supply, or neutral impedance included in the ratios
    raises      nothing
    source      IEC 60909-0:2016 practice, as in IEC TR 60909-4 [V]
    """
    reactance = x0_over_x1 * positive.reactance
    return Impedance(r0_over_x0 * reactance, reactance)


def transformer(impedance_voltage: Array, load_loss: Array, rated_voltage: Array, rated_power: Array) -> Impedance:
    """Two-winding transformer, from its impedance voltage and load loss.

    Z = u_k U²/S                   R = P_k U²/S²                  X = √(Z² - R²)

    impedance_voltage  u_k  1, of the rated voltage         (cases,)
    load_loss          P_k  W at rated current              (cases,)
    rated_voltage      U    V between lines, of the side wanted: the rated one, never the system's nominal voltage
    rated_power        S    VA                              (cases,)
    returns            Z    ohm; reactance NaN where the loss is larger than the impedance allows     (cases,)
    holds              P_k/S not above u_k
    raises             nothing
    source             IEC 60909-0:2016, two-winding transformers [V]
    """
    base = np.square(rated_voltage) / rated_power
    resistive = load_loss / rated_power
    left = np.square(impedance_voltage) - np.square(resistive)
    reactive = np.where(np.less(left, 0.0), np.nan, np.sqrt(np.maximum(left, 0.0)))
    return Impedance(base * resistive, base * reactive)


def transformer_from_x_over_r(
    impedance_voltage: Array, x_over_r: Array, rated_voltage: Array, rated_power: Array
) -> Impedance:
    """Two-winding transformer, from its impedance voltage and X/R.

    Z = u_k U²/S

    impedance_voltage  u_k  1, of the rated voltage         (cases,)
    x_over_r           X/R  1                               (cases,)
    rated_voltage      U    V between lines, of the side wanted: the rated one, never the system's nominal voltage
    rated_power        S    VA                              (cases,)
    returns            Z    ohm                             (cases,)
    holds              always
    raises             nothing
    source             IEC 60909-0:2016, two-winding transformers [V]; IEEE 141 per-unit practice [V]
    """
    return from_magnitude(impedance_voltage * np.square(rated_voltage) / rated_power, x_over_r)


def transformer_correction(
    z: Impedance, rated_voltage: Array, rated_power: Array, voltage_factor_maximum: Array
) -> Array:
    """Impedance correction factor of a network transformer; for maximum currents only.

    K_T = 0.95 c_max / (1 + 0.6 x_T),  x_T = X_T S / U²

    z                       Z_T    ohm                      (cases,)
    rated_voltage           U      V, of the side Z_T stands on     (cases,)
    rated_power             S      VA                       (cases,)
    voltage_factor_maximum  c_max  1, of the low-voltage side's network
    returns                 K_T    1; multiply the winding's Z(1), Z(2), Z(0), not a neutral impedance     (cases,)
    holds                   two windings, with or without on-load tap changer
    raises                  nothing
    source                  IEC 60909-0:2016, 6.3.3 [V]; "not the neutral impedance" [M]
    """
    relative = z.reactance * rated_power / np.square(rated_voltage)
    return 0.95 * voltage_factor_maximum / (1.0 + 0.6 * relative)


def line(resistance: Array, reactance: Array, length: Array, temperature_factor: Array = 1.0) -> Impedance:
    """Cable or overhead line.

    resistance          R'20  ohm/m at 20 degC              (cases,)
    reactance           X'    ohm/m                         (cases,)
    length              l     m                             (cases,)
    temperature_factor  K_L   1; 1.0 at 20 degC, for maximum currents     (cases,)
    returns             Z     ohm                           (cases,)
    holds               line capacitance neglected
    raises              nothing
    source              IEC 60909-0:2016, lines and cables [V]
    """
    return Impedance(resistance * temperature_factor * length, reactance * length)


def iec_temperature_factor(temperature: Array) -> Array:
    """Resistance of a hot conductor over its resistance at 20 degC, for minimum currents.

    K_L = 1 + 0.004 (θ_e - 20)

    temperature  θ_e  degC, conductor at the end of the fault     (cases,)
    returns      K_L  1                                     (cases,)
    holds        copper, aluminium and its alloys alike
    raises       nothing
    source       IEC 60909-0:2016, minimum currents [V]
    """
    return 1.0 + 0.004 * (temperature - 20.0)


def conductor_resistance_at(
    resistance: Array, from_temperature: Array, to_temperature: Array, zero_temperature: Array
) -> Array:
    """Resistance of a conductor at another temperature.

    R2 = R1 (K + θ2) / (K + θ1)

    resistance        R1  ohm or ohm/m                      (cases,)
    from_temperature  θ1  degC                              (cases,)
    to_temperature    θ2  degC                              (cases,)
    zero_temperature  K   degC, see `ZERO_TEMPERATURE`
    returns           R2  as R1                             (cases,)
    holds             0 to 250 degC
    raises            nothing
    source            NEC chapter 9, note of Table 8 [V]
    """
    return resistance * (zero_temperature + to_temperature) / (zero_temperature + from_temperature)


def asynchronous_motor(
    rated_power: Array,
    efficiency: Array,
    power_factor: Array,
    locked_rotor_ratio: Array,
    rated_voltage: Array,
    r_over_x: Array,
) -> Impedance:
    """Asynchronous motor, or a group of them, as a source of fault current.

    Z = U² / (I_LR/I_r · S_r),  S_r = P_r / (η cos φ)

    rated_power         P_r      W, at the shaft            (cases,)
    efficiency          η        1                          (cases,)
    power_factor        cos φ    1                          (cases,)
    locked_rotor_ratio  I_LR/I_r 1                          (cases,)
    rated_voltage       U        V between lines            (cases,)
    r_over_x            R/X      1, above zero; see `motor_r_over_x`     (cases,)
    returns             Z        ohm                        (cases,)
    holds               direct on line; motors behind converters without regeneration give nothing
    raises              nothing
    source              IEC 60909-0:2016, asynchronous motors [V]
    """
    apparent = rated_power / (efficiency * power_factor)
    return from_magnitude(np.square(rated_voltage) / (locked_rotor_ratio * apparent), 1.0 / r_over_x)


def motor_r_over_x(rated_voltage: Array, power_per_pole_pair: Array) -> Array:
    """Resistance over reactance of an asynchronous motor, by its class.

    rated_voltage        U    V between lines               (cases,)
    power_per_pole_pair  P/p  W; anything for a low-voltage group     (cases,)
    returns              R/X  1: 0.42 low voltage with its cables, 0.15 below 1 MW a pole pair, else 0.10     (cases,)
    holds                low voltage is up to 1000 V
    raises               nothing
    source               IEC 60909-0, equation 26 as restated [V]
    """
    medium_voltage = np.where(np.less(power_per_pole_pair, 1e6), 0.15, 0.10)
    return np.where(np.less_equal(rated_voltage, 1000.0), 0.42, medium_voltage)


def synchronous_generator(
    rated_power: Array, rated_voltage: Array, subtransient_reactance: Array, resistance: Array
) -> Impedance:
    """Synchronous generator at the start of a fault, before correction.

    X"d = x"d U²/S

    rated_power             S     VA                        (cases,)
    rated_voltage           U     V between lines           (cases,)
    subtransient_reactance  x"d   1, saturated              (cases,)
    resistance              R     ohm: the stator's own, or `fictitious_resistance` for the peak     (cases,)
    returns                 Z     ohm                       (cases,)
    holds                   first moment of the fault
    raises                  nothing
    source                  IEC 60909-0:2016, synchronous generators [V]
    """
    return Impedance(resistance, subtransient_reactance * np.square(rated_voltage) / rated_power)


def fictitious_resistance(rated_power: Array, rated_voltage: Array, subtransient_reactance: Array) -> Array:
    """Resistance of a generator that makes its peak current decay as in reality; for the peak only.

    R_Gf = k X"d,  k = 0.15 up to 1 kV, 0.07 above, 0.05 above 1 kV from 100 MVA

    rated_power             S     VA                        (cases,)
    rated_voltage           U     V between lines           (cases,)
    subtransient_reactance  x"d   1                         (cases,)
    returns                 R_Gf  ohm                       (cases,)
    holds                   peak current
    raises                  nothing
    source                  IEC 60909-0:2016, synchronous generators [V]
    """
    medium_voltage = np.where(np.less(rated_power, 100e6), 0.07, 0.05)
    share = np.where(np.less_equal(rated_voltage, 1000.0), 0.15, medium_voltage)
    return share * subtransient_reactance * np.square(rated_voltage) / rated_power


def generator_correction(
    nominal_voltage: Array,
    rated_voltage: Array,
    voltage_factor_maximum: Array,
    subtransient_reactance: Array,
    power_factor: Array,
) -> Array:
    """Impedance correction factor of a generator that stands at the bus without a transformer of its own.

    K_G = (U_n / U_rG) c_max / (1 + x"d sin φ)

    nominal_voltage         U_n    V between lines          (cases,)
    rated_voltage           U_rG   V; times 1 + p_G where it runs above its rated voltage     (cases,)
    voltage_factor_maximum  c_max  1
    subtransient_reactance  x"d    1                        (cases,)
    power_factor            cos φ  1, rated                 (cases,)
    returns                 K_G    1, on resistance and reactance     (cases,)
    holds                   power factor 0 to 1
    raises                  nothing
    source                  IEC 60909-0:2016, synchronous generators [V]
    """
    sine = reactive_share(power_factor)
    return nominal_voltage / rated_voltage * voltage_factor_maximum / (1.0 + subtransient_reactance * sine)


def winding_connection(vector_group: str) -> Connection:
    """Winding connection of a vector group: its letters without the clock number.

    vector_group  for example "Dyn11"
    returns       for example "Dyn"
    holds         the connections listed in `Connection`
    raises        ValueError: no such connection
    source        IEC 60076-1, vector groups [M]
    """
    letters = vector_group.rstrip("0123456789")
    for connection in get_args(Connection):
        if letters == connection:
            return connection  # type: ignore[no-any-return]
    raise ValueError(f"vector_group: expected one of {', '.join(get_args(Connection))}, got {vector_group!r}")


def zero_sequence_from_secondary(
    connection: str,
    winding: Impedance,
    neutral: Impedance,
    upstream: Impedance | None = None,
) -> Impedance:
    """Zero sequence of a transformer as an earth fault on its secondary sees it.

    Dyn, Dzn, Yzn, Yyn     Z(0) = Z_T0 + 3 Z_N
    YNyn                   Z(0) = Z_T0 + Z(0) upstream + 3 Z_N
    all others             open

    connection  "Dyn" or a vector group such as "Dyn11"
    winding     Z_T0     ohm at the secondary: `zero_sequence_winding`, corrected with K_T for maximum currents
    neutral     Z_N      ohm between secondary neutral and earth; `OPEN` where it is not earthed
    upstream    Z(0)     ohm at the secondary, with threefold primary neutral impedance; read for YNyn only
    returns     Z(0)     ohm                                (cases,)
    holds       Yyn: Z_T0 is the magnetising path through tank and air. YNyn: five-limb or shell core; a three-limb
                core adds a magnetising path beside the one through the primary (`parallel`)
    raises      ValueError: no such connection; YNyn without `upstream`
    source      IEC TR 60909-4 examples for Dyn [V]; others [calc] on standard theory
    """
    kind = winding_connection(connection)
    if kind == "YNyn":
        if upstream is None:
            raise ValueError("upstream: a YNyn transformer passes the zero sequence of the network before it, got None")
        return series(winding, upstream, scaled(neutral, 3.0))
    if kind in ("Dyn", "Dzn", "Yzn", "Yyn"):
        return series(winding, scaled(neutral, 3.0))
    return OPEN


def zero_sequence_from_primary(
    connection: str,
    winding: Impedance,
    neutral: Impedance,
    downstream: Impedance | None = None,
) -> Impedance:
    """Zero sequence of a transformer as an earth fault on its primary sees it.

    YNd                    Z(0) = Z_T0 + 3 Z_N: the transformer is an earth source for the feeder
    YNyn                   Z(0) = Z_T0 + Z(0) downstream + 3 Z_N
    all others             open

    connection  "YNd" or a vector group such as "YNd11"
    winding     Z_T0     ohm at the primary
    neutral     Z_N      ohm between primary neutral and earth; `OPEN` where it is not earthed
    downstream  Z(0)     ohm at the primary, of what stands behind the secondary; read for YNyn only
    returns     Z(0)     ohm                                (cases,)
    holds       YNyn: five-limb or shell core
    raises      ValueError: no such connection; YNyn without `downstream`
    source      IEC TR 60909-4 test network for YNd [V]; others [calc] on standard theory
    """
    kind = winding_connection(connection)
    if kind == "YNyn":
        if downstream is None:
            raise ValueError("downstream: a YNyn transformer passes the zero sequence of what it feeds, got None")
        return series(winding, downstream, scaled(neutral, 3.0))
    return series(winding, scaled(neutral, 3.0)) if kind == "YNd" else OPEN


def zero_sequence_winding(positive: Impedance, r0_over_r1: Array, x0_over_x1: Array) -> Impedance:
    """Zero sequence of the windings alone, from the ratios of the test report.

    R_T0 = (R0/R1) R_T             X_T0 = (X0/X1) X_T

    positive    Z_T     ohm        (cases,)
    r0_over_r1  R0/R1   1          (cases,)
    x0_over_x1  X0/X1   1; Dyn 0.95 to 1.0 (down to 0.85), Dzn about 0.1, Yyn three-limb 3 to 10     (cases,)
    returns     Z_T0    ohm        (cases,)
    holds       as the ratios do
    raises      nothing
    source      IEC TR 60909-4 example for Dyn [V]; texts disagree on 0.85 or 0.95; Dzn [V], its R0 [M]; Yyn [M]
    """
    return Impedance(r0_over_r1 * positive.resistance, x0_over_x1 * positive.reactance)
