"""Claims: numbers in words; SI values come in, short texts with the trade's units go out."""

from __future__ import annotations

import math

_SCALES: dict[str, tuple[tuple[float, str, float], ...]] = {
    # SI unit: (from this size on, unit printed, factor)
    "A": ((1e3, "kA", 1e-3), (0.0, "A", 1.0)),
    "V": ((1e3, "kV", 1e-3), (0.0, "V", 1.0)),
    "VA": ((1e6, "MVA", 1e-6), (0.0, "kVA", 1e-3)),
    "W": ((1e3, "kW", 1e-3), (0.0, "W", 1.0)),
    "s": ((1.0, "s", 1.0), (0.0, "ms", 1e3)),
    "m": ((1.0, "m", 1.0), (0.0, "mm", 1e3)),
    "m2": ((0.0, "mm2", 1e6),),
    "J/m2": ((0.0, "cal/cm2", 1.0 / 41840.0),),
    "A2s": ((0.0, "A2s", 1.0),),
    "J": ((1e3, "kJ", 1e-3), (0.0, "J", 1.0)),
    "ohm": ((1.0, "ohm", 1.0), (0.0, "mohm", 1e3)),
    "ohm/m": ((0.0, "ohm/km", 1e3),),
    "degC": ((0.0, "degC", 1.0),),
    "Hz": ((0.0, "Hz", 1.0),),
    "m3": ((0.0, "L", 1e3),),
    "share": ((0.0, "%", 100.0),),
    "1": ((0.0, "", 1.0),),
}

TIME_RATIO = "time ratio"
"""What a pair of devices is judged by: clearing of the nearer one, with its margin, over the time of the other."""
MOST_TOLD = 1000.0
"""1, ratio above which only this much is told: the device behind acts at once, or the nearer one never."""
NEVER = "never"
"""An infinite time: the device does not act."""
UNLIMITED = "unlimited"
"""Any other infinite quantity."""

DIMENSION_UNITS = {
    "voltage": "V",
    "current": "A",
    "apparent power": "VA",
    "power": "W",
    "share": "share",
    "number": "1",
    "time": "s",
    "length": "m",
    "area": "m2",
    "impedance": "ohm",
    "impedance per length": "ohm/m",
    "temperature": "degC",
    "volume": "m3",
    "incident energy": "J/m2",
    "frequency": "Hz",
    "current squared time": "A2s",
    "energy": "J",
}
"""SI unit of each dimension of the file, as this room writes it."""


def in_words(value: float, unit: str, digits: int = 4) -> str:
    """A value in SI as a person reads it, to `digits` significant digits: 28793.27 A is `28.79 kA`.

    Units not listed stand behind the bare number. An infinite time is `never`.
    """
    if math.isnan(value):
        return "outside the model"
    if math.isinf(value):
        return NEVER if unit == "s" else UNLIMITED
    for smallest, name, factor in _SCALES.get(unit, ((0.0, unit, 1.0),)):
        if abs(value) >= smallest:
            return f"{_plain(value * factor, digits)} {name}".rstrip()
    raise AssertionError(unit)  # every row of the table ends with a scale from 0 on


def _plain(number: float, digits: int) -> str:
    """Significant digits without an exponent and without a minus zero."""
    if number == 0:
        return "0"
    exponent = math.floor(math.log10(abs(number)))
    decimals = max(digits - 1 - exponent, 0)
    text = f"{number:.{decimals}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return text


def path_in_words(path: str) -> str:
    """A path of the file as a person says it: `supply.fault_current` is `supply fault current`."""
    for known in ("operation.places.", "board.feeders.", "motors.groups."):
        path = path.removeprefix(known)
    return path.replace(".", " ").replace("_", " ")


def coverage_in_words(coverage: str, bound: float | None) -> str:
    """How the ranges were covered, with the margin that is proved: `proved: no margin below 12.3 %`."""
    if coverage != "proved" or bound is None or not math.isfinite(bound):
        return coverage
    least = f"no margin below {math.floor(bound * 1000 + 1e-9) / 10:.1f} %"
    return f"{coverage} by the point given; {least}" if bound < 0 else f"{coverage}: {least}"


def number_of(number: int, one: str, more: str) -> str:
    """A number with what is counted: `1 gauge is`, `2 gauges are`."""
    return f"{number} {one if number == 1 else more}"
