"""Tests: random project files through the whole study against pandapower, a general-purpose network library.

Way A or way B of a loop, a tie as a second infeed at the low-voltage bus, delta-star transformers only: of a star-star
unit the library's own releases disagree. The library implements the same standard, so this shows that a file becomes
the right network, not that the method is right.
"""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from study_files import case, walk

from deadfront.station.station import LV_BUS, SWITCH_BUS, feeder_end
from deadfront.study import faults

pandapower = pytest.importorskip("pandapower")

SEEDS = range(3)
ALIKE = 1e-6


def random_file(seed):
    """Entries of a random IEC unit: loop, tie, feeder with its cable."""
    random = np.random.default_rng(seed)

    def between(low, high, digits=4):
        return round(float(random.uniform(low, high)), digits)

    def cable(longest):
        return {
            "length": f"{between(0.05, longest)} km",
            "resistance": f"{between(0.1, 0.6)} ohm/km",
            "reactance": f"{between(0.08, 0.2)} ohm/km",
            "zero_resistance": f"{between(0.5, 1.5)} ohm/km",
            "zero_reactance": f"{between(0.2, 0.6)} ohm/km",
            "fault_temperature": f"{between(60, 200, 0)} degC",
        }

    def source():
        return {
            "fault_power": f"{between(80, 600)} MVA",
            "x_over_r": between(3, 15),
            "x0_over_x1": between(0.8, 3.0),
            "r0_over_x0": between(0.05, 0.5),
        }

    return {
        "deadfront": 1,
        "title": "random",
        "practice": "iec",
        "frequency": "50 Hz",
        "supply": {"voltage": "20 kV", "earthing": "solid"} | source(),
        "mv_cable": cable(4.0),
        "other_feed": {"cable": cable(4.0), "parallel": "never"} | source(),
        "transformer": {
            "rating": f"{random.choice([400, 630, 1000, 1600])} kVA",
            "primary_voltage": "20 kV",
            "secondary_voltage": f"{between(400, 420, 1)} V",
            "connection": "Dyn5",
            "impedance": f"{between(4, 7)} %",
            "load_loss": f"{between(3, 6)} kW",
            "zero_sequence": {"r0_over_r1": 1, "x0_over_x1": 0.95},
            "neutral": "earthed",
        },
        "board": {
            "voltage": "400 V",
            "voltage_tolerance": "10 %",
            "feeders": {"far": {"cable": cable(0.2)}},
            "tie": {
                "fault_current": f"{between(5, 20)} kA",
                "x_over_r": between(2, 8),
                "earth_fault_current": "5 kA",
                "parallel": "permitted",
            },
        },
    }


def number(text):
    """The number of an entry, its unit left out."""
    return float(str(text).split()[0])


def network(entries, way, tie, rule):
    """The same unit as buses and branches of the library."""
    net, side = pandapower.create_empty_network(f_hz=50.0), "max" if rule == "maximum" else "min"
    supply, bus, low, far = (pandapower.create_bus(net, kv) for kv in (20.0, 20.0, 0.4, 0.4))
    feed = entries["supply"] if way == "A" else entries["other_feed"]
    cables = entries["mv_cable"] if way == "A" else entries["other_feed"]["cable"]
    power, ratio = number(feed["fault_power"]), 1.0 / feed["x_over_r"]
    grid = {f"s_sc_{side}_mva": power, f"rx_{side}": ratio}
    pandapower.create_ext_grid(net, supply, **grid, x0x_max=feed["x0_over_x1"], r0x0_max=feed["r0_over_x0"])
    net.ext_grid["x0x_min"], net.ext_grid["r0x0_min"] = feed["x0_over_x1"], feed["r0_over_x0"]
    for start, end, one in ((supply, bus, cables), (low, far, entries["board"]["feeders"]["far"]["cable"])):
        pandapower.create_line_from_parameters(
            net, start, end, number(one["length"]), number(one["resistance"]), number(one["reactance"]), 0.0, 1.0,
            r0_ohm_per_km=number(one["zero_resistance"]), x0_ohm_per_km=number(one["zero_reactance"]),
            c0_nf_per_km=0.0, endtemp_degree=number(one["fault_temperature"]),
        )  # fmt: skip
    unit = entries["transformer"]
    rating = number(unit["rating"]) / 1000.0
    resistive = number(unit["load_loss"]) / rating / 10.0
    impedance, secondary = number(unit["impedance"]), number(unit["secondary_voltage"]) / 1000.0
    zero = np.hypot(resistive, 0.95 * np.sqrt(impedance**2 - resistive**2))
    pandapower.create_transformer_from_parameters(
        net, bus, low, rating, 20.0, secondary, resistive, impedance,
        0.0, 0.0, vector_group="Dyn", vk0_percent=zero, vkr0_percent=resistive,
        mag0_percent=100.0, mag0_rx=0.0, si0_hv_partial=0.9,
    )  # fmt: skip
    if tie:
        brought = np.sqrt(3) * 0.4 * number(entries["board"]["tie"]["fault_current"])
        grid = {f"s_sc_{side}_mva": brought, f"rx_{side}": 1.0 / entries["board"]["tie"]["x_over_r"]}
        pandapower.create_ext_grid(net, low, **grid)
    return net, {SWITCH_BUS: bus, LV_BUS: low, feeder_end("far"): far}


def currents(net, fault, rule):
    """Initial currents of the library at each of its buses, A."""
    import pandapower.shortcircuit as shortcircuit

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        shortcircuit.calc_sc(net, fault=fault, case="max" if rule == "maximum" else "min", lv_tol_percent=10)
    return net.res_bus_sc["ikss_ka"] * 1e3


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("rule", ["maximum", "minimum"])
def test_a_random_file_draws_the_currents_of_the_library(seed, rule):
    """Three-phase and line-line at switch, bus and feeder end, by way A, by way B, and with the tie closed as well."""
    entries = random_file(seed)
    one = walk(entries)
    for way, tie in (("A", False), ("B", False), ("A", True)):
        index = case(one, rule, f"fed by way {way}", "tie and main closed" if tie else "tie open")
        net, buses = network(entries, way, tie, rule)
        for kind, fault in (("three-phase", "3ph"), ("line-line", "2ph")):
            expected = currents(net, fault, rule)
            for point, bus in buses.items():
                found = np.broadcast_to(faults.current(one, point, kind, "iec"), (1, len(one.cases)))[0, index]
                assert found == pytest.approx(expected[bus], rel=ALIKE), (way, tie, kind, point)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("rule", ["maximum", "minimum"])
def test_a_random_file_draws_the_earth_fault_of_the_library(seed, rule):
    """Line to earth at switch, bus and feeder end, by either way."""
    entries = random_file(seed)
    one = walk(entries)
    for way in ("A", "B"):
        net, buses = network(entries, way, False, rule)
        expected = currents(net, "1ph", rule)
        for point, bus in buses.items():
            index = case(one, rule, f"fed by way {way}", "tie open")
            found = np.broadcast_to(faults.current(one, point, "line-earth", "iec"), (1, len(one.cases)))[0, index]
            assert found == pytest.approx(expected[bus], rel=ALIKE), (way, point)
