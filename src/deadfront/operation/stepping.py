"""Operation: one move from every state of a batch, and what is dangerous about it. Columns in, columns out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from deadfront.operation.coding import STAGE, charge_digit, mark_digit
from deadfront.operation.index import Codes
from deadfront.operation.machine import KINDS, Kind
from deadfront.operation.plant import NumberedMove, Plant, View, Words

Positions = NDArray[np.intp]
Marks = NDArray[np.uint64]
"""What is wrong with a state, or with a move: one bit each."""

_EXPOSED, _CHARGED, _FAULT, _PARALLEL, _BACKFEED, _FIRST_PERSON = range(6)
STATE_WORDS = (
    "a live part can be reached",
    "a charged part can be reached",
    "a source stands on an earth",
    "sources of two groups are in parallel",
    "the MV side is fed from the LV side",
)
"""What the first marks of a state mean, in the order of their bits."""

KIND_BIT: dict[Kind, np.uint64] = {kind: np.uint64(1 << n) for n, kind in enumerate(KINDS)}


@dataclass(frozen=True, slots=True, eq=False)
class Batch:
    """Moves out of a batch of states, ordered by state and then by the order of moves."""

    origin: Positions
    move: NDArray[np.int16]
    codes: Codes
    words: Words

    def keep(self, where: NDArray[np.bool_]) -> Batch:
        """The moves for which `where` is true."""
        return Batch(self.origin[where], self.move[where], self.codes[where], self.words[where])


def step(view: View, words: Words, only: str | None = None) -> Batch:
    """Return every move that is possible from the states of `view`, for the failure sets in `words` (states, words).

    `only` is the text of the one move that is asked about.
    """
    plant = view.plant
    proved = np.zeros(view.codes.shape, dtype=np.int64)
    for test in plant.machine.tests:
        proved = proved + view.column(mark_digit(test.id)) * plant.coding.fields[mark_digit(test.id)].stride
    origins, numbers, codes, sets = [], [], [], []
    for number, move in enumerate(plant.moves):
        if only is not None and move.text != only:
            continue
        where, own = _possible(view, move, words)
        if where.size == 0:
            continue
        reached = view.codes[where] + move.change
        origins.append(where)
        numbers.append(np.full(where.shape, number, dtype=np.int16))
        codes.append(reached - proved[where] if move.electric else reached)
        sets.append(own)
    if not origins:
        none = np.zeros(0, dtype=np.int64)
        return Batch(none, none.astype(np.int16), none, np.zeros((0, plant.words), dtype=np.uint64))
    origin = np.concatenate(origins)
    # Unsigned 16-bit numbers are sorted in linear time; stable, so that moves of one state keep their order.
    order = np.argsort(origin.astype(np.uint16) if view.codes.size <= 1 << 16 else origin, kind="stable")
    settled = settle(plant, np.concatenate(codes)[order])
    return Batch(origin[order], np.concatenate(numbers)[order], settled, np.concatenate(sets)[order])


def _possible(view: View, move: NumberedMove, words: Words) -> tuple[Positions, Words]:
    able = view.column(move.field) == move.digit
    for condition in move.needs:
        able = able & view.truth(condition)
    where = np.flatnonzero(able)
    own = words[where]
    if where.size and (move.waived or move.barred.any()):
        own = own & ~move.barred
        for condition, without in move.waived:
            holds = view.truth(condition)[where]
            own = np.where(holds[:, None], own, own & without)
        left = own.any(axis=1)
        where, own = where[left], own[left]
    return where, own


def settle(plant: Plant, codes: Codes) -> Codes:
    """Return the states after electricity has acted: a store fills while its point is live, empties when earthed.

    A hold point counts as passed when its sentence is true and all before it are passed.
    """
    rows = plant.energy.row(codes) if plant.machine.stores else None
    for store in plant.machine.stores:
        digit = plant.coding.fields[charge_digit(store.id)]
        point = plant.energy.point(store.at)
        live, drained = plant.energy.rows.live[rows, point], plant.energy.rows.drained[rows, point]
        charge = (codes // digit.stride) % 2
        after = np.where(live, 1, np.where(drained, 0, charge))
        codes = codes + (after - charge) * digit.stride
    if not plant.holds:
        return codes
    view = View(plant, codes)
    stage = view.column(STAGE)
    for n, hold in enumerate(plant.holds):
        stage = stage + ((stage == n) & view.truth(hold.condition))
    return codes + (stage - view.column(STAGE)) * plant.coding.fields[STAGE].stride


def wrong(view: View) -> Marks:
    """Return what is wrong with each state: exposed, charge exposed, fault, parallel, back-feed, then state hazards."""
    plant, table, rows = view.plant, view.plant.energy.rows, view.rows
    exposed = np.zeros(view.codes.shape, dtype=np.bool_)
    charged = np.zeros(view.codes.shape, dtype=np.bool_)
    table = plant.energy.rows
    for n, opening in enumerate(plant.machine.openings):
        stands_open = view.stands(opening.device, opening.positions)
        if opening.unless is not None:
            stands_open = stands_open & ~view.truth(opening.unless)
        exposed |= stands_open & table.exposed[rows, n]
        for s, store in enumerate(plant.machine.stores):
            charged |= stands_open & table.charged[rows, n, s] & (view.column(charge_digit(store.id)) == 1)
    marks = exposed.astype(np.uint64) << np.uint64(_EXPOSED)
    marks |= charged.astype(np.uint64) << np.uint64(_CHARGED)
    marks |= table.fault[rows].astype(np.uint64) << np.uint64(_FAULT)
    marks |= table.parallel[rows].astype(np.uint64) << np.uint64(_PARALLEL)
    marks |= table.backfeed[rows].astype(np.uint64) << np.uint64(_BACKFEED)
    for n, hazard in enumerate(plant.machine.state_hazards):
        marks |= view.truth(hazard.condition).astype(np.uint64) << np.uint64(_FIRST_PERSON + n)
    return marks


def dangers(view: View, batch: Batch, before: Marks, after: Marks, reached: View) -> Marks:
    """Return the kinds of hazard each move of a batch raises, `KIND_BIT` by kind.

    A condition is raised by the move on which it becomes true. `before` holds what is wrong with the states of `view`,
    `after` what is wrong with the state each move leads to, `reached` those states.
    """
    plant = view.plant
    kinds = np.zeros(batch.codes.shape, dtype=np.uint64)
    new = after & ~before[batch.origin]
    some = np.flatnonzero(new)
    if some.size:
        kinds[some] = _raised(plant, new[some], batch.move[some])
    for number, move in enumerate(plant.moves):
        if move.off_load or move.pressure is not None:
            kinds |= _own_dangers(view, batch, number, move, reached)
    return kinds


def _raised(plant: Plant, new: Marks, moves: NDArray[np.int16]) -> Marks:
    opening = np.array([move.opening for move in plant.moves])[moves]
    earths = np.array([move.earths for move in plant.moves])[moves]
    none = np.uint64(0)

    def has(bit: int) -> NDArray[np.bool_]:
        flags: NDArray[np.bool_] = (new >> np.uint64(bit)) & np.uint64(1) == 1
        return flags

    kinds = np.where(has(_EXPOSED), np.where(opening, KIND_BIT["EXP_OPEN"], KIND_BIT["EXP_CLOSE"]), none)
    kinds |= np.where(has(_CHARGED), KIND_BIT["EXP_CHARGE"], none)
    kinds |= np.where(has(_FAULT), np.where(earths, KIND_BIT["EARTH_LIVE"], KIND_BIT["LIVE_EARTH"]), none)
    kinds |= np.where(has(_PARALLEL), KIND_BIT["PARALLEL"], none)
    kinds |= np.where(has(_BACKFEED), KIND_BIT["BACKFEED"], none)
    kinds |= np.where(new >> np.uint64(_FIRST_PERSON) != 0, KIND_BIT["PERSON"], none)
    return kinds


def _own_dangers(view: View, batch: Batch, number: int, move: NumberedMove, reached: View) -> Marks:
    kinds = np.zeros(batch.codes.shape, dtype=np.uint64)
    own = np.flatnonzero(batch.move == number)
    origin = batch.origin[own]
    if move.off_load and move.electric:
        load = view.plant.energy.rows.load
        changed = load[view.rows[origin]] != load[reached.rows[own]]
        kinds[own[changed]] |= KIND_BIT["LOAD"]
    if move.pressure is not None:
        under = ~view.truth(move.pressure)[origin]
        kinds[own[under]] |= KIND_BIT["FUSE_PRESS"]
    return kinds
