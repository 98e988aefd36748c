"""Project: what a reading hands on; the checked unit, its numbers, curves and files, and where each entry stands."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from deadfront.project.errors import Problem
from deadfront.project.quantities import Quantity

if TYPE_CHECKING:
    from deadfront.project.model import Unit
    from deadfront.project.tree import Place


@dataclass(frozen=True, slots=True)
class CurveData:
    """A time-current curve as its file gives it: currents in A, strictly rising; times in s, never rising.

    `minimum_melting` is None for a breaker, whose file has only total clearing times; `total_clearing` is None for an
    expulsion link of which only melting is published.
    """

    current: tuple[float, ...]
    minimum_melting: tuple[float, ...] | None
    total_clearing: tuple[float, ...] | None
    source: str


@dataclass(frozen=True, slots=True)
class Project:
    """One project file, read and checked, with every file it names.

    unit           the slots of the file, with the values of catalogues and schedules merged in
    name           file name, without its folder
    source         bytes of the project file
    files          bytes of each CSV file it names, by relative name
    curves         each curve, by the name that stands in the file
    quantities     every number, by path (`mv_cable.resistance`, `board.feeders.pump hall.cable.length`), those of
                   catalogues and schedules as if they stood in the file
    origins        where each entry stands, by path: `kestrel-point.yaml:21`, `cables.csv:4`
    places         the same with column and text, for what is found wrong after the reading
    demonstration  whether any of it is invented: `data: demonstration`, or a CSV file that says so
    """

    unit: Unit
    name: str
    source: bytes
    files: Mapping[str, bytes]
    curves: Mapping[str, CurveData]
    quantities: Mapping[str, Quantity]
    origins: Mapping[str, str]
    places: Mapping[str, Place]
    demonstration: bool

    @property
    def sha256(self) -> str:
        """Digest of the project file's bytes, in hexadecimal."""
        return hashlib.sha256(self.source).hexdigest()

    def problem(self, path: str, *, expected: str, found: str, remedy: str = "", at_key: bool = False) -> Problem:
        """What is wrong with the entry at a path, where it stands; at the nearest entry around it if it stands nowhere.

        at_key   it is the name of the entry that is wrong, not its value
        """
        near = path
        while near and near not in self.places:
            near = near[: max(near.rfind("."), near.rfind("["), 0)]
        place = self.places.get(near)
        if place is None:
            return Problem(self.name, 0, 0, path, expected, found, remedy)
        mark = place.key if at_key or near != path else place.value
        return place.source.problem(mark, path, expected=expected, found=found, remedy=remedy)

    def text(self, path: str) -> str | None:
        """The entry at `path` as the file writes it; None where the file has none, or it has entries of its own."""
        found: object = self.unit
        for part in path.split("."):
            found = found.get(part) if isinstance(found, Mapping) else getattr(found, part, None)
        if isinstance(found, Quantity):
            return found.text
        return str(found) if isinstance(found, str | int) else None
