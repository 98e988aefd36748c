"""Claims: lines of arithmetic. Results of a walk at one operating point come in; formula, numbers and result go out."""

from __future__ import annotations

import numpy as np

from deadfront.claims.comparing import over_cases
from deadfront.claims.model import Step
from deadfront.claims.wording import in_words
from deadfront.physics.types import Array
from deadfront.station.station import LV_BUS, SWITCH_BUS
from deadfront.study import elements, faults, network
from deadfront.study.clearing import Clearing, Infeed
from deadfront.study.devices import Operation
from deadfront.study.faults import Kind
from deadfront.study.walk import Walk

IEC_SOURCE = "IEC 60909-0:2016"
NA_SOURCE = "North American per-unit method (IEEE C37, 141, 551)"


def at(walk: Walk, array: Array, case: int) -> float:
    """A result of a walk through one operating point, at one case, as a plain number."""
    return float(np.asarray(over_cases(array, len(walk.cases)), dtype=np.float64)[0, case])


def method_source(walk: Walk) -> str:
    """The short-circuit method of this practice."""
    return IEC_SOURCE if walk.method == "iec" else NA_SOURCE


def fault_steps(walk: Walk, point: str, kind: Kind, case: int) -> list[Step]:
    """Driving voltage, impedance and current of a fault."""
    side = network.side(walk, point)
    whole = network.thevenin(walk, point, walk.method)
    if whole is None:
        return []
    voltage = at(walk, elements.nominal_voltage(walk, side), case)
    factor = at(walk, elements.voltage_factor(walk, walk.method, side), case)
    r, x = at(walk, whole.impedance.resistance, case), at(walk, whole.impedance.reactance, case)
    size = at(walk, faults.current(walk, point, kind, walk.method), case)
    where = f"{kind} fault, {walk.station.point(point).name}"
    impedance = f"{in_words(r, 'ohm')} + j {in_words(x, 'ohm')}"
    steps = [Step("Z1", f"impedance seen from {walk.station.point(point).name}", "sum of branches", f"{len(network.branches(walk, point, walk.method))} branches", impedance, method_source(walk), "V")]
    driving = f"{factor:.3g} x {in_words(voltage, 'V')}"
    if kind == "three-phase":
        steps.append(Step("Ik", where, "c U / (sqrt(3) |Z1|)", f"{driving} / (1.732 x {in_words(np.hypot(r, x), 'ohm')})", in_words(size, "A"), method_source(walk), "V"))
    elif kind == "line-line":
        steps.append(Step("Ik2", where, "c U / |2 Z1|", f"{driving} / (2 x {in_words(np.hypot(r, x), 'ohm')})", in_words(size, "A"), method_source(walk), "V"))
    else:
        steps.extend(_earth_steps(walk, point, kind, case, driving, (r, x)))
    return steps


def _earth_steps(walk: Walk, point: str, kind: Kind, case: int, driving: str, z1: tuple[float, float]) -> list[Step]:
    """Zero-sequence impedance and the earth-fault current."""
    size = at(walk, faults.current(walk, point, kind, walk.method), case)
    where = f"{kind} fault, {walk.station.point(point).name}"
    zero = network.zero_thevenin(walk, point, walk.method)
    unearthed = network.side(walk, point) == "mv" and walk.inputs.word("supply.earthing") in ("isolated", "resonant")
    if zero is None or unearthed:
        return [Step("Ik1", where, "current of the unearthed network", "as the file gives it", in_words(size, "A"), method_source(walk), "V")]
    r0, x0 = at(walk, zero.impedance.resistance, case), at(walk, zero.impedance.reactance, case)
    loop = np.hypot(2 * z1[0] + r0, 2 * z1[1] + x0)
    symbol, formula = ("Ik1", "sqrt(3) c U / |2 Z1 + Z0|") if kind == "line-earth" else ("IkE2E", "larger of c U |Z0 - a Z1| / D and c U |Z0 - a2 Z1| / D")
    numbers = f"1.732 x {driving} / {in_words(loop, 'ohm')}" if kind == "line-earth" else f"{driving}, D = |Z1 Z1 + 2 Z1 Z0|"
    return [
        Step("Z0", "zero-sequence impedance", "sum of earthed branches", "", f"{in_words(r0, 'ohm')} + j {in_words(x0, 'ohm')}", method_source(walk), "V"),
        Step(symbol, where, formula, numbers, in_words(size, "A"), method_source(walk), "V" if kind == "line-earth" else "M"),
    ]


def peak_step(walk: Walk, point: str, kind: Kind, case: int) -> Step:
    """Peak of a fault current."""
    current = at(walk, faults.current(walk, point, kind, walk.method), case)
    peak = in_words(at(walk, faults.peak(walk, point, kind, walk.method), case), "A")
    ratio = at(walk, faults.reactance_ratio(walk, point, walk.method), case)
    meaning = f"peak of the {kind} fault, {walk.station.point(point).name}"
    if walk.method == "iec":
        parts = [
            f"{walk.station.device(p.device).name} {in_words(at(walk, p.current, case), 'A')} at R/X {at(walk, p.r_over_x, case):.3g}"
            for p in faults.partial_currents(walk, point, "iec")
            if at(walk, p.current, case) > 0
        ]
        return Step("ip", meaning, "sum of (1.02 + 0.98 e^(-3 R/X)) sqrt(2) I", "; ".join(parts), peak, f"{IEC_SOURCE}, eq. 59 and kappa", "V2")
    formula = "sqrt(2) I (1 + e^(-2 pi tau / (X/R))), tau = 0.49 - 0.1 e^(-(X/R)/3)"
    return Step("ip", meaning, formula, f"{in_words(current, 'A')} at X/R {ratio:.3g}", peak, "IEEE 551-2006", "M")


def clearing_steps(walk: Walk, clearing: Clearing, case: int) -> list[Step]:
    """Which device ends the fault, and what its time is made of; the device that is slowest among parallel infeeds."""
    operation, current = who_clears(walk, clearing, case)
    time = at(walk, clearing.time, case)
    if operation is None:
        return [Step("t", "clearing time", "no device of the file operates", "", in_words(time, "s"), "curves and settings of the file", "V")]
    parts = " + ".join(f"{name} {in_words(at(walk, value, case), 's')}" for name, value in operation.parts)
    meaning = f"total clearing time, {operation.device}, {operation.element}"
    numbers = f"at {in_words(current, 'A')}: {parts}" if parts else f"at {in_words(current, 'A')}"
    return [Step("t", meaning, "first device of an infeed to clear; slowest infeed", numbers, in_words(time, "s"), "curves and settings of the file", "V")]


def who_clears(walk: Walk, clearing: Clearing, case: int) -> tuple[Operation | None, float]:
    """The operation that ends a fault at a case, with the current of the infeed it ends; None where none does."""
    time = at(walk, clearing.time, case)
    if not np.isfinite(time):
        return None, float("nan")
    for operation in clearing.common:
        if at(walk, operation.time, case) == time:
            return operation, at(walk, operation.current, case)
    for infeed in clearing.infeeds:
        found = _of_infeed(walk, infeed, case, time)
        if found is not None:
            return found, at(walk, found.current, case)
    return None, float("nan")


def _of_infeed(walk: Walk, infeed: Infeed, case: int, time: float) -> Operation | None:
    if at(walk, infeed.connected, case) == 0.0:
        return None
    return next((operation for operation in infeed.operations if at(walk, operation.time, case) == time), None)


def reactance_step(walk: Walk, point: str, case: int) -> Step:
    """X/R at a point."""
    ratio = at(walk, faults.reactance_ratio(walk, point, walk.method), case)
    how = "larger of complex and separate reduction" if walk.method == "north-american" else "X1 / R1"
    return Step("X/R", f"at {walk.station.point(point).name}", how, "", f"{ratio:.3g}", method_source(walk), "V")


BUSES = {"mv": SWITCH_BUS, "lv": LV_BUS}
