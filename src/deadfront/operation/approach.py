"""Operation: how near a person may come. A voltage and an altitude in, distances of each edition out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from deadfront.project.model import Approach, Unit
from deadfront.tables import read
from deadfront.tables.reading import Table


def _band(table: Table, voltage: float, column: str) -> float:
    """The row whose span of voltages holds the voltage, upper end included; NaN outside the table."""
    for row in table.rows:
        if float(row["above_v"]) < voltage <= float(row["up_to_v"]):
            return float(row[column])
    return float("nan")


def limited_boundary(voltage: float) -> float:
    """Limited approach boundary to fixed circuit parts, m; NaN outside 300 V to 46 kV between phases.

    source  NFPA 70E, older edition, V2 up to 15 kV, V above; a boundary, and not a minimum approach distance
    """
    return _band(read("nfpa70e-shock-boundaries"), voltage, "limited_fixed_m")


def restricted_boundary(voltage: float) -> float:
    """Restricted approach boundary, m; NaN outside 300 V to 46 kV between phases. Source: as `limited_boundary`."""
    return _band(read("nfpa70e-shock-boundaries"), voltage, "restricted_m")


def live_working_limit(voltage: float) -> float:
    """Outer limit DL of the live working zone, m, at a nominal voltage, V; 0 up to 1 kV, which means no contact.

    Linear between the rows of the table, NaN above 110 kV. Between 1 and 3 kV the row of 3 kV: no contact is no number
    to begin a line at.
    source  EN 50110-1, Table A.1, guidance, V; neither an approach boundary nor a minimum approach distance
    """
    return 0.0 if voltage <= _LOW_VOLTAGE else _between("live_working_m", voltage)


def vicinity_limit(voltage: float) -> float:
    """Outer limit DV of the vicinity zone, m; as `live_working_limit`, and 0.3 m up to 1 kV."""
    table = read("en50110-1-distances")
    return float(table.column("vicinity_m")[0]) if voltage <= _LOW_VOLTAGE else _between("vicinity_m", voltage)


_LOW_VOLTAGE = 1000.0
"""The first row of EN 50110-1, Table A.1: up to here no contact, V."""


def _between(column: str, voltage: float) -> float:
    table = read("en50110-1-distances")
    rated, distance = table.column("nominal_v")[1:], table.column(column, blank=0.0)[1:]
    return float(np.interp(voltage, rated, distance, right=np.nan))


def minimum_approach(voltage: float, altitude: float) -> float:
    """Minimum approach distance phase to ground of an employer's duty, m; NaN outside 5 to 46 kV or above 3000 m.

    M + A D; A grows with the altitude in steps, the next higher step is taken.
    source  OSHA 1910.269 tables R-3 and R-5 (2014), M
    """
    table = read("osha-approach-parts")
    movement = _band(table, voltage, "movement_m")
    return movement + altitude_factor(altitude) * _band(table, voltage, "electrical_to_ground_m")


def altitude_factor(altitude: float) -> float:
    """Factor on the electrical part of the distance; NaN above 3000 m. Source: OSHA 1910.269 table R-5, M."""
    table = read("osha-approach-altitude")
    for row in table.rows:
        if altitude <= float(row["altitude_m"]):
            return float(row["factor"])
    return float("nan")


@dataclass(frozen=True, slots=True)
class Distances:
    """How near people may come to a bare live part: where approaching begins, and the limit that needs protection, m.

    `inner` is 0 where the rule says no contact. `words` name both as their rule does: a boundary of one practice is
    another thing than a zone of the other.
    """

    outer: float
    inner: float
    words: str
    source: str
    tag: str


GUIDANCE = "EN 50110-1, Table A.1, guidance"
"""Where the distances of the IEC practice come from, unless the file gives the site's own."""


def practice_distances(practice: str, voltage: float) -> Distances | None:
    """Return the distances of a practice's table at a voltage between phases, V; None where it has no row."""
    if practice == "north-american":
        outer, inner = limited_boundary(voltage), restricted_boundary(voltage)
        words = f"limited approach boundary {outer:.2f} m, restricted {inner:.2f} m"
        found = Distances(outer, inner, words, "NFPA 70E, older edition", "V")
    else:
        outer, inner = vicinity_limit(voltage), live_working_limit(voltage)
        near = f"begins at {inner:.2f} m" if inner else "begins at contact"
        words = f"vicinity zone begins at {outer:.2f} m, live working zone {near}"
        found = Distances(outer, inner, words, GUIDANCE, "V")
    return found if found.outer > 0 else None


def own_distances(approach: Approach | None, *, low: bool) -> Distances | None:
    """Return the distances of the site's own rule book at the board's or the supply's voltage, if the file has both."""
    own = (approach.low_voltage if low else approach.medium_voltage) if approach else None
    if approach is None or own is None or own.inner is None or own.outer is None:
        return None
    outer, inner = own.outer.high, own.inner.high
    words = f"approaching begins at {outer:.2f} m, with protection up to {inner:.2f} m"
    return Distances(outer, inner, words, approach.source or "source not given", "M")


def distance_words(practice: str, voltage: float | None, altitude: float | None) -> str:
    """Return the distances at a voltage as a sheet's header says them, each with the edition it comes from."""
    if voltage is None:
        return "distances: the file gives no voltage; take them from the site's own rules"
    found = practice_distances(practice, voltage)
    if found is None:
        return f"distances: no row for {voltage / 1000:.2f} kV; take them from the site's own rules"
    if practice != "north-american":
        return f"{found.words} at {voltage / 1000:.4g} kV ({found.source}; the national annex governs)"
    words = f"{found.words} ({found.source})"
    duty = minimum_approach(voltage, altitude) if altitude is not None else float("nan")
    return f"{words}; minimum approach distance {duty:.2f} m (OSHA 1910.269, 2014)" if duty > 0 else words


def unit_distances(unit: Unit) -> str:
    """Return the distances that hold at a unit: those of the site's own rule book, or of the practice's tables."""
    own = own_distances(unit.operation.approach if unit.operation else None, low=False)
    if own is not None:
        return f"{own.words} ({own.source})"
    voltage = unit.supply.voltage.high if unit.supply and unit.supply.voltage else None
    altitude = unit.site.altitude.high if unit.site and unit.site.altitude else None
    return distance_words(unit.practice, voltage, altitude)
