"""Operation: the examination of a machine as data for other programs. A machine in, one JSON object out."""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations
from typing import Any, Literal

from deadfront.operation.breaking import broken_by_hands, broken_by_rules
from deadfront.operation.examining import examine
from deadfront.operation.failures import Broken, break_midway, single_failures
from deadfront.operation.machine import MODES, Machine, Mode
from deadfront.operation.procedures import procedure

Depth = Literal["single", "double"]


def answers(
    machine: Machine,
    failures: Depth | None = None,
    progress: Callable[[int, int], None] | None = None,
    budget: int | None = None,
) -> dict[str, Any]:
    """Return what hands and rules reach in a machine, its failures if asked for, and its procedures.

    `hands` and `rules` each hold `states`, `transitions`, `depth`, `states_hazard_free` and `hazards` (kind to `len`
    and `seq`). With failures there are also `single_failures` (name to the kinds it adds and their lengths),
    `midway_failures` (the same for blades that weld at any moment, where they stand) and, for `double`,
    `double_failures` (how many pairs, the kinds only both together reach, and `left_out`, how many pairs the budget of
    states left no room for). `procedures` holds, goal by goal, `len`, `seq`, `return_len` and `return_seq`, null where
    there is no way without a hazard. Raises `MachineTooLarge`.
    """
    result: dict[str, Any] = {"id": machine.id, "title": machine.title}
    for mode in MODES:
        result[mode] = _mode(machine, mode)
    if failures is not None:
        pairs = failures == "double"
        hands = broken_by_hands(machine, pairs=pairs, budget=budget, progress=progress)
        rules = broken_by_rules(machine, hands, pairs=pairs, budget=budget, progress=progress)
        result["hands"] |= _failures(machine, "hands", hands, pairs=pairs)
        result["rules"] |= _failures(machine, "rules", rules, pairs=pairs)
    result["procedures"] = {goal.id: _way(machine, goal.id) for goal in machine.goals}
    return result


def _mode(machine: Machine, mode: Mode) -> dict[str, Any]:
    found = examine(machine, mode)
    return {
        "states": found.states,
        "transitions": found.transitions,
        "depth": found.depth,
        "states_hazard_free": found.states_hazard_free,
        "hazards": {kind: {"len": len(seq), "seq": list(seq)} for kind, seq in found.sequences.items()},
    }


def _failures(machine: Machine, mode: Mode, broken: Broken, *, pairs: bool) -> dict[str, Any]:
    """Failures from the outset, blades that weld later, and pairs; null for a set that the budget left out."""
    names = single_failures(machine)
    result: dict[str, Any] = {
        "single_failures": {n: None if frozenset([n]) in broken.left_out else broken.new([n]) for n in names},
        "midway_failures": {
            name: {kind: length for kind, length in reach.dangers.items() if kind not in broken.sound}
            for name, reach in break_midway(machine, mode).items()
        },
    }
    if pairs:
        every = list(combinations(names, 2))
        seen = [pair for pair in every if is_known(broken, *pair)]
        together = {f"{one} + {other}": list(broken.only_together(one, other)) for one, other in seen}
        result["double_failures"] = {
            "pairs": len(every),
            "new_only_with_both": {name: kinds for name, kinds in together.items() if kinds},
        }
        if len(seen) < len(every):
            result["double_failures"]["left_out"] = len(every) - len(seen)
    return result


def is_known(broken: Broken, one: str, other: str) -> bool:
    """Whether the budget left room for a pair and for each of the two."""
    return not broken.left_out & {frozenset([one]), frozenset([other]), frozenset([one, other])}


def _way(machine: Machine, name: str) -> dict[str, Any]:
    goal = next(goal for goal in machine.goals if goal.id == name)
    found = procedure(machine, goal)
    if found is None:
        return {"len": None, "seq": None, "return_len": None, "return_seq": None}
    back = None if found.back is None else [step.text for step in found.back]
    return {
        "len": len(found.steps),
        "seq": [step.text for step in found.steps],
        "return_len": None if back is None else len(back),
        "return_seq": back,
    }
