"""Claims: duties of medium-voltage devices. A walk comes in; one term per device and duty goes out."""

from __future__ import annotations

import numpy as np

from deadfront.claims.comparing import Evidence, Maker, Term, later
from deadfront.claims.model import Step
from deadfront.claims.steps import amperes, at, clearing_steps, fault_steps, peak_step, reactance_step, seconds
from deadfront.claims.terms import LARGEST_KINDS, Against, Cases, of_maximum_rule, term
from deadfront.claims.wording import in_words
from deadfront.physics import north_american
from deadfront.physics.types import Array
from deadfront.station.station import FUSE_LINE_SIDE, SWITCH_BUS
from deadfront.study import faults, ratings
from deadfront.study.clearing import Clearing, clear
from deadfront.study.faults import Kind
from deadfront.study.inputs import Assumed
from deadfront.study.spans import FOREVER, joule_integral
from deadfront.study.walk import Walk


def medium_voltage_kinds(walk: Walk, point: str) -> tuple[Kind, ...]:
    """Kinds of fault that count at a point: to earth only where the network is earthed."""
    return ("three-phase",) if faults.unearthed(walk, point) else LARGEST_KINDS


def medium_voltage_withstand(walk: Walk, cases: Cases) -> list[Maker]:
    """Short-time and peak withstand of switch and connectors, for the time the upstream protection takes."""
    found = []
    for kind in medium_voltage_kinds(walk, SWITCH_BUS):
        found += [later(_short_time, walk, kind, cases), later(_peak_withstand, walk, kind, cases)]
    return found


def _short_time(walk: Walk, kind: Kind, cases: Cases) -> list[Term]:
    clearing = clear(walk, SWITCH_BUS, kind, walk.method, faults.current(walk, SWITCH_BUS, kind, walk.method))
    return [_switch_short_time(walk, kind, clearing, cases), _connector_short_time(walk, kind, clearing, cases)]


def equal_heat(walk: Walk, point: str, kind: Kind, clearing: Clearing, rated_time: Array) -> Array:
    """Current that heats as much in the rated time as the fault does until cleared, A; never below the fault itself.

    In the IEC practice the direct component counts by m of IEC 60909-0; North American short-time ratings are
    symmetrical and were tested with their offset.
    """
    current = faults.current(walk, point, kind, walk.method)
    heat = joule_integral(clearing, current)
    if walk.method == "iec":
        lasting = np.maximum(np.minimum(clearing.time, FOREVER), ratings.INSTANT)
        heat = heat + np.square(current) * faults.direct_component_time(walk, point, "iec", lasting)
    return np.maximum(current, np.sqrt(heat / rated_time))


def equal_heat_step(walk: Walk, value: Array, rated_time: Array, case: int) -> Step:
    """The line of arithmetic of `equal_heat`."""
    numbers = f"tk = {seconds(walk, rated_time, case)}"
    formula = "max(I, sqrt(integral of I2 dt / tk))"
    source = "equal Joule integral; no credit for a shorter time"
    meaning = "current that heats as much in the rated time"
    return Step("Ieq", meaning, formula, numbers, amperes(walk, value, case), source, "C")


def _switch_short_time(walk: Walk, kind: Kind, clearing: Clearing, cases: Cases) -> Term:
    rated_time = walk.inputs.number("switch.short_time.duration")
    value = equal_heat(walk, SWITCH_BUS, kind, clearing, rated_time)

    def steps(case: int) -> tuple[Step, ...]:
        last = equal_heat_step(walk, value, rated_time, case)
        return (*fault_steps(walk, SWITCH_BUS, kind, case), *clearing_steps(walk, clearing, case), last)

    against = Against(value, walk.inputs.number("switch.short_time.current"), "A")
    return term(walk, f"MV switch, short time, {kind}", against, cases, steps, kind)


def _connector_short_time(walk: Walk, kind: Kind, clearing: Clearing, cases: Cases) -> Term:
    current, allowed = (
        faults.current(walk, SWITCH_BUS, kind, walk.method),
        ratings.short_time_current(walk, clearing.time),
    )

    def steps(case: int) -> tuple[Step, ...]:
        formula = "I1 up to t1; max(I1 sqrt(t1/t), I2) up to t2; I2 sqrt(t2/t) beyond"
        numbers, size = f"t = {seconds(walk, clearing.time, case)}", amperes(walk, allowed, case)
        meaning, source = "short-time current of the connectors for that time", "IEEE 386, screening between two points"
        last = Step("Iadm", meaning, formula, numbers, size, source, "D")
        return (*fault_steps(walk, SWITCH_BUS, kind, case), *clearing_steps(walk, clearing, case), last)

    return term(walk, f"MV connectors, short time, {kind}", Against(current, allowed, "A"), cases, steps, kind)


def _peak_evidence(walk: Walk, point: str, kind: Kind) -> Evidence:
    return lambda case: (*fault_steps(walk, point, kind, case), peak_step(walk, point, kind, case))


def _peak_withstand(walk: Walk, kind: Kind, cases: Cases) -> list[Term]:
    value, steps = faults.peak(walk, SWITCH_BUS, kind, walk.method), _peak_evidence(walk, SWITCH_BUS, kind)
    cases = of_maximum_rule(walk, cases)
    limit = walk.inputs.number("switch.peak_withstand")
    found = [term(walk, f"MV switch, peak, {kind}", Against(value, limit, "A"), cases, steps, kind)]
    if walk.inputs.given("terminations.peak_withstand"):
        limit = walk.inputs.number("terminations.peak_withstand")
        found.append(term(walk, f"MV connectors, peak, {kind}", Against(value, limit, "A"), cases, steps, kind))
    return found


def switch_making(walk: Walk, cases: Cases) -> list[Maker]:
    """Peak onto which the switch may have to close, against its making current."""
    return [later(_making, walk, kind, cases) for kind in medium_voltage_kinds(walk, SWITCH_BUS)]


def _making(walk: Walk, kind: Kind, cases: Cases) -> Term:
    value, limit = faults.peak(walk, SWITCH_BUS, kind, walk.method), walk.inputs.number("switch.making_current")
    cases = of_maximum_rule(walk, cases)
    steps = _peak_evidence(walk, SWITCH_BUS, kind)
    return term(walk, f"MV switch, making, {kind}", Against(value, limit, "A"), cases, steps, kind)


def fuse_interrupting(walk: Walk, cases: Cases) -> list[Maker]:
    """Largest fault at the fuses against the interrupting rating of the one that must clear it, at its X/R."""
    name = "limiter" if walk.inputs.entry("fuses.limiter") is not None else "bayonet"
    label = {"limiter": "current-limiting fuse", "bayonet": "draw-out expulsion link"}[name]
    entry = f"fuses.{name}.test_x_over_r"
    text = f"The symmetrical rating of the {label} is taken as tested up to X/R = 15."
    confirm = "Fuse data sheet: X/R of the interrupting test."
    assumed = Assumed(entry, text, "power-class fuse practice", "V", confirm)
    tested, limit = walk.inputs.assume(entry, 15.0, 15.0, assumed), walk.inputs.number(f"fuses.{name}.interrupting")
    kinds = medium_voltage_kinds(walk, FUSE_LINE_SIDE)
    return [later(_fuse_duty, walk, label, kind, tested, limit, cases) for kind in kinds]


def _fuse_duty(walk: Walk, label: str, kind: Kind, tested: Array, limit: Array, cases: Cases) -> Term:
    current = faults.current(walk, FUSE_LINE_SIDE, kind, walk.method)
    ratio = np.maximum(faults.reactance_ratio(walk, FUSE_LINE_SIDE, walk.method, kind), faults.LEAST_RATIO)
    factor = north_american.medium_voltage_fuse_factor(ratio, tested)
    cases = of_maximum_rule(walk, cases)

    def steps(case: int) -> tuple[Step, ...]:
        numbers, duty = (
            f"{amperes(walk, current, case)} x {at(walk, factor, case):.4g}",
            at(walk, factor * current, case),
        )
        formula = "I max(1, asymmetry(X/R) / asymmetry(test X/R))"
        source = "equal asymmetrical current; symmetrical rating valid to the test X/R"
        last = Step("Id", "duty at the X/R of the fault", formula, numbers, in_words(duty, "A"), source, "D")
        ratio_step = reactance_step(walk, FUSE_LINE_SIDE, case, kind)
        return (*fault_steps(walk, FUSE_LINE_SIDE, kind, case), ratio_step, last)

    return term(walk, f"{label}, {kind}", Against(factor * current, limit, "A"), cases, steps, kind)
