"""Operation: the verdict on one machine in one mode. A machine in, states, hazards and shortest sequences out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import prod

import numpy as np

from deadfront.operation.building import build
from deadfront.operation.errors import Located
from deadfront.operation.machine import KINDS, Kind, Machine, Mode
from deadfront.operation.plant import View
from deadfront.operation.search import CHUNK, Explored, explore
from deadfront.operation.splitting import split
from deadfront.operation.stepping import KIND_BIT, STATE_WORDS, dangers, step, wrong
from deadfront.operation.telling import outset, situation


@dataclass(frozen=True, slots=True)
class Examination:
    """All that hands can do to a machine in one mode.

    `transitions` are moves between states; `depth` is the farthest state's distance; `states_hazard_free` is how many
    states are left when no hazardous move is taken; `sequences` holds the shortest way to each kind of hazard, the
    dangerous move last.
    """

    mode: Mode
    states: int
    transitions: int
    depth: int
    states_hazard_free: int
    sequences: dict[Kind, tuple[str, ...]]
    sub_plants: int

    def length(self, kind: Kind) -> int:
        """The number of moves to a hazard; KeyError if it cannot be reached."""
        return len(self.sequences[kind])


def examine(machine: Machine, mode: Mode) -> Examination:
    """Explore every state of a machine, sub-plant by sub-plant. Raises `MachineTooLarge`.

    Sub-plants are independent: states multiply, distances add, a shortest way to a hazard lies within one of them.
    """
    searches = [explore(build(part, mode)) for part in split(machine)]
    states = prod(search.states for search in searches)
    free = [s.states if not s.dangers else explore(s.plant, through_dangers=False).states for s in searches]
    return Examination(
        mode=mode,
        states=states,
        transitions=sum(search.transitions * (states // search.states) for search in searches),
        depth=sum(search.depth for search in searches),
        states_hazard_free=prod(free),
        sequences={kind: found for kind in KINDS if (found := _shortest(searches, kind))},
        sub_plants=len(searches),
    )


def initial_dangers(machine: Machine) -> list[Located]:
    """Return what is already wrong before anybody moves anything; a proof that starts there would prove nothing."""
    plant = build(machine, "hands")
    view = View(plant, np.array([outset(plant)], dtype=np.int64))
    names = [*STATE_WORDS, *(f"the state hazard `{hazard.id}` is true" for hazard in machine.state_hazards)]
    marks = int(wrong(view)[0])
    if not marks:
        return []
    standing = situation(plant, outset(plant))
    words = f"live: {_listed(standing.live)}; earthed: {_listed(standing.earthed)}; open: {_listed(standing.open)}"
    path = next((f"devices[{n}].start" for n, one in enumerate(machine.devices) if one.id in standing.open), "devices")
    remedy = "correct the `start` of a device: doors closed, earths off, sources that must not meet apart"
    return [
        Located(path, "a state in service from which one may start", f"one in which {text} ({words})", remedy)
        for n, text in enumerate(names)
        if marks >> n & 1
    ]


def _listed(names: Sequence[str]) -> str:
    return ", ".join(names) or "nothing"


def dead_ends(machine: Machine) -> list[tuple[str, str]]:
    """Return each device and position that hands can bring it to and in no state out of again: a lock for ever."""
    found = []
    for part in split(machine):
        search = explore(build(part, "hands"))
        reached, left = _reached_and_left(search)
        found += sorted(reached - left)
    return found


def _reached_and_left(search: Explored) -> tuple[set[tuple[str, str]], set[tuple[str, str]]]:
    """Devices in the positions that a move leads out of: those that were met, and those that some state lets go."""
    reached, left = set(), set()
    moves = [move for move in search.plant.moves if move.what == "device"]
    for low in range(0, search.states, CHUNK):
        view = View(search.plant, search.codes[low : low + CHUNK].copy())
        for move in moves:
            free = view.column(move.field) == move.digit
            if free.any():
                reached.add((move.subject, move.origin))
            for need in move.needs if (move.subject, move.origin) not in left else ():
                free = free & view.truth(need)
            if free.any():
                left.add((move.subject, move.origin))
    return reached, left


def devices_that_raise(machine: Machine, kind: Kind) -> dict[str, tuple[str, ...]]:
    """Return every device whose move can raise a hazard of a kind by hand, each with its shortest sequence."""
    found: dict[str, tuple[str, ...]] = {}
    for part in split(machine):
        search = explore(build(part, "hands"))
        if kind not in search.dangers:
            continue
        for low in range(0, search.states, CHUNK):
            for state, move in _raising(search, kind, low):
                subject = search.plant.moves[move].subject
                if subject not in found:
                    found[subject] = tuple(search.plant.moves[m].text for m in (*search.path(state), move))
    return found


def _raising(search: Explored, kind: Kind, low: int) -> Iterator[tuple[int, int]]:
    """The moves out of a chunk of states that raise a kind: state and move, nearest state first."""
    view = View(search.plant, search.codes[low : low + CHUNK].copy())
    batch = step(view, np.ones((view.codes.size, 1), dtype=np.uint64))
    reached = View(search.plant, batch.codes)
    raised = dangers(view, batch, wrong(view), wrong(reached), reached)
    for hit in np.flatnonzero(raised & KIND_BIT[kind]):
        yield int(batch.origin[hit]) + low, int(batch.move[hit])


def doors_without_openings(machine: Machine) -> tuple[str, ...]:
    """Return the doors for which nothing says what a hand can reach: about what is behind them nothing is shown.

    A dead-front compartment has none on purpose; but then somebody has to say so, and openings for parked bushings,
    drawn holders and broken shields have to be there instead.
    """
    listed = {opening.device for opening in machine.openings}
    return tuple(device.id for device in machine.devices if device.kind == "door" and device.id not in listed)


def _shortest(searches: list[Explored], kind: Kind) -> tuple[str, ...]:
    able = [search for search in searches if kind in search.dangers]
    if not able:
        return ()
    # The first of equally short ones, so that the text is the same every time.
    search = min(able, key=lambda s: s.dangers[kind].length)
    return tuple(search.plant.moves[move].text for move in search.sequence(kind))
