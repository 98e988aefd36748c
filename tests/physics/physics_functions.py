"""Tests: every public function of the physics room, found by looking, so that a new one is not forgotten."""

from __future__ import annotations

import inspect
import pkgutil
import re
from collections.abc import Callable
from importlib import import_module
from types import ModuleType

from deadfront import physics

Function = Callable[..., object]

STRUCTURES = {
    "band": "`TripBand`: tolerances of a trip",
    "data": "`Coefficients` of the electrodes",
    "edge": "`Edge`: one edge of a fuse's band, A and s",
    "element": "`DelayedElement` of a trip",
    "first": "impedance of one of two branches",
    "gates": "`Gates` of a gG fuse, A and s",
    "limits": "`LetThroughLimits` of a class of fuses",
    "setting": "`ArcSetting`: place of the arc; in `relays` the setting of a relay",
    "trip": "`ElectronicTrip` or `ThermalMagneticTrip`",
}
"""Parameters that are structures, whose fields their own docstrings describe."""


def modules() -> list[ModuleType]:
    """All modules of the room."""
    return [import_module(f"{physics.__name__}.{found.name}") for found in pkgutil.iter_modules(physics.__path__)]


def public(module: ModuleType) -> list[Function]:
    """Functions that the module defines for others."""
    found = inspect.getmembers(module, inspect.isfunction)
    return [f for name, f in found if f.__module__ == module.__name__ and not name.startswith("_")]


def functions() -> list[Function]:
    """All of them."""
    return [function for module in modules() for function in public(module)]


def short_name(function: Function) -> str:
    """Module and function."""
    return f"{function.__module__.rpartition('.')[2]}.{function.__name__}"


def described(function: Function) -> dict[str, str]:
    """What the docstring says of each parameter that begins a line of it, without the shape of the array."""
    text = inspect.getdoc(function) or ""
    found = {}
    for name in inspect.signature(function).parameters:
        line = re.search(rf"^(?:[\w, ]+, )?{name}(?:, [\w, ]+)?\s{{2,}}(\S.*)$", text, re.MULTILINE)
        if name in STRUCTURES:
            found[name] = STRUCTURES[name]
        elif line:
            words = re.sub(r"\s*\([^()]*,\)( each)?$|\s*\(\.\.\., \w+\)$", "", line.group(1).strip())
            found[name] = re.sub(r"\s+", " ", words)
    return found
