"""What the tests of the fuse pair share: the eight self-computed cases as project files, judged claim by claim."""

import json
import sys
from functools import cache
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "physics"))

from claim_files import DEFINITIONS, edited
from demonstration import CLASS_FACTOR, limiter_row, limiters, link_row, links
from study_files import CURVES, NORTH_AMERICAN, Subject, operating_cases

from deadfront.claims.judging import judge
from deadfront.project.reading import load_bytes
from deadfront.station.station import build

__all__ = ["CASES", "limiter_csv", "limiter_row", "limiters", "link_csv", "link_row", "links", "pair", "parts"]

CASES = {
    "A": ("1000 kVA", 12.47, 5.75, "15.5", "D50", 125),
    "B": ("1000 kVA", 12.47, 5.75, "15.5", "D50", 100),
    "C": ("1000 kVA", 12.47, 5.75, "15.5", "D65", 125),
    "D": ("500 kVA", 12.47, 5.0, "15.5", "D25", 65),
    "E": ("1500 kVA", 24.9, 5.75, "23.0", "D40", 100),
    "F": ("1500 kVA", 24.9, 5.75, "23.0", "D40", 80),
    "G": ("2500 kVA", 12.47, 5.75, "15.5", "D140", 250),
    "H": ("2500 kVA", 12.47, 5.75, "15.5", "D140", 200),
}
"""Rating, kV, impedance in percent, voltage class of link and limiter, link and limiter of the invented catalogue."""

INTERRUPTING = {"8.3": "IR_A_8.3kV", "15.5": "IR_A_15.5kV", "23.0": "IR_A_23kV"}


def link_csv(curve):
    """Melting curve of a link, whose clearing follows from its tolerance and its arcing time."""
    points = zip(curve.current, curve.minimum_melting, strict=True)
    rows = "".join(f"{current:.10g},{time:.10g}\n" for current, time in points)
    return f"current_a,min_melt_s\n{rows}".encode()


def limiter_csv(curve):
    """Melting curve of a limiter, with clearing times twice as long: of the crossing only melting counts."""
    rows = zip(curve.current, curve.minimum_melting, strict=True)
    lines = "".join(f"{current:.10g},{time:.10g},{2 * time:.10g}\n" for current, time in rows)
    return f"current_a,min_melt_s,total_clear_s\n{lines}".encode()


def fuses_of(case):
    """Entries of both fuses of a case."""
    _, _, _, volts, link, limiter = CASES[case]
    row = limiter_row(volts, limiter)
    one = {
        "curve": "link.csv",
        "rating": f"{link_row(link)['N_A']} A",
        "voltage": f"{volts} kV",
        "interrupting": f"{link_row(link)[INTERRUPTING[volts]]} A",
        "element": "tin",
        "reference_temperature": "25 degC",
        "reference_frequency": "60 Hz",
        "melting_tolerance": "20 %",
        "arcing_time": "13.3 ms",
        "permitted_load": f"{1.5 * float(link_row(link)['N_A'])} A",
        "preload": "100 %",
    }
    other = {
        "curve": "limiter.csv",
        "rating": f"{limiter} A",
        "voltage": f"{volts} kV",
        "interrupting": "50 kA",
        "minimum_interrupting": f"{CLASS_FACTOR[volts] * limiter} A",
        "test_x_over_r": 15,
        "element": "silver",
        "reference_temperature": "25 degC",
        "reference_frequency": "60 Hz",
        "permitted_load": f"{limiter} A",
        "preload": "100 %",
        "ageing_share": "90 %",
        "melting_energy": f"{row['melt_I2t_min_A2s']} .. {row['melt_I2t_max_A2s']} A2s",
        "total_energy": f"{row['total_clear_I2t_A2s']} A2s",
        "arc_voltage": f"{row['arc_voltage_peak_kV']} kV",
    }
    return {"bayonet": one, "limiter": other, "time_share": "90 %", "match": {"time": "12.5 ms", "factor": 2}}


@cache
def base(case):
    """The unit of a case: the transformer and the two fuses, without load before, in liquid at 25 degC."""
    rating, kilovolts, impedance, *_ = CASES[case]
    changes = {
        "motors": None,
        "board.tie": None,
        "board.arc_detection.trips": ["main"],
        "supply.voltage": f"{kilovolts} kV",
        "supply.highest_voltage": f"{kilovolts} kV",
        "transformer.rating": rating,
        "transformer.primary_voltage": f"{kilovolts} kV",
        "transformer.impedance": f"{impedance} %",
        "transformer.highest_tap": "100 %",
        "transformer.permitted_load": "100 %",
        "transformer.liquid_temperature": "25 degC",
        "transformer.internal_arc_voltage": "500 V",
        "transformer.tank": {"arc_energy": "100 kJ", "let_through": "1000000 A2s", "peak_current": "40 kA"},
        "switch.fused": "no",
        "fuses": fuses_of(case),
    }
    return edited(NORTH_AMERICAN, changes)


def curves_of(case):
    """The files beside the unit of a case."""
    *_, volts, link, limiter = CASES[case]
    return {"link.csv": link_csv(links()[link]), "limiter.csv": limiter_csv(limiters(volts)[limiter])}


def without_none(data):
    """A copy of a nested mapping without the entries that are None."""
    if isinstance(data, dict):
        return {name: without_none(value) for name, value in data.items() if value is not None}
    return data


def pair(identifier, case="A", changes=None, files=None):
    """A claim on the unit of a case with changes, and with other files beside it."""
    data = without_none(edited(base(case), changes or {}))
    beside = CURVES | curves_of(case) | (files or {})
    project = load_bytes("unit.yaml", json.dumps(data).encode(), beside)
    station = build(project.unit)
    return judge(DEFINITIONS[identifier], Subject(project, station, operating_cases(station)))


def parts(identifier, case="A", changes=None, files=None):
    """Worst value of each subject of a claim on the unit of a case, by subject."""
    found = pair(identifier, case, changes, files)
    assert found.details, found.reason
    return {detail.subject: detail for detail in found.details}
