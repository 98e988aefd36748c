"""Benchmark: one station's complete fault study against a general network library on the same network, per case.

A case is one operating state: every kind of fault at every point, currents and peaks. The ratio is taken in one run
on one machine; it is a statement about the two programs there, not a timed test of either.
"""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
import pandapower as pp
import pandapower.shortcircuit as sc
import pytest

from deadfront.claims.judging import Subject
from deadfront.project.reading import load
from deadfront.station.station import build
from deadfront.study import faults
from deadfront.study.cases import operating_cases
from deadfront.study.clearing import fault_points
from deadfront.study.faults import KINDS

UNIT = Path(__file__).parents[1] / "examples" / "tarn-edge" / "unit.yaml"
BOXES = 256
LEAST_RATIO = 50.0


def whole_study(subject: Subject, points: np.ndarray) -> int:
    """Currents and peaks of every kind of fault at every point by IEC 60909-0; the number of cases worked on."""
    walk = subject.walk({"supply.fault_power": points, "supply.x_over_r": 5.0 + 0.0 * points})
    for point in fault_points(walk):
        for kind in KINDS:
            np.asarray(faults.current(walk, point, kind, "iec"))
            np.asarray(faults.peak(walk, point, kind, "iec"))
    return len(points) * len(subject.cases)


def network() -> pp.pandapowerNet:
    """The same unit, fed by way A, for the library."""
    net = pp.create_empty_network(f_hz=50.0)
    buses = [pp.create_bus(net, vn_kv=v) for v in (20.0, 20.0, 0.4, 0.4, 0.4)]
    pp.create_ext_grid(
        net,
        buses[0],
        s_sc_max_mva=420.0,
        s_sc_min_mva=180.0,
        rx_max=0.1,
        rx_min=0.1,
        x0x_max=1.0,
        r0x0_max=0.1,
        x0x_min=1.0,
        r0x0_min=0.1,
    )
    line = {"c_nf_per_km": 0.0, "c0_nf_per_km": 0.0, "max_i_ka": 1.0, "endtemp_degree": 120.0}
    pp.create_line_from_parameters(
        net, buses[0], buses[1], 1.2, 0.206, 0.116, r0_ohm_per_km=0.85, x0_ohm_per_km=0.36, **line
    )
    pp.create_transformer_from_parameters(
        net,
        buses[1],
        buses[2],
        1.0,
        20.0,
        0.4,
        0.76,
        6.0,
        0.0,
        0.0,
        vector_group="Dyn",
        vk0_percent=5.7,
        vkr0_percent=0.76,
        mag0_percent=100.0,
        mag0_rx=0.0,
        si0_hv_partial=0.9,
        shift_degree=150.0,
    )
    for end, km, r, x in ((3, 0.11, 0.0377, 0.0395), (4, 0.19, 0.206, 0.08)):
        pp.create_line_from_parameters(
            net, buses[2], buses[end], km, r, x, r0_ohm_per_km=4 * r, x0_ohm_per_km=2 * x, **line
        )
    return net


def library_study(net: pp.pandapowerNet) -> None:
    """One operating state in the library: each kind of fault at every bus, currents and peaks."""
    for kind in ("3ph", "2ph", "1ph"):
        sc.calc_sc(net, fault=kind, case="max", ip=True, topology="radial", lv_tol_percent=10)


@pytest.mark.benchmark(group="station")
def test_station_study_is_at_least_fifty_times_faster_per_case(benchmark):
    """Seconds per case of the library over seconds per case here."""
    project = load(UNIT)
    station = build(project.unit)
    subject = Subject(project, station, operating_cases(station))
    points = np.linspace(180e6, 420e6, BOXES)[:, np.newaxis]
    cases = benchmark.pedantic(whole_study, args=(subject, points), rounds=5, warmup_rounds=1)
    here = _seconds(lambda: whole_study(subject, points), 5) / (len(points) * len(subject.cases))
    net = network()
    library_study(net)
    there = _seconds(lambda: library_study(net), 3)
    print(f"\nstation study: {here * 1e6:.2f} us per case here, {there * 1e3:.0f} ms there, ratio {there / here:.0f}")
    assert there / here >= LEAST_RATIO
    assert cases in (None, len(points) * len(subject.cases))


def _seconds(run, times: int) -> float:
    """Median seconds of a run."""
    found = []
    for _ in range(times):
        begin = time.perf_counter()
        run()
        found.append(time.perf_counter() - begin)
    return float(np.median(found))
