"""Operation: the tasks that apply to a unit, as end states and hold points. A machine in, goals out."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import replace

from deadfront.operation.atoms import (
    AllOf,
    AnyOf,
    Atom,
    Dead,
    DeviceIn,
    Discharged,
    Earthed,
    LockHasKey,
    Not,
    Tested,
)
from deadfront.operation.isolating import Isolating
from deadfront.operation.machine import EARTH, Device, Goal, Hold, Machine, Sentence
from deadfront.station.station import FUSE_LINE_SIDE, LV_BUS, PRIMARY, SECONDARY, feeder_end

# Tasks and hold points: NFPA 70E 120.5, OSHA 1910.269(m) and (n), EN 50110-1 clause 6.2, as the reference lists them
# [V2 for the order of steps, C for the vent]. A hold point the unit has no means for is left out here and named by
# `lacking`: the sheet then says who sees to it.

LOW_VOLTAGE = (SECONDARY, LV_BUS)
"""Points at which voltage is low; there an earth is for stored or induced energy."""


def tasks(machine: Machine, padlocks: Mapping[str, str], seen: Collection[str]) -> Machine:
    """Return the machine with a goal for every task that it has the devices for.

    padlocks  the device that each own padlock holds
    seen      switches and breakers whose open contacts are seen
    """
    return replace(machine, goals=tuple(_Tasks(machine, padlocks, seen).goals()))


class _Tasks:
    """The tasks of one machine."""

    def __init__(self, machine: Machine, padlocks: Mapping[str, str], seen: Collection[str]) -> None:
        self.machine = machine
        self.isolating = Isolating(machine.devices, machine.links, padlocks, seen)
        self.padlocks = padlocks

    def goals(self) -> Iterator[Goal]:
        """Every task, in the order of the list."""
        machine = self.machine
        names = {device.id for device in machine.devices}
        doors = {opening.device: opening.reaches for opening in machine.openings}
        if "fuse door" in names:
            for fuse in ("bayonet fuse", "limiter fuse"):
                if fuse in names:
                    yield self.replace_fuse(fuse, doors.get("fuse door", ()))
        for letter in ("A", "B"):
            if f"way {letter}" in names:
                yield self.earth_cable(letter)
        if any(self.earthed((point,)) for point in (FUSE_LINE_SIDE, PRIMARY)) and self.earthed((SECONDARY,)):
            yield self.work_on_transformer()
        people = {device.id for device in machine.devices if device.kind == "person"}
        for door, reaches in doors.items():
            if LV_BUS in reaches and door not in people:
                yield self.work_on_bus(door, reaches)
        yield from (self.enter(device, doors) for device in machine.devices if device.kind == "person")
        yield from (self.work_on_feeder(d) for d in machine.devices if d.id.startswith("feeder "))
        yield from self.earths_at_connectors()
        if "tie" in names:
            yield self.transfer("tie", DeviceIn("tie", ("closed",)))
        if "generator breaker" in names:
            on = DeviceIn("generator", ("on",))
            yield self.transfer("generator", on, DeviceIn("generator breaker", ("closed",)))

    def isolated(self, points: Collection[str], *, beyond: bool) -> tuple[tuple[Atom, ...], tuple[str, ...]]:
        """What H2 holds at a place: devices open, own padlocks on; and devices that no padlock secures."""
        found = self.isolating.of(points, beyond=beyond)
        stands = [self.machine.device(name) for name in found.opened]
        return (*(_apart(d) for d in stands), *(DeviceIn(p, ("on",)) for p in found.padlocks)), found.unlocked

    def proved(self, points: tuple[str, ...], opened: Atom, earthed: tuple[Atom, ...]) -> tuple[Hold, ...]:
        """H3: with the door still shut what can be proved so, the rest behind it; always before an earth goes on."""
        tests = [test for test in self.machine.tests if test.at in points]
        shut = tuple(dict.fromkeys(test.at for test in tests if not test.guards))
        behind = tuple(dict.fromkeys(test.at for test in tests if test.at not in shut))
        holds = []
        for able, limits in ((shut, (opened, *earthed)), (behind, earthed)):
            if able:
                before = AnyOf(limits) if limits else None
                holds.append(Hold("H3", AllOf(tuple(Tested(point) for point in able)), before, kept=False))
        return tuple(holds)

    def earthed(self, points: tuple[str, ...]) -> tuple[Atom, ...]:
        """One sentence for each of the points that some device of the unit can earth."""
        edges = [edge for device in self.machine.devices for _, pairs in device.edges for edge in pairs]
        can = {end for edge in edges if EARTH in edge for end in edge}
        return tuple(Earthed(point) for point in points if point in can)

    def never(self, points: tuple[str, ...] = ()) -> tuple[Sentence, ...]:
        """Load comes off before anything else is switched and on after it; proving dead comes after discharging."""
        load = AllOf((Dead(SECONDARY), DeviceIn("main", ("closed",))))
        stores = [store for store in self.machine.stores if store.at in points]
        charged = (
            Sentence(f"{test.at} proved dead before {store.id} is discharged", AllOf((Tested(test.at), still)))
            for store in stores
            for still in (Not(Discharged(store.id)),)
            for test in self.machine.tests
            if test.at in points
        )
        return (Sentence("the main is closed on a dead transformer", load), *self.idle_generator(), *charged)

    def idle_generator(self) -> Iterator[Sentence]:
        """A generator runs before its breaker closes, and until it is open again."""
        if any(device.id == "generator breaker" for device in self.machine.devices):
            still = AllOf((DeviceIn("generator", ("off",)), DeviceIn("generator breaker", ("closed",))))
            yield Sentence("the generator breaker is closed on a generator that stands still", still)

    def back(self, apart: Sequence[Atom]) -> tuple[Hold, ...]:
        """H10 earths off, H11 doors shut; both before anything that was opened for the task is closed again."""
        devices = self.machine.devices
        opened = (part.device for part in apart if isinstance(part, DeviceIn))
        feeding = tuple(DeviceIn(n, ("closed",)) for n in opened if "closed" in self.machine.device(n).positions)
        fed = AnyOf(feeding) if feeding else None
        earths = tuple(DeviceIn(d.id, ("off",)) for d in devices if d.kind == "earth")
        shut = tuple(DeviceIn(d.id, ("closed",)) for d in devices if d.kind == "door")
        counted = (Hold("H10", AllOf(earths), fed, kept=False),) if earths else ()
        return (*counted, Hold("H11", AllOf(shut), fed, kept=False))

    def replace_fuse(self, fuse: str, reaches: tuple[str, ...]) -> Goal:
        """Both sides of the fuse isolated and dead, its line side earthed where it can be, the tank vented."""
        door, out = DeviceIn("fuse door", ("open",)), DeviceIn(fuse, ("out",))
        vented: tuple[Atom, ...] = (DeviceIn("tank vent", ("vented",)),) if fuse == "bayonet fuse" else ()
        place = reaches or (FUSE_LINE_SIDE, PRIMARY)
        goal = AllOf((out, *vented, door, *(Dead(point) for point in reaches)))
        earthed = self.earthed((FUSE_LINE_SIDE, PRIMARY))
        apart, unlocked = self.isolated((FUSE_LINE_SIDE, PRIMARY, *reaches), beyond=True)
        holds = (
            *_kept("H2", apart, door),
            *self.proved(place, door, earthed),
            *_kept("H4", earthed, out),
            *_kept("H5", vented, out),
        )
        name = "replace bayonet fuse" if fuse == "bayonet fuse" else "replace current-limiting fuse"
        return Goal(name, goal, holds, self.never(reaches), self.back(apart), unlocked, place)

    def work_on_transformer(self) -> Goal:
        """Tank opened: both sides isolated, proved dead and earthed, the tank vented."""
        names = {device.id for device in self.machine.devices}
        vented: tuple[Atom, ...] = (DeviceIn("tank vent", ("vented",)),) if "tank vent" in names else ()
        sides = (PRIMARY, SECONDARY)
        earthed = tuple(Earthed(point) for point in sides)
        apart, unlocked = self.isolated(sides, beyond=True)
        able = tuple(dict.fromkeys(test.at for test in self.machine.tests if test.at in sides))
        proved = (Hold("H3", AllOf(tuple(Tested(p) for p in able)), AllOf(earthed), kept=False),) if able else ()
        holds = (*_kept("H2", apart, AnyOf(earthed)), *proved, *_kept("H4", earthed, None), *_passed("H5", vented))
        goal = AllOf((*earthed, *vented, *(Dead(point) for point in sides)))
        return Goal("work on transformer", goal, holds, self.never(sides), self.back(apart), unlocked, sides)

    def earth_cable(self, letter: str) -> Goal:
        """The far end and the own way open and locked, the cable proved dead, then the way earthed."""
        way, cable = f"way {letter}", f"cable {letter}"
        earthed = DeviceIn(way, ("earthed",))
        apart, unlocked = self.isolated((cable,), beyond=False)
        holds = (*_kept("H2", apart, earthed), *self.proved((cable,), earthed, ()))
        goal, back = AllOf((*apart, earthed)), self.back(apart)
        return Goal(f"isolate and earth {cable}", goal, holds, self.never((cable,)), back, unlocked, (cable,))

    def work_on_bus(self, door: str, reaches: tuple[str, ...]) -> Goal:
        """Every way to the bus and to the line side of the main open and locked, charges gone, proved dead."""
        opened = DeviceIn(door, ("open",))
        charges: tuple[Atom, ...] = tuple(Discharged(store.id) for store in self.machine.stores if store.at in reaches)
        goal = AllOf((opened, *(Dead(point) for point in reaches), *charges))
        earthed = self.earthed(reaches)
        apart, unlocked = self.isolated((SECONDARY, *reaches), beyond=True)
        holds = (
            *_kept("H2", apart, opened),
            *_kept("H5", charges, opened),
            *self.proved(reaches, opened, earthed),
            *_kept("H4", earthed, None),
        )
        return Goal(f"work behind {door}", goal, holds, self.never(reaches), self.back(apart), unlocked, reaches)

    def enter(self, person: Device, doors: Mapping[str, tuple[str, ...]]) -> Goal:
        """Everything that can feed the inside open and locked, proved dead where it can be, the own key carried in."""
        own = [lock.id for lock in self.machine.locks if lock.device == person.id]
        inside = DeviceIn(person.id, ("in",))
        reaches = doors.get(person.id, ())
        keys: tuple[Atom, ...] = tuple(LockHasKey(lock, present=True) for lock in own)
        charges: tuple[Atom, ...] = tuple(Discharged(store.id) for store in self.machine.stores if store.at in reaches)
        earthed = self.earthed(reaches)
        apart, unlocked = self.isolated(reaches, beyond=True)
        holds = (
            *_kept("H2", apart, inside),
            *_kept("H5", charges, inside),
            *self.proved(reaches, inside, earthed),
            *_kept("H4", earthed, inside),
            *_kept("H9", keys, inside),
        )
        goal = AllOf((inside, *(Dead(p) for p in reaches)))
        name = person.id.removeprefix("crew in ")
        return Goal(f"walk into {name}", goal, holds, self.never(reaches), self.back(apart), unlocked, reaches)

    def work_on_feeder(self, breaker: Device) -> Goal:
        """Its breaker open and locked, what could feed back off, its end proved dead."""
        end = feeder_end(breaker.id.removeprefix("feeder "))
        apart, unlocked = self.isolated((end,), beyond=False)
        proved = tuple(Tested(test.at) for test in self.machine.tests if test.at == end)
        goal = AllOf((*apart, Dead(end), *proved))
        holds = (*_kept("H2", apart, AllOf(proved) if proved else None), *_passed("H3", proved))
        back = self.back(apart)
        return Goal(f"work on {breaker.id}", goal, holds, self.never((end,)), back, unlocked, (end,))

    def earths_at_connectors(self) -> Iterator[Goal]:
        """Far end open and locked, connector parked, cable proved dead, accessory on."""
        devices = self.machine.devices
        connectors = {device.id for device in devices if device.kind == "connector"}
        for earth in (device for device in devices if device.kind == "earth"):
            needs = [g.condition for move in earth.moves if move.target == "on" for g in move.guards]
            parked = [c for c in needs if isinstance(c, DeviceIn) and c.device in connectors]
            points = tuple(end for edge in earth.edges_at("on") for end in edge if end != EARTH)
            if not parked:
                continue
            on = DeviceIn(earth.id, ("on",))
            far = [f"remote switch {point.removeprefix('cable ')}" for point in points if point.startswith("cable ")]
            open_ = tuple(_apart(d) for d in devices if d.id in far)
            locks = tuple(DeviceIn(p, ("on",)) for p, held in self.padlocks.items() if held in far)
            unlocked = tuple(d.id for d in devices if d.id in far and d.id not in self.padlocks.values())
            tested = tuple(Tested(test.at) for test in self.machine.tests if test.at in points)
            proved = (Hold("H3", AllOf(tested), on, kept=False),) if tested else ()
            holds = (*_kept("H2", (*open_, *locks, *parked), on), *proved)
            goal, back = AllOf((*open_, *parked, on)), self.back(open_)
            name = f"earth {points[0]} at {parked[0].device}"
            yield Goal(name, goal, holds, self.never(points), back, unlocked, points[:1])

    def transfer(self, name: str, *feeding: DeviceIn) -> Goal:
        """The first source open and locked before the second closes, and the other way round on the way back."""
        first, second = self.held_open("main"), self.held_open(feeding[-1].device)
        holds = _kept("H8", first, feeding[-1])
        back = (Hold("H8", AllOf(second), DeviceIn("main", ("closed",)), kept=False),)
        return Goal(f"transfer to the {name}", AllOf((*feeding, first[0])), holds, self.never(), back)

    def held_open(self, device: str) -> tuple[Atom, ...]:
        """A device open, and its own padlocks on."""
        locks = (name for name, held in self.padlocks.items() if held == device)
        return (DeviceIn(device, ("open",)), *(DeviceIn(name, ("on",)) for name in locks))


def _apart(device: Device) -> Atom:
    """Where a switch, a breaker or a source does not feed on."""
    return DeviceIn(device.id, device.apart)


def _kept(name: str, parts: tuple[Atom, ...], before: Atom | None) -> tuple[Hold, ...]:
    """A hold point that stays true to the end; none where there is nothing to hold."""
    return (Hold(name, AllOf(parts), before, kept=True),) if parts else ()


def _passed(name: str, parts: tuple[Atom, ...]) -> tuple[Hold, ...]:
    return (Hold(name, AllOf(parts), None, kept=False),) if parts else ()


def lacking(machine: Machine) -> tuple[tuple[str, str, str], ...]:
    """Return the hold points a unit has no means for: task, hold point, and what would give it one."""
    able, found = {test.at for test in machine.tests}, []
    for goal in machine.goals:
        have = {hold.id for hold in goal.holds}
        if goal.id.startswith("transfer") or (goal.id.startswith("walk into ") and not goal.place):
            continue
        if goal.unlocked:
            names = ", ".join(machine.device(name).name for name in goal.unlocked)
            found.append((goal.id, "H2", f"an own padlock on {names} (`operation.padlocks`)"))
        unproved = [point for point in machine.points if point in goal.place and point not in able]
        if unproved or "H3" not in have:
            where = ", ".join(unproved) or "the place of work"
            found.append((goal.id, "H3", f"a place where {where} is proved dead (`operation.tests`)"))
        if "H4" not in have and _wants_earth(machine, goal):
            found.append((goal.id, "H4", "an earth at the place of work (`operation.earths` or an earthed position)"))
    return tuple(found)


BEFORE_BACK = ("H11", "H12")
"""Hold points of people that come before the way back; the others come before step 1."""


def prompts(machine: Machine, task: str) -> tuple[tuple[str, str], ...]:
    """Return the hold points of a task that people see to and no device can: which, and what in words."""
    sources = [
        f"{device.id} ({'fixed on' if not device.moves else device.start} at {' and '.join(device.source.at)})"
        for device in machine.devices
        if device.source is not None
    ]
    found = [("H1", f"sources named from drawing and nameplate: {', '.join(sources)}; no other")]
    if task.startswith(("work on feeder", "work behind", "replace ")):
        found.append(("H7", "live parts beside the work shrouded"))
    if task.startswith("walk into "):
        found.append(("H9", "heads counted, going in and coming out"))
    if not task.startswith("transfer"):
        found.append(("H11", "tools and people out, crews have reported"))
    if task.startswith(("isolate and earth ", "earth ", "work on ", "work behind ")):
        found.append(("H12", "phasing or insulation proved where conductors were changed"))
    return tuple(found)


def _wants_earth(machine: Machine, goal: Goal) -> bool:
    """Where a hand reaches MV; at LV only where something stays charged. Other tasks earth by themselves."""
    if goal.id.startswith("replace"):
        return True
    if not goal.id.startswith(("work behind ", "walk into ")):
        return False
    return not set(goal.place) <= set(LOW_VOLTAGE) or any(store.at in goal.place for store in machine.stores)
