"""Tests that every function of the physics room runs on ranges and gradients, and that no point escapes from them."""

import importlib
import inspect
import pkgutil
import re
import zlib
from dataclasses import dataclass, fields, is_dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from enclosures import escapes, points_in, ranges

import deadfront.physics
from deadfront.intervals import Dual, Interval, Truth, exceptionally
from deadfront.intervals.everyday import FINITE, NOT_NEGATIVE, POSITIVE, signed
from deadfront.physics import (
    curves,
    damage_curve,
    fuse_sparing,
    ieee1584_coefficients,
    ieee1584_setting,
    moved_crossing,
    reclosing,
    relays,
    selectivity,
    sequence,
    trips,
)
from deadfront.physics.impedance import Admittance, Impedance

BOXES, POINTS = 60, 60


@dataclass(frozen=True)
class R:
    """A quantity that may be a range: random numbers between two bounds."""

    low: float
    high: float


def z(low: float = 1e-3, high: float = 1.0) -> Impedance:
    """An impedance of which both parts may be ranges."""
    return Impedance(R(low / 10.0, high / 3.0), R(low, high))


CURVE = curves.TimeCurrentCurve(
    np.array([130.0, 200.0, 400.0, 900.0, 2500.0]),
    np.array([200.0, 20.0, 1.5, 0.1, 0.01]),
    np.array([300.0, 30.0, 2.0, 0.15, 0.02]),
)
LONG_CURVE = curves.TimeCurrentCurve(CURVE.current, 10.0 * CURVE.minimum_melting, 10.0 * CURVE.total_clearing)
SETTING = relays.RelaySetting("iec very inverse", R(200.0, 400.0), R(0.1, 1.0), 20.0, R(2e3, 6e3), R(0.02, 0.06))
BAND = trips.TripBand((1.05, 1.2), (0.8, 1.15), R(0.05, 0.1))
TRIP = trips.ElectronicTrip(
    trips.LongTimeElement(R(800.0, 1600.0), R(4.0, 20.0), 6.0),
    trips.DelayedElement(R(3e3, 8e3), R(0.1, 0.4), R(8e3, 2e4)),
    R(1e4, 3e4),
    BAND,
)
THERMAL = trips.ThermalMagneticTrip(
    100.0, 1.3, 7200.0, 3.0, R(20.0, 60.0), R(800.0, 1200.0), R(0.1, 0.2), R(0.01, 0.02)
)
CURRENTS = sequence.LineLineEarthCurrents(R(1e3, 1e4), R(1e3, 1e4), R(1e3, 1e4))


def arc(voltage: tuple[float, float], electrodes: str = "VCB") -> ieee1584_setting.ArcSetting:
    """A place of work of which every dimension may be a range."""
    return ieee1584_setting.ArcSetting(
        R(*voltage), R(0.013, 0.04), R(0.31, 0.9), R(0.3, 1.3), R(0.3, 1.3), R(0.1, 0.4), electrodes
    )


LOW, HIGH = arc((400.0, 600.0)), arc((650.0, 14e3), "HCB")

BY_NAME: dict[str, Any] = {
    # what a parameter of this name can be, unless its function says otherwise below
    "first": R(0.02, 3.0),
    "second": R(0.02, 3.0),
    "weight": R(0.0, 5.0),
    "positive": z(),
    "z": z(),
    "z1": z(),
    "z2": z(),
    "z0": z(),
    "winding": z(),
    "neutral": z(),
    "source": z(),
    "motor": z(),
    "series": z(),
    "fault_impedance": z(),
    "z_at_fc": z(),
    "downstream": z(),
    "upstream": z(),
    "branches": (z(), z()),
    "transfer_impedances": (z(), z()),
    "parts": (z(), z()),
    "connected": (np.ones(BOXES), (np.arange(BOXES) % 2).astype(float)),
    "converter_currents": (R(10.0, 100.0), R(10.0, 100.0)),
    "y": R(0.1e-6, 0.2e-6),
    "x": R(0.3e-3, 0.5e-3),
    "curve": CURVE,
    "trip": TRIP,
    "band": BAND,
    "element": TRIP.short_time,
    "currents": CURRENTS,
    "energy": R(2e4, 6e4),
    "reduced": False,
    "bolted_currents": (R(2e3, 4e4), R(2e3, 4e4)),
    "durations": (R(0.02, 2.0), R(0.02, 2.0)),
    "bolted_current": R(1e3, 5e4),
    "area": R(2e-5, 3e-4),
    "duration": R(0.02, 3.0),
    "initial_temperature": R(20.0, 90.0),
    "final_temperature": R(85.0, 250.0),
    "k": R(7e7, 1.5e8),
    "current": R(50.0, 4e3),
    "thickness": R(1e-4, 2e-3),
    "mean_diameter": R(0.01, 0.05),
    "overlap": R(0.0, 0.4),
    "wires": R(10.0, 40.0),
    "wire_diameter": R(5e-4, 2e-3),
    "sensing": R(1e-3, 5e-3),
    "output": R(1e-3, 1e-2),
    "opening": R(0.02, 0.1),
    "frequency": R(50.0, 60.0),
    "average": R(0.01, 0.1),
    "clearing_time": R(0.01, 5.0),
    "longest_exposure": R(1.0, 3.0),
    "times": (R(0.01, 5.0), R(0.01, 5.0)),
    "limiting_from": R(1e2, 2e3),
    "threshold": R(1e2, 2e3),
    "time": R(0.01, 5.0),
    "relay_time": R(0.01, 5.0),
    "supervision": R(1e2, 2e3),
    "tolerance": R(0.0, 0.2),
    "arcing_time": R(0.01, 0.05),
    "liquid": R(0.8, 1.0),
    "preload": R(0.5, 1.0),
    "melting_temperature": R(150.0, 900.0),
    "liquid_temperature": R(30.0, 120.0),
    "load": R(10.0, 200.0),
    "long_time_melting": R(100.0, 300.0),
    "rated_power": R(5e5, 2.5e6),
    "efficiency": R(0.85, 0.97),
    "power_factor": R(0.7, 0.99),
    "locked_rotor_ratio": R(5.0, 8.0),
    "rated_voltage": R(380.0, 700.0),
    "r_over_x": R(0.05, 1.2),
    "resistance": R(1e-3, 0.1),
    "reactance": R(0.05, 0.3),
    "length": R(10.0, 500.0),
    "temperature_factor": R(1.0, 1.3),
    "from_temperature": R(20.0, 25.0),
    "to_temperature": R(20.0, 90.0),
    "zero_temperature": R(228.0, 235.0),
    "subtransient_reactance": R(0.1, 0.25),
    "nominal_voltage": R(380.0, 3.5e4),
    "voltage_factor_maximum": R(1.05, 1.1),
    "temperature": R(20.0, 90.0),
    "power_per_pole_pair": R(1e4, 3e6),
    "voltage": R(380.0, 3e4),
    "fault_current": R(3e3, 1e4),
    "x_over_r": R(1.5, 40.0),
    "voltage_factor": R(0.95, 1.1),
    "earth_fault_current": R(100.0, 8e3),
    "x0_over_r0": R(0.1, 10.0),
    "x0_over_x1": R(0.5, 3.0),
    "r0_over_x0": R(0.1, 1.0),
    "impedance_voltage": R(0.04, 0.07),
    "load_loss": R(5e3, 2e4),
    "r0_over_r1": R(0.5, 4.0),
    "spacing_12": R(0.1, 1.0),
    "spacing_23": R(0.1, 1.0),
    "spacing_31": R(0.1, 1.0),
    "radius": R(5e-3, 2e-2),
    "mean_distance": R(0.1, 1.0),
    "mean_radius": R(4e-3, 2e-2),
    "initial": R(1e3, 3e4),
    "kappa": R(1.0, 1.99),
    "capacitance_per_length": R(1e-10, 4e-10),
    "total_length": R(1e3, 1e5),
    "maximum": R(1.05, 1.1),
    "highest_voltage": R(420.0, 3.6e4),
    "from_voltage_sources": R(1e3, 3e4),
    "from_converters": R(10.0, 100.0),
    "capacitive_current": R(10.0, 100.0),
    "residual_share": R(0.05, 0.15),
    "rated_current": R(100.0, 2e3),
    "ratio": R(10.0, 60.0),
    "size": R(0.01, 1.0),
    "factor": R(0.5, 2.0),
    "cycles": R(0.5, 5.0),
    "base_power": R(1e6, 1e8),
    "base_voltage": R(400.0, 3e4),
    "symmetrical_rating": R(1e4, 6e4),
    "prefault_voltage": R(380.0, 3e4),
    "multiplier": R(1.0, 3.0),
    "test_x_over_r": R(10.0, 25.0),
    "time_constant": R(0.01, 0.1),
    "locked_rotor_power": R(1e5, 1e6),
    "fault_power": R(1e7, 1e8),
    "starting_power_factor": R(0.2, 0.5),
    "resistance_voltage": R(0.005, 0.02),
    "reactance_voltage": R(0.04, 0.07),
    "multiple": R(0.5, 25.0),
    "time_dial": R(0.1, 1.0),
    "freeze_above": R(15.0, 20.0),
    "accuracy": R(0.0, 0.1),
    "least_error": R(0.01, 0.05),
    "residual": R(1e3, 1e4),
    "prospective": R(1e3, 5e4),
    "driving_voltage": R(380.0, 3e4),
    "minimum_delay": 0.05,
    "strands": 19,
    "setting": LOW,
    "flat": "smallest",
    "transformer_impedance": R(0.04, 0.07),
    "source_impedance": R(0.0, 0.02),
    "line_current": R(50.0, 1500.0),
    "line_over_winding": R(1.0, 1.16),
    "largest": R(12.0, 20.0),
    "frequent": True,
    "impedance": R(0.03, 0.09),
    "link_energy": R(1e3, 1e5),
    "limiter_energy": R(1e3, 1e5),
    "rating": R(10.0, 200.0),
    "link_clearing": R(0.01, 5.0),
    "limiter_melting": R(0.01, 5.0),
    "line_voltage": R(4e3, 3.5e4),
    "source_earthed": True,
    "melting_i2t": R(1e3, 1e5),
    "arcing_i2t": R(1e3, 1e5),
    "peak": R(1e3, 5e4),
    "fuses": 2,
    "shots": (reclosing.Shot(R(0.05, 0.5), R(0.3, 2.0)), reclosing.Shot(R(0.05, 0.5), R(0.3, 2.0))),
    "cooling": R(0.5, 20.0),
    "melting": R(0.01, 5.0),
    "clearing": R(0.01, 5.0),
    "reset": R(1.0, 30.0),
    "dead_time": R(0.3, 15.0),
    "lower": R(0.01, 5.0),
    "upper": R(0.01, 5.0),
    "margin": selectivity.Margin("added time", 0.2),
    "relay": R(0.0, 0.02),
    "recovery": R(5e3, 3e4),
    "voltages": (8.3e3, 15.5e3, 23e3, 38e3),
    "ratings": (3.5e3, 3e3, 2.5e3, 1e3),
    "lower_factor": R(0.8, 1.0),
    "upper_factor": R(0.8, 1.0),
    "bolted": R(1e3, 5e4),
    "data": ieee1584_coefficients.coefficients("VCB"),
    "overload": R(1.0, 1.5),
    "reserve": R(1.0, 1.3),
    "arc_voltage": R(200.0, 1e3),
    "i2t": R(1e3, 1e5),
    "total": R(1e3, 1e5),
}
BY_FUNCTION: dict[str, dict[str, Any]] = {
    "adiabatic.k_factor": {"material": "copper"},
    "adiabatic.icea_withstand_current": {"material": "aluminium"},
    "clearing.breaker_opening_time": {"kind": "moulded-case"},
    "code_maxima.nfpa_multiple": {"location": "any", "device": "primary fuse"},
    "code_maxima.csa_multiple": {"rule": "26-250", "device": "primary fuse"},
    "code_maxima.iec_guide_window": {"rated_power": 1.5e6},
    "code_maxima.next_rating_up": {"ratings": "nec-standard-ratings"},
    "code_maxima.next_rating_down": {"ratings": "nec-standard-ratings"},
    "moved_crossing.crossing_current": {
        "table": moved_crossing.CrossingByShift(np.array([-1.0, 0.0, 0.1, 1.0]), np.array([5.0, 6.0, 6.4, 6.5]))
    },
    "fuse_sparing.largest_share": {
        "table": fuse_sparing.ShareByCurrent(np.array([4.0, 5.0, 6.0, 9.0]), np.array([0.1, 0.3, 0.9, 1.2]))
    },
    "curves.melting_current": {"time": R(0.02, 250.0)},
    "curves.clearing_current": {"time": R(0.02, 250.0)},
    "curves.hot_melting_current": {"time": R(0.02, 250.0)},
    "damage_curve.thermal_damage_time": {"multiple": R(1.5, 25.0)},
    "damage_curve.damage_time": {
        "category": damage_curve.transformer_category(1.5e6, 3),
        "multiple": R(1.5, 25.0),
    },
    "damage_curve.damage_heat": {
        "category": damage_curve.transformer_category(1.5e6, 3),
        "multiple": R(1.5, 25.0),
    },
    "elements.zero_sequence_from_primary": {"connection": "YNyn"},
    "elements.zero_sequence_from_secondary": {"connection": "YNyn"},
    "fuse_pair.largest_secondary_fault": {"source": R(0.0, 0.02)},
    "fuse_pair.secondary_earth_fault": {"source": R(0.0, 0.02)},
    "fuse_pair.largest_melting_energy": {"time": R(0.01, 0.5)},
    "fuse_pair.long_time_multiple": {"curve": LONG_CURVE},
    "fuse_pair.permitted_load": {"multiple": R(1.2, 1.6)},
    "fuse_pair.recovery_voltage": {"connection": "Dyn"},
    "iec60909.voltage_factor": {"tolerance": 0.06},
    "ieee1584_setting.horner": {"coefficients": (0.7, -1.1, 0.3, 2.0), "x": R(-2.0, 2.0)},
    "iec60909.equivalent_frequency": {"frequency": 50.0},
    "iec60909.equivalent_frequency_r_over_x": {"frequency": 60.0},
    "ieee1584.variation_factor": {"voltage": R(208.0, 14e3), "electrodes": "VCBB"},
    "impedance.inverse": {"y": Admittance(R(0.1, 1.0), R(0.1, 3.0))},
    "north_american.low_voltage_multiplying_factor": {"device": "power circuit breaker"},
    "north_american.close_and_latch_peak": {"frequency": 60.0},
    "reflection.primary_line_currents": {"fault": "line-line", "connection": "Dyn"},
    "reflection.largest_primary_line_current": {"fault": "line-earth", "connection": "Dyn"},
    "reflection.primary_winding_currents": {"fault": "line-line", "connection": "Dyn"},
    "reflection.primary_line_currents_of_line_line_earth": {"connection": "Dyn"},
    "relays.operate_time": {"curve": relays.relay_curve("iec extremely inverse")},
    "relays.reset_time": {"curve": relays.relay_curve("ieee very inverse")},
    "relays.relay_operating_time": {"setting": SETTING, "current": R(150.0, 8e3)},
    "trips.latest_thermal_magnetic_time": {"trip": THERMAL},
    "trips.latest_trip_time": {"current": R(800.0, 4e4)},
    "trips.earliest_trip_time": {"current": R(800.0, 4e4)},
    "trips.earliest_gg_time": {"gates": trips.gg_gates(63.0), "current": R(50.0, 2e3)},
    "trips.latest_gg_time": {"gates": trips.gg_gates(63.0), "current": R(50.0, 2e3)},
    "trips.highest_i2t": {"limits": trips.let_through_limits("J", 100.0)},
    "trips.highest_peak": {"limits": trips.let_through_limits("J", 100.0)},
}
HIGH_VOLTAGE_TOO = ("arcing_currents", "arc_hazard", "incident_energy", "arc_flash_boundary", "segment_hazard")


def physics_functions() -> dict[str, Any]:
    """Every public function of the physics room, by module and name."""
    found = {}
    for module in pkgutil.iter_modules(deadfront.physics.__path__):
        loaded = importlib.import_module(f"deadfront.physics.{module.name}")
        for name, member in vars(loaded).items():
            own = getattr(member, "__module__", "") == loaded.__name__
            if own and callable(member) and not inspect.isclass(member) and not name.startswith("_"):
                found[f"{module.name}.{name}"] = member
    return found


def takes_numbers(function: Any) -> bool:
    """Whether one of its parameters can be a range: an Array, or something made of them."""
    return any(re.search(TAKES, str(p.annotation)) for p in inspect.signature(function).parameters.values())


TAKES = r"\b(Array|Impedance|Admittance|ArcSetting|RelaySetting|ElectronicTrip|ThermalMagneticTrip|Shot)\b"
FUNCTIONS = {name: function for name, function in physics_functions().items() if takes_numbers(function)}
CASES = [(name, None) for name in FUNCTIONS]
CASES += [(f"ieee1584.{name}", {"setting": HIGH}) for name in HIGH_VOLTAGE_TOO]


def arguments(name: str, special: dict[str, Any] | None) -> tuple[list[Any], dict[str, Any]]:
    """What a function is called with, by position and by name, quantities as R."""
    own = {**BY_FUNCTION.get(name, {}), **(special or {})}
    chosen: list[Any] = []
    by_name = {}
    for parameter in inspect.signature(FUNCTIONS[name]).parameters.values():
        if parameter.name not in own and parameter.name not in BY_NAME:
            pytest.fail(f"{name}: say in BY_NAME what numbers its parameter {parameter.name!r} can be")
        value = own.get(parameter.name, BY_NAME.get(parameter.name))
        if parameter.kind is inspect.Parameter.KEYWORD_ONLY:
            by_name[parameter.name] = value
            continue
        chosen.append(value)
        if parameter.kind is inspect.Parameter.VAR_POSITIONAL:
            chosen = [*chosen[:-1], *chosen[-1]]
    return chosen, by_name


def built(tree: Any, leaf: Any) -> Any:
    """A tree of tuples and dataclasses with each R in it replaced."""
    if isinstance(tree, R):
        return leaf(tree)
    if isinstance(tree, tuple):
        parts = [built(one, leaf) for one in tree]
        return type(tree)(*parts) if hasattr(tree, "_fields") else tuple(parts)
    if is_dataclass(tree):
        return type(tree)(**{f.name: built(getattr(tree, f.name), leaf) for f in fields(tree)})
    return tree


def flat(result: Any) -> list[Any]:
    """Arrays of a result that may be a tuple of arrays."""
    return [one for part in result for one in flat(part)] if isinstance(result, tuple) else [result]


@dataclass
class Run:
    """One function over random boxes: results on ranges and gradients, and a way to call it at points."""

    name: str
    special: dict[str, Any] | None

    def __post_init__(self) -> None:
        self.rng = np.random.default_rng(zlib.crc32(self.name.encode()))
        self.tree, self.by_name = arguments(self.name, self.special)
        self.boxes: list[Interval] = []
        built(tuple(self.tree), lambda r: self.boxes.append(self._box(r)))
        self.function = FUNCTIONS[self.name]

    def _box(self, r: R) -> Interval:
        return ranges(self.rng, lambda rng, count: rng.uniform(r.low, r.high, count), BOXES)

    def call(self, leaves: list[Any]) -> list[Any]:
        """The function with its quantities in order."""
        remaining = iter(leaves)
        with np.errstate(all="ignore"):
            return flat(self.function(*built(tuple(self.tree), lambda _r: next(remaining)), **self.by_name))


@pytest.mark.parametrize(("name", "special"), CASES, ids=[name + (" (high voltage)" if s else "") for name, s in CASES])
def test_no_point_escapes_from_a_physics_function(name, special):
    """3600 points in 60 random boxes: each float result lies inside the range, and both kinds of range agree."""
    run = Run(name, special)
    enclosures = run.call(run.boxes)
    duals = run.call([Dual.variable(x, k) for k, x in enumerate(run.boxes)])
    values = run.call([points_in(run.rng, x, POINTS) for x in run.boxes])
    decided = 0
    for enclosure, dual, value in zip(enclosures, duals, values, strict=True):
        if isinstance(enclosure, Truth):
            assert not (enclosure.certain & ~value).any()
            assert not (~enclosure.possible & value).any()
            continue
        assert escapes(enclosure, np.asarray(value)) == 0
        if isinstance(enclosure, Interval):
            assert escapes(dual.value, np.asarray(value)) == 0
            decided += int(np.count_nonzero(~np.isnan(enclosure.lower)))
    assert decided > 0 or not any(isinstance(e, Interval) for e in enclosures)


@pytest.mark.parametrize(("name", "special"), CASES, ids=[name + (" (high voltage)" if s else "") for name, s in CASES])
def test_facts_about_ranges_are_true_all_through_a_physics_function(monkeypatch, name, special):
    """Whatever is said to be finite, not negative or positive on the way, in values and slopes, is so at a look."""
    run, made = Run(name, special), Interval.of_ends
    untrue = []

    def watched(ends: Any, facts: int = 0, tag: Any = None) -> Interval:
        if facts & (FINITE | NOT_NEGATIVE | POSITIVE) & ~signed(made(ends)):
            untrue.append((facts, ends))
        return made(ends, facts, tag)

    leaves = [run.boxes, [Dual.variable(x, k) for k, x in enumerate(run.boxes)]]
    monkeypatch.setattr(Interval, "of_ends", watched)
    apart = [run.call(one) for one in leaves]
    assert not untrue
    tree = tuple(run.tree)
    for one, results in zip(leaves, apart, strict=True):
        remaining = iter(one)
        together = exceptionally(lambda: flat(run.function(*built(tree, lambda _r: next(remaining)), **run.by_name)))  # noqa: B023
        for first, second in zip(results, together, strict=True):
            if isinstance(first, Interval):
                assert np.array_equal(first.ends, second.ends, equal_nan=True)
    assert not untrue


SILENCES = re.compile(r"(errstate|seterr)\([^)]*(all|over|under)")


@pytest.mark.parametrize("room", ["physics", "study"])
def test_no_formula_changes_how_overflow_is_reported(room):
    """Inside a proof overflow and underflow are raised; a formula that silences them would take that away."""
    sources = sorted(Path(deadfront.physics.__path__[0]).parent.joinpath(room).glob("*.py"))
    assert sources
    assert [file.name for file in sources if SILENCES.search(file.read_text("utf-8"))] == []


@pytest.mark.parametrize(("name", "special"), CASES, ids=[name + (" (high voltage)" if s else "") for name, s in CASES])
def test_slopes_of_a_physics_function_hold_every_difference(name, special):
    """20 segments along each quantity of 60 boxes: the change lies inside slope times step."""
    run = Run(name, special)
    duals = run.call([Dual.variable(x, k) for k, x in enumerate(run.boxes)])
    for _ in range(20):
        start = [points_in(run.rng, x, 3)[2] for x in run.boxes]
        before = run.call(start)
        for k, x in enumerate(run.boxes):
            end = [*start[:k], points_in(run.rng, x, 3)[2], *start[k + 1 :]]
            after = run.call(end)
            for dual, one, other in zip(duals, before, after, strict=True):
                if isinstance(dual, Dual):
                    assert not change_outside(dual, k, end[k] - start[k], (one, other))


def change_outside(dual: Dual, number: int, step: np.ndarray, values: tuple[Any, Any]) -> bool:
    """Whether a change of value lies outside slope times step, by more than the floats can lose."""
    slope, (one, other) = dual.slope_in(number), values
    with np.errstate(all="ignore"):
        change, noise = other - one, 1e-12 * (np.abs(one) + np.abs(other)) + 1e-300
        first, second = slope.lower * step, slope.upper * step
        bad = (change < np.minimum(first, second) - noise) | (change > np.maximum(first, second) + noise)
        known = ~np.isnan(dual.value.lower) & np.isfinite(first) & np.isfinite(second)
    return bool((bad & known).any())


def test_every_physics_function_that_takes_numbers_is_checked():
    """The list is found, not kept by hand; what is left out takes words, plain floats or fixed curves only."""
    left_out = physics_functions().keys() - FUNCTIONS.keys()
    assert {"relays.relay_curve", "trips.gg_gates", "curves.curve_problems"} <= left_out
    assert len(FUNCTIONS) > 120
