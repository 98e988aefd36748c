"""How many states of the largest published case are looked at in a second, on one core."""

import json
from pathlib import Path
from time import process_time

import pytest

from deadfront.operation.breaking import broken_by_hands, broken_by_rules
from deadfront.operation.building import build
from deadfront.operation.failures import break_all
from deadfront.operation.machine_file import read_machine
from deadfront.operation.procedures import procedure
from deadfront.operation.search import explore
from deadfront.operation.station_machine import station_machine
from deadfront.project.reading import load
from deadfront.station.station import build as station

CASES = json.loads((Path(__file__).parents[1] / "tests/operation/data/cases.json").read_text(encoding="utf-8"))["cases"]
AT_LEAST = 200_000
"""States a second: eight times what the program that printed the cases does."""


def machine(name):
    """A published case as a machine."""
    return read_machine(next(case for case in CASES if case["id"] == name))


def test_states_a_second_of_the_largest_case(benchmark):
    """C20: 90 264 states and a million moves, explored from nothing."""
    found = benchmark(lambda: explore(build(machine("C20"), "hands")))
    started = process_time()
    explore(build(machine("C20"), "hands"))
    rate = found.states / (process_time() - started)
    print(f"{rate:,.0f} states/s")
    assert rate > AT_LEAST


def test_all_single_and_double_failures_of_a_full_station(benchmark):
    """C17, both modes: 20 single and 190 double failures each."""
    benchmark(lambda: [break_all(machine("C17"), mode, pairs=True) for mode in ("hands", "rules")])


def unit(name):
    """The machine of a demonstration."""
    return station_machine(station(load(Path(__file__).parents[1] / "examples" / name).unit)).machine


@pytest.mark.parametrize("name", ["kestrel-point/unit.yaml", "kestrel-point/repaired.yaml", "tarn-edge/unit.yaml"])
def test_all_single_and_double_failures_of_a_demonstration(benchmark, name):
    """Both modes; 10 s are the most."""
    machine_of_unit = unit(name)

    def failures():
        hands = broken_by_hands(machine_of_unit, pairs=True)
        return broken_by_rules(machine_of_unit, hands, pairs=True)

    started = process_time()
    benchmark.pedantic(failures, rounds=1)
    print(f"{name}: {process_time() - started:.2f} s")
    assert process_time() - started < 10.0


@pytest.mark.parametrize("name", ["kestrel-point/unit.yaml", "kestrel-point/repaired.yaml", "tarn-edge/unit.yaml"])
def test_every_procedure_of_a_demonstration(benchmark, name):
    """There, back, every way to break off and every step left out; a second is the most for one."""
    machine_of_unit = unit(name)
    started = process_time()
    benchmark.pedantic(lambda: [procedure(machine_of_unit, goal) for goal in machine_of_unit.goals], rounds=1)
    print(f"{name}: {process_time() - started:.2f} s for {len(machine_of_unit.goals)} procedures")
    assert process_time() - started < len(machine_of_unit.goals)
