"""Link and limiter in series: cases A to H of the invented catalogue, each value by itself, and over ranges."""

import numpy as np
import pytest
from demonstration import (
    ARCING_TIME,
    CLASS_FACTOR,
    TOLERANCE,
    limiter_row,
    limiters,
    link_row,
    links,
)

from deadfront.intervals import Interval
from deadfront.physics.crossing import STATES, clearing_edge_by_tolerance, crossings, melting_edge
from deadfront.physics.curves import (
    TimeCurrentCurve,
    clearing_time_by_tolerance,
    hot_melting_time,
    liquid_factor,
    melting_time,
)
from deadfront.physics.fuse_pair import (
    IMPEDANCE_TOLERANCE,
    MATCH_FACTOR,
    MATCH_TIME,
    clearing_over_melting,
    interrupting_rating,
    largest_melting_energy,
    largest_secondary_fault,
    load_points,
    long_time_multiple,
    matched_melt_ratio,
    permitted_load,
    recovery_voltage,
    secondary_earth_fault,
)
from deadfront.physics.sequence import ROOT3

LINKS = links()

# case, VA, V, impedance, class kV, link, limiter: I_FL, I_TF, I_X, I_X/I_TF, IR, I_min, W/W, verdict   [D, invented]
CASES = [
    ("A", 1000e3, 12470.0, 0.0575, "15.5", "D50", 125, 46.30, 805.2, 1511.1, 1.877, 2500, 688, 0.857, "both"),
    ("B", 1000e3, 12470.0, 0.0575, "15.5", "D50", 100, 46.30, 805.2, 898.4, 1.116, 2500, 550, 1.481, "minimum only"),
    ("C", 1000e3, 12470.0, 0.0575, "15.5", "D65", 125, 46.30, 805.2, 1173.5, 1.457, 2500, 688, 1.449, "pass"),
    ("D", 500e3, 12470.0, 0.05, "15.5", "D25", 65, 23.15, 463.0, 645.3, 1.394, 2500, 358, 1.064, "pass"),
    ("E", 1500e3, 24900.0, 0.0575, "23.0", "D40", 100, 34.78, 604.9, 1120.5, 1.852, 1000, 600, 0.948, "above IR"),
    ("F", 1500e3, 24900.0, 0.0575, "23.0", "D40", 80, 34.78, 604.9, 654.3, 1.082, 1000, 480, 1.637, "minimum only"),
    ("G", 2500e3, 12470.0, 0.0575, "15.5", "D140", 250, 115.75, 2013.0, 2872.9, 1.427, 2500, 1375, 1.230, "above IR"),
    ("H", 2500e3, 12470.0, 0.0575, "15.5", "D140", 200, 115.75, 2013.0, 1338.2, 0.665, 2500, 1100, 2.125, "melts"),
]  # fmt: skip


@pytest.mark.parametrize("case", CASES, ids=[case[0] for case in CASES])
def test_pair_has_the_figures_of_its_regression_case(case):
    """Eight pairs to 0.1 %: rated current, fault, crossing, ratings, energy ratio, and what follows from them [D]."""
    _, power, voltage, impedance, kilovolts, name, rating, *expected, verdict = case
    rated = power / (ROOT3 * voltage)
    fault = largest_secondary_fault(rated, impedance, 0.0, 0.0, 1.0)
    link, limiter = LINKS[name], limiters(kilovolts)[rating]
    found = crossings(clearing_edge_by_tolerance(link, TOLERANCE, ARCING_TIME), melting_edge(limiter))
    assert STATES[int(found.state)] == "crosses once"
    crossing = float(found.first)
    breaks = interrupting_rating(
        (8300.0, 15500.0, 23000.0),
        tuple(float(link_row(name)[f"IR_A_{text}kV"]) for text in ("8.3", "15.5", "23")),
        1e3 * float(kilovolts),
    )
    least = CLASS_FACTOR[kilovolts] * rating
    energy = largest_melting_energy(link, MATCH_TIME, TOLERANCE)
    ratio = matched_melt_ratio(energy, float(limiter_row(kilovolts, rating)["melt_I2t_min_A2s"]), 1.0)
    got = [rated, fault, crossing, crossing / fault, breaks, round(least + 1e-9), ratio]  # printed without decimals
    np.testing.assert_allclose(got, expected, rtol=1e-3)
    assert crossing > least
    assert {
        "both": crossing >= 1.25 * fault and crossing <= breaks and ratio <= 1.0,
        "pass": crossing >= 1.25 * fault and crossing <= breaks and 1.0 < ratio <= MATCH_FACTOR,
        "minimum only": fault <= crossing < 1.25 * fault and crossing <= breaks,
        "above IR": crossing > breaks,
        "melts": crossing < fault and ratio > MATCH_FACTOR,
    }[verdict]


def test_link_energy_of_case_a_is_that_of_its_curve():
    """Link of 50 A: 40 454 A²s at 0.0125 s with 20 %, against 47 198 A²s of the limiter of 125 A [D]."""
    assert largest_melting_energy(LINKS["D50"], 0.0125, 0.20) == pytest.approx(40454, rel=1e-3)
    assert matched_melt_ratio(40454.0, 47198.0, 1.0) == pytest.approx(0.857, abs=5e-4)
    assert matched_melt_ratio(40454.0, 47198.0, 2.0) == pytest.approx(0.857 / 2, abs=5e-4)


def test_level_melting_curve_counts_with_its_largest_current():
    """A curve level at 0.0125 s from 800 to 1000 A may need (1000 x 1.2)² x 0.0125 A²s."""
    current, time = np.array([100.0, 800.0, 1000.0, 2000.0]), np.array([10.0, 0.0125, 0.0125, 0.001])
    level = TimeCurrentCurve(current, time, time)
    assert largest_melting_energy(level, 0.0125, 0.2) == pytest.approx(18000.0, rel=1e-9)


def test_both_curves_of_case_a_meet_at_their_crossing():
    """At 805.2 A the limiter melts in 0.3476 s; at 1511.1 A link and limiter both take 0.03206 s [D]."""
    limiter = limiters("15.5")[125]
    assert melting_time(limiter, 805.2) == pytest.approx(0.3476, rel=1e-3)
    assert melting_time(limiter, 1511.08) == pytest.approx(0.03206, rel=1e-3)
    cleared = clearing_time_by_tolerance(LINKS["D50"], 1511.08, TOLERANCE, ARCING_TIME)
    assert cleared == pytest.approx(0.03206, rel=1e-3)


def test_case_b_spares_its_limiter_only_by_the_lenient_share():
    """Link of 50 A with limiter of 100 A: clearing over melting at the fault is 0.825, above 0.75, below 0.90 [D]."""
    limiter = limiters("15.5")[100]
    cleared = clearing_time_by_tolerance(LINKS["D50"], 805.2, TOLERANCE, ARCING_TIME)
    assert clearing_over_melting(cleared, melting_time(limiter, 805.2)) == pytest.approx(0.825, abs=5e-4)


def test_largest_fault_takes_impedance_low_voltage_high_and_no_source():
    """46.3 A at 5.75 %: 805.2 A nominal; 7.5 % less impedance and 5 % more voltage give 914.0 A, a source less."""
    assert largest_secondary_fault(46.3, 0.0575, 0.0, 0.0, 1.0) == pytest.approx(805.2, abs=0.05)
    worst = largest_secondary_fault(46.3, 0.0575, IMPEDANCE_TOLERANCE, 0.0, 1.05)
    assert worst == pytest.approx(805.2174 / 0.925 * 1.05, rel=1e-6)
    assert largest_secondary_fault(46.3, 0.0575, IMPEDANCE_TOLERANCE, 0.01, 1.05) < worst
    enclosing = largest_secondary_fault(46.3, Interval(0.055, 0.06), 0.0, Interval(0.0, 0.01), 1.0)
    assert enclosing.contains(largest_secondary_fault(46.3, 0.0575, 0.0, 0.005, 1.0))


def test_earth_fault_exceeds_the_three_phase_fault_behind_a_delta():
    """With a source of a fifth of the transformer's impedance: 1.059 of three-phase, 0.611 in a primary line [D]."""
    three_phase = 1.0 / (1.0 + 0.2)
    earth = secondary_earth_fault(1.0, 0.2)
    assert earth / three_phase == pytest.approx(1.059, abs=5e-4)
    assert earth / ROOT3 / three_phase == pytest.approx(0.611, abs=5e-4)
    assert secondary_earth_fault(0.05, 0.0) == pytest.approx(20.0)


def test_load_points_are_those_of_the_table():
    """12 x 0.1 s and 25 x 0.01 s of inrush; 6, 3 and 2 times of cold load; each with its tag."""
    points = load_points()
    assert [(p.kind, p.multiple, p.time) for p in points] == [
        ("inrush", 12.0, 0.1),
        ("inrush", 25.0, 0.01),
        ("cold load", 6.0, 1.0),
        ("cold load", 3.0, 10.0),
        ("cold load", 2.0, 100.0),
        ("cold load", 2.0, 900.0),
    ]
    assert [p.tag for p in points[:2]] == ["V2", "V"]


def test_large_links_of_cases_g_and_h_survive_their_inrush():
    """Link of 140 A at 0.1 s: 1750 A against 12 x 115.75 = 1389 A [D]."""
    assert melting_time(LINKS["D140"], 12 * 115.75) > 0.1
    assert melting_time(LINKS["D140"], 1750.0) == pytest.approx(0.1)


def test_permitted_load_falls_as_the_curve_does():
    """Link of 50 A: 75 A at 25 degC, 63.2 A with a tin element at 85 degC, 35.4 A at 85 degC temperature-sensing."""
    assert permitted_load(50.0, 1.5, liquid_factor(232.0, 25.0)) == pytest.approx(75.0)
    assert permitted_load(50.0, 1.5, liquid_factor(232.0, 85.0)) == pytest.approx(63.2, abs=0.05)
    assert permitted_load(50.0, 1.0, liquid_factor(145.0, 85.0)) == pytest.approx(35.4, abs=0.05)
    assert permitted_load(50.0, 1.5, liquid_factor(232.0, Interval(25.0, 85.0))).contains(70.0)


def test_long_time_rule_reads_the_curve_at_300_s():
    """Link of 50 A melts at 120 A in 300 s: 2.6 x 46.3 A; a curve that begins at 100 s does not say."""
    assert long_time_multiple(LINKS["D50"], 46.3) == pytest.approx(120.0 / 46.3)
    short = LINKS["D50"]
    begins = type(short)(short.current[1:], short.minimum_melting[1:], short.total_clearing[1:])
    assert np.isnan(long_time_multiple(begins, 46.3))


def test_share_over_ranges_proves_the_link_first_up_to_the_fault():
    """Case A, 400 to 805 A in eight parts, liquid at the limiter 25 to 85 degC: the share stays below 0.75."""
    limiter = limiters("15.5")[125]
    edges = np.geomspace(400.0, 805.2, 9)
    current = Interval(edges[:-1], edges[1:])
    melting = hot_melting_time(limiter, current, liquid_factor(961.0, Interval(25.0, 85.0)), 1.0)
    cleared = clearing_time_by_tolerance(LINKS["D50"], current, TOLERANCE, ARCING_TIME)
    assert np.all(clearing_over_melting(cleared, melting).upper < 0.75)


def test_recovery_voltage_is_line_to_line_except_between_two_earthed_stars():
    """Only YNyn on an effectively earthed source recovers against line to neutral."""
    assert recovery_voltage(12470.0, "Dyn", source_earthed=True) == 12470.0
    assert recovery_voltage(12470.0, "YNyn", source_earthed=False) == 12470.0
    assert recovery_voltage(12470.0, "YNyn", source_earthed=True) == pytest.approx(7200.0, abs=1.0)


def test_interrupting_rating_is_that_of_the_next_class_up():
    """12.47 kV counts as the class of 15.5 kV; above the highest class there is none; ranges take the worse."""
    classes, ratings = (8300.0, 15500.0, 23000.0), (3500.0, 2500.0, 1000.0)
    recovery = np.array([7200.0, 8300.0, 8301.0, 12470.0, 23000.0, 24900.0])
    np.testing.assert_array_equal(
        interrupting_rating(classes, ratings, recovery), [3500, 3500, 2500, 2500, 1000, np.nan]
    )
    assert interrupting_rating(classes, ratings, Interval(12000.0, 16000.0)).lower == 1000.0
    with pytest.raises(
        ValueError, match=r"^voltages: expected rising classes, one per rating, got \(8300\.0, 8300\.0\) for"
    ):
        interrupting_rating((8300.0, 8300.0), (1.0, 2.0), 1.0)
