"""Benchmark: what each proof of the demonstrations costs, how near its bound is, and how claims are covered."""

from __future__ import annotations

import time
from collections import Counter
from pathlib import Path

import numpy as np
import pytest

from deadfront.claims.comparing import CLAIMS
from deadfront.claims.judging import examine
from deadfront.claims.report import subject_of
from deadfront.project.reading import load

EXAMPLES = Path(__file__).parents[1] / "examples"
UNITS = tuple(
    EXAMPLES / name for name in ("kestrel-point/unit.yaml", "kestrel-point/repaired.yaml", "tarn-edge/unit.yaml")
)
SAMPLED = ("AE-02", "CO-02", "SC-01")
"""Claims whose least margin is also looked for at random, in the repaired unit."""
SAMPLES, BATCH = 1_000_000, 20_000


@pytest.mark.benchmark(group="proofs")
@pytest.mark.parametrize("file", UNITS, ids=lambda file: f"{file.parent.name}-{file.stem}")
def test_every_claim_of_a_demonstration_is_decided_by_proof(benchmark, file):
    """Ranges, boxes, seconds, and how far the proved bound lies below the worst point; no claim is sampled."""
    subject = subject_of(load(file))

    def all_claims():
        found = []
        for definition in CLAIMS:
            begin = time.process_time()
            found.append((*examine(definition, subject), time.process_time() - begin))
        return found

    found = benchmark.pedantic(all_claims, rounds=1, iterations=1)
    print(f"\n{'claim':7}{'verdict':16}{'ranges':>7}{'boxes':>8}{'s':>8}{'worst':>10}{'bound':>10}{'gap':>9}")
    for claim, judged, seconds in found:
        if judged is None:
            print(f"{claim.id:7}{claim.verdict:16}")
            continue
        proof = judged.proof
        gap = proof.worst.margin - proof.bound if proof.bound < proof.worst.margin else 0.0
        numbers = f"{proof.worst.margin:10.4f}{proof.bound:10.4f}{gap:9.4f}"
        print(f"{claim.id:7}{claim.verdict:16}{len(judged.field.box.paths):7}{proof.boxes:8}{seconds:8.2f}{numbers}")
    print("coverage: ", dict(Counter(claim.coverage for claim, _, _ in found)))
    print(f"all: {sum(seconds for _, _, seconds in found):.2f} s on one core")
    judged_claims = [claim for claim, judged, _ in found if judged is not None]
    assert all(claim.coverage in ("proved", "exact") for claim in judged_claims)
    assert all(claim.bound <= claim.margin for claim in judged_claims)


@pytest.mark.benchmark(group="proofs")
@pytest.mark.parametrize("identifier", SAMPLED)
def test_a_million_random_points_do_not_reach_the_proved_bound(benchmark, identifier):
    """Least margin among random points, beside the worst point that the proof found and the bound it proved."""
    definition = next(one for one in CLAIMS if one.id == identifier)
    _, judged = examine(definition, subject_of(load(UNITS[1])))
    field, proof = judged.field, judged.proof
    rng = np.random.default_rng(1)

    def sampled():
        least = np.inf
        for _ in range(SAMPLES // BATCH):
            points = rng.uniform(field.box.lower, field.box.upper, (BATCH, len(field.box.paths)))
            for maker in field.makers:
                margins = [np.asarray(t.margin()).min() for t in field.at(points, maker) if t.cases]
                least = min([least, *margins])
        return float(least)

    least = benchmark.pedantic(sampled, rounds=1, iterations=1)
    print(f"\n{identifier}: random {least:.6f}, worst found {proof.worst.margin:.6f}, proved {proof.bound:.6f}")
    assert proof.bound <= least
    assert proof.worst.margin <= least + 1e-9
