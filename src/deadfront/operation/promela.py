"""Operation: a machine as text for an independent model checker. A machine in, Promela text out."""

from __future__ import annotations

import re
from collections.abc import Iterator

from deadfront.operation.atoms import (
    AllOf,
    AnyOf,
    Atom,
    BladeIn,
    Dead,
    DeviceIn,
    Discharged,
    Earthed,
    KeyInHand,
    LockHasKey,
    Not,
    Tested,
)
from deadfront.operation.machine import EARTH, KINDS, Device, Exchange, Guard, Key, Lock, Machine

_HEAD = """\
/* {id}: {title}
   The machine of hand actions, one option of the loop for each move. Check with: spin -a, then the compiled verifier.
     -DRULES=1   people also obey the rules; without it, only hardware binds
     -DWATCH=n   stop at the first move that raises hazard n: {kinds}
   States: one more than the machine has, the one before the electricity is first worked out. */
#ifndef RULES
#define RULES 0
#endif
#ifndef WATCH
#define WATCH 0
#endif
"""


def promela(machine: Machine) -> str:
    """Return the machine as Promela. Every statement is a guard or an assignment, the whole move is one `d_step`.

    Connectivity is worked out by lowering labels along conducting edges as often as there are points, which is another
    way than the table of this room; so a checker that agrees has agreed on more than on arithmetic.
    """
    return "\n".join(_Text(machine).lines()) + "\n"


def _clean(name: str) -> str:
    return re.sub(r"\W", "_", name)


class _Text:
    def __init__(self, machine: Machine) -> None:
        self.machine = machine
        self.places = machine.slots()
        self.at = {d.id: f"at_{n}_{_clean(d.id)}" for n, d in enumerate(machine.devices)}
        self.key = {k.id: f"key_{n}_{_clean(k.id)}" for n, k in enumerate(machine.keys)}
        self.mark = {t.id: f"mark_{n}_{_clean(t.id)}" for n, t in enumerate(machine.tests)}
        self.charge = {s.id: f"charge_{n}_{_clean(s.id)}" for n, s in enumerate(machine.stores)}
        self.point = {p: n for n, p in enumerate(machine.points)}
        self.seat = {place: n + 1 for n, place in enumerate(self.places)}

    def lines(self) -> Iterator[str]:
        machine = self.machine
        kinds = ", ".join(f"{n} {kind}" for n, kind in enumerate(KINDS, start=1))
        yield _HEAD.format(id=machine.id, title=machine.title.replace("*/", "* /"), kinds=kinds)
        yield from self.variables()
        yield from self.relax("lab", magnetic=True)
        yield from self.relax("met", magnetic=False)
        yield from self.settle()
        yield from self.watch()
        yield "init {"
        yield "  d_step { settle(); }"
        yield "end:"
        yield "  do"
        for device in machine.devices:
            yield from self.device(device)
        for key in machine.keys:
            yield from self.keys(key)
        yield from self.tests_and_waits()
        yield "  :: d_step { false -> skip; }"
        yield "  od"
        yield "}"

    def variables(self) -> Iterator[str]:
        machine = self.machine
        for device in machine.devices:
            meanings = ", ".join(f"{n} {position}" for n, position in enumerate(device.positions))
            yield f"byte {self.at[device.id]} = {device.positions.index(device.start)}; /* {meanings} */"
        for key in machine.keys:
            start = self.seat.get(key.start, 0)
            yield f"byte {self.key[key.id]} = {start}; /* 0 hand, else the number of a lock or slot */"
        for test in machine.tests:
            yield f"bool {self.mark[test.id]} = 0;"
        for store in machine.stores:
            yield f"bool {self.charge[store.id]} = {int(store.start)};"
        size = len(machine.points)
        yield f"byte lab[{size}]; byte met[{size}]; bool en[{size}]; bool ea[{size}]; bool dr[{size}];"
        names = ["exposed", "stored", "fault", "parallel", "backfeed", *self.persons()]
        for name in names:
            yield f"bool {name} = 0; bool was_{name} = 0;"
        yield "bool pressed = 0;"
        for n in range(len(machine.loads)):
            yield f"bool was_load_{n} = 0;"

    def persons(self) -> list[str]:
        return [f"person_{n}" for n in range(len(self.machine.state_hazards))]

    def edges(self) -> Iterator[tuple[str, str, str]]:
        for device in self.machine.devices:
            for where, pairs in device.edges:
                for a, b in pairs:
                    yield a, b, self.stands(device.id, (where,))

    def stands(self, device: str, positions: tuple[str, ...]) -> str:
        numbers = [self.machine.device(device).positions.index(position) for position in positions]
        return "(" + " || ".join(f"{self.at[device]} == {n}" for n in numbers) + ")" if numbers else "0"

    def relax(self, label: str, *, magnetic: bool) -> Iterator[str]:
        yield f"inline relax_{label}() {{"
        links = [k for k in self.machine.links if magnetic or not k.magnetic]
        joined = [(a, b, on) for a, b, on in self.edges() if EARTH not in (a, b)]
        for a, b, on in [*joined, *((*k.between, "1") for k in links)]:
            one, two = f"{label}[{self.point[a]}]", f"{label}[{self.point[b]}]"
            yield f"  {two} = (({on} && {one} < {two}) -> {one} : {two});"
            yield f"  {one} = (({on} && {two} < {one}) -> {two} : {one});"
        yield "  skip;"
        yield "}"

    def settle(self) -> Iterator[str]:
        machine = self.machine
        yield "inline settle() {"
        for n in self.point.values():
            yield f"  lab[{n}] = {n}; met[{n}] = {n};"
        for _ in self.point:
            yield "  relax_lab(); relax_met();"
        grounds = [(b if a == EARTH else a, on) for a, b, on in self.edges() if EARTH in (a, b)]
        fed = [(d.source, self.stands(d.id, d.source.on)) for d in machine.devices if d.source is not None]
        sources = [(point, on) for source, on in fed for point in source.at]
        for n in self.point.values():
            yield f"  en[{n}] = {_any(f'({on} && lab[{n}] == lab[{self.point[p]}])' for p, on in sources)};"
            yield f"  ea[{n}] = {_any(f'({on} && lab[{n}] == lab[{self.point[p]}])' for p, on in grounds)};"
            yield f"  dr[{n}] = {_any(f'({on} && met[{n}] == met[{self.point[p]}])' for p, on in grounds)};"
        for store in machine.stores:
            p, own = self.point[store.at], self.charge[store.id]
            yield f"  {own} = ((en[{p}] && !ea[{p}]) -> 1 : (dr[{p}] -> 0 : {own}));"
        yield f"  fault = {_any(f'(en[{n}] && ea[{n}])' for n in self.point.values())};"
        yield f"  parallel = {_any(self.parallel())};"
        yield f"  backfeed = {_any(self.backfeed())};"
        yield f"  exposed = {_any(self.exposed())};"
        yield f"  stored = {_any(self.stored())};"
        for name, hazard in zip(self.persons(), machine.state_hazards, strict=True):
            yield f"  {name} = {self.sentence(hazard.condition)};"
        yield "}"

    def fed(self) -> list[tuple[str, int, str]]:
        return [one for _, one in self.fed_by()]

    def fed_by(self) -> list[tuple[Device, tuple[str, int, str]]]:
        """Each source with its group, its point, and when it is on."""
        found = [(d, d.source) for d in self.machine.devices]
        return [(d, (s.group, self.point[p], self.stands(d.id, s.on))) for d, s in found if s is not None for p in s.at]

    def parallel(self) -> Iterator[str]:
        fed = self.fed()
        for n, (group, point, on) in enumerate(fed):
            for other, there, other_on in fed[n + 1 :]:
                if group != other:
                    yield f"({on} && {other_on} && lab[{point}] == lab[{there}])"

    def backfeed(self) -> Iterator[str]:
        watch = self.machine.no_backfeed
        for group, point, on in self.fed():
            if group in watch.groups:
                for name in watch.points:
                    yield f"({on} && lab[{point}] == lab[{self.point[name]}])"
        yield from self.alone()

    def alone(self) -> Iterator[str]:
        """A watched source at a watched point, and no other of its group joined to that point."""
        watch = self.machine.no_backfeed
        fed = [(d.id in watch.sources, *one) for d, one in self.fed_by()]
        for own, group, point, on in fed:
            for name in watch.points if own else ():
                column = self.point[name]
                others = [(p, o) for listed, g, p, o in fed if not listed and g == group]
                held = _any(f"({o} && lab[{p}] == lab[{column}])" for p, o in others)
                yield f"({on} && lab[{point}] == lab[{column}] && !{held})"

    def opened(self) -> Iterator[tuple[str, list[int]]]:
        for opening in self.machine.openings:
            stands = self.stands(opening.device, opening.positions)
            if opening.unless is not None:
                stands = f"({stands} && !{self.sentence(opening.unless)})"
            yield stands, [self.point[p] for p in opening.reaches]

    def exposed(self) -> Iterator[str]:
        for stands, points in self.opened():
            yield f"({stands} && {_any(f'(en[{p}] && !ea[{p}])' for p in points)})"

    def stored(self) -> Iterator[str]:
        for stands, points in self.opened():
            for store in self.machine.stores:
                at = self.point[store.at]
                near = _any(f"(!(en[{p}] && !ea[{p}]) && !dr[{p}] && met[{p}] == met[{at}])" for p in points)
                yield f"({stands} && {self.charge[store.id]} && {near})"

    def watch(self) -> Iterator[str]:
        yield "inline remember() {"
        for name in ["exposed", "stored", "fault", "parallel", "backfeed", *self.persons()]:
            yield f"  was_{name} = {name};"
        for n, load in enumerate(self.machine.loads):
            yield f"  was_load_{n} = en[{self.point[load]}];"
        yield "}"
        yield "inline judge(opening, earths, offload) {"
        tests = {
            "EXP_OPEN": "(exposed && !was_exposed && opening)",
            "EXP_CLOSE": "(exposed && !was_exposed && !opening)",
            "EXP_CHARGE": "(stored && !was_stored)",
            "EARTH_LIVE": "(fault && !was_fault && earths)",
            "LIVE_EARTH": "(fault && !was_fault && !earths)",
            "PARALLEL": "(parallel && !was_parallel)",
            "BACKFEED": "(backfeed && !was_backfeed)",
            "LOAD": "(offload && "
            + _any(f"(en[{self.point[p]}] != was_load_{n})" for n, p in enumerate(self.machine.loads))
            + ")",
            "FUSE_PRESS": "pressed",
            "PERSON": _any(f"({name} && !was_{name})" for name in self.persons()),
        }
        for n, kind in enumerate(KINDS, start=1):
            yield f"  assert(!(WATCH == {n} && {tests[kind]}));"
        for name in ["exposed", "stored", "fault", "parallel", "backfeed", *self.persons()]:
            yield f"  was_{name} = 0;"
        for n in range(len(self.machine.loads)):
            yield f"  was_load_{n} = 0;"
        yield "  pressed = 0;"
        yield "}"

    def device(self, device: Device) -> Iterator[str]:
        locks = [self.filled(lock.id) for lock in self.machine.locks if lock.device == device.id]
        opening = int(any(o.device == device.id for o in self.machine.openings))
        for move in device.moves:
            guards = [*locks, *self.guards(move.guards)]
            earths = int(any(EARTH in edge for edge in device.edges_at(move.target)))
            off_load = int(device.electric and not device.load_break)
            for origin in move.origins:
                act = ["remember();"]
                if device.pressure is not None and device.pressure.origin == origin:
                    act.append(f"pressed = !{self.sentence(device.pressure.relieved)};")
                act.append(f"{self.at[device.id]} = {device.positions.index(move.target)};")
                if device.electric:
                    act += [f"{mark} = 0;" for mark in self.mark.values()]
                act.append(f"settle(); judge({opening}, {earths}, {off_load});")
                text = f"{device.id}: {origin}->{move.target}"
                yield self.option([self.stands(device.id, (origin,)), *guards], act, text)

    def keys(self, key: Key) -> Iterator[str]:
        own = self.key[key.id]
        for place, code in self.places.items():
            if code != key.code:
                continue
            seat = self.seat[place]
            leave = [f"{own} == {seat}", *self.leaving(place)]
            yield self.option(
                leave, [f"remember(); {own} = 0; settle(); judge(0, 0, 0);"], f"key {key.id}: {place}->hand"
            )
            enter = [f"{own} == 0", f"!{self.filled(place)}"]
            yield self.option(
                enter, [f"remember(); {own} = {seat}; settle(); judge(0, 0, 0);"], f"key {key.id}: hand->{place}"
            )

    def leaving(self, place: str) -> list[str]:
        found: list[Lock | Exchange] = [lock for lock in self.machine.locks if lock.id == place]
        found += [x for x in self.machine.exchanges if any(slot.id == place for slot in x.inputs + x.outputs)]
        match found[0]:
            case Lock(_, device, _, free_at):
                return [self.stands(device, free_at)]
            case Exchange(_, inputs, outputs):
                return [self.filled(s.id) for s in (outputs if any(i.id == place for i in inputs) else inputs)]

    def tests_and_waits(self) -> Iterator[str]:
        for test in self.machine.tests:
            p, own = self.point[test.at], self.mark[test.id]
            needs = [f"!{own}", f"!(en[{p}] && !ea[{p}])", *self.guards(test.guards)]
            yield self.option(needs, [f"remember(); {own} = 1; settle(); judge(0, 0, 0);"], f"test {test.id}")
        for store in self.machine.stores:
            if store.drains:
                p, own = self.point[store.at], self.charge[store.id]
                needs = [own, f"!(en[{p}] && !ea[{p}])"]
                yield self.option(needs, [f"remember(); {own} = 0; settle(); judge(0, 0, 0);"], f"wait {store.id}")

    def option(self, needs: list[str], act: list[str], text: str) -> str:
        return f"  :: d_step {{ {' && '.join(needs)} -> {' '.join(act)} }} /* {text.replace('*/', '* /')} */"

    def guards(self, guards: tuple[Guard, ...]) -> list[str]:
        texts = [(guard, self.sentence(guard.condition)) for guard in guards]
        return [f"(!RULES || {text})" if guard.by == "rule" else text for guard, text in texts]

    def filled(self, place: str) -> str:
        keys = [self.key[key.id] for key in self.machine.keys if key.code == self.places[place]]
        return _any(f"{key} == {self.seat[place]}" for key in keys)

    def sentence(self, atom: Atom) -> str:
        match atom:
            case DeviceIn(device, positions) | BladeIn(device, positions):
                return self.stands(device, positions)
            case LockHasKey(lock, present):
                return self.filled(lock) if present else f"(!{self.filled(lock)})"
            case KeyInHand(code):
                return _any(f"{self.key[key.id]} == 0" for key in self.machine.keys if key.code == code)
            case Tested(point):
                return _any(self.mark[test.id] for test in self.machine.tests if test.at == point)
            case Dead(point):
                return f"(!(en[{self.point[point]}] && !ea[{self.point[point]}]) && !fault)"
            case Earthed(point):
                return f"dr[{self.point[point]}]"
            case Discharged(store):
                return f"(!{self.charge[store]})"
            case AnyOf(parts):
                return _any(self.sentence(part) for part in parts)
            case AllOf(parts):
                return "(" + (" && ".join(self.sentence(part) for part in parts) or "1") + ")"
            case Not(part):
                return f"(!{self.sentence(part)})"


def _any(parts: Iterator[str]) -> str:
    return "(" + (" || ".join(parts) or "0") + ")"
