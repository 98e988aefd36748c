"""Operation: what the earths of a unit are made for. A unit and the name of an earth in, its ratings out."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite, isnan

from deadfront.operation.working_earths import MOST_SETS, SHARING, grade_of, sizes, withstand_current
from deadfront.project.model import EarthedPosition, ShortTimeRating, Unit, WorkEarth

SWITCHES = ("switch", "way A", "way B")
"""Devices whose earthed position is rated by `operation.switch_earth`."""


@dataclass(frozen=True, slots=True)
class Missing:
    """What the file lacks of an earth: the path, what it is, an example."""

    path: str
    what: str
    example: str


@dataclass(frozen=True, slots=True)
class Carries:
    """What an earth carries for a time, A; NaN where the rating's table does not reach. `words` say what it is."""

    current: float
    words: str
    source: str
    tag: str


def making_current(unit: Unit, device: str) -> tuple[float | None, str]:
    """Return the peak an earth may be brought onto, A, None where it is not made for that; and the entry that says."""
    path, entry = _entry(unit, device)
    current = entry.making_current if entry is not None else None
    return None if current is None else current.low, f"{path}.making_current"


def carries(unit: Unit, device: str, duration: float, x_over_r: float) -> Carries | Missing:
    """Return the current an earth carries for a duration (s) and can be used again."""
    path, entry = _entry(unit, device)
    if isinstance(entry, WorkEarth) and entry.size is not None and entry.short_time is None:
        return _work_earth(path, entry, entry.size, duration, x_over_r)
    if entry is None or entry.short_time is None:
        what = "short-time withstand of the path to earth"
        if device in SWITCHES:
            return Missing(f"{path}.short_time", what, "{current: 12.5 kA, duration: 1 s}")
        return Missing(f"{path}.size", "size of its copper cable, or the `short_time` of an earthing switch", "4/0")
    return _equal_heating(path, entry.short_time, duration)


def _work_earth(path: str, entry: WorkEarth, size: str, duration: float, x_over_r: float) -> Carries | Missing:
    """An earth of cables: no better than the lowest grade among cable, clamps and ferrules; two sets share unevenly."""
    if size not in sizes():
        return Missing(f"{path}.size", f"one of {', '.join(sizes())}", "4/0")
    grades = {grade_of(one): one for one in sizes()}
    grade, sets = entry.fittings or grade_of(size), entry.sets or 1
    if grade not in grades:
        return Missing(f"{path}.fittings", f"grade of the clamps and ferrules, {min(grades)} to {max(grades)}", "5")
    if sets > MOST_SETS:
        return Missing(f"{path}.sets", "one set, or two in parallel", "2")
    lowest = grades[min(grade, grade_of(size))]
    one = withstand_current(lowest, duration, x_over_r)
    if isnan(one) and isfinite(duration):
        what = f"its rating for {duration * 1000:.0f} ms at this asymmetry, where the table of ASTM F855 has none"
        return Missing(f"{path}.short_time", what, "{current: 42 kA, duration: 1 s}")
    words = f"copper cable {size}"
    words += f", fittings of grade {grade}" if entry.fittings else ""
    words += f", {sets} sets that share unevenly" if sets > 1 else ""
    tag = "V" if sets == 1 else "C"
    return Carries(one if sets == 1 else sets * SHARING * one, words, "ASTM F855", tag)


def backup_clearing(unit: Unit, device: str) -> tuple[float | None, str]:
    """Return the time in which the backup clears a fault at an earth, s, None if the file is silent; and the path."""
    path, entry = _entry(unit, device)
    backup = entry.backup_clearing if entry is not None else None
    return None if backup is None else backup.high, f"{path}.backup_clearing"


def fittings_unknown(unit: Unit, device: str) -> str:
    """Return the path of an earth's fittings where it is one of cables and the file is silent of them; else empty."""
    path, entry = _entry(unit, device)
    cables = isinstance(entry, WorkEarth) and entry.size is not None
    return f"{path}.fittings" if cables and isinstance(entry, WorkEarth) and entry.fittings is None else ""


def _entry(unit: Unit, device: str) -> tuple[str, EarthedPosition | WorkEarth | None]:
    operation = unit.operation
    if device in SWITCHES:
        return "operation.switch_earth", operation.switch_earth if operation else None
    return f"operation.earths.{device}", ((operation.earths if operation else None) or {}).get(device)


def _equal_heating(path: str, rating: ShortTimeRating, duration: float) -> Carries | Missing:
    """The rated current up to the rated time, equal heating beyond it."""
    if rating.current is None or rating.duration is None:
        lacks = "current" if rating.current is None else "duration"
        return Missing(f"{path}.short_time.{lacks}", "short-time withstand", "12.5 kA" if lacks == "current" else "1 s")
    share = min(1.0, rating.duration.low / duration) ** 0.5 if duration > 0 else 1.0
    words = f"{rating.current.low / 1000:.1f} kA for {rating.duration.low:.2g} s, equal heating beyond"
    return Carries(rating.current.low * share, words, "rating in the project file; I2t constant", "C")
