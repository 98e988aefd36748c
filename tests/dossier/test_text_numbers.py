"""Dossier: the text report, the card and the reason print one number with one set of digits."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from sample_report import sample_report

from deadfront.claims.numbers import margin_in_words, plain_against
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


@pytest.mark.parametrize(
    ("margin", "words"),
    [
        (-0.1, "-10.0 %"),
        (-8.99, "-899.0 %"),
        (-27.51, "28.51 times the limit"),
        (-999.0, "1000 times the limit or more"),
        (float("-inf"), "none"),
        (float("nan"), "outside the model"),
    ],
)
def test_a_margin_far_out_says_how_many_times_the_limit(margin, words):
    """-2751.0 % says nothing to an owner; 28.51 times the limit does: 1 + 27.51."""
    assert margin_in_words(margin) == words


def test_the_end_of_a_time_ratio_is_no_measured_number():
    """1000 stands for a nearer device that never clears: it says so, where a count of 1000 stays a count."""
    assert plain_against(1000.0, 1.0, "1", -999.0, "time ratio") == ("time ratio 1000 or more", "1")
    assert plain_against(1000.0, 1.0, "1", -999.0) == ("1000", "1")


@pytest.mark.parametrize(("quantity", "unit"), [("time ratio", "1"), ("heating, per-unit I2t", "s")])
def test_a_number_says_what_it_is_in_text_and_on_the_card(quantity, unit):
    """A bare ratio, or seconds that are no duration, carry the name of what they are; no line is over-long."""
    base = next(c for c in sample_report().claims if c.id == "SC-03")
    claim = replace(base, verdict="refuted", value=28.51, limit=1.0, unit=unit, margin=-27.51, quantity=quantity)
    lines = summary_text(replace(sample_report(), claims=(claim,))).splitlines()
    head = next(number for number, line in enumerate(lines) if "SC-03" in line)
    assert f"{quantity} 28.51" in lines[head]
    assert "28.51 times the limit" in lines[head] + lines[head + 1]
    assert max(map(len, lines)) < 80
    value, _, margin = sheet(claim, _Numbers())["figures"]
    assert (value["second"], margin["text"], margin["second"]) == (quantity, "28.51 times the limit", "")


@pytest.mark.parametrize("verdict", ["refuted", "open", "not applicable"])
def test_the_text_says_why_a_claim_is_not_shown(verdict):
    """Two hazards in 1284 states is a count, no reason: door and live part are named, as on the card."""
    base = next(c for c in sample_report().claims if c.id == "SC-03")
    why = "LV door opens while the board is live: open the main, then the door."
    claim = replace(base, verdict=verdict, value=2.0, limit=0.0, unit="1", margin=-2.0, counted="2 hazards", reason=why)
    text = " ".join(summary_text(replace(sample_report(), claims=(claim,))).split())
    assert why in text
    assert sheet(claim, _Numbers())["reason"] == why


class _Numbers(dict):
    def __missing__(self, key):
        return "A1"
