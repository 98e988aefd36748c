"""Claims: lines of arithmetic. Results of a walk at one operating point come in; formula, numbers and result go out."""

from __future__ import annotations

import numpy as np

from deadfront.claims.comparing import over_cases
from deadfront.claims.model import Step
from deadfront.claims.wording import in_words, number_of
from deadfront.physics.types import Array
from deadfront.study import elements, fault_sizes, faults, network
from deadfront.study.clearing import Clearing
from deadfront.study.faults import Kind
from deadfront.study.tables import who_clears
from deadfront.study.walk import Walk

IEC_SOURCE = "IEC 60909-0:2016"
NA_SOURCE = "North American per-unit method (IEEE C37, 141, 551)"
SETTINGS = "curves and settings of the file"


def at(walk: Walk, array: Array, case: int) -> float:
    """A result of a walk through one operating point, at one case, as a plain number."""
    return float(np.asarray(over_cases(array, len(walk.cases)), dtype=np.float64)[0, case])


def amperes(walk: Walk, current: Array, case: int) -> str:
    """A current at one case in words."""
    return in_words(at(walk, current, case), "A")


def seconds(walk: Walk, time: Array, case: int) -> str:
    """A time at one case in words."""
    return in_words(at(walk, time, case), "s")


def method_source(walk: Walk) -> str:
    """The short-circuit method of this practice."""
    return IEC_SOURCE if walk.method == "iec" else NA_SOURCE


def where_of(walk: Walk, point: str) -> str:
    """Name of a point of the station."""
    return walk.station.point(point).name


def shared_steps(walk: Walk, point: str, kind: Kind, case: int) -> list[Step]:
    """The bolted fault that an arcing one is a share of: the three-phase fault, or that of its kind if smaller."""
    own = at(walk, faults.current(walk, point, kind, walk.method), case)
    smaller = kind if own <= at(walk, fault_sizes.shared(walk, point, kind), case) else "three-phase"
    return fault_steps(walk, point, smaller, case)


def fault_steps(walk: Walk, point: str, kind: Kind, case: int) -> list[Step]:
    """Driving voltage, impedance and current of a fault."""
    z1 = network.thevenin(walk, point, walk.method).impedance
    r, x = at(walk, z1.resistance, case), at(walk, z1.reactance, case)
    size = in_words(np.hypot(r, x), "ohm")
    impedance = f"{in_words(r, 'ohm')} + j {in_words(x, 'ohm')}"
    count = number_of(len(network.branches(walk, point, walk.method)), "branch", "branches")
    meaning = f"impedance seen from {where_of(walk, point)}"
    steps = [Step("Z1", meaning, "sum of branches", count, impedance, method_source(walk), "V")]
    driving = _driving(walk, point, case)
    if kind == "three-phase":
        numbers = f"{driving} / (1.732 x {size})"
        steps.append(_current_step(walk, point, kind, case, "Ik", "c U / (sqrt(3) |Z1|)", numbers))
    elif kind == "line-line":
        steps.append(_current_step(walk, point, kind, case, "Ik2", "c U / |2 Z1|", f"{driving} / (2 x {size})"))
    else:
        steps.extend(_earth_steps(walk, point, kind, case, (r, x)))
    return steps


def _driving(walk: Walk, point: str, case: int) -> str:
    """c U in numbers; in the North American method the prefault voltage alone."""
    side = network.side(walk, point)
    if walk.method == "north-american":
        return in_words(at(walk, elements.driving_voltage(walk, walk.method, side), case), "V")
    factor = at(walk, elements.voltage_factor(walk, walk.method, side), case)
    return f"{factor:.3g} x {in_words(at(walk, elements.nominal_voltage(walk, side), case), 'V')}"


def _current_step(walk: Walk, point: str, kind: Kind, case: int, symbol: str, formula: str, numbers: str) -> Step:
    meaning = f"{kind} fault, {where_of(walk, point)}"
    result = amperes(walk, faults.current(walk, point, kind, walk.method), case)
    tag = "M" if kind == "line-line-earth" else "V"
    return Step(symbol, meaning, formula, numbers, result, method_source(walk), tag)


def _earth_steps(walk: Walk, point: str, kind: Kind, case: int, z1: tuple[float, float]) -> list[Step]:
    """Zero-sequence impedance and the earth-fault current."""
    zero = network.zero_thevenin(walk, point, walk.method)
    if zero is None or faults.unearthed(walk, point):
        formula = "current of the unearthed network"
        return [_current_step(walk, point, kind, case, "Ik1", formula, "as the file gives it")]
    r0, x0 = at(walk, zero.impedance.resistance, case), at(walk, zero.impedance.reactance, case)
    z0 = f"{in_words(r0, 'ohm')} + j {in_words(x0, 'ohm')}"
    steps = [Step("Z0", "zero-sequence impedance", "sum of earthed branches", "", z0, method_source(walk), "V")]
    driving = _driving(walk, point, case)
    if kind == "line-earth":
        loop = in_words(np.hypot(2 * z1[0] + r0, 2 * z1[1] + x0), "ohm")
        numbers = f"1.732 x {driving} / {loop}"
        steps.append(_current_step(walk, point, kind, case, "Ik1", "sqrt(3) c U / |2 Z1 + Z0|", numbers))
    else:
        formula = "larger of c U |Z0 - a Z1| / D and c U |Z0 - a2 Z1| / D"
        numbers = f"{driving}, D = |Z1 Z1 + 2 Z1 Z0|"
        steps.append(_current_step(walk, point, kind, case, "Ik2E", formula, numbers))
    return steps


def earth_step(walk: Walk, point: str, kind: Kind, case: int) -> Step:
    """Current into earth of a fault."""
    size = amperes(walk, faults.earth_current(walk, point, kind, walk.method), case)
    formula = "Ik1" if kind == "line-earth" else "sqrt(3) c U / |Z1 + 2 Z0|"
    return Step("IE", f"current into earth, {kind} fault", formula, "", size, method_source(walk), "M")


def peak_step(walk: Walk, point: str, kind: Kind, case: int) -> Step:
    """Peak of a fault current."""
    peak = amperes(walk, faults.peak(walk, point, kind, walk.method), case)
    meaning = f"peak of the {kind} fault, {where_of(walk, point)}"
    if walk.method == "iec":
        parts = [
            f"{walk.station.device(p.device).name} {amperes(walk, p.current, case)} "
            f"at R/X {at(walk, p.r_over_x, case):.3g}"
            for p in faults.partial_currents(walk, point, "iec")
            if at(walk, p.current, case) > 0
        ]
        formula = "sum of (1.02 + 0.98 e^(-3 R/X)) sqrt(2) I"
        return Step("ip", meaning, formula, "; ".join(parts), peak, f"{IEC_SOURCE}, eq. 59 and kappa", "V")
    ratio = at(walk, faults.reactance_ratio(walk, point, walk.method, kind), case)
    current = amperes(walk, faults.current(walk, point, kind, walk.method), case)
    formula = "sqrt(2) I (1 + e^(-2 pi tau / (X/R))), tau = 0.49 - 0.1 e^(-(X/R)/3)"
    return Step("ip", meaning, formula, f"{current} at X/R {ratio:.3g}", peak, "IEEE 551-2006", "M")


def clearing_steps(walk: Walk, clearing: Clearing, case: int) -> list[Step]:
    """Which device ends the fault, and what its time is made of; the device that is slowest among parallel infeeds."""
    operation, time = who_clears(walk, clearing, case), seconds(walk, clearing.time, case)
    if operation is None:
        return [Step("t", "clearing time", "no device of the file operates", "", time, SETTINGS, "V")]
    current = amperes(walk, operation.current, case)
    parts = " + ".join(f"{name} {seconds(walk, value, case)}" for name, value in operation.parts)
    meaning = f"total clearing time, {operation.device}, {operation.element}"
    numbers = f"at {current}: {parts}" if parts else f"at {current}"
    return [Step("t", meaning, "first device of an infeed to clear; slowest infeed", numbers, time, SETTINGS, "V")]


def reactance_step(walk: Walk, point: str, case: int, kind: Kind = "three-phase") -> Step:
    """X/R at a point."""
    ratio = at(walk, faults.reactance_ratio(walk, point, walk.method, kind), case)
    how = (
        "X1 / R1" if walk.method == "iec" else "largest of complex and separate reduction, and of the earth-fault loop"
    )
    return Step("X/R", f"at {where_of(walk, point)}", how, "", f"{ratio:.3g}", method_source(walk), "V")
