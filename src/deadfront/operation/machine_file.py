"""Operation: a machine as a file. JSON objects in, a checked `Machine` out, and back."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, Literal, TypeVar, get_args

from deadfront.operation.atoms import AllOf, Atom, read_atom, write_atom
from deadfront.operation.checking import check
from deadfront.operation.errors import BrokenMachine, Located
from deadfront.operation.examining import initial_dangers
from deadfront.operation.json_places import DEEPEST, Places, places
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
from deadfront.project.errors import Problem, ProjectErrors, either, shortened
from deadfront.project.naming import named, suggestion
from deadfront.project.sources import LARGEST_FILE, Mark, Unreadable, decode, first_harmful, read_bytes
from deadfront.project.sources import Source as Text

T = TypeVar("T")
W = TypeVar("W", bound=str)


def load_machine(path: Path) -> Machine:
    """Read a machine from a JSON file.

    raises  ProjectErrors: no file that can be read, no JSON, no possible machine, one that is dangerous at the outset;
            everything that is wrong in one go. MachineTooLarge: it has more states than can be numbered
    """
    try:
        source = decode(str(path), read_bytes(path))
    except Unreadable as error:
        expected = f"a machine file of at most {LARGEST_FILE >> 20} MiB"
        remedy = "`deadfront access FILE --export OUT.json` writes one"
        raise ProjectErrors([Problem(str(path), 0, 0, "", expected, error.found, remedy)]) from None
    data, found = _parsed(source)
    try:
        machine = read_machine(data)
        findings = initial_dangers(machine)
        if findings:
            raise BrokenMachine(findings)
    except BrokenMachine as broken:
        raise ProjectErrors(_problems(source, found, broken.findings)) from None
    return machine


def _parsed(source: Text) -> tuple[Any, Places]:
    """The data of a JSON text and where each entry stands; ProjectErrors for text that is no plain JSON."""
    try:
        data = json.loads(source.text)
        found = places(source)
    except json.JSONDecodeError as error:
        mark, fault = Mark(error.lineno, error.colno), f"a fault: {error.msg[:1].lower()}{error.msg[1:]}"
        problem = source.problem(mark, "", expected="JSON that can be read", found=fault, remedy=_JSON)
        raise ProjectErrors([problem]) from None
    except RecursionError:
        raise ProjectErrors([_too_deep(source, Mark(1, 1))]) from None
    except ValueError as error:  # a whole number of thousands of digits
        fault = f"a fault: {error}"
        problem = source.problem(Mark(1, 1), "", expected="JSON that can be read", found=fault, remedy=_JSON)
        raise ProjectErrors([problem]) from None
    if found.too_deep is not None:
        raise ProjectErrors([_too_deep(source, found.too_deep)])
    if found.twice:
        raise ProjectErrors(
            source.problem(mark, path, expected="each entry once", found="a second one", remedy="delete one of the two")
            for path, mark in found.twice
        )
    return data, found


_JSON = 'names and text stand in double quotes, entries between commas: `{"id": "SW", "start": "closed"}`'


def _too_deep(source: Text, mark: Mark) -> Problem:
    expected = f"at most {DEEPEST} objects and lists within each other"
    return source.problem(mark, "", expected=expected, found="more", remedy="write the sentence with fewer brackets")


def _problems(source: Text, found: Places, findings: Sequence[Located]) -> list[Problem]:
    """The findings where they stand, in the order of the file."""
    problems = []
    for one in findings:
        near = one.path
        while near not in found.entries:
            near = near[: max(near.rfind("."), near.rfind("["), 0)]
        place = found.entries[near]
        mark = place.value if near == one.path and not one.at_key else place.key
        problems.append(source.problem(mark, one.path, expected=one.expected, found=one.found, remedy=one.remedy))
    return sorted(problems, key=lambda problem: (problem.line, problem.column))


def read_machine(data: Any) -> Machine:
    """Return the machine a JSON object describes; `expected` and `notes` in it are not read.

    Raises `BrokenMachine` with every place that is wrong: entries of the wrong form and unknown ones; where there are
    none, names that are used twice or are not there, positions that cannot be left, keys that fit nothing.
    """
    findings: list[Located] = []
    machine = _machine(_Entry(data, "", findings))
    findings = findings or check(machine)
    if findings:
        raise BrokenMachine(findings)
    return machine


class _Entry:
    """One JSON object with its path: hands out its entries by type, notes what has another, or nobody asked for.

    What is handed out for a wrong entry is empty; it is never looked at, since the machine is refused.
    """

    def __init__(self, data: Any, at: str, findings: list[Located]) -> None:
        self._at = at
        self._findings = findings
        self._sound = isinstance(data, dict)
        self._data: Mapping[str, Any] = data if isinstance(data, dict) else {}
        self._asked: dict[str, None] = {}
        if not self._sound:
            findings.append(Located(at, "an object", _found(data), "for example `{...}`, names and values in braces"))

    def path(self, name: str) -> str:
        return f"{self._at}.{name}" if self._at else name

    def has(self, name: str) -> bool:
        self._asked[name] = None
        return self._data.get(name) is not None

    def text(self, name: str, default: str | None = None) -> str:
        value = self._take(name, default)
        if isinstance(value, str) and value and first_harmful(value) is None:
            return value
        expected = "one line of characters that print" if isinstance(value, str) and value else "a name"
        return self.wrong(name, expected, value, f'"{_TEXT.get(name, "SW")}"', "")

    def word(self, name: str, words: Sequence[W]) -> W:
        value = self._take(name, None)
        for word in words:
            if value == word:
                return word
        return self.wrong(name, either(words), value, f'"{words[0]}"', words[0])

    def one_or_more(self, name: str) -> tuple[str, ...]:
        return self.texts(name) if isinstance(self._data.get(name), list) else (self.text(name),)

    def flag(self, name: str, default: bool | None = None) -> bool:
        value = self._take(name, default)
        return value if isinstance(value, bool) else self.wrong(name, "`true` or `false`", value, "true", False)

    def texts(self, name: str, default: Sequence[str] | None = None) -> tuple[str, ...]:
        value = self._take(name, default)
        if not isinstance(value, list | tuple):
            return self.wrong(name, "a list of names", value, _TEXTS.get(name, '["open"]'), ())
        for n, item in enumerate(value):
            if not isinstance(item, str) or not item or first_harmful(item) is not None:
                remedy = f'for example `"{name}": {_TEXTS.get(name, "[open]")}`'
                self._findings.append(Located(f"{self.path(name)}[{n}]", "a name", _found(item), remedy))
        return tuple(item for item in value if isinstance(item, str))

    def edge(self, name: str) -> Edge:
        return _edge(self._take(name, None), self.path(name), self._findings)

    def edges(self, name: str) -> tuple[tuple[str, tuple[Edge, ...]], ...]:
        value = self._take(name, {})
        if not isinstance(value, dict):
            return self.wrong(name, "positions, each with a list of edges", value, _EDGES, ())
        found = []
        for where, pairs in value.items():
            at = f"{self.path(name)}.{where}"
            if not isinstance(pairs, list):
                self._findings.append(Located(at, "a list of edges", _found(pairs), f'for example `"edges": {_EDGES}`'))
                continue
            found.append((where, tuple(_edge(pair, f"{at}[{n}]", self._findings) for n, pair in enumerate(pairs))))
        return tuple(found)

    def many(self, name: str, read: Callable[[_Entry], T], *, required: bool = False) -> tuple[T, ...]:
        value = self._take(name, None if required else [])
        if not isinstance(value, list):
            return self.wrong(name, "a list of objects", value, _MANY.get(name, "[{...}]"), ())
        return tuple(self._read(item, f"{self.path(name)}[{n}]", read) for n, item in enumerate(value))

    def one(self, name: str, read: Callable[[_Entry], T]) -> T | None:
        return self._read(self._data[name], self.path(name), read) if self.has(name) else None

    def atom(self, name: str) -> Atom:
        value = self._take(name, None)
        if value is None:
            return self.wrong(name, "a sentence", value, _SENTENCE, AllOf(()))
        try:
            return read_atom(value, self.path(name))
        except Located as finding:
            self._findings.append(finding)
            return AllOf(())

    def maybe_atom(self, name: str) -> Atom | None:
        return self.atom(name) if self.has(name) else None

    def links(self, name: str) -> tuple[Link, ...]:
        value = self._take(name, [])
        if not isinstance(value, list):
            return self.wrong(name, "a list of links", value, '[["S", "B"]]', ())
        return tuple(self._link(item, f"{self.path(name)}[{n}]") for n, item in enumerate(value))

    def _link(self, value: Any, at: str) -> Link:
        if isinstance(value, dict):
            return self._read(value, at, lambda e: Link(e.edge("between"), e.flag("magnetic", default=False)))
        return Link(_edge(value, at, self._findings), magnetic=False)

    def done(self, ignored: Sequence[str] = ()) -> None:
        for name in self._data:
            if name not in self._asked and name not in ignored:
                remedy = suggestion(name, self._asked, "its entries")
                where = f"an entry of `{self._at}`" if self._at else "an entry of a machine"
                self._findings.append(Located(self.path(name), where, named(name), remedy, at_key=True))

    def wrong(self, name: str, expected: str, value: Any, example: str, instead: T) -> T:
        """Note an entry of the wrong form; nothing more is noted inside what is no object."""
        if self._sound:
            remedy = f'for example `"{name}": {example}`'
            self._findings.append(Located(self.path(name), expected, _found(value), remedy))
        return instead

    def _read(self, item: Any, at: str, read: Callable[[_Entry], T]) -> T:
        entry = _Entry(item, at, self._findings)
        value = read(entry)
        entry.done(_IGNORED)
        return value

    def _take(self, name: str, default: Any) -> Any:
        self._asked[name] = None
        return self._data.get(name, default)


def _found(value: Any) -> str:
    if value is None or value == "":
        return "nothing"
    if isinstance(value, dict | list):
        return "an object" if isinstance(value, dict) else "a list"
    return f"`{shortened(json.dumps(value, ensure_ascii=True))}`"


_IGNORED = ("notes",)
_EDGES = '{"closed": [["S", "B"]]}'
_SENTENCE = '{"dev": "SW", "in": ["open"]}'
_TEXT = {
    "title": "one key",
    "kind": "switch",
    "start": "closed",
    "code": "A",
    "at": "B",
    "to": "open",
    "from": "in",
    "group": "utility",
}
_TEXTS = {
    "points": '["S", "B"]',
    "positions": '["closed", "open"]',
    "from": '["closed"]',
    "reaches": '["B"]',
    "loads": '["B"]',
    "at": '["B"]',
    "groups": '["generator"]',
    "on": '["on"]',
}
_MANY = {
    "devices": '[{"id": "SW", "kind": "switch", "positions": ["closed", "open"], "start": "closed"}]',
    "moves": '[{"from": ["closed"], "to": "open"}]',
    "guards": f'[{{"id": "needs SW", "by": "mechanical", "if": {_SENTENCE}}}]',
    "locks": '[{"id": "SW lock", "dev": "SW", "code": "A", "free_at": ["open"]}]',
    "exchanges": '[{"id": "X", "in": [{"id": "X A", "code": "A"}], "out": [{"id": "X B", "code": "B"}]}]',
    "in": '[{"id": "X A", "code": "A"}]',
    "out": '[{"id": "X B", "code": "B"}]',
    "keys": '[{"id": "A1", "code": "A", "start": "SW lock"}]',
    "tests": '[{"id": "VT", "at": "B"}]',
    "stored": '[{"id": "CAP", "at": "B", "drains": true, "start": true}]',
    "openings": '[{"dev": "DOOR", "in": ["open"], "reaches": ["B"]}]',
    "extra_sources": '[{"id": "trailer", "at": "B", "group": "portable"}]',
    "state_hazards": f'[{{"id": "locked in", "if": {_SENTENCE}}}]',
    "goals": f'[{{"id": "work", "if": {_SENTENCE}}}]',
    "holds": f'[{{"id": "H2", "if": {_SENTENCE}}}]',
    "back": f'[{{"id": "H11", "if": {_SENTENCE}}}]',
    "never": f'[{{"id": "never", "if": {_SENTENCE}}}]',
}
"""Values that would be right, by the entry's name."""


def _machine(entry: _Entry) -> Machine:
    machine = Machine(
        id=entry.text("id"),
        title=entry.text("title"),
        points=entry.texts("points"),
        links=entry.links("links"),
        devices=entry.many("devices", _device, required=True),
        locks=entry.many("locks", _lock),
        exchanges=entry.many("exchanges", _exchange),
        keys=entry.many("keys", lambda e: Key(e.text("id"), e.text("code"), e.text("start"))),
        tests=entry.many("tests", lambda e: ProvingPoint(e.text("id"), e.text("at"), e.many("guards", _guard))),
        stores=entry.many("stored", lambda e: Store(e.text("id"), e.text("at"), e.flag("drains"), e.flag("start"))),
        openings=entry.many("openings", _opening),
        loads=entry.texts("loads", ()),
        no_backfeed=entry.one("no_backfeed", _watch) or BackfeedWatch((), ()),
        state_hazards=entry.many("state_hazards", _sentence),
        extra_sources=entry.many(
            "extra_sources", lambda e: ExtraSource(e.text("id"), e.one_or_more("at"), e.text("group"))
        ),
        goals=entry.many("goals", _goal),
        safe=entry.maybe_atom("safe"),
    )
    entry.done((*_IGNORED, "expected"))
    return machine


def _edge(value: Any, at: str, findings: list[Located]) -> Edge:
    if isinstance(value, list | tuple) and len(value) == 2 and all(isinstance(end, str) for end in value):
        return value[0], value[1]
    found = f"a list of {len(value)}" if isinstance(value, list) and len(value) != 2 else _found(value)
    findings.append(Located(at, "the names of two points", found, 'for example `["S", "B"]`'))
    return "", ""


def _guard(entry: _Entry) -> Guard:
    by: tuple[By, ...] = get_args(By)
    return Guard(entry.text("id"), entry.word("by", by), entry.atom("if"))


def _move(entry: _Entry) -> Move:
    return Move(entry.texts("from"), entry.text("to"), entry.many("guards", _guard))


_INDICATORS: tuple[Literal["shaft", "handle"], ...] = ("shaft", "handle")


def _device(entry: _Entry) -> Device:
    name = entry.text("id")
    return Device(
        id=name,
        kind=entry.text("kind"),
        positions=entry.texts("positions"),
        start=entry.text("start"),
        edges=entry.edges("edges"),
        source=entry.one("source", lambda e: Source(e.one_or_more("at"), e.text("group"), e.texts("on"))),
        moves=entry.many("moves", _move),
        load_break=entry.flag("load_break", default=True),
        pressure=entry.one("pressure", lambda e: Pressure(e.text("from"), e.atom("ok"))),
        indicator=entry.word("indicator", _INDICATORS) if entry.has("indicator") else None,
        name=entry.text("name", default=name) if entry.has("name") else name,
    )


def _lock(entry: _Entry) -> Lock:
    return Lock(entry.text("id"), entry.text("dev"), entry.text("code"), entry.texts("free_at"))


def _slot(entry: _Entry) -> Slot:
    return Slot(entry.text("id"), entry.text("code"))


def _exchange(entry: _Entry) -> Exchange:
    return Exchange(entry.text("id"), entry.many("in", _slot, required=True), entry.many("out", _slot, required=True))


def _opening(entry: _Entry) -> Opening:
    return Opening(entry.text("dev"), entry.texts("in"), entry.texts("reaches"), entry.maybe_atom("unless"))


def _watch(entry: _Entry) -> BackfeedWatch:
    return BackfeedWatch(entry.texts("points"), entry.texts("groups"), entry.texts("sources", ()))


def _sentence(entry: _Entry) -> Sentence:
    return Sentence(entry.text("id"), entry.atom("if"))


def _hold(entry: _Entry) -> Hold:
    return Hold(entry.text("id"), entry.atom("if"), entry.maybe_atom("before"), entry.flag("kept", default=False))


def _goal(entry: _Entry) -> Goal:
    goal = _sentence(entry)
    holds, back = entry.many("holds", _hold), entry.many("back", _hold)
    return Goal(
        goal.id,
        goal.condition,
        holds,
        entry.many("never", _sentence),
        back,
        entry.texts("unlocked", ()),
        entry.texts("place", ()),
    )


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
        "place": list(goal.place),
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
