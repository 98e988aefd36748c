"""Tests: voltage drop and motor start against phasors and printed tables."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from deadfront.physics import regulation
from deadfront.physics.impedance import Impedance
from deadfront.tables import read

SIZES = read("nec-table-9").rows
CONDUITS = ("pvc", "al", "steel")


def exact_regulation(resistance: float, reactance: float, load: float, power_factor: float) -> float:
    """No-load voltage that gives rated voltage at the load's terminals, minus one, by phasors."""
    current = load * (power_factor - 1j * np.sqrt(1 - power_factor**2))
    return float(abs(1 + current * (resistance + 1j * reactance)) - 1)


def test_regulation_by_hand() -> None:
    """e_r 1.05 %, e_x 5.907 %, power factor 0.8, full load: 4.468 % against 4.465 % of the phasors."""
    found = regulation.transformer_regulation(0.0105, 0.05907, 1.0, 0.8)
    assert found == pytest.approx(0.04468, abs=5e-6)
    assert exact_regulation(0.0105, 0.05907, 1.0, 0.8) == pytest.approx(0.04465, abs=5e-6)


@given(st.floats(0.0, 0.03), st.floats(0.0, 0.1), st.floats(0.0, 1.5), st.floats(0.1, 1.0))
def test_regulation_follows_the_phasors(resistance: float, reactance: float, load: float, power_factor: float) -> None:
    """Within the third power of the impedance voltage at this load."""
    found = regulation.transformer_regulation(resistance, reactance, load, power_factor)
    third = (load * np.hypot(resistance, reactance)) ** 3
    assert found == pytest.approx(exact_regulation(resistance, reactance, load, power_factor), abs=third + 1e-15)


@pytest.mark.parametrize("row", SIZES, ids=lambda row: row["size_awg_kcmil"])
def test_printed_effective_impedances_follow_from_resistance_and_reactance(row: dict[str, str]) -> None:
    """NEC chapter 9, Table 9: 123 effective impedances at power factor 0.85 within the rounding of three digits."""
    for metal in ("cu", "al"):
        for conduit in CONDUITS:
            printed = row[f"ze085_{metal}_{conduit}"]
            if not printed:
                continue
            reactance = row["x_steel_ohm_per_kft" if conduit == "steel" else "x_pvc_al_ohm_per_kft"]
            resistance = row[f"r_{metal}_{conduit}"]
            found = regulation.effective_impedance(Impedance(float(resistance), float(reactance)), 0.85)
            rounding = half_digit(printed) + 0.85 * half_digit(resistance) + 0.53 * half_digit(reactance)
            assert found == pytest.approx(float(printed), abs=rounding * (1 + 1e-9))


def half_digit(printed: str) -> float:
    """Half of the last printed digit."""
    return 0.5 * 10.0 ** -len(printed.partition(".")[2])


def test_table_9_has_all_its_effective_impedances() -> None:
    """21 sizes, copper in three conduits, aluminium from 12 AWG on: 123 values."""
    cells = [row[f"ze085_{metal}_{conduit}"] for row in SIZES for metal in ("cu", "al") for conduit in CONDUITS]
    assert len(SIZES) == 21
    assert sum(1 for cell in cells if cell) == 123


def test_feeder_drop_by_hand() -> None:
    """100 A, 0.1 + j0.2 ohm, power factor 0.6: 100 (0.06 + 0.16) = 22 V."""
    assert regulation.feeder_drop(Impedance(0.1, 0.2), 100.0, 0.6) == pytest.approx(22.0, rel=1e-12)


@given(st.floats(0.001, 0.1), st.floats(0.01, 0.2), st.floats(1e5, 2e6), st.floats(0.05, 0.95))
def test_dip_is_that_of_the_phasors_and_below_the_estimate(
    resistance: float, reactance: float, power: float, power_factor: float
) -> None:
    """The estimate adds the sizes, so it is never below the exact dip's source share."""
    motor = regulation.starting_motor(power, 480.0, power_factor)
    source = Impedance(resistance, reactance)
    exact = 1 - abs(complex(*motor) / (complex(*motor) + complex(*source)))
    assert regulation.starting_dip(source, motor) == pytest.approx(exact, rel=1e-9, abs=1e-12)
    fault_power = 480.0**2 / abs(complex(*source))
    assert regulation.starting_dip_estimate(power, fault_power) >= exact - 1e-12


def test_estimated_dip_is_the_share_of_the_powers() -> None:
    """6 MVA at 54 MVA: 10 %; with equal angles of source and motor the phasors give the same."""
    assert regulation.starting_dip_estimate(6e6, 54e6) == pytest.approx(0.10, rel=1e-12)
    exact = regulation.starting_dip(Impedance(0.03, 0.04), Impedance(0.27, 0.36))
    assert exact == pytest.approx(0.10, rel=1e-12)


def test_started_motor_takes_its_power_at_its_power_factor() -> None:
    """|Z| = U2/S and R/|Z| = cos phi."""
    motor = regulation.starting_motor(1e6, 480.0, 0.25)
    assert abs(complex(*motor)) == pytest.approx(480.0**2 / 1e6, rel=1e-12)
    assert motor.resistance / abs(complex(*motor)) == pytest.approx(0.25, rel=1e-12)


def test_weakest_supply_dips_most() -> None:
    """Trap: the largest dip comes with the smallest fault current, so the roles of maximum and minimum swap."""
    motor = regulation.starting_motor(1e6, 480.0, 0.25)
    strong, weak = (regulation.starting_dip(Impedance(0.1 * size, size), motor) for size in (0.005, 0.01))
    assert weak > strong


def test_code_letter_g_is_5_6_to_6_29_kva_a_horsepower() -> None:
    """NEMA MG 1 (from memory), in VA a watt."""
    found = regulation.code_letter_range("G")
    assert found.lowest == pytest.approx(5.6e3 / 745.7, rel=1e-12)
    assert found.highest == pytest.approx(6.29e3 / 745.7, rel=1e-12)
    with pytest.raises(ValueError, match=r"^letter: expected one of F, G, H, got 'Q'$"):
        regulation.code_letter_range("Q")


def test_power_factor_above_one_is_outside_the_model() -> None:
    """Not a number, never a silent 1; at 1 itself there is no reactive part."""
    drop = regulation.feeder_drop(Impedance(0.1, 0.2), 100.0, np.array([1.0, 1.01]))
    assert drop[0] == pytest.approx(10.0, rel=1e-12)
    assert np.isnan(drop[1])
