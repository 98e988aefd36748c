"""Operation: all states that hands can reach, nearest first. A plant in, counts, hazards and shortest sequences out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from deadfront.operation.errors import MachineTooLarge
from deadfront.operation.index import Codes, Index
from deadfront.operation.machine import KINDS, Kind
from deadfront.operation.plant import Plant, View
from deadfront.operation.stepping import KIND_BIT, Batch, Marks, dangers, settle, step, wrong

CHUNK = 1 << 15
"""States expanded at once: bounds the memory, and lets 16-bit numbers sort the moves."""

BUDGET = 20_000_000
"""More states than this are not explored; the search refuses rather than answer for a part."""


@dataclass(frozen=True, slots=True)
class Danger:
    """The first move of a kind of hazard in a search: from which state, by which move, after how many moves in all."""

    origin: int
    move: int
    length: int


@dataclass(frozen=True, slots=True, eq=False)
class Explored:
    """Every state reached, in the order of being met, with the move that led there first. Shapes (states,)."""

    plant: Plant
    codes: Codes
    parent: NDArray[np.int32]
    move: NDArray[np.int16]
    distance: NDArray[np.int32]
    transitions: int
    dangers: dict[Kind, Danger]
    goal: int | None
    """The state that met the goal, if one was given and met; the search ends there."""

    @property
    def states(self) -> int:
        """How many different states there are."""
        return int(self.codes.size)

    @property
    def depth(self) -> int:
        """The number of moves to the farthest state."""
        return int(self.distance[-1])

    def path(self, state: int) -> tuple[int, ...]:
        """The moves of the shortest way to a state."""
        moves: list[int] = []
        while self.parent[state] >= 0:
            moves.append(int(self.move[state]))
            state = int(self.parent[state])
        return tuple(reversed(moves))

    def sequence(self, kind: Kind) -> tuple[int, ...]:
        """The moves of the shortest way to a hazard, the dangerous one last. KeyError if it cannot be reached."""
        danger = self.dangers[kind]
        return (*self.path(danger.origin), danger.move)


class _Book:
    """The growing record of a search."""

    def __init__(self, plant: Plant) -> None:
        self.index = Index(plant.coding.space)
        self.parent = np.zeros(0, dtype=np.int32)
        self.move = np.zeros(0, dtype=np.int16)
        self.distance = np.zeros(0, dtype=np.int32)
        self.marks = np.zeros(0, dtype=np.uint64)

    def add(self, parent: NDArray[np.int32], move: NDArray[np.int16], distance: int, marks: Marks) -> None:
        if self.index.count > BUDGET:
            raise MachineTooLarge(f"more than {BUDGET} states can be reached; nothing is concluded from a part of them")
        self.parent = np.concatenate([self.parent, parent])
        self.move = np.concatenate([self.move, move])
        self.distance = np.concatenate([self.distance, np.full(parent.shape, distance, dtype=np.int32)])
        self.marks = np.concatenate([self.marks, marks])


def explore(
    plant: Plant,
    *,
    start: int | None = None,
    through_dangers: bool = True,
    goal: Callable[[View], NDArray[np.bool_]] | None = None,
    allowed: Callable[[View, Batch, View], NDArray[np.bool_]] | None = None,
    until: frozenset[Kind] = frozenset(),
) -> Explored:
    """Return every state that can be reached, breadth first, so that each way is shortest and ties break by move order.

    plant            with one failure set
    start            number of the state to start from; the plant's own outset if not given
    through_dangers  false: a move that raises a hazard is not taken
    goal             ends the search at the first state for which it is true
    allowed          moves for which it is false are not taken
    until            ends the search at the distance at which one of these kinds of hazard is met
    raises           MachineTooLarge: more than `BUDGET` states
    """
    number = plant.starts[0][0] if start is None else start
    book = _Book(plant)
    first = settle(plant, np.array([number], dtype=np.int64))
    book.index.meet(first)
    book.add(np.array([-1], np.int32), np.array([-1], np.int16), 0, wrong(View(plant, first)))
    found: dict[Kind, Danger] = {}
    met = 0 if goal is not None and goal(View(plant, first))[0] else None
    transitions, begin, distance = 0, 0, 0
    while begin < book.index.count and met is None and not until & found.keys():
        end, distance = book.index.count, distance + 1
        for low in range(begin, end, CHUNK):
            high = min(low + CHUNK, end)
            view = View(plant, book.index.codes[low:high].copy())
            batch = step(view, np.ones((high - low, 1), dtype=np.uint64))
            if not through_dangers or allowed is not None:
                batch = _safe(view, batch, book.marks[low:high], through_dangers, allowed)
            transitions += batch.codes.size
            met = _enter(book, view, batch, low, distance, found, goal)
            if met is not None:
                break
        begin = end
    size = book.index.count
    return Explored(plant, book.index.codes[:size], book.parent, book.move, book.distance, transitions, found, met)


def _safe(
    view: View,
    batch: Batch,
    before: Marks,
    through_dangers: bool,
    allowed: Callable[[View, Batch, View], NDArray[np.bool_]] | None,
) -> Batch:
    reached = View(view.plant, batch.codes)
    keep = np.ones(batch.codes.shape, dtype=np.bool_)
    if not through_dangers:
        keep &= dangers(view, batch, before, wrong(reached), reached) == 0
    if allowed is not None:
        keep &= allowed(view, batch, reached)
    return batch.keep(keep)


def _enter(
    book: _Book,
    view: View,
    batch: Batch,
    low: int,
    distance: int,
    found: dict[Kind, Danger],
    goal: Callable[[View], NDArray[np.bool_]] | None,
) -> int | None:
    """Put the states a batch leads to into the book; return the first one that meets the goal."""
    known = book.index.count
    states, first = book.index.meet(batch.codes)
    new = View(view.plant, batch.codes[first])
    if first.size:
        book.add((batch.origin[first] + low).astype(np.int32), batch.move[first], distance, wrong(new))
    if len(found) < len(KINDS):
        reached = View(view.plant, batch.codes)
        kinds = dangers(view, batch, book.marks[low : low + view.codes.size], book.marks[states], reached)
        for kind, bit in KIND_BIT.items():
            if kind not in found:
                hits = np.flatnonzero(kinds & bit)
                if hits.size:
                    found[kind] = Danger(int(batch.origin[hits[0]]) + low, int(batch.move[hits[0]]), distance)
    if goal is not None and first.size:
        hits = np.flatnonzero(goal(new))
        if hits.size:
            return known + int(hits[0])
    return None
