"""Low-voltage trips and fuses as limits: bands, staircases and let-through."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from deadfront.physics.trips import (
    DelayedElement,
    ElectronicTrip,
    LongTimeElement,
    ThermalMagneticTrip,
    TripBand,
    earliest_earth_trip_time,
    earliest_gg_time,
    earliest_trip_time,
    gg_gates,
    highest_i2t,
    highest_peak,
    latest_earth_trip_time,
    latest_gg_time,
    latest_thermal_magnetic_time,
    latest_trip_time,
    let_through_limits,
    ul489_longest_time,
)
from deadfront.tables import read

EXACT = TripBand((1.0, 1.0), (1.0, 1.0), 0.0)
BAND = TripBand((1.05, 1.20), (0.80, 1.15), 0.10)
MAIN = ElectronicTrip(LongTimeElement(2000.0, 10.0, 6.0), DelayedElement(8000.0, 0.3, None), 24000.0, BAND)
MOULDED = ThermalMagneticTrip(100.0, 1.30, 7200.0, 2.0, 360.0, 1000.0, 0.20, 0.025)


def test_long_time_delay_holds_at_its_reference_multiple():
    """The delay is the stated one at six times the pickup and four times as long at three times."""
    trip = ElectronicTrip(LongTimeElement(2000.0, 10.0, 6.0), None, None, EXACT)
    np.testing.assert_allclose(latest_trip_time(trip, np.array([6000.0, 12000.0])), [40.0, 10.0], rtol=1e-13)


def test_latest_time_takes_the_slow_edge_of_every_band():
    """Long time from 1.20 of its pickup, the others from 1.10; a delay of 0.3 s has passed after 1.15 x 0.3 = 0.345 s.

    The long-time line: 10 s at 6 x 2000 A, late 11.5 s; at 8800 A 11.5 x (12000/8800)² = 21.384 s.
    """
    current = np.array([2400.0, 2401.0, 8800.0, 8801.0, 26400.0, 26401.0])
    expected = [np.inf, 11.5 * (12000.0 / 2401.0) ** 2, 21.384, 0.345, 0.345, 0.0]
    np.testing.assert_allclose(latest_trip_time(MAIN, current), expected, rtol=2e-5)


def test_earliest_time_takes_the_fast_edge_of_every_band():
    """Long time from 1.05 of its pickup, the others from 0.90; a delay of 0.3 s may have passed after 0.8 x 0.3 s.

    The long-time line: 10 s at 6 x 2000 A, early 8 s; at 7200 A 8 x (12000/7200)² = 22.222 s.
    """
    current = np.array([2100.0, 2101.0, 7200.0, 7201.0, 21600.0, 21601.0])
    expected = [np.inf, 8.0 * (12000.0 / 2101.0) ** 2, 22.2222, 0.24, 0.24, 0.0]
    np.testing.assert_allclose(earliest_trip_time(MAIN, current), expected, rtol=2e-5)


def test_conventional_currents_of_the_standard_lie_outside_the_band_of_the_pickup():
    """IEC 60947-2: no trip at 1.05 of the setting, a trip within 2 h at 1.30; both hold at both edges of the band."""
    trip = ElectronicTrip(LongTimeElement(2000.0, 10.0, 6.0), None, None, BAND)
    assert earliest_trip_time(trip, 1.05 * 2000.0) == np.inf
    assert latest_trip_time(trip, 1.30 * 2000.0) < 7200.0


def test_first_element_to_time_out_trips_even_where_it_is_the_slow_one():
    """2000 A with 2 s at six times: from 12000 sqrt(2.3/0.345) = 30984 A the I²t line is below the delay of 0.3 s.

    Both late by 15 %, so the ratio is that of the settings, at both edges: elements run side by side.
    """
    trip = ElectronicTrip(LongTimeElement(2000.0, 2.0, 6.0), DelayedElement(8000.0, 0.3, None), None, BAND)
    late = latest_trip_time(trip, np.array([30000.0, 30984.0, 40000.0]))
    np.testing.assert_allclose(late, [0.345, 0.345, 2.3 * 0.09], rtol=2e-5)
    early = earliest_trip_time(trip, np.array([30000.0, 30984.0, 40000.0]))
    np.testing.assert_allclose(early, [0.24, 0.24, 1.6 * 0.09], rtol=2e-5)


def test_ramp_comes_down_to_the_flat_delay():
    """An I²t ramp to 16 kA takes four times the delay at 8 kA, and the delay itself from 16 kA up, at both edges."""
    trip = ElectronicTrip(None, DelayedElement(4000.0, 0.2, 16000.0), None, EXACT)
    current = np.array([4000.0, 8000.0, 16000.0, 40000.0])
    np.testing.assert_allclose(latest_trip_time(trip, current), [np.inf, 0.8, 0.2, 0.2], rtol=1e-13)
    banded = replace(trip, band=BAND)
    np.testing.assert_allclose(latest_trip_time(banded, current), [np.inf, 0.92, 0.23, 0.23], rtol=1e-13)
    np.testing.assert_allclose(earliest_trip_time(banded, current), [2.56, 0.64, 0.16, 0.16], rtol=1e-13)


def test_earth_element_follows_the_residual_current():
    """1200 A, 0.3 s flat: late from 1320 A after 0.345 s, early from 1080 A after 0.24 s."""
    element = DelayedElement(1200.0, 0.3, None)
    residual = np.array([1080.0, 1081.0, 1320.0, 1321.0])
    np.testing.assert_allclose(latest_earth_trip_time(element, BAND, residual), [np.inf, np.inf, np.inf, 0.345])
    np.testing.assert_allclose(earliest_earth_trip_time(element, BAND, residual), [np.inf, 0.24, 0.24, 0.24])


def test_trip_without_elements_never_operates():
    """No element, no time; and an unknown current has an unknown time, with any set of elements."""
    assert latest_trip_time(ElectronicTrip(None, None, None, BAND), 1e5) == np.inf
    for trip in (
        MAIN,
        replace(MAIN, long_time=None, short_time=None),
        replace(MAIN, long_time=None, instantaneous=None),
    ):
        assert np.isnan(latest_trip_time(trip, np.nan))
        assert np.isnan(earliest_trip_time(trip, np.nan))


@settings(max_examples=100, deadline=None)
@given(st.floats(100.0, 1e5), st.floats(100.0, 1e5), st.sampled_from([None, 16000.0]))
def test_more_current_never_clears_later_and_latest_is_not_before_earliest(one, other, ramp):
    """Both limits never rise with the current, and lie in order at every current."""
    trip = replace(MAIN, short_time=DelayedElement(8000.0, 0.3, ramp))
    low, high = sorted((one, other))
    for limit in (latest_trip_time, earliest_trip_time):
        assert limit(trip, high) <= limit(trip, low)
    assert latest_trip_time(trip, low) >= earliest_trip_time(trip, low)


def test_arrays_give_what_a_loop_gives():
    """One call over many currents equals many calls, for every kind of device."""
    current = np.geomspace(50.0, 1e5, 61)
    for limit, device in (
        (latest_trip_time, MAIN),
        (earliest_trip_time, MAIN),
        (latest_thermal_magnetic_time, MOULDED),
        (latest_gg_time, gg_gates(100.0)),
        (earliest_gg_time, gg_gates(100.0)),
    ):
        loop = [float(limit(device, one)) for one in current]
        np.testing.assert_allclose(limit(device, current), loop, rtol=1e-14)


def test_thermal_magnetic_breaker_by_the_limits_of_its_standard():
    """Below 1.30 not sure to trip; two hours up to twice the rating; constant I²t; magnetic from 1.2 of its pickup."""
    current = np.array([129.9, 130.1, 199.0, 200.0, 400.0, 1200.0, 1200.1])
    expected = [np.inf, 7200.0, 7200.0, 360.0, 90.0, 10.0, 0.025]
    np.testing.assert_allclose(latest_thermal_magnetic_time(MOULDED, current), expected, rtol=1e-12)
    assert np.isnan(latest_thermal_magnetic_time(MOULDED, np.nan))


@pytest.mark.parametrize("multiple", [2.5, 4.0, 8.0])
def test_line_of_constant_i2t_bounds_a_bimetal_from_above(multiple):
    """A bimetal that trips at 1.30 in the long run and in 360 s at twice takes no longer than the line above that."""
    constant = 360.0 / np.log(4.0 / (4.0 - 1.3**2))
    bimetal = constant * np.log(multiple**2 / (multiple**2 - 1.3**2))
    line = latest_thermal_magnetic_time(replace(MOULDED, magnetic=1e6), multiple * 100.0)
    assert 0.5 * line < bimetal < line


@pytest.mark.parametrize(("rating", "minutes"), [(30, 2), (31, 4), (225, 10), (226, 12), (1600, 22), (5000, 28)])
def test_longest_time_at_twice_the_rating(rating, minutes):
    """UL 489 at 200 %: the step of each rating in minutes."""
    assert ul489_longest_time(rating) == 60.0 * minutes


def test_rating_beyond_the_table_is_refused():
    """Above 5000 A there is no limit to read."""
    with pytest.raises(ValueError, match=r"^rating: expected at most 5000 A, got 6000$"):
        ul489_longest_time(6000)


def test_gates_of_a_gg_fuse_are_a_staircase():
    """100 A: infinite up to 160 A, then two hours, 5 s from 580 A, 0.1 s from 1450 A; earliest 10 s up to 290 A."""
    gates = gg_gates(100)
    latest = latest_gg_time(gates, np.array([125.0, 160.0, 161.0, 579.0, 580.0, 1449.0, 1450.0, 1e5]))
    np.testing.assert_array_equal(latest, [np.inf, np.inf, 7200.0, 7200.0, 5.0, 5.0, 0.1, 0.1])
    earliest = earliest_gg_time(gates, np.array([125.0, 126.0, 290.0, 291.0, 820.0, 821.0]))
    np.testing.assert_array_equal(earliest, [np.inf, 10.0, 10.0, 0.1, 0.1, 0.0])
    assert np.isnan(latest_gg_time(gates, np.nan))
    assert np.isnan(earliest_gg_time(gates, np.nan))


def test_gates_are_limits_and_earliest_never_passes_latest():
    """At every current of every rating a fuse may melt no later than it must have operated."""
    for row in read("iec60269-gg-gates").rows:
        gates = gg_gates(float(row["rated_a"]))
        current = np.geomspace(0.5, 500.0, 401) * float(row["rated_a"])
        assert np.all(earliest_gg_time(gates, current) <= latest_gg_time(gates, current))


def test_gg_ratings_1_6_apart_follow_each_other():
    """IEC 60269: the larger of a 1.6:1 pair starts at 0.1 s where the smaller has ended, and outlasts its I²t."""
    rows = read("iec60269-gg-gates").rows
    pairs = [(one, two) for one in rows for two in rows if 1.5 < float(two["rated_a"]) / float(one["rated_a"]) < 1.65]
    pairs = [(one, two) for one, two in pairs if float(one["rated_a"]) >= 16]
    assert len(pairs) == 18
    for one, two in pairs:
        assert float(two["lowest_100ms_a"]) == float(one["highest_100ms_a"])
        assert float(one["operating_max_a2s"]) <= float(two["pre_arcing_min_a2s"])


def test_unknown_gg_rating_is_refused():
    """A rating outside the series is an error that lists the series."""
    series = "2, 4, 6, 8, 10, 12, 16, 20, 25, 32, 40, 50, 63, 80, 100, 125, 160, 200, 250, 315, 400, 500, 630, 800, "
    with pytest.raises(ValueError, match=rf"^rating: expected one of {series}1000, 1250 A, got 90$"):
        gg_gates(90)


def test_let_through_is_the_limit_of_the_next_higher_test():
    """Class J, 200 A: 200 000 A²s up to 50 kA, 300 000 up to 200 kA, nothing known above."""
    limits = let_through_limits("J", 200)
    prospective = np.array([10e3, 50e3, 50.1e3, 200e3, 200.1e3, np.nan])
    np.testing.assert_array_equal(highest_i2t(limits, prospective), [2e5, 2e5, 3e5, 3e5, np.nan, np.nan])
    np.testing.assert_array_equal(highest_peak(limits, prospective), [16e3, 16e3, 20e3, 30e3, np.nan, np.nan])


def test_let_through_of_a_rating_between_sizes_is_that_of_the_size_above():
    """A class L fuse of 700 A is one of the 800 A size; limits that are not printed come from the next column."""
    assert let_through_limits("L", 700) == let_through_limits("L", 800)
    limits = let_through_limits("L", 5000)
    assert limits.i2t == (350e6, 350e6, 350e6)
    assert limits.peak == (300e3, 300e3, 300e3)


def test_unknown_class_or_size_is_refused():
    """Neither a class nor a size is guessed."""
    with pytest.raises(ValueError, match=r"^fuse_class: expected one of J, L, RK1, got 'T'$"):
        let_through_limits("T", 100)
    with pytest.raises(ValueError, match=r"^rating: class J has no size for 601 A$"):
        let_through_limits("J", 601)
