"""Pairs from two catalogues: what is examined at once equals what the parts give one by one."""

import time
from dataclasses import replace

import numpy as np
import pytest
from demonstration import ARCING_TIME, TOLERANCE, limiter_row, limiters, links

from deadfront.physics.crossing import STATES, clearing_edge_by_tolerance, crossings, melting_edge
from deadfront.physics.curves import (
    TimeCurrentCurve,
    clearing_time_by_tolerance,
    hot_melting_current,
    hot_melting_time,
    liquid_factor,
)
from deadfront.physics.fuse_candidates import CHECKS, THERMAL_STATES, Duty, Limiter, Link, examine
from deadfront.physics.fuse_pair import largest_melting_energy, load_points

TIN, SILVER = 232.0, 961.0
CURVES, LIMITER_CURVES = links(), limiters("15.5")
LINKS = [Link(CURVES[name], TOLERANCE, ARCING_TIME, 1.5 * float(name[1:]), TIN, 2500.0) for name in CURVES]
LIMITERS = [
    Limiter(curve, rating, SILVER, 5.5 * rating, 50e3, float(limiter_row("15.5", rating)["melt_I2t_min_A2s"]))
    for rating, curve in LIMITER_CURVES.items()
]  # fmt: skip
NAMES, RATINGS = list(CURVES), list(LIMITER_CURVES)
POINTS = tuple(point for point in load_points() if point.time < 900.0)
DUTY = Duty(46.30, 55.0, 805.2, 9.8e3, (25.0, 85.0), (0.75, 0.80), POINTS, 1.25, 0.75, 0.9, (0.0125, 2.0))
ALL = np.divmod(np.arange(len(LINKS) * len(LIMITERS)), len(LIMITERS))


def margin(found, check: str):
    """The column of one check."""
    return found.margin[:, CHECKS.index(check)]


def test_every_margin_is_what_the_parts_give():
    """72 pairs, ten checks, against crossings, curves and energies taken pair by pair."""
    found = examine(LINKS, LIMITERS, DUTY, ALL)
    factors = {metal: liquid_factor(metal, 85.0) for metal in (TIN, SILVER)}
    for pair, (i, j) in enumerate(zip(*ALL, strict=True)):
        link, limiter = CURVES[NAMES[i]], LIMITER_CURVES[RATINGS[j]]
        lower = clearing_edge_by_tolerance(link, TOLERANCE, ARCING_TIME)
        upper = melting_edge(limiter)
        hot_lower, hot_upper = lower.moved(factors[TIN], 1.0), upper.moved(factors[SILVER], 0.80)
        states = [(lower, upper), (hot_lower, hot_upper), (lower, hot_upper), (hot_lower, upper)]
        alone = [crossings(*state) for state in states]
        np.testing.assert_allclose(found.crossings.first[pair], [each.first for each in alone], rtol=1e-12)
        low, high = min(each.first for each in alone), max(each.first for each in alone)
        once = all(STATES[int(each.state)] == "crosses once" for each in alone)
        row = found.margin[pair]
        energy = largest_melting_energy(link, 0.0125, TOLERANCE)
        inrush = min(hot_melting_current(link, p.time, factors[TIN], 0.75) / (46.30 * p.multiple) - 1 for p in POINTS)
        aged = min(
            0.9 * hot_melting_current(limiter, p.time, factors[SILVER], 0.80) / (46.30 * p.multiple) - 1 for p in POINTS
        )
        expected = [
            low / (1.25 * 805.2) - 1 if once else np.nan,
            1 - high / 2500.0 if once else np.nan,
            low / (5.5 * RATINGS[j]) - 1 if once else np.nan,
            row[3],
            1 - energy / (2.0 * LIMITERS[j].melting_energy),
            factors[TIN] * 1.5 * float(NAMES[i][1:]) / 55.0 - 1,
            factors[SILVER] * RATINGS[j] / 55.0 - 1,
            inrush,
            aged,
            50.0 / 9.8 - 1,
        ]
        np.testing.assert_allclose(row, expected, rtol=1e-9, atol=1e-12)


@pytest.mark.parametrize(("name", "rating"), [("D50", 125), ("D50", 100), ("D25", 65), ("D65", 80), ("D10", 40)])
def test_share_is_the_largest_anywhere_up_to_the_fault(name, rating):
    """Clearing over melting at 20 000 currents up to the fault, cold link and hot preloaded limiter, is never above."""
    found = examine(LINKS, LIMITERS, DUTY, ([NAMES.index(name)], [RATINGS.index(rating)]))
    current = np.geomspace(1.0, 805.2, 20_000)
    melting = hot_melting_time(LIMITER_CURVES[rating], current, liquid_factor(SILVER, 85.0), 0.80)
    cleared = clearing_time_by_tolerance(CURVES[name], current, TOLERANCE, ARCING_TIME)
    acts = np.isfinite(melting)
    share = np.max(cleared[acts] / melting[acts])
    largest = DUTY.time_share * (1.0 - margin(found, "link clears in time to spare the limiter")[0])
    assert share <= largest * (1 + 1e-12)
    assert share == pytest.approx(largest, rel=5e-3)


def test_share_counts_at_the_fault_itself():
    """Cold and without preload the pair of case B has its largest share at the fault of 805.2 A: 0.825 [D]."""
    duty = replace(DUTY, liquid=(25.0, 25.0), preload=(1.0, 1.0))
    found = examine(LINKS, LIMITERS, duty, ([4], [RATINGS.index(100)]))
    share = 0.75 * (1.0 - margin(found, "link clears in time to spare the limiter")[0])
    assert share == pytest.approx(0.825, abs=5e-4)


def test_limiter_whose_curve_begins_below_that_of_the_link_is_not_spared():
    """Link of 140 A over limiter of 200 A: from 380 to 403 A the limiter melts where the link's curve is silent."""
    found = examine(LINKS, LIMITERS, DUTY, ([NAMES.index("D140")], [RATINGS.index(200)]))
    assert margin(found, "link clears in time to spare the limiter")[0] == -np.inf


def test_pair_that_never_crosses_is_not_kept_and_says_why():
    """Link of 140 A over limiter of 40 A: the limiter is always first; no crossing, no margin, words instead."""
    found = examine(LINKS, LIMITERS, DUTY, ([NAMES.index("D140")], [RATINGS.index(40)]))
    assert np.all(np.isnan(found.margin[0, :3]))
    assert not np.any(found.kept()[0, :3])
    assert np.isnan(found.worst()[0])
    assert found.crossings.words((0, 0), "link", "limiter") == (
        "the limiter may melt before the link has cleared at every current both curves cover"
    )


def test_cold_load_point_beyond_the_curve_is_not_taken_for_survived():
    """Twice rated for 900 s: a link's curve that begins at 300 s does not say, a limiter's from 1000 s on does."""
    found = examine(LINKS, LIMITERS, replace(DUTY, points=load_points(), preload=(1.0, 1.0)), ([4], [5]))
    assert np.isnan(margin(found, "link survives inrush and cold load")[0])
    assert not np.isnan(margin(found, "limiter survives inrush and cold load")[0])


def test_link_with_its_own_clearing_curve_stands_beside_one_without():
    """A published clearing curve is taken as it is, in one catalogue with links of which only melting is known."""
    d50 = CURVES["D50"]
    published = TimeCurrentCurve(d50.current, d50.minimum_melting, 1.6 * d50.minimum_melting + 0.01)
    mixed = [replace(LINKS[4], curve=published, arcing_time=None), LINKS[4]]
    found = examine(mixed, LIMITERS, DUTY, ([0, 1], [5, 5]))
    assert found.crossings.first[0, 0] != found.crossings.first[1, 0]
    assert found.crossings.first[1, 0] == pytest.approx(1511.1, rel=1e-3)
    cleared = np.interp(np.log(found.crossings.first[0, 0]), np.log(d50.current), np.log(published.total_clearing))
    assert np.exp(cleared) == pytest.approx(
        float(hot_melting_time(LIMITER_CURVES[125], found.crossings.first[0, 0], 1.0, 1.0))
    )


def test_worst_margin_ranks_case_a_above_case_b():
    """Cold liquid, no preload, minimum rules: the pair of case A keeps more than that of case B [D]."""
    duty = replace(DUTY, liquid=(25.0, 25.0), preload=(1.0, 1.0), crossing_multiple=1.0, time_share=0.9, points=())
    found = examine(LINKS, LIMITERS, duty, ([4, 4], [RATINGS.index(125), RATINGS.index(100)]))
    assert np.all(found.kept())
    assert found.worst()[0] > found.worst()[1] > 0.0
    assert margin(found, "crossing above the largest secondary fault") == pytest.approx([0.877, 0.116], abs=1e-3)
    assert len(THERMAL_STATES) == found.crossings.first.shape[1]


def test_thousands_of_pairs_take_less_than_a_second():
    """5000 complete pairs in one call, with all states and checks; the bound is loose, a busy machine must pass it."""
    pairs = np.arange(5000) % len(LINKS), np.arange(5000) % len(LIMITERS)
    start = time.perf_counter()
    examine(LINKS, LIMITERS, DUTY, pairs)
    assert time.perf_counter() - start < 5.0


def test_empty_catalogue_is_refused():
    """No link to choose from is said in words."""
    with pytest.raises(ValueError, match=r"^edges: expected at least one$"):
        examine([], LIMITERS, DUTY, ([], []))
