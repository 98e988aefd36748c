"""Study: what devices are rated for; a time or a row of a table comes in, a rating goes out. File entries win."""

from __future__ import annotations

import numpy as np

from deadfront.physics.types import Array
from deadfront.study import fuse_entries
from deadfront.study.inputs import Assumed, MissingEntryError
from deadfront.study.walk import Walk
from deadfront.tables import read

BRACING_TEST_POWER_FACTOR = 0.20
"""Power factor of bracing tests above 20 kA: X/R 4.9, as for a moulded case of that size [C]."""


INSTANT = 1e-4
"""Stands for an instant clearing where a time divides, s: keeps roots finite, far below any device."""

CLASS_ROUNDING = 1.0
"""V, within which a file's voltage class is one of the standard's."""

LEAST_RATING = 1.0
"""Stands for a rating that an endless time leaves nothing of, A: keeps a margin finite below it."""


def short_time_current(walk: Walk, time: Array) -> Array:
    """Short-time current of the MV connectors for a time, A.

    I1 up to t1; between the two published points the larger of equal heating from the first and the second, never
    above I1; beyond t2 equal heating from the second. Screening, conservative [D].
    """
    first, first_time, second, second_time = _connector_points(walk)
    bounded = np.maximum(time, INSTANT)
    between = np.minimum(first, np.maximum(first * np.sqrt(first_time / bounded), second))
    beyond = second * np.sqrt(second_time / bounded)
    late = np.where(np.less_equal(time, second_time), between, beyond)
    return np.maximum(np.where(np.less_equal(time, first_time), first, late), LEAST_RATING)


def least_connector_time(walk: Walk, time: Array) -> Array:
    """Time for which the MV connectors surely carry `short_time_current`, s: at least that of their first point."""
    return np.maximum(time, _connector_points(walk)[1])


def _connector_points(walk: Walk) -> tuple[Array, Array, Array, Array]:
    """Two short-time points: the file's, or those of the interface's standard row, listed as an assumption."""
    read_number = walk.inputs.number
    if walk.inputs.given("terminations.short_time.current"):
        first = (read_number("terminations.short_time.current"), read_number("terminations.short_time.duration"))
        if not walk.inputs.given("terminations.short_time_long.current"):
            return (*first, *first)
        return (
            *first,
            read_number("terminations.short_time_long.current"),
            read_number("terminations.short_time_long.duration"),
        )
    interface = walk.inputs.maybe_word("terminations.interface")
    if interface is None:
        raise MissingEntryError("terminations.short_time.current")
    voltage = walk.inputs.highest("terminations.voltage_class")  # a higher class has no lower rating
    rows = [
        r
        for r in read("ieee386-connectors").rows
        if r["interface"] == interface and float(r["class_v"]) >= voltage * 0.999
    ]
    if not rows:
        raise MissingEntryError("terminations.short_time.current")
    row = rows[0]
    low, high = (f"{float(row[name]) / 1e3:g} kA" for name in ("first_a", "second_a"))
    text = f"A {interface} connector is taken to carry {low} for {row['first_s']} s, {high} for {row['second_s']} s."
    confirm = "Data sheet of the fitted connector."
    walk.inputs.note(Assumed("terminations.short_time", text, "IEEE 386 ratings", row["tag"], confirm))
    return (float(row["first_a"]), float(row["first_s"]), float(row["second_a"]), float(row["second_s"]))


def connector_row(walk: Walk) -> dict[str, str] | None:
    """The row of IEEE 386 of the connectors' class; None in the IEC practice, or for a class it does not have."""
    if walk.method == "iec":
        return None
    lowest = walk.inputs.lowest("terminations.voltage_class")  # of a range of classes the lowest is on the safe side
    rows = (row for row in read("ieee386-connectors").rows if abs(float(row["class_v"]) - lowest) <= CLASS_ROUNDING)
    return next(rows, None)


def connector_voltage(walk: Walk) -> Array:
    """Largest voltage between lines that the MV connectors are made for, V: of the class of IEEE 386, or the class."""
    row = connector_row(walk)
    if row is None:
        return walk.inputs.number("terminations.voltage_class")
    between, to_earth = float(row["line_to_line_v"]), float(row["line_to_earth_v"])
    text = (
        f"A connector of the {float(row['class_v']) / 1e3:g} kV class is taken to be made for {between / 1e3:g} kV "
        f"between lines and {to_earth / 1e3:g} kV to earth."
    )
    confirm = "Data sheet of the fitted connector."
    walk.inputs.note(Assumed("terminations.voltage_class", text, "IEEE 386 ratings", "M", confirm))
    return between


def connector_voltage_to_earth(walk: Walk) -> Array:
    """Largest voltage to earth that connectors of a class of IEEE 386 are made for, V; NaN for another class."""
    row = connector_row(walk)
    return np.nan if row is None else float(row["line_to_earth_v"])


def voltage_to_earth(walk: Walk) -> Array:
    """Highest voltage between a line and earth in service, V; where the neutral is not solidly earthed, U itself.

    source    IEEE 386 practice [M]: an earth fault lifts the sound lines to the voltage between lines
    """
    highest = fuse_entries.highest_line_voltage(walk)
    return highest / np.sqrt(3.0) if walk.inputs.word("supply.earthing") == "solid" else highest


def making_capacity(walk: Walk, path: str) -> Array:
    """Rated making capacity of a low-voltage breaker, A peak: the file's, or n times Icu, listed as an assumption."""
    if walk.inputs.given(f"{path}.making_current"):
        return walk.inputs.number(f"{path}.making_current")
    return _times_factor(walk, f"{path}.making_current", f"{path}.interrupting", "IEC 60947-2 Table 2")


def bus_peak(walk: Walk) -> Array:
    """Peak withstand of the low-voltage bus, A: the file's, or from its short-time current by the practice's rule."""
    if walk.inputs.given("board.bus.peak_withstand"):
        return walk.inputs.number("board.bus.peak_withstand")
    if walk.method == "iec":
        return _times_factor(walk, "board.bus.peak_withstand", "board.bus.short_time.current", "IEC 61439-1 Table 7")
    ratio = np.tan(np.arccos(BRACING_TEST_POWER_FACTOR))
    factor = float(np.sqrt(2.0) * (1.0 + np.exp(-np.pi / ratio)))
    text = f"The LV bus is taken as tested at power factor 0.20: peak {factor:.3g} times the symmetrical current."
    walk.inputs.note(
        Assumed("board.bus.peak_withstand", text, "UL 891 practice", "C", "Test report or nameplate of the board.")
    )
    return factor * walk.inputs.number("board.bus.short_time.current")


def _times_factor(walk: Walk, key: str, path: str, source: str) -> Array:
    rated = walk.inputs.lowest(path)  # the factor grows with the rating: that of the lowest is on the safe side
    row = next(r for r in read("iec60947-2-making").rows if float(r["from_a"]) < rated <= float(r["to_a"]))
    text = f"{key} is taken as {row['factor']} times {path}."
    walk.inputs.note(Assumed(key, text, source, row["tag"], "Data sheet of the device."))
    return float(row["factor"]) * walk.inputs.number(path)
