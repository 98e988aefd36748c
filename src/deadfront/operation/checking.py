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
from deadfront.project.naming import named, suggestion

_MOVE = 'for example `{"from": ["closed"], "to": "open"}`'


def check(machine: Machine) -> list[Located]:
    """Return everything in `machine` that cannot be: names used twice or unknown, keys that fit nothing, dead ends."""
    findings = [*_names(machine), *_electrics(machine)]
    for n, device in enumerate(machine.devices):
        findings += _device(machine, device, f"devices[{n}]")
    return [*findings, *_keys(machine), *_sentences(machine), *_guard_names(machine)]


def _unknown(path: str, what: str, name: str, known: Iterable[str]) -> Located:
    return Located(path, what, named(name), suggestion(name, known))


def _twice(names: Iterable[tuple[str, str]]) -> Iterator[Located]:
    """Names with their paths, each of which may stand once."""
    seen: dict[str, str] = {}
    for path, name in names:
        if name in seen:
            other = f"`{seen[name]}`" if seen[name] else "where keys are that no lock holds"
            yield Located(path, "a name that stands once", f"a second {named(name)}", f"the first one is {other}")
        seen.setdefault(name, path)


def _paths(table: str, names: Iterable[str]) -> Iterator[tuple[str, str]]:
    return ((f"{table}[{n}]", name) for n, name in enumerate(names))


def _names(machine: Machine) -> Iterator[Located]:
    yield from _twice(_paths("points", machine.points))
    for n, point in enumerate(machine.points):
        if point == EARTH:
            remedy = "leave it out: an edge may end in it without it"
            yield Located(f"points[{n}]", "a point", f"`{EARTH}`, which is earth itself", remedy)
    devices = list(_paths("devices", (d.id for d in machine.devices)))
    yield from _twice([*devices, *_paths("extra_sources", (s.id for s in machine.extra_sources))])
    yield from _twice(_paths("keys", (k.id for k in machine.keys)))
    slots = [
        (f"exchanges[{n}].{side}[{k}]", slot.id)
        for n, box in enumerate(machine.exchanges)
        for side, listed in (("in", box.inputs), ("out", box.outputs))
        for k, slot in enumerate(listed)
    ]
    yield from _twice([("", HAND), *_paths("locks", (lock.id for lock in machine.locks)), *slots])
    yield from _twice(_paths("tests", (t.id for t in machine.tests)))
    yield from _twice(_paths("stored", (s.id for s in machine.stores)))
    yield from _twice(_paths("goals", (g.id for g in machine.goals)))


def _point(machine: Machine, path: str, name: str) -> Iterator[Located]:
    if name not in machine.points:
        yield _unknown(path, "a point", name, machine.points)


def _edge(machine: Machine, path: str, edge: Edge) -> Iterator[Located]:
    if edge[0] == edge[1]:
        yield Located(path, "two points", f"`{edge[0]}` twice, which connects nothing", 'for example `["S", "B"]`')
    for end in edge:
        if end != EARTH:
            yield from _point(machine, path, end)


def _electrics(machine: Machine) -> Iterator[Located]:
    for n, link in enumerate(machine.links):
        if EARTH in link.between:
            found = f"`{EARTH}`, which would earth the other for ever"
            remedy = 'use a device: `"edges": {"on": [["B", "E"]]}`'
            yield Located(f"links[{n}]", "two points", found, remedy)
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
        for k, point in enumerate(goal.place):
            yield from _point(machine, f"goals[{n}].place[{k}]", point)
        for k, name in enumerate(goal.unlocked):
            if name not in names:
                yield _unknown(f"goals[{n}].unlocked[{k}]", "device", name, names)
    for n, opening in enumerate(machine.openings):
        if opening.device not in names:
            yield _unknown(f"openings[{n}].dev", "a device", opening.device, names)
        else:
            yield from _positions(machine.device(opening.device), opening.positions, f"openings[{n}].in")
        for k, point in enumerate(opening.reaches):
            yield from _point(machine, f"openings[{n}].reaches[{k}]", point)


def _positions(device: Device, positions: Iterable[str], path: str) -> Iterator[Located]:
    for position in positions:
        if position not in device.positions:
            yield _unknown(path, f"a position of `{device.id}`", position, device.positions)


def _device(machine: Machine, device: Device, path: str) -> Iterator[Located]:
    yield from _twice(_paths(f"{path}.positions", device.positions))
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
                found = f"`{origin}` both in `from` and as `to`"
                yield Located(f"{path}.moves[{n}]", "a move to another position", found, _MOVE)
            if (origin, move.target) in taken:
                found = f"a second one from `{origin}` to `{move.target}`"
                yield Located(f"{path}.moves[{n}]", "each move once", found, "put the guards of both into one")
            taken.add((origin, move.target))
    left = {origin for origin, _ in taken}
    for target in sorted({target for _, target in taken} - left):
        expected = f"a move of `{device.id}` out of `{target}`, where it can be brought"
        yield Located(f"{path}.moves", expected, "none", f'for example `{{"from": ["{target}"], "to": ...}}`')


def _keys(machine: Machine) -> Iterator[Located]:
    names = [device.id for device in machine.devices]
    for n, lock in enumerate(machine.locks):
        if lock.device not in names:
            yield _unknown(f"locks[{n}].dev", "a device", lock.device, names)
        else:
            yield from _positions(machine.device(lock.device), lock.free_at, f"locks[{n}].free_at")
    for n, exchange in enumerate(machine.exchanges):
        if not exchange.inputs or not exchange.outputs:
            example = '`"in": [{"id": "X in", "code": "A"}], "out": [{"id": "X out", "code": "B"}]`'
            yield Located(f"exchanges[{n}]", "at least one key in `in` and in `out`", "none", f"for example {example}")
    places = machine.slots()
    codes = {key.code for key in machine.keys}
    for n, lock in enumerate(machine.locks):
        if lock.code not in codes:
            found = f"{named(lock.code)}, which no key has: `{lock.device}` could never move"
            yield Located(f"locks[{n}].code", "the code of a key", found, suggestion(lock.code, sorted(codes)))
    wanted = {a.code for _, atom in _every_sentence(machine) for a in simple_parts(atom) if isinstance(a, KeyInHand)}
    filled: set[str] = set()
    for n, key in enumerate(machine.keys):
        path = f"keys[{n}].start"
        if key.start == HAND:
            if key.code not in places.values() and key.code not in wanted:
                known = sorted({*places.values(), *wanted})
                found = f"{named(key.code)}, which fits nothing"
                expected = "the code of a lock, an exchange or a guard"
                yield Located(f"keys[{n}].code", expected, found, suggestion(key.code, known))
        elif key.start not in places:
            yield _unknown(path, "a lock or a place of an exchange", key.start, [HAND, *places])
        elif places[key.start] != key.code:
            found = f"`{key.start}`, which takes {named(places[key.start])}"
            fitting = [place for place, code in places.items() if code == key.code]
            remedy = f"those are {', '.join([HAND, *fitting])}"
            yield Located(path, f"a place that takes the code {named(key.code)}", found, remedy)
        elif key.start in filled:
            remedy = f'for example `"start": "{HAND}"`'
            yield Located(path, "a place without a key", f"`{key.start}`, which holds another one", remedy)
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
                    yield _unknown(path, "a device", name, devices)
                else:
                    yield from _positions(machine.device(name), positions, path)
            case LockHasKey(name):
                if name not in places:
                    yield _unknown(path, "a lock or a place of an exchange", name, places)
            case KeyInHand(name):
                codes = sorted({key.code for key in machine.keys})
                if name not in codes:
                    yield Located(path, "the code of a key", named(name), suggestion(name, codes))
            case Tested(name):
                if name not in {test.at for test in machine.tests}:
                    able = dict.fromkeys(test.at for test in machine.tests)
                    yield Located(path, "a point at which there is a test", named(name), suggestion(name, able))
            case Dead(name) | Earthed(name):
                yield from _point(machine, path, name)
            case Discharged(name):
                if name not in stores:
                    yield _unknown(path, "a store", name, stores)


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
            found = f"{named(guard.id)}, which is another guard already; one that fails must be one thing"
            yield Located(f"{path}.id", "a name that no other guard has", found, f'for example `"id": "{guard.id} 2"`')
