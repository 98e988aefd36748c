"""Faults of whole project files against the worked examples of the reference data: W4, W12 (cases 1 to 5a) and W13.

W12 was computed with the standard's equations and agrees with a general-purpose network library to 1e-6; W13 is an own
vector of the North American method; W4 is published in IEC TR 60909-4.
"""

import numpy as np
import pytest
from study_files import NORTH_AMERICAN, at, case, walk

from deadfront.physics.impedance import x_over_r
from deadfront.station.station import LV_BUS, SECONDARY, SWITCH_BUS, feeder_end
from deadfront.study import elements, faults, network, zero_sequence

W12 = {
    "deadfront": 1,
    "title": "W12",
    "practice": "iec",
    "frequency": "50 Hz",
    "supply": {
        "voltage": "20 kV",
        "fault_power": "500 MVA",
        "x_over_r": 10,
        "earthing": "solid",
        "x0_over_x1": 1,
        "r0_over_x0": 0.1,
    },
    "mv_cable": {
        "length": "2 km",
        "resistance": "0.206 ohm/km",
        "reactance": "0.122 ohm/km",
        "zero_resistance": "0.8 ohm/km",
        "zero_reactance": "0.35 ohm/km",
        "fault_temperature": "80 degC",
    },
    "transformer": {
        "rating": "1 MVA",
        "primary_voltage": "20 kV",
        "secondary_voltage": "400 V",
        "connection": "Dyn5",
        "impedance": "6 %",
        "load_loss": "10 kW",
        "zero_sequence": {"r0_over_r1": 1, "x0_over_x1": 0.95},
        "neutral": "earthed",
    },
    "board": {"voltage": "400 V", "voltage_tolerance": "10 %"},
}
MINIMUM = {"supply.fault_power": "250 MVA"}
MOTORS = {
    "motors.groups.all": {
        "power": "400 kW",
        "efficiency": "94 %",
        "power_factor": "86 %",
        "locked_rotor_ratio": 6,
        "x_over_r": 1 / 0.42,
    }
}
REMOTE = feeder_end("remote")
CASE_4 = {
    "frequency": "60 Hz",
    "supply.voltage": "13.8 kV",
    "supply.fault_power": "300 MVA",
    "supply.x_over_r": 8,
    "mv_cable": {
        "length": "0.5 km",
        "resistance": "0.35 ohm/km",
        "reactance": "0.14 ohm/km",
        "fault_temperature": "90 degC",
    },
    "transformer.rating": "2500 kVA",
    "transformer.primary_voltage": "13.8 kV",
    "transformer.secondary_voltage": "480 V",
    "transformer.impedance": "5.75 %",
    "transformer.load_loss": "18 kW",
    "board.voltage": "480 V",
    "board.voltage_tolerance": "6 %",
    "board.feeders.remote.cable": {
        "length": "30 m",
        "parallel": 4,
        "resistance": "0.089 ohm/km",
        "reactance": "0.128 ohm/km",
        "zero_resistance": "0.3 ohm/km",
        "zero_reactance": "0.4 ohm/km",
        "fault_temperature": "90 degC",
    },
}
CASE_4_MINIMUM = CASE_4 | {"supply.fault_power": "100 MVA", "supply.x_over_r": 5}
GENERATOR = {
    "supply.fault_power": "350 MVA",
    "transformer.rating": "1.6 MVA",
    "transformer.load_loss": "14.4 kW",
    "standby_generator": {
        "rating": "1 MVA",
        "voltage": "400 V",
        "subtransient_reactance": "12 %",
        "x_over_r": 1 / 0.15,
        "power_factor": "80 %",
        "neutral": "isolated",
        "parallel": "permitted",
    },
}

VECTORS = [
    pytest.param({}, "maximum", SWITCH_BUS, "three-phase", 10.360058, id="1a"),
    pytest.param({}, "maximum", LV_BUS, "three-phase", 24.994166, id="1b"),
    pytest.param({}, "maximum", LV_BUS, "line-line", 21.645583, id="1c"),
    pytest.param({}, "maximum", LV_BUS, "line-earth", 25.794686, id="1d"),
    pytest.param({}, "maximum", SWITCH_BUS, "line-earth", 8.166513, id="1e"),
    pytest.param(MINIMUM, "minimum", LV_BUS, "three-phase", 20.043415, id="2a"),
    pytest.param(MINIMUM, "minimum", LV_BUS, "line-line", 17.358106, id="2b"),
    pytest.param(MINIMUM, "minimum", LV_BUS, "line-earth", 20.872844, id="2c"),
    pytest.param(MINIMUM, "minimum", SWITCH_BUS, "three-phase", 5.907862, id="2d"),
    pytest.param(CASE_4, "maximum", LV_BUS, "three-phase", 47.941407, id="4a"),
    pytest.param(CASE_4, "maximum", REMOTE, "three-phase", 40.749200, id="4b"),
    pytest.param(CASE_4, "maximum", REMOTE, "line-earth", 38.668725, id="4c"),
    pytest.param(CASE_4_MINIMUM, "minimum", REMOTE, "line-line", 25.763218, id="4d"),
    pytest.param(CASE_4_MINIMUM, "minimum", REMOTE, "line-earth", 29.953112, id="4e"),
]


@pytest.mark.parametrize(("changes", "rule", "point", "kind", "kiloamperes"), VECTORS)
def test_a_project_file_gives_the_currents_of_w12(changes, rule, point, kind, kiloamperes):
    """Maximum and minimum rules, medium and low voltage, 50 and 60 Hz, come out to 1e-5 of the worked example."""
    one = walk(W12, changes)
    current = at(one, faults.current(one, point, kind, "iec"), case(one, rule))
    assert current == pytest.approx(kiloamperes * 1e3, rel=1e-5)


def test_peaks_and_heat_of_w12():
    """Peak at MV and LV at 50 and 60 Hz, thermal equivalent current over 1 s at MV."""
    one, other = walk(W12), walk(W12, CASE_4)
    largest = case(one, "maximum")
    assert at(one, faults.peak(one, SWITCH_BUS, "three-phase", "iec"), largest) == pytest.approx(18709.460, rel=1e-5)
    assert at(one, faults.peak(one, LV_BUS, "three-phase", "iec"), largest) == pytest.approx(56153.334, rel=1e-5)
    assert at(other, faults.peak(other, LV_BUS, "three-phase", "iec"), 0) == pytest.approx(110321.081, rel=1e-5)
    heat = faults.thermal(one, SWITCH_BUS, "three-phase", "iec", 1.0)
    assert at(one, heat, largest) == pytest.approx(10400.329, rel=1e-5)


def test_motors_of_w12_add_their_current_and_their_own_peak():
    """Trap 6: partial peaks are summed; one kappa of the parallel impedance would give 64.11 instead of 64.81 kA."""
    one = walk(W12, MOTORS)
    on = case(one, "maximum", "motors on")
    assert at(one, faults.current(one, LV_BUS, "three-phase", "iec"), on) == pytest.approx(29613.683, rel=1e-5)
    assert at(one, faults.peak(one, LV_BUS, "three-phase", "iec"), on) == pytest.approx(64.81e3, abs=5.0)


def test_a_generator_in_parallel_adds_its_corrected_current():
    """W12 case 5a: network and low-voltage generator with KG; alone the generator brings c U / (sqrt(3) |ZGK|)."""
    one = walk(W12, GENERATOR)
    current = faults.current(one, LV_BUS, "three-phase", "iec")
    assert at(one, current, case(one, "maximum", "in parallel")) == pytest.approx(50784.032, rel=1e-5)
    corrected = 1.1 / (1 + 0.12 * 0.6) * np.hypot(0.12, 0.12 * 0.15) * 0.16
    assert at(one, current, case(one, "maximum", "alone")) == pytest.approx(
        1.1 * 400 / np.sqrt(3) / corrected, rel=1e-9
    )


def test_the_transformer_of_the_low_voltage_example_is_corrected_as_published():
    """W4, IEC TR 60909-4: KT 0.975, ZTK 2.684 + j 10.053 milliohm; under the maximum rule only (trap 2)."""
    changes = {
        "transformer.rating": "630 kVA",
        "transformer.secondary_voltage": "410 V",
        "transformer.impedance": "4 %",
        "transformer.load_loss": "6.5 kW",
        "board.voltage_tolerance": "6 %",
    }
    one = walk(W12, changes)
    largest, smallest = case(one, "maximum"), case(one, "minimum")
    z = elements.transformer(one, "iec")
    assert at(one, elements.transformer_correction(one), largest) == pytest.approx(0.975, abs=5e-4)
    assert at(one, z.resistance, largest) == pytest.approx(2.684e-3, abs=5e-7)
    assert at(one, z.reactance, largest) == pytest.approx(10.053e-3, abs=5e-7)
    assert at(one, z.reactance, smallest) == pytest.approx(10.312e-3, abs=5e-7)


def test_the_north_american_vector_comes_out():
    """W13: network 26 732 A, motors 3596 and 1695 A, total 32 018 A, X/R 7.572 complex and 7.778 reduced apart."""
    one = walk()
    on, off = (case(one, "maximum", "tie open", f"motors {word}") for word in ("on", "off"))
    current = faults.current(one, LV_BUS, "three-phase", "north-american")
    assert at(one, current, off) == pytest.approx(26732, abs=0.5)
    assert at(one, current, on) == pytest.approx(32018, abs=0.5)
    parts = {p.device: at(one, p.current, on) for p in faults.partial_currents(one, LV_BUS, "north-american")}
    assert parts["motors first"] == pytest.approx(3596, abs=0.5)
    assert parts["motors second"] == pytest.approx(1695, abs=0.5)
    z = network.thevenin(one, LV_BUS, "north-american").impedance
    assert at(one, x_over_r(z), on) == pytest.approx(7.572, abs=5e-4)
    assert at(one, faults.reactance_ratio(one, LV_BUS, "north-american"), on) == pytest.approx(7.778, abs=5e-4)


def test_unbalanced_faults_of_the_north_american_vector_come_out():
    """W13 without motors: line to ground 28 120 A with the transformer's own Z0, line to line 23 151 A."""
    one = walk()
    off = case(one, "maximum", "tie open", "motors off")
    for kind, amperes in (("line-earth", 28120), ("line-line", 23151)):
        assert at(one, faults.current(one, LV_BUS, kind, "north-american"), off) == pytest.approx(amperes, abs=0.5)


def test_the_vector_has_no_voltage_factor_and_no_kt():
    """Trap: one method per rating system; c and KT do not leak into the North American numbers."""
    one = walk()
    assert np.all(elements.voltage_factor(one, "north-american", "lv") == 1.0)
    assert elements.transformer(one, "north-american") == elements.transformer_uncorrected(one)


def test_an_earth_fault_loop_can_have_the_larger_ratio():
    """X0 three times X1 with hardly any R0: the loop has (2 X1 + X0) / (2 R1 + R0) = 5 / 0.23, not 10."""
    one = walk(changes={"supply.x0_over_x1": 3, "supply.r0_over_x0": 0.01, "motors": None})
    ratio = faults.reactance_ratio(one, "supply point A", "north-american", "line-earth")
    assert at(one, ratio, case(one, "maximum", "tie open")) == pytest.approx(5 / 0.23)
    balanced = faults.reactance_ratio(one, "supply point A", "north-american")
    assert at(one, balanced, case(one, "maximum", "tie open")) == pytest.approx(10.0)


def test_a_winding_above_the_system_voltage_drives_more_than_nominal():
    """A 600 V winding on a 575 V system: largest faults are driven by the 600 V no-load voltage, smallest by 575 V."""
    changes = {"transformer.secondary_voltage": "600 V", "board.voltage": "575 V"}
    one = walk(NORTH_AMERICAN, changes)
    driving = elements.driving_voltage(one, "north-american", "lv")
    assert at(one, driving, case(one, "maximum", "tie open", "motors off")) == pytest.approx(600.0)
    assert at(one, driving, case(one, "minimum", "tie open")) == pytest.approx(575.0)


def test_the_highest_voltage_of_the_system_limits_c():
    """IEC 60909-0 Table 1: c max U_n is not above U_m; 21 kV on 20 kV leaves c = 1.05."""
    one = walk(W12, {"supply.highest_voltage": "21 kV"})
    factor = elements.voltage_factor(one, "iec", "mv")
    assert at(one, factor, case(one, "maximum")) == pytest.approx(1.05)
    assert at(one, factor, case(one, "minimum")) == 1.0


def test_the_largest_fault_before_the_main_is_that_of_the_terminals():
    """Secondary terminals and bus are the same node while nothing but the supply feeds."""
    one = walk(W12)
    for kind in faults.KINDS:
        before, behind = (faults.current(one, point, kind, "iec") for point in (SECONDARY, LV_BUS))
        assert np.allclose(before, behind, rtol=1e-12)


EARTH_CURRENTS = [(1000, None), (6000, 0.15), (9000, 0.3)]


@pytest.mark.parametrize(("amperes", "ratio"), EARTH_CURRENTS)
def test_a_stated_earth_fault_current_comes_out_at_the_supply_point(amperes, ratio):
    """Z0 is solved from the stated current, whatever its angle: the fault at the supply point draws that current."""
    changes = {
        "supply.x0_over_x1": None,
        "supply.earth_fault_current": f"{amperes} A",
        "supply.r0_over_x0": ratio,
    }
    one = walk(W12, changes)
    found = faults.current(one, "supply point A", "line-earth", "iec")
    assert np.allclose(found, amperes, rtol=1e-9)


def test_fault_currents_that_contradict_each_other_give_no_number():
    """An earth fault of 30 kA on a supply of 14.4 kA has no passive network: NaN; a range that holds a pair has one."""
    stated = {"supply.x0_over_x1": None, "supply.r0_over_x0": None, "supply.earth_fault_current": "30 kA"}
    assert np.all(np.isnan(faults.current(walk(W12, stated), "supply point A", "line-earth", "iec")))
    ranged = walk(W12, stated | {"supply.earth_fault_current": "10 .. 30 kA"})
    assert np.all(faults.current(ranged, "supply point A", "line-earth", "iec") > 0.0)


def test_a_neutral_resistor_limits_the_earth_fault():
    """W1-like: Z0 + 3 ZN; 20 kV through 100 ohm gives c U / (sqrt(3) RN) within the source's own impedance."""
    changes = {"supply.earthing": "impedance", "supply.neutral_resistance": "100 ohm"}
    one = walk(W12, changes)
    found = at(one, faults.current(one, "supply point A", "line-earth", "iec"), case(one, "maximum"))
    z1 = 1.1 * 20e3**2 / 500e6
    alone = z1 / np.sqrt(1.01)
    expected = np.sqrt(3) * 1.1 * 20e3 / np.hypot(3 * 0.1 * alone + 300.0, 3 * alone)
    assert found == pytest.approx(expected, rel=1e-9)


def test_a_line_line_earth_fault_agrees_with_the_physics_room():
    """The closed form for Z2 = Z1 equals the general sequence solution, also where it is the largest current."""
    from deadfront.physics import sequence

    one = walk(W12, {"transformer.zero_sequence": {"r0_over_r1": 0.4, "x0_over_x1": 0.1}})
    largest = case(one, "maximum")
    z1 = network.thevenin(one, LV_BUS, "iec").impedance
    z0 = network.zero_thevenin(one, LV_BUS, "iec").impedance
    both = sequence.line_line_earth(440.0, z1, z1, z0)
    found = at(one, faults.current(one, LV_BUS, "line-line-earth", "iec"), largest)
    assert found == pytest.approx(at(one, np.maximum(both.line_2, both.line_3), largest), rel=1e-12)
    assert found > at(one, faults.current(one, LV_BUS, "line-earth", "iec"), largest)
    earth = faults.earth_current(one, LV_BUS, "line-line-earth", "iec")
    assert at(one, earth, largest) == pytest.approx(at(one, both.earth, largest), rel=1e-12)


def test_zero_sequence_of_a_delta_star_is_its_own():
    """Trap 8 avoided: seen from the star of a Dyn unit no supply impedance enters Z0."""
    one = walk(W12)
    z0, own = network.zero_thevenin(one, SECONDARY, "iec").impedance, zero_sequence.transformer(one, "iec")
    assert np.allclose(z0.reactance, own.reactance)
