"""Operation: the 22 worked cases and the 426 single failures come out as printed."""

from __future__ import annotations

from itertools import combinations

import pytest
from published import CASES, LARGE, failure_rows

from deadfront.operation.examining import examine
from deadfront.operation.failures import break_all, single_failures
from deadfront.operation.machine import MODES, Mode
from deadfront.operation.machine_file import read_machine
from deadfront.operation.procedures import procedure

RUNS = [(name, mode) for name in CASES for mode in MODES]
GOALS = [(name, goal["id"]) for name, case in CASES.items() for goal in case.get("goals", [])]


def test_the_set_is_whole():
    """22 cases, 44 runs, 20 goals and 426 rows of failures are there to be met."""
    assert (len(CASES), len(RUNS), len(GOALS), len(failure_rows())) == (22, 44, 20, 426)


@pytest.mark.parametrize(("name", "mode"), RUNS)
def test_states_and_hazards_come_out_as_printed(name: str, mode: Mode):
    """States, transitions, depth, states without hazardous moves, and each shortest sequence, word for word."""
    printed = CASES[name]["expected"][mode]
    found = examine(read_machine(CASES[name]), mode)
    assert (found.states, found.transitions, found.depth, found.states_hazard_free) == (
        printed["states"],
        printed["transitions"],
        printed["depth"],
        printed["states_hazard_free"],
    )
    assert {kind: list(seq) for kind, seq in found.sequences.items()} == {
        kind: hazard["seq"] for kind, hazard in printed["hazards"].items()
    }
    assert all(found.length(kind) == hazard["len"] for kind, hazard in printed["hazards"].items())


@pytest.mark.parametrize(
    ("name", "mode"),
    [pytest.param(name, mode, marks=[pytest.mark.long] * (name in LARGE)) for name, mode in RUNS],
)
def test_every_single_failure_comes_out_as_printed(name: str, mode: Mode):
    """All rows of the table of failures: number of states, verdict, kinds added and their shortest lengths."""
    rows = [row for row in failure_rows() if (row["case"], row["mode"]) == (name, mode)]
    machine = read_machine(CASES[name])
    broken = break_all(machine, mode)
    assert [row["single_failure"] for row in rows] == list(single_failures(machine))
    assert {failure: broken.new([failure]) for failure in single_failures(machine)} == CASES[name]["expected"][mode][
        "single_failures"
    ]
    for row in rows:
        failure = row["single_failure"]
        added = " ".join(f"{kind}:{length}" for kind, length in sorted(broken.new([failure]).items()))
        states = str(broken.reaches[frozenset([failure])].states)
        assert (failure, states, broken.verdict([failure]), added) == (
            failure,
            row["states"],
            row["verdict"],
            row["new_hazards_with_shortest_length"],
        )


@pytest.mark.parametrize(("name", "mode"), [run for run in RUNS if run[0] not in LARGE])
def test_every_double_failure_comes_out_as_printed(name: str, mode: Mode):
    """The number of pairs, and the kinds that only both failures together reach."""
    printed = CASES[name]["expected"][mode]["double_failures"]
    machine = read_machine(CASES[name])
    broken = break_all(machine, mode, pairs=True)
    pairs = list(combinations(single_failures(machine), 2))
    together = {f"{one} + {other}": list(broken.only_together(one, other)) for one, other in pairs}
    assert len(pairs) == printed["pairs"]
    assert {name: kinds for name, kinds in together.items() if kinds} == printed["new_only_with_both"]


@pytest.mark.parametrize(("name", "goal"), GOALS)
def test_every_procedure_comes_out_as_printed(name: str, goal: str):
    """The shortest safe sequence to each goal and the way back to service, word for word."""
    machine = read_machine(CASES[name])
    printed = CASES[name]["expected"]["procedures"][goal]
    found = procedure(machine, next(g for g in machine.goals if g.id == goal))
    assert found is not None
    assert found.back is not None
    assert [step.text for step in found.steps] == printed["seq"]
    assert [step.text for step in found.back] == printed["return_seq"]
    assert (len(found.steps), len(found.back)) == (printed["len"], printed["return_len"])
