"""Operation: how a machine becomes a plant. A machine, a mode and a group of failure sets in, a `Plant` out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from deadfront.operation.atoms import DeviceIn, LockHasKey
from deadfront.operation.coding import STAGE, Coding, charge_digit, coding, device_digit, key_digit, mark_digit
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
    holds: tuple[Hold, ...] = (),
) -> Plant:
    """Return the plant for failure sets that share their blades and sources.

    machine  the station
    mode     `hands`: what the hardware alone allows; `rules`: people also obey
    sets     failure sets, by the names that `failures.single_failures` gives
    frozen   blades that do not follow their handle, device to position, in all of the sets
    sources  extra sources that are there in all of the sets
    holds    hold points to be counted on the way
    raises   MachineTooLarge
    """
    extra = [_extra(source) for source in machine.extra_sources if source.id in sources]
    devices = (*machine.devices, *extra)
    keys = [*machine.keys, *_copies(machine, sets)]
    places = machine.slots()
    digits = _digits(machine, devices, keys, places, len(holds))
    maker = _Maker(machine, mode, sets, digits, places)
    moves = (
        *(move for device in devices for move in maker.device(device)),
        *(move for key in keys for move in maker.key(key)),
        *maker.tests(),
        *maker.waits(),
    )
    blades = dict(frozen or {})
    energy = Energy(machine, digits, devices, blades)
    codes = {key.id: key.code for key in keys}
    return Plant(
        machine, mode, devices, blades, sets, digits, energy, moves, holds, codes, _starts(machine, sets, digits)
    )


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
    machine: Machine, devices: Sequence[Device], keys: Sequence[Key], places: Mapping[str, str], holds: int
) -> Coding:
    moving = [device for device in devices if device.moves]
    electrical = [(device_digit(d.id), d.positions, d.start) for d in moving if d.electric]
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


def _starts(machine: Machine, sets: tuple[frozenset[str], ...], digits: Coding) -> tuple[tuple[int, Words], ...]:
    numbers: dict[int, Words] = {}
    for n, members in enumerate(sets):
        number = digits.start
        for code in dict.fromkeys(key.code for key in machine.keys):
            if f"dupkey:{code}" in members:
                digit = digits.fields[key_digit(copy_of(code))]
                number += digit.stride * (digit.number(HAND) - digit.start)
        own = bits(sets, "")
        own[n // 64] = np.uint64(1) << np.uint64(n % 64)
        numbers[number] = numbers[number] | own if number in numbers else own
    return tuple(numbers.items())


class _Maker:
    """Turns devices, keys, tests and stores into numbered moves for one group of failure sets."""

    def __init__(
        self, machine: Machine, mode: Mode, sets: tuple[frozenset[str], ...], digits: Coding, places: Mapping[str, str]
    ) -> None:
        self._machine = machine
        self._mode = mode
        self._sets = sets
        self._digits = digits
        self._places = places
        self._openings = {opening.device for opening in machine.openings}

    def device(self, device: Device) -> Iterator[NumberedMove]:
        name = device_digit(device.id)
        locks: list[tuple[Condition, str | None]] = [
            (LockHasKey(lock.id, present=True), f"lockbolt:{lock.id}")
            for lock in self._machine.locks
            if lock.device == device.id
        ]
        shaft = f"stuck:{device.id}" if device.indicator == "shaft" else ""
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
                    bits(self._sets, shaft),
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
            dead: list[tuple[Condition, str | None]] = [(NotLive(test.at), f"indicator:{test.id}")]
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

    def _guards(self, guards: Sequence[Guard]) -> list[tuple[Condition, str | None]]:
        kept = [guard for guard in guards if guard.by != "rule" or self._mode == "rules"]
        return [(guard.condition, f"defeat:{guard.id}") for guard in kept]

    def _leaving(self, place: str) -> list[tuple[Condition, str | None]]:
        found: list[Lock | Exchange] = [lock for lock in self._machine.locks if lock.id == place]
        found += [x for x in self._machine.exchanges if any(slot.id == place for slot in x.inputs + x.outputs)]
        match found[0]:
            case Lock(_, device, _, free_at):
                return [(DeviceIn(device, free_at), f"lockrelease:{place}")]
            case Exchange(_, inputs, outputs):
                opposite = outputs if any(slot.id == place for slot in inputs) else inputs
                return [(LockHasKey(slot.id, present=True), None) for slot in opposite]

    def _sorted(
        self, needs: Sequence[tuple[Condition, str | None]]
    ) -> tuple[tuple[Condition, ...], tuple[tuple[Condition, Words], ...]]:
        """Needs that bind every failure set, and those that some of the sets do without."""
        hard, soft = [], []
        for condition, failure in needs:
            without = bits(self._sets, failure or "")
            if without.any():
                soft.append((condition, without))
            else:
                hard.append(condition)
        return tuple(hard), tuple(soft)
