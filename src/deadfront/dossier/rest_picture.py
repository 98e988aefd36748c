"""Dossier: the states in which a unit may be left, as a graph. Rest states come in; an SVG and words go out."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from deadfront.dossier.lettering import wrapped
from deadfront.dossier.sheet import LEADING, TEXT, Hand, Ink, Picture, Place, Sheet
from deadfront.dossier.state_picture import State, trace
from deadfront.operation.machine import Machine
from deadfront.operation.resting import Rest, RestMove, Rests
from deadfront.operation.wording import move_words

_LINE = TEXT * LEADING
_WIDE = 32.0
_PAD = 0.9
_MARK = 5.0
"""Width of the sample of line before the words."""
_WAY = Ink("black", 0.16)
_SLENDER = (0.25, 0.35, 0.45, 0.6, 0.8, 1.0, 1.3)
"""Proportions of the oval that are tried."""
_PAGE = (240.0, 110.0)
"""What a page on its side leaves for the picture, for the proportion alone."""
_GAP = 7.0
"""Least room between two boxes."""
_OFFSET = 0.9
"""How far the two ways between two states lie apart, each side."""


def letter(number: int) -> str:
    """A, B, C: the name of a rest state in the picture and in the list."""
    return chr(ord("A") + number)


def way_words(machine: Machine, move: RestMove) -> str:
    """What is done on a way, move by move; a way with a task's work on it is that task, out and back."""
    if move.task:
        return f"{move.task}, out and back, as its sheet says"
    return "; ".join(move_words(machine, text) for text in move.texts)


def rest_picture(machine: Machine, found: Rests) -> Picture:
    """Rest states on an oval, the first one with a double frame; an arrow for each way, numbered as in its list."""
    sheet = Sheet()
    boxes, badges = _boxes(found), list[Place]()
    for number, move in enumerate(found.moves, start=1):
        both = any((other.origin, other.target) == (move.target, move.origin) for other in found.moves)
        ends = _ends(boxes[move.origin], boxes[move.target], apart=both)
        _arrow(sheet, *ends)
        _badge(sheet, _place(ends, badges), str(number))
    for box in boxes:
        box.draw(sheet)
    return sheet.picture(_in_words(machine, found))


def _in_words(machine: Machine, found: Rests) -> str:
    """The same in words, for readers who do not see it."""
    states = [
        f"{letter(n)}: {'; '.join(words for _, words in _lines(rest, found.states[0]))}"
        for n, rest in enumerate(found.states)
    ]
    ways = [
        f"{number} from {letter(move.origin)} to {letter(move.target)}: {way_words(machine, move)}"
        for number, move in enumerate(found.moves, start=1)
    ]
    return f"Rest states. {'. '.join(states)}. Ways. {'. '.join(ways)}."


def _lines(rest: Rest, outset: Rest) -> Iterable[tuple[State | None, str]]:
    """What stands in the box of a rest state, with its kind of line; positions against the outset's."""
    groups: tuple[tuple[State, str, tuple[str, ...]], ...] = (
        ("live", "live", rest.live),
        ("earthed", "earthed", rest.earthed),
        ("dead", "not live", rest.dead),
    )
    for state, word, points in groups:
        if points:
            yield state, f"{word}: {', '.join(points)}"
    stands = [
        f"{name} {' or '.join(positions)}"
        for name, positions in rest.positions.items()
        if rest.outset or positions != outset.positions[name]
    ]
    words = "; ".join(stands) or "for what feeds it"
    yield None, words if rest.outset else f"as in normal service, but {words}"
    for task in rest.tasks:
        yield None, f"from here: {task}"


@dataclass(frozen=True, slots=True)
class _Box:
    """One rest state on the sheet: its centre, its size and what stands in it."""

    x: float
    y: float
    high: float
    name: str
    lines: tuple[tuple[State | None, tuple[str, ...]], ...]
    outset: bool

    def draw(self, sheet: Sheet) -> None:
        left, top = self.x - _WIDE / 2, self.y - self.high / 2
        corners = ((left, top), (left + _WIDE, top), (left + _WIDE, top + self.high), (left, top + self.high))
        sheet.fill(*corners, colour="white")
        sheet.frame(left, top, left + _WIDE, top + self.high, Ink("black", 0.3))
        if self.outset:
            sheet.frame(left - 0.7, top - 0.7, left + _WIDE + 0.7, top + self.high + 0.7, Ink("black", 0.16))
        title = f"{self.name}, normal service" if self.outset else self.name
        y = sheet.text(left + _PAD, top + _PAD + TEXT, [title], Hand(strong=True))
        for state, pieces in self.lines:
            y += _LINE
            if state is not None:
                trace(sheet, ((left + _PAD, y - TEXT / 3), (left + _PAD + _MARK - 1, y - TEXT / 3)), state)
            indent = _MARK if state is not None else 0.0
            y = sheet.text(left + _PAD + indent, y, pieces, Hand(faint=state is None))

    def edge(self, towards: Place) -> Place:
        """Where a line from the centre to a place leaves the frame."""
        dx, dy = towards[0] - self.x, towards[1] - self.y
        half = (_WIDE / 2 + 0.8, self.high / 2 + 0.8)
        share = min(half[0] / abs(dx) if dx else math.inf, half[1] / abs(dy) if dy else math.inf)
        return self.x + dx * share, self.y + dy * share


def _boxes(found: Rests) -> list[_Box]:
    """Boxes on an oval, so that no way runs under a box."""
    pieces: list[tuple[tuple[State | None, tuple[str, ...]], ...]] = []
    highs: list[float] = []
    for rest in found.states:
        lines = []
        for state, words in _lines(rest, found.states[0]):
            room = _WIDE - 2 * _PAD - (_MARK if state is not None else 0.0)
            lines.append((state, tuple(wrapped(words, TEXT, room))))
        pieces.append(tuple(lines))
        highs.append((1 + sum(len(words) for _, words in lines)) * _LINE + 2 * _PAD)
    flat = [_Box(0.0, 0.0, h, letter(n), pieces[n], found.states[n].outset) for n, h in enumerate(highs)]
    ovals = [_spread(flat, slender) for slender in _SLENDER]
    return max(ovals, key=_scale)


def _spread(boxes: list[_Box], slender: float) -> list[_Box]:
    """Boxes around the smallest oval of a proportion on which they stay clear of each other."""
    wide = _WIDE * 0.7
    while True:
        turns = [math.pi + 2 * math.pi * number / len(boxes) for number in range(len(boxes))]
        placed = [
            replace(box, x=wide * math.cos(turn), y=slender * wide * math.sin(turn))
            for box, turn in zip(boxes, turns, strict=True)
        ]
        if all(_clear(one, other) for n, one in enumerate(placed) for other in placed[:n]):
            return placed
        wide *= 1.04


def _scale(boxes: list[_Box]) -> float:
    """How large a drawing of these boxes may be on a page on its side."""
    wide = max(box.x for box in boxes) - min(box.x for box in boxes) + _WIDE
    high = max(box.y + box.high / 2 for box in boxes) - min(box.y - box.high / 2 for box in boxes)
    return min(_PAGE[0] / wide, _PAGE[1] / high)


def _clear(one: _Box, other: _Box) -> bool:
    """Whether two boxes leave room between them for arrows with their numbers."""
    beside = abs(one.x - other.x) - _WIDE
    above = abs(one.y - other.y) - (one.high + other.high) / 2
    return beside >= _GAP or above >= _GAP


def _ends(start: _Box, end: _Box, *, apart: bool) -> tuple[Place, Place]:
    """From frame to frame; two opposite ways lie side by side."""
    a, b = start.edge((end.x, end.y)), end.edge((start.x, start.y))
    length = math.hypot(end.x - start.x, end.y - start.y)
    ux, uy = (end.x - start.x) / length, (end.y - start.y) / length
    shift = (-uy * _OFFSET, ux * _OFFSET) if apart else (0.0, 0.0)
    return (a[0] + shift[0], a[1] + shift[1]), (b[0] + shift[0], b[1] + shift[1])


def _arrow(sheet: Sheet, a: Place, b: Place) -> None:
    length = math.hypot(b[0] - a[0], b[1] - a[1])
    ux, uy = (b[0] - a[0]) / length, (b[1] - a[1]) / length
    sheet.trace(a, b, ink=_WAY)
    back = (b[0] - 1.8 * ux, b[1] - 1.8 * uy)
    sheet.fill(b, (back[0] - 0.7 * uy, back[1] + 0.7 * ux), (back[0] + 0.7 * uy, back[1] - 0.7 * ux), colour="black")


def _place(ends: tuple[Place, Place], badges: list[Place]) -> Place:
    """Where the number of a way stands: near its beginning, or farther on where another number stands already."""
    (ax, ay), (bx, by) = ends
    tries = [(ax + (bx - ax) * share, ay + (by - ay) * share) for share in (0.3, 0.42, 0.54, 0.18, 0.66, 0.76)]
    free = (spot for spot in tries if all(math.hypot(spot[0] - x, spot[1] - y) > 2.6 for x, y in badges))
    badges.append(next(free, tries[0]))
    return badges[-1]


def _badge(sheet: Sheet, place: Place, number: str) -> None:
    x, y = place
    corners = ((x - 1.3, y - 0.9), (x + 1.3, y - 0.9), (x + 1.3, y + 0.9), (x - 1.3, y + 0.9))
    sheet.fill(*corners, colour="white")
    sheet.text(x, y + TEXT * 0.36, [number], Hand(anchor="middle", strong=True))
