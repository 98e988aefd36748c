"""Operation: what would answer a failure. A machine in; the earth, test or lock that restores safety out."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from deadfront.operation.atoms import Atom, BladeIn, DeviceIn, Earthed, Not, Tested
from deadfront.operation.building import build
from deadfront.operation.failures import Broken, break_all
from deadfront.operation.machine import EARTH, KINDS, Device, Guard, Kind, Machine, Move, Opening, ProvingPoint
from deadfront.operation.plant import View
from deadfront.operation.procedures import there_and_back
from deadfront.operation.search import explore


@dataclass(frozen=True, slots=True)
class Remedy:
    """One thing more at the station, in words, and the station with it."""

    text: str
    machine: Machine


def remedies(machine: Machine) -> tuple[Remedy, ...]:
    """Return every single remedy that can be tried: a test, an earth, a look at the blade, a padlock, one more lock.

    All but the last are a device or test point with the rules that use it; rules bind people only, so a remedy is
    judged in the mode `rules`. Points are those behind openings and those that a link joins to them.
    """
    return (*_tests(machine), *_earths(machine), *_looks(machine), *_padlocks(machine), *_locks(machine))


@dataclass(frozen=True, slots=True)
class Answer:
    """A remedy that takes hazards away from a failure, and the kinds that the failure still adds.

    Where an earth is the remedy, a source that comes back meets the earth instead of a hand: then `left` says so, with
    kinds that were not there before.
    """

    text: str
    left: tuple[Kind, ...]


_ONTO_EARTH = frozenset[Kind](["LIVE_EARTH", "EARTH_LIVE"])
"""What an earth is for: a fault that protection clears, in place of a live part within reach."""


def answered(machine: Machine, progress: Callable[[int, int], None] | None = None) -> dict[str, tuple[Answer, ...]]:
    """Return, for each single failure that flips under the rules, the remedies that help, the best first.

    A remedy counts only if no new hazard comes with it, and if every goal (or, without goals, every opening) can still
    be reached safely: a door that never opens again is no remedy.
    """
    before = break_all(machine, "rules", tests_at_once=True)
    flipped = [next(iter(one)) for one in before.reaches if len(one) == 1 and before.new(one)]
    found: dict[str, list[Answer]] = {name: [] for name in flipped}
    tried = remedies(machine) if flipped else ()
    asked = [frozenset([name]) for name in flipped]
    for done, remedy in enumerate(tried, start=1):
        # Only kinds are compared, and only of what flipped: a remedy that adds a guard adds no kind to the others.
        after = break_all(remedy.machine, "rules", only=asked, tests_at_once=True)
        helped = [] if not after.sound <= before.sound else [n for n in flipped if _helps(before, after, n)]
        if helped and _usable(remedy.machine):
            for name in helped:
                new = after.new([name]).keys()
                found[name].append(Answer(remedy.text, tuple(kind for kind in KINDS if kind in new)))
        if progress is not None:
            progress(done, len(tried))
    return {name: tuple(sorted(answers, key=_worth)) for name, answers in found.items()}


def _helps(before: Broken, after: Broken, name: str) -> bool:
    """Whether a failure adds fewer kinds with a remedy, and no others but those that an earth is for."""
    old, new = before.new([name]).keys(), after.new([name]).keys()
    return bool(old - new) and new - old <= _ONTO_EARTH


def _worth(answer: Answer) -> tuple[int, int]:
    return len(set(answer.left) - _ONTO_EARTH), len(answer.left)


def _usable(machine: Machine) -> bool:
    if machine.goals:
        return all(there_and_back(machine, goal) is not None for goal in machine.goals)
    plant = build(machine, "rules")
    states = View(plant, explore(plant, through_dangers=False).codes)
    return all(bool(states.stands(o.device, o.positions).any()) for o in machine.openings)


def _guarded(machine: Machine, device: str, targets: tuple[str, ...], guard: Guard) -> Machine:
    """The machine with one more guard on the moves of a device to the targets."""

    def with_guard(one: Device) -> Device:
        if one.id != device:
            return one
        moves = tuple(replace(m, guards=(*m.guards, guard)) if m.target in targets else m for m in one.moves)
        return replace(one, moves=moves)

    return replace(machine, devices=tuple(with_guard(one) for one in machine.devices))


def _doors(machine: Machine) -> Iterator[Opening]:
    """Openings that a remedy can stand before; what is bare behind a shut door is reached through that door."""
    return (opening for opening in machine.openings if opening.unless is None)


def _near(machine: Machine) -> Iterator[tuple[Opening, str]]:
    for opening in _doors(machine):
        linked = [end for link in machine.links if set(link.between) & set(opening.reaches) for end in link.between]
        for point in dict.fromkeys((*opening.reaches, *linked)):
            yield opening, point


def _with_test(machine: Machine, point: str) -> Machine:
    if any(test.at == point for test in machine.tests):
        return machine
    return replace(machine, tests=(*machine.tests, ProvingPoint(f"remedy test {point}", point, ())))


def _tests(machine: Machine) -> Iterator[Remedy]:
    for opening, point in _near(machine):
        guard = Guard(f"remedy tested {point} for {opening.device}", "rule", Tested(point))
        changed = _guarded(_with_test(machine, point), opening.device, opening.positions, guard)
        yield Remedy(f"prove {point} dead with {opening.device} shut, before it is opened", changed)


def _earths(machine: Machine) -> Iterator[Remedy]:
    for opening, point in _near(machine):
        name = f"remedy earth {point}"
        shut = Not(DeviceIn(opening.device, opening.positions))
        on = Guard(f"{name} after test", "rule", Tested(point))
        off = Guard(f"{name} stays", "rule", shut)
        moves = (Move(("off",), "on", (on,)), Move(("on",), "off", (off,)))
        edges = (("on", ((point, EARTH),)),)
        earth = Device(
            name, "earth", ("off", "on"), "off", edges, None, moves, True, None, None, f"the earth at {point}"
        )
        changed = _with_test(replace(machine, devices=(*machine.devices, earth)), point)
        guard = Guard(f"{name} for {opening.device}", "rule", Earthed(point))
        changed = _guarded(changed, opening.device, opening.positions, guard)
        text = f"an earth at {point}, put on after it is proved dead and kept while {opening.device} is open"
        yield Remedy(text, _fed_only_without(changed, name))


def _fed_only_without(machine: Machine, earth: str) -> Machine:
    """Nobody closes or starts anything while the added earth is on."""
    guard = Guard(f"{earth} off first", "rule", DeviceIn(earth, ("off",)))
    for device in machine.devices:
        if device.electric and device.id != earth:
            machine = _guarded(machine, device.id, device.joining, guard)
    return machine


def _looks(machine: Machine) -> Iterator[Remedy]:
    for device in machine.devices:
        if device.kind in ("switch", "breaker") and device.moves and device.indicator != "shaft":
            for opening in _doors(machine):
                guard = Guard(
                    f"remedy look at {device.id} for {opening.device}", "rule", BladeIn(device.id, device.apart)
                )
                changed = _guarded(machine, opening.device, opening.positions, guard)
                yield Remedy(f"see the contacts of {device.name} apart before {opening.device} is opened", changed)


def _padlocks(machine: Machine) -> Iterator[Remedy]:
    for device in machine.devices:
        if not device.electric or not device.moves or device.kind not in ("switch", "breaker", "source"):
            continue
        apart: Atom = DeviceIn(device.id, device.apart)
        for opening in _doors(machine):
            name = f"remedy padlock {device.id}"
            shut = Not(DeviceIn(opening.device, opening.positions))
            on = Guard(f"{name} needs {device.id} off", "mechanical", apart)
            off = Guard(f"{name} stays", "rule", shut)
            moves = (Move(("off",), "on", (on,)), Move(("on",), "off", (off,)))
            words = f"the padlock on {device.name}"
            lock = Device(name, "bolt", ("off", "on"), "off", (), None, moves, True, None, None, words)
            changed = replace(machine, devices=(*machine.devices, lock))
            changed = _guarded(
                changed, device.id, device.joining, Guard(f"{name} off", "mechanical", DeviceIn(name, ("off",)))
            )
            used = Guard(f"{name} for {opening.device}", "rule", DeviceIn(name, ("on",)))
            changed = _guarded(changed, opening.device, opening.positions, used)
            yield Remedy(f"an own padlock on {device.name}, off, while {opening.device} is open", changed)


def _locks(machine: Machine) -> Iterator[Remedy]:
    """Two sentences of hardware: the door needs the device apart, and the device needs the door shut."""
    for device in machine.devices:
        if not device.electric or not device.moves or device.kind not in ("switch", "breaker"):
            continue
        apart: Atom = DeviceIn(device.id, device.apart)
        for opening in _doors(machine):
            shut = Not(DeviceIn(opening.device, opening.positions))
            name = f"remedy lock {opening.device} {device.id}"
            changed = _guarded(machine, opening.device, opening.positions, Guard(name, "key", apart))
            changed = _guarded(changed, device.id, device.joining, Guard(f"{name}, back", "key", shut))
            yield Remedy(f"one more lock: {opening.device} opens only while {device.name} is apart, and back", changed)
