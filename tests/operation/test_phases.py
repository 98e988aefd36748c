"""Operation: three phases where an operation is one phase at a time, and one blade of three that welds."""

from __future__ import annotations

import copy

import pytest
from published import CASES

from deadfront.operation.examining import examine
from deadfront.operation.failures import break_all, explore_broken, single_failures
from deadfront.operation.machine import MODES, Mode
from deadfront.operation.machine_file import read_machine, write_machine
from deadfront.operation.phases import by_phase

PLAIN = ("C01", "C03", "C04", "C05", "C06", "C10", "C11", "C14", "C17")
"""Cases with neither tests nor stores, which would be three."""


@pytest.mark.parametrize("mode", MODES)
@pytest.mark.parametrize("name", PLAIN)
def test_three_ganged_phases_are_the_same_machine(name: str, mode: Mode):
    """With nothing moved one phase at a time, states, transitions and sequences are those of one line."""
    machine = read_machine(CASES[name])
    assert examine(by_phase(machine, ()), mode) == examine(machine, mode)


@pytest.mark.parametrize("name", ["C01", "C10", "C11", "C17"])
def test_one_welded_pole_is_no_worse_than_three(name: str):
    """The one-line model welds all poles: cautious, for one pole alone reaches no hazard that all three do not."""
    machine = by_phase(read_machine(CASES[name]), ())
    for mode in MODES:
        broken = break_all(machine, mode)
        for failure in single_failures(machine):
            if failure.startswith("stuck:") and "/" in failure:
                whole = broken.new([failure.rpartition("/")[0]])
                one = broken.new([failure])
                assert one.keys() <= whole.keys()
                assert all(one[kind] >= whole[kind] for kind in one)


def test_one_blade_of_three_exposes_and_is_seen_through_the_window():
    """C10 with one pole welded: the door opens on one live phase in two moves; seen through the window it does not."""
    machine = by_phase(read_machine(CASES["C10"]), ())
    hands = explore_broken(machine, "hands", ["stuck:SW/2"])
    assert {kind: danger.length for kind, danger in hands.dangers.items()} == {"EXP_OPEN": 2}
    assert explore_broken(machine, "rules", ["stuck:SW/2"]).dangers == {}


def test_a_connector_is_pulled_one_phase_at_a_time():
    """C16: each hot-stick connector has three phases, so pulling it passes two states more; a phase left on is live."""
    case = copy.deepcopy(CASES["C16"])
    machine = by_phase(read_machine(case), ("ELB_A", "ELB_B"))
    found = examine(machine, "hands")
    assert found.length("LOAD") == CASES["C16"]["expected"]["hands"]["hazards"]["LOAD"]["len"]
    assert found.length("LIVE_EARTH") == 9
    assert found.sequences["LOAD"][-1] == "ELB_B/1: on->parked"
    assert found.states > CASES["C16"]["expected"]["hands"]["states"]


def test_all_three_phases_must_be_proved_dead():
    """C08: the earth goes on only after three tests; a rule on a point speaks of all its phases."""
    machine = by_phase(read_machine(CASES["C08"]), ())
    assert examine(machine, "rules").length("LIVE_EARTH") == 5 + 2


def test_an_opening_that_is_one_phase_reaches_only_that_phase():
    """A parked bushing as an opening of its own: each phase of it lets a hand reach its own phase."""
    case = copy.deepcopy(CASES["C16"])
    case["openings"] = [{"dev": "ELB_A", "in": ["parked"], "reaches": ["SA"]}]
    machine = by_phase(read_machine(case), ("ELB_A",))
    assert [(o.device, o.reaches) for o in machine.openings] == [(f"ELB_A/{p}", (f"SA/{p}",)) for p in "123"]
    assert examine(machine, "hands").sequences["EXP_OPEN"][-1] == "ELB_A/1: on->parked"


def test_a_machine_of_three_phases_survives_being_written():
    """Sources on three points, poles and all, read as the same machine."""
    machine = by_phase(read_machine(CASES["C16"]), ("ELB_B",))
    assert read_machine(write_machine(machine)) == machine


def test_a_device_that_one_lock_holds_is_not_moved_by_phase():
    """A lock holds a shaft; an unknown device is no device; both are refused by name."""
    machine = read_machine(CASES["C01"])
    with pytest.raises(
        ValueError, match=r"^single: expected a device without a lock, got `SW`, whose lock holds one shaft$"
    ):
        by_phase(machine, ("SW",))
    with pytest.raises(ValueError, match=r"^single: expected a device, got `XX`; the names there are U, SW, F, DOOR"):
        by_phase(machine, ("XX",))
