"""Tests: secondary faults in the primary lines, against ampere-turns written out winding by winding."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from phase_domain import phase_currents

from deadfront.physics import reflection
from deadfront.physics.impedance import OPEN, Impedance
from deadfront.physics.sequence import line_earth, line_line, line_line_earth, three_phase

Complex = NDArray[np.complex128]
RATIO = 20e3 / 400.0
ohms = st.floats(1e-3, 1.0)
impedances = st.builds(Impedance, ohms, ohms)
EARTHED = ("Dyn", "Yzn", "Yyn", "Dzn", "YNyn")


def by_ampere_turns(connection: str, secondary: Complex) -> tuple[Complex, Complex]:
    """Primary line and winding currents that balance the secondary's ampere-turns on each limb."""
    before = np.roll(secondary, 1)
    zero = secondary.sum() / 3
    if connection == "Dyn":
        winding = secondary / (np.sqrt(3) * RATIO)
        return winding - np.roll(winding, 1), winding
    if connection == "Dzn":  # half of each phase on its own limb, half reversed on the next
        winding = (secondary - before) / (3 * RATIO)
        return winding - np.roll(winding, -1), winding
    if connection == "Yzn":
        winding = (secondary - before) / (np.sqrt(3) * RATIO)
        return winding, winding
    if connection == "Dd":  # delta currents without a circulating part
        winding = (secondary - before) / 3 / RATIO
        return winding - np.roll(winding, -1), winding
    line = secondary / RATIO if connection == "YNyn" else (secondary - zero) / RATIO
    return line, line


def fault_current(fault: str, z1: Impedance, z0: Impedance) -> float:
    """Size of the fault current by symmetrical components."""
    if fault == "three-phase":
        return float(three_phase(400.0, z1))
    return float(line_line(400.0, z1, z1) if fault == "line-line" else line_earth(400.0, z1, z1, z0))


@given(impedances, impedances)
@pytest.mark.parametrize("connection", EARTHED)
@pytest.mark.parametrize("fault", ["three-phase", "line-line", "line-earth"])
def test_primary_currents_are_those_of_the_phase_domain(
    connection: str, fault: str, z1: Impedance, z0: Impedance
) -> None:
    """Sets of three line currents and three winding currents; which lines they are depends on the clock number."""
    lines, windings = by_ampere_turns(connection, phase_currents(fault, 400.0, z1, z0))
    current = fault_current(fault, z1, z0)
    found = reflection.primary_line_currents(fault, connection, current, RATIO)
    scale = 1e-9 * current / RATIO
    assert sorted(found) == pytest.approx(sorted(abs(lines)), rel=1e-9, abs=scale)
    inside = reflection.primary_winding_currents(fault, connection, current, RATIO)
    assert sorted(inside) == pytest.approx(sorted(abs(windings)), rel=1e-9, abs=scale)
    assert reflection.largest_primary_line_current(fault, connection, current, RATIO) == pytest.approx(max(found))


@given(impedances)
def test_delta_delta_passes_line_faults_straight(z1: Impedance) -> None:
    """Dd: two lines carry the fault current, the windings two thirds and one third of it; an earth fault draws none."""
    current = float(line_line(400.0, z1, z1))
    lines, windings = by_ampere_turns("Dd", phase_currents("line-line", 400.0, z1, Impedance(1.0, 1.0)))
    found = reflection.primary_line_currents("line-line", "Dd0", current, RATIO)
    assert sorted(found) == pytest.approx(sorted(abs(lines)), rel=1e-9, abs=1e-9)
    inside = reflection.primary_winding_currents("line-line", "Dd0", current, RATIO)
    assert sorted(inside) == pytest.approx(sorted(abs(windings)), rel=1e-9)
    assert reflection.primary_line_currents("line-earth", "Dd0", current, RATIO) == (0.0, 0.0, 0.0)


@given(impedances, impedances)
@pytest.mark.parametrize("connection", EARTHED)
def test_line_line_earth_is_that_of_the_phase_domain(connection: str, z1: Impedance, z0: Impedance) -> None:
    """Two lines to earth: from the three sizes alone, phases need not be known."""
    secondary = phase_currents("line-line-earth", 400.0, z1, z0)
    lines, _ = by_ampere_turns(connection, secondary)
    currents = line_line_earth(400.0, z1, z1, z0)
    found = reflection.primary_line_currents_of_line_line_earth(connection, currents, RATIO)
    assert sorted(found) == pytest.approx(sorted(abs(lines)), rel=1e-6, abs=1e-6 * max(currents) / RATIO)


def test_published_ratios_of_line_to_winding_current() -> None:
    """Published table (primary fusing article): YNyn 1.0/1.0/1.0, Dd 1.0/0.87/none, Dyn 1.0/1.15/0.58."""
    kinds = ("three-phase", "line-line", "line-earth")
    assert [reflection.line_over_winding(kind, "Dyn11") for kind in kinds] == pytest.approx([1.0, 1.15, 0.58], abs=6e-3)
    assert [reflection.line_over_winding(kind, "YNyn0") for kind in kinds] == pytest.approx([1.0, 1.0, 1.0])
    assert [reflection.line_over_winding(kind, "Dd0") for kind in kinds[:2]] == pytest.approx([1.0, 0.87], abs=6e-3)
    assert np.isnan(reflection.line_over_winding("line-earth", "Dd0"))


def test_dyn_table_in_per_unit_of_the_three_phase_fault() -> None:
    """Trap: a line-line fault puts 1.0, not 1.155, of the three-phase line current on the worst line; earth 0.577."""
    z = Impedance(0.001, 0.006)
    base = float(three_phase(400.0, z)) / RATIO
    line = reflection.primary_line_currents("line-line", "Dyn1", line_line(400.0, z, z), RATIO)
    assert sorted(part / base for part in line) == pytest.approx([0.5, 0.5, 1.0], rel=1e-12)
    earth = reflection.primary_line_currents("line-earth", "Dyn1", line_earth(400.0, z, z, z), RATIO)
    assert sorted(part / base for part in earth) == pytest.approx([0.0, 1 / np.sqrt(3), 1 / np.sqrt(3)], abs=1e-12)
    currents = line_line_earth(400.0, z, z, z)
    both = reflection.primary_line_currents_of_line_line_earth("Dyn1", currents, RATIO)
    assert sorted(part / base for part in both) == pytest.approx([1 / np.sqrt(3), 1 / np.sqrt(3), 1.0], rel=1e-9)


def test_earth_fault_share_follows_its_own_current() -> None:
    """Trap: 0.577 is per unit of the earth fault current; with Z0 = 0.5 Z1 the line carries 0.577 x 1.2."""
    z, z0 = Impedance(0.001, 0.006), Impedance(0.0005, 0.003)
    base = float(three_phase(400.0, z)) / RATIO
    found = reflection.largest_primary_line_current("line-earth", "Dyn11", line_earth(400.0, z, z, z0), RATIO)
    assert found / base == pytest.approx(1.2 / np.sqrt(3), rel=1e-12)


def test_unearthed_neutral_makes_two_lines_to_earth_a_line_fault() -> None:
    """With an open zero sequence the primary sees the line-line fault."""
    z = Impedance(0.001, 0.006)
    both = reflection.primary_line_currents_of_line_line_earth("Dyn11", line_line_earth(400.0, z, z, OPEN), RATIO)
    line = reflection.primary_line_currents("line-line", "Dyn11", line_line(400.0, z, z), RATIO)
    assert sorted(both) == pytest.approx(sorted(line), rel=1e-9)


def test_unknown_words_are_refused() -> None:
    """Fault and connection are named in the error; two lines to earth point to their own function."""
    with pytest.raises(
        ValueError, match=r"^fault: expected one of three-phase, line-line, line-earth, line-line-earth, got 'open'$"
    ):
        reflection.primary_line_currents("open", "Dyn11", 1.0, RATIO)
    with pytest.raises(
        ValueError,
        match=r"^fault: line-line-earth needs three currents, use primary_line_currents_of_line_line_earth$",
    ):
        reflection.primary_line_currents("line-line-earth", "Dyn11", 1.0, RATIO)
    with pytest.raises(
        ValueError, match=r"^connection: expected one of Dyn, Yzn, Yyn, Dzn, YNyn, Dd, Yy, got 'YNd11'$"
    ):
        reflection.primary_line_currents("line-line", "YNd11", 1.0, RATIO)
    with pytest.raises(ValueError, match=r"^connection: a line-line-earth fault needs a secondary neutral, got 'Dd0'$"):
        reflection.primary_line_currents_of_line_line_earth(
            "Dd0", line_line_earth(1.0, *[Impedance(1.0, 1.0)] * 3), 1.0
        )


def test_currents_take_arrays_as_a_loop_would() -> None:
    """Array = loop over scalars."""
    currents = np.array([0.0, 5e3, 25e3])
    found = reflection.primary_line_currents("line-line", "Dyn11", currents, RATIO)
    for number, current in enumerate(currents):
        assert [line[number] for line in found] == list(
            reflection.primary_line_currents("line-line", "Dyn11", current, RATIO)
        )
