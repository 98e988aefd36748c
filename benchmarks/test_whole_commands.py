"""Benchmark: whole commands as a person starts them, printed; only the ratio of two processes in a run is asserted."""

from __future__ import annotations

import os
import resource
import statistics
import subprocess
import sys
import time
from pathlib import Path

import pytest

UNIT = Path(__file__).parents[1] / "examples" / "kestrel-point" / "unit.yaml"
DEADFRONT = [sys.executable, "-m", "deadfront"]
RUNS = 5


def seconds(command: list[str]) -> float:
    """Median wall time of a command, its first run not counted."""
    found = []
    for _ in range(RUNS + 1):
        begin = time.perf_counter()
        subprocess.run(command, capture_output=True, check=False)
        found.append(time.perf_counter() - begin)
    return statistics.median(found[1:])


@pytest.mark.benchmark(group="commands")
def test_help_starts_within_twice_an_interpreter_that_imports_numpy():
    """Help must not wait for what it does not need."""
    ratio = seconds([*DEADFRONT, "--help"]) / seconds([sys.executable, "-c", "import numpy"])
    print(f"\nhelp: {ratio:.2f} times an interpreter that imports numpy")
    assert ratio <= 2.0


@pytest.mark.benchmark(group="commands")
def test_check_and_dossier_of_the_demonstration_are_printed(tmp_path, monkeypatch):
    """Wall seconds on this machine, judged anew and recalled, and the largest memory of any process they used."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    check, dossier = [*DEADFRONT, "check", str(UNIT)], [*DEADFRONT, "dossier", str(UNIT), "-o", str(tmp_path / "x.pdf")]
    found = {
        "check, judged": seconds([*check, "--fresh"]),
        "check, recalled": seconds(check),
        "dossier, judged": seconds([*dossier, "--fresh"]),
        "dossier, recalled": seconds(dossier),
        "picture": seconds([*DEADFRONT, "picture", str(UNIT), "time-current", "-o", str(tmp_path / "x.png")]),
    }
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    times = ", ".join(f"{name} {value:.2f} s" for name, value in found.items())
    print(f"\n{times} on {len(os.sched_getaffinity(0))} cores, peak memory {peak:.0f} MB")
    assert (tmp_path / "x.pdf").exists()
    assert found["check, recalled"] < 0.5 * found["check, judged"]
