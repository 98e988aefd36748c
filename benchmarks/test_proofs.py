"""Benchmark: what each proof of the demonstrations costs, how near its bound is, and how claims are covered."""

from __future__ import annotations

import time
from collections import Counter
from pathlib import Path

import pytest

from deadfront.claims.comparing import CLAIMS
from deadfront.claims.judging import examine
from deadfront.claims.report import subject_of
from deadfront.project.reading import load

EXAMPLES = Path(__file__).parents[1] / "examples"
UNITS = (EXAMPLES / "kestrel-point" / "unit.yaml", EXAMPLES / "tarn-edge" / "unit.yaml")


@pytest.mark.benchmark(group="proofs")
@pytest.mark.parametrize("file", UNITS, ids=lambda file: file.parent.name)
def test_every_claim_of_a_demonstration_is_decided_by_proof(benchmark, file):
    """Ranges, boxes, seconds, and how far the proved bound lies below the worst point; no claim is sampled."""
    subject = subject_of(load(file))

    def all_claims():
        found = []
        for definition in CLAIMS:
            begin = time.perf_counter()
            found.append((*examine(definition, subject), time.perf_counter() - begin))
        return found

    found = benchmark.pedantic(all_claims, rounds=1, iterations=1)
    print(f"\n{'claim':7}{'verdict':16}{'ranges':>7}{'boxes':>8}{'s':>8}{'worst':>10}{'bound':>10}{'gap':>9}")
    for claim, judged, seconds in found:
        if judged is None:
            print(f"{claim.id:7}{claim.verdict:16}")
            continue
        proof = judged.proof
        gap = proof.worst.margin - proof.bound
        numbers = f"{proof.worst.margin:10.4f}{proof.bound:10.4f}{gap:9.4f}"
        print(f"{claim.id:7}{claim.verdict:16}{len(judged.field.box.paths):7}{proof.boxes:8}{seconds:8.2f}{numbers}")
    print("coverage: ", dict(Counter(claim.coverage for claim, _, _ in found)))
    print(f"all: {sum(seconds for _, _, seconds in found):.2f} s on one core")
    judged_claims = [claim for claim, judged, _ in found if judged is not None]
    assert all(claim.coverage in ("proved", "exact") for claim in judged_claims)
    assert all(claim.bound <= claim.margin for claim in judged_claims)
