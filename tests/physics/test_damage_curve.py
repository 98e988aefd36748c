"""Through-fault limits: categories, thermal and mechanical part, knee, shift by connection, IEC."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from deadfront.intervals import Interval
from deadfront.physics.damage_curve import (
    damage_heat,
    damage_time,
    iec_category,
    iec_withstand_time,
    largest_through_fault,
    largest_withstand,
    thermal_damage_time,
    transformer_category,
    winding_multiple,
)
from deadfront.physics.reflection import line_over_winding, primary_line_currents, primary_winding_currents


@pytest.mark.parametrize(
    ("kilovoltamperes", "phases", "name", "long_test"),
    [
        (5, 1, "I", None), (500, 1, "I", None), (501, 1, "II", 1.0), (1667, 1, "II", 1.0), (1668, 1, "III", 0.5),
        (10000, 1, "III", 0.5), (10001, 1, "IV", None),
        (15, 3, "I", None), (500, 3, "I", None), (501, 3, "II", 1.0), (5000, 3, "II", 1.0), (5001, 3, "III", 0.5),
        (30000, 3, "III", 0.5), (30001, 3, "IV", None),
    ],
)  # fmt: skip
def test_category_and_long_test_are_those_of_the_standard(kilovoltamperes, phases, name, long_test):
    """IEEE C57.12.00, limits of all four categories and their test durations (P10) [V]."""
    category = transformer_category(1e3 * kilovoltamperes, phases)
    assert (category.name, category.long_test) == (name, long_test)


def test_damage_times_of_1000_kva_are_those_computed_elsewhere():
    """1000 kVA, 5.75 %: K 604.9; 2.000 s at 17.391, 4.082 and 8.434 s beside the knee, 4.133 s infrequent [D]."""
    category, largest = transformer_category(1e6, 3), largest_through_fault(0.0575, 0.0)
    knee = 0.7 * largest
    assert largest == pytest.approx(17.391, abs=5e-4)
    assert 2.0 * largest**2 == pytest.approx(604.9, abs=0.05)
    assert damage_time(category, largest, largest, frequent=True) == pytest.approx(2.0, rel=1e-12)
    assert damage_time(category, knee, largest, frequent=True) == pytest.approx(4.082, abs=5e-4)
    assert damage_time(category, knee * (1 - 1e-9), largest, frequent=True) == pytest.approx(8.434, abs=5e-4)
    assert damage_time(category, largest, largest, frequent=False) == pytest.approx(4.133, abs=5e-4)


def test_damage_times_of_a_small_and_a_large_unit():
    """300 kVA at 4.5 %: 2.531 s at 22.222; 5000 kVA at 6.5 %: I_max 15.385, K 473.4 [D]."""
    small = transformer_category(300e3, 3)
    for frequent in (True, False):
        assert damage_time(small, 1 / 0.045, 1 / 0.045, frequent=frequent) == pytest.approx(2.531, abs=5e-4)
    large = largest_through_fault(0.065, 0.0)
    assert large == pytest.approx(15.385, abs=5e-4)
    assert 2.0 * large**2 == pytest.approx(473.4, abs=0.05)


def test_knee_follows_the_category():
    """Category III frequent from half of the largest fault; IV from there always; I never."""
    largest = 12.0
    for rating, frequent, mechanical in [
        (20e6, True, True),
        (20e6, False, False),
        (40e6, False, True),
        (100e3, True, False),
    ]:
        category = transformer_category(rating, 3)
        time = damage_time(category, 0.6 * largest, largest, frequent=frequent)
        expected = 2.0 / 0.36 if mechanical else 1250.0 / 7.2**2
        assert time == pytest.approx(expected, rel=1e-12)
    assert transformer_category(1e6, 3).infrequent_up_to == 10
    assert transformer_category(20e6, 3).infrequent_up_to == 5


def test_thermal_line_stays_below_the_mechanical_one_of_a_stiff_transformer():
    """Largest fault 30 times rated: at 30 times 1250 / 900 = 1.389 s, not the 2 s of the mechanical line."""
    category = transformer_category(1e6, 3)
    assert damage_time(category, 30.0, 30.0, frequent=True) == pytest.approx(1250.0 / 900.0)


def test_line_and_points_part_at_4_75_times_rated():
    """5 times rated: 1250 / 25 = 50 s of the line; just below 4.75 times 60 s of the points."""
    assert thermal_damage_time(5.0) == pytest.approx(50.0)
    assert thermal_damage_time(4.75) == pytest.approx(1250.0 / 4.75**2)
    assert thermal_damage_time(4.75 * (1 - 1e-12)) == pytest.approx(60.0)


@pytest.mark.parametrize(("time", "multiple"), [(300.0, 3.0), (1800.0, 2.0)])
def test_long_overloads_follow_the_published_points(time, multiple):
    """Above a minute the published points count: 3 times for 300 s, 2 times for 1800 s [M]."""
    assert thermal_damage_time(multiple) == pytest.approx(time, rel=1e-12)


@settings(max_examples=100, deadline=None)
@given(st.floats(2.0, 30.0), st.floats(2.0, 30.0), st.booleans(), st.sampled_from([100e3, 1e6, 20e6, 40e6]))
def test_more_current_never_is_stood_longer(one, other, frequent, rating):
    """Damage time never rises with the current, across the points, the line and the knee."""
    low, high = sorted((one, other))
    category = transformer_category(rating, 3)
    times = damage_time(category, np.array([low, high]), 17.4, frequent=frequent)
    assert times[1] <= times[0] * (1 + 1e-12)


@settings(max_examples=60, deadline=None)
@given(st.floats(2.0, 25.0), st.floats(0.0, 5.0), st.floats(0.0, 1.0))
def test_damage_time_over_ranges_encloses_its_points(start, width, share):
    """A range of currents and of the largest fault, with the jump at the knee inside or not."""
    category = transformer_category(1e6, 3)
    enclosing = damage_time(category, Interval(start, start + width), Interval(16.0, 18.0), frequent=True)
    assert enclosing.contains(damage_time(category, start + share * width, 16.0 + 2.0 * share, frequent=True))


def test_below_twice_rated_current_it_is_no_fault():
    """A load, or an unknown current, has no damage time: NaN, in every curve."""
    for multiple in (0.0, 1.0, 1.999, np.nan):
        assert np.isnan(thermal_damage_time(multiple))
        assert np.isnan(damage_time(transformer_category(1e6, 3), multiple, 17.4, frequent=True))


@pytest.mark.parametrize("fault", ["three-phase", "line-line", "line-earth"])
@pytest.mark.parametrize("connection", ["Dyn", "YNyn", "Dd", "Dzn"])
def test_line_current_leads_back_to_the_worst_winding(fault, connection):
    """Line over winding current takes the line current to the winding's own multiple, whatever kind of fault [D]."""
    factor = line_over_winding(fault, connection)
    line = max(primary_line_currents(fault, connection, 1000.0, 20.0))
    winding = max(primary_winding_currents(fault, connection, 1000.0, 20.0))
    if (connection, fault) == ("Dd", "line-earth"):  # no neutral on the secondary: no current, and no factor
        assert (line, winding) == (0.0, 0.0)
        assert np.isnan(factor)
        return
    rated_line, rated_winding = 2.0, 2.0 / np.sqrt(3.0) if connection[0] == "D" else 2.0
    assert winding_multiple(line, rated_line, factor) == pytest.approx(winding / rated_winding, rel=1e-12)


def test_iec_withstand_is_two_seconds_at_the_largest_fault():
    """IEC 60076-5: 2 s, adiabatically 8 s at half the current, below that no statement; categories [M]."""
    assert iec_withstand_time(20.0, 20.0) == pytest.approx(2.0)
    assert iec_withstand_time(10.0, 20.0) == pytest.approx(8.0)
    assert np.isnan(iec_withstand_time(9.99, 20.0))
    assert [iec_category(rating) for rating in (2.5e6, 2.501e6, 100e6, 101e6)] == ["I", "II", "II", "III"]


@pytest.mark.parametrize(
    ("kilovoltamperes", "phases", "multiple"),
    [(25, 1, 40), (75, 3, 40), (110, 1, 35), (300, 3, 35), (500, 1, 25), (500, 3, 25)],
)
def test_small_units_stand_at_most_the_listed_multiple(kilovoltamperes, phases, multiple):
    """IEEE C57.12.00, category I: 40, 35 and 25 times rated current [M]."""
    assert largest_withstand(1e3 * kilovoltamperes, phases) == multiple


def test_sizes_outside_the_tables_are_refused():
    """Too small, too large for category I, two phases, nothing: each sentence says what was expected."""
    with pytest.raises(ValueError, match=r"^rated_power: expected at least 15 kVA, got 10 kVA$"):
        transformer_category(10e3, 3)
    with pytest.raises(ValueError, match=r"^rated_power: expected at least 15 kVA, got nan kVA$"):
        transformer_category(float("nan"), 3)
    with pytest.raises(ValueError, match=r"^phases: expected 1 or 3, got 2$"):
        transformer_category(100e3, 2)
    with pytest.raises(ValueError, match=r"^rated_power: expected at most 500 kVA, got 501 kVA$"):
        largest_withstand(501e3, 3)
    with pytest.raises(ValueError, match=r"^rated_power: expected above zero, got 0$"):
        iec_category(0.0)


@pytest.mark.parametrize("frequent", [True, False])
@pytest.mark.parametrize("rating", [300e3, 1e6, 20e6, 40e6])
def test_damage_heat_is_that_of_the_damage_time(rating, frequent):
    """I2t of the curve's own time, at every multiple, across points, line and knee; NaN below twice rated current."""
    category, multiple = transformer_category(rating, 3), np.geomspace(2.0, 25.0, 200)
    heat = damage_heat(category, multiple, 17.4, frequent=frequent)
    expected = multiple**2 * damage_time(category, multiple, 17.4, frequent=frequent)
    assert heat == pytest.approx(expected, rel=1e-12)
    assert np.isnan(damage_heat(category, 1.99, 17.4, frequent=frequent))
