"""What the tests of the claims share: the project files of the study's tests, and every claim by its identifier."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "study"))

from study_files import NORTH_AMERICAN, edited, project, subject

from deadfront.claims import report  # importing it fills the list of claims
from deadfront.claims.comparing import CLAIMS
from deadfront.claims.judging import judge

__all__ = ["BARE", "DEFINITIONS", "NORTH_AMERICAN", "details", "edited", "judged", "project"]

DEFINITIONS = {definition.id: definition for definition in CLAIMS}
assert report.CLAIMS is CLAIMS

BARE = edited(NORTH_AMERICAN, {"motors": None, "board.tie": None, "board.arc_detection.trips": ["main"]})
"""The complete unit without motors and tie: one infeed, numbers that a hand calculation gives."""


def judged(identifier, changes=None, base=BARE):
    """A claim on a base file with changes."""
    return judge(DEFINITIONS[identifier], subject(base, changes))


def details(identifier, changes=None, base=BARE):
    """Worst value of each subject of a claim, with its limit, by subject."""
    found = judged(identifier, changes, base)
    assert found.details, found.reason
    return {detail.subject: detail for detail in found.details}
