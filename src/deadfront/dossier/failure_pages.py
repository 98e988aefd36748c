"""Dossier: each barrier broken in turn, and two at a time. A machine and AC-06 come in; rows of tables go out."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations
from typing import Any

import numpy as np

from deadfront.claims.model import Claim
from deadfront.operation.answers import is_known
from deadfront.operation.breaking import broken_by_hands, broken_by_rules
from deadfront.operation.building import build
from deadfront.operation.failures import Broken, break_midway, single_failures
from deadfront.operation.machine import HAND, KINDS, Device, Kind, Machine
from deadfront.operation.plant import View
from deadfront.operation.search import explore
from deadfront.operation.trimming import without_own_locks_and_tests
from deadfront.operation.wording import HAZARDS, failure_words

BUDGET = 200_000
"""States after which no further search of two failures together is begun, for hands and for people who obey each."""

UNANSWERED = "not answered"
"""How the words of AC-06 begin where a failure remains."""

MOST_PAIRS = 40
"""So many pairs are listed; beyond it they are counted."""

MOST_POSITIONS = 18
"""A table of positions that may stand together is printed up to so many; a wider one is not readable."""


def failure_tables(machine: Machine, claim: Claim | None, budget: int = BUDGET) -> dict[str, Any]:
    """Return the table of all single failures, and that of pairs within the budget. `claim` is AC-06."""
    hands = broken_by_hands(machine)
    rules = broken_by_rules(machine, hands)
    by_hands = broken_by_hands(machine, pairs=True, budget=budget)
    by_rules = broken_by_rules(machine, by_hands, pairs=True, budget=budget)
    answers = {detail.subject: _answer(detail.worst_case) for detail in claim.details} if claim is not None else {}
    every = {"hands": hands, "rules": rules}
    singles = [_single(name, every, answers) for name in single_failures(machine)]
    singles += [_later(name, found, answers) for name, found in _worse_later(machine, hands, rules).items()]
    return {"singles": singles, "pairs": [_pairs(machine, "hands", by_hands), _pairs(machine, "rules", by_rules)]}


def _answer(words: str) -> str:
    """What the claim says of a failure, without the hazard, which stands beside it."""
    if words.startswith(UNANSWERED):
        return f"{UNANSWERED}; {words.partition('; ')[2]}"
    return "" if words == "adds nothing" else words


def _single(name: str, every: Mapping[str, Broken], answers: Mapping[str, str]) -> dict[str, str]:
    words = failure_words(name)
    texts = {mode: _kinds(broken.new([name])) for mode, broken in every.items()}
    return {"failure": words, "answer": answers.get(words, "")} | texts


def _later(name: str, found: Mapping[str, dict[Kind, int]], answers: Mapping[str, str]) -> dict[str, str]:
    words = failure_words(name)
    return {"failure": words, "answer": answers.get(words, "")} | {m: _kinds(kinds) for m, kinds in found.items()}


def _kinds(kinds: Mapping[Kind, int]) -> str:
    """The hazards that a failure adds, each with its length; nothing added is said."""
    words = [f"{HAZARDS[kind]} in {kinds[kind]}" for kind in KINDS if kind in kinds]
    return "; ".join(words) or "adds nothing"


def _worse_later(machine: Machine, hands: Broken, rules: Broken) -> dict[str, dict[str, dict[Kind, int]]]:
    """Blades that weld on the way, where that adds a kind that welding from the outset does not."""
    small = without_own_locks_and_tests(machine)
    found: dict[str, dict[str, dict[Kind, int]]] = {}
    for mode, broken, reaches in (
        ("hands", hands, break_midway(small, "hands")),
        ("rules", rules, break_midway(machine, "rules")),
    ):
        for name, reach in reaches.items():
            alone = broken.reaches.get(frozenset([name.partition("@")[0]]))
            known = broken.sound | (alone.dangers.keys() if alone is not None else set())
            added = {kind: length for kind, length in reach.dangers.items() if kind not in known}
            if added:
                found.setdefault(name, {"hands": {}, "rules": {}})[mode] = added
    return found


def _pairs(machine: Machine, mode: str, broken: Broken) -> dict[str, Any]:
    """The pairs that reach what neither reaches alone, how many were looked at, and how many the budget left out."""
    pairs = list(combinations(single_failures(machine), 2))
    seen = [pair for pair in pairs if is_known(broken, *pair)]
    worse = [(pair, kinds) for pair in seen if (kinds := broken.only_together(*pair))]
    rows = [
        {"one": failure_words(a), "other": failure_words(b), "kinds": "; ".join(HAZARDS[kind] for kind in kinds)}
        for (a, b), kinds in worse[:MOST_PAIRS]
    ]
    counts = {"worse": len(worse), "seen": len(seen), "left_out": len(pairs) - len(seen)}
    texts = {name: str(number) for name, number in counts.items()}
    return texts | {"mode": mode, "rows": rows, "not_listed": str(len(worse) - len(rows))}


# --- positions that may stand together ---


def positions_together(machine: Machine) -> dict[str, Any]:
    """Return which positions of the devices that locks and interlocks hold may stand together, by hands.

    `heads` are the positions, and `rows` hold a mark for each other one: `+` in some state, an empty text in none, and
    `x` where the row meets its own device. Empty where nothing is held, and `heads` alone where it is too wide.
    """
    held = _held(machine)
    heads = [(device, position) for device in held for position in _used(device)]
    names = [f"{device.id}: {position}" for device, position in heads]
    if len(held) < 2 or len(heads) > MOST_POSITIONS:
        return {"heads": names if len(held) > 1 else [], "rows": []}
    plant = build(without_own_locks_and_tests(machine), "hands")
    view = View(plant, explore(plant).codes)
    stands = [view.stands(device.id, (position,)) for device, position in heads]
    rows = []
    for n, (device, _) in enumerate(heads):
        marks = [
            "x" if other == device else "+" if _met(stands[n], stands[k]) else "" for k, (other, _) in enumerate(heads)
        ]
        rows.append({"name": names[n], "marks": marks})
    return {"heads": names, "rows": rows}


def _met(one: np.ndarray[Any, np.dtype[np.bool_]], other: np.ndarray[Any, np.dtype[np.bool_]]) -> bool:
    return bool(np.any(one & other))


def _held(machine: Machine) -> list[Device]:
    """Devices that carry a lock, or that hardware holds by another one; own padlocks are no part of the scheme."""
    locked = {lock.device for lock in machine.locks}
    small = {device.id for device in without_own_locks_and_tests(machine).devices}
    return [
        device
        for device in machine.devices
        if device.id in small and len(_used(device)) > 1 and (device.id in locked or _is_interlocked(device))
    ]


def _is_interlocked(device: Device) -> bool:
    return any(guard.by in ("mechanical", "key") for move in device.moves for guard in move.guards)


def _used(device: Device) -> tuple[str, ...]:
    reached = {device.start} | {move.target for move in device.moves}
    return tuple(position for position in device.positions if position in reached)


def keys_at_work(machine: Machine) -> dict[str, str]:
    """How many keys ever exist, how many codes, and how many are in a lock in normal service."""
    trapped = sum(key.start != HAND for key in machine.keys)
    codes = len({key.code for key in machine.keys})
    return {"count": str(len(machine.keys)), "codes": str(codes), "trapped": str(trapped)}
