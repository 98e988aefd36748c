"""Reclosing: heat that a fuse keeps from earlier shots, the factor k, and a relay disc on its way back."""

import numpy as np
import pytest
from demonstration import links
from hypothesis import given, settings
from hypothesis import strategies as st

from deadfront.intervals import Interval
from deadfront.physics.curves import clearing_time_by_tolerance, melting_time
from deadfront.physics.reclosing import Shot, fuse_outlasts, heat_of_shots, k_of_shots, travel_left
from deadfront.physics.relays import relay_curve, reset_time
from deadfront.physics.selectivity import Margin, selectivity

FAST, DELAYED = 0.04, 0.8
D65 = links()["D65"]


def test_two_fast_shots_add_up_by_hand():
    """Two shots of 0.04 s, 0.5 s apart, cooling in 1 s: 0.04 (1 + e^-0.5) over a melting time of 0.1 s."""
    shots = (Shot(0.04, 0.5), Shot(0.04, 0.0))
    assert heat_of_shots(shots, 0.1, 1.0) == pytest.approx(0.4 * (1 + np.exp(-0.5)), rel=1e-12)
    assert heat_of_shots(shots, np.inf, 1.0) == 0.0
    assert heat_of_shots((), 0.1, 1.0) == 0.0


def test_highest_heat_may_lie_before_the_last_shot():
    """A long shot, ten time constants of rest, a short one: the long one decides, and k is never below one."""
    shots = (Shot(0.09, 10.0), Shot(0.01, 0.0))
    assert heat_of_shots(shots, 0.1, 1.0) == pytest.approx(0.9)
    assert k_of_shots(shots, 1.0) == pytest.approx(1.0)


def test_without_cooling_equal_shots_count_by_their_number():
    """One shot is k = 1; three equal ones without cooling k = 3; with rest long enough again 1."""
    assert k_of_shots((Shot(FAST, 0.0),), np.inf) == pytest.approx(1.0)
    three = (Shot(FAST, 0.3), Shot(FAST, 0.3), Shot(FAST, 0.3))
    assert k_of_shots(three, np.inf) == pytest.approx(3.0)
    assert k_of_shots(three, 1e-3) == pytest.approx(1.0)
    with pytest.raises(ValueError, match=r"^shots: expected at least one$"):
        k_of_shots((), 1.0)


def test_longest_shot_may_be_any_of_them():
    """Without cooling 0.04 s before 0.8 s is 0.84/0.8 = 1.05 of the long one, in either order and with a third."""
    for shots in ((FAST, DELAYED), (DELAYED, FAST)):
        assert k_of_shots(tuple(Shot(duration, 0.0) for duration in shots), np.inf) == pytest.approx(1.05, rel=1e-12)
    three = (Shot(FAST, 0.0), Shot(DELAYED, 0.0), Shot(FAST, 0.0))
    assert k_of_shots(three, np.inf) == pytest.approx(1.10, rel=1e-12)


def test_customary_factors_belong_to_cooling_between_the_shots():
    """k of 1.2 to 1.35 for two fast shots is a dead time of 1.6 to 1.05 of the time constant; 1.8 is 0.22 of it."""
    for k, dead_time in ((1.2, 1.609), (1.35, 1.050), (1.8, 0.223)):
        assert k_of_shots((Shot(FAST, dead_time), Shot(FAST, 0.0)), 1.0) == pytest.approx(k, abs=1e-3)


@settings(max_examples=60, deadline=None)
@given(st.floats(0.01, 1.0), st.floats(0.01, 2.0), st.floats(0.1, 10.0), st.floats(0.0, 1.0))
def test_heat_over_ranges_encloses_its_points_and_cooling_only_lowers_it(duration, dead_time, melting, share):
    """Ranges of durations and cooling; no cooling at all is the safe side."""
    shots = (Shot(Interval(duration, 2 * duration), dead_time), Shot(DELAYED, 0.0))
    enclosing = heat_of_shots(shots, Interval(melting, 2 * melting), Interval(0.5, 5.0))
    points = (Shot(duration * (1 + share), dead_time), Shot(DELAYED, 0.0))
    point = heat_of_shots(points, melting * (1 + share), 0.5 + 4.5 * share)
    assert enclosing.contains(point)
    assert point <= heat_of_shots(points, melting * (1 + share), np.inf)


def test_fuse_saving_has_a_range_of_currents():
    """Recloser with 0.04 s fast and 0.8 s delayed over a link of 65 A, k = 1.35: saved up to where it melts in 0.054 s.

    Below, the fast shots save it; the delayed shots leave it to clear from where it does so within 0.8 s.
    """
    saved = selectivity(
        lambda i: FAST + 0.0 * i, lambda i: melting_time(D65, i), Margin("time factor", 1.35), (200.0, 3000.0), ()
    )
    assert melting_time(D65, saved.selective_to) == pytest.approx(1.35 * FAST, rel=1e-9)
    cleared = selectivity(
        lambda i: clearing_time_by_tolerance(D65, i, 0.2, 0.0133),
        lambda i: DELAYED + 0.0 * i,
        Margin("clear space", 0.0),
        (200.0, 3000.0),
        (),
    )
    assert clearing_time_by_tolerance(D65, cleared.selective_from, 0.2, 0.0133) == pytest.approx(DELAYED, rel=1e-9)
    assert cleared.selective_from < saved.selective_to
    assert (
        fuse_outlasts(melting_time(D65, 500.0), FAST, 1.35) > 1.0 > fuse_outlasts(melting_time(D65, 2000.0), FAST, 1.35)
    )


def test_source_side_fuse_must_outlast_the_delayed_shots():
    """k = 3.5 and 0.8 s delayed ask for 2.8 s of melting time."""
    assert fuse_outlasts(2.8, DELAYED, 3.5) == pytest.approx(1.0)
    assert fuse_outlasts(np.inf, DELAYED, 3.5) == np.inf


def test_disc_that_had_no_time_to_return_is_ahead_at_the_next_shot():
    """Very inverse curve, dial 0.5: full return 10.8 s, so after 2.7 s three quarters are left, after 11 s nothing."""
    full = reset_time(relay_curve("ieee very inverse"), 0.0, 0.5)
    assert full == pytest.approx(10.8)
    assert travel_left(full, 2.7) == pytest.approx(0.75)
    assert travel_left(full, 11.0) == 0.0
