"""Study: who ends a fault and when; the current at the fault comes in, each infeed's devices and times go out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from deadfront.physics.types import Array
from deadfront.station.station import FUSE_LOAD_SIDE, LV_BUS, PRIMARY, SECONDARY, SWITCH_BUS
from deadfront.study import devices, elements, network, through
from deadfront.study.devices import Operation
from deadfront.study.faults import Kind
from deadfront.study.through import Carried
from deadfront.study.walk import Method, Walk


@dataclass(frozen=True, slots=True)
class Infeed:
    """One way by which current reaches the fault, what it brings, and the devices that can end it."""

    name: str
    current: Array
    connected: Array
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


@dataclass(frozen=True, slots=True)
class Situation:
    """What may be counted on: a breaker that stands in the same open box as the arc may not; settings in force."""

    main_counts: bool = True
    maintenance: bool = False
    detection: bool = False


NORMAL = Situation()


def first(operations: Sequence[Operation]) -> Array:
    """Time of the first device to clear, s; infinite with no device."""
    time: Array = np.inf
    for operation in operations:
        time = np.minimum(time, operation.time)
    return time


def clear(
    walk: Walk, point: str, kind: Kind, method: Method, total: Array, situation: Situation = NORMAL
) -> Clearing:
    """How a fault that draws `total` A at a point is ended.

    In series nothing is added: the first device of an infeed to clear ends that infeed. Infeeds in parallel must all
    end. Motors fade by themselves within cycles and are not waited for [C].
    """
    carried = through.infeeds(walk, point, kind, method, total)
    if network.side(walk, point) == "mv":
        return Clearing((), tuple(_medium_voltage(walk, point, kind, method, carried)))
    common: tuple[Operation, ...] = ()
    if point.startswith("feeder end"):
        device = walk.station.device(point.removeprefix("feeder end ").join(("feeder ", "")))
        residual = total if kind in ("line-earth", "line-line-earth") else 0.0 * total
        whole = Carried(total, residual, 1.0)
        common = devices.low_voltage(walk, device.path, device.name, whole, maintenance=situation.maintenance)
    return Clearing(common, tuple(_low_voltage(walk, point, kind, method, carried, situation)))


def _low_voltage(
    walk: Walk, point: str, kind: Kind, method: Method, carried: dict[str, Carried], situation: Situation
) -> list[Infeed]:
    """Infeeds of a fault on the low-voltage side."""
    found = []
    for key, one in carried.items():
        if key.startswith("motors "):
            continue
        if key == "transformer":
            found.append(Infeed("supply", one.phase, one.connected, _behind_transformer(walk, kind, method, one, situation)))
        elif key == "main" and point != SECONDARY:
            own = _main(walk, one, situation) if situation.main_counts else ()
            operations = (*own, *_behind_transformer(walk, kind, method, one, situation))
            found.append(Infeed("supply", one.phase, one.connected, operations))
        elif key == "main":
            operations = (*_main(walk, one, situation), *_board_breakers(walk, one, situation))
            found.append(Infeed("board", one.phase, _board_sources(walk), operations))
        else:
            found.append(Infeed(key, one.phase, one.connected, _source_breaker(walk, key, one, situation)))
    return found


def _main(walk: Walk, carried: Carried, situation: Situation) -> tuple[Operation, ...]:
    found = devices.low_voltage(walk, "board.main", "LV main breaker", carried, maintenance=situation.maintenance)
    if situation.detection and "main" in devices.detection_trips(walk):
        return (*found, devices.arc_detection(walk, "board.main", "LV main breaker", carried.phase))
    return found


def _board_breakers(walk: Walk, through_main: Carried, situation: Situation) -> tuple[Operation, ...]:
    """Breakers of tie and generator, each in the cases in which it feeds back through the main."""
    found = []
    for key in ("tie", "generator"):
        if walk.station.has(key):
            mask = walk.cases.mask(key)
            found += [
                replace(operation, time=np.where(mask > 0.0, operation.time, np.inf))
                for operation in _source_breaker(walk, key, through_main, situation)
            ]
    return tuple(found)


def _source_breaker(walk: Walk, key: str, carried: Carried, situation: Situation) -> tuple[Operation, ...]:
    """Breaker of the tie or the generator."""
    device = walk.station.device(key)
    path = f"{device.path}.device"
    found = devices.low_voltage(walk, path, f"{device.name} breaker", carried, maintenance=situation.maintenance)
    if situation.detection and key in devices.detection_trips(walk):
        return (*found, devices.arc_detection(walk, path, f"{device.name} breaker", carried.phase))
    return found


def _behind_transformer(
    walk: Walk, kind: Kind, method: Method, secondary: Carried, situation: Situation
) -> tuple[Operation, ...]:
    """Fuses and upstream protection, at the MV line current that a secondary current draws."""
    primary = through.primary_current(walk, kind, secondary.phase)
    residual: Array = 0.0
    if walk.inputs.word("transformer.connection").startswith("YN"):
        residual = secondary.residual / elements.turns_ratio(walk)
    upstream = _upstream(walk, method, Carried(primary, residual, secondary.connected))
    if situation.detection and "upstream" in devices.detection_trips(walk):
        upstream = (*upstream, devices.arc_detection_upstream(walk, secondary.phase))
    return (*devices.fuses(walk, primary), *upstream)


def _upstream(walk: Walk, method: Method, carried: Carried) -> tuple[Operation, ...]:
    """Utility protection; where both ways are closed each sees its share, and both must open."""
    shares = through.upstream_shares(walk, method)
    if not shares:
        return ()
    per_way = {}
    for key, (share, connected) in shares.items():
        seen = Carried(carried.phase * share, carried.residual * share, connected)
        per_way[key] = (connected, devices.upstream(walk, walk.station.device(key).path, seen))
    if len(per_way) == 1:
        return next(iter(per_way.values()))[1]
    slowest: Array = 0.0
    for connected, operations in per_way.values():
        slowest = np.maximum(slowest, np.where(connected > 0.0, first(operations), 0.0))
    return (Operation("Upstream protection", "of the ways that are closed", carried.phase, slowest, ()),)


def _medium_voltage(
    walk: Walk, point: str, kind: Kind, method: Method, carried: dict[str, Carried]
) -> list[Infeed]:
    """Infeeds of a fault on the medium-voltage side: supplies through their protection, the board in reverse."""
    found = []
    for key, one in carried.items():
        if key in ("cable A", "cable B"):
            path = walk.station.device(key.replace("cable", "supply")).path
            found.append(Infeed(key.replace("cable", "supply"), one.phase, one.connected, devices.upstream(walk, path, one)))
        elif key in ("supply A", "supply B"):
            found.append(Infeed(key, one.phase, one.connected, devices.upstream(walk, walk.station.device(key).path, one)))
        elif (key, point) in (("switch", FUSE_LOAD_SIDE), ("fuses", PRIMARY)):
            fuses = devices.fuses(walk, one.phase) if point == PRIMARY else ()
            found.append(Infeed("supply", one.phase, one.connected, (*fuses, *_upstream(walk, method, one))))
        elif _fed_from_board(walk) and _board_feeds(walk, kind):
            reverse = Carried(one.phase * elements.turns_ratio(walk), np.zeros(len(walk.cases)), _board_sources(walk))
            operations = (*_main(walk, reverse, NORMAL), *_board_breakers(walk, reverse, NORMAL))
            found.append(Infeed("board", one.phase, _board_sources(walk), operations))
    return found


def _fed_from_board(walk: Walk) -> bool:
    """Whether a tie or generator can run in parallel with the supply, and so feed an MV fault in reverse."""
    return bool(np.any(_board_sources(walk) > 0.0))


def _board_feeds(walk: Walk, kind: Kind) -> bool:
    """Whether the board alone keeps an MV fault going: to earth only through a transformer that passes zero sequence."""
    return kind != "line-earth" or walk.inputs.word("transformer.connection").startswith("YN")


def _board_sources(walk: Walk) -> Array:
    """1.0 in the cases in which a tie or generator is closed together with the main, shape (cases,)."""
    return walk.cases.main * np.maximum(walk.cases.tie, walk.cases.generator)


POINTS_OF_FAULT = (SWITCH_BUS, FUSE_LOAD_SIDE, PRIMARY, SECONDARY, LV_BUS)
"""Points of every station at which faults are reported, before the ends of the feeders."""


FOREVER = 1e9
"""Stands for an endless time where spans of time are subtracted, s."""


@dataclass(frozen=True, slots=True)
class Spans:
    """A fault in spans of time: what flows in each, A, and how long it lasts, s."""

    currents: tuple[Array, ...]
    times: tuple[Array, ...]


def spans(clearing: Clearing, total: Array, limit: Array = np.inf) -> Spans:
    """The total current until the first infeed has gone, then what is left, until the last has gone or `limit`.

    With one infeed a single span. Each infeed's time is read at its share of the whole current. An endless time
    stands as `FOREVER` where there are several infeeds.
    """
    if len(clearing.infeeds) < 2:
        return Spans((total,), (np.minimum(clearing.time, limit),))
    common = np.minimum(np.minimum(clearing.common_time, limit), FOREVER)
    ordered = _by_time(
        [
            (np.where(i.connected > 0.0, np.minimum(i.time, common), 0.0), np.where(i.connected > 0.0, i.current, 0.0))
            for i in clearing.infeeds
        ]
    )
    currents, times, before = [total], [ordered[0][0]], ordered[0][0]
    for number in range(1, len(ordered)):
        rest: Array = 0.0
        for _, current in ordered[number:]:
            rest = rest + current
        span = ordered[number][0] - before
        lasts = np.greater(span, 0.0)
        first = np.greater(before, 0.0)  # an infeed that is not connected ends at once: all still flows after it
        currents.append(np.where(np.logical_and(lasts, first), rest, total))
        times.append(np.where(lasts, span, 0.0))
        before = ordered[number][0]
    return Spans(tuple(currents), tuple(times))


def joule_integral(clearing: Clearing, total: Array) -> Array:
    """Heat of a fault until its last infeed has gone, A2s, symmetrical currents."""
    found = spans(clearing, total)
    heat: Array = 0.0
    for current, time in zip(found.currents, found.times, strict=True):
        heat = heat + np.square(current) * time
    return heat


def _by_time(pairs: list[tuple[Array, Array]]) -> list[tuple[Array, Array]]:
    """Infeeds in the order in which they end, by exchanging neighbours; works on ranges too."""
    found = list(pairs)
    for last in range(len(found) - 1, 0, -1):
        for i in range(last):
            (t1, i1), (t2, i2) = found[i], found[i + 1]
            swap = np.greater(t1, t2)
            found[i] = (np.minimum(t1, t2), np.where(swap, i2, i1))
            found[i + 1] = (np.maximum(t1, t2), np.where(swap, i1, i2))
    return found


def fault_points(walk: Walk) -> tuple[str, ...]:
    """Points at which this station's faults are reported."""
    ends = tuple(f"feeder end {name}" for name in walk.station.feeders())
    return tuple(point for point in (*POINTS_OF_FAULT, *ends) if walk.station.has(point))
