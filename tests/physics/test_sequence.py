"""Tests: fault currents by symmetrical components against the same faults solved phase by phase."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from phase_domain import A, phase_currents

from deadfront.physics.impedance import OPEN, Impedance
from deadfront.physics.sequence import line_earth, line_line, line_line_earth, three_phase

ohms = st.floats(1e-3, 1e2)
impedances = st.builds(Impedance, ohms, ohms)


@given(impedances, impedances)
def test_fault_currents_are_those_of_the_phase_domain(z1: Impedance, z0: Impedance) -> None:
    """Three-phase, line-line, line-earth and line-line-earth, all four kinds, Z2 = Z1."""
    found = {kind: phase_currents(kind, 400.0, z1, z0) for kind in ("three-phase", "line-line", "line-earth")}
    assert three_phase(400.0, z1) == pytest.approx(abs(found["three-phase"][0]), rel=1e-9)
    assert line_line(400.0, z1, z1) == pytest.approx(abs(found["line-line"][1]), rel=1e-9)
    assert line_earth(400.0, z1, z1, z0) == pytest.approx(abs(found["line-earth"][0]), rel=1e-9)
    both = phase_currents("line-line-earth", 400.0, z1, z0)
    assert line_line_earth(400.0, z1, z1, z0) == pytest.approx(
        (abs(both[1]), abs(both[2]), abs(both[1] + both[2])), rel=1e-9
    )


@given(impedances, impedances, impedances)
def test_line_line_earth_is_the_textbook_fraction(z1: Impedance, z2: Impedance, z0: Impedance) -> None:
    """IEC 60909-0: U |Z0 - a Z2| / |Z1 Z2 + Z1 Z0 + Z2 Z0| and its fellows, also where Z2 is not Z1."""
    p, n, z = complex(*z1), complex(*z2), complex(*z0)
    divisor = abs(p * n + p * z + n * z)
    expected = (abs(z - A * n), abs(z - A**2 * n), np.sqrt(3) * abs(n))
    assert line_line_earth(1.0, z1, z2, z0) == pytest.approx([part / divisor for part in expected], rel=1e-9)


@given(impedances)
def test_line_line_is_root_three_halves_of_three_phase(z1: Impedance) -> None:
    """Where Z2 = Z1, whatever Z1 is."""
    assert line_line(1.0, z1, z1) == pytest.approx(np.sqrt(3) / 2 * three_phase(1.0, z1), rel=1e-12)


@given(impedances, st.floats(0.05, 0.95))
def test_small_zero_sequence_makes_the_earth_fault_the_largest(z1: Impedance, share: float) -> None:
    """Trap: Z0 < Z1 lifts I1 above I3 by 3 Z1 / (2 Z1 + Z0), and the earth current of two lines above I1."""
    z0 = Impedance(share * z1.resistance, share * z1.reactance)
    earth, bolted = line_earth(1.0, z1, z1, z0), three_phase(1.0, z1)
    assert earth / bolted == pytest.approx(3 / (2 + share), rel=1e-9)
    assert line_line_earth(1.0, z1, z1, z0).earth > earth > bolted


def test_open_zero_sequence_turns_earth_faults_into_line_faults() -> None:
    """Without an earthed neutral: no line-earth current, and the line-line current in both faulted lines."""
    z1 = Impedance(0.01, 0.03)
    assert line_earth(400.0, z1, z1, OPEN) == 0.0
    both = line_line_earth(400.0, z1, z1, OPEN)
    assert both.line_2 == pytest.approx(line_line(400.0, z1, z1), rel=1e-12)
    assert both.line_3 == pytest.approx(line_line(400.0, z1, z1), rel=1e-12)
    assert both.earth == 0.0


def test_bus_without_a_source_has_no_fault_current() -> None:
    """An open positive sequence: zero, not an undefined number, in all kinds of fault."""
    z0 = Impedance(0.01, 0.03)
    assert three_phase(400.0, OPEN) == 0.0
    assert line_line(400.0, OPEN, OPEN) == 0.0
    assert line_earth(400.0, OPEN, OPEN, z0) == 0.0
    assert line_line_earth(400.0, OPEN, OPEN, z0) == (0.0, 0.0, 0.0)
    assert line_line_earth(400.0, OPEN, OPEN, OPEN) == (0.0, 0.0, 0.0)


@given(st.floats(100.0, 50e3), impedances, impedances)
def test_currents_grow_with_voltage_in_proportion(voltage: float, z1: Impedance, z0: Impedance) -> None:
    """Twice the voltage, twice every current."""
    assert line_earth(2 * voltage, z1, z1, z0) == pytest.approx(2 * line_earth(voltage, z1, z1, z0), rel=1e-12)
    once, twice = (line_line_earth(factor * voltage, z1, z1, z0) for factor in (1, 2))
    assert twice == pytest.approx([2 * part for part in once], rel=1e-12)
