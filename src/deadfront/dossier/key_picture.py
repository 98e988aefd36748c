"""Dossier: where each key is, step by step. A machine and the steps of a way come in; an SVG goes out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate, groupby, pairwise

from deadfront.dossier.lettering import width, wrapped
from deadfront.dossier.sheet import (
    BOLD,
    HALF_MODULE,
    HIGHEST,
    LEADING,
    MARGIN,
    TEXT,
    WIDEST,
    Hand,
    Ink,
    Picture,
    Place,
    Sheet,
)
from deadfront.operation.machine import HAND, Machine
from deadfront.operation.telling import Situation

# Lines of the keys: told apart by their pattern, by colour, and by the key's name at both ends and wherever it moves.
_KEYS: tuple[tuple[Ink, ...], ...] = (
    (Ink("#0072B2", 0.7),),
    (Ink("#D55E00", 0.7, "1.6 0.7"),),
    (Ink("#007A5A", 0.7, "0.5 0.6"),),
    (Ink("#9A4F7C", 0.7, "2.4 0.6 0.6 0.6"),),
    (Ink("#595959", 1.0), Ink("white", 0.5)),
    (Ink("#8F6300", 0.26),),
    (Ink("#0072B2", 0.36, "3 0.8"),),
    (Ink("#D55E00", 0.36, "1.6 0.6 0.5 0.6 0.5 0.6"),),
)
_BAND = Ink("#b5b5b5", 0.1)
_LINE = TEXT * LEADING
_NAMES = 20.5
_STEP = 9.6
_TRACK = 2.1
"""Distance of two keys that are in one place."""
_SLOPE = 0.9
"""How far left and right of the edge between two steps a line goes from place to place."""
_ONLY_MOVING = "Each row shows the keys that move in it, with their places."
_NEXT = 2.0
"""Between two rows of steps."""


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
    in the field of each step that changes it. Steps that change nothing here are left out; more of them than a page
    is wide go on in a row below, and where all of that is higher than a page, each row has only what moves in it.
    ValueError: there is no key.
    """
    if not has_keys(machine):
        raise ValueError("machine: it has no keys")
    shown = list(_shown(machine, start, steps))
    step = max([_STEP, *(width(key, TEXT) + 2 * _SLOPE + 1.4 for key in start.keys)])
    rows = _rows(shown, step, max(width(key, TEXT) for key in start.keys))
    whole = _charts(machine, rows, start, step, moving=False)
    fits = sum(chart.height + _NEXT for chart in whole) * HALF_MODULE <= HIGHEST
    sheet, top = Sheet(), 0.0
    for chart in whole if fits else _charts(machine, rows, start, step, moving=True):
        top = chart.draw(sheet, top) + _NEXT
    if not fits:
        sheet.text(0, top + _LINE, [_ONLY_MOVING], Hand(faint=True))
    return sheet.picture(f"{title}. " + _in_words(start, steps))


def _rows(steps: Sequence[KeyStep], step: float, name: float) -> list[Sequence[KeyStep]]:
    """The steps in rows of much the same length, none wider than a page in lettering that can be read."""
    room = WIDEST / HALF_MODULE - 2 * MARGIN - _NAMES - name - 0.6
    most = max(1, int(room / step) - 1)
    rows = max(1, -(-len(steps) // most))
    ends = [round(n * len(steps) / rows) for n in range(rows + 1)]
    return [steps[first:last] for first, last in pairwise(ends)]


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


def _charts(
    machine: Machine, rows: Sequence[Sequence[KeyStep]], start: Situation, step: float, *, moving: bool
) -> list[_Chart]:
    """A chart for each row of steps, of all keys and places or of those alone that the row moves or passes."""
    charts, before = list[_Chart](), start
    for row in rows:
        states = [before, *(one.after for one in row)]
        keys = [key for key in start.keys if not moving or len({state.keys[key] for state in states}) > 1]
        places = {state.keys[key] for key in keys for state in states}
        lanes = [
            lane
            for lane in _lanes(machine)
            if not moving
            or lane.place in places
            or len({state.positions.get(lane.device or "") for state in states}) > 1
        ]
        charts.append(_Chart(machine, tuple(lanes), tuple(keys), states, tuple(row), step))
        before = states[-1]
    return charts


class _Chart:
    """One row of steps: how everything is before it, then after each of its steps."""

    def __init__(
        self,
        machine: Machine,
        lanes: tuple[_Lane, ...],
        keys: tuple[str, ...],
        states: Sequence[Situation],
        steps: tuple[KeyStep, ...],
        step: float,
    ) -> None:
        self.machine, self.lanes, self.keys, self.states, self.steps, self.step = (
            machine,
            lanes,
            keys,
            states,
            steps,
            step,
        )
        self.sheet = Sheet()
        self.top, self.track = 0.0, self.tracks()
        self.heights = [self.lane_height(lane) for lane in lanes]
        heads = [len(wrapped(one.words, TEXT, step - 0.6)) for one in steps]
        self.head_height = (max([1, *heads]) + 1) * _LINE + 0.5

    @property
    def height(self) -> float:
        return self.head_height + sum(self.heights)

    @property
    def lane_tops(self) -> list[float]:
        """Where each lane begins, and where the last one ends."""
        return list(accumulate(self.heights, initial=self.top + self.head_height))

    def draw(self, sheet: Sheet, top: float) -> float:
        """Draw it all with its upper edge at a height. Returns where its lower edge is."""
        self.sheet, self.top = sheet, top
        self.fields()
        for number, lane in enumerate(self.lanes):
            self.lane(lane, number)
        for column, one in enumerate(self.steps, start=1):
            self.head(one, column)
        self.sheet.text(self.x(0), self.lane_tops[0] - TEXT / 2, ["before"], Hand(anchor="middle", faint=True))
        every = list(self.states[0].keys)
        for key in self.keys:
            self.key(key, every.index(key))
        return top + self.height

    def tracks(self) -> dict[tuple[str, int], int]:
        """Key and column: how far down in its place a key runs. It keeps to one track while it stays in a place."""
        found: dict[tuple[str, int], int] = {}
        taken: set[tuple[str, int, int]] = set()
        for key in self.keys:
            places = [state.keys[key] for state in self.states]
            for place, columns in _stays(places):
                track = 0
                while any((place, track, column) in taken for column in columns):
                    track += 1
                taken |= {(place, track, column) for column in columns}
                found |= dict.fromkeys(((key, column) for column in columns), track)
        return found

    def lane_height(self, lane: _Lane) -> float:
        """Room for the name and the note of a place, or for its keys and the position of its device."""
        names = len(wrapped(lane.title, TEXT, (_NAMES - 0.8) / BOLD))
        notes = len(wrapped(lane.note, TEXT, _NAMES - 0.8)) if lane.note else 0
        keys = [
            self.track[key, n] + 1
            for n, state in enumerate(self.states)
            for key in self.keys
            if state.keys[key] == lane.place
        ]
        used = max([1, *keys]) * _TRACK + (_LINE if lane.device is not None else 0.0)
        return max((names + notes) * _LINE, used) + 0.9

    def x(self, column: int) -> float:
        return _NAMES + (column + 0.5) * self.step

    def fields(self) -> None:
        """Shade the fields in which a lock holds a key; hairlines between the lanes and the steps."""
        right = _NAMES + len(self.states) * self.step
        for number, lane in enumerate(self.lanes):
            top, bottom = self.lane_tops[number], self.lane_tops[number + 1]
            for column, state in enumerate(self.states):
                if lane.device is not None and lane.place in state.keys.values():
                    left = _NAMES + column * self.step
                    corners = ((left, top), (left + self.step, top), (left + self.step, bottom), (left, bottom))
                    self.sheet.fill(*corners, colour="#ececec")
        for y in self.lane_tops:
            self.sheet.trace((0, y), (right, y), ink=_BAND)
        for column in range(len(self.states) + 1):
            x = _NAMES + column * self.step
            self.sheet.trace((x, self.top), (x, self.lane_tops[-1]), ink=_BAND)

    def lane(self, lane: _Lane, number: int) -> None:
        """Its name and note at the left; the position of its device wherever that is new."""
        end = self.lane_tops[number]
        end = self.sheet.text(0, end + _LINE, wrapped(lane.title, TEXT, (_NAMES - 0.8) / BOLD), Hand(strong=True))
        if lane.note:
            self.sheet.text(0, end + _LINE, [lane.note], Hand(faint=True, widest=_NAMES - 0.8))
        if lane.device is None:
            return
        before = None
        for column, state in enumerate(self.states):
            position = state.positions.get(lane.device, self.machine.device(lane.device).start)
            if position != before:
                y = self.lane_tops[number + 1] - 0.6
                self.sheet.text(self.x(column), y, [position], Hand(anchor="middle"))
            before = position

    def head(self, step: KeyStep, column: int) -> None:
        """Number and words of a step over its column."""
        self.sheet.text(self.x(column), self.top + _LINE - 0.3, [str(step.number)], Hand(anchor="middle", strong=True))
        lines = wrapped(step.words, TEXT, self.step - 0.6)
        self.sheet.text(self.x(column), self.top + 2 * _LINE - 0.3, lines, Hand(anchor="middle", faint=True))

    def key(self, key: str, number: int) -> None:
        """The line of a key through its places, with its name at both ends and at each move."""
        row = {lane.place: n for n, lane in enumerate(self.lanes)}
        places = [state.keys[key] for state in self.states]
        ys = [
            self.lane_tops[row[place]] + 0.3 + (self.track[key, column] + 0.5) * _TRACK
            for column, place in enumerate(places)
        ]
        half = width(key, TEXT) / 2 + 0.5
        piece: list[Place] = []
        for column, y in enumerate(ys):
            x, edge = self.x(column), self.x(column) - self.step / 2
            new = column == 0 or places[column] != places[column - 1]
            if column and new:
                piece += [(edge - _SLOPE, ys[column - 1]), (edge + _SLOPE, y)]
            if new:
                if piece:
                    self.line([*piece, (x - half, y)], number)
                self.badge(key, x, y)
                piece = [(x + half, y)]
        end = self.x(len(ys) - 1) + self.step / 2
        self.line([*piece, (end, ys[-1])], number)
        self.sheet.text(end + 0.4, ys[-1] + TEXT * 0.36, [key])

    def line(self, points: Sequence[Place], number: int) -> None:
        for ink in _KEYS[number % len(_KEYS)]:
            self.sheet.trace(*points, ink=ink)

    def badge(self, key: str, x: float, y: float) -> None:
        half = width(key, TEXT) / 2 + 0.5
        left, top, right, bottom = x - half, y - 1.0, x + half, y + 1.0
        self.sheet.fill((left, top), (right, top), (right, bottom), (left, bottom), colour="white")
        self.sheet.frame(left, top, right, bottom, Ink("black", 0.14))
        self.sheet.text(x, y + TEXT * 0.36, [key], Hand(anchor="middle"))


def _stays(places: Sequence[str]) -> Iterator[tuple[str, list[int]]]:
    """Stretches of columns in which a key is in one place."""
    for place, group in groupby(enumerate(places), key=lambda pair: pair[1]):
        yield place, [column for column, _ in group]
