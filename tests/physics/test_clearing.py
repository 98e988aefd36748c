"""The parts of a clearing time: openings, averages, limiting, light, exposure."""

import numpy as np
import pytest

from deadfront.physics.clearing import (
    arc_detection_time,
    breaker_opening_time,
    clearing_from_average_melting,
    exposure_time,
    first_to_clear,
    limiting_time,
    operates_above,
    relay_and_breaker,
    supervised,
)


def test_first_of_several_clears_and_nothing_is_added():
    """In series the fastest device ends the current; without any, nothing does; an unknown time stays unknown."""
    fuse, relay = np.array([0.2, np.inf, np.inf]), np.array([0.5, 0.5, np.inf])
    np.testing.assert_array_equal(first_to_clear([fuse, relay]), [0.2, 0.5, np.inf])
    assert first_to_clear([]) == np.inf
    assert np.isnan(first_to_clear([0.1, np.nan]))


@pytest.mark.parametrize(
    ("kind", "printed"),
    [
        ("moulded-case", 0.025),
        ("insulated-case", 0.050),
        ("low-voltage power", 0.050),
        ("medium-voltage 1-35 kV", 0.080),
        ("above 35 kV", 0.130),
    ],
)
def test_opening_times_are_those_of_ieee_1584_2002(kind, printed):
    """Table 1 at 60 Hz; the standard cuts 83.3 ms to 80 and 133 to 130."""
    assert breaker_opening_time(kind, 60.0) == pytest.approx(printed, abs=0.0035)
    assert breaker_opening_time(kind, 60.0) >= printed


def test_opening_times_are_cycles_not_seconds():
    """Five cycles are 100 ms at 50 Hz and 83.3 ms at 60 Hz."""
    times = breaker_opening_time("medium-voltage 1-35 kV", np.array([50.0, 60.0]))
    np.testing.assert_allclose(times, [0.1, 5.0 / 60.0], rtol=1e-14)


def test_unknown_breaker_is_refused():
    """A kind the table does not know is an error that lists those it knows."""
    kinds = "moulded-case, insulated-case, low-voltage power, medium-voltage 1-35 kV, above 35 kV"
    with pytest.raises(ValueError, match=rf"^kind: expected one of {kinds}, got 'oil'$"):
        breaker_opening_time("oil", 60.0)


def test_relay_time_and_opening_add():
    """Relay time is extra to the opening; a relay that does not operate opens nothing."""
    np.testing.assert_allclose(relay_and_breaker(np.array([0.3, np.inf]), 0.05), [0.35, np.inf])


def test_trap_10_average_melting_rule_jumps_at_30_ms():
    """0.0299 s becomes 0.0344 s and 0.0301 s becomes 0.0331 s."""
    times = clearing_from_average_melting(np.array([0.0299, 0.0301]))
    np.testing.assert_allclose(times, [0.0344, 0.0331], rtol=0, atol=5.1e-5)


def test_trap_10_bottom_of_the_curve_and_half_cycle_are_two_conventions():
    """Beyond the curve a fuse counts as 0.01 s; in its limiting range as half a cycle, 0.00833 s at 60 Hz."""
    assert clearing_from_average_melting(0.001) == 0.01
    assert limiting_time(5000.0, 3000.0, 60.0) == pytest.approx(0.00833, abs=5e-6)
    assert clearing_from_average_melting(np.inf) == np.inf


def test_no_credit_for_limiting_below_its_threshold():
    """An arcing current at or below the threshold reads the curve, as does an unknown one."""
    np.testing.assert_array_equal(limiting_time(np.array([2999.0, 3000.0]), 3000.0, 50.0), np.inf)
    assert np.isnan(limiting_time(np.nan, 3000.0, 50.0))


def test_light_trip_is_the_sum_of_its_parts():
    """1 ms sensing, 1 ms output, 50 ms breaker: 52 ms."""
    assert arc_detection_time(0.001, 0.001, 0.050) == pytest.approx(0.052, rel=1e-14)


def test_supervised_light_trip_needs_its_current():
    """Without current through the transformers the light alone does not trip."""
    times = supervised(0.052, np.array([0.0, 500.0, 500.1, np.nan]), 500.0)
    np.testing.assert_array_equal(times, [np.inf, np.inf, 0.052, np.nan])


def test_trap_11_cap_is_a_time_of_exposure():
    """The cap shortens the exposure only; where escape is hindered there is none."""
    cleared = np.array([0.1, 30.0, np.inf])
    np.testing.assert_array_equal(exposure_time(cleared, 2.0), [0.1, 2.0, 2.0])
    np.testing.assert_array_equal(exposure_time(cleared, np.inf), cleared)


def test_element_at_exactly_its_threshold_is_not_sure_to_start():
    """Up to and at the threshold the time is infinite; NaN in any argument stays NaN; a threshold may be infinite."""
    np.testing.assert_array_equal(operates_above(np.array([1.0, 2.0, 2.1]), 2.0, 0.3), [np.inf, np.inf, 0.3])
    assert operates_above(np.inf, np.inf, 0.3) == np.inf
    for arguments in ((np.nan, 1.0, 0.3), (2.0, np.nan, 0.3), (2.0, 1.0, np.nan)):
        assert np.isnan(operates_above(*arguments))
