"""How much of an upper fuse's melting time a lower one takes: against both curves read point by point."""

import numpy as np
import pytest
from demonstration import ARCING_TIME, TOLERANCE, limiters, links

from deadfront.physics.crossing import clearing_edge_by_tolerance, edge_time, melting_edge
from deadfront.physics.fuse_sparing import LATE, largest_share, share_by_current


def pair(link, limiter, voltage_class="15.5"):
    """Edges of a pair of the invented catalogue."""
    lower = clearing_edge_by_tolerance(links()[link], TOLERANCE, ARCING_TIME)
    return lower, melting_edge(limiters(voltage_class)[limiter])


def test_case_b_takes_82_percent_at_its_largest_secondary_fault():
    """Case B of the self-computed cases: 0.825 at 805.2 A, and nothing below it is larger."""
    assert largest_share(share_by_current(*pair("D50", 100)), 805.2) == pytest.approx(0.825, rel=1e-3)


@pytest.mark.parametrize(("link", "limiter"), [("D50", 125), ("D50", 100), ("D65", 125), ("D25", 65)])
def test_no_current_below_has_a_larger_share(link, limiter):
    """The table never lies below the running maximum of a fine grid, and at most 1 % above it."""
    lower, upper = pair(link, limiter)
    current = np.geomspace(upper.current[0], 5e3, 20_000)
    running = np.maximum.accumulate(edge_time(lower, current) / edge_time(upper, current))
    found = largest_share(share_by_current(lower, upper), current)
    assert np.all(found >= running * (1.0 - 1e-9))
    assert np.all(found <= running * 1.01)


def test_where_the_upper_fuse_does_not_melt_nothing_is_taken():
    """Left of its first point the share is zero; far beyond both curves nothing is known."""
    lower, upper = pair("D50", 125)
    table = share_by_current(lower, upper)
    assert largest_share(table, 0.99 * upper.current[0]) == 0.0
    assert np.isnan(largest_share(table, 1e6))


@pytest.mark.parametrize(("link", "limiter"), [("D25", 125), ("D140", 40)])
def test_table_ends_at_ten_times_the_last_point_of_either(link, limiter):
    """Whichever of the two curves goes further: a share just before that, nothing just after."""
    lower, upper = pair(link, limiter)
    last = 10.0 * max(lower.current.max(), upper.current.max())
    table = share_by_current(lower, upper)
    assert np.isfinite(largest_share(table, 0.999 * last))
    assert np.isnan(largest_share(table, 1.001 * last))


def test_a_lower_fuse_that_begins_later_is_late_from_there_on():
    """Where the upper one melts and the lower one never clears, no share is small enough at any current above."""
    lower, upper = pair("D140", 40)
    assert lower.current[0] > upper.current[0]
    assert largest_share(share_by_current(lower, upper), 2e3) == LATE


def test_an_upper_edge_with_an_arcing_time_is_refused():
    """Melting is asked of the upper fuse, not clearing."""
    lower, _ = pair("D50", 125)
    with pytest.raises(ValueError, match=r"^upper: expected a melting edge, without arcing time$"):
        share_by_current(lower, lower)
