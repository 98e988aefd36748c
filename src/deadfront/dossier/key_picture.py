"""Dossier: where each key is, step by step. A machine and the steps of a way come in; an SVG goes out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from deadfront.dossier.lettering import width, wrapped
from deadfront.dossier.sheet import BOLD, LEADING, TEXT, Hand, Ink, Picture, Place, Sheet
from deadfront.operation.machine import HAND, Machine
from deadfront.operation.telling import Situation

# Lines of the keys: told apart by colour, by dashes and by the key's name wherever it moves.
_KEYS = (
    Ink("#0072B2", 0.7),
    Ink("#D55E00", 0.7, "1.6 0.7"),
    Ink("#007A5A", 0.7, "0.5 0.6"),
    Ink("#9A4F7C", 0.7, "2.4 0.6 0.6 0.6"),
    Ink("#595959", 0.7, "3.2 0.8"),
    Ink("#E69F00", 0.7, "1 1"),
)
_BAND = Ink("#b5b5b5", 0.1)
_LINE = TEXT * LEADING
_NAMES = 20.5
_STEP = 8.8
_HEAD = 6 * _LINE


@dataclass(frozen=True, slots=True)
class KeyStep:
    """One step as the picture shows it: its number, what is done in few words, and where all is after it."""

    number: int
    words: str
    after: Situation


@dataclass(frozen=True, slots=True)
class _Lane:
    """One place for keys: its name, what it holds, and in which positions of a device its key comes out."""

    place: str
    title: str
    note: str
    device: str | None


def has_keys(machine: Machine) -> bool:
    """Whether there is a key to draw."""
    return bool(machine.keys)


def key_picture(machine: Machine, start: Situation, steps: Sequence[KeyStep], title: str) -> Picture:
    """Places of the keys downwards, steps to the right, a line for each key; a shaded field where a device is free.

    A field is shaded while its lock holds a key: only then can the device be moved. The position of the device stands
    in the field of each step that changes it. Steps that change nothing here are left out. ValueError: there is no key.
    """
    if not has_keys(machine):
        raise ValueError("machine: it has no keys")
    chart = _Chart(machine, Sheet(), tuple(_lanes(machine)), start, tuple(_shown(machine, start, steps)))
    chart.draw()
    return chart.sheet.picture(f"{title}. " + _in_words(start, steps))


def _shown(machine: Machine, start: Situation, steps: Sequence[KeyStep]) -> Iterator[KeyStep]:
    """Steps that move a key, or a device that a lock holds; the others change nothing in this picture."""
    locked, before = {lock.device for lock in machine.locks}, start
    for step in steps:
        moved = {name for name, position in step.after.positions.items() if position != before.positions[name]}
        if moved & locked or step.after.keys != before.keys:
            yield step
        before = step.after


def _in_words(start: Situation, steps: Sequence[KeyStep]) -> str:
    """The same in words, for readers who do not see it."""
    first = "; ".join(f"key {key} in {place}" for key, place in start.keys.items())
    moved, before = [], start.keys
    for step in steps:
        for key, place in step.after.keys.items():
            if place != before[key]:
                moved.append(f"step {step.number}: key {key} from {before[key]} to {place}")
        before = step.after.keys
    return f"Before step 1: {first}. {'. '.join(moved)}."


def _lanes(machine: Machine) -> Iterator[_Lane]:
    """The hand first, then every lock with its device, then every slot of an exchange."""
    yield _Lane(HAND, "in somebody's hand", "", None)
    for lock in machine.locks:
        free = " or ".join(lock.free_at)
        yield _Lane(lock.id, lock.id, f"{lock.code} comes out at {free}", lock.device)
    for exchange in machine.exchanges:
        for side, slots in (("takes", exchange.inputs), ("gives", exchange.outputs)):
            for slot in slots:
                yield _Lane(slot.id, slot.id, f"{exchange.id} {side} {slot.code}", None)


@dataclass(frozen=True, slots=True)
class _Chart:
    machine: Machine
    sheet: Sheet
    lanes: tuple[_Lane, ...]
    start: Situation
    steps: tuple[KeyStep, ...]

    def draw(self) -> None:
        self.fields()
        for number, lane in enumerate(self.lanes):
            self.lane(lane, number)
        for column, step in enumerate(self.steps, start=1):
            self.head(step, column)
        self.sheet.text(self.x(0), _HEAD - TEXT / 2, ["at first"], Hand(anchor="middle", widest=_STEP - 0.6))
        for number, key in enumerate(self.start.keys):
            self.key(key, number)

    @property
    def lane_height(self) -> float:
        """Room for the longest name and note of a place."""
        lines = max(len(wrapped(x.title, TEXT, _NAMES / BOLD)) + len(wrapped(x.note, TEXT, _NAMES)) for x in self.lanes)
        return max(2, lines) * _LINE + 0.9

    def states(self) -> list[Situation]:
        return [self.start, *(step.after for step in self.steps)]

    def x(self, column: int) -> float:
        return _NAMES + (column + 0.5) * _STEP

    def y(self, lane: int) -> float:
        return _HEAD + (lane + 0.5) * self.lane_height

    def fields(self) -> None:
        """Shade the fields in which a lock holds a key; hairlines between the lanes and the steps."""
        right, high = _NAMES + (len(self.steps) + 1) * _STEP, self.lane_height
        for number, lane in enumerate(self.lanes):
            top = _HEAD + number * high
            for column, state in enumerate(self.states()):
                if lane.device is not None and lane.place in state.keys.values():
                    left = _NAMES + column * _STEP
                    corners = ((left, top), (left + _STEP, top), (left + _STEP, top + high), (left, top + high))
                    self.sheet.fill(*corners, colour="#ececec")
        for number in range(len(self.lanes) + 1):
            self.sheet.trace((0, _HEAD + number * high), (right, _HEAD + number * high), ink=_BAND)
        for column in range(len(self.steps) + 2):
            x = _NAMES + column * _STEP
            self.sheet.trace((x, 0), (x, _HEAD + len(self.lanes) * high), ink=_BAND)

    def lane(self, lane: _Lane, number: int) -> None:
        """Its name and note at the left; the position of its device wherever that is new."""
        top = _HEAD + number * self.lane_height
        end = self.sheet.text(0, top + _LINE, [lane.title], Hand(strong=True, widest=_NAMES - 0.8))
        self.sheet.text(0, end + _LINE, [lane.note], Hand(faint=True, widest=_NAMES - 0.8))
        if lane.device is None:
            return
        before = None
        for column, state in enumerate(self.states()):
            position = state.positions.get(lane.device, self.machine.device(lane.device).start)
            if position != before:
                self.sheet.text(self.x(column), top + self.lane_height - 0.4, [position], Hand(anchor="middle"))
            before = position

    def head(self, step: KeyStep, column: int) -> None:
        """Number and words of a step over its column."""
        self.sheet.text(self.x(column), _LINE - 0.3, [str(step.number)], Hand(anchor="middle", strong=True))
        lines = wrapped(step.words, TEXT, _STEP - 0.7)
        self.sheet.text(self.x(column), 2 * _LINE - 0.3, lines[:5], Hand(anchor="middle", faint=True))

    def key(self, key: str, number: int) -> None:
        """The line of a key through its places, with its name at the start and at each move."""
        row = {lane.place: n for n, lane in enumerate(self.lanes)}
        shift = (number - (len(self.start.keys) - 1) / 2) * min(0.9, 1.8 / max(1, len(self.start.keys) - 1))
        rows = [self.y(row[state.keys[key]]) - 0.6 + shift for state in self.states()]
        points: list[Place] = [(self.x(0) - _STEP / 2, rows[0])]
        for column, y in enumerate(rows):
            if column and y != rows[column - 1]:
                edge = self.x(column) - _STEP / 2
                points += [(edge - 0.9, rows[column - 1]), (edge + 0.9, y)]
        points.append((self.x(len(self.steps)) + _STEP / 2, rows[-1]))
        self.sheet.trace(*points, ink=_KEYS[number % len(_KEYS)])
        for column, y in enumerate(rows):
            if column == 0 or y != rows[column - 1]:
                self.badge(key, self.x(column), y)

    def badge(self, key: str, x: float, y: float) -> None:
        half = width(key, TEXT) / 2 + 0.5
        left, top, right, bottom = x - half, y - 0.9, x + half, y + 0.9
        self.sheet.fill((left, top), (right, top), (right, bottom), (left, bottom), colour="white")
        self.sheet.frame(left, top, right, bottom, Ink("black", 0.14))
        self.sheet.text(x, y + TEXT * 0.36, [key], Hand(anchor="middle"))
