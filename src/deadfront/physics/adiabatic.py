"""Physics: what conductors and screens withstand for the short time of a fault. Arrays in, arrays out.

SI inside: areas in m², so k is in A s^½/m² (a k of 115 A s^½/mm² is 115e6). Circular mils are converted with
`CIRCULAR_MIL`.
"""

from __future__ import annotations

import numpy as np

from deadfront.physics.types import Array
from deadfront.tables import read

CIRCULAR_MIL = np.pi / 4.0 * 0.0254e-3**2
"""Area of a circle of one mil (0.0254 mm, exact) across, m²."""


def k_factor(material: str, initial_temperature: Array, final_temperature: Array) -> Array:
    """Adiabatic factor of a conductor.

    k = √( Q_c (β + 20) / ρ20 · ln((β + θ_f) / (β + θ_i)) )

    material             "copper", "aluminium", "steel" or "lead"
    initial_temperature  θ_i  degC                          (cases,)
    final_temperature    θ_f  degC                          (cases,)
    returns              k    A s^½/m²; NaN where the final temperature is not above the initial one     (cases,)
    holds                durations to 5 s
    raises               ValueError: no such material
    source               IEC 60364-5-54 Annex A, IEC 60949 [V; lead M]
    """
    row = _conductor(material)
    beta, heat, resistivity = (float(row[name]) for name in ("beta_degc", "heat_j_per_k_m3", "rho20_ohm_m"))
    warmer = np.greater(final_temperature, initial_temperature)
    ratio = np.where(warmer, (beta + final_temperature) / (beta + initial_temperature), 1.0)
    return np.where(warmer, np.sqrt(heat * (beta + 20.0) / resistivity * np.log(ratio)), np.nan)


def withstand_current(k: Array, area: Array, duration: Array) -> Array:
    """Largest rms current for a time.

    I = k S / √t

    k         k  A s^½/m²                                   (cases,)
    area      S  m²                                         (cases,)
    duration  t  s, total clearing time of the device that carries this current     (cases,)
    returns   I  A rms                                      (cases,)
    holds     no heat leaves the conductor: on the safe side beyond a second or so
    raises    nothing
    source    IEC 60364-4-43, IEC 60949 [V]
    """
    return k * area / np.sqrt(duration)


def withstand_joule_integral(k: Array, area: Array) -> Array:
    """Largest ∫i²dt, to be held against the fault's or against a current-limiting fuse's let-through.

    k² S²

    k        k  A s^½/m²                                    (cases,)
    area     S  m²                                          (cases,)
    returns  A²s                                            (cases,)
    holds    no heat leaves the conductor
    raises   nothing
    source   IEC 60364-4-43, IEC 60949 [V]
    """
    return np.square(k * area)


def required_area(k: Array, current: Array, duration: Array) -> Array:
    """Smallest cross-section for a current and a time.

    S = I √t / k

    k         k  A s^½/m²                                   (cases,)
    current   I  A rms; the thermal equivalent current      (cases,)
    duration  t  s                                          (cases,)
    returns   S  m²                                         (cases,)
    holds     no heat leaves the conductor
    raises    nothing
    source    IEC 60364-5-54 [V]
    """
    return current * np.sqrt(duration) / k


def non_adiabatic_factor(area: Array, duration: Array, x: Array, y: Array) -> Array:
    """Gain from the heat that flows into the insulation during the fault.

    ε = √(1 + X √(t/S) + Y t/S)

    area      S  m²                                         (cases,)
    duration  t  s                                          (cases,)
    x         X  m/s^½; 0.41e-3 for 0.6/1 kV XLPE on copper
    y         Y  m²/s; 0.12e-6 for 0.6/1 kV XLPE on copper
    returns   ε  1, at least 1; multiplies the adiabatic current     (cases,)
    holds     insulated conductors
    raises    nothing
    source    IEC 60949 [V, with its published example]
    """
    loading = duration / area
    return np.sqrt(1.0 + x * np.sqrt(loading) + y * loading)


def icea_withstand_current(
    material: str, area: Array, duration: Array, initial_temperature: Array, final_temperature: Array
) -> Array:
    """Largest rms current of a conductor or screen for a time, North American practice.

    (I/A)² t = K log10((T2 + β) / (T1 + β)),  A in circular mils; K 0.0297, β 234 copper; K 0.0125, β 228 aluminium

    material             "copper" or "aluminium"
    area                 A   m²; of a screen its effective area     (cases,)
    duration             t   s                              (cases,)
    initial_temperature  T1  degC                           (cases,)
    final_temperature    T2  degC: conductor 250 thermoset, 150 thermoplastic [M]; copper screen 200 [M]     (cases,)
    returns              I   A rms; NaN where the final temperature is not above the initial one     (cases,)
    holds                to about 2 s, longer lies on the safe side
    raises               ValueError: no such material
    source               ICEA P-32-382 conductors [V], P-45-482 screens [M value, calc]
    """
    constants = {"copper": (0.0297, 234.0), "aluminium": (0.0125, 228.0)}
    if material not in constants:
        raise ValueError(f"material: expected one of {', '.join(constants)}, got {material!r}")
    factor, beta = constants[material]
    warmer = np.greater(final_temperature, initial_temperature)
    ratio = np.where(warmer, (final_temperature + beta) / (initial_temperature + beta), 1.0)
    density = np.where(warmer, np.sqrt(factor * np.log10(ratio)), np.nan)
    return density * area / CIRCULAR_MIL / np.sqrt(duration)


def wire_screen_area(wires: Array, wire_diameter: Array) -> Array:
    """Effective area of a screen of wires.

    A = n π d²/4

    wires          n  1                                     (cases,)
    wire_diameter  d  m                                     (cases,)
    returns        A  m²                                    (cases,)
    holds          all wires connected at both ends
    raises         nothing
    source         ICEA P-45-482 (n d² circular mils) [M]
    """
    return wires * np.pi / 4.0 * np.square(wire_diameter)


def tube_screen_area(thickness: Array, mean_diameter: Array) -> Array:
    """Effective area of a tube or extruded sheath.

    A = π b d_m

    thickness      b    m                                   (cases,)
    mean_diameter  d_m  m                                   (cases,)
    returns        A    m²                                  (cases,)
    holds          seamless; a lapped tape is no tube, see `tape_screen_area`
    raises         nothing
    source         ICEA P-45-482 (4 b d_m circular mils) [M]
    """
    return np.pi * thickness * mean_diameter


def tape_screen_area(thickness: Array, mean_diameter: Array, overlap: Array) -> Array:
    """Effective area of a helical tape with overlap, which with age conducts as a helix only.

    A = π b d_m √(1 / (2 (1 - L)))

    thickness      b    m                                   (cases,)
    mean_diameter  d_m  m                                   (cases,)
    overlap        L    1, share of the tape's width        (cases,)
    returns        A    m²                                  (cases,)
    holds          L from 0 to below 1/2; at 1/2 it is the full tube
    raises         nothing
    source         ICEA P-45-482 [M]
    """
    return tube_screen_area(thickness, mean_diameter) * np.sqrt(1.0 / (2.0 * (1.0 - overlap)))


def _conductor(material: str) -> dict[str, str]:
    rows = read("iec60949-conductors").rows
    for row in rows:
        if row["material"] == material:
            return row
    raise ValueError(f"material: expected one of {', '.join(row['material'] for row in rows)}, got {material!r}")
