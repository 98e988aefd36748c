"""Operation: a machine drawn with one line, drawn with three. A machine in, one with a point for each phase out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from deadfront.operation.atoms import (
    AllOf,
    AnyOf,
    Atom,
    BladeIn,
    Dead,
    DeviceIn,
    Discharged,
    Earthed,
    Not,
    Tested,
)
from deadfront.operation.machine import (
    EARTH,
    BackfeedWatch,
    Device,
    Edge,
    Goal,
    Guard,
    Hold,
    Link,
    Machine,
    Opening,
    Pressure,
    ProvingPoint,
    Sentence,
    Store,
)
from deadfront.project.naming import named, suggestion

POLES = ("1", "2", "3")
_MARK = "/"


def of_pole(name: str, pole: str) -> str:
    """The name of one phase of a point, or of one pole of a device."""
    return f"{name}{_MARK}{pole}"


def pole_of(edge: Edge) -> str | None:
    """The phase an edge belongs to; None in a machine drawn with one line."""
    end = edge[1] if edge[0] == EARTH else edge[0]
    name, mark, pole = end.rpartition(_MARK)
    return pole if name and mark and pole in POLES else None


def by_phase(machine: Machine, single: Sequence[str]) -> Machine:
    """Return the machine with three phases, in which the devices `single` are moved one phase at a time.

    A hot-stick connector is one device for each phase, with two states in between; a ganged switch moves its three
    poles together, and one of them can weld alone (`stuck:SW/2`). A sentence about a point, a test or a device of
    `single` speaks of all three phases. Raises ValueError for an unknown device in `single`, or one that a lock holds:
    a lock is one, and holds a shaft.
    """
    unknown = [name for name in single if name not in {device.id for device in machine.devices}]
    locked = [name for name in single if name in {lock.device for lock in machine.locks}]
    if unknown:
        names = [device.id for device in machine.devices]
        raise ValueError(f"single: expected a device, got {named(unknown[0])}; {suggestion(unknown[0], names)}")
    if locked:
        raise ValueError(f"single: expected a device without a lock, got `{locked[0]}`, whose lock holds one shaft")
    return _Phases(machine, frozenset(single)).drawn()


class _Phases:
    def __init__(self, machine: Machine, single: frozenset[str]) -> None:
        self.machine = machine
        self.single = single

    def drawn(self) -> Machine:
        machine = self.machine
        return replace(
            machine,
            points=self.points(machine.points),
            links=tuple(link for k in machine.links for link in self.link(k)),
            devices=tuple(one for device in machine.devices for one in self.device(device)),
            tests=tuple(
                ProvingPoint(of_pole(t.id, pole), of_pole(t.at, pole), self.guards(t.guards))
                for t in machine.tests
                for pole in POLES
            ),
            stores=tuple(
                Store(of_pole(s.id, pole), of_pole(s.at, pole), s.drains, s.start)
                for s in machine.stores
                for pole in POLES
            ),
            openings=tuple(one for opening in machine.openings for one in self.opening(opening)),
            loads=self.points(machine.loads),
            no_backfeed=self.watch(machine.no_backfeed),
            state_hazards=tuple(Sentence(h.id, self.sentence(h.condition)) for h in machine.state_hazards),
            extra_sources=tuple(replace(source, at=self.points(source.at)) for source in machine.extra_sources),
            goals=tuple(self.goal(goal) for goal in machine.goals),
            safe=None if machine.safe is None else self.sentence(machine.safe),
        )

    def watch(self, watch: BackfeedWatch) -> BackfeedWatch:
        sources = tuple(one for name in watch.sources for one in self.device_names(name))
        return BackfeedWatch(self.points(watch.points), watch.groups, sources)

    def link(self, link: Link) -> Iterator[Link]:
        """One conductor a phase; windings pass power from each phase to each: a delta feeds one that is cut off."""
        for pole in POLES:
            for other in POLES if link.magnetic else (pole,):
                one, two = link.between
                yield Link((of_pole(one, pole), of_pole(two, other)), link.magnetic)

    def device_names(self, name: str) -> tuple[str, ...]:
        return tuple(of_pole(name, pole) for pole in POLES) if name in self.single else (name,)

    def points(self, names: Sequence[str]) -> tuple[str, ...]:
        return tuple(of_pole(name, pole) for name in names for pole in POLES)

    def edge(self, edge: Edge, pole: str) -> Edge:
        one, other = (end if end == EARTH else of_pole(end, pole) for end in edge)
        return one, other

    def device(self, device: Device) -> Iterator[Device]:
        moves = tuple(replace(move, guards=self.guards(move.guards)) for move in device.moves)
        pressure = device.pressure and Pressure(device.pressure.origin, self.sentence(device.pressure.relieved))
        whole = replace(device, moves=moves, pressure=pressure)
        if device.id in self.single:
            for pole in POLES:
                edges = tuple((where, tuple(self.edge(e, pole) for e in pairs)) for where, pairs in device.edges)
                yield replace(whole, id=of_pole(device.id, pole), name=f"{device.name}, phase {pole}", edges=edges)
            return
        edges = tuple((where, tuple(self.edge(e, p) for e in pairs for p in POLES)) for where, pairs in device.edges)
        source = device.source and replace(device.source, at=self.points(device.source.at))
        yield replace(whole, edges=edges, source=source)

    def opening(self, opening: Opening) -> Iterator[Opening]:
        unless = None if opening.unless is None else self.sentence(opening.unless)
        if opening.device in self.single:
            for pole in POLES:
                reaches = tuple(of_pole(point, pole) for point in opening.reaches)
                yield Opening(of_pole(opening.device, pole), opening.positions, reaches, unless)
        else:
            yield Opening(opening.device, opening.positions, self.points(opening.reaches), unless)

    def guards(self, guards: Sequence[Guard]) -> tuple[Guard, ...]:
        return tuple(replace(guard, condition=self.sentence(guard.condition)) for guard in guards)

    def goal(self, goal: Goal) -> Goal:
        def holds(listed: tuple[Hold, ...]) -> tuple[Hold, ...]:
            return tuple(
                replace(
                    h,
                    condition=self.sentence(h.condition),
                    before=None if h.before is None else self.sentence(h.before),
                )
                for h in listed
            )

        never = tuple(Sentence(s.id, self.sentence(s.condition)) for s in goal.never)
        unlocked = tuple(one for name in goal.unlocked for one in self.device_names(name))
        return Goal(
            goal.id,
            self.sentence(goal.condition),
            holds(goal.holds),
            never,
            holds(goal.back),
            unlocked,
            self.points(goal.place),
        )

    def sentence(self, atom: Atom) -> Atom:
        match atom:
            case AllOf(parts):
                return AllOf(tuple(self.sentence(part) for part in parts))
            case AnyOf(parts):
                return AnyOf(tuple(self.sentence(part) for part in parts))
            case Not(part):
                return Not(self.sentence(part))
            case Dead(name):
                return AllOf(tuple(Dead(of_pole(name, pole)) for pole in POLES))
            case Earthed(name):
                return AllOf(tuple(Earthed(of_pole(name, pole)) for pole in POLES))
            case Tested(name):
                return AllOf(tuple(Tested(of_pole(name, pole)) for pole in POLES))
            case Discharged(name):
                return AllOf(tuple(Discharged(of_pole(name, pole)) for pole in POLES))
            case DeviceIn(name, positions) if name in self.single:
                return AllOf(tuple(DeviceIn(of_pole(name, pole), positions) for pole in POLES))
            case BladeIn(name, positions) if name in self.single:
                return AllOf(tuple(BladeIn(of_pole(name, pole), positions) for pole in POLES))
            case _:
                return atom
