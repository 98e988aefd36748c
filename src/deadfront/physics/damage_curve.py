"""Physics: how long a liquid-immersed transformer stands a through-fault. Multiples of rated current in, seconds out.

The curve belongs to the current in a *winding*; what a primary fuse sees during the same fault stands in
`reflection.line_over_winding`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from deadfront.physics.types import Array
from deadfront.tables import read

THERMAL = 1250.0
"""s, I²t of the thermal line, I in multiples of rated current; IEEE C57.109 [M]."""

MECHANICAL_TIME = 2.0
"""s, for which the largest through-fault is stood; IEEE C57.109 [M], IEC 60076-5 likewise [V, restated]."""

IEC_CATEGORIES = ((2.5e6, "I"), (100e6, "II"), (float("inf"), "III"))
"""VA up to which each category of IEC 60076-5 reaches [M]."""

OWN_IMPEDANCE_ALONE = ("I", "II")
"""Categories whose largest through-fault counts the transformer's own impedance alone; C57.12.00 [M]."""


@dataclass(frozen=True, slots=True)
class Category:
    """What a transformer's size says about its through-faults.

    name                "I" to "IV"
    long_test           s, duration of the long short-circuit test; None where it follows from the current (category I,
                        1250 / I²) or there is none (category IV)
    knee_frequent       1, share of the largest through-fault from which the mechanical line holds where faults are
                        frequent; None without one
    knee_infrequent     1, the same where faults are infrequent; None without one
    infrequent_up_to    faults in a life that still are infrequent; None where the category knows no difference
    tag                 how the numbers were verified
    """

    name: str
    long_test: float | None
    knee_frequent: float | None
    knee_infrequent: float | None
    infrequent_up_to: int | None
    tag: str


def transformer_category(rated_power: float, phases: int) -> Category:
    """Category of a liquid-immersed transformer.

    rated_power  VA, least nameplate rating; structural
    phases       1 or 3; structural
    returns      category with its knees
    holds        liquid-immersed
    raises       ValueError: other phases, or a rating below the least of the table
    source       IEEE C57.12.00 categories [V]; IEEE C57.109 knees [M]
    """
    rows = _rows("c57-12-categories", phases)
    least = float(rows[0]["from_kva"])
    if not rated_power >= 1e3 * least:
        raise ValueError(f"rated_power: expected at least {least:g} kVA, got {rated_power / 1e3:g} kVA")
    row = next(row for row in rows if not row["up_to_kva"] or rated_power <= 1e3 * float(row["up_to_kva"]))
    long_test, frequent, infrequent = (
        float(row[column]) if row[column] else None for column in ("long_test_s", "knee_frequent", "knee_infrequent")
    )
    most = row["infrequent_up_to"]
    return Category(row["category"], long_test, frequent, infrequent, int(most) if most else None, row["tag"])


def largest_withstand(rated_power: float, phases: int) -> float:
    """Largest symmetrical through-fault that a category I transformer need stand, multiple of rated current.

    rated_power  VA; structural
    phases       1 or 3; structural
    returns      1: 40, 35 or 25
    holds        category I, liquid-immersed
    raises       ValueError: other phases, or a rating beyond category I, where 1 / (z_t + z_s) holds instead
    source       IEEE C57.12.00 [M]
    """
    rows = _rows("c57-12-largest-withstand", phases)
    for row in rows:
        if rated_power <= 1e3 * float(row["up_to_kva"]):
            return float(row["multiple"])
    raise ValueError(f"rated_power: expected at most {rows[-1]['up_to_kva']} kVA, got {rated_power / 1e3:g} kVA")


def iec_category(rated_power: float) -> str:
    """Category of a transformer by IEC 60076-5.

    rated_power  VA, above zero; structural
    returns      "I" up to 2500 kVA, "II" up to 100 MVA, "III" above
    holds        any cooling
    raises       ValueError: not above zero
    source       IEC 60076-5 [M]
    """
    if not rated_power > 0.0:
        raise ValueError(f"rated_power: expected above zero, got {rated_power:g}")
    return next(name for most, name in IEC_CATEGORIES if rated_power <= most)


def largest_through_fault(transformer_impedance: Array, source_impedance: Array) -> Array:
    """Largest through-fault: 1 / (z_t + z_s).

    transformer_impedance  per unit                                (cases,)
    source_impedance       per unit on the transformer's base; zero for an infinite bus        (cases,)
    returns    multiple of rated current                           (cases,)
    holds      one X/R of both
    raises     nothing
    source     [C]
    """
    return 1.0 / (transformer_impedance + source_impedance)


def winding_multiple(line_current: Array, rated_current: Array, line_over_winding: Array) -> Array:
    """Current in the worst winding, in multiples of rated, of a fault seen in a primary line.

    line_current       A, in the primary line that carries most    (cases,)
    rated_current      A, primary line current at rating           (cases,)
    line_over_winding  1, `reflection.line_over_winding`: Dyn earth fault 0.577, line-line 1.155      (cases,)
    returns    multiple of rated current                           (cases,)
    holds      kind of fault known. Beware: an earth fault behind a delta shows only 0.577 of it in the line
    raises     nothing
    source     symmetrical components [D]; 0.58 of the primary device, after IEEE 242 chapter 15 [V]
    """
    return line_current / (rated_current * line_over_winding)


def thermal_damage_time(multiple: Array) -> Array:
    """Time for which the windings stand a through-fault thermally.

    1250 / I² from 4.75 times rated current on; below that, the published points of short-time load, straight in
    log-log.

    multiple   I  1, of rated current                              (cases,)
    returns    s; NaN below twice rated current: not a fault but a load, which needs a thermal model   (cases,)
    holds      a through-fault of constant current. Beware: 1250 / I² at twice rated gives 312 s, the points 1800 s
    raises     nothing
    source     IEEE C57.109 [M], points of C57.92 [M]
    """
    times, multiples = _short_time_points()
    line = THERMAL / np.square(np.maximum(multiple, multiples[0]))
    points = np.exp(np.interp(np.log(np.maximum(multiple, multiples[0])), np.log(multiples), np.log(times)))
    time = np.where(np.less(multiple, multiples[-1]), points, line)
    return np.where(np.less(multiple, multiples[0]), np.nan, time)


def damage_time(category: Category, multiple: Array, largest: Array, *, frequent: bool) -> Array:
    """Time at which a through-fault reaches the damage curve of the transformer.

    Thermal line; from the knee on, where the category and the frequency of faults ask for it, the mechanical line
    I² t = 2 s I_max².

    category   `transformer_category`; structural
    multiple   1, of rated current, in the worst winding           (cases,)
    largest    1, `largest_through_fault`                          (cases,)
    frequent   whether more faults are to be expected than `infrequent_up_to`: exposed overhead lines on the
               secondary are frequent, conductors in conduit infrequent; structural
    returns    s; at the knee itself the shorter time; NaN below twice rated current       (cases,)
    holds      up to the largest through-fault. Beware: below the knee a limit for the sum of many faults, not for one
    raises     nothing
    source     IEEE C57.109-1993 and 2018: four categories [V], numbers [M]
    """
    thermal = thermal_damage_time(multiple)
    knee = category.knee_frequent if frequent else category.knee_infrequent
    if knee is None:
        return thermal
    # The time of the mechanical line is used from the knee on only; the maximum keeps it a number at no current.
    mechanical = MECHANICAL_TIME * np.square(largest / np.maximum(multiple, knee * largest))
    # Asked this way round, an unknown largest fault leads to the unknown mechanical time, not to the thermal one.
    return np.where(np.less(multiple, knee * largest), thermal, np.minimum(mechanical, thermal))


def damage_heat(category: Category, multiple: Array, largest: Array, *, frequent: bool) -> Array:
    """I²t that a winding may take until the damage curve is reached, current in multiples of rated.

    I² `damage_time`, written so that on the thermal and on the mechanical line the current does not count at all

    category, multiple, largest, frequent, holds, raises  as `damage_time`
    returns    s; NaN below twice rated current                    (cases,)
    source     as `damage_time`
    """
    times, multiples = _short_time_points()
    points = np.interp(np.log(np.maximum(multiple, multiples[0])), np.log(multiples), np.log(times * multiples**2))
    thermal = np.where(np.less(multiple, multiples[-1]), np.exp(points), THERMAL)
    thermal = np.where(np.less(multiple, multiples[0]), np.nan, thermal)
    knee = category.knee_frequent if frequent else category.knee_infrequent
    if knee is None:
        return thermal
    mechanical = np.minimum(MECHANICAL_TIME * np.square(largest), THERMAL)
    return np.where(np.less(multiple, knee * largest), thermal, mechanical)


def iec_withstand_time(multiple: Array, largest: Array) -> Array:
    """Time for which a transformer stands a through-fault thermally by IEC: 2 s (I_max / I)², I above half of I_max.

    multiple   I      1, of rated current                          (cases,)
    largest    I_max  1, `largest_through_fault`                   (cases,)
    returns    s; NaN below half the largest through-fault, where heat has time to leave        (cases,)
    holds      largest through-fault for 2 s, the default
    raises     nothing
    source     IEC 60076-5, 2 s [V, restated]; adiabatic step to smaller currents [D]
    """
    time = MECHANICAL_TIME * np.square(largest / np.maximum(multiple, 0.5 * largest))
    return np.where(np.less(multiple, 0.5 * largest), np.nan, time)


def _short_time_points() -> tuple[Array, Array]:
    """Times and multiples of the points from 60 s up, the multiple rising."""
    table = read("c57-92-short-time-loads")
    times, multiples = table.column("time_s"), table.column("multiple")
    long = times >= 60.0  # above that 1250 / I² does not hold; `thermal_damage_time`
    return times[long][::-1], multiples[long][::-1]


def _rows(table: str, phases: int) -> list[dict[str, str]]:
    if phases not in (1, 3):
        raise ValueError(f"phases: expected 1 or 3, got {phases!r}")
    return read(table).where(phases=str(phases)).rows
