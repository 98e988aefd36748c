"""The demonstrations with ranges far wider than anybody should write: what tests and benchmarks of the budget share."""

from dataclasses import replace
from pathlib import Path

from deadfront.project.quantities import Quantity
from deadfront.project.reading import load

EXAMPLES = Path(__file__).parents[2] / "examples"
FIXED = ("frequency", "temperature", "share")
"""Dimensions left as they are: those of which a tenth more is another system, or no such thing."""

DISTANCES = {
    f"operation.places.{place}.working_distance": (0.1, 3.0) for place in ("main breaker line side", "bus section")
}
X_OVER_R = {"supply.x_over_r": (0.01, 1000.0)}
FAULT_CURRENT = {"supply.fault_current": (100.0, 100e3)}
FILES = {
    "x over r over five decades": ("kestrel-point/unit.yaml", 0.0, X_OVER_R),
    "x over r, repaired": ("kestrel-point/repaired.yaml", 0.0, X_OVER_R),
    "x over r of both feeds": ("tarn-edge/unit.yaml", 0.0, X_OVER_R | {"other_feed.x_over_r": (0.01, 1000.0)}),
    "x over r, no fuses": ("gull-rock/unit.yaml", 0.0, X_OVER_R),
    "fault current over three decades": ("kestrel-point/repaired.yaml", 0.0, FAULT_CURRENT),
    "working distances": ("kestrel-point/unit.yaml", 0.0, DISTANCES),
    "three kinds at once": ("kestrel-point/repaired.yaml", 0.0, X_OVER_R | FAULT_CURRENT | DISTANCES),
    "a tenth everywhere": ("kestrel-point/unit.yaml", 0.1, {}),
    "a tenth everywhere, repaired": ("kestrel-point/repaired.yaml", 0.1, {}),
    "half everywhere": ("kestrel-point/repaired.yaml", 0.5, {}),
}
"""Name: file, share by which every number is widened, and ranges in SI."""


def wide(name):
    """A project of `FILES`."""
    file, share, ranges = FILES[name]
    project = load(EXAMPLES / file)
    quantities = {path: _widened(quantity, share) for path, quantity in project.quantities.items()}
    for path, (low, high) in ranges.items():
        before = quantities[path]
        quantities[path] = Quantity(low, (low + high) / 2, high, f"{low:g} .. {high:g}", before.dimension)
    return replace(project, quantities=quantities)


def _widened(quantity, share):
    if share == 0.0 or quantity.dimension in FIXED:
        return quantity
    return replace(quantity, low=quantity.low * (1.0 - share), high=quantity.high * (1.0 + share))
