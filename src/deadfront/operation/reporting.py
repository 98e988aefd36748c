"""Operation: the examination of a machine as text to be read. A machine in, lines out."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from deadfront.operation.answers import Depth, is_known
from deadfront.operation.breaking import broken_by_hands, broken_by_rules
from deadfront.operation.building import build
from deadfront.operation.examining import doors_without_openings, examine
from deadfront.operation.failures import Broken, break_midway, explore_broken, single_failures
from deadfront.operation.machine import KINDS, MODES, Kind, Machine, Mode
from deadfront.operation.plant import Plant
from deadfront.operation.procedures import Procedure, Step, procedure
from deadfront.operation.remedies import answered
from deadfront.operation.telling import Situation, told
from deadfront.operation.wording import HAZARDS, failure_words, move_words

Progress = Callable[[int, int], None]

_MODES = {"hands": "what the hardware alone allows", "rules": "if people also obey the rules"}


def access_text(
    machine: Machine,
    failures: Depth | None = None,
    progress: Progress | None = None,
    budget: int | None = None,
) -> Iterator[str]:
    """Return the lines of an examination: hazards with their shortest sequences, failures if asked for, procedures."""
    yield f"{machine.id}: {machine.title}"
    for door in doors_without_openings(machine):
        yield f"  not examined: nothing says what a hand can reach through {door}"
    hands = None
    for mode in MODES:
        yield ""
        yield from _mode(machine, mode)
        if failures is not None:
            pairs = failures == "double"
            if hands is None:
                broken = hands = broken_by_hands(machine, pairs=pairs, budget=budget, progress=progress)
            else:
                broken = broken_by_rules(machine, hands, pairs=pairs, budget=budget, progress=progress)
            yield from _failures(machine, mode, failures, broken)
    if failures is not None:
        yield ""
        yield from _remedies(machine, progress)
    for goal in machine.goals:
        yield ""
        yield from _procedure(machine, goal.id, procedure(machine, goal))


def _mode(machine: Machine, mode: Mode) -> Iterator[str]:
    found = examine(machine, mode)
    yield f"{mode}: {_MODES[mode]}"
    yield f"  {found.states} states looked at, the farthest {found.depth} moves away"
    plant = build(machine, mode)
    for kind in KINDS:
        if kind not in found.sequences:
            yield f"  never      {HAZARDS[kind]}"
    for kind, sequence in found.sequences.items():
        yield f"  in {len(sequence):2d} {'move ' if len(sequence) == 1 else 'moves'} {HAZARDS[kind]}"
        yield from _sequence(plant, sequence)


def _sequence(plant: Plant, sequence: tuple[str, ...], indent: str = "      ") -> Iterator[str]:
    for n, move in enumerate(told(plant, sequence), start=1):
        danger = "".join(f"  !! {HAZARDS[kind]}" for kind in move.kinds)
        yield f"{indent}{n:2d}  {move_words(plant.machine, move.text)}{danger}"
        yield f"{indent}      {_standing(move.after)}"


def _standing(after: Situation) -> str:
    fault = "; a source stands on an earth" if after.fault else ""
    return f"live: {_list(after.live)}; earthed: {_list(after.earthed)}; open: {_list(after.open)}{fault}"


def _list(names: tuple[str, ...]) -> str:
    return ", ".join(names) or "nothing"


def _failures(machine: Machine, mode: Mode, failures: Depth, broken: Broken) -> Iterator[str]:
    every = single_failures(machine)
    names = [name for name in every if frozenset([name]) not in broken.left_out]
    if len(names) < len(every):
        yield f"  {len(every) - len(names)} single failures were left out: beyond the budget"
    safe = [name for name in names if not broken.new([name])]
    yield f"  single failures: {len(safe)} of {len(names)} add no hazard"
    for name in names:
        yield f"    {broken.verdict([name]):14s} {failure_words(name)}{_kinds(broken.new([name]))}"
        if broken.new([name]):
            found = explore_broken(machine, mode, [name])
            nearest = min(broken.new([name]), key=lambda kind: found.dangers[kind].length)
            moves = [found.plant.moves[m] for m in found.sequence(nearest)]
            yield from (f"          {n:2d}  {move_words(machine, move.text)}" for n, move in enumerate(moves, start=1))
    for name, reach in break_midway(machine, mode).items():
        alone = broken.reaches.get(frozenset([name.partition("@")[0]]))
        known = broken.sound | (alone.dangers.keys() if alone is not None else set())
        added = {kind: length for kind, length in reach.dangers.items() if kind not in known}
        if added:
            yield f"    {'flips':14s} {failure_words(name)}{_kinds(added)}"
    if failures == "double":
        pairs = [(one, other) for n, one in enumerate(names) for other in names[n + 1 :]]
        seen = [pair for pair in pairs if is_known(broken, *pair)]
        worse = [(one, other) for one, other in seen if broken.only_together(one, other)]
        yield f"  double failures: {len(worse)} of {len(seen)} pairs reach a hazard that neither reaches alone"
        if len(seen) < len(pairs):
            yield f"  {len(pairs) - len(seen)} pairs were left out: beyond the budget"
        for one, other in worse:
            kinds = ", ".join(HAZARDS[kind] for kind in broken.only_together(one, other))
            yield f"    {failure_words(one)}, and {failure_words(other)}: {kinds}"


def _remedies(machine: Machine, progress: Progress | None) -> Iterator[str]:
    yield "what would answer a failure, if people obey it"
    for name, answers in answered(machine, progress).items():
        yield f"  {failure_words(name)}"
        best = [answer for answer in answers if len(answer.left) == len(answers[0].left)]
        for answer in best:
            left = f"; still {', '.join(HAZARDS[kind] for kind in answer.left)}" if answer.left else ""
            yield f"    {answer.text}{left}"
        if not best:
            yield "    none of the remedies tried"


def _kinds(kinds: dict[Kind, int]) -> str:
    return "".join(f"; {HAZARDS[kind]} in {length}" for kind, length in kinds.items())


def _procedure(machine: Machine, name: str, found: Procedure | None) -> Iterator[str]:
    if found is None:
        yield f"procedure {name}: no safe way leads there"
        return
    yield f"procedure {name}: {_steps(found.steps)}"
    for n, step in enumerate(found.steps, start=1):
        holds = "".join(f"  [{hold}]" for hold in step.passes)
        yield f"  {n:2d}  {move_words(machine, step.text)}{holds}"
        yield f"        {_standing(step.after)}"
        away = found.aborts[n]
        words = "none" if away is None else "; ".join(move_words(machine, text) for text in away) or "stay, all is shut"
        yield f"        to break off: {words}"
    for deviation in found.deviations:
        last = deviation.step == len(found.steps)
        if deviation.mode == "rules" and deviation.outcome != "refused" and not last:
            yield f"  beware: {_deviation(deviation.step, deviation.how, deviation.at, deviation.kinds)}"
    if found.back is None:
        yield "  back to service: no safe way"
        return
    yield f"  back to service: {_steps(found.back)}"
    for n, step in enumerate(found.back, start=1):
        yield f"  {n:2d}  {move_words(machine, step.text)}"


def _steps(steps: Sequence[Step]) -> str:
    return "1 step" if len(steps) == 1 else f"{len(steps)} steps"


def _deviation(step: int, how: str, at: int | None, kinds: tuple[Kind, ...]) -> str:
    if at is None:
        return f"step {step} {how}: no later step notices it"
    return f"step {step} {how}: step {at} is dangerous, {', '.join(HAZARDS[kind] for kind in kinds)}"
