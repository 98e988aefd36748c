"""Traps of fuse coordination: each test guards one error that is easy to make and hard to see."""

import numpy as np
import pytest
from demonstration import ARCING_TIME, TOLERANCE, limiter_row, limiters, link_row, links

from deadfront.physics.code_maxima import NEC_RATINGS, csa_multiple, next_rating_down, next_rating_up, nfpa_multiple
from deadfront.physics.crossing import clearing_edge_by_tolerance, crossings, melting_edge
from deadfront.physics.curves import (
    TimeCurrentCurve,
    clearing_time_by_tolerance,
    hot_melting_current,
    liquid_factor,
    melting_time,
)
from deadfront.physics.damage_curve import damage_time, thermal_damage_time, transformer_category, winding_multiple
from deadfront.physics.fuse_pair import interrupting_rating, largest_secondary_fault, secondary_earth_fault
from deadfront.physics.fuse_ratings import letter_gate, link_gates
from deadfront.physics.let_through import cut_off_current, unlimited_i2t
from deadfront.physics.reclosing import Shot, fuse_outlasts, k_of_shots
from deadfront.physics.reflection import line_over_winding
from deadfront.physics.relays import relay_curve
from deadfront.physics.switch_fuse import take_over_current, transfer_current
from deadfront.physics.trips import gg_gates

D50, LIMITERS = links()["D50"], limiters("15.5")


def link_clearing(current):
    """Total clearing of the invented link of 50 A."""
    return clearing_time_by_tolerance(D50, current, TOLERANCE, ARCING_TIME)


def test_trap_1_earth_fault_is_the_slow_one_though_the_winding_is_at_its_limit():
    """Three-phase faults alone hide it: the link sees 0.577 and takes 4.4 times as long, the winding sees all of it."""
    rated, impedance = 46.3, 0.0575
    three_phase = largest_secondary_fault(rated, impedance, 0.0, 0.0, 1.0)
    earth = rated * secondary_earth_fault(impedance, 0.0) * line_over_winding("line-earth", "Dyn")
    assert earth == pytest.approx(464.9, rel=1e-3)
    assert link_clearing(earth) / link_clearing(three_phase) == pytest.approx(0.4329 / 0.0977, rel=2e-3)
    multiple = winding_multiple(earth, rated, line_over_winding("line-earth", "Dyn"))
    assert multiple == pytest.approx(1.0 / impedance, rel=1e-12)
    category = transformer_category(1e6, 3)
    damage = damage_time(category, multiple, 1.0 / impedance, frequent=True)
    assert damage == pytest.approx(2.0)
    # Without the shift the same line current looks like 10.0 times rated and seems to be stood for six times as long.
    assert damage_time(category, earth / rated, 1.0 / impedance, frequent=True) > 6.0 * damage


def test_trap_2_worst_currents_of_crossing_and_of_clearing_differ():
    """The crossing needs the largest fault, the clearing time the smallest arc: each passes at the other's current."""
    crossing = float(crossings(clearing_edge_by_tolerance(D50, 0.2, 0.0133), melting_edge(LIMITERS[100])).first)
    largest = largest_secondary_fault(46.3, 0.0575, 0.075, 0.0, 1.05)
    weakest = 0.38 * largest_secondary_fault(46.3, 0.0575, 0.0, 0.01, 1.0)
    assert largest > crossing > weakest
    assert link_clearing(weakest) > 15 * link_clearing(largest)


def test_trap_3_mean_against_mean_would_pass_a_pair_that_fails():
    """Link of 50 A and limiter of 100 A at 880 A: mean clearing is 0.74 of melting, latest clearing 0.97 of it."""
    melting = melting_time(LIMITERS[100], 880.0)
    mean = melting_time(D50, 880.0 / 1.1) + 0.5 * ARCING_TIME
    assert mean / melting < 0.75 < link_clearing(880.0) / melting


def test_trap_4_gates_are_no_curve():
    """10K at 50 A: the chord through its gates says 1.20 s; gates stand apart from a curve in their own type."""
    gates = link_gates("K", 10.0)
    current = np.log([gate.least_current for gate in gates])
    time = np.log([gate.earliest for gate in gates])
    assert np.exp(np.interp(np.log(50.0), current, time)) == pytest.approx(1.20, abs=0.005)
    assert not any(isinstance(gate, TimeCurrentCurve) for gate in gates)
    assert not isinstance(gg_gates(100.0), TimeCurrentCurve)


def test_trap_5_liquid_moves_the_link_not_the_limiter():
    """At 85 degC tin shifts 16 %, silver 3 %: hot lowers the inrush margin, cold link with hot limiter the crossing."""
    tin, silver = liquid_factor(232.0, 85.0), liquid_factor(961.0, 85.0)
    assert 1.0 - tin > 4.5 * (1.0 - silver)
    assert hot_melting_current(D50, 0.1, 1.0, 1.0) > 555.6 > hot_melting_current(D50, 0.1, tin, 1.0)
    lower, upper = clearing_edge_by_tolerance(D50, 0.2, 0.0133), melting_edge(LIMITERS[125])
    cold_link = crossings(lower, upper.moved(silver, 1.0)).first
    hot_link = crossings(lower.moved(tin, 1.0), upper.moved(silver, 1.0)).first
    assert cold_link < hot_link


def test_trap_6_a_pair_good_at_one_voltage_fails_at_the_next():
    """Link of 40 A with limiter of 100 A crosses at 1120 A: 2500 A at 12.47 kV, 1000 A at 23 kV class (case E)."""
    ratings = tuple(float(link_row("D40")[f"IR_A_{text}kV"]) for text in ("8.3", "15.5", "23"))
    lower = clearing_edge_by_tolerance(links()["D40"], TOLERANCE, ARCING_TIME)
    crossing = crossings(lower, melting_edge(LIMITERS[100])).first
    classes = (8300.0, 15500.0, 23000.0)
    assert interrupting_rating(classes, ratings, 23000.0) < crossing < interrupting_rating(classes, ratings, 12470.0)
    assert np.isnan(interrupting_rating(classes, ratings, 24900.0))


def test_trap_7_the_letter_says_what_the_number_means():
    """100E, 100C and a gG fuse of 100 A melt at different currents and times; K on a limiter says neither."""
    e, c, g = letter_gate("E", 100.0), letter_gate("C", 100.0), gg_gates(100.0)
    assert (e.least_current, e.earliest) == (200.0, 300.0)
    assert (c.least_current, c.earliest) == (170.0, 1000.0)
    assert (g.fusing, g.conventional_time) == (160.0, 7200.0)
    with pytest.raises(ValueError, match="others fix no point, got 'K'"):
        letter_gate("K", 100.0)


def test_trap_8_above_100_a_the_long_time_is_600_s():
    """Both for E numbers and for K and T links."""
    assert [letter_gate("E", number).earliest for number in (100.0, 101.0)] == [300.0, 600.0]
    for kind in ("K", "T"):
        assert [link_gates(kind, rating)[0].earliest for rating in (100.0, 140.0)] == [300.0, 600.0]


def test_trap_9_one_table_hides_a_factor_of_seven_in_its_dial():
    """The undivided short inverse curve is seven times the divided one, in both constants."""
    curves = {name: relay_curve(name) for name in ("older us short inverse", "older us short-time undivided")}
    divided, undivided = curves.values()
    assert undivided.k == pytest.approx(7.0 * divided.k, rel=1e-3)
    assert undivided.constant == pytest.approx(7.0 * divided.constant, rel=1e-3)


def test_trap_10_offset_current_heats_more_than_its_symmetrical_part():
    """10 kA at X/R 15 for 0.01 s of 50 Hz: 2.48 times what the symmetrical current says."""
    assert unlimited_i2t(10e3, 15.0, 50.0, 0.01) == pytest.approx(2.48 * 10e3**2 * 0.01, rel=2e-3)


def test_trap_11_root_of_energy_over_time_is_no_peak():
    """136 870 A²s over half a cycle give 4053 A by the wrong formula; the limiter of 125 A lets 12 225 A through."""
    total = float(limiter_row("15.5", 125)["total_clear_I2t_A2s"])
    assert np.sqrt(total * 120.0) == pytest.approx(4053.0, abs=1.0)
    assert np.sqrt(total * 120.0) < 0.35 * cut_off_current(20e3, 57110.0, 60.0, 15.0)


def test_trap_12_the_thermal_line_does_not_reach_down_to_overloads():
    """At twice rated current 1250 / I² says 312 s, the published points 1800 s."""
    assert thermal_damage_time(2.0) == pytest.approx(1800.0)
    assert thermal_damage_time(2.0) / (1250.0 / 2.0**2) == pytest.approx(5.76, abs=0.01)


def test_trap_13_code_maxima_lie_far_above_the_choice_and_breakers_round_down():
    """46.3 A: NFPA lets 150 A stand where the crossing chose 50 A; a Canadian breaker of 138.9 A goes to 125 A."""
    most = next_rating_up(NEC_RATINGS, nfpa_multiple("any", "primary fuse", 0.0575) * 46.3)
    assert most == 150.0
    assert next_rating_down(NEC_RATINGS, csa_multiple("26-250", "primary breaker", 0.0575) * 46.3) == 125.0


def test_trap_14_the_same_fuse_lets_more_through_at_60_hertz():
    """Cut-off rises by (60/50)^(1/3) = 1.063."""
    assert cut_off_current(1e4, 1e5, 60.0, 15.0) / cut_off_current(1e4, 1e5, 50.0, 15.0) == pytest.approx(
        1.063, abs=5e-4
    )


def test_trap_15_a_fuse_that_outlasts_one_shot_may_not_outlast_three():
    """Link of 50 A at 600 A outlasts one shot of 0.05 s twice over, but not three without time to cool."""
    melting, shot = melting_time(D50, 600.0), Shot(0.05, 0.3)
    assert fuse_outlasts(melting, 0.05, 1.0) > 2.0
    assert fuse_outlasts(melting, 0.05, k_of_shots((shot, shot, shot), np.inf)) < 1.0


def test_trap_16_transfer_reads_the_earliest_curve_and_take_over_the_latest():
    """With clearing 1.5 times melting the two currents at one time lie apart: each reads its own edge."""
    limiter = LIMITERS[100]
    band = TimeCurrentCurve(limiter.current, limiter.minimum_melting, 1.5 * limiter.minimum_melting)
    transfer, take_over = transfer_current(band, 0.05), take_over_current(band, 0.9 * 0.05, 0.0)
    assert melting_time(band, transfer) == pytest.approx(0.045, rel=1e-9)
    assert 1.5 * melting_time(band, take_over) == pytest.approx(0.045, rel=1e-9)
    assert take_over > transfer
