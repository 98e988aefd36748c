"""Ranges: every coordination function that claims are proved with encloses its points, and its slopes their secants."""

import numpy as np
import pytest
from demonstration import ARCING_TIME, TOLERANCE, limiters, links

from deadfront.intervals import Dual, Interval
from deadfront.physics.code_maxima import E_RATINGS, NEC_RATINGS, csa_multiple, next_rating_down, next_rating_up
from deadfront.physics.crossing import clearing_edge_by_tolerance, melting_edge
from deadfront.physics.curves import clearing_current, hot_melting_current, liquid_factor
from deadfront.physics.damage_curve import damage_time, iec_withstand_time, thermal_damage_time, transformer_category
from deadfront.physics.fuse_pair import interrupting_rating, largest_melting_energy, largest_secondary_fault
from deadfront.physics.let_through import let_through_peak, threshold_at_crest, unlimited_i2t
from deadfront.physics.moved_crossing import crossing_by_shift, crossing_current
from deadfront.physics.reclosing import Shot, heat_of_shots, travel_left
from deadfront.physics.selectivity import Margin, share_of_upper, spare_time
from deadfront.physics.switch_fuse import take_over_current, transfer_current

D50, L125 = links()["D50"], limiters("15.5")[125]
TABLE = crossing_by_shift(clearing_edge_by_tolerance(D50, TOLERANCE, ARCING_TIME), melting_edge(L125))
LARGE = transformer_category(1e6, 3)

# name, function, ranges of its arguments
FUNCTIONS = [
    ("crossing", lambda t, u: crossing_current(TABLE, liquid_factor(232.0, t), liquid_factor(961.0, u)),
     [(25, 85), (25, 105)]),
    ("hot melting", lambda t, s: hot_melting_current(D50, s, liquid_factor(232.0, t), 0.75), [(25, 85), (0.01, 120)]),
    ("clearing read back", lambda s: clearing_current(L125, s), [(0.02, 500)]),
    ("melting energy", lambda s, e: largest_melting_energy(D50, s, e), [(0.008, 0.02), (0.1, 0.2)]),
    ("secondary fault", lambda z, q, v: largest_secondary_fault(46.3, z, 0.075, q, v),
     [(0.05, 0.06), (0, 0.01), (0.9, 1.1)]),
    ("interrupting rating", lambda u: interrupting_rating((8.3e3, 15.5e3), (3500.0, 2500.0), u), [(7e3, 12e3)]),
    ("peak", lambda i, w, x: let_through_peak(i, w, 60.0, x), [(1e3, 2e4), (5e4, 6e4), (4, 20)]),
    ("threshold", lambda w: threshold_at_crest(w, 60.0), [(5e4, 6e4)]),
    ("offset energy", lambda i, x, t: unlimited_i2t(i, x, 60.0, t), [(1e3, 2e3), (4, 20), (0.004, 0.02)]),
    ("damage", lambda m, n: damage_time(LARGE, m, n, frequent=True), [(2.5, 17), (16, 18)]),
    ("thermal damage", thermal_damage_time, [(2.0, 20.0)]),
    ("iec withstand", iec_withstand_time, [(12, 18), (17, 18)]),
    ("share", share_of_upper, [(0.05, 0.2), (0.1, 0.4)]),
    ("spare, added time", lambda a, b: spare_time(Margin("added time", 0.3), a, b), [(0.05, 0.2), (0.1, 0.4)]),
    ("spare, time factor", lambda a, b: spare_time(Margin("time factor", 1.8), a, b), [(0.05, 0.2), (0.1, 0.4)]),
    ("heat", lambda s, t: heat_of_shots((Shot(s, 0.3), Shot(s, 0.3)), 0.5, t), [(0.05, 0.1), (0.5, 5)]),
    ("travel", travel_left, [(5, 11), (0.3, 15)]),
    ("transfer", lambda t: transfer_current(L125, t), [(0.02, 0.1)]),
    ("take over", lambda t: take_over_current(L125, t, 0.02), [(0.02, 0.1)]),
    ("rating up", lambda i: next_rating_up(NEC_RATINGS, i), [(41, 61)]),
    ("rating down", lambda i: next_rating_down(E_RATINGS, i), [(41, 61)]),
    ("code multiple", lambda z: csa_multiple("Table 50", "primary fuse", z), [(0.07, 0.08)]),
]  # fmt: skip


@pytest.mark.parametrize(("function", "box"), [f[1:] for f in FUNCTIONS], ids=[f[0] for f in FUNCTIONS])
def test_range_of_results_encloses_every_point(function, box):
    """200 boxes inside the ranges, wide to narrow, each with 20 points; no result leaves its range."""
    rng = np.random.default_rng(11)
    low, high = np.array(box, dtype=float).T[:, :, None]
    middle = low + (high - low) * rng.uniform(size=(len(box), 200))
    width = (high - low) * 10.0 ** rng.uniform(-4, 0, 200)
    lower, upper = np.maximum(middle - width, low), np.minimum(middle + width, high)
    enclosing = function(*(Interval(*ends) for ends in zip(lower, upper, strict=True)))
    for _ in range(20):
        points = lower + (upper - lower) * rng.uniform(size=lower.shape)
        assert np.all(enclosing.contains(function(*points)))


@pytest.mark.parametrize(("function", "box"), [f[1:] for f in FUNCTIONS], ids=[f[0] for f in FUNCTIONS])
def test_slopes_hold_every_secant(function, box):
    """100 boxes; along each input the difference of two values over that of the inputs lies in the range of slopes."""
    rng = np.random.default_rng(12)
    low, high = np.array(box, dtype=float).T[:, :, None]
    ends = np.sort(low + (high - low) * rng.uniform(size=(2, len(box), 100)), axis=0)
    inputs = [Dual.variable(Interval(*ends[:, k]), k) for k in range(len(box))]
    found = function(*inputs)
    for k in range(len(box)):
        if k not in found.inputs:
            continue
        points = [ends[0, i] + (ends[1, i] - ends[0, i]) * rng.uniform(size=100) for i in range(len(box))]
        one, other = ([*points[:k], ends[side, k], *points[k + 1 :]] for side in (0, 1))
        secant = (function(*other) - function(*one)) / (ends[1, k] - ends[0, k])
        least, most = (np.broadcast_to(edge[found.inputs.index(k)], (100,)) for edge in found.slope.ends)
        slack = 1e-9 * (1.0 + np.abs(secant))
        assert np.all((least - slack <= secant) & (secant <= most + slack))


def test_unknown_inputs_give_unknown_results():
    """NaN in any argument of any of these functions is never answered with a number."""
    for name, function, box in FUNCTIONS:
        for k in range(len(box)):
            arguments = [np.nan if i == k else 0.5 * sum(ends) for i, ends in enumerate(box)]
            assert np.isnan(function(*arguments)), name
