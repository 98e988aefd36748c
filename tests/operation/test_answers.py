"""Operation: the answer for other programs is laid out as the published cases print theirs."""

from __future__ import annotations

import json

import pytest
from published import CASES

from deadfront.operation.answers import answers
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
