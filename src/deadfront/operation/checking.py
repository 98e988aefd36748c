"""Operation: a machine that says something impossible is refused. A machine in, every finding with its path out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from deadfront.operation.atoms import (
    Atom,
    BladeIn,
    Dead,
    DeviceIn,
    Discharged,
    Earthed,
    KeyInHand,
    LockHasKey,
    Tested,
    simple_parts,
)
from deadfront.operation.errors import Located
from deadfront.operation.machine import EARTH, HAND, Device, Edge, Machine


def check(machine: Machine) -> list[Located]:
    """Return everything in `machine` that cannot be: names used twice or unknown, keys that fit nothing, dead ends."""
    findings = [*_names(machine), *_electrics(machine)]
    for n, device in enumerate(machine.devices):
        findings += _device(machine, device, f"devices[{n}]")
    return [*findings, *_keys(machine), *_sentences(machine), *_guard_names(machine)]


def _unknown(path: str, what: str, name: str, known: Iterable[str]) -> Located:
    return Located(path, f"unknown {what} {name!r}, expected one of: {', '.join(known)}")


def _twice(names: Iterable[str], path: str) -> Iterator[Located]:
    seen: set[str] = set()
    for name in names:
        if name in seen:
            yield Located(path, f"the name {name!r} is used twice")
        seen.add(name)


def _names(machine: Machine) -> Iterator[Located]:
    yield from _twice(machine.points, "points")
    if EARTH in machine.points:
        yield Located("points", f"{EARTH!r} is earth itself and no point")
    yield from _twice((d.id for d in machine.devices), "devices")
    yield from _twice((k.id for k in machine.keys), "keys")
    places = [lock.id for lock in machine.locks] + [s.id for x in machine.exchanges for s in x.inputs + x.outputs]
    yield from _twice([HAND, *places], "locks and exchanges")
    yield from _twice((t.id for t in machine.tests), "tests")
    yield from _twice((s.id for s in machine.stores), "stored")
    yield from _twice([d.id for d in machine.devices] + [s.id for s in machine.extra_sources], "extra_sources")
    yield from _twice((g.id for g in machine.goals), "goals")


def _point(machine: Machine, path: str, name: str) -> Iterator[Located]:
    if name not in machine.points:
        yield _unknown(path, "point", name, machine.points)


def _edge(machine: Machine, path: str, edge: Edge) -> Iterator[Located]:
    if edge[0] == edge[1]:
        yield Located(path, f"an edge from {edge[0]!r} to itself connects nothing")
    for end in edge:
        if end != EARTH:
            yield from _point(machine, path, end)


def _electrics(machine: Machine) -> Iterator[Located]:
    for n, link in enumerate(machine.links):
        if EARTH in link.between:
            yield Located(f"links[{n}]", "a link to earth would earth the point for ever; use a device")
        yield from _edge(machine, f"links[{n}]", link.between)
    for n, test in enumerate(machine.tests):
        yield from _point(machine, f"tests[{n}].at", test.at)
    for n, store in enumerate(machine.stores):
        yield from _point(machine, f"stored[{n}].at", store.at)
    for n, load in enumerate(machine.loads):
        yield from _point(machine, f"loads[{n}]", load)
    for n, extra in enumerate(machine.extra_sources):
        for point in extra.at:
            yield from _point(machine, f"extra_sources[{n}].at", point)
    for n, point in enumerate(machine.no_backfeed.points):
        yield from _point(machine, f"no_backfeed.points[{n}]", point)
    feeding = [device.id for device in machine.devices if device.source is not None]
    for n, name in enumerate(machine.no_backfeed.sources):
        if name not in feeding:
            yield _unknown(f"no_backfeed.sources[{n}]", "source", name, feeding)
    names = [device.id for device in machine.devices]
    for n, goal in enumerate(machine.goals):
        for k, name in enumerate(goal.unlocked):
            if name not in names:
                yield _unknown(f"goals[{n}].unlocked[{k}]", "device", name, names)
    for n, opening in enumerate(machine.openings):
        if opening.device not in names:
            yield _unknown(f"openings[{n}].dev", "device", opening.device, names)
        else:
            yield from _positions(machine.device(opening.device), opening.positions, f"openings[{n}].in")
        for k, point in enumerate(opening.reaches):
            yield from _point(machine, f"openings[{n}].reaches[{k}]", point)


def _positions(device: Device, positions: Iterable[str], path: str) -> Iterator[Located]:
    for position in positions:
        if position not in device.positions:
            yield _unknown(path, f"position of {device.id}", position, device.positions)


def _device(machine: Machine, device: Device, path: str) -> Iterator[Located]:
    yield from _twice(device.positions, f"{path}.positions")
    yield from _positions(device, [device.start], f"{path}.start")
    for where, edges in device.edges:
        yield from _positions(device, [where], f"{path}.edges")
        for n, edge in enumerate(edges):
            yield from _edge(machine, f"{path}.edges.{where}[{n}]", edge)
    if device.source is not None:
        for point in device.source.at:
            yield from _point(machine, f"{path}.source.at", point)
        yield from _positions(device, device.source.on, f"{path}.source.on")
    if device.pressure is not None:
        yield from _positions(device, [device.pressure.origin], f"{path}.pressure.from")
    taken: set[tuple[str, str]] = set()
    for n, move in enumerate(device.moves):
        yield from _positions(device, [*move.origins, move.target], f"{path}.moves[{n}]")
        for origin in move.origins:
            if origin == move.target:
                yield Located(f"{path}.moves[{n}]", f"a move from {origin!r} to itself is no move")
            if (origin, move.target) in taken:
                yield Located(f"{path}.moves[{n}]", f"the move {origin!r} to {move.target!r} is listed twice")
            taken.add((origin, move.target))
    left = {origin for origin, _ in taken}
    for target in sorted({target for _, target in taken} - left):
        yield Located(f"{path}.moves", f"{device.id} can be brought to {target!r} and never leave it")


def _keys(machine: Machine) -> Iterator[Located]:
    names = [device.id for device in machine.devices]
    for n, lock in enumerate(machine.locks):
        if lock.device not in names:
            yield _unknown(f"locks[{n}].dev", "device", lock.device, names)
        else:
            yield from _positions(machine.device(lock.device), lock.free_at, f"locks[{n}].free_at")
    for n, exchange in enumerate(machine.exchanges):
        if not exchange.inputs or not exchange.outputs:
            yield Located(f"exchanges[{n}]", "an exchange needs at least one input and one output")
    places = machine.slots()
    codes = {key.code for key in machine.keys}
    for n, lock in enumerate(machine.locks):
        if lock.code not in codes:
            yield Located(f"locks[{n}].code", f"no key has the code {lock.code!r}: {lock.device} can never move")
    wanted = {a.code for _, atom in _every_sentence(machine) for a in simple_parts(atom) if isinstance(a, KeyInHand)}
    filled: set[str] = set()
    for n, key in enumerate(machine.keys):
        path = f"keys[{n}].start"
        if key.start == HAND:
            if key.code not in places.values() and key.code not in wanted:
                yield Located(
                    f"keys[{n}].code",
                    f"the key {key.id} fits nothing: no lock, exchange or guard has the code {key.code!r}",
                )
        elif key.start not in places:
            yield _unknown(path, "lock or slot", key.start, [HAND, *places])
        elif places[key.start] != key.code:
            yield Located(
                path,
                f"the key {key.id} of code {key.code!r} does not fit {key.start}, whose code is {places[key.start]!r}",
            )
        elif key.start in filled:
            yield Located(path, f"{key.start} holds two keys")
        filled.add(key.start)


def _every_sentence(machine: Machine) -> Iterator[tuple[str, Atom]]:
    for n, device in enumerate(machine.devices):
        for k, move in enumerate(device.moves):
            for j, guard in enumerate(move.guards):
                yield f"devices[{n}].moves[{k}].guards[{j}].if", guard.condition
        if device.pressure is not None:
            yield f"devices[{n}].pressure.ok", device.pressure.relieved
    for n, test in enumerate(machine.tests):
        for j, guard in enumerate(test.guards):
            yield f"tests[{n}].guards[{j}].if", guard.condition
    for n, opening in enumerate(machine.openings):
        if opening.unless is not None:
            yield f"openings[{n}].unless", opening.unless
    for n, hazard in enumerate(machine.state_hazards):
        yield f"state_hazards[{n}].if", hazard.condition
    if machine.safe is not None:
        yield "safe", machine.safe
    for n, goal in enumerate(machine.goals):
        yield f"goals[{n}].if", goal.condition
        for part, holds in (("holds", goal.holds), ("back", goal.back)):
            for k, hold in enumerate(holds):
                yield f"goals[{n}].{part}[{k}].if", hold.condition
                if hold.before is not None:
                    yield f"goals[{n}].{part}[{k}].before", hold.before
        for k, sentence in enumerate(goal.never):
            yield f"goals[{n}].never[{k}].if", sentence.condition


def _sentences(machine: Machine) -> Iterator[Located]:
    for path, whole in _every_sentence(machine):
        yield from unknown_names(machine, whole, path)


def unknown_names(machine: Machine, sentence: Atom, path: str) -> Iterator[Located]:
    """Every name in a sentence that the machine does not know."""
    devices = [device.id for device in machine.devices]
    places, stores = list(machine.slots()), [store.id for store in machine.stores]
    for atom in simple_parts(sentence):
        match atom:
            case DeviceIn(name, positions) | BladeIn(name, positions):
                if name not in devices:
                    yield _unknown(path, "device", name, devices)
                else:
                    yield from _positions(machine.device(name), positions, path)
            case LockHasKey(name):
                if name not in places:
                    yield _unknown(path, "lock or slot", name, places)
            case KeyInHand(name):
                if name not in {key.code for key in machine.keys}:
                    yield _unknown(path, "code of a key", name, sorted({key.code for key in machine.keys}))
            case Tested(name):
                if name not in {test.at for test in machine.tests}:
                    yield Located(path, f"nothing can prove {name!r} dead: no test point is at it")
            case Dead(name) | Earthed(name):
                yield from _point(machine, path, name)
            case Discharged(name):
                if name not in stores:
                    yield _unknown(path, "store", name, stores)


def _guard_names(machine: Machine) -> Iterator[Located]:
    meaning: dict[str, tuple[str, Atom]] = {}
    guards = [
        (f"devices[{n}].moves[{k}].guards[{j}]", g)
        for n, d in enumerate(machine.devices)
        for k, m in enumerate(d.moves)
        for j, g in enumerate(m.guards)
    ]
    guards += [(f"tests[{n}].guards[{j}]", g) for n, t in enumerate(machine.tests) for j, g in enumerate(t.guards)]
    for path, guard in guards:
        if meaning.setdefault(guard.id, (guard.by, guard.condition)) != (guard.by, guard.condition):
            yield Located(f"{path}.id", f"{guard.id!r} already names another guard; a defeated guard must be one thing")
