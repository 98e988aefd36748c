"""Small project files for the tests of the study and of the claims; entries by dotted path come in, projects go out.

JSON is YAML, so a file is a nested mapping written as JSON. All devices are invented; the numbers are round or those of
a worked example.
"""

import copy
import json

import numpy as np

from deadfront.claims.judging import Subject
from deadfront.project.reading import load_bytes
from deadfront.station.station import build
from deadfront.study.cases import operating_cases
from deadfront.study.inputs import Inputs
from deadfront.study.walk import Walk

CURVES = {
    "curves/link.csv": b"current_a,min_melt_s,total_clear_s\n200,100,200\n400,1,2\n2000,0.02,0.05\n",
    "curves/melting.csv": b"current_a,min_melt_s\n200,100\n400,1\n2000,0.02\n",
    "curves/limiter.csv": b"current_a,min_melt_s,total_clear_s\n300,50,100\n600,1,2\n3000,0.005,0.01\n",
    "curves/main.csv": b"current_a,min_melt_s,total_clear_s\n1000,90,100\n5000,1.5,2.4640473773780105\n10000,0.4,0.5\n",
}

FIRST_MOTORS = 1.2 / (0.20 * np.sqrt(1.0 + 1.0 / 144.0))
SECOND_MOTORS = 1.67 / (0.28 * np.sqrt(1.0 + 1.0 / 36.0))
"""Locked-rotor ratios that give 0.20 and 0.28 per unit after the multipliers 1.2 and 1.67 of IEEE 551."""

TRIP = {"pickup_tolerance": "10 %", "time_tolerance": "10 %"}

NORTH_AMERICAN = {
    "deadfront": 1,
    "title": "Test unit at an invented place",
    "practice": "north-american",
    "code": "NFPA 70",
    "frequency": "60 Hz",
    "supply": {
        "voltage": "13.8 kV",
        "fault_power": "150 MVA",
        "x_over_r": 10,
        "earthing": "solid",
        "x0_over_x1": 1.5,
        "r0_over_x0": 0.15,
        "protection": {
            "phase": {"curve": "definite time", "pickup": "300 A", "definite_time": "300 ms"},
            "earth": {"curve": "definite time", "pickup": "100 A", "definite_time": "300 ms"},
            "breaker_opening": "80 ms",
        },
    },
    "terminations": {
        "voltage_class": "25 kV",
        "short_time": {"current": "10 kA", "duration": "0.5 s"},
        "short_time_long": {"current": "3.5 kA", "duration": "3 s"},
    },
    "switch": {
        "voltage": "15.5 kV",
        "short_time": {"current": "12.5 kA", "duration": "1 s"},
        "peak_withstand": "32.5 kA",
        "making_current": "32.5 kA",
        "making_operations": 3,
        "required_closings": 2,
    },
    "mv_cable": {
        "length": "0.001 m",
        "resistance": "0.2 ohm/km",
        "reactance": "0.13 ohm/km",
        "zero_resistance": "0.8 ohm/km",
        "zero_reactance": "0.4 ohm/km",
        "conductor": "aluminium",
        "conductor_area": "95 mm2",
        "insulation": "xlpe",
        "operating_temperature": "90 degC",
        "fault_temperature": "90 degC",
        "screen": "copper",
        "screen_area": "50 mm2",
        "screen_temperature": "85 degC",
        "screen_limit": "200 degC",
    },
    "fuses": {
        "bayonet": {"curve": "curves/link.csv", "rating": "100 A", "interrupting": "2 kA"},
        "limiter": {
            "rating": "125 A",
            "voltage": "15.5 kV",
            "curve": "curves/limiter.csv",
            "interrupting": "50 kA",
            "minimum_interrupting": "600 A",
            "test_x_over_r": 15,
        },
    },
    "transformer": {
        "rating": "1500 kVA",
        "primary_voltage": "13.8 kV",
        "secondary_voltage": "480 V",
        "connection": "Dyn1",
        "impedance": "5.75 %",
        "x_over_r": 7,
        "zero_sequence": {"r0_over_r1": 1, "x0_over_x1": 1},
        "neutral": "earthed",
        "faults_expected": "infrequent",
    },
    "board": {
        "voltage": "480 V",
        "bus": {
            "short_time": {"current": "85 kA", "duration": "1 s"},
            "neutral_area": "500 mm2",
            "neutral_conductor": "copper",
            "neutral_temperature": "80 degC",
            "neutral_limit": "250 degC",
        },
        "main": {
            "kind": "power circuit breaker",
            "rating": "2000 A",
            "interrupting": "65 kA",
            "short_time": {"current": "65 kA", "duration": "1 s"},
            "opening": "50 ms",
            "trip": TRIP
            | {
                "long_time": {"pickup": "2000 A", "delay": "10 s"},
                "short_time": {"pickup": "6 kA", "delay": "200 ms"},
                "maintenance_instantaneous": "4 kA",
                "earth": {"pickup": "1000 A", "delay": "300 ms"},
            },
        },
        "feeders": {
            "pumps": {
                "kind": "moulded-case breaker",
                "interrupting": "65 kA",
                "opening": "25 ms",
                "trip": TRIP
                | {
                    "long_time": {"pickup": "400 A", "delay": "6 s"},
                    "instantaneous": "3 kA",
                    "earth": {"pickup": "200 A", "delay": "100 ms"},
                },
                "cable": {
                    "length": "50 m",
                    "resistance": "0.15 ohm/km",
                    "reactance": "0.1 ohm/km",
                    "zero_resistance": "0.5 ohm/km",
                    "zero_reactance": "0.3 ohm/km",
                    "conductor": "copper",
                    "conductor_area": "185 mm2",
                    "insulation": "xlpe",
                    "operating_temperature": "90 degC",
                    "fault_temperature": "90 degC",
                    "earth_area": "120 mm2",
                    "earth_conductor": "copper",
                },
                "required_clearing": "2 s",
            }
        },
        "tie": {
            "fault_current": "10 kA",
            "x_over_r": 6,
            "earth_fault_current": "9 kA",
            "parallel": "permitted",
            "device": {
                "kind": "power circuit breaker",
                "interrupting": "65 kA",
                "short_time": {"current": "65 kA", "duration": "1 s"},
                "opening": "50 ms",
                "trip": TRIP
                | {
                    "long_time": {"pickup": "1000 A", "delay": "10 s"},
                    "short_time": {"pickup": "2 kA", "delay": "150 ms"},
                    "earth": {"pickup": "500 A", "delay": "150 ms"},
                },
            },
        },
        "arc_detection": {
            "covers": ["bus section"],
            "trips": ["main", "tie"],
            "reaction": "2 ms",
            "output": "0 ms",
            "current_supervision": "1 kA",
        },
        "required_clearing": "1 s",
        "arcing_earth_share": "38 %",
    },
    "motors": {
        "groups": {
            "first": {
                "power": "600 kW",
                "power_factor": "100 %",
                "efficiency": "100 %",
                "locked_rotor_ratio": FIRST_MOTORS,
                "x_over_r": 12,
                "size": "50 hp and above",
            },
            "second": {
                "power": "400 kW",
                "power_factor": "100 %",
                "efficiency": "100 %",
                "locked_rotor_ratio": SECOND_MOTORS,
                "x_over_r": 6,
                "size": "below 50 hp",
            },
        }
    },
    "operation": {
        "places": {
            "line side": {
                "at": "line side of main",
                "electrodes": ["HCB"],
                "gap": "32 mm",
                "enclosure": {"height": "508 mm", "width": "508 mm", "depth": "508 mm"},
                "working_distance": "610 mm",
                "clothing": "120 cal/cm2",
                "kept_clear": "12 m",
                "main_separated": "yes",
            },
            "bus section": {
                "at": "bus",
                "electrodes": ["VCB", "HCB"],
                "gap": "32 mm",
                "enclosure": {"height": "508 mm", "width": "508 mm", "depth": "508 mm"},
                "working_distance": "610 mm",
                "clothing": "25 cal/cm2",
                "kept_clear": "12 m",
                "main_separated": "yes",
                "without_detection": "60 cal/cm2",
            },
        }
    },
}
"""A complete North American unit: network and motors of the worked example W13, everything else to be shown."""


def edited(base, changes):
    """A copy of a nested mapping with entries changed by path; None takes an entry out. Paths end names with dots."""
    found = copy.deepcopy(base)
    for path, value in changes.items():
        *folders, last = path.split(".")
        at = found
        for name in folders:
            at = at.setdefault(name, {})
        if value is None:
            at.pop(last, None)
        else:
            at[last] = copy.deepcopy(value)  # a later path may lead into it
    return found


def _without_none(data):
    if isinstance(data, dict):
        return {name: _without_none(value) for name, value in data.items() if value is not None}
    return data


def project(base=NORTH_AMERICAN, changes=None):
    """The project of a base file with changes."""
    data = _without_none(edited(base, changes or {}))
    return load_bytes("unit.yaml", json.dumps(data).encode(), CURVES)


def subject(base=NORTH_AMERICAN, changes=None):
    """What a claim is judged on."""
    found = project(base, changes)
    station = build(found.unit)
    return Subject(found, station, operating_cases(station))


def walk(base=NORTH_AMERICAN, changes=None, values=None):
    """A walk at the centre of every number, or at the values given."""
    whole = subject(base, changes)
    return Walk(whole.station, whole.cases, Inputs(whole.project, values))


def case(walk, *words):
    """Index of the operating case whose words hold all of these."""
    found = [i for i, text in enumerate(walk.cases.words) if all(word in text for word in words)]
    assert len(found) == 1, (words, walk.cases.words)
    return found[0]


def at(walk, array, index):
    """A result at one operating case, as a plain number."""
    return float(np.broadcast_to(np.asarray(array, dtype=float), (1, len(walk.cases)))[0, index])
