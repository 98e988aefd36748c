"""Switch and fuses: transfer current by the 0.9 T0 rule, take-over current, and where the rule comes from."""

import numpy as np
import pytest
from demonstration import limiters

from deadfront.intervals import Interval
from deadfront.physics.curves import TimeCurrentCurve
from deadfront.physics.fuse_pair import largest_secondary_fault
from deadfront.physics.sequence import ROOT3
from deadfront.physics.switch_fuse import EXTERNAL_RELAY_TIME, take_over_current, transfer_current, transfer_share

LIMITER_100 = limiters("15.5")[100]


@pytest.mark.parametrize(("opening", "current"), [(0.028, 1236.7), (0.050, 1050.1), (0.100, 863.6)])
def test_transfer_current_is_that_computed_elsewhere(opening, current):
    """Invented limiter of 100 A at three opening times, to 0.1 % [D]."""
    assert transfer_current(LIMITER_100, opening) == pytest.approx(current, rel=1e-3)


def test_transfer_current_of_the_published_fuse_is_read_at_nine_tenths():
    """P9: 28 ms and 1880 A: any curve through 25.2 ms and 1880 A gives it, here one of 89 070 A²s [V, method only]."""
    time = np.array([0.1, 0.01])
    current = np.sqrt(89_070.0 / time)
    curve = TimeCurrentCurve(current, time, time)
    assert transfer_current(curve, 0.028) == pytest.approx(1880.0, abs=0.5)
    assert 0.0252 * np.square(1880.0) == pytest.approx(89_070.0, rel=1e-4)


def test_recalled_annex_example_passes_by_its_own_numbers():
    """400 kVA at 11 kV, 5 %: 21 A, 31.5 A, 252 A inrush, fault 420 A above the transfer current of 280 A [M]."""
    rated = 400e3 / (ROOT3 * 11e3)
    assert rated == pytest.approx(21.0, abs=0.05)
    assert 1.5 * rated == pytest.approx(31.5, abs=0.05)
    assert 12 * rated == pytest.approx(252.0, abs=0.5)
    fault = largest_secondary_fault(rated, 0.05, 0.0, 0.0, 1.0)
    assert fault == pytest.approx(420.0, abs=0.5)
    assert fault > 280.0


@pytest.mark.parametrize(("steepness", "share"), [(3.0, 1.49), (4.0, 0.91), (5.0, 0.59)])
def test_the_rule_is_a_convention_for_the_fourth_power(steepness, share):
    """With 6.5 % either way: 0.91 for I⁴, the 0.9 of the standard; 1.49 and 0.59 for other slopes [D]."""
    assert transfer_share(steepness, 0.065) == pytest.approx(share, abs=0.005)
    first = transfer_share(steepness, 0.065)
    slow = 1.13**steepness * first  # the second fuse, melting for as long at full current
    # Heat of I^a t, up to the first melting at full current, then at 0.87 of it until the switch opens at T0 = 1.
    assert first + 0.87**steepness * 1.0 == pytest.approx(slow, rel=1e-12)


def test_take_over_reads_the_longest_operating_curve():
    """A fuse that may take 1.5 times its melting time clears within 60 ms at a larger current than it melts in."""
    slow = TimeCurrentCurve(LIMITER_100.current, LIMITER_100.minimum_melting, 1.5 * LIMITER_100.minimum_melting)
    over = take_over_current(slow, 0.04, EXTERNAL_RELAY_TIME)
    assert over > take_over_current(LIMITER_100, 0.04, EXTERNAL_RELAY_TIME)
    assert over == pytest.approx(float(take_over_current(LIMITER_100, 0.06 / 1.5, 0.0)), rel=1e-9)
    assert np.isnan(take_over_current(slow, 0.0149, 0.0))


def test_level_curve_transfers_at_its_largest_current():
    """A melting curve level at 45 ms from 800 to 1000 A leaves the switch up to 1000 A to break."""
    current, time = np.array([100.0, 800.0, 1000.0, 2000.0]), np.array([10.0, 0.045, 0.045, 0.01])
    assert transfer_current(TimeCurrentCurve(current, time, time), 0.05) == pytest.approx(1000.0, rel=1e-9)


def test_opening_time_longer_than_the_curve_is_not_known():
    """The curve begins at 1000 s: an opening time of 1200 s has no transfer current."""
    assert np.isnan(transfer_current(LIMITER_100, 1200.0))


def test_range_of_opening_times_encloses_its_points():
    """28 to 100 ms: every transfer current lies in the range, whose ends are those of the ends."""
    enclosing = transfer_current(LIMITER_100, Interval(0.028, 0.100))
    for opening in np.linspace(0.028, 0.100, 50):
        assert enclosing.contains(transfer_current(LIMITER_100, opening))
    assert enclosing.upper == pytest.approx(1236.7, rel=1e-3)
    assert enclosing.lower == pytest.approx(863.6, rel=1e-3)


def test_steepness_and_tolerance_must_be_above_zero():
    """A flat curve, or fuses that do not scatter, have no transfer by this derivation."""
    with pytest.raises(ValueError, match=r"^steepness, tolerance: expected above zero, got 0 and 0\.065$"):
        transfer_share(0.0, 0.065)
    with pytest.raises(ValueError, match=r"^steepness, tolerance: expected above zero, got 4 and 0$"):
        transfer_share(4.0, 0.0)
