"""Operation: each barrier broken in turn, and two at a time. A machine in, what every failure lets hands reach out."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np

from deadfront.operation.building import SOUND, build
from deadfront.operation.coding import Coding, device_digit
from deadfront.operation.index import Codes
from deadfront.operation.machine import Device, Kind, Machine, Mode
from deadfront.operation.phases import POLES, of_pole, pole_of
from deadfront.operation.plant import Plant
from deadfront.operation.search import Explored, explore
from deadfront.operation.splitting import split
from deadfront.operation.spreading import Reach, spread

FailureSet = frozenset[str]

FAILING_BY = ("mechanical", "key", "tool")
"""Guards that hardware keeps, and can therefore lose; reach cannot fail, and a rule is not hardware."""

STUCK_KINDS = ("switch", "breaker")
"""Devices whose blade can weld."""


def single_failures(machine: Machine) -> tuple[str, ...]:
    """Return the names of all single failures: guards, keys, locks, blades, indicators, stores, extra sources."""
    guards = (g for d in machine.devices for m in d.moves for g in m.guards)
    tests = (g for test in machine.tests for g in test.guards)
    names = [f"defeat:{guard.id}" for guard in (*guards, *tests) if guard.by in FAILING_BY]
    names += [f"dupkey:{key.code}" for key in machine.keys]
    for lock in machine.locks:
        names += [f"lockbolt:{lock.id}", f"lockrelease:{lock.id}"]
    for device in machine.devices:
        if weldable(device):
            names += [f"stuck:{device.id}", *(f"stuck:{of_pole(device.id, pole)}" for pole in _poles(device))]
    names += [f"indicator:{test.id}" for test in machine.tests]
    names += [f"bleed:{store.id}" for store in machine.stores if store.drains]
    names += [f"source:{source.id}" for source in machine.extra_sources]
    return tuple(dict.fromkeys(names))


def weldable(device: Device) -> bool:
    """Whether a blade of the device can weld at the outset: a switch or breaker that starts closed and can move."""
    return device.kind in STUCK_KINDS and device.start == "closed" and bool(device.moves)


def _poles(device: Device) -> tuple[str, ...]:
    """The poles that can weld alone: of a ganged device in a machine drawn with three phases."""
    found = {pole_of(edge) for _, edges in device.edges for edge in edges} - {None}
    return POLES if len(found) == len(POLES) and device.indicator != "shaft" else ()


def _welded(machine: Machine, name: str) -> Device:
    """The device of a blade, or of one pole of it."""
    for device in machine.devices:
        if name == device.id or name in (of_pole(device.id, pole) for pole in _poles(device)):
            return device
    raise KeyError(name)


@dataclass(frozen=True, slots=True)
class Broken:
    """What a machine does with each failure set, in one mode, beside what it does unbroken."""

    sound: frozenset[Kind]
    reaches: dict[FailureSet, Reach]
    left_out: frozenset[FailureSet]
    """Sets that the budget left no room for: nothing is known of them."""
    spared: frozenset[FailureSet]
    """Sets that cannot add a hazard, because hands that know no rules reach nothing new with them."""

    def new(self, failures: Iterable[str]) -> dict[Kind, int]:
        """The kinds of hazard that a failure set adds to the unbroken station, with their shortest lengths.

        KeyError for a set that was not looked at.
        """
        if frozenset(failures) in self.spared:
            return {}
        reach = self.reaches[frozenset(failures)]
        return {kind: length for kind, length in reach.dangers.items() if kind not in self.sound}

    def verdict(self, failures: Iterable[str]) -> Literal["flips", "still safe", "no new hazard", "left out"]:
        """Whether a failure set adds a kind of hazard; if not, whether the unbroken station had none to begin with."""
        if frozenset(failures) in self.left_out:
            return "left out"
        if self.new(failures):
            return "flips"
        return "no new hazard" if self.sound else "still safe"

    def only_together(self, one: str, other: str) -> tuple[Kind, ...]:
        """The kinds that two failures reach together and neither reaches alone, sorted; KeyError as `new`."""
        alone = self.new([one]).keys() | self.new([other]).keys()
        return tuple(sorted(self.new([one, other]).keys() - alone))


def failure_sets(names: Sequence[str], *, pairs: bool) -> list[FailureSet]:
    """No failure, each one, and with `pairs` each two together, in the order of their names."""
    sets = [frozenset[str]()] + [frozenset([name]) for name in names]
    return sets + [frozenset(pair) for pair in combinations(names, 2)] if pairs else sets


def break_all(
    machine: Machine,
    mode: Mode,
    *,
    pairs: bool = False,
    only: Collection[FailureSet] | None = None,
    budget: int | None = None,
    tests_at_once: bool = False,
    progress: Callable[[int, int], None] | None = None,
) -> Broken:
    """Return what every single failure (and with `pairs` every two together) lets hands reach, failed from the outset.

    Sets that share their blades and sources are explored in one search. `only` names the sets that are looked at; all
    of them if it is not given. `budget`: once so many states were looked at no further search is begun, and the sets
    that are left are told as such. `tests_at_once`: kinds of hazard alone, by far fewer states (see `build`).
    `progress` gets sets done and sets in all.
    """
    every = failure_sets(single_failures(machine), pairs=pairs)
    sets = [members for members in every if only is None or not members or members in only]
    parts = split(machine)
    spending = _Spending(budget, tests_at_once)
    found: list[_PartReaches] = []
    done = 0
    for part in parts:
        found.append({})
        own = frozenset(single_failures(part))
        for reaches in _break_part(part, mode, list(dict.fromkeys(members & own for members in sets)), spending):
            found[-1] |= reaches
            done += len(reaches)
            if progress is not None:
                progress(min(done, len(sets) - 1), len(sets))
    names = [frozenset(single_failures(part)) for part in parts]
    reaches = {s: r for s in sets if (r := _together(found, [s & own for own in names])) is not None}
    if progress is not None:
        progress(len(sets), len(sets))
    left_out = frozenset(members for members in sets if members not in reaches)
    return Broken(frozenset(reaches[frozenset()].dangers), reaches, left_out, frozenset())


_PartReaches = dict[FailureSet, Reach]


@dataclass(slots=True)
class _Spending:
    """How many states may be looked at, how closely, and how many were."""

    budget: int | None
    tests_at_once: bool
    spent: int = 0

    @property
    def over(self) -> bool:
        return self.budget is not None and self.spent >= self.budget


def _break_part(part: Machine, mode: Mode, sets: Sequence[FailureSet], spending: _Spending) -> Iterator[_PartReaches]:
    """What failure sets of one sub-plant reach in it, group by group; the first group holds the sound sub-plant."""
    for n, ((blades, sources), members) in enumerate(_groups(part, sets).items()):
        if n and spending.over:
            return
        frozen = {name: _welded(part, name).start for name in blades}
        at_once = spending.tests_at_once
        plant = build(part, mode, tuple(members), frozen=frozen, sources=sources, tests_at_once=at_once)
        reaches = spread(plant)
        spending.spent += max(reach.states for reach in reaches)
        yield dict(zip(members, reaches, strict=True))


def _together(parts: Sequence[_PartReaches], members: Sequence[FailureSet]) -> Reach | None:
    """Sub-plants are independent: states multiply, and each hazard is as near as where it is nearest.

    `members` are the failures of a set that each part knows; None where a part was not looked at with them.
    """
    states, dangers = 1, dict[Kind, int]()
    for part, own in zip(parts, members, strict=True):
        if own not in part:
            return None
        states *= part[own].states
        for kind, length in part[own].dangers.items():
            dangers[kind] = min(length, dangers.get(kind, length))
    return Reach(states, dict(sorted(dangers.items(), key=lambda item: item[1])))


Build = tuple[tuple[str, ...], tuple[str, ...]]
"""Blades that do not follow, and sources that are added."""


def _groups(machine: Machine, sets: Sequence[FailureSet]) -> dict[Build, list[FailureSet]]:
    groups: dict[Build, list[FailureSet]] = {}
    for members in sets:
        groups.setdefault(_build_of(machine, members), []).append(members)
    return groups


def _build_of(machine: Machine, members: FailureSet) -> Build:
    welded = [name.removeprefix("stuck:") for name in sorted(members) if name.startswith("stuck:")]
    blades = tuple(name for name in welded if _welded(machine, name).indicator != "shaft")
    return blades, tuple(name.removeprefix("source:") for name in sorted(members) if name.startswith("source:"))


def explore_broken(machine: Machine, mode: Mode, failures: Iterable[str]) -> Explored:
    """Explore one failure set on its own, so that the sequences to its hazards can be told."""
    members = frozenset(failures)
    unknown = sorted(members - set(single_failures(machine)))
    if unknown:
        raise ValueError(
            f"failures: unknown failure {unknown[0]!r}, expected one of: {', '.join(single_failures(machine))}"
        )
    blades, sources = _build_of(machine, members)
    frozen = {name: _welded(machine, name).start for name in blades}
    return explore(build(machine, mode, (members,), frozen=frozen, sources=sources))


def break_midway(
    machine: Machine,
    mode: Mode,
    *,
    base: Explored | None = None,
    every: bool = False,
    only: Collection[str] | None = None,
) -> dict[str, Reach]:
    """Return what each failure lets hands reach when it may happen at any moment, as a move of the world.

    The search goes on from every state of the sound station, at the distance of that state: nothing is explored twice.
    A blade may weld in any position it can be brought to, also that of a device that starts open: `stuck:WT@earthed` is
    a name here. The other failures only add moves, or readings that say dead: they are at their worst from the outset,
    and are looked at only if `every` is set. A store that no longer drains takes a move away, and is always looked at.
    `only` names the failures that are looked at, all of them if it is not given.
    The lengths count hand actions before and after the failure. States counted are those after it.
    """
    sound = base if base is not None else explore(build(machine, mode, SOUND))
    reaches: dict[str, Reach] = {}
    shafts = [f"stuck:{d.id}" for d in machine.devices if d.indicator == "shaft" and weldable(d)]
    plain = [name for name in single_failures(machine) if not name.startswith("stuck:") or name in shafts]
    plain = [name for name in plain if every or name.startswith("bleed:") or name in shafts]
    plain = [name for name in plain if only is None or name in only]
    for (_, sources), members in _groups(machine, [frozenset([name]) for name in plain]).items():
        plant = build(machine, mode, tuple(members), sources=sources)
        everywhere = np.ones(sound.states, dtype=np.bool_)
        found = spread(plant, _arrivals(sound, plant, everywhere))
        reaches |= {next(iter(one)): reach for one, reach in zip(members, found, strict=True)}
    for device in machine.devices:
        if device.kind in STUCK_KINDS and device.indicator != "shaft":
            for position in places(device):
                name = f"stuck:{device.id}@{position}"
                if only is not None and name not in only:
                    continue
                plant = build(machine, mode, (frozenset([name]),), frozen={device.id: position})
                there = _standing(sound, device, position)
                if there.any():
                    reaches[name] = spread(plant, _arrivals(sound, plant, there))[0]
    return reaches


def places(device: Device) -> tuple[str, ...]:
    """Return the positions that a device can be brought to, in their order; none of one that never moves."""
    used = {device.start} | {move.target for move in device.moves}
    return tuple(position for position in device.positions if position in used) if device.moves else ()


def _standing(sound: Explored, device: Device, position: str) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    digit = sound.plant.coding.fields[device_digit(device.id)]
    standing: np.ndarray[tuple[int], np.dtype[np.bool_]] = (sound.codes // digit.stride) % digit.size == digit.number(
        position
    )
    return standing


def _arrivals(
    sound: Explored, plant: Plant, where: np.ndarray[tuple[int], np.dtype[np.bool_]]
) -> dict[int, tuple[Codes, np.ndarray[tuple[int, int], np.dtype[np.uint64]]]]:
    """The sound station's states as states of the broken one, by distance; what is added stands as at its outset."""
    codes = _recoded(sound.codes[where], sound.plant.coding, plant.coding)
    distance = sound.distance[where]
    arrivals = {}
    for moves in np.unique(distance):
        here = codes[distance == moves]
        added = [(here + (number - plant.coding.start), words) for number, words in plant.starts]
        numbers = np.concatenate([shifted for shifted, _ in added])
        words = np.concatenate([np.tile(own, (here.size, 1)) for _, own in added])
        arrivals[int(moves)] = numbers, words
    return arrivals


def _recoded(codes: Codes, old: Coding, new: Coding) -> Codes:
    result = np.full(codes.shape, new.start, dtype=np.int64)
    for name, digit in old.fields.items():
        into = new.fields[name]
        value = (codes // digit.stride) % digit.size
        result += np.array([into.number(v) for v in digit.values])[value] * into.stride - into.start * into.stride
    return result
