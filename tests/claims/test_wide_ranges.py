"""Files of ranges far too wide: every claim ends within its budget, says what it knows, and says it twice alike."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from claim_files import DEFINITIONS
from wide_files import FILES, wide

from deadfront.claims.judging import examine
from deadfront.claims.proving import QUICK
from deadfront.claims.report import subject_of
from deadfront.intervals import BOX, work_done

SMALL = replace(QUICK, budget=2_000)
ROUND = 15_000
"""Boxes that the first pieces and the last round of a claim may take beyond its budget."""


@cache
def subject(name):
    """A file of ranges far too wide, ready to be judged."""
    return subject_of(wide(name))


@pytest.mark.long
@pytest.mark.parametrize("name", ["x over r over five decades", "a tenth everywhere"])
def test_every_claim_ends_within_its_budget(name):
    """Trap: a claim that asks on and on; nothing is refused, stops with an error, or costs more than a round beyond."""
    for identifier, definition in DEFINITIONS.items():
        before = work_done()
        claim, _ = examine(definition, subject(name), SMALL)
        assert (work_done() - before) / BOX < SMALL.budget + ROUND, identifier
        assert claim.verdict in ("shown", "refuted", "open", "not applicable")


@pytest.mark.long
@pytest.mark.parametrize("identifier", ["CO-03", "CO-04", "SC-05"])
@pytest.mark.parametrize("name", ["x over r over five decades", "fault current over three decades"])
def test_no_random_point_of_wide_ranges_lies_below_the_bound(name, identifier):
    """Twenty thousand points, even in the logarithm: all at or above what is proved."""
    claim, judged = examine(DEFINITIONS[identifier], subject(name))
    field, rng, least = judged.field, np.random.default_rng(7), np.inf
    low, high = field.box.lower, field.box.upper
    for _ in range(4):
        shares = rng.random((5_000, len(low)))
        even = np.exp(np.log(np.maximum(low, 1e-3)) + shares * np.log(high / np.maximum(low, 1e-3)))
        points = np.where(low > 0.0, np.clip(even, low, high), low + shares * (high - low))
        for maker in field.makers:
            least = min([least, *(np.asarray(t.margin()).min() for t in field.at(points, maker) if t.cases)])
    assert claim.bound <= least + 1e-12


@pytest.mark.parametrize("identifier", ["CO-03", "CO-04", "CO-06"])
def test_a_ratio_over_five_decades_is_proved(identifier):
    """Trap: halved at its middle the range keeps its decades, and minutes later the bound was minus infinity."""
    claim, _ = examine(DEFINITIONS[identifier], subject("x over r over five decades"))
    assert (claim.verdict, claim.coverage) == ("shown", "proved")
    assert 0.0 <= claim.bound <= claim.margin


def test_an_undecided_claim_says_what_would_help():
    """The range that holds the bound, and the option; the same words and numbers each time."""
    found = [examine(DEFINITIONS["SC-02"], subject("x over r over five decades"), SMALL)[0] for _ in range(2)]
    assert found[0].verdict == "open"
    assert found[0].coverage == "undecided"
    assert "Undecided within the budget: the margin is at least -" in found[0].reason
    assert "Narrow supply x over r" in found[0].reason
    assert ", or give a larger --budget." in found[0].reason
    assert (found[0].reason, found[0].bound) == (found[1].reason, found[1].bound)


def test_the_files_are_what_they_say():
    """Ranges are as wide as asked for, and nothing is widened that would be another system."""
    for name, (_, share, ranges) in FILES.items():
        quantities = wide(name).quantities
        assert all((quantities[path].low, quantities[path].high) == ends for path, ends in ranges.items())
        assert quantities["frequency"].low == quantities["frequency"].high
        assert share == 0.0 or sum(q.is_range for q in quantities.values()) > 100
