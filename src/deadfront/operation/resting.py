"""Operation: the states a unit may be left in. A machine and its procedures in, few states and the ways out."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from deadfront.operation.building import SOUND, build
from deadfront.operation.coding import device_digit, key_digit
from deadfront.operation.index import Codes
from deadfront.operation.machine import EARTH, HAND, Device, Machine
from deadfront.operation.plant import Plant, View
from deadfront.operation.procedures import Procedure, Step
from deadfront.operation.search import Explored, explore
from deadfront.operation.stepping import dangers, step, wrong
from deadfront.operation.telling import Situation, outset, situation

MOST_STATES = 60_000
"""More states than this are not sorted into rest states."""
MOST_RESTS = 8
"""More rest states than this are no picture that anybody reads."""
_LEFT_ALONE = ("switch", "breaker", "source")
"""Kinds that may stand anywhere while nobody works; all else stands as at the outset."""


@dataclass(frozen=True, slots=True)
class Rest:
    """One rest state: what is live, earthed and neither, and where each switching device may stand in it."""

    live: tuple[str, ...]
    earthed: tuple[str, ...]
    dead: tuple[str, ...]
    positions: dict[str, tuple[str, ...]]
    outset: bool
    tasks: tuple[str, ...]
    """Tasks whose work begins from here: the last rest state on their way."""


@dataclass(frozen=True, slots=True)
class RestMove:
    """The shortest way from one rest state to another one, by their numbers, without a rest in between."""

    origin: int
    target: int
    texts: tuple[str, ...]
    task: str = ""
    """The task whose work lies on this way, where there is one."""


@dataclass(frozen=True, slots=True)
class Rests:
    """All rest states that obedient people reach without a hazard, and the ways between them."""

    states: tuple[Rest, ...]
    moves: tuple[RestMove, ...]
    points: tuple[str, ...]
    """The points that tell them apart, in the order of the machine."""
    whole: bool
    """False: only those on the ways of the tasks; there are too many for a picture."""


def rests(machine: Machine, procedures: Sequence[Procedure] = ()) -> Rests | None:
    """Return the rest states with the ways between them, or None where the outset is no rest.

    At rest: every door is shut, no key is in a hand, all but switches, breakers and sources stands as at the outset.
    States in which the same is live and earthed, over the same closed devices, are one rest state; points that nothing
    but a source feeds do not count. Where there are more than `MOST_RESTS`, or more than `MOST_STATES` states to sort,
    there are those on the ways of the procedures, out and back, and the legs of these ways.
    """
    plant = build(machine, "rules", SOUND)
    if not _at_rest(View(plant, np.array([outset(plant)], dtype=np.int64)))[0]:
        return None
    found = explore(plant, through_dangers=False, goal=_counter())
    every = None if found.goal is not None else _all(plant, found, procedures)
    return every or _along(plant, procedures)


def _counter() -> Callable[[View], NDArray[np.bool_]]:
    """A goal that is met once too many states have come up."""
    met = 0

    def too_many(view: View) -> NDArray[np.bool_]:
        nonlocal met
        met += view.codes.size
        return np.full(view.codes.shape, met > MOST_STATES)

    return too_many


def _all(plant: Plant, found: Explored, procedures: Sequence[Procedure]) -> Rests | None:
    """All rest states of an exploration; None where they are too many for a picture."""
    view = View(plant, found.codes)
    resting = np.flatnonzero(_at_rest(view))
    kept = _telling(plant, view, resting)
    patterns = _named(plant, view, kept, resting)
    number = {pattern: n for n, pattern in enumerate(dict.fromkeys(patterns))}
    if len(number) > MOST_RESTS:
        return None
    node = np.full(found.states, -1, dtype=np.int64)
    node[resting] = [number[pattern] for pattern in patterns]
    begun: dict[int, tuple[str, ...]] = {}
    for done in procedures:
        way = View(plant, np.array([outset(plant), *_codes(plant, done.steps)], dtype=np.int64))
        last = number[_named(plant, way, kept, np.flatnonzero(_at_rest(way)))[-1]]
        begun[last] = (*begun.get(last, ()), done.goal)
    groups = [found.codes[node == n] for n in range(len(number))]
    moves = tuple(_direct(list(_moves(found, node, len(number)))))
    return Rests(_rests(plant, groups, kept, begun), moves, _names(plant, kept), whole=True)


def _along(plant: Plant, procedures: Sequence[Procedure]) -> Rests:
    """The rest states on the ways of the procedures, out and back, and the shortest leg between each two of them."""
    ways = [(done, [*done.steps, *(done.back or ())]) for done in procedures]
    codes = [[outset(plant), *_codes(plant, steps)] for _, steps in ways] or [[outset(plant)]]
    view = View(plant, np.array([code for way in codes for code in way], dtype=np.int64))
    rest = _at_rest(view)
    kept = _telling(plant, view, np.flatnonzero(rest))
    patterns = _named(plant, view, kept, np.arange(view.codes.size))
    number = {p: n for n, p in enumerate(dict.fromkeys(p for p, at in zip(patterns, rest, strict=True) if at))}
    groups = [
        view.codes[[at and number[p] == n for p, at in zip(patterns, rest, strict=True)]] for n in number.values()
    ]
    legs: dict[tuple[int, int], RestMove] = {}
    begun: dict[int, tuple[str, ...]] = {}
    base = 0
    for n, (done, steps) in enumerate(ways):
        way = codes[n]
        stops = [at for at in range(len(way)) if rest[base + at]]
        for one, other in pairwise(stops):
            pair = number[patterns[base + one]], number[patterns[base + other]]
            texts = tuple(step.text for step in steps[one:other])
            work = done.goal if one < len(done.steps) < other else ""
            if pair[0] != pair[1] and (pair not in legs or len(texts) < len(legs[pair].texts)):
                legs[pair] = RestMove(*pair, texts, work)
        last = number[patterns[base + max(at for at in stops if at <= len(done.steps))]]
        begun[last] = (*begun.get(last, ()), done.goal)
        base += len(way)
    moves = tuple(legs[pair] for pair in sorted(legs))
    return Rests(_rests(plant, groups, kept, begun), moves, _names(plant, kept), whole=False)


def _named(plant: Plant, view: View, kept: Sequence[int], states: NDArray[np.intp]) -> list[tuple[int, ...]]:
    return [tuple(row) for row in _patterns(plant, view, kept)[states].tolist()]


def _names(plant: Plant, kept: Sequence[int]) -> tuple[str, ...]:
    return tuple(plant.machine.points[n] for n in kept)


def _codes(plant: Plant, steps: Iterable[Step]) -> list[int]:
    return [_code(plant, step.after) for step in steps]


def _rests(
    plant: Plant, groups: Sequence[Codes], kept: Sequence[int], begun: dict[int, tuple[str, ...]]
) -> tuple[Rest, ...]:
    return tuple(_rest(plant, codes, _names(plant, kept), begun.get(n, ())) for n, codes in enumerate(groups))


def _direct(moves: list[RestMove]) -> Iterable[RestMove]:
    """Without the moves that are no shorter than two others one after the other."""
    length = {(move.origin, move.target): len(move.texts) for move in moves}
    for move in moves:
        between = {target for origin, target in length if origin == move.origin} - {move.target}
        legs = [length[move.origin, n] + length[n, move.target] for n in between if (n, move.target) in length]
        if min(legs, default=len(move.texts) + 1) > len(move.texts):
            yield move


def _at_rest(view: View) -> NDArray[np.bool_]:
    plant = view.plant
    result = np.ones(view.codes.shape, dtype=np.bool_)
    for device in plant.devices:
        if device.moves and device.kind not in _LEFT_ALONE:
            result &= view.stands(device.id, (device.start,))
    for opening in plant.machine.openings:
        result &= ~view.stands(opening.device, opening.positions)
    for key in plant.key_codes:
        field = plant.coding.fields.get(key_digit(key))
        if field is not None and HAND in field.values and field.start != field.number(HAND):
            result &= view.column(field.name) != field.number(HAND)
    return result


def _patterns(plant: Plant, view: View, points: Sequence[int]) -> NDArray[np.int8]:
    """Shape (states, points + switching devices): a point is 0 neither, 1 live, 2 earthed; a device is 1 where it is
    closed between live points, so that a bus fed from one side is told from the same bus fed from the other.
    """
    rows = view.rows  # asked for first: it may add rows to the table
    table = plant.energy.rows
    state = np.where(table.live[rows], 1, np.where(table.earthed[rows], 2, 0)).astype(np.int8)
    carries = [_carries(plant, view, device) for device in plant.devices if device.kind in ("switch", "breaker")]
    return np.column_stack([state[:, list(points)], *carries])


def _carries(plant: Plant, view: View, device: Device) -> NDArray[np.int8]:
    result = np.zeros(view.codes.shape, dtype=np.int8)
    for position, edges in device.edges:
        for a, b in edges:
            if EARTH not in (a, b):
                alive = plant.energy.live(view.rows, plant.energy.point(a))
                result |= (view.stands(device.id, (position,)) & alive).astype(np.int8)
    return result


def _telling(plant: Plant, view: View, resting: NDArray[np.intp]) -> list[int]:
    """The points that are not always the same at rest, without those that belong to a source alone."""
    machine = plant.machine
    every = _patterns(plant, view, range(len(machine.points)))[resting]
    own = {p for d in machine.devices if d.source is not None for p in d.source.at if _only_fed(machine, p)}
    return [n for n, point in enumerate(machine.points) if np.ptp(every[:, n]) > 0 and point not in own]


def _only_fed(machine: Machine, point: str) -> bool:
    """Whether one device alone leads away from a source's point."""
    leads = sum(point in link.between for link in machine.links)
    return leads + sum(any(point in edge for _, edges in d.edges for edge in edges) for d in machine.devices) <= 1


def _moves(found: Explored, node: NDArray[np.int64], nodes: int) -> Iterable[RestMove]:
    """Breadth first from all states of each node, through states that are no rest or of the same node."""
    begins, ends, numbers = _transitions(found)
    offset = np.searchsorted(begins, np.arange(found.states + 1))
    for origin in range(nodes):
        parent = np.full(found.states, -1, dtype=np.int64)
        via = np.full(found.states, -1, dtype=np.int64)
        arrived = np.full(found.states, -1, dtype=np.int64)
        met = node == origin
        frontier, reached = np.flatnonzero(met), dict[int, int]()
        while frontier.size:
            counts = offset[frontier + 1] - offset[frontier]
            which = np.repeat(offset[frontier] - np.concatenate([[0], np.cumsum(counts)[:-1]]), counts)
            edges = which + np.arange(counts.sum())
            edges = edges[~met[ends[edges]]]
            # Written backwards, so that the first of several edges to a state is the one that stays.
            arrived[ends[edges[::-1]]] = edges[::-1]
            fresh = np.flatnonzero(arrived >= 0)
            used = arrived[fresh]
            arrived[fresh] = -1
            met[fresh] = True
            parent[fresh], via[fresh] = begins[used], numbers[used]
            for state in fresh[node[fresh] >= 0]:
                reached.setdefault(int(node[state]), int(state))
            frontier = fresh[node[fresh] < 0]
        for target in sorted(reached):
            yield RestMove(origin, target, tuple(_texts(found.plant, parent, via, reached[target])))


def _texts(plant: Plant, parent: NDArray[np.int64], via: NDArray[np.int64], state: int) -> Sequence[str]:
    texts = []
    while parent[state] >= 0:
        texts.append(plant.moves[int(via[state])].text)
        state = int(parent[state])
    return texts[::-1]


def _transitions(found: Explored) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """Every move without a hazard between states of the search, ordered by where it begins: from, to, which move."""
    view = View(found.plant, found.codes)
    batch = step(view, np.ones((found.states, 1), dtype=np.uint64))
    reached = View(found.plant, batch.codes)
    batch = batch.keep(dangers(view, batch, wrong(view), wrong(reached), reached) == 0)
    order = np.argsort(found.codes)
    ends = order[np.searchsorted(found.codes, batch.codes, sorter=order)]
    return batch.origin.astype(np.int64), ends.astype(np.int64), batch.move.astype(np.int64)


def _rest(plant: Plant, codes: Codes, points: tuple[str, ...], tasks: tuple[str, ...]) -> Rest:
    told, view = situation(plant, int(codes[0])), View(plant, codes)
    devices = [device for device in plant.machine.devices if device.kind in _LEFT_ALONE and device.moves]
    return Rest(
        live=tuple(p for p in points if p in told.live),
        earthed=tuple(p for p in points if p in told.earthed),
        dead=tuple(p for p in points if p not in told.live and p not in told.earthed),
        positions={device.id: _positions(view, device) for device in devices},
        outset=outset(plant) in codes,
        tasks=tasks,
    )


def _positions(view: View, device: Device) -> tuple[str, ...]:
    return tuple(position for position in device.positions if view.stands(device.id, (position,)).any())


def _code(plant: Plant, told: Situation) -> int:
    """The number of a state with these positions and keys; what was proved or is charged does not matter here."""
    places = {device_digit(name): position for name, position in told.positions.items()}
    places |= {key_digit(key): place for key, place in told.keys.items()}
    fields = plant.coding.fields
    return sum(f.stride * (f.number(places[name]) if name in places else f.start) for name, f in fields.items())
