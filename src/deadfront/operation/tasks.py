"""Operation: the tasks that apply to a unit, as end states and hold points. A machine in, goals out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from deadfront.operation.atoms import AllOf, AnyOf, Atom, Dead, DeviceIn, Discharged, Earthed, Tested
from deadfront.operation.machine import EARTH, Goal, Hold, Machine
from deadfront.station.station import LV_BUS, SECONDARY

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
    for door, reaches in doors.items():
        if "LV bus" in reaches:
            yield _work_on_bus(machine, door, reaches)
    if "generator breaker" in names:
        yield _transfer()


def _isolated(machine: Machine) -> tuple[Atom, ...]:
    """Every switch and breaker that can feed the unit's inside is open, and the crew's own padlocks on them are on."""
    parts: list[Atom] = []
    for device in machine.devices:
        if device.id in ("switch", "main", "tie", "generator breaker"):
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


def _back(machine: Machine) -> tuple[Hold, ...]:
    """H10 earths off, H11 doors shut; both before anything that feeds is closed again."""
    feeding = AnyOf(
        tuple(DeviceIn(n, ("closed",)) for n in ("switch", "main") if any(d.id == n for d in machine.devices))
    )
    earths = tuple(DeviceIn(d.id, ("off",)) for d in machine.devices if d.kind == "earth")
    shut = tuple(DeviceIn(d.id, ("closed",)) for d in machine.devices if d.kind == "door")
    counted = (Hold("H10", AllOf(earths), feeding, kept=False),) if earths else ()
    return (*counted, Hold("H11", AllOf(shut), feeding, kept=False))


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
    return Goal(f"isolate and earth {cable}", AllOf((*apart, earthed)), holds, (), _back(machine))


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


def _transfer() -> Goal:
    fed = AllOf(
        (DeviceIn("generator", ("on",)), DeviceIn("generator breaker", ("closed",)), DeviceIn("main", ("open",)))
    )
    closed = DeviceIn("generator breaker", ("closed",))
    holds = _kept("H8", (DeviceIn("main", ("open",)),), closed)
    back = (Hold("H8", DeviceIn("generator breaker", ("open",)), DeviceIn("main", ("closed",)), False),)
    return Goal("transfer to the generator", fed, holds, (), back)


def lacking(machine: Machine) -> tuple[tuple[str, str, str], ...]:
    """Return the hold points a unit has no means for: task, hold point, and what would give it one."""
    found = []
    for goal in machine.goals:
        have = {hold.id for hold in goal.holds}
        if goal.id.startswith("transfer"):
            continue
        if "H3" not in have:
            found.append(
                (goal.id, "H3", "a place where absence of voltage is proved before the work (`operation.tests`)")
            )
        if "H4" not in have and not goal.id.startswith("isolate") and _wants_earth(machine, goal):
            found.append((goal.id, "H4", "an earth at the place of work (`operation.earths` or an earthed position)"))
    return tuple(found)


def _wants_earth(machine: Machine, goal: Goal) -> bool:
    """MV always; LV where something stays charged, or something at the far end of a feeder may feed back."""
    door = goal.id.removeprefix("work behind ")
    reaches = {point for opening in machine.openings if opening.device == door for point in opening.reaches}
    low = reaches and reaches <= set(LOW_VOLTAGE)
    return not low or any(store.at in reaches for store in machine.stores)
