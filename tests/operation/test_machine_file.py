"""Operation: a machine file is read, written and refused as its form says."""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from published import CASES
from test_traps import two_way

from deadfront.operation.errors import BrokenMachine
from deadfront.operation.examining import initial_dangers
from deadfront.operation.machine_file import load_machine, read_machine, write_machine
from deadfront.project.errors import ProjectErrors

STRANGE = st.one_of(
    st.none(),
    st.booleans(),
    st.integers() | st.floats(),
    st.text(max_size=6),
    st.sampled_from(["S", "B", "E", "hand", "open", "closed", "earthed", "DOOR", "K", "rule"]),
    st.just([]) | st.just({}) | st.just([[]]) | st.just([{}]) | st.just({"not": {"dead": "B"}}),
)


def entries(part: object, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Paths of all entries below a part."""
    inner = part.items() if isinstance(part, dict) else enumerate(part) if isinstance(part, list) else ()
    for key, value in inner:
        yield (*path, key)
        yield from entries(value, (*path, key))


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


REFUSED = json.loads(Path(__file__).with_name("machine-refusals.json").read_text(encoding="utf-8"))
"""What is put where in the small machine (nothing: the entry is taken out), and every sentence with its help."""


@pytest.mark.parametrize("row", REFUSED, ids=[str(n) for n in range(len(REFUSED))])
def test_an_impossible_machine_is_refused_where_it_is_wrong(row: dict[str, Any]):
    """Each wrong entry is named by its path, with what was expected, what was found, and what would be right."""
    with pytest.raises(BrokenMachine) as error:
        read_machine(changed(row["at"], row.get("put", ...)))
    assert [[str(one), one.remedy] for one in error.value.findings] == row["says"]


def test_two_guards_of_one_name_must_be_one_guard():
    """A defeated guard is one thing; the same name for two conditions is refused."""
    case = changed(["title"], "t")
    case["devices"][3]["moves"][0]["guards"] = [{"id": "g", "by": "rule", "if": {"dead": "B"}}]
    case["devices"][3]["moves"][1]["guards"] = [{"id": "g", "by": "rule", "if": {"dead": "C"}}]
    with pytest.raises(BrokenMachine) as error:
        read_machine(case)
    assert str(error.value) == (
        "devices[3].moves[1].guards[0].id: expected a name that no other guard has, got `g`, which is another guard "
        "already; one that fails must be one thing"
    )


def written(tmp_path: Path, data: Any) -> Path:
    """A machine file with the data, or with the text, on the disk."""
    path = tmp_path / "machine.json"
    path.write_text(data if isinstance(data, str) else json.dumps(data, indent=1), encoding="utf-8")
    return path


def refusal(path: Path) -> str:
    """What is said of a machine file, without its folder."""
    with pytest.raises(ProjectErrors) as error:
        load_machine(path)
    return str(error.value).replace(f"{path.parent}/", "")


JSON_HELP = (
    'help: names and text stand in double quotes, entries between commas: `{"id":\n    "SW", "start": "closed"}`'
)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (
            "{",
            "machine.json:1:2\n    {\n     ^\nexpected JSON that can be read, got a fault: expecting property name "
            f"enclosed in\n    double quotes\n\n{JSON_HELP}",
        ),
        (
            '{"id": "m",\n "title": "t" "points": []}',
            'machine.json:2:15\n    "title": "t" "points": []}\n                 ^\nexpected JSON that can be read, '
            f"got a fault: expecting ',' delimiter\n\n{JSON_HELP}",
        ),
        (
            '{"id": "m",\n "id": "n"}',
            'machine.json:2:2  id\n    "id": "n"}\n    ^^^^\nexpected each entry once, got a second one\n\n'
            "help: delete one of the two",
        ),
    ],
    ids=["half", "comma", "twice"],
)
def test_text_that_is_no_plain_json_is_refused_where_it_ends_to_be(text: str, says: str, tmp_path: Path):
    """Line, column, and what the reader met there."""
    assert refusal(written(tmp_path, text)) == says


def test_a_deep_machine_is_refused_at_its_first_bracket_too_many(tmp_path: Path):
    """Sixty-four brackets are more than any sentence needs; a thousand do not break the reader."""
    deep = {"dead": "B"}
    for _ in range(900):
        deep = {"not": deep}
    said = refusal(written(tmp_path, json.dumps(changed(["safe"], deep))))
    assert "expected at most 64 objects and lists within each other, got more" in said
    assert said.startswith("machine.json:1:")


def test_every_wrong_form_of_a_machine_file_is_said_in_one_run_with_its_place(tmp_path: Path):
    """Three faults of form, each at its line and column, in the order of the file."""
    case = changed(["devices", 0, "kind"], ...)
    case["devices"][1] |= {"start": 5, "colour": "red"}
    path = written(tmp_path, case)
    lines = path.read_text(encoding="utf-8").splitlines()
    start = next(n for n, line in enumerate(lines, start=1) if '"start": 5' in line)
    colour = next(n for n, line in enumerate(lines, start=1) if '"colour"' in line)
    device = next(n for n, line in enumerate(lines, start=1) if '"devices"' in line) + 1
    said = refusal(path)
    assert [line for line in said.splitlines() if line.startswith("machine.json:")] == [
        f"machine.json:{device}:3  devices[0].kind",
        f"machine.json:{start}:13  devices[1].start",
        f"machine.json:{colour}:4  devices[1].colour",
    ]
    assert 'expected a name, got `5`\n\nhelp: for example `"start": "closed"`' in said


def test_a_machine_that_is_dangerous_at_the_outset_is_refused(tmp_path: Path):
    """A door that stands open on a live part before anybody moves: nothing could be shown from there."""
    case = two_way()
    case["devices"][3]["start"] = "open"
    said = refusal(written(tmp_path, case))
    assert "  devices[3].start\n" in said
    assert (
        "expected a state in service from which one may start, got one in which a live part can be reached "
        "(live: S, B, C; earthed: nothing; open: DOOR) help:"
    ) in " ".join(said.split())
    case["devices"][3]["start"] = "closed"
    assert load_machine(written(tmp_path, case)).id == "two ways"


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_no_corruption_of_a_machine_goes_through_the_floor(data):
    """One to three entries changed to anything: refused with places, or a machine that can be examined."""
    case = json.loads(json.dumps(CASES[data.draw(st.sampled_from(["C01", "C08", "C12", "C16", "C22"]))]))
    case.pop("expected", None)
    for _ in range(data.draw(st.integers(1, 3))):
        path = data.draw(st.sampled_from(list(entries(case))))
        inside = case
        for key in path[:-1]:
            inside = inside[key]
        if data.draw(st.booleans()):
            inside[path[-1]] = data.draw(STRANGE)
        else:
            inside.pop(path[-1])
        if not list(entries(case)):
            break
    try:
        machine = read_machine(case)
    except BrokenMachine as broken:
        found = [(one.expected, one.found, str(one)) for one in broken.findings]
        assert found
        assert all(map(all, found))
    else:
        initial_dangers(machine)
        assert read_machine(json.loads(json.dumps(write_machine(machine)))) == machine
