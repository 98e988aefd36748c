"""Operation: sub-plants that have nothing to do with each other. A machine in, independent machines out."""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from dataclasses import replace

from deadfront.operation.atoms import (
    Atom,
    BladeIn,
    Dead,
    DeviceIn,
    Discharged,
    Earthed,
    KeyInHand,
    LockHasKey,
    Tested,
    simple_parts,
)
from deadfront.operation.machine import EARTH, Machine

Thing = tuple[str, Hashable]


class _Groups:
    """Things that are joined, however indirectly."""

    def __init__(self) -> None:
        self._leader: dict[Thing, Thing] = {}

    def of(self, thing: Thing) -> Thing:
        self._leader.setdefault(thing, thing)
        while self._leader[thing] != thing:
            self._leader[thing] = self._leader[self._leader[thing]]
            thing = self._leader[thing]
        return thing

    def join(self, things: Iterable[Thing]) -> None:
        first: Thing | None = None
        for thing in things:
            first = self.of(thing) if first is None else first
            self._leader[self.of(thing)] = first


def _device(name: str) -> Thing:
    return "device", name


def _point(name: str) -> Thing:
    return "point", name


def _code(machine: Machine, slot: str) -> Thing:
    return "code", machine.slots()[slot]


_GRID: Thing = ("grid", "")
"""Stands for everything electrical at once: a fault anywhere, or a proved-dead mark that any electrical move clears."""


def _mentioned(machine: Machine, sentence: Atom) -> list[Thing]:
    found: list[Thing] = []
    for atom in simple_parts(sentence):
        match atom:
            case DeviceIn(name) | BladeIn(name):
                found.append(_device(name))
            case LockHasKey(name):
                found.append(_code(machine, name))
            case KeyInHand(name):
                found.append(("code", name))
            case Tested(name) | Earthed(name):
                found.append(_point(name))
            case Dead(name):
                found += [_point(name), _GRID]
            case Discharged(name):
                found += [_point(store.at) for store in machine.stores if store.id == name]
    return found


def _joined(machine: Machine) -> _Groups:
    groups = _Groups()
    for device in machine.devices:
        own = [_device(device.id)]
        own += [_point(end) for _, edges in device.edges for edge in edges for end in edge if end != EARTH]
        own += [_point(point) for point in device.source.at] if device.source else []
        own += [thing for move in device.moves for g in move.guards for thing in _mentioned(machine, g.condition)]
        own += _mentioned(machine, device.pressure.relieved) if device.pressure else []
        groups.join(own)
    for extra in machine.extra_sources:
        groups.join(_point(point) for point in extra.at)
    for link in machine.links:
        groups.join(_point(end) for end in link.between)
    for lock in machine.locks:
        groups.join([_device(lock.device), ("code", lock.code)])
    for exchange in machine.exchanges:
        groups.join(("code", slot.code) for slot in exchange.inputs + exchange.outputs)
    for opening in machine.openings:
        unless = _mentioned(machine, opening.unless) if opening.unless else []
        groups.join([_device(opening.device), *map(_point, opening.reaches), *unless])
    for test in machine.tests:
        guards = [thing for g in test.guards for thing in _mentioned(machine, g.condition)]
        groups.join([_point(test.at), _GRID, *guards])
    for hazard in machine.state_hazards:
        groups.join(_mentioned(machine, hazard.condition))
    return groups


def split(machine: Machine) -> tuple[Machine, ...]:
    """Return the independent sub-plants of a machine, each a machine of its own, in the order of first devices.

    Two parts belong together if they share a point, a key code, a guard, an opening, a state hazard, or a sentence
    about a fault anywhere or a proved-dead mark (which every electrical move clears). Goals are left out: a goal may
    speak of several sub-plants. The states of the machine are all combinations of states of its sub-plants.
    """
    groups = _joined(machine)
    grid = groups.of(_GRID)
    sentences_over_all = any(groups.of(_point(point)) == grid for point in machine.points)
    if sentences_over_all:
        extra = [_point(point) for source in machine.extra_sources for point in source.at]
        groups.join([_GRID, *extra, *(_device(device.id) for device in machine.devices if device.electric)])
    moving = [_device(device.id) for device in machine.devices]
    moving += [("code", key.code) for key in machine.keys]
    moving += [_point(store.at) for store in machine.stores]
    # A source that may turn up moves too, also at a point that nothing else is at.
    moving += [_point(source.at[0]) for source in machine.extra_sources]
    leaders = list(dict.fromkeys(groups.of(thing) for thing in moving))
    return tuple(_part(machine, groups, leader, n) for n, leader in enumerate(leaders))


def _part(machine: Machine, groups: _Groups, leader: Thing, number: int) -> Machine:
    def own(thing: Thing) -> bool:
        return groups.of(thing) == leader

    watch = machine.no_backfeed
    points = tuple(point for point in machine.points if own(_point(point)))
    return replace(
        machine,
        id=f"{machine.id}/{number + 1}",
        points=points,
        links=tuple(link for link in machine.links if own(_point(link.between[0]))),
        devices=tuple(device for device in machine.devices if own(_device(device.id))),
        locks=tuple(lock for lock in machine.locks if own(_device(lock.device))),
        exchanges=tuple(x for x in machine.exchanges if own(("code", (x.inputs + x.outputs)[0].code))),
        keys=tuple(key for key in machine.keys if own(("code", key.code))),
        tests=tuple(test for test in machine.tests if own(_point(test.at))),
        stores=tuple(store for store in machine.stores if own(_point(store.at))),
        openings=tuple(opening for opening in machine.openings if own(_device(opening.device))),
        loads=tuple(load for load in machine.loads if load in points),
        no_backfeed=replace(watch, points=tuple(p for p in watch.points if p in points)),
        state_hazards=tuple(
            hazard for hazard in machine.state_hazards if all(own(t) for t in _mentioned(machine, hazard.condition))
        ),
        extra_sources=tuple(source for source in machine.extra_sources if source.at[0] in points),
        goals=(),
        safe=None,
    )
