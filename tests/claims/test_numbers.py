"""Claims: numbers print as the house's rounding table says."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from deadfront.claims.numbers import (
    INCH,
    against,
    both_systems,
    digits,
    energy,
    feet_inches,
    format_number,
    grouped,
    percent,
    stepped,
    typographic,
)

ROWS = list(csv.DictReader((Path(__file__).parent / "rounding.csv").open(encoding="utf-8")))
TO_BASE = {
    "J/cm2": 1.0,
    "cal/cm2": 4.184,
    "mm": 1.0,
    "in": 25.4,
    "m": 1e3,
    "ms": 1e-3,
    "s": 1.0,
    "kV": 1.0,
    "%": 1.0,
    "V": 1.0,
}


def printed(row: dict[str, str]) -> str:
    """Print one row of the table through the function that serves its kind of step."""
    value, unit, rule = float(row["value"]), row["unit"], row["rule"]
    if unit == "A":
        return format_number(value, "A", rule)
    if unit == "kA" and row["step"] == "3 digits":
        return format_number(value * 1e3, "A", rule)
    if row["step"].endswith("digits"):
        return digits(value, int(row["step"].split()[0]), rule)
    if row["step"] == "1 in":
        return feet_inches(value / 1e3, rule)
    if row["step"].endswith("cal/cm2"):
        return energy(value * (4.184e4 if unit == "cal/cm2" else 1e4), rule)
    if unit == "s":
        return format_number(value, "s", rule)
    step, _, name = row["step"].partition(" ")
    name = name or unit
    return f"{stepped(value * TO_BASE.get(unit, 1.0) / TO_BASE.get(name, 1.0), step, rule)} {name}"


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['id']} {row['quantity']}")
def test_each_row_of_the_rounding_table_prints_as_written(row):
    """Text equality with the 30 rows of the reference's table of rounding."""
    assert printed(row) == row["printed"]


def test_the_rounding_table_has_all_its_rows():
    """A row lost from the table would be a test lost."""
    assert [int(row["id"]) for row in ROWS] == list(range(1, 31))


def test_two_rounding_steps_would_print_the_boundary_value():
    """Trap 1: joules rounded first and then converted would print 1.2; from the unrounded value it is 1.3."""
    assert energy(5.0211e4, "up") == "1.3 cal/cm2"


def test_rounding_against_the_claim_never_makes_a_shown_claim_look_refuted():
    """Row 28: 166.1 V against 166.2 V would print 167 against 166; one digit more is shown."""
    assert against(166.1, 166.2, "V", 0.0006) == ("166.1 V", "166.2 V")


def test_both_systems_come_from_the_unrounded_value():
    """Trap 2: 68 in converted back is 1.73 m; both lines come from 1704 mm."""
    assert both_systems(1.704191, "m", "up") == "1.71 m (5 ft 8 in)"
    assert both_systems(13.343327e4, "J/m2", "up") == "3.2 cal/cm2 (13.4 J/cm2)"


def test_equal_print_of_a_refuted_claim_gets_more_digits():
    """A value above its limit never prints like its limit."""
    assert against(31_442.0, 31_438.0, "A", -1e-4) == ("31.5 kA", "31.4 kA")
    value, limit = against(12.04 * 4.184e4, 12.0 * 4.184e4, "J/m2", -0.003)
    assert (value, limit) == ("12.1 cal/cm2", "12.0 cal/cm2")


def test_value_and_limit_round_against_the_claim():
    """A demand goes up and its limit down; where at least the limit is asked for, the other way."""
    assert against(31_377.7, 40_050.0, "A", 0.2) == ("31.4 kA", "40.0 kA")
    assert against(31_377.7, 20_010.0, "A", 0.5) == ("31.3 kA", "20.1 kA")
    assert against(0.4, 0.4, "s", 0.0) == ("400 ms", "400 ms")


@given(st.floats(1e-3, 1e6), st.floats(-0.5, 0.5))
@example(8297.0, 1.4e-11)
@example(10001.0, -5.96e-08)
def test_print_never_turns_a_verdict_round(limit, share):
    """Whatever the numbers, the printed value stands on the same side of the printed limit as the unrounded one."""
    value = limit * (1 + share)
    texts = against(value, limit, "1", -share)
    numbers = [float(text.replace("\u202f", "")) for text in texts]
    assert (numbers[0] > numbers[1]) == (value > limit) or value == limit


@given(st.floats(-1e9, 1e9), st.sampled_from(["1", "0.1", "0.01"]))
def test_up_is_never_below_and_down_never_above(value, step):
    """Directed rounding keeps its side up to the noise of a binary fraction, and stays within a step."""
    noise = 1e-9 * max(float(step), abs(value))
    up, down = float(stepped(value, step, "up")), float(stepped(value, step, "down"))
    assert value - noise <= up <= value + float(step) + noise
    assert value - float(step) - noise <= down <= value + noise


@given(st.floats(0, 1e4))
def test_inches_carry_into_feet(metres):
    """No length ever prints twelve inches."""
    feet, _, inches, _ = feet_inches(metres, "up").split()
    assert int(inches) < 12
    assert (int(feet) * 12 + int(inches)) * INCH >= metres * (1 - 1e-9) - 1e-9 * INCH


def test_units_of_the_house():
    """Each SI unit prints in the unit and step the trade reads."""
    assert format_number(0.4567, "s", "up") == "457 ms"
    assert format_number(0.9996, "s", "up") == "1.00 s"
    assert format_number(1234.5, "s") == "1234.50 s"
    assert format_number(999.9, "A", "up") == "1.00 kA"
    assert format_number(65.0, "A") == "65.0 A"
    assert format_number(2.5e6, "A2s") == "2\u202f500\u202f000 A2s"
    assert format_number(3.0, "1") == "3"
    assert format_number(0.61, "m") == "0.61 m"
    assert format_number(-0.0, "V") == "0 V"


def test_numbers_that_are_none_say_so():
    """Not a number is outside the model; an infinite time never looks like a time."""
    assert format_number(math.nan, "A") == "outside the model"
    assert format_number(math.inf, "s") == "never"
    assert format_number(math.inf, "A") == "unlimited"
    assert percent(math.nan) == "outside the model"


def test_groups_from_five_digits():
    """1000 stays whole; 12345 is grouped; decimals are not."""
    assert [grouped(n) for n in ("1000", "12345", "-1234567.12345")] == [
        "1000",
        "12\u202f345",
        "-1\u202f234\u202f567.12345",
    ]


def test_typographic_form_binds_number_and_unit():
    """Raised figures, a true minus, and no break before the unit."""
    assert typographic("12.8 cal/cm2") == "12.8\u00a0cal/cm²"
    assert typographic("-0.1 %") == "\u22120.1\u00a0%"
    assert typographic("250 A2s") == "250\u00a0A²s"
