"""Claims: what each device must withstand or interrupt. A walk comes in; one term per device and duty goes out."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from deadfront.claims.comparing import Term
from deadfront.claims.model import Step
from deadfront.claims.steps import at, clearing_steps, fault_steps, peak_step, reactance_step
from deadfront.claims.wording import in_words
from deadfront.physics import north_american
from deadfront.physics.types import Array
from deadfront.station.station import FUSE_LOAD_SIDE, LV_BUS, SWITCH_BUS
from deadfront.study import faults, network, ratings
from deadfront.study.clearing import clear, joule_integral
from deadfront.study.faults import Kind
from deadfront.study.inputs import Assumed
from deadfront.study.walk import Walk

WITHSTAND_KINDS: tuple[Kind, ...] = ("three-phase", "line-earth")
"""Kinds of fault that can be the largest: a line-line fault never is, a line-line-earth fault lies between."""


def ordinary(walk: Walk) -> tuple[int, ...]:
    """Operating cases with one infeed at a time."""
    return tuple(i for i, parallel in enumerate(walk.cases.parallel) if not parallel)


def paralleled(walk: Walk) -> tuple[int, ...]:
    """Operating cases with two infeeds closed together, where the file permits that."""
    return tuple(i for i, parallel in enumerate(walk.cases.parallel) if parallel)


def words(walk: Walk, kind: str = "") -> object:
    """The words of a case, with the kind of fault before them."""
    prefix = f"{kind} fault, " if kind else ""
    return lambda case: prefix + walk.cases.words[case]


def term(walk: Walk, subject: str, value: Array, limit: Array, unit: str, cases: Iterable[int], **more: object) -> Term:
    """A term over some operating cases."""
    return Term(subject, value, limit, unit, len(walk.cases), tuple(cases), **more)  # type: ignore[arg-type]


# --- medium voltage ---


def medium_voltage_withstand(walk: Walk, cases: tuple[int, ...]) -> list[Term]:
    """Short-time and peak withstand of switch and connectors, for the time the upstream protection takes."""
    found = []
    for kind in _kinds(walk, SWITCH_BUS):
        current = faults.current(walk, SWITCH_BUS, kind, walk.method)
        clearing = clear(walk, SWITCH_BUS, kind, walk.method, current)
        time = clearing.time

        def evidence(case: int, kind: Kind = kind, clearing: object = clearing) -> tuple[Step, ...]:
            steps = fault_steps(walk, SWITCH_BUS, kind, case)
            return (*steps, *clearing_steps(walk, clearing, case))  # type: ignore[arg-type]

        found.append(_switch_short_time(walk, kind, current, joule_integral(clearing, current), cases, evidence))
        found.append(_connector_short_time(walk, kind, current, time, cases, evidence))
    found.extend(_peak_withstand(walk, cases))
    return found


def _kinds(walk: Walk, point: str) -> tuple[Kind, ...]:
    """Kinds of fault that count at a point: to earth only where the network is earthed."""
    unearthed = network.side(walk, point) == "mv" and walk.inputs.word("supply.earthing") in ("isolated", "resonant")
    return ("three-phase",) if unearthed else WITHSTAND_KINDS


def _switch_short_time(walk: Walk, kind: Kind, current: Array, heat: Array, cases: tuple[int, ...], evidence: object) -> Term:
    rated_time = walk.inputs.number("switch.short_time.duration")
    rated = walk.inputs.number("switch.short_time.current")
    value = np.maximum(current, np.sqrt(heat / rated_time))

    def steps(case: int) -> tuple[Step, ...]:
        numbers = f"max({in_words(at(walk, current, case), 'A')}, sqrt({in_words(at(walk, heat, case), 'A2s')} / {in_words(at(walk, rated_time, case), 's')}))"
        last = Step("Ieq", "current that heats as much in the rated time", "max(I, sqrt(integral of I2 dt / tk))", numbers, in_words(at(walk, value, case), "A"), "equal Joule integral; no credit for a shorter time", "C")
        return (*evidence(case), last)  # type: ignore[operator]

    return term(walk, f"MV switch, short time, {kind}", value, rated, "A", cases, words=words(walk, kind), evidence=steps)


def _connector_short_time(walk: Walk, kind: Kind, current: Array, time: Array, cases: tuple[int, ...], evidence: object) -> Term:
    allowed = ratings.short_time_current(walk, time)

    def steps(case: int) -> tuple[Step, ...]:
        formula = "I1 up to t1; max(I1 sqrt(t1/t), I2) up to t2; I2 sqrt(t2/t) beyond"
        last = Step("Iadm", "short-time current of the connectors for that time", formula, f"t = {in_words(at(walk, time, case), 's')}", in_words(at(walk, allowed, case), "A"), "IEEE 386 ratings, screening between the two points", "D")
        return (*evidence(case), last)  # type: ignore[operator]

    return term(walk, f"MV connectors, short time, {kind}", current, allowed, "A", cases, words=words(walk, kind), evidence=steps)


def _peak_withstand(walk: Walk, cases: tuple[int, ...]) -> list[Term]:
    found = []
    for kind in _kinds(walk, SWITCH_BUS):
        value = faults.peak(walk, SWITCH_BUS, kind, walk.method)

        def steps(case: int, kind: Kind = kind) -> tuple[Step, ...]:
            return (*fault_steps(walk, SWITCH_BUS, kind, case), peak_step(walk, SWITCH_BUS, kind, case))

        limit = walk.inputs.number("switch.peak_withstand")
        found.append(term(walk, f"MV switch, peak, {kind}", value, limit, "A", cases, words=words(walk, kind), evidence=steps))
        if walk.inputs.given("terminations.peak_withstand"):
            limit = walk.inputs.number("terminations.peak_withstand")
            found.append(term(walk, f"MV connectors, peak, {kind}", value, limit, "A", cases, words=words(walk, kind), evidence=steps))
    return found


def switch_making(walk: Walk, cases: tuple[int, ...]) -> list[Term]:
    """Peak onto which the switch may have to close, against its making current."""
    found = []
    for kind in _kinds(walk, SWITCH_BUS):
        value, limit = faults.peak(walk, SWITCH_BUS, kind, walk.method), walk.inputs.number("switch.making_current")

        def steps(case: int, kind: Kind = kind) -> tuple[Step, ...]:
            return (*fault_steps(walk, SWITCH_BUS, kind, case), peak_step(walk, SWITCH_BUS, kind, case))

        found.append(term(walk, f"MV switch, making, {kind}", value, limit, "A", cases, words=words(walk, kind), evidence=steps))
    return found


def fuse_interrupting(walk: Walk, cases: tuple[int, ...]) -> list[Term]:
    """Largest fault at the fuses against the interrupting rating of the one that must clear it, at its X/R."""
    name = "limiter" if walk.inputs.entry("fuses.limiter") is not None else "bayonet"
    label = {"limiter": "current-limiting fuse", "bayonet": "draw-out expulsion link"}[name]
    tested = walk.inputs.assume(
        f"fuses.{name}.test_x_over_r",
        15.0,
        15.0,
        Assumed(
            f"fuses.{name}.test_x_over_r",
            f"The symmetrical rating of the {label} is taken as tested up to X/R = 15.",
            "power-class fuse practice",
            "V",
            "Fuse data sheet: X/R of the interrupting test.",
        ),
    )
    ratio = faults.reactance_ratio(walk, FUSE_LOAD_SIDE, walk.method)
    factor = north_american.medium_voltage_fuse_factor(np.maximum(ratio, 0.01), tested)
    limit = walk.inputs.number(f"fuses.{name}.interrupting")
    found = []
    for kind in _kinds(walk, FUSE_LOAD_SIDE):
        current = faults.current(walk, FUSE_LOAD_SIDE, kind, walk.method)

        def steps(case: int, kind: Kind = kind, current: Array = current) -> tuple[Step, ...]:
            numbers = f"{in_words(at(walk, current, case), 'A')} x {at(walk, factor, case):.4g}"
            duty = Step("Id", "duty at the X/R of the fault", "I max(1, asymmetry(X/R) / asymmetry(test X/R))", numbers, in_words(at(walk, factor * current, case), "A"), "equal asymmetrical current; symmetrical rating valid to the test X/R", "D")
            return (*fault_steps(walk, FUSE_LOAD_SIDE, kind, case), reactance_step(walk, FUSE_LOAD_SIDE, case), duty)

        found.append(term(walk, f"{label}, {kind}", factor * current, limit, "A", cases, words=words(walk, kind), evidence=steps))
    return found


# --- low voltage ---


def low_voltage_devices(walk: Walk) -> list[tuple[str, str, str]]:
    """Key, path and name of each low-voltage breaker or fuse the file names."""
    found = []
    for device in walk.station.devices:
        if device.key == "main" or device.key.startswith("feeder "):
            found.append((device.key, device.path, device.name))
        elif device.kind in ("tie", "generator"):
            found.append((device.key, f"{device.path}.device", f"{device.name} breaker"))
    return found


def current_through(walk: Walk, key: str, kind: Kind) -> Array:
    """Largest current a low-voltage device may have to interrupt, whichever side of it the fault is on."""
    total = faults.current(walk, LV_BUS, kind, walk.method)
    if key.startswith("feeder "):
        return total
    own = network.branches(walk, LV_BUS, walk.method)
    whole = network.combined(own)
    mine = next(branch for branch in own if branch.device == key)
    others = tuple(branch for branch in own if branch.device != key)
    from_own_side = total * network.share(mine, whole)
    if not others:
        return from_own_side
    rest: Array = 0.0
    for branch in others:
        rest = rest + network.share(branch, whole)
    return np.maximum(from_own_side, total * np.minimum(rest, 1.0))


def interrupting(walk: Walk, cases: tuple[int, ...]) -> list[Term]:
    """Each low-voltage device against the worst fault it can meet, at its X/R; making capacity in the IEC practice."""
    found = []
    for key, path, name in low_voltage_devices(walk):
        kinds = _low_voltage_kinds(walk)
        for kind in kinds:
            found.extend(_interrupting_of(walk, key, path, name, kind, cases))
    return found


def _low_voltage_kinds(walk: Walk) -> tuple[Kind, ...]:
    return WITHSTAND_KINDS if walk.inputs.word("transformer.neutral") == "earthed" else ("three-phase",)


def _interrupting_of(walk: Walk, key: str, path: str, name: str, kind: Kind, cases: tuple[int, ...]) -> list[Term]:
    current, rating = current_through(walk, key, kind), walk.inputs.number(f"{path}.interrupting")
    if walk.method == "iec":
        return _iec_interrupting(walk, path, name, kind, current, rating, cases)
    ratio = np.maximum(faults.reactance_ratio(walk, LV_BUS, walk.method), 0.01)
    device = tested_device(walk, path)
    factor = north_american.low_voltage_multiplying_factor(device, ratio)

    def steps(case: int) -> tuple[Step, ...]:
        test = north_american.LOW_VOLTAGE_TEST_X_OVER_R[device]  # type: ignore[index]
        mf = Step("MF", f"multiplying factor, {device}", f"1 up to X/R {test}; asymmetry over that of the test above", f"X/R = {at(walk, ratio, case):.3g}", f"{at(walk, factor, case):.4g}", "IEEE C37.13, UL 489, UL 248", "V2")
        through = Step("I", f"through {name}", "larger of the two sides of the device", "", in_words(at(walk, current, case), "A"), "partial currents", "D")
        duty = Step("Id", "duty", "MF I", f"{at(walk, factor, case):.4g} x {in_words(at(walk, current, case), 'A')}", in_words(at(walk, factor * current, case), "A"), "IEEE C37.13, UL 489, UL 248", "V2")
        return (*fault_steps(walk, LV_BUS, kind, case), reactance_step(walk, LV_BUS, case), through, mf, duty)

    return [term(walk, f"{name}, interrupting, {kind}", factor * current, rating, "A", cases, words=words(walk, kind), evidence=steps)]


def tested_device(walk: Walk, path: str) -> str:
    """The device as its interrupting test knows it: a moulded case by its rating."""
    kind = walk.inputs.word(f"{path}.kind")
    if kind != "moulded-case breaker":
        return kind
    rating = walk.inputs.constant(f"{path}.interrupting")
    if rating > 20e3:  # steps of UL 489 by interrupting rating [V]
        return "moulded-case breaker over 20 kA"
    return "moulded-case breaker 10 to 20 kA" if rating > 10e3 else "moulded-case breaker to 10 kA"


def _iec_interrupting(walk: Walk, path: str, name: str, kind: Kind, current: Array, rating: Array, cases: tuple[int, ...]) -> list[Term]:
    whole = faults.current(walk, LV_BUS, kind, walk.method)
    peak = faults.peak(walk, LV_BUS, kind, walk.method) * current / np.where(np.greater(whole, 0.0), whole, 1.0)

    def steps(case: int) -> tuple[Step, ...]:
        through = Step("I", f"through {name}", "larger of the two sides of the device", "", in_words(at(walk, current, case), "A"), "partial currents", "D")
        return (*fault_steps(walk, LV_BUS, kind, case), through)

    def peak_steps(case: int) -> tuple[Step, ...]:
        return (*steps(case), peak_step(walk, LV_BUS, kind, case))

    found = [term(walk, f"{name}, breaking, {kind}", current, rating, "A", cases, words=words(walk, kind), evidence=steps)]
    if walk.inputs.word(f"{path}.kind") != "fuse":
        making = ratings.making_capacity(walk, path)
        found.append(term(walk, f"{name}, making, {kind}", peak, making, "A", cases, words=words(walk, kind), evidence=peak_steps))
    return found


def bus_bracing(walk: Walk, cases: tuple[int, ...]) -> list[Term]:
    """Peak at the low-voltage bus against its peak withstand."""
    found = []
    for kind in _low_voltage_kinds(walk):
        value = faults.peak(walk, LV_BUS, kind, walk.method)

        def steps(case: int, kind: Kind = kind) -> tuple[Step, ...]:
            return (*fault_steps(walk, LV_BUS, kind, case), peak_step(walk, LV_BUS, kind, case))

        limit = ratings.bus_peak(walk)
        found.append(term(walk, f"LV bus, peak, {kind}", value, limit, "A", cases, words=words(walk, kind), evidence=steps))
    return found


