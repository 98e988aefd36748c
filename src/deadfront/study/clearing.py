"""Study: who ends a fault and when; the current at the fault comes in, each infeed's devices and times go out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from deadfront.physics.clearing import first_to_clear
from deadfront.physics.types import Array
from deadfront.station.station import FUSE_LINE_SIDE, LV_BUS, PRIMARY, SECONDARY, SUPPLY_A, SUPPLY_B, SWITCH_BUS
from deadfront.study import arc_protection, devices, elements, network, through, utility
from deadfront.study.cases import Mask
from deadfront.study.devices import Operation
from deadfront.study.faults import Kind
from deadfront.study.inputs import Assumed
from deadfront.study.through import Carried
from deadfront.study.walk import Method, Walk


@dataclass(frozen=True, slots=True)
class Infeed:
    """One way by which current reaches the fault, what it brings, and the devices that can end it.

    name        `supply`, `supply A`, `supply B`, `board`, `tie` or `generator`
    current     A at the fault's voltage
    connected   1.0 in the operating cases in which it feeds the fault and has to be ended
    operations  of its devices in series: the first to clear ends it
    """

    name: str
    current: Array
    connected: Mask
    operations: tuple[Operation, ...]

    @property
    def time(self) -> Array:
        """When the first of its devices has cleared it, s; infinite where none does."""
        return first(self.operations)


@dataclass(frozen=True, slots=True)
class Clearing:
    """How a fault ends: through one device that all current passes, or when the last infeed is gone."""

    common: tuple[Operation, ...]
    infeeds: tuple[Infeed, ...]

    @property
    def common_time(self) -> Array:
        """When the device that all current passes has cleared it, s; infinite where there is none."""
        return first(self.common)

    @property
    def time(self) -> Array:
        """Total clearing time, s, shape (boxes, cases): the common device, or the slowest connected infeed."""
        slowest: Array = 0.0
        for infeed in self.infeeds:
            slowest = np.maximum(slowest, np.where(infeed.connected > 0.0, infeed.time, 0.0))
        return np.minimum(self.common_time, slowest)

    def infeed(self, name: str) -> Infeed:
        """The infeed of this name; KeyError when the fault has none."""
        for infeed in self.infeeds:
            if infeed.name == name:
                return infeed
        raise KeyError(name)


@dataclass(frozen=True, slots=True)
class Situation:
    """What may be counted on: a breaker that stands in the same open box as the arc may not; settings in force."""

    main_counts: bool = True
    maintenance: bool = False
    detection: bool = False


NORMAL = Situation()


def first(operations: Sequence[Operation]) -> Array:
    """Time of the first device to clear, s; infinite with no device."""
    return first_to_clear([operation.time for operation in operations])


@dataclass(frozen=True, slots=True)
class _Fault:
    """What the walk to its devices needs to know of a fault."""

    walk: Walk
    point: str
    kind: Kind
    method: Method
    situation: Situation


def clear(walk: Walk, point: str, kind: Kind, method: Method, total: Array, situation: Situation = NORMAL) -> Clearing:
    """How a fault that draws `total` A at a point is ended.

    In series nothing is added: the first device of an infeed to clear ends that infeed. Infeeds in parallel must all
    end. Motors fade by themselves within cycles and are not waited for [C].

    raises    MissingEntryError: the file does not say how a device that carries the fault is set
    """
    fault = _Fault(walk, point, kind, method, situation)
    carried = through.infeeds(walk, point, kind, method, total)
    if network.side(walk, point) == "mv":
        return Clearing((), tuple(_medium_voltage(fault, carried)))
    common: tuple[Operation, ...] = ()
    if point.startswith("feeder end"):
        device = walk.station.device(point.removeprefix("feeder end ").join(("feeder ", "")))
        whole = Carried(total, through.residual(walk, point, kind, method, total), 1.0)
        common = devices.low_voltage(walk, device.path, device.name, whole, maintenance=situation.maintenance)
    return Clearing(common, tuple(_low_voltage(fault, carried)))


# --- low voltage ---


def _low_voltage(fault: _Fault, carried: dict[str, Carried]) -> list[Infeed]:
    """Infeeds of a fault on the low-voltage side."""
    found = []
    for key, one in carried.items():
        if key.startswith("motors "):
            continue
        if key == "transformer":
            found.append(Infeed("supply", one.phase, one.connected, _behind_transformer(fault, one)))
        elif key == "main" and fault.point != SECONDARY:
            own = _main(fault, one) if fault.situation.main_counts else ()
            found.append(Infeed("supply", one.phase, one.connected, (*own, *_behind_transformer(fault, one))))
        elif key == "main":
            found.extend(_board(fault, one, ratio=1.0))
        else:
            found.append(Infeed(key, one.phase, one.connected, _source_breaker(fault, key, one)))
    return found


def _main(fault: _Fault, carried: Carried) -> tuple[Operation, ...]:
    return _breaker(fault, "main", "board.main", "LV main breaker", carried)


def _breaker(fault: _Fault, key: str, path: str, name: str, carried: Carried) -> tuple[Operation, ...]:
    """Own trip of a low-voltage breaker, and the trip by light where the detection sees the arc and trips it."""
    walk = fault.walk
    found = devices.low_voltage(walk, path, name, carried, maintenance=fault.situation.maintenance)
    if fault.situation.detection and key in arc_protection.detection_trips(walk):
        return (*found, arc_protection.light_trip(walk, path, name, carried.phase))
    return found


def _source_breaker(fault: _Fault, key: str, carried: Carried) -> tuple[Operation, ...]:
    """Breaker of the tie or the generator."""
    device = fault.walk.station.device(key)
    if key == "generator":
        fault.walk.inputs.note(
            Assumed(
                "standby_generator.decay",
                "The generator's current is taken not to decay until it is cleared: not on the safe side of a trip "
                "that waits longer than a few cycles.",
                "simplification, no source",
                "C",
                "Decrement curve and sustained fault current of the generator against the settings of its breaker.",
            )
        )
    return _breaker(fault, key, f"{device.path}.device", f"{device.name} breaker", carried)


def _board(fault: _Fault, through_main: Carried, ratio: Array) -> list[Infeed]:
    """Tie and generator that feed a fault before the main in reverse: the main, or each source's own breaker, ends it.

    `through_main` at the fault's voltage, `ratio` to the low-voltage side. Motors bring part of that current and fade.
    """
    walk = fault.walk
    if not fed_from_board(walk):
        return []
    reverse = Carried(through_main.phase * ratio, through_main.residual * ratio, board_sources(walk))
    main = _main(fault, reverse) if fault.situation.main_counts else ()
    found = []
    for key, (share, connected) in network.shares_without(walk, LV_BUS, fault.method, "main").items():
        if key.startswith("motors "):
            continue
        mask = connected * walk.cases.main
        own = Carried(reverse.phase * share, reverse.residual * share, mask)
        operations = (*main, *_source_breaker(fault, key, own))
        found.append(Infeed(key, through_main.phase * share, mask, operations))
    return found


def _behind_transformer(fault: _Fault, secondary: Carried) -> tuple[Operation, ...]:
    """Fuses and upstream protection, at the MV line current that a secondary current draws."""
    walk = fault.walk
    primary = through.primary_current(walk, fault.point, fault.kind, fault.method, secondary.phase)
    passes = walk.inputs.word("transformer.connection").startswith("YN")
    residual = secondary.residual / elements.turns_ratio(walk) if passes else 0.0 * secondary.residual
    upstream = _upstream(fault, Carried(primary, residual, secondary.connected))
    if fault.situation.detection and "upstream" in arc_protection.detection_trips(walk):
        upstream = (*upstream, arc_protection.light_trip_upstream(walk, secondary.phase))
    return (*devices.fuses(walk, primary), *upstream)


# --- medium voltage ---


def _upstream(fault: _Fault, carried: Carried) -> tuple[Operation, ...]:
    """Utility protection; where both ways are closed each sees its share, and both must open."""
    walk = fault.walk
    per_way = {}
    for key, (share, connected) in through.upstream_shares(walk, fault.method).items():
        seen = Carried(carried.phase * share, carried.residual * share, connected)
        per_way[key] = (connected, utility.latest(walk, walk.station.device(key).path, seen))
    if len(per_way) == 1:
        return next(iter(per_way.values()))[1]
    slowest: Array = 0.0
    for connected, operations in per_way.values():
        slowest = np.maximum(slowest, np.where(connected > 0.0, first(operations), 0.0))
    return (Operation("Upstream protection", "of the ways that are closed", carried.phase, slowest, ()),)


def _medium_voltage(fault: _Fault, carried: dict[str, Carried]) -> list[Infeed]:
    """Infeeds of a fault on the medium-voltage side: supplies through their protection, the board in reverse."""
    walk = fault.walk
    own = {"supply A", "supply B"} if fault.point in (SUPPLY_A, SUPPLY_B) else {"cable A", "cable B"}
    found = []
    for key, one in carried.items():
        if key in own:
            name = key.replace("cable", "supply")
            operations = utility.latest(walk, walk.station.device(name).path, one)
            found.append(Infeed(name, one.phase, one.connected, operations))
        elif (key, fault.point) in (("switch", FUSE_LINE_SIDE), ("fuses", PRIMARY)):
            fuses = devices.fuses(walk, one.phase) if fault.point == PRIMARY else ()
            found.append(Infeed("supply", one.phase, one.connected, (*fuses, *_upstream(fault, one))))
        elif key.startswith("cable "):
            found.extend(_from_the_bus(fault, key, one))
        elif _board_feeds(walk, fault.kind):
            found.extend(_board(fault, one, elements.turns_ratio(walk)))
    return found


def _from_the_bus(fault: _Fault, cable: str, carried: Carried) -> list[Infeed]:
    """Infeeds of a fault at a supply point that come back through its cable: the other way, and the board."""
    walk = fault.walk
    found = []
    for key, (share, connected) in network.shares_without(walk, SWITCH_BUS, fault.method, cable).items():
        one = Carried(carried.phase * share, carried.residual * share, connected)
        if key.startswith("cable "):
            name = key.replace("cable", "supply")
            operations = utility.latest(walk, walk.station.device(name).path, one)
            found.append(Infeed(name, one.phase, connected, operations))
        elif _board_feeds(walk, fault.kind):
            found.extend(_board(fault, one, elements.turns_ratio(walk)))
    return found


def fed_from_board(walk: Walk) -> bool:
    """Whether a tie or generator can run in parallel with the supply, and so feed back through the main."""
    return bool(np.any(board_sources(walk) > 0.0))


def _board_feeds(walk: Walk, kind: Kind) -> bool:
    """Whether the board alone keeps an MV fault going: to earth only through a YN transformer."""
    return kind != "line-earth" or walk.inputs.word("transformer.connection").startswith("YN")


def board_sources(walk: Walk) -> Mask:
    """1.0 in the cases in which a tie or generator is closed together with the main, shape (cases,)."""
    return walk.cases.main * np.maximum(walk.cases.tie, walk.cases.generator)


POINTS_OF_FAULT = (SWITCH_BUS, FUSE_LINE_SIDE, PRIMARY, SECONDARY, LV_BUS)
"""Points of every station at which faults are reported, before the ends of the feeders."""


def fault_points(walk: Walk) -> tuple[str, ...]:
    """Points at which this station's faults are reported."""
    ends = tuple(f"feeder end {name}" for name in walk.station.feeders())
    return (*POINTS_OF_FAULT, *ends)
