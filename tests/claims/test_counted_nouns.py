"""Claims: one thing is counted in the singular, an open claim counts nothing, and nothing prints a minus zero."""

from __future__ import annotations

import math

from deadfront.claims.access_findings import Finding, Question, claimed, counted
from deadfront.claims.model import MissingEntry, Rule
from deadfront.claims.wording import number_of

QUESTION = Question("AC-99", "A sentence.", Rule("A demand", "no source", "C"))
ENTRY = MissingEntry("operation.tests", "a place", "fuse test: {at: LV bus}")


def test_one_is_singular():
    """1 branch, 2 branches, 0 branches."""
    assert [number_of(n, "branch", "branches") for n in (0, 1, 2)] == ["0 branches", "1 branch", "2 branches"]


def test_an_open_claim_has_no_count_of_nothing_wrong():
    """0 of at most 0, exact, beside "something is missing" reads as shown; the same entry is asked for once."""
    found = claimed(QUESTION, Finding("open", "Missing.", 0.0, missing=(ENTRY, ENTRY)))
    assert (found.value, found.limit, found.margin, found.coverage) == (None, None, None, "none")
    assert found.missing == (ENTRY,)


def test_nothing_wrong_has_no_minus_zero():
    """The margin of a proof over all states is 0, in JSON too, not -0.0."""
    found = claimed(QUESTION, Finding("shown", "Shown.", 0.0, details=(counted("a door", False, "none"),)))
    assert found.margin is not None
    assert [math.copysign(1.0, number) for number in (found.margin, found.details[0].margin)] == [1.0, 1.0]
