"""Tests: duty factors of the North American method against published duties and the exact circuit."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar

from deadfront.physics import iec60909
from deadfront.physics import north_american as na
from deadfront.physics.impedance import NONE, OPEN, Impedance, admittance
from deadfront.tables.reading import parse

FACTORS = parse("asymmetry-factors", (Path(__file__).parent / "asymmetry-factors.csv").read_text(encoding="utf-8"))
RATIOS = FACTORS.column("x_over_r")
DEVICES = tuple(na.LOW_VOLTAGE_TEST_X_OVER_R)


def exact_peak(x_over_r: float) -> float:
    """Peak over symmetrical rms current of a resistance and inductance switched on at voltage zero, by search."""
    angle = np.arctan(x_over_r)

    def current(phase: float) -> float:
        return float(-np.sqrt(2) * (np.sin(phase - angle) + np.sin(angle) * np.exp(-phase / x_over_r)))

    return -float(minimize_scalar(current, bounds=(0.3, 1.2 * np.pi), method="bounded", options={"xatol": 1e-10}).fun)


def test_published_duties_at_x_over_r_7() -> None:
    """Trade article 2012: 23.910 kA at X/R 7.0: factors 1.012, 1.073, 1.078, duties 24.197, 25.655, 25.775 kA."""
    for device, factor, duty in (
        ("power circuit breaker", 1.012, 24.197e3),
        ("moulded-case breaker over 20 kA", 1.073, 25.655e3),
        ("fuse", 1.078, 25.775e3),
    ):
        found = na.low_voltage_multiplying_factor(device, 7.0)
        assert found == pytest.approx(factor, abs=1e-3)
        assert found * 23.910e3 == pytest.approx(duty, rel=1e-3)


def test_breaker_rated_in_rms_takes_1_6_up_to_x_over_r_25() -> None:
    """Trade article 2012: 8.920 kA times 1.6 is 14.272 kA; above X/R 25 the formula governs."""
    assert na.close_and_latch_rms_factor(np.array([5.0, 25.0])).tolist() == [1.6, 1.6]
    assert na.close_and_latch_rms_factor(7.0) * 8.920e3 == pytest.approx(14.272e3, rel=1e-6)
    assert na.close_and_latch_rms_factor(60.0) == pytest.approx(1.6737, abs=5e-5)


@pytest.mark.parametrize(
    ("column", "function"),
    [
        ("peak_iec_kappa_sqrt2", lambda ratio: np.sqrt(2) * iec60909.peak_factor(1 / ratio)),
        ("peak_ieee551", na.peak_factor_ieee551),
        ("peak_half_cycle", na.peak_factor_half_cycle),
        ("rms_first_cycle", na.asymmetry_rms_factor),
        ("mf_fused_lv_power_cb_or_lv_fuse", lambda ratio: na.low_voltage_multiplying_factor("fuse", ratio)),
        ("mf_molded_gt20kA", lambda ratio: na.low_voltage_multiplying_factor(DEVICES[3], ratio)),
        ("mf_molded_10to20kA", lambda ratio: na.low_voltage_multiplying_factor(DEVICES[4], ratio)),
        ("mf_molded_le10kA", lambda ratio: na.low_voltage_multiplying_factor(DEVICES[5], ratio)),
    ],
)
def test_factors_follow_the_computed_table(column: str, function: object) -> None:
    """31 X/R values within 1e-3: the table was computed with test limits tan(acos pf), not the printed ones."""
    assert callable(function)
    assert function(RATIOS) == pytest.approx(FACTORS.column(column), abs=1e-3)


def test_power_breaker_factor_follows_the_computed_table_but_at_its_limit() -> None:
    """At X/R 6.6 the rule gives 1 exactly, the formula just above it 1.0012; elsewhere within 1e-3."""
    found = na.low_voltage_multiplying_factor("power circuit breaker", RATIOS)
    printed = FACTORS.column("mf_unfused_lv_power_cb")
    away = RATIOS != 6.6
    assert found[away] == pytest.approx(printed[away], abs=1e-3)
    assert found[~away].tolist() == [1.0]
    assert na.low_voltage_multiplying_factor("power circuit breaker", 6.6000001) == pytest.approx(1.0012, abs=5e-5)


def test_exact_column_of_the_table_is_the_exact_circuit() -> None:
    """The oracle itself: the printed exact peaks against a search over the solution of the circuit."""
    assert [exact_peak(ratio) for ratio in RATIOS] == pytest.approx(FACTORS.column("peak_exact"), abs=5e-5)


@given(st.floats(6.6, 100.0))
def test_ieee551_peak_lies_within_six_hundredths_of_a_percent_from_6_6(ratio: float) -> None:
    """IEEE 551 form against the exact circuit."""
    assert na.peak_factor_ieee551(ratio) == pytest.approx(exact_peak(ratio), rel=6.5e-4)


@given(st.floats(3.0, 100.0))
def test_half_cycle_peak_is_never_above_and_kappa_never_below_the_exact_one(ratio: float) -> None:
    """From X/R 3 the half-cycle form lies low by up to 2.1 %, the kappa form high by up to 0.6 %."""
    exact = exact_peak(ratio)
    assert exact * 0.979 < na.peak_factor_half_cycle(ratio) <= exact
    assert exact <= np.sqrt(2) * iec60909.peak_factor(1 / ratio) < exact * 1.006


@given(st.sampled_from(DEVICES), st.floats(0.5, 200.0), st.floats(0.01, 20.0))
def test_multiplying_factor_is_one_up_to_the_test_and_never_falls(device: str, ratio: float, more: float) -> None:
    """1 up to the test X/R, never below 1 above it, and growing."""
    factor = na.low_voltage_multiplying_factor(device, ratio)
    assert factor >= 1.0
    assert na.low_voltage_multiplying_factor(device, ratio + more) >= factor
    if ratio <= na.LOW_VOLTAGE_TEST_X_OVER_R[device]:  # type: ignore[index]
        assert factor == 1.0


def test_moulded_case_step_goes_by_the_rating() -> None:
    """Trap: at X/R 7 a breaker rated to 10 kA has the factor 1.41, one over 20 kA 1.073, whatever the fault."""
    assert na.low_voltage_multiplying_factor("moulded-case breaker to 10 kA", 7.0) == pytest.approx(1.41, abs=5e-3)
    over = na.low_voltage_multiplying_factor("moulded-case breaker over 20 kA", 7.0)
    assert over == pytest.approx(1.073, abs=5e-4)
    assert na.low_voltage_multiplying_factor("insulated-case breaker", 7.0) == over


def test_denominator_of_the_power_breaker_is_the_printed_one() -> None:
    """2.29 as printed gives 1.0118 at X/R 7; the exact value at 6.6 would give 1.0106, on the unsafe side."""
    assert na.low_voltage_multiplying_factor("power circuit breaker", 7.0) == pytest.approx(1.0118, abs=5e-5)
    exact = na.peak_factor_half_cycle(7.0) / na.peak_factor_half_cycle(6.6)
    assert exact == pytest.approx(1.0106, abs=5e-5)


def test_test_limits_are_the_power_factors_of_the_tests() -> None:
    """C37.13 and UL 489: power factor 0.15, 0.20, 0.30 and 0.50 as X/R, printed with two or three digits."""
    for device, power_factor in (
        ("power circuit breaker", 0.15),
        ("fuse", 0.20),
        ("moulded-case breaker 10 to 20 kA", 0.30),
        ("moulded-case breaker to 10 kA", 0.50),
    ):
        limit = na.LOW_VOLTAGE_TEST_X_OVER_R[device]  # type: ignore[index]
        assert limit == pytest.approx(np.tan(np.arccos(power_factor)), abs=0.01)


def test_unknown_device_is_refused_in_words() -> None:
    """The error lists the devices."""
    with pytest.raises(ValueError, match=r"^device: expected one of power circuit breaker, .*, got 'contactor'$"):
        na.low_voltage_multiplying_factor("contactor", 7.0)


def test_peak_is_compared_in_amperes_because_ratios_mislead() -> None:
    """Trap: 2.5 at 45 ms and 50 Hz (X/R 14.1) is below the exact 2.55."""
    ratio = na.x_over_r_of_time_constant(50.0, 0.045)
    assert ratio == pytest.approx(14.14, abs=5e-3)
    assert exact_peak(ratio) == pytest.approx(2.55, abs=5e-3)
    assert na.close_and_latch_peak(1.0, 50.0) == 2.5


def test_time_constant_of_45_ms_is_x_over_r_17_at_60_hz() -> None:
    """IEEE C37.04; the peak factor there is 2.6 after rounding."""
    assert na.x_over_r_of_time_constant(60.0, 0.045) == pytest.approx(17.0, abs=0.05)
    assert na.close_and_latch_peak(20e3, 60.0) == pytest.approx(52e3)
    assert np.isnan(na.close_and_latch_peak(20e3, 25.0))


def test_medium_voltage_fuse_is_derated_above_its_test() -> None:
    """1 up to X/R 15; at 25 the asymmetrical currents 1.5986 and 1.5217 stand behind 1.0505."""
    found = na.medium_voltage_fuse_factor(np.array([5.0, 15.0, 25.0]), 15.0)
    assert found == pytest.approx([1.0, 1.0, 1.5986 / 1.5217], abs=1e-4)
    assert na.fuse_asymmetrical_rating(10e3) == pytest.approx(16e3)


def test_asymmetry_at_its_limits() -> None:
    """No resistance: root 3 in rms, 2 root 2 in the peak; long after the fault only the symmetrical part."""
    assert na.asymmetry_rms_factor(np.inf) == pytest.approx(np.sqrt(3), rel=1e-12)
    assert na.peak_factor_half_cycle(np.inf) == pytest.approx(2 * np.sqrt(2), rel=1e-12)
    assert na.asymmetry_rms_factor(10.0, 1e3) == pytest.approx(1.0, rel=1e-12)


@pytest.mark.parametrize(
    ("machine", "network", "duty", "multiplier"),
    [
        ("turbo-generator", "medium-voltage", "interrupting", 1.0),
        ("hydro-generator without dampers", "multivoltage", "first cycle", 0.75),
        ("synchronous motor", "multivoltage", "first cycle", 1.0),
        ("synchronous motor", "multivoltage", "interrupting", 1.5),
        ("induction motor over 1000 hp", "medium-voltage", "first cycle", 1.0),
        ("induction motor over 1000 hp", "medium-voltage", "interrupting", 1.5),
        ("induction motor 50 to 1000 hp", "low-voltage", "first cycle", 1.2),
        ("induction motor 50 to 1000 hp", "multivoltage", "interrupting", 3.0),
        ("induction motor under 50 hp", "low-voltage", "first cycle", 1.0),
        ("induction motor under 50 hp", "multivoltage", "first cycle", 1.67),
        ("induction motor under 50 hp", "medium-voltage", "first cycle", np.inf),
        ("induction motor under 50 hp", "multivoltage", "interrupting", np.inf),
    ],
)
def test_machine_multipliers_are_those_of_the_table(machine: str, network: str, duty: str, multiplier: float) -> None:
    """IEEE 551-2006, Table 9-1; what the table neglects has an endless reactance."""
    assert na.machine_reactance_multiplier(machine, network, duty) == multiplier


def test_small_and_medium_motors_in_per_unit() -> None:
    """IEEE 551-2006, notes: 16.7 % times 1.2 is 0.20 and times 1.67 is 0.28 per unit."""
    for multiplier, per_unit in ((1.2, 0.20), (1.67, 0.28)):
        z = na.machine_impedance(0.167, multiplier, 10.0, 480.0, 1e6)
        assert na.per_unit(z, 1e6, 480.0).reactance == pytest.approx(per_unit, abs=5e-3)
        assert z.resistance == pytest.approx(z.reactance / 10.0, rel=1e-12)


def test_neglected_machine_gives_no_current() -> None:
    """An endless multiplier makes a branch that takes no part in the parallel."""
    z = na.machine_impedance(0.167, np.inf, 10.0, 480.0, 1e6)
    assert admittance(z) == (0.0, 0.0)
    assert na.symmetrical_current(480.0, z) == 0.0


def test_words_that_the_multiplier_table_lacks_are_refused() -> None:
    """Machine, network and duty are each named in the error; so is the network that has no interrupting duty."""
    with pytest.raises(ValueError, match=r"^machine: expected one of turbo-generator, .*, got 'windmill'$"):
        na.machine_reactance_multiplier("windmill", "low-voltage", "first cycle")
    with pytest.raises(
        ValueError, match=r"^network: expected one of medium-voltage, low-voltage, multivoltage, got 'MV'$"
    ):
        na.machine_reactance_multiplier("synchronous motor", "MV", "first cycle")
    with pytest.raises(ValueError, match=r"^duty: expected one of first cycle, interrupting, got 'steady'$"):
        na.machine_reactance_multiplier("synchronous motor", "low-voltage", "steady")
    with pytest.raises(
        ValueError, match=r"^duty: C37\.13 has no interrupting network at low voltage, use network 'multivoltage'$"
    ):
        na.machine_reactance_multiplier("synchronous motor", "low-voltage", "interrupting")


@given(st.floats(1e-3, 1.0), st.floats(1e-3, 1.0), st.floats(1e5, 1e8), st.floats(100.0, 35e3))
def test_per_unit_and_ohms_are_inverse(resistance: float, reactance: float, power: float, voltage: float) -> None:
    """To per unit and back."""
    z = Impedance(resistance, reactance)
    assert na.in_ohms(na.per_unit(z, power, voltage), power, voltage) == pytest.approx(z, rel=1e-12)


branches = st.lists(st.builds(Impedance, st.floats(1e-3, 1.0), st.floats(1e-3, 1.0)), min_size=1, max_size=4)


@given(branches)
def test_separate_reduction_of_one_branch_is_its_own_ratio(found: list[Impedance]) -> None:
    """One branch and a series part: the plain ratio of the sums."""
    first, rest = found[0], Impedance(0.1, 0.2)
    expected = (first.reactance + 0.2) / (first.resistance + 0.1)
    assert na.separate_x_over_r([first], rest) == pytest.approx(expected, rel=1e-12)


def test_separate_reduction_without_a_source_has_no_ratio() -> None:
    """Case two has no branch: not a number there; case one keeps its ratio."""
    ratio = na.separate_x_over_r([Impedance(0.1, 0.5)], NONE, [np.array([1.0, 0.0])])
    assert ratio[0] == pytest.approx(5.0)
    assert np.isnan(ratio[1])
    with pytest.raises(ValueError, match=r"^connected: one array per branch, expected 1, got 2$"):
        na.separate_x_over_r([Impedance(0.1, 0.5)], NONE, [1.0, 1.0])


def test_unearthed_system_has_no_earth_fault_current() -> None:
    """Open zero sequence: nothing into earth, line-line current in both lines."""
    z = Impedance(0.001, 0.01)
    assert na.line_earth_current(480.0, z, z, OPEN) == 0.0
    both = na.line_line_earth_currents(480.0, z, z, OPEN)
    assert both.line_2 == pytest.approx(na.line_line_current(480.0, z, z), rel=1e-12)
