"""Operation: many failure sets explored in one search. A plant with a group of sets in, hazards for each set out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from deadfront.operation.errors import MachineTooLarge
from deadfront.operation.index import Codes, Identities, Index
from deadfront.operation.machine import Kind
from deadfront.operation.plant import Plant, View, Words
from deadfront.operation.search import BUDGET, CHUNK
from deadfront.operation.stepping import KIND_BIT, Batch, dangers, settle, step, wrong


@dataclass(frozen=True, slots=True)
class Reach:
    """What one failure set lets hands reach: the number of states, and each kind of hazard with its shortest length."""

    states: int
    dangers: dict[Kind, int]


WORDS = 40_000_000
"""State and word pairs kept at most: 64 bits of failure sets each, twice, so about 640 MB."""

Arrivals = Mapping[int, tuple[Codes, Words]]
"""States that are entered from outside the search, by the number of moves they lie at, with their failure sets."""


class _Net:
    """Every state met, with the failure sets that have met it (`seen`) and those still to be carried on (`fresh`)."""

    def __init__(self, plant: Plant) -> None:
        self.plant = plant
        self.index = Index(plant.coding.space)
        self.seen = np.zeros((1 << 10, plant.words), dtype=np.uint64)
        self.fresh = np.zeros_like(self.seen)
        self.marks = np.zeros(1 << 10, dtype=np.uint64)
        self.waiting: list[Identities] = []

    def enter(self, codes: Codes) -> Identities:
        """The identities of states; what is wrong with new ones is worked out."""
        states, first = self.index.meet(codes)
        most = min(BUDGET, WORDS // self.plant.words)
        if self.index.count > most:
            raise MachineTooLarge(f"more than {most} states can be reached; nothing is concluded from a part of them")
        room = self.seen.shape[0]
        if self.index.count > room:
            larger = max(2 * room, self.index.count) - room
            self.seen = np.concatenate([self.seen, np.zeros((larger, self.plant.words), dtype=np.uint64)])
            self.fresh = np.concatenate([self.fresh, np.zeros((larger, self.plant.words), dtype=np.uint64)])
            self.marks = np.concatenate([self.marks, np.zeros(larger, dtype=np.uint64)])
        self.marks[states[first]] = wrong(View(self.plant, codes[first]))
        return states

    def carry(self, states: Identities, words: Words) -> None:
        """Note that failure sets have met states; those new to a state are carried on from it at the next distance."""
        if states.size == 0:
            return
        order = np.argsort(states, kind="stable")
        ordered = states[order]
        begins = np.flatnonzero(np.concatenate([[True], ordered[1:] != ordered[:-1]]))
        states = ordered[begins]
        new = np.bitwise_or.reduceat(words[order], begins, axis=0) & ~self.seen[states]
        some = new.any(axis=1)
        states, new = states[some], new[some]
        self.waiting.append(states[~self.fresh[states].any(axis=1)])
        self.seen[states] |= new
        self.fresh[states] |= new

    def take(self) -> tuple[Identities, Words]:
        """Hand out what waits, and start a new distance."""
        states = np.concatenate(self.waiting) if self.waiting else np.zeros(0, dtype=np.int32)
        words = self.fresh[states]
        self.fresh[states] = 0
        self.waiting = []
        return states, words


def spread(plant: Plant, arrivals: Arrivals | None = None) -> tuple[Reach, ...]:
    """Return what each failure set of the plant lets hands reach, in the order of `plant.sets`.

    arrivals  states at which the sets begin, by distance; the plant's own outset if not given
    raises    MachineTooLarge
    """
    net = _Net(plant)
    due = dict(arrivals) if arrivals is not None else {0: _outset(plant)}
    found: dict[Kind, NDArray[np.int64]] = {}
    distance = 0
    while net.waiting or due:
        if distance in due:
            codes, words = due.pop(distance)
            net.carry(net.enter(settle(plant, codes)), words)
        states, words = net.take()
        distance += 1
        for low in range(0, states.size, CHUNK):
            _advance(net, states[low : low + CHUNK], words[low : low + CHUNK], distance, found)
    return _reaches(net, found)


def _outset(plant: Plant) -> tuple[Codes, Words]:
    return np.array([code for code, _ in plant.starts], dtype=np.int64), np.stack([words for _, words in plant.starts])


def _advance(net: _Net, states: Identities, words: Words, distance: int, found: dict[Kind, NDArray[np.int64]]) -> None:
    view = View(net.plant, net.index.codes[states])
    batch = step(view, words)
    after = net.enter(batch.codes)
    kinds = dangers(view, batch, net.marks[states], net.marks[after], View(net.plant, batch.codes))
    for kind, bit in KIND_BIT.items():
        hits = np.flatnonzero(kinds & bit)
        if hits.size:
            _note(net.plant, kind, batch, hits, distance, found)
    net.carry(after, batch.words)


def _note(
    plant: Plant, kind: Kind, batch: Batch, hits: NDArray[np.intp], distance: int, found: dict[Kind, NDArray[np.int64]]
) -> None:
    lengths = found.setdefault(kind, np.zeros(64 * plant.words, dtype=np.int64))
    reached = _each_bit(np.bitwise_or.reduce(batch.words[hits], axis=0)[None, :])[0]
    lengths[(lengths == 0) & reached] = distance


def _each_bit(words: Words) -> NDArray[np.bool_]:
    """One column for each failure set; shape (states, 64 words)."""
    shifts = np.arange(64, dtype=np.uint64)
    flags: NDArray[np.bool_] = ((words[:, :, None] >> shifts) & np.uint64(1) == 1).reshape(words.shape[0], -1)
    return flags


def _reaches(net: _Net, found: dict[Kind, NDArray[np.int64]]) -> tuple[Reach, ...]:
    counts = np.zeros(64 * net.plant.words, dtype=np.int64)
    for low in range(0, net.index.count, CHUNK):
        counts += _each_bit(net.seen[low : min(low + CHUNK, net.index.count)]).sum(axis=0)
    return tuple(
        Reach(int(counts[n]), {kind: int(lengths[n]) for kind, lengths in found.items() if lengths[n]})
        for n in range(len(net.plant.sets))
    )
