"""Benchmark: what a whole check costs on files whose ranges are far too wide, and what it still decides."""

from __future__ import annotations

import sys
import time
from collections import Counter
from pathlib import Path

import pytest

from deadfront.claims.comparing import CLAIMS
from deadfront.claims.judging import examine
from deadfront.claims.report import subject_of

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "claims"))

from wide_files import FILES, wide

LONGEST = 90.0
"""Seconds of one core: three times what the slowest took on the machine on which the budget was set."""


@pytest.mark.benchmark(group="wide ranges")
@pytest.mark.parametrize("name", FILES)
def test_a_check_ends(benchmark, name):
    """Seconds of all proofs of a file, and how its claims are judged by default."""
    subject = subject_of(wide(name))

    def all_claims():
        begin = time.process_time()
        verdicts = Counter(examine(definition, subject)[0].verdict for definition in CLAIMS)
        return verdicts, time.process_time() - begin

    verdicts, seconds = benchmark.pedantic(all_claims, rounds=1, iterations=1)
    print(f"\n{name:32}{seconds:8.1f} s   {dict(sorted(verdicts.items()))}")
    assert seconds < LONGEST
