"""Operation: how a machine becomes a plant. A machine, a mode and a group of failure sets in, a `Plant` out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from deadfront.operation.atoms import Atom, DeviceIn, LockHasKey, Tested, simple_parts
from deadfront.operation.coding import STAGE, WELD, Coding, charge_digit, coding, device_digit, key_digit, mark_digit
from deadfront.operation.energy import Energy
from deadfront.operation.machine import (
    EARTH,
    HAND,
    Device,
    Exchange,
    ExtraSource,
    Guard,
    Hold,
    Key,
    Lock,
    Machine,
    Mode,
    Move,
    Source,
)
from deadfront.operation.plant import Condition, Empty, NotLive, NumberedMove, Plant, Words, bits

SOUND: tuple[frozenset[str], ...] = (frozenset(),)
"""The group that has only the unbroken station in it."""

_NO, _YES = "no", "yes"
_ABSENT = "absent"
"""Where a copy of a key is in the failure sets that have no such copy."""


def build(
    machine: Machine,
    mode: Mode,
    sets: tuple[frozenset[str], ...] = SOUND,
    *,
    frozen: Mapping[str, str] | None = None,
    sources: Sequence[str] = (),
    welds: Sequence[tuple[str, str]] = (),
    holds: tuple[Hold, ...] = (),
    tests_at_once: bool = False,
) -> Plant:
    """Return the plant for failure sets that share their blades and sources.

    machine  the station
    mode     `hands`: what the hardware alone allows; `rules`: people also obey
    sets     failure sets, by the names that `failures.single_failures` gives
    frozen   blades that do not follow their handle, device to position, in all of the sets
    sources  extra sources that are there in the sets that name them
    welds    blades that weld in a position, device and position: from the outset in the sets that hold `stuck:DEVICE`,
             as a move of the world in those that hold `stuck:DEVICE@POSITION`
    holds    hold points to be counted on the way
    tests_at_once
             points that can be tested at any time are taken as tested whenever they read dead: the same states of all
             else, the same kinds of hazard, and no moves and marks of the tests. Lengths do not count the tests then.
    raises   MachineTooLarge
    """
    testers = _testers(machine) if tests_at_once and not holds else {}
    if testers:
        kept = tuple(test for test in machine.tests if test.at not in testers)
        machine = replace(machine, tests=kept, goals=())
    extra = [_extra(source) for source in machine.extra_sources if source.id in sources]
    devices = (*machine.devices, *extra)
    keys = [*machine.keys, *_copies(machine, sets)]
    places = machine.slots()
    digits = _digits(machine, devices, keys, places, tuple(welds), len(holds))
    maker = _Maker(machine, mode, sets, digits, places, testers)
    moves = (
        *(move for device in devices for move in maker.device(device)),
        *(move for key in keys for move in maker.key(key)),
        *maker.tests(),
        *maker.waits(),
        *maker.welds(welds),
    )
    blades = dict(frozen or {})
    energy = Energy(machine, digits, devices, blades, tuple(welds))
    codes = {key.id: key.code for key in keys}
    return Plant(
        machine,
        mode,
        devices,
        blades,
        sets,
        digits,
        energy,
        moves,
        holds,
        codes,
        _starts(machine, sets, digits, tuple(welds)),
        tuple(welds),
    )


def _testers(machine: Machine) -> dict[str, tuple[str, ...]]:
    """Points that can be tested whenever somebody likes, and are asked for only as a guard by itself; with their tests.

    Such a mark can be had exactly while the point reads dead: every electrical move clears it, no other changes what
    the tester shows.
    """
    guards = [g.condition for d in machine.devices for move in d.moves for g in move.guards]
    guards += [g.condition for test in machine.tests for g in test.guards]
    others: list[Atom] = [condition for condition in guards if not isinstance(condition, Tested)]
    others += [hazard.condition for hazard in machine.state_hazards]
    others += [opening.unless for opening in machine.openings if opening.unless is not None]
    others += [device.pressure.relieved for device in machine.devices if device.pressure is not None]
    inside = {atom.point for whole in others for atom in simple_parts(whole) if isinstance(atom, Tested)}
    reached = {test.at for test in machine.tests if test.guards}
    free = dict.fromkeys(test.at for test in machine.tests if test.at not in inside | reached)
    return {point: tuple(test.id for test in machine.tests if test.at == point) for point in free}


def copy_of(code: str) -> str:
    """The name of the duplicate key of a code."""
    return f"copy of {code}"


def _copies(machine: Machine, sets: Sequence[frozenset[str]]) -> list[Key]:
    every = {failure for members in sets for failure in members}
    codes = dict.fromkeys(key.code for key in machine.keys)
    return [Key(copy_of(code), code, _ABSENT) for code in codes if f"dupkey:{code}" in every]


def _extra(source: ExtraSource) -> Device:
    moves = (Move(("off",), "on", ()), Move(("on",), "off", ()))
    feed = Source(source.at, source.group, ("on",))
    return Device(source.id, "source", ("off", "on"), "off", (), feed, moves, True, None, None, source.id)


def _digits(
    machine: Machine,
    devices: Sequence[Device],
    keys: Sequence[Key],
    places: Mapping[str, str],
    welds: tuple[tuple[str, str], ...],
    holds: int,
) -> Coding:
    moving = [device for device in devices if device.moves]
    electrical = [(device_digit(d.id), d.positions, d.start) for d in moving if d.electric]
    if welds:
        electrical.append((WELD, (_NO, *(f"{name}@{where}" for name, where in welds)), _NO))
    other = [(device_digit(d.id), d.positions, d.start) for d in moving if not d.electric]
    for key in keys:
        here = tuple(place for place, code in places.items() if code == key.code)
        outset = (_ABSENT,) if key.start == _ABSENT else ()
        other.append((key_digit(key.id), (*outset, HAND, *here), key.start))
    other += [(charge_digit(s.id), (_NO, _YES), _YES if s.start else _NO) for s in machine.stores]
    other += [(mark_digit(t.id), (_NO, _YES), _NO) for t in machine.tests]
    if holds:
        other.append((STAGE, tuple(str(n) for n in range(holds + 1)), "0"))
    return coding(electrical, other)


def _starts(
    machine: Machine, sets: tuple[frozenset[str], ...], digits: Coding, welds: tuple[tuple[str, str], ...]
) -> tuple[tuple[int, Words], ...]:
    numbers: dict[int, Words] = {}
    for n, members in enumerate(sets):
        number = digits.start
        for code in dict.fromkeys(key.code for key in machine.keys):
            if f"dupkey:{code}" in members:
                digit = digits.fields[key_digit(copy_of(code))]
                number += digit.stride * (digit.number(HAND) - digit.start)
        for k, (name, where) in enumerate(welds, start=1):
            if f"stuck:{name}" in members and digits.fields[device_digit(name)].values[_outset(digits, name)] == where:
                number += k * digits.fields[WELD].stride
        own = bits(sets, "")
        own[n // 64] = np.uint64(1) << np.uint64(n % 64)
        numbers[number] = numbers[number] | own if number in numbers else own
    return tuple(numbers.items())


def _outset(digits: Coding, device: str) -> int:
    return digits.fields[device_digit(device)].start


_Need = tuple[Condition, tuple[str, ...]]
"""What a move needs, and the failures that do without it."""


class _Maker:
    """Turns devices, keys, tests and stores into numbered moves for one group of failure sets."""

    def __init__(
        self,
        machine: Machine,
        mode: Mode,
        sets: tuple[frozenset[str], ...],
        digits: Coding,
        places: Mapping[str, str],
        testers: Mapping[str, tuple[str, ...]],
    ) -> None:
        self._machine = machine
        self._mode = mode
        self._sets = sets
        self._digits = digits
        self._places = places
        self._testers = testers
        self._openings = {opening.device for opening in machine.openings}

    def device(self, device: Device) -> Iterator[NumberedMove]:
        name = device_digit(device.id)
        locks: list[_Need] = [
            (LockHasKey(lock.id, present=True), (f"lockbolt:{lock.id}",))
            for lock in self._machine.locks
            if lock.device == device.id
        ]
        shaft = f"stuck:{device.id}" if device.indicator == "shaft" else ""
        barred = bits(self._sets, shaft)
        if any(source.id == device.id for source in self._machine.extra_sources):
            barred = barred | self._without(f"source:{device.id}")
        for move in device.moves:
            needs, waived = self._sorted([*locks, *self._guards(move.guards)])
            for origin in move.origins:
                digit = self._digits.fields[name]
                yield NumberedMove(
                    "device",
                    device.id,
                    origin,
                    move.target,
                    name,
                    digit.number(origin),
                    digit.stride * (digit.number(move.target) - digit.number(origin)),
                    needs,
                    waived,
                    barred,
                    electric=device.electric,
                    opening=device.id in self._openings,
                    earths=any(EARTH in edge for edge in device.edges_at(move.target)),
                    off_load=not device.load_break,
                    pressure=device.pressure.relieved if device.pressure and device.pressure.origin == origin else None,
                )

    def key(self, key: Key) -> Iterator[NumberedMove]:
        name = key_digit(key.id)
        digit = self._digits.fields[name]
        for place, code in self._places.items():
            if code != key.code:
                continue
            step = digit.stride * (digit.number(HAND) - digit.number(place))
            needs, waived = self._sorted(self._leaving(place))
            never = bits(self._sets, "")
            yield NumberedMove("key", key.id, place, HAND, name, digit.number(place), step, needs, waived, never)
            yield NumberedMove("key", key.id, HAND, place, name, digit.number(HAND), -step, (Empty(place),), (), never)

    def tests(self) -> Iterator[NumberedMove]:
        for test in self._machine.tests:
            digit = self._digits.fields[mark_digit(test.id)]
            dead: list[_Need] = [(NotLive(test.at), (f"indicator:{test.id}",))]
            needs, waived = self._sorted([*dead, *self._guards(test.guards)])
            never = bits(self._sets, "")
            yield NumberedMove("test", test.id, _NO, _YES, mark_digit(test.id), 0, digit.stride, needs, waived, never)

    def waits(self) -> Iterator[NumberedMove]:
        for store in self._machine.stores:
            if store.drains:
                name = charge_digit(store.id)
                step = -self._digits.fields[name].stride
                barred = bits(self._sets, f"bleed:{store.id}")
                yield NumberedMove("wait", store.id, _YES, _NO, name, 1, step, (NotLive(store.at),), (), barred)

    def welds(self, welds: Sequence[tuple[str, str]]) -> Iterator[NumberedMove]:
        """A blade that welds where it stands: what conducts stays the same, and so does what was proved dead."""
        for n, (name, where) in enumerate(welds, start=1):
            digit = self._digits.fields[WELD]
            barred = self._without(f"stuck:{name}@{where}")
            needs = (DeviceIn(name, (where,)),)
            yield NumberedMove("weld", name, _NO, where, WELD, 0, n * digit.stride, needs, (), barred)

    def _without(self, failure: str) -> Words:
        """One bit for each failure set that does not hold a failure."""
        return bits(self._sets, None) & ~bits(self._sets, failure)

    def _guards(self, guards: Sequence[Guard]) -> list[_Need]:
        kept = [guard for guard in guards if guard.by != "rule" or self._mode == "rules"]
        return [self._need(guard) for guard in kept]

    def _need(self, guard: Guard) -> _Need:
        """A guard with the failures that do without it; a test at any time asks only what the tester shows."""
        condition, names = guard.condition, (f"defeat:{guard.id}",)
        if isinstance(condition, Tested) and condition.point in self._testers:
            blind = tuple(f"indicator:{test}" for test in self._testers[condition.point])
            return NotLive(condition.point), (*names, *blind)
        return condition, names

    def _leaving(self, place: str) -> list[_Need]:
        found: list[Lock | Exchange] = [lock for lock in self._machine.locks if lock.id == place]
        found += [x for x in self._machine.exchanges if any(slot.id == place for slot in x.inputs + x.outputs)]
        match found[0]:
            case Lock(_, device, _, free_at):
                return [(DeviceIn(device, free_at), (f"lockrelease:{place}",))]
            case Exchange(_, inputs, outputs):
                opposite = outputs if any(slot.id == place for slot in inputs) else inputs
                return [(LockHasKey(slot.id, present=True), ()) for slot in opposite]

    def _sorted(self, needs: Sequence[_Need]) -> tuple[tuple[Condition, ...], tuple[tuple[Condition, Words], ...]]:
        """Needs that bind every failure set, and those that some of the sets do without."""
        hard, soft = [], []
        for condition, failures in needs:
            without = bits(self._sets, "")
            for failure in failures:
                without = without | bits(self._sets, failure)
            if without.any():
                soft.append((condition, without))
            else:
                hard.append(condition)
        return tuple(hard), tuple(soft)
