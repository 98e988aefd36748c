"""Incident energy in words, also where the model gives no number."""

import math

import pytest

from deadfront.claims.arc_energy import energy_in_words


@pytest.mark.parametrize(
    ("energy", "words"),
    [(41840.0, "1 cal/cm2 (4.184 J/cm2)"), (math.nan, "outside the model"), (math.inf, "unlimited")],
)
def test_no_number_is_printed_where_the_model_gives_none(energy, words):
    """Outside the model, and for an arc without an end, no `nan` or `inf` stands beside the words."""
    assert energy_in_words(energy) == words
