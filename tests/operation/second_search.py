"""Tests: a second search over a machine, with graph objects and dictionaries, sharing no code with the room."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import networkx

Case = dict[str, Any]
STUCK_KINDS = ("switch", "breaker")


@dataclass(frozen=True)
class State:
    """Positions by device, place by key, charge by store, proved-dead mark by test; all as sorted tuples of pairs."""

    at: tuple[tuple[str, str], ...]
    keys: tuple[tuple[str, str], ...]
    charged: frozenset[str]
    proved: frozenset[str]


class Second:
    """One machine in one mode with a set of failures; `graph` is every state reached and every move between them."""

    def __init__(self, case: Case, mode: str, failures: tuple[str, ...] = ()) -> None:
        self.case, self.mode, self.failures = case, mode, set(failures)
        self.devices = [dict(device) for device in case["devices"]]
        self.keys = [dict(key) for key in case.get("keys", [])]
        for name in failures:
            kind, _, what = name.partition(":")
            if kind == "dupkey":
                self.keys.append({"id": f"copy of {what}", "code": what, "start": "hand"})
            if kind == "source":
                extra = next(s for s in case["extra_sources"] if s["id"] == what)
                source = {"at": extra["at"], "group": extra["group"], "on": ["on"]}
                moves = [{"from": ["off"], "to": "on"}, {"from": ["on"], "to": "off"}]
                self.devices.append(
                    {
                        "id": what,
                        "kind": "source",
                        "positions": ["off", "on"],
                        "start": "off",
                        "source": source,
                        "moves": moves,
                    }
                )
        self.code = {key["id"]: key["code"] for key in self.keys}
        self.locks = {lock["id"]: lock for lock in case.get("locks", [])}
        self.slots = {lock["id"]: lock["code"] for lock in self.locks.values()}
        for exchange in case.get("exchanges", []):
            self.slots |= {slot["id"]: slot["code"] for slot in exchange["in"] + exchange["out"]}
        self.known: dict[tuple[tuple[str, str], ...], tuple[dict[str, bool], ...]] = {}
        self.electric = [d["id"] for d in self.devices if d.get("edges") or d.get("source")]
        self.start = self.settled(
            State(
                tuple((d["id"], d["start"]) for d in self.devices),
                tuple((k["id"], k["start"]) for k in self.keys),
                frozenset(s["id"] for s in case.get("stored", []) if s["start"]),
                frozenset(),
            )
        )

    def blade(self, device: dict[str, Any], at: dict[str, str]) -> str:
        """Where the contacts of a device are."""
        stuck = f"stuck:{device['id']}" in self.failures
        return device["start"] if stuck else at[device["id"]]

    def electricity(self, at: dict[str, str]) -> Any:
        """Live and earthed by point, energised by point, component by point, fault, parallel, back-feed."""
        key = tuple((name, at[name]) for name in self.electric)
        if key not in self.known:
            self.known[key] = self._electricity(at)
        return self.known[key]

    def _electricity(self, at: dict[str, str]) -> Any:
        net = networkx.Graph()
        net.add_nodes_from(self.case["points"])
        net.add_edges_from(link[:2] for link in self.case.get("links", []))
        on_earth, fed, names = set(), {}, {}
        for device in self.devices:
            for a, b in (device.get("edges") or {}).get(self.blade(device, at), []):
                if "E" in (a, b):
                    on_earth.add(b if a == "E" else a)
                else:
                    net.add_edge(a, b)
            source = device.get("source")
            if source and at[device["id"]] in source["on"]:
                fed.setdefault(source["at"], set()).add(source["group"])
                names.setdefault(source["at"], set()).add((device["id"], source["group"]))
        live, earthed, energised, part = {}, {}, {}, {}
        fault = parallel = backfeed = False
        listed = self.case.get("no_backfeed") or {"points": [], "groups": []}
        for component in networkx.connected_components(net):
            groups = set().union(*(fed.get(p, set()) for p in component))
            grounded = bool(component & on_earth)
            for p in component:
                live[p], earthed[p], energised[p], part[p] = (
                    bool(groups) and not grounded,
                    grounded,
                    bool(groups),
                    component,
                )
            fault |= bool(groups) and grounded
            parallel |= len(groups) > 1
            watched = bool(component & set(listed["points"]))
            backfeed |= watched and bool(groups & set(listed["groups"]))
            joined = set().union(*(names.get(p, set()) for p in component))
            alone = {group for name, group in joined if name in listed.get("sources", [])}
            steady = {group for name, group in joined if name not in listed.get("sources", [])}
            backfeed |= watched and bool(alone - steady)
        return live, earthed, energised, part, fault, parallel, backfeed

    def settled(self, state: State) -> State:
        """The state after stores have filled or emptied."""
        live, earthed, *_ = self.electricity(dict(state.at))
        charged = set(state.charged)
        for store in self.case.get("stored", []):
            if live[store["at"]]:
                charged.add(store["id"])
            elif earthed[store["at"]]:
                charged.discard(store["id"])
        return State(state.at, state.keys, frozenset(charged), state.proved)

    def holds(self, atom: dict[str, Any], state: State) -> bool:
        """Whether a sentence is true in a state."""
        at, place = dict(state.at), dict(state.keys)
        live, earthed, _, _, fault, *_ = self.electricity(at)
        match atom:
            case {"dev": dev, "in": positions}:
                return at[dev] in positions
            case {"blade": dev, "in": positions}:
                return self.blade(next(d for d in self.devices if d["id"] == dev), at) in positions
            case {"lock": lock, "has_key": wanted}:
                return (lock in place.values()) == wanted
            case {"key": code}:
                return any(place[k] == "hand" and self.code[k] == code for k in place)
            case {"tested": point}:
                return any(t["at"] == point and t["id"] in state.proved for t in self.case["tests"])
            case {"dead": point}:
                return not live[point] and not fault
            case {"earthed": point}:
                return earthed[point]
            case {"discharged": store}:
                return store not in state.charged
            case {"any": atoms}:
                return any(self.holds(a, state) for a in atoms)
            case {"all": atoms}:
                return all(self.holds(a, state) for a in atoms)
            case {"not": inner}:
                return not self.holds(inner, state)
        raise AssertionError(atom)

    def allowed(self, guards: list[dict[str, Any]], state: State) -> bool:
        """Whether all guards that bind in this mode let a move pass."""
        for guard in guards:
            if guard["by"] == "rule" and self.mode == "hands":
                continue
            if f"defeat:{guard['id']}" in self.failures:
                continue
            if not self.holds(guard["if"], state):
                return False
        return True

    def next(self, state: State) -> Iterator[tuple[str, State, frozenset[str]]]:
        """Each move that is possible: its text, the state after it, the hazards it raises."""
        at, place = dict(state.at), dict(state.keys)
        for device in self.devices:
            name = device["id"]
            if f"stuck:{name}" in self.failures and device.get("indicator") == "shaft":
                continue
            if any(
                lock["dev"] == name
                and lock["id"] not in place.values()
                and f"lockbolt:{lock['id']}" not in self.failures
                for lock in self.locks.values()
            ):
                continue
            for move in device.get("moves", []):
                if at[name] in move["from"] and self.allowed(move.get("guards", []), state):
                    after = tuple((d, move["to"] if d == name else p) for d, p in state.at)
                    proved = frozenset() if name in self.electric else state.proved
                    yield self.judged(
                        f"{name}: {at[name]}->{move['to']}",
                        state,
                        State(after, state.keys, state.charged, proved),
                        device,
                    )
        for key, where in place.items():
            for slot, code in self.slots.items():
                if (where == slot and self.leaves(slot, at, place)) or (
                    where == "hand" and code == self.code[key] and slot not in place.values()
                ):
                    there = "hand" if where == slot else slot
                    keys = tuple((k, there if k == key else p) for k, p in state.keys)
                    yield self.judged(
                        f"key {key}: {where}->{there}", state, State(state.at, keys, state.charged, state.proved), None
                    )
        live, *_ = self.electricity(at)
        for test in self.case.get("tests", []):
            reads_dead = (not live[test["at"]]) or f"indicator:{test['id']}" in self.failures
            if test["id"] not in state.proved and reads_dead and self.allowed(test.get("guards", []), state):
                yield self.judged(
                    f"test {test['id']}",
                    state,
                    State(state.at, state.keys, state.charged, state.proved | {test["id"]}),
                    None,
                )
        for store in self.case.get("stored", []):
            bleeds = store["drains"] and f"bleed:{store['id']}" not in self.failures
            if store["id"] in state.charged and bleeds and not live[store["at"]]:
                yield self.judged(
                    f"wait {store['id']}",
                    state,
                    State(state.at, state.keys, state.charged - {store["id"]}, state.proved),
                    None,
                )

    def leaves(self, slot: str, at: dict[str, str], place: dict[str, str]) -> bool:
        """Whether a key may leave its slot."""
        if slot in self.locks:
            return f"lockrelease:{slot}" in self.failures or at[self.locks[slot]["dev"]] in self.locks[slot]["free_at"]
        taken = set(place.values())
        for exchange in self.case.get("exchanges", []):
            ins, outs = {s["id"] for s in exchange["in"]}, {s["id"] for s in exchange["out"]}
            if slot in ins:
                return outs <= taken
            if slot in outs:
                return ins <= taken
        return True

    def conditions(self, state: State) -> set[str]:
        """What is wrong with a state."""
        at = dict(state.at)
        live, earthed, _, part, fault, parallel, backfeed = self.electricity(at)
        reached = [p for o in self.case.get("openings", []) if at[o["dev"]] in o["in"] for p in o["reaches"]]
        charged = {s["at"] for s in self.case.get("stored", []) if s["id"] in state.charged}
        found = {f"person {h['id']}" for h in self.case.get("state_hazards", []) if self.holds(h["if"], state)}
        found |= {"exposed"} if any(live[p] for p in reached) else set()
        found |= {"charge"} if any(not live[p] and not earthed[p] and part[p] & charged for p in reached) else set()
        found |= {"fault"} if fault else set()
        found |= {"parallel"} if parallel else set()
        found |= {"backfeed"} if backfeed else set()
        return found

    def judged(
        self, text: str, before: State, raw: State, device: dict[str, Any] | None
    ) -> tuple[str, State, frozenset[str]]:
        """A move with the hazards it raises."""
        after = self.settled(raw)
        new = self.conditions(after) - self.conditions(before)
        opening = device is not None and any(o["dev"] == device["id"] for o in self.case.get("openings", []))
        kinds = {"PERSON" for c in new if c.startswith("person")}
        kinds |= {
            {"charge": "EXP_CHARGE", "parallel": "PARALLEL", "backfeed": "BACKFEED"}[c]
            for c in new & {"charge", "parallel", "backfeed"}
        }
        if "exposed" in new:
            kinds.add("EXP_OPEN" if opening else "EXP_CLOSE")
        if device is not None:
            position = dict(after.at)[device["id"]]
            if "fault" in new:
                edges = (device.get("edges") or {}).get(position, [])
                kinds.add("EARTH_LIVE" if any("E" in e for e in edges) else "LIVE_EARTH")
            one, two = self.electricity(dict(before.at))[2], self.electricity(dict(after.at))[2]
            if not device.get("load_break", True) and any(one[p] != two[p] for p in self.case.get("loads", [])):
                kinds.add("LOAD")
            pressure = device.get("pressure")
            if (
                pressure
                and dict(before.at)[device["id"]] == pressure["from"]
                and not self.holds(pressure["ok"], before)
            ):
                kinds.add("FUSE_PRESS")
        return text, after, frozenset(kinds)

    def explored(self, *, through_hazards: bool = True) -> networkx.MultiDiGraph:
        """Every state and move that can be reached."""
        graph = networkx.MultiDiGraph()
        graph.add_node(self.start)
        waiting = [self.start]
        for state in waiting:
            for text, after, kinds in self.next(state):
                if kinds and not through_hazards:
                    continue
                if after not in graph:
                    waiting.append(after)
                graph.add_edge(state, after, move=text, kinds=kinds)
        return graph

    def answer(self) -> dict[str, Any]:
        """States, transitions, depth, hazards with their shortest length, states when no hazardous move is taken."""
        graph = self.explored()
        far = networkx.single_source_shortest_path_length(graph, self.start)
        lengths: dict[str, int] = {}
        for before, _, data in graph.edges(data=True):
            for kind in data["kinds"]:
                lengths[kind] = min(lengths.get(kind, 10**9), far[before] + 1)
        return {
            "states": len(graph),
            "transitions": graph.number_of_edges(),
            "depth": max(far.values()),
            "states_hazard_free": len(self.explored(through_hazards=False)),
            "hazards": lengths,
        }
