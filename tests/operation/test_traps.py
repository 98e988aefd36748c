"""Operation: the known ways in which a model of interlocking lies are each closed."""

from __future__ import annotations

import copy
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from published import CASES
from random_machines import machines

from deadfront.operation.building import build
from deadfront.operation.examining import doors_without_openings, examine
from deadfront.operation.failures import break_all, explore_broken
from deadfront.operation.machine import Machine
from deadfront.operation.machine_file import read_machine
from deadfront.operation.procedures import procedure
from deadfront.operation.search import explore
from deadfront.operation.telling import Situation, consequences, outset, situation


def walked(machine: Machine, *texts: str, mode: Any = "hands") -> Situation:
    """How everything stands after a sequence of moves."""
    plant = build(machine, mode)
    code = outset(plant)
    for text in texts:
        code = consequences(plant, code)[text].code
    return situation(plant, code)


def two_way(**changes: Any) -> dict[str, Any]:
    """A source, a three-position switch to a bus, a second one to a load; all that the traps need."""

    def switch(name: str, a: str, b: str) -> dict[str, Any]:
        moves = [("closed", "open"), ("open", "closed"), ("open", "earthed"), ("earthed", "open")]
        return {
            "id": name,
            "kind": "switch",
            "positions": ["closed", "open", "earthed"],
            "start": "closed",
            "edges": {"closed": [[a, b]], "earthed": [[b, "E"]]},
            "moves": [{"from": [one], "to": two} for one, two in moves],
        }

    source = {"id": "U", "kind": "source", "positions": ["on"], "start": "on", "moves": []}
    source |= {"source": {"at": "S", "group": "utility", "on": ["on"]}}
    door = {"id": "DOOR", "kind": "door", "positions": ["closed", "open"], "start": "closed"}
    door |= {"moves": [{"from": ["closed"], "to": "open"}, {"from": ["open"], "to": "closed"}]}
    case = {
        "id": "two ways",
        "title": "two ways",
        "points": ["S", "B", "C"],
        "devices": [source, switch("S1", "S", "B"), switch("S2", "B", "C"), door],
        "openings": [{"dev": "DOOR", "in": ["open"], "reaches": ["C"]}],
        "tests": [{"id": "T", "at": "C"}],
    }
    return case | changes


def test_a_guard_in_one_direction_is_found():
    """C11: the door needs the switch open, the switch does not need the door shut. With both sentences it is sound."""
    case = copy.deepcopy(CASES["C11"])
    assert examine(read_machine(case), "hands").sequences == {
        "EXP_CLOSE": ("SW: closed->open", "DOOR: closed->open", "SW: open->closed")
    }
    closing = next(m for d in case["devices"] if d["id"] == "SW" for m in d["moves"] if m["to"] == "closed")
    closing["guards"] = [{"id": "switch_needs_door", "by": "mechanical", "if": {"dev": "DOOR", "in": ["closed"]}}]
    assert examine(read_machine(case), "hands").sequences == {}
    assert all(
        break_all(read_machine(case), "hands").new([f"defeat:{g}"]) for g in ("switch_needs_door", "door_switch")
    )


def test_earth_joins_no_circuits():
    """Two earthed circuits are not one: the fault of the one that is fed does not make the other energised."""
    standing = walked(read_machine(two_way()), "S2: closed->open", "S2: open->earthed")
    assert standing.earthed == ("C",)
    assert standing.live == ("S", "B")


def test_a_fed_earth_is_a_fault_and_not_a_live_part():
    """Earthing what is fed raises a fault, not an exposure: neither `live` nor `safe` hides what happens."""
    case = two_way()
    case["devices"][2]["edges"]["earthed"] = [["B", "E"]]
    plant = build(read_machine(case), "hands")
    code = outset(plant)
    for text in ("DOOR: closed->open", "S2: closed->open"):
        code = consequences(plant, code)[text].code
    assert consequences(plant, code)["S2: open->earthed"].kinds == ("EARTH_LIVE",)


def test_proved_dead_expires_with_any_electrical_move():
    """Test, then move a switch that has nothing to do with the point: the mark is gone; a door leaves it standing."""
    machine = read_machine(two_way())
    tested = ["S1: closed->open", "test T"]
    assert walked(machine, *tested).proved == ("C",)
    assert walked(machine, *tested, "DOOR: closed->open").proved == ("C",)
    assert walked(machine, *tested, "S2: closed->open").proved == ()


def test_a_tester_does_not_see_a_trapped_charge():
    """C12: with the main open the bus reads dead although the capacitor is charged."""
    standing = walked(read_machine(CASES["C12"]), "MB: closed->open", "LVDOOR: closed->open", "test VT_LV")
    assert standing.proved == ("LV",)
    assert standing.charged == ("CAP",)


def test_a_transformer_passes_no_trapped_charge():
    """C20 shows a charge behind the bayonet door that no real transformer passes; a magnetic link stops it."""
    case = copy.deepcopy(CASES["C20"])
    assert examine(read_machine(case), "hands").length("EXP_CHARGE") == 9
    case["links"] = [{"between": ["T1", "T2"], "magnetic": True}]
    assert set(examine(read_machine(case), "hands").sequences) == {"EARTH_LIVE", "LIVE_EARTH"}


def test_a_magnetic_link_still_passes_power_both_ways():
    """C04: with a magnetic link the generator still reaches the bayonet fuse through the transformer."""
    case = copy.deepcopy(CASES["C04"])
    before = examine(read_machine(case), "hands").sequences
    case["links"] = [{"between": link, "magnetic": True} for link in case["links"]]
    assert examine(read_machine(case), "hands").sequences == before


def test_keys_are_counted_by_code():
    """C17 is sound with one key of its code; a second key of the same code under another name makes it unsafe."""
    case = copy.deepcopy(CASES["C17"])
    assert examine(read_machine(case), "hands").sequences == {}
    case["keys"].append({"id": "innocent", "code": "K", "start": "L_GB"})
    assert examine(read_machine(case), "hands").length("PARALLEL") == 2


def test_doors_that_say_nothing_are_named():
    """C16 has doors and no opening: nothing is shown about what is behind them, and that is said."""
    assert doors_without_openings(read_machine(CASES["C16"])) == ("LVD", "HVD")
    assert doors_without_openings(read_machine(CASES["C01"])) == ()


def test_a_welded_blade_lets_its_handle_move():
    """C10: the handle says open, the blade is closed, the door opens on a live part; seen through glass it does not."""
    machine = read_machine(CASES["C10"])
    assert {k: d.length for k, d in explore_broken(machine, "hands", ["stuck:SW"]).dangers.items()} == {"EXP_OPEN": 2}
    assert explore_broken(machine, "rules", ["stuck:SW"]).dangers == {}


def test_a_handle_on_the_shaft_cannot_leave_a_welded_blade():
    """C21: the position shown is that of the blade, so the handle stands still and the door stays shut."""
    machine = read_machine(CASES["C21"])
    found = explore_broken(machine, "hands", ["stuck:SW"])
    assert (found.states, found.dangers) == (1, {})


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(case=machines())
def test_rules_only_take_moves_away(case: dict):
    """Obeying rules can lengthen the way to a hazard or close it, and never adds a hazard or shortens a way."""
    machine = read_machine(case)
    hands, rules = examine(machine, "hands"), examine(machine, "rules")
    assert rules.states <= hands.states
    assert all(rules.length(kind) >= hands.length(kind) for kind in rules.sequences)


def test_a_source_that_starts_by_itself_is_a_move_of_nobody():
    """A source with no guard may start or stop in any state: both are explored everywhere."""
    machine = read_machine(CASES["C02"])
    plant = build(machine, "rules")
    for code in explore(plant).codes:
        moves = consequences(plant, int(code))
        assert ("GEN: off->on" in moves) != ("GEN: on->off" in moves)


def test_hold_points_come_before_the_shortest_way():
    """C17's shortest way to the LV main has neither test nor earth; a hold point makes it earth first, and stay so."""
    case = copy.deepcopy(CASES["C17"])
    goal = next(g for g in case["goals"] if g["id"] == "work_on_lv_main")
    machine = read_machine(case)
    plain = procedure(machine, machine.goals[1])
    assert plain is not None
    assert [step.text for step in plain.steps] == ["WT: closed->open", "MB: closed->open", "LVDOOR: closed->open"]
    goal["holds"] = [
        {"id": "H4", "if": {"earthed": "B"}, "before": {"dev": "LVDOOR", "in": ["open"]}, "kept": True},
    ]
    machine = read_machine(case)
    strict = procedure(machine, machine.goals[1])
    assert strict is not None
    assert [step.text for step in strict.steps] == [
        "WT: closed->open",
        "WT: open->earthed",
        "MB: closed->open",
        "LVDOOR: closed->open",
    ]
    assert [step.passes for step in strict.steps] == [(), ("H4",), (), ()]


def test_a_closed_loop_hides_the_current_of_the_path_that_is_broken():
    """The rule on load looks at what is energised: opening one of two parallel paths is no LOAD, the second is."""
    case = two_way()
    second = copy.deepcopy(case["devices"][1]) | {"id": "S3"}
    case["devices"].insert(2, second)
    for n in (1, 2):
        case["devices"][n]["load_break"] = False
    plant = build(read_machine(case | {"loads": ["B"]}), "hands")
    first = consequences(plant, outset(plant))["S1: closed->open"]
    assert first.kinds == ()
    assert consequences(plant, first.code)["S3: closed->open"].kinds == ("LOAD",)


def test_open_and_close_are_told_apart_by_what_was_moved():
    """The same exposure is EXP_OPEN when the door makes it and EXP_CLOSE when a switch does."""
    plant = build(read_machine(two_way()), "hands")
    assert consequences(plant, outset(plant))["DOOR: closed->open"].kinds == ("EXP_OPEN",)
    code = outset(plant)
    for text in ("S1: closed->open", "DOOR: closed->open"):
        code = consequences(plant, code)[text].code
    assert consequences(plant, code)["S1: open->closed"].kinds == ("EXP_CLOSE",)


@pytest.mark.parametrize("name", ["C04", "C05", "C08"])
def test_one_wrong_move_from_every_step_is_looked_at(name: str):
    """From every step of the procedure, each single move that hardware allows and that raises a hazard is listed."""
    machine = read_machine(CASES[name])
    found = procedure(machine, machine.goals[0])
    assert found is not None
    plant = build(machine, "hands")
    code, expected = outset(plant), []
    for k in range(len(found.steps) + 1):
        moves = consequences(plant, code)
        expected += [(k, text, c.kinds) for text, c in moves.items() if c.kinds]
        if k < len(found.steps):
            code = moves[found.steps[k].text].code
    assert [(m.after, m.move, m.kinds) for m in found.mistakes] == expected
    assert expected


def test_a_state_number_never_leaves_its_digits():
    """No move carries over from one digit of a state number into another, in any state of the large case."""
    plant = build(read_machine(CASES["C20"]), "hands")
    codes = explore(plant).codes
    assert codes.min() >= 0
    assert codes.max() < plant.coding.space
    assert np.unique(codes).size == codes.size
