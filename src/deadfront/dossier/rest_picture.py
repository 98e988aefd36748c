"""Dossier: the states in which a unit may be left, as a graph. Rest states come in; an SVG and words go out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

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
    Sheet,
)
from deadfront.dossier.state_picture import State, trace
from deadfront.operation.machine import Machine
from deadfront.operation.resting import Rest, RestMove, Rests
from deadfront.operation.wording import move_words

_LINE = TEXT * LEADING
_PAD = 0.9
_MARK = 5.0
"""Width of the sample of line before the words."""
_WAY = Ink("black", 0.2)
_BOX = 62.0
"""Width of a box, where the ways beside it leave so much and the page is high enough."""
_PORT = 2.2
"""Distance of the ends of two ways on the edge of a box."""
_STUB = 3.4
"""From the edge of a box to the nearest way that passes it: room for a number, or an arrow."""
_LANE = 1.7
"""Distance of two ways that run side by side."""
_GAP, _NARROW_GAP = 2.4, 1.6
"""Between two boxes."""
_BEND = 0.6
"""How much of a corner is cut off, so that a bend is no crossing."""
_FOOT = 2 * MARGIN + 3.3 * _LINE
"""Height of the note and the margins."""
_NOTES = (
    "A way begins at its number and ends at its arrow: downwards on the right, upwards on the left. Where two ways "
    "cross, each goes straight on. Double frame: normal service."
)


def letter(number: int) -> str:
    """A, B, C: the name of a rest state in the picture and in the list."""
    return chr(ord("A") + number)


def rest_name(rest: Rest, outset: Rest) -> str:
    """What a crew calls a rest state: which devices stand in it otherwise than in normal service."""
    if rest.outset:
        return "normal service"
    stands = {name: at for name, at in rest.positions.items() if at != outset.positions[name]}
    fixed = [f"{name} {at[0]}" for name, at in stands.items() if len(at) == 1]
    return ", ".join(fixed or _choices(stands)) or "otherwise fed"


def _choices(stands: dict[str, tuple[str, ...]]) -> list[str]:
    return [f"{name} {' or '.join(at)}" for name, at in stands.items()]


def way_words(machine: Machine, move: RestMove) -> str:
    """What is done on a way, move by move; a way with a task's work on it is that task, out and back."""
    if move.task:
        return f"{move.task}, out and back, as its sheet says"
    return "; ".join(move_words(machine, text) for text in move.texts)


def rest_picture(machine: Machine, found: Rests) -> Picture:
    """Rest states one under the other, each with its name; ways down on the right and up on the left, with numbers."""
    sheet, lanes = Sheet(), _lanes(found.moves)
    sides = [max((lanes[move] + 1 for move in found.moves if _down(move) is down), default=0) for down in (False, True)]
    room = WIDEST / HALF_MODULE - 2 * MARGIN - sum(_STUB + count * _LANE for count in sides)
    boxes = _boxes(found, min(_BOX, room), brief=False)
    if (boxes[-1].bottom + _FOOT) * HALF_MODULE > HIGHEST:
        boxes = _boxes(found, room, brief=True)
    ports = _Ports(found, boxes, lanes)
    for number, move in enumerate(found.moves, start=1):
        ports.draw(sheet, move, str(number))
    for box in boxes:
        box.draw(sheet)
    left = boxes[0].left - (_STUB + sides[0] * _LANE if sides[0] else 0.0)
    right = boxes[0].right + (_STUB + sides[1] * _LANE if sides[1] else 0.0)
    sheet.text(left, boxes[-1].bottom + 2 * _LINE, [_NOTES], Hand(widest=max(right - left, _BOX), faint=True))
    return sheet.picture(_in_words(machine, found))


def _in_words(machine: Machine, found: Rests) -> str:
    """The same in words, for readers who do not see it."""
    outset = found.states[0]
    states = [
        f"{letter(n)}, {rest_name(rest, outset)}: {'; '.join(words for _, words in _lines(rest, outset))}"
        for n, rest in enumerate(found.states)
    ]
    ways = [
        f"{number} from {letter(move.origin)} to {letter(move.target)}: {way_words(machine, move)}"
        for number, move in enumerate(found.moves, start=1)
    ]
    return f"Rest states. {'. '.join(states)}. Ways. {'. '.join(ways)}."


def _lines(rest: Rest, outset: Rest, *, brief: bool = False) -> Iterable[tuple[State | None, str]]:
    """What stands in the box of a rest state under its name, with its kind of line.

    `brief`: outside normal service the largest of several groups of points is called `all else`.
    """
    groups: tuple[tuple[State, str, tuple[str, ...]], ...] = (
        ("live", "live", rest.live),
        ("earthed", "earthed", rest.earthed),
        ("dead", "not live", rest.dead),
    )
    largest = max(groups, key=lambda group: len(", ".join(group[2])))
    several = sum(bool(points) for _, _, points in groups) > 1
    for state, word, points in groups:
        if points:
            rest_of_all = brief and several and not rest.outset and state == largest[0]
            yield state, f"{word}: {'all else' if rest_of_all else ', '.join(points)}"
    free = {n: at for n, at in rest.positions.items() if rest.outset or (len(at) > 1 and at != outset.positions[n])}
    words = ", ".join(_choices(free))
    if words and words != rest_name(rest, outset):
        yield None, words
    for task in rest.tasks:
        yield None, f"from here: {task}"


# --- boxes ---


@dataclass(frozen=True, slots=True)
class _Box:
    """One rest state on the sheet: its edges, its title and what stands under it."""

    top: float
    bottom: float
    right: float
    title: tuple[str, ...]
    lines: tuple[tuple[State | None, tuple[str, ...]], ...]
    outset: bool
    left: float = 0.0

    def draw(self, sheet: Sheet) -> None:
        sheet.frame(self.left, self.top, self.right, self.bottom, Ink("black", 0.3))
        if self.outset:
            inset = 0.5
            edges = (self.left + inset, self.top + inset, self.right - inset, self.bottom - inset)
            sheet.frame(*edges, Ink("black", 0.16))
        left, y = self.left + _PAD, self.top + _PAD + TEXT
        for words in self.title:
            sheet.text(left, y, [words], Hand(strong=True))
            y += _LINE
        for state, pieces in self.lines:
            if state is not None:
                trace(sheet, ((left, y - TEXT / 3), (left + _MARK - 1, y - TEXT / 3)), state)
            sheet.text(left + (_MARK if state is not None else 0.0), y, pieces, Hand(faint=state is None))
            y += len(pieces) * _LINE


def _boxes(found: Rests, wide: float, *, brief: bool) -> list[_Box]:
    """Boxes one under the other, each as high as its words, or the ends of its ways on one side, need."""
    boxes: list[_Box] = []
    top, outset = 0.0, found.states[0]
    for number, rest in enumerate(found.states):
        name = f"{letter(number)}  {rest_name(rest, outset)}"
        title = tuple(wrapped(name, TEXT, (wide - 2 * _PAD - 0.6) / BOLD))
        lines = []
        for state, words in _lines(rest, outset, brief=brief):
            room = wide - 2 * _PAD - (_MARK if state is not None else 0.0)
            lines.append((state, tuple(wrapped(words, TEXT, room))))
        ends = max(_ends(found.moves, number, down=down) for down in (False, True))
        high = max((len(title) + sum(len(words) for _, words in lines)) * _LINE + 2 * _PAD, (ends + 0.5) * _PORT)
        boxes.append(_Box(top, top + high, wide, title, tuple(lines), rest.outset))
        top += high + (_NARROW_GAP if brief else _GAP)
    return boxes


def _ends(moves: Sequence[RestMove], number: int, *, down: bool) -> int:
    """How many ways begin or end at a box on one of its sides."""
    return sum(_down(move) is down and number in (move.origin, move.target) for move in moves)


# --- ways ---


def _down(move: RestMove) -> bool:
    return move.target > move.origin


def _lanes(moves: Sequence[RestMove]) -> dict[RestMove, int]:
    """How far out each way runs: short ones near the boxes, no two that share a stretch on one lane."""
    taken: dict[tuple[bool, int], list[RestMove]] = {}
    lanes: dict[RestMove, int] = {}
    for move in sorted(moves, key=lambda one: (abs(one.target - one.origin), one.origin, one.target)):
        lane = 0
        while any(_meet(move, other) for other in taken.get((_down(move), lane), ())):
            lane += 1
        taken.setdefault((_down(move), lane), []).append(move)
        lanes[move] = lane
    return lanes


def _meet(one: RestMove, other: RestMove) -> bool:
    """Whether two ways on one side pass or touch the same box."""
    return max(min(one.origin, one.target), min(other.origin, other.target)) <= min(
        max(one.origin, one.target), max(other.origin, other.target)
    )


class _Ports:
    """Where each way leaves and meets the edges of its boxes, in an order in which ways cross seldom."""

    def __init__(self, found: Rests, boxes: Sequence[_Box], lanes: dict[RestMove, int]) -> None:
        self.boxes, self.lanes = boxes, lanes
        self.at: dict[tuple[RestMove, int], float] = {}
        for number, box in enumerate(boxes):
            for down in (False, True):
                ways = [move for move in found.moves if _down(move) is down and number in (move.origin, move.target)]
                above = sorted((m for m in ways if min(m.origin, m.target) < number), key=lambda m: lanes[m])
                below = sorted((m for m in ways if min(m.origin, m.target) == number), key=lambda m: -lanes[m])
                first = (box.top + box.bottom - (len(ways) - 1) * _PORT) / 2
                for n, move in enumerate((*above, *below)):
                    self.at[move, number] = first + n * _PORT

    def draw(self, sheet: Sheet, move: RestMove, number: str) -> None:
        """A number at the edge of the box, a line out to its lane, along it, and back to the other box, an arrow."""
        side, box = (1.0, self.boxes[0].right) if _down(move) else (-1.0, self.boxes[0].left)
        lane = box + side * (_STUB + self.lanes[move] * _LANE)
        start, end = self.at[move, move.origin], self.at[move, move.target]
        way = 1.0 if end > start else -1.0
        edge = box + side * (width(number, TEXT) * BOLD + 0.7)
        corners = (
            *((edge, start), (lane - _BEND * side, start), (lane, start + _BEND * way)),
            *((lane, end - _BEND * way), (lane - _BEND * side, end), (box + 1.2 * side, end)),
        )
        sheet.trace(*corners, ink=_WAY)
        tip = box + 0.15 * side
        sheet.fill((tip, end), (tip + 1.8 * side, end - 0.7), (tip + 1.8 * side, end + 0.7), colour="black")
        hand = Hand(anchor="start" if side > 0 else "end", strong=True)
        sheet.text(box + 0.4 * side, start + TEXT * 0.36, [number], hand)
