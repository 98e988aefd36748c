"""Station: a Project comes in; the points where voltage can be, and the devices between them, go out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from deadfront.project.model import Unit

Side = Literal["mv", "lv"]
Kind = Literal["supply", "cable", "switch", "fuse", "transformer", "breaker", "tie", "generator", "motors"]

SUPPLY_A = "supply point A"
SUPPLY_B = "supply point B"
SWITCH_BUS = "switch bus"
FUSE_LINE_SIDE = "fuse line side"
PRIMARY = "transformer primary terminals"
SECONDARY = "transformer secondary terminals"
LV_BUS = "LV bus"


def feeder_end(name: str) -> str:
    """Key of the point at the far end of a feeder."""
    return f"feeder end {name}"


@dataclass(frozen=True, slots=True)
class Point:
    """A place where voltage can be."""

    key: str
    name: str
    side: Side


@dataclass(frozen=True, slots=True)
class Device:
    """What stands between two points; a source stands between earth (`to_point` None) and its point."""

    key: str
    kind: Kind
    name: str
    tag: str
    from_point: str
    to_point: str | None
    path: str


@dataclass(frozen=True, slots=True)
class Station:
    """The unit as a graph: points, and devices between them. A tree, because a packaged substation is one."""

    unit: Unit
    points: tuple[Point, ...]
    devices: tuple[Device, ...]

    def point(self, key: str) -> Point:
        """The point of this key; KeyError when the station has none."""
        for point in self.points:
            if point.key == key:
                return point
        raise KeyError(key)

    def has(self, key: str) -> bool:
        """Whether the station has this point or device."""
        return any(point.key == key for point in self.points) or any(device.key == key for device in self.devices)

    def device(self, key: str) -> Device:
        """The device of this key; KeyError when the station has none."""
        for device in self.devices:
            if device.key == key:
                return device
        raise KeyError(key)

    def at(self, point: str) -> Iterator[tuple[Device, str | None]]:
        """Each device at a point, with the point at its other side (None for a source)."""
        for device in self.devices:
            if device.from_point == point:
                yield device, device.to_point
            elif device.to_point == point:
                yield device, device.from_point

    def feeders(self) -> tuple[str, ...]:
        """Names of the feeders, in the file's order."""
        board = self.unit.board
        return tuple((board.feeders if board else None) or ())


def build(unit: Unit) -> Station:
    """Points and devices of a packaged substation.

    Supply, cable, switch, fuses, transformer, main and bus are always there: an entry they lack leaves open what rests
    on it. A second feed, feeders, tie, generator and motors are there where the file has them. Devices without an
    impedance of their own (switch, fuses, breakers) stay in the graph: they carry, clear and isolate.
    """
    points: list[Point] = []
    devices: list[Device] = []
    _medium_voltage(unit, points, devices)
    _low_voltage(unit, points, devices)
    return Station(unit, tuple(points), tuple(devices))


def _medium_voltage(unit: Unit, points: list[Point], devices: list[Device]) -> None:
    """Supply, cable, other feed, switch, fuses and transformer."""
    points.append(Point(SWITCH_BUS, "MV switch bus", "mv"))
    points.append(Point(SUPPLY_A, "Supply point", "mv"))
    devices.append(Device("supply A", "supply", "Utility supply", "G1", SUPPLY_A, None, "supply"))
    devices.append(Device("cable A", "cable", "MV cable", "W1", SUPPLY_A, SWITCH_BUS, "mv_cable"))
    if unit.other_feed is not None:
        points.append(Point(SUPPLY_B, "Other end of the loop", "mv"))
        devices.append(Device("supply B", "supply", "Other feed", "G2", SUPPLY_B, None, "other_feed"))
        name = "MV cable of the other feed"
        devices.append(Device("cable B", "cable", name, "W2", SUPPLY_B, SWITCH_BUS, "other_feed.cable"))
    points.append(Point(FUSE_LINE_SIDE, "MV fuses, line side", "mv"))
    devices.append(Device("switch", "switch", "MV load-break switch", "Q1", SWITCH_BUS, FUSE_LINE_SIDE, "switch"))
    points.append(Point(PRIMARY, "Transformer primary terminals", "mv"))
    points.append(Point(SECONDARY, "Transformer secondary terminals", "lv"))
    devices.append(Device("fuses", "fuse", "MV fuses in series", "F1, F2", FUSE_LINE_SIDE, PRIMARY, "fuses"))
    devices.append(Device("transformer", "transformer", "Transformer", "T1", PRIMARY, SECONDARY, "transformer"))


def _low_voltage(unit: Unit, points: list[Point], devices: list[Device]) -> None:
    """Board, feeders, tie, standby generator and motors."""
    board = unit.board
    points.append(Point(LV_BUS, "LV bus", "lv"))
    devices.append(Device("main", "breaker", "LV main breaker", "Q2", SECONDARY, LV_BUS, "board.main"))
    for number, name in enumerate((board.feeders if board else None) or (), start=1):
        end, path = feeder_end(name), f"board.feeders.{name}"
        points.append(Point(end, f"End of feeder {name}", "lv"))
        devices.append(Device(f"feeder {name}", "breaker", f"Feeder {name}", f"Q{10 + number}", LV_BUS, end, path))
    if board is not None and board.tie is not None:
        devices.append(Device("tie", "tie", "Tie to the neighbouring board", "Q3", LV_BUS, None, "board.tie"))
    if unit.standby_generator is not None:
        devices.append(Device("generator", "generator", "Standby generator", "G3", LV_BUS, None, "standby_generator"))
    for number, name in enumerate((unit.motors.groups if unit.motors else None) or (), start=1):
        path = f"motors.groups.{name}"
        devices.append(Device(f"motors {name}", "motors", f"Motors {name}", f"M{number}", LV_BUS, None, path))
