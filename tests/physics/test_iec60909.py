"""Tests: factors of IEC 60909-0 at their limits, against printed values and in their sense."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from deadfront.physics import iec60909
from deadfront.physics.impedance import Impedance

ratios = st.floats(0.0, 5.0)


@pytest.mark.parametrize(
    ("voltage", "tolerance", "factors"),
    [
        (100.0, 0.06, (1.05, 0.95)),
        (400.0, 0.06, (1.05, 0.95)),
        (400.0, 0.10, (1.10, 0.90)),
        (1000.0, 0.10, (1.10, 0.90)),
        (1001.0, 0.10, (1.10, 1.00)),
        (20e3, 0.06, (1.10, 1.00)),
        (110e3, 0.10, (1.10, 1.00)),
    ],
)
def test_voltage_factors_are_those_of_the_2016_table(
    voltage: float, tolerance: float, factors: tuple[float, float]
) -> None:
    """Trap: IEC 60909-0:2016, Table 1: c_min is 0.90 at +10 % low voltage, where 2001 had 0.95."""
    assert iec60909.voltage_factor(voltage, tolerance) == pytest.approx(factors, rel=1e-12)


def test_voltage_outside_the_table_has_no_factor() -> None:
    """Below 100 V and above 550 kV the method does not hold."""
    found = iec60909.voltage_factor(np.array([99.0, 100.0, 551e3]), 0.06)
    assert np.isnan(found.maximum).tolist() == [True, False, True]
    assert np.isnan(found.minimum).tolist() == [True, False, True]


def test_unknown_tolerance_is_refused_in_words() -> None:
    """The error names what there is."""
    with pytest.raises(ValueError, match=r"^tolerance: expected one of 0\.06, 0\.10, got 0\.05$"):
        iec60909.voltage_factor(400.0, 0.05)


def test_voltage_factor_keeps_below_the_highest_voltage() -> None:
    """c_max U_n is not above U_m: 22 kV with 24 kV gives 1.0909, 20 kV keeps 1.10."""
    limited = iec60909.limited_voltage_factor(1.1, np.array([22e3, 20e3]), 24e3)
    assert limited == pytest.approx([24 / 22, 1.1], rel=1e-12)


def test_peak_factor_of_motor_terminals() -> None:
    """IEC 60909-0: 1.75, 1.65 and 1.3 are printed, rounded to the next 0.05, for R/X 0.10, 0.15 and 0.42."""
    assert iec60909.peak_factor(np.array([0.10, 0.15, 0.42])) == pytest.approx([1.746, 1.645, 1.298], abs=5e-4)


def test_peak_factor_at_its_limits() -> None:
    """No resistance: 2.0; no reactance to speak of: 1.02."""
    assert iec60909.peak_factor(0.0) == 2.0
    assert iec60909.peak_factor(1e3) == pytest.approx(1.02, rel=1e-12)


@given(ratios, st.floats(1e-3, 1.0))
def test_more_resistance_less_peak(ratio: float, more: float) -> None:
    """The peak factor falls with R/X and so does the direct component."""
    assert iec60909.peak_factor(ratio + more) < iec60909.peak_factor(ratio)
    assert iec60909.dc_component(1.0, ratio + more, 50.0, 0.01) < iec60909.dc_component(1.0, ratio, 50.0, 0.01)


def test_meshed_peak_factor_is_capped_by_voltage_level() -> None:
    """Method (b): 1.15 kappa, not above 1.8 at low and 2.0 above low voltage."""
    found = iec60909.peak_factor_meshed(np.array([0.0, 0.0, 0.5]), np.array([400.0, 20e3, 400.0]))
    assert found == pytest.approx([1.8, 2.0, 1.15 * iec60909.peak_factor(0.5)], rel=1e-12)
    assert iec60909.peak_factor_meshed(0.0, np.array([1000.0, 1001.0])).tolist() == [1.8, 2.0]


def test_equal_sequences_part_the_lines_of_an_earth_fault_from_each_other() -> None:
    """Z1 = Z2 = Z0: each line drives its own current to earth, 1.1 x 400 / (sqrt(3) x 0.05) = 5081 A in all three."""
    z = Impedance(0.03, 0.04)
    both = iec60909.line_line_earth_currents(1.1, 400.0, z, z, z)
    assert (both.line_2, both.line_3, both.earth) == pytest.approx((5080.7, 5080.7, 5080.7), abs=0.05)


def test_equivalent_frequency_is_20_and_24_hertz() -> None:
    """Method (c): 20 Hz at 50 Hz and 24 Hz at 60 Hz; other frequencies are outside it."""
    found = iec60909.equivalent_frequency(np.array([50.0, 60.0, 16.7]))
    assert found[:2] == pytest.approx([20.0, 24.0], rel=1e-12)
    assert np.isnan(found[2])


@given(st.floats(1e-3, 1.0), st.floats(1e-3, 1.0))
def test_equivalent_frequency_changes_nothing_for_one_branch(resistance: float, reactance: float) -> None:
    """With one source and no mesh method (c) gives the R/X of the branch."""
    slow = iec60909.at_equivalent_frequency(Impedance(resistance, reactance), 60.0)
    assert iec60909.equivalent_frequency_r_over_x(slow, 60.0) == pytest.approx(resistance / reactance, rel=1e-12)


def test_direct_component_starts_at_the_crest_and_decays_by_e_in_a_time_constant() -> None:
    """At t = 0 it is the crest of the symmetrical current; after X/(2 pi f R) it is 1/e of that."""
    assert iec60909.dc_component(10e3, 0.1, 50.0, 0.0) == pytest.approx(np.sqrt(2) * 10e3, rel=1e-12)
    constant = 1 / (2 * np.pi * 50.0 * 0.1)
    assert iec60909.dc_component(10e3, 0.1, 50.0, constant) == pytest.approx(np.sqrt(2) * 10e3 / np.e, rel=1e-12)


@pytest.mark.parametrize(
    ("delay", "ratio", "expected"), [(0.02, 5.0, 0.9109), (0.1, 4.0, 0.8202), (0.1, 2.1, 0.9877), (0.25, 6.0, 0.6561)]
)
def test_mu_by_hand(delay: float, ratio: float, expected: float) -> None:
    """IEC 60909-0: 0.84 + 0.26 exp(-0.26 x 5) and so on."""
    assert iec60909.mu(ratio, delay) == pytest.approx(expected, abs=5e-5)


@given(st.floats(0.1, 2.0), st.sampled_from([0.02, 0.05, 0.1, 0.25, 1.0]))
def test_current_of_up_to_twice_the_rated_one_does_not_decay(ratio: float, delay: float) -> None:
    """IEC 60909-0: mu is 1 up to twice the rated current, and so is mu q of a motor."""
    assert iec60909.mu(ratio, delay) == 1.0
    assert iec60909.motor_breaking_current(ratio * 100.0, 100.0, 2e4, delay) == pytest.approx(ratio * 100.0)


@given(st.floats(2.5, 12.0), st.floats(1e3, 1e7))
def test_later_opening_leaves_less_of_a_motor_current(ratio: float, power: float) -> None:
    """mu and q lie in 0 to 1 and fall with the delay; below 2.3 times the printed curves of mu cross by 0.1 %."""
    delays = (0.02, 0.05, 0.1, 0.25)
    mus = [float(iec60909.mu(ratio, delay)) for delay in delays]
    qs = [float(iec60909.q(power, delay)) for delay in delays]
    assert all(0.0 <= value <= 1.0 for value in mus + qs)
    assert mus == sorted(mus, reverse=True)
    assert qs == sorted(qs, reverse=True)


def test_q_of_a_megawatt_a_pole_pair_is_its_constant() -> None:
    """The logarithm vanishes at 1 MW a pole pair; 1.03 at 0.02 s is capped at 1."""
    assert iec60909.q(1e6, 0.02) == 1.0
    assert iec60909.q(1e6, 0.1) == pytest.approx(0.57, rel=1e-12)
    assert iec60909.q(2.5e6, 0.1) == pytest.approx(0.57 + 0.12 * np.log(2.5), rel=1e-12)


def test_delay_without_a_curve_is_refused_in_words() -> None:
    """0.03 s is not interpolated behind the caller's back."""
    with pytest.raises(
        ValueError, match=r"^minimum_delay: expected one of 0\.02, 0\.05, 0\.10, 0\.25 s or more, got 0\.03 s$"
    ):
        iec60909.mu(4.0, 0.03)


def test_generator_breaking_current_by_hand() -> None:
    """mu at four times the rated current after 0.1 s: 0.62 + 0.72 exp(-1.28)."""
    assert iec60909.generator_breaking_current(4e3, 1e3, 0.1) == pytest.approx(
        4e3 * (0.62 + 0.72 * np.exp(-1.28)), rel=1e-12
    )


@pytest.mark.parametrize(("duration", "kappa"), [(0.2, 1.7), (0.02, 1.9), (0.005, 1.99)])
def test_heat_factor_is_the_heat_of_the_direct_component(duration: float, kappa: float) -> None:
    """m T = integral of (i_dc / I)^2, where kappa - 1 stands for exp(-pi R/X): checked by numbers, not by formula."""
    frequency = 50.0
    time = np.linspace(0.0, duration, 200_001)
    direct = np.sqrt(2) * (kappa - 1.0) ** (2 * frequency * time)
    expected = np.trapezoid(direct**2, time) / duration
    assert iec60909.heat_factor_m(kappa, frequency, duration) == pytest.approx(expected, rel=1e-6)


def test_heat_factor_at_its_limits() -> None:
    """No direct component: 0; one that never decays: 2, also next to it."""
    assert iec60909.heat_factor_m(np.array([0.9, 1.0]), 50.0, 1.0).tolist() == [0.0, 0.0]
    assert iec60909.heat_factor_m(np.array([2.0, 2.0 - 1e-12]), 50.0, 1.0) == pytest.approx([2.0, 2.0], abs=1.1e-6)


@pytest.mark.parametrize(("duration", "kappa"), [(0.2, 1.7), (0.02, 1.9), (0.005, 1.99)])
def test_time_of_the_direct_component_is_the_integral_of_its_square(duration: float, kappa: float) -> None:
    """As long as a symmetrical current has to flow for the heat of (i_dc / I)^2: by numbers, at 60 Hz."""
    time = np.linspace(0.0, duration, 200_001)
    direct = np.sqrt(2) * (kappa - 1.0) ** (2 * 60.0 * time)
    expected = np.trapezoid(direct**2, time)
    assert iec60909.direct_component_time(kappa, 60.0, duration) == pytest.approx(expected, rel=1e-6)


def test_time_of_the_direct_component_at_its_limits() -> None:
    """None: 0 s; one that never decays: twice the duration; kappa - 1 of 1/e and a long fault: 1 / (2 f)."""
    assert iec60909.direct_component_time(np.array([0.9, 1.0]), 50.0, 1.0).tolist() == [0.0, 0.0]
    assert iec60909.direct_component_time(2.0, 50.0, np.array([0.1, 5.0])) == pytest.approx([0.2, 10.0], rel=2e-6)
    assert iec60909.direct_component_time(1.0 + np.exp(-1.0), 50.0, 100.0) == pytest.approx(0.01, rel=1e-12)


@given(st.floats(1.021, 2.0), st.floats(0.02, 5.0), st.sampled_from([50.0, 60.0]))
def test_heat_factor_falls_with_time_and_rises_with_kappa(kappa: float, duration: float, frequency: float) -> None:
    """The longer the fault, the smaller the share of the direct component; it lies between 0 and 2."""
    factor = iec60909.heat_factor_m(kappa, frequency, duration)
    assert 0.0 <= factor <= 2.0
    assert iec60909.heat_factor_m(kappa, frequency, 2 * duration) <= factor * (1 + 1e-9)
    assert iec60909.heat_factor_m(kappa - 0.001, frequency, duration) <= factor * (1 + 1e-9)


def test_joule_integral_is_the_square_of_the_thermal_current() -> None:
    """I_th squared times the duration."""
    thermal = iec60909.thermal_equivalent_current(10e3, 1.8, 50.0, 0.5)
    assert iec60909.joule_integral(10e3, 1.8, 50.0, 0.5) == pytest.approx(thermal**2 * 0.5, rel=1e-12)


def test_isolated_network_gives_2_72_amperes_a_kilometre() -> None:
    """12/20 kV cable 150 mm2, 250 nF/km, 20 kV, 50 Hz: 2.72 A/km; tuned to 5 %: 0.136 A."""
    current = iec60909.isolated_earth_fault_current(20e3, 250e-12, 1000.0, 50.0)
    assert current == pytest.approx(2.72, abs=5e-3)
    assert iec60909.resonant_residual_current(current, 0.05) == pytest.approx(0.136, abs=5e-4)


def test_converter_behind_an_impedance_adds_less_than_one_at_the_fault() -> None:
    """Transfer impedance of half the fault impedance: half the current arrives; two converters add up."""
    z, half = Impedance(1.0, 2.0), Impedance(0.5, 1.0)
    assert iec60909.converter_contribution(z, [half], [100.0]) == pytest.approx(50.0, rel=1e-12)
    assert iec60909.converter_contribution(z, [z, half], [100.0, 100.0]) == pytest.approx(150.0, rel=1e-12)


def test_converter_without_a_transfer_impedance_is_refused_in_words() -> None:
    """One current for each transfer impedance."""
    with pytest.raises(ValueError, match=r"^converter_currents: one per transfer impedance, expected 1, got 2$"):
        iec60909.converter_contribution(Impedance(1.0, 2.0), [Impedance(1.0, 2.0)], [1.0, 2.0])


def test_factors_take_arrays_as_a_loop_would() -> None:
    """Array = loop over scalars for each factor of this module."""
    ratio = np.array([0.0, 0.05, 0.3, 1.0, 4.0])
    many = np.array([0.5, 2.0, 3.0, 6.0, 9.0])
    kappa = iec60909.peak_factor(ratio)
    assert kappa.tolist() == [iec60909.peak_factor(one) for one in ratio]
    assert iec60909.mu(many, 0.1).tolist() == [iec60909.mu(one, 0.1) for one in many]
    assert iec60909.q(many * 1e6, 0.05).tolist() == [iec60909.q(one * 1e6, 0.05) for one in many]
    heat = iec60909.heat_factor_m(kappa, 60.0, 0.3)
    assert heat.tolist() == [iec60909.heat_factor_m(one, 60.0, 0.3) for one in kappa]
