"""Benchmark: what following every range of a demonstration costs, and how many moves it leaves undecided."""

from __future__ import annotations

import time
from collections import Counter
from pathlib import Path

import pytest

from deadfront.claims.breaking import reaches
from deadfront.claims.comparing import CLAIMS
from deadfront.claims.report import subject_of
from deadfront.project.reading import load

EXAMPLES = Path(__file__).parents[1] / "examples"
UNITS = (EXAMPLES / "kestrel-point" / "repaired.yaml", EXAMPLES / "tarn-edge" / "unit.yaml")


@pytest.mark.benchmark(group="break points")
@pytest.mark.parametrize("file", UNITS, ids=lambda file: file.parent.name)
def test_every_range_of_a_demonstration_is_followed(file):
    """Ranges, moves, undecided ones and seconds of processor time of each claim, on one core; few moves are left."""
    subject, moves, whole = subject_of(load(file)), Counter(), 0.0
    print(f"\n{'claim':7}{'verdict':16}{'ranges':>7}{'moves':>7}{'undecided':>11}{'s':>8}")
    for definition in CLAIMS:
        begin = time.process_time()
        found = reaches(definition, subject)
        seconds = time.process_time() - begin
        whole += seconds
        if found.ranges:
            left = sum(not move.close for move in found.moves)
            moves.update(all=len(found.moves), undecided=left)
            numbers = f"{len(found.ranges):7}{len(found.moves):7}{left:11}{seconds:8.2f}"
            print(f"{found.claim.id:7}{found.claim.verdict:16}{numbers}")
    print(f"all: {moves['all']} moves, {moves['undecided']} undecided, {whole:.1f} s of processor time")
    assert moves["undecided"] <= 0.1 * moves["all"]
