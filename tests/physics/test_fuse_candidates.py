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
from deadfront.physics.fuse_candidates import CHECKS, Duty, Limiter, Link, examine
from deadfront.physics.fuse_pair import largest_melting_energy
from deadfront.physics.fuse_sparing import LATE
from deadfront.physics.north_american import medium_voltage_fuse_factor

TIN, SILVER = 232.0, 961.0
CURVES, LIMITER_CURVES = links(), limiters("15.5")
LINKS = [
    Link(CURVES[name], TOLERANCE, ARCING_TIME, 1.5 * float(name[1:]), TIN, 25.0, 0.75, 1.0, 2500.0, 15.5e3, True)
    for name in CURVES
]
LIMITERS = [
    Limiter(curve, rating, SILVER, 25.0, 0.80, 0.9, 5.5 * rating, 50e3, 15.0, energy, 15.5e3, True)
    for rating, curve in LIMITER_CURVES.items()
    for energy in [float(limiter_row("15.5", rating)["melt_I2t_min_A2s"])]
]
NAMES, RATINGS = list(CURVES), list(LIMITER_CURVES)
RATED = 46.30
COLD_LOAD = np.array([6.0, 3.0]) * RATED, np.array([1.0, 10.0])
INRUSH = np.array([12.0, 25.0]) * RATED, np.array([0.1, 0.01])
AVAILABLE = np.array([4e3, 9.8e3]), np.array([30.0, 20.0])
DUTY = Duty(
    load=55.0,
    largest_fault=805.2,
    spared_up_to=805.2,
    smallest_fault=306.0,
    available=AVAILABLE,
    liquid=(25.0, 85.0),
    cold_load=COLD_LOAD,
    inrush=INRUSH,
    crossing_multiple=1.25,
    time_share=0.75,
    match=(0.0125, 2.0),
    recovery=13.2e3,
    shared_recovery=13.2e3 / np.sqrt(3.0),
    together=1,
)
NO_LIQUID = {"liquid": (25.0, 25.0), "cold_load": (np.array([]),) * 2, "inrush": (np.array([]),) * 2}
ALL = np.divmod(np.arange(len(LINKS) * len(LIMITERS)), len(LIMITERS))


def margin(found, check: str):
    """The column of one check."""
    return found.margin[:, CHECKS.index(check)]


def survival(curve, points, state, share) -> float:
    """Tightest margin of one fuse over load points, hot and preloaded."""
    (loads, times), (factor, preload) = points, state
    each = zip(loads, times, strict=True)
    return min(1 - load / (share * hot_melting_current(curve, t, factor, preload)) for load, t in each)


def test_every_margin_is_what_the_parts_give():
    """72 pairs, sixteen checks, against crossings, curves and energies taken pair by pair."""
    found = examine(LINKS, LIMITERS, DUTY, ALL)
    hot = {metal: liquid_factor(metal, 85.0) for metal in (TIN, SILVER)}
    available = max(
        medium_voltage_fuse_factor(ratio, 15.0) * current for current, ratio in zip(*AVAILABLE, strict=True)
    )
    for pair, (i, j) in enumerate(zip(*ALL, strict=True)):
        link, limiter = CURVES[NAMES[i]], LIMITER_CURVES[RATINGS[j]]
        lower = clearing_edge_by_tolerance(link, TOLERANCE, ARCING_TIME)
        upper, hot_lower = melting_edge(limiter), lower.moved(hot[TIN], 1.0)
        cold_kept, hot_kept = upper.moved(1.0, 0.80), upper.moved(hot[SILVER], 0.80)
        hot_upper = upper.moved(hot[SILVER], 1.0)
        lows = [crossings(*state) for state in ((lower, cold_kept), (hot_lower, hot_kept), (lower, hot_kept))]
        highs = [crossings(*state) for state in ((lower, upper), (hot_lower, hot_upper), (hot_lower, upper))]
        words = {STATES[int(each.state)] for each in lows + highs}
        row = found.margin[pair]
        np.testing.assert_allclose(found.crossings.first[pair], [each.first for each in lows + highs], rtol=1e-12)
        if words != {"crosses once"}:
            continue
        low, high = min(each.first for each in lows), max(each.first for each in highs)
        energy = largest_melting_energy(link, 0.0125, TOLERANCE) / (2.0 * LIMITERS[j].melting_energy * hot[SILVER] ** 2)
        needed = 13.2e3 / (np.sqrt(3.0) if energy <= 1.0 else 1.0)
        expected = [
            low / (1.25 * 805.2) - 1,
            1 - high / 2500.0,
            1 - 13.2 / 15.5,
            low / (5.5 * RATINGS[j]) - 1,
            row[4],
            1 - 805.2 / 2500.0,
            306.0 / (1.2 * link.current[0]) - 1,
            1 - energy,
            1 - needed / 15.5e3,
            1 - 55.0 / (hot[TIN] * LINKS[i].carried),
            1 - 55.0 / (hot[SILVER] * RATINGS[j]),
            survival(link, COLD_LOAD, (hot[TIN], 0.75), 1.0),
            survival(limiter, COLD_LOAD, (hot[SILVER], 0.80), 0.9),
            survival(link, INRUSH, (hot[TIN], 0.75), 1.0),
            survival(limiter, INRUSH, (hot[SILVER], 0.80), 0.9),
            1 - available / 50e3,
        ]
        np.testing.assert_allclose(row, expected, rtol=1e-9, atol=1e-12)
    assert np.sum(np.all(np.isfinite(found.margin), axis=-1)) > 20


@pytest.mark.parametrize(("name", "rating"), [("D50", 125), ("D50", 100), ("D25", 65), ("D65", 80), ("D10", 40)])
def test_share_is_the_largest_anywhere_up_to_the_fault(name, rating):
    """Clearing over melting at 20 000 currents up to the fault, cold link and hot preloaded limiter, is never above."""
    found = examine(LINKS, LIMITERS, DUTY, ([NAMES.index(name)], [RATINGS.index(rating)]))
    current = np.geomspace(1.0, 805.2, 20_000)
    melting = hot_melting_time(LIMITER_CURVES[rating], current, liquid_factor(SILVER, 85.0), 0.80)
    cleared = clearing_time_by_tolerance(CURVES[name], current, TOLERANCE, ARCING_TIME)
    acts = np.isfinite(melting)
    share = min(np.max(cleared[acts] / melting[acts]), LATE)
    largest = DUTY.time_share * (1.0 - margin(found, "link clears in time to spare the limiter")[0])
    assert share <= largest * (1 + 1e-12)
    assert share == pytest.approx(largest, rel=5e-3)


def test_share_counts_at_the_fault_itself():
    """Cold and without preload the pair of case B has its largest share at the fault of 805.2 A: 0.825 [D]."""
    duty = replace(DUTY, **NO_LIQUID)
    fresh = [replace(limiter, preload=1.0) for limiter in LIMITERS]
    found = examine(LINKS, fresh, duty, ([4], [RATINGS.index(100)]))
    share = 0.75 * (1.0 - margin(found, "link clears in time to spare the limiter")[0])
    assert share == pytest.approx(0.825, abs=5e-4)


def test_limiter_whose_curve_begins_below_that_of_the_link_is_not_spared():
    """Link of 65 A over limiter of 80 A: the limiter melts at currents at which the link's clearing is not known."""
    found = examine(LINKS, LIMITERS, DUTY, ([NAMES.index("D65")], [RATINGS.index(80)]))
    assert margin(found, "link clears in time to spare the limiter")[0] == 1.0 - LATE / 0.75


def test_pair_that_never_crosses_is_not_kept_and_says_why():
    """Link of 140 A over limiter of 40 A: the limiter is always first, from where both curves begin."""
    found = examine(LINKS, LIMITERS, DUTY, ([NAMES.index("D140")], [RATINGS.index(40)]))
    assert margin(found, "crossing above the largest secondary fault")[0] == pytest.approx(
        min(found.crossings.start[0, :3]) / (1.25 * 805.2) - 1
    )
    assert not found.kept()[0, 0]
    assert found.crossings.words((0, 0), "link", "limiter") == (
        "the limiter may melt before the link has cleared at every current both curves cover"
    )


def test_cold_load_point_beyond_the_curve_is_not_taken_for_survived():
    """Twice rated for 900 s: a link's curve that begins at 300 s does not say, a limiter's from 1000 s on does."""
    fresh = [replace(limiter, preload=1.0) for limiter in LIMITERS]
    point = (np.array([2.0 * RATED]), np.array([900.0]))
    found = examine(LINKS, fresh, replace(DUTY, cold_load=point), ([4], [5]))
    assert np.isnan(margin(found, "link survives cold load")[0])
    assert not np.isnan(margin(found, "limiter survives cold load")[0])


@pytest.mark.parametrize(
    ("field", "unknown"),
    [
        ("melting_temperature", set(range(15)) - {9, 11, 13}),
        ("least_interrupting", {3}),
        ("most_interrupting", {15}),
        ("carried", {10}),
        ("melting_energy", {7, 8}),
        ("voltage", {8}),
        ("tested_ratio", {15}),
        ("holds", set(range(9))),
        ("preload", {0, 1, 2, 3, 4, 5, 6, 12, 14}),
    ],
)
def test_number_that_a_catalogue_lacks_leaves_only_what_rests_on_it_unknown(field, unknown):
    """NaN in, NaN out in those columns; the other checks of the same limiter stand as before."""
    limiters_there = [replace(LIMITERS[5], **{field: False if field == "holds" else np.nan}), LIMITERS[5]]
    found = examine(LINKS, limiters_there, DUTY, ([4, 4], [0, 1]))
    missing = set(np.flatnonzero(np.isnan(found.margin[0])))
    assert missing == unknown
    known = sorted(set(range(len(CHECKS))) - missing)
    np.testing.assert_array_equal(found.margin[0][known], found.margin[1][known])


def test_two_limiters_in_parallel_carry_and_need_twice_the_current():
    """Twice the load and the smallest current, four times the energy; what one of them breaks stays."""
    one, two = (examine(LINKS, LIMITERS, replace(DUTY, together=n), ([4], [2])) for n in (1, 2))
    for check in ("limiter carries the load", "melting energy matched"):
        power = 2 if "energy" in check else 1
        assert 1 - margin(two, check)[0] == pytest.approx((1 - margin(one, check)[0]) / 2**power)
    assert margin(two, "limiter breaks the available fault") == margin(one, "limiter breaks the available fault")


def test_reference_temperature_of_a_curve_counts():
    """A curve drawn at 85 degC in liquid of 85 degC stands where it is drawn."""
    drawn_hot = [replace(link, reference=85.0) for link in LINKS]
    found = examine(drawn_hot, LIMITERS, DUTY, ([4], [5]))
    assert margin(found, "link carries the load")[0] == pytest.approx(1 - 55.0 / 75.0)


def test_link_with_its_own_clearing_curve_stands_beside_one_without():
    """A published clearing curve is taken as it is, in one catalogue with links of which only melting is known."""
    d50 = CURVES["D50"]
    published = TimeCurrentCurve(d50.current, d50.minimum_melting, 1.6 * d50.minimum_melting + 0.01)
    mixed = [replace(LINKS[4], curve=published, arcing_time=None), LINKS[4]]
    found = examine(mixed, LIMITERS, DUTY, ([0, 1], [5, 5]))
    assert found.crossings.first[0, 0] != found.crossings.first[1, 0]
    assert found.crossings.first[1, 3] == pytest.approx(1511.1, rel=1e-3)
    cleared = np.interp(np.log(found.crossings.first[0, 3]), np.log(d50.current), np.log(published.total_clearing))
    assert np.exp(cleared) == pytest.approx(
        float(hot_melting_time(LIMITER_CURVES[125], found.crossings.first[0, 3], 1.0, 1.0))
    )


def test_worst_margin_ranks_case_a_above_case_b():
    """Cold liquid, no preload, minimum rules: the pair of case A keeps more than that of case B [D]."""
    duty = replace(DUTY, **NO_LIQUID, crossing_multiple=1.0, time_share=0.9)
    fresh = [replace(limiter, preload=1.0) for limiter in LIMITERS]
    found = examine(LINKS, fresh, duty, ([4, 4], [RATINGS.index(125), RATINGS.index(100)]))
    crossing = margin(found, "crossing above the largest secondary fault")
    assert crossing == pytest.approx([0.877, 0.116], abs=1e-3)
    assert np.all(found.kept())
    assert found.worst()[0] > found.worst()[1] > 0.0


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
