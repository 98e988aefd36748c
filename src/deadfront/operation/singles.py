"""Operation: every single failure in one search, blades that weld on the way among them. A machine in, reaches out."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from deadfront.operation.building import build
from deadfront.operation.failures import STUCK_KINDS, places, single_failures
from deadfront.operation.machine import Device, Kind, Machine, Mode
from deadfront.operation.plant import Plant
from deadfront.operation.search import Explored, explore
from deadfront.operation.splitting import split
from deadfront.operation.spreading import spread

FailureSet = frozenset[str]


def every_single(machine: Machine) -> tuple[str, ...]:
    """Return the names of all single failures, and of every blade that may weld where it can be brought to."""
    return (*single_failures(machine), *(f"stuck:{name}@{where}" for name, where in _welds(machine.devices)))


def break_singles(machine: Machine, mode: Mode, sets: Sequence[FailureSet]) -> dict[FailureSet, frozenset[Kind]]:
    """Return the kinds of hazard that each failure set reaches, the sound machine's among them.

    sets     each of at most one blade, and any other failures of `every_single`
    raises   MachineTooLarge; ValueError for one pole of a blade, which `break_all` looks at

    All sets share one search of each sub-plant: which blade has welded is a part of the state, and an added source
    stands still in the sets that have none.
    """
    blades = {name for members in sets for name in members if name.startswith("stuck:")}
    for pole in sorted(blades - every_blade(machine)):
        raise ValueError(f"sets: {pole!r} is no whole blade of the machine; poles are looked at by `break_all`")
    found: dict[FailureSet, frozenset[Kind]] = dict.fromkeys(sets, frozenset())
    for part in split(machine):
        own = frozenset(every_single(part))
        asked = list(dict.fromkeys(members & own for members in sets))
        reaches = spread(_plant(part, mode, asked, tests_at_once=True))
        kinds = {members: frozenset(reach.dangers) for members, reach in zip(asked, reaches, strict=True)}
        found = {members: known | kinds[members & own] for members, known in found.items()}
    return found


def shortest(machine: Machine, mode: Mode, failure: str, kinds: Collection[Kind]) -> tuple[Explored, Kind]:
    """Search until one of some kinds of hazard is met; the search and the kind that is nearest.

    raises  ValueError: none of the kinds is reached with the failure
    """
    search = explore(_plant(machine, mode, [frozenset([failure])], tests_at_once=False), until=frozenset(kinds))
    near = [kind for kind in search.dangers if kind in kinds]
    if not near:
        raise ValueError(f"kinds: none of {', '.join(kinds)} is reached with {failure!r}")
    return search, min(near, key=lambda kind: search.dangers[kind].length)


def _plant(part: Machine, mode: Mode, sets: Sequence[FailureSet], *, tests_at_once: bool) -> Plant:
    named = {name for members in sets for name in members}
    sources = [source.id for source in part.extra_sources if f"source:{source.id}" in named]
    welds = [one for one in _welds(part.devices) if named & {f"stuck:{one[0]}@{one[1]}", f"stuck:{one[0]}"}]
    return build(part, mode, tuple(sets), sources=sources, welds=welds, tests_at_once=tests_at_once)


def every_blade(machine: Machine) -> set[str]:
    """The failures of whole blades, from the outset, on the way, and of those that block their handle."""
    blades = {f"stuck:{device.id}" for device in machine.devices}
    return blades | {f"stuck:{name}@{where}" for name, where in _welds(machine.devices)}


def _welds(devices: Sequence[Device]) -> list[tuple[str, str]]:
    able = (device for device in devices if device.kind in STUCK_KINDS and device.indicator != "shaft")
    return [(device.id, where) for device in able for where in places(device)]
