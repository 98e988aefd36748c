"""Tests: reactance from geometry against handbook forms and published cables."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from deadfront.physics import geometry
from deadfront.tables import read

spacings = st.floats(0.01, 2.0)


def trefoil_reactance(frequency: float, conductor: float, cable: float, strands: int) -> float:
    """Three touching cables, diameters in m, reactance in ohm/m."""
    radius = geometry.geometric_mean_radius(strands, conductor / 2)
    distance = geometry.geometric_mean_distance(cable, cable, cable)
    return float(geometry.reactance_per_length(frequency, distance, radius))


def test_handbook_forms_at_60_hz_and_in_ohms_a_kilometre() -> None:
    """0.0529 log10(GMD/GMR) ohm/kft at 60 Hz and 2 pi f 2e-4 ln(GMD/GMR) ohm/km."""
    found = geometry.reactance_per_length(60.0, 10.0, 1.0)
    assert found * 304.8 == pytest.approx(0.0529, abs=5e-5)
    assert found * 1e3 == pytest.approx(2 * np.pi * 60 * 2e-4 * np.log(10.0), rel=1e-12)


@pytest.mark.parametrize("row", read("mv-cables-60hz").rows, ids=lambda row: f"{row['class']} {row['size_awg_kcmil']}")
def test_cable_table_at_60_hz_follows_from_its_diameters(row: dict[str, str]) -> None:
    """The 30 trefoil reactances of the table, from its own printed diameters and the strands of each size."""
    strands = 37 if float(row["area_kcmil"]) >= 250 else 19
    strands = 61 if float(row["area_kcmil"]) > 500 else strands
    strands = 7 if row["size_awg_kcmil"] == "2" else strands
    inch = 0.0254
    conductor, cable = float(row["conductor_od_in"]) * inch, float(row["assumed_cable_od_in"]) * inch
    found = trefoil_reactance(60.0, conductor, cable, strands)
    assert found * 304.8 == pytest.approx(float(row["x_trefoil_60hz_ohm_per_kft"]), rel=3e-3)


def test_published_12_20_kv_cables_come_within_five_percent() -> None:
    """Single-core aluminium 12/20 kV, 50 Hz; diameters are assumed, and 95 mm2 only repeats the value of 70 mm2."""
    diameters = {70: 9.8, 120: 12.9, 150: 14.2, 185: 15.9, 240: 18.4}
    rows = [row for row in read("lines-50hz").rows[6:12] if row["size_mm2"] != "95"]
    assert [int(row["size_mm2"]) for row in rows] == list(diameters)
    for row in rows:
        conductor = diameters[int(row["size_mm2"])]
        cable = conductor + 2 * (0.6 + 5.5 + 0.6 + 0.9 + 2.5)
        strands = 19 if int(row["size_mm2"]) <= 120 else 37
        found = trefoil_reactance(50.0, conductor * 1e-3, cable * 1e-3, strands) * 1e3
        assert found == pytest.approx(float(row["x_50hz_ohm_per_km"]), rel=0.05)


def test_solid_conductor_share_is_that_of_its_inner_flux() -> None:
    """exp(-1/4)."""
    assert geometry.geometric_mean_radius(1, 1.0) == pytest.approx(np.exp(-0.25), abs=5e-5)


@given(spacings, spacings, spacings)
def test_mean_distance_lies_between_the_spacings_and_does_not_depend_on_order(a: float, b: float, c: float) -> None:
    """Geometric mean."""
    mean = geometry.geometric_mean_distance(a, b, c)
    assert min(a, b, c) * (1 - 1e-12) <= mean <= max(a, b, c) * (1 + 1e-12)
    assert geometry.geometric_mean_distance(c, a, b) == pytest.approx(mean, rel=1e-12)


def test_unknown_strands_are_refused_in_words() -> None:
    """Not guessed between 7 and 19."""
    with pytest.raises(ValueError, match=r"^strands: expected one of 1, 7, 19, 37, 61, got 12$"):
        geometry.geometric_mean_radius(12, 1.0)
