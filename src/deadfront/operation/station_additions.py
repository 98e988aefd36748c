"""Operation: connectors, bolts, rooms and far sources of a unit. Entries of the file in, parts of its machine added."""

from __future__ import annotations

from deadfront.operation.atoms import AllOf, Atom, Dead, DeviceIn, LockHasKey, Tested
from deadfront.operation.machine import Guard, Opening, Sentence, Source
from deadfront.operation.schemes import Elsewhere, Entries
from deadfront.operation.station_parts import Parts
from deadfront.project.model import TrappedKeyLock
from deadfront.station.station import LV_BUS, feeder_end

TERMINALS = {"cable A": "terminals A", "cable B": "terminals B"}
"""The unit's side of a connector, by its cable."""


def cable_end(parts: Parts, cable: str) -> str:
    """The point at which the unit begins: beyond the connector of a cable where there is one, else the cable's end."""
    ends = [entry.cable for entry in (parts.operation.connectors or {}).values()]
    return TERMINALS[cable] if cable in ends else cable


def connectors(parts: Parts) -> None:
    """Connectors in series with their cables; a dead-break one is moved only dead, which is a rule."""
    for name, entry in (parts.operation.connectors or {}).items():
        path = f"connectors.{name}"
        known = [cable for cable in TERMINALS if cable in parts.points]
        if not parts.findings.whole(path, cable=entry.cable, load_break=entry.load_break) or entry.cable is None:
            continue
        if TERMINALS[entry.cable] in parts.points:
            found = f"`{entry.cable}`, which another connector ends"
            parts.findings.wrong(f"{path}.cable", "one connector at each cable", found, "leave one of the two out")
            continue
        if not parts.findings.known(f"{path}.cable", "cable", entry.cable, known):
            continue
        parts.points.append(TERMINALS[entry.cable])
        parts.add(
            name,
            "connector",
            {"on": [(entry.cable, TERMINALS[entry.cable])]},
            positions=("on", "parked"),
            start="on",
            moves=[("on", "parked"), ("parked", "on")],
            load_break=entry.load_break == "yes",
            at=path,
        )
        if entry.bushing != "capped":
            shut = DeviceIn(entry.behind, ("closed",)) if entry.behind is not None else None
            parts.openings.append(Opening(name, ("parked",), (TERMINALS[entry.cable],), shut))
        tested = any(test.at == entry.cable for test in (parts.operation.tests or {}).values())
        for target in ("on", "parked") if entry.load_break == "no" else ():
            parts.guard(name, target, Guard(f"{name} is moved only dead", "rule", Dead(entry.cable)))
            if tested:
                proved = Guard(f"{entry.cable} proved dead before {name} is moved", "rule", Tested(entry.cable))
                parts.guard(name, target, proved)


def connector_doors(parts: Parts, doors: Entries) -> None:
    """Where the doors stand that connectors are reached through."""
    for name, entry in (parts.operation.connectors or {}).items():
        path = f"connectors.{name}.behind"
        if entry.behind is None or name not in parts.devices:
            continue
        if parts.findings.known(path, "door", entry.behind, doors.doors):
            reach = Guard(f"reach through {entry.behind}", "access", DeviceIn(entry.behind, ("open",)))
            for target in ("on", "parked"):
                parts.guard(name, target, reach, f"operation.{path}")


def bolts(parts: Parts, doors: Entries) -> None:
    """A door opens only with its bolt loose; the bolt is tightened, and padlocked, only on a shut door."""
    for name, entry in (parts.operation.bolts or {}).items():
        path = f"bolts.{name}"
        if not parts.findings.whole(path, door=entry.door, padlock=entry.padlock) or entry.door is None:
            continue
        if not parts.findings.known(f"{path}.door", "door", entry.door, doors.doors):
            continue
        positions = ("locked", "tight", "loose") if entry.padlock == "yes" else ("tight", "loose")
        moves = [("tight", "loose"), ("loose", "tight")]
        moves += [("locked", "tight"), ("tight", "locked")] if entry.padlock == "yes" else []
        parts.add(name, "bolt", {}, positions=positions, start=positions[0], moves=moves, at=path)
        shut, at = DeviceIn(entry.door, ("closed",)), f"operation.{path}"
        parts.guard(entry.door, "open", Guard(f"{name} loose", "mechanical", DeviceIn(name, ("loose",))), at)
        for target in positions[:-1]:
            parts.guard(name, target, Guard(f"{name} needs {entry.door} shut", "mechanical", shut), at)
        if entry.behind is not None and parts.findings.known(f"{path}.behind", "door", entry.behind, doors.doors):
            reach = Guard(f"reach through {entry.behind}", "access", DeviceIn(entry.behind, ("open",)))
            for target in ("loose", "tight"):
                parts.guard(name, target, reach, f"{at}.behind")


def rooms(parts: Parts, entries: Entries) -> None:
    """Somebody goes in and out by the door; locked in is whoever is inside behind a shut and locked one."""
    for name, entry in (parts.operation.rooms or {}).items():
        path = f"rooms.{name}"
        if not parts.findings.whole(path, door=entry.door) or entry.door is None:
            continue
        if not parts.findings.known(f"{path}.door", "door", entry.door, entries.doors):
            continue
        person = f"crew in {name}"
        moves = [("out", "in"), ("in", "out")]
        parts.add(person, "person", {}, positions=("out", "in"), start="out", moves=moves, at=path)
        way = Guard(f"way through {entry.door}", "access", DeviceIn(entry.door, ("open",)))
        for target in ("in", "out"):
            parts.guard(person, target, way, f"operation.{path}.door")
        if entry.reaches is None:
            expected = "the points that a person inside can touch"
            remedy = "for example `reaches: [fuse line side]`, or `reaches: []` where all is dead-front"
            parts.findings.wrong(f"{path}.reaches", expected, "nothing", remedy)
        for n, point in enumerate(entry.reaches or ()):
            parts.findings.known(f"{path}.reaches[{n}]", "point", point, parts.points)
        if entry.reaches:
            parts.openings.append(Opening(person, ("in",), tuple(entry.reaches), None))
        if entry.personnel_key is not None:
            _pocket(parts, entries, name, entry.personnel_key)
        if entry.release_inside != "yes":
            parts.state_hazards.append(Sentence(f"locked in {name}", _locked_in(entries, person, entry.door)))
        if entry.release_inside is None:
            parts.supplied[f"operation.{path}.release_inside"] = f"{entry.door} does not open from inside when locked"


def _pocket(parts: Parts, entries: Entries, room: str, code: str) -> None:
    """The key that a person carries into a room is a lock on that person."""
    pocket, path = f"{room} pocket", f"rooms.{room}.personnel_key"
    if pocket in entries.locks:
        expected, other = f"a place named `{pocket}` for that key alone", parts.findings.written_at(f"locks.{pocket}")
        parts.findings.wrong(path, expected, "a lock of that name", "give the lock another name", other=other)
        return
    entries.locks[pocket] = TrappedKeyLock(device=f"crew in {room}", code=code, free_at=["out"])
    parts.elsewhere[f"locks.{pocket}"] = Elsewhere(f"locks.{pocket}", path)


def _locked_in(entries: Entries, person: str, door: str) -> Atom:
    """Inside, the door shut, and where it has locks no key in them."""
    shut: tuple[Atom, ...] = (DeviceIn(person, ("in",)), DeviceIn(door, ("closed",)))
    locks = (name for name, lock in entries.locks.items() if lock.device == door)
    return AllOf((*shut, *(LockHasKey(name, present=False) for name in locks)))


def feeders(parts: Parts) -> None:
    """Breakers of feeders that the file says how to work on: with a test or an earth at the end, or a padlock."""
    operation = parts.operation
    ends = {test.at for test in (operation.tests or {}).values()}
    ends |= {earth.at for earth in (operation.earths or {}).values()}
    held = set((operation.padlocks or {}).values())
    for name in parts.station.feeders():
        if feeder_end(name) in ends or f"feeder {name}" in held:
            _feeder(parts, name)


def _feeder(parts: Parts, name: str) -> str:
    """A feeder's breaker, and its end as a point of its own, which is returned."""
    end = feeder_end(name)
    if end not in parts.points:
        parts.points.append(end)
        parts.breaker(f"feeder {name}", (LV_BUS, end), "closed")
    return end


def far_sources(parts: Parts) -> None:
    """Each with its feeder's breaker."""
    if parts.operation.far_sources is None:
        parts.supplied["operation.far_sources"] = "nothing beyond a feeder feeds back"
    for name, entry in (parts.operation.far_sources or {}).items():
        path = f"far_sources.{name}"
        if not parts.findings.whole(path, feeder=entry.feeder, in_step=entry.in_step) or entry.feeder is None:
            continue
        if not parts.findings.known(f"{path}.feeder", "feeder", entry.feeder, parts.station.feeders()):
            continue
        end = _feeder(parts, entry.feeder)
        group = "utility" if entry.in_step == "yes" else f"far end of {entry.feeder}"
        source = Source((end,), group, ("on",))
        moves = [("off", "on"), ("on", "off")]
        parts.add(name, "source", {}, positions=("off", "on"), start="off", moves=moves, source=source, at=path)
