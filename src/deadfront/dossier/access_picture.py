"""Dossier: pictures of access, one at a time, as files. A machine and what is wanted come in; an SVG goes out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

from deadfront.dossier.access_pages import Unit
from deadfront.dossier.key_picture import KeyStep, has_keys, key_picture
from deadfront.dossier.lettering import width, wrapped
from deadfront.dossier.rest_picture import rest_picture
from deadfront.dossier.sheet import BOLD, LEADING, TEXT, Hand, Picture, Sheet
from deadfront.dossier.state_picture import Scene, changes_strip, draw
from deadfront.operation.building import build
from deadfront.operation.examining import examine
from deadfront.operation.machine import Kind
from deadfront.operation.procedures import Procedure, procedure
from deadfront.operation.resting import rests
from deadfront.operation.telling import Situation, told
from deadfront.operation.wording import HAZARDS, move_words

Wanted = Literal["keys", "steps", "hazards", "rests"]
WANTED: dict[Wanted, str] = {
    "keys": "where each key is during a task",
    "steps": "what is live after each step of a task",
    "hazards": "the same along the shortest way to each hazard that hands reach",
    "rests": "the states in which the unit may be left, and the ways between them",
}
"""What can be drawn, and what it shows."""
_LINE = TEXT * LEADING
_WIDE = 90.0
_LEFT = -7.0
"""Where the words over a strip begin: at its own left edge."""


class NothingToDraw(ValueError):  # noqa: N818  (says what the unit has not)
    """The unit has nothing of what is wanted; the text says what is lacking."""


def access_picture(unit: Unit, wanted: Wanted, task: str | None = None) -> Picture:
    """Return one picture. `task` names one of the unit's tasks; the first one that can be drawn if not given.

    raises  NothingToDraw: no such task, no way to it, no key, no hazard, no rest states that can be drawn
    """
    if wanted == "rests":
        found = rests(unit.machine, list(_procedures(unit, None)))
        if found is None or len(found.states) < 2:
            raise NothingToDraw("no rest states between which anything changes")
        return rest_picture(unit.machine, found)
    if wanted == "hazards":
        return _hazards(unit)
    done = next(_procedures(unit, task, wanted), None)
    if done is None:
        raise NothingToDraw(_no_task(unit, wanted, task))
    steps = [KeyStep(n, move_words(unit.machine, one.text), one.after) for n, one in enumerate(done.steps, start=1)]
    if wanted == "keys":
        return key_picture(unit.machine, unit.start(), steps, f"Keys during: {done.goal}")
    sheet = Sheet()
    frames = [_Frame(step, _subject(one.text), "") for step, one in zip(steps, done.steps, strict=True)]
    _film(unit, sheet, 0.0, done.goal, frames)
    return sheet.picture(f"What is live after each step of: {done.goal}")


def _procedures(unit: Unit, task: str | None, wanted: Wanted = "steps") -> Iterator[Procedure]:
    for goal in unit.machine.goals:
        if task in (None, goal.id):
            done = procedure(unit.machine, goal)
            if done is not None and (wanted != "keys" or _moves_keys(unit, done)):
                yield done


def _moves_keys(unit: Unit, done: Procedure) -> bool:
    start = unit.start()
    return has_keys(unit.machine) and any(step.after.keys != start.keys for step in done.steps)


def _no_task(unit: Unit, wanted: Wanted, task: str | None) -> str:
    names = ", ".join(goal.id for goal in unit.machine.goals) or "none"
    which = "no task" if task is None else f"no task {task!r}"
    return f"{which} that can be drawn as `{wanted}`; the unit's tasks: {names}"


def _hazards(unit: Unit) -> Picture:
    """One film after the other, each with the words of what its last move raises."""
    sequences = examine(unit.machine, "hands").sequences
    if not sequences:
        raise NothingToDraw("no hazard within reach of hands")
    plant, sheet, top = build(unit.machine, "hands"), Sheet(), 0.0
    for sequence in dict.fromkeys(sequences.values()):
        kinds: list[Kind] = [kind for kind, way in sequences.items() if way == sequence]
        moves = told(plant, sequence)
        steps = [
            _Frame(
                KeyStep(n, move_words(unit.machine, move.text), move.after), _subject(move.text), _danger(move.kinds)
            )
            for n, move in enumerate(moves, start=1)
        ]
        title = "; ".join(HAZARDS[kind] for kind in kinds)
        top = _film(unit, sheet, top, title, steps) + 2 * _LINE
    return sheet.picture("The shortest ways to: " + "; ".join(HAZARDS[kind] for kind in sequences))


def _danger(kinds: tuple[Kind, ...]) -> str:
    return ", ".join(HAZARDS[kind] for kind in kinds)


@dataclass(frozen=True, slots=True)
class _Frame:
    """One step of a film: the device that it moves, and what danger it raises."""

    step: KeyStep
    moved: str
    danger: str


def _subject(text: str) -> str:
    return text.partition(":")[0]


def _film(unit: Unit, sheet: Sheet, top: float, title: str, frames: Iterable[_Frame]) -> float:
    """Draw the steps one under the other, those that change nothing on the strip as words only."""
    top = sheet.text(_LEFT, top + _LINE, wrapped(title, TEXT, _WIDE / BOLD), Hand(strong=True))
    before: Situation = unit.start()
    for frame in frames:
        step = frame.step
        top = sheet.text(_LEFT, top + 1.6 * _LINE, wrapped(f"{step.number}  {step.words}", TEXT, _WIDE))
        if frame.danger:
            top = _warning(sheet, top + 1.35 * _LINE, frame.danger)
        if changes_strip(unit.machine, before, step.after):
            scene = Scene(unit.machine, unit.practice, step.after, frame.moved, bool(frame.danger))
            top = draw(scene, sheet, top + 0.9)
        before = step.after
    return top


def _warning(sheet: Sheet, top: float, danger: str) -> float:
    """What a step raises, in white on black: what is to be seen before all else. Returns where its lower edge is."""
    lines = wrapped(danger, TEXT, (_WIDE - 2) / BOLD)
    wide = max(width(line, TEXT) for line in lines) * BOLD + 2
    end = top + len(lines) * _LINE
    upper, lower, right = top - TEXT, end - TEXT + 0.5, _LEFT + wide
    sheet.fill((_LEFT, upper), (right, upper), (right, lower), (_LEFT, lower), colour="black")
    for number, line in enumerate(lines):
        sheet.text(_LEFT + 1, top + number * _LINE, [line], Hand(strong=True, light=True))
    return lower
