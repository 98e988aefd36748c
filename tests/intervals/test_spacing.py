"""Tests of deadfront.intervals.spacing: cuts and places of ranges, and how much work was done with them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from deadfront.intervals import BOX, Interval, exceptionally, grid, halfway, halved, placed, shares_of, work_done

ENDS = st.tuples(st.floats(-1e6, 1e6), st.floats(-1e6, 1e6)).map(sorted)
DECADES = st.tuples(st.floats(1e-200, 1e200), st.floats(1.0, 100.0)).map(
    lambda pair: (pair[0], pair[0] * 10 ** pair[1])
)


@given(ENDS | DECADES)
def test_a_cut_lies_in_its_range(ends):
    """Whatever the range, down to one of no width."""
    assert ends[0] <= halfway(*ends) <= ends[1]


@pytest.mark.parametrize(("low", "high"), [(3.2e3, 9.8e3), (-25.0, 95.0), (0.0, 1.0), (-40.0, -1.0), (1.0, 9.99)])
def test_a_range_below_a_decade_is_cut_in_the_middle(low, high):
    """Also one that reaches below zero: the mean of its ends, to the last bit."""
    assert halfway(low, high) == 0.5 * (low + high)
    assert np.array_equal(grid(low, high, 4), np.linspace(low, high, 5))


@pytest.mark.parametrize(("low", "high", "cut"), [(0.01, 1000.0, 10**0.5), (1.0, 10.0, 10**0.5), (1e-300, 1e300, 1.0)])
def test_a_range_over_decades_is_cut_in_the_logarithm(low, high, cut):
    """As many decades on either side, also where the product of the ends lies beyond all numbers."""
    assert halfway(low, high) == pytest.approx(cut, rel=1e-12)
    assert grid(low, high, 2)[[0, 2]].tolist() == [low, high]


@given(ENDS | DECADES, st.floats(0.0, 1.0))
def test_a_share_of_a_range_and_a_place_in_it_are_each_other_the_other_way_round(ends, share):
    """From 0 at the lower end to 1 at the upper one."""
    low, high = (np.array([end]) for end in ends)
    if high - low < 1e-3 * max(abs(low), abs(high), 1e-280):
        return
    assert shares_of(low, high, placed(low, high, share)) == pytest.approx(share, abs=1e-9)
    assert shares_of(low, high, low) == 0.0
    assert shares_of(low, high, high) == pytest.approx(1.0, abs=1e-15)


def test_seventeen_halvings_reach_the_foot_of_five_decades():
    """Trap: halved at its middle, 0.01 to 1000 keeps a ratio of 1.8 between the ends of its lowest part."""
    lower, upper = np.array([[0.01]]), np.array([[1000.0]])
    for _ in range(17):
        lower, upper, _ = halved(lower[:1], upper[:1], np.ones((1, 1)), 1)
    assert lower[0, 0] == 0.01
    assert upper[0, 0] < 0.01 * 1.001


def work(count):
    """Boxes that a formula of some ranges counts as."""
    x = Interval(np.full(count, 1.0), np.full(count, 2.0))
    before = work_done()
    exceptionally(lambda: np.exp(x) * x + np.sqrt(x))
    return (work_done() - before) / BOX


def test_work_is_counted_alike_each_time_and_grows_with_the_number_of_ranges():
    """Four operations: half a thousand ranges take twice what a few take."""
    assert work(1) == work(1) > 0
    assert work(501) == pytest.approx(2 * work(1), rel=0.01)
