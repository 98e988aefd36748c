"""Dossier: the text report, the card and the reason print one number with one set of digits."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from sample_report import sample_report

from deadfront.claims.numbers import plain_against
from deadfront.dossier.claim_sheets import sheet
from deadfront.dossier.terminal import summary_text


@pytest.mark.parametrize(
    ("value", "limit", "unit", "margin", "printed"),
    [
        (14_007.0, 25_000.0, "A", 0.43, ("14.1 kA", "25.0 kA")),  # three digits to the nearest would be 14 kA
        (50.0, 36.373, "A", -0.37, ("50.0 A", "36.3 A")),  # to the nearest 36.4 A
        (474.9, 480.2, "A", -0.011, ("474 A", "481 A")),  # at least the limit
        (0.94008, 1.0, "1", 0.05, ("0.9401", "1")),
        (28_539e-9, 32e-6, "m2", 0.1, ("28.6 mm2", "32.0 mm2")),
        (15_814.6, 12_300.0, "A2s", -0.28, ("15900 A2s", "12300 A2s")),
        (25_634.0, 23_000.0, "V", -0.11, ("25.7 kV", "23.0 kV")),
        (float("inf"), 1250.018, "s", float("-inf"), ("never", "1250.01 s")),
    ],
)
def test_a_value_goes_up_and_its_limit_down(value, limit, unit, margin, printed):
    """Where larger is worse the value goes up and the limit down; where smaller is worse, the other way round."""
    assert plain_against(value, limit, unit, margin) == printed


def test_the_text_report_and_the_card_print_the_same_digits():
    """A reader with the text in one hand and the sheet in the other finds one number, not two."""
    base = next(c for c in sample_report().claims if c.id == "SC-03")
    claim = replace(
        base, verdict="shown", value=14_007.0, limit=40_060.0, unit="A", margin=0.65, counted="", missing=()
    )
    text = summary_text(replace(sample_report(), claims=(claim,)))
    figures = {f["label"]: f["text"].replace("\u00a0", " ") for f in sheet(claim, _Numbers())["figures"]}
    assert (figures["value"], figures["limit"]) == ("14.1 kA", "40.0 kA")
    assert re.search(r"SC-03 +shown +14\.1 kA of at most 40\.0 kA", text)


class _Numbers(dict):
    def __missing__(self, key):
        return "A1"
