"""Operation: independent sub-plants are explored apart, and the answer is that of the whole."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest
from published import CASES
from random_machines import LONE_SOURCE

from deadfront.operation.building import build
from deadfront.operation.examining import examine
from deadfront.operation.failures import break_all, explore_broken, single_failures
from deadfront.operation.machine import MODES, Mode
from deadfront.operation.machine_file import read_machine
from deadfront.operation.search import explore
from deadfront.operation.splitting import split

LISTS = (
    "points",
    "links",
    "devices",
    "locks",
    "exchanges",
    "keys",
    "tests",
    "stored",
    "openings",
    "loads",
    "state_hazards",
)


def side_by_side(*names: str) -> dict[str, Any]:
    """Several published stations in one machine, every name marked with the station it comes from."""
    whole: dict[str, Any] = {"id": "side by side", "title": "several stations", **{part: [] for part in LISTS}}
    for name in names:
        case = {part: CASES[name].get(part, []) for part in LISTS}
        words = {d["id"] for d in case["devices"]} | set(case["points"]) | {k["id"] for k in case["keys"]}
        words |= {k["code"] for k in case["keys"]} | {lock["id"] for lock in case["locks"]}
        words |= {t["id"] for t in case["tests"]} | {s["id"] for s in case["stored"]}
        words |= {s["id"] for x in case["exchanges"] for s in x["in"] + x["out"]}
        text = json.dumps(case)
        for word in words:
            text = re.sub(f'"{word}"(?!:)', f'"{name} {word}"', text)
        text = re.sub(r'("id": ")(?!C\d\d )', rf"\g<1>{name} ", text)
        for part, entries in json.loads(text).items():
            whole[part] += entries
    return whole


@pytest.mark.parametrize("mode", MODES)
def test_sub_plants_multiply_to_what_the_whole_search_finds(mode: Mode):
    """Three stations side by side: states, transitions, depth and sequences of the whole equal those put together."""
    machine = read_machine(side_by_side("C11", "C14", "C02"))
    assert len(split(machine)) == 3
    found, whole = examine(machine, mode), explore(build(machine, mode))
    assert (found.states, found.transitions, found.depth) == (whole.states, whole.transitions, whole.depth)
    assert found.states == 4 * 10 * 40
    assert found.states_hazard_free == explore(whole.plant, through_dangers=False).states
    texts = {kind: tuple(whole.plant.moves[m].text for m in whole.sequence(kind)) for kind in whole.dangers}
    assert found.sequences == texts


@pytest.mark.parametrize("mode", MODES)
def test_failures_of_sub_plants_are_those_of_the_whole(mode: Mode):
    """Single failures and pairs, also pairs across sub-plants: states and hazards equal a search of the whole."""
    machine = read_machine(side_by_side("C11", "C14"))
    broken = break_all(machine, mode, pairs=True)
    names = single_failures(machine)
    pairs = [("dupkey:C14 A", "defeat:C11 door_switch"), ("lockbolt:C14 L_SW", "lockrelease:C14 L_D")]
    for members in [(name,) for name in names] + [pair for pair in pairs if set(pair) <= set(names)]:
        whole = explore_broken(machine, mode, members)
        reach = broken.reaches[frozenset(members)]
        assert reach.states == whole.states
        assert reach.dangers == {kind: danger.length for kind, danger in whole.dangers.items()}
    assert set(pairs[0]) <= set(names)


def test_proved_dead_marks_hold_a_plant_together():
    """A test point anywhere joins all electrical parts, since any electrical move clears its mark."""
    machine = read_machine(side_by_side("C08", "C11"))
    assert len(split(machine)) == 1
    found, whole = examine(machine, "rules"), explore(build(machine, "rules"))
    assert (found.states, found.transitions) == (whole.states, whole.transitions)


def test_a_shared_key_code_holds_two_stations_together():
    """Two copies of a station that take the same key are one plant; with keys of their own they are two."""
    case = side_by_side("C01", "C11")
    assert len(split(read_machine(case))) == 2
    case["locks"].append({"id": "extra", "dev": "C11 SW", "code": "C01 A", "free_at": ["open"]})
    assert len(split(read_machine(case))) == 1


def test_a_source_that_turns_up_where_nothing_is_counts_all_the_same():
    """A portable source at a point of its own doubles the states, and its switching clears what was proved dead."""
    machine = read_machine(LONE_SOURCE)
    for failures in (["source:X"], ["source:X", "stuck:S"], ["stuck:S"]):
        together = break_all(machine, "hands", pairs=True).reaches[frozenset(failures)]
        assert together.states == explore_broken(machine, "hands", failures).states
