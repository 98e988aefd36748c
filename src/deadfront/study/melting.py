"""Study: how early a medium-voltage fuse melts in the unit; its curve, liquid and load come in, a time goes out."""

from __future__ import annotations

from deadfront.physics import curves
from deadfront.physics.types import Array
from deadfront.study import devices, fuse_entries
from deadfront.study.fuse_entries import FUSE_NAMES, FuseName
from deadfront.study.inputs import MissingEntryError
from deadfront.study.walk import Walk


def fitted(walk: Walk) -> tuple[FuseName, ...]:
    """The fuses of the pair that the file has; MissingEntryError without any."""
    found = tuple(name for name in FUSE_NAMES if walk.inputs.entry(f"fuses.{name}") is not None)
    if not found:
        raise MissingEntryError("fuses.limiter")
    return found


def melts_by_curve(walk: Walk, name: FuseName) -> bool:
    """Whether the curve file of a fuse gives melting times; true where it names none yet."""
    file = walk.inputs.maybe_word(f"fuses.{name}.curve")
    return file is None or walk.project.curves[file].minimum_melting is not None


def hot_melting_time(walk: Walk, name: FuseName, current: Array) -> Array:
    """Earliest melting of a fuse in the hottest liquid of the file, after the permitted load, s.

    current    A in the MV line                       (boxes, cases)
    source     liquid shifts the curve, load shortens the time [D]
    """
    file = walk.inputs.word(f"fuses.{name}.curve")
    hottest = walk.inputs.highest("transformer.liquid_temperature")
    liquid = fuse_entries.liquid_factor(walk, name, hottest)
    preload = fuse_entries.preload(walk, name, walk.project.curves[file].current[0])
    own = current / fuse_entries.in_parallel(walk, name)
    return curves.hot_melting_time(devices.curve(walk, file), own, liquid, preload)
