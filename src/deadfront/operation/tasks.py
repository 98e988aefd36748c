"""Operation: the tasks that apply to a unit, as end states and hold points. A machine in, goals out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from deadfront.operation.atoms import AllOf, AnyOf, Atom, Dead, DeviceIn, Discharged, Earthed, LockHasKey, Tested
from deadfront.operation.machine import EARTH, Device, Goal, Hold, Machine
from deadfront.station.station import LV_BUS, SECONDARY, feeder_end

# Tasks and hold points: NFPA 70E 120.5, OSHA 1910.269(m) and (n), EN 50110-1 clause 6.2, as the reference lists them
# [V2 for the order of steps, C for the vent]. A hold point the unit has no means for is left out here and named by
# `lacking`: the sheet then says who sees to it.

LOW_VOLTAGE = (SECONDARY, LV_BUS)
"""Points at which voltage is low; there an earth is for stored or induced energy."""


def tasks(machine: Machine) -> Machine:
    """Return the machine with a goal for every task that it has the devices for."""
    return replace(machine, goals=tuple(_goals(machine)))


def _goals(machine: Machine) -> Iterator[Goal]:
    names = {device.id for device in machine.devices}
    doors = {opening.device: opening.reaches for opening in machine.openings}
    if "fuse door" in doors:
        for fuse in ("bayonet fuse", "limiter fuse"):
            if fuse in names:
                yield _replace_fuse(machine, fuse, doors["fuse door"])
    for letter in ("A", "B"):
        if f"way {letter}" in names:
            yield _earth_cable(machine, letter)
    people = {device.id for device in machine.devices if device.kind == "person"}
    for door, reaches in doors.items():
        if "LV bus" in reaches and door not in people:
            yield _work_on_bus(machine, door, reaches)
    yield from (_enter(machine, device, doors) for device in machine.devices if device.kind == "person")
    yield from (_work_on_feeder(machine, device) for device in machine.devices if device.id.startswith("feeder "))
    yield from _earths_at_connectors(machine)
    if "tie" in names:
        yield _transfer("tie", DeviceIn("tie", ("closed",)))
    if "generator breaker" in names:
        yield _transfer("generator", DeviceIn("generator", ("on",)), DeviceIn("generator breaker", ("closed",)))


def _isolated(machine: Machine) -> tuple[Atom, ...]:
    """Every switch and breaker that can feed the unit's inside is open, and the crew's own padlocks on them are on."""
    parts: list[Atom] = []
    for device in machine.devices:
        if device.id in ("switch", "main", "tie", "generator breaker") or device.id.startswith("feeder "):
            parts.append(DeviceIn(device.id, tuple(p for p in device.positions if p != "closed")))
    padlocks = (device.id for device in machine.devices if device.kind == "bolt")
    return (*parts, *(DeviceIn(name, ("on",)) for name in padlocks))


def _proved(machine: Machine, points: tuple[str, ...], opened: Atom, earthed: tuple[Atom, ...]) -> tuple[Hold, ...]:
    """H3: proved dead before the door opens where the unit can do that with it shut; always before an earth goes on."""
    shut = [test.at for test in machine.tests if test.at in points and not test.guards]
    able = shut or [test.at for test in machine.tests if test.at in points]
    if not able:
        return ()
    limits = ((opened,) if shut else ()) + earthed
    tested = AllOf(tuple(Tested(point) for point in dict.fromkeys(able)))
    return (Hold("H3", tested, AnyOf(limits) if limits else None, kept=False),)


def _earthed(machine: Machine, points: tuple[str, ...]) -> tuple[Atom, ...]:
    """One sentence for each of the points that some device of the unit can earth."""
    edges = [edge for device in machine.devices for _, pairs in device.edges for edge in pairs if EARTH in edge]
    can = {end for edge in edges for end in edge}
    return tuple(Earthed(point) for point in points if point in can)


def _kept(name: str, parts: tuple[Atom, ...], before: Atom | None) -> tuple[Hold, ...]:
    """A hold point that stays true to the end; none where there is nothing to hold."""
    return (Hold(name, AllOf(parts), before, kept=True),) if parts else ()


def _back(machine: Machine, feeding: tuple[str, ...] = ("switch", "main")) -> tuple[Hold, ...]:
    """H10 earths off, H11 doors shut; both before anything that feeds the place is closed again."""
    there = [device.id for device in machine.devices if device.id in feeding]
    fed = AnyOf(tuple(DeviceIn(name, ("closed",)) for name in there))
    earths = tuple(DeviceIn(d.id, ("off",)) for d in machine.devices if d.kind == "earth")
    shut = tuple(DeviceIn(d.id, ("closed",)) for d in machine.devices if d.kind == "door")
    counted = (Hold("H10", AllOf(earths), fed, kept=False),) if earths else ()
    return (*counted, Hold("H11", AllOf(shut), fed, kept=False))


def _replace_fuse(machine: Machine, fuse: str, reaches: tuple[str, ...]) -> Goal:
    door, out = DeviceIn("fuse door", ("open",)), DeviceIn(fuse, ("out",))
    vented: tuple[Atom, ...] = (DeviceIn("tank vent", ("vented",)),) if fuse == "bayonet fuse" else ()
    goal = AllOf((out, *vented, door, *(Dead(point) for point in reaches)))
    earthed = _earthed(machine, ("fuse line side",))
    holds = (
        *_kept("H2", _isolated(machine), door),
        *_proved(machine, reaches, door, earthed),
        *_kept("H4", earthed, out),
        *_kept("H5", vented, out),
    )
    name = "replace bayonet fuse" if fuse == "bayonet fuse" else "replace current-limiting fuse"
    return Goal(name, goal, holds, (), _back(machine))


def _earth_cable(machine: Machine, letter: str) -> Goal:
    way, remote, cable = f"way {letter}", f"remote switch {letter}", f"cable {letter}"
    earthed = DeviceIn(way, ("earthed",))
    apart: tuple[Atom, ...] = (DeviceIn(remote, ("open",)), DeviceIn(way, ("open", "earthed")))
    holds = (*_kept("H2", apart, earthed), *_proved(machine, (cable,), earthed, ()))
    return Goal(f"isolate and earth {cable}", AllOf((*apart, earthed)), holds, (), _back(machine, (remote, way)))


def _work_on_bus(machine: Machine, door: str, reaches: tuple[str, ...]) -> Goal:
    opened = DeviceIn(door, ("open",))
    charges: tuple[Atom, ...] = tuple(Discharged(store.id) for store in machine.stores if store.at in reaches)
    goal = AllOf((opened, *(Dead(point) for point in reaches), *charges))
    earthed = _earthed(machine, reaches)
    holds = (
        *_kept("H2", _isolated(machine), opened),
        *_kept("H5", charges, opened),
        *_proved(machine, reaches, opened, earthed),
        *_kept("H4", earthed, None),
    )
    return Goal(f"work behind {door}", goal, holds, (), _back(machine))


def _enter(machine: Machine, person: Device, doors: Mapping[str, tuple[str, ...]]) -> Goal:
    """Everything that can feed the inside is open, proved dead where that can be done, the own key is carried in."""
    own = [lock.id for lock in machine.locks if lock.device == person.id]
    inside = DeviceIn(person.id, ("in",))
    reaches = doors.get(person.id, ())
    keys: tuple[Atom, ...] = tuple(LockHasKey(lock, present=True) for lock in own)
    charges: tuple[Atom, ...] = tuple(Discharged(store.id) for store in machine.stores if store.at in reaches)
    earthed = _earthed(machine, reaches)
    holds = (
        *_kept("H2", _isolated(machine), inside),
        *_kept("H5", charges, inside),
        *_proved(machine, reaches, inside, earthed),
        *_kept("H4", earthed, inside),
        *_kept("H9", keys, inside),
    )
    name = person.id.removeprefix("crew in ")
    return Goal(f"walk into {name}", AllOf((inside, *(Dead(p) for p in reaches))), holds, (), _back(machine))


def _work_on_feeder(machine: Machine, breaker: Device) -> Goal:
    """Its breaker open, what could feed back off, its end proved dead."""
    end = feeder_end(breaker.id.removeprefix("feeder "))
    opened: tuple[Atom, ...] = (DeviceIn(breaker.id, ("open",)),)
    opened += tuple(DeviceIn(d.id, ("off",)) for d in machine.devices if d.source is not None and end in d.source.at)
    proved = tuple(Tested(test.at) for test in machine.tests if test.at == end)
    goal = AllOf((*opened, Dead(end), *proved))
    holds = (*_kept("H2", opened, AllOf(proved) if proved else None), *_hold_if("H3", proved))
    return Goal(f"work on {breaker.id}", goal, holds, (), _back(machine, (breaker.id,)))


def _hold_if(name: str, parts: tuple[Atom, ...]) -> tuple[Hold, ...]:
    return (Hold(name, AllOf(parts), None, kept=False),) if parts else ()


def _earths_at_connectors(machine: Machine) -> Iterator[Goal]:
    """Far end open, connector parked, cable proved dead, accessory on."""
    connectors = {device.id for device in machine.devices if device.kind == "connector"}
    for earth in (device for device in machine.devices if device.kind == "earth"):
        needs = [g.condition for move in earth.moves if move.target == "on" for g in move.guards]
        parked = [c for c in needs if isinstance(c, DeviceIn) and c.device in connectors]
        points = [end for edge in earth.edges_at("on") for end in edge if end != EARTH]
        if not parked:
            continue
        on = DeviceIn(earth.id, ("on",))
        far = [f"remote switch {point.removeprefix('cable ')}" for point in points if point.startswith("cable ")]
        apart: tuple[Atom, ...] = tuple(DeviceIn(d.id, ("open",)) for d in machine.devices if d.id in far)
        tested = tuple(Tested(test.at) for test in machine.tests if test.at in points)
        holds = (*_kept("H2", (*apart, *parked), on), *((Hold("H3", AllOf(tested), on, False),) if tested else ()))
        goal, back = AllOf((*apart, *parked, on)), _back(machine, tuple(far))
        yield Goal(f"earth {points[0]} at {parked[0].device}", goal, holds, (), back)


def _transfer(name: str, *feeding: DeviceIn) -> Goal:
    """The first source open before the second closes, and the other way round on the way back."""
    apart, closed = DeviceIn("main", ("open",)), feeding[-1]
    holds = _kept("H8", (apart,), closed)
    back = (Hold("H8", DeviceIn(closed.device, ("open",)), DeviceIn("main", ("closed",)), False),)
    return Goal(f"transfer to the {name}", AllOf((*feeding, apart)), holds, (), back)


def lacking(machine: Machine) -> tuple[tuple[str, str, str], ...]:
    """Return the hold points a unit has no means for: task, hold point, and what would give it one."""
    found = []
    for goal in machine.goals:
        have = {hold.id for hold in goal.holds}
        if goal.id.startswith("transfer") or (goal.id.startswith("walk into ") and not _reached(machine, goal)):
            continue
        if "H3" not in have:
            found.append(
                (goal.id, "H3", "a place where absence of voltage is proved before the work (`operation.tests`)")
            )
        if "H4" not in have and _wants_earth(machine, goal):
            found.append((goal.id, "H4", "an earth at the place of work (`operation.earths` or an earthed position)"))
    return tuple(found)


def _wants_earth(machine: Machine, goal: Goal) -> bool:
    """Where a hand reaches MV; at LV only where something stays charged. Other tasks earth by themselves."""
    if goal.id.startswith("replace"):
        return True
    if not goal.id.startswith(("work behind ", "walk into ")):
        return False
    reaches = _reached(machine, goal)
    return not reaches <= set(LOW_VOLTAGE) or any(store.at in reaches for store in machine.stores)


def _reached(machine: Machine, goal: Goal) -> set[str]:
    """Points that hands reach at the place of a task behind a door or in a room."""
    place = goal.id.removeprefix("work behind ").replace("walk into ", "crew in ", 1)
    return {point for opening in machine.openings if opening.device == place for point in opening.reaches}
