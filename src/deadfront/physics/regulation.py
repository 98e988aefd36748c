"""Physics: voltage drop under load and at motor start. Arrays in, arrays out."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from deadfront.physics.impedance import Impedance, magnitude, reactive_share, series
from deadfront.physics.types import Array
from deadfront.tables import read


class CodeLetterRange(NamedTuple):
    """Locked-rotor apparent power per horsepower that one code letter allows."""

    lowest: float
    """VA/W of shaft power."""
    highest: float
    """VA/W of shaft power."""


HORSEPOWER = 745.7
"""W in one horsepower, as NEMA code letters use it: 550 ft lbf/s, rounded."""


def transformer_regulation(
    resistance_voltage: Array, reactance_voltage: Array, load: Array, power_factor: Array
) -> Array:
    """Voltage drop in a transformer at a lagging load, as a share of its rated secondary voltage.

    p (e_r cos φ + e_x sin φ) + p² (e_x cos φ - e_r sin φ)² / 2

    resistance_voltage  e_r    1                            (cases,)
    reactance_voltage   e_x    1                            (cases,)
    load                p      1, of the rating             (cases,)
    power_factor        cos φ  1, lagging                   (cases,)
    returns             1                                   (cases,)
    holds               impedance voltage to some 20 %
    raises              nothing
    source              IEEE C57.12.90 / IEC 60076-1 form [M; 4.468 against 4.465 % of the phasor solution]
    """
    sine = reactive_share(power_factor)
    along = resistance_voltage * power_factor + reactance_voltage * sine
    across = reactance_voltage * power_factor - resistance_voltage * sine
    return load * along + np.square(load * across) / 2.0


def feeder_drop(z: Impedance, current: Array, power_factor: Array) -> Array:
    """Voltage drop between line and neutral along a feeder at a lagging load.

    ΔU = I (R cos φ + X sin φ)

    z             Z      ohm                                (cases,)
    current       I      A rms                              (cases,)
    power_factor  cos φ  1, lagging                         (cases,)
    returns       ΔU     V; times √3 between lines          (cases,)
    holds         drop small against the voltage
    raises        nothing
    source        NEC chapter 9, Table 9, effective impedance [V2]
    """
    return current * (z.resistance * power_factor + z.reactance * reactive_share(power_factor))


def effective_impedance(z: Impedance, power_factor: Array) -> Array:
    """Impedance that gives the voltage drop by plain multiplication with the current.

    Z_e = R cos φ + X sin φ

    z             Z      ohm or ohm/m                       (cases,)
    power_factor  cos φ  1, lagging                         (cases,)
    returns       Z_e    as Z                               (cases,)
    holds         drop small against the voltage
    raises        nothing
    source        NEC chapter 9, Table 9, note 2 [V2]
    """
    return feeder_drop(z, 1.0, power_factor)


def starting_motor(locked_rotor_power: Array, rated_voltage: Array, starting_power_factor: Array) -> Impedance:
    """Motor at standstill, as a load.

    |Z| = U² / S_LR

    locked_rotor_power     S_LR   VA at rated voltage       (cases,)
    rated_voltage          U      V between lines           (cases,)
    starting_power_factor  cos φ  1; 0.2 to 0.35 [C]     (cases,)
    returns                Z      ohm                       (cases,)
    holds                  direct on line
    raises                 nothing
    source                 circuit theory [calc]
    """
    size = np.square(rated_voltage) / locked_rotor_power
    return Impedance(size * starting_power_factor, size * reactive_share(starting_power_factor))


def starting_dip(source: Impedance, motor: Impedance) -> Array:
    """Voltage dip while a motor starts, as a share of the voltage before.

    1 - |Z_m / (Z_m + Z_s)|

    source   Z_s  ohm, supply, transformer and cable to the place where the dip counts     (cases,)
    motor    Z_m  ohm, with the cable behind that place     (cases,)
    returns  1                                              (cases,)
    holds    other load neglected. Use the weakest supply: the roles are those of the minimum fault
    raises   nothing
    source   circuit theory [calc]
    """
    return 1.0 - magnitude(motor) / magnitude(series(motor, source))


def starting_dip_estimate(locked_rotor_power: Array, fault_power: Array) -> Array:
    """Voltage dip while a motor starts, estimated on the high side.

    S_LR / (S_LR + S_sc)

    locked_rotor_power  S_LR  VA                            (cases,)
    fault_power         S_sc  VA, three-phase, where the dip counts     (cases,)
    returns             1                                   (cases,)
    holds               motor and source of about equal angle
    raises              nothing
    source              circuit theory [calc]
    """
    return 1.0 / (1.0 + fault_power / locked_rotor_power)


def code_letter_range(letter: str) -> CodeLetterRange:
    """Locked-rotor apparent power per watt of shaft power, from the code letter on the nameplate.

    letter   "F", "G" or "H"
    returns  lowest and highest    VA/W
    holds    motors marked with a code letter
    raises   ValueError: no such letter in the table
    source   NEMA MG 1 code letters [M]
    """
    rows = read("nema-code-letters").rows
    for row in rows:
        if row["letter"] == letter:
            lowest, highest = (float(row[name]) * 1000.0 / HORSEPOWER for name in ("from_kva_per_hp", "to_kva_per_hp"))
            return CodeLetterRange(lowest, highest)
    raise ValueError(f"letter: expected one of {', '.join(row['letter'] for row in rows)}, got {letter!r}")
