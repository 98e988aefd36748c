"""Dossier: what stands beside a device on a drawing. A slot of the file comes in, its ratings as entered go out."""

from __future__ import annotations

from collections.abc import Mapping

from deadfront.claims.numbers import raised
from deadfront.project.model import Slot, Unit
from deadfront.project.quantities import Quantity

# For each slot its lines; a line is a row of (words before, entry, words after), those without an entry left out.
_Line = tuple[tuple[str, str, str], ...]
_CABLE: tuple[_Line, ...] = (
    (("", "length", ""),),
    (("", "parallel", " x"), ("", "conductor_area", ""), ("", "conductor", "")),
    (("", "type", ""),),
)
_DEVICE: tuple[_Line, ...] = ((("", "rating", ","), ("", "kind", "")), (("interrupts ", "interrupting", ""),))
_LINES: dict[str, tuple[_Line, ...]] = {
    "supply": (
        (("", "voltage", ""),),
        (("fault ", "fault_current", ""), ("fault ", "fault_power", "")),
        (("X/R ", "x_over_r", ""),),
        (("neutral earthing: ", "earthing", ""),),
    ),
    "other_feed": ((("fault ", "fault_current", ""), ("fault ", "fault_power", "")), (("X/R ", "x_over_r", ""),)),
    "cable": _CABLE,
    "mv_cable": _CABLE,
    "terminations": ((("", "interface", ""),), (("", "voltage_class", " class"),)),
    "switch": (
        (("", "voltage", ","), ("", "continuous", "")),
        (("", "short_time.current", ""), ("for ", "short_time.duration", "")),
    ),
    "bayonet": ((("", "rating", ""),), (("interrupts ", "interrupting", ""),)),
    "limiter": ((("", "rating", ""),), (("interrupts ", "interrupting", ""),)),
    "transformer": (
        (("", "rating", ","), ("", "connection", "")),
        (("", "primary_voltage", ""), ("/ ", "secondary_voltage", "")),
        (("impedance ", "impedance", ""),),
        (("", "liquid", ","), ("", "volume", "")),
    ),
    "tie": ((("", "device.rating", ","), ("", "device.kind", "")), (("brings ", "fault_current", ""),)),
    "standby_generator": ((("", "rating", ","), ("", "voltage", "")), (('X"d ', "subtransient_reactance", ""),)),
    "groups": ((("", "power", ""),),),
}


def ratings_of(unit: Unit, path: str) -> list[str]:
    """The ratings that the file gives for the slot at `path`, in the file's own text, a few lines.

    An empty list where the slot is missing or gives none of them: nothing is supplied in its place.
    """
    slot = found(unit, path)
    if not isinstance(slot, Slot):
        return []
    lines = (" ".join(_pieces(slot, line)).rstrip(",") for line in _LINES.get(_kind(path), _DEVICE))
    return [line for line in lines if line]


def found(unit: Unit, path: str) -> object:
    """What stands at a path of the file, or None."""
    at: object = unit
    for name in path.split("."):
        at = at.get(name) if isinstance(at, Mapping) else getattr(at, name, None)
    return at


def _kind(path: str) -> str:
    parts = path.split(".")
    return "groups" if "groups" in parts else parts[-1]


def _pieces(slot: Slot, line: _Line) -> list[str]:
    pieces = []
    for before, name, after in line:
        entry: object = slot
        for part in name.split("."):
            entry = getattr(entry, part, None)
        if entry is not None:
            pieces.append(f"{before}{raised(entry.text) if isinstance(entry, Quantity) else entry}{after}")
    return pieces
