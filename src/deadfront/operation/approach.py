"""Operation: how near a person may come. A voltage and an altitude in, distances of each edition out."""

from __future__ import annotations

from deadfront.project.model import Unit
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


def distance_words(voltage: float | None, altitude: float | None) -> str:
    """Return the distances at a voltage as a sheet's header says them, each with the edition it comes from."""
    if voltage is None:
        return "distances: the file gives no voltage; take them from the site's own rules"
    limited, restricted = limited_boundary(voltage), restricted_boundary(voltage)
    if not limited > 0:
        return f"distances: no row for {voltage / 1000:.2f} kV; take them from the site's own rules"
    words = f"limited approach boundary {limited:.2f} m, restricted {restricted:.2f} m (NFPA 70E, older edition)"
    duty = minimum_approach(voltage, altitude) if altitude is not None else float("nan")
    return f"{words}; minimum approach distance {duty:.2f} m (OSHA 1910.269, 2014)" if duty > 0 else words


def unit_distances(unit: Unit) -> str:
    """Return the distances that hold at a unit: those of the site's own rule book, or of the practice's tables."""
    approach = unit.operation.approach if unit.operation else None
    own = approach.medium_voltage if approach else None
    if approach is not None and own is not None and own.inner is not None and own.outer is not None:
        source = approach.source or "source not given"
        return f"approaching begins at {own.outer.high:.2f} m, with protection up to {own.inner.high:.2f} m ({source})"
    if unit.practice != "north-american":
        return "distances: the file gives none (`operation.approach`); take them from the site's own rules"
    voltage = unit.supply.voltage.high if unit.supply and unit.supply.voltage else None
    altitude = unit.site.altitude.high if unit.site and unit.site.altitude else None
    return distance_words(voltage, altitude)
