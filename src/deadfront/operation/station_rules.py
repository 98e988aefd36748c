"""Operation: what people obey at a unit. Its devices, tests, earths and padlocks in, rule by rule a guard out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from deadfront.operation.atoms import Atom, BladeIn, DeviceIn, Tested
from deadfront.operation.isolating import ISOLATING, Isolating, Isolation
from deadfront.operation.machine import EARTH, Device, Guard, Link
from deadfront.project.model import Door, Operation, Unit
from deadfront.station.station import LV_BUS

# Test before earthing; own locks on before the work; earths counted off: NFPA 70E 120.5, OSHA 1910.269(m) and (n) [V2].

EARTHED = "earthed"


def own_padlocks(operation: Operation) -> dict[str, str]:
    """The device that each own padlock of the file holds."""
    return {name: held for name, held in (operation.padlocks or {}).items() if held}


@dataclass(frozen=True, slots=True)
class Scene:
    """What the rules speak of: the devices so far, the doors, the links, and the section of the file."""

    devices: Mapping[str, Device]
    doors: Mapping[str, Door]
    links: tuple[Link, ...]
    operation: Operation
    unit: Unit

    def tested_shut(self) -> set[str]:
        """Points that can be proved dead with every door shut."""
        return {test.at for test in (self.operation.tests or {}).values() if test.behind is None and test.at}

    def seen_apart(self) -> Iterator[tuple[str, Atom]]:
        """Devices whose contacts somebody looks at, and that they are apart."""
        for name in self.operation.contacts_seen or ():
            if name in self.devices:
                yield name, BladeIn(name, self.devices[name].apart)

    def isolation(self, points: Sequence[str], *, beyond: bool = True, parked: str | None = None) -> Isolation:
        """What isolates some points from everything that feeds them, where a connector may be parked already."""
        devices = tuple(device for device in self.devices.values() if device.id != parked)
        seen = self.operation.contacts_seen or ()
        return Isolating(devices, self.links, own_padlocks(self.operation), seen).of(points, beyond=beyond)

    def earthing(self) -> Iterator[tuple[Device, str, str]]:
        """Devices that earth, the position in which they do, and the point."""
        for device in self.devices.values():
            for position, edges in device.edges:
                yield from ((device, position, end) for edge in edges if EARTH in edge for end in edge if end != EARTH)

    def near(self, reaches: Sequence[str]) -> set[str]:
        """Points that a hand reaches, and those that something always joins to them."""
        near = set(reaches)
        return near | {end for link in self.links if near & set(link.between) for end in link.between}


Ruled = tuple[str, str, Guard]
"""A device, the position it goes to, and the guard on that."""


def rules(scene: Scene) -> Iterator[Ruled]:
    """Every rule that people obey at a unit, beside those that its earths and padlocks bring with them."""
    yield from _before_a_door_opens(scene)
    yield from _before_earthing(scene)
    yield from _earths_off_first(scene)
    yield from _one_source_on_the_bus(scene)


def _before_a_door_opens(scene: Scene) -> Iterator[Ruled]:
    """Prove dead, put the own padlocks on and the fixed earths on, with every door still shut; rooms likewise."""
    for name, door in scene.doors.items():
        yield from _before_hands_reach(scene, (name, "open", "closed"), door.reaches or ())
    for name, room in (scene.operation.rooms or {}).items():
        if f"crew in {name}" in scene.devices:
            yield from _before_hands_reach(scene, (f"crew in {name}", "in", "out"), room.reaches or ())


def _before_hands_reach(scene: Scene, way: tuple[str, str, str], reaches: Sequence[str]) -> Iterator[Ruled]:
    """What comes before a device goes to where hands reach some points, and stays until it is back."""
    name, target, back = way
    able = scene.tested_shut()
    for point in reaches:
        if point in able:
            yield name, target, Guard(f"{point} proved dead before {name}", "rule", Tested(point))
    if not reaches:
        return
    isolation = scene.isolation(reaches)
    for padlock in isolation.padlocks:
        yield name, target, Guard(f"{padlock} on before {name}", "rule", DeviceIn(padlock, ("on",)))
        if back == "out":
            yield padlock, "off", Guard(f"{padlock} stays while {name} is {target}", "rule", DeviceIn(name, (back,)))
    for device, seen in ((device, seen) for device, seen in scene.seen_apart() if device in isolation.opened):
        yield name, target, Guard(f"contacts of {device} seen apart before {name}", "rule", seen)
    for earth, entry in (scene.operation.earths or {}).items():
        if entry.behind is None and entry.at in scene.near(reaches):
            yield name, target, Guard(f"{earth} on before {name}", "rule", DeviceIn(earth, ("on",)))
            yield earth, "off", Guard(f"{earth} stays while {name} is {target}", "rule", DeviceIn(name, (back,)))


def _before_earthing(scene: Scene) -> Iterator[Ruled]:
    """A point is earthed only while all that feeds it stands open, by a switch only once it is proved dead."""
    able = scene.tested_shut()
    for device, target, point in scene.earthing():
        if target == EARTHED and point in able:
            yield device.id, target, Guard(f"{point} proved dead before {device.id} earths", "rule", Tested(point))
        entry = (scene.operation.earths or {}).get(device.id)
        parked = entry.parked if entry is not None else None
        for name in scene.isolation((point,), beyond=False, parked=parked).opened:
            other = scene.devices[name]
            if name != device.id and other.kind in ISOLATING:
                apart = DeviceIn(name, other.apart)
                yield device.id, target, Guard(f"{name} open before {device.id} earths", "rule", apart)


def _earths_off_first(scene: Scene) -> Iterator[Ruled]:
    """Nothing is closed onto the earthed position of a switch."""
    for fed, earthing in (("main", "switch"), ("remote switch A", "way A"), ("remote switch B", "way B")):
        device = scene.devices.get(earthing)
        if fed in scene.devices and device is not None and EARTHED in device.positions:
            apart = tuple(position for position in device.positions if position != EARTHED)
            yield fed, "closed", Guard(f"{earthing} off its earth before {fed}", "rule", DeviceIn(earthing, apart))


def _one_source_on_the_bus(scene: Scene) -> Iterator[Ruled]:
    """Where two sources must not meet, the second closes onto a bus proved dead, the other's contacts seen apart."""
    unit, seen = scene.unit, dict(scene.seen_apart())
    board, generator = unit.board, unit.standby_generator
    others = []
    if board is not None and board.tie is not None and board.tie.parallel == "never":
        others.append("tie")
    if generator is not None and generator.parallel == "never":
        others.append("generator breaker")
    for other in others:
        for closing, apart in ((other, "main"), ("main", other)):
            if LV_BUS in scene.tested_shut():
                yield closing, "closed", Guard(f"{LV_BUS} proved dead before {closing}", "rule", Tested(LV_BUS))
            if apart in seen:
                yield closing, "closed", Guard(f"contacts of {apart} seen apart before {closing}", "rule", seen[apart])
