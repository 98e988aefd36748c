"""Operation: a test that can be made at any time need not be a state: the kinds of hazard stay the same."""

from __future__ import annotations

import pytest
from published import CASES
from test_station_machine import unit

from deadfront.operation.building import build
from deadfront.operation.failures import break_all, failure_sets, single_failures
from deadfront.operation.machine import Machine
from deadfront.operation.machine_file import read_machine
from deadfront.operation.search import explore

UNITS = [
    "schemes: [door on earthed switch]\nswitch_positions: [closed, open, earthed]\n"
    "tests: {a: {at: fuse line side}, b: {at: LV bus}, c: {at: LV bus}}\npadlocks: {p: switch}",
    "schemes: [one key]\ntests: {a: {at: fuse line side}, b: {at: LV bus, behind: fuse door}}\n"
    "earths: {e: {at: fuse line side}, f: {at: LV bus}}",
]


def machines() -> list[Machine]:
    """Units with several tests, and the published case with proved-dead marks."""
    return [*(unit(section).machine for section in UNITS), read_machine(CASES["C22"])]


@pytest.mark.parametrize("machine", machines(), ids=lambda machine: machine.id[:20])
def test_every_failure_reaches_the_same_kinds_with_fewer_states(machine: Machine):
    """All single failures under the rules, blind testers among them."""
    whole, quick = break_all(machine, "rules"), break_all(machine, "rules", tests_at_once=True)
    for members in failure_sets(single_failures(machine), pairs=False):
        assert quick.reaches[members].dangers.keys() == whole.reaches[members].dangers.keys(), members
    assert explore(build(machine, "rules", tests_at_once=True)).states <= explore(build(machine, "rules")).states


def test_a_unit_with_four_test_marks_has_about_a_tenth_of_the_states():
    """The marks are gone, all else is there."""
    machine = machines()[0]
    assert explore(build(machine, "rules", tests_at_once=True)).states * 3 < explore(build(machine, "rules")).states
