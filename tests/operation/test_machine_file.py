"""Operation: a machine file is read, written and refused as its form says."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import pytest
from published import CASES
from test_traps import two_way

from deadfront.operation.errors import BrokenMachine
from deadfront.operation.machine_file import load_machine, read_machine, write_machine


@pytest.mark.parametrize("name", CASES)
def test_a_written_machine_reads_as_the_same_machine(name: str):
    """Every published case survives being written and read."""
    machine = read_machine(CASES[name])
    assert read_machine(json.loads(json.dumps(write_machine(machine)))) == machine


def test_a_machine_with_every_entry_survives_being_written():
    """Magnetic links, hold points, `never`, `back`, `safe`, `unless`, indicators and stores are all kept."""
    case = two_way(links=[{"between": ["B", "C"], "magnetic": True}], safe={"dev": "DOOR", "in": ["closed"]})
    case["openings"][0]["unless"] = {"earthed": "C"}
    case["stored"] = [{"id": "Q", "at": "C", "drains": True, "start": False}]
    case["devices"][1] |= {"indicator": "shaft", "pressure": {"from": "closed", "ok": {"tested": "C"}}}
    hold = {"id": "H3", "if": {"tested": "C"}, "before": {"dev": "DOOR", "in": ["open"]}, "kept": True}
    goal = {
        "id": "look",
        "if": {"dev": "DOOR", "in": ["open"]},
        "holds": [hold],
        "back": [{"id": "H11", "if": {"all": []}}],
    }
    case["goals"] = [goal | {"never": [{"id": "charged", "if": {"not": {"discharged": "Q"}}}]}]
    machine = read_machine(case)
    assert write_machine(machine)["goals"] == case["goals"]
    assert read_machine(write_machine(machine)) == machine


def changed(path: list[Any], value: Any) -> dict[str, Any]:
    """The small machine of the traps with one entry replaced, added or (with `...`) removed."""
    case = copy.deepcopy(two_way())
    case["locks"] = [{"id": "L", "dev": "S1", "code": "K", "free_at": ["open"]}]
    case["keys"] = [{"id": "K1", "code": "K", "start": "L"}]
    at: Any = case
    for step in path[:-1]:
        at = at[step]
    if value is ...:
        del at[path[-1]]
    else:
        at[path[-1]] = value
    return case


SENTENCES = (
    '{"dev", "in"}, {"blade", "in"}, {"lock", "has_key"}, {"key"}, {"tested"}, {"dead"}, {"earthed"}, {"discharged"}, '
    '{"any"}, {"all"}, {"not"}'
)

REFUSED = [
    (["id"], ..., "id: expected a value, got nothing"),
    (["points"], "S", "points: expected a list of names, got 'S'"),
    (
        ["extra"],
        1,
        "extra: unknown entry, expected one of: devices, exchanges, extra_sources, goals, id, keys, links, loads, "
        "locks, no_backfeed, openings, points, safe, state_hazards, stored, tests, title",
    ),
    (["devices", 0], 3, "devices[0]: expected an object, got 3"),
    (
        ["devices", 1, "start"],
        "shut",
        "devices[1].start: unknown position of S1 'shut', expected one of: closed, open, earthed",
    ),
    (["devices", 1, "edges", "closed", 0], ["S"], "devices[1].edges.closed[0]: expected two points, got ['S']"),
    (
        ["devices", 1, "edges", "closed", 0],
        ["S", "X"],
        "devices[1].edges.closed[0]: unknown point 'X', expected one of: S, B, C",
    ),
    (["devices", 1, "load_break"], "no", "devices[1].load_break: expected true or false, got 'no'"),
    (["devices", 1, "indicator"], "lamp", "devices[1].indicator: expected shaft or handle, got 'lamp'"),
    (
        ["devices", 3, "moves"],
        [{"from": ["closed"], "to": "open"}],
        "devices[3].moves: DOOR can be brought to 'open' and never leave it",
    ),
    (
        ["devices", 3, "moves", 0, "guards"],
        [{"id": "g", "by": "luck", "if": {"dead": "B"}}],
        "devices[3].moves[0].guards[0].by: expected one of mechanical, key, tool, access, rule, got 'luck'",
    ),
    (
        ["devices", 3, "moves", 0, "guards"],
        [{"id": "g", "by": "rule", "if": {"alive": "B"}}],
        f"devices[3].moves[0].guards[0].if: expected one of {SENTENCES}, got {{'alive': 'B'}}",
    ),
    (
        ["devices", 3, "moves", 0, "guards"],
        [{"id": "g", "by": "rule", "if": {"tested": "B"}}],
        "devices[3].moves[0].guards[0].if: nothing can prove 'B' dead: no test point is at it",
    ),
    (
        ["devices", 3, "moves", 0, "guards"],
        [{"id": "g", "by": "rule", "if": {"dev": "GATE", "in": ["open"]}}],
        "devices[3].moves[0].guards[0].if: unknown device 'GATE', expected one of: U, S1, S2, DOOR",
    ),
    (["openings", 0, "dev"], "HATCH", "openings[0].dev: unknown device 'HATCH', expected one of: U, S1, S2, DOOR"),
    (["openings", 0, "in"], ["ajar"], "openings[0].in: unknown position of DOOR 'ajar', expected one of: closed, open"),
    (["links"], [["S", "E"]], "links[0]: a link to earth would earth the point for ever; use a device"),
    (["links"], [["S", "S"]], "links[0]: an edge from 'S' to itself connects nothing"),
    (
        ["keys", 0, "code"],
        "M",
        "locks[0].code: no key has the code 'K': S1 can never move\n"
        "keys[0].start: the key K1 of code 'M' does not fit L, whose code is 'K'",
    ),
    (
        ["keys"],
        [{"id": "K1", "code": "K", "start": "L"}, {"id": "Z", "code": "Z", "start": "hand"}],
        "keys[1].code: the key Z fits nothing: no lock, exchange or guard has the code 'Z'",
    ),
    (
        ["keys"],
        [{"id": "K1", "code": "K", "start": "L"}, {"id": "K2", "code": "K", "start": "L"}],
        "keys[1].start: L holds two keys",
    ),
    (["keys", 0, "start"], "drawer", "keys[0].start: unknown lock or slot 'drawer', expected one of: hand, L"),
    (["locks", 0, "dev"], "S9", "locks[0].dev: unknown device 'S9', expected one of: U, S1, S2, DOOR"),
    (
        ["exchanges"],
        [{"id": "X", "in": [], "out": [{"id": "o", "code": "K"}]}],
        "exchanges[0]: an exchange needs at least one input and one output",
    ),
    (["tests", 0, "at"], "Z", "tests[0].at: unknown point 'Z', expected one of: S, B, C"),
    (["points"], ["S", "B", "C", "C"], "points: the name 'C' is used twice"),
]


@pytest.mark.parametrize(("path", "value", "sentence"), REFUSED, ids=[str(n) for n in range(len(REFUSED))])
def test_an_impossible_machine_is_refused_where_it_is_wrong(path: list[Any], value: Any, sentence: str):
    """Each wrong entry is named by its path, with what was expected and what was found."""
    with pytest.raises(BrokenMachine) as error:
        read_machine(changed(path, value))
    assert str(error.value) == sentence


def test_two_guards_of_one_name_must_be_one_guard():
    """A defeated guard is one thing; the same name for two conditions is refused."""
    case = changed(["title"], "t")
    case["devices"][3]["moves"][0]["guards"] = [{"id": "g", "by": "rule", "if": {"dead": "B"}}]
    case["devices"][3]["moves"][1]["guards"] = [{"id": "g", "by": "rule", "if": {"dead": "C"}}]
    with pytest.raises(BrokenMachine) as error:
        read_machine(case)
    assert str(error.value) == (
        "devices[3].moves[1].guards[0].id: 'g' already names another guard; a defeated guard must be one thing"
    )


def test_a_file_that_is_no_json_is_refused(tmp_path: Path):
    """A broken file is one sentence with its name, not a traceback."""
    path = tmp_path / "machine.json"
    path.write_text("{", encoding="utf-8")
    with pytest.raises(BrokenMachine) as error:
        load_machine(path)
    assert str(error.value) == (
        "machine.json: expected JSON text, got a fault in it: Expecting property name enclosed in double quotes: "
        "line 1 column 2 (char 1)"
    )


def test_a_machine_that_is_dangerous_at_the_outset_is_refused(tmp_path: Path):
    """A door that stands open on a live part before anybody moves: nothing could be shown from there."""
    case = two_way()
    case["devices"][3]["start"] = "open"
    path = tmp_path / "machine.json"
    path.write_text(json.dumps(case), encoding="utf-8")
    with pytest.raises(BrokenMachine) as error:
        load_machine(path)
    assert str(error.value) == "devices: the initial state is already dangerous: a live part can be reached"
    case["devices"][3]["start"] = "closed"
    path.write_text(json.dumps(case), encoding="utf-8")
    assert load_machine(path).id == "two ways"
