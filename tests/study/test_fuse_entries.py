"""The two MV fuses in the study: a link without clearing times, one that only isolates, limiters side by side."""

import numpy as np
import pytest
from study_files import walk

from deadfront.study import devices, fuse_entries


def times(changes, current):
    """Clearing time of each fuse at a current, by its name."""
    return {o.device: float(o.time) for o in devices.fuses(walk(changes=changes), np.asarray(current))}


LINK, LIMITER = "Draw-out expulsion link", "Current-limiting fuse"
MELTING_ONLY = {"fuses.bayonet.curve": "curves/melting.csv"}


def test_a_link_without_clearing_times_clears_after_its_tolerance_and_its_arcing():
    """Melting 1 s at 400 A: at 480 A with 20 % of tolerance, and 13.3 ms of arcing."""
    told = MELTING_ONLY | {"fuses.bayonet.melting_tolerance": "20 %", "fuses.bayonet.arcing_time": "13.3 ms"}
    assert times(told, 480.0)[LINK] == pytest.approx(1.0133)
    assert times(told, 239.0)[LINK] == np.inf  # 1.2 times the first point, 200 A


def test_without_tolerance_and_arcing_time_customary_ones_count_and_are_listed():
    """20 % [M] and 0.8 of a cycle [C], which is 13.3 ms at 60 Hz."""
    found = walk(changes=MELTING_ONLY)
    operation = devices.fuses(found, np.asarray(480.0))[0]
    assert float(operation.time) == pytest.approx(1.0 + 0.8 / 60)
    tags = {key: found.inputs.assumed[key].tag for key in found.inputs.assumed}
    assert (tags["fuses.bayonet.melting_tolerance"], tags["fuses.bayonet.arcing_time"]) == ("M", "C")


def test_a_link_that_only_isolates_ends_no_fault():
    """It melts, and interrupts nothing: only the limiter is counted on."""
    assert LINK in times({}, 1000.0)
    assert times({"fuses.isolation_link": "yes", "fuses.bayonet.interrupting": None}, 1000.0).keys() == {LIMITER}


def test_limiters_side_by_side_share_the_current():
    """Two at 1200 A do what one does at 600 A; below twice the minimum they are not counted on."""
    assert times({"fuses.limiters_in_parallel": 2}, 1200.0)[LIMITER] == times({}, 600.0)[LIMITER] == pytest.approx(2.0)
    assert times({"fuses.limiters_in_parallel": 2}, 1199.0)[LIMITER] == np.inf


def test_liquid_moves_a_curve_from_the_temperature_it_is_drawn_for():
    """F(85) of tin is 0.843 from 25 degC; drawn for 85 degC it is one there, and 1.187 in liquid of 25 degC."""
    drawn_cold = walk(changes={"fuses.bayonet.element": "tin"})
    assert fuse_entries.liquid_factor(drawn_cold, "bayonet", 85.0) == pytest.approx(0.843, abs=5e-4)
    drawn_hot = walk(changes={"fuses.bayonet.element": "tin", "fuses.bayonet.reference_temperature": "85 degC"})
    assert fuse_entries.liquid_factor(drawn_hot, "bayonet", 85.0) == 1.0
    assert fuse_entries.liquid_factor(drawn_hot, "bayonet", 25.0) == pytest.approx(1.0 / 0.8427, rel=1e-4)


@pytest.mark.parametrize(
    ("element", "factors"),
    [
        ("temperature-sensing", (0.935, 0.816, 0.707, 0.577, 0.456)),
        ("tin-lead", (0.951, 0.864, 0.788, 0.703, 0.631)),
        ("tin", (0.963, 0.898, 0.843, 0.783, 0.736)),
        ("silver", (0.992, 0.978, 0.967, 0.956, 0.948)),
        ("copper", (0.993, 0.981, 0.971, 0.961, 0.954)),
    ],
)
def test_factors_of_each_element_are_those_of_the_table(element, factors):
    """Liquid of 40, 65, 85, 105 and 120 degC, to the last printed digit."""
    found = walk(changes={"fuses.limiter.element": element})
    ours = [float(fuse_entries.liquid_factor(found, "limiter", t)) for t in (40.0, 65.0, 85.0, 105.0, 120.0)]
    assert ours == pytest.approx(factors, abs=5.5e-4)


def test_a_melting_temperature_of_the_file_needs_no_element():
    """232 degC says what `tin` says."""
    by_number, by_word = (
        walk(changes={f"fuses.bayonet.{entry}": value})
        for entry, value in (("melting_temperature", "232 degC"), ("element", "tin"))
    )
    assert fuse_entries.liquid_factor(by_number, "bayonet", 95.0) == fuse_entries.liquid_factor(
        by_word, "bayonet", 95.0
    )


def test_highest_voltage_is_the_file_s_or_that_of_the_highest_tap():
    """13.8 kV x 105 %, listed as an assumption; never below nominal."""
    silent = walk(changes={"transformer.highest_tap": "105 %"})
    assert fuse_entries.highest_line_voltage(silent) == pytest.approx(14490.0)
    assert "supply.highest_voltage" in silent.inputs.assumed
    low = walk(changes={"transformer.highest_tap": "95 %"})
    assert fuse_entries.highest_line_voltage(low) == pytest.approx(13800.0)
    told = walk(changes={"supply.highest_voltage": "14.5 kV"})
    assert fuse_entries.highest_line_voltage(told) == 14500.0
