"""Operation: which entry of the file would answer a failure. A station and what remains in, entries that help out."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from deadfront.operation.atoms import Atom, BladeIn, DeviceIn, Earthed, Tested, simple_parts
from deadfront.operation.errors import BrokenMachine
from deadfront.operation.machine import KINDS, Device, Goal, Kind, Machine
from deadfront.operation.plant import View
from deadfront.operation.procedures import there_and_back
from deadfront.operation.search import Explored
from deadfront.operation.singles import break_singles, every_single
from deadfront.operation.station_machine import station_machine
from deadfront.operation.trimming import without_own_locks_and_tests
from deadfront.project.model import Interlock, Operation, VoltageTest, WorkEarth
from deadfront.station.station import Station

FEEDING = ("switch", "breaker", "source")
"""Kinds of devices that can make something live."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing more at the unit: in words, where the file says it, how it reads there, and the unit with it."""

    words: str
    path: str
    text: str
    operation: Operation
    asks: tuple[tuple[str, str, Atom], ...] = ()
    """What it asks of a device that goes to a position, where that is known before the machine is built."""

    def written(self) -> str:
        """The entry as it would stand in the file."""
        return f"{self.path}: {self.text}"


@dataclass(frozen=True, slots=True)
class Remaining:
    """A failure that people who obey can still be hurt by: its name, the hazard, and the search that met it first."""

    failure: str
    kind: Kind
    search: Explored

    def moves(self) -> tuple[str, ...]:
        """The shortest sequence to the hazard, a blade that welds on the way among them."""
        return tuple(self.search.plant.moves[move].text for move in self.search.sequence(self.kind))


@dataclass(frozen=True, slots=True)
class Answering:
    """An entry that answers a failure, and the kinds of hazard that hands reach with it and did not reach before."""

    entry: Entry
    adds: tuple[Kind, ...]


def answering_entries(
    station: Station, machine: Machine, remaining: Sequence[Remaining], excused: frozenset[Kind]
) -> dict[str, Answering]:
    """Return for each failure the first entry that answers it if people obey; nothing where none that was tried does.

    Tried in this order: a place to prove dead, contacts seen, an own padlock, an earth, one more lock; what costs least
    at the unit goes first. An entry answers a failure if with it no kind of hazard but the `excused` ones is added by
    the failure, if it brings no hazard of its own under the rules, and if each task can still be done. What does not
    stand in the way of the shortest sequence cannot answer, and is not searched.
    """
    found: dict[str, Answering] = {}
    if not remaining:
        return found
    sound = break_singles(machine, "rules", [frozenset()])[frozenset()]
    for entry in entries(station, machine):
        left = [one for one in remaining if one.failure not in found and _may_answer(one, entry)]
        changed = _machine_with(station, entry) if left else None
        if changed is None:
            continue
        added = _added_guards(machine, changed)
        known = set(every_single(changed))
        asked = [one.failure for one in left if one.failure in known and _in_the_way(one, added)]
        helped = _helped(changed, asked, sound, excused)
        if helped and all(_can_be_done(changed, goal) for goal in changed.goals):
            adds = _adds(machine, changed) if _new_earth(machine, changed) else ()
            found |= dict.fromkeys(helped, Answering(entry, adds))
    return found


def _may_answer(one: Remaining, entry: Entry) -> bool:
    """Whether an entry stands in the way of the shortest sequence, or that is not yet known."""
    return not entry.asks or _in_the_way(one, {(device, target): [asked] for device, target, asked in entry.asks})


def _can_be_done(machine: Machine, goal: Goal) -> bool:
    way = there_and_back(machine, goal)
    return way is not None and way[1] is not None


def _machine_with(station: Station, entry: Entry) -> Machine | None:
    """The unit's machine with an entry more; None where it cannot stand beside what is there."""
    unit = station.unit.model_copy(update={"operation": entry.operation})
    try:
        return station_machine(replace(station, unit=unit)).machine
    except BrokenMachine:
        return None


def _helped(changed: Machine, asked: Sequence[str], sound: frozenset[Kind], excused: frozenset[Kind]) -> list[str]:
    """The failures that add nothing to the changed machine but what is excused."""
    if not asked:
        return []
    sets = [frozenset[str](), *(frozenset([name]) for name in asked)]
    reached = break_singles(changed, "rules", sets)
    if not reached[frozenset()] <= sound:
        return []
    return [name for name in asked if not reached[frozenset([name])] - sound - excused]


def _adds(machine: Machine, changed: Machine) -> tuple[Kind, ...]:
    none: list[frozenset[str]] = [frozenset()]
    before, after = (
        break_singles(without_own_locks_and_tests(one), "hands", none)[none[0]] for one in (machine, changed)
    )
    return tuple(kind for kind in KINDS if kind in after - before)


def _new_earth(machine: Machine, changed: Machine) -> bool:
    before, after = (sum(device.kind == "earth" for device in one.devices) for one in (machine, changed))
    return after > before


# --- what stands in the way of a sequence ---

Added = Mapping[tuple[str, str], list[Atom]]
"""What is asked besides of a device that goes to a position."""


def _added_guards(machine: Machine, changed: Machine) -> Added:
    before = {(d.id, move.target): {guard.id for guard in move.guards} for d in machine.devices for move in d.moves}
    added: dict[tuple[str, str], list[Atom]] = {}
    for device in changed.devices:
        for move in device.moves:
            known = before.get((device.id, move.target))
            new = [guard.condition for guard in move.guards if known is not None and guard.id not in known]
            added.setdefault((device.id, move.target), []).extend(new)
    return added


def _in_the_way(one: Remaining, added: Added) -> bool:
    """Whether a move of the shortest sequence is refused by what is asked besides."""
    search = one.search
    danger = search.dangers[one.kind]
    states, state = [danger.origin], danger.origin
    while search.parent[state] >= 0:
        state = int(search.parent[state])
        states.append(state)
    view = View(search.plant, search.codes[np.array(states[::-1])])
    for step, number in enumerate(search.sequence(one.kind)):
        move = search.plant.moves[number]
        for condition in added.get((move.subject, move.target), ()) if move.what == "device" else ():
            if not _known(search.plant.machine, condition) or not view.truth(condition)[step]:
                return True
    return False


def _known(machine: Machine, condition: Atom) -> bool:
    """Whether the machine before has the devices and tests that a sentence speaks of; what it has not is not done."""
    devices = {device.id for device in machine.devices}
    tested = {test.at for test in machine.tests}
    for atom in simple_parts(condition):
        if isinstance(atom, DeviceIn | BladeIn) and atom.device not in devices:
            return False
        if isinstance(atom, Tested) and atom.point not in tested:
            return False
        if isinstance(atom, Earthed) and atom.point not in machine.points:
            return False
    return True


# --- the entries that are tried ---


def entries(station: Station, machine: Machine) -> Iterator[Entry]:
    """Every entry that is tried: a test, contacts seen, an own padlock, an earth, one more lock."""
    operation = station.unit.operation or Operation()
    near = list(dict.fromkeys(_near(machine)))
    feeding = [device for device in machine.devices if device.kind in FEEDING and device.moves]
    yield from _tests(operation, near)
    yield from _contacts(operation, feeding)
    yield from _padlocks(operation, feeding)
    yield from _earths(operation, near)
    yield from _locks(operation, machine, feeding)


def _near(machine: Machine) -> Iterator[str]:
    for opening in machine.openings:
        yield from opening.reaches
        for link in machine.links:
            if set(link.between) & set(opening.reaches):
                yield from link.between


def _more(operation: Operation, **changed: object) -> Operation:
    return operation.model_copy(update=changed)


def _free(name: str, taken: Collection[str]) -> str:
    """A name that no entry has yet."""
    return name if name not in taken else _free(f"second {name}", taken)


def _tested(operation: Operation, point: str) -> bool:
    return any(test.at == point and test.behind is None for test in (operation.tests or {}).values())


def _with_test(operation: Operation, point: str) -> tuple[Operation, str]:
    tests = operation.tests or {}
    name = _free(f"{point} test", tests)
    return _more(operation, tests={**tests, name: VoltageTest(at=point)}), f"{{{name}: {{at: {point}}}}}"


def _tests(operation: Operation, near: Sequence[str]) -> Iterator[Entry]:
    for point in near:
        if not _tested(operation, point):
            changed, text = _with_test(operation, point)
            yield Entry(f"prove {point} dead with the doors shut", "operation.tests", text, changed)


def _contacts(operation: Operation, feeding: Sequence[Device]) -> Iterator[Entry]:
    seen = list(operation.contacts_seen or [])
    for device in feeding:
        if device.kind != "source" and device.id not in seen and device.indicator != "shaft":
            names = [*seen, device.id]
            words = f"see the contacts of {device.name} apart before a door is opened"
            yield Entry(
                words, "operation.contacts_seen", f"[{', '.join(names)}]", _more(operation, contacts_seen=names)
            )


def _padlocks(operation: Operation, feeding: Sequence[Device]) -> Iterator[Entry]:
    padlocks = operation.padlocks or {}
    for device in feeding:
        if device.id not in padlocks.values():
            name = _free(f"{device.id} padlock", padlocks)
            changed = _more(operation, padlocks={**padlocks, name: device.id})
            words = f"an own padlock on {device.name}, off, while a door is open"
            yield Entry(words, "operation.padlocks", f"{{{name}: {device.id}}}", changed)


def _earths(operation: Operation, near: Sequence[str]) -> Iterator[Entry]:
    earths = operation.earths or {}
    for point in near:
        if any(earth.at == point for earth in earths.values()):
            continue
        name = _free(f"{point} earth", earths)
        changed = _more(operation, earths={**earths, name: WorkEarth(at=point)})
        text = f"{{{name}: {{at: {point}, size: 4/0}}}}"
        if not _tested(operation, point):
            changed, test = _with_test(changed, point)
            text += f", with operation.tests: {test}"
        yield Entry(f"an earth at {point}, put on after it is proved dead", "operation.earths", text, changed)


def _locks(operation: Operation, machine: Machine, feeding: Sequence[Device]) -> Iterator[Entry]:
    """One key that is free only while the one device is apart, and without which the other stands still."""
    opened = {opening.device for opening in machine.openings}
    doors = [device for device in machine.devices if device.kind == "door" and device.id in opened]
    pairs = [(door, device) for door in doors for device in feeding]
    pairs += [(one, other) for n, one in enumerate(feeding) for other in feeding[n + 1 :]]
    for one, other in pairs:
        held = operation.interlocks or {}
        more = {
            _free(f"{a.id} {goes} on key of {b.id}", held): Interlock(
                device=a.id, to=goes, needs=b.id, stands=list(_apart(b)), kept_by="key"
            )
            for a, b in ((one, other), (other, one))
            for goes in _joining(a)
        }
        text = ", ".join(
            f"{name}: {{device: {e.device}, to: {e.to}, needs: {e.needs}, stands: [{', '.join(e.stands or ())}], "
            f"kept_by: key}}"
            for name, e in more.items()
        )
        words = f"one more lock: {one.name} goes to {' or '.join(_joining(one))} only with a key of {other.name}"
        asks = tuple((str(e.device), str(e.to), DeviceIn(str(e.needs), tuple(e.stands or ()))) for e in more.values())
        changed = _more(operation, interlocks={**held, **more})
        yield Entry(words, "operation.interlocks", f"{{{text}}}", changed, asks)


def _joining(device: Device) -> tuple[str, ...]:
    """The positions in which a device lets something through: a door a hand, all others current."""
    return ("open",) if device.kind == "door" else device.joining


def _apart(device: Device) -> tuple[str, ...]:
    return tuple(position for position in device.positions if position not in _joining(device))
