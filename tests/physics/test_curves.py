"""Fuse curves: straight in log-log, never extended to the left, and the corrections of common practice."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from deadfront.physics.curves import (
    CurveProblem,
    TimeCurrentCurve,
    clearing_current,
    clearing_time,
    clearing_time_by_tolerance,
    curve_problems,
    hot_melting_current,
    hot_melting_time,
    liquid_factor,
    melting_current,
    melting_time,
    preload_factor,
    wide_gaps,
)

K_CURRENT, K_TIME = np.array([2, 2.2, 3, 4, 6, 30.0]), np.array([300, 20, 4, 1.3, 0.41, 0.02])
K_SHAPED = TimeCurrentCurve(K_CURRENT, K_TIME, 1.5 * K_TIME)
T_CURRENT = np.array([2, 2.1, 3, 4, 6, 22, 50.0])
T_SHAPED = TimeCurrentCurve(T_CURRENT, *(2 * [np.array([300, 100, 10.1, 4.0, 1.4, 0.1, 0.02])]))

# An invented draw-out link of 50 A at 25 degC; the times below are a separate calculation with it [D].
D50 = TimeCurrentCurve(
    np.array([120.0, 135.0, 180.0, 290.0, 625.0, 1225.0, 1650.0]),
    np.array([300.0, 100.0, 10.0, 1.0, 0.1, 0.02, 0.01]),
    np.array([300.0, 100.0, 10.0, 1.0, 0.1, 0.02, 0.02]),
)


@pytest.mark.parametrize(
    ("curve", "multiple", "time"),
    [
        (K_SHAPED, 5.0, 0.6889),
        (K_SHAPED, 10.0, 0.1572),
        (K_SHAPED, 20.0, 0.0428),
        (T_SHAPED, 5.0, 2.2446),
        (T_SHAPED, 10.0, 0.4960),
    ],
)
def test_interpolation_gives_the_printed_times(curve, multiple, time):
    """Normalised K- and T-shaped default curves of a general distribution simulator, to their last digit [V]."""
    assert melting_time(curve, multiple) == pytest.approx(time, abs=5e-5)


def test_interpolation_is_not_linear():
    """Straight on linear paper would give 0.855 s at five times, 24 % too long."""
    linear = np.interp(5.0, K_CURRENT, K_TIME)
    assert linear == pytest.approx(0.855, abs=5e-4)
    assert linear / melting_time(K_SHAPED, 5.0) == pytest.approx(1.24, abs=0.005)


def test_points_of_the_curve_come_back():
    """At each published point the curve gives the published time."""
    np.testing.assert_allclose(melting_time(K_SHAPED, K_CURRENT), K_TIME, rtol=1e-13)
    np.testing.assert_allclose(clearing_time(K_SHAPED, K_CURRENT), 1.5 * K_TIME, rtol=1e-13)


def test_left_of_the_first_point_a_fuse_does_not_operate():
    """Below its first point both times are infinite, also at no current; at the point they are not."""
    below = np.array([0.0, 1.0, np.nextafter(2.0, 0.0)])
    np.testing.assert_array_equal(melting_time(K_SHAPED, below), np.inf)
    np.testing.assert_array_equal(clearing_time(K_SHAPED, below), np.inf)
    assert np.isfinite(melting_time(K_SHAPED, 2.0))


def test_right_of_the_last_point_melting_keeps_i2t_and_clearing_its_time():
    """Twice the last current melts in a quarter of the last time; clearing stays at the bottom of the curve."""
    assert melting_time(K_SHAPED, 60.0) == pytest.approx(0.02 / 4.0, rel=1e-13)
    assert clearing_time(K_SHAPED, 60.0) == pytest.approx(0.03, rel=1e-13)
    assert clearing_time(K_SHAPED, np.inf) == pytest.approx(0.03, rel=1e-13)
    assert melting_time(K_SHAPED, np.inf) == 0.0


def test_unknown_current_stays_unknown():
    """A NaN current gives a NaN time, not one of the ends."""
    assert np.isnan(melting_time(K_SHAPED, np.nan))
    assert np.isnan(clearing_time(K_SHAPED, np.nan))


@settings(max_examples=100, deadline=None)
@given(st.floats(0.0, 100.0), st.floats(0.0, 100.0))
def test_more_current_never_takes_longer(one, other):
    """Both times never rise with the current, and clearing is never before melting."""
    low, high = sorted((one, other))
    for time in (melting_time, clearing_time):
        assert time(K_SHAPED, high) <= time(K_SHAPED, low)
    assert clearing_time(K_SHAPED, low) >= melting_time(K_SHAPED, low)


def test_arrays_give_what_a_loop_gives():
    """One call over many currents equals many calls."""
    current = np.geomspace(1.0, 100.0, 57)
    for time in (melting_time, clearing_time):
        loop = [float(time(K_SHAPED, one)) for one in current]
        np.testing.assert_allclose(time(K_SHAPED, current), loop, rtol=1e-14)


@pytest.mark.parametrize(("current", "time"), [(805.2, 0.0977), (697.3, 0.1377), (464.9, 0.4329), (306.0, 1.874)])
def test_clearing_of_a_link_from_its_melting_curve(current, time):
    """Link of 50 A, 20 % tolerance, 13.3 ms arcing: the four times of regression case A [D, invented link]."""
    cleared = clearing_time_by_tolerance(D50, current, 0.20, 0.0133)
    assert cleared == pytest.approx(time, rel=1e-3)


def test_clearing_by_tolerance_never_falls_below_the_arcing_time():
    """However large the current, the arc still lasts."""
    assert clearing_time_by_tolerance(D50, 1e6, 0.2, 0.0133) == pytest.approx(0.0133, rel=1e-3)
    assert clearing_time_by_tolerance(D50, 1e6, 0.2, 0.0133) > 0.0133
    assert clearing_time_by_tolerance(D50, 100.0, 0.2, 0.0133) == np.inf


TEMPERATURES = np.array([25.0, 40.0, 65.0, 85.0, 105.0, 120.0])


@pytest.mark.parametrize(
    ("melting", "factors"),
    [
        (145.0, [1, 0.935, 0.816, 0.707, 0.577, 0.456]),
        (183.0, [1, 0.951, 0.864, 0.788, 0.703, 0.631]),
        (232.0, [1, 0.963, 0.898, 0.843, 0.783, 0.736]),
        (961.0, [1, 0.992, 0.978, 0.967, 0.956, 0.948]),
        (1083.0, [1, 0.993, 0.981, 0.971, 0.961, 0.954]),
    ],
)
def test_hot_liquid_shifts_the_curve_as_tabulated(melting, factors):
    """Five element metals at six temperatures, to the last printed digit [D]."""
    np.testing.assert_allclose(liquid_factor(melting, TEMPERATURES), factors, atol=5.1e-4)


def test_liquid_as_hot_as_the_element_has_no_factor():
    """At and above the melting temperature the model ends."""
    assert np.all(np.isnan(liquid_factor(145.0, np.array([145.0, 200.0]))))
    assert np.isnan(liquid_factor(25.0, 10.0))


def test_preload_takes_off_what_the_75_percent_rule_says():
    """Melting at twice the rating: loads of 0.5, 0.75, 1.0 and 1.2 leave 0.94, 0.86, 0.75 and 0.64 [D]."""
    left = preload_factor(np.array([0.5, 0.75, 1.0, 1.2]), 2.0)
    np.testing.assert_allclose(left, [0.94, 0.86, 0.75, 0.64], atol=0.005)
    assert np.isnan(preload_factor(2.0, 2.0))


def test_hot_link_melts_in_the_inrush_a_cold_one_survives():
    """The link of 50 A at 12 x 46.3 A = 555.6 A: 0.142 s at 25 degC, 0.088 s at 85 degC [D]."""
    assert melting_time(D50, 555.6) == pytest.approx(0.142, abs=5e-4)
    assert hot_melting_time(D50, 555.6, liquid_factor(232.0, 85.0), 1.0) == pytest.approx(0.088, abs=5e-4)
    assert hot_melting_time(D50, 555.6, 1.0, 0.75) == pytest.approx(0.75 * melting_time(D50, 555.6), rel=1e-12)


@settings(max_examples=100, deadline=None)
@given(st.floats(1.0, 100.0))
def test_melting_read_back_is_the_inverse(current):
    """The current at the time of a current is that current, on the curve and right of it, not left."""
    curve = TimeCurrentCurve(10.0 * K_CURRENT, K_TIME, 1.5 * K_TIME)
    time = melting_time(curve, 10.0 * current)
    expected = 10.0 * current if np.isfinite(time) else np.nan
    got = melting_current(curve, time if np.isfinite(time) else 300.1, "smallest")
    assert got == pytest.approx(expected, rel=1e-10, nan_ok=True)


def test_level_stretches_read_back_at_the_side_that_is_asked_for():
    """At a time the curve holds from 2 to 4 A, the smallest is 2 A and the largest 4 A; beside it both agree."""
    level = np.array([9.0, 3.0, 3.0, 1.0])
    curve = TimeCurrentCurve(np.array([1.0, 2.0, 4.0, 5.0]), level, level)
    assert melting_current(curve, 3.0, "smallest") == pytest.approx(2.0, rel=1e-9)
    assert melting_current(curve, 3.0, "largest") == pytest.approx(4.0, rel=1e-9)
    for flat in ("smallest", "largest"):
        assert melting_current(curve, 3.001, flat) == pytest.approx(2.0, rel=1e-3)
        assert melting_current(curve, 2.999, flat) == pytest.approx(4.0, rel=1e-3)
        assert np.isnan(melting_current(curve, 9.1, flat))
        assert melting_current(curve, 0.25, flat) == pytest.approx(10.0, rel=1e-12)


def test_clearing_read_back_promises_only_what_the_curve_does():
    """Clearing within a longer time than the first point starts at the first point; faster than the last is unknown."""
    assert clearing_current(K_SHAPED, 1e4) == pytest.approx(2.0)
    assert clearing_current(K_SHAPED, 0.03) == pytest.approx(30.0)
    assert np.isnan(clearing_current(K_SHAPED, 0.0299))
    assert clearing_current(K_SHAPED, clearing_time(K_SHAPED, 5.0)) == pytest.approx(5.0, rel=1e-10)


def test_hot_melting_current_undoes_hot_melting_time():
    """12 x 46.3 A melts the hot link of 50 A in 0.088 s, so in 0.088 s it melts at 12 x 46.3 A."""
    hot = liquid_factor(232.0, 85.0)
    time = hot_melting_time(D50, 555.6, hot, 0.75)
    assert hot_melting_current(D50, time, hot, 0.75) == pytest.approx(555.6, rel=1e-10)


def test_sound_data_has_no_problem():
    """A rising current with falling or equal times is a curve, and two points make a line."""
    assert curve_problems([1.0, 2.0], [9.0, 4.0], [9.5, 5.0]) == []
    assert curve_problems([1.0, 2.0, 3.0], [9.0, 4.0, 4.0], [9.5, 5.0, 4.0]) == []


@pytest.mark.parametrize(
    ("data", "row", "text"),
    [
        (([1, 1, 3], [9, 4, 1], [9, 4, 1]), 1, "expected a current above the 1 A of the row before, got 1 A"),
        (([1, 2, 3], [9, 4, 5], [9, 6, 6]), 2, "expected a melting time of at most the 4 s of the row before, got 5 s"),
        (
            ([1, 2, 3], [9, 4, 1], [9, 4, 5]),
            2,
            "expected a clearing time of at most the 4 s of the row before, got 5 s",
        ),
        (
            ([1, 2, 3], [9, 4, 1], [9, 3, 1]),
            1,
            "expected a total clearing time of at least the melting time 4 s, got 3 s",
        ),
        (([0, 2, 3], [9, 4, 1], [9, 4, 1]), 0, "expected a current above zero and finite, got 0"),
        (
            ([1, 2, 3], [9, float("nan"), 1], [9, 4, 1]),
            1,
            "expected a minimum melting time above zero and finite, got nan",
        ),
        (
            ([1, 2, 3], [9, 4, 1], [float("inf"), 4, 1]),
            0,
            "expected a total clearing time above zero and finite, got inf",
        ),
        (([1], [9], [9]), 0, "expected at least 2 points, got 1"),
    ],
)
def test_each_fault_of_curve_data_is_told_with_its_row(data, row, text):
    """Order, sign, missing numbers, melting after clearing, too few points: one sentence and the row."""
    assert curve_problems(*data) == [CurveProblem(row, text)]


def test_all_faults_of_curve_data_are_told_at_once():
    """Several faults come in the order of the rows; an unsound row is not held against the next."""
    problems = curve_problems([1, -2, 3], [9, 4, 10], [9, 4, 10])
    assert [(problem.row, problem.text.split(",")[0]) for problem in problems] == [
        (1, "expected a current above zero and finite"),
        (2, "expected a melting time of at most the 9 s of the row before"),
        (2, "expected a clearing time of at most the 9 s of the row before"),
    ]


def test_wide_gaps_of_a_curve_are_told_with_their_row():
    """From 300 to 100 s to 10 s is fine, from 10 s to 0.5 s is 1.3 decades in one line; a level row is no gap."""
    assert wide_gaps([300.0, 100.0, 10.0, 1.0, 0.1, 0.1], 1.0) == []
    assert wide_gaps([300.0, 10.0, 0.5], 1.3) == [
        CurveProblem(1, "expected a point at least every 1.3 decades of time, got a step of 1.5 decades"),
        CurveProblem(2, "expected a point at least every 1.3 decades of time, got a step of 1.3 decades"),
    ]
    with pytest.raises(ValueError, match=r"^decades: expected above zero, got 0$"):
        wide_gaps([2.0, 1.0], 0.0)
