"""Inverse-time relays against published operating times, and what they do at the edges."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from deadfront.physics.relays import (
    RelaySetting,
    earliest_operating_time,
    latest_operating_time,
    operate_time,
    relay_curve,
    relay_curve_names,
    relay_operating_time,
    reset_time,
)
from deadfront.tables.reading import parse

HERE = Path(__file__).parent
PUBLISHED = parse("relay-check-values", (HERE / "relay-check-values.csv").read_text(encoding="utf-8"))
MULTIPLES = parse("relay-multiples", (HERE / "relay-multiples.csv").read_text(encoding="utf-8"))

PHASE = RelaySetting("iec very inverse", 100.0, 0.1, 20.0, 1200.0, 0.03)


@pytest.mark.parametrize("row", PUBLISHED.rows, ids=lambda row: f"{row['curve']} {row['multiple']}")
def test_operate_time_gives_the_published_ieee_points(row):
    """P1: each of the 45 published times comes out to its last digit; the largest difference is 5.0e-5 s."""
    time = operate_time(relay_curve(row["curve"]), float(row["multiple"]), 1.0, np.inf)
    assert time == pytest.approx(float(row["time_s"]), abs=5.1e-5)


@pytest.mark.parametrize(
    ("curve", "time", "digit"),
    [
        ("iec standard inverse", 2.97, 0.005),
        ("iec very inverse", 1.5, 0.05),
        ("iec extremely inverse", 0.808, 0.0005),
    ],
)
def test_operate_time_gives_the_customary_iec_checks(curve, time, digit):
    """P2: ten times the pickup, time multiplier one: 2.97, 1.5, 0.808 s."""
    assert operate_time(relay_curve(curve), 10.0, 1.0, np.inf) == pytest.approx(time, abs=digit)


@pytest.mark.parametrize("row", MULTIPLES.rows, ids=lambda row: row["curve"])
def test_every_curve_at_four_multiples(row):
    """All 21 inverse curves at 2, 5, 10 and 20 times the pickup, four decimals."""
    time = operate_time(relay_curve(row["curve"]), np.array([2.0, 5.0, 10.0, 20.0]), 1.0, np.inf)
    printed = [float(row[f"time_{multiple}_s"]) for multiple in (2, 5, 10, 20)]
    np.testing.assert_allclose(time, printed, rtol=0, atol=5.1e-5)


def test_definite_time_waits_its_dial():
    """A definite-time element takes the time it is set to, at any current above its pickup."""
    curve = relay_curve("definite time")
    np.testing.assert_array_equal(operate_time(curve, np.array([1.01, 2.0, 100.0]), 0.4, np.inf), 0.4)
    assert operate_time(curve, 1.0, 0.4, np.inf) == np.inf


@pytest.mark.parametrize("name", relay_curve_names())
def test_up_to_the_pickup_no_element_operates(name):
    """At and below the pickup the time is infinite, without a warning; a NaN current stays NaN."""
    curve = relay_curve(name)
    np.testing.assert_array_equal(operate_time(curve, np.array([0.0, 0.5, 1.0]), 1.0, 20.0), np.inf)
    assert np.isnan(operate_time(curve, np.nan, 1.0, 20.0))


@settings(max_examples=100, deadline=None)
@given(st.sampled_from(relay_curve_names()), st.floats(1.001, 200.0), st.floats(1.001, 200.0), st.floats(0.05, 10.0))
def test_more_current_never_operates_later_and_the_dial_scales(name, one, other, dial):
    """Time never rises with the multiple, and is proportional to the dial."""
    low, high = sorted((one, other))
    curve = relay_curve(name)
    assert operate_time(curve, high, dial, np.inf) <= operate_time(curve, low, dial, np.inf)
    assert operate_time(curve, low, dial, np.inf) == pytest.approx(
        dial * operate_time(curve, low, 1.0, np.inf), rel=1e-12
    )


def test_frozen_relay_is_no_faster_above_its_multiple():
    """Frozen at 20, a relay takes at 100 times its pickup what it takes at 20; the bare formula goes on falling."""
    curve = relay_curve("ieee extremely inverse")
    at_20 = operate_time(curve, 20.0, 1.0, np.inf)
    assert operate_time(curve, 100.0, 1.0, 20.0) == at_20
    assert operate_time(curve, 100.0, 1.0, np.inf) < at_20


def test_older_dials_hide_a_factor_of_seven():
    """The undivided short-time curve is seven times the normalised one, within the rounding of its constants."""
    one = operate_time(relay_curve("older us short inverse"), 5.0, 7.0, np.inf)
    assert operate_time(relay_curve("older us short-time undivided"), 5.0, 1.0, np.inf) == pytest.approx(one, rel=1e-4)


def test_same_curve_under_two_names():
    """The older inverse curve and the present one of the same practice are the same."""
    old, new = relay_curve("older us inverse"), relay_curve("us inverse")
    assert (old.k, old.constant, old.exponent) == (new.k, new.constant, new.exponent)


def test_reset_takes_the_constant_from_rest_and_longer_near_the_pickup():
    """At no current the reset takes dial times its constant, at half the pickup 4/3 of it, from the pickup up never."""
    curve = relay_curve("us very inverse")
    assert reset_time(curve, 0.0, 2.0) == pytest.approx(2.0 * 3.88, rel=1e-12)
    assert reset_time(curve, 0.5, 2.0) == pytest.approx(2.0 * 3.88 / 0.75, rel=1e-12)
    np.testing.assert_array_equal(reset_time(curve, np.array([1.0, 3.0]), 2.0), np.inf)


def test_reset_without_a_published_constant_is_outside_the_model():
    """No constant, no time: NaN, not zero."""
    assert np.isnan(reset_time(relay_curve("iec long-time inverse"), 0.0, 1.0))


def test_relay_takes_the_earlier_of_its_two_elements():
    """Below the step the inverse time, above it the step; below the pickup neither."""
    inverse = operate_time(relay_curve("iec very inverse"), 12.0, 0.1, 20.0)
    current = np.array([100.0, 1200.0, 1200.1])
    np.testing.assert_allclose(relay_operating_time(PHASE, current), [np.inf, inverse, 0.03], rtol=1e-12)
    without = replace(PHASE, instantaneous=None, instantaneous_time=None)
    assert relay_operating_time(without, 1200.1) > 0.1
    assert np.isnan(relay_operating_time(PHASE, np.nan))


def test_accuracy_class_widens_by_the_larger_of_two_errors():
    """Class 5 %: 40 ms at 0.5 s, 50 ms at 1 s; infinite stays infinite, and nothing happens before zero."""
    time = np.array([0.02, 0.5, 1.0, np.inf])
    np.testing.assert_allclose(latest_operating_time(time, 0.05, 0.04), [0.06, 0.54, 1.05, np.inf])
    np.testing.assert_allclose(earliest_operating_time(time, 0.05, 0.04), [0.0, 0.46, 0.95, np.inf])


def test_arrays_give_what_a_loop_gives():
    """One call over many currents equals many calls."""
    current = np.geomspace(50.0, 5000.0, 41)
    loop = [float(relay_operating_time(PHASE, one)) for one in current]
    np.testing.assert_allclose(relay_operating_time(PHASE, current), loop, rtol=1e-14)


def test_unknown_curve_is_refused_with_all_names():
    """A misspelt curve is an error that lists those there are."""
    assert len(relay_curve_names()) == 22
    with pytest.raises(ValueError, match=rf"^curve: expected one of {', '.join(relay_curve_names())}, got 'iec'$"):
        relay_curve("iec")


def test_instantaneous_step_without_its_time_is_refused():
    """A step whose time is missing is an error, never zero seconds."""
    message = r"^instantaneous_time: an instantaneous step needs its operating time, got None$"
    with pytest.raises(ValueError, match=message):
        relay_operating_time(replace(PHASE, instantaneous_time=None), 2000.0)
