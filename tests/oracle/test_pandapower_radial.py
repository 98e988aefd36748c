"""Tests: 224 random radial stations against pandapower, a general-purpose network library.

The library implements the same standard, so this shows consistent coding, not that the method is right. Two known
differences are put into the comparison, not into the code: its thermal current always takes 50 Hz, and its peak
current takes one kappa of the impedance at the fault, motors included.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from deadfront.physics import elements, iec60909
from deadfront.physics.impedance import NONE, Impedance, parallel, r_over_x, referred, scaled, series

pytest.importorskip("pandapower")

Floats = NDArray[np.float64]
PER_GROUP = 56
GROUPS = ((50.0, 0.06), (50.0, 0.10), (60.0, 0.06), (60.0, 0.10))
FAULT_DURATION = 1.0
WITH_MOTORS = 0.35
"""Share of the stations that run a group of low-voltage motors."""
ALIKE = 1e-6


@dataclass(frozen=True)
class Stations:
    """One random radial station per place of each array, SI units, shares as fractions."""

    frequency: float
    tolerance: float
    voltage: Floats
    low_voltage: Floats
    rated_high: Floats
    rated_low: Floats
    power_max: Floats
    power_min: Floats
    x_over_r_max: Floats
    x_over_r_min: Floats
    x0_over_x1: Floats
    r0_over_x0: Floats
    line: tuple[Floats, Floats, Floats, Floats, Floats]
    end_temperature: Floats
    rating: Floats
    impedance: Floats
    resistance: Floats
    x0_share: Floats
    cable: tuple[Floats, Floats, Floats, Floats, Floats]
    motor_power: Floats
    motor_ratio: Floats
    has_motor: NDArray[np.bool_]


@cache
def stations(frequency: float, tolerance: float) -> Stations:
    """A group of stations; the seed is fixed, so that a failure can be repeated."""
    random = np.random.default_rng(int(frequency * 1000 + tolerance * 100))
    n = PER_GROUP

    def between(low: float, high: float) -> Floats:
        return random.uniform(low, high, n)

    voltage = random.choice([10e3, 12.47e3, 13.8e3, 20e3, 24.94e3, 33e3], n)
    low = random.choice([400.0, 480.0, 600.0, 690.0], n)
    power_max = between(50e6, 800e6)
    return Stations(
        frequency,
        tolerance,
        voltage,
        low,
        voltage * between(0.97, 1.03),
        low * between(1.0, 1.05),
        power_max,
        power_max * between(0.3, 0.95),
        between(3.0, 20.0),
        between(2.0, 15.0),
        between(0.5, 4.0),
        between(0.05, 1.0),
        (
            between(0.05e-3, 0.8e-3),
            between(0.08e-3, 0.4e-3),
            between(0.3e-3, 1.5e-3),
            between(0.1e-3, 1.5e-3),
            between(5.0, 9e3),
        ),
        between(60.0, 160.0),
        random.choice([160e3, 250e3, 500e3, 750e3, 1e6, 1.5e6, 2.5e6], n),
        between(0.035, 0.08),
        between(0.004, 0.02),
        between(0.85, 1.0),
        (
            between(0.02e-3, 0.3e-3),
            between(0.06e-3, 0.13e-3),
            between(0.1e-3, 1.0e-3),
            between(0.1e-3, 0.5e-3),
            between(5.0, 150.0),
        ),
        between(20e3, 300e3),
        between(4.0, 7.0),
        random.random(n) < WITH_MOTORS,
    )


def with_library(group: Stations, fault: str, case: str) -> dict[str, Floats]:
    """Currents at the three places of all stations of a group, A; for three-phase faults peak and thermal too."""
    import pandapower as pp
    import pandapower.shortcircuit as sc

    net = pp.create_empty_network(f_hz=group.frequency)
    places: dict[str, list[int]] = {"medium": [], "low": [], "remote": []}
    for i in range(PER_GROUP):
        high, mv, lv, end = (
            pp.create_bus(net, vn_kv=volts[i] / 1e3)
            for volts in (group.voltage, group.voltage, group.low_voltage, group.low_voltage)
        )
        for name, bus in zip(places, (mv, lv, end), strict=True):
            places[name].append(int(bus))
        pp.create_ext_grid(
            net,
            high,
            s_sc_max_mva=group.power_max[i] / 1e6,
            s_sc_min_mva=group.power_min[i] / 1e6,
            rx_max=1 / group.x_over_r_max[i],
            rx_min=1 / group.x_over_r_min[i],
            x0x_max=group.x0_over_x1[i],
            r0x0_max=group.r0_over_x0[i],
            x0x_min=group.x0_over_x1[i],
            r0x0_min=group.r0_over_x0[i],
        )
        for start, stop, values in ((high, mv, group.line), (lv, end, group.cable)):
            r, x, r0, x0, length = (value[i] for value in values)
            pp.create_line_from_parameters(
                net, start, stop, length / 1e3, r * 1e3, x * 1e3, 0.0, 1.0,
                r0_ohm_per_km=r0 * 1e3, x0_ohm_per_km=x0 * 1e3, c0_nf_per_km=0.0,
                endtemp_degree=group.end_temperature[i],
            )  # fmt: skip
        pp.create_transformer_from_parameters(
            net, mv, lv, group.rating[i] / 1e6, group.rated_high[i] / 1e3, group.rated_low[i] / 1e3,
            group.resistance[i] * 100, group.impedance[i] * 100, 0.0, 0.0, shift_degree=150, vector_group="Dyn",
            vk0_percent=100 * np.hypot(group.resistance[i], group.x0_share[i] * _reactive(group)[i]),
            vkr0_percent=100 * group.resistance[i], mag0_percent=100, mag0_rx=0.0, si0_hv_partial=0.9,
        )  # fmt: skip
        if group.has_motor[i] and fault == "3ph":
            pp.create_motor(
                net, lv, pn_mech_mw=group.motor_power[i] / 1e6, cos_phi=0.86, cos_phi_n=0.86, efficiency_n_percent=94.0,
                lrc_pu=group.motor_ratio[i], rx=0.42, vn_kv=group.low_voltage[i] / 1e3,
            )  # fmt: skip
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        sc.calc_sc(
            net, fault=fault, case=case, ip=True, ith=True, tk_s=FAULT_DURATION, topology="radial",
            lv_tol_percent=round(group.tolerance * 100),
        )  # fmt: skip
    found = {name: net.res_bus_sc.ikss_ka.loc[buses].to_numpy() * 1e3 for name, buses in places.items()}
    if fault == "3ph":
        found |= {f"{name} peak": net.res_bus_sc.ip_ka.loc[buses].to_numpy() * 1e3 for name, buses in places.items()}
        found |= {
            f"{name} thermal": net.res_bus_sc.ith_ka.loc[buses].to_numpy() * 1e3 for name, buses in places.items()
        }
    return found


def _reactive(group: Stations) -> Floats:
    return np.asarray(np.sqrt(group.impedance**2 - group.resistance**2))


def with_deadfront(group: Stations, fault: str, case: str) -> dict[str, Floats]:
    """The same by this project, all stations of the group on the case axis at once."""
    maximum = case == "max"
    level = 0 if maximum else 1
    c_medium = iec60909.voltage_factor(group.voltage, group.tolerance)[level]
    c_low = iec60909.voltage_factor(group.low_voltage, group.tolerance)[level]
    power, ratio = (group.power_max, group.x_over_r_max) if maximum else (group.power_min, group.x_over_r_min)
    feeder = elements.network_feeder(group.voltage, power / np.sqrt(3) / group.voltage, ratio, c_medium)
    feeder0 = elements.network_zero_sequence_from_ratios(feeder, group.x0_over_x1, group.r0_over_x0)
    hot = 1.0 if maximum else elements.iec_temperature_factor(group.end_temperature)
    r, x, r0, x0, length = group.line
    medium = series(feeder, elements.line(r, x, length, hot))
    medium0 = series(feeder0, elements.line(r0, x0, length, hot))
    z = elements.transformer(group.impedance, group.resistance * group.rating, group.rated_low, group.rating)
    if maximum:
        c_low_max = iec60909.voltage_factor(group.low_voltage, group.tolerance).maximum
        z = scaled(z, elements.transformer_correction(z, group.rated_low, group.rating, c_low_max))
    low = series(referred(medium, group.rated_high / group.rated_low), z)
    winding0 = elements.zero_sequence_winding(z, 1.0, group.x0_share)
    low0 = elements.zero_sequence_from_secondary("Dyn5", winding0, NONE)
    r, x, r0, x0, length = group.cable
    cable, cable0 = elements.line(r, x, length, hot), elements.line(r0, x0, length, hot)
    places = {
        "medium": (c_medium, group.voltage, medium, medium0),
        "low": (c_low, group.low_voltage, low, low0),
        "remote": (c_low, group.low_voltage, series(low, cable), series(low0, cable0)),
    }
    if fault == "3ph" and maximum:
        places = _with_motors(group, places, z, cable)
    return {key: value for name, place in places.items() for key, value in _currents(name, fault, place).items()}


Place = tuple[Floats, Floats, Impedance, Impedance]


def _with_motors(
    group: Stations, places: dict[str, Place], transformer: Impedance, cable: Impedance
) -> dict[str, Place]:
    """The places again, with motors at the low-voltage bus; they also feed back through the transformer."""
    motor = elements.asynchronous_motor(group.motor_power, 0.94, 0.86, group.motor_ratio, group.low_voltage, 0.42)
    runs = [1.0, group.has_motor.astype(float)]
    c_medium, voltage, medium, medium0 = places["medium"]
    c_low, low_voltage, low, low0 = places["low"]
    back = referred(series(motor, transformer), group.rated_low / group.rated_high)
    bus = parallel([low, motor], runs)
    return {
        "medium": (c_medium, voltage, parallel([medium, back], runs), medium0),
        "low": (c_low, low_voltage, bus, low0),
        "remote": (c_low, low_voltage, series(bus, cable), low0),
    }


def _currents(name: str, fault: str, place: Place) -> dict[str, Floats]:
    c, voltage, z, z0 = place
    if fault == "2ph":
        return {name: iec60909.line_line_current(c, voltage, z, z)}
    if fault == "1ph":
        return {name: iec60909.line_earth_current(c, voltage, z, z, z0)}
    initial = iec60909.three_phase_current(c, voltage, z)
    ratio = r_over_x(z)
    kappa = iec60909.peak_factor(ratio)
    return {
        name: initial,
        f"{name} peak": iec60909.peak_current(initial, ratio),
        # The library's thermal current takes 50 Hz whatever the network's frequency is.
        f"{name} thermal": iec60909.thermal_equivalent_current(initial, kappa, 50.0, FAULT_DURATION),
    }


@pytest.mark.long
@pytest.mark.parametrize("fault", ["3ph", "2ph", "1ph"])
@pytest.mark.parametrize("case", ["max", "min"])
@pytest.mark.parametrize(("frequency", "tolerance"), GROUPS)
def test_random_radial_stations_agree(frequency: float, tolerance: float, case: str, fault: str) -> None:
    """56 stations a group, fault at three places, largest and smallest currents; alike to 1e-6."""
    group = stations(frequency, tolerance)
    expected, found = with_library(group, fault, case), with_deadfront(group, fault, case)
    assert expected.keys() == found.keys()
    for key, values in expected.items():
        assert np.all(values > 0), key
        np.testing.assert_allclose(found[key], values, rtol=ALIKE, err_msg=key)
