"""Operation: what bare hands cannot use. A machine in, the same machine without tests and idle padlocks out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from deadfront.operation.atoms import Atom, BladeIn, DeviceIn, Tested, simple_parts
from deadfront.operation.machine import Device, Guard, Machine


def without_own_locks_and_tests(machine: Machine) -> Machine:
    """Return a machine that hands, without rules, bring into the same kinds of hazard in as many moves.

    A test whose mark no hardware reads changes nothing. A padlock that only ever hinders while it is on is never part
    of a shortest sequence: every sequence is also possible, and as dangerous, with the padlock left off. Goals speak of
    both and are dropped. Counts of states differ; kinds and lengths do not.
    """
    parts = (atom for guard in _hardware(machine) for atom in simple_parts(guard.condition))
    read = {atom.point for atom in parts if isinstance(atom, Tested)}
    idle = {device.id for device in machine.devices if _only_hinders(machine, device)}
    devices = tuple(_without(device, idle) for device in machine.devices if device.id not in idle)
    tests = tuple(test for test in machine.tests if test.at in read)
    return replace(machine, devices=devices, tests=tests, goals=())


def _guards(devices: Iterable[Device]) -> Iterator[Guard]:
    return (guard for device in devices for move in device.moves for guard in move.guards)


def _hardware(machine: Machine) -> Iterator[Guard]:
    tests = (guard for test in machine.tests for guard in test.guards)
    return (guard for guard in (*_guards(machine.devices), *tests) if guard.by != "rule")


def _only_hinders(machine: Machine, device: Device) -> bool:
    """A bolt without locks and openings, of which hardware asks nothing but that it stands as at the outset."""
    if device.kind != "bolt" or device.electric or any(lock.device == device.id for lock in machine.locks):
        return False
    covers = [opening.unless for opening in machine.openings if opening.unless is not None]
    if any(opening.device == device.id for opening in machine.openings):
        return False
    others = (guard for guard in _hardware(machine))
    asked = [g.condition for g in others if any(_names(atom, device.id) for atom in simple_parts(g.condition))]
    sentences = [hazard.condition for hazard in machine.state_hazards] + ([machine.safe] if machine.safe else [])
    relieved = [one.pressure.relieved for one in machine.devices if one.pressure is not None]
    if any(_names(atom, device.id) for whole in (*sentences, *relieved, *covers) for atom in simple_parts(whole)):
        return False
    return all(condition == DeviceIn(device.id, (device.start,)) for condition in asked)


def _names(atom: Atom, device: str) -> bool:
    return isinstance(atom, DeviceIn | BladeIn) and atom.device == device


def _without(device: Device, idle: set[str]) -> Device:
    """The device without guards that speak of what is gone; rules among them bind nobody here."""

    def binds(guard: Guard) -> bool:
        parts = list(simple_parts(guard.condition))
        return guard.by != "rule" and not any(_names(atom, name) for atom in parts for name in idle)

    return replace(
        device,
        moves=tuple(
            replace(move, guards=tuple(guard for guard in move.guards if binds(guard))) for move in device.moves
        ),
    )
