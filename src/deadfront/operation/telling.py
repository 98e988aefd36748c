"""Operation: one state and one move at a time, for people to read. A plant in, situations and consequences out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from deadfront.operation.coding import STAGE, charge_digit, device_digit, key_digit, mark_digit
from deadfront.operation.machine import HAND, KINDS, Kind, Opening
from deadfront.operation.plant import Plant, View
from deadfront.operation.stepping import KIND_BIT, dangers, settle, step, wrong


@dataclass(frozen=True, slots=True)
class Situation:
    """What stands how in one state, by name, in the order of the machine."""

    positions: dict[str, str]
    keys: dict[str, str]
    live: tuple[str, ...]
    earthed: tuple[str, ...]
    faulted: tuple[str, ...]
    """Earthed points that a source feeds."""
    open: tuple[str, ...]
    charged: tuple[str, ...]
    proved: tuple[str, ...]
    """Points that stand proved dead."""
    fault: bool
    """Whether a source stands on an earth somewhere."""

    @property
    def in_hand(self) -> tuple[str, ...]:
        """The keys somebody holds."""
        return tuple(key for key, place in self.keys.items() if place == HAND)


def situation(plant: Plant, code: int) -> Situation:
    """Return what stands how in the state of a number."""
    view = View(plant, np.array([code], dtype=np.int64))
    row, machine, table = view.rows, plant.machine, plant.energy.rows

    def value(digit: str) -> str:
        return plant.coding.fields[digit].values[int(view.column(digit)[0])]

    moving = {d.id: value(device_digit(d.id)) if d.moves else d.start for d in plant.devices}
    return Situation(
        positions=moving,
        keys={name: value(key_digit(name)) for name in plant.key_codes},
        live=tuple(point for n, point in enumerate(machine.points) if table.live[row, n][0]),
        earthed=tuple(point for n, point in enumerate(machine.points) if table.drained[row, n][0]),
        faulted=tuple(p for n, p in enumerate(machine.points) if (table.earthed & table.energised)[row, n][0]),
        open=tuple(dict.fromkeys(o.device for o in machine.openings if _open(view, o))),
        charged=tuple(store.id for store in machine.stores if value(charge_digit(store.id)) == "yes"),
        proved=tuple(dict.fromkeys(test.at for test in machine.tests if value(mark_digit(test.id)) == "yes")),
        fault=bool(table.fault[row][0]),
    )


def _open(view: View, opening: Opening) -> bool:
    """Whether a hand reaches what is behind an opening: it stands open, and nothing covers it."""
    covered = opening.unless is not None and bool(view.truth(opening.unless)[0])
    return bool(view.stands(opening.device, opening.positions)[0]) and not covered


@dataclass(frozen=True, slots=True)
class Consequence:
    """Where a move leads, and the kinds of hazard it raises."""

    code: int
    kinds: tuple[Kind, ...]


def consequence(plant: Plant, code: int, text: str) -> Consequence | None:
    """Return what comes of one move in the state of a number; None where it is not possible."""
    return consequences(plant, code, text).get(text)


def consequences(plant: Plant, code: int, only: str | None = None) -> dict[str, Consequence]:
    """Return every move that is possible in the state of a number, by its text, with what comes of it.

    `only` is the text of the one move that is asked about.
    """
    view = View(plant, np.array([code], dtype=np.int64))
    batch = step(view, np.ones((1, 1), dtype=np.uint64), only)
    reached = View(plant, batch.codes)
    kinds = dangers(view, batch, wrong(view), wrong(reached), reached)
    return {
        plant.moves[move].text: Consequence(int(after), tuple(kind for kind in KINDS if KIND_BIT[kind] & raised))
        for move, after, raised in zip(batch.move, batch.codes, kinds, strict=True)
    }


@dataclass(frozen=True, slots=True)
class Told:
    """One move of a sequence, what it raises, and how everything stands after it."""

    text: str
    kinds: tuple[Kind, ...]
    after: Situation


def told(plant: Plant, texts: Sequence[str], start: int | None = None) -> tuple[Told, ...]:
    """Walk a sequence and tell each move. Raises ValueError for a move that is not possible where it stands."""
    code, found = outset(plant) if start is None else start, []
    for n, text in enumerate(texts, start=1):
        move = consequence(plant, code, text)
        if move is None:
            raise ValueError(f"texts: move {n}, {text!r}, is not possible there")
        code = move.code
        found.append(Told(text, move.kinds, situation(plant, code)))
    return tuple(found)


def outset(plant: Plant) -> int:
    """The number of the state a plant with one failure set starts from."""
    return int(settle(plant, np.array([plant.starts[0][0]], dtype=np.int64))[0])


def recoded(code: int, old: Plant, new: Plant) -> int:
    """The number that a state of one plant has in another one; what only the other one has stands as at its outset.

    Hold points passed are not carried over: each plant counts its own.
    """
    number = new.coding.start
    for name, digit in old.coding.fields.items():
        into = new.coding.fields.get(name)
        if into is not None and name != STAGE:
            value = digit.values[(code // digit.stride) % digit.size]
            number += (into.number(value) - into.start) * into.stride
    return number
