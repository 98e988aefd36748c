"""Study: one walk from the inputs of a box to results; each result is computed when first asked for and kept."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, Literal, ParamSpec, TypeVar, cast

from deadfront.project.project import Project
from deadfront.station.station import Station
from deadfront.study.cases import Cases
from deadfront.study.inputs import Inputs

Method = Literal["iec", "north-american"]
METHODS: tuple[Method, Method] = ("iec", "north-american")

P = ParamSpec("P")
R = TypeVar("R")


class Walk:
    """A station, its operating cases and the inputs of a box; results hang in `memory`.

    All arrays have the shape (boxes, cases) or broadcast to it. A claim asks only for the results it needs, and so
    only those are computed, and only the ranges they depend on are noted.
    """

    def __init__(self, station: Station, cases: Cases, inputs: Inputs) -> None:
        self.station = station
        self.cases = cases
        self.inputs = inputs
        self.memory: dict[tuple[object, ...], tuple[object, frozenset[str]]] = {}

    @property
    def project(self) -> Project:
        """The project this walk belongs to."""
        return self.inputs.project

    @property
    def method(self) -> Method:
        """The method of short-circuit calculation that this practice's ratings belong to."""
        return "iec" if self.station.unit.practice == "iec" else "north-american"


def remembered(compute: Callable[Concatenate[Walk, P], R]) -> Callable[Concatenate[Walk, P], R]:
    """A result that a walk computes once: the same call on the same walk gives the same object.

    The paths that were read for it are kept beside it, so that whoever gets it from memory depends on them too.
    """

    @wraps(compute)
    def ask(walk: Walk, *args: P.args, **kwargs: P.kwargs) -> R:
        key = (compute, args, tuple(sorted(kwargs.items()))) if kwargs else (compute, args)
        found = walk.memory.get(key)
        readings = walk.inputs.readings
        if found is not None:
            readings[-1] |= found[1]
            return cast(R, found[0])
        inside: set[str] = set()
        readings.append(inside)  # as `Inputs.reading` does, without the cost of a `with`: most of a walk passes here
        try:
            result = compute(walk, *args, **kwargs)
        finally:
            readings.pop()
            readings[-1] |= inside
        walk.memory[key] = (result, frozenset(inside))
        return result

    return cast("Callable[Concatenate[Walk, P], R]", ask)
