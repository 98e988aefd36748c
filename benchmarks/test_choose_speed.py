"""Benchmark: pairs of a link and a limiter examined in one second of one core, every check and word included."""

from __future__ import annotations

import time
from pathlib import Path

from deadfront.claims.choosing import trial
from deadfront.claims.screening import screened
from deadfront.project.catalogue import demonstration_catalogue
from deadfront.project.reading import load

UNIT = Path(__file__).parents[1] / "examples" / "kestrel-point" / "repaired.yaml"
LEAST_PAIRS = 5000
"""Pairs a second that are promised."""


def test_pairs_examined_in_a_second():
    """Sixteen checks in six states of the liquid at the worst of a sample of the file's ranges, best of five."""
    catalogue = demonstration_catalogue()
    subject = trial(load(UNIT), catalogue)
    best = 0.0
    for _ in range(5):
        start = time.process_time()
        pairs = len(screened(subject, catalogue, frozenset()))
        best = max(best, pairs / (time.process_time() - start))
    print(f"\n{pairs} pairs, {best:.0f} in a second of processor time")
    assert best > LEAST_PAIRS
