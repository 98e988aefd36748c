"""Operation: temporary earths and approach distances come out as their tables print them."""

from __future__ import annotations

import math

import numpy as np
import pytest

from deadfront.operation.approach import (
    altitude_factor,
    limited_boundary,
    live_working_limit,
    minimum_approach,
    restricted_boundary,
    unit_distances,
    vicinity_limit,
)
from deadfront.operation.working_earths import fusing_current, sizes, withstand_current
from deadfront.project.reading import load_bytes
from deadfront.tables import read

PRINTED = [(row, cycles) for row in read("astm-f855-grounds").rows for cycles in (15, 30, 60)]


@pytest.mark.parametrize(("row", "cycles"), PRINTED, ids=[f"{row['size']}-{cycles}" for row, cycles in PRINTED])
def test_ultimate_currents_are_the_formula_cut_to_whole_kiloamperes(row, cycles):
    """ASTM F855: 20 of 21 ultimate currents; 350 kcmil at 60 cycles prints 48 where the formula gives 49.3."""
    printed = float(row[f"ultimate_{cycles}_cycles_ka"])
    found = float(fusing_current(float(row["area_cmil"]), cycles / 60.0)) / 1000.0
    if (row["size"], cycles) == ("350 kcmil", 60):
        assert (printed, round(found, 1)) == (48.0, 49.3)
    else:
        assert math.floor(found) == printed


def test_a_4_0_cable_melts_at_42_kiloamperes_in_half_a_second():
    """ASTM F855 prints 42 for 4/0 and 30 cycles; the formula gives 42.2."""
    assert round(float(fusing_current(211600.0, 0.5)) / 1000, 1) == 42.2


def test_arrays_give_what_scalars_give_one_by_one():
    """The fusing current of an array of durations is that of each duration, and falls with the square root."""
    durations = np.array([0.1, 0.25, 0.4, 1.0])
    found = fusing_current(211600.0, durations)
    assert found.tolist() == [float(fusing_current(211600.0, t)) for t in durations]
    assert found[0] / found[2] == pytest.approx(2.0, rel=1e-12)


def test_every_withstand_lies_below_its_ultimate():
    """What may be used again is between 60 and 85 % of what melts, for each size and both durations."""
    for row in read("astm-f855-grounds").rows:
        for cycles in (15, 30):
            share = float(row[f"withstand_{cycles}_cycles_ka"]) / float(row[f"ultimate_{cycles}_cycles_ka"])
            assert 0.6 < share < 0.85


def test_withstand_takes_the_longer_column_and_ends_with_the_table():
    """4/0: 43 kA up to 15 cycles, 30 kA up to 30, and beyond that the table has nothing, so neither have we."""
    assert withstand_current("4/0", 0.25, 1.0) == 43000.0
    assert withstand_current("4/0", 0.26, 1.0) == 30000.0
    assert math.isnan(withstand_current("4/0", 0.51, 1.0))
    assert math.isnan(withstand_current("4/0", 0.3, 15.0))
    assert sizes()[0] == "2 AWG"


def test_an_unknown_size_of_earth_is_refused():
    """A size that the table has not is no size."""
    with pytest.raises(LookupError) as error:
        withstand_current("5/0", 0.1, 1.0)
    assert str(error.value) == "table astm-f855-grounds: no row with size = '5/0'"


@pytest.mark.parametrize(
    ("voltage", "limited", "restricted"),
    [(600.0, 1.07, 0.30), (12470.0, 1.52, 0.66), (15000.0, 1.52, 0.66), (24940.0, 1.83, 0.79), (38000.0, 2.44, 0.84)],
)
def test_shock_boundaries_are_those_of_the_band(voltage, limited, restricted):
    """NFPA 70E, older edition: the band holds its upper end."""
    assert (limited_boundary(voltage), restricted_boundary(voltage)) == (limited, restricted)


def test_boundaries_and_approach_distances_are_different_things():
    """25 kV: the employer's distance is 0.77 m, the restricted boundary 0.79 m; neither stands for the other."""
    assert minimum_approach(24940.0, 0.0) == pytest.approx(0.77, abs=1e-12)
    assert restricted_boundary(24940.0) == 0.79


def test_sums_of_parts_are_the_table_of_2014():
    """M + D at sea level equals the printed row, for the three bands that have both."""
    for row in read("osha-approach-parts").rows:
        printed = read("osha-approach-2014").row(above_v=row["above_v"])
        assert minimum_approach(float(row["up_to_v"]), 0.0) == pytest.approx(
            float(printed["phase_to_ground_m"]), abs=5e-3
        )


def test_altitude_lengthens_only_the_electrical_part():
    """At 3000 m: 0.61 + 1.20 x 0.16 m; above 3000 m and outside the bands nothing is said."""
    assert minimum_approach(24940.0, 3000.0) == pytest.approx(0.61 + 1.2 * 0.16, abs=1e-12)
    assert (altitude_factor(0.0), altitude_factor(901.0)) == (1.0, 1.02)
    assert math.isnan(minimum_approach(24940.0, 3001.0))
    assert math.isnan(limited_boundary(200.0))


def test_the_metres_of_two_editions_are_kept_apart():
    """0.77 m is the old distance for a 38 kV system and the new one for 25 kV: a table names its edition."""
    old, new = read("osha-approach-before-2014"), read("osha-approach-2014")
    assert old.row(above_v="36000")["phase_to_ground_m"] == new.row(above_v="15000")["phase_to_ground_m"] == "0.77"
    assert "before 2014" in old.source
    assert "(2014)" in new.source


@pytest.mark.parametrize(
    ("voltage", "vicinity", "live"),
    [
        (400.0, 0.30, 0.0),
        (1000.0, 0.30, 0.0),
        (3000.0, 1.12, 0.06),
        (10e3, 1.15, 0.12),
        (20e3, 1.22, 0.22),
        (36e3, 1.38, 0.38),
        (110e3, 2.00, 1.00),
    ],
)
def test_zones_of_the_iec_practice_are_the_guidance_of_their_table(voltage: float, vicinity: float, live: float):
    """EN 50110-1, Table A.1, restated in a published manual: DV and DL in mm at the nominal voltage."""
    assert (vicinity_limit(voltage), live_working_limit(voltage)) == (vicinity, live)


def test_between_two_rows_the_zones_are_linear_and_below_3_kv_those_of_3_kv():
    """Note 1 of the table: 25 kV lies halfway between 20 and 30 kV; `no contact` is no number to start a line from."""
    assert vicinity_limit(25e3) == pytest.approx((1.22 + 1.32) / 2, abs=1e-12)
    assert live_working_limit(25e3) == pytest.approx((0.22 + 0.32) / 2, abs=1e-12)
    assert (vicinity_limit(1001.0), live_working_limit(2000.0)) == (1.12, 0.06)
    assert math.isnan(vicinity_limit(110.1e3))


def test_zones_boundaries_and_duties_are_three_things():
    """At 20 kV: DV 1.22 m, limited boundary 1.83 m, minimum approach distance 0.77 m; none stands for another."""
    found = {vicinity_limit(20e3), limited_boundary(20e3), round(minimum_approach(20e3, 0.0), 2)}
    assert found == {1.22, 1.83, 0.77}


HEAD = "deadfront: 1\ntitle: t\npractice: %s\nsupply: {voltage: 24.94 kV}\nsite: {altitude: 4 m}\n"
OWN = "operation: {approach: {source: rule book 7, medium_voltage: {inner: 1 m, outer: 3.2 m}}}\n"


@pytest.mark.parametrize(
    ("practice", "section", "words"),
    [
        ("north-american", "", "limited approach boundary 1.83 m, restricted 0.79 m (NFPA 70E, older edition)"),
        (
            "iec",
            "",
            "vicinity zone begins at 1.27 m, live working zone begins at 0.27 m at 24.94 kV (EN 50110-1, Table A.1, "
            "guidance; the national annex governs)",
        ),
        ("iec", OWN, "approaching begins at 3.20 m, with protection up to 1.00 m (rule book 7)"),
        ("north-american", OWN, "approaching begins at 3.20 m, with protection up to 1.00 m (rule book 7)"),
    ],
)
def test_a_sheet_says_the_distances_of_the_site_or_of_its_practice(practice: str, section: str, words: str):
    """The site's own rule book goes before the table; a North American table is never printed for an IEC unit."""
    unit = load_bytes("unit.yaml", (HEAD % practice + section).encode(), {}).unit
    assert unit_distances(unit).startswith(words)
