"""Operation: what isolates a place from everything that feeds it. Devices in, what is opened and locked out."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from deadfront.operation.machine import EARTH, Device, Edge, Link

ISOLATING = ("switch", "breaker")
"""Kinds of device that isolate. A fuse drawn out is no isolation point, and a connector is parked, not opened."""


@dataclass(frozen=True, slots=True)
class Isolation:
    """What separates a place from its sources, in the order of the station.

    `opened` devices stand open (or off, a source), `padlocks` are on; on the way from the `unlocked` ones to their
    sources no device takes an own padlock.
    """

    opened: tuple[str, ...]
    padlocks: tuple[str, ...]
    unlocked: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Isolating:
    """What can isolate: devices, what always conducts, own padlocks (padlock to device), and contacts that are seen."""

    devices: Sequence[Device]
    links: Sequence[Link]
    padlocks: Mapping[str, str]
    seen: Collection[str]

    def of(self, points: Collection[str], *, beyond: bool) -> Isolation:
        """What isolates some points.

        The devices next to the points stand open, with their own padlocks on. With `beyond`, what feeds a device that
        takes no padlock, or whose open contacts nobody sees and which does not earth, is locked as well, as far as
        the first that is locked and seen apart or earthed (common practice, no source).
        """
        place = self._zone(points)
        opened: dict[str, None] = {}
        unlocked: dict[str, None] = {}
        for device in self._around(place):
            far = self._far_side(device, place)
            if far and not self._fed(far, place):
                continue
            met = dict.fromkeys(self._locked_beyond(device, far, {device.id}, place) if far and beyond else ())
            opened |= {device.id: None} | met
            if far and not met and not self._locks(device):
                unlocked[device.id] = None
        for source in self.devices:
            if source.source is not None and place & set(source.source.at) and "off" in source.positions:
                opened[source.id] = None
                unlocked |= {} if self._locks(source) else {source.id: None}
        order = [device.id for device in self.devices]
        padlocks = tuple(name for name, held in self.padlocks.items() if held in opened)
        return Isolation(tuple(sorted(opened, key=order.index)), padlocks, tuple(sorted(unlocked, key=order.index)))

    def _locked_beyond(self, device: Device, far: set[str], passed: set[str], place: set[str]) -> Iterator[str]:
        """Devices that take a padlock, from one outwards, until each way is cut by one that is beyond doubt."""
        if self._locks(device) and (device.id in self.seen or _earths(device)):
            return
        for other in self._around(far):
            further = self._far_side(other, far)
            if other.id in passed or not further or not self._fed(further, place | far):
                continue
            passed.add(other.id)
            if self._locks(other):
                yield other.id
            yield from self._locked_beyond(other, further, passed, place | far)

    def _locks(self, device: Device) -> bool:
        return device.id in self.padlocks.values()

    def _zone(self, points: Iterable[str]) -> set[str]:
        """Some points with all that no switch and no breaker separates from them."""
        joined = [edge for d in self.devices if d.kind not in ISOLATING for edge in _conducting(d)]
        return _spread(set(points), [link.between for link in self.links] + joined)

    def _around(self, zone: set[str]) -> list[Device]:
        return [d for d in self.devices if d.kind in ISOLATING and any(zone & set(edge) for edge in _conducting(d))]

    def _far_side(self, device: Device, zone: set[str]) -> set[str]:
        """What lies behind a device, seen from a zone; empty where both its sides are in it."""
        ends = {end for edge in _conducting(device) for end in edge} - zone
        return self._zone(ends) if ends else set()

    def _fed(self, points: set[str], apart: set[str]) -> bool:
        """Whether a source feeds some points while everything is closed, not counting ways through those apart."""
        edges = [link.between for link in self.links] + [edge for d in self.devices for edge in _conducting(d)]
        reached = _spread(points - apart, [edge for edge in edges if not apart & set(edge)])
        return any(d.source is not None and bool(reached & set(d.source.at)) for d in self.devices)


def _spread(points: set[str], edges: Sequence[Edge]) -> set[str]:
    """Some points with all that edges join to them."""
    while True:
        wider = points | {end for edge in edges if points & set(edge) for end in edge}
        if wider == points:
            return points
        points = wider


def _conducting(device: Device) -> list[Edge]:
    return [edge for _, pairs in device.edges for edge in pairs if EARTH not in edge]


def _earths(device: Device) -> bool:
    return any(EARTH in edge for _, pairs in device.edges for edge in pairs)
