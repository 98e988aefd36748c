"""Tests: short-time withstand of conductors and screens against published factors and examples."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from deadfront.physics import adiabatic
from deadfront.tables import read

MM2 = 1e-6
KCMIL = 1e3 * adiabatic.CIRCULAR_MIL


@pytest.mark.parametrize(
    "row", read("k-values").rows, ids=lambda row: f"{row['use']} {row['material']} {row['insulation']}"
)
def test_printed_k_values_follow_from_the_equation(row: dict[str, str]) -> None:
    """BS 7671 tables 43.1, 54.2, 54.3 (IEC 60364): 14 factors, whole numbers from K rounded to 226."""
    found = adiabatic.k_factor(row["material"], float(row["initial_degc"]), float(row["final_degc"]))
    assert found * MM2 == pytest.approx(float(row["k_a_s05_per_mm2"]), abs=0.5, rel=7e-3)


@pytest.mark.parametrize("row", read("iec60949-conductors").rows, ids=lambda row: row["material"])
def test_printed_constant_follows_from_heat_and_resistivity(row: dict[str, str]) -> None:
    """IEC 60949: K = 226, 148, 78 and 41 are the rounded square roots of Q_c (beta + 20) / rho20."""
    heat, beta, rho = (float(row[name]) for name in ("heat_j_per_k_m3", "beta_degc", "rho20_ohm_m"))
    assert np.sqrt(heat * (beta + 20) / rho) * MM2 == pytest.approx(float(row["k_printed_a_s05_per_mm2"]), abs=0.51)


def test_published_example_of_iec_60949() -> None:
    """IEC 60949: copper 95 mm2, 90 to 250 degC, 1 s: 13.6 kA adiabatic, gain 1.021, 13.9 kA."""
    k = adiabatic.k_factor("copper", 90.0, 250.0)
    current = adiabatic.withstand_current(k, 95 * MM2, 1.0)
    assert current == pytest.approx(13.573e3, abs=0.5)
    gain = adiabatic.non_adiabatic_factor(95 * MM2, 1.0, 0.41e-3, 0.12e-6)
    assert gain == pytest.approx(1.0214, abs=5e-5)
    assert gain * current == pytest.approx(13.864e3, abs=0.5)


@pytest.mark.parametrize(
    ("material", "initial", "factor", "tolerance"),
    [
        ("copper", 90.0, 0.07195, 5e-6),
        ("copper", 105.0, 0.06773, 5e-5),
        ("aluminium", 90.0, 0.0470, 5e-5),
        ("aluminium", 105.0, 0.0443, 5e-5),
    ],
)
def test_published_factors_of_icea(material: str, initial: float, factor: float, tolerance: float) -> None:
    """ICEA P-32-382: I sqrt(t) / A to 250 degC, amperes a circular mil (105 degC copper printed 4e-5 lower)."""
    found = adiabatic.icea_withstand_current(material, adiabatic.CIRCULAR_MIL, 1.0, initial, 250.0)
    assert found == pytest.approx(factor, abs=tolerance)


def test_500_kcmil_copper_for_half_a_second() -> None:
    """105 to 250 degC, 0.5 s: 47.92 kA."""
    assert adiabatic.icea_withstand_current("copper", 500 * KCMIL, 0.5, 105.0, 250.0) == pytest.approx(47.92e3, abs=5)


def test_copper_screen_factor() -> None:
    """ICEA P-45-482: M = 0.063 for copper from 85 to 200 degC."""
    found = adiabatic.icea_withstand_current("copper", adiabatic.CIRCULAR_MIL, 1.0, 85.0, 200.0)
    assert found == pytest.approx(0.063, abs=5e-4)


def test_circular_mils_and_square_millimetres() -> None:
    """Trap: 1 kcmil is 0.5067 mm2; and 0.0779 for copper 90 to 250 degC, seen in circulation, is wrong."""
    assert pytest.approx(0.5067, abs=5e-5) == KCMIL / MM2
    per_mil = adiabatic.k_factor("copper", 90.0, 250.0) * adiabatic.CIRCULAR_MIL
    icea = adiabatic.icea_withstand_current("copper", adiabatic.CIRCULAR_MIL, 1.0, 90.0, 250.0)
    assert per_mil == pytest.approx(icea, rel=0.01)
    assert abs(per_mil - 0.0779) > 0.005


def test_conductor_that_does_not_warm_is_outside_the_model() -> None:
    """A final temperature at or below the initial one: not a number, never zero or a root of a negative."""
    final = np.array([89.0, 90.0, 91.0])
    assert np.isnan(adiabatic.k_factor("copper", 90.0, final)).tolist() == [True, True, False]
    icea = adiabatic.icea_withstand_current("copper", KCMIL, 1.0, 90.0, final)
    assert np.isnan(icea).tolist() == [True, True, False]


@given(st.floats(1.0, 1000.0), st.floats(0.02, 5.0), st.floats(50.0, 250.0))
def test_required_area_is_the_inverse_of_the_withstand(area: float, duration: float, k: float) -> None:
    """The area that a current needs for a time withstands just that current; the integral is k2 S2."""
    current = adiabatic.withstand_current(k / MM2, area * MM2, duration)
    assert adiabatic.required_area(k / MM2, current, duration) == pytest.approx(area * MM2, rel=1e-12)
    assert current**2 * duration == pytest.approx(adiabatic.withstand_joule_integral(k / MM2, area * MM2), rel=1e-12)


@given(st.floats(1.0, 1000.0), st.floats(0.0, 5.0))
def test_heat_that_leaves_only_helps(area: float, duration: float) -> None:
    """The gain is never below 1, 1 at no time at all, and grows with time."""
    gain = adiabatic.non_adiabatic_factor(area * MM2, duration, 0.41e-3, 0.12e-6)
    assert gain >= 1.0
    assert adiabatic.non_adiabatic_factor(area * MM2, duration + 0.1, 0.41e-3, 0.12e-6) > gain
    assert adiabatic.non_adiabatic_factor(area * MM2, 0.0, 0.41e-3, 0.12e-6) == 1.0


def test_screen_areas_by_hand() -> None:
    """40 wires of 0.8 mm: 20.1 mm2; tube 0.1 x 30 mm: 9.42 mm2; tape with a quarter overlap 0.8165 of the tube."""
    assert adiabatic.wire_screen_area(40, 0.8e-3) == pytest.approx(20.106e-6, rel=1e-4)
    tube = adiabatic.tube_screen_area(0.1e-3, 30e-3)
    assert tube == pytest.approx(9.4248e-6, rel=1e-4)
    assert adiabatic.tape_screen_area(0.1e-3, 30e-3, 0.25) == pytest.approx(tube * np.sqrt(2 / 3), rel=1e-12)
    assert adiabatic.tape_screen_area(0.1e-3, 30e-3, 0.5) == pytest.approx(tube, rel=1e-12)


def test_screen_areas_are_the_circular_mils_of_the_source() -> None:
    """ICEA P-45-482: n d2 and 4 b d_m circular mils with d, b, d_m in mils."""
    mil = 0.0254e-3
    assert adiabatic.wire_screen_area(20, 50 * mil) / adiabatic.CIRCULAR_MIL == pytest.approx(20 * 50**2, rel=1e-12)
    assert adiabatic.tube_screen_area(5 * mil, 1000 * mil) / adiabatic.CIRCULAR_MIL == pytest.approx(4 * 5 * 1000)


def test_unknown_material_is_refused_in_words() -> None:
    """Both practices list what they know."""
    with pytest.raises(ValueError, match=r"^material: expected one of copper, aluminium, steel, lead, got 'zinc'$"):
        adiabatic.k_factor("zinc", 90.0, 250.0)
    with pytest.raises(ValueError, match=r"^material: expected one of copper, aluminium, got 'steel'$"):
        adiabatic.icea_withstand_current("steel", KCMIL, 1.0, 90.0, 250.0)
