"""Operation: a machine made ready to be explored. A machine, a mode and failures in, numbered moves and columns out."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from deadfront.operation.atoms import (
    AllOf,
    AnyOf,
    Atom,
    BladeIn,
    Dead,
    DeviceIn,
    Discharged,
    Earthed,
    KeyInHand,
    LockHasKey,
    Not,
    Tested,
)
from deadfront.operation.coding import WELD, Coding, charge_digit, device_digit, key_digit, mark_digit
from deadfront.operation.energy import Energy, Flags
from deadfront.operation.index import Codes, Identities
from deadfront.operation.machine import Device, Hold, Machine, Mode
from deadfront.operation.phases import POLES, of_pole

Words = NDArray[np.uint64]
"""Which of the failure sets, one bit each; shape (..., words)."""


@dataclass(frozen=True, slots=True)
class NotLive:
    """The point shows no voltage to a tester: not fed, or held down by an earth."""

    point: str


@dataclass(frozen=True, slots=True)
class Untested:
    """The mark of a test point is not set."""

    test: str


@dataclass(frozen=True, slots=True)
class Charged:
    """The store holds charge."""

    store: str


@dataclass(frozen=True, slots=True)
class Empty:
    """No key sits in the lock or slot."""

    slot: str


Condition = Atom | NotLive | Untested | Charged | Empty


@dataclass(frozen=True, slots=True, eq=False)
class NumberedMove:
    """One hand action with all that it needs and does, ready for whole batches of states."""

    what: Literal["device", "key", "test", "wait", "weld"]
    subject: str
    origin: str
    target: str
    field: str
    digit: int
    """The value of the field that the move starts from."""
    change: int
    """What the move adds to the state number."""
    needs: tuple[Condition, ...]
    waived: tuple[tuple[Condition, Words], ...]
    """Needs that some failure sets do without."""
    barred: Words
    """Failure sets in which the move does not exist."""
    electric: bool = False
    opening: bool = False
    earths: bool = False
    off_load: bool = False
    pressure: Atom | None = None

    @property
    def text(self) -> str:
        """The move as it is written in a sequence."""
        if self.what == "device":
            return f"{self.subject}: {self.origin}->{self.target}"
        if self.what == "key":
            return f"key {self.subject}: {self.origin}->{self.target}"
        if self.what == "weld":
            return f"weld {self.subject}@{self.target}"
        return f"{self.what} {self.subject}"


@dataclass(frozen=True, slots=True, eq=False)
class Plant:
    """A machine in one mode, with one electrical build, for a group of failure sets."""

    machine: Machine
    mode: Mode
    devices: tuple[Device, ...]
    frozen: dict[str, str]
    sets: tuple[frozenset[str], ...]
    coding: Coding
    energy: Energy
    moves: tuple[NumberedMove, ...]
    holds: tuple[Hold, ...]
    """Hold points whose passing is counted, for a procedure."""
    key_codes: dict[str, str]
    """Every key, copies of the failures among them, with its code."""
    starts: tuple[tuple[int, Words], ...]
    """State numbers at the outset, each with the failure sets that start there."""
    welds: tuple[tuple[str, str], ...] = ()
    """Blades that may weld on the way, with the position; the digit `WELD` counts them from 1."""

    @property
    def words(self) -> int:
        """How many words hold one bit for every failure set."""
        return (len(self.sets) + 63) // 64

    def device(self, name: str) -> Device:
        """The device of a name, sources of the failures among them."""
        return next(device for device in self.devices if device.id == name)


def bits(sets: tuple[frozenset[str], ...], failure: str | None) -> Words:
    """One bit for each failure set that contains `failure` (None: for every set); shape (words,)."""
    words = np.zeros((len(sets) + 63) // 64, dtype=np.uint64)
    for n, members in enumerate(sets):
        if failure is None or failure in members:
            words[n // 64] |= np.uint64(1) << np.uint64(n % 64)
    return words


@dataclass(slots=True, eq=False)
class View:
    """A batch of states of a plant, with every column and sentence worked out once, when it is first asked for."""

    plant: Plant
    codes: Codes
    _rows: Identities | None = None
    _columns: dict[str, NDArray[np.int64]] = field(default_factory=dict)
    _truth: dict[Condition, Flags] = field(default_factory=dict)

    @property
    def rows(self) -> Identities:
        """The row of the energy table for each state."""
        if self._rows is None:
            self._rows = self.plant.energy.row(self.codes)
        return self._rows

    def column(self, name: str) -> NDArray[np.int64]:
        """The digit of one field in each state."""
        if name not in self._columns:
            digit = self.plant.coding.fields[name]
            self._columns[name] = (self.codes // digit.stride) % digit.size
        return self._columns[name]

    def truth(self, condition: Condition) -> Flags:
        """Whether a sentence holds in each state."""
        if condition not in self._truth:
            self._truth[condition] = self._decide(condition)
        return self._truth[condition]

    def stands(self, device: str, positions: tuple[str, ...]) -> Flags:
        """Whether the handle of a device stands in one of the positions."""
        digit = self.plant.coding.fields.get(device_digit(device))
        if digit is None:
            return np.full(self.codes.shape, self.plant.device(device).start in positions)
        column = self.column(device_digit(device))
        result = np.zeros(self.codes.shape, dtype=np.bool_)
        for position in positions:
            result |= column == digit.number(position)
        return result

    def _decide(self, condition: Condition) -> Flags:
        rows, point = self.plant.energy, self.plant.energy.point
        match condition:
            case DeviceIn(device, positions):
                return self.stands(device, positions)
            case BladeIn(device, positions):
                return self._contacts(device, positions)
            case NotLive(name):
                return ~rows.live(self.rows, point(name))
            case Dead(name):
                return ~(rows.live(self.rows, point(name)) | rows.fault(self.rows))
            case Earthed(name):
                return rows.earthed(self.rows, point(name))
            case AllOf(parts):
                result = np.ones(self.codes.shape, dtype=np.bool_)
                for part in parts:
                    result = result & self.truth(part)
                return result
            case AnyOf(parts):
                result = np.zeros(self.codes.shape, dtype=np.bool_)
                for part in parts:
                    result = result | self.truth(part)
                return result
            case Not(part):
                return ~self.truth(part)
            case _:
                return self._decide_keys_and_marks(condition)

    def _contacts(self, device: str, positions: tuple[str, ...]) -> Flags:
        """Whether the contacts of every pole stand in one of the positions."""
        frozen = self.plant.frozen
        if device in frozen:
            return np.full(self.codes.shape, frozen[device] in positions)
        poles = [of_pole(device, pole) for pole in POLES]
        found = self.stands(device, positions) & all(frozen[p] in positions for p in poles if p in frozen)
        for n, (name, where) in enumerate(self.plant.welds, start=1):
            if name == device:
                found = np.where(self._digit_is(WELD, n), where in positions, found)
        return found

    def _decide_keys_and_marks(self, condition: Condition) -> Flags:
        match condition:
            case Empty(slot):
                return ~self.truth(LockHasKey(slot, present=True))
            case LockHasKey(slot, present):
                inside = self._any_key(self.plant.machine.slots()[slot], slot)
                return inside if present else ~inside
            case KeyInHand(code):
                return self._any_key(code, "hand")
            case Tested(name):
                result = np.zeros(self.codes.shape, dtype=np.bool_)
                for test in self.plant.machine.tests:
                    if test.at == name:
                        result |= ~self.truth(Untested(test.id))
                return result
            case Untested(test_name):
                return self._digit_is(mark_digit(test_name), 0)
            case Charged(store):
                return self._digit_is(charge_digit(store), 1)
            case Discharged(store):
                return self._digit_is(charge_digit(store), 0)
            case _:
                raise TypeError(f"no such sentence: {condition!r}")

    def _digit_is(self, name: str, digit: int) -> Flags:
        result: Flags = self.column(name) == digit
        return result

    def _any_key(self, code: str, place: str) -> Flags:
        result = np.zeros(self.codes.shape, dtype=np.bool_)
        for name, own_code in self.plant.key_codes.items():
            digit = self.plant.coding.fields[key_digit(name)]
            if own_code == code and place in digit.values:
                result |= self.column(key_digit(name)) == digit.number(place)
        return result
