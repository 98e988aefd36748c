"""Tests: impedances of supply, transformer, line and machines against published values and by hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from deadfront.physics import elements, iec60909, sequence
from deadfront.physics.impedance import NONE, OPEN, Impedance, magnitude, r_over_x, scaled, x_over_r

positive = st.floats(0.1, 10.0)


def test_transformer_and_its_correction_are_the_published_ones() -> None:
    """IEC TR 60909-4, 630 kVA, 410 V, 4 %, 6.5 kW: 2.753 + j10.312 mohm, K_T 0.975, Z_TK 2.684 + j10.053 mohm."""
    z = elements.transformer(0.04, 6500.0, 410.0, 630e3)
    assert (z.resistance, z.reactance) == pytest.approx((2.753e-3, 10.312e-3), abs=5e-7)
    factor = elements.transformer_correction(z, 410.0, 630e3, 1.05)
    assert factor == pytest.approx(0.975, abs=5e-4)
    corrected = scaled(z, factor)
    assert (corrected.resistance, corrected.reactance) == pytest.approx((2.684e-3, 10.053e-3), abs=5e-7)


def test_network_feeder_gives_back_its_own_fault_current() -> None:
    """A three-phase fault at the supply point draws the stated current under the same voltage factor."""
    for factor in (1.0, 1.1):
        z = elements.network_feeder(20e3, 10e3, 10.0, factor)
        assert iec60909.three_phase_current(factor, 20e3, z) == pytest.approx(10e3, rel=1e-12)
        assert x_over_r(z) == pytest.approx(10.0, rel=1e-12)


def test_feeder_of_r_over_x_one_tenth_has_the_printed_reactance_share() -> None:
    """IEC 60909-0: X = 0.995 Z at R/X 0.1; motors 0.995, 0.989 and 0.922 at 0.10, 0.15 and 0.42."""
    for ratio, share in ((0.1, 0.995), (0.15, 0.989), (0.42, 0.922)):
        z = elements.network_feeder(20e3, 10e3, 1 / ratio)
        assert z.reactance / magnitude(z) == pytest.approx(share, abs=5e-4)


@given(st.floats(0.02, 1.45), st.floats(0.05, 30.0), st.floats(0.5, 30.0))
def test_zero_sequence_of_a_stated_earth_fault_current_gives_that_current(
    share: float, x0_over_r0: float, x1_over_r1: float
) -> None:
    """Where a Z0 is found it draws the stated line-to-earth current and has the stated X0/R0."""
    z1 = elements.network_feeder(20e3, 10e3, x1_over_r1)
    z0 = elements.network_zero_sequence(20e3, share * 10e3, z1, x0_over_r0)
    if np.isfinite(z0.reactance):
        assert sequence.line_earth(20e3, z1, z1, z0) == pytest.approx(share * 10e3, rel=1e-9)
        assert x_over_r(z0) == pytest.approx(x0_over_r0, rel=1e-9)
    else:
        assert share > 1.0


def test_earth_fault_current_that_no_zero_sequence_can_give_is_not_a_number() -> None:
    """Above 1.5 times the three-phase current Z0 would have to be below zero."""
    z1 = elements.network_feeder(20e3, 10e3, 10.0)
    z0 = elements.network_zero_sequence(20e3, np.array([14.9e3, 15.1e3]), z1, 10.0)
    assert np.isfinite(z0.reactance[0])
    assert np.isnan(z0.reactance[1])
    assert np.isnan(z0.resistance[1])


def test_zero_sequence_from_ratios_by_hand() -> None:
    """X0 = 3 X1 and R0 = 0.2 X0."""
    assert elements.network_zero_sequence_from_ratios(Impedance(1.0, 10.0), 3.0, 0.2) == pytest.approx((6.0, 30.0))


def test_transformer_stands_at_its_rated_voltage_not_at_the_nominal_one() -> None:
    """Trap: 410 V against 400 V is 5 % of impedance."""
    rated, nominal = (magnitude(elements.transformer(0.04, 6500.0, volts, 630e3)) for volts in (410.0, 400.0))
    assert rated / nominal == pytest.approx((410 / 400) ** 2, rel=1e-12)


def test_transformer_whose_loss_exceeds_its_impedance_is_not_a_number() -> None:
    """5 % of load loss cannot belong to 4 % of impedance."""
    z = elements.transformer(0.04, np.array([20e3, 50e3]), 400.0, 1e6)
    assert np.isfinite(z.reactance[0])
    assert np.isnan(z.reactance[1])


@given(st.floats(0.02, 0.1), st.floats(1.0, 15.0))
def test_transformer_from_loss_and_from_ratio_agree(impedance: float, ratio: float) -> None:
    """The load loss that belongs to an X/R gives the same impedance."""
    z = elements.transformer_from_x_over_r(impedance, ratio, 480.0, 1e6)
    loss = z.resistance / 480.0**2 * 1e6 * 1e6
    assert elements.transformer(impedance, loss, 480.0, 1e6) == pytest.approx(z, rel=1e-9)


def test_lower_loss_gives_a_higher_x_over_r() -> None:
    """Fact of the trade: 1000 kVA, 6 %, 10.5 kW (X/R 5.6) against 7.6 kW (X/R 7.8)."""
    older, newer = (x_over_r(elements.transformer(0.06, loss, 400.0, 1e6)) for loss in (10.5e3, 7.6e3))
    assert older == pytest.approx(5.63, abs=0.01)
    assert newer == pytest.approx(7.83, abs=0.01)


def test_hot_line_uses_four_per_mille_a_degree() -> None:
    """Trap: 0.004 a degree, not 0.04: at 80 degC a quarter more resistance, and the reactance unchanged."""
    factor = elements.iec_temperature_factor(80.0)
    assert factor == pytest.approx(1.24, rel=1e-12)
    assert elements.iec_temperature_factor(20.0) == 1.0
    assert elements.line(0.2e-3, 0.1e-3, 1000.0, factor) == pytest.approx((0.248, 0.1))


@pytest.mark.parametrize(("metal", "alpha"), [("copper", 0.00323), ("aluminium", 0.00330)])
def test_zero_temperatures_belong_to_the_printed_coefficients(metal: elements.Metal, alpha: float) -> None:
    """NEC chapter 9, Table 8 note: R2 = R1 (1 + alpha (T2 - 75)), 0.00323 for copper and 0.00330 for aluminium [V]."""
    hot = elements.conductor_resistance_at(1.0, 75.0, 90.0, elements.ZERO_TEMPERATURE[metal])
    assert hot == pytest.approx(1.0 + alpha * 15.0, abs=15 * 0.000005)


def test_copper_resistance_from_75_to_20_degrees() -> None:
    """NEC chapter 9, Table 8 note: 0.122 ohm/kft at 75 degC is 0.1003 at 20 degC for 1/0 copper."""
    k = elements.ZERO_TEMPERATURE["copper"]
    cold = elements.conductor_resistance_at(0.122, 75.0, 20.0, k)
    assert cold == pytest.approx(0.122 * 254.5 / 309.5, rel=1e-12)
    assert elements.conductor_resistance_at(cold, 20.0, 75.0, k) == pytest.approx(0.122, rel=1e-12)


def test_motor_draws_its_locked_rotor_current() -> None:
    """At rated voltage the impedance passes I_LR/I_r times the rated current."""
    z = elements.asynchronous_motor(5e6, 0.97, 0.86, 4.0, 6e3, 0.1)
    rated = 5e6 / 0.97 / 0.86 / np.sqrt(3) / 6e3
    assert sequence.three_phase(6e3, z) == pytest.approx(4.0 * rated, rel=1e-12)
    assert r_over_x(z) == pytest.approx(0.1, rel=1e-12)


def test_motor_classes_have_their_printed_ratio() -> None:
    """IEC 60909-0: 0.42 low voltage, 0.15 below 1 MW a pole pair, 0.10 from 1 MW."""
    ratio = elements.motor_r_over_x(np.array([400.0, 1000.0, 1001.0, 6e3, 6e3]), np.array([2e4, 2e4, 2e4, 0.9e6, 1e6]))
    assert ratio.tolist() == [0.42, 0.42, 0.15, 0.15, 0.10]


def test_fictitious_generator_resistance_by_class() -> None:
    """IEC 60909-0: 0.15 up to 1 kV, 0.07 above, 0.05 above 1 kV from 100 MVA, of X"d."""
    power, voltage = np.array([1e6, 10e6, 100e6]), np.array([400.0, 10.5e3, 10.5e3])
    machine = elements.synchronous_generator(power, voltage, 0.2, 0.0)
    share = elements.fictitious_resistance(power, voltage, 0.2) / machine.reactance
    assert share == pytest.approx([0.15, 0.07, 0.05], rel=1e-12)


def test_generator_correction_by_hand() -> None:
    """Trap: U_n over U_rG, not the inverse: 10/10.5 x 1.1 / (1 + 0.1 x 0.6) = 0.98832."""
    assert elements.generator_correction(10e3, 10.5e3, 1.1, 0.1, 0.8) == pytest.approx(0.98832, abs=5e-6)


def test_vector_group_loses_only_its_clock_number() -> None:
    """Dyn1, Dyn5, Dyn11 and Dyn are the same to the size of a current."""
    assert {elements.winding_connection(group) for group in ("Dyn", "Dyn1", "Dyn5", "Dyn11")} == {"Dyn"}
    assert elements.winding_connection("YNyn0") == "YNyn"


def test_unknown_vector_group_is_refused_in_words() -> None:
    """The error lists what is known."""
    with pytest.raises(
        ValueError,
        match=r"^vector_group: expected one of Dyn, Dzn, Yzn, Yyn, YNyn, YNd, Yd, Dd, Dy, Yy, got 'Dxn11'$",
    ):
        elements.winding_connection("Dxn11")


def test_zero_sequence_seen_from_the_secondary() -> None:
    """Dyn, Dzn, Yyn: windings and threefold neutral; YNyn: through to the network; others: open."""
    winding, neutral, network = Impedance(1.0, 5.0), Impedance(0.1, 0.2), Impedance(2.0, 3.0)
    for group in ("Dyn11", "Dzn0", "Yzn5", "Yyn0"):
        assert elements.zero_sequence_from_secondary(group, winding, neutral) == pytest.approx((1.3, 5.6))
    assert elements.zero_sequence_from_secondary("YNyn0", winding, neutral, network) == pytest.approx((3.3, 8.6))
    for group in ("Dd0", "Yd11", "Dy5", "Yy0", "YNd11"):
        assert elements.zero_sequence_from_secondary(group, winding, neutral) == OPEN


def test_isolated_neutral_leaves_no_earth_fault_current() -> None:
    """A Dyn transformer whose neutral stands free: the zero sequence is open."""
    z0 = elements.zero_sequence_from_secondary("Dyn11", Impedance(1.0, 5.0), OPEN)
    z1 = Impedance(1.0, 5.0)
    assert sequence.line_earth(400.0, z1, z1, z0) == 0.0


def test_zero_sequence_seen_from_the_primary() -> None:
    """Dyn: open, no zero sequence for the feeder; YNd and YNyn are earth sources for it."""
    winding, behind = Impedance(1.0, 5.0), Impedance(2.0, 3.0)
    for group in ("Dyn11", "Yyn0", "Dzn0"):
        assert elements.zero_sequence_from_primary(group, winding, NONE) == OPEN
    assert elements.zero_sequence_from_primary("YNd11", winding, Impedance(0.0, 22.0)) == pytest.approx((1.0, 71.0))
    assert elements.zero_sequence_from_primary("YNyn0", winding, NONE, behind) == pytest.approx((3.0, 8.0))


def test_through_path_of_a_ynyn_transformer_is_never_guessed() -> None:
    """Trap: earth faults of YNyn depend on the network behind it, so a missing one is refused."""
    with pytest.raises(
        ValueError, match=r"^upstream: a YNyn transformer passes the zero sequence of the network before it, got None$"
    ):
        elements.zero_sequence_from_secondary("YNyn0", NONE, NONE)
    with pytest.raises(
        ValueError, match=r"^downstream: a YNyn transformer passes the zero sequence of what it feeds, got None$"
    ):
        elements.zero_sequence_from_primary("YNyn0", NONE, NONE)


def test_winding_ratios_by_hand() -> None:
    """R0 = R1 and X0 = 0.95 X1."""
    assert elements.zero_sequence_winding(Impedance(2.0, 10.0), 1.0, 0.95) == pytest.approx((2.0, 9.5))


@given(positive, positive, positive)
def test_stronger_supply_lower_impedance_everywhere(current: float, impedance: float, more: float) -> None:
    """More fault current means a smaller feeder; a larger impedance voltage a larger transformer."""
    assert magnitude(elements.network_feeder(20e3, current + more, 8.0)) < magnitude(
        elements.network_feeder(20e3, current, 8.0)
    )
    small, large = (
        magnitude(elements.transformer_from_x_over_r(share / 100, 6.0, 400.0, 1e6))
        for share in (impedance, impedance + more)
    )
    assert small < large
