"""Operation: failures looked at without looking at anything twice. A machine in, what hands and rules reach out."""

from __future__ import annotations

from collections.abc import Callable

from deadfront.operation.building import build
from deadfront.operation.failures import Broken, break_all, failure_sets, single_failures
from deadfront.operation.machine import KINDS, Machine
from deadfront.operation.search import explore
from deadfront.operation.splitting import split
from deadfront.operation.trimming import without_own_locks_and_tests

Progress = Callable[[int, int], None]


def broken_by_hands(
    machine: Machine, *, pairs: bool = False, budget: int | None = None, progress: Progress | None = None
) -> Broken:
    """Return what each failure set lets hands reach: kinds and lengths of the whole machine, states of the trimmed one.

    pairs     also every two failures together
    budget    states after which no further search is begun
    progress  gets sets done and sets in all
    """
    small = without_own_locks_and_tests(machine)
    own = frozenset(single_failures(small))
    found = break_all(small, "hands", pairs=pairs, budget=budget, progress=progress)
    sets = failure_sets(single_failures(machine), pairs=pairs)
    reaches = {members: found.reaches[members & own] for members in sets if members & own in found.reaches}
    return Broken(found.sound, reaches, frozenset(sets) - reaches.keys(), frozenset())


def broken_by_rules(
    machine: Machine,
    hands: Broken,
    *,
    pairs: bool = False,
    budget: int | None = None,
    progress: Progress | None = None,
) -> Broken:
    """Return what each failure set lets people reach who obey; `hands` is what it lets hands reach.

    Rules only take moves away. Where hands reach nothing that the rules keep out of the sound machine, nothing can be
    added, and nothing is looked at. Of two failures together only the kinds count, so tests are no states of theirs.
    """
    sound = {kind for part in split(machine) for kind in explore(build(part, "rules")).dangers}
    kept_out = set(KINDS) - sound
    asked = {members for members, reach in hands.reaches.items() if reach.dangers.keys() & kept_out} | hands.left_out
    one = {members for members in asked if len(members) < 2}
    found = break_all(machine, "rules", only=one, budget=budget, progress=progress)
    reaches, left_out = found.reaches, found.left_out
    if pairs:
        two = asked - one
        both = break_all(machine, "rules", pairs=True, only=two, budget=budget, tests_at_once=True, progress=progress)
        reaches = {members: reach for members, reach in both.reaches.items() if len(members) == 2} | reaches
        left_out = left_out | both.left_out
    spared = frozenset(members for members in hands.reaches if members and members not in asked)
    return Broken(found.sound, reaches, left_out, spared)
