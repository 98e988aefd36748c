"""Selectivity: a current range and the tightest margin of two devices, over steps, gaps and unknowns."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from deadfront.intervals import Interval
from deadfront.physics.relays import RelaySetting, relay_operating_time
from deadfront.physics.selectivity import Margin, published_margins, selectivity, share_of_upper, spare_time

CLEAR = Margin("clear space", 0.0)


def test_spare_time_is_what_each_kind_of_margin_leaves():
    """Lower 0.2 s, upper 0.6 s: 0.4 s clear, 0.1 s beyond 0.3 s, 0.75 of 0.6 s leaves a third, k = 1.5 leaves 0.3 s."""
    assert spare_time(CLEAR, 0.2, 0.6) == pytest.approx(0.4)
    assert spare_time(Margin("added time", 0.3), 0.2, 0.6) == pytest.approx(0.1)
    assert spare_time(Margin("time share", 0.75), 0.2, 0.6) == pytest.approx(0.6 - 0.2 / 0.75)
    assert spare_time(Margin("time factor", 1.5), 0.2, 0.6) == pytest.approx(0.3)


def test_device_that_does_not_act_is_told_from_one_that_is_unknown():
    """Upper silent: no limit. Lower silent and upper acting: no selectivity at all. Unknown stays unknown."""
    assert spare_time(CLEAR, 0.2, np.inf) == np.inf
    assert spare_time(CLEAR, np.inf, np.inf) == np.inf
    assert spare_time(CLEAR, np.inf, 0.6) == -np.inf
    assert np.all(np.isnan(spare_time(CLEAR, np.array([np.nan, 0.2, np.nan]), np.array([np.inf, np.nan, 0.6]))))
    assert share_of_upper(0.2, np.inf) == 0.0
    assert share_of_upper(np.inf, 0.6) == np.inf
    assert share_of_upper(np.inf, np.inf) == 0.0
    assert np.isnan(share_of_upper(np.nan, np.inf))
    assert share_of_upper(0.3, 0.6) == 0.5
    assert share_of_upper(0.3, 0.0) > 1e6


@settings(max_examples=60, deadline=None)
@given(*(st.tuples(st.floats(0.01, 5), st.floats(0.0, 5)) for _ in range(2)), st.floats(0, 1), st.floats(0, 1))
def test_spare_time_over_ranges_encloses_its_points(lower, upper, one, other):
    """Ranges of both times, any kind of margin: the enclosing range holds each point."""
    times = [Interval(start, start + width) for start, width in (lower, upper)]
    points = [start + share * width for (start, width), share in zip((lower, upper), (one, other), strict=True)]
    for margin in (CLEAR, Margin("added time", 0.3), Margin("time share", 0.75), Margin("time factor", 1.35)):
        assert spare_time(margin, *times).contains(spare_time(margin, *points))
    assert share_of_upper(*times).contains(share_of_upper(*points))


def test_two_straight_lines_are_selective_up_to_where_they_meet():
    """Lower 0.1 s flat, upper 100 / I²: selective below 31.62 A, fails from there on; tightest at the high end."""
    found = selectivity(lambda i: 0.1 + 0.0 * i, lambda i: 100.0 / i**2, CLEAR, (5.0, 50.0), ())
    assert found.selective_to == pytest.approx(np.sqrt(1000.0), rel=1e-12)
    assert np.isnan(found.selective_from)
    assert not found.everywhere
    assert found.tightest == pytest.approx(100.0 / 2500.0 - 0.1)
    assert found.tightest_at == 50.0


def test_selective_pair_says_so_with_its_tightest_margin():
    """Two inverse relays of one curve, dials 0.1 and 0.4: selective everywhere, tightest at the highest current."""
    lower = RelaySetting("iec very inverse", 100.0, 0.1, np.inf, None, None)
    upper = RelaySetting("iec very inverse", 100.0, 0.4, np.inf, None, None)
    found = selectivity(
        lambda i: relay_operating_time(lower, i),
        lambda i: relay_operating_time(upper, i),
        Margin("added time", 0.3),
        (50.0, 1000.0),
        (100.0,),
    )
    assert found.everywhere
    assert (found.selective_to, found.selective_from) == (1000.0, 50.0)
    assert found.tightest == pytest.approx(13.5 * (0.4 - 0.1) / (10.0 - 1.0) - 0.3, rel=1e-9)
    assert found.tightest_at == 1000.0


def test_narrow_gap_between_two_samples_is_found_at_its_named_steps():
    """An upper device that is fast only from 20 to 20.001 A is found because its steps are named, missed if not."""
    edges = (20.0, 20.001)

    def upper(current):
        return np.where((current >= edges[0]) & (current <= edges[1]), 0.01, 10.0)

    def lower(current):
        return 0.1 + 0.0 * current

    found = selectivity(lower, upper, CLEAR, (5.0, 50.0), edges)
    assert not found.everywhere
    assert found.selective_to == pytest.approx(20.0, rel=1e-6)
    assert found.selective_from == pytest.approx(20.001, rel=1e-6)
    assert found.tightest == pytest.approx(-0.09)
    assert selectivity(lower, upper, CLEAR, (5.0, 50.0), ()).everywhere


@pytest.mark.parametrize(("start", "end"), [(20.0 * (1.0 - 1e-4), 20.0), (20.0, 20.0 * (1.0 + 1e-4))])
def test_gap_on_either_side_of_a_named_step_is_found(start, end):
    """Fast only in a ten-thousandth below 20 A, or above it, the step itself not included: both sides are examined."""
    found = selectivity(
        lambda i: 0.1 + 0.0 * i,
        lambda i: np.where((i > start) & (i < end), 0.01, 10.0),
        CLEAR,
        (5.0, 50.0),
        (20.0,),
    )
    assert found.tightest == pytest.approx(-0.09)
    assert found.selective_to == pytest.approx(start, rel=2e-6)
    assert found.selective_from == pytest.approx(end, rel=2e-6)


def test_nothing_to_spare_is_enough():
    """Both at 0.1 s up to 20 A, the upper one faster beyond: selective up to 20 A, as `at least` says."""
    found = selectivity(lambda i: 0.1 + 0.0 * i, lambda i: np.where(i > 20.0, 0.05, 0.1), CLEAR, (5.0, 50.0), ())
    assert found.selective_to == pytest.approx(20.0, rel=1e-9)


def test_unknown_time_is_not_selective():
    """A device whose time is not known above 30 A is selective below it only."""
    found = selectivity(
        lambda i: 0.1 + 0.0 * i, lambda i: np.where(i > 30.0, np.nan, 10.0), CLEAR, (5.0, 50.0), (30.0,)
    )
    assert found.selective_to == pytest.approx(30.0, rel=1e-6)
    assert found.tightest == -np.inf


def test_pair_that_fails_from_the_start_has_no_range():
    """Upper always faster: neither end exists."""
    found = selectivity(lambda i: 0.0 * i + 1.0, lambda i: 0.0 * i + 0.5, CLEAR, (5.0, 50.0), ())
    assert np.isnan(found.selective_to)
    assert np.isnan(found.selective_from)
    assert found.tightest == pytest.approx(-0.5)


def test_published_margins_are_those_of_the_table():
    """16 rows; two static relays 0.2 to 0.3 s, a limiter 0.75 to 0.90 of its melting, gG 1.6 : 1."""
    margins = {(m.upper, m.lower): (m.kind, m.least, m.most) for m in published_margins()}
    assert len(margins) == 16
    assert margins["relay, static", "relay, static"] == ("added time", 0.2, 0.3)
    assert margins["limiter", "link"] == ("time share", 0.75, 0.90)
    assert margins["gG fuse", "gG fuse"] == ("rating ratio", 1.6, 1.6)


@pytest.mark.parametrize(
    ("margin", "message"),
    [
        (Margin("wide", 0.0), r"^kind: expected one of added time, clear space, time share, time factor, got 'wide'$"),
        (Margin("clear space", 0.1), r"^amount: a clear space has none, got 0\.1$"),
        (Margin("added time", -0.1), r"^amount: expected at least zero, got -0\.1$"),
        (Margin("time share", 0.0), r"^amount: expected above zero, got 0$"),
    ],
)
def test_margin_that_means_nothing_is_refused(margin, message):
    """An unknown kind or an amount the kind cannot have: the sentence names it."""
    with pytest.raises(ValueError, match=message):
        spare_time(margin, 0.1, 0.2)


def test_range_of_currents_must_rise_from_above_zero():
    """A range that falls, or begins at zero, is refused."""
    with pytest.raises(ValueError, match=r"^currents: expected a rising range above zero, got 50 to 5 A$"):
        selectivity(np.ones_like, np.ones_like, CLEAR, (50.0, 5.0), ())
