"""Operation: the answer for other programs is laid out as the published cases print theirs."""

from __future__ import annotations

import json

import pytest
from published import CASES

from deadfront.operation.answers import answers
from deadfront.operation.breaking import broken_by_hands, broken_by_rules
from deadfront.operation.failures import break_all, single_failures
from deadfront.operation.machine import MODES
from deadfront.operation.machine_file import read_machine


@pytest.mark.parametrize("name", ["C01", "C08", "C12", "C13"])
def test_answer_holds_what_is_printed_where_it_is_printed(name: str):
    """Every printed entry that is not about the printing program's own check is there, with the same value."""
    found = json.loads(json.dumps(answers(read_machine(CASES[name]), "double")))
    for mode in MODES:
        printed = {
            k: v for k, v in CASES[name]["expected"][mode].items() if k not in ("python_ms", "spin_states_minus_init")
        }
        printed["hazards"] = {kind: {k: h[k] for k in ("len", "seq")} for kind, h in printed["hazards"].items()}
        assert {k: found[mode][k] for k in printed} == printed
    for goal, way in CASES[name]["expected"]["procedures"].items():
        assert found["procedures"][goal] == {k: v for k, v in way.items() if "spin" not in k}


def test_a_blade_that_welds_in_mid_sequence_is_in_the_answer():
    """C07: a tie that welds once closed puts two sources in parallel; no failure of the tie at the outset shows it."""
    found = answers(read_machine(CASES["C07"]), "single")
    assert found["hands"]["midway_failures"]["stuck:TIE@closed"] == {"PARALLEL": 8}
    assert "stuck:TIE" not in found["hands"]["single_failures"]


def test_without_failures_asked_for_none_are_printed():
    """`hands` holds the five entries of the examination and nothing about failures."""
    assert list(answers(read_machine(CASES["C01"]))["hands"]) == [
        "states",
        "transitions",
        "depth",
        "states_hazard_free",
        "hazards",
    ]


def test_a_budget_leaves_out_what_it_has_no_room_for_and_says_so():
    """C18: one state of budget lets the first search of each mode be made; every welded blade is left out, as null."""
    machine = read_machine(CASES["C18"])
    whole, few = answers(machine, "double"), answers(machine, "double", budget=1)
    for mode in MODES:
        assert "left_out" not in whole[mode]["double_failures"]
        assert few[mode]["double_failures"]["left_out"] > 0
        known = {name: kinds for name, kinds in few[mode]["single_failures"].items() if kinds is not None}
        assert {name for name, kinds in few[mode]["single_failures"].items() if kinds is None} >= {"stuck:MB"}
        assert known.items() <= whole[mode]["single_failures"].items()
        fewer = few[mode]["double_failures"]["new_only_with_both"]
        assert fewer.items() <= whole[mode]["double_failures"]["new_only_with_both"].items()


@pytest.mark.parametrize("name", ["C08", "C12", "C16", "C22"])
def test_failures_that_rules_need_not_look_at_add_nothing(name: str):
    """What is spared because hands reach nothing new adds nothing when it is looked at all the same."""
    machine = read_machine(CASES[name])
    whole = break_all(machine, "rules")
    quick = broken_by_rules(machine, broken_by_hands(machine))
    assert quick.sound == whole.sound
    for failure in single_failures(machine):
        assert quick.new([failure]) == whole.new([failure])
