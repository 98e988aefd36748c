"""Operation: how a crew does a task. A machine and its goals in, shortest safe sequences with their ways back out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from deadfront.operation.atoms import AllOf, Atom, DeviceIn, Not
from deadfront.operation.building import SOUND, build
from deadfront.operation.coding import STAGE, device_digit, key_digit
from deadfront.operation.machine import Goal, Hold, Kind, Machine, Mode, Sentence
from deadfront.operation.plant import Plant, View
from deadfront.operation.search import explore
from deadfront.operation.stepping import Batch
from deadfront.operation.telling import Situation, consequence, consequences, outset, recoded, situation


@dataclass(frozen=True, slots=True)
class Step:
    """One hand action of a procedure, the hold points that it passes, and how everything stands after it."""

    text: str
    passes: tuple[str, ...]
    after: Situation


@dataclass(frozen=True, slots=True)
class Deviation:
    """What happens if one step goes wrong and the crew carries on with the next ones.

    `how`: the step is left out, or its device does not follow. `outcome`: `refused` (step `at` cannot be done any more,
    and the crew notices), `hazard` (step `at` raises `kinds`), `unnoticed` (all later steps go, and raise nothing).
    """

    step: int
    how: Literal["left out", "does not follow"]
    mode: Mode
    outcome: Literal["refused", "hazard", "unnoticed"]
    at: int | None
    kinds: tuple[Kind, ...]


@dataclass(frozen=True, slots=True)
class Mistake:
    """A move that hardware allows after step `after` (0: before the first) and that raises a hazard."""

    after: int
    move: str
    kinds: tuple[Kind, ...]


@dataclass(frozen=True, slots=True)
class Procedure:
    """A task done step by step: there, back to service, and away from every step in between.

    `back` is None where no safe way leads back; `aborts[k]` is the shortest safe way out after step k (0: before the
    first), None where there is none. Steps are numbered from 1.
    """

    goal: str
    steps: tuple[Step, ...]
    back: tuple[Step, ...] | None
    aborts: tuple[tuple[str, ...] | None, ...]
    deviations: tuple[Deviation, ...]
    mistakes: tuple[Mistake, ...]


def procedure(machine: Machine, goal: Goal) -> Procedure | None:
    """Return the shortest safe way to a goal through all of its hold points, or None if there is none.

    People obey the rules on the way and no move raises a hazard; ties break by the order of the file.
    """
    round_trip = _round_trip(machine, goal)
    if round_trip is None:
        return None
    plant, way, home, back = round_trip
    free = build(machine, "rules", SOUND)
    exits = [_way(free, recoded(code, plant, free), _safe(machine), ()) for code in way.codes]
    return Procedure(
        goal=goal.id,
        steps=_steps(plant, way),
        back=None if back is None else _steps(home, back),
        aborts=tuple(None if found is None else found.texts for found in exits),
        deviations=tuple(_deviations(machine, plant, way)),
        mistakes=tuple(_mistakes(machine, plant, way)),
    )


def there_and_back(machine: Machine, goal: Goal) -> tuple[tuple[str, ...], tuple[str, ...] | None] | None:
    """Return the moves of the shortest safe way to a goal, and those back to service; None where there is no way."""
    found = _round_trip(machine, goal)
    if found is None:
        return None
    _, way, _, back = found
    return way.texts, None if back is None else back.texts


def _round_trip(machine: Machine, goal: Goal) -> tuple[Plant, _Way, Plant, _Way | None] | None:
    plant = build(machine, "rules", SOUND, holds=goal.holds)
    way = _way(plant, outset(plant), goal.condition, goal.never)
    if way is None:
        return None
    home = build(machine, "rules", SOUND, holds=goal.back)
    return plant, way, home, _way(home, recoded(way.codes[-1], plant, home), None, goal.never)


@dataclass(frozen=True, slots=True)
class _Way:
    """The states of a way, the first one included, and the moves between them."""

    codes: tuple[int, ...]
    texts: tuple[str, ...]


def _way(plant: Plant, start: int, target: Atom | None, never: Sequence[Sentence]) -> _Way | None:
    """The shortest safe way; with no target, to every device and key as at the outset."""
    everywhere = len(plant.holds)

    def goal(view: View) -> NDArray[np.bool_]:
        met = _as_at_outset(view) if target is None else view.truth(target)
        return met & (view.column(STAGE) == everywhere) if everywhere else met

    def allowed(_view: View, _batch: Batch, reached: View) -> NDArray[np.bool_]:
        return _in_order(reached, plant.holds, never)

    search = explore(plant, start=start, through_dangers=False, goal=goal, allowed=allowed)
    if search.goal is None:
        return None
    moves = search.path(search.goal)
    states = [search.goal]
    while search.parent[states[-1]] >= 0:
        states.append(int(search.parent[states[-1]]))
    return _Way(tuple(int(search.codes[s]) for s in reversed(states)), tuple(plant.moves[m].text for m in moves))


def _in_order(view: View, holds: tuple[Hold, ...], never: Sequence[Sentence]) -> NDArray[np.bool_]:
    fine = np.ones(view.codes.shape, dtype=np.bool_)
    for sentence in never:
        fine &= ~view.truth(sentence.condition)
    for n, hold in enumerate(holds):
        stage = view.column(STAGE)
        if hold.before is not None:
            fine &= (stage > n) | ~view.truth(hold.before)
        if hold.kept:
            fine &= (stage <= n) | view.truth(hold.condition)
    return fine


def _as_at_outset(view: View) -> NDArray[np.bool_]:
    names = [device_digit(d.id) for d in view.plant.devices if d.moves] + [key_digit(k) for k in view.plant.key_codes]
    result = np.ones(view.codes.shape, dtype=np.bool_)
    for name in names:
        result &= view.column(name) == view.plant.coding.fields[name].start
    return result


def _safe(machine: Machine) -> Atom:
    if machine.safe is not None:
        return machine.safe
    return AllOf(tuple(Not(DeviceIn(opening.device, opening.positions)) for opening in machine.openings))


def _steps(plant: Plant, way: _Way) -> tuple[Step, ...]:
    def stage(code: int) -> int:
        digit = plant.coding.fields.get(STAGE)
        return 0 if digit is None else (code // digit.stride) % digit.size

    return tuple(
        Step(text, tuple(h.id for h in plant.holds[stage(before) : stage(after)]), situation(plant, after))
        for text, before, after in zip(way.texts, way.codes[:-1], way.codes[1:], strict=True)
    )


def _deviations(machine: Machine, plant: Plant, way: _Way) -> Iterator[Deviation]:
    """Each step left out, and each step whose device or store does not follow, in both modes."""
    for mode in ("hands", "rules"):
        sound = build(machine, _mode(mode), SOUND)
        for k, text in enumerate(way.texts, start=1):
            before = recoded(way.codes[k - 1], plant, sound)
            yield _carried_on(sound, before, way.texts[k:], k, "left out")
            broken = _not_following(machine, _mode(mode), text, situation(plant, way.codes[k - 1]).positions)
            if broken is not None:
                start = recoded(way.codes[k - 1], plant, broken)
                moved = consequence(broken, start, text)
                if moved is None:
                    # A wait that drains nothing, or a shaft that holds the handle: the crew goes on from there.
                    yield _carried_on(broken, start, way.texts[k:], k, "does not follow")
                elif moved.kinds:
                    yield Deviation(k, "does not follow", _mode(mode), "hazard", k, moved.kinds)
                else:
                    yield _carried_on(broken, moved.code, way.texts[k:], k, "does not follow")


def _mode(word: str) -> Mode:
    return "hands" if word == "hands" else "rules"


def _not_following(machine: Machine, mode: Mode, text: str, positions: Mapping[str, str]) -> Plant | None:
    if text.startswith("wait "):
        return build(machine, mode, (frozenset([f"bleed:{text.removeprefix('wait ')}"]),))
    name = text.partition(":")[0]
    for device in machine.devices:
        if device.id == name and device.electric and device.source is None:
            return build(machine, mode, (frozenset([f"stuck:{name}"]),), frozen={name: positions[name]})
    return None


def _carried_on(
    plant: Plant, code: int, rest: Sequence[str], k: int, how: Literal["left out", "does not follow"]
) -> Deviation:
    for at, text in enumerate(rest, start=k + 1):
        found = consequence(plant, code, text)
        if found is None:
            return Deviation(k, how, plant.mode, "refused", at, ())
        if found.kinds:
            return Deviation(k, how, plant.mode, "hazard", at, found.kinds)
        code = found.code
    return Deviation(k, how, plant.mode, "unnoticed", None, ())


def _mistakes(machine: Machine, plant: Plant, way: _Way) -> Iterator[Mistake]:
    """From every state of the way, each single move that hardware allows and that raises a hazard."""
    hands = build(machine, "hands", SOUND)
    for k, code in enumerate(way.codes):
        for text, found in consequences(hands, recoded(code, plant, hands)).items():
            if found.kinds:
                yield Mistake(k, text, found.kinds)
