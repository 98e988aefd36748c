"""Operation: the examination of a machine as data for other programs. A machine in, one JSON object out."""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations
from typing import Any, Literal

from deadfront.operation.examining import examine
from deadfront.operation.failures import break_all, break_midway, single_failures
from deadfront.operation.machine import MODES, Machine, Mode
from deadfront.operation.procedures import procedure

Depth = Literal["single", "double"]


def answers(
    machine: Machine, failures: Depth | None = None, progress: Callable[[int, int], None] | None = None
) -> dict[str, Any]:
    """Return what hands and rules reach in a machine, its failures if asked for, and its procedures.

    `hands` and `rules` each hold `states`, `transitions`, `depth`, `states_hazard_free` and `hazards` (kind to `len`
    and `seq`). With failures there are also `single_failures` (name to the kinds it adds and their lengths),
    `midway_failures` (the same for blades that weld at any moment, where they stand) and, for `double`,
    `double_failures` (how many pairs, and the kinds only both together reach). `procedures` holds, goal by goal, `len`,
    `seq`, `return_len` and `return_seq`, null where there is no safe way. Raises `MachineTooLarge`.
    """
    result: dict[str, Any] = {"id": machine.id, "title": machine.title}
    for mode in MODES:
        result[mode] = _mode(machine, mode, failures, progress)
    result["procedures"] = {goal.id: _way(machine, goal.id) for goal in machine.goals}
    return result


def _mode(
    machine: Machine, mode: Mode, failures: Depth | None, progress: Callable[[int, int], None] | None
) -> dict[str, Any]:
    found = examine(machine, mode)
    result: dict[str, Any] = {
        "states": found.states,
        "transitions": found.transitions,
        "depth": found.depth,
        "states_hazard_free": found.states_hazard_free,
        "hazards": {kind: {"len": len(seq), "seq": list(seq)} for kind, seq in found.sequences.items()},
    }
    if failures is None:
        return result
    broken = break_all(machine, mode, pairs=failures == "double", progress=progress)
    names = single_failures(machine)
    result["single_failures"] = {name: broken.new([name]) for name in names}
    midway = break_midway(machine, mode)
    result["midway_failures"] = {
        name: {kind: length for kind, length in reach.dangers.items() if kind not in broken.sound}
        for name, reach in midway.items()
    }
    if failures == "double":
        pairs = list(combinations(names, 2))
        together = {f"{one} + {other}": list(broken.only_together(one, other)) for one, other in pairs}
        result["double_failures"] = {
            "pairs": len(pairs),
            "new_only_with_both": {name: kinds for name, kinds in together.items() if kinds},
        }
    return result


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
