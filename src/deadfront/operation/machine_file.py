"""Operation: a machine as a file. JSON objects in, a checked `Machine` out, and back."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, Literal, TypeVar, get_args

from deadfront.operation.atoms import read_atom, write_atom
from deadfront.operation.checking import check
from deadfront.operation.errors import BrokenMachine, Located
from deadfront.operation.examining import initial_dangers
from deadfront.operation.machine import (
    BackfeedWatch,
    By,
    Device,
    Edge,
    Exchange,
    ExtraSource,
    Goal,
    Guard,
    Hold,
    Key,
    Link,
    Lock,
    Machine,
    Move,
    Opening,
    Pressure,
    ProvingPoint,
    Sentence,
    Slot,
    Source,
    Store,
)

T = TypeVar("T")


def load_machine(path: Path) -> Machine:
    """Read a machine from a JSON file.

    Raises `BrokenMachine` for text that is no JSON, for no possible machine, for one that is dangerous at the outset.
    """
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        found = f"no file that can be read ({error.strerror})"
        raise BrokenMachine([Located(path.name, f"expected a machine file, got {found}")]) from None
    except (ValueError, RecursionError) as error:
        found = f"a fault in it: {error}"
        raise BrokenMachine([Located(path.name, f"expected JSON text, got {found}")]) from None
    machine = read_machine(data)
    findings = initial_dangers(machine)
    if findings:
        raise BrokenMachine(findings)
    return machine


def read_machine(data: Any) -> Machine:
    """Return the machine a JSON object describes; `expected` and `notes` in it are not read.

    Raises `BrokenMachine` with every place that is wrong: an entry of the wrong form, an unknown entry, a name that is
    used twice or is not there, a position that cannot be left, a key that fits nothing.
    """
    try:
        machine = _machine(_Entry(data, "machine"))
    except Located as finding:
        raise BrokenMachine([finding]) from None
    findings = check(machine)
    if findings:
        raise BrokenMachine(findings)
    return machine


class _Entry:
    """One JSON object with its path: hands out its entries by type, and refuses those that nobody asked for."""

    def __init__(self, data: Any, at: str) -> None:
        if not isinstance(data, dict):
            raise Located(at, f"expected an object, got {data!r}")
        self._data: Mapping[str, Any] = data
        self._at = at
        self._asked: set[str] = set()

    def path(self, name: str) -> str:
        return name if self._at == "machine" else f"{self._at}.{name}"

    def has(self, name: str) -> bool:
        self._asked.add(name)
        return self._data.get(name) is not None

    def text(self, name: str, default: str | None = None) -> str:
        value = self._take(name, default)
        if not isinstance(value, str) or not value:
            raise Located(self.path(name), f"expected a name, got {value!r}")
        return value

    def one_or_more(self, name: str) -> tuple[str, ...]:
        return self.texts(name) if isinstance(self._data.get(name), list) else (self.text(name),)

    def flag(self, name: str, default: bool | None = None) -> bool:
        value = self._take(name, default)
        if not isinstance(value, bool):
            raise Located(self.path(name), f"expected true or false, got {value!r}")
        return value

    def texts(self, name: str, default: Sequence[str] | None = None) -> tuple[str, ...]:
        value = self._take(name, default)
        if not isinstance(value, list | tuple) or not all(isinstance(item, str) for item in value):
            raise Located(self.path(name), f"expected a list of names, got {value!r}")
        return tuple(value)

    def many(self, name: str, read: Callable[[_Entry], T], required: bool = False) -> tuple[T, ...]:
        value = self._take(name, None if required else [])
        if not isinstance(value, list):
            raise Located(self.path(name), f"expected a list, got {value!r}")
        return tuple(self._read(item, f"{self.path(name)}[{n}]", read) for n, item in enumerate(value))

    def one(self, name: str, read: Callable[[_Entry], T]) -> T:
        return self._read(self._take(name, None), self.path(name), read)

    def raw(self, name: str, default: Any = None) -> Any:
        return self._take(name, default)

    def done(self, ignored: Sequence[str] = ()) -> None:
        for name in self._data:
            if name not in self._asked and name not in ignored:
                known = ", ".join(sorted(self._asked))
                raise Located(self.path(name), f"unknown entry, expected one of: {known}")

    @staticmethod
    def _read(item: Any, at: str, read: Callable[[_Entry], T]) -> T:
        entry = _Entry(item, at)
        value = read(entry)
        entry.done(_IGNORED)
        return value

    def _take(self, name: str, default: Any) -> Any:
        self._asked.add(name)
        value = self._data.get(name, default)
        if value is None:
            raise Located(self.path(name), "expected a value, got nothing")
        return value


_IGNORED = ("notes",)


def _machine(entry: _Entry) -> Machine:
    machine = Machine(
        id=entry.text("id"),
        title=entry.text("title"),
        points=entry.texts("points"),
        links=tuple(_link(item, f"links[{n}]") for n, item in enumerate(entry.raw("links", []))),
        devices=entry.many("devices", _device, required=True),
        locks=entry.many("locks", _lock),
        exchanges=entry.many("exchanges", _exchange),
        keys=entry.many("keys", lambda e: Key(e.text("id"), e.text("code"), e.text("start"))),
        tests=entry.many("tests", lambda e: ProvingPoint(e.text("id"), e.text("at"), e.many("guards", _guard))),
        stores=entry.many("stored", lambda e: Store(e.text("id"), e.text("at"), e.flag("drains"), e.flag("start"))),
        openings=entry.many("openings", _opening),
        loads=entry.texts("loads", ()),
        no_backfeed=entry.one("no_backfeed", _watch) if entry.has("no_backfeed") else BackfeedWatch((), ()),
        state_hazards=entry.many("state_hazards", _sentence),
        extra_sources=entry.many(
            "extra_sources", lambda e: ExtraSource(e.text("id"), e.one_or_more("at"), e.text("group"))
        ),
        goals=entry.many("goals", _goal),
        safe=read_atom(entry.raw("safe"), entry.path("safe")) if entry.has("safe") else None,
    )
    entry.done((*_IGNORED, "expected"))
    return machine


def _edge(value: Any, at: str) -> Edge:
    if not isinstance(value, list | tuple) or len(value) != 2 or not all(isinstance(end, str) for end in value):
        raise Located(at, f"expected two points, got {value!r}")
    return value[0], value[1]


def _link(value: Any, at: str) -> Link:
    if isinstance(value, dict):
        entry = _Entry(value, at)
        link = Link(_edge(entry.raw("between"), f"{at}.between"), entry.flag("magnetic", False))
        entry.done()
        return link
    return Link(_edge(value, at), magnetic=False)


def _guard(entry: _Entry) -> Guard:
    by = entry.text("by")
    if by not in get_args(By):
        raise Located(entry.path("by"), f"expected one of {', '.join(get_args(By))}, got {by!r}")
    known: dict[str, By] = {word: word for word in get_args(By)}
    return Guard(entry.text("id"), known[by], read_atom(entry.raw("if"), entry.path("if")))


def _move(entry: _Entry) -> Move:
    return Move(entry.texts("from"), entry.text("to"), entry.many("guards", _guard))


def _device(entry: _Entry) -> Device:
    edges = entry.raw("edges", {})
    if not isinstance(edges, dict) or not all(isinstance(pairs, list) for pairs in edges.values()):
        raise Located(entry.path("edges"), f"expected positions with lists of edges, got {edges!r}")
    at = entry.path("edges")
    indicator: Literal["shaft", "handle"] | None = None
    if entry.has("indicator"):
        word = entry.text("indicator")
        if word not in ("shaft", "handle"):
            raise Located(entry.path("indicator"), f"expected shaft or handle, got {word!r}")
        indicator = "shaft" if word == "shaft" else "handle"
    return Device(
        id=entry.text("id"),
        kind=entry.text("kind"),
        positions=entry.texts("positions"),
        start=entry.text("start"),
        edges=tuple(
            (where, tuple(_edge(pair, f"{at}.{where}[{n}]") for n, pair in enumerate(pairs)))
            for where, pairs in edges.items()
        ),
        source=entry.one("source", lambda e: Source(e.one_or_more("at"), e.text("group"), e.texts("on")))
        if entry.has("source")
        else None,
        moves=entry.many("moves", _move),
        load_break=entry.flag("load_break", True),
        pressure=entry.one("pressure", _pressure) if entry.has("pressure") else None,
        indicator=indicator,
        name=entry.text("name", entry.text("id")),
    )


def _pressure(entry: _Entry) -> Pressure:
    return Pressure(entry.text("from"), read_atom(entry.raw("ok"), entry.path("ok")))


def _lock(entry: _Entry) -> Lock:
    return Lock(entry.text("id"), entry.text("dev"), entry.text("code"), entry.texts("free_at"))


def _slot(entry: _Entry) -> Slot:
    return Slot(entry.text("id"), entry.text("code"))


def _exchange(entry: _Entry) -> Exchange:
    return Exchange(entry.text("id"), entry.many("in", _slot, required=True), entry.many("out", _slot, required=True))


def _opening(entry: _Entry) -> Opening:
    unless = read_atom(entry.raw("unless"), entry.path("unless")) if entry.has("unless") else None
    return Opening(entry.text("dev"), entry.texts("in"), entry.texts("reaches"), unless)


def _watch(entry: _Entry) -> BackfeedWatch:
    return BackfeedWatch(entry.texts("points"), entry.texts("groups"), entry.texts("sources", ()))


def _sentence(entry: _Entry) -> Sentence:
    return Sentence(entry.text("id"), read_atom(entry.raw("if"), entry.path("if")))


def _hold(entry: _Entry) -> Hold:
    before = read_atom(entry.raw("before"), entry.path("before")) if entry.has("before") else None
    condition = read_atom(entry.raw("if"), entry.path("if"))
    return Hold(entry.text("id"), condition, before, entry.flag("kept", False))


def _goal(entry: _Entry) -> Goal:
    goal = _sentence(entry)
    holds, back = entry.many("holds", _hold), entry.many("back", _hold)
    return Goal(goal.id, goal.condition, holds, entry.many("never", _sentence), back, entry.texts("unlocked", ()))


def write_machine(machine: Machine) -> dict[str, Any]:
    """Return the JSON object that `read_machine` reads as an equal machine; empty lists are left out."""
    data: dict[str, Any] = {
        "id": machine.id,
        "title": machine.title,
        "points": list(machine.points),
        "links": [
            {"between": list(k.between), "magnetic": True} if k.magnetic else list(k.between) for k in machine.links
        ],
        "devices": [_device_object(device) for device in machine.devices],
        "locks": [{"id": k.id, "dev": k.device, "code": k.code, "free_at": list(k.free_at)} for k in machine.locks],
        "exchanges": [
            {"id": x.id, "in": _slot_objects(x.inputs), "out": _slot_objects(x.outputs)} for x in machine.exchanges
        ],
        "keys": [{"id": key.id, "code": key.code, "start": key.start} for key in machine.keys],
        "tests": [{"id": t.id, "at": t.at, "guards": _guard_objects(t.guards)} for t in machine.tests],
        "stored": [{"id": s.id, "at": s.at, "drains": s.drains, "start": s.start} for s in machine.stores],
        "openings": [_opening_object(opening) for opening in machine.openings],
        "loads": list(machine.loads),
        "state_hazards": [{"id": s.id, "if": write_atom(s.condition)} for s in machine.state_hazards],
        "extra_sources": [{"id": s.id, "at": _one_or_more(s.at), "group": s.group} for s in machine.extra_sources],
        "goals": [_goal_object(goal) for goal in machine.goals],
    }
    watch = machine.no_backfeed
    if watch.points:
        data["no_backfeed"] = {"points": list(watch.points), "groups": list(watch.groups)}
        data["no_backfeed"] |= {"sources": list(watch.sources)} if watch.sources else {}
    if machine.safe is not None:
        data["safe"] = write_atom(machine.safe)
    return {name: value for name, value in data.items() if value or name in ("points", "devices")}


def _one_or_more(names: tuple[str, ...]) -> str | list[str]:
    return names[0] if len(names) == 1 else list(names)


def _slot_objects(slots: Sequence[Slot]) -> list[dict[str, str]]:
    return [{"id": slot.id, "code": slot.code} for slot in slots]


def _guard_objects(guards: Sequence[Guard]) -> list[dict[str, Any]]:
    return [{"id": guard.id, "by": guard.by, "if": write_atom(guard.condition)} for guard in guards]


def _hold_object(hold: Hold) -> dict[str, Any]:
    data: dict[str, Any] = {"id": hold.id, "if": write_atom(hold.condition)}
    if hold.before is not None:
        data["before"] = write_atom(hold.before)
    return {**data, "kept": True} if hold.kept else data


def _goal_object(goal: Goal) -> dict[str, Any]:
    data: dict[str, Any] = {"id": goal.id, "if": write_atom(goal.condition)}
    lists: dict[str, Sequence[Any]] = {
        "holds": [_hold_object(hold) for hold in goal.holds],
        "never": [{"id": s.id, "if": write_atom(s.condition)} for s in goal.never],
        "back": [_hold_object(hold) for hold in goal.back],
        "unlocked": list(goal.unlocked),
    }
    return data | {name: values for name, values in lists.items() if values}


def _opening_object(opening: Opening) -> dict[str, Any]:
    data: dict[str, Any] = {"dev": opening.device, "in": list(opening.positions), "reaches": list(opening.reaches)}
    return data if opening.unless is None else {**data, "unless": write_atom(opening.unless)}


def _device_object(device: Device) -> dict[str, Any]:
    data: dict[str, Any] = {
        "id": device.id,
        "kind": device.kind,
        "positions": list(device.positions),
        "start": device.start,
    }
    if device.edges:
        data["edges"] = {where: [list(pair) for pair in pairs] for where, pairs in device.edges}
    if device.source is not None:
        data["source"] = {
            "at": _one_or_more(device.source.at),
            "group": device.source.group,
            "on": list(device.source.on),
        }
    data["moves"] = [
        {"from": list(m.origins), "to": m.target, "guards": _guard_objects(m.guards)} for m in device.moves
    ]
    if not device.load_break:
        data["load_break"] = False
    if device.pressure is not None:
        data["pressure"] = {"from": device.pressure.origin, "ok": write_atom(device.pressure.relieved)}
    if device.indicator is not None:
        data["indicator"] = device.indicator
    if device.name != device.id:
        data["name"] = device.name
    return data
