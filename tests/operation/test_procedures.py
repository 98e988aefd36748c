"""Operation: a procedure is safe at every step, passes its hold points in order, and knows its ways out."""

from __future__ import annotations

import copy

import pytest
from published import CASES

from deadfront.operation.building import build
from deadfront.operation.machine_file import read_machine
from deadfront.operation.procedures import Deviation, Procedure, procedure
from deadfront.operation.telling import consequences, outset

GOALS = [(name, n) for name, case in CASES.items() for n, _ in enumerate(case.get("goals", []))]


def found(name: str, number: int = 0) -> Procedure:
    """The procedure of a published case."""
    machine = read_machine(CASES[name])
    way = procedure(machine, machine.goals[number])
    assert way is not None
    return way


@pytest.mark.parametrize(("name", "number"), GOALS)
def test_no_step_there_or_out_raises_a_hazard(name: str, number: int):
    """Replayed move by move under the rules, the way, and from each of its states the way out, raise nothing."""
    machine, way = read_machine(CASES[name]), found(name, number)
    plant = build(machine, "rules")
    code = outset(plant)
    for k, exit_moves in enumerate(way.aborts):
        assert exit_moves is not None
        at = code
        for text in exit_moves:
            moved = consequences(plant, at)[text]
            assert moved.kinds == ()
            at = moved.code
        if k < len(way.steps):
            moved = consequences(plant, code)[way.steps[k].text]
            assert moved.kinds == ()
            code = moved.code


def test_a_crew_that_breaks_off_shuts_what_it_opened():
    """C03: with the door open the way out is to shut it; before that, nothing stands open."""
    assert found("C03").aborts == ((),) * 9 + (("DOOR: open->closed",),) * 2


def test_each_step_tells_what_is_live_and_earthed_after_it():
    """C05, step by step: the switch opened, earthed, and the door opened on an earthed part."""
    steps = found("C05").steps
    assert [(s.text, s.after.live, s.after.earthed, s.after.open) for s in steps[:3]] == [
        ("SW: closed->open", ("S",), (), ()),
        ("SW: open->earthed", ("S",), ("B", "T1", "T2", "LV"), ()),
        ("BDOOR: closed->open", ("S",), ("B", "T1", "T2", "LV"), ("BDOOR",)),
    ]


def test_a_step_left_out_is_refused_or_dangerous_and_said_so():
    """C12, rules: without the wait the door guard refuses; hands: it opens on a charge. Without opening, refused."""
    deviations = [d for d in found("C12").deviations if d.how == "left out"]
    assert Deviation(2, "left out", "rules", "refused", 3, ()) in deviations
    assert Deviation(2, "left out", "hands", "hazard", 3, ("EXP_CHARGE",)) in deviations
    assert Deviation(1, "left out", "hands", "refused", 2, ()) in deviations


def test_a_blade_that_does_not_follow_is_noticed_or_dangerous():
    """C12, hands: the main's blade stays closed, so the wait is refused; C08, rules: the test refuses to read dead."""
    assert Deviation(1, "does not follow", "hands", "refused", 2, ()) in found("C12").deviations
    assert Deviation(1, "does not follow", "rules", "refused", 3, ()) in found("C08").deviations
    assert Deviation(1, "does not follow", "hands", "refused", 3, ()) in found("C08").deviations


def test_an_earth_that_does_not_close_goes_unnoticed_in_c08():
    """C08: nothing after the earthing checks the earth itself; the sheet has to ask for it to be seen."""
    assert Deviation(4, "does not follow", "rules", "unnoticed", None, ()) in found("C08").deviations


def test_hold_points_are_passed_in_their_order():
    """C22 with the order: both padlocks, then both tests, then the door; the padlocks stay to the end."""
    case = copy.deepcopy(CASES["C22"])
    door = {"dev": "DOOR", "in": ["open"]}
    locked = {"all": [{"dev": "LOTO_SW", "in": ["on"]}, {"dev": "LOTO_MB", "in": ["on"]}]}
    tested = {"all": [{"tested": "B"}, {"tested": "T1"}]}
    case["goals"][0]["holds"] = [
        {"id": "H2", "if": locked, "before": {"any": [{"tested": "B"}, {"tested": "T1"}]}, "kept": True},
        {"id": "H3", "if": tested, "before": door},
    ]
    machine = read_machine(case)
    way = procedure(machine, machine.goals[0])
    assert way is not None
    passed = [(n, name) for n, step in enumerate(way.steps, start=1) for name in step.passes]
    assert passed == [(4, "H2"), (12, "H3")]
    assert [step.text for step in way.steps].index("DOOR: closed->open") == 12
    assert all(step.after.positions["LOTO_SW"] == "on" for step in way.steps[3:])


def test_hold_points_on_the_way_back_come_first():
    """C08 back to service: a hold point before the switch closes keeps the order `earth off` before `remote closed`."""
    case = copy.deepcopy(CASES["C08"])
    case["goals"][0]["back"] = [
        {"id": "H10", "if": {"dev": "WA", "in": ["open"]}, "before": {"dev": "REM", "in": ["closed"]}},
        {"id": "last", "if": {"dev": "REM", "in": ["closed"]}, "before": {"dev": "WA", "in": ["closed"]}},
    ]
    machine = read_machine(case)
    way = procedure(machine, machine.goals[0])
    assert way is not None
    assert way.back is not None
    assert [(step.text, step.passes) for step in way.back] == [
        ("CABDOOR: open->closed", ()),
        ("WA: earthed->open", ("H10",)),
        ("REM: open->closed", ("last",)),
        ("WA: open->closed", ()),
    ]


def test_the_way_back_counts_its_own_hold_points():
    """C08 with three hold points on the way there and one on the way back: none of the first count for the second."""
    case = copy.deepcopy(CASES["C08"])
    steps = [("H1", "REM", "open"), ("H2", "WA", "open"), ("H4", "WA", "earthed")]
    case["goals"][0]["holds"] = [{"id": name, "if": {"dev": dev, "in": [at]}} for name, dev, at in steps]
    case["goals"][0]["back"] = [{"id": "H10", "if": {"dev": "WA", "in": ["open"]}}]
    machine = read_machine(case)
    way = procedure(machine, machine.goals[0])
    assert way is not None
    assert way.back is not None
    assert [name for step in way.steps for name in step.passes] == ["H1", "H2", "H4"]
    assert [name for step in way.back for name in step.passes] == ["H10"]


def test_a_forbidden_state_is_walked_around():
    """C03: never both keys in hand; the way is as long, in another order, and no state of it has both."""
    case = copy.deepcopy(CASES["C03"])
    case["goals"][0]["never"] = [{"id": "one key at a time", "if": {"all": [{"key": "A"}, {"key": "B"}]}}]
    machine = read_machine(case)
    way = procedure(machine, machine.goals[0])
    assert way is not None
    assert all(set(step.after.in_hand) != {"A1", "B1"} for step in way.steps)


def test_a_goal_that_cannot_be_reached_safely_has_no_procedure():
    """C01: the fuse drawn behind a shut door is out of reach, and no sequence is invented."""
    case = copy.deepcopy(CASES["C01"])
    case["goals"] = [{"id": "magic", "if": {"all": [{"dev": "F", "in": ["out"]}, {"dev": "SW", "in": ["closed"]}]}}]
    case["goals"][0]["never"] = [{"id": "open", "if": {"dev": "SW", "in": ["open"]}}]
    machine = read_machine(case)
    assert procedure(machine, machine.goals[0]) is None
