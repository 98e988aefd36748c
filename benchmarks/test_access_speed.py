"""How many states of the largest published case are looked at in a second, on one core."""

import json
from pathlib import Path
from time import perf_counter

from deadfront.operation.building import build
from deadfront.operation.failures import break_all
from deadfront.operation.machine_file import read_machine
from deadfront.operation.search import explore

CASES = json.loads((Path(__file__).parents[1] / "tests/operation/data/cases.json").read_text(encoding="utf-8"))["cases"]
AT_LEAST = 200_000
"""States a second: eight times what the program that printed the cases does."""


def machine(name):
    """A published case as a machine."""
    return read_machine(next(case for case in CASES if case["id"] == name))


def test_states_a_second_of_the_largest_case(benchmark):
    """C20: 90 264 states and a million moves, explored from nothing."""
    found = benchmark(lambda: explore(build(machine("C20"), "hands")))
    started = perf_counter()
    explore(build(machine("C20"), "hands"))
    rate = found.states / (perf_counter() - started)
    print(f"{rate:,.0f} states/s")
    assert rate > AT_LEAST


def test_all_single_and_double_failures_of_a_full_station(benchmark):
    """C17, both modes: 20 single and 190 double failures each."""
    benchmark(lambda: [break_all(machine("C17"), mode, pairs=True) for mode in ("hands", "rules")])
