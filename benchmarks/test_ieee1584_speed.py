"""How many times faster one call over all cases is than one call per case, both measured in the same run."""

from time import perf_counter

import numpy as np

from deadfront.physics.ieee1584 import (
    ArcSetting,
    arcing_currents,
    low_voltage_arcing_currents,
    low_voltage_segment_hazard,
    segment_hazard,
)
from deadfront.physics.ieee1584_coefficients import ELECTRODES

CASES = 100_000
SINGLE_CALLS = 2_000
AT_LEAST = 200.0


def chain(currents, hazard, setting, bolted):
    """Arcing currents, energy and boundary of a tenth of a second."""
    return currents(setting, bolted), hazard(setting, (bolted,), (0.1,))


def drawn(highest_voltage):
    """Cases over the whole range of the model, the same in every run."""
    random = np.random.default_rng(1584)
    voltage, gap = random.uniform(208.0, highest_voltage, CASES), random.uniform(0.02, 0.076, CASES)
    electrodes = tuple(ELECTRODES[one] for one in random.integers(0, len(ELECTRODES), CASES))
    size = random.uniform(0.4, 1.3, CASES)
    return ArcSetting(voltage, gap, 0.6, size, size, size, electrodes), random.uniform(1e3, 60e3, CASES)


def ratio(benchmark, currents, hazard, highest_voltage):
    """Time of all cases one by one, extrapolated from some of them, over the time of one call for all."""
    setting, bolted = drawn(highest_voltage)
    chain(currents, hazard, setting, bolted)  # tables and coefficients are read once, outside the measurement
    started = perf_counter()
    for case in range(SINGLE_CALLS):
        single = ArcSetting(
            float(setting.voltage[case]),
            float(setting.gap[case]),
            0.6,
            *(float(setting.height[case]),) * 3,
            setting.electrodes[case],
        )
        chain(currents, hazard, single, float(bolted[case]))
    one_by_one = (perf_counter() - started) * CASES / SINGLE_CALLS
    together = []

    def measured():
        begun = perf_counter()
        chain(currents, hazard, setting, bolted)
        together.append(perf_counter() - begun)

    benchmark.pedantic(measured, rounds=5)
    best = min(together)
    print(f"\nup to {highest_voltage:g} V: {one_by_one / best:.0f} times, {1e6 * best / CASES:.3f} us a case at once,")
    print(f"{1e6 * one_by_one / CASES:.0f} us a case one by one")
    return one_by_one / best


def test_low_voltage_cases_at_once_against_one_by_one(benchmark):
    """Up to 600 V: at least 200 times."""
    assert ratio(benchmark, low_voltage_arcing_currents, low_voltage_segment_hazard, 600.0) >= AT_LEAST


def test_all_voltages_at_once_against_one_by_one(benchmark):
    """208 V to 15 kV: at least 200 times."""
    assert ratio(benchmark, arcing_currents, segment_hazard, 15e3) >= AT_LEAST
